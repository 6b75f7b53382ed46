"""Where fish are looked for in a month and its halves: the start depth and the ladder, in words."""

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from lakekit.column.light import attenuation
from lakekit.column.parameters import fading_factor
from lakekit.guide.log.logbook import own_depth
from lakekit.guide.words import sentence
from lakekit.tactics.phase import PHASE_NAMES, month_phase
from lakekit.tactics.start import Holding, hold
from lakekit.units import area_text, depth_range_text, depth_text
from lakekit.waters.cover import KINDS, side_of, standing_at

LAYERED = ICED = 0.5  # share of days from which water is told as layered, as iced over
FEW_DAYS = 4  # of a phase in a half-month that are not told
APART = 0.9  # m between the starts of two halves from which both are told

BAND_REASONS = {
    "warmest": "in the warm upper water",
    "mixed_base": "toward the base of the warm mixed layer",
    "under_top": "in the cooler water under the warm top",
    "coolest": "in the coolest water with oxygen enough",
    "above_oxygen_floor": "just above the oxygen-poor water",
    "cold": "well down in the cold water",
    "staging": "in the warm top near the spawning coves",
    "fall": "up with the cooling water, near brush and drop-offs",
    "rising": "on the way up from winter's depths toward the spawning coves",
    "mixed": "where cover puts them, as no lasting layers do",
    "under_ice": "well down, where it is warmer than on top if there is ice",
    "iced": "well down, where the water is nearly alike if there is ice",
    "leaving": "at the first cover and drops off the spawning coves",
    "late_ice": "well down in the cold water, under the last or the first ice",
    "spawning": "at the cover they spawn on, whatever the open water does",
    "warm_and_squeezed": "no good band: the cool water lacks oxygen and the water with oxygen is "
    "too warm; fish are then held just above the oxygen-poor water",
    "no_oxygen": "no good band: the whole column is short of oxygen",
}
ICE_REASONS = ("under_ice", "iced", "late_ice")
RUNG_REASONS = {
    "dusk": "at dusk and by night",
    "warmer": "in warmer water",
    "shallower": "nearer the light",
    "deeper": "out of the light",
    "lower": "a little deeper",
    "bottomward": "nearer the bottom",
    "beside_nests": "where they wait beside the nests",
    "cooler": "in cooler water",
    "warmer_below": "in the warmer water below",
    "last_oxygen": "the last with oxygen enough",
}


@dataclass(frozen=True)
class Part:
    """A month or one half of it: its water, its phase, and where its fish are looked for."""

    label: str
    phase: str
    phases: tuple
    ice_chance: float
    layered: bool
    holding: Holding
    own_text: str | None
    met: dict = field(default_factory=dict)  # what a pattern may go with -> its value here

    @property
    def iced(self):
        """Whether it is told as under ice."""
        return self.holding.band.reason in ICE_REASONS


def month_parts(knowledge, month, phases):
    """The month as a whole and its two halves.

    The month is told by the half that has its phase where only one has, and by the later where
    none has, so that a spawn or a turnover of half a month is not averaged into the rest. Where
    ice is likelier than not in one half alone, the other tells the month.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    month : xarray.Dataset
        One month of ``lakekit.strata.odds.monthly_odds``, with its ``half`` dimension.
    phases : (n,) array of str
        The month's daily season phases.

    Returns
    -------
    (Part, list of Part)
        The month, and its halves.
    """
    first = pd.Timestamp(month["month"].values)
    phase, all_phases = month_phase(phases)
    starts = pd.DatetimeIndex(month["half"].values)
    halves = []
    for number in np.flatnonzero(starts.to_period("M") == first.to_period("M")):
        late = starts[number].day > 15
        days = phases[15:] if late else phases[:15]
        half_phase, _ = month_phase(days if len(days) else phases)
        half_phases = _lasting(days)
        end = first.days_in_month if late else 15
        label = f"{starts[number].day}–{end} {first:%b}"
        water = _water(month.isel(half=number), "half_")
        halves.append(look_for(knowledge, first, label, half_phase, half_phases, water))
    all_phases = tuple(dict.fromkeys(one for half in halves for one in half.phases)) or all_phases
    same = [half for half in halves if half.phase == phase]
    if len({half.iced for half in same}) > 1:
        same = [half for half in same if not half.iced]
    if len(same) < 2 or differ(same):
        told = (same or halves)[-1]
        whole = replace(
            told, label=f"{first:%b}", phases=all_phases, ice_chance=float(month["ice_chance"])
        )
    else:
        water = _water(month.sel(quantile=0.5))
        whole = look_for(knowledge, first, f"{first:%b}", phase, all_phases, water)
    return whole, halves


