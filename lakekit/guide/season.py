"""The season guide as data: month by month, what the water does and which tactics suit.

Everything a page needs is here, as plain numbers in metres and degC for the figures and as
sentences in the club's units for the text; the PDF and the HTML only lay it out.
"""

import numpy as np
import pandas as pd

from lakekit.club import find_lake
from lakekit.guide.confidence import confidence
from lakekit.guide.evidence import evidence_rows
from lakekit.guide.head import report_head
from lakekit.guide.lake import rules_rows
from lakekit.guide.month import month_page
from lakekit.guide.water_words import PARTLY, WHOLLY, layer_word
from lakekit.guide.words import (
    date_spread_text,
    date_text,
    list_text,
    season_months,
    weather_text,
)
from lakekit.shown import Report
from lakekit.strata.odds import monthly_odds
from lakekit.strata.spread import LATE, cast_misses, own_scale
from lakekit.tactics.phase import daily_phases, first_rise, spawn_window
from lakekit.units import temperature_text
from lakekit.waters.kept import content_key, kept
from lakekit.waters.knowledge import gather, gather_all

# depth of a cove [m] -> degC above open water in spring (common practice, no source)
COVE_WARMTH = ((1.0, 4.0), (3.0, 0.0))
YEAR = 360  # days that hold a spring and a summer
GONE = "Layers gone for the year"  # in water too warm to call it autumn's turnover


def season_guide(club, key, start=None, months=12, *, knowledge=None, progress=None):
    """The guide for one lake.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key, its file's stem.
    start : str, optional
        First month, ``YYYY-MM``; by default the one in which the record ends, while ten days of
        it are left, else the next.
    months : int
        How many months, 1 to 24.
    knowledge : lakekit.waters.knowledge.LakeKnowledge, optional
        What is known of the lake's water and log; gathered here when not given.
    progress : callable, optional
        Called with one line of text as the work goes on.

    Returns
    -------
    lakekit.guide.schema.SeasonGuide

    Raises
    ------
    LakekitError
        For a lake or month that does not exist, or weather that cannot serve.

    Examples
    --------
    >>> guide = season_guide(club, "quarry-hollow", "2026-07", 1, knowledge=knowledge)
    >>> [month["title"] for month in guide["months"]]
    ['July 2026']
    """
    say = progress or (lambda line: None)
    lake = club.lakes[find_lake(club, key)]
    knowledge = knowledge or gather(club, key, progress=say)
    zone = pd.Timedelta(hours=round(lake.longitude / 15))
    firsts = season_months(pd.Timestamp(knowledge.as_of) + zone, start, months)
    span = "one month," if months == 1 else f"{months} months from"
    say(f"{lake.name}: {span} {firsts[0]:%B %Y}, under past years' weather")
    odds, days, surface, phases = season_odds(knowledge, firsts[0], months, progress=say)
    within = (days >= firsts[0]) & (days < firsts[-1] + pd.offsets.MonthBegin())
    say(f"{lake.name}: tactics and set-ups")
    pages = [
        month_page(club, knowledge, odds.isel(month=number), in_month(days, first, phases))
        for number, first in enumerate(firsts)
    ]
    coves = _cove_days(days[within], surface[1, within], knowledge)
    for page, first in zip(pages, firsts, strict=True):
        page["phase"]["text"] += _coves_text(coves, first)
    return Report({
        **report_head(club, knowledge, kind="season"),
        "title": f"{lake.name}: {firsts[0]:%B %Y} to {firsts[-1]:%B %Y}",
        "as_of": str(np.datetime64(knowledge.as_of, "h")),
        "as_of_text": f"{date_text(knowledge.as_of)} {pd.Timestamp(knowledge.as_of).year}",
        "weather": {"text": weather_text(knowledge.forcing)},
        "confidence": confidence(lake, knowledge, odds),
        "evidence": evidence_rows(club.units),
        "dates": _season_dates(odds, within, surface[:, within], knowledge, coves),
        "months": pages,
        "rules": rules_rows(lake),
    })  # fmt: skip


