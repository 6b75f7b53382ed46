"""Numbers into the sentences an angler reads: depths, chances, dates, in the club's units."""

import re

import numpy as np
import pandas as pd

from lakekit.errors import ClubError
from lakekit.units import depth_range_text, depth_text, shown, temperature_text

LEFT = pd.Timedelta(days=10)  # of a month that is still planned

FEW_YEARS = 10  # under this many years a share is told as "3 of 4 years", not as a percentage

NOT_KNOWN = (
    ("Where the bait fish are", "in no record: look before you fish"),
    ("How the weeds grow", "not modelled; green weed makes oxygen by day and shade at noon"),
)


def season_months(as_of, start, months, *, option="--start"):
    """First day of each month asked for; by default from the one that is before the club.

    That is the month of ``as_of`` while ten days of it are left, else the next.

    Parameters
    ----------
    as_of : datetime64
        Last observed hour of the record, local standard time.
    start : str or None
        First month, ``YYYY-MM``.
    months : int
        How many, 1 to 24.
    option : str
        What the command calls the first month, for its message.

    Returns
    -------
    pandas.DatetimeIndex

    Raises
    ------
    ClubError
        For a month that cannot be read, or a number of months out of range.
    """
    if not isinstance(months, int) or not 1 <= months <= 24:
        raise ClubError(f"{months!r} months asked for", where="--months", mend="Ask for 1 to 24.")
    if start is None:
        first = (pd.Timestamp(as_of) + LEFT).to_period("M")
    else:
        if not re.fullmatch(r"(19|20)\d\d-(0[1-9]|1[0-2])", start, re.ASCII):
            raise ClubError(
                f"{shown(start)} is not a month between 1900 and 2099", where=option,
                mend="Write it as YYYY-MM, 2026-05.",
            )  # fmt: skip
        first = pd.Period(start, freq="M")
    return pd.period_range(first, periods=months, freq="M").to_timestamp()


def date_text(day):
    """A date as ``5 May``."""
    stamp = pd.Timestamp(day)
    return f"{stamp.day} {stamp:%B}"


def day_of_year_text(day):
    """A day of the year (1 to 366) as ``5 May``, in a year that is no leap year."""
    return date_text(pd.Timestamp("2025-01-01") + pd.Timedelta(round(float(day)) - 1, unit="D"))


def date_spread_text(quantiles):
    """Three days of the year as ``5 May (28 April to 14 May)``."""
    low, middle, high = (day_of_year_text(day) for day in quantiles)
    return middle if low == high else f"{middle} ({low} to {high})"


def years_text(count, years):
    """How many years of how many, as ``3 of 4 years`` or ``none of 4 years``."""
    return f"{round(float(count)) or 'none'} of {int(years)} years"


def share_text(share, count, years):
    """A chance: a rounded percentage from ten years on, else years of years."""
    if years < FEW_YEARS:
        return years_text(count, years)
    percent = round(100 * float(share))
    if percent >= 98:
        return "nearly always"
    if percent <= 2:
        return "hardly ever"
    return f"{5 * round(percent / 5)} % of the time"


def spread_text(quantiles, units, *, years):
    """A depth with its spread, such as ``11 ft (9-14 ft)``."""
    low, middle, high = (float(value) for value in quantiles)
    if not np.isfinite(middle):
        return "not known"
    centre, spread = depth_text(middle, units), depth_range_text(low, high, units)
    if years <= 1 or spread == centre:
        return f"about {centre}"
    return f"{centre} ({spread})"


def temperature_spread_text(quantiles, units, *, years):
    """A temperature with its spread, such as ``78 °F (75-81 °F)``."""
    low, middle, high = (float(value) for value in quantiles)
    centre = temperature_text(middle, units)
    low_text, high_text = temperature_text(low, units), temperature_text(high, units)
    if years <= 1 or low_text == high_text:
        return f"about {centre}"
    return f"{centre} ({low_text.split()[0]}–{high_text})"


def layered_text(share, count, years, *, hindcast):
    """Whether the month is layered, as one sentence without a full stop."""
    if hindcast:
        days = round(100 * float(share))
        return (
            f"layered on {days} % of its days"
            if 0 < days < 100
            else ("layered all month" if days == 100 else "not layered")
        )
    if years < FEW_YEARS:
        return f"layered for most of the month in {years_text(count, years)}"
    return f"layered {share_text(share, count, years)}"


def oxygen_text(middle, zone_top, zone_bottom, chance, units, *, years):
    """The oxygen floor as a zone: where it lies, and how often there is one."""
    if chance < 0.1 or not np.isfinite(middle):
        return "oxygen down to the bottom on most days"
    often = "" if chance > 0.9 else f", on {round(10 * chance)} days in 10"
    if middle < 0.5:
        return f"the whole column runs short{often}"
    if not np.isfinite(zone_top):
        return f"low from about {depth_text(middle, units)}{often}"
    top = depth_text(zone_top, units)
    if not np.isfinite(zone_bottom):
        return f"low from {top} to the bottom{often}"
    bottom = depth_text(max(zone_top, zone_bottom), units)
    low = "" if top == bottom else f"low from {top}, "
    return f"{low}too little below {bottom}{often}"


def list_text(words):
    """Words as ``a, b and c``."""
    words = list(words)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def sentence(text):
    """Start with a capital and end with one full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:].rstrip(".") + "."


def weather_text(forcing):
    """The line every page carries: a record's source, span, attribution and licence."""
    attrs = forcing.attrs
    first, last = (pd.Timestamp(forcing["time"].values[end]) for end in (0, -1))
    parts = [
        f"Weather: {attrs.get('source', 'local record')}, {first.year} to "
        f"{date_text(last)} {last.year}"
    ]
    parts += [attrs[name] for name in ("attribution", "licence") if attrs.get(name)]
    return "; ".join(parts)


def local(time, lake):
    """A UTC time on the lake's own clock, without its zone."""
    return pd.Timestamp(time).tz_localize("UTC").tz_convert(lake.time_zone).tz_localize(None)


def moment_text(time, lake):
    """A time as ``2 July 15:00`` on the lake's clock."""
    stamp = local(time, lake)
    return f"{date_text(stamp)} {stamp:%H:%M}"


def span_text(front, lake):
    """When a front was, as ``2 July 2026`` or ``2–3 July 2026``, without the hours."""
    start, end = local(front["start"], lake), local(front["end"], lake) - pd.Timedelta(hours=1)
    if start.date() == end.date():
        return f"{date_text(start)} {start.year}"
    if start.month == end.month:
        return f"{start.day}–{date_text(end)} {end.year}"
    return f"{date_text(start)} to {date_text(end)} {end.year}"
