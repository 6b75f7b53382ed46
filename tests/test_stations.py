"""Stations: meteostat itself, unmodified, against a loopback server with faults to order."""

import json
import socket
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from meteostat_server import (
    MODEL,
    WeatherServer,
    pull,
    stations_database,
    year_file,
)
from weather_helpers import invented_lake, invented_weather

from lakekit.club import read_club
from lakekit.resources import demo_folder
from lakekit.weather import lake_weather
from lakekit.weather.stations import rank_stations, wind_ratio
from lakekit.weather.stations.pulled import join_years
from lakekit.weather.stations.service import Station

NOW = "2023-12-01T00:30"
REQUEST = {"now": NOW, "start": "2022-01-01", "end": "2023-11-30T23:00"}
YEARS = (2022, 2023)
# (id, name, latitude, longitude, elevation): the lake lies at 40 N, 89 W, 190 m.
NEAR = ("72001", "Near Field", 40.05, -89.0, 180)
FAR = ("72002", "Far Field", 40.40, -89.0, 290)


def the_weather():
    weather = invented_weather(24 * (365 * 2), start="2022-01-01", seed=5)
    weather["air_pressure"] = weather["air_pressure"] + 23.0  # at sea level
    sunny = np.where(weather["cloud_cover"].values < 0.3, 3600.0, 0.0)
    day = np.isin(weather["time"].dt.hour.values, range(13, 23))
    weather["sunshine_duration"] = ("time", np.where(day, sunny, 0.0))
    weather["relative_humidity"].values[1000:1005] = 100.0
    return weather


TRUTH = the_weather()
ELSEWHERE = TRUTH.copy(deep=True)
ELSEWHERE["air_temperature"] = TRUTH["air_temperature"] - 0.0065 * 110  # 110 m higher
ELSEWHERE["wind_speed"] = TRUTH["wind_speed"] * 1.25
FILES = {
    f"/hourly/{year}/{station}.csv.gz": year_file(weather, year)
    for station, weather in ((NEAR[0], TRUTH), (FAR[0], ELSEWHERE))
    for year in YEARS
}
FILES["/stations.db"] = stations_database([FAR, NEAR])
ONLY_NEAR = {path: body for path, body in FILES.items() if FAR[0] not in path}
ONLY_NEAR["/stations.db"] = stations_database([NEAR])


def near(year):
    return f"/hourly/{year}/{NEAR[0]}.csv.gz"


def silent_from(when, until=None):
    def change(table):
        rows = table.index >= when
        if until:
            rows &= table.index < until
        return table[~rows]

    return change


EMPTY_YEAR = year_file(TRUTH, 2023, change=lambda table: table.iloc[:0])
NO_CLOUD = {near(year): year_file(TRUTH, year, drop=("cldc", "tsun")) for year in YEARS}
SILENT = {near(2023): year_file(TRUTH, 2023, change=silent_from("2023-07-01"))}
HOLE = {near(2022): year_file(TRUTH, 2022, change=silent_from("2022-07-01", "2022-08-15"))}
MODELLED = {near(2023): year_file(TRUTH, 2023, source=MODEL)}


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@dataclass
class Scenario:
    fault: str
    files: dict = field(default_factory=lambda: FILES)
    faults: dict = field(default_factory=dict)
    request: dict = field(default_factory=dict)
    refused: bool = False


