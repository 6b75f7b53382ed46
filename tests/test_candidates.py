"""Each candidate at the hour of the row, against sums done by hand."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from log_helpers import make_club, make_lake

from lakekit.trips import join_water, read_trips
from lakekit.trips.patterns.candidates import (
    CANDIDATES,
    candidate_values,
    day_length,
    hourly_mean,
)

HEADER = "date,start,hours,lake,tactic,rods,fish,bait_depth_m,clarity_m\n"


def read(tmp_path, *rows):
    path = tmp_path / "trips.csv"
    path.write_text(HEADER + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return read_trips(path, make_club(), as_of="2026-01-01")


def water(start, hours, **changes):
    """Weather that counts its hours: wind 2 + h / 100, pressure 1000 - h / 10."""
    times = pd.date_range(start, periods=hours, freq="1h")
    h = np.arange(hours, dtype=float)
    weather = {
        "air_temperature": 20.0 + 0 * h,
        "wind_speed": 2 + h / 1000,
        "air_pressure": 1000 - h / 10,
        "shortwave": 100.0 + 0 * h,
        "cloud_cover": 0.5 + 0 * h,
        "precipitation": 0 * h,
    } | changes
    days = pd.date_range(pd.Timestamp(start) + pd.Timedelta("18h"), times[-1], freq="1D")
    d = np.arange(len(days), dtype=float)
    layers = xr.Dataset(
        {
            "surface_temperature": ("time", 10 + d),
            "lasting_thermocline_depth": ("time", 4 + 0 * d),
            "thermocline_depth": ("time", 1 + 0 * d),
            "oxygen_floor_depth": ("time", 6 + 0 * d),
        },
        coords={"time": days},
    )
    forcing = xr.Dataset(
        {name: ("time", values) for name, values in weather.items()}, coords={"time": times}
    )
    lake = make_lake("ash", "Ash Pit Pond")
    return SimpleNamespace(lake=lake, forcing=forcing, layers=layers, parameters=None)


def test_values_by_hand_on_the_day_the_clocks_go_back(tmp_path):
    # 2025-11-02 in Chicago: 00:30 is 05:30 UTC (daylight time), 03:00 is 09:00 UTC (standard)
    trips = read(
        tmp_path, "2025-11-02,00:30,1,ash,cast,2,1,3,", "2025-11-02,03:00,2,ash,cast,2,1,5,1"
    )
    known = water("2025-10-25 00:00", 24 * 12)
    trips["start_depth"] = [2.5, 5.5]
    values = candidate_values(trips, {"ash": known})
    assert values["bait_below_start"].tolist() == [0.5, -0.5]
    # hours since the record began: 8 days and 5.5 h; 8 days and 9 h
    first, second = 8 * 24 + 5.5, 8 * 24 + 9.0
    # half of the hour labelled 5 and half of that labelled 6: 2 + 197.5 / 1000
    assert values["wind_speed"].tolist() == pytest.approx(
        [2 + (first - 0.5 + 0.5) / 1000, 2 + (second + 0.5) / 1000], abs=1e-9
    )
    # the row's mean less that of the day before it, whose middle is 12 h and half an outing back
    assert values["wind_change"].tolist() == pytest.approx([0.0125, 0.013], abs=1e-9)
    assert values["pressure_change"].tolist() == pytest.approx([-2.4, -2.4], abs=1e-9)
    assert values["cloud_cover"].tolist() == [50.0, 50.0]
    # daily states at 18:00 UTC; both rows are nearer to that of 1 November, the eighth (17) than
    # to the next; five days before are five degrees less
    assert values["surface_temperature"].tolist() == [17.0, 18.0]
    assert values["surface_temperature_change"].tolist() == [5.0, 5.0]
    assert values["thermocline_depth"].tolist() == [4.0, 4.0]  # the seasonal one
    assert values["bait_below_thermocline"].tolist() == [-1.0, 1.0]
    # 45 % of 100 W/m2 is visible; attenuation 1.6 x 1.7 / Secchi (1.2 m of the lake, 1 m as logged)
    assert values["lit_depth"].tolist() == pytest.approx(
        [np.log(45) * 1.2 / 2.72, np.log(45) / 2.72], rel=1e-9
    )
    assert values["clarity"].isna().tolist() == [True, False]


def test_the_day_the_clocks_go_forward(tmp_path):
    # 2025-03-09: 01:30 is 07:30 UTC, 03:00 is 08:00 UTC; half an hour apart, not an hour and a half
    trips = read(tmp_path, "2025-03-09,01:30,1,ash,cast,2,1,,", "2025-03-09,03:00,1,ash,cast,2,1,,")
    values = candidate_values(trips, {"ash": water("2025-03-01", 24 * 12)})
    assert values["wind_speed"].diff().iloc[1] == pytest.approx(0.0005, abs=1e-9)


def test_nothing_is_known_before_or_after_the_record(tmp_path):
    trips = read(
        tmp_path,
        "2025-06-01,12:00,2,ash,cast,2,1,3,",
        "2025-07-01,12:00,2,ash,cast,2,1,3,",
        "2025-08-01,12:00,2,ash,cast,2,1,3,",
        "2025-07-01,12:00,2,birch,cast,2,1,3,",
    )
    blow = np.full(24 * 20, 2.0)
    blow[24 * 8 : 24 * 9] = 12.0  # a front on 28 June, UTC
    known = water("2025-06-20", 24 * 20, wind_speed=blow)
    values = candidate_values(trips, {"ash": known})
    sky = {"moon", "sun_height", "day_length", "level_change", "clarity"}
    weather = [c.name for c in CANDIDATES if c.name not in sky]
    assert values.loc[[0, 2], weather].isna().all(axis=None)
    assert values.loc[3].isna().all()
    from lakekit.strata import fronts

    front = fronts(known.forcing)
    assert len(front) == 1
    since = (trips["start"].iloc[1] - front["end"].iloc[0]) / pd.Timedelta("1D")
    assert values["days_since_front"].iloc[1] == pytest.approx(since, abs=1e-9)
    expected = front["peak_wind"].iloc[0] if since <= 3 else 0.0
    assert values["front_strength"].iloc[1] == pytest.approx(expected, rel=1e-9)
    joined = join_water(trips, {"ash": known.layers}, make_club(), fronts_by_lake={"ash": front})
    assert joined["days_since_front"].iloc[1] == pytest.approx(since, abs=1e-9)
    assert joined["days_since_front"].iloc[[0, 2]].isna().all()  # not sixty calm days


def test_before_a_records_first_front_its_age_is_not_known(tmp_path):
    trips = read(tmp_path, "2025-06-25,12:00,2,ash,cast,2,1,,", "2025-09-25,12:00,2,ash,cast,2,1,,")
    calm = water("2025-06-20", 24 * 120, wind_speed=np.full(24 * 120, 2.0))
    values = candidate_values(trips, {"ash": calm})
    assert values["days_since_front"].isna().tolist() == [True, False]
    assert values["days_since_front"].iloc[1] == 60.0
    assert values["front_strength"].tolist() == [0.0, 0.0]


def test_hot_calm_days_are_counted_as_they_come(tmp_path):
    trips = read(tmp_path, *(f"2025-07-{day:02d},12:00,1,ash,cast,2,1,," for day in (3, 5, 6, 9)))
    hours = 24 * 15
    air = np.full(hours, 20.0)
    air[24 * 4 + 6 : 24 * 7 + 6] = 30.0  # 5, 6 and 7 July by the sun of 90 degrees west
    known = water("2025-07-01", hours, air_temperature=air, wind_speed=np.full(hours, 2.0))
    values = candidate_values(trips, {"ash": known})
    assert values["hot_calm_days"].tolist() == [0.0, 1.0, 2.0, 0.0]


def test_an_hourly_mean_weighs_hours_by_their_part_and_knows_its_holes():
    weather = xr.Dataset(
        {"x": ("time", [1.0, 3.0, np.nan, 5.0, 7.0])},
        coords={"time": pd.date_range("2025-01-01", periods=5, freq="1h")},
    )
    at = pd.DatetimeIndex(
        [
            "2025-01-01 00:30",
            "2025-01-01 01:30",
            "2025-01-01 03:00",
            "2025-01-01 04:30",
            "2024-12-31 23:30",
        ]
    )
    found = hourly_mean(weather, "x", at, at + pd.Timedelta("1h"))
    assert found[[0, 2]] == pytest.approx([2.0, 5.0], rel=1e-12)
    assert np.isnan(found[[1, 3, 4]]).all()
    assert np.isnan(hourly_mean(weather, "absent", at, at)).all()


def test_day_length():
    # NREL's algorithm (Reda & Andreas 2004) through pvlib, sunrise to sunset, for 2021
    days = pd.DatetimeIndex(["2021-03-20 12:00", "2021-06-21 12:00", "2021-12-21 12:00"])
    assert day_length(days, 35.0) == pytest.approx([12.133, 14.510, 9.802], abs=0.01)
    assert day_length(days[1:], 45.0) == pytest.approx([15.615, 8.767], abs=0.01)
    assert day_length(days[1:], 80.0).tolist() == [24.0, 0.0]
