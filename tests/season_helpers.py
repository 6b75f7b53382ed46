"""Years of invented weather with seasons, for tests that need a lake's whole year."""

import numpy as np
import pandas as pd
import xarray as xr


def invented_years(start="2018-01-01", end="2022-01-01", *, warmer=None):
    """Hourly weather with seasons and fronts; ``warmer`` maps a year to degC added all year."""
    time = pd.date_range(start, end, freq="h", inclusive="left", unit="ns")
    day = np.asarray(time.day_of_year, dtype=float)
    hour = np.asarray(time.hour, dtype=float)
    season = np.cos(2 * np.pi * (day - 200) / 365.25)
    course = np.cos(2 * np.pi * (hour - 21) / 24)
    rng = np.random.default_rng(5)
    spell = np.convolve(rng.normal(size=len(time) + 72), np.ones(73) / 8.5, mode="valid")
    air = 12.0 + 13.0 * season + 4.0 * course + 3.0 * spell
    for year, degrees in (warmer or {}).items():
        air = air + degrees * (time.year == year)
    sun = np.clip(0.35 + 0.25 * season + 0.75 * np.cos(2 * np.pi * (hour - 18) / 24), 0.0, None)
    values = {
        "air_temperature": air,
        "relative_humidity": np.clip(70.0 - 12.0 * course, 20.0, 100.0),
        "wind_speed": 2.5 + 1.2 * np.abs(spell) + 5.0 * (spell > 1.6),
        "air_pressure": 992.0 - 6.0 * spell,
        "cloud_cover": np.clip(0.4 + 0.3 * spell, 0.0, 1.0),
        "shortwave": 700.0 * sun * (1.0 - 0.4 * np.clip(0.4 + 0.3 * spell, 0.0, 1.0)),
        "precipitation": np.where(spell > 1.8, 1.0, 0.0),
    }
    weather = xr.Dataset({k: ("time", v) for k, v in values.items()}, coords={"time": time})
    weather["wind_speed"].attrs["wind_height"] = 10.0
    weather.attrs = {"source": "invented"}
    return weather
