"""Speed of the water column: milliseconds per lake-year on one core."""

import time

import numpy as np
import pandas as pd
import xarray as xr

from ..club import Flow, Lake, WeatherSource
from ..column import simulate

HOURS = 2 * 8760
REPEATS = 5


def standard_lake(*, flow=None):
    """An invented lake of 40 layers: 12 m deep, 0.8 km2, a bowl."""
    depths = np.linspace(0.0, 12.0, 25)
    areas = 8e5 * (1.0 - depths / 12.0) ** 1.3
    return Lake(
        key="bench", name="Bench", latitude=39.0, longitude=-90.0, time_zone="America/Chicago",
        area=8e5, max_depth=12.0, elevation=180.0, mean_depth=5.2, longest_fetch=1400.0,
        depths=depths, areas=areas, depth_area_source="bench", secchi=np.full(12, 1.5),
        secchi_source="bench", below_full_pond=np.zeros(12), fertility="eutrophic",
        surroundings="mixed", weather=WeatherSource(), flow=flow,
    )  # fmt: skip


def standard_forcing(hours=HOURS, *, seed=0):
    """Invented weather of a continental year: seasons, days, and passing fronts."""
    random = np.random.default_rng(seed)
    time_axis = pd.date_range("2001-01-01", periods=hours, freq="1h")
    day = np.arange(hours) / 24.0
    season = -np.cos(2 * np.pi * (day - 20.0) / 365.0)
    hour = np.cos(2 * np.pi * (day - 0.87))
    storms = np.repeat(random.standard_normal(hours // 72 + 1), 72)[:hours]
    storms = np.convolve(np.pad(storms, 12, mode="edge"), np.ones(25) / 25, mode="valid")
    sun = np.maximum(np.cos(2 * np.pi * (day - 0.75)) + 0.35 * season - 0.1, 0.0)
    cloud = np.clip(0.5 + 0.35 * storms, 0.0, 1.0)
    air = 12.0 + 13.5 * season + 4.0 * hour + 3.0 * storms
    values = {
        "air_temperature": air,
        "relative_humidity": np.clip(70.0 - 12.0 * hour + 10.0 * storms, 20.0, 100.0),
        "wind_speed": np.abs(3.0 + 1.2 * hour + 1.8 * storms),
        "air_pressure": np.full(hours, 990.0),
        "cloud_cover": cloud,
        "shortwave": 850.0 * sun * (1.0 - 0.7 * cloud),
        "longwave": 5.67e-8 * (air + 273.15) ** 4 * (0.75 + 0.2 * cloud),
        "precipitation": np.where(storms > 1.5, 1.0, 0.0),
        "fill_flag": np.zeros(hours, np.int32),
    }
    return xr.Dataset(
        {name: ("time", value) for name, value in values.items()}, coords={"time": time_axis}
    )


def _milliseconds(lake, forcing):
    best = np.inf
    for _ in range(REPEATS):
        start = time.process_time()
        run = simulate(lake, forcing, members=1)
        spent = time.process_time() - start
        hours = forcing.sizes["time"] + run.attrs["spin_up_hours"]
        best = min(best, 1000.0 * spent / (hours / 8760.0))
    return best, run


def measure():
    """Processor time a simulated year takes, preparation and output included; best of five."""
    forcing = standard_forcing()
    plain, run = _milliseconds(standard_lake(), forcing)
    flow = Flow(inflow=np.full(12, 0.1), release=np.full(12, 0.1), release_depth=8.0)
    flowing, _ = _milliseconds(standard_lake(flow=flow), forcing)
    exchanged = abs(run["shortwave_in"]) + abs(run["net_longwave"])
    exchanged = exchanged + abs(run["latent_heat"]) + abs(run["sensible_heat"])
    residual = float(abs(run["heat_residual"].sum("time")).max() / exchanged.sum("time").max())
    return {
        "column_ms_per_lake_year": plain,
        "column_with_flow_ms_per_lake_year": flowing,
        "column_layers": int(run.sizes["depth"]),
        "column_heat_residual_relative": residual,
    }


def table(figures):
    """The figures as sentences."""
    return "\n".join(
        [
            f"{figures['column_layers']} layers, hourly, one member, one core",
            f"  heat, mixing, ice, oxygen   {figures['column_ms_per_lake_year']:.1f} ms a year",
            f"  the same with through-flow  "
            f"{figures['column_with_flow_ms_per_lake_year']:.1f} ms a year",
            f"  heat not accounted for      "
            f"{figures['column_heat_residual_relative']:.1e} of what was exchanged",
        ]
    )
