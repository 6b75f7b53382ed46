"""How well each depth suits a fish: its temperature, its oxygen, its light, and the season.

Each factor is 0 to 1 and they are multiplied. What a species does is data (``species.toml``); the
widths below are how blurred the rules are taken to be (common practice, no source).
"""

import numpy as np

STEP = 0.1  # m between the depths of a curve
BLUR = 1.5  # degC by which a fish may miss the temperature it takes
DIM = 0.2  # share of surface light above which the water is bright
DARK = 0.01  # share of surface light at the foot of the lit water
LEAST_BRIGHT, LEAST_DARK = 0.25, 0.85  # what is left of a depth in full light, and in the dark
COOLING = 3.0  # degC above ``deep_below`` over which fish go deep
LEAST_SHALLOW, DEEPEST_QUARTER = 0.25, 0.75  # of cold water: its top counts a quarter
PRESSED = 2.0  # m above the oxygen floor that pressed fish prefer (common practice, no source)
LEAST_PRESSED = 0.6
LEAST_ELSEWHERE = 0.1  # what is left of a depth where the season's fish are not known to hold
SHRINK = 1.5  # times as deep as they reach: in shallower water held depths shrink
UPPER = 1 / 3  # of the water: what lies in it keeps its depth (common practice, no source)
FADE = 1.5  # m beyond those depths over which the rest loses most of its worth
OWN_HALF = 5.0  # outings of one's own at which the log counts half (common practice, no source)
OWN_LEAST = 0.5  # m: no log tells a depth more sharply than this


def depth_grid(bottom):
    """Depths [m] at which suitability is told, from just under the surface to the bottom."""
    return np.arange(1, max(round(bottom / STEP), 1) + 1) * STEP


def wanted_temperature(upper, *, warmest, coolest, species):
    """The temperature that a species takes of what there is.

    Below ``warmest_below`` in the upper layer it takes the warmest water; above ``coolest_above``
    the coolest that it can breathe, but none cooler than ``cool``; between the two it slides from
    one to the other, toward the base of the mixed layer.

    Parameters
    ----------
    upper : float
        Temperature of the upper layer [degC].
    warmest, coolest : float
        Of the water that the fish can breathe [degC].
    species : lakekit.tactics.book.Species

    Returns
    -------
    float [degC]

    References
    ----------
    For white crappie: Little Dixie Lake, Missouri, warmest water until 23.9 degC, coolest past
    27.8 degC (relayed by a state outdoor magazine); Edwards et al. 1982, FWS/OBS-82/10.7.
    """
    span = species.coolest_above - species.warmest_below
    share = np.clip((upper - species.warmest_below) / span, 0.0, 1.0)
    cool = min(max(coolest, species.cool), warmest)
    return float((1 - share) * warmest + share * cool)


def temperature_factor(temperature, upper, breathable, species):
    """How near each depth is to the temperature that the species takes, 0 to 1."""
    there = temperature[breathable] if breathable.any() else temperature
    wanted = wanted_temperature(
        upper, warmest=float(there.max()), coolest=float(there.min()), species=species
    )
    return np.exp(-0.5 * ((temperature - wanted) / BLUR) ** 2)


def oxygen_factor(oxygen, species):
    """How well the oxygen at each depth [mg/L] suits; where it is not known it does."""
    known, share = zip(*species.oxygen_suits, strict=True)
    return np.where(np.isnan(oxygen), 1.0, np.interp(oxygen, known, share))


def lit_depth(attenuation):
    """Depth [m] of the foot of the lit water."""
    return float(np.log(1 / DARK) / attenuation)


def light_factor(depth, attenuation):
    """Less in bright water near the surface, and a little less where no light reaches.

    In murky water both lie higher: fish and baits are nearer the light (common practice, no
    source; reaction distance falls with light and turbidity, Vinyard & O'Brien 1976).

    Parameters
    ----------
    depth : (n,) float [m]
    attenuation : float [1/m]
    """
    bright, dark = np.log(1 / DIM) / attenuation, lit_depth(attenuation)
    shaded = LEAST_BRIGHT + (1 - LEAST_BRIGHT) * np.minimum(depth / bright, 1.0)
    beyond = np.maximum(depth - dark, 0.0) / dark
    return shaded * (LEAST_DARK + (1 - LEAST_DARK) * np.exp(-beyond))


def season_factor(depth, holds, floor):
    """1 within the depths where the season's fish are known to hold, fading to either side.

    The figures come from lakes of ordinary depth: in water less than half again as deep as they
    reach, they shrink in proportion, but their top stays where it is in the upper third, so that
    fish held at 6 to 20 ft are not sought at 3 (common practice, no source).
    """
    if not holds:
        return np.ones_like(depth)
    top, bottom = np.asarray(holds) * min(floor / (SHRINK * holds[1]), 1.0)
    top = max(top, min(holds[0], UPPER * floor))
    away = np.maximum(np.maximum(top - depth, depth - bottom), 0.0)
    fade = max((bottom - top) / 2, min(FADE, bottom))
    return LEAST_ELSEWHERE + (1 - LEAST_ELSEWHERE) * np.exp(-0.5 * (away / fade) ** 2)


