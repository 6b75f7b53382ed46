"""One year of a lake, day by day and by depth, and the same with one thing changed."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd

from lakekit.column.basin import monthly_to_hourly
from lakekit.column.run import simulate
from lakekit.errors import ClubError
from lakekit.records import Flow
from lakekit.strata import fronts, hot_calm_spells, season_dates, stratification
from lakekit.units import parse_quantity
from lakekit.waters.kept import content_key, kept
from lakekit.weather import lake_weather, prepare_forcing

DAY = pd.Timedelta("1D")
SMOOTH = 5  # days over which lines are drawn: a night's cooling is not the season's
RANGE_MEMBERS = 8  # sets of uncertain parameters behind the thermocline's range
FROZEN = 0.02  # m of ice that counts as a day of ice (common practice, no source)
SPRING = (3, 4, 5)

# change -> (what it is, an example of its amount)
CHANGES = {
    "clarity": ("the clarity times a number", "0.5"),
    "level": ("the level lower by a depth", "6 ft"),
    "spring": ("March to May warmer, or colder with a minus", "2 C"),
    "aerator": ("an aerator at a depth", "15 ft"),
}


def whole_run(water, *, progress=None):
    """Temperature, oxygen and ice of every day of a lake's record, central member, kept.

    Parameters
    ----------
    water : lakekit.waters.knowledge.LakeWater

    Returns
    -------
    xarray.Dataset
        ``water_temperature`` [degC], ``dissolved_oxygen`` [mg/L] on (time, depth), state at noon;
        ``ice_thickness`` [m] on time.
    """
    central = None if water.parameters is None else water.parameters.isel(member=slice(0, 1))

    def computed():
        if progress:
            progress(f"{water.lake.name}: every day of the record by depth")
        return _daily(simulate(water.lake, water.forcing, parameters=central)).isel(member=0)

    key = content_key(water.lake, water.forcing, central, "every day")
    return kept("days", water.lake, key, computed, progress=progress)


def _daily(run):
    names = ["water_temperature", "dissolved_oxygen", "ice_thickness"]
    daily = run[names].copy()
    daily.attrs = {name: run.attrs[name] for name in ("lake", "surface_area", "longest_fetch")}
    return daily


def last_whole_year(water):
    """The last calendar year that a lake's record covers to its end."""
    end = pd.Timestamp(water.as_of)
    return end.year if (end + pd.Timedelta("25h")).year > end.year else end.year - 1


def lake_year(water, year=None, *, run=None, readings=None, trips=None, progress=None):
    """What is drawn of one lake's year.

    Parameters
    ----------
    water : lakekit.waters.knowledge.LakeWater
    year : int, optional
        By default the last whole one of the record.
    run : xarray.Dataset, optional
        As from :func:`whole_run`, which is the default.
    readings : pandas.DataFrame, optional
        As from ``read_probe``: this lake's of that year are taken.
    trips : pandas.DataFrame, optional
        As from ``read_trips``: likewise, rows with fish and a catch depth.
    progress : callable, optional

    Returns
    -------
    dict
        ``lake`` (``key``, ``name``, ``max_depth``), ``year``, ``day`` (days since 1 January),
        ``depth`` [m], ``temperature`` [degC] and ``oxygen`` [mg/L] (day, depth, means of five
        days), ``bed`` (its depth below each day's surface) [m], ``thermocline`` (low, middle, high
        over members) [m by day, NaN where there is none], ``ice`` and ``hot_calm`` (first and last
        day of each spell), ``fronts`` (day, peak wind [m/s]), ``readings`` (day, depth) and
        ``catches`` (day, depth, fish).

    Raises
    ------
    ClubError
        When the record does not cover the year.
    """
    lake, year = water.lake, year or last_whole_year(water)
    run = whole_run(water, progress=progress) if run is None else run
    first, last = pd.Timestamp(f"{year}-01-01"), pd.Timestamp(f"{year}-12-31 23:59")
    covered = pd.DatetimeIndex(run["time"].values)
    if covered[0] > first + DAY or covered[-1] < first + 30 * DAY:
        raise ClubError(
            f"the weather record does not cover {year}", where=lake.name,
            mend=f"It runs from {covered[0]:%Y-%m-%d} to {covered[-1]:%Y-%m-%d}",
        )  # fmt: skip
    mine = run.sel(time=slice(first, last))
    smooth = mine.rolling(time=SMOOTH, center=True, min_periods=1).mean()
    frozen = mine["ice_thickness"].to_numpy() >= FROZEN
    times = pd.DatetimeIndex(mine["time"].values)
    days = np.asarray((times - first) / DAY)
    return {
        "lake": {"key": lake.key, "name": lake.name, "max_depth": lake.max_depth},
        "year": year,
        "day": days,
        "depth": mine["depth"].to_numpy(),
        "bed": lake.max_depth - monthly_to_hourly(lake.below_full_pond, times),
        "temperature": smooth["water_temperature"].transpose("time", "depth").to_numpy(),
        "oxygen": smooth["dissolved_oxygen"].transpose("time", "depth").to_numpy(),
        "thermocline": _thermocline(water, times, first, last),
        "ice": _spans(frozen, days),
        "hot_calm": [
            ((spell.start - first) / DAY, (spell.end - first) / DAY)
            for spell in hot_calm_spells(
                water.forcing, utc_offset=round(lake.longitude / 15)
            ).itertuples()
            if first <= spell.start <= last
        ],
        "fronts": [
            ((front.start - first) / DAY, front.peak_wind)
            for front in fronts(water.forcing).itertuples()
            if first <= front.start <= last
        ],
        "readings": _points(readings, "time", ("depth",), lake, first, last),
        "catches": _catches(trips, lake, first, last),
    }


