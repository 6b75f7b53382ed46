"""One month of a season guide: what its water does, which band holds fish, which tactics suit."""

import numpy as np
import pandas as pd

from lakekit.fronts.water import pick_front
from lakekit.guide import where
from lakekit.guide.lake import closed_places, closures_in
from lakekit.guide.log.logbook import log_answers, log_text, season_in_log
from lakekit.guide.summaries import first_choice
from lakekit.guide.sunlight import light_text, month_light, sun_text
from lakekit.guide.water_words import AT_TIMES, MIXED, PARTLY, layer_word
from lakekit.guide.where import LAYERED
from lakekit.guide.words import (
    FEW_YEARS,
    NOT_KNOWN,
    date_text,
    layered_text,
    list_text,
    oxygen_text,
    sentence,
    span_text,
    spread_text,
    temperature_spread_text,
    years_text,
)
from lakekit.hazards import hazards_for_month
from lakekit.strata.spells import fronts
from lakekit.tactics.advise import advise
from lakekit.tactics.book import bait_for, bait_text, read_baits, read_book
from lakekit.tactics.phase import PHASE_NAMES
from lakekit.units import depth_range_text, depth_text, temperature_text

LATELY = pd.Timedelta(days=60)  # of the record, in which a last front is looked for
JUST = pd.Timedelta(days=5)  # after a front's end, in which a guide sends its reader to the note
TURNING = (
    "while the lake turns over fish scatter and bite poorly: try the band from its top to its "
    "foot, move after half an hour without a fish, or fish a lake that has turned or has yet to "
    "(common practice)"
)


def month_page(club, knowledge, month, phases):
    """One month of the guide, as data.

    Parameters
    ----------
    club : lakekit.club.Club
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    month : xarray.Dataset
        One month of ``lakekit.strata.odds.monthly_odds``.
    phases : (n,) array of str
        The month's daily season phases.

    Returns
    -------
    dict
        See DEVELOPERS.md, "The guide as data".
    """
    lake, units = knowledge.lake, club.units
    first = pd.Timestamp(month["month"].values)
    years, hindcast = int(month["years"]), str(month["basis"].values) == "hindcast"
    part, halves = where.month_parts(knowledge, month, phases)
    surface = month["surface_temperature"].values
    tactics, in_log = part_tactics(
        club, knowledge, part, month=first.month, surface_temperature=float(surface[2])
    )
    cards = _half_cards(club, knowledge, halves, tactics, first.month, float(surface[2]))
    light = month_light(lake, first, parameters=knowledge.parameters)
    ice_chance = float(month["ice_chance"])
    closures = closures_in(lake.rules.closures, first.month)
    return {
        "month": f"{first:%Y-%m}",
        "title": f"{first:%B %Y}",
        "label": f"{first:%b}",
        "basis": "hindcast" if hindcast else "odds",
        "basis_text": _basis_text(hindcast, years, first, knowledge),
        "years": years,
        "headline": where.start_text(part.holding, units),
        "halves_text": _apart(
            _just_passed(knowledge, first),
            where.halves_text(halves, units, part=part, cards=cards),
        ),
        "phase": {
            "key": part.phase,
            "name": PHASE_NAMES[part.phase],
            "text": _phase_text(part.phases, knowledge.species, units),
        },
        **_water(month, units, years, hindcast=hindcast, zone=knowledge.species.oxygen_zone),
        **_light(light, units),
        "band": {
            "top": _number(part.holding.band.top),
            "bottom": _number(part.holding.band.bottom),
            "good": part.holding.band.good,
            "start": _number(part.holding.start),
            "text": where.band_text(part, units),
        },
        "where": where.part_data(part, units),
        "halves": [
            where.part_data(half, units) | {"first": first_choice(mine)}
            for half, mine in zip(halves, cards, strict=True)
        ],
        "halves_differ": where.differ(halves),
        "curve": where.curve_data(part.holding),
        "bottom_text": where.acres_text(lake, part, first.month, units),
        "places": closed_places(
            where.places_data(knowledge, part, units, month=first.month), closures
        ),
        "bait_text": bait_text(bait_for(read_baits(), lake.secchi[first.month - 1]), units),
        "ice": {"chance": ice_chance, "text": where.ice_text(ice_chance, halves)},
        "profile": _profile(month, lake),
        "tactics": tactics,
        "log_text": log_text(
            knowledge, in_log, {card["key"]: card["start"] for card in tactics}, part.met
        ),
        "closures": closures,
        "not_known": _not_known(lake),
        "cautions": hazards_for_month(
            lake,
            first.month,
            surface_temperature=surface,
            ice_chance=ice_chance,
            night=any(card["key"] == "night_light" for card in tactics),
            units=units,
        ),
    }


def _light(light, units):
    depths = {when: light[when] for when in ("dawn", "midday", "dusk")}
    return {
        "sun": {"text": sun_text(light)},
        "light": {**depths, "text": light_text(light, units)},
    }


