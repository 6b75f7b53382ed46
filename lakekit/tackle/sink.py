"""Sinking: terminal speed, seconds to a depth, and the mass that gets there in time."""

import math

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from lakekit.errors import TackleError
from lakekit.tackle import drag as published
from lakekit.tackle.checks import both, check, mass_both, unreachable
from lakekit.tackle.line import line_weight

# Sphericity: surface of the ball of equal volume over the body's own surface. Worked out from
# typical proportions of each shape (from memory), for Haider & Levenspiel's drag.
SHAPES = {
    "ball": 1.0,
    "bullet": 0.9,  # a cone-nosed slip sinker, length 1.5 times the diameter
    "drop": 0.87,  # a teardrop or bell, length twice the diameter
    "cylinder": 0.83,  # length three times the diameter: a stick or tube weight
    "jig": 1.0,  # a ball head; its soft-plastic body is in DRESS
    "hair jig": 1.0,
    "bare jig": 1.0,
    "spoon": 0.35,  # a plate of 1 to 15 proportions, sinking flat with a flutter
}
# What the dressing adds: drag coefficient times area [m2], the body lying level as it falls. A
# cylinder across the flow has 1.1 at these speeds (Hoerner 1965, from memory); the bodies' sizes
# are common practice, no source: 2 in by 3/8 in of soft plastic, 1 1/4 in by 5/16 in of hair.
DRESS = {"jig": 1.1 * 0.0508 * 0.0095, "hair jig": 1.1 * 0.0318 * 0.0079}
# The dressing and the way a lure falls spread its speed about this much either way.
SHAPE_ERROR = {
    "ball": 0.1,
    "bullet": 0.3,
    "drop": 0.3,
    "cylinder": 0.25,
    "jig": 0.35,
    "hair jig": 0.35,
    "bare jig": 0.2,
    "spoon": 0.35,
}


def particle_drag(reynolds, sphericity):
    """Drag coefficient of a body that is no ball, on its equal-volume diameter.

    Parameters
    ----------
    reynolds : float
        [-] on the equal-volume diameter, up to 2.5e4 (bodies) or 2.6e5 (balls).
    sphericity : float
        [-], 0.2 to 1.

    References
    ----------
    Haider & Levenspiel 1989, Powder Technol. 58:63-70, eq. 12 (constants from memory). A ball
    uses Clift, Grace & Weber instead.
    """
    if sphericity == 1.0:
        return published.sphere_drag(reynolds)
    p = sphericity
    a = math.exp(2.3288 - 6.4581 * p + 2.4486 * p**2)
    b = 0.0964 + 0.5565 * p
    c = math.exp(4.905 - 13.8944 * p + 18.4222 * p**2 - 10.2599 * p**3)
    d = math.exp(1.4681 + 12.2584 * p - 20.7322 * p**2 + 15.8855 * p**3)
    return 24 / reynolds * (1 + a * reynolds**b) + c / (1 + d / reynolds)


def terminal_speed(
    mass,
    density,
    *,
    shape="ball",
    line=None,
    line_paid_out=0.0,
    temperature=published.NORMAL_VISCOSITY_TEMPERATURE,
):
    """Speed at which a weight sinks, on a slack line that follows it.

    Parameters
    ----------
    mass, density : float
        [kg], [kg/m3]
    shape : str
        A key of ``SHAPES``.
    line : object, optional
        With ``diameter`` [m] and ``density`` [kg/m3].
    line_paid_out : float
        Line that hangs in the water above the weight [m].
    temperature : float
        [degC]

    Returns
    -------
    float
        [m/s]

    Raises
    ------
    TackleError
        Where it does not sink.

    Examples
    --------
    A ball of lead 4 mm across (0.38 g) sinks at about 1.18 m/s:

    >>> round(terminal_speed(0.38001e-3, 11340.0), 2)
    1.18
    """
    check(mass, "weight", unit="kg", least=0.0, strict=True, most=20.0)
    check(density, "density", unit="kg/m3", least=50.0, most=25000.0)
    check(line_paid_out, "line paid out", unit="m", least=0.0)
    if shape not in SHAPES:
        raise TackleError(f"shape {shape!r} is not known", mend=f"Use one of {', '.join(SHAPES)}")
    net = published.weight_in_water(mass, density)
    skin = DRESS.get(shape, 0.0)
    if line is not None:
        net += line_weight(line) * line_paid_out
        skin += published.TANGENTIAL_COEFFICIENT * math.pi * line.diameter * line_paid_out
    if net <= 0:
        raise TackleError(
            f"{mass_both(mass)} of {density:.0f} kg/m3 does not sink",
            mend="Use a denser material, a heavier weight or a line that sinks",
        )
    diameter = published.sphere_diameter(mass, density)
    frontal = math.pi / 4 * diameter**2
    viscosity = published.kinematic_viscosity(temperature)
    sphericity = SHAPES[shape]

    def balance(log_speed):
        speed = math.exp(log_speed)
        area = particle_drag(speed * diameter / viscosity, sphericity) * frontal + skin
        return math.log(0.5 * published.WATER_DENSITY * area * speed**2 / net)

    return math.exp(brentq(balance, math.log(1e-6), math.log(30.0), xtol=1e-12))


