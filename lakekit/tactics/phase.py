"""Season phases from the water: its temperature, which way it is going, and its layers."""

from itertools import pairwise

import numpy as np
import pandas as pd

SMOOTHING_DAYS = 15  # the window of the running mean that tells the season from the weather
POST_SPAWN_DAYS = (
    35  # how long after the spawn it is called post-spawn (common practice, no source)
)
TURNOVER_DAYS = 14  # how long after autumn's break-up the water is called turning over
# A spawn that no warmth ends: mid-April to early June in one reservoir (Univ. of Tennessee M.S.
# thesis, 1992, Douglas Reservoir), and never past the year's warmest day.
SPAWN_LATEST_DAYS = 50
COOLED = 2.0  # degC below the year's warmest from which a cool lake's fall is told (no source)

PHASE_NAMES = {
    "winter": "winter",
    "pre_spawn": "pre-spawn",
    "spawn": "spawn",
    "post_spawn": "post-spawn",
    "summer": "summer",
    "turnover": "turnover",
    "fall": "fall",
}


def daily_phases(days, surface_temperature, stratified, species):
    """The season phase of each day.

    A spring spawn begins when the smoothed surface temperature first passes the bottom of the
    range in which most of the species spawns and ends when it passes the top; before it the
    rising water is pre-spawn, after it post-spawn, then summer until the surface turns and falls
    back below the top of the spawning range: fish rise as the water falls into the upper 60s
    degF (Kansas Dept of Wildlife & Parks 2006, 2008), so layers that go in August's warm water
    make no turnover. A lake that never warms past the range spawns until its warmest day, 50 days
    at the most; one that never reaches it has no spawn. A southern-hemisphere lake needs no
    special case: the year is cut at its own coldest day.

    Parameters
    ----------
    days : (n,) datetime64
        Consecutive days, at least a few weeks.
    surface_temperature : (n,) float
        Surface temperature [degC].
    stratified : (n,) float or bool
        Chance that the lake is layered, 0 to 1.
    species : lakekit.tactics.book.Species
        Whose spawning range is used (Siefert 1968 for white crappie).

    Returns
    -------
    (n,) array of str
        Keys of ``PHASE_NAMES``.

    Raises
    ------
    ValueError
        When the arrays differ in length or the temperatures are not finite.
    """
    days = np.asarray(days, dtype="datetime64[D]")
    surface = np.asarray(surface_temperature, dtype=float)
    layered = np.asarray(stratified, dtype=float)
    if not days.shape == surface.shape == layered.shape:
        raise ValueError("days, temperatures and layering must have one length")
    if not np.isfinite(surface).all():
        raise ValueError("surface temperatures must be finite")
    smooth = (
        pd.Series(surface).rolling(SMOOTHING_DAYS, center=True, min_periods=1).mean().to_numpy()
    )
    half = pd.Series(layered).rolling(SMOOTHING_DAYS, center=True, min_periods=1).mean() > 0.5
    phases = np.empty(len(days), dtype=object)
    for first, last in _years(smooth):
        phases[first:last] = _one_year(smooth[first:last], half.to_numpy()[first:last], species)
    return phases.astype(str)


def _years(smooth):
    """Cut the record at its coldest days, so that each piece is one rise and one fall, or part."""
    n, start = len(smooth), 0
    cuts = [0]
    while start < n:
        peak = start + int(np.argmax(smooth[start : start + 366]))
        before = start + int(np.argmin(smooth[start : peak + 1]))
        if start < before < peak:
            cuts.append(before)
        after = peak + int(np.argmin(smooth[peak : peak + 300]))
        if after in (peak, n - 1):
            break
        cuts.append(after)
        start = after
    return list(pairwise([*cuts, n]))


def _one_year(smooth, layered, species):
    n = len(smooth)
    index = np.arange(n)
    peak = int(np.argmax(smooth))
    low, high = species.spawn_mostly
    rising = index <= peak
    warm_enough = np.flatnonzero(rising & (smooth >= low))
    # A record that begins warmer than the range begins after the spawn.
    begin = int(warm_enough[0]) if warm_enough.size else peak
    began_before = begin == 0 and smooth[0] > high
    over = np.flatnonzero(rising & (smooth > high))
    end = int(over[0]) if over.size else peak
    end = max(begin, min(end, begin + SPAWN_LATEST_DAYS))

    phases = np.full(n, "summer", dtype=object)
    phases[:begin] = "pre_spawn"
    phases[begin:end] = "spawn"
    unspawned = began_before or end == begin
    post_end = end if unspawned else min(n, end + POST_SPAWN_DAYS)
    phases[end:post_end] = "post_spawn"

    fallen = (index > max(peak, end)) & (smooth < min(high, smooth[peak] - COOLED))
    phases[fallen] = "fall"
    layered_days = np.flatnonzero(layered)
    if layered_days.size and layered_days[-1] > peak and layered_days[-1] < n - 1:
        gone = layered_days[-1] + 1
        phases[fallen & (index >= gone) & (index < gone + TURNOVER_DAYS)] = "turnover"
    phases[(smooth < species.cold) & (phases != "spawn")] = "winter"
    return phases


def month_phase(phases):
    """The phase that a month is told by: the one with most of its days.

    Parameters
    ----------
    phases : sequence of str
        The month's daily phases.

    Returns
    -------
    (str, tuple of str)
        The commonest phase, and all the month's phases in order of appearance.
    """
    ordered = tuple(dict.fromkeys(phases))
    counts = {phase: sum(p == phase for p in phases) for phase in ordered}
    return max(ordered, key=lambda phase: counts[phase]), ordered


def first_rise(series, level):
    """Position at which a week's mean first rises to a level; None where it never does."""
    smooth = pd.Series(series).rolling(7, center=True, min_periods=1).mean().to_numpy()
    over = smooth >= level
    rise = np.flatnonzero(over[1:] & ~over[:-1])
    return int(rise[0]) + 1 if rise.size else None


def spawn_window(days, surface_low, surface_median, surface_high, species):
    """When the spawn is likely: from the first coves to the last of the open water.

    A cove a metre deep can be 3 degC warmer in the afternoon than open water (common practice, no
    source), so the window opens when the warm tenth of years passes the bottom of the range and
    closes when the cool tenth passes its top.

    Parameters
    ----------
    days : (n,) datetime64
    surface_low, surface_median, surface_high : (n,) float
        10, 50 and 90 % daily surface temperature [degC].
    species : lakekit.tactics.book.Species

    Returns
    -------
    dict or None
        ``first``, ``middle``, ``last`` as datetime64[D]; None when the window holds no spring rise
        through the range.
    """
    days = np.asarray(days, dtype="datetime64[D]")
    low, high = species.spawn_mostly
    first = first_rise(surface_high, low)
    middle = first_rise(surface_median, (low + high) / 2)
    last = first_rise(surface_low, high)
    if first is None or middle is None or last is None or not first <= middle <= last:
        return None
    return {"first": days[first], "middle": days[middle], "last": days[last]}
