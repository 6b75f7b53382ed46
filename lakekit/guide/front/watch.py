"""Sentences of a look for new fronts, and of how a club's own notes have done."""

import pandas as pd

from lakekit.fronts.record import hits
from lakekit.guide.front.ahead import AGAIN
from lakekit.guide.words import span_text
from lakekit.units import depth_text, wind_text

STRONG = ((0.9, "very strong"), (0.7, "strong"), (0.3, "moderate"), (0.0, "slight"))
LAYERS = {
    "unlayered": "no layers to break",
    "broken": "layers broken",
    "untouched": "layers untouched",
    None: "what it did to the layers shows at the next noon",
}
OLD = 6  # hours, after which weather is called old


def watch_line(lake, watch, units, *, told_until=None, age=None):
    """One line on a lake: a front or not since the last note, how strong, layers touched or not."""
    name = lake.name
    old = ""
    if age is not None and age > OLD:
        old = (
            f"; the weather ends {age:.0f} hours ago"
            if age < 48
            else (f"; the weather ends {age / 24:.0f} days ago")
        )
    if watch.front is None:
        return f"{name}: no front in 30 days{old}."
    when = span_text(watch.front, lake)
    if not watch.new:
        since = "the last note" if told_until is not None else "a week ago"
        return f"{name}: no front since {since}; the last was {when}{old}."
    how = next(word for least, word in STRONG if watch.stronger >= least)
    layers = LAYERS.get(watch.layers)
    if watch.layers == "deeper":
        layers = f"layers {depth_text(watch.deepening, units)} deeper"
    going = "" if watch.over else ", still going on"
    return (
        f"{name}: NEW front of {when}{going}, {how} (wind to "
        f"{wind_text(watch.front['peak_wind'], units)}); {layers}{old}."
    )


def earlier_rows(rows, came):
    """What earlier notes said of the same front beside what came, as [label, text] rows."""
    told = []
    for row in rows.itertuples():
        said = _days(row.said_days)
        span = f"{row.said_low_days:.0f} to {row.said_high_days:.0f}".replace("inf", "30+")
        if came is None:
            now = "nothing was taken after all"
        elif came == float("inf"):
            now = "not back yet"
        else:
            now = f"it took {_days(came)}"
        what = AGAIN[row.what]
        stamp = pd.Timestamp(row.said_as_of)
        told.append(
            [f"Said {stamp.day} {stamp:%B}", f"{what} in {said} ({span}) from its end; {now}"]
        )
    return told


def _days(days):
    if days == float("inf"):
        return "over 30 days"
    count = max(round(days), 1)
    return f"{count} day{'s' if count != 1 else ''}"


def hit_rows(table):
    """How a club's own notes have done, as [label, text] rows."""
    found = hits(table)
    if not found["fronts"]:
        waiting = f"; {found['waiting']} not back yet" if found["waiting"] else ""
        return [["Own fronts", f"none told and come back yet{waiting}"]]
    text = f"{found['within']} of {found['fronts']} came back within the days that were said"
    if found["error"] is not None:
        text += f"; {found['error']:.1f} days off on average"
    if found["waiting"]:
        text += f"; {found['waiting']} not back yet"
    return [["Own fronts", text]]