def risen(upper, *, phase, species):
    """How far fish have passed from winter's depths to the season's own, 0 to 1.

    In pre-spawn from ``cold``, where winter ends, to the first spawning warmth (common practice,
    no source; ripe fish alone were found to hold in the spring's depths); else wholly.
    """
    if phase != "pre_spawn":
        return 1.0
    cold, spawn = species.cold, species.spawn_mostly[0]
    return float(np.clip((upper - cold) / (spawn - cold), 0.0, 1.0))


def held_factor(depth, floor, *, phase, upper, species, own):
    """What the season's own depths say, published and the log's, and before them winter's."""
    share = risen(upper, phase=phase, species=species)
    held = share * season_factor(depth, species.holds[phase], floor)
    if share < 1.0:
        winter = season_factor(depth, species.holds["winter"], floor)
        held = held + (1.0 - share) * winter * deep_share(depth, floor, species)
    return held * own_factor(depth, own) ** share


def cold_factor(depth, temperature, floor, species):
    """In cold water fish weigh toward the deepest quarter of what they can breathe and survive.

    It sets in over the last degrees above ``deep_below``: below 10 degC crappie leave for the main
    lake (Kansas Dept of Wildlife & Parks 2006, 2008), below 7 most are deep.
    """
    cold = np.clip((species.deep_below + COOLING - temperature) / COOLING, 0.0, 1.0)
    return 1.0 - cold * (1.0 - deep_share(depth, floor, species))


def deep_share(depth, floor, species):
    """What each depth is worth to fish that weigh toward the deepest quarter, its top a quarter."""
    reach = DEEPEST_QUARTER * min(floor, species.release_depth)
    return LEAST_SHALLOW + (1 - LEAST_SHALLOW) * np.minimum(depth / reach, 1.0)


def pressed_factor(depth, floor, share):
    """Of fish pressed down by warm water, the 2 m above the oxygen floor hold most.

    Prey gather above the oxygen-poor water (Budnik et al. 2020, Trans. Am. Fish. Soc., three Ohio
    reservoirs).
    """
    above = np.clip((floor - PRESSED - depth) / PRESSED, 0.0, 1.0)
    return 1.0 - (1 - LEAST_PRESSED) * share * above


def own_factor(depth, own):
    """What the log's own depths say, weighed by how many outings there are.

    Parameters
    ----------
    own : (float, float, float) or None
        Centre and standard deviation of the angler's own fish [m], and outings.
    """
    if own is None:
        return np.ones_like(depth)
    centre, spread, outings = own
    weight = outings / (outings + OWN_HALF)
    return np.exp(-0.5 * weight * ((depth - centre) / max(spread, OWN_LEAST)) ** 2)


def suitability(
    depth, temperature, oxygen, *, species, phase, oxygen_floor, upper, layered, attenuation,
    own=None,
):  # fmt: skip
    """How well each depth suits a species, 0 to 1, the best depth 1.

    Parameters
    ----------
    depth : (n,) float
        Increasing [m], as from ``depth_grid``.
    temperature, oxygen : (n,) float
        [degC] finite; [mg/L], NaN where not known.
    species : lakekit.tactics.book.Species
    phase : str
        Season phase.
    oxygen_floor : float
        Below it no depth suits [m]; the deepest water where there is none.
    upper : float
        Temperature of the upper layer [degC].
    layered : bool
        Whether warm water lies over cold.
    attenuation : float
        Of light [1/m].
    own : (float, float, float), optional
        As in ``own_factor``.

    Returns
    -------
    (n,) float
        All 0 where the fish can breathe nowhere.
    """
    inside = depth <= oxygen_floor + 1e-9
    breathes = oxygen_factor(oxygen, species)
    breathable = inside & (breathes > 0)
    score = (
        np.where(inside, breathes, 0.0)
        * temperature_factor(temperature, upper, breathable, species)
        * (1.0 if phase == "spawn" else light_factor(depth, attenuation))
        * held_factor(depth, oxygen_floor, phase=phase, upper=upper, species=species, own=own)
        * cold_factor(depth, temperature, max(oxygen_floor, STEP), species)
    )
    if layered and oxygen_floor < depth[-1] - STEP:
        share = np.clip(
            (upper - species.warmest_below) / (species.coolest_above - species.warmest_below), 0, 1
        )
        score = score * pressed_factor(depth, oxygen_floor, share)
    best = score.max()
    return score / best if best > 0 else score