def season_odds(knowledge, first, months, *, progress=None):
    """A lake's odds from a month on, and the season phase of each day they are told with.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    first : Timestamp
        First day of the first month.
    months : int
        1 to 24.
    progress : callable, optional

    Returns
    -------
    (xarray.Dataset, (n,) datetime64, (3, n) float, (n,) str)
        As from ``monthly_odds``; its days, surface temperatures [degC] and phases.
    """
    say, lake = progress or (lambda line: None), knowledge.lake
    zone, scale = knowledge.species.oxygen_zone, own_scale(cast_misses(knowledge.moved))
    key = content_key(
        lake,
        knowledge.forcing,
        knowledge.parameters,
        knowledge.probe,
        first,
        months,
        knowledge.as_of,
        zone,
        scale,
    )
    odds = kept(
        "odds",
        lake,
        key,
        lambda: monthly_odds(
            lake,
            knowledge.forcing,
            first,
            months,
            parameters=knowledge.parameters,
            as_of=knowledge.as_of,
            readings=knowledge.probe,
            own_scale=scale,
            oxygen_zone=zone,
            progress=lambda done, total: _say_year(say, lake.name, done, total),
        ),
        progress=say,
    )
    days = odds["day"].values
    surface = odds["surface_daily"].transpose("quantile", "day").values
    # told with the year before, so that a month's phase is the same in whatever guide it stands
    phases = daily_phases(days, surface[1], odds["layered_daily"].values, knowledge.species)
    return odds, days, surface, phases


def _say_year(say, name, done, total):
    if done % 5 == 0 or done == total:
        say(f"{name}: {done} of {total} years")


def in_month(days, first, phases):
    """The phases of the days of one month."""
    inside = pd.DatetimeIndex(days).to_period("M") == first.to_period("M")
    return phases[inside]


def _ice_dates(days, chance):
    """When ice is likelier than not, and in one year of ten, a row each; none where hardly any."""
    rows = []
    for share, label in ((0.5, "Ice likelier than not"), (0.1, "Ice in 1 year of 10")):
        iced = days[chance >= share]
        if not iced.size:
            continue
        breaks = np.flatnonzero(np.diff(iced) > np.timedelta64(20, "D")) + 1
        spells = [f"{date_text(s[0])} to {date_text(s[-1])}" for s in np.split(iced, breaks)]
        rows.append([label, " and ".join(spells)])
    return rows


def _season_dates(odds, within, surface, knowledge, coves):
    rows, species = [], knowledge.species
    days = odds["day"].values[within]
    for label, name in (("Layers set up", "onset"), ("Autumn turnover", "turnover")):
        quantiles = odds[f"{name}_day"].values
        if np.isfinite(quantiles).all():
            warm = name == "turnover" and _warm_on(quantiles[1], days, surface[1], species)
            label = _layers_label(name, odds, warm=warm) or label
            rows.append([label, date_spread_text(quantiles)])
        else:
            seen = float(np.nanmax(odds["layered_chance"].values)) > 0.5
            rows.append(
                [label, "not in these months" if seen else "no lasting layers in these months"]
            )
    rows += _ice_dates(days, odds["ice_daily"].values[within])
    window = spawn_window(days, *surface, species)
    if window:
        rows.append(
            [
                f"Spawn, {species.name}",
                f"open water from {date_text(window['first'])} in a warm year, to "
                f"{date_text(window['last'])} in a cool one",
            ]
        )
    elif (late := late_spawn_text(days, surface, species, knowledge.units)) is not None:
        rows.append([f"Spawn, {species.name}", late])
    rows += [[f"Spawn begins, {name}", f"about {date_text(day)}"] for name, day in coves]
    return rows + best_reading_day(odds, knowledge)