def seconds_to_depth(
    mass,
    density,
    *,
    depth,
    shape="ball",
    line=None,
    temperature=published.NORMAL_VISCOSITY_TEMPERATURE,
):
    """Count-down: seconds for a weight to sink to a depth, with line paid out.

    The weight reaches its speed within a few of its own lengths, so that each depth is sunk
    through at the terminal speed for the line then out.

    Parameters
    ----------
    depth : float
        [m], 0 or more.

    Returns
    -------
    float
        [s]
    """
    check(depth, "depth", unit="m", least=0.0)
    if depth == 0:
        return 0.0
    args = {"shape": shape, "line": line, "temperature": temperature}
    if line is None:
        return depth / terminal_speed(mass, density, **args)
    try:
        terminal_speed(mass, density, line_paid_out=depth, **args)
    except TackleError as error:
        limit = published.weight_in_water(mass, density) / -line_weight(line)
        if limit <= 0:
            raise
        raise unreachable(
            f"the float of the line stops {mass_both(mass)} before {both(depth)}",
            nearest=limit,
            mend=f"It sinks to {both(limit)}; use a heavier weight",
        ) from error
    return quad(
        lambda z: 1 / terminal_speed(mass, density, line_paid_out=z, **args),
        0.0,
        depth,
        epsrel=1e-5,
    )[0]


def sink_interval(seconds, shape):
    """Seconds [s] low and high for the spread of ways in which such a shape falls."""
    error = SHAPE_ERROR[shape]
    return seconds / (1 + error), seconds * (1 + error)


def mass_for_time(
    density,
    *,
    depth,
    seconds,
    shape="ball",
    line=None,
    heaviest=0.5,
    temperature=published.NORMAL_VISCOSITY_TEMPERATURE,
):
    """The lightest mass that reaches a depth in a time.

    Parameters
    ----------
    density : float
        [kg/m3]
    depth, seconds : float
        [m], [s], above 0.
    heaviest : float
        The heaviest weight to consider [kg].

    Returns
    -------
    float
        [kg]

    Raises
    ------
    TackleError
        Where even the heaviest is too slow; ``nearest`` is its time [s].
    """
    check(depth, "depth", unit="m", least=0.0, strict=True)
    check(seconds, "seconds", unit="s", least=0.0, strict=True)
    args = {"depth": depth, "shape": shape, "line": line, "temperature": temperature}

    def late(log_mass):
        try:
            return seconds_to_depth(math.exp(log_mass), density, **args) - seconds
        except TackleError:
            if density <= published.WATER_DENSITY:
                raise
            return math.inf

    low, high = math.log(1e-5), math.log(heaviest)
    if late(high) > 0:
        nearest = late(high) + seconds
        raise unreachable(
            f"not even {mass_both(heaviest)} sinks to {both(depth)} in {seconds:.0f} s",
            nearest=nearest,
            mend=f"It takes {nearest:.0f} s; allow that, or a denser material",
        )
    if late(low) <= 0:
        return math.exp(low)
    while not np.isfinite(late(low)):
        low += 0.5
    return math.exp(brentq(late, low, high, xtol=1e-6)) if late(low) > 0 else math.exp(low)
