"""Sentences on what comes after a front: how long until each part of the layers is back."""

import numpy as np

from lakekit.guide.words import FEW_YEARS, years_text
from lakekit.strata.events import event_threshold

SKIN = event_threshold("skin")  # degC
AUTUMN = -2.0  # degC in the month ahead: the surface is going into autumn (common practice)
TRADE = "back after 2 to 3 hot calm days (common practice, no source)"


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
        if years < FEW_YEARS and round(back * years):
            return f"within {horizon} days in only {years_text(back * years, years)}"
        if years < FEW_YEARS:
            return f"within {horizon} days in none of {years} years"
        if back < 0.02:
            return f"not within {horizon} days"
        return f"within {horizon} days with a chance of only {_bare(back)}"
    start = max(round(low), 0)
    end = f"{max(round(high), 1)}" if np.isfinite(high) else f"{horizon}+"
    middle = max(round(middle), 1)
    unit = "day" if middle == 1 else "days"
    return f"in {middle} {unit}" + ("" if f"{start}" == end else f" ({start} to {end})")


NO_SIGN = "gone by night, no sign of the layers"
AGAIN = {"broken": "layered again", "deeper": "back at its old depth"}
NO_LAYERS = ["Layers", "there were none before"]
MOSTLY = 0.5  # share of members with low oxygen from which a state is told to have it
LEAST_LOST = 0.1  # chance of a loss from which its recovery is told


def ahead_rows(
    recovery, years, trade_days, *, autumn_trend, skin_before, signs=(), back=None, layered=True
):
    """How long until each part is back, kept apart, the trade's rule beside them.

    Broken layers are back when the lake is layered again, deeper ones when the thermocline is up
    at its old depth; a warm skin is neither. The oxygen floor's return is a warning. ``back`` is
    what was taken and has come back since, with its days; ``layered`` whether there were layers.
    """
    rows = [["Warm top by day", _skin_text(recovery, years, skin_before)]]
    rows += _layer_rows(recovery, years, back) if layered else [NO_LAYERS]
    rows.append(["Low oxygen again", _floor_text(recovery, years)])
    rows += signs
    rows.append(["Rule of thumb", trade_text(trade_days, years)])
    turnover = turnover_text(recovery, autumn_trend)
    if turnover:
        rows.append(["Autumn turnover", turnover])
    return rows


def _skin_text(recovery, years, skin_before):
    row = recovery.sel(part="skin")
    had, lost = float(row["before"]), float(row["lost_chance"])
    if had < LEAST_LOST or np.isnan(lost):
        return "was not there before"
    days = days_text(recovery, "skin", years)
    if days and not skin_before >= SKIN:
        return f"none before; comes {days}"
    if lost < LEAST_LOST or days is None:
        return f"there on the day after; {NO_SIGN}"
    chance = "" if lost > 0.9 else f"lost ({_bare(lost)}); "
    return f"{chance}back {days}; {NO_SIGN}"


def back_text(what, days):
    """That something has come back since, and after how long."""
    count = max(round(days), 1)
    return f"{AGAIN[what]} after {count} day{'s' if count != 1 else ''}"


def _layer_rows(recovery, years, back):
    if float(recovery["before"].sel(part="broken")) < LEAST_LOST:
        return [NO_LAYERS]
    rows = []
    for part, label in (("broken", "Layers, if broken"), ("deeper", "Thermocline, if deeper")):
        lost = float(recovery["lost_chance"].sel(part=part))
        days = days_text(recovery, part, years)
        if back is not None and back[0] == part:
            rows.append([label.replace(" if", ""), back_text(*back)])
        elif back is None and lost >= LEAST_LOST and days is not None:
            chance = "" if lost > 0.9 else f" ({chance_text(lost)})"
            rows.append([f"{label}{chance}", f"{AGAIN[part]} {days}"])
    return rows or [["Layers", "untouched: nothing to wait for"]]


def _floor_text(recovery, years):
    row = recovery.sel(part="oxygen_floor")
    had, lost = float(row["before"]), float(row["lost_chance"])
    if had < MOSTLY or np.isnan(lost):
        return "there was none before"
    days = days_text(recovery, "oxygen_floor", years)
    if lost < LEAST_LOST or days is None:
        return "the front did not push it down: nothing to wait for"
    chance = "" if lost > 0.9 else f" ({_bare(lost)} that it went down)"
    if days.startswith("not "):
        return f"does {days.replace('not', 'not come up', 1)}{chance}"
    return f"comes up {days}{chance}; fish then lose the depth they gained"


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
    return f"{TRADE}; in past years two had come by day {middle:.0f}"


def turnover_text(recovery, autumn_trend):
    """Whether what broke is autumn's turnover; None outside autumn."""
    if autumn_trend > AUTUMN:
        return None
    row = recovery.sel(part="broken")
    if float(row["before"]) < LEAST_LOST:
        return "the lake had no layers left before the front; it is mixed until spring"
    lost, back = float(row["lost_chance"]), float(row["back_chance"])
    if lost < LEAST_LOST:
        return "still to come"
    gone = lost * (1.0 - back) if np.isfinite(back) else 0.0
    return f"{chance_text(gone)} that the layers are gone until spring"
