"""The band of water that can hold fish: between water too warm and water without oxygen."""

from dataclasses import dataclass, replace

import numpy as np

THINNEST = 1.0  # m: a band thinner than this is called squeezed (common practice, no source)
SOFT_TOP = 0.5  # m above the mixed layer's base from which fish are looked for

# Where open-water fish are looked for in unlayered water, as shares of the depth from the top
# (common practice, no source).
UNLAYERED = {
    "winter": (0.5, 1.0),
    "pre_spawn": (0.1, 0.6),
    "spawn": (0.0, 0.4),
    "post_spawn": (0.15, 0.7),
    "summer": (0.2, 0.9),
    "turnover": (0.2, 0.9),
    "fall": (0.2, 0.9),
}


@dataclass(frozen=True)
class Band:
    """Depths [m] that can hold fish, whether they are good, and why in one sentence."""

    top: float | None
    bottom: float | None
    good: bool
    reason: str  # a key of lakekit.guide.words.BAND_REASONS


def fish_band(
    depth,
    temperature,
    *,
    oxygen_floor,
    mixed_layer_depth,
    metalimnion_bottom,
    layered,
    phase,
    warm,
    cool,
    bottom,
):
    """The band that can hold fish in a month.

    In layered reservoirs white crappie are pressed towards the thermocline by the oxygen-poor
    water below it and follow it down as the surface warms (Proc. SEAFWA 1974, Arbuckle and Eufaula
    reservoirs, Oklahoma); above the species' warm limit they do poorly. So the band runs from the
    base of the mixed layer, or from where the water is cool enough if that is deeper, down to the
    oxygen floor or the foot of the metalimnion, whichever comes first. Where cool water lacks
    oxygen there is no good band: the fish are then held just above the oxygen floor, too warm.

    Parameters
    ----------
    depth : (n,) float
        Depths of the profile [m], increasing.
    temperature : (n,) float
        Median temperature [degC]; NaN below the bottom.
    oxygen_floor : float
        Depth below which oxygen stays under the limit [m]; NaN where it does not.
    mixed_layer_depth : float
        Base of the mixed layer [m]; NaN where the lake is not layered.
    metalimnion_bottom : float
        Foot of the water in which temperature falls fast [m]; NaN where there is none.
    layered : bool
        Whether the lake is layered for most of the month.
    phase : str
        The month's season phase.
    warm : float
        The species' warm limit [degC].
    cool : float
        Water cooler than this is left out below the metalimnion [degC] (common practice, no
        source).
    bottom : float
        Deepest water of the day [m].

    Returns
    -------
    Band
    """
    depth = np.asarray(depth, dtype=float)
    temperature = np.asarray(temperature, dtype=float)
    wet = np.isfinite(temperature)
    floor = bottom if np.isnan(oxygen_floor) else min(float(oxygen_floor), bottom)
    if floor < THINNEST / 2:  # however cold the water is
        return Band(None, None, False, "no_oxygen")
    bearable = depth[wet & (temperature <= warm)]
    warm_top = np.inf
    if bearable.size:
        warm_top = 0.0 if bearable[0] == depth[wet][0] else float(bearable[0])

    if not layered or np.isnan(mixed_layer_depth):
        share_top, share_bottom = UNLAYERED[phase]
        top, base = share_top * floor, share_bottom * floor
        reason = "unlayered"
    else:
        foot = bottom if np.isnan(metalimnion_bottom) else min(float(metalimnion_bottom), bottom)
        foot = max(foot, depth[wet & (temperature >= cool)].max(initial=0.0))
        base = min(floor, foot)
        top = min(max(mixed_layer_depth - SOFT_TOP, 0.0), base)
        reason = "above_oxygen_floor" if floor <= foot else "around_thermocline"
    if warm_top >= floor - THINNEST / 2:
        return Band(max(0.0, floor - 2 * THINNEST), floor, False, "warm_and_squeezed")
    top = max(top, warm_top)
    if base - top < THINNEST:
        top = max(base - THINNEST, warm_top, 0.0)
    if base - top < THINNEST:
        base = min(top + THINNEST, floor)
    return Band(float(top), float(base), True, reason)


def narrowed(band, own):
    """A band cut to where the angler's own fish sat, where the two agree.

    Parameters
    ----------
    band : Band
    own : (float, float) or None
        Depths [m] of the angler's own fish.

    Returns
    -------
    Band
        The band itself where there is no own depth, or where less than ``THINNEST`` of it would
        be left: water that cannot hold fish is not overruled by a log of other days.
    """
    if own is None or not band.good:
        return band
    top, bottom = max(band.top, own[0]), min(band.bottom, own[1])
    return band if bottom - top < THINNEST else replace(band, top=top, bottom=bottom)


def working_depth(rule, band, *, bottom):
    """The depths [m] a tactic works under its rule: (top, bottom), or None where it cannot.

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
    if base < top:
        return None
    return top, base