SCENARIOS = {
    "none": Scenario("no fault"),
    "refused": Scenario("connection refused", refused=True),
    "hang": Scenario(
        "server never answers", faults={path: "hang" for path in FILES if "hourly" in path}
    ),
    "hanging database": Scenario(
        "stations database never answers", faults={"/stations.db": "hang"}
    ),
    "404": Scenario("404 for one year", faults={near(2023): "404"}),
    "500": Scenario("500 for one year", faults={near(2023): "500"}),
    "cut": Scenario("truncated gzip", faults={near(2023): "cut"}),
    "empty": Scenario("an empty year", files={**FILES, near(2023): EMPTY_YEAR}),
    "page as year": Scenario("HTML page in place of a year", faults={near(2023): "page"}),
    "page": Scenario("HTML page in place of the stations", faults={"/stations.db": "page"}),
    "cut database": Scenario("truncated stations database", faults={"/stations.db": "cut"}),
    "all 500": Scenario(
        "500 for everything", faults={path: "500" for path in FILES if "hourly" in path}
    ),
    "no cloud": Scenario("a station without cloud", files={**FILES, **NO_CLOUD}),
    "silent": Scenario("a station silent from July", files={**FILES, **SILENT}),
    "silent alone": Scenario("the same, with no neighbour", files={**ONLY_NEAR, **SILENT}),
    "hole alone": Scenario("six weeks missing, no neighbour", files={**ONLY_NEAR, **HOLE}),
    "model": Scenario("model rows in place of observations", files={**ONLY_NEAR, **MODELLED}),
    "named": Scenario("a station chosen by its id", request={"station": FAR[0]}),
    "unknown": Scenario("a station that is not near", request={"station": "99999"}),
    "none near": Scenario(
        "no station within 100 km",
        files={"/stations.db": stations_database([("1", "Away", 50.0, -89.0, 100)])},
    ),
}


def run(name, folder):
    scenario = SCENARIOS[name]
    request = {**REQUEST, "out": str(folder / "weather.nc"), **scenario.request}
    if scenario.refused:
        return pull(free_port(), folder / "cache", **request)
    with WeatherServer(scenario.files, scenario.faults) as server:
        answer = pull(server.port, folder / "cache", **request)
        answer["asked"] = list(server.asked)
    return answer


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """Every scenario run once, three at a time, each with a server and a process of its own."""
    folders = {name: tmp_path_factory.mktemp("scenario") for name in SCENARIOS}
    with ThreadPoolExecutor(3) as pool:
        jobs = {name: pool.submit(run, name, folders[name]) for name in SCENARIOS}
        result = {name: job.result() for name, job in jobs.items()}
    for name, answer in result.items():
        answer["folder"] = folders[name]
    return result


def opened(answer):
    with xr.open_dataset(answer["folder"] / "weather.nc", engine="h5netcdf") as weather:
        return weather.load()


def test_every_fault_ends_in_one_error_or_in_flagged_hours(answers, capsys):
    rows = []
    for name, scenario in SCENARIOS.items():
        answer = answers[name]
        if answer["outcome"] == "weather":
            flagged = max(
                sum(value for key, value in shares.items() if key != "measured")
                for variable, shares in answer["coverage"].items()
                if variable in ("air_temperature", "wind_speed", "cloud_cover")
            )
            text = answer["attrs"]["notes"] or "as it was served"
            rows.append((scenario.fault, f"weather, {flagged:.0%} flagged", text))
        else:
            message = answer["message"]
            assert "\n" not in message
            assert "Traceback" not in answer["stderr"]
            rows.append((scenario.fault, answer["outcome"], message))
    with capsys.disabled():
        print("\n\nfault | outcome | message")
        for row in rows:
            print(" | ".join(row))
    assert len(rows) == len(SCENARIOS)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("refused", "the list of weather stations could not be pulled: connection refused"),
        ("hang", "the server does not answer"),
        ("hanging database", "the list of weather stations could not be pulled: no answer"),
        ("page", "the server sent a web page in place of the list of weather stations"),
        ("cut database", "the server sent something else in place of the list"),
        ("all 500", "the server answered with status 500"),
        ("unknown", "station '99999' is not within 100 km of Mill Pond. The nearest are 72001"),
        ("none near", "no weather station within 100 km of Mill Pond"),
    ],
)
def test_faults_that_end_in_an_error(answers, name, words):
    assert answers[name]["outcome"] == "WeatherError"
    assert words in answers[name]["message"]


def test_a_dead_server_is_given_up_soon(answers):
    for name in ("refused", "hang", "hanging database"):
        assert answers[name]["seconds"] < 8


