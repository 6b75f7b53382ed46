"""Sentences on where a front's wind put the water."""

import pandas as pd

from lakekit.fronts.state import spread_data
from lakekit.guide.front.words import ranged
from lakekit.guide.words import local
from lakekit.units import compass_text, depth_text

LIKELY, POSSIBLE = 0.5, 0.1  # chance of upwelling from which it is told as likely, as possible


def wind_rows(lean, lake, units, *, dropped, now):
    """Where the wind put it, as [label, text] rows; empty where it is not known.

    Parameters
    ----------
    lean : lakekit.fronts.wind.Lean or None
    lake : Lake
    units : str
    dropped : Timestamp
        When the wind dropped, or is to drop [UTC].
    now : Timestamp
        The time it is told for [UTC].
    """
    if lean is None:
        return []
    start, end = local(lean.start, lake), local(lean.end, lake)
    when = f"wind at its height {start:%a %H:%M}–{end:%H:%M}"
    source = compass_text(lean.wind_from)
    if not lean.along:
        return [["The blow", f"{source} {when}: across the lake, no lean is told"]]
    piled, bared = compass_text(lean.toward), compass_text(lean.toward + 180.0)
    first, last = lean.level_after
    since = (pd.Timestamp(now) - dropped) / pd.Timedelta(hours=1)
    rows = [
        ["The blow", f"{source} {when}: warm water to the {piled} end"],
        [
            "Thermocline then",
            f"{ranged(lean.downwind, units)} at the {piled} end, "
            f"{_upwind(lean.upwind, units)} at the {bared} end",
        ],
    ]
    if lean.upwelling_chance >= POSSIBLE:
        how = "likely" if lean.upwelling_chance >= LIKELY else "possible"
        rows.append(
            [f"Upwelling, {bared} shore", f"{how}: cold water, low in oxygen, at the surface"]
        )
    gone = "over by now" if since > last else "rocking now" if since > first else "leaning now"
    rows.append(["Level again", f"{first:.0f} to {last:.0f} hours after the wind drops; {gone}"])
    rows.append(["Mud line", f"look for one along the {piled} shore"])
    return rows


def _upwind(quantiles, units):
    text, depth = ranged(quantiles, units), depth_text(quantiles[1], units)
    return text.replace(depth, "the surface", 1) if depth in ("0 ft", "0.0 m") else text


def wind_data(lean):
    """The lean as plain numbers; None where it is not told."""
    if lean is None:
        return None
    return {
        "start": str(lean.start),
        "end": str(lean.end),
        "wind_from": lean.wind_from,
        "toward": lean.toward,
        "along": lean.along,
        "upwind": spread_data(lean.upwind),
        "downwind": spread_data(lean.downwind),
        "upwelling_chance": lean.upwelling_chance,
        "level_after": list(lean.level_after),
    }