def _lasting(days):
    """The phases of some days in order, those of a few days left out."""
    ordered = dict.fromkeys(days)
    return tuple(phase for phase in ordered if sum(day == phase for day in days) >= FEW_DAYS)


def _water(middle, prefix=""):
    """What tactics are judged in, of a month's or a half month's middle run and its odds."""

    def read(name):
        return float(middle[f"{prefix}{name}"])

    return {
        "depth": middle["depth"].values,
        "temperature": middle[f"{prefix}temperature"].values,
        "oxygen": middle[f"{prefix}oxygen"].values,
        "floor": read("oxygen_floor_depth") if read("oxygen_floor_depth_chance") >= LAYERED
        else np.nan,
        # days without layers are mixed deeper than the step that the others have
        "mixed": np.fmin(read("mixed_layer_depth"), read("lasting_thermocline_depth")),
        "thermocline": read("thermocline_depth"),
        "lasting": read("lasting_thermocline_depth"),
        "layered": read("layered_chance") >= LAYERED,
        "ice": read("ice_chance"),
    }  # fmt: skip


def look_for(knowledge, first, label, phase, phases, water):
    """Where fish are looked for in one state of the water.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    first : Timestamp
        A day of the month.
    label : str
    phase, phases : str, tuple
        The season phase, and all that the time holds.
    water : dict
        ``depth`` (k,) [m], ``temperature`` [degC] and ``oxygen`` [mg/L] at each, ``floor``,
        ``mixed``, ``thermocline`` [m], NaN for none, ``layered``, and ``ice``, a chance;
        perhaps ``lasting``, the lasting thermocline.

    Returns
    -------
    Part
    """
    lake = knowledge.lake
    layered = water["layered"]
    own = own_depth(knowledge, first.month, phase)(
        thermocline=water["thermocline"] if layered else np.nan,
        oxygen_floor=water["floor"],
    )
    fading = fading_factor(lake, knowledge.parameters)
    light = attenuation(lake.secchi[first.month - 1], factor=fading)
    holding = hold(
        water["depth"], water["temperature"], water["oxygen"], species=knowledge.species,
        phase=phase, oxygen_floor=water["floor"], mixed_layer=water["mixed"], layered=layered,
        iced=water["ice"] >= ICED, attenuation=float(light),
        bottom=lake.max_depth - lake.below_full_pond[first.month - 1], own=own and own[0],
    )  # fmt: skip
    met = {
        "surface_temperature": float(water["temperature"][0]),
        "thermocline_depth": water.get("lasting", water["thermocline"]) if layered else np.nan,
        "oxygen_floor_depth": water["floor"],
        "start_depth": np.nan if holding.start is None else holding.start,
    }
    return Part(label, phase, phases, water["ice"], layered, holding, own and own[1], met)


def curve_data(holding, points=60):
    """Suitability by depth, thin enough to print in JSON."""
    at = np.unique(np.linspace(0, holding.depth.size - 1, points).round().astype(int))
    return {
        "depth": holding.depth[at].round(2).tolist(),
        "suits": holding.suits[at].round(3).tolist(),
    }


def start_text(holding, units, *, lead="Start"):
    """The start depth, why there, and the ladder: two sentences, or why there is none."""
    band = holding.band
    if holding.start is None or not band.good:
        return sentence(BAND_REASONS[band.reason])
    text = sentence(f"{lead} at {depth_text(holding.start, units)}, {BAND_REASONS[band.reason]}")
    rungs = ladder_text(holding.ladder, units)
    return f"{text} {sentence(rungs)}" if rungs else text


def ladder_text(rungs, units):
    """The next depths and why, without a full stop; empty where there are none."""
    return "; ".join(
        f"then {depth_text(rung.depth, units)}, {RUNG_REASONS[rung.why]}" for rung in rungs
    )


def rig_text(cards):
    """The first set-up of some that the boat can run, in words; None where there is none."""
    for card in cards:
        if (card["setup_figures"] or {}).get("possible"):
            return f"{card['short']}: {card['setup'].rstrip('.')}"
    return None