def test_values_units_and_labels(answers):
    """Wind in km/h, integer limits and rain at the end of its hour come out right."""
    weather = opened(answers["none"])
    truth = TRUTH.sel(time=weather["time"])
    assert weather.sizes["time"] == 24 * (365 * 2 - 31)
    wind = weather["wind_speed"].values
    assert wind == pytest.approx(truth["wind_speed"].values, abs=0.06 / 3.6)
    lapse = 0.0065 * (180 - 190)  # the station lies 10 m below the lake
    assert weather["air_temperature"].values == pytest.approx(
        truth["air_temperature"].values + lapse, abs=0.051
    )
    assert weather["relative_humidity"].values.max() == 100.0
    sunshine = weather["sunshine_duration"].values
    assert np.nanmax(sunshine) == 3600.0  # 60 minutes x 60 would wrap in an 8-bit integer
    assert np.array_equal(sunshine[:-1], truth["sunshine_duration"].values[:-1])
    rain = weather["precipitation"].values
    assert rain[:-1] == pytest.approx(truth["precipitation"].values[:-1], abs=0.051)
    cloud = weather["cloud_cover"].values
    assert cloud == pytest.approx(truth["cloud_cover"].values, abs=0.5 / 8 + 1e-9)
    assert weather["air_pressure"].attrs["level"] == "sea_level"


def test_both_clock_change_weekends_are_whole(answers):
    weather = opened(answers["none"])
    for weekend in ("2023-03-11", "2023-11-04"):
        part = weather.sel(time=slice(weekend, pd.Timestamp(weekend) + pd.Timedelta("47h")))
        truth = TRUTH.sel(time=part["time"])
        assert part.sizes["time"] == 48
        assert part["wind_speed"].values == pytest.approx(truth["wind_speed"].values, abs=0.02)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("404", "2023 of station 72001 is not on the server"),
        ("500", "the server answered with status 500"),
        ("cut", "the file was cut short"),
        ("empty", "2023 of station 72001 is empty"),
        ("page as year", "the file is not what its name says"),
    ],
)
def test_a_lost_year_comes_from_the_neighbour_flagged(answers, name, words):
    answer = answers[name]
    assert answer["outcome"] == "weather"
    assert words in answer["attrs"]["notes"]
    shares = answer["coverage"]["air_temperature"]
    assert shares["neighbour_station"] == pytest.approx(11 / 23, abs=0.002)
    assert shares["measured"] == pytest.approx(12 / 23, abs=0.002)
    weather = opened(answer)
    lost = weather.sel(time="2023")
    truth = TRUTH.sel(time=lost["time"])
    lapse = 0.0065 * (180 - 190)
    assert lost["air_temperature"].values == pytest.approx(
        truth["air_temperature"].values, abs=0.12 + abs(lapse)
    )
    # The neighbour's wind is a quarter stronger and is scaled to the station's.
    assert lost["wind_speed"].values.mean() == pytest.approx(
        truth["wind_speed"].values.mean(), rel=0.01
    )


def test_a_lost_year_is_asked_for_twice_where_it_may_help(answers):
    assert answers["404"]["asked"].count(near(2023)) == 1
    assert answers["cut"]["asked"].count(near(2023)) == 2


def test_a_long_hole_without_a_neighbour_comes_from_another_year_flagged(answers):
    answer = answers["hole alone"]
    assert answer["outcome"] == "weather"
    for name in ("air_temperature", "wind_speed"):
        assert answer["coverage"][name]["other_year"] == pytest.approx(45 / 699, abs=0.002)


def test_missing_cloud_comes_from_the_neighbour(answers):
    answer = answers["no cloud"]
    assert answer["coverage"]["cloud_cover"]["neighbour_station"] > 0.99
    assert answer["coverage"]["wind_speed"]["measured"] > 0.99
    assert "Far Field (72002, 44 km, +100 m)" in answer["attrs"]["notes"]


def test_a_silent_station_is_continued_or_ends_the_record(answers):
    silent = answers["silent"]
    assert silent["last"] == "2023-11-30T23:00"
    assert silent["coverage"]["wind_speed"]["neighbour_station"] == pytest.approx(5 / 23, abs=0.01)
    assert answers["silent alone"]["last"] == "2023-06-30T23:00"
    assert "the record ends on 2023-06-30" in answers["silent alone"]["attrs"]["notes"]


