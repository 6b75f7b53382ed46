"""Gridded weather: files in published conventions read back as the weather they were made of.

The convention of each is named with its source in ``grid_files.py``.
"""

import grid_files as files
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.errors import WeatherError
from lakekit.guide.lake import describe_lake
from lakekit.lakefile import check_lake, read_lake
from lakekit.weather import fill_method, lake_weather, prepare_forcing, weather_doubts
from lakekit.weather.gridded import fill_from_grid, grid_weather
from lakekit.weather.gridded.fields import FIELDS, read_unit
from lakekit.weather.gridded.place import Place, cells_around
from lakekit.weather.gridded.read import scan
from lakekit.weather.gridded.times import decode_time
from lakekit.weather.schema import FORCING, GRID, INTERPOLATED, MEASURED, make_weather


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("LAKEKIT_CACHE", str(tmp_path / "cache"))


def read(paths, **said):
    lake = files.lake(paths, **said)
    return grid_weather(lake.weather, lake)


def inner(weather, name):
    """All but the first and last hour, which no interval of the file covers whole."""
    return weather[name].values[1:-1]


LAPSE = 0.65  # degC: 0.0065 K/m (ISO 2533:1975) from cells at 300 m to a lake at 200 m


@pytest.mark.parametrize("make, moved", [
    (lambda folder: [files.era5(folder / "era5.nc")], LAPSE),
    (lambda folder: [files.era5_before_2024(folder / "old.nc")], 0.0),
    (lambda folder: [files.era5_land(folder / "land.nc")], 0.0),
    (lambda folder: sorted(files.merra2(folder / "merra").glob("*.nc4")), LAPSE),
], ids=["ERA5", "ERA5 before 2024", "ERA5-Land", "MERRA-2"])  # fmt: skip
def test_hourly_reanalyses_are_read_as_downloaded(tmp_path, make, moved):
    weather = read(make(tmp_path))
    known = files.expected(weather)
    # the instants of four cells and float32 cost some hundredths of a degree
    assert inner(weather, "air_temperature") - moved == pytest.approx(known["air"][1:-1], abs=0.06)
    assert inner(weather, "wind_speed") == pytest.approx(known["wind"][1:-1], abs=0.01)
    assert inner(weather, "shortwave") == pytest.approx(known["sun"][1:-1], abs=0.02)
    assert inner(weather, "precipitation") == pytest.approx(known["rain"][1:-1], abs=1e-3)
    assert np.all(
        (inner(weather, "relative_humidity") > 69) & (inner(weather, "relative_humidity") < 73)
    )
    assert weather.attrs["kind"] == "grid"
    forcing = prepare_forcing(weather, files.lake([]))
    assert np.all(fill_method(forcing, "air_temperature") == GRID)
    assert np.all(fill_method(forcing, "shortwave")[1:-1] == GRID)
    assert any("not measured at a station" in doubt for doubt in weather_doubts(forcing))


def test_era5_pressure_comes_to_the_lake_and_longwave_from_joules(tmp_path):
    weather = read([files.era5(tmp_path / "era5.nc")])
    assert weather["air_pressure"].attrs["level"] == "lake"
    # 990 hPa at 300 m and 12 degC is 1001.9 hPa 100 m lower (hypsometric equation, WMO-No. 8)
    assert float(weather["air_pressure"].mean()) == pytest.approx(1001.9, abs=1.5)
    assert inner(weather, "longwave") == pytest.approx(300.0, abs=0.01)


def test_three_hourly_fields_on_a_turned_projection(tmp_path):
    folder = files.regional(tmp_path / "regional")
    weather = read(sorted(folder.glob("*.nc")))
    known = files.expected(weather)
    assert inner(weather, "air_temperature") == pytest.approx(known["air"][1:-1], abs=0.8)
    assert inner(weather, "shortwave") == pytest.approx(known["sun"][1:-1], abs=1.5)
    assert weather["precipitation"].sum() == pytest.approx(known["rain"].sum(), abs=1e-3)
    assert weather["shortwave"].mean() == pytest.approx(known["sun"].mean(), rel=1e-4)
    forcing = prepare_forcing(weather, files.lake([]))
    assert {GRID, INTERPOLATED} == set(fill_method(forcing, "wind_speed"))


