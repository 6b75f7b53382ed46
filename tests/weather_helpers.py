"""An invented lake and invented weather for the weather tests."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.club import Lake, WeatherSource
from lakekit.weather.schema import VARIABLES


def invented_lake(
    *, latitude=40.0, longitude=-89.0, elevation=190.0, weather=None, time_zone="America/Chicago"
):
    return Lake(
        key="mill",
        name="Mill Pond",
        latitude=latitude,
        longitude=longitude,
        time_zone=time_zone,
        area=1.0e6,
        max_depth=10.0,
        elevation=elevation,
        mean_depth=4.0,
        longest_fetch=1500.0,
        depths=np.array([0.0, 10.0]),
        areas=np.array([1.0e6, 0.0]),
        depth_area_source="invented",
        secchi=np.full(12, 1.0),
        secchi_source="lake file",
        below_full_pond=np.zeros(12),
        fertility="eutrophic",
        surroundings="mixed",
        weather=weather or WeatherSource(),
    )


def invented_weather(hours=24 * 60, *, start="2023-05-01", seed=1, variables=None):
    """A complete, believable record; `variables` limits what it holds."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(start, periods=hours, freq="h", unit="ns")
    hour = np.arange(hours)
    daily = np.cos(2 * np.pi * (hour - 21) / 24)
    spell = np.convolve(rng.normal(size=hours + 72), np.ones(73) / 8.5, mode="valid")
    cloud = np.clip(0.5 + 0.4 * spell, 0, 1)
    values = {
        "air_temperature": 18 + 6 * daily * (1 - 0.5 * cloud) + 3 * spell,
        "relative_humidity": np.clip(65 - 15 * daily + 10 * cloud, 20, 100),
        "wind_speed": rng.gamma(2.0, 1.5, size=hours),
        "air_pressure": 992 - 6 * spell,
        "cloud_cover": cloud,
        "precipitation": np.where(rng.random(hours) < 0.05, 1.5, 0.0),
    }
    keep = variables or list(values)
    weather = xr.Dataset(
        {name: ("time", values[name], {"units": VARIABLES[name].units}) for name in keep},
        coords={"time": time},
    )
    if "wind_speed" in weather:
        weather["wind_speed"].attrs["wind_height"] = 10.0
    weather.attrs = {"source": "invented"}
    return weather