def _thermocline(water, times, first, last):
    """Low, middle and high lasting thermocline by day over a few members, shape (3, days)."""
    members = None
    if water.parameters is not None:
        members = water.parameters.isel(member=slice(0, RANGE_MEMBERS))
    part = water.forcing.sel(time=slice(first - 365 * DAY, last))
    name = "lasting_thermocline_depth"

    def computed():
        run = simulate(water.lake, part, parameters=members, members=RANGE_MEMBERS, spin_up=False)
        return stratification(run)[[name]]

    key = content_key(water.lake, part, members, RANGE_MEMBERS, "a year's thermocline")
    found = kept("thermocline", water.lake, key, computed)[name].sel(time=times)
    depth = found.rolling(time=SMOOTH, center=True, min_periods=3).median()
    depth = depth.transpose("member", "time").to_numpy()
    found = np.full((3, len(times)), np.nan)
    often = np.isfinite(depth).mean(axis=0) > 0.5
    found[:, often] = np.nanquantile(depth[:, often], [0.1, 0.5, 0.9], axis=0)
    return found


def _spans(flags, days):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(days[a], days[b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _points(table, time, names, lake, first, last):
    if table is None or not len(table):
        return []
    mine = table[(table["lake"] == lake.key) & table[time].between(first, last)]
    return [
        ((row[time] - first) / DAY, *(row[name] for name in names))
        for row in mine.to_dict("records")
    ]


def _catches(trips, lake, first, last):
    if trips is None or not len(trips):
        return []
    rows = trips[(trips["fish"] > 0) & trips["catch_depth"].notna()]
    return _points(rows, "start", ("catch_depth", "fish"), lake, first, last)


def year_measures(water, run):
    """Figures by which years are ranked.

    Parameters
    ----------
    water : LakeWater
    run : xarray.Dataset
        From :func:`whole_run`.

    Returns
    -------
    pandas.DataFrame
        Indexed by whole calendar year: ``onset``, ``turnover`` (day of the year), ``warmest``
        (surface, mean of 7 days) [degC], ``deepest`` (thermocline, median of 15 days) [m],
        ``ice_days``; NaN where the year had none.
    """
    layers = water.layers
    times = pd.DatetimeIndex(layers["time"].values)
    surface = layers["surface_temperature"].to_series().rolling(7, min_periods=5).mean()
    name = "lasting_thermocline_depth"
    thermocline = layers[name].to_series().rolling(15, min_periods=10).median()
    ice = (run["ice_thickness"].to_series() >= FROZEN).astype(float)
    table = pd.DataFrame({
        "warmest": surface.groupby(times.year).max(),
        "deepest": thermocline.groupby(times.year).max(),
        "ice_days": ice.groupby(pd.DatetimeIndex(ice.index).year).sum(),
    })  # fmt: skip
    dates = season_dates(layers.expand_dims("member") if "member" not in layers.dims else layers)
    dates = dates[dates["member"] == dates["member"].min()].set_index("year")
    for event in ("onset", "turnover"):
        table[event] = dates[event].dt.day_of_year.reindex(table.index)
    days = pd.Series(1, times).groupby(times.year).sum().reindex(table.index)
    return table[days >= 364]


def month_layers(water, month):
    """One month of every year: the thermocline, the oxygen floor and the surface.

    Parameters
    ----------
    water : LakeWater
    month : int, 1 to 12

    Returns
    -------
    pandas.DataFrame
        Indexed by year: ``low``, ``middle``, ``high`` (10, 50 and 90 % of days' thermocline) [m],
        ``layered`` (share of days), ``floor`` (median oxygen floor) [m], ``surface`` [degC].
    """
    layers = water.layers
    times = pd.DatetimeIndex(layers["time"].values)
    table = pd.DataFrame({
        "thermocline": layers["lasting_thermocline_depth"].to_numpy(),
        "floor": layers["oxygen_floor_depth"].to_numpy(),
        "surface": layers["surface_temperature"].to_numpy(),
        "year": times.year,
    })[times.month == month]  # fmt: skip
    groups = table.groupby("year")
    found = pd.DataFrame({q: groups["thermocline"].quantile(q) for q in (0.1, 0.5, 0.9)})
    found.columns = ["low", "middle", "high"]
    found["layered"] = groups["thermocline"].count() / groups.size()
    found["floor"] = groups["floor"].median().where(groups["floor"].count() > groups.size() / 2)
    found["surface"] = groups["surface"].mean()
    return found[groups.size() >= 25]


def changed(club, water, change, amount):
    """A lake with one thing changed, ready for :func:`lake_year`, and what was changed in words.

    Parameters
    ----------
    club : lakekit.club.Club
    water : LakeWater
    change : str
        A key of ``CHANGES``.
    amount : str
        Such as ``CHANGES`` gives.

    Returns
    -------
    tuple of (LakeWater, str)
        Its ``forcing`` and ``lake`` are the changed ones; its ``layers`` still are the true ones.

    Raises
    ------
    ClubError
        For an unknown change or an amount that cannot be read or is out of range.
    """
    if change not in CHANGES:
        raise ClubError(f"no change {change!r}", where="parameter change",
                        mend=f"There are {', '.join(CHANGES)}")  # fmt: skip
    lake, example = water.lake, CHANGES[change][1]
    try:
        if change == "clarity":
            size = float(amount)
        elif change == "spring":
            number, unit = re.fullmatch(r"\s*([-+]?[\d.]+)\s*([CF])\s*", amount).groups()
            size = float(number) / (1.8 if unit == "F" else 1.0)
        else:
            size = parse_quantity(amount, "length")
    except (ValueError, AttributeError, TypeError):
        raise ClubError(f"{amount!r} cannot be read", where="parameter amount",
                        mend=f'Write it like "{example}"') from None  # fmt: skip
    low, high = {"clarity": (0.1, 10.0), "level": (-3.0, 0.8 * lake.max_depth),
                 "spring": (-8.0, 8.0), "aerator": (0.5, lake.max_depth)}[change]  # fmt: skip
    if not low <= size <= high:
        raise ClubError(f"{amount!r} is out of range for {change}", where="parameter amount",
                        mend=f"{low:g} to {high:.3g} in SI units")  # fmt: skip
    if change == "spring":
        raw = lake_weather(club, lake)
        months = raw["time"].dt.month.isin(SPRING)
        warmer = raw.assign(air_temperature=raw["air_temperature"] + size * months)
        return replace(water, forcing=prepare_forcing(warmer, lake)), f"spring {amount} warmer"
    other = {
        "clarity": lambda: {"secchi": lake.secchi * size},
        "level": lambda: {"below_full_pond": lake.below_full_pond + size},
        "aerator": lambda: {"flow": replace(lake.flow or Flow(), aerator_depth=size)},
    }[change]()
    lake = replace(lake, **other)
    said = {"clarity": f"clarity times {amount}", "level": f"level {amount} lower",
            "aerator": f"an aerator at {amount}"}[change]  # fmt: skip
    return replace(water, lake=lake, forcing=prepare_forcing(lake_weather(club, lake), lake)), said


def changed_run(water, year):
    """Every day of one year, and the year before it, of a changed lake; as :func:`whole_run`."""
    first = pd.Timestamp(f"{year}-01-01")
    part = water.forcing.sel(time=slice(first - 365 * DAY, f"{year}-12-31T23"))
    central = None if water.parameters is None else water.parameters.isel(member=slice(0, 1))

    def computed():
        return _daily(simulate(water.lake, part, parameters=central, spin_up=False)).isel(member=0)

    key = content_key(water.lake, part, central, "every day of two years")
    return kept("days", water.lake, key, computed)
