"""Drag of lines and weights in fresh water: published coefficients.

Of three forms for a cylinder across the flow, Sucker & Brauer's is used. A trolled line lies
nearly along the flow, so that its Reynolds number across it is 5 to 100, and there the forms
part: at Re 10, 20 and 40 the computed flow of Dennis & Chang has 2.85, 2.05 and 1.52; Sucker &
Brauer give 2.67, 2.08 and 1.73; White 3.15, 2.36 and 1.85; a constant 1.2 is less than half
of the first. Above Re 500 White lacks the measured dip to about 0.95 as well.
"""

import math

from fluids.drag import drag_sphere

from lakekit.constants import GRAVITY

WATER_DENSITY = 998.2  # kg/m3 at 20 degC (Kell 1975); 4 to 30 degC is within 0.3 %
NORMAL_VISCOSITY_TEMPERATURE = 20.0  # degC, taken where no water temperature is given
# Tangential coefficient on the wetted surface; towed cables have 0.01 to 0.03 (from memory).
TANGENTIAL_COEFFICIENT = 0.01
SPHERE_CORRELATION = "Clift"


def kinematic_viscosity(temperature):
    """Kinematic viscosity of fresh water.

    Parameters
    ----------
    temperature : float
        [degC], 0 to 40.

    Returns
    -------
    float
        [m2/s]

    References
    ----------
    Vogel form 2.414e-5 * 10**(247.8 / (T - 140)) Pa s, constants from memory; within 1 % of
    IAPWS-95 from 10 to 30 degC (1.306e-6, 1.003e-6, 8.93e-7 m2/s at 10, 20, 25 degC).
    """
    return 2.414e-5 * 10 ** (247.8 / (temperature + 133.15)) / WATER_DENSITY


def cylinder_drag_white(reynolds):
    """Drag coefficient of a smooth cylinder across the flow, White's curve fit.

    Parameters
    ----------
    reynolds : float or array
        [-], 1 to 2e5.

    References
    ----------
    White, Viscous Fluid Flow: 1 + 10 Re**(-2/3) (from memory).
    """
    return 1 + 10 * reynolds ** (-2 / 3)


def cylinder_drag(reynolds):
    """Drag coefficient of a smooth cylinder across the flow.

    Parameters
    ----------
    reynolds : float or array
        [-], on the diameter and the speed across the cylinder, 1e-4 to 2e5.

    Returns
    -------
    float or array
        [-] on the frontal area.

    References
    ----------
    Sucker & Brauer 1975, Waerme- und Stoffuebertragung 8:149-158 (formula from memory):
    1.18 + 6.8/Re**0.89 + 1.96/Re**0.5 - 0.0004 Re/(1 + 3.64e-7 Re**2).
    Dennis & Chang 1970, J. Fluid Mech. 42:471-489 (values from memory).

    Examples
    --------
    >>> round(cylinder_drag(100.0), 3)
    1.449
    """
    return (
        1.18
        + 6.8 / reynolds**0.89
        + 1.96 / reynolds**0.5
        - 0.0004 * reynolds / (1 + 3.64e-7 * reynolds**2)
    )


def sphere_drag(reynolds, correlation=SPHERE_CORRELATION):
    """Drag coefficient of a smooth sphere (Clift, Grace & Weber 1978, through fluids)."""
    return drag_sphere(reynolds, Method=correlation)


def sphere_diameter(mass, density):
    """Diameter [m] of a ball of this mass [kg] and density [kg/m3]."""
    return (6 * mass / (math.pi * density)) ** (1 / 3)


def weight_in_water(mass, density):
    """Weight of a body under water.

    Parameters
    ----------
    mass : float
        [kg]
    density : float
        [kg/m3]; less than water's gives a negative weight.

    Returns
    -------
    float
        [N]
    """
    return mass * GRAVITY * (1 - WATER_DENSITY / density)


def sphere_drag_area(mass, density, *, speed, temperature=NORMAL_VISCOSITY_TEMPERATURE):
    """Drag coefficient times frontal area of a ball.

    Parameters
    ----------
    mass, density : float
        [kg], [kg/m3]
    speed : float
        [m/s]; at rest the area is that of 1 mm/s.

    Returns
    -------
    float
        [m2]
    """
    diameter = sphere_diameter(mass, density)
    reynolds = max(speed, 1e-3) * diameter / kinematic_viscosity(temperature)
    return sphere_drag(reynolds) * math.pi / 4 * diameter**2
