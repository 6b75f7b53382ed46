"""The season guide as data: month by month, what the water does and which tactics suit.

Everything a page needs is here, as plain numbers in metres and degC for the figures and as
sentences in the club's units for the text; the PDF and the HTML only lay it out.
"""

import numpy as np
import pandas as pd

import lakekit
from lakekit.errors import ClubError
from lakekit.hazards import hazards_for_month
from lakekit.report.confidence import confidence
from lakekit.report.sources import METHOD, SOURCES
from lakekit.report.sunlight import light_text, month_light
from lakekit.report.wording import (
    BAND_REASONS,
    NOT_KNOWN,
    date_spread_text,
    date_text,
    layered_text,
    list_text,
    oxygen_text,
    sentence,
    spread_text,
    temperature_spread_text,
)
from lakekit.strata.odds import monthly_odds
from lakekit.tactics.advise import advise
from lakekit.tactics.band import fish_band
from lakekit.tactics.book import find_species, read_book, read_species
from lakekit.tactics.phase import PHASE_NAMES, daily_phases, month_phase, spawn_window
from lakekit.units import depth_range_text, depth_text

LAYERED = 0.5  # share of a month's days from which it is told as layered
LAYER_NAMES = (
    ("thermocline", "thermocline_depth", "Thermocline"),
    ("mixed_layer", "mixed_layer_depth", "Warm mixed layer, down to"),
)


def season_months(as_of, start, months):
    """First day of each month asked for; by default from the month after ``as_of``.

    Parameters
    ----------
    as_of : datetime64
        Last observed hour of the record.
    start : str or None
        First month, ``YYYY-MM``.
    months : int
        How many, 1 to 24.

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
        first = (pd.Timestamp(as_of) + pd.Timedelta(hours=1)).to_period("M")
        if first.start_time < pd.Timestamp(as_of):
            first += 1
    else:
        try:
            first = pd.Period(pd.Timestamp(f"{start}-01" if len(start) == 7 else start), freq="M")
        except (ValueError, TypeError):
            raise ClubError(
                f"{start!r} is not a month", where="--start", mend="Write it as YYYY-MM, 2026-05."
            ) from None
    return pd.period_range(first, periods=months, freq="M").to_timestamp()


def season_guide(club, key, start=None, months=12, *, knowledge=None, progress=None):
    """The guide for one lake.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key, its file's stem.
    start : str, optional
        First month, ``YYYY-MM``; by default the month after the record ends.
    months : int
        How many months, 1 to 24.
    knowledge : lakekit.report.knowledge.LakeKnowledge, optional
        What is known of the lake's water and log; gathered here when not given.
    progress : callable, optional
        Called with one line of text as the work goes on.

    Returns
    -------
    dict
        See DEVELOPERS.md, "The guide as data".

    Raises
    ------
    LakekitError
        For a lake or month that does not exist, or weather that cannot serve.
    """
    from lakekit.report.knowledge import gather

    say = progress or (lambda line: None)
    lake = find_lake(club, key)
    knowledge = knowledge or gather(club, key, progress=say)
    firsts = season_months(knowledge.as_of, start, months)
    say(f"{lake.name}: odds of each month from {firsts[0]:%B %Y} under past years' weather")
    odds = monthly_odds(
        lake,
        knowledge.forcing,
        firsts[0],
        months,
        parameters=knowledge.parameters,
        as_of=knowledge.as_of,
    )
    species = find_species(club.species, read_species()) or read_species()["white_crappie"]
    days = odds["day"].values
    surface = odds["surface_daily"].transpose("quantile", "day").values
    phases = daily_phases(days, surface[1], odds["layered_daily"].values, species)
    say(f"{lake.name}: tactics and set-ups")
    pages = [
        _month_page(
            club, lake, knowledge, odds.isel(month=i), species, _in_month(days, first, phases)
        )
        for i, first in enumerate(firsts)
    ]
    last = firsts[-1] + pd.offsets.MonthEnd(0)
    return {
        "kind": "season",
        "units": club.units,
        "paper": club.paper,
        "club": club.name,
        "demo": knowledge.invented,
        "lake": _lake_facts(club, lake),
        "title": f"{lake.name}: {firsts[0]:%B %Y} to {last:%B %Y}",
        "as_of": str(np.datetime64(knowledge.as_of, "h")),
        "as_of_text": f"{date_text(knowledge.as_of)} {pd.Timestamp(knowledge.as_of).year}",
        "made_with": f"lakekit {lakekit.__version__}",
        "weather": {"text": knowledge.weather_text},
        "confidence": confidence(lake, knowledge, odds),
        "dates": _season_dates(odds, days, surface, species),
        "months": pages,
        "method": list(METHOD),
        "sources": [*SOURCES, *knowledge.sources],
        "cautions": _general_cautions(lake),
        "rules": _rules(lake),
    }


def find_lake(club, key):
    """A club's lake by key; a ClubError names the nearest when there is none."""
    if key in club.lakes:
        return club.lakes[key]
    raise ClubError(
        f"no lake {key!r} in {club.name}",
        where=str(club.folder),
        mend=f"Name one of: {', '.join(club.lakes)}.",
    )


