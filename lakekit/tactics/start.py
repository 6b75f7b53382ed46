"""The depth to fish first, the next two to try and why, and the band around them."""

from dataclasses import dataclass

import numpy as np

from lakekit.tactics.suitability import STEP, depth_grid, lit_depth, suitability

HALF = 0.6  # of the best depth's suitability: the edge of the band (common practice, no source)
FLAT = 0.9  # depths this near the best are as good; the start is in their middle
THINNEST = 1.0  # m: a band thinner than this is widened to it (common practice, no source)
RUNG = (0.6, 1.5)  # m between the start and the next depth: least and most
SHALLOWEST = 0.5  # m: no rung above it
NEAR_FLOOR = 1.0  # m
NEAR_BASE = 0.3  # m below the mixed layer that are still called its base
OFF_BOTTOM = 0.3  # m: no rung in the mud (common practice, no source)
MISS = 0.5  # m: a tactic that misses the band by this little is set at its own edge
FELT = 0.7  # degC that a rung must be warmer or cooler to be called so


@dataclass(frozen=True)
class Band:
    """Depths [m] that can hold fish, whether they are good, and why in one word."""

    top: float | None
    bottom: float | None
    good: bool
    reason: str  # a key of BAND_REASONS


@dataclass(frozen=True)
class Rung:
    """One depth [m] of the ladder below or above the start, and why to try it."""

    depth: float
    why: str  # a key of RUNG_REASONS


@dataclass(frozen=True)
class Holding:
    """Where a species is looked for: the band, the depth to start at, and the ladder."""

    band: Band
    start: float | None  # m
    night: float | None  # m, by night
    ladder: tuple  # of Rung, the better first
    depth: np.ndarray  # (n,) m
    suits: np.ndarray  # (n,) 0 to 1


def hold(
    depth, temperature, oxygen, *, species, phase, oxygen_floor, mixed_layer, layered, iced,
    attenuation, bottom, own=None,
):  # fmt: skip
    """Where a species is looked for in a water column.

    Parameters
    ----------
    depth : (k,) float
        Depths of the profile [m], increasing.
    temperature : (k,) float
        [degC]; NaN below the bottom.
    oxygen : (k,) float or None
        [mg/L]; None where it is not known.
    species : lakekit.tactics.book.Species
    phase : str
        Season phase.
    oxygen_floor : float
        Depth below which oxygen stays under the species' limit [m]; NaN where it does not.
    mixed_layer : float
        Base of the mixed layer [m]; NaN where there is none.
    layered, iced : bool
        Warm water over cold; ice on the water.
    attenuation : float
        Of light [1/m].
    bottom : float
        Deepest water of the day [m].
    own : (float, float, float), optional
        Centre, spread [m] and outings of the angler's own fish.

    Returns
    -------
    Holding
        Never below ``species.release_depth``, from where fish brought up seldom live.
    """
    wet = np.isfinite(temperature)
    bottom = min(bottom, float(np.max(np.asarray(depth)[wet], initial=0.0)) + STEP)
    floor = bottom if np.isnan(oxygen_floor) else min(float(oxygen_floor), bottom)
    grid = depth_grid(bottom)
    water = np.interp(grid, np.asarray(depth)[wet], np.asarray(temperature)[wet])
    air = np.full(grid.size, np.nan)
    if oxygen is not None and np.isfinite(oxygen).any():
        known = np.isfinite(oxygen)
        air = np.interp(grid, np.asarray(depth)[known], np.asarray(oxygen)[known])
    if floor < STEP or (phase and not (grid <= floor).any()):
        return Holding(Band(None, None, False, "no_oxygen"), None, None, (), grid, 0.0 * grid)
    over = grid <= (mixed_layer if layered and mixed_layer > STEP else np.inf)
    upper = float(water[over].mean())
    water = np.minimum(water, upper) if not iced else water  # a noon skin draws no fish
    suits = suitability(
        grid, water, air, species=species, phase=phase, oxygen_floor=floor, upper=upper,
        layered=layered, attenuation=attenuation, own=own,
    )  # fmt: skip
    reach = grid <= min(floor, species.release_depth) + 1e-9
    if not (suits[reach] > 0).any():
        return Holding(Band(None, None, False, "no_oxygen"), None, None, (), grid, 0.0 * grid)
    start, top, base = _peak(grid, suits, reach)
    coolest, here = float(water[grid <= floor].min()), float(np.interp(start, grid, water))
    squeezed = layered and coolest > species.warm
    reason = "warm_and_squeezed" if squeezed else _reason(
        start, base, upper=upper, floor=floor, bottom=bottom, species=species, phase=phase,
        layered=layered, iced=iced, mixed_layer=mixed_layer, rise=here - float(water[0]),
        coolest=here - coolest <= FELT,
    )  # fmt: skip
    band = Band(top, base, not squeezed, reason)
    ladder = _ladder(
        grid, suits, water, start, band, floor=floor, bottom=bottom,
        higher="dusk" if species.night < 1 and phase != "winter" else "shallower",
        lower={"spawn": "beside_nests", "winter": "bottomward"}.get(
            phase, "deeper" if start < lit_depth(attenuation) else "lower"
        ),
    )  # fmt: skip
    night = max(start * species.night, min(start, 0.3))
    return Holding(band, start, night, ladder, grid, suits)


