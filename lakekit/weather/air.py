"""Moist air: vapour pressure, pressure with height, wind with height."""

import numpy as np

from lakekit.constants import DRY_AIR_GAS, GRAVITY, LAPSE_RATE, STANDARD_PRESSURE, ZERO_CELSIUS


def saturation_vapour_pressure(temperature):
    """Saturation vapour pressure over water.

    Parameters
    ----------
    temperature : float or array [degC], -40 to 60

    Returns
    -------
    float or array [hPa]

    References
    ----------
    Murphy & Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. 10, doi:10.1256/qj.04.94.
    20 degC gives 23.394 hPa.
    """
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    log = np.log(kelvin)
    return 0.01 * np.exp(
        54.842763
        - 6763.22 / kelvin
        - 4.210 * log
        + 0.000367 * kelvin
        + np.tanh(0.0415 * (kelvin - 218.8))
        * (53.878 - 1331.22 / kelvin - 9.44523 * log + 0.014025 * kelvin)
    )


def vapour_pressure(temperature, relative_humidity):
    """Vapour pressure [hPa] from air temperature [degC] and relative humidity over water [%]."""
    return 0.01 * np.asarray(relative_humidity) * saturation_vapour_pressure(temperature)


def humidity_from_dew_point(temperature, dew_point):
    """Relative humidity [%] from air temperature and dew point [degC], at most 100."""
    ratio = saturation_vapour_pressure(dew_point) / saturation_vapour_pressure(temperature)
    return np.minimum(100.0 * ratio, 100.0)


def standard_pressure(elevation):
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    elevation : float [m above sea level], -500 to 5,000

    Returns
    -------
    float [hPa]

    References
    ----------
    ISO 2533:1975. FAO-56 (Allen et al. 1998, eq. 7) has the same form with 293 K: 81.8 kPa at
    1,800 m, where this gives 81.5.
    """
    exponent = GRAVITY / (DRY_AIR_GAS * LAPSE_RATE)
    return STANDARD_PRESSURE * (1.0 - LAPSE_RATE * elevation / 288.15) ** exponent


def pressure_change(pressure, temperature, *, rise):
    """Pressure after a rise in height through air of a given temperature.

    Parameters
    ----------
    pressure : (n,) array [hPa] at the lower (or, for a negative rise, higher) level
    temperature : (n,) array [degC], of the air at the level arrived at
    rise : float [m], negative when going down

    Returns
    -------
    (n,) array [hPa]

    References
    ----------
    Hypsometric equation, WMO-No. 8 (2018), part I, 3.11, with the mean temperature of the layer
    from the standard lapse rate 6.5 K/km.
    """
    mean = np.asarray(temperature) + ZERO_CELSIUS + 0.5 * LAPSE_RATE * rise
    return np.asarray(pressure) * np.exp(-GRAVITY * rise / (DRY_AIR_GAS * mean))


def wind_to_height(wind_speed, *, measured, wanted=10.0, roughness=0.03):
    """Mean wind at another height by the neutral logarithmic profile.

    Parameters
    ----------
    wind_speed : float or array [m/s]
    measured, wanted : float or array [m above the ground], over ten times the roughness
    roughness : float [m], 0.03 is open grassland (WMO-No. 8, table 5.2, class 3)

    Returns
    -------
    float or array [m/s]

    References
    ----------
    WMO-No. 8 (2018), part I, 5.9.3. With FAO-56's grass (zero plane 0.08 m, roughness 0.01476 m)
    eq. 47 of Allen et al. 1998 turns 3.2 m/s at 10 m into 2.4 m/s at 2 m.
    """
    return (
        wind_speed
        * np.log(np.asarray(wanted) / roughness)
        / np.log(np.asarray(measured) / roughness)
    )
