"""Times of a grid file: numbers since an epoch on a CF calendar, as UTC."""

import re

import numpy as np
import xarray as xr

from lakekit.errors import WeatherError

_MONTH_STARTS = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def decode_time(values, attrs, notes, *, where):
    """Numbers "since" an epoch as UTC.

    Parameters
    ----------
    values : (n,) array
    attrs : dict
        With `units` and `calendar` (CF-1.11, section 4.4).
    notes : list
        Told of a calendar without leap days, whose 29 February stays open.
    where : str
        File, for messages.

    Returns
    -------
    (n,) datetime64[s] array

    Raises
    ------
    WeatherError
        For a calendar whose days are not those of the year, or a unit that is no time.
    """
    calendar = str(attrs.get("calendar", "standard")).lower()
    unit = str(attrs.get("units", ""))
    if calendar in ("noleap", "365_day"):
        notes.append("calendar without leap days: 29 February is filled from the days around it")
        return _without_leap_days(np.asarray(values, dtype=np.float64), unit, where)
    if calendar not in ("standard", "gregorian", "proleptic_gregorian"):
        raise WeatherError(
            f"its calendar is {calendar!r}, whose days are not those of real years",
            where=where,
            mend="Use a reanalysis, or model output on the standard or a 365-day calendar.",
        )
    try:
        coded = xr.Dataset({"time": ("time", values, {"units": unit, "calendar": "standard"})})
        decoded = xr.decode_cf(coded)["time"].values.astype("datetime64[ns]")
    except (ValueError, OverflowError) as problem:
        raise WeatherError(f"its time units {unit!r} cannot be read", where=where) from problem
    return (decoded + np.timedelta64(500, "ms")).astype("datetime64[s]")


def _without_leap_days(values, unit, where):
    match = re.match(r"(day|hour|minute|second)s?\s+since\s+(\d+)-(\d+)-(\d+)(.*)", unit)
    if not match:
        raise WeatherError(f"its time units {unit!r} cannot be read", where=where)
    step = {"day": 86400.0, "hour": 3600.0, "minute": 60.0, "second": 1.0}[match.group(1)]
    year, month, day = (int(part) for part in match.groups()[1:4])
    clock = re.search(r"(\d+):(\d+)(?::(\d+))?", match.group(5))
    of_day = sum(
        int(part or 0) * size for part, size in zip(clock.groups(), (3600, 60, 1), strict=True)
    ) if clock else 0  # fmt: skip
    first = (365 * year + int(_MONTH_STARTS[month - 1]) + day - 1) * 86400.0 + of_day
    seconds = np.round(first + values * step).astype(np.int64)
    days, rest = np.divmod(seconds, 86400)
    years, of_year = np.divmod(days, 365)
    months = np.searchsorted(_MONTH_STARTS, of_year, side="right") - 1
    start = ((years - 1970).astype("datetime64[Y]").astype("datetime64[M]")) + months
    return (start.astype("datetime64[D]") + (of_year - _MONTH_STARTS[months])).astype(
        "datetime64[s]"
    ) + rest.astype("timedelta64[s]")