def test_model_rows_do_not_count_as_observations(answers):
    assert answers["model"]["last"] == "2022-12-31T23:00"


def test_a_named_station_is_used(answers):
    assert answers["named"]["attrs"]["station"] == FAR[0]
    assert answers["none"]["attrs"]["station"] == NEAR[0]


def test_attribution_is_carried(answers):
    attrs = answers["none"]["attrs"]
    assert "Meteostat" in attrs["attribution"]
    assert "CC0 1.0 Universal" in attrs["licence"]
    assert float(attrs["station_distance"]) == pytest.approx(5.6, abs=0.1)
    assert attrs["kind"] == "observations"


def test_an_interruption_is_resumed_and_a_dead_network_bridged(tmp_path):
    """Interrupted, resumed, refreshed after an hour, cut off, then one kept year damaged."""
    request = {**REQUEST, "end": None}
    cache = tmp_path / "cache"
    with WeatherServer(FILES) as server:
        first = pull(server.port, cache, **request, interrupt_after=2)
        assert first["outcome"] == "interrupted"
        before = list(server.asked)
        assert len(before) == 2  # the stations and one year
        second = pull(server.port, cache, **request)
        after = server.asked[len(before) :]
        assert second["outcome"] == "weather"
        assert after == [near(2023)]
        server.asked.clear()
        pull(server.port, cache, **{**request, "now": "2023-12-01T01:15"})
        assert server.asked == []  # the running year is three quarters of an hour old
        pull(server.port, cache, **{**request, "now": "2023-12-01T01:45"})
        assert server.asked == [near(2023)]
    later = pull(free_port(), cache, **{**request, "now": "2023-12-06T01:45"})
    assert later["outcome"] == "weather"
    assert (
        "connection refused): using what was kept, last pulled 5 days ago"
        in (later["attrs"]["notes"])
    )
    kept = cache / "weather" / NEAR[0] / "2022.npz"
    raw = bytearray(kept.read_bytes())
    raw[len(raw) // 2] ^= 0xFF
    kept.write_bytes(raw)
    with WeatherServer(FILES) as server:
        mended = pull(server.port, cache, **{**request, "now": "2023-12-01T01:50"})
        assert server.asked == [near(2022)]
    for name in ("air_temperature", "wind_speed", "cloud_cover"):
        assert mended["coverage"][name] == second["coverage"][name]


def test_a_store_that_cannot_be_written_is_said_in_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    with WeatherServer(FILES) as server:
        answer = pull(server.port, tmp_path / "file" / "cache", **REQUEST)
    assert answer["outcome"] == "weather"
    assert "pulled years are not kept" in answer["attrs"]["notes"]
    assert "\n" not in answer["attrs"]["notes"]


def test_fifteen_years_in_under_sixty_requests(tmp_path):
    """Fifteen years with a spoiled main station and four neighbours, none with cloud."""
    one = invented_weather(24 * 366, start="2020-01-01", seed=3)
    body = {}
    for year in range(2009, 2024):
        moved = one.isel(time=slice(0, 24 * 365)).assign_coords(
            time=pd.date_range(f"{year}-01-01", periods=24 * 365, freq="h")
        )
        body[year] = year_file(moved, year, drop=("cldc",))
    stations = [(str(72100 + i), f"Field {i}", 40.0 + 0.1 * (i + 1), -89.0, 190) for i in range(6)]
    files = {
        f"/hourly/{year}/{station[0]}.csv.gz": body[year] for station in stations for year in body
    }
    files["/stations.db"] = stations_database(stations)
    with WeatherServer(files) as server:
        answer = pull(server.port, tmp_path, now="2023-12-31T23:30")
        assert len(server.asked) < 60
    assert answer["outcome"] == "weather"
    assert answer["first"] == "2009-01-01T00:00"
    assert sum("pulling" in text for text in answer["progress"]) == len(server.asked) - 1
    assert "the day's temperature range" in json.dumps(answer["attrs"]) or (
        answer["coverage"]["cloud_cover"]["estimated"] == 1.0
    )


# The library refuses a forecast that ends before today, so tests ask for one far ahead.
FORECAST_NOW = "2099-12-01T00:30"


def served_csv(weather):
    """The CSV file that says just what the server says, units and rounding included."""
    table = pd.DataFrame(
        {
            "time": weather["time"].to_index().strftime("%Y-%m-%d %H:%M"),
            "temp": np.round(weather["air_temperature"].values, 1),
            "rhum": np.round(weather["relative_humidity"].values, 0),
            "wspd": np.round(weather["wind_speed"].values * 3.6, 1),
            "pres": np.round(weather["air_pressure"].values, 1),
            "cldc": np.round(weather["cloud_cover"].values * 8, 0),
            "prcp": np.round(weather["precipitation"].values, 1),
        }
    )
    return table.to_csv(index=False)


WEATHER_TABLE = """
[weather.columns]
air_temp_c = "temp"
rel_hum_pct = "rhum"
wind_ms = "wspd"
pressure_hpa = "pres"
cloud_pct = "cldc"
precip_mm = "prcp"
[weather.units]
wind_ms = "km/h"
pressure_hpa = "hPa at sea level"
cloud_pct = "oktas"
"""


def differences(left, right, path=""):
    """Paths at which two guides differ."""
    if isinstance(left, dict) and isinstance(right, dict):
        return [
            found
            for key in left.keys() | right.keys()
            for found in differences(left.get(key), right.get(key), f"{path}/{key}")
        ]
    if isinstance(left, list) and isinstance(right, list) and len(left) == len(right):
        return [
            found
            for i, pair in enumerate(zip(left, right, strict=True))
            for found in differences(*pair, f"{path}/{i}")
        ]
    return [] if left == right else [path]


def test_a_lake_from_a_station_has_the_guide_it_has_from_a_file(tmp_path):
    """The demo's shallow lake, four years of its weather, served and read from a file."""
    club = read_club(demo_folder())
    lake = club.lakes["teal-marsh"]
    weather = lake_weather(club, lake, start="2022-01-01")
    weather["air_pressure"] = weather["air_pressure"] + 22.0
    files = {
        f"/hourly/{year}/{NEAR[0]}.csv.gz": year_file(weather, year) for year in range(2022, 2027)
    }
    files["/stations.db"] = stations_database(
        [(NEAR[0], "Near", lake.latitude, lake.longitude, lake.elevation)]
    )

    original = (demo_folder() / "lakes" / "teal-marsh.toml").read_text()
    head, rest = original.split("[weather]")
    rules = rest[rest.index("[rules]") :]
    folders = {}
    for name, source in (
        ("station", '[weather]\nstation = "auto"\n'),
        ("file", f'[weather]\nfile = "weather/served.csv"\n{WEATHER_TABLE}'),
    ):
        folder = tmp_path / name
        (folder / "lakes").mkdir(parents=True)
        (folder / "weather").mkdir()
        for item in ("club.toml", "trips.csv"):
            (folder / item).write_bytes((demo_folder() / item).read_bytes())
        (folder / "lakes" / "teal-marsh.toml").write_text(head + source + rules)
        (folder / "weather" / "served.csv").write_text(served_csv(weather))
        folders[name] = str(folder)
    with WeatherServer(files) as server:
        answer = pull(
            server.port, tmp_path / "cache", guides=folders, months=3, now="2026-07-17T00:30"
        )
    where = differences(answer["station"], answer["file"])
    # Only where the weather comes from differs: its line on each page and one fact of the lake.
    assert {tuple(path.split("/")[1:3]) for path in where} <= {
        ("weather", "text"),
        ("lake", "facts"),
    }, where
    assert len(where) == 2
    assert "Meteostat" in answer["station"]["weather"]["text"]
    assert answer["station"]["months"][0]


def forecast_body(hours=60):
    steps = [*range(hours), *range(hours, 9 * 24, 6)]
    series = []
    for step in steps:
        moment = pd.Timestamp("2099-12-01T01:00") + pd.Timedelta(hours=step)
        data = {
            "instant": {
                "details": {
                    "air_temperature": 5.0 + step % 24 / 10,
                    "cloud_area_fraction": 50.0,
                    "relative_humidity": 80.0,
                    "wind_speed": 4.0,
                    "air_pressure_at_sea_level": 1015.0,
                }
            }
        }
        if step < hours:
            data["next_1_hours"] = {
                "details": {"precipitation_amount": 0.2},
                "summary": {"symbol_code": "rain"},
            }
        series.append({"time": moment.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
    return json.dumps({"properties": {"timeseries": series}}).encode()


def test_a_forecast_is_pulled_apart(tmp_path):
    with WeatherServer({"/forecast": forecast_body()}) as server:
        answer = pull(
            server.port, tmp_path, now=FORECAST_NOW, forecast=True, out=str(tmp_path / "f.nc")
        )
    assert answer["outcome"] == "weather"
    assert answer["attrs"]["kind"] == "forecast"
    assert answer["attrs"]["attribution"].endswith("MET Norway")
    assert not (tmp_path / "weather" / "stations.db").exists()
    with xr.open_dataset(tmp_path / "f.nc", engine="h5netcdf") as forecast:
        assert forecast["wind_speed"].values == pytest.approx(4.0)
        assert forecast["cloud_cover"].values == pytest.approx(0.5)
        assert np.isfinite(forecast["air_temperature"].values).all()
        assert forecast["precipitation"].values[:59] == pytest.approx(0.2)
    assert answer["coverage"]["wind_speed"]["interpolated"] > 0.4


def test_a_forecast_that_cannot_be_had_is_one_error(tmp_path):
    answer = pull(free_port(), tmp_path, now=FORECAST_NOW, forecast=True)
    assert answer["outcome"] == "WeatherError"
    assert "no forecast for Mill Pond" in answer["message"]
    assert "\n" not in answer["message"]


# Without a server


def test_ranking_by_distance_height_and_inventory():
    lake = invented_lake(elevation=200.0)
    stations = [
        Station("a", "A", 40, -89, 900.0, 5.0),
        Station("b", "B", 40, -89, 210.0, 30.0),
        Station("c", "C", 40, -89, 200.0, 2.0),
        Station("d", "D", 40, -89, 200.0, 60.0),
    ]
    rows = [
        {"station": key, "parameter": name, "start": "2000-01-01", "end": "2024-01-01"}
        for key in "abd"
        for name in ("temp", "wspd")
    ]
    ranked = rank_stations(
        stations,
        pd.DataFrame(rows),
        lake,
        start=pd.Timestamp("2010-01-01"),
        end=pd.Timestamp("2023-01-01"),
    )
    assert [item.station.id for item in ranked] == ["b", "d", "a", "c"]
    assert ranked[2].score == pytest.approx(5 + 70)


def test_wind_of_a_neighbour_is_scaled_within_bounds():
    wind = np.full(1000, 3.0)
    assert wind_ratio(wind, np.full(1000, 4.0)) == pytest.approx(0.75)
    assert wind_ratio(wind, np.full(1000, 30.0)) == 0.5
    few = np.where(np.arange(1000) < 100, 4.0, np.nan)
    assert wind_ratio(wind, few) == 1.0


def test_years_join_on_one_axis():
    pieces = {2021: {"x": np.arange(8760.0)}, 2022: None, 2023: {"x": np.arange(8760.0)}}
    axis, arrays = join_years(
        pieces, pd.Timestamp("2021-12-31 22:00"), pd.Timestamp("2023-01-01 01:00")
    )
    assert arrays["x"][:2].tolist() == [8758.0, 8759.0]
    assert np.isnan(arrays["x"][2:-2]).all()
    assert arrays["x"][-2:].tolist() == [0.0, 1.0]
    assert axis.size == arrays["x"].size