def _in_month(days, first, phases):
    inside = pd.DatetimeIndex(days).to_period("M") == first.to_period("M")
    return phases[inside]


def _month_page(club, lake, knowledge, month, species, phases):
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
        layered=layered,
        phase=phase,
        warm=species.warm,
        bottom=bottom,
    )
    light = month_light(lake, first)
    tactics = advise(
        club,
        lake,
        month,
        phase=phase,
        phases=all_phases,
        band=band,
        bottom=bottom,
        knowledge=knowledge,
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
        "depths": _depth_rows(month, units, years, layered)
        + [
            {
                "key": "oxygen_floor",
                "name": "Oxygen",
                **_spread(floor if has_floor else np.full(3, np.nan)),
                "text": sentence(
                    oxygen_text(
                        floor[1],
                        float(month["oxygen_4_depth"].values[1]),
                        float(month["oxygen_2_depth"].values[1]),
                        floor_chance,
                        units,
                        years=years,
                    )
                ),
            }
        ],
        "surface": {
            **_spread(month["surface_temperature"].values),
            "text": temperature_spread_text(
                month["surface_temperature"].values, units, years=years
            ),
        },
        "sun": {"text": f"Sunrise {light['sunrise']}, sunset {light['sunset']} on the 15th"},
        "light": {
            **{when: light[when] for when in ("dawn", "midday", "dusk")},
            "text": light_text(light, units),
        },
        "oxygen_zone": {
            "top": _number(month["oxygen_4_depth"].values[1]) if has_floor else None,
            "middle": _number(floor[1]) if has_floor else None,
            "bottom": _number(month["oxygen_2_depth"].values[1]) if has_floor else None,
        },
        "band": {
            "top": _number(band.top),
            "bottom": _number(band.bottom),
            "good": band.good,
            "text": _band_text(band, units),
        },
        "tilt": knowledge.tilt_text(month, units),
        "profile": {
            "depth": depths.tolist(),
            "temperature": _curves(temperature),
            "oxygen": _curves(oxygen) if np.isfinite(oxygen).any() else None,
            "bottom": float(bottom),
        },
        "tactics": tactics,
        "log_text": knowledge.log_text(first.month, phase),
        "front_text": _front_text(month, units, years, layered),
        "not_known": _not_known(lake),
        "cautions": hazards_for_month(lake, first.month, **_hazard_facts(month, lake)),
    }


def _number(value):
    return None if value is None or not np.isfinite(value) else float(value)


def _spread(quantiles):
    return dict(zip(("low", "median", "high"), map(_number, quantiles), strict=True))


def _curves(quantiles):
    return {
        name: [_number(value) for value in row]
        for name, row in zip(("low", "median", "high"), quantiles, strict=True)
    }


def _depth_rows(month, units, years, layered):
    rows = []
    for key, variable, name in LAYER_NAMES:
        quantiles = month[variable].values if layered else np.full(3, np.nan)
        text = spread_text(quantiles, units, years=years) if layered else "none: mixed"
        rows.append({"key": key, "name": name, **_spread(quantiles), "text": text})
    return rows


def _basis_text(hindcast, years, knowledge):
    if hindcast:
        return "Hindcast: this month's own weather"
    if years == 1:
        return "Odds from 1 past year's weather"
    return f"Odds from {years} past years' weather"


def _band_text(band, units):
    reason = BAND_REASONS[band.reason]
    if band.top is None:
        return sentence(reason)
    where = depth_range_text(band.top, band.bottom, units)
    return sentence(f"{where}: {reason}")


