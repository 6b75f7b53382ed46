"""The water through a front: computed from years before it to now.

Every state that is shown is one of noon, local standard time, so that a warm skin or a cool night
is never taken for what the front did; only where no noon has come since the front's end is it the
last hour computed.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.following.follow import run_on
from lakekit.column.run import end_state, run_parameters
from lakekit.errors import WeatherError
from lakekit.strata import spread
from lakekit.strata.events import layered
from lakekit.strata.indices import OXYGEN_ZONE, run_layers
from lakekit.strata.traces import HOUR
from lakekit.waters.kept import content_key, kept

LEAD = pd.Timedelta(days=3)  # between the state before and the front
SPIN_UP = 2  # whole years before the front's own
DEEP_REACH = 1.0  # m below a cast's deepest reading for which it still speaks
FRESH = pd.Timedelta(days=21)  # a cast tells of deep water for so long (common practice)
FEWEST = 3  # depths of a cast
LEAST_BEFORE = pd.Timedelta(days=30)  # of weather that lead up to a state
RECENT = pd.Timedelta(days=30)  # a front longer ago is told as of the noon after it


@dataclass(frozen=True)
class Water:
    """A lake through a front. ``before``, ``after`` and ``now`` hold the column and its layers."""

    front: dict  # a row of ``lakekit.strata.spells.fronts``
    oxygen_zone: tuple  # mg/L of which its layers tell
    as_of: pd.Timestamp  # label of the last hour of history
    before: xr.Dataset  # on (member, depth)
    after: xr.Dataset | None  # first noon after the front's end, or the last hour
    now: xr.Dataset  # last noon, or the last hour
    noons: xr.Dataset  # layers at every noon of history, on (member, time)
    state: xr.Dataset  # at the end of history
    state_before: xr.Dataset  # at the time of ``before``
    deep: np.ndarray  # degC by depth, told of the water under the layers through all of it
    blow: xr.DataArray  # wind stress [N/m2] on (member, time), by the front's hours so far
    parameters: xr.Dataset  # of the members at the end of history
    cast: pd.Timestamp | None  # time of the last reading that moved it


def is_noon(times, longitude):
    """Which times [UTC] are 12:00 of local standard time."""
    return np.asarray(pd.DatetimeIndex(times).hour == (12 - round(longitude / 15.0)) % 24)


def next_noon(time, longitude):
    """The first noon of local standard time at or after a time [UTC]."""
    time = pd.Timestamp(time).ceil("h")
    return time + pd.Timedelta(hours=((12 - round(longitude / 15.0)) - time.hour) % 24)


def state_at(lake, forcing, parameters, until, *, readings=None, folder=None, say=None):
    """The lake's state at a time, computed from whole years before, and kept.

    What is kept is given back only for the very same hours of weather.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared, without holes.
    parameters : xarray.Dataset
        On ``member``.
    until : datetime64
        The time [UTC]; the last hour used is the one that ends then.
    readings : pandas.DataFrame, optional
        The lake's readings; those up to the time move the water.
    folder : path, optional
        As for :func:`lakekit.waters.kept.kept`.
    say : callable, optional
        Called with a line of text.

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    WeatherError
        When fewer than 30 days of weather lead up to the time.
    """
    say = say or (lambda line: None)
    until = pd.Timestamp(until)
    times = forcing["time"].to_index()
    begin = max(times[0], pd.Timestamp(year=until.year - SPIN_UP, month=1, day=1))
    if until - begin < LEAST_BEFORE:
        raise WeatherError(
            f"only {max((until - begin).days, 0)} days of weather lead up to {until:%Y-%m-%d}",
            where=lake.key,
            mend="Take a record that begins earlier, or a later front.",
        )
    part = forcing.isel(time=slice(times.searchsorted(begin), times.searchsorted(until)))

    def computed():
        say(f"{lake.name}: computing {part.sizes['time'] // 24} days")
        return end_state(run_on(lake, part, parameters=parameters, probe=readings))

    if readings is not None:
        readings = readings[(readings["time"] > begin) & (readings["time"] <= until)]
        readings = readings.reset_index(drop=True)
    key = content_key(lake, parameters, part.drop_attrs(deep=False), until, readings)
    return kept("states", lake, key, computed, progress=say, folder=folder)


def usual_wind(forcing, since):
    """The place's median wind [m/s] as it was known at a time; None: the record's own.

    What a front is depends on it, and a note on the past may know nothing later. Where fewer than
    60 days were known, no wind is usual (infinite), and a front is what is strong anywhere.
    """
    if since is None:
        return None
    known = forcing["wind_speed"].sel(time=slice(None, since))
    return float(known.median()) if known.sizes["time"] >= 60 * 24 else np.inf


def pick_front(fronts, as_of, *, since=None):
    """The front a note is about: the first that ends after ``since``, else the last of all.

    Parameters
    ----------
    fronts : pandas.DataFrame
        From :func:`lakekit.strata.spells.fronts`.
    as_of : datetime64
        Label of the last hour of the record.
    since : datetime64, optional
        [UTC]

    Returns
    -------
    dict or None
    """
    rows = fronts[fronts["start"] <= pd.Timestamp(as_of)]
    if since is not None:
        rows = rows[rows["end"] > pd.Timestamp(since)]
    if not len(rows):
        return None
    row = (rows.iloc[-1] if since is None else rows.iloc[0]).to_dict()
    return {
        name: pd.Timestamp(value) if name in ("start", "end") else value
        for name, value in row.items()
    }


def told_as_of(front, record_end, longitude):
    """The last hour of history for a note on a front: the record's end, or the noon after it.

    A front more than 30 days before the record's end is told as on the noon after it: what is
    left of it now says nothing of what it did.
    """
    record_end = pd.Timestamp(record_end)
    if record_end + HOUR - front["end"] <= RECENT:
        return record_end
    return next_noon(front["end"], longitude) - HOUR


def water_through(
    lake, forcing, front, as_of, parameters, *, readings=None, oxygen_zone=OXYGEN_ZONE, folder=None,
    say=None,
):  # fmt: skip
    """The lake from before a front to ``as_of``, all members.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared.
    front : dict
        ``start`` and ``end`` [UTC]; a front to come starts after ``as_of``.
    as_of : datetime64
        Label of the last hour of history; no later weather is used.
    parameters : xarray.Dataset
        On ``member``.
    readings : pandas.DataFrame, optional
        The lake's readings; those up to ``as_of`` move the water, each at its own hour.
    oxygen_zone : (float, float, float)
        Enough, limit and least [mg/L] of the fish that it is told for.
    folder, say
        As for :func:`state_at`.

    Returns
    -------
    Water
    """
    as_of = pd.Timestamp(as_of)
    start = min(front["start"], as_of + HOUR)
    shown = (start - LEAD).floor("D")
    times = forcing["time"].to_index()
    begin = min(shown, followed_from(times, as_of))
    if shown < times[0]:
        raise WeatherError(
            f"the front of {front['start']:%Y-%m-%d} comes at the very start of the weather record",
            where=lake.key,
            mend="Take a later one.",
        )
    noon = start - pd.Timedelta(hours=(start.hour - (12 - round(lake.longitude / 15.0))) % 24)
    cast = last_cast(readings, noon - HOUR)
    state = state_at(lake, forcing, parameters, begin, readings=readings, folder=folder, say=say)
    first = forcing.isel(time=slice(times.searchsorted(begin), times.searchsorted(noon)))
    rest = forcing.isel(
        time=slice(times.searchsorted(noon), times.searchsorted(as_of, side="right"))
    )
    hours = pd.date_range(shown + HOUR, as_of + HOUR, freq="h")
    known = dict(parameters=parameters, probe=readings, every=hours)
    runs = [run_on(lake, first, state=state, **known)]
    state_before = end_state(runs[0])
    if rest.sizes["time"]:
        runs.append(run_on(lake, rest, state=state_before, **known))
    columns = hourly_columns(runs, lake, oxygen_zone)
    stamps = columns["time"].to_index()
    noons = is_noon(stamps, lake.longitude)
    last = len(stamps) - 1
    since = np.flatnonzero(noons & np.asarray(stamps >= front["end"]))
    after = now = None
    if front["end"] <= stamps[-1]:
        after = int(since[0]) if since.size else last
        now = int(since[-1]) if since.size else last
    at = int(stamps.get_loc(noon))
    if now is None:
        now = at if front["start"] > as_of else last
    deep = deep_told(columns.isel(time=at), cast)
    before = held(columns.isel(time=at), deep)
    return Water(
        front=front,
        oxygen_zone=oxygen_zone,
        as_of=as_of,
        before=before,
        after=None if after is None else held(columns.isel(time=after), deep, before),
        now=held(columns.isel(time=now), deep, before),
        noons=layers_only(columns.isel(time=noons)),
        state=end_state(runs[-1]),
        state_before=state_before,
        deep=deep,
        blow=columns["wind_stress"]
        .assign_coords(time=stamps - HOUR)
        .sel(time=slice(front["start"], front["end"] - HOUR)),
        parameters=run_parameters(runs[-1]),
        cast=last_reading(readings, as_of + HOUR),
    )


def followed_from(times, as_of):
    """Where the water of now is carried on from a kept state [UTC], the same for every report.

    The readings of some weeks are followed in one piece, as the season's are; the first day of the
    month before last, or where the record is shorter, three days before ``as_of``.
    """
    begin = (pd.Period(as_of, "M") - 2).start_time
    return begin if begin - times[0] >= LEAST_BEFORE else (as_of - LEAD).floor("D")


def last_cast(readings, before):
    """The last cast of at least three depths in the three weeks before a time, None without one."""
    if readings is None or not len(readings):
        return None
    before = pd.Timestamp(before)
    known = readings.dropna(subset=["temperature"])
    known = known[(known["time"] <= before) & (known["time"] > before - FRESH)]
    counts = known.groupby("time")["depth"].nunique()
    counts = counts[counts >= FEWEST]
    return None if counts.empty else known[known["time"] == counts.index[-1]]


def last_reading(readings, until):
    """Time of the last reading that a water follows at a time [UTC], None without one."""
    if readings is None:
        return None
    since = until - pd.Timedelta(days=spread.LATE)
    times = readings["time"][(readings["time"] > since) & (readings["time"] <= until)]
    return times.max() if len(times) else None


def deep_told(before, cast):
    """The temperature told of the deep water: the last cast's, else that computed before.

    On the measured string of Falling Creek the computed change of the deep water through a front
    was no better than none, and the last cast better than the column (``bench front``); so no
    change is told where layers stand over it.

    Parameters
    ----------
    before : xarray.Dataset
        On (member, depth).
    cast : pandas.DataFrame or None
        ``depth`` [m] and ``temperature`` [degC].

    Returns
    -------
    (depth,) float64
        [degC]; NaN where a cast did not reach, and the state's own stands.
    """
    depth = before["depth"].to_numpy()
    if cast is None:
        return before["water_temperature"].median("member", skipna=False).to_numpy()
    read = cast.dropna(subset=["temperature"]).groupby("depth")["temperature"].mean()
    at = read.index.to_numpy(float)
    near = depth <= at[-1] + DEEP_REACH
    return np.where(near, np.interp(depth, at, read.to_numpy(float), left=np.nan), np.nan)


def held(state, deep, before=None):
    """A state whose water under the layers has the temperature that is told of it.

    Parameters
    ----------
    state : xarray.Dataset
        Column and layers on (member or sample, depth).
    deep : (depth,) float64
        From :func:`deep_told`.
    before : xarray.Dataset, optional
        The state before the front: deep is what lay under the layers of both.

    Returns
    -------
    xarray.Dataset
        Changed below the foot of the fall zone, over 1 m, in members with warm over cold.
    """
    column = state["water_temperature"].transpose(..., "depth")
    values, depth = column.to_numpy(), state["depth"].to_numpy()
    foot = state["fall_zone_bottom"].to_numpy()
    if before is not None:
        old = before["fall_zone_bottom"].to_numpy()
        foot = np.maximum(foot, np.tile(old, len(foot) // len(old)))
    foot = np.where(layered(state).to_numpy(), foot, np.nan)
    share = np.clip(depth - foot[:, None], 0.0, 1.0)
    share = np.where(np.isfinite(share) & np.isfinite(deep) & np.isfinite(values), share, 0.0)
    values = values + share * (np.where(np.isfinite(deep), deep, 0.0) - values) * (share > 0)
    last = np.isfinite(values).sum(axis=1) - 1
    bottom = np.take_along_axis(values, last[:, None], axis=1)[:, 0]
    changed = np.take_along_axis(share, last[:, None], axis=1)[:, 0] > 0
    lowest = state["bottom_temperature"]
    return state.assign(
        water_temperature=(column.dims, values, column.attrs),
        bottom_temperature=lowest.copy(data=np.where(changed, bottom, lowest.to_numpy())),
    )


def hourly_columns(runs, lake, oxygen_zone):
    """Runs one after the other as one Dataset with its layers."""
    names = ["water_temperature", "dissolved_oxygen", "ice_thickness", "wind_stress", "area"]
    merged = xr.concat(
        [run[names] for run in runs], "time", data_vars="minimal", coords="minimal",
        compat="override", join="exact", combine_attrs="override",
    )  # fmt: skip
    return merged.merge(run_layers(merged, lake, oxygen_zone=oxygen_zone), combine_attrs="override")


def layers_only(columns):
    """What has no depth."""
    return columns[[name for name in columns.data_vars if "depth" not in columns[name].dims]]
