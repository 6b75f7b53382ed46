"""A look at every lake of a club for fronts since its last notes."""

import json

import pandas as pd

from lakekit.errors import LakekitError
from lakekit.fronts.watch import hours_old, watch_lake
from lakekit.guide.front.watch import watch_line
from lakekit.store import finish_together


def last_told(reports, key):
    """The end [UTC] of the newest front that a lake's notes in a folder tell of; None without."""
    ends = []
    for path in reports.glob(f"{key}-front-*.json"):
        try:
            note = json.loads(path.read_text(encoding="utf-8"))
            if note["lake"]["key"] == key and note["what_if"] is None:
                ends.append(pd.Timestamp(note["storm"]["end"]))
        except (OSError, ValueError, KeyError, TypeError):
            continue  # not a note of ours: it tells of no front
    return max(ends, default=None)


def look_at_lakes(club, keys, reports, *, progress=None, now=None):
    """Look at each lake in turn; one that cannot be told of does not keep the others from it.

    Parameters
    ----------
    club : lakekit.club.Club
    keys : sequence of str
    reports : pathlib.Path
        Where notes are kept.
    progress : callable, optional
    now : Timestamp, optional
        [UTC]; default: the clock, and for an invented club the end of the record.

    Returns
    -------
    list of dict
        ``lake``, ``new``, ``text``, ``error`` and, where there is one, the front's ``start`` and
        ``end`` [UTC], ``peak_wind`` [m/s], ``stronger`` (share of fronts), ``layers``.
    """
    if reports.is_dir():
        finish_together(reports)
    if now is None and not club.invented:
        now = pd.Timestamp.now("UTC").tz_localize(None)
    looks = []
    for key in keys:
        lake = club.lakes[key]
        look = {"lake": key, "new": False, "error": None}
        try:
            told = last_told(reports, key)
            watch = watch_lake(club, lake, told_until=told, progress=progress, now=now)
        except LakekitError as error:
            looks.append({**look, "error": str(error), "text": f"{lake.name}: not known; {error}"})
            continue
        age = None if now is None else hours_old(watch, now)
        look |= {
            "new": watch.new,
            "text": watch_line(lake, watch, club.units, told_until=told, age=age),
        }
        if watch.front is not None:
            look |= {
                "start": str(watch.front["start"]),
                "end": str(watch.front["end"]),
                "peak_wind": float(watch.front["peak_wind"]),
                "stronger": watch.stronger,
                "layers": watch.layers,
            }
        looks.append(look)
    return looks