def _headline(month, band, layered, phase, units, years):
    if phase == "spawn":
        lead = "Spawning time: look at cover and shallow wood first, coves before the main lake"
    elif layered:
        depth = depth_text(float(month["thermocline_depth"].values[1]), units)
        lead = f"Layered, with the thermocline near {depth}"
    elif float(month["ice_chance"]) > 0.5:
        lead = "Ice possible; the water under it is cold and still"
    else:
        lead = "Mixed from top to bottom on most days"
    if band.top is None or not band.good:
        return f"{sentence(lead)} {sentence(BAND_REASONS[band.reason])}"
    if phase == "spawn":
        return sentence(lead)
    where = depth_range_text(band.top, band.bottom, units)
    return (
        f"{sentence(lead)} Look between {where}."
        if "-" in where
        else (f"{sentence(lead)} Look near {where}.")
    )


def _phase_text(phases, species):
    names = [PHASE_NAMES[phase] for phase in phases]
    text = names[0] if len(names) == 1 else f"from {names[0]} to {names[-1]}"
    if "spawn" in phases:
        low, high = species.nest_depth
        text += (
            f"; {species.name} nests lie {100 * low:.0f}-{100 * high:.0f} cm deep, coves warm first"
        )
    return sentence(text)


def _front_text(month, units, years, layered):
    chance = float(month["front_chance"])
    if not layered or not np.isfinite(chance) or chance < 0.05:
        return None
    deepening = float(month["front_deepening"].values[1])
    days = month["recovery_days"].values
    text = f"A front deepens or breaks the layers in {round(100 * chance)} % of such months"
    if years < 10:
        text = f"A front deepened or broke the layers in {round(chance * years)} of {years} years"
    if np.isfinite(deepening):
        text += f", by about {depth_text(deepening, units)}"
    if np.isfinite(days[1]):
        text += f"; the layers are usually back in {days[1]:.0f} days ({days[0]:.0f}-{days[2]:.0f})"
    return sentence(text)


def _season_dates(odds, days, surface, species):
    rows = []
    for label, name in (("Layers set up", "onset"), ("Autumn turnover", "turnover")):
        quantiles = odds[f"{name}_day"].values
        if np.isfinite(quantiles).all():
            rows.append([label, date_spread_text(quantiles)])
        else:
            rows.append([label, "no lasting layers in these months"])
    window = spawn_window(days, *surface, species)
    if window:
        rows.append(
            [
                f"Spawn, {species.name}",
                f"{date_text(window['first'])} (first coves) to {date_text(window['last'])}",
            ]
        )
    return rows


def _lake_facts(club, lake):
    from lakekit.club import describe_lake

    return {
        "key": lake.key,
        "name": lake.name,
        "place": f"{abs(lake.latitude):.2f}° {'N' if lake.latitude >= 0 else 'S'}, "
        f"{abs(lake.longitude):.2f}° {'E' if lake.longitude >= 0 else 'W'}",
        "facts": [list(row) for row in describe_lake(lake, club.units)],
        "max_depth": float(lake.max_depth),
    }


def _not_known(lake):
    rows = [list(row) for row in NOT_KNOWN]
    if lake.flow is None:
        rows.append(
            ["Inflow", "through-flow is not in the lake file: after heavy rain trust your eyes"]
        )
    return rows


def _hazard_facts(month, lake):
    surface = month["surface_temperature"].values
    return {
        "water_temperature": (float(surface[0]), float(surface[2])),
        "ice_chance": float(month["ice_chance"]),
        "layered": float(month["layered_chance"]) >= LAYERED,
    }


def _general_cautions(lake):
    return [
        "Check the official forecast and any warning before you launch and again on the water.",
        "Local rules, closures and the skipper's judgement come before anything printed here.",
        "Leave the water at the first thunder and wait 30 minutes after the last.",
        "Depths are estimates for open water; one-foot placement is never promised.",
    ]


def _rules(lake):
    rules = lake.rules
    checked = f"checked {rules.checked}" if rules.checked else "not checked: ask before you go"
    rows = [
        ["Rods", f"{rules.max_rods} an angler" if rules.max_rods else "not checked"],
        ["Limits", rules.limits or "not checked"],
        ["Closures", rules.closures or "not checked"],
        ["Eating the catch", rules.consumption_advice or "not checked"],
    ]
    return [*rows, ["These rules were", checked]]


def tactic_names(keys):
    """Names of tactics as one phrase, for sentences."""
    book = read_book()
    return list_text(book[key].name.lower() for key in keys)
