"""How far a steady wind leans the thermocline: shallower upwind, deeper downwind."""

import numpy as np

LEANS_BELOW = 3.0  # Wedderburn number; a lean of a sixth of the depth: common practice, no source
UPWELLS_BELOW = 1.0  # Thompson & Imberger 1980, from memory


def thermocline_tilt(
    thermocline_depth, wedderburn_number, *, bottom_depth=np.inf, leans_below=LEANS_BELOW
):
    """Range of the thermocline's depth from the upwind to the downwind end of a lake.

    Parameters
    ----------
    thermocline_depth : array_like
        Mean depth h along the lake [m]; NaN where there is none.
    wedderburn_number : array_like
        W [1], for a wind that has blown for at least a quarter of the internal seiche's period.
    bottom_depth : array_like
        No end lies deeper than this [m].
    leans_below : float
        Above this W one depth serves for the whole lake: both ends are h.

    Returns
    -------
    upwind, downwind : float64
        [m]; NaN where the thermocline or W is.
    upwelling : bool
        W below 1: deep water may surface at the upwind end (``upwind`` is then 0).

    References
    ----------
    Two layers in balance with a steady stress along a closed basin: the interface's slope is
    u*^2 / (g' h), so that each end moves by u*^2 L / (2 g' h) = h / (2 W). Spigel & Imberger 1980,
    J. Phys. Oceanogr. 10:1104-1121, and Thompson & Imberger 1980 (both from memory); linear, so
    good for W well above 1. Below 1 the upwind end is at the surface and the downwind end is
    held at 2 h: that it upwells is known, how far the layers then lean is not.
    """
    depth, number, bottom = np.broadcast_arrays(
        *(np.asarray(v, np.float64) for v in (thermocline_depth, wedderburn_number, bottom_depth))
    )
    if np.any(number < 0):
        raise ValueError("a Wedderburn number can't be negative")
    known = np.isfinite(depth) & ~np.isnan(number)
    rise = np.zeros(depth.shape)
    leaning = known & (number < leans_below) & (number > 0)
    np.divide(depth, 2.0 * number, out=rise, where=leaning)
    rise[known & (number == 0)] = np.inf
    upwelling = known & (number < UPWELLS_BELOW)
    upwind = np.where(known, np.maximum(depth - rise, 0.0), np.nan)
    upwind = np.where(upwelling, 0.0, upwind)
    fall = np.minimum(rise, depth)
    downwind = np.where(known, np.minimum(depth + fall, np.maximum(bottom, depth)), np.nan)
    return upwind[()], downwind[()], upwelling[()]


def settling_time(length, *, upper_depth, lower_depth, reduced_gravity):
    """Period of the first internal seiche: a quarter of it is what a lean takes to set up.

    Parameters
    ----------
    length : array_like
        Of the lake along the wind [m].
    upper_depth, lower_depth : array_like
        Of the two layers [m].
    reduced_gravity : array_like
        g' = g drho / rho [m/s2].

    Returns
    -------
    float64
        [s]

    References
    ----------
    Merian's formula for two layers (from memory): T = 2 L / (g' h1 h2 / (h1 + h2))^0.5.
    """
    upper, lower = np.asarray(upper_depth, np.float64), np.asarray(lower_depth, np.float64)
    speed = np.sqrt(np.asarray(reduced_gravity, np.float64) * upper * lower / (upper + lower))
    return 2.0 * np.asarray(length, np.float64) / speed
