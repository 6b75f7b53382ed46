"""Fronts and hot calm spells put into invented weather are found; real ones carry their names."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.constants import DRY_AIR_GAS
from lakekit.strata import fronts, hot_calm_spells, wind_work
from lakekit.strata.spells import THRESHOLDS


def quiet(days=90, *, start="2021-06-01"):
    """Light wind, a daily course of temperature and sun, and nothing else."""
    time = pd.date_range(start, periods=24 * days, freq="h")
    hour = np.arange(len(time)) % 24
    sun = np.clip(np.sin((hour - 5.5) / 14.0 * np.pi), 0.0, None) * 850.0 * (hour < 20)
    return xr.Dataset(
        {
            "air_temperature": ("time", 24.0 + 5.0 * np.sin((hour - 9) / 24.0 * 2 * np.pi)),
            "wind_speed": ("time", np.full(len(time), 3.0)),
            "air_pressure": ("time", np.full(len(time), 1000.0)),
            "precipitation": ("time", np.zeros(len(time))),
            "shortwave": ("time", sun),
        },
        coords={"time": time},
    )


def test_every_threshold_says_where_it_comes_from():
    for name, (value, unit, meaning, source) in THRESHOLDS.items():
        assert np.isfinite(value) and unit and meaning, name
        assert "no source" in source or "WMO" in source, name


def test_quiet_weather_has_no_front():
    table = fronts(quiet())
    assert len(table) == 0
    assert {"start", "end", "wind_work", "peak_wind", "kind"} <= set(table.columns)


def test_a_blow_is_found_where_it_was_put():
    weather = quiet()
    blow = slice(24 * 30 + 6, 24 * 30 + 30)
    weather["wind_speed"][blow] = 11.0
    weather["air_pressure"][blow] = 988.0
    weather["precipitation"][blow] = 0.5
    table = fronts(weather)
    assert len(table) == 1
    front = table.iloc[0]
    assert abs(front["start"] - weather.time.to_index()[blow.start]) <= pd.Timedelta(hours=3)
    assert abs(front["end"] - weather.time.to_index()[blow.stop]) <= pd.Timedelta(hours=3)
    assert front["kind"] == "wind"
    assert front["peak_wind"] == 11.0
    assert front["pressure_fall"] == pytest.approx(12.0, abs=1e-9)
    assert front["rain"] == pytest.approx(12.0, abs=1e-9)
    hours = weather.isel(time=slice(blow.start - 3, blow.stop + 3))
    work = wind_work(hours.wind_speed, hours.air_temperature, hours.air_pressure)
    assert 0.9 * work.sum() < front["wind_work"] <= work.sum() + 1e-9


def test_lulls_join_and_long_calms_part():
    weather = quiet()
    first = 24 * 20
    weather["wind_speed"][first : first + 10] = 9.0
    weather["wind_speed"][first + 18 : first + 28] = 9.0  # 8 h lull
    weather["wind_speed"][first + 72 : first + 82] = 9.0  # 44 h later
    assert len(fronts(weather)) == 2


def test_cooling_and_rain_without_wind():
    weather = quiet()
    weather["air_temperature"][24 * 40 :] -= 9.0
    weather["precipitation"][24 * 60 + 3 : 24 * 60 + 9] = 6.0
    table = fronts(weather)
    assert list(table["kind"]) == ["cooling", "rain"]
    assert table["temperature_fall"][0] == pytest.approx(9.0, abs=0.5)
    assert table["start"][0] >= weather.time.to_index()[24 * 39]
    assert table["rain"][1] == pytest.approx(36.0, abs=1e-9)
    assert (table["end"] - table["start"])[1] == pd.Timedelta(hours=6)


def test_a_sheltered_station_has_fronts_too():
    weather = quiet()
    weather["wind_speed"][:] = 1.2
    weather["wind_speed"][24 * 30 : 24 * 31] = 3.5
    assert len(fronts(weather)) == 1
    assert len(fronts(weather, typical_wind=3.0)) == 0
    assert len(fronts(weather.isel(time=slice(24 * 25, 24 * 35)))) == 0  # too short to judge


def test_front_at_the_edges_of_the_record():
    weather = quiet(days=10)
    weather["wind_speed"][:12] = 10.0
    weather["wind_speed"][-12:] = 10.0
    table = fronts(weather)
    assert len(table) == 2
    assert table["start"][0] == weather.time.to_index()[0]
    assert table["end"][1] == weather.time.to_index()[-1] + pd.Timedelta(hours=1)


def test_holes_do_not_invent_fronts():
    weather = quiet()
    for name in ("wind_speed", "air_temperature", "precipitation"):
        weather[name][24 * 30 : 24 * 33] = np.nan
    assert len(fronts(weather)) == 0


def test_wind_work_is_stress_times_friction_velocity():
    # rho_a from the gas law, C_D 1.2e-3 (Large & Pond 1981), u* in water of 1000 kg/m3
    stress = 1e5 / (DRY_AIR_GAS * 293.15) * 1.2e-3 * 25.0
    assert wind_work(5.0, 20.0, 1000.0) == pytest.approx(
        stress * np.sqrt(stress / 1000.0) * 3600.0, rel=1e-12
    )
    # cubic in the wind where the drag coefficient is constant
    assert wind_work(10.0, 20.0, 1000.0) == pytest.approx(8 * wind_work(5.0, 20.0, 1000.0))
    # 1.465e-3 at 15 m/s, Large & Pond 1981
    ratio = wind_work(15.0, 20.0, 1000.0) / wind_work(5.0, 20.0, 1000.0)
    assert ratio == pytest.approx((1.465 / 1.2) ** 1.5 * 27.0, rel=1e-4)


def test_hot_calm_spell_is_found_in_local_days():
    weather = quiet(days=60)
    weather["air_temperature"] -= 6.0  # warmest hour 23 degC
    hours = slice(24 * 20 + 6, 24 * 24 + 6)  # four local days at UTC-6
    weather["air_temperature"][hours] += 8.0
    weather["wind_speed"][:] = 4.5
    weather["wind_speed"][hours] = 2.0
    table = hot_calm_spells(weather, utc_offset=-6.0)
    assert len(table) == 1
    assert table["days"][0] == 4
    assert table["start"][0] == weather.time.to_index()[hours.start]
    assert table["mean_wind"][0] == pytest.approx(2.0, abs=1e-9)
    dull = weather.copy(deep=True)
    dull["shortwave"][hours] *= 0.3
    assert len(hot_calm_spells(dull, utc_offset=-6.0)) == 0


def test_named_storms_of_2018(observations):
    """Both named storms (14-17 Sep, 11-12 Oct 2018) are the strongest of their months' weather."""
    path = observations / "falling-creek-2018" / "weather_hourly_reanalysis.csv"
    table = pd.read_csv(path, parse_dates=["datetime_utc"])
    weather = xr.Dataset(
        {
            "air_temperature": ("time", table["air_temp_c"].to_numpy()),
            "wind_speed": ("time", table["wind_ms"].to_numpy()),
            "precipitation": ("time", table["precip_mm"].to_numpy()),
        },
        coords={"time": table["datetime_utc"].to_numpy()},
    )
    found = fronts(weather)
    for day, month in (("2018-09-16", 9), ("2018-10-11", 10)):
        noon = pd.Timestamp(day) + pd.Timedelta(hours=12)
        storm = found[(found["start"] <= noon) & (found["end"] >= noon)]
        assert len(storm) == 1, day
        same = found[found["start"].dt.month == month]
        assert storm["rain"].iloc[0] == same["rain"].max()
        assert storm["rain"].iloc[0] > 50.0


