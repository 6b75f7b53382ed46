"""Inverses of the towed line: the line or the weight for a depth, and a chart of depths."""

import math

import numpy as np
from scipy.optimize import brentq

from lakekit.errors import TackleError
from lakekit.tackle.checks import both, check, mass_both, unreachable
from lakekit.tackle.line import (
    LEAST_AIR_ANGLE,
    LONGEST_LINE,
    Weight,
    longest_carried,
    shape_at,
    trace_line,
)


def line_for_depth(
    weights, line, *, depth, speed, tip_height=0.0, longest=LONGEST_LINE, **conditions
):
    """The line that lets the lower end run at a depth.

    Parameters
    ----------
    depth : float
        [m], above 0.
    longest : float
        The most line that may be in the water [m].

    Returns
    -------
    LineShape

    Raises
    ------
    TackleError
        Where the depth cannot be reached; ``nearest`` on it is the deepest that can [m].
    """
    check(depth, "depth", unit="m", least=0.0, strict=True)
    weights = tuple(weights)
    limit = min(longest, longest_carried(weights, line))
    lowest = max((w.position for w in weights), default=0.0)
    if limit <= lowest:
        raise TackleError(
            f"the weights spread over {both(lowest)} of line, more than the "
            f"{both(limit)} that may be out",
            mend="Set them closer together",
        )
    trace = trace_line(weights, line, speed=speed, longest=limit, **conditions)
    deepest = float(np.max(trace.height[trace.along >= lowest]))
    if depth > deepest:
        raise _too_deep(weights, line, depth, speed, limit, deepest, conditions)
    shallowest = trace.depth(lowest)
    if depth < shallowest:
        raise unreachable(
            f"the lowest lure hangs {both(shallowest)} down before the top weight is wet, deeper "
            f"than {both(depth)}",
            nearest=shallowest,
            mend="Set the weights closer together",
        )
    end = trace.along[int(np.argmax(trace.height))]
    length = brentq(lambda s: trace.depth(s) - depth, lowest, min(end, limit), xtol=1e-9)
    return shape_at(trace, length, tip_height=tip_height)


def weight_for_depth(
    line,
    *,
    depth,
    angle,
    speed,
    density=11300.0,
    tip_height=0.0,
    longest=LONGEST_LINE,
    heaviest=0.5,
    **conditions,
):
    """The one weight that holds a depth with the line at an angle.

    Parameters
    ----------
    depth : float
        [m]
    angle : float
        Of the line above the horizontal where it meets the surface [degrees], 1 to 89.
    density : float
        Of the weight [kg/m3].
    heaviest : float
        The heaviest weight to consider [kg].

    Returns
    -------
    (float, LineShape)
        Mass [kg], and the line with it.

    Raises
    ------
    TackleError
        Where no such weight serves; ``nearest`` is the angle of the heaviest [degrees].
    """
    check(angle, "line angle", unit="degrees", least=1.0, most=89.0)
    check(depth, "depth", unit="m", least=0.0, strict=True)

    def steepness(log_mass):
        weight = (Weight(math.exp(log_mass), density),)
        reach = min(longest, longest_carried(weight, line))
        trace = trace_line(weight, line, speed=speed, longest=reach, **conditions)
        if float(trace.height.max()) < depth:
            return -angle
        end = trace.along[int(np.argmax(trace.height))]
        length = brentq(lambda s: trace.depth(s) - depth, 0.0, end, xtol=1e-9)
        return math.degrees(trace.angle(length)) - angle

    low, high = math.log(1e-5), math.log(heaviest)
    most = steepness(high)
    if most < 0:
        raise unreachable(
            f"not even {mass_both(heaviest)} holds {both(depth)} with the line at {angle:.0f} "
            "degrees at that speed",
            nearest=most + angle,
            mend=f"Slow down, or accept {max(most + angle, 0):.0f} degrees",
        )
    mass = math.exp(low if steepness(low) >= 0 else brentq(steepness, low, high, xtol=1e-9))
    shape = line_for_depth(
        (Weight(mass, density),),
        line,
        depth=depth,
        speed=speed,
        tip_height=tip_height,
        longest=longest,
        **conditions,
    )
    return mass, shape


def depth_chart(weights, line, *, speeds, lengths, tip_height=0.0, **conditions):
    """Depth of the lower end by speed and line out: a chart to laminate.

    Parameters
    ----------
    speeds : array (m,)
        [m/s]
    lengths : array (n,)
        From the tip to the lower end [m], rising.

    Returns
    -------
    array (m, n)
        [m]; NaN where the line is too short to reach the water, or heavier than its load.
    """
    lengths = np.asarray(lengths, dtype=float)
    weights = tuple(weights)
    limit = min(float(lengths.max()), longest_carried(weights, line))
    chart = np.full((np.size(speeds), lengths.size), np.nan)
    for row, speed in zip(chart, np.atleast_1d(speeds), strict=True):
        trace = trace_line(weights, line, speed=float(speed), longest=limit, **conditions)
        tip = trace.pull_up / np.hypot(trace.pull_forward, trace.pull_up)
        air = tip_height / np.maximum(tip, math.sin(LEAST_AIR_ANGLE))
        top = trace.along >= max(w.position for w in weights)
        outs = np.interp(
            lengths, (trace.along + air)[top], trace.along[top], left=np.nan, right=np.nan
        )
        inside = np.isfinite(outs)
        row[inside] = [trace.depth(length) for length in outs[inside]]
    return chart


def _too_deep(weights, line, depth, speed, limit, deepest, conditions):
    def heavier(log_factor):
        factor = math.exp(log_factor)
        scaled = [
            Weight(
                w.mass * factor,
                w.density,
                w.position,
                None if w.drag_area is None else w.drag_area * factor ** (2 / 3),
            )
            for w in weights
        ]
        return (
            float(trace_line(scaled, line, speed=speed, longest=limit, **conditions).height.max())
            - depth
        )

    advice = "Slow down, or use a thinner line"
    if heavier(math.log(30.0)) > 0:
        factor = math.exp(brentq(heavier, 0.0, math.log(30.0), xtol=1e-3))
        advice += f", or {math.ceil(factor * 10 + 0.5) / 10:.1f} times the weight"
    return unreachable(
        f"{both(depth)} cannot be reached: with {both(limit)} of line in the water "
        f"it runs at {both(deepest)}",
        nearest=deepest,
        mend=advice,
    )
