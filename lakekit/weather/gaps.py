"""Holes in a record: bounded filling, each filled hour marked with how, refusal past a limit.

Short holes are interpolated. Longer ones take the same hour of nearby days, mirrored at the edge
of the hole: its first day is the last day before it, its second the day before that, and likewise
from the other end, whichever edge is nearer. So a day is used once, every variable of an hour
comes from the same day where it can, and wind keeps its gusty and calm days (a mean would not).
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.weather.schema import INTERPOLATED, MEASURED, NEARBY_DAYS, OTHER_YEAR

OTHER_YEARS = 150  # days, longest hole filled from another year (common practice, no source)
LIKENESS = 30  # days before and after a hole by which other years are compared


@dataclass(frozen=True)
class Limit:
    """How far one variable may be filled."""

    interpolated: int  # hours, longest hole bridged by a straight line
    nearby: int  # days, longest hole filled from nearby days
    share: float  # of the whole record, most that may be filled


# Common practice, no source: interpolation as far as the weather of one spell reaches, nearby
# days as far as the season hardly moves. Radiation, cloud and pressure are estimated by physics
# instead, so they have no limit (see sky.py and forcing.py).
LIMITS = {
    "air_temperature": Limit(interpolated=6, nearby=21, share=0.20),
    "relative_humidity": Limit(interpolated=6, nearby=21, share=0.30),
    "wind_speed": Limit(interpolated=3, nearby=21, share=0.20),
    "precipitation": Limit(interpolated=0, nearby=31, share=0.50),
    "air_pressure": Limit(interpolated=12, nearby=0, share=1.0),
    "cloud_cover": Limit(interpolated=6, nearby=0, share=1.0),
}


def holes(missing):
    """Start, stop (exclusive) and length of each run of True, as three int arrays."""
    edges = np.diff(np.concatenate(([False], np.asarray(missing, dtype=bool), [False])).astype(int))
    start, stop = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return start, stop, stop - start


def in_short_holes(missing, longest):
    """True for the missing hours whose hole is at most `longest` hours and open at neither end."""
    start, stop, length = holes(missing)
    short = (length <= longest) & (start > 0) & (stop < len(missing))
    result = np.zeros(len(missing) + 1, dtype=int)
    np.add.at(result, start[short], 1)
    np.add.at(result, stop[short], -1)
    return np.cumsum(result[:-1]) > 0


def interpolate_short(values, longest):
    """Bridge holes of at most `longest` hours by straight lines.

    Parameters
    ----------
    values : (n,) array, NaN where missing
    longest : int [h]

    Returns
    -------
    filled : (n,) array
    where : (n,) bool array, True where filled
    """
    missing = np.isnan(values)
    where = in_short_holes(missing, longest)
    filled = values.copy()
    if where.any():
        at = np.arange(values.size)
        filled[where] = np.interp(at[where], at[~missing], values[~missing])
    return filled, where


def from_nearby_days(values, longest):
    """Fill holes from the same hour of nearby days.

    Parameters
    ----------
    values : (n,) array, hourly, NaN where missing
    longest : int [days]
        Longest hole that is filled; longer ones stay.

    Returns
    -------
    filled : (n,) array
    where : (n,) bool array, True where filled
    """
    missing = np.isnan(values)
    start, stop, length = holes(missing)
    days = -(-values.size // 24)
    grid = np.full(days * 24, np.nan)
    grid[: values.size] = values
    grid = grid.reshape(days, 24)
    valid = ~np.isnan(grid)
    day = np.arange(days)[:, None]
    before = np.maximum.accumulate(np.where(valid, day, -1), axis=0)
    after = np.minimum.accumulate(np.where(valid, day, 10**9)[::-1], axis=0)[::-1]
    hour = np.broadcast_to(np.arange(24), (days, 24))
    behind, ahead = day - before, after - day
    nearer_before = behind <= ahead
    best = np.full((days, 24), np.nan)
    # Mirrored day from the nearer edge, then from the other, then the edge days themselves.
    mirrors = (
        np.where(nearer_before, before - behind + 1, after + ahead - 1),
        np.where(nearer_before, after + ahead - 1, before - behind + 1),
        np.where(nearer_before, before, after),
        np.where(nearer_before, after, before),
    )
    for candidate in mirrors:
        usable = np.isnan(best) & (candidate >= 0) & (candidate < days)
        usable &= np.abs(candidate - day) <= 2 * longest + 1
        best[usable] = grid[candidate[usable], hour[usable]]
    best = best.reshape(-1)[: values.size]
    allowed = np.zeros(values.size + 1, dtype=int)
    fits = length <= longest * 24
    np.add.at(allowed, start[fits], 1)
    np.add.at(allowed, stop[fits], -1)
    where = (np.cumsum(allowed[:-1]) > 0) & ~np.isnan(best)
    return np.where(where, best, values), where


def fill(values, variable, time, *, methods=None, where="weather"):
    """Fill one variable as far as its limit allows.

    Parameters
    ----------
    values : (n,) array, hourly, NaN where missing
    variable : str
        A key of ``LIMITS``.
    time : (n,) DatetimeIndex, for messages
    methods : (n,) int array, optional
        How the values present were obtained; measured if not given.
    where : str
        Name of the record, for messages.

    Returns
    -------
    filled : (n,) array, NaN where the limit forbade filling
    methods : (n,) int array
    """
    limit = LIMITS[variable]
    methods = np.full(values.size, MEASURED) if methods is None else np.array(methods)
    filled, short = interpolate_short(values, limit.interpolated)
    methods[short] = INTERPOLATED
    if limit.nearby:
        filled, long = from_nearby_days(filled, limit.nearby)
        methods[long] = NEARBY_DAYS
    return filled, methods


def from_other_year(data, methods):
    """Fill what is left of holes from the same days of the year that behaved most alike.

    Parameters
    ----------
    data : dict of (n,) arrays, hourly, one record: every variable of an hour comes from one year
        A hole is filled up to 150 days long; the year is that whose days before and after it
        differ least in every variable, each on its own scale. Changed in place.
    methods : dict of (n,) int arrays, changed in place

    Returns
    -------
    list of (start, stop, years): the holes that were filled, and how many years off from
    """
    names = list(data)
    missing = np.any([np.isnan(data[name]) for name in names], axis=0)
    scale = {name: max(float(np.nanstd(data[name])), 1e-9) for name in names}
    size, said, years = missing.size, [], missing.size // 8766 + 1
    source = {name: data[name].copy() for name in names}
    for start, stop, length in zip(*holes(missing), strict=True):
        if length > 24 * OTHER_YEARS:
            continue
        around = np.r_[
            max(start - 24 * LIKENESS, 0) : start, stop : min(stop + 24 * LIKENESS, size)
        ]
        best, least = None, np.inf
        for years_off in range(-years, years + 1):
            shift = 24 * round(365.25 * years_off)
            if not years_off or start + shift < 0 or stop + shift > size:
                continue
            if any(np.isnan(source[n][start + shift : stop + shift]).any() for n in names):
                continue
            inside = around[(around + shift >= 0) & (around + shift < size)]
            apart = [
                np.nanmean(np.abs(source[n][inside] - source[n][inside + shift])) / scale[n]
                for n in names
                if inside.size and np.isfinite(source[n][inside] - source[n][inside + shift]).any()
            ]
            if apart and np.mean(apart) < least:
                best, least = years_off, np.mean(apart)
        if best is None:
            continue
        shift = 24 * round(365.25 * best)
        for name in names:
            here = np.arange(start, stop)[np.isnan(source[name][start:stop])]
            data[name][here] = source[name][here + shift]
            methods[name][here] = OTHER_YEAR
        said.append((start, stop, best))
    return said


def refuse(values, filled, variable, time, *, where):
    """Raise when a variable that must be whole has holes past its limit.

    Parameters
    ----------
    values, filled : (n,) array
        Before and after :func:`fill`.
    variable : str
    time : (n,) DatetimeIndex
    where : str
        Name of the record.

    Raises
    ------
    WeatherError
        With the dates of the longest hole and the share missing.
    """
    limit = LIMITS[variable]
    missing = np.isnan(values)
    share = missing.mean()
    if not np.isnan(filled).any() and share <= limit.share:
        return
    start, stop, length = holes(missing)
    worst = int(np.argmax(length))
    name = variable.replace("_", " ")
    if missing.all():
        raise WeatherError(
            f"there is no {name} in the record at all",
            where=where,
            mend="Map its column under [weather.columns], or take another station.",
        )
    first, last = time[start[worst]], time[stop[worst] - 1]
    span = pd.Timedelta(hours=int(length[worst]))
    raise WeatherError(
        f"{name} is missing for {share:.1%} of {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}; the "
        f"longest hole runs {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} UTC "
        f"({_days(span)}), and no more than {limit.nearby} days ({OTHER_YEARS} where another year "
        f"has them) or {limit.share:.0%} of a record are filled",
        where=where,
        mend="Cut the record to the part that is whole, or take another station.",
    )


def _days(span):
    hours = span / pd.Timedelta("1h")
    return f"{hours / 24:.1f} days" if hours >= 48 else f"{hours:.0f} hours"
