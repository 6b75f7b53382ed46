"""Sentences of a front note, in the club's units."""

import numpy as np

from lakekit.guide.front.ahead import back_text, chance_text, days_text
from lakekit.guide.where import BAND_REASONS, start_text
from lakekit.guide.words import date_text, list_text, local, moment_text, sentence
from lakekit.hazards import HEAVY_RAIN
from lakekit.strata.events import event_threshold
from lakekit.units import depth_range_text, depth_text, rain_text, temperature_text, wind_text

MOVED = event_threshold("deepened")  # m
SHALLOWER = "the steepest step is now a newer one above the old; no wind lifts the layers"
MIXED_UP = 1.5  # mg/L that the upper two metres must lose to be told (common practice, no source)


def storm_text(storm, units):
    """The storm in words, such as ``wind of 25 mph for 12 hours, air at 55 °F, 2.0 in of rain``."""
    hours = f"{storm['hours']:.0f} hours"
    parts = []
    if storm["wind"] is not None:
        parts.append(f"wind of {wind_text(storm['wind'], units)}")
    if storm["air"] is not None:
        parts.append(f"air at {temperature_text(storm['air'], units)}")
    if storm["rain"] is not None:
        parts.append(f"{rain_text(storm['rain'], units)} of rain")
    return f"{hours} of {', '.join(parts)}"


def storm_short(storm, units):
    """A what-if storm as a title, such as ``30 mph for 18 hours``."""
    if storm["wind"] is not None:
        what = wind_text(storm["wind"], units)
    elif storm["air"] is not None:
        what = f"air at {temperature_text(storm['air'], units)}"
    else:
        what = f"{rain_text(storm['rain'], units)} of rain"
    return f"{what} for {storm['hours']:.0f} hours"


def front_text(front, lake, units, *, storm=None):
    """The front itself: when, how much wind, cooling, pressure and rain."""
    if storm is not None:
        return sentence(
            f"What if: {storm_text(storm, units)}, from {moment_text(front['start'], lake)}"
        )
    parts = [f"wind to {wind_text(front['peak_wind'], units)} by the hour"]
    fall = front["temperature_fall"]
    if np.isfinite(fall) and fall >= 1.0:
        degrees = f"{fall * 1.8:.0f} °F" if units == "us" else f"{fall:.0f} °C"
        parts.append(f"air down {degrees}")
    if np.isfinite(front["pressure_fall"]) and front["pressure_fall"] >= 2.0:
        parts.append(f"pressure down {front['pressure_fall']:.0f} hPa")
    rain = front["rain"]
    parts.append(f"{rain_text(rain, units)} of rain" if rain >= 0.5 else "no rain")
    start, end = moment_text(front["start"], lake), moment_text(front["end"], lake)
    return sentence(f"Front from {start} to {end}: {list_text(parts)}")


def cause_text(found, units, *, rain):
    """Which of wind and cooling did the work; None where there was none to do."""
    if found is None:
        return None
    wind, cooling = (5 * round(20 * found[name]) for name in ("wind", "cooling"))
    if wind >= 90:
        text = "Wind did nearly all of the work"
    elif cooling >= 90:
        text = "Cooling did nearly all of the work"
    else:
        text = f"Wind did about {wind} % of the work, cooling {100 - wind} %"
    if rain >= HEAVY_RAIN:
        text += "; the rain's inflow is not computed"
    return sentence(text)


def ranged(quantiles, units, *, kind="depth"):
    """A value with its range, such as ``11 ft (9–14)``."""
    low, middle, high = (float(value) for value in quantiles)
    if not np.isfinite(middle):
        return "none"
    one = depth_text if kind == "depth" else temperature_text
    texts = [one(value, units).split()[0] for value in (low, middle, high)]
    unit = one(middle, units).split(" ", 1)[1]
    if texts[0] == texts[2]:
        return f"{texts[1]} {unit}"
    return f"{texts[1]} {unit} ({texts[0]}–{texts[2]})"


def oxygen_zone_text(state, units):
    """Where oxygen runs short: from what is enough to the least."""
    if not np.isfinite(state.floors["middle"][1]):
        return "none"
    edges = [
        state.floors[part][1] for part in ("top", "bottom") if np.isfinite(state.floors[part][1])
    ]
    return f"from {depth_range_text(min(edges), max(edges), units)} down"


def band_text(state, units):
    """The band with the reason for it."""
    reason = BAND_REASONS[state.band.reason]
    if state.band.top is None:
        return sentence(reason)
    return sentence(f"{depth_range_text(state.band.top, state.band.bottom, units)}, {reason}")


