"""Grid files in the published conventions of open reanalyses, written from one known weather.

The weather is invented and the same everywhere but for a slope with latitude and longitude, so
that what a reader should find at a lake is known exactly.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.records import WeatherSource
from lakekit.weather.air import saturation_vapour_pressure
from lakekit.weather.sun import hourly_sun

LATITUDE, LONGITUDE = 40.1, -89.2
GRAVITY = 9.80665


def lake(paths, *, latitude=LATITUDE, longitude=LONGITUDE, elevation=200.0, **source):
    """A lake, as far as the weather asks for it."""
    return SimpleNamespace(
        key="pond", name="Mill Pond", latitude=latitude, longitude=longitude, elevation=elevation,
        weather=WeatherSource(station=None, grid=tuple(paths), **source),
    )  # fmt: skip


def truth(time, latitude=LATITUDE, longitude=LONGITUDE):
    """The invented weather at exact times [UTC]: SI, temperature in degC, sun above the air x 0.6.

    Parameters
    ----------
    time : DatetimeIndex
    latitude, longitude : arrays that broadcast to (y, x)
    """
    hours = (time - pd.Timestamp("2020-01-01")) / pd.Timedelta("1h")
    hours = np.asarray(hours, dtype=float)[:, None, None]
    slope = 2.0 * (np.asarray(latitude) - LATITUDE) + (np.asarray(longitude) - LONGITUDE)
    air = 12.0 + 6.0 * np.sin(2 * np.pi * (hours - 9) / 24) + slope
    return {
        "air": air,
        "dew": air - 5.0,
        "u": 3.0 + np.sin(2 * np.pi * hours / 24) + 0 * slope,
        "v": -4.0 + 0 * slope + 0 * hours,
        "pressure": 99000.0 + 100.0 * np.sin(2 * np.pi * hours / 240) + 0 * slope,
        "cloud": 0.5 + 0.4 * np.sin(2 * np.pi * hours / 100) + 0 * slope,
    }


def sun(start, hours):
    """Mean sun [W/m2] of the intervals that start at ``start`` and last ``hours``."""
    parts = [
        0.6 * hourly_sun(start + pd.Timedelta(hours=h), LATITUDE, LONGITUDE).extraterrestrial
        for h in range(hours)
    ]
    return np.mean(parts, axis=0)


def rain(start, hours):
    """Rain [mm] in the intervals: 1 mm in each hour from 03 to 05 UTC, every day."""
    return (
        sum(((start.hour + h) % 24 < 6) & ((start.hour + h) % 24 >= 3) for h in range(hours)) * 1.0
    )


def axes(step=0.25, size=4):
    """Latitude, north first, and longitude around the lake."""
    at = np.arange(size) * step
    return 40.5 - at, -89.6 + at


def spread(values, latitude, longitude):
    """A series given to every cell."""
    return np.broadcast_to(
        np.asarray(values)[:, None, None], (len(values), latitude.size, longitude.size)
    ).copy()


def expected(weather):
    """What should be found at the lake at its own height 200 m, hour by hour (label = start)."""
    time = weather["time"].to_index()
    start = truth(time)
    end = truth(time + pd.Timedelta("1h"))
    mean = {name: 0.5 * (start[name] + end[name])[:, 0, 0] for name in start}
    speed = [np.hypot(part["u"], part["v"])[:, 0, 0] for part in (start, end)]
    return mean | {"wind": 0.5 * (speed[0] + speed[1]), "sun": sun(time, 1), "rain": rain(time, 1)}


def era5(path, *, days=8, first="2020-06-01", step=1, height=True):
    """ERA5 single levels as the Climate Data Store serves them since 2024: `valid_time`, one
    variable each under its short name, units with `**`, `GRIB_stepType`, no usable standard name
    for most; accumulations of the hour that ends at the time.

    Sources (from memory): ECMWF, "ERA5: data documentation", tables 1-9 and "Accumulations";
    ECMWF, "GRIB to netCDF conversion on new CDS".
    """
    time = pd.date_range(first, periods=days * 24 // step, freq=f"{step}h")
    latitude, longitude = axes()
    known = truth(time, latitude[:, None], longitude[None, :])
    before = time - pd.Timedelta("1h")
    fields = {
        "t2m": (known["air"] + 273.15, "K", "unknown", "instant"),
        "d2m": (known["dew"] + 273.15, "K", "unknown", "instant"),
        "u10": (known["u"], "m s**-1", "eastward_wind", "instant"),
        "v10": (known["v"], "m s**-1", "northward_wind", "instant"),
        "sp": (known["pressure"], "Pa", "surface_air_pressure", "instant"),
        "tcc": (known["cloud"], "(0 - 1)", "cloud_area_fraction", "instant"),
        "ssrd": (spread(3600 * sun(before, 1), latitude, longitude), "J m**-2",
                 "surface_downwelling_shortwave_flux_in_air", "accum"),
        "strd": (spread(3600 * 300.0 * np.ones(time.size), latitude, longitude), "J m**-2",
                 "unknown", "accum"),
        "tp": (spread(rain(before, 1) / 1000, latitude, longitude), "m", "unknown", "accum"),
    }  # fmt: skip
    data = {
        name: (("valid_time", "latitude", "longitude"), values.astype("float32"),
               {"units": units, "standard_name": said, "GRIB_stepType": kind})
        for name, (values, units, said, kind) in fields.items()
    }  # fmt: skip
    if height:
        data["z"] = (
            ("latitude", "longitude"), np.full((4, 4), 300.0 * GRAVITY, "float32"),
            {"units": "m**2 s**-2", "standard_name": "geopotential", "GRIB_stepType": "instant"},
        )  # fmt: skip
    _coordinates(data, time, latitude, longitude, path, "valid_time")
    return path


def _coordinates(data, time, latitude, longitude, path, name, **options):
    xr.Dataset(
        data,
        coords={
            name: (name, time, {"standard_name": "time", "long_name": "time"}),
            "latitude": ("latitude", latitude, {"units": "degrees_north"}),
            "longitude": ("longitude", longitude, {"units": "degrees_east"}),
            "number": ((), 0), "expver": (name, np.full(time.size, "0001")),
        },
        attrs={"Conventions": "CF-1.7"},
    ).to_netcdf(path, **({"engine": "h5netcdf"} | options))  # fmt: skip


def era5_before_2024(path, *, days=8):
    """The same as the store served it before 2024: classic NetCDF, int16 with scale and offset,
    hours since 1900, longitudes 0 to 360, and `expver` 1 (final) and 5 (preliminary) along an axis
    of its own, each hour in one of them.

    Source (from memory): ECMWF, "ERA5: data documentation", "ERA5T"; NetCDF classic, 64-bit offset.
    """
    time = pd.date_range("2020-06-01", periods=days * 24, freq="h")
    latitude, longitude = axes()
    known = truth(time, latitude[:, None], longitude[None, :])
    before = time - pd.Timedelta("1h")
    fields = {
        "t2m": (known["air"] + 273.15, "K"), "d2m": (known["dew"] + 273.15, "K"),
        "u10": (known["u"], "m s**-1"), "v10": (known["v"], "m s**-1"),
        "msl": (known["pressure"] + 2000, "Pa"),
        "ssrd": (spread(3600 * sun(before, 1), latitude, longitude), "J m**-2"),
        "tp": (spread(rain(before, 1) / 1000, latitude, longitude), "m"),
    }  # fmt: skip
    data, encoding = {}, {}
    for name, (values, units) in fields.items():
        both = np.stack([values, values], axis=1)
        both[time.size // 2 :, 0] = np.nan
        both[: time.size // 2, 1] = np.nan
        data[name] = (("time", "expver", "latitude", "longitude"), both, {"units": units})
        low, high = np.nanmin(both), np.nanmax(both)
        encoding[name] = {
            "dtype": "int16", "_FillValue": np.int16(-32767),
            "scale_factor": max(high - low, 1e-9) / 65000, "add_offset": 0.5 * (low + high),
        }  # fmt: skip
    xr.Dataset(
        data,
        coords={
            "time": ("time", time, {"long_name": "time"}),
            "expver": ("expver", np.array([1, 5], "int32")),
            "latitude": ("latitude", latitude.astype("float32"), {"units": "degrees_north"}),
            "longitude": ("longitude", (longitude % 360).astype("float32"),
                          {"units": "degrees_east"}),
        },
    ).to_netcdf(
        path, engine="scipy", format="NETCDF3_64BIT",
        encoding=encoding | {"time": {"units": "hours since 1900-01-01 00:00:00.0",
                                      "dtype": "int32"}},
    )  # fmt: skip
    return path


def era5_land(path, *, days=8):
    """ERA5-Land: accumulations run from 00 UTC, the value at 00 UTC is the whole day before; cells
    over the sea are missing. Here the western column is sea.

    Source (from memory): Munoz-Sabater et al. 2021; ECMWF, "ERA5-Land: data documentation",
    "Accumulations".
    """
    time = pd.date_range("2020-06-01", periods=days * 24, freq="h")
    latitude, longitude = axes(0.1, 12)
    known = truth(time, latitude[:, None], longitude[None, :])
    before = time - pd.Timedelta("1h")
    day = before.normalize()

    def running(hourly):
        total = pd.Series(hourly).groupby(np.asarray(day)).cumsum().to_numpy()
        return spread(total, latitude, longitude)

    fields = {
        "t2m": (known["air"] + 273.15, "K"), "d2m": (known["dew"] + 273.15, "K"),
        "u10": (known["u"], "m s**-1"), "v10": (known["v"], "m s**-1"),
        "sp": (known["pressure"], "Pa"),
        "ssrd": (running(3600 * sun(before, 1)), "J m**-2"),
        "strd": (running(np.full(time.size, 3600 * 300.0)), "J m**-2"),
        "tp": (running(rain(before, 1) / 1000), "m"),
    }  # fmt: skip
    data = {}
    for name, (values, units) in fields.items():
        values = values.astype("float32")
        values[:, :, :1] = np.nan
        data[name] = (("valid_time", "latitude", "longitude"), values, {"units": units})
    _coordinates(data, time, latitude, longitude, path, "valid_time")
    return path


def merra2(folder, *, days=8):
    """MERRA-2: a file a day and collection, time means labelled in the middle of the hour, fields
    in capitals, 1e15 where missing, surface geopotential among the constants; 2 m humidity is
    specific.

    Source (from memory): Bosilovich, Lucchesi & Suarez 2016, GMAO Office Note 9: collections
    tavg1_2d_slv_Nx, tavg1_2d_rad_Nx, tavg1_2d_flx_Nx, const_2d_asm_Nx.
    """
    folder.mkdir()
    latitude, longitude = np.array([39.5, 40.0, 40.5]), np.array([-90.0, -89.375, -88.75])
    attrs = {"fmissing_value": np.float32(1e15), "vmax": np.float32(1e15)}
    shape = ("time", "lat", "lon")
    for day in range(days):
        start = pd.date_range(pd.Timestamp("2020-06-01") + pd.Timedelta(days=day), periods=24,
                              freq="h")  # fmt: skip
        known = truth(start + pd.Timedelta("30min"), latitude[:, None], longitude[None, :])
        vapour = 0.01 * 70.0 * saturation_vapour_pressure(known["air"])
        share = 0.622 * vapour / (0.01 * known["pressure"] - 0.378 * vapour)
        collections = {
            "slv": {"T2M": (known["air"] + 273.15, "K"), "QV2M": (share, "kg kg-1"),
                    "U10M": (known["u"], "m s-1"), "V10M": (known["v"], "m s-1"),
                    "PS": (known["pressure"], "Pa")},
            "rad": {"SWGDN": (spread(sun(start, 1), latitude, longitude), "W m-2"),
                    "CLDTOT": (known["cloud"], "1")},
            "flx": {"PRECTOTCORR": (spread(rain(start, 1) / 3600, latitude, longitude),
                                    "kg m-2 s-1")},
        }  # fmt: skip
        for collection, fields in collections.items():
            dataset = xr.Dataset(
                {name: (shape, values.astype("float32"), attrs | {"units": units})
                 for name, (values, units) in fields.items()},
                coords={
                    "time": ("time", 60 * np.arange(24),
                             {"units": f"minutes since {start[0]:%Y-%m-%d} 00:30:00"}),
                    "lat": ("lat", latitude, {"units": "degrees_north"}),
                    "lon": ("lon", longitude, {"units": "degrees_east"}),
                },
            )  # fmt: skip
            encoding = {name: {"_FillValue": np.float32(1e15)} for name in fields}
            dataset.to_netcdf(
                folder / f"MERRA2_400.tavg1_2d_{collection}_Nx.{start[0]:%Y%m%d}.nc4",
                engine="h5netcdf", encoding=encoding,
            )  # fmt: skip
    xr.Dataset(
        {"PHIS": (shape, np.full((1, 3, 3), 300.0 * GRAVITY, "float32"), {"units": "m2 s-2"})},
        coords={"time": ("time", [0], {"units": "minutes since 1992-01-02 00:00:00"}),
                "lat": ("lat", latitude, {"units": "degrees_north"}),
                "lon": ("lon", longitude, {"units": "degrees_east"})},
    ).to_netcdf(folder / "MERRA2_101.const_2d_asm_Nx.00000000.nc4", engine="h5netcdf")  # fmt: skip
    return folder


def regional(folder, *, days=8, step=3, calendar="standard", first="2020-06-01"):
    """Regional reanalysis on a projected grid: 3-hourly, `y` and `x` in metres, `lat` and `lon` of
    each cell, a file a variable, a level of size one at 2 and 10 m, rates that begin at their
    label, total cloud in per cent.

    Source (from memory): Mesinger et al. 2006, Bull. Am. Meteorol. Soc. 87:343-360 (NARR), as NOAA
    PSL distributes it in NetCDF; CF-1.11, section 5.6, for the coordinates.
    """
    folder.mkdir()
    time = pd.date_range(first, periods=days * 24 // step, freq=f"{step}h")
    east, north = np.meshgrid(np.arange(-3, 4) * 32.0, np.arange(-3, 4) * 32.0)
    turn = np.radians(20.0)  # the grid's axes are not those of the compass
    latitude = 40.0 + (np.cos(turn) * north + np.sin(turn) * east) / 111.2
    longitude = -89.0 + (np.cos(turn) * east - np.sin(turn) * north) / (
        111.2 * np.cos(np.radians(latitude)))  # fmt: skip
    known = truth(time, latitude, longitude)
    cells = np.ones((1, *latitude.shape))
    fields = {
        "air": (known["air"] + 273.15, "degK", 2.0), "rhum": (70.0 + 0 * known["air"], "%", 2.0),
        "uwnd": (known["u"], "m/s", 10.0), "vwnd": (known["v"], "m/s", 10.0),
        "pres": (known["pressure"], "Pa", None),
        "tcdc": (100 * known["cloud"], "%", None),
        "dswrf": (sun(time, step)[:, None, None] * cells, "W/m^2", None),
        "prate": (rain(time, step)[:, None, None] / (3600 * step) * cells, "kg/m^2/s", None),
    }  # fmt: skip
    for name, (values, units, level) in fields.items():
        dims, values = ("time", "y", "x"), values.astype("float32")
        coords = {
            "time": ("time", time), "lat": (("y", "x"), latitude, {"units": "degrees_north"}),
            "lon": (("y", "x"), longitude, {"units": "degrees_east"}),
            "y": ("y", north[:, 0] * 1000, {"standard_name": "projection_y_coordinate"}),
            "x": ("x", east[0] * 1000, {"standard_name": "projection_x_coordinate"}),
        }  # fmt: skip
        if level is not None:
            dims, values = ("time", "level", "y", "x"), values[:, None]
            coords["level"] = ("level", [level], {"units": "m"})
        xr.Dataset(
            {name: (dims, values, {"units": units, "grid_mapping": "Lambert_Conformal"})},
            coords=coords,
        ).to_netcdf(
            folder / f"{name}.2020.nc", engine="h5netcdf",
            encoding={"time": {"units": "hours since 1800-01-01", "dtype": "float64"}},
        )  # fmt: skip
    return folder


def climate_model(path, *, years=("2020", "2021"), calendar="365_day", step=6):
    """CORDEX-like model output: CF standard names, a calendar without leap days, time bounds and
    `cell_methods`, a scalar height of 2 or 10 m, surface altitude and land share in the file.

    Source (from memory): CORDEX archive design, variable table; CF-1.11, sections 4.4.1 and 7.
    """
    first, last = (f"{year}-{day}" for year, day in zip(years, ("02-20", "03-10"), strict=True))
    time = pd.date_range(first, last, freq=f"{step}h", inclusive="left")
    time = time[~((time.month == 2) & (time.day == 29))]
    start = pd.Timestamp("1949-12-01")
    leap = sum(pd.Timestamp(f"{y}-02-29") > start for y in range(1952, int(years[0]), 4))
    leaps = np.array([
        leap + sum(t > pd.Timestamp(f"{y}-02-29") for y in range(int(years[0]), t.year + 1)
                   if y % 4 == 0) for t in time])  # fmt: skip
    number = (time - start) / pd.Timedelta("1D") - leaps
    latitude, longitude = axes()
    known = truth(time, latitude[:, None], longitude[None, :])
    dims = ("time", "lat", "lon")
    point, mean = "time: point", "time: mean"
    fields = {
        "tas": (known["air"] + 273.15, "K", "air_temperature", point),
        "huss": (0.006 + 0 * known["air"], "1", "specific_humidity", point),
        "sfcWind": (np.hypot(known["u"], known["v"]), "m s-1", "wind_speed", point),
        "rsds": (spread(sun(time, step), latitude, longitude), "W m-2",
                 "surface_downwelling_shortwave_flux_in_air", mean),
        "pr": (spread(rain(time, step) / (3600 * step), latitude, longitude), "kg m-2 s-1",
               "precipitation_flux", mean),
    }  # fmt: skip
    data = {
        name: (dims, values.astype("float32"),
               {"units": units, "standard_name": said, "cell_methods": method})
        for name, (values, units, said, method) in fields.items()
    }  # fmt: skip
    number = np.asarray(number)
    data["time_bnds"] = (("time", "bnds"), np.stack([number, number + step / 24], axis=1))
    cells = np.ones((latitude.size, longitude.size))
    data["orog"] = (dims[1:], 300.0 * cells, {"units": "m", "standard_name": "surface_altitude"})
    data["sftlf"] = (dims[1:], 100 * cells, {"units": "%", "standard_name": "land_area_fraction"})
    xr.Dataset(
        data,
        coords={
            "time": ("time", number, {"units": "days since 1949-12-01 00:00:00",
                                      "calendar": calendar, "bounds": "time_bnds",
                                      "standard_name": "time"}),
            "lat": ("lat", latitude, {"standard_name": "latitude", "units": "degrees_north"}),
            "lon": ("lon", longitude, {"standard_name": "longitude", "units": "degrees_east"}),
        },
    ).to_netcdf(path, engine="h5netcdf")  # fmt: skip
    return path