def put(weather, name, hours, value):
    """The weather with one variable changed over some hours."""
    changed = weather.copy(deep=True)
    changed[name][hours] = value
    return changed


def test_a_front_begins_and_ends_where_the_mean_of_six_hours_crosses():
    # 3 m/s, and a day of 11 m/s: two such hours of six make (2 x 11 + 4 x 3) / 6 = 5.7, one 4.3;
    # an hour's six are the three before it, itself and the two after
    hour = 24 * 30
    front = fronts(put(quiet(), "wind_speed", slice(hour, hour + 24), 11.0)).iloc[0]
    time = quiet().time.to_index()
    assert front["start"] == time[hour - 1] and front["end"] == time[hour + 24 + 2]


@pytest.mark.parametrize(("wind", "found"), [(5.6, 1), (5.4, 0)])
def test_a_moderate_breeze_makes_a_front(wind, found):
    # Beaufort 4 begins at 5.5 m/s (WMO scale)
    assert len(fronts(put(quiet(), "wind_speed", slice(700, 724), wind))) == found


@pytest.mark.parametrize(("hours", "found"), [(3, 0), (5, 1)])
def test_a_blow_of_six_hours_is_a_front(hours, found):
    # two hours of six at 9 m/s make 5.0, three 6.0
    weather = put(quiet(), "wind_speed", slice(700, 700 + hours), 9.0)
    smooth = weather["wind_speed"].to_series().rolling(6, center=True).mean()
    assert ((smooth >= 5.5).sum() >= 6) == bool(found)
    assert len(fronts(weather)) == found


