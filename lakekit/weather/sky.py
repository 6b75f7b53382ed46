"""Shortwave and longwave radiation where nobody measured them, from what stations do measure.

The choices below were made by evidence on a measured record (Falling Creek dam, 2018) and a
reanalysis (Beaverdam, 2013-2016); `lakekit.bench.sky` repeats the figures.

- Clear sky: the beam and diffuse parts of ASCE-EWRI (2005), which know the vapour in the air.
  The clearest days then stand at 0.91 to 1.01 of it in every month of the station record; with
  Haurwitz's 1098 sin(h) exp(-0.057 / sin(h)) they run from 0.85 in summer to 1.05 in winter.
- Cloud: `opacity` is the share of clear-sky radiation that clouds take, 0.75 C^3.4 for a cloud
  cover C (Kasten & Czeplak 1980). Where shortwave is measured but cloud is not, the opacity is
  read off it and C follows by inversion.
- Daily temperature range: Thornton & Running (1999) where rain is known (34-47 W/m2 RMSE of daily
  means against 38-53 for the square-root law of FAO-56 eq. 50), that law where it is not.
- Longwave: Brutsaert's clear sky with Crawford & Duchon's cloud weighting: bias 0 and 3, RMSE
  23 W/m2 by the hour, with cloud read off the sun. Idso (1981) runs 12-18 too warm.
"""

import numpy as np

from lakekit.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from lakekit.weather.sun import HourlySun, hourly_sun, solar_elevation, sun_times

__all__ = [
    "HourlySun",
    "clear_sky_shortwave",
    "cloud_opacity",
    "hourly_sun",
    "opacity_cloud",
    "sky_longwave",
    "solar_elevation",
    "sun_times",
    "sunshine_opacity",
    "temperature_range_opacity",
]

LOW_SUN = 0.10  # sin(elevation), 6 degrees: below it a ratio to clear sky says little of cloud


def clear_sky_shortwave(sun, vapour_pressure, air_pressure):
    """Solar radiation on a level surface under a cloudless sky, hourly mean.

    Parameters
    ----------
    sun : HourlySun of n hours
    vapour_pressure, air_pressure : (n,) array [hPa]

    Returns
    -------
    (n,) array [W/m2]

    References
    ----------
    ASCE-EWRI 2005, The ASCE Standardized Reference Evapotranspiration Equation, appendix D,
    eqs. D.1-D.6, clean air (constants from memory).
    """
    sine = np.maximum(sun.sine_while_up, 0.01)
    pressure = 0.1 * np.asarray(air_pressure)
    water = 0.14 * (0.1 * np.asarray(vapour_pressure)) * pressure + 2.1  # mm
    beam = 0.98 * np.exp(-0.00146 * pressure / sine - 0.075 * (water / sine) ** 0.4)
    diffuse = np.where(beam >= 0.15, 0.35 - 0.36 * beam, 0.18 + 0.82 * beam)
    return (beam + diffuse) * sun.extraterrestrial


def cloud_opacity(cloud_cover):
    """Share of clear-sky radiation that clouds take.

    Parameters
    ----------
    cloud_cover : array, 0 to 1

    Returns
    -------
    array, 0 to 0.75

    References
    ----------
    Kasten & Czeplak 1980, Solar Energy 24:177-189, doi:10.1016/0038-092X(80)90391-6: 4 oktas
    let 0.9290 through, 8 oktas 0.25.
    """
    return 0.75 * np.asarray(cloud_cover) ** 3.4


def opacity_cloud(opacity):
    """Cloud cover, 0 to 1, from opacity: the inverse of :func:`cloud_opacity`."""
    return np.clip(np.asarray(opacity) / 0.75, 0.0, 1.0) ** (1 / 3.4)


def sunshine_opacity(sunshine_duration, sun, clear_sky):
    """Opacity from the sunshine of each hour.

    Parameters
    ----------
    sunshine_duration : (n,) array [s in the hour]
    sun : HourlySun of n hours
    clear_sky : (n,) array [W/m2]

    Returns
    -------
    (n,) array, 0 to 1; NaN where the sun is down or low

    References
    ----------
    FAO-56 (Allen et al. 1998), eq. 35, a = 0.25, b = 0.50, applied by the hour: 7.1 of 10.9
    hours under 25.1 MJ/m2/day give 14.5.
    """
    lit = sun.sine_while_up > LOW_SUN
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.clip(sunshine_duration / (3600.0 * sun.daylight), 0.0, 1.0)
        shortwave = (0.25 + 0.50 * share) * sun.extraterrestrial
        opacity = 1.0 - shortwave / clear_sky
    return np.where(lit, np.clip(opacity, 0.0, 1.0), np.nan)


