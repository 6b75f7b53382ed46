"""What a month's or a state's water is, read from the guide's data for drawings and for words."""

import math

from lakekit.units import depth_range_text, depth_text, temperature_text

SURE = 0.8  # share of days layered from which a thermocline is drawn and told without an if
AT_TIMES = 0.2  # and down to which it is told at all
WHOLLY, PARTLY, MIXED = "layered", "at times layered", "mixed"


def layer_word(chance):
    """The one word for how often water is layered, in tables, on pages and beside dates."""
    return WHOLLY if chance >= SURE else PARTLY if chance >= AT_TIMES else MIXED


def bottom_of(state):
    """Depth of the bottom [m]; never less than half a metre, so that it can be drawn."""
    return max(state["profile"]["bottom"] or 0.0, 0.5)


def band_of(state):
    """(top, bottom) [m] of the band that can hold fish, or None where there is no good one."""
    band, depth = state["band"], bottom_of(state)
    if not band["good"] or band["top"] is None or band["bottom"] is None:
        return None
    top, bottom = sorted((band["top"], band["bottom"]))
    return (top, min(bottom, depth)) if top < depth else None


def oxygen_of(state):
    """((top, bottom) of the low-oxygen zone or None, top of the water under it or None) [m]."""
    zone, depth = state["oxygen_zone"], bottom_of(state)
    top, floor = zone["top"], zone["bottom"]
    if floor is not None and floor >= depth:
        floor = None
    if top is None:
        top = zone["middle"] if zone["middle"] is not None else floor
    if top is None or top >= depth:
        return None, floor
    end = floor if floor is not None else depth
    return (min(top, end), end), floor


def thermocline_of(state):
    """The thermocline's entry (low, median, high) [m], or None where there is none."""
    for entry in state["depths"]:
        if entry["key"] == "thermocline" and entry["median"] is not None:
            return entry
    return None


def water_facts(state, units):
    """The water in a few words each: water, thermocline, oxygen, band."""
    entry, band = thermocline_of(state), band_of(state)
    zone, floor = oxygen_of(state)
    chance = state["layered"]["chance"]
    word = layer_word(chance)
    if word == MIXED or not entry:
        iced = (state.get("ice") or {}).get("chance", 0.0) >= 0.5
        water, thermocline = "ice likely" if iced else word, "none"
    else:
        thermocline = depth_text(entry["median"], units)
        water = f"thermocline {thermocline}" if word == WHOLLY else f"{word}, {thermocline}"
    at_times = state["oxygen_zone"].get("at_times")
    oxygen = "no limit" if at_times is None else f"at times low from {depth_text(at_times, units)}"
    if zone:
        oxygen = f"low from {depth_text(zone[0], units)}"
    elif floor is not None:
        oxygen = f"gone below {depth_text(floor, units)}"
    return {
        "water": water,
        "thermocline": thermocline,
        "oxygen": oxygen,
        "layered": {WHOLLY: "yes", PARTLY: "at times", MIXED: "no"}[word],
        "band": depth_range_text(*band, units) if band else "no good band",
    }


def state_words(state, units):
    """What a water column says, as sentences."""
    median = [
        value
        for value in state["profile"]["temperature"]["median"]
        if value is not None and math.isfinite(value)
    ]
    said = []
    if median:
        said.append(
            f"Temperature {temperature_text(median[0], units)} at the surface and "
            f"{temperature_text(median[-1], units)} at the bottom."
        )
    entry = thermocline_of(state)
    if entry:
        words = depth_text(entry["median"], units)
        if entry["low"] is not None and entry["high"] is not None:
            words += f", range {depth_range_text(entry['low'], entry['high'], units)}"
        said.append(f"Thermocline at {words}.")
    else:
        said.append("No thermocline.")
    zone, floor = oxygen_of(state)
    if zone:
        enough, _, least = state["oxygen_zone"]["limits"]
        where = depth_range_text(*zone, units)
        said.append(f"Oxygen runs low, {enough:g} to {least:g} mg/L, at {where}.")
    if floor is not None:
        said.append(f"Too little oxygen below {depth_text(floor, units)}.")
    band = band_of(state)
    start = state["band"].get("start")
    if band is None:
        said.append("No good band for fish.")
    else:
        at = f"; start at {depth_text(start, units)}" if start is not None else ""
        said.append(f"Fish can hold at {depth_range_text(*band, units)}{at}.")
    light = state.get("light") or {}
    if light.get("midday") is not None:
        said.append(f"Light reaches {depth_text(light['midday'], units)} at midday.")
    return said
