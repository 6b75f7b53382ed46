"""The season guide as data: month by month, what the water does and which tactics suit.

Everything a page needs is here, as plain numbers in metres and degC for the figures and as
sentences in the club's units for the text; the PDF and the HTML only lay it out.
"""

import re

import numpy as np
import pandas as pd

from lakekit.club import find_lake
from lakekit.errors import ClubError
from lakekit.guide.confidence import confidence
from lakekit.guide.evidence import evidence_rows
from lakekit.guide.head import report_head
from lakekit.guide.month import month_page
from lakekit.guide.words import date_spread_text, date_text, weather_text
from lakekit.strata.odds import monthly_odds
from lakekit.tactics.phase import daily_phases, spawn_window
from lakekit.waters.kept import content_key, kept
from lakekit.waters.knowledge import gather, gather_all


def season_months(as_of, start, months):
    """First day of each month asked for; by default from the month after ``as_of``.

    Parameters
    ----------
    as_of : datetime64
        Last observed hour of the record, local standard time.
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
        first = pd.Timestamp(as_of).to_period("M") + 1
    else:
        if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", start):
            raise ClubError(
                f"{start!r} is not a month", where="--start", mend="Write it as YYYY-MM, 2026-05."
            )
        first = pd.Period(start, freq="M")
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
    """
    say = progress or (lambda line: None)
    lake = club.lakes[find_lake(club, key)]
    knowledge = knowledge or gather(club, key, progress=say)
    zone = pd.Timedelta(hours=round(lake.longitude / 15))
    firsts = season_months(pd.Timestamp(knowledge.as_of) + zone, start, months)
    span = "one month," if months == 1 else f"{months} months from"
    say(f"{lake.name}: {span} {firsts[0]:%B %Y}, under past years' weather")
    odds = kept(
        "odds",
        lake,
        content_key(
            lake,
            knowledge.forcing,
            knowledge.parameters,
            knowledge.probe,
            firsts[0],
            months,
            knowledge.as_of,
        ),
        lambda: monthly_odds(
            lake,
            knowledge.forcing,
            firsts[0],
            months,
            parameters=knowledge.parameters,
            as_of=knowledge.as_of,
            readings=knowledge.probe,
            progress=lambda done, total: _say_year(say, lake.name, done, total),
        ),
        progress=say,
    )
    days = odds["day"].values
    surface = odds["surface_daily"].transpose("quantile", "day").values
    # told with the year before, so that a month's phase is the same in whatever guide it stands
    phases = daily_phases(days, surface[1], odds["layered_daily"].values, knowledge.species)
    within = (days >= firsts[0]) & (days < firsts[-1] + pd.offsets.MonthBegin())
    say(f"{lake.name}: tactics and set-ups")
    pages = [
        month_page(club, knowledge, odds.isel(month=number), _in_month(days, first, phases))
        for number, first in enumerate(firsts)
    ]
    return {
        **report_head(club, knowledge, kind="season"),
        "title": f"{lake.name}: {firsts[0]:%B %Y} to {firsts[-1]:%B %Y}",
        "as_of": str(np.datetime64(knowledge.as_of, "h")),
        "as_of_text": f"{date_text(knowledge.as_of)} {pd.Timestamp(knowledge.as_of).year}",
        "weather": {"text": weather_text(knowledge.forcing)},
        "confidence": confidence(lake, knowledge, odds),
        "evidence": evidence_rows(),
        "dates": _season_dates(odds, days[within], surface[:, within], knowledge.species),
        "months": pages,
        "rules": _rules(lake),
    }


def _say_year(say, name, done, total):
    if done % 5 == 0 or done == total:
        say(f"{name}: {done} of {total} years")


def _in_month(days, first, phases):
    inside = pd.DatetimeIndex(days).to_period("M") == first.to_period("M")
    return phases[inside]


def _season_dates(odds, days, surface, species):
    rows = []
    for label, name in (("Layers set up", "onset"), ("Autumn turnover", "turnover")):
        quantiles = odds[f"{name}_day"].values
        if np.isfinite(quantiles).all():
            rows.append([label, date_spread_text(quantiles)])
        else:
            seen = float(np.nanmax(odds["layered_chance"].values)) > 0.5
            rows.append(
                [label, "not in these months" if seen else "no lasting layers in these months"]
            )
    window = spawn_window(days, *surface, species)
    if window:
        rows.append(
            [
                f"Spawn, {species.name}",
                f"{date_text(window['first'])} (first coves) to {date_text(window['last'])}",
            ]
        )
    return rows


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


def season_guides(club, keys, start=None, months=12, *, progress=None):
    """The guides of several lakes, in order; each as :func:`season_guide` makes it."""
    return [
        season_guide(club, known.lake.key, start, months, knowledge=known, progress=progress)
        for known in gather_all(club, keys, progress=progress)
    ]
