"""The moon's place, rise and set against published examples and known moons."""

import numpy as np
import pandas as pd
import pytest

from lakekit.weather.moon import lit_share, moon_position, moon_times


def test_place_of_the_published_example():
    # Meeus 1991, Astronomical Algorithms, example 45.a: 1992 April 12, 0 h dynamical time,
    # longitude 133.162655, latitude -3.229126 (from memory); the low-precision series promises
    # 0.3 and 0.2 degrees.
    longitude, latitude, _ = moon_position(pd.DatetimeIndex(["1992-04-11 23:59"]))
    assert longitude[0] == pytest.approx(133.1627, abs=0.3)
    assert latitude[0] == pytest.approx(-3.2291, abs=0.2)


@pytest.mark.parametrize(
    ("moment", "apart"),
    [
        ("2024-04-08 18:21", 0.0),  # new moon of the solar eclipse (from memory)
        ("2023-08-31 01:36", 180.0),  # full (from memory)
        ("2000-01-21 04:40", 180.0),  # full, lunar eclipse (from memory)
        ("2017-08-21 18:30", 0.0),  # new, solar eclipse (from memory)
    ],
)
def test_new_and_full_moons(moment, apart):
    longitude, _, sun = moon_position(pd.DatetimeIndex([moment]))
    miss = (longitude[0] - sun[0] - apart + 180) % 360 - 180
    assert abs(miss) < 0.4  # the moon moves half a degree an hour against the sun


def test_full_moon_rises_near_sunset_and_is_lit():
    times = moon_times("2023-08-30", 40.0, -89.0, "America/Chicago")
    assert times["lit"] > 0.99
    assert 19 <= times["moonrise"].hour <= 20
    new = moon_times("2024-04-08", 40.0, -89.0, "America/Chicago")
    assert new["lit"] < 0.01
    assert 5 <= new["moonrise"].hour <= 7


def test_moonrise_is_about_fifty_minutes_later_each_day():
    days = pd.date_range("2025-06-01", periods=28)
    rises = [moon_times(day, 40.0, -89.0, "America/Chicago")["moonrise"] for day in days]
    known = [rise for rise in rises if rise is not None]
    assert 26 <= len(known) <= 28  # about once a month a day has none
    gaps = np.diff(pd.DatetimeIndex(known).tz_convert(None).to_numpy()) / np.timedelta64(1, "m")
    assert np.mean(gaps) - 1440 == pytest.approx(50.5, abs=6)


@pytest.mark.parametrize(
    ("time", "share", "error"),
    [
        # Meeus 1998, Astronomical Algorithms (2nd ed.), example 48.a: 0.6786 (from memory)
        ("1992-04-12 00:00", 0.6786, 0.01),
        # total eclipses, so new and full moon (dates from memory): of the sun on 2017-08-21
        # and 2024-04-08, of the moon on 2022-11-08
        ("2017-08-21 18:26", 0.0, 0.002),
        ("2024-04-08 18:18", 0.0, 0.002),
        ("2022-11-08 10:59", 1.0, 0.002),
    ],
)
def test_lit_share(time, share, error):
    assert lit_share(pd.DatetimeIndex([time])) == pytest.approx([share], abs=error)
