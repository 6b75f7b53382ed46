"""The days after a front, a line each, and what would show in the boat that it is back."""

import pandas as pd

from lakekit.fronts.state import number, spread_data
from lakekit.guide.front import words
from lakekit.guide.front.plan import ASHORE, NAMES, blows, pressed_text, start_of
from lakekit.guide.words import date_text, local, years_text
from lakekit.units import depth_text, temperature_text

SURE = 0.85  # share of the runs that agree from which no share is told
KEYS = ("tonight", "tomorrow", "day_after", "day_3")


def day_entries(states, cards, lake, units, *, front_end, forecast_end):
    """Tonight and the next three noons as data.

    Parameters
    ----------
    states : sequence of lakekit.fronts.state.State
        Four, in order of time.
    cards : sequence of list of dict
        The tactics of each, as from ``advise``.
    lake : Lake
    units : str
    front_end : Timestamp
        [UTC] Until it is well over no depth and no tactic is told.
    forecast_end : Timestamp or None
        Last hour of the forecast [UTC].

    Returns
    -------
    list of dict
        As ``lakekit.guide.schema.Day``.
    """
    entries = []
    for key, name, state, tactics in zip(KEYS, NAMES, states, cards, strict=True):
        known = forecast_end is not None and state.time <= forecast_end + pd.Timedelta(hours=1)
        ashore = blows(state, front_end)
        first = tactics[0] if tactics and not ashore else None
        stamp = local(state.time, lake)
        start = None if ashore else start_of(state, night=key == "tonight")
        entries.append(
            {
                "key": key,
                "name": name,
                "label": f"{name}, {stamp:%a} {date_text(stamp)} {stamp:%H:%M}",
                "time": f"{state.time:%Y-%m-%dT%H}",
                "basis": "forecast" if known else "past years",
                "layered": float(state.chance),
                "surface": spread_data(state.surface),
                "mixed_layer": spread_data(state.mixed_layer),
                "thermocline": spread_data(state.thermocline),
                "oxygen_floor": spread_data(state.floors["middle"]),
                "deep": spread_data(state.deep),
                "ashore": ashore,
                "start_depth": number(start),
                "tactic": first and first["short"],
                "set_up": first and first["setup"],
                "text": _day_text(state, first, start, units, ashore=ashore),
            }
        )
    return entries


def _day_text(state, first, start, units, *, ashore):
    if ashore:
        parts = [f"{ASHORE}: the storm is on or hardly over"]
    elif start is None:
        parts = [pressed_text(state, units)]
    else:
        parts = [f"start at {depth_text(start, units)}"]
    if first is not None:
        parts.append(f"{first['short'].lower()} {first['depth_text']}")
    parts.append(f"{temperature_text(state.surface[1], units)} on top")
    if state.layered:
        parts.append(f"mixed to {depth_text(state.mixed_layer[1], units)}")
        parts.append(f"thermocline {_thermocline(state, units)}")
    else:
        parts.append(f"no layers{_not_sure(state)}")
    zone = words.oxygen_zone_text(state, units)
    parts.append("oxygen to the bottom" if zone == "none" else f"low oxygen {zone}")
    return "; ".join(parts)


def _thermocline(state, units):
    where = depth_text(state.thermocline[1], units) if state.layered else "none"
    return where + _not_sure(state)


def _not_sure(state):
    """How many of the runs agree on whether there are layers, where not nearly all do."""
    share = max(state.chance, 1.0 - state.chance)
    return "" if share >= SURE else f", {round(10 * share)} in 10"


def day_rows(entries, moves, *, years, read=None):
    """The entries as [label, text] rows, why their start moves, and what they rest on.

    ``read`` is when the club's probe last moved the water, on the lake's clock; None: not lately.
    """
    by_forecast = [entry["name"] for entry in entries if entry["basis"] == "forecast"]
    if len(by_forecast) == len(entries):
        weather = "a forecast"
    elif by_forecast:
        weather = f"a forecast to {by_forecast[-1].lower()}, then {_years(years)}"
    else:
        weather = f"no forecast: the middle of {_years(years)}"
    probe = "" if read is None else f"; probe read {date_text(read)}"
    return [
        *([entry["label"], entry["text"]] for entry in entries),
        *moves,
        ["Weather ahead", weather + probe],
    ]


def _years(years):
    return f"{years} past year{'s' if years != 1 else ''}"


HEAD = ("", "Start at", "First set-up", "On top", "Mixed to", "Thermocline", "Low oxygen")


def day_table(entries, states, units):
    """The entries as a table of texts; its first row is the head."""
    rows = [list(HEAD)]
    for entry, state in zip(entries, states, strict=True):
        start, ashore = entry["start_depth"], entry["ashore"]
        poor = ASHORE if ashore else "no good band"
        rows.append(
            [
                entry["label"].removesuffix(entry["label"][-6:]),
                poor if start is None else depth_text(start, units),
                entry["tactic"] or ("none" if ashore else "none suits"),
                temperature_text(state.surface[1], units),
                depth_text(state.mixed_layer[1], units) if state.layered else "the bottom",
                _thermocline(state, units),
                words.oxygen_zone_text(state, units),
            ]
        )
    return rows


def sign_rows(signs, kind, units):
    """What would show in the boat that the layers are back, as [label, text] rows.

    Parameters
    ----------
    signs : dict of str to lakekit.fronts.signals.Sign
    kind : str or None
        ``broken`` or ``deeper``; None: nothing was taken.
    units : str
    """
    if kind is None:
        return []
    said = []
    if "surface" in signs:
        sign = signs["surface"]
        said.append(
            f"surface {temperature_text(sign.value, units)} or more at noon two days running "
            f"({_tenths(sign.right)} such noons had it back)"
        )
    if "step" in signs:
        sign = signs["step"]
        said.append(
            f"a probe finds {_degrees(sign.value, units)} less at {depth_text(sign.depth, units)} "
            f"than at {depth_text(1.0, units)} ({_tenths(sign.right)} such noons had it back)"
        )
    if not said:
        return [["Sign that it is back", "none that is sure enough: only a probe's own cast"]]
    return [["Sign that it is back", text] for text in said]


def _tenths(share):
    if share >= 0.95:
        return "nearly all"
    return years_text(10 * share, 10).replace(" years", "")


def _degrees(step, units):
    return f"{step * 1.8:.0f} °F" if units == "us" else f"{step:.1f} °C"


def sign_data(signs):
    """The signs as plain numbers."""
    return {
        name: {"value": sign.value, "depth": sign.depth, "right": sign.right, "seen": sign.seen}
        for name, sign in signs.items()
    }