def _layers_label(name, odds, *, warm):
    """What the dates of layers are called where they are no onset or turnover; None: as they are.

    The word is that of the month which is layered most, in the year before as in those asked for.
    """
    monthly = odds["layered_daily"].to_series().resample("MS").mean()
    if layer_word(float(monthly.max())) != WHOLLY:
        return f"{PARTLY}, {'from' if name == 'onset' else 'until'}".capitalize()
    return GONE if warm else None


def best_reading_day(odds, knowledge):
    """When a club with a probe should drop it next, as a row; none where nothing tells it.

    The day in the time for which readings serve after which a cast narrows the next weeks most;
    through open water only.
    """
    if not knowledge.readings:
        return []
    day, worth = odds["day"].values, odds["reading_worth"].values
    ahead = (day - np.datetime64(knowledge.as_of)) / np.timedelta64(1, "D")
    open_now = (ahead > 0.0) & (ahead <= LATE) & (odds["ice_daily"].values < 0.5)
    if not np.isfinite(worth[open_now]).any():
        return []
    best = day[open_now][np.nanargmax(worth[open_now])]
    return [["Best day for a probe reading", f"about {date_text(best)}"]]


def _warm_on(day_of_year, days, surface, species):
    """Whether the water of a day is too warm for its mixing to be autumn's turnover."""
    of_year = pd.DatetimeIndex(days).day_of_year.to_numpy()
    at = np.flatnonzero(of_year == (round(float(day_of_year)) - 1) % 365 + 1)
    return bool(at.size) and surface[at[0]] > species.spawn_mostly[1]


def late_spawn_text(days, surface, species, units):
    """What is told where a whole year's water, or a cool year's, never warms past the spawn.

    Parameters
    ----------
    days : (n,) datetime64
    surface : (3, n) float
        Surface temperature of a cool, a middling and a warm year [degC].
    species : lakekit.tactics.book.Species
    units : str

    Returns
    -------
    str or None
        None for less than a year, and where the range is passed in every year.
    """
    low, high = species.spawn_mostly
    if len(days) < YEAR or np.nanmax(surface[0]) > high:
        return None
    begins, middle = first_rise(surface[2], low), first_rise(surface[1], low)
    if begins is None:
        return f"seldom: the water hardly warms to {temperature_text(low, units)}"
    early = f"about {date_text(days[begins])} in a warm year"
    top = temperature_text(high, units)
    if middle is None:
        return f"{early}, in a middling year not at all"
    rest = "some years" if np.nanmax(surface[1]) > high else "most years"
    return f"{date_text(days[middle])}, {early}; in {rest} the water never passes {top}"


def _cove_days(days, surface, knowledge):
    """(name, day) when spawning may begin in each cove that the club lists, by how shallow it is.

    ``surface`` is a middling year's [degC].
    """
    species, coves = knowledge.species, []
    for place in knowledge.places:
        if place.kind != "cove mouth" or place.lake != knowledge.lake.key:
            continue
        depth = place.water_depth if place.water_depth is not None else place.foot
        warmer = np.interp(depth, *COVE_WARMTH)
        early = spawn_window(days, *(surface + warmer,) * 3, species)
        if early:
            coves.append((place.name, early["first"]))
    return sorted(coves, key=lambda cove: cove[1])


def _coves_text(coves, first):
    """Which listed coves may begin to spawn in a month, as a sentence to add to its phase."""
    month = first.to_period("M")
    told = [f"{name} about {date_text(day)}" for name, day in coves
            if pd.Timestamp(day).to_period("M") == month]  # fmt: skip
    return f" Spawn may begin in {list_text(told)}." if told else ""


def season_guides(club, keys, start=None, months=12, *, progress=None):
    """The guides of several lakes, in order; each as :func:`season_guide` makes it."""
    return [
        season_guide(club, known.lake.key, start, months, knowledge=known, progress=progress)
        for known in gather_all(club, keys, progress=progress)
    ]
