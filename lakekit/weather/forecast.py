"""A forecast for a lake, pulled apart from the observations and never kept with them."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.errors import WeatherError
from lakekit.weather.pulled import Years
from lakekit.weather.schema import (
    FORCING,
    INTERPOLATED,
    MEASURED,
    OPTIONAL,
    pack_flags,
    variable_attrs,
)
from lakekit.weather.service import PARAMETERS, REPORTED_AFTER, SERVICE_NAME


def fetch_forecast(lake, *, now=None, days=9, years=None, progress=None):
    """Pull a forecast for a lake: apart from observations, and never kept with them.

    Parameters
    ----------
    lake : Lake
    now : Timestamp, optional
        The time it is [UTC].
    days : int

    Returns
    -------
    xarray.Dataset on `time`
        As from ``read_weather``, from the coming hour on; `kind` is "forecast" in the attributes.
        Later days, forecast every six hours, are interpolated and flagged so.

    Raises
    ------
    WeatherError
        Where the server cannot be reached or sends nothing.
    """
    years = years or Years(now=now, progress=progress)
    start = years.now.ceil("h")
    try:
        table, attribution, licence = years.service.forecast(
            lake.latitude, lake.longitude, lake.elevation, start, start + pd.Timedelta(days=days)
        )
    except Exception as problem:
        raise WeatherError(
            f"no forecast for {lake.name}: {problem}",
            where="forecast",
            mend="Try again later; the guide goes on without it.",
        ) from problem
    axis = pd.date_range(start, table.index.max(), freq="h", unit="ns")
    table = table.reindex(axis)
    data, methods = {}, {}
    for name, (variable, factor) in PARAMETERS.items():
        if name not in table:
            continue
        values = table[name].to_numpy(dtype=np.float64, na_value=np.nan) * factor
        known = np.flatnonzero(~np.isnan(values))
        if not known.size:
            continue
        if variable in OPTIONAL:
            pass  # a direction between two others is not known
        elif variable in REPORTED_AFTER:
            values = np.append(values[1:], np.nan)
        else:
            hole = np.isnan(values)
            hole[: known[0]] = hole[known[-1] + 1 :] = False
            values[hole] = np.interp(np.flatnonzero(hole), known, values[known])
            methods[variable] = np.where(hole, INTERPOLATED, MEASURED)
        data[variable] = values
    if "air_temperature" not in data or "wind_speed" not in data:
        raise WeatherError(
            f"the forecast for {lake.name} has no temperature or wind", where="forecast"
        )
    weather = xr.Dataset(
        {name: ("time", values, variable_attrs(name)) for name, values in data.items()},
        coords={"time": axis},
    )
    weather["origin_flag"] = (
        "time",
        pack_flags(
            {
                **{name: np.zeros(axis.size, dtype=int) for name in FORCING},
                **{name: method for name, method in methods.items() if name in FORCING},
            }
        ),
    )
    weather["wind_speed"].attrs["wind_height"] = 10.0
    if "air_pressure" in weather:
        weather["air_pressure"].attrs["level"] = "sea_level"
    weather.attrs = {
        "kind": "forecast",
        "source": "forecast for the lake's position",
        "attribution": attribution.replace("Meteostat", SERVICE_NAME),
        "licence": licence,
        "issued": str(years.now),
        "notes": "",
    }
    return weather