def measured_opacity(shortwave, sun, clear_sky):
    """Opacity from measured shortwave, over three hours so that a low sun misleads less.

    Parameters
    ----------
    shortwave : (n,) array [W/m2], NaN where missing
    sun : HourlySun of n hours
    clear_sky : (n,) array [W/m2]

    Returns
    -------
    (n,) array, 0 to 1; NaN where shortwave is missing or the sun is down or low
    """
    known = ~np.isnan(shortwave)
    kernel = np.ones(3)
    seen = np.convolve(np.where(known, shortwave, 0.0), kernel, mode="same")
    full = np.convolve(np.where(known, clear_sky, 0.0), kernel, mode="same")
    valid = known & (sun.sine_while_up > LOW_SUN)
    return np.where(valid, np.clip(1.0 - seen / np.where(valid, full, 1.0), 0.0, 1.0), np.nan)


def temperature_range_opacity(
    daily_maximum, daily_minimum, daily_precipitation, daily_clear, daily_extraterrestrial
):
    """Opacity of each day from how far its temperature swings.

    Parameters
    ----------
    daily_maximum, daily_minimum : (d,) array [degC]
    daily_precipitation : (d,) array [mm] or None
    daily_clear, daily_extraterrestrial : (d,) array [W/m2], means of the day

    Returns
    -------
    (d,) array, 0 to 1

    References
    ----------
    With rain known, Thornton & Running 1999, Agric. For. Meteorol. 93:211-228,
    doi:10.1016/S0168-1923(98)00126-9, eqs. 10-11 (constants from memory): 0.75 on days with more
    than 1 mm, the 30-day mean range setting the scale. Else FAO-56 (Allen et al. 1998), eq. 50,
    with 0.17, between its 0.16 inland and 0.19 by the coast: a range of 11.8 degC under 40.6
    MJ/m2/day gives 22.3 with 0.16.
    """
    swing = np.maximum(daily_maximum - daily_minimum, 0.1)
    if daily_precipitation is None:
        shortwave = 0.17 * np.sqrt(swing) * daily_extraterrestrial
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(daily_clear > 0, shortwave / daily_clear, 1.0)
    else:
        width = min(30, swing.size)
        weight = np.convolve(np.ones(swing.size), np.ones(width), mode="same")
        usual = np.convolve(swing, np.ones(width), mode="same") / weight
        usual = usual[: swing.size]
        scale = 0.031 + 0.201 * np.exp(-0.185 * usual)
        share = 1.0 - 0.9 * np.exp(-scale * swing**1.5)
        share = np.where(daily_precipitation > 1.0, 0.75 * share, share)
    return np.clip(1.0 - share, 0.0, 0.95)


def sky_longwave(air_temperature, vapour_pressure, opacity):
    """Longwave radiation from the sky.

    Parameters
    ----------
    air_temperature : (n,) array [degC]
    vapour_pressure : (n,) array [hPa]
    opacity : (n,) array, 0 to 1
        Share of clear-sky shortwave that clouds take.

    Returns
    -------
    (n,) array [W/m2]

    References
    ----------
    Clear sky: Brutsaert 1975, Water Resour. Res. 11:742-744, eq. 11,
    doi:10.1029/WR011i005p00742: emissivity 0.803 at 20 degC and 14.03 hPa. Cloud: Crawford &
    Duchon 1999, J. Appl. Meteorol. 38:474-480, eqs. 18-20,
    doi:10.1175/1520-0450(1999)038<0474:AIPFEE>2.0.CO;2, whose clf is our opacity.
    """
    kelvin = np.asarray(air_temperature) + ZERO_CELSIUS
    clear = np.minimum(1.24 * (np.maximum(vapour_pressure, 0.05) / kelvin) ** (1 / 7), 1.0)
    emissivity = opacity + (1.0 - opacity) * clear
    return emissivity * STEFAN_BOLTZMANN * kelvin**4
