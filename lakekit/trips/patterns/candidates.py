"""What the water, the weather and the sky were doing at the hour of each row of a log."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.column.light import attenuation
from lakekit.column.parameters import fading_factor
from lakekit.strata import fronts, hot_calm_spells
from lakekit.trips.join import LONGEST_MEMORY, days_since, water_state
from lakekit.weather.moon import lit_share
from lakekit.weather.sun import HORIZON, solar_elevation

DIM_LIGHT = 1.0  # W/m2 of visible light: dusk, roughly (common practice, no source)
FRESH = 3.0  # days for which a front's strength counts (common practice, no source)
OF_SIZE = np.log(2.0)  # what power is told for: the rate doubled from the low to the high tenth
DAY = pd.Timedelta("1D")
HOUR = pd.Timedelta("1h")
LAYERS = (
    "surface_temperature",
    "thermocline_depth",
    "lasting_thermocline_depth",
    "oxygen_floor_depth",
)


@dataclass(frozen=True)
class Candidate:
    """One thing that the catch might go with.

    ``words`` follow "the catch goes with"; ``unit`` is that of the values, "" for a plain number;
    ``by_log``: the smooth is drawn over log(1 + value), for what fades.
    """

    name: str
    words: str
    unit: str
    by_log: bool = False


CANDIDATES = (
    Candidate("surface_temperature", "the surface temperature", "degC"),
    Candidate("surface_temperature_change", "the surface's warming or cooling over 5 days", "degC"),
    Candidate("thermocline_depth", "the depth of the thermocline", "m"),
    Candidate("bait_below_thermocline", "how far below the thermocline the bait ran", "m"),
    Candidate("bait_below_start", "how far below the start depth the bait ran", "m"),
    Candidate("oxygen_floor_depth", "the depth where oxygen runs out", "m"),
    Candidate("days_since_front", "the days since a front", "d", by_log=True),
    Candidate("front_strength", "the strongest wind of a front in the last 3 days", "m/s"),
    Candidate("hot_calm_days", "the hot calm days so far", "d"),
    Candidate("wind_speed", "the wind", "m/s"),
    Candidate("wind_change", "the wind against that of the day before", "m/s"),
    Candidate("pressure_change", "the change of air pressure over 24 hours", "hPa"),
    Candidate("sun_height", "the height of the sun", "degrees"),
    Candidate("cloud_cover", "the cloud", "%"),
    Candidate("moon", "the lit share of the moon", "%"),
    Candidate("lit_depth", "the depth that light reaches", "m"),
    Candidate("clarity", "the clarity logged", "m"),
    Candidate("level_change", "the rise or fall of the level over 30 days", "m"),
    Candidate("day_length", "the length of the day", "h"),
)
BY_NAME = {candidate.name: candidate for candidate in CANDIDATES}


@dataclass(frozen=True)
class Smooth:
    """A restricted cubic spline with knots at the 10, 50 and 90 % points: two columns.

    Where too few values differ for that, a straight line: one column.
    """

    values: np.ndarray
    knots: np.ndarray
    by_log: bool

    @classmethod
    def over(cls, values, *, by_log=False):
        """A smooth over the values of a log; None where they hardly vary."""
        scaled = np.log1p(np.maximum(values, 0)) if by_log else values
        known = scaled[np.isfinite(scaled)]
        low, middle, high = np.quantile(known, [0.1, 0.5, 0.9])
        if high - low <= 1e-9:
            low, high = known.min(), known.max()
            if high - low <= 1e-9 or (known != middle).mean() < 0.05:
                return None
            middle = low
        return cls(values=values, knots=np.array([low, middle, high]), by_log=by_log)

    def raw(self, values):
        """Columns before centring, shape (n, 1 or 2)."""
        low, middle, high = self.knots
        x = np.log1p(np.maximum(values, 0)) if self.by_log else np.asarray(values, float)
        u = (x - low) / (high - low)
        k = (middle - low) / (high - low)
        if not 0.15 < k < 0.85:
            return u[:, None]
        cube = [np.maximum(u - at, 0) ** 3 for at in (0.0, k, 1.0)]
        return np.column_stack([u, cube[0] - cube[1] / (1 - k) + cube[2] * k / (1 - k)])

    def basis(self, values):
        """Columns about their mean in the log; 0 where the value is not known."""
        return np.nan_to_num(self.raw(values) - np.nanmean(self.raw(self.values), axis=0))

    def doubling(self):
        """A log rate that rises straight between the outer knots, doubles, and is flat beyond."""
        u = self.raw(self.values)[:, 0]
        return np.nan_to_num(OF_SIZE * (np.clip(u, 0, 1) - np.nanmean(np.clip(u, 0, 1))))


def candidate_values(trips, waters):
    """Each candidate at the hour of each row of the log.

    Parameters
    ----------
    trips : pandas.DataFrame, n rows
        As from ``read_trips``: ``start`` (UTC), ``hours``, ``lake``, ``bait_depth`` and
        ``clarity`` [m], and ``start_depth`` [m] where the log was joined to its water.
    waters : dict
        Lake key to what is known of its water: ``lake``, ``forcing`` (hourly) and ``layers``
        (xarray.Dataset on ``time``, UTC). A lake may be missing.

    Returns
    -------
    pandas.DataFrame
        One column a candidate, indexed as ``trips``, units as in ``CANDIDATES``; NaN where a
        record does not cover what is asked (nothing is carried past either end of it).

    Examples
    --------
    >>> values = candidate_values(trips, {lake.key: knowledge})
    >>> values.attrs["units"]["thermocline_depth"]
    'm'
    """
    values = pd.DataFrame(np.nan, index=trips.index, columns=list(BY_NAME))
    for key, index in trips.groupby("lake").groups.items():
        if key in waters:
            rows = trips.loc[index].sort_values("start", kind="stable")
            for name, found in _of_lake(rows, waters[key]).items():
                values.loc[rows.index, name] = found
    values.attrs = {"units": {c.name: c.unit for c in CANDIDATES}}
    return values


def _of_lake(rows, water):
    starts = pd.DatetimeIndex(rows["start"])
    hours = rows["hours"].to_numpy()
    middle = starts + pd.to_timedelta(hours / 2, unit="h")
    bait = _logged(rows, "bait_depth")
    state = water_state(water.layers, starts, names=LAYERS)
    before = water_state(water.layers, starts - 5 * DAY, names=LAYERS)
    unknown = np.full(len(rows), np.nan)
    # the warm skin of a calm noon is no layer to fish by: the seasonal step, where it is known
    thermocline = state.get("lasting_thermocline_depth", state.get("thermocline_depth", unknown))
    surface = state.get("surface_temperature", unknown)
    return {
        "surface_temperature": surface,
        "surface_temperature_change": surface - before.get("surface_temperature", unknown),
        "thermocline_depth": thermocline,
        "bait_below_thermocline": bait - thermocline,
        "bait_below_start": bait - _logged(rows, "start_depth"),
        "oxygen_floor_depth": state.get("oxygen_floor_depth", unknown),
        **_sky(rows, water, starts, middle, hours),
        **_spells(water.forcing, water.lake, starts),
        "clarity": _logged(rows, "clarity"),
        "level_change": _level_change(water.lake, starts),
        "moon": 100 * lit_share(middle),
        "day_length": day_length(starts, water.lake.latitude),
    }


def _logged(rows, name):
    if name not in rows:
        return np.full(len(rows), np.nan)
    return rows[name].to_numpy(dtype="float64")


def hourly_mean(forcing, name, starts, ends):
    """Mean of an hourly variable over spans, each hour by the part of it that lies inside.

    Parameters
    ----------
    forcing : xarray.Dataset
        Hourly, an hour's label being its start.
    name : str
    starts, ends : pandas.DatetimeIndex, shape (n,)

    Returns
    -------
    ndarray, shape (n,)
        NaN where the record does not cover the whole span, or where an hour is missing.
    """
    if name not in forcing:
        return np.full(len(starts), np.nan)
    times = pd.DatetimeIndex(forcing["time"].values)
    values = forcing[name].to_numpy().astype("float64")
    total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(values))])
    missing = np.concatenate([[0], np.cumsum(np.isnan(values))])
    low, high = ((at - times[0]) / HOUR for at in (starts, ends))
    low, high = np.asarray(low, dtype="float64"), np.asarray(high, dtype="float64")
    edges = np.arange(total.size)
    mean = (np.interp(high, edges, total) - np.interp(low, edges, total)) / (high - low)
    holes = np.interp(high, edges, missing) > np.interp(low, edges, missing)
    return np.where((low >= 0) & (high <= total.size - 1) & ~holes, mean, np.nan)


def _sky(rows, water, starts, middle, hours):
    forcing, lake = water.forcing, water.lake
    ends = starts + pd.to_timedelta(hours, unit="h")
    wind = hourly_mean(forcing, "wind_speed", starts, ends)
    pressure = [
        hourly_mean(forcing, "air_pressure", at, at + HOUR) for at in (starts, starts - DAY)
    ]
    height = solar_elevation(np.sort(middle.to_numpy()), lake.latitude, lake.longitude)
    place = np.argsort(np.argsort(middle.to_numpy(), kind="stable"), kind="stable")
    secchi = _logged(rows, "clarity")
    secchi = np.where(np.isfinite(secchi), secchi, lake.secchi[starts.month - 1])
    visible = 0.45 * hourly_mean(forcing, "shortwave", starts, ends)
    lit = np.log(np.maximum(visible / DIM_LIGHT, 1.0)) / attenuation(
        secchi, factor=fading_factor(lake, water.parameters)
    )
    return {
        "wind_speed": wind,
        "wind_change": wind - hourly_mean(forcing, "wind_speed", starts - DAY, starts),
        "pressure_change": pressure[0] - pressure[1],
        "cloud_cover": 100 * hourly_mean(forcing, "cloud_cover", starts, ends),
        "lit_depth": np.minimum(lit, lake.max_depth),
        "sun_height": height[place],
    }


def _spells(forcing, lake, starts):
    times = pd.DatetimeIndex(forcing["time"].values)
    covered = (starts >= times[0]) & (starts < times[-1] + HOUR)
    found = fronts(forcing)
    days = np.full(len(starts), np.nan)
    strength = np.full(len(starts), np.nan)
    since = days_since(starts, found["end"])
    # a front before the record is not known: nothing is said until a first one, or two months
    known = covered & ((since < LONGEST_MEMORY) | (starts - times[0] > LONGEST_MEMORY * DAY))
    days[known] = since[known]
    strength[covered & (starts - times[0] > FRESH * DAY)] = 0.0
    ends = pd.DatetimeIndex(found["end"])
    order = np.argsort(ends.to_numpy())
    last = np.searchsorted(ends.to_numpy()[order], starts.to_numpy(), side="right") - 1
    fresh = covered & (since <= FRESH)
    strength[fresh] = found["peak_wind"].to_numpy()[order][last[fresh]]
    hot = np.where(covered, 0.0, np.nan)
    spells = hot_calm_spells(forcing, utc_offset=round(lake.longitude / 15))
    for spell in spells.itertuples():
        inside = (starts >= spell.start) & (starts < spell.end)
        hot[inside] = np.ceil((starts[inside] - spell.start + HOUR / 60) / DAY)
    return {"days_since_front": days, "front_strength": strength, "hot_calm_days": hot}


def _level_change(lake, starts):
    """Rise of the level over 30 days [m], from the lake file's months, each at its middle."""
    below = np.asarray(lake.below_full_pond, dtype="float64")

    def level(at):
        return -np.interp(at.day_of_year, (np.arange(12) + 0.5) * 365.25 / 12, below, period=365.25)

    return level(starts) - level(starts - 30 * DAY)


def day_length(times, latitude):
    """Hours from sunrise to sunset at the sun's declination of each time.

    Parameters
    ----------
    times : pandas.DatetimeIndex, UTC, shape (n,)
    latitude : float [degrees north]

    Returns
    -------
    ndarray, shape (n,) [h], 0 to 24

    Examples
    --------
    >>> day_length(pd.DatetimeIndex(["2021-06-21 12:00"]), 45.0).round(1)
    array([15.6])
    """
    moments, place = np.unique(times.to_numpy(), return_inverse=True)
    declination = np.radians(solar_elevation(moments, 90.0, 0.0))  # seen from the pole
    phi = np.radians(latitude)
    cosine = -(np.sin(np.radians(HORIZON)) + np.sin(phi) * np.sin(declination))
    cosine /= np.cos(phi) * np.cos(declination)
    return (np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) * 2 / 15)[place]
