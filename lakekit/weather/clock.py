"""Time stamps of a weather file to UTC: nothing in local time passes unless it is said."""

import re
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError

YEARS = (1900, 2100)  # of weather that can be meant
FARTHEST_ZONE = 14  # h from UTC, Kiribati's (IANA time zone database)
_OFFSET = r"(?:Z|[+-]\d{2}:?\d{2})$"
_ISO = re.compile(
    r"^\d{4}[-/]?\d{2}[-/]?\d{2}(?:[T ]\d{2}(?::?\d{2}(?::?\d{2}(?:\.\d+)?)?)?)?"
    r"(?:Z|[+-]\d{2}:?\d{2})?$"
)
_FIXED = re.compile(r"^(?:UTC|GMT)\s*([+-])\s*(\d{1,2})(?::?(\d{2}))?$", re.IGNORECASE)
_SLASHED = re.compile(
    r"^(\d{1,2})[/.-](\d{1,2})[/.-](\d{4})"
    r"(?:[T ]+(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\s*([AaPp])\.?[Mm]\.?)?)?$"
)
_ORDERS = ("MDY", "DMY")
_LOCAL_HEADER = re.compile(
    r"(^|[^a-z])(local|lst|ldt|est|edt|cst|cdt|mst|mdt|pst|pdt|cet|cest|bst)"
    r"([^a-z]|$)",
    re.IGNORECASE,
)


def read_zone(text, *, where):
    """Read what a lake file says of the time column.

    Parameters
    ----------
    text : str
        "UTC", an IANA zone, "UTC-6" for a logger that keeps standard time, each optionally
        followed by ", end of hour" and by the order of the date, ", MDY" or ", DMY".

    Returns
    -------
    zone : str, pandas.Timedelta or None
        IANA name, a fixed offset from UTC, or None for UTC.
    ends : bool
        Whether a label is the end of its interval.
    order : str or None
        "MDY" or "DMY" of dates written with slashes; None where the year comes first.
    """
    name, *said = (part.strip() for part in text.split(","))
    said = [part.lower() for part in said if part]
    orders = [part.upper() for part in said if part.upper() in _ORDERS]
    labels = [part for part in said if part in ("end of hour", "start of hour")]
    if len(orders) > 1 or len(labels) > 1 or len(orders) + len(labels) < len(said):
        raise WeatherError(
            f"time = {text!r} cannot be read",
            where=where,
            mend='Write a zone, then ", end of hour" if labels end their hour, and ", MDY" or '
            '", DMY" if dates are written like 07/31/2025 or 31.07.2025.',
        )
    ends, order = labels == ["end of hour"], (orders or [None])[0]
    if name.upper() in ("UTC", "GMT", "Z", ""):
        return None, ends, order
    fixed = _FIXED.match(name)
    if fixed:
        sign, hours, minutes = fixed.groups()
        if int(hours) + int(minutes or 0) / 60 > FARTHEST_ZONE or int(minutes or 0) > 59:
            raise WeatherError(
                f"no clock runs at {name}",
                where=where,
                mend='Write such as "UTC-6"; from -12 to 14.',
            )
        shift = pd.Timedelta(hours=int(hours), minutes=int(minutes or 0))
        return (shift if sign == "+" else -shift), ends, order
    if name not in available_timezones():
        raise WeatherError(
            f"time zone {name!r} is not known",
            where=where,
            mend='Write "UTC", an IANA name such as "America/Chicago", or a fixed '
            'offset such as "UTC-6".',
        )
    return name, ends, order


def to_utc(text, zone, *, where, header, row, order=None):
    """Turn a column of time stamps into UTC without a zone.

    Parameters
    ----------
    text : (n,) Series of str
    zone : str, Timedelta or None
        From :func:`read_zone`.
    where : str
        File, for messages.
    header : str
        The column's name in the file.
    row : (n,) int array
        Row in the file, for messages.
    order : str, optional
        "MDY" or "DMY" where the year comes last.

    Returns
    -------
    DatetimeIndex, naive, nanoseconds

    Raises
    ------
    WeatherError
        Local time not said; a stamp that is no ISO date and time; a local hour that the clock
        change skips or repeats.
    """
    text = text.fillna("").astype(str).str.strip()
    text = text.str.replace(r"[T ](?=\d:)", " 0", regex=True)  # spreadsheets write 0:00 for 00:00
    values = text.to_numpy(dtype=object)
    if zone is None and _LOCAL_HEADER.search(header) and "utc" not in header.lower():
        raise WeatherError(
            f"column {header!r} looks like local time, and weather must be in UTC",
            where=where,
            mend='Say what it is under [weather.units]: time = "America/Chicago", or time = '
            '"UTC-6" for a logger that keeps standard time all year, or time = "UTC".',
        )
    written = values
    if order is not None:
        text = _year_first(text, order)
        values = text.to_numpy(dtype=object)
    shapes = text.str.len().drop_duplicates().index
    for i in shapes:
        if not _ISO.match(values[i]):
            _bad_time(written[i], row[i], where, order=order)
    offsets = text.str.contains(_OFFSET, regex=True) & text.str.contains(":")
    if offsets.any() and not offsets.all():
        i = int(np.flatnonzero(offsets.to_numpy() != offsets.iloc[0])[0])
        raise WeatherError(
            f"row {row[i]}: {values[i]!r} and {values[0]!r} differ in having an offset from UTC",
            where=where,
            mend="Write all times alike.",
        )
    parsed = pd.to_datetime(text, format="ISO8601", utc=True, errors="coerce")
    if parsed.isna().any():
        i = int(np.flatnonzero(parsed.isna().to_numpy())[0])
        _bad_time(written[i], row[i], where, count=int(parsed.isna().sum()), order=order)
    stamps = pd.DatetimeIndex(parsed).tz_localize(None)
    _check_years(stamps, written, where=where, row=row)
    if zone is not None and not offsets.all():
        stamps = _from_local(stamps, zone, where=where, row=row)
    return stamps.as_unit("ns")


