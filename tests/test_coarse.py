"""Weather files with readings hours apart."""

import numpy as np
import pandas as pd
import pytest
from weather_helpers import invented_lake, invented_weather

from lakekit.errors import WeatherError
from lakekit.weather.forcing import fill_method, prepare_forcing
from lakekit.weather.schema import ESTIMATED, INTERPOLATED, MEASURED
from lakekit.weather.sun import hourly_sun
from lakekit.weather.tables import read_weather

LAKE = invented_lake()


def written(tmp_path, *, hours, ends=False, drop=()):
    """Ten invented days as a file with a row every ``hours`` hours, and the hourly truth."""
    truth = invented_weather(240)
    time = truth["time"].to_index()
    sun = hourly_sun(time, LAKE.latitude, LAKE.longitude)
    truth["shortwave"] = ("time", 0.6 * sun.extraterrestrial)
    truth["sunshine_duration"] = ("time", 0.5 * 3600.0 * sun.daylight)
    steps = truth.resample(time=f"{hours}h")
    table = pd.DataFrame(
        {
            "time": time[::hours] + pd.Timedelta(hours=hours if ends else 0),
            "air_temp_c": truth["air_temperature"].values[::hours],
            "rel_hum_pct": truth["relative_humidity"].values[::hours],
            "wind_ms": truth["wind_speed"].values[::hours],
            "shortwave_wm2": steps.mean()["shortwave"].values,
            "sunshine_min": steps.sum()["sunshine_duration"].values / 60.0,
            "precip_mm": steps.sum()["precipitation"].values,
        }
    )
    path = tmp_path / "coarse.csv"
    table.drop(index=list(drop)).to_csv(path, index=False)
    return path, truth


@pytest.mark.parametrize("hours", [2, 3, 6])
def test_the_sun_takes_its_own_shape(tmp_path, hours):
    path, truth = written(tmp_path, hours=hours)
    weather = read_weather(path, lake=LAKE)
    same = truth.sel(time=weather["time"])
    # the truth has the sun's shape, so that every hour comes back
    for name, slack in (("shortwave", 4.0), ("sunshine_duration", 2.0)):
        assert np.abs(weather[name].values - same[name].values).max() < slack


@pytest.mark.parametrize("hours", [2, 3, 6])
def test_rain_is_spread_and_its_sum_kept(tmp_path, hours):
    path, truth = written(tmp_path, hours=hours)
    rain = read_weather(path, lake=LAKE)["precipitation"].values
    whole = rain.size // hours * hours
    assert rain[:whole].sum() == pytest.approx(truth["precipitation"].values[:whole].sum())
    assert np.ptp(rain[:whole].reshape(-1, hours), axis=1).max() < 1e-12


def test_readings_are_joined_by_lines_and_flagged(tmp_path):
    path, truth = written(tmp_path, hours=3)
    forcing = prepare_forcing(read_weather(path, lake=LAKE), LAKE)
    air, true = forcing["air_temperature"].values, truth["air_temperature"].values
    assert air[::3] == pytest.approx(true[: air.size : 3])
    assert air[4] == pytest.approx((2 * true[3] + true[6]) / 3)
    flags = fill_method(forcing, "air_temperature")
    assert set(flags[::3]) == {MEASURED}
    assert set(flags[1::3]) == {INTERPOLATED}
    assert set(fill_method(forcing, "precipitation")) == {INTERPOLATED}
    assert set(fill_method(forcing, "shortwave")) == {INTERPOLATED}
    assert set(fill_method(forcing, "longwave")) == {ESTIMATED}


def test_labels_that_end_their_step_tell_of_the_hours_before(tmp_path):
    path, truth = written(tmp_path, hours=6, ends=True)
    weather = read_weather(path, units={"time": "UTC, end of hour"}, lake=LAKE)
    same = truth["shortwave"].sel(time=weather["time"].values[:-1])
    assert np.abs(weather["shortwave"].values[:-1] - same.values).max() < 4.0


def test_a_missing_row_stays_a_hole_in_the_file_and_is_filled_later(tmp_path):
    path, _ = written(tmp_path, hours=2, drop=[50])
    weather = read_weather(path, lake=LAKE)
    assert np.isnan(weather["wind_speed"].values[99:102]).all()
    assert not np.isnan(weather["wind_speed"].values[[98, 102]]).any()
    assert np.isnan(weather["precipitation"].values[100:102]).all()
    assert np.isfinite(prepare_forcing(weather, LAKE)["wind_speed"].values).all()


def test_sun_without_a_place_is_refused(tmp_path):
    path, _ = written(tmp_path, hours=3)
    with pytest.raises(WeatherError, match="lake's place"):
        read_weather(path)


def test_six_hours_of_sunshine_are_no_mistake_and_ten_are(tmp_path):
    path, _ = written(tmp_path, hours=6)
    table = pd.read_csv(path)
    for minutes, fine in ((360.0, True), (600.0, False)):
        table.loc[3, "sunshine_min"] = minutes
        table.to_csv(path, index=False)
        if fine:
            read_weather(path, lake=LAKE)
        else:
            with pytest.raises(WeatherError, match="sunshine_min"):
                read_weather(path, lake=LAKE)