@pytest.mark.parametrize(("lull", "found"), [(12, 1), (13, 2)])
def test_a_lull_of_half_a_day_parts_two_fronts(lull, found):
    weather = put(quiet(), "wind_speed", slice(700, 724), 9.0)
    weather = put(weather, "wind_speed", slice(724 + lull, 760), 9.0)
    # three of six hours at 9 m/s make 6.0: the first hour after a blow still has them, so that
    # the mean lulls for an hour less than the wind
    assert len(fronts(weather)) == found


def test_a_place_is_judged_by_its_own_wind_from_sixty_days_on():
    for days, found in ((60, 1), (59, 0)):
        weather = quiet(days=days)
        weather["wind_speed"][:] = 1.2
        weather["wind_speed"][700:724] = 3.5  # over twice the usual, under 5.5 m/s
        assert len(fronts(weather)) == found
    calm = put(weather, "wind_speed", slice(700, 724), 2.3)
    assert len(fronts(calm, typical_wind=1.2)) == 0  # under twice the usual
    assert len(fronts(calm, typical_wind=1.1)) == 1


@pytest.mark.parametrize(("fall", "found"), [(5.1, 1), (4.9, 0)])
def test_a_fall_by_five_degrees_within_two_days_is_a_front(fall, found):
    weather = quiet()
    weather["air_temperature"][960:] -= fall
    assert len(fronts(weather)) == found
    slow = quiet()  # the same fall over five days: at most 2 degC in 48 h
    slow["air_temperature"][:] -= np.clip((np.arange(slow.time.size) - 960) / 120, 0, 1) * fall
    assert len(fronts(slow)) == 0


def test_a_cooling_runs_from_the_warmest_day_to_the_coldest():
    weather = quiet()
    weather["air_temperature"][960:] -= 9.0
    front = fronts(weather).iloc[0]
    # means of the 24 h that end with an hour: the last unmoved is that of hour 959, the first
    # with nothing warm left that of hour 983
    time = weather.time.to_index()
    assert front["start"] == time[959] and front["end"] == time[984]
    assert front["temperature_fall"] == pytest.approx(9.0, abs=1e-9)


@pytest.mark.parametrize(("rain", "found"), [(25.0, 1), (24.9, 0)])
def test_an_inch_of_rain_in_a_day_is_a_front(rain, found):
    weather = quiet()
    weather["precipitation"][[700, 723]] = rain / 2
    table = fronts(weather)
    assert len(table) == found
    if found:
        time = weather.time.to_index()
        assert table["start"][0] == time[700] and table["end"][0] == time[724]
        assert table["rain"][0] == pytest.approx(rain)
    spread = put(quiet(), "precipitation", [700, 724], 12.5)  # over a day apart
    assert len(fronts(spread)) == 0


def test_what_overlaps_is_one_front_and_wind_names_it():
    weather = put(quiet(), "wind_speed", slice(955, 975), 11.0)
    weather["air_temperature"][960:] -= 9.0
    weather["precipitation"][970:990] = 2.0
    table = fronts(weather)
    assert list(table["kind"]) == ["wind"]
    time = weather.time.to_index()
    assert table["start"][0] == time[954] and table["end"][0] == time[990]
    assert table["rain"][0] == pytest.approx(40.0)
    without = put(weather, "wind_speed", slice(None), 3.0)
    assert list(fronts(without)["kind"]) == ["cooling"]
    wet = put(without, "precipitation", slice(940, 990), 2.0)  # though the rain came first
    assert list(fronts(wet)["kind"]) == ["cooling"]
    earlier = put(weather, "wind_speed", slice(500, 524), 11.0)  # stays apart
    pd.testing.assert_frame_equal(fronts(earlier)[1:].reset_index(drop=True), table)


def test_pressure_falls_from_the_day_before_to_the_fronts_lowest_hour():
    weather = put(quiet(), "wind_speed", slice(700, 724), 11.0)
    weather["air_pressure"][:] = 1000.0
    weather["air_pressure"][680] = 1004.0  # within a day before
    weather["air_pressure"][670] = 1030.0  # earlier
    weather["air_pressure"][710] = 985.0
    weather["air_pressure"][740] = 950.0  # after it
    assert fronts(weather)["pressure_fall"][0] == pytest.approx(19.0, abs=1e-9)
    assert np.isnan(fronts(weather.drop_vars("air_pressure"))["pressure_fall"][0])