def _peak(grid, suits, reach):
    """The best depth, and the edges of the water around it at least half as good [m]."""
    score = np.where(reach, suits, 0.0)
    best = int(np.argmax(score))

    def run(level):
        low = high = best
        while low > 0 and score[low - 1] >= level * score[best]:
            low -= 1
        while high < score.size - 1 and score[high + 1] >= level * score[best]:
            high += 1
        return float(grid[low]), float(grid[high])

    flat, (top, base) = run(FLAT), run(HALF)
    start = (flat[0] + flat[1]) / 2
    deepest = float(grid[reach][-1])
    if base - top < THINNEST:
        base = min(max(base, top + THINNEST), deepest)
        top = max(min(top, base - THINNEST), float(grid[0]))
    return start, top, base


def _reason(
    start, base, *, upper, floor, bottom, species, phase, layered, iced, mixed_layer, rise, coolest,
):  # fmt: skip
    """Why a depth is told, true of that depth; ``rise`` is how much warmer it is than the top."""
    if phase == "spawn":
        return "spawning"
    if iced:
        if rise >= FELT:
            return "under_ice"
        return "iced" if rise >= 0 else "late_ice"  # the sun warms the top through thin ice
    under = layered and start > mixed_layer + NEAR_BASE
    if phase == "pre_spawn":
        held = species.holds[phase]
        return "rising" if under or (held and start > held[1]) else "staging"
    if phase == "post_spawn" and not (layered and upper > species.warmest_below):
        return "leaving"
    if phase in ("turnover", "fall") and not layered:
        return "fall"
    if not layered:
        return "cold" if upper < species.deep_below else "mixed"
    if upper > species.warmest_below:
        if floor < bottom and base >= floor - 2 * STEP and start >= floor - NEAR_FLOOR:
            return "above_oxygen_floor"
        if upper >= species.coolest_above and coolest:
            return "coolest"
        return "under_top" if under else "mixed_base"
    return "under_top" if under else "warmest"


def _ladder(grid, suits, water, start, band, *, floor, bottom, higher, lower):
    """The next two depths within the band, the better first, and why each."""
    width = band.bottom - band.top
    step = float(np.clip(width / 3, *RUNG))
    ways = []
    for sign in (-1, 1):
        room = start - band.top if sign < 0 else min(band.bottom, bottom - OFF_BOTTOM) - start
        next_depth = max(start + sign * min(step, room), SHALLOWEST)
        if sign * (next_depth - start) >= step / 2:
            ways.append(next_depth)
    if len(ways) == 1 and width > 2 * step:
        far = start + 2 * (ways[0] - start)
        if band.top <= far <= band.bottom:
            ways.append(far)
    upper, lower_way = min(ways, default=start), max(ways, default=start)
    better = np.interp(lower_way, grid, suits) > np.interp(upper, grid, suits) / FLAT
    ways.sort(reverse=bool(better))  # where neither is plainly better, the shallower first
    here = float(np.interp(start, grid, water))

    def why(depth):
        warmer = float(np.interp(depth, grid, water)) - here
        if depth < start:
            return "warmer" if warmer > FELT else higher
        if lower == "deeper" and floor < bottom - STEP and floor - depth <= NEAR_FLOOR:
            return "last_oxygen"
        if lower == "deeper" and abs(warmer) > FELT:
            return "cooler" if warmer < 0 else "warmer_below"
        return lower

    return tuple(Rung(float(depth), why(depth)) for depth in ways)


def working_depth(rule, band, *, bottom):
    """The depths [m] a tactic works under its rule: (top, bottom), or None where it cannot.

    A tactic whose reach misses the band by a foot or so is set at its nearest depth rather than
    dropped.

    Parameters
    ----------
    rule : lakekit.tactics.book.DepthRule
    band : Band
    bottom : float
        Deepest water of the lake [m].
    """
    deepest = min(rule.deepest, bottom)
    if rule.within == "cover":
        return (rule.shallowest, deepest) if deepest > rule.shallowest else None
    if band.top is None:
        return None
    top, base = max(band.top, rule.shallowest), min(band.bottom, deepest)
    if top - base > MISS:
        return None
    return min(top, base), base