def test_a_calendar_without_leap_days_leaves_29_february_open(tmp_path):
    path = files.climate_model(tmp_path / "model.nc", years=("2020", "2020"))
    lake = files.lake([path])
    weather = grid_weather(lake.weather, lake)
    leap_day = weather.sel(time="2020-02-29")
    assert np.isnan(leap_day["air_temperature"].values[1:]).all()
    assert "29 February" in weather.attrs["notes"]
    known = files.expected(weather)
    later = (weather["time"] >= np.datetime64("2020-03-02")).values
    shortwave = weather["shortwave"].values[later][:-6]
    assert shortwave == pytest.approx(known["sun"][later][:-6], abs=1.5)
    assert np.isfinite(prepare_forcing(weather, lake)["air_temperature"].values).all()


@pytest.mark.parametrize(
    "number, day",
    [(0, "1949-12-01"), (31, "1950-01-01"), (365 * 2 + 90, "1952-03-01"), (365, "1950-12-01")],
)
def test_days_of_a_365_day_year_become_dates(number, day):
    # counted by hand from CF-1.11, section 4.4.1: noleap has no 29 February
    attrs = {"units": "days since 1949-12-01", "calendar": "noleap"}
    assert decode_time(np.array([number + 0.25]), attrs, [], where="x")[0] == np.datetime64(
        f"{day}T06:00:00"
    )


def test_bilinear_and_nearest(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6, height=False)
    here = {"latitude": 40.1875, "longitude": -89.225}  # inside a cell, off its middle
    smooth, nearest = read([path], **here), read([path], **here, cell="nearest")
    time = smooth["time"].to_index()[:-1]

    def known(latitude, longitude):
        parts = [files.truth(at, latitude, longitude)["air"] for at in (time, time + time.freq)]
        return 0.5 * (parts[0] + parts[1])[:, 0, 0]

    # the invented weather slopes evenly, so that bilinear weights give it back
    assert smooth["air_temperature"].values[:-1] == pytest.approx(known(**here), abs=1e-3)
    cell = known(40.25, -89.1)
    assert nearest["air_temperature"].values[:-1] == pytest.approx(cell, abs=1e-3)


def test_longitudes_from_0_to_360_go_round():
    place = Place(("y", "x"), np.array([50.0, 51.0]), (np.arange(0, 360, 2.0) + 180) % 360 - 180)
    near = files.lake([], latitude=50.5, longitude=-0.5)
    cells, weights = cells_around(place, near, method="bilinear", where="grid")
    share = {}
    for (_, x), weight in zip(cells.tolist(), weights, strict=True):
        share[x] = share.get(x, 0.0) + weight
    assert share == pytest.approx({179: 0.25, 0: 0.75})


def test_a_curved_grid_and_its_axes_agree():
    latitude, longitude = np.arange(38, 43, 0.5), np.arange(-92, -87, 0.5)
    axes = Place(("y", "x"), latitude, longitude)
    curved = Place(("y", "x"), *np.meshgrid(latitude, longitude, indexing="ij"))
    for at in ((40.1, -89.2), (38.2, -91.9), (42.4, -87.6)):
        lake = files.lake([], latitude=at[0], longitude=at[1])
        flat, bent = (cells_around(place, lake, method="bilinear", where="g")
                      for place in (axes, curved))  # fmt: skip
        assert np.array_equal(flat[0], bent[0])
        assert flat[1] == pytest.approx(bent[1], abs=0.01)


