"""Sentences of a front note, in the club's units."""

import numpy as np

from lakekit.guide.front.ahead import back_text, chance_text, days_text
from lakekit.guide.front.plan import day_name, pressed_text, start_words, starts_text
from lakekit.guide.where import BAND_REASONS
from lakekit.guide.words import list_text, local, moment_text, sentence
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
    """From which depth down oxygen runs short."""
    top = oxygen_edges(state)[0]
    return f"from {depth_text(top, units)}" if np.isfinite(top) else "none"


def oxygen_edges(state):
    """Upper and lower depth [m] between which oxygen runs short; NaN where it does not."""
    if not np.isfinite(state.floors["middle"][1]):
        return np.nan, np.nan
    edges = [
        state.floors[part][1] for part in ("top", "bottom") if np.isfinite(state.floors[part][1])
    ]
    return min(edges), max(edges)


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
    whole = not state.layered or state.mixed_layer[1] > 0.95 * state.bottom  # as by day
    mixed = "mixed to the bottom" if whole else None
    return {
        "layered": sentence(f"layered: {chance_text(state.chance)}"),
        "thermocline": ranged(state.thermocline, units),
        "mixed_layer": mixed or ranged(state.mixed_layer, units),
        "oxygen": oxygen_zone_text(state, units),
        "surface": ranged(state.surface, units, kind="temperature"),
        "band": band_text(state, units),
    }


def change_rows(states, lake, recovery, units):
    """What changed, as [label, text] rows: before the front, after it, and as the plan finds it.

    Parameters
    ----------
    states : sequence of lakekit.fronts.state.State
        In order of time; the last is the plan's.
    lake : Lake
    recovery : xarray.Dataset
        From ``recovery_odds``.
    units : str
    """
    before, after, plan = states[0], states[1], states[-1]

    def row(label, text):
        said = [text(state) for state in states]
        return [label, said[0] if len(set(said)) == 1 else " → ".join(said)]

    def texts(name):
        return lambda state: state_texts(state, units)[name]

    rows = [row("When", lambda state: f"{local(state.time, lake):%a} {_day(state, lake)}")]
    rows.append(row("Start depth", lambda state: start_words(state, units)))
    rows.append(row("Surface", texts("surface")))
    if before.layered or after.layered or plan.layered:
        rows.append(row("Thermocline", texts("thermocline")))
    if before.layered and plan.thermocline[1] <= before.thermocline[1] - MOVED:
        rows.append(["Why shallower", SHALLOWER])
    rows.append(row("Mixed layer", texts("mixed_layer")))
    if before.layered and plan.layered:
        warmth = ranged(plan.deep, units, kind="temperature")
        rows.append(["Deep water", f"{warmth}; no change is told of it"])
    rows += [
        row("Low oxygen", texts("oxygen")),
        row("Fish band", lambda state: band_words(state, units)),
        ["For fish", oxygen_verdict(before, plan, units, after=after)],
    ]
    if before.layered:
        rows.append(["Layers broke", chance_text(recovery.attrs["broke_chance"])])
    return rows


def _day(state, lake):
    stamp = local(state.time, lake)
    return f"{stamp.day} {stamp:%b}"


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


LONGEST = 200  # characters of a headline


def headline(
    word, states, recovery, years, units, *, tonight, number, what_if=False, back=None
):  # fmt: skip
    """The answer in at most 200 characters: the layers, when they are back, the start depth.

    ``states`` as for :func:`change_rows`, ``tonight`` and ``number`` as for ``starts_text``.
    """
    layers = _layers_text(word, states, recovery, years, units, day_name(number), what_if, back)
    layers = sentence(layers)
    whole = f"{layers} {sentence(starts_text(tonight, states[-1], number, units))}"
    if len(whole) <= LONGEST:
        return whole
    return f"{layers} {sentence(starts_text(tonight, states[-1], number, units, reason=False))}"


def _layers_text(word, states, recovery, years, units, day, what_if, back):
    before, after, plan = states[0], states[1], states[-1]
    was, is_now, thermocline = (
        depth_text(state.thermocline[1], units) for state in (before, after, plan)
    )
    broke = recovery.attrs["broke_chance"]
    doubt = f" ({chance_text(broke)} that they broke)" if 0.1 <= broke < 0.5 else ""
    if word == "unlayered":
        text = f"No layers to break: the lake {'is mixed' if what_if else 'was mixed before'}"
        if plan.layered:
            return f"{text}; layered {day}, near {thermocline}"
        return text + (" and would stay so" if what_if else " and still is")
    if word == "untouched":
        stay = "would stay" if what_if else "are"
        text = f"The layers {stay} untouched{doubt}; thermocline near {thermocline}"
        mixed = after.mixed_layer[1]
        if mixed >= before.mixed_layer[1] + MOVED:
            top = "the top would mix" if what_if else "the top mixed"
            text += f"; {top} down to {depth_text(mixed, units)}"
        return text
    if word == "broken":
        verb = "would break" if what_if else "broke"
        sure = f" ({chance_text(broke)})" if 0.02 <= broke <= 0.98 else ""
        text = f"The layers {verb}{sure}"
    else:
        verb = "would be" if what_if else "are"
        text = f"The layers {verb} deeper{doubt}: thermocline from {was} to {is_now}"
    days = days_text(recovery, word, years)
    if back is not None:
        return f"{text}; {back_text(*back)}"
    again = "layered again" if word == "broken" else f"back at {was}"
    return f"{text}; {again} {days}" if days else text


def oxygen_verdict(before, plan, units, *, after=None):
    """Whether fish may roam deeper, or low-oxygen water was mixed up: one says which.

    ``after`` the front what was mixed up is told, by default as the ``plan`` finds it.
    """
    old, new = oxygen_edges(before)[0], oxygen_edges(plan)[0]  # the depth that is told
    stirred = (after or plan).top_oxygen
    if before.top_oxygen - stirred >= MIXED_UP and np.isfinite(old):
        tail = "; fish may be off the feed" if stirred < 5.0 else ""
        return (
            f"low-oxygen water was mixed up: {before.top_oxygen:.0f} → {stirred:.0f} mg/L "
            f"near the surface{tail}"
        )
    if not np.isfinite(old) and not np.isfinite(new):
        return "oxygen is no limit, before or after"
    if not np.isfinite(old):
        return f"oxygen now runs short {oxygen_zone_text(plan, units)}"
    if not np.isfinite(new):
        return f"oxygen reaches the bottom for now: {_roam(before, plan, units)}"
    if new >= old + MOVED:
        return f"oxygen reaches deeper: {_roam(before, plan, units)}"
    if new <= old - MOVED:
        now, was = depth_text(new, units), depth_text(old, units)
        return f"low-oxygen water came up: it begins at {now} now, at {was} before"
    return f"no depth gained: oxygen still runs short {oxygen_zone_text(plan, units)}"


def _roam(before, after, units):
    """Whether the fish's band goes down with the oxygen, or why it does not."""
    if not after.band.good:
        return "but " + pressed_text(after, units)
    if not before.band.good or after.band.bottom >= before.band.bottom + MOVED:
        return f"fish may roam down to {depth_text(after.band.bottom, units)}"
    return f"but the band still ends at {depth_text(after.band.bottom, units)}"


def cast_rows(cast, lake):
    """That no reading of the club's has moved the water."""
    if cast is not None:
        return []
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