def _check_years(stamps, written, *, where, row):
    years = stamps.year.to_numpy()
    odd = np.flatnonzero((years < YEARS[0]) | (years > YEARS[1]))
    if odd.size:
        i = odd[0]
        raise WeatherError(
            f"row {row[i]}: the year of {written[i]!r} is outside {YEARS[0]} to {YEARS[1]} "
            f"({odd.size} such rows)",
            where=where,
            mend="Mend the year, or take the row out.",
        )


def _year_first(text, order):
    """Dates with the year last, and twelve-hour clocks, written the ISO way; others as they are."""
    parts = text.str.extract(_SLASHED)
    slashed = parts[0].notna()
    first, second = parts[0].str.zfill(2), parts[1].str.zfill(2)
    month, day = (first, second) if order == "MDY" else (second, first)
    hour = pd.to_numeric(parts[3].fillna("0"))
    half = parts[6].str.lower()
    hour = hour.where(half.isna(), hour % 12 + 12 * (half == "p"))
    iso = (
        parts[2] + "-" + month + "-" + day + " " + hour.astype("int64").astype(str).str.zfill(2)
        + ":" + parts[4].fillna("00") + ":" + parts[5].fillna("00")
    )  # fmt: skip
    return iso.where(slashed, text)


def _from_local(stamps, zone, *, where, row):
    if isinstance(zone, pd.Timedelta):
        return stamps - zone
    mend = 'A logger that keeps standard time all year is told by time = "UTC-6" (its own offset).'
    tz = ZoneInfo(zone)
    try:
        aware = stamps.tz_localize(tz, ambiguous="NaT", nonexistent="NaT")
    except (ValueError, TypeError) as problem:
        raise WeatherError(
            f"times do not fit zone {zone}: {problem}", where=where, mend=mend
        ) from problem
    odd = np.flatnonzero(aware.isna())
    if odd.size:
        first = stamps[odd]
        skipped = pd.isna(
            first.tz_localize(tz, ambiguous=np.ones(first.size, bool), nonexistent="NaT")
        )
        if skipped.any():
            i = odd[int(np.flatnonzero(skipped)[0])]
            raise WeatherError(
                f"row {row[i]}: {stamps[i]} does not exist in {zone}: the clocks "
                f"went forward ({int(skipped.sum())} such rows)",
                where=where,
                mend=mend,
            )
        summer = ~pd.Series(first).duplicated(keep="first").to_numpy()
        lone = ~pd.Series(first).duplicated(keep=False).to_numpy()
        if lone.any():
            i = odd[int(np.flatnonzero(lone)[0])]
            raise WeatherError(
                f"row {row[i]}: {stamps[i]} happens twice in {zone}, as the clocks "
                f"go back, but stands once in the file "
                f"({int(lone.sum())} such rows)",
                where=where,
                mend=mend,
            )
        flags = np.zeros(stamps.size, dtype=bool)
        flags[odd] = summer
        aware = stamps.tz_localize(tz, ambiguous=flags, nonexistent="NaT")
    return aware.tz_convert("UTC").tz_localize(None)


def _bad_time(value, row, where, count=1, order=None):
    more = f" ({count} such rows)" if count > 1 else ""
    if order is not None and _SLASHED.match(value):
        other = _ORDERS[1 - _ORDERS.index(order)]
        raise WeatherError(
            f"row {row}: {value!r} is no date when read as {order}{more}",
            where=where,
            mend=f"If the {'day' if other == 'DMY' else 'month'} comes first, write {other} "
            "instead under [weather.units].",
        )
    if _SLASHED.match(value):
        raise WeatherError(
            f"row {row}: {value!r} does not say whether month or day comes first",
            where=where,
            mend='Say it after the zone under [weather.units]: time = "UTC-6, MDY", or DMY.',
        )
    raise WeatherError(
        f"row {row}: {value!r} is not a date and time{more}",
        where=where,
        mend="Write 2025-07-31 14:00 (year, month, day; UTC; start of the hour).",
    )
