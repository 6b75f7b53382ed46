"""Season guides of many lakes: each lake's water, the log once over all, each lake's pages.

Map, reduce, map. The first map computes the water of the lakes that the log has rows of and sends
back only what trips are joined to; the log is read and its rates taken once; the second map makes
each lake's guide and writes its pages where the work is done. What the first computed is kept in
the store, so that the second reads it.
"""

from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

from lakekit.club import find_lake
from lakekit.guide.season import season_guide
from lakekit.many.workers import crew
from lakekit.pages.reports import write_season
from lakekit.waters.knowledge import (
    lake_knowledge,
    lake_water,
    log_end,
    log_rows,
    logged_lakes,
    shared_knowledge,
    without_water,
)
from lakekit.waters.logged import log_water

HELD = 6  # lakes whose water one process holds between the two maps: 30 MB each


@dataclass(frozen=True)
class Season:
    """What a season's guides have in common."""

    start: str | None
    months: int
    out: Path


def write_seasons(club, keys, season, *, workers=1, scheduler=None, progress=None):
    """Write the season guides of many lakes.

    Parameters
    ----------
    club : lakekit.club.Club
    keys : sequence of str
        Lakes, by key or name.
    season : Season
    workers, scheduler, progress
        As for :func:`lakekit.many.workers.crew`.

    Yields
    ------
    Outcome
        A lake's key, and the paths written or the line that says why not.
    """
    yield from _seasons(write_lake, club, keys, season, workers, scheduler, progress)


def season_guides(club, keys, season, *, workers=1, scheduler=None, progress=None):
    """The guides of many lakes as data, each an Outcome; nothing is written."""
    yield from _seasons(lake_guide, club, keys, season, workers, scheduler, progress)


def _seasons(function, club, keys, season, workers, scheduler, progress):
    keys = [find_lake(club, key) for key in keys]
    with crew(workers=workers, scheduler=scheduler, progress=progress) as each:
        shared = gather_shared(club, keys, each, progress=progress)
        yield from each(function, keys, (club, shared, season))


def gather_shared(club, keys, each, *, progress=None):
    """What all lakes of a club share, each lake of its log computed once.

    Parameters
    ----------
    club : lakekit.club.Club
    keys : sequence of str
        The lakes asked for.
    each : callable
        From :func:`lakekit.many.workers.crew`.
    progress : callable, optional

    Returns
    -------
    lakekit.waters.knowledge.SharedKnowledge
    """
    say = progress or (lambda line: None)
    trips = log_rows(club, progress=say)
    logged = [key for key in logged_lakes(trips) if key in club.lakes]
    waters = {}
    for outcome in each(lake_log_water, logged, (club, trips)):
        if outcome.problem:
            say(without_water(outcome.item, outcome.problem))
        else:
            waters[outcome.item] = outcome.value
    waters = {key: waters[key] for key in logged if key in waters}
    if trips is None or not waters:
        # without any water the log has no seasons, and no rates
        return shared_knowledge(club, trips if trips is None else trips.iloc[:0], waters)
    ends = [water.as_of for key, water in waters.items() if key in keys]
    end = log_end(club, ends or [water.as_of for water in waters.values()], None)
    if end is not None:
        trips = log_rows(club, end)
    shared = shared_knowledge(club, trips, waters)
    _ = shared.patterns.effect  # asked once, here, and sent along
    return shared


def lake_log_water(shared, key, say):
    """The first map: one lake's water, as far as the log needs it."""
    club, trips = shared
    return log_water(_water(club, key, say), trips)


def write_lake(shared, key, say):
    """The second map: one lake's guide, written; its paths as text."""
    club, common, season = shared
    known = lake_knowledge(club, _water(club, key, say), common)
    guide = season_guide(club, key, season.start, season.months, knowledge=known, progress=say)
    return [str(path) for path in write_season(guide, known, season.out)]


def lake_guide(shared, key, say):
    """The second map without pages: one lake's guide."""
    club, common, season = shared
    known = lake_knowledge(club, _water(club, key, say), common)
    return season_guide(club, key, season.start, season.months, knowledge=known, progress=say)


_HELD = OrderedDict()


def _water(club, key, say):
    """A lake's water, held by this process from one map to the next where it is the same run."""
    name = (id(club), key)
    held = _HELD.pop(name, None)
    if held is None or held[0] is not club:
        held = club, lake_water(club, key, progress=say)
    _HELD[name] = held
    while len(_HELD) > HELD:
        _HELD.popitem(last=False)
    return held[1]
