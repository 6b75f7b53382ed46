"""Invents probe readings: the simulated column with parameters of its own, and noise.

They depend on the column's code: run data/make_demo.py again only where a change of the column is
meant to change the readings too.
"""

import numpy as np
import pandas as pd

from lakekit.column.parameters import as_dataset, lake_defaults
from lakekit.column.run import simulate
from lakekit.weather.source import lake_weather

SEED = 707
SPIN_UP = "2022-03-01"  # the column starts here, two summers before the first cast

# The waters behind the readings: factors on the lake's defaults (longwave_bias: added, W/m2).
TRUTH = {
    "quarry-hollow": {"wind_shelter": 0.85, "evaporation_factor": 1.15,
                      "light_attenuation_factor": 1.2, "shortwave_factor": 0.97,
                      "longwave_bias": 3.0, "diffusivity_factor": 0.8,
                      "oxygen_demand_factor": 1.25, "oxygen_production_factor": 0.9},
    "teal-marsh": {"wind_shelter": 1.1, "evaporation_factor": 1.1,
                   "light_attenuation_factor": 1.15, "shortwave_factor": 0.96,
                   "longwave_bias": -2.0, "diffusivity_factor": 1.2,
                   "oxygen_demand_factor": 0.85, "oxygen_production_factor": 1.1},
}
# lake, local day and clock, whether the probe read oxygen that day
CASTS = (
    ("quarry-hollow", "2024-04-27", "10:15", False), ("quarry-hollow", "2024-06-08", "07:40", True),
    ("quarry-hollow", "2024-07-20", "07:20", True), ("quarry-hollow", "2024-08-31", "08:05", True),
    ("quarry-hollow", "2024-10-12", "13:30", False), ("quarry-hollow", "2025-05-17", "09:00", True),
    ("quarry-hollow", "2025-07-12", "11:10", False), ("quarry-hollow", "2025-09-13", "08:45", True),
    ("quarry-hollow", "2026-05-09", "08:20", False), ("quarry-hollow", "2026-07-11", "07:50", True),
    ("teal-marsh", "2025-06-21", "08:30", True), ("teal-marsh", "2025-07-26", "09:15", True),
    ("teal-marsh", "2025-08-16", "14:20", False),
    ("teal-marsh", "2026-05-23", "09:40", False), ("teal-marsh", "2026-07-12", "08:10", True),
)
TEMPERATURE_NOISE = 0.15  # degC
OXYGEN_NOISE = 0.15  # mg/L
DEPTH_NOISE = 0.25  # m, of the whole cast: the layers tilt and swing


def true_parameters(lake):
    """One member of parameters: the lake's defaults with its ``TRUTH``."""
    truth = TRUTH[lake.key]
    values = {name: value * truth.get(name, 1.0) for name, value in lake_defaults(lake).items()}
    values["longwave_bias"] = truth["longwave_bias"]
    return as_dataset([list(values.values())])


def invent_probe(club, *, seed=SEED):
    """Rows of probe.csv as text.

    Returns
    -------
    pandas.DataFrame of str
        date, time, lake, depth_ft, temperature_F, oxygen_mgl.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for key, lake in club.lakes.items():
        casts = [cast for cast in CASTS if cast[0] == key]
        moments = [pd.Timestamp(f"{day} {clock}", tz=lake.time_zone).tz_convert("UTC")
                   .tz_localize(None).round("h") for _, day, clock, _ in casts]
        weather = lake_weather(club, lake).sel(time=slice(SPIN_UP, str(max(moments).date())))
        run = simulate(lake, weather, parameters=true_parameters(lake), every="1h")
        for (_, day, clock, with_oxygen), moment in zip(casts, moments, strict=True):
            hour = run.isel(member=0).sel(time=moment, method="nearest")
            rows += _cast(hour, lake, day, clock, with_oxygen, rng)
    return pd.DataFrame(rows)


def _cast(hour, lake, day, clock, with_oxygen, rng):
    temperature = hour["water_temperature"].to_numpy()
    wet = np.isfinite(temperature)
    depth, temperature = hour["depth"].to_numpy()[wet], temperature[wet]
    oxygen = hour["dissolved_oxygen"].to_numpy()[wet]
    step = 2 if lake.key == "teal-marsh" else 3
    feet = np.arange(1, int(depth[-1] / 0.3048), step)
    at = np.clip(feet * 0.3048 + rng.normal(0, DEPTH_NOISE), depth[0], depth[-1])
    read = np.interp(at, depth, temperature) + rng.normal(0, TEMPERATURE_NOISE, len(feet))
    content = np.interp(at, depth, oxygen) + rng.normal(0, OXYGEN_NOISE, len(feet))
    return [{"date": day, "time": clock, "lake": lake.name, "depth_ft": str(foot),
             "temperature_F": f"{celsius * 1.8 + 32:.1f}",
             "oxygen_mgl": f"{max(milligrams, 0.1):.1f}" if with_oxygen else ""}
            for foot, celsius, milligrams in zip(feet, read, content, strict=True)]
