"""One month of a season guide: what its water does, which band holds fish, which tactics suit."""

import numpy as np
import pandas as pd

from lakekit.guide.logbook import log_answers, log_text, own_fish_depth
from lakekit.guide.sunlight import light_text, month_light, sun_text
from lakekit.guide.words import (
    BAND_REASONS,
    FEW_YEARS,
    NOT_KNOWN,
    layered_text,
    oxygen_text,
    sentence,
    spread_text,
    temperature_spread_text,
    years_text,
)
from lakekit.hazards import hazards_for_month
from lakekit.tactics.advise import advise
from lakekit.tactics.band import fish_band, narrowed
from lakekit.tactics.book import read_book
from lakekit.tactics.phase import PHASE_NAMES, month_phase
from lakekit.units import depth_range_text, depth_text

LAYERED = 0.5  # share of a month's days from which it is told as layered


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
    lake, species = knowledge.lake, knowledge.species
    units, first = club.units, pd.Timestamp(month["month"].values)
    years, hindcast = int(month["years"]), str(month["basis"].values) == "hindcast"
    phase, all_phases = month_phase(phases)
    chance = float(month["layered_chance"])
    layered = chance >= LAYERED
    bottom = lake.max_depth - lake.below_full_pond[first.month - 1]
    depths = month["depth"].values
    temperature = month["temperature"].transpose("quantile", "depth").values
    oxygen = month["oxygen"].transpose("quantile", "depth").values
    floor = month["oxygen_floor_depth"].values
    floor_chance = float(month["oxygen_floor_depth_chance"])
    has_floor = floor_chance >= LAYERED
    band = fish_band(
        depths,
        temperature[1],
        oxygen_floor=floor[1] if has_floor else np.nan,
        mixed_layer_depth=float(month["mixed_layer_depth"].values[1]),
        metalimnion_bottom=float(month["metalimnion_bottom"].values[1]),
        layered=layered,
        phase=phase,
        warm=species.warm,
        cool=species.spawn_mostly[0],
        bottom=bottom,
    )
    own = own_fish_depth(
        knowledge,
        phase,
        thermocline=float(_thermocline(month)[1]) if layered else np.nan,
        oxygen_floor=floor[1] if has_floor else np.nan,
    )
    band = narrowed(band, own and own[0])
    light = month_light(lake, first, parameters=knowledge.parameters)
    surface = month["surface_temperature"].values
    tactics = advise(
        read_book(),
        club,
        lake,
        phase=phase,
        band=band,
        bottom=bottom,
        ice_chance=float(month["ice_chance"]),
        surface_temperature=float(surface[2]),
        answers=log_answers(knowledge, phase),
        cards=knowledge.cards,
    )
    layer_text = layered_text(chance, float(month["layered_years"]), years, hindcast=hindcast)
    return {
        "month": f"{first:%Y-%m}",
        "title": f"{first:%B %Y}",
        "label": f"{first:%b}",
        "basis": "hindcast" if hindcast else "odds",
        "basis_text": _basis_text(hindcast, years, knowledge),
        "years": years,
        "headline": _headline(month, band, layered, phase, units, years),
        "phase": {
            "key": phase,
            "name": PHASE_NAMES[phase],
            "text": _phase_text(all_phases, species),
        },
        "layered": {"chance": chance, "text": sentence(layer_text)},
        "depths": [
            *_depth_rows(month, units, years, layered),
            {
                "key": "oxygen_floor",
                "name": "Oxygen",
                **_spread(floor if has_floor else np.full(3, np.nan)),
                "text": sentence(_oxygen_words(month, units, years)),
            },
        ],
        "surface": {
            **_spread(month["surface_temperature"].values),
            "text": temperature_spread_text(
                month["surface_temperature"].values, units, years=years
            ),
        },
        "sun": {"text": sun_text(light)},
        "light": {
            **{when: light[when] for when in ("dawn", "midday", "dusk")},
            "text": light_text(light, units),
        },
        "oxygen_zone": {
            "limits": list(species.oxygen_zone),
            "top": _number(month["oxygen_zone_top"].values[1]) if has_floor else None,
            "middle": _number(floor[1]) if has_floor else None,
            "bottom": _number(month["oxygen_zone_bottom"].values[1]) if has_floor else None,
        },
        "band": {
            "top": _number(band.top),
            "bottom": _number(band.bottom),
            "good": band.good,
            "text": _band_text(band, units, own),
        },
        "tilt": _tilt(month, units, layered),
        "profile": {
            "depth": depths.tolist(),
            "temperature": _curves(temperature),
            "oxygen": _curves(oxygen) if np.isfinite(oxygen).any() else None,
            "bottom": float(bottom),
        },
        "tactics": tactics,
        "log_text": log_text(knowledge, phase, [card["key"] for card in tactics]),
        "front_text": _front_text(month, units, years, layered),
        "not_known": _not_known(lake),
        "cautions": hazards_for_month(
            lake,
            first.month,
            surface_temperature=surface,
            ice_chance=float(month["ice_chance"]),
            front_chance=float(month["front_chance"]),
            night=any(card["key"] == "night_light" for card in tactics),
            units=units,
        ),
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
    """Quantiles of the seasonal thermocline, or of any where the season's is seldom there.

    At noon a calm lake carries a thin warm skin whose step can be the steepest of all; the
    season's thermocline is sought below it.
    """
    seasonal = float(month["seasonal_thermocline_depth_chance"]) >= LAYERED
    return month["seasonal_thermocline_depth" if seasonal else "thermocline_depth"].values


def _depth_rows(month, units, years, layered):
    rows = []
    for key, quantiles, name in (
        ("thermocline", _thermocline(month), "Thermocline"),
        ("mixed_layer", month["mixed_layer_depth"].values, "Warm mixed layer, down to"),
    ):
        shown = quantiles if layered else np.full(3, np.nan)
        text = spread_text(shown, units, years=years) if layered else "none: mixed"
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


def _basis_text(hindcast, years, knowledge):
    if hindcast:
        return "Hindcast: this month's own weather"
    if years == 1:
        return "Odds from 1 past year's weather"
    return f"Odds from {years} past years' weather"


def _band_text(band, units, own):
    reason = BAND_REASONS[band.reason]
    if band.top is None:
        return sentence(reason)
    where = depth_range_text(band.top, band.bottom, units)
    text = sentence(f"{where}: {reason}")
    # the page has room for the centre alone; the trips notebook has the spread
    return f"{text} {sentence(own[1].split(',')[0])}" if own else text


def _headline(month, band, layered, phase, units, years):
    if phase == "spawn":
        lead = "Spawning time: look at cover and shallow wood first, coves before the main lake"
    elif layered:
        depth = depth_text(float(_thermocline(month)[1]), units)
        lead = f"Layered, with the thermocline near {depth}"
    elif float(month["ice_chance"]) > 0.5:
        lead = "Ice possible; the water under it is cold and still"
    else:
        lead = "Mixed on most days: season and cover set the depth more than layers do"
    if band.top is None or not band.good:
        return f"{sentence(lead)} {sentence(BAND_REASONS[band.reason])}"
    if phase == "spawn" or not layered:
        return sentence(lead)
    where = depth_range_text(band.top, band.bottom, units)
    return f"{sentence(lead)} Look {'between' if '–' in where else 'near'} {where}."


def _phase_text(phases, species):
    names = [PHASE_NAMES[phase] for phase in phases]
    text = names[0] if len(names) == 1 else f"from {names[0]} to {names[-1]}"
    if "spawn" in phases and species.nest_depth:
        low, high = species.nest_depth
        text += (
            f"; {species.name} nests lie {100 * low:.0f}-{100 * high:.0f} cm deep, coves warm first"
        )
    return sentence(text)


def _front_text(month, units, years, layered):
    chance = float(month["front_chance"])
    if not layered or not np.isfinite(chance) or chance < 0.05:
        return None
    text = f"A front deepens or breaks the layers in {round(100 * chance)} % of such months"
    if years < FEW_YEARS:
        text = f"A front deepened or broke the layers in {years_text(chance * years, years)}"
    deepening = float(month["front_deepening"].values[1])
    if np.isfinite(deepening):
        text += f", by about {depth_text(deepening, units)}"
    back = float(month["recovery_chance"])
    days = month["recovery_days"].values
    if np.isfinite(days[1]) and np.isfinite(back):
        if back < LAYERED:
            text += "; they are more often not back within a month"
        else:
            text += f"; they are usually back in {days[1]:.0f} days"
            if back > 0.9 and days[2] > days[1]:
                text += f" ({days[0]:.0f}–{days[2]:.0f})"
    return sentence(text)


def _not_known(lake):
    rows = [list(row) for row in NOT_KNOWN]
    if lake.flow is None:
        rows.append(
            ["Inflow", "through-flow is not in the lake file: after heavy rain trust your eyes"]
        )
    return rows