def test_the_drag_of_wind_stops_growing_at_25_metres_a_second():
    # Large & Pond 1981 measured to 25 m/s; 1.2e-3 under 11 m/s, (0.49 + 0.065 x 25) e-3 at 25
    def drag(speed):
        stress = (wind_work(speed, 20.0, 1000.0) / 3600.0 * np.sqrt(1000.0)) ** (2 / 3)
        return stress / (1e5 / (DRY_AIR_GAS * 293.15) * speed**2)

    assert drag(10.9) == pytest.approx(1.2e-3, rel=1e-9)
    assert drag(25.0) == pytest.approx(2.115e-3, rel=1e-9)
    assert drag(30.0) == pytest.approx(2.115e-3, rel=1e-9)


def hot(**changes):
    """Sixty days, of which days 20 to 22 (UTC) are hot and calm but for what is changed."""
    weather = quiet(days=60)
    weather["air_temperature"] -= 10.0  # warmest hour 19 degC
    weather["wind_speed"][:] = 5.0
    three = slice(24 * 20, 24 * 23)
    values = {"air_temperature": 27.0, "wind_speed": 3.3} | changes
    for name, value in values.items():
        weather[name][three] = value
    return weather


def test_a_spells_days_are_hot_calm_and_sunny_at_the_least():
    table = hot_calm_spells(hot())
    assert table["days"].tolist() == [3] and table["warmest"].tolist() == [27.0]
    time = hot().time.to_index()
    assert table["start"][0] == time[24 * 20] and table["end"][0] == time[24 * 23]
    assert table["mean_wind"][0] == pytest.approx(3.3)
    assert len(hot_calm_spells(hot(air_temperature=26.9))) == 0
    assert len(hot_calm_spells(hot(wind_speed=3.4))) == 0


def test_a_spells_sun_is_told_in_megajoules_a_day_and_judged_by_its_neighbours():
    # 250 W/m2 on all days make 250 x 86,400 s = 21.6 MJ/m2
    even = put(hot(), "shortwave", slice(None), 250.0)
    assert hot_calm_spells(even)["sun"][0] == pytest.approx(21.6, rel=1e-12)
    three = slice(24 * 20, 24 * 23)
    assert len(hot_calm_spells(put(even, "shortwave", three, 0.71 * 250.0))) == 1
    assert len(hot_calm_spells(put(even, "shortwave", three, 0.69 * 250.0))) == 0
    assert len(hot_calm_spells(even.drop_vars("shortwave"))) == 1  # not known is not dull
    holes = put(even, "shortwave", slice(24 * 20, 24 * 20 + 7), np.nan)
    assert hot_calm_spells(holes)["days"].tolist() == [3]


def test_two_days_make_a_spell_and_one_does_not():
    for days, found in ((2, 1), (1, 0)):
        short = hot()
        short["wind_speed"][24 * (20 + days) : 24 * 23] = 5.0
        assert len(hot_calm_spells(short)) == found
    assert len(hot_calm_spells(short, thresholds={"spell": 1})) == 1


def warmed(by):
    """Quiet weather with the air warmer by ``by`` [degC], hour by hour."""
    weather = quiet()
    weather["air_temperature"][:] += by(np.arange(weather.time.size))
    return weather


def test_a_long_cooling_begins_two_days_before_its_coldest():
    # 3 degC a day for ten days: the warmest of the 48 h before the coldest is the first of them
    front = fronts(warmed(lambda hour: -3.0 * np.clip((hour - 960) / 24, 0, 10))).iloc[0]
    assert front["kind"] == "cooling"
    assert front["end"] - front["start"] == pd.Timedelta(hours=49)


def test_the_fall_is_from_the_warmest_mean_of_the_day_before_the_start_included():
    # 0.05 degC an hour up to hour 959, then 9 degC under the usual: the mean of the 24 h that end
    # there is 0.05 (99 - 11.5) = 4.375 degC over the usual, higher than any other
    front = fronts(
        warmed(lambda hour: np.where(hour < 960, 0.05 * np.clip(hour - 860, 0, None), -9.0))
    ).iloc[0]
    assert front["start"] == quiet().time.to_index()[959]
    assert front["temperature_fall"] == pytest.approx(13.375, abs=1e-6)
