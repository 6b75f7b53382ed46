"""The complete forcing: whole, flagged, moved to the lake."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from weather_helpers import invented_lake, invented_weather

from lakekit.club import Boat, Club, WeatherSource
from lakekit.errors import WeatherError
from lakekit.store import load_dataset, save_dataset
from lakekit.strata.traces import prepare_parts
from lakekit.weather import coverage, fill_method, lake_weather, prepare_forcing
from lakekit.weather.air import pressure_change, standard_pressure, wind_to_height
from lakekit.weather.schema import (
    ESTIMATED,
    FORCING,
    INTERPOLATED,
    MEASURED,
    METHODS,
    NEARBY_DAYS,
    NEIGHBOUR_STATION,
    VARIABLES,
    pack_flags,
)
from lakekit.weather.sun import hourly_sun

LAKE = invented_lake()
WEATHER = invented_weather()
OPTIONAL = [
    "relative_humidity",
    "air_pressure",
    "cloud_cover",
    "sunshine_duration",
    "shortwave",
    "longwave",
    "precipitation",
]


def everything():
    weather = WEATHER.copy()
    forcing = prepare_forcing(WEATHER, LAKE)
    for name in ("shortwave", "longwave"):
        weather[name] = ("time", forcing[name].values)
    sunny = np.where(forcing["cloud_cover"].values < 0.4, 3600.0, 600.0)
    weather["sunshine_duration"] = ("time", sunny)
    return weather


EVERYTHING = everything()


def test_what_is_measured_passes_unchanged():
    forcing = prepare_forcing(EVERYTHING, LAKE)
    for name in FORCING:
        expected = EVERYTHING[name].values
        if name == "air_pressure":
            continue
        assert forcing[name].values == pytest.approx(expected, rel=1e-12), name
        assert (fill_method(forcing, name) == MEASURED).all()
    assert forcing["fill_flag"].dtype == np.int32


def test_a_forcing_is_not_prepared_twice():
    forcing = prepare_forcing(WEATHER, LAKE)
    assert prepare_forcing(forcing, LAKE) is forcing


@pytest.mark.parametrize(
    "moved", [{"latitude": 0.06}, {"longitude": -0.06}, {"elevation": 51.0}], ids=str
)
def test_another_lakes_forcing_is_refused(moved, tmp_path):
    save_dataset(prepare_forcing(WEATHER, LAKE), tmp_path / "forcing.nc")
    forcing = load_dataset(tmp_path / "forcing.nc")
    ((name, by),) = moved.items()
    other = dataclasses.replace(LAKE, key="other", **{name: getattr(LAKE, name) + by})
    near = dataclasses.replace(LAKE, **{name: getattr(LAKE, name) + 0.8 * by})
    assert prepare_forcing(forcing, near) is forcing
    for serve in (prepare_forcing, prepare_parts):
        with pytest.raises(WeatherError, match=f"made for mill, at {name}"):
            serve(forcing, other)


@settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
@given(
    st.sets(st.sampled_from(OPTIONAL)),
    st.lists(
        st.tuples(
            st.sampled_from([*OPTIONAL, "air_temperature", "wind_speed"]),
            st.integers(0, 24 * 60 - 1),
            st.integers(1, 900),
        ),
        max_size=8,
    ),
)
def test_whatever_is_missing_nothing_is_nan_or_unflagged(absent, cuts):
    weather = EVERYTHING.drop_vars(list(absent)).copy(deep=True)
    for name, start, length in cuts:
        if name in weather:
            weather[name].values[start : start + length] = np.nan
    try:
        forcing = prepare_forcing(weather, LAKE)
    except WeatherError as refusal:
        limit = 0.2 * weather.sizes["time"]
        holes = {
            name: int(np.isnan(weather[name].values).sum())
            for name in ("air_temperature", "wind_speed")
        }
        assert max(holes.values()) > min(limit, 21 * 24)
        assert "missing for" in str(refusal) or "no " in str(refusal)
        return
    for name in FORCING:
        values = forcing[name].values
        assert np.isfinite(values).all(), name
        assert values.min() >= VARIABLES[name].low
        assert values.max() <= VARIABLES[name].high
        given = ~np.isnan(weather[name].values) if name in weather else np.zeros(1, dtype=bool)
        methods = fill_method(forcing, name)
        assert (methods[~np.broadcast_to(given, methods.shape)] != MEASURED).all(), name
        if name in weather:
            assert (methods[given] == MEASURED).all(), name
    assert (forcing["shortwave"].values >= 0).all()


def test_flags_say_how():
    weather = EVERYTHING.copy(deep=True)
    weather["air_temperature"].values[100:104] = np.nan
    weather["air_temperature"].values[300:400] = np.nan
    weather["shortwave"].values[207:209] = np.nan
    weather["cloud_cover"].values[200:220] = np.nan
    weather = weather.drop_vars(["longwave", "sunshine_duration"])
    forcing = prepare_forcing(weather, LAKE)
    temperature = fill_method(forcing, "air_temperature")
    assert (temperature[100:104] == INTERPOLATED).all()
    assert (temperature[300:400] == NEARBY_DAYS).all()
    assert (fill_method(forcing, "cloud_cover")[200:220] == ESTIMATED).all()
    assert (fill_method(forcing, "shortwave")[207:209] == INTERPOLATED).all()
    assert (fill_method(forcing, "longwave") == ESTIMATED).all()
    assert "Brutsaert" in forcing.attrs["sky"]


def test_hours_of_a_neighbour_keep_their_flag():
    weather = WEATHER.copy(deep=True)
    methods = {name: np.zeros(weather.sizes["time"], dtype=int) for name in FORCING}
    methods["cloud_cover"][:] = NEIGHBOUR_STATION
    weather["origin_flag"] = ("time", pack_flags(methods))
    weather["cloud_cover"].values[500:504] = np.nan
    forcing = prepare_forcing(weather, LAKE)
    cloud = fill_method(forcing, "cloud_cover")
    assert (cloud[500:504] == INTERPOLATED).all()
    assert (np.delete(cloud, np.r_[500:504]) == NEIGHBOUR_STATION).all()


@pytest.mark.parametrize(
    ("kept", "words"),
    [
        (["cloud_cover"], "Kasten & Czeplak"),
        (["sunshine_duration"], "FAO-56 eq. 35"),
        (["precipitation"], "Thornton & Running"),
        ([], "FAO-56 eq. 50"),
        (["shortwave"], "measured shortwave"),
    ],
)
def test_the_sky_says_which_estimate_served(kept, words):
    weather = EVERYTHING[["air_temperature", "wind_speed", "relative_humidity", *kept]]
    forcing = prepare_forcing(weather, LAKE)
    assert words in forcing.attrs["sky"]


def test_estimated_sun_follows_the_evidence():
    """Cloud, sunshine and temperature range all tell the dull days from the bright ones."""
    truth = EVERYTHING["shortwave"].values.reshape(-1, 24).sum(axis=1)
    for kept, at_least in (
        (["cloud_cover"], 0.999),
        (["sunshine_duration"], 0.7),
        (["precipitation"], 0.3),
    ):
        weather = EVERYTHING[["air_temperature", "wind_speed", "relative_humidity", *kept]]
        estimate = prepare_forcing(weather, LAKE)["shortwave"].values.reshape(-1, 24).sum(axis=1)
        assert np.corrcoef(truth, estimate)[0, 1] > at_least


def test_cloud_is_recovered_from_measured_sun():
    weather = EVERYTHING.drop_vars(["cloud_cover", "sunshine_duration"])
    cloud = prepare_forcing(weather, LAKE)["cloud_cover"].values
    midday = np.isin(EVERYTHING["time"].dt.hour.values, range(15, 22))
    seen = EVERYTHING["cloud_cover"].values[midday] > 0.4  # thin cloud hardly dims the sun
    assert (
        np.abs(cloud[midday][seen] - EVERYTHING["cloud_cover"].values[midday][seen]).mean() < 0.05
    )


def test_longwave_hears_of_cloud_from_measured_sun():
    weather = EVERYTHING.drop_vars(["cloud_cover", "sunshine_duration", "longwave"])
    dull = weather.copy(deep=True)
    dull["shortwave"].values[:] *= 0.3
    bright = prepare_forcing(weather, LAKE)["longwave"].values
    assert (prepare_forcing(dull, LAKE)["longwave"].values - bright).mean() > 15


def test_wind_comes_to_ten_metres():
    weather = WEATHER.copy(deep=True)
    weather["wind_speed"].attrs["wind_height"] = 3.0
    forcing = prepare_forcing(weather, LAKE)
    expected = wind_to_height(WEATHER["wind_speed"].values, measured=3.0)
    assert forcing["wind_speed"].values == pytest.approx(expected, rel=1e-12)
    assert forcing["wind_speed"].attrs["wind_height"] == 10.0


def test_pressure_comes_to_the_lake():
    high = dataclasses.replace(LAKE, elevation=1500.0)
    standard = float(standard_pressure(1500.0))
    none = prepare_forcing(WEATHER.drop_vars("air_pressure"), high)
    assert none["air_pressure"].values == pytest.approx(standard, rel=1e-12)
    assert (fill_method(none, "air_pressure") == ESTIMATED).all()

    sea = WEATHER.copy(deep=True)
    sea["air_pressure"] = ("time", np.full(sea.sizes["time"], 1013.25))
    for level in ("sea_level", "not said"):  # at 1,500 m only sea level can read 1013
        sea["air_pressure"].attrs["level"] = level
        pressure = prepare_forcing(sea, high)["air_pressure"].values
        expected = pressure_change(1013.25, sea["air_temperature"].values, rise=1500.0)
        assert pressure == pytest.approx(expected, rel=1e-12)

    at_lake = sea.copy(deep=True)
    at_lake["air_pressure"] = ("time", np.full(sea.sizes["time"], 850.0), {"level": "not said"})
    assert prepare_forcing(at_lake, high)["air_pressure"].values == pytest.approx(850.0)


def test_humidity_may_be_absent():
    forcing = prepare_forcing(WEATHER.drop_vars("relative_humidity"), LAKE)
    assert (fill_method(forcing, "relative_humidity") == ESTIMATED).all()
    humidity = forcing["relative_humidity"].values
    assert 40 < humidity.mean() < 90
    assert "FAO-56 eq. 48" in forcing.attrs["sky"]


def test_a_variable_missing_past_its_limit_is_refused():
    weather = WEATHER.copy(deep=True)
    weather["wind_speed"].values[: 24 * 22] = np.nan
    with pytest.raises(WeatherError, match=r"wind speed is missing for 36\.7%.*22\.0 days"):
        prepare_forcing(weather, LAKE)
    with pytest.raises(WeatherError, match="no wind speed in the record at all"):
        prepare_forcing(WEATHER.drop_vars("wind_speed"), LAKE)


def test_faults_of_the_record_are_named():
    with pytest.raises(WeatherError, match="not hourly after 2023-05-02"):
        prepare_forcing(WEATHER.isel(time=np.delete(np.arange(1440), 40)), LAKE)
    wrong = WEATHER.copy(deep=True)
    wrong["air_temperature"].values[5] = 300.0
    with pytest.raises(WeatherError, match="air_temperature = 300"):
        prepare_forcing(wrong, LAKE)


def test_coverage_adds_up():
    weather = WEATHER.copy(deep=True)
    weather["air_temperature"].values[100:200] = np.nan
    table = coverage(prepare_forcing(weather, LAKE))
    assert table[list(METHODS)].sum(axis=1).to_numpy() == pytest.approx(1.0)
    assert table["hours"].groupby(table["variable"]).sum().eq(1440).all()
    may = table[(table["variable"] == "air_temperature") & (table["month"] == "2023-05-01")]
    assert may["nearby_days"].item() == pytest.approx(100 / (31 * 24))


def test_a_forcing_goes_to_netcdf_and_back(tmp_path):
    forcing = prepare_forcing(WEATHER, LAKE)
    forcing.to_netcdf(tmp_path / "f.nc", engine="h5netcdf")
    with xr.open_dataset(tmp_path / "f.nc", engine="h5netcdf") as back:
        assert np.array_equal(fill_method(back, "shortwave"), fill_method(forcing, "shortwave"))
        assert np.array_equal(back["shortwave"].values, forcing["shortwave"].values)


def test_the_next_hour_does_not_change_the_last(tmp_path):
    """A record cut after a whole part gives the same measured hours (no look-ahead)."""
    whole = prepare_forcing(EVERYTHING, LAKE)
    cut = prepare_forcing(EVERYTHING.isel(time=slice(0, 720)), LAKE)
    for name in FORCING:
        assert cut[name].values == pytest.approx(whole[name].values[:720], rel=1e-12)


def test_a_lake_reads_its_own_file(tmp_path):
    (tmp_path / "weather").mkdir()
    times = pd.date_range("2024-06-01", periods=72, freq="h")
    (tmp_path / "weather" / "w.csv").write_text(
        "when,air_temp_c,wind_ms\n" + "".join(f"{t:%Y-%m-%d %H:%M},68,3\n" for t in times)
    )
    source = WeatherSource(
        station=None,
        file=tmp_path / "weather" / "w.csv",
        columns={"time": "when"},
        units={"air_temp_c": "F"},
        attribution="Invented",
        licence="CC0-1.0",
    )
    lake = invented_lake(weather=source)
    boat = Boat("Punt", 1.2, 2, 1, (0.3, 1.0))
    club = Club(tmp_path, "Club", "us", None, "crappie", boat, {"mill": lake})
    weather = lake_weather(club, "mill")
    assert weather["air_temperature"].values == pytest.approx(20.0)
    assert weather.attrs["attribution"] == "Invented"
    assert weather.attrs["licence"] == "CC0-1.0"
    assert lake_weather(club, lake, start="2024-06-02").sizes["time"] == 48
    with pytest.raises(WeatherError, match="no lake 'pond'"):
        lake_weather(club, "pond")


def test_thirteen_years_are_prepared_quickly():
    """Two lakes of 13 years must fit in a guide's half minute many times over."""
    import time

    weather = invented_weather(13 * 8766)
    weather["cloud_cover"].values[5000:9000] = np.nan
    start = time.perf_counter()
    prepare_forcing(weather, LAKE)
    assert time.perf_counter() - start < 3.0


def test_measured_sunshine_says_more_of_the_sun_than_cloud_does():
    # FAO-56 eq. 35: a bright hour lets 0.75 of the extraterrestrial through and a dull one 0.25,
    # whatever the cloud reported beside it
    hours = np.arange(WEATHER.sizes["time"])
    bright = (hours // 24) % 2 == 0
    weather = WEATHER.assign(
        cloud_cover=("time", np.full(hours.size, 0.7)),
        sunshine_duration=("time", np.where(bright, 3600.0, 0.0)),
    )
    sun = hourly_sun(weather["time"].values, LAKE.latitude, LAKE.longitude)
    high = sun.sine_while_up > 0.5
    share = prepare_forcing(weather, LAKE)["shortwave"].values / np.maximum(
        sun.extraterrestrial, 1.0
    )
    assert share[high & bright].mean() == pytest.approx(0.75, abs=0.02)
    assert share[high & ~bright].mean() == pytest.approx(0.25, abs=0.02)
