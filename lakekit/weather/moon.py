"""The moon over a lake: when it rises and sets, and how much of it is lit. Computed, no table."""

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

J2000 = pd.Timestamp("2000-01-01 12:00")
OBLIQUITY = np.radians(23.4393)
RISE = 0.125  # degrees: parallax (0.95) less refraction (0.57) and half the disc (0.26)


def moon_position(times):
    """The moon's ecliptic longitude, latitude and distance, and the sun's longitude.

    Parameters
    ----------
    times : (n,) datetime64, UTC

    Returns
    -------
    (longitude, latitude, sun) : (n,) float [degrees]
        Within about 0.3 degrees in longitude and 0.2 in latitude, so that rise and set are right
        to about two minutes.

    References
    ----------
    The low-precision series of the Astronomical Almanac (page D46 of the editions from 1984 on;
    coefficients from memory), sun: Meeus 1991, Astronomical Algorithms, ch. 24.
    """
    days = (pd.DatetimeIndex(times) - J2000) / pd.Timedelta("1D")
    century = np.asarray(days) / 36525.0

    def sin(start, rate):
        return np.sin(np.radians(start + rate * century))

    longitude = (
        218.32 + 481267.881 * century
        + 6.29 * sin(135.0, 477198.87) - 1.27 * sin(259.3, -413335.36)
        + 0.66 * sin(235.7, 890534.22) + 0.21 * sin(269.9, 954397.74)
        - 0.19 * sin(357.5, 35999.05) - 0.11 * sin(186.5, 966404.03)
    )  # fmt: skip
    latitude = (
        5.13 * sin(93.3, 483202.02) + 0.28 * sin(228.2, 960400.89)
        - 0.28 * sin(318.3, 6003.15) - 0.17 * sin(217.6, -407332.21)
    )  # fmt: skip
    anomaly = 357.53 + 35999.05 * century
    sun = (
        280.466 + 36000.77 * century + 1.915 * np.sin(np.radians(anomaly))
        + 0.020 * np.sin(np.radians(2 * anomaly))
    )  # fmt: skip
    return longitude % 360.0, latitude, sun % 360.0


def moon_elevation(times, latitude, longitude):
    """Height of the moon's centre above the horizon, seen from the earth's centre [degrees].

    Parameters
    ----------
    times : (n,) datetime64, UTC
    latitude, longitude : float [degrees north, east]
    """
    lam, beta, _ = (np.radians(part) for part in moon_position(times))
    ascension = np.arctan2(
        np.sin(lam) * np.cos(OBLIQUITY) - np.tan(beta) * np.sin(OBLIQUITY), np.cos(lam)
    )
    declination = np.arcsin(
        np.sin(beta) * np.cos(OBLIQUITY) + np.cos(beta) * np.sin(OBLIQUITY) * np.sin(lam)
    )
    days = np.asarray((pd.DatetimeIndex(times) - J2000) / pd.Timedelta("1D"))
    sidereal = np.radians(280.46062 + 360.98564737 * days + longitude)
    phi = np.radians(latitude)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(
        sidereal - ascension
    )
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


def lit_share(times):
    """Share of the moon's disc that the sun lights, 0 (new) to 1 (full).

    Parameters
    ----------
    times : (n,) datetime64, UTC

    Examples
    --------
    >>> lit_share(pd.DatetimeIndex(["2022-11-08 11:00"])).round(2)  # an eclipse, so full
    array([1.])
    """
    longitude, latitude, sun = (np.radians(part) for part in moon_position(times))
    return (1 - np.cos(longitude - sun) * np.cos(latitude)) / 2


def moon_times(date, latitude, longitude, time_zone):
    """Moonrise and moonset of one local date, and the lit share of the disc at noon.

    Parameters
    ----------
    date : date, datetime64 or str, in the local calendar
    latitude, longitude : float [degrees north, east]
    time_zone : str
        IANA name.

    Returns
    -------
    dict of `moonrise`, `moonset`, `lit`
        pandas.Timestamp in that zone, None on the day it does not; 0 (new) to 1 (full).
    """
    midnight, zone = pd.Timestamp(date).normalize(), ZoneInfo(time_zone)
    start, stop = (
        day.tz_localize(zone, nonexistent="shift_forward", ambiguous=True).tz_convert("UTC")
        for day in (midnight, midnight + pd.Timedelta("1D"))
    )
    minutes = pd.date_range(start, stop, freq="5min").tz_localize(None)
    height = moon_elevation(minutes, latitude, longitude) - RISE

    def crossing(towards):
        here = np.flatnonzero((height[:-1] * towards < 0) & (height[1:] * towards >= 0))
        if not here.size:
            return None
        i = here[0]
        part = height[i] / (height[i] - height[i + 1])
        moment = minutes[i] + part * (minutes[i + 1] - minutes[i])
        return moment.tz_localize("UTC").tz_convert(zone).round("min")

    middle = minutes[len(minutes) // 2 : len(minutes) // 2 + 1]
    return {
        "moonrise": crossing(1),
        "moonset": crossing(-1),
        "lit": float(lit_share(middle)[0]),
    }
