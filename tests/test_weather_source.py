"""Which of the sources a lake file names serves, and what is said of an old record."""

from types import SimpleNamespace

import grid_files as files
import numpy as np
import pandas as pd
import pytest

from lakekit.errors import WeatherError
from lakekit.records import WeatherSource
from lakekit.weather import lake_weather
from lakekit.weather.schema import make_weather

HOURS = pd.date_range("2020-06-01", periods=48, freq="h")


@pytest.fixture
def grid(monkeypatch):
    """What the files of a grid hold, whatever their names."""
    values = {"air_temperature": np.full(48, 11.0), "shortwave": np.arange(48.0)}
    held = make_weather(HOURS, values, attrs={"source": "a grid", "notes": "0.25 degrees"})
    monkeypatch.setattr("lakekit.weather.gridded.grid_weather", lambda *_, **options: held)
    return held


@pytest.fixture
def no_station(monkeypatch):
    def refuse(*_, **options):
        raise WeatherError("no station within reach")

    monkeypatch.setattr("lakekit.weather.stations.fetch_weather", refuse)


def club(folder, *, invented=False):
    return SimpleNamespace(folder=folder, lakes={}, invented=invented)


def lake_of(**source):
    lake = files.lake([])
    lake.weather = WeatherSource(**source)
    return lake


def written(folder):
    lines = [f"{hour:%Y-%m-%d %H:%M},20,3" for hour in HOURS]
    (folder / "w.csv").write_text("\n".join(["time,air_temp_c,wind_ms", *lines]) + "\n")
    return folder / "w.csv"


def test_an_old_record_is_told_with_its_age_to_whoever_listens(tmp_path):
    lake, said = lake_of(station=None, file=written(tmp_path)), []
    last = HOURS[-1]
    ask = {"now": last + pd.Timedelta(days=100), "progress": said.append}
    lake_weather(club(tmp_path), lake, **ask)
    assert said == [f"{lake.name}: the weather record ended 100 days ago, on 2020-06-02: what is "
                    "called now is that day"]  # fmt: skip
    said.clear()
    lake_weather(club(tmp_path), lake, **ask | {"now": last + pd.Timedelta(days=45)})
    lake_weather(club(tmp_path), lake, end=last, **ask)  # a past time was asked for
    lake_weather(club(tmp_path, invented=True), lake, **ask)  # its record has no today
    assert said == []


def test_where_no_station_serves_the_grid_stands_alone_and_says_so(tmp_path, grid, no_station):
    both, alone = (
        lake_weather(club(tmp_path), lake_of(station=station, grid=("g.nc",)))
        for station in ("auto", None)
    )
    assert both.attrs["notes"] == "0.25 degrees; no station serves (no station within reach)"
    assert both.equals(grid) and alone.identical(grid)
    with pytest.raises(WeatherError, match="no station within reach"):
        lake_weather(club(tmp_path), lake_of(station="auto"))


def test_a_grid_fills_a_files_holes_and_hides_none_of_its_faults(tmp_path, grid):
    path = written(tmp_path)
    lake = lake_of(station=None, file=path, grid=("g.nc",))
    filled = lake_weather(club(tmp_path), lake, start="2020-06-01T12:00", end="2020-06-02T05:00")
    assert (filled["air_temperature"] == 20.0).all()
    assert filled["shortwave"].values.tolist() == list(range(12, 30))  # of the same hours
    path.write_text("nothing\n1\n")
    with pytest.raises(WeatherError):
        lake_weather(club(tmp_path), lake)


def test_a_wrong_unit_is_told_with_the_lake_file_it_stands_in(tmp_path):
    path = written(tmp_path)
    lake = lake_of(station=None, file=path.relative_to(tmp_path), units={"wind_ms": "furlong"})
    with pytest.raises(WeatherError) as caught:
        lake_weather(club(tmp_path), lake)
    assert caught.value.where == f"lakes/{lake.key}.toml, [weather.units]"
    assert "furlong" in caught.value.what and caught.value.mend
