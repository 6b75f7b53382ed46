"""The weather behind a front note: its forecast, its gaps, and where the two contradict."""

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.weather import fill_method, prepare_forcing
from lakekit.weather.schema import MEASURED, NEIGHBOUR_STATION

OLD = pd.Timedelta(hours=6)  # weather that ends longer ago than this is called old
LOOK_BACK = pd.Timedelta(days=7)  # gaps are told of when they lie this near to the record's end
SEAM = 3  # hours on either side of the last observation that are compared
# Steps between observation and forecast past which one of them is wrong; common practice, no
# source.
STEPS = {
    "air_temperature": (6.0, "degC", "air temperature"),
    "wind_speed": (6.0, "m/s", "wind"),
    "air_pressure": (8.0, "hPa", "air pressure"),
}


def get_forecast(lake, *, now=None, fetch=None):
    """A prepared forecast for a lake, and why there is none.

    Parameters
    ----------
    lake : Lake
    now : Timestamp, optional
        [UTC]
    fetch : callable, optional
        ``lakekit.weather.stations.forecast.fetch_forecast`` by default.

    Returns
    -------
    (xarray.Dataset or None, str or None)
    """
    if lake.weather.station is None:
        return None, "none with a weather file; the days ahead are past years' weather"
    try:
        if fetch is None:
            from lakekit.weather.stations.forecast import fetch_forecast as fetch
        return prepare_forcing(fetch(lake, now=now), lake), None
    except WeatherError as error:
        return None, f"none; the days ahead are past years' weather ({error.what})"


def contradiction(forcing, forecast, as_of):
    """Where a forecast does not join on to the last observations.

    Parameters
    ----------
    forcing, forecast : xarray.Dataset
        Prepared.
    as_of : datetime64
        Label of the last hour of history.

    Returns
    -------
    list of (str, float, float)
        Variable, mean of the last observed hours, mean of the forecast where it should be alike:
        in the same hours where both have them, else in the first hours after. Empty where they
        agree, or where the forecast begins more than six hours later.
    """
    as_of = pd.Timestamp(as_of)
    ahead = forecast["time"].to_index()
    shared = ahead[ahead <= as_of]
    if len(shared):
        begun = shared[-SEAM:]
        seen = forcing.sel(time=begun)
        said = forecast.sel(time=begun)
    elif len(ahead) and ahead[0] - as_of <= OLD:
        last = forcing["time"].to_index()
        seen = forcing.sel(time=last[last <= as_of][-SEAM:])
        said = forecast.isel(time=slice(0, SEAM))
    else:
        return []
    found = []
    for name, (step, _, _) in STEPS.items():
        ours, theirs = float(seen[name].mean()), float(said[name].mean())
        if abs(ours - theirs) > step:
            found.append((name, ours, theirs))
    return found


def gaps(forcing, start, end):
    """Hours of wind and of air temperature that were not measured between two times.

    Returns
    -------
    dict
        Variable -> (hours filled, hours from a neighbouring station, hours looked at).
    """
    times = forcing["time"].to_index()
    here = np.asarray((times >= start) & (times < end))
    out = {}
    for name in ("wind_speed", "air_temperature"):
        method = fill_method(forcing, name)[here]
        other = method == NEIGHBOUR_STATION
        out[name] = (int(((method != MEASURED) & ~other).sum()), int(other.sum()), int(here.sum()))
    return out
