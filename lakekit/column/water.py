"""Properties of fresh water and of the air that touches it."""

import numpy as np

from .compiled import compiled

VOLUMETRIC_HEAT = 4.186e6  # J/m3/K: 999.1 kg/m3 x 4190 J/kg/K near 12 degC, held constant
WATER_DENSITY = 1000.0  # kg/m3, reference
ICE_DENSITY = 917.0  # kg/m3
LATENT_FUSION = 3.336e5  # J/kg
THERMAL_DIFFUSIVITY = 1.43e-7  # m2/s, molecular: 0.598 W/m/K over 4.18e6 J/m3/K


@compiled
def density(temperature):
    """Density of air-free fresh water at one atmosphere.

    Parameters
    ----------
    temperature : float or array [degC], 0 to 40

    Returns
    -------
    float or array [kg/m3]

    References
    ----------
    Tanaka, Girard, Davis, Peuto & Bignell 2001, Metrologia 38:301-309, eq. 1.
    """
    above = temperature - 3.983035
    return 999.974950 * (
        1.0 - above * above * (temperature + 301.797) / (522528.9 * (temperature + 69.34881))
    )


@compiled
def latent_heat(temperature):
    """Heat of evaporation [J/kg] at ``temperature`` [degC]: FAO-56, Allen et al. 1998, eq. 3-1."""
    return 2.501e6 - 2361.0 * temperature


@compiled
def saturation_vapour_pressure(temperature):
    """Saturation vapour pressure over water.

    Parameters
    ----------
    temperature : float or array [degC], -40 to 45

    Returns
    -------
    float or array [hPa]

    References
    ----------
    FAO-56 (Allen, Pereira, Raes & Smith 1998) eq. 11: 17.05 hPa at 15 degC (its Table 2.3).
    """
    return 6.108 * np.exp(17.27 * temperature / (temperature + 237.3))


@compiled
def specific_humidity(vapour_pressure, pressure):
    """Specific humidity [kg/kg] from vapour pressure and air pressure [hPa]."""
    return 0.622 * vapour_pressure / (pressure - 0.378 * vapour_pressure)


@compiled
def oxygen_saturation(temperature, pressure):
    """Dissolved oxygen in equilibrium with air.

    Parameters
    ----------
    temperature : float or array [degC], 0 to 40
    pressure : float or array [hPa], 500 to 1100

    Returns
    -------
    float or array [mg/L]

    References
    ----------
    Benson & Krause 1984, Limnol. Oceanogr. 29:620-632, in the form of APHA (1985): 9.092 mg/L at
    20 degC and 1013.25 hPa. The pressure term's constants are from memory.
    """
    kelvin = temperature + 273.15
    inverse = 1.0 / kelvin
    log_saturation = -139.34411 + inverse * (
        1.575701e5 + inverse * (-6.642308e7 + inverse * (1.243800e10 - inverse * 8.621949e11))
    )
    atmospheres = pressure / 1013.25
    vapour = np.exp(11.8571 - inverse * (3840.70 + 216961.0 * inverse))
    theta = 0.000975 + temperature * (-1.426e-5 + 6.436e-8 * temperature)
    correction = (
        (atmospheres - vapour) * (1.0 - theta * atmospheres) / ((1.0 - vapour) * (1.0 - theta))
    )
    return np.exp(log_saturation) * correction