def halves_text(halves, units, *, part=None, cards=((), ())):
    """What the halves of a month have apart, in sentences; None where they are alike.

    A half that ``part``, the month, is not told by brings the first set-up of its own ``cards``.
    """
    if not differ(halves):
        return None
    told = []
    for half, mine in zip(halves, cards, strict=True):
        same = part is not None and half.holding is part.holding
        rig = None if same else rig_text(mine)
        band, start = half.holding.band, half.holding.start
        where = "no good band"
        if start is not None and band.good:
            span = depth_range_text(band.top, band.bottom, units)
            cover = " at cover" if half.phase == "spawn" else ""
            where = f"{depth_text(start, units)}{cover} (band {span})"
        ice = ", under ice" if half.iced else ""
        text = f"{half.label} {_names(half.phases)}{ice}, {where}"
        told.append(sentence(text if rig is None else f"{text}: {rig[0].lower()}{rig[1:]}"))
    return " ".join(told)


def _names(phases):
    return " and ".join(PHASE_NAMES[phase] for phase in phases)


def differ(halves):
    """Whether two halves differ in phase, in ice, or by 3 ft of start depth."""
    if len(halves) < 2:
        return False
    one, two = (half.holding.start for half in halves[:2])
    if halves[0].phase != halves[1].phase or halves[0].iced != halves[1].iced:
        return True
    if (one is None) != (two is None):
        return True
    return one is not None and abs(one - two) > APART


def part_data(part, units):
    """A part as the guide's data: plain numbers in metres, and its texts."""
    holding = part.holding
    return {
        "label": part.label,
        "phase": part.phase,
        "phase_name": _names(part.phases),
        "ice_chance": part.ice_chance,
        "start": holding.start,
        "night": holding.night,
        "start_text": "none" if holding.start is None else depth_text(holding.start, units),
        "ladder": [
            {
                "depth": rung.depth,
                "text": depth_text(rung.depth, units),
                "why": RUNG_REASONS[rung.why],
            }
            for rung in holding.ladder
        ],
        "top": holding.band.top,
        "bottom": holding.band.bottom,
        "good": holding.band.good,
        "text": start_text(holding, units),
    }


def band_text(part, units):
    """The band and why, with where the log's own fish sat."""
    band = part.holding.band
    reason = BAND_REASONS[band.reason]
    if band.top is None or not band.good:
        return sentence(reason)
    text = sentence(f"{depth_range_text(band.top, band.bottom, units)}, {reason}")
    # the page has room for the centre alone; the trips notebook has the spread
    return f"{text} {sentence(part.own_text.split(',')[0])}" if part.own_text else text


def places_data(knowledge, part, units, *, month, wind_from=None):
    """What stands at the start depth and at the ladder's, from the club's own list.

    Depths are told as they lie below the month's usual surface.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    part : Part
    units : str
    month : int
        1 to 12.
    wind_from : float, optional
        Degrees from north: which places lie in its lee or to windward is then said.

    Returns
    -------
    list of dict
    """
    holding = part.holding
    if holding.start is None or not knowledge.places:
        return []
    depths = [holding.start, *(rung.depth for rung in holding.ladder)]
    below = float(knowledge.lake.below_full_pond[month - 1])
    return [
        {
            "name": place.name,
            "kind": KINDS[place.kind],
            "depth": depth,
            "top": place.top,
            "foot": place.foot,
            "shore": place.shore,
            "shared": place.shared,
            "text": f"{place.name} ({KINDS[place.kind]}, "
            f"{depth_range_text(place.top, place.foot, units)}) at {depth_text(depth, units)}"
            f"{_side(place, wind_from)}",
        }
        for depth, place in standing_at(
            knowledge.places, knowledge.lake.key, depths, below=below
        )
    ]


def _side(place, wind_from):
    side = None if wind_from is None else side_of(place, wind_from)
    return {"lee": ", in the lee", "windward": ", to windward"}.get(side, "")


def ice_text(chance, halves):
    """How often there is ice, by half-month; None where it is all but never."""
    if max([chance, *(half.ice_chance for half in halves)]) < 0.05:
        return None
    counts = [(round(10 * half.ice_chance), half.label) for half in halves]
    told = [f"{n or 'no'} day{'s' if n > 1 else ''} in 10 in {label}" for n, label in counts]
    return sentence(f"Ice on {' and '.join(told)}; no page can tell what it bears")


def acres_text(lake, part, month, units):
    """How much of the lake's bottom the band meets."""
    band = part.holding.band
    if band.top is None:
        return None
    low = lake.below_full_pond[month - 1]
    area = np.interp([low, band.top + low, band.bottom + low], lake.depths, lake.areas)
    share = (area[1] - area[2]) / area[0]
    return sentence(
        f"{depth_range_text(band.top, band.bottom, units)} meets the bottom over "
        f"{area_text(area[1] - area[2], units)}, {100 * share:.0f} % of the lake"
    )