def band_words(state, units):
    """The band in a few words, with the range of its edges."""
    band = state.band
    if band.top is None or not band.good:
        return pressed_text(state, units).replace(" for fish", "")
    text = depth_range_text(band.top, band.bottom, units)
    low, high = state.band_top[0], state.band_bottom[2]
    wide = depth_range_text(low, high, units) if np.isfinite(low + high) else text
    return text if wide == text else f"{text} (at most {wide.split()[0]})"


def state_texts(state, units):
    """Texts of a state's depths and band."""
    mixed = "mixed to the bottom" if state.mixed_layer[1] > 0.95 * state.bottom else None
    return {
        "layered": sentence(f"layered: {chance_text(state.chance)}"),
        "thermocline": ranged(state.thermocline, units),
        "mixed_layer": mixed or ranged(state.mixed_layer, units),
        "oxygen": oxygen_zone_text(state, units),
        "surface": ranged(state.surface, units, kind="temperature"),
        "band": band_text(state, units),
    }


def change_rows(before, after, now, recovery, units):
    """What changed, as [label, text] rows; ``now`` is None where it is ``after``."""
    states = [before, after] + ([now] if now is not None else [])

    def row(label, text):
        said = [text(state) for state in states]
        return [label, said[0] if len(set(said)) == 1 else " → ".join(said)]

    def texts(name):
        return lambda state: state_texts(state, units)[name]

    current = now or after
    rows = [row("Surface", texts("surface"))]
    if before.layered or after.layered:
        rows.append(row("Thermocline", texts("thermocline")))
    if before.layered and current.thermocline[1] <= before.thermocline[1] - MOVED:
        rows.append(["Why shallower", SHALLOWER])
    rows.append(row("Mixed layer", texts("mixed_layer")))
    if before.layered and current.layered:
        warmth = ranged(current.deep, units, kind="temperature")
        rows.append(["Deep water", f"{warmth}; no change is told of it"])
    rows += [
        row("Low oxygen", texts("oxygen")),
        row("Fish band", lambda state: band_words(state, units)),
        ["For fish", oxygen_verdict(before, current, units)],
    ]
    if before.layered:
        rows.append(["Layers broke", chance_text(recovery.attrs["broke_chance"])])
    return rows


def verdict(before, after, recovery):
    """What the front did to the layers: ``unlayered``, ``broken``, ``deeper`` or ``untouched``.

    Deeper is told only where the state that is shown is deeper, whatever some of its members say.
    """
    if not before.layered:
        return "unlayered"
    if recovery.attrs["broke_chance"] >= 0.5 or not after.layered:
        return "broken"
    moved = after.thermocline[1] - before.thermocline[1]
    return "deeper" if moved >= MOVED else "untouched"


def headline(word, before, after, now, recovery, years, units, *, what_if=False, back=None):
    """The answer in at most 200 characters: the layers, when they are back, the band."""
    current = now or after
    was, is_now = (depth_text(x.thermocline[1], units) for x in (before, after))
    thermocline = depth_text(current.thermocline[1], units)
    broke = recovery.attrs["broke_chance"]
    doubt = f" ({chance_text(broke)} that they broke)" if 0.1 <= broke < 0.5 else ""
    stay = "would stay" if what_if else "are"
    if word == "unlayered":
        text = f"No layers to break: the lake {'is mixed' if what_if else 'was mixed before'}"
        if current.layered:
            text += f"; {'then' if what_if else 'now'} layered near {thermocline}"
        else:
            text += " and would stay so" if what_if else " and still is"
    elif word == "broken":
        verb = "would break" if what_if else "broke"
        sure = f" ({chance_text(broke)})" if 0.02 <= broke <= 0.98 else ""
        text = f"The layers {verb}{sure}"
    elif word == "deeper":
        verb = "would be" if what_if else "are"
        text = f"The layers {verb} deeper{doubt}: thermocline from {was} to {is_now}"
    else:
        text = f"The layers {stay} untouched{doubt}; thermocline near {thermocline}"
        mixed = after.mixed_layer[1]
        if mixed >= before.mixed_layer[1] + MOVED:
            top = "the top would mix" if what_if else "the top mixed"
            text += f"; {top} down to {depth_text(mixed, units)}"
    if word in ("broken", "deeper"):
        days = days_text(recovery, word, years)
        if back is not None:
            text += f"; {back_text(*back)}"
        elif days:
            text += f"; {'layered again' if word == 'broken' else 'back up'} {days}"
    band = current.band
    if band.top is None or not band.good:
        return f"{sentence(text)} {sentence(pressed_text(current, units))}"
    return f"{sentence(text)} {start_text(current.holding, units).split('. ')[0].rstrip('.')}."