def test_all_lakes_of_a_grid_are_read_in_one_pass(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    lakes = [files.lake([path], latitude=39.8 + 0.1 * i) for i in range(6)]
    told = []
    together = [grid_weather(one.weather, one, lakes=lakes, progress=told.append) for one in lakes]
    assert len(told) == 1 and "kept" in told[0]
    alone = [grid_weather(one.weather, one) for one in lakes]
    for one, other in zip(together, alone, strict=True):
        xr.testing.assert_identical(one, other)


def test_a_lake_added_later_reads_only_cells_that_no_lake_had(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    south, near, between = (files.lake([path], latitude=north) for north in (39.8, 39.9, 40.2))
    told = []
    grid_weather(south.weather, south, lakes=[south], progress=told.append)
    grid_weather(near.weather, near, lakes=[south, near], progress=told.append)
    added = grid_weather(between.weather, between, lakes=[south, near, between],
                         progress=told.append)  # fmt: skip
    assert [line.split(",")[0] for line in told] == [
        f"era5.nc: reading {count} cells" for count in (4, 2)
    ]
    cache = tmp_path / "cache" / "grids"
    assert len([path for path in cache.glob("*/*/points.npy")]) == 2
    for path in cache.iterdir():
        path.rename(tmp_path / "away")
    xr.testing.assert_identical(added, grid_weather(between.weather, between))


def test_a_lake_outside_the_grid_stops_no_other(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    inside, outside = files.lake([path]), files.lake([path], latitude=47.0)
    assert grid_weather(inside.weather, inside, lakes=[inside, outside]).sizes["time"] > 24
    with pytest.raises(WeatherError, match="lies outside the grid"):
        grid_weather(outside.weather, outside, lakes=[inside, outside])


def test_the_same_weather_in_any_split_into_files(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    folder = tmp_path / "parts"
    folder.mkdir()
    with xr.open_dataset(path, decode_times=False, engine="h5netcdf") as whole:
        for name in ("t2m", "d2m", "u10", "v10"):
            whole[[name]].to_netcdf(folder / f"{name}.nc", engine="h5netcdf")
        rest = whole.drop_vars(["t2m", "d2m", "u10", "v10"])
        rest.isel(valid_time=slice(50, None)).to_netcdf(folder / "b.nc", engine="h5netcdf")
        rest.isel(valid_time=slice(0, 70)).to_netcdf(folder / "c.nc", engine="h5netcdf")
    parts = read(sorted(folder.glob("*.nc")))
    xr.testing.assert_allclose(parts, read([path]))


def test_a_station_keeps_its_hours_and_the_grid_fills_the_rest(tmp_path):
    grid = read([files.era5(tmp_path / "era5.nc")])
    lake, time = files.lake([]), grid["time"].to_index()
    mine = {
        "air_temperature": np.full(time.size, 20.0),
        "wind_speed": np.full(time.size, 4.0),
        "air_pressure": np.full(time.size, 1013.0),
    }
    for values in mine.values():
        values[30:60] = np.nan
    station = make_weather(time, mine, pressure_level="sea_level", attrs={"source": "station"})
    both = fill_from_grid(station, grid, lake)
    hole = np.zeros(time.size, bool)
    hole[30:60] = True
    assert np.all(both["air_temperature"].values[~hole] == 20.0)
    assert both["air_temperature"].values[hole] == pytest.approx(
        grid["air_temperature"].values[hole]
    )
    # the lake's pressure, 200 m up, back at sea level: about 24 hPa more (standard atmosphere)
    rise = both["air_pressure"].values[hole] - grid["air_pressure"].values[hole]
    assert rise == pytest.approx(24.0, abs=1.5)
    forcing = prepare_forcing(both, lake)
    assert np.array_equal(fill_method(forcing, "air_temperature") == GRID, hole)
    assert np.array_equal(fill_method(forcing, "air_temperature") == MEASURED, ~hole)
    assert np.all(fill_method(forcing, "shortwave")[:-1] == GRID)
    assert "holes filled from grid" in both.attrs["notes"]


def test_a_grid_that_ends_before_the_record_begins(tmp_path):
    grid = read([files.era5(tmp_path / "era5.nc", days=6)])
    time = pd.date_range("2021-01-01", periods=48, freq="h")
    station = make_weather(time, {"air_temperature": np.zeros(48), "wind_speed": np.ones(48)})
    with pytest.raises(WeatherError, match=r"grid runs from 2020-06-01 to 2020-06-06.*2021-01-01"):
        fill_from_grid(station, grid, files.lake([]))


LAKE_FILE = """name = "Mill Pond"
latitude = 40.1
longitude = -89.2
time_zone = "America/Chicago"
area = "20 ha"
max_depth = "8 m"
elevation = "200 m"
[weather]
grid = {grid}
"""


@pytest.mark.parametrize("grid", ['"weather/g.nc"', '"weather"', '["weather/g.nc"]'])
def test_a_lake_file_names_a_grid(tmp_path, grid):
    (tmp_path / "weather").mkdir()
    (tmp_path / "lakes").mkdir()
    path = files.era5(tmp_path / "weather" / "g.nc", days=6)
    (tmp_path / "lakes" / "pond.toml").write_text(LAKE_FILE.format(grid=grid))
    lake = read_lake(tmp_path / "lakes" / "pond.toml")
    assert lake.weather.grid == (path,) and lake.weather.station is None
    assert ("Weather", "grid g.nc") in describe_lake(lake, "metric")
    club = type("Club", (), {"lakes": {"pond": lake}, "folder": tmp_path})
    weather = lake_weather(club, "pond", start="2020-06-02", end="2020-06-04 00:00")
    assert weather.sizes["time"] == 49
    with pytest.raises(WeatherError, match="no hours between 2022-01-01 and None: it runs from"):
        lake_weather(club, "pond", start="2022-01-01")


def test_a_lake_file_with_no_such_grid(tmp_path):
    path = tmp_path / "pond.toml"
    path.write_text(LAKE_FILE.format(grid='"weather/no.nc"'))
    findings = check_lake(path)
    assert (
        "grid weather/no.nc does not exist"
        in findings[findings["severity"] == "error"].iloc[0]["finding"]
    )


def damaged(path, tmp_path, change):
    """A copy of a file with its content changed."""
    with xr.open_dataset(path, decode_times=False, engine="h5netcdf") as dataset:
        made = change(dataset.load())
    made.to_netcdf(tmp_path / "changed.nc", engine="h5netcdf")
    return [tmp_path / "changed.nc"]


def units(name, text):
    return lambda dataset: dataset.assign({name: dataset[name].assign_attrs(units=text)})


@pytest.mark.parametrize("change, said, message", [
    (None, {"latitude": 47.0}, r"era5.nc: Mill Pond at 47.00 N, -89.20 E lies outside the grid"),
    (None, {"longitude": 89.2}, r"outside the grid, which spans 39.75 to 40.50 N and -89.60"),
    (units("t2m", "degC"), {}, r"air temperature comes to .* outside -65 to 55 .*unit is wrong"),
    (units("u10", "furlong"), {}, r"u10 \(eastward wind\) has the unit 'furlong'"),
    (units("ssrd", "MJ m-2"), {}, r"sunshine comes to .* of what reaches the top of the air"),
    (lambda d: d.assign({"t2m": d["t2m"] * np.nan}), {}, r"over the sea or hold no values"),
    (lambda d: d.assign(lsm=(("latitude", "longitude"), np.zeros((4, 4)), {"units": "(0 - 1)"})),
     {}, r"over the sea or hold no values"),
    (lambda d: d.drop_vars("u10"), {}, r"no second component of the wind"),
    (lambda d: d.drop_vars("t2m"), {}, r"the grid has no air temperature"),
    (lambda d: d.isel(valid_time=slice(0, None, 12)), {}, r"stands every 12 hours"),
    (lambda d: d.assign_coords(valid_time=d["valid_time"].assign_attrs(calendar="360_day")), {},
     r"calendar is '360_day'"),
    (lambda d: d.assign_coords(valid_time=(d["valid_time"] + 9).assign_attrs(
        d["valid_time"].attrs)), {}, r"of its sunshine falls into the night"),
    (lambda d: d.drop_vars(["latitude", "longitude"]), {}, r"no latitude and longitude are found"),
    (lambda d: d.isel(number=0, missing_dims="ignore").expand_dims(member=3), {},
     r"(no air temperature|3 values along 'member')"),
])  # fmt: skip
def test_faults_are_one_line(tmp_path, change, said, message):
    paths = [files.era5(tmp_path / "era5.nc", days=6)]
    if change is not None:
        paths = damaged(paths[0], tmp_path, change)
    with pytest.raises(WeatherError, match=message) as caught:
        read(paths, **said)
    assert "\n" not in str(caught.value)
    kept = tmp_path / "cache" / "grids"
    assert not kept.exists() or not [path for path in kept.iterdir() if path.name[0] == "."]


@pytest.mark.parametrize("content, message", [
    (lambda raw: raw[: len(raw) // 2], "damaged or was cut short"),
    (lambda raw: b"", "is empty, not a NetCDF file"),
    (lambda raw: b"GRIB" + raw, "is a GRIB file"),
    (lambda raw: b"PK\x03\x04" + raw, "is a zip archive"),
    (lambda raw: b"<html>", "is a web page"),
])  # fmt: skip
def test_files_that_are_no_netcdf(tmp_path, content, message):
    path = files.era5(tmp_path / "era5.nc", days=6)
    path.write_bytes(content(path.read_bytes()))
    with pytest.raises(WeatherError, match=message) as caught:
        read([path])
    assert "\n" not in str(caught.value)


def test_a_file_that_is_gone(tmp_path):
    with pytest.raises(WeatherError, match=r"gone\.nc: cannot be read: No such file"):
        read([tmp_path / "gone.nc"])


def test_a_file_damaged_within_its_values(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    with xr.open_dataset(path, decode_times=False, engine="h5netcdf") as dataset:
        packed = {name: {"zlib": True, "fletcher32": True} for name in ("t2m", "ssrd")}
        dataset.load().to_netcdf(tmp_path / "packed.nc", engine="h5netcdf", encoding=packed)
    path = tmp_path / "packed.nc"
    import h5py

    with h5py.File(path) as file:
        at = file["t2m"].id.get_chunk_info(0).byte_offset
    raw = bytearray(path.read_bytes())
    raw[at + 10 : at + 60] = bytes(50)
    path.write_bytes(raw)
    with pytest.raises(WeatherError, match="damaged or was cut short"):
        read([path])
    assert not [item for item in (tmp_path / "cache" / "grids").iterdir()]


def test_names_and_units_that_a_file_does_not_say(tmp_path):
    path = files.era5(tmp_path / "era5.nc", days=6)
    strange = damaged(path, tmp_path, lambda d: d.rename(t2m="field_11").assign(
        ssrd=d["ssrd"].assign_attrs(units="mystery")))  # fmt: skip
    with pytest.raises(WeatherError, match="has the unit 'mystery'"):
        read(strange, columns={"air_temp_c": "field_11"})
    said = {"columns": {"air_temp_c": "field_11"}, "units": {"shortwave_wm2": "J m-2"}}
    weather = read(strange, **said)
    xr.testing.assert_allclose(weather, read([path]))
    with pytest.raises(WeatherError, match="no variable 'field_12'"):
        scan(tuple(strange), {"air_temp_c": "field_12"}, {"shortwave_wm2": "J m-2"})


@pytest.mark.parametrize("name, unit, value, inside", [
    ("air_temperature", "K", 293.15, 20.0), ("air_pressure", "Pa", 101325.0, 1013.25),
    ("shortwave", "J m**-2", 3.6e6, 3.6e6), ("precipitation", "kg m-2 s-1", 1 / 3600, 1.0),
    ("precipitation", "m", 0.001, 1.0), ("cloud_cover", "%", 50.0, 0.5),
    ("height", "m**2 s**-2", 980.665, 100.0), ("wind_speed", "km/h", 36.0, 10.0),
])  # fmt: skip
def test_units_by_hand(name, unit, value, inside):
    factor, offset, _ = read_unit(FIELDS[name], unit, name=name, where="x")
    assert value * factor + offset == pytest.approx(inside)


def test_every_forcing_field_can_come_from_a_grid():
    assert set(FORCING) <= set(FIELDS)
