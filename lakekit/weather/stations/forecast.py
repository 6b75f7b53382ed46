"""A forecast for a lake, pulled apart from the observations and never kept with them."""

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.weather.schema import FORCING, INTERPOLATED, MEASURED, OPTIONAL, make_weather
from lakekit.weather.stations.pulled import Years
from lakekit.weather.stations.service import PARAMETERS, REPORTED_AFTER, SERVICE_NAME


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
        Later days, forecast every six hours, are interpolated and flagged so; rain that is not
        given stays open. It ends where temperature or wind does.

    Raises
    ------
    WeatherError
        Where the server cannot be reached or sends nothing.

    Examples
    --------
    >>> forecast = fetch_forecast(lake, days=5)  # doctest: +SKIP
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
    attrs = {
        "kind": "forecast",
        "source": "forecast for the lake's position",
        "attribution": attribution.replace("Meteostat", SERVICE_NAME),
        "licence": licence,
        "issued": str(years.now),
        "notes": "",
    }
    origin = {name: method for name, method in methods.items() if name in FORCING}
    weather = make_weather(axis, data, pressure_level="sea_level", origin=origin, attrs=attrs)
    given = np.flatnonzero(np.isfinite(data["air_temperature"] + data["wind_speed"]))
    if not given.size:
        raise WeatherError(
            f"the forecast for {lake.name} has no hour with temperature and wind", where="forecast"
        )
    return weather.isel(time=slice(given[0], given[-1] + 1))