def oxygen_verdict(before, after, units):
    """Whether fish may roam deeper, or low-oxygen water was mixed up: one says which."""
    old, new = before.floors["middle"][1], after.floors["middle"][1]
    fallen = before.top_oxygen - after.top_oxygen
    if fallen >= MIXED_UP and np.isfinite(old):
        tail = "; fish may be off the feed" if after.top_oxygen < 5.0 else ""
        return (
            f"low-oxygen water was mixed up: {before.top_oxygen:.0f} → {after.top_oxygen:.0f} mg/L "
            f"near the surface{tail}"
        )
    if not np.isfinite(old) and not np.isfinite(new):
        return "oxygen is no limit, before or after"
    if not np.isfinite(old):
        return f"oxygen now runs short {oxygen_zone_text(after, units)}"
    if not np.isfinite(new):
        return f"oxygen reaches the bottom for now: {_roam(before, after, units)}"
    if new >= old + MOVED:
        return f"oxygen reaches deeper: {_roam(before, after, units)}"
    if new <= old - MOVED:
        return f"low-oxygen water came up: {oxygen_zone_text(after, units)}"
    return f"no depth gained: oxygen still runs short {oxygen_zone_text(after, units)}"


def _roam(before, after, units):
    """Whether the fish's band goes down with the oxygen, or why it does not."""
    if not after.band.good:
        return "but " + pressed_text(after, units)
    if not before.band.good or after.band.bottom >= before.band.bottom + MOVED:
        return f"fish may roam down to {depth_text(after.band.bottom, units)}"
    return f"but the band still ends at {depth_text(after.band.bottom, units)}"


def pressed_text(state, units):
    """That there is no good band, and where fish are pressed for want of one."""
    band = state.band
    if band.top is None:
        return "no good band for fish"
    return f"no good band for fish; pressed at {depth_range_text(band.top, band.bottom, units)}"


def cast_rows(cast, lake):
    """That the club's readings moved the water, or that none did."""
    if cast is not None:
        return [
            ["Readings", f"the water was moved by them, last on {date_text(local(cast, lake))}"]
        ]
    return [["Readings", "none in the month before: the water is computed from weather alone"]]


def rain_rows(front, lake, units):
    """What heavy rain asks for: a clarity reading, and care with the deep water's temperature."""
    if not front["rain"] >= HEAVY_RAIN:
        return []
    rows = [
        [
            "Muddy inflow",
            "likely: take a new clarity reading; here the lake file's is used",
        ]
    ]
    if lake.flow is None:
        rain, degrees = ("2.2 in", "2.5 °F") if units == "us" else ("57 mm", "1.4 °C")
        rows.append(
            [
                "Inflow",
                f"not computed, and can change deep water where wind cannot; {rain} of rain once "
                f"warmed a measured lake's bottom by {degrees}: trust a probe first",
            ]
        )
    return rows


def plan_text(before_cards, after_cards, before, after, units, *, unreachable=()):
    """Why the plan moved: the start first, then each tactic that came, went or moved."""
    old = {card["key"]: card for card in before_cards}
    new = {card["key"]: card for card in after_cards}
    was, is_now = start_short(before, units), start_short(after, units)
    stays = f"the start stays at {is_now}"
    parts = [stays if was == is_now else f"the start went from {was} to {is_now}"]
    if not after.band.good and after.band.top is not None:
        where = depth_range_text(after.band.top, after.band.bottom, units)
        parts.append(f"the depths below are those where fish are pressed, {where}, or of cover")
    moved = [
        f"{card['name'].lower()} {old[key]['depth_text']} to {card['depth_text']}"
        for key, card in new.items()
        if key in old and _aim(card) != _aim(old[key])
    ]
    if moved:
        parts.append(f"moved: {'; '.join(moved[:4])}")
    fresh = [card["name"].lower() for key, card in new.items() if key not in old]
    if fresh:
        parts.append(f"new: {list_text(fresh[:4])}")
    gone = [card["name"].lower() for key, card in old.items() if key not in new]
    if gone:
        parts.append(f"out of reach or season: {list_text(gone[:4])}")
    if len(parts) == 1 and was == is_now:
        parts.append("no tactic moved")
    ranked = [card for card in after_cards if card["rank"] is not None]
    order = [card["key"] for card in before_cards if card["rank"] is not None]
    if not ranked:
        parts.append("the order is no ranking: the log cannot tell")
    elif [card["key"] for card in ranked] == order:
        parts.append("the log's order is as before")
    else:
        parts.append("the order is the log's for this phase")
    return " ".join(sentence(part) for part in parts)


def _aim(card):
    """The depth a tactic is set for, without its range."""
    return card["depth_text"].split(" (")[0]


def start_short(state, units):
    """The depth to start at, or that no band is good."""
    if not state.band.good or state.holding.start is None:
        return "no good band"
    return depth_text(state.holding.start, units)
