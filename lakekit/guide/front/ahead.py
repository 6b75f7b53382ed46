"""Sentences on what comes after a front: how long until each part of the layers is back."""

import numpy as np

from lakekit.guide.words import FEW_YEARS, years_text
from lakekit.strata.events import event_threshold

SKIN = event_threshold("skin")  # degC
AUTUMN = -2.0  # degC in the month ahead: the surface is going into autumn (common practice)
TRADE = "2-3 hot calm days (no source)"


def chance_text(share):
    """A chance in percent, rounded to fives."""
    if share < 0.02:
        return "hardly any chance"
    if share > 0.98:
        return "nearly certain"
    return f"about {max(5 * round(20 * share), 5)} %"


def days_text(recovery, part, years):
    """How long until a part of the layers is back once lost; None where none was lost.

    Under ten past years a share is told in years.
    """
    row = recovery.sel(part=part)
    low, middle, high = (float(value) for value in row["days"].values)
    if np.isnan(middle):
        return None
    horizon = int(recovery.attrs["horizon"])
    back = float(row["back_chance"])
    if not np.isfinite(middle):
        if years < FEW_YEARS:
            return f"within {horizon} days in only {years_text(back * years, years)}"
        if back < 0.02:
            return f"not within {horizon} days"
        return f"within {horizon} days with only {_bare(back)} chance"
    start = max(round(low), 0)
    end = f"{max(round(high), 1)}" if np.isfinite(high) else f"{horizon}+"
    middle = max(round(middle), 1)
    unit = "day" if middle == 1 else "days"
    return f"in {middle} {unit}" + ("" if f"{start}" == end else f" ({start} to {end})")


PARTS = (
    ("skin", "Warm skin by day", "there on the day after"),
    ("thermocline", "Seasonal thermocline", "never went"),
    ("oxygen_floor", "Oxygen floor", "stayed"),
)


def ahead_rows(recovery, years, trade_days, *, autumn_trend, skin_before):
    """How long until each part is back, kept apart, the trade's rule beside them."""
    rows = []
    for part, label, kept in PARTS:
        row = recovery.sel(part=part)
        had, lost = float(row["before"]), float(row["lost_chance"])
        if had < 0.1 or np.isnan(lost):
            rows.append([label, "was not there before"])
            continue
        days = days_text(recovery, part, years)
        if part == "skin" and days and not skin_before >= SKIN:
            rows.append([label, f"none before; comes {days}"])
        elif lost < 0.1 or days is None:
            rows.append([label, kept])
        elif lost > 0.9:
            rows.append([label, f"back {days}"])
        else:
            rows.append([label, f"lost ({_bare(lost)}); back {days}"])
    rows.append(["The trade's rule", trade_text(trade_days, years)])
    turnover = turnover_text(recovery, autumn_trend)
    if turnover:
        rows.append(["Autumn turnover", turnover])
    return rows


def _bare(share):
    return chance_text(share).removeprefix("about ")


def trade_text(trade_days, years):
    """The trade's rule, and how long past years' weather took to bring such days."""
    two = np.sort(trade_days[:, 0])
    came = np.isfinite(two)
    if not came.any():
        return f"{TRADE}; no past year had them in 5 weeks"
    middle = np.median(two)
    if not np.isfinite(middle):
        return f"{TRADE}; within 5 weeks in {years_text(came.sum(), years)}"
    return f"{TRADE}; two by day {middle:.0f}"


def turnover_text(recovery, autumn_trend):
    """Whether what broke is autumn's turnover; None outside autumn."""
    if autumn_trend > AUTUMN:
        return None
    row = recovery.sel(part="thermocline")
    if float(row["before"]) < 0.1:
        return "the lake had no layers left before the front; it is mixed until spring"
    lost, back = float(row["lost_chance"]), float(row["back_chance"])
    gone = lost * (1.0 - back) if np.isfinite(back) else 0.0
    broke = recovery.attrs["broke_chance"]
    if broke < 0.1:
        return "still to come"
    return f"{chance_text(min(gone, broke))} that the layers are gone until spring"
