"""Ice and the snow on it."""

from .compiled import compiled
from .light import NEAR_INFRARED_SHARE
from .surface import EMISSIVITY, STEFAN_BOLTZMANN
from .water import ICE_DENSITY, LATENT_FUSION

ICE_CONDUCTIVITY = 2.24  # W/m/K
SNOW_CONDUCTIVITY = 0.25  # W/m/K, settled
SNOW_DENSITY = 300.0  # kg/m3, settled
ICE_ALBEDO = 0.4  # grey lake ice, common practice 0.3-0.5
SNOW_ALBEDO = 0.7
ICE_ATTENUATION = 1.5  # 1/m
SNOW_ATTENUATION = 15.0  # 1/m
WATER_CONDUCTIVITY = 0.57  # W/m/K
LATENT_SUBLIMATION = 2.83e6  # J/kg


@compiled
def resistance(ice, snow):
    """Thermal resistance [m2 K/W] of ``ice`` [m] under ``snow`` [m of snow]."""
    return ice / ICE_CONDUCTIVITY + snow / SNOW_CONDUCTIVITY


@compiled
def ice_balance(ice, snow, air, vapour_pressure, pressure, wind, absorbed, longwave):
    """Temperature of the top of the ice, and the heat through it.

    Parameters
    ----------
    ice, snow : float [m]; ice above 0
    air : float [degC]
    vapour_pressure, pressure : float [hPa]
    wind : float [m/s]
    absorbed : float [W/m2], shortwave kept by the ice and snow
    longwave : float [W/m2], from the sky

    Returns
    -------
    top : float [degC], 0 or below
    conducted : float [W/m2], from the water side up to the top
    net_longwave, latent, sensible : float [W/m2]; longwave positive downward, the others upward
    surplus : float [W/m2], left for melting at the top, 0 or above

    Notes
    -----
    The balance is linear in the top's temperature but for emission and vapour, which are taken
    along their tangent at the air temperature (at 0 when that is above freezing).
    """
    base = min(air, 0.0)
    air_density = 100.0 * pressure / (287.05 * (air + 273.15))
    transfer = air_density * 1.5e-3 * max(wind, 0.5)
    over_ice = 6.112 * 2.718281828459045 ** (22.46 * base / (272.62 + base))
    slope = over_ice * 22.46 * 272.62 / (272.62 + base) ** 2
    kelvin = base + 273.15
    emitted = EMISSIVITY * STEFAN_BOLTZMANN * kelvin**4
    emitted_slope = 4.0 * emitted / kelvin
    vapour = transfer * LATENT_SUBLIMATION * 0.622 / pressure
    heat = transfer * 1005.0
    through = 1.0 / max(resistance(ice, snow), 0.01)
    gain = absorbed + EMISSIVITY * longwave - emitted - vapour * (over_ice - vapour_pressure)
    gain += heat * (air - base) - through * base
    stiffness = emitted_slope + vapour * slope + heat + through
    top = min(base + gain / stiffness, 0.0)
    step = top - base
    net_longwave = EMISSIVITY * longwave - emitted - emitted_slope * step
    latent = vapour * (over_ice + slope * step - vapour_pressure)
    sensible = heat * (top - air)
    conducted = -through * top
    surplus = absorbed + net_longwave - latent - sensible + conducted
    return top, conducted, net_longwave, latent, sensible, max(surplus, 0.0)


@compiled
def light_through(ice, snow):
    """Reflected share and transmitted share of shortwave on ``ice`` [m] under ``snow`` [m].

    Thin snow is patchy: its albedo is reached at 5 cm. The near infrared goes no further than the
    top of the crust, as it goes no further than the top layer of open water.
    """
    cover = min(snow / 0.05, 1.0)
    reflected = ICE_ALBEDO + (SNOW_ALBEDO - ICE_ALBEDO) * cover
    depth = ICE_ATTENUATION * ice + SNOW_ATTENUATION * snow
    visible = (1.0 - reflected) * (1.0 - NEAR_INFRARED_SHARE)
    return reflected, visible * 2.718281828459045 ** (-depth)


@compiled
def thickness_of(energy):
    """Ice [m] whose melting takes ``energy`` [J/m2]."""
    return energy / (ICE_DENSITY * LATENT_FUSION)
