"""Where the sun stands: elevation by the hour, and the day's rising and setting."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

SOLAR_CONSTANT = 1361.0  # W/m2 (Kopp & Lean 2011, Geophys. Res. Lett. 38:L01706: 1360.8 +- 0.5)
HORIZON = 0.8333  # degrees below which the upper limb has set, refraction included


def _as_times(times):
    index = pd.DatetimeIndex(np.atleast_1d(np.asarray(times, dtype="datetime64[ns]")))
    return index.tz_localize("UTC")


def _daily_sun(times, latitude, longitude):
    """Sine and cosine of declination, equation of time [min], sun-earth factor at each time.

    The NREL algorithm is run once a day at noon and its declination and equation of time are
    interpolated: within 0.004 degrees of running it every hour, at a hundredth of the time.
    """
    from pvlib import solarposition  # slow to import, and a missing network is told before

    first, last = times[0].normalize() - pd.Timedelta("1D"), times[-1].normalize()
    noons = pd.date_range(first, last + pd.Timedelta("2D"), freq="D") + pd.Timedelta("12h")
    # On the equator, declination follows from the sun's elevation and azimuth without trouble.
    spot = solarposition.get_solarposition(noons, 0.0, 0.0, altitude=0.0, method="nrel_numpy")
    declination = np.arcsin(
        np.cos(np.radians(spot["elevation"].to_numpy()))
        * np.cos(np.radians(spot["azimuth"].to_numpy()))
    )
    distance = np.asarray(solarposition.nrel_earthsun_distance(noons, how="numpy"))
    at = (times - noons[0]) / pd.Timedelta("1D")
    day = np.arange(noons.size, dtype=np.float64)
    declination = np.interp(at, day, declination)
    equation = np.interp(at, day, spot["equation_of_time"].to_numpy())
    factor = np.interp(at, day, distance**-2.0)
    return declination, equation, factor


def _hour_angle(times, longitude, equation):
    day = ((times - times.normalize()) / pd.Timedelta("1D")).to_numpy()
    return 2 * np.pi * (day - 0.5) + np.radians(longitude) + np.radians(equation / 4)


def solar_elevation(times, latitude, longitude):
    """Height of the sun's centre above the horizon, without refraction.

    Parameters
    ----------
    times : (n,) datetime64, UTC and increasing, or one
        Taken as they are: for an hourly mean pass the middle of the hour.
    latitude, longitude : float [degrees north, east]

    Returns
    -------
    (n,) array [degrees], negative below the horizon

    References
    ----------
    Reda & Andreas 2004, Solar Energy 76:577-589, doi:10.1016/j.solener.2003.12.003, through
    pvlib. Its example (17 October 2003, 19:30:30 UTC, 39.742476 N, 105.1786 W) has a zenith of
    50.128 degrees before refraction.
    """
    times = _as_times(times)
    declination, equation, _ = _daily_sun(times, latitude, longitude)
    phi = np.radians(latitude)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(
        _hour_angle(times, longitude, equation)
    )
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


@dataclass(frozen=True)
class HourlySun:
    """The sun over each hour: geometry only."""

    sine: np.ndarray  # (n,) mean over the hour of sin(elevation), night counted as 0
    daylight: np.ndarray  # (n,) share of the hour with the sun up
    extraterrestrial: np.ndarray  # (n,) W/m2 on a level surface above the air, hourly mean

    @property
    def sine_while_up(self):
        """Mean sin(elevation) over the lit part of the hour; 0 at night."""
        lit = self.daylight > 0
        return np.where(lit, self.sine / np.where(lit, self.daylight, 1.0), 0.0)


def hourly_sun(hours, latitude, longitude):
    """Mean sun height over whole hours, sunrise and sunset included exactly.

    Parameters
    ----------
    hours : (n,) datetime64, UTC, start of each hour
    latitude, longitude : float [degrees north, east]

    Returns
    -------
    HourlySun

    References
    ----------
    FAO-56 (Allen et al. 1998), eq. 28, with the limits of integration cut at sunrise and sunset.
    """
    middle = _as_times(hours) + pd.Timedelta("30min")
    declination, equation, factor = _daily_sun(middle, latitude, longitude)
    phi = np.radians(latitude)
    angle = (_hour_angle(middle, longitude, equation) + np.pi) % (2 * np.pi) - np.pi
    constant = np.sin(phi) * np.sin(declination)
    swing = np.cos(phi) * np.cos(declination)
    up = np.arccos(np.clip(-constant / np.maximum(swing, 1e-12), -1.0, 1.0))
    half = np.pi / 24
    total, lit = np.zeros(angle.size), np.zeros(angle.size)
    # Near midnight an hour straddles the cut of the hour angle, so polar days need both copies.
    for turn in (-2 * np.pi, 0.0, 2 * np.pi):
        low = np.clip(angle - half + turn, -up, up)
        high = np.clip(angle + half + turn, -up, up)
        total += constant * (high - low) + swing * (np.sin(high) - np.sin(low))
        lit += high - low
    sine = np.maximum(total / (2 * half), 0.0)
    daylight = np.clip(lit / (2 * half), 0.0, 1.0)
    return HourlySun(sine, daylight, SOLAR_CONSTANT * factor * sine)


def sun_times(date, latitude, longitude, time_zone):
    """Sunrise, solar noon and sunset of one local date.

    Parameters
    ----------
    date : date, datetime64 or str, in the local calendar
    latitude, longitude : float [degrees north, east]
    time_zone : str
        IANA name.

    Returns
    -------
    dict of `sunrise`, `noon`, `sunset`
        pandas.Timestamp in that zone; None where the sun does not rise or set that day.

    References
    ----------
    The sun's centre 0.8333 degrees below the horizon: 16' of radius and 34' of refraction, as in
    Reda & Andreas 2004. That algorithm's printed sunset belongs to the UTC day, so in the
    Americas it is the evening before; here each event is found within the local date.
    """
    midnight = pd.Timestamp(date).normalize()
    zone = ZoneInfo(time_zone)
    start, stop = (
        day.tz_localize(zone, nonexistent="shift_forward", ambiguous=True).tz_convert("UTC")
        for day in (midnight, midnight + pd.Timedelta("1D"))
    )
    minutes = pd.date_range(start, stop, freq="5min").tz_localize(None)
    elevation = solar_elevation(minutes, latitude, longitude)
    _, equation, _ = _daily_sun(_as_times(minutes), latitude, longitude)
    angle = (_hour_angle(_as_times(minutes), longitude, equation) + np.pi) % (2 * np.pi) - np.pi

    def crossing(height, towards):
        here = np.flatnonzero(
            (height[:-1] * towards < 0)
            & (height[1:] * towards >= 0)
            & (np.abs(np.diff(height)) < 3.0)
        )
        if not here.size:
            return None
        i = here[0]
        part = height[i] / (height[i] - height[i + 1])
        moment = minutes[i] + part * (minutes[i + 1] - minutes[i])
        return moment.tz_localize("UTC").tz_convert(zone).round("s")

    return {
        "sunrise": crossing(elevation + HORIZON, 1),
        "noon": crossing(np.degrees(angle), 1),
        "sunset": crossing(elevation + HORIZON, -1),
    }
