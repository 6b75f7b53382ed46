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