def _half_cards(club, knowledge, halves, tactics, month, warmest):
    """The tactics of each half; the month's own where the halves are alike."""
    if not where.differ(halves):
        return [tactics for _ in halves]
    return [
        part_tactics(club, knowledge, half, month=month, surface_temperature=warmest)[0]
        for half in halves
    ]


def part_tactics(club, knowledge, part, *, month, surface_temperature):
    """The tactics of a month, half-month or day, and the phase the log's word is taken from.

    Parameters
    ----------
    club : lakekit.club.Club
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    part : lakekit.guide.where.Part
    month : int
        1 to 12.
    surface_temperature : float
        Warmest usual surface temperature [degC].

    Returns
    -------
    (list of dict, str)
    """
    in_log = season_in_log(knowledge, month, part.phase)
    lake = knowledge.lake
    rows = advise(
        read_book(),
        club,
        lake,
        phases=tuple(dict.fromkeys((part.phase, in_log))),
        band=part.holding.band,
        start=part.holding.start,
        night=part.holding.night,
        ice_first=part.iced,
        bottom=lake.max_depth - lake.below_full_pond[month - 1],
        ice_chance=part.ice_chance,
        surface_temperature=surface_temperature,
        answers=log_answers(knowledge, in_log, part.met),
        cards=knowledge.cards,
        sinking=knowledge.sinking,
    )
    return rows, in_log


def _water(month, units, years, *, hindcast, zone):
    """What the month's water is, whatever the fish do."""
    chance = float(month["layered_chance"])
    layered = chance >= LAYERED
    floor = month["oxygen_floor_depth"].values
    often = float(month["oxygen_floor_depth_chance"])
    has_floor = often >= LAYERED
    surface = month["surface_temperature"].values
    layer_text = layered_text(chance, float(month["layered_years"]), years, hindcast=hindcast)
    return {
        "layered": {"chance": chance, "text": sentence(f"{layer_word(chance)}: {layer_text}")},
        "depths": [
            *_depth_rows(month, units, years, chance),
            {
                "key": "oxygen_floor",
                "name": "Oxygen",
                **_spread(floor if has_floor else np.full(3, np.nan)),
                "text": sentence(_oxygen_words(month, units, years)),
            },
        ],
        "surface": {
            **_spread(surface),
            "text": _surface_text(month, surface, units, years),
        },
        "oxygen_zone": {
            "limits": list(zone),
            "top": _number(month["oxygen_zone_top"].values[1]) if has_floor else None,
            "middle": _number(floor[1]) if has_floor else None,
            "bottom": _number(month["oxygen_zone_bottom"].values[1]) if has_floor else None,
            "at_times": _number(floor[1]) if AT_TIMES <= often < LAYERED else None,
        },
        "tilt": _tilt(month, units, layered),
        "front_text": _front_text(month, units, years, layered),
    }


def _surface_text(month, surface, units, years):
    """The top of the water; under ice its freezing upper edge as well, which no layer resolves."""
    text = temperature_spread_text(surface, units, years=years)
    if float(month["ice_chance"]) < where.ICED:
        return text
    layer = 2.0 * float(month["depth"].values[0])
    at = f"{temperature_text(0.0, units)} against the ice"
    return f"{at}; {text} in the top {depth_text(layer, units)}"


def _profile(month, lake):
    number = pd.Timestamp(month["month"].values).month
    temperature = month["temperature"].transpose("quantile", "depth").values
    oxygen = month["oxygen"].transpose("quantile", "depth").values
    return {
        "depth": month["depth"].values.tolist(),
        "temperature": _curves(temperature),
        "oxygen": _curves(oxygen) if np.isfinite(oxygen).any() else None,
        "bottom": float(lake.max_depth - lake.below_full_pond[number - 1]),
    }


def _oxygen_words(month, units, years):
    return oxygen_text(
        float(month["oxygen_floor_depth"].values[1]),
        float(month["oxygen_zone_top"].values[1]),
        float(month["oxygen_zone_bottom"].values[1]),
        float(month["oxygen_floor_depth_chance"]),
        units,
        years=years,
    )


def _number(value):
    return None if value is None or not np.isfinite(value) else float(value)


def _spread(quantiles):
    return dict(zip(("low", "median", "high"), map(_number, quantiles), strict=True))


def _curves(quantiles):
    return {
        name: [_number(value) for value in row]
        for name, row in zip(("low", "median", "high"), quantiles, strict=True)
    }


def _thermocline(month):
    """Quantiles of the lasting thermocline, or of any where the season's is seldom there.

    At noon a calm lake carries a thin warm skin whose step can be the steepest of all; the
    season's thermocline is sought below it.
    """
    seasonal = float(month["lasting_thermocline_depth_chance"])
    often = seasonal >= LAYERED * float(month["layered_chance"])
    return month["lasting_thermocline_depth" if often else "thermocline_depth"].values


