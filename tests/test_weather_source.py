"""Which of the sources a lake file names serves, and what is said of an old record."""

from types import SimpleNamespace

import grid_files as files
import numpy as np
import pandas as pd
import pytest

from lakekit.errors import WeatherError
from lakekit.records import WeatherSource
from lakekit.weather import lake_weather

HOURS = pd.date_range("2020-06-01", periods=24 * 3, freq="h")


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("LAKEKIT_CACHE", str(tmp_path / "cache"))


def club(folder, *, invented=False):
    return SimpleNamespace(folder=folder, lakes={}, invented=invented)


def lake_of(**source):
    lake = files.lake([])
    lake.weather = WeatherSource(**source)
    return lake


def written(folder, header="time,air_temp_c,wind_ms"):
    path = folder / "w.csv"
    lines = [f"{hour:%Y-%m-%d %H:%M},20,3" for hour in HOURS]
    path.write_text("\n".join([header, *lines]) + "\n")
    return path


def no_station(*_arguments, **_options):
    raise WeatherError("no station within reach")


def test_an_old_record_is_told_with_its_age_to_whoever_listens(tmp_path):
    lake, said = lake_of(station=None, file=written(tmp_path)), []
    last = HOURS[-1]
    ask = {"now": last + pd.Timedelta(days=100), "progress": said.append}
    lake_weather(club(tmp_path), lake, **ask)
    assert said == [f"{lake.name}: the weather record ended 100 days ago, on 2020-06-03: what is "
                    "called now is that day"]  # fmt: skip
    said.clear()
    lake_weather(club(tmp_path), lake, **ask | {"now": last + pd.Timedelta(days=45)})
    lake_weather(club(tmp_path), lake, end=last, **ask)  # a past time was asked for
    lake_weather(club(tmp_path, invented=True), lake, **ask)  # its record has no today
    assert said == []


def test_where_no_station_serves_the_grid_stands_alone_and_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr("lakekit.weather.stations.fetch_weather", no_station)
    grid = files.era5(tmp_path / "g.nc", days=3)
    both, alone = (
        lake_weather(club(tmp_path), lake_of(station=station, grid=(grid,)))
        for station in ("auto", None)
    )
    assert "no station serves (" in both.attrs["notes"] and "within reach" in both.attrs["notes"]
    assert "no station" not in (alone.attrs["notes"] or "")
    for name in alone.data_vars:
        np.testing.assert_array_equal(both[name], alone[name], err_msg=name)
    with pytest.raises(WeatherError, match="no station within reach"):
        lake_weather(club(tmp_path), lake_of(station="auto"))


def test_a_file_that_cannot_be_read_is_told_even_where_a_grid_could_stand(tmp_path):
    grid = files.era5(tmp_path / "g.nc", days=3)
    path = written(tmp_path)
    filled = lake_weather(club(tmp_path), lake_of(station=None, file=path, grid=(grid,)))
    assert (filled["air_temperature"].sel(time=HOURS[12:-12]) == 20.0).all()
    assert np.isfinite(filled["shortwave"].sel(time=HOURS[12:-12])).all()  # the grid's
    path.write_text("nothing\n1\n")
    with pytest.raises(WeatherError):
        lake_weather(club(tmp_path), lake_of(station=None, file=path, grid=(grid,)))


def test_a_wrong_unit_is_told_with_the_lake_file_it_stands_in(tmp_path):
    path = written(tmp_path)
    lake = lake_of(station=None, file=path.relative_to(tmp_path), units={"wind_ms": "furlong"})
    with pytest.raises(WeatherError) as caught:
        lake_weather(club(tmp_path), lake)
    assert caught.value.where == f"lakes/{lake.key}.toml, [weather.units]"
    assert "furlong" in caught.value.what and caught.value.mend
