"""What a record is worth, in a table and in sentences."""

import numpy as np
import pandas as pd
import pytest
from weather_helpers import invented_lake, invented_weather

from lakekit.club import Boat, Club, WeatherSource
from lakekit.weather import prepare_forcing, weather_coverage, weather_doubts
from lakekit.weather.schema import FORCING, METHODS, NEIGHBOUR_STATION, pack_flags
from lakekit.weather.summary import describe_forcing, shares

LAKE = invented_lake()


def station_record(**attrs):
    weather = invented_weather(24 * 400)
    methods = {name: np.zeros(weather.sizes["time"], dtype=int) for name in FORCING}
    methods["wind_speed"][:2400] = NEIGHBOUR_STATION
    weather["origin_flag"] = ("time", pack_flags(methods))
    weather.attrs = {
        "source": "weather station Field (1)",
        "attribution": "A, B",
        "licence": "CC0",
        "station_distance": 62.0,
        "height_difference": -210.0,
        **attrs,
    }
    return weather


def test_shares_add_up_to_the_hours():
    forcing = prepare_forcing(station_record(), LAKE)
    report = describe_forcing(forcing)
    share = shares(report.table)
    assert list(share.index) == list(FORCING)
    assert share[list(METHODS)].sum(axis=1).to_numpy() == pytest.approx(1.0)
    assert share.loc["wind_speed", "neighbour_station"] == pytest.approx(0.25)


def test_sentences_name_station_licence_and_methods():
    text = " ".join(describe_forcing(prepare_forcing(station_record(), LAKE)).sentences)
    assert "weather station Field (1), 2023-05-01 to 2024-06-03 (1.1 years)" in text
    assert "62 km from the lake and 210 m below it" in text
    assert "Wind: 75 % measured, 25 % from a neighbouring station." in text
    assert "Sunshine: 100 % estimated." in text
    assert "Data: A, B. Licence: CC0." in text


def test_doubts_say_what_lowers_confidence():
    doubts = " ".join(weather_doubts(prepare_forcing(station_record(), LAKE)))
    assert "25 % of the wind hours were not measured at the station" in doubts
    assert "62 km away" in doubts
    assert "210 m below it" in doubts
    assert "estimated from cloud" in doubts
    assert "Only 1 whole year of weather" in doubts
    no_cloud = station_record().drop_vars("cloud_cover")
    assert "temperature range" in " ".join(weather_doubts(prepare_forcing(no_cloud, LAKE)))


def test_a_near_whole_long_record_raises_no_doubt():
    weather = invented_weather(24 * 3660)
    forcing = prepare_forcing(weather, LAKE)
    weather["shortwave"] = forcing["shortwave"]
    weather["longwave"] = forcing["longwave"]
    assert weather_doubts(prepare_forcing(weather, LAKE)) == []


def test_one_call_for_a_lake_of_a_club(tmp_path):
    times = pd.date_range("2024-06-01", periods=240, freq="h")
    (tmp_path / "w.csv").write_text(
        "time,air_temp_c,wind_ms\n"
        + "".join(f"{t:%Y-%m-%d %H:%M},{15 + t.hour / 3:.1f},3\n" for t in times)
    )
    lake = invented_lake(weather=WeatherSource(station=None, file=tmp_path / "w.csv"))
    club = Club(
        tmp_path, "Club", "us", None, "crappie", Boat("Punt", 1.2, 2, 1, (0.3, 1.0)), {"mill": lake}
    )
    report = weather_coverage(club, "mill")
    assert report.table["hours"].groupby(report.table["variable"]).sum().eq(240).all()
    assert "Wind: 100 % measured." in report.sentences
    assert any("Humidity was not measured" in doubt for doubt in report.lowers)