def _depth_rows(month, units, years, chance):
    word = layer_word(chance)
    iced = float(month["ice_chance"]) >= where.ICED
    unlayered = "none: coldest on top if there is ice" if iced else "none: mixed"
    thermocline = _thermocline(month)
    # days without layers are mixed deeper than the step that the others have and is told
    mixed_layer = np.fmin(month["mixed_layer_depth"].values, thermocline)
    rows = []
    for key, quantiles, name in (
        ("thermocline", thermocline, "Thermocline"),
        ("mixed_layer", mixed_layer, "Warm mixed layer, down to"),
    ):
        told = word != MIXED and np.isfinite(quantiles[1])
        shown = quantiles if told else np.full(3, np.nan)
        text = spread_text(shown, units, years=years) if told else unlayered
        if told and word == PARTLY:
            text = f"{text}, when layered"
        rows.append({"key": key, "name": name, **_spread(shown), "text": text})
    return rows


def _tilt(month, units, layered):
    upwind, downwind = float(month["tilt_upwind"]), float(month["tilt_downwind"])
    if not layered or not np.isfinite([upwind, downwind]).all() or downwind - upwind < 0.3:
        return None
    text = (
        f"On the windiest days it leans: {depth_text(upwind, units)} at the upwind shore, "
        f"{depth_text(downwind, units)} at the downwind shore"
    )
    return {"upwind": upwind, "downwind": downwind, "text": sentence(text)}


def _basis_text(hindcast, years, first, knowledge):
    if hindcast:
        return "Hindcast: this month's own weather"
    text = f"Odds from {years} past years' weather" if years > 1 else "Odds from 1 past year"
    zone = pd.Timedelta(hours=round(knowledge.lake.longitude / 15))
    last = pd.Timestamp(knowledge.as_of) + zone
    if last.to_period("M") != first.to_period("M"):
        return text
    return f"Its own weather to {date_text(last)}, then {text[0].lower()}{text[1:]}"


def _phase_text(phases, species, units):
    """The month's phases in order, and where the nests lie."""
    text = list_text(PHASE_NAMES[phase] for phase in phases)
    if "spawn" in phases and species.nest_depth:
        text += f"; nests lie {depth_range_text(*species.nest_depth, units)} deep, coves warm first"
    if "turnover" in phases:
        text += f"; {TURNING}"
    return sentence(text)


def _apart(*texts):
    """What sets a part of the month apart, in one text; None where nothing does."""
    return " ".join(filter(None, texts)) or None


def _just_passed(knowledge, first):
    """That a front ended in the record's last days, in the month that the record ends in."""
    as_of = pd.Timestamp(knowledge.as_of)
    if as_of.to_period("M") != first.to_period("M"):
        return None
    usual = float(knowledge.forcing["wind_speed"].median())
    recent = knowledge.forcing.sel(time=slice(as_of - LATELY, None))
    front = pick_front(fronts(recent, typical_wind=usual), as_of)
    if front is None or as_of - front["end"] > JUST:
        return None
    return sentence(
        f"the front of {span_text(front, knowledge.lake)} has just passed: its note tells the next "
        "days"
    )


def _front_text(month, units, years, layered):
    """What fronts do to the layers in such months: broken and deeper told apart."""
    chance, broke = float(month["front_chance"]), float(month["front_broke_chance"])
    if not layered or not np.isfinite(chance) or chance < 0.05:
        return None

    def often(share):
        if years < FEW_YEARS:
            return f"in {years_text(share * years, years)}"
        percent = round(100 * share)
        return "in every such month" if percent >= 98 else f"in {percent} % of such months"

    deepening = float(month["front_deepening"].values[1])
    broken, moved = broke >= 0.01, np.isfinite(deepening)
    deeper = f"about {depth_text(deepening, units)} deeper" if moved else ""
    if broken and moved and often(chance) == often(broke):
        text = f"a front breaks the layers, or pushes them {deeper}, {often(broke)}"
    elif broken:
        text = f"a front breaks the layers {often(broke)}"
        text += f", and one pushes them {deeper} {often(chance)}" if moved else ""
    else:
        text = "no front broke the layers"
        text += f"; one pushed them {deeper} {often(chance)}" if moved else ""
    back = float(month["recovery_chance"])
    days = month["recovery_days"].values
    if np.isfinite(days[1]) and np.isfinite(back):
        if back < LAYERED:
            text += "; the old depth is more often not back within a month"
        else:
            text += f"; the old depth is usually back in {days[1]:.0f} days"
            if back > 0.9 and days[2] > days[1]:
                text += f" ({days[0]:.0f}–{days[2]:.0f})"
    return sentence(text)


def _not_known(lake):
    rows = [list(row) for row in NOT_KNOWN]
    if lake.flow is None:
        rows.append(
            ["What flows in", "not in the lake file: after heavy rain trust your eyes"]
        )
    return rows
