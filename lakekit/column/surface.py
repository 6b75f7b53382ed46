"""Exchange of heat and momentum between air and open water."""

import numpy as np

from .compiled import compiled
from .water import latent_heat, saturation_vapour_pressure, specific_humidity

STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4, CODATA 2018
GRAVITY = 9.80665  # m/s2
AIR_HEAT_CAPACITY = 1005.0  # J/kg/K
DRY_AIR_GAS = 287.05  # J/kg/K
EMISSIVITY = 0.97  # of water in the thermal infrared, common practice
NEUTRAL_TRANSFER = 1.3e-3  # C_E and C_H at 10 m: 1.3-1.5e-3 of older work, 1.0-1.4e-3 in 2023
WIND_HEIGHT = 10.0  # m
ROUGHNESS = 2e-4  # m, open water
CONVECTION_CONSTANT = 0.14  # Nu = 0.14 Ra^(1/3) over a warm level surface


@compiled
def drag_coefficient(wind):
    """Drag coefficient of water at 10 m.

    Parameters
    ----------
    wind : float [m/s] at 10 m

    Returns
    -------
    float, dimensionless

    References
    ----------
    Wuest & Lorke 2003, Annu. Rev. Fluid Mech. 35:373-412, in light wind (1.98e-3 at 2 m/s), until
    it meets Large & Pond 1981, J. Phys. Oceanogr. 11:324-336 (1.2e-3 to 11 m/s, then rising).
    """
    if wind < 3.096:
        return 0.0044 * max(wind, 0.1) ** -1.15
    if wind < 11.0:
        return 1.2e-3
    return (0.49 + 0.065 * min(wind, 25.0)) * 1e-3


@compiled
def stability_factor(richardson):
    """What stability makes of the neutral transfer coefficient of heat and vapour.

    Parameters
    ----------
    richardson : float, bulk Richardson number of the lowest 10 m; negative over warm water

    Returns
    -------
    float, 1 in neutral air

    References
    ----------
    Louis 1979, Boundary-Layer Meteorol. 17:187-202 (b 9.4, c* 5.3, b' 4.7; from memory).
    """
    if richardson >= 0.0:
        return max(1.0 / (1.0 + 4.7 * richardson) ** 2, 0.05)
    scale = 5.3 * 9.4 * NEUTRAL_TRANSFER * (WIND_HEIGHT / ROUGHNESS) ** 0.5
    return 1.0 - 9.4 * richardson / (1.0 + scale * (-richardson) ** 0.5)


@compiled
def free_convection_velocity(virtual_excess, virtual_temperature):
    """Transfer velocity of heat and vapour from warm water into calm air.

    Parameters
    ----------
    virtual_excess : float [K], virtual temperature at the surface less that of the air
    virtual_temperature : float [K] of the air

    Returns
    -------
    float [m/s], 0 where the air is the warmer

    References
    ----------
    Nu = 0.14 Ra^(1/3) over a level plate (Incropera & DeWitt; Lloyd & Moran 1974 have 0.15;
    from memory), with 2.2e-5 m2/s for the diffusivity and 1.5e-5 m2/s for the viscosity of air.
    """
    if virtual_excess <= 0.0:
        return 0.0
    buoyancy = GRAVITY * virtual_excess / virtual_temperature
    return CONVECTION_CONSTANT * (buoyancy * (2.2e-5**2) / 1.5e-5) ** (1.0 / 3.0)


@compiled
def turbulent_fluxes(surface, air, vapour_pressure, pressure, wind):
    """Latent and sensible heat from open water to the air.

    Parameters
    ----------
    surface, air : float [degC]
    vapour_pressure, pressure : float [hPa] of the air
    wind : float [m/s] over the water at 10 m

    Returns
    -------
    latent, sensible : float [W/m2], positive upward

    References
    ----------
    Bulk transfer with equal coefficients for heat and vapour, corrected for stability
    (:func:`stability_factor`) and joined in quadrature with free convection (as Adams et al. 1990
    did for heated water; from memory).
    """
    humidity = specific_humidity(vapour_pressure, pressure)
    wet = specific_humidity(saturation_vapour_pressure(surface), pressure)
    virtual_air = (air + 273.15) * (1.0 + 0.61 * humidity)
    virtual_surface = (surface + 273.15) * (1.0 + 0.61 * wet)
    excess = virtual_surface - virtual_air
    speed = max(wind, 0.2)
    richardson = -GRAVITY * WIND_HEIGHT * excess / (virtual_air * speed * speed)
    forced = NEUTRAL_TRANSFER * speed * stability_factor(richardson)
    free = free_convection_velocity(excess, virtual_air)
    velocity = (forced * forced + free * free) ** 0.5
    air_density = 100.0 * pressure / (DRY_AIR_GAS * virtual_air)
    latent = air_density * latent_heat(surface) * velocity * (wet - humidity)
    sensible = air_density * AIR_HEAT_CAPACITY * velocity * (surface - air)
    return latent, sensible


@compiled
def emitted_longwave(surface):
    """Thermal radiation sent up by water or ice at ``surface`` [degC], in W/m2 (Stefan's law)."""
    kelvin = surface + 273.15
    return EMISSIVITY * STEFAN_BOLTZMANN * kelvin**4


@compiled
def wind_stress(wind, air, pressure):
    """Stress [N/m2] of ``wind`` [m/s at 10 m] in air at ``air`` [degC] and ``pressure`` [hPa]."""
    air_density = 100.0 * pressure / (DRY_AIR_GAS * (air + 273.15))
    return air_density * drag_coefficient(wind) * wind * wind


def sheltered_energy(area):
    """Share of the open wind's stirring energy that reaches a lake of ``area`` [m2].

    References
    ----------
    Hondzo & Stefan 1993, J. Hydraul. Eng. 119:1251-1273: 1 - exp(-0.3 A), A in km2 (0.259 at 1).
    """
    return 1.0 - np.exp(-0.3 * np.asarray(area, float) / 1e6)
