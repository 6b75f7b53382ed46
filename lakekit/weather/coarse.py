"""Records whose readings are hours apart, brought to whole hours; what no reading gave is flagged.

Temperature, humidity, wind, pressure and cloud are readings at their label, joined by straight
lines. Radiation is the mean of the step that the label begins (or ends, where labels end their
interval), shared out by the sun's height above the air; rain and sunshine are its totals, shared
out evenly and by daylight.
"""

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.weather.schema import INTERPOLATED, MEASURED
from lakekit.weather.sun import hourly_sun

HOUR = pd.Timedelta(hours=1)
NIGHT = 1.0  # W/m2 beside the sun's, so that the few watts of a night stay in the night
MEANS = ("shortwave_wm2", "longwave_wm2")  # of the step
TOTALS = ("precip_mm", "sunshine_min")


def hourly_from_steps(time, data, step, *, ends=False, lake=None, where="weather"):
    """Hourly values of a record with readings 2 to 6 hours apart.

    Parameters
    ----------
    time : (n,) DatetimeIndex, increasing, the hour of each label
    data : dict of column name -> (n,) array, NaN where missing
    step : Timedelta, over one hour
    ends : bool
        Whether the labels end their interval; ``time`` is then the hour that ends at the label.
    lake : Lake, optional
        Needed where shortwave or sunshine is to be shared out.
    where : str
        File, for messages.

    Returns
    -------
    axis : (h,) DatetimeIndex
    hourly : dict of column name -> (h,) array
        Open where neighbouring readings are further apart than a step.
    origin : dict of column name -> (h,) int array
        ``MEASURED`` or ``INTERPOLATED``.

    Raises
    ------
    WeatherError
        When shortwave or sunshine is there and no lake is given.
    """
    if lake is None and {"shortwave_wm2", "sunshine_min"} & set(data):
        raise WeatherError(
            f"sun every {step / HOUR:g} hours cannot be shared out without the lake's place",
            where=where,
            mend="Read it with read_weather(..., lake=lake).",
        )
    width = int(np.ceil(step / HOUR))
    margin = (width - 1) * HOUR
    axis = pd.date_range(
        time[0].floor("h") - margin, time[-1].floor("h") + margin, freq="h", unit="ns"
    )
    label = ((time.floor("h") - axis[0]) // HOUR).to_numpy()
    kept = np.flatnonzero(np.diff(label, append=-1) != 0)  # the last reading of an hour
    label = label[kept]
    reading = _reading_of(label, axis.size, width, ends=ends)
    weights = {}
    if lake is not None:
        sun = hourly_sun(axis, lake.latitude, lake.longitude)
        weights["shortwave_wm2"] = sun.extraterrestrial + NIGHT
        weights["sunshine_min"] = sun.daylight + 1e-6
    inside = slice(label[0], label[-1] + 1)
    hourly, origin = {}, {}
    for name, values in data.items():
        if name in MEANS + TOTALS:
            weight = weights.get(name, np.ones(axis.size))
            out = _shared(values[kept], reading, weight, mean=name in MEANS)
            measured = np.zeros(axis.size, bool)
        else:
            out, measured = _joined(values[kept], label, axis.size, width)
        method = np.where(measured | np.isnan(out), MEASURED, INTERPOLATED)
        hourly[name], origin[name] = out[inside], method[inside]
    return axis[inside], hourly, origin


def _reading_of(label, hours, width, *, ends):
    """Which reading's step each hour lies in, -1 for none: up to a neighbour, or ``width``."""
    if ends:
        length = np.minimum(np.diff(label, prepend=label[0] - width), width)
        begin = label - length + 1
    else:
        length = np.minimum(np.diff(label, append=label[-1] + width), width)
        begin = label
    reading = np.full(hours, -1)
    for hour in range(width):
        longer = np.flatnonzero(hour < length)
        reading[begin[longer] + hour] = longer
    return reading


def _shared(values, reading, weight, *, mean):
    """Means or totals of steps shared among their hours by ``weight``."""
    told = reading >= 0
    mine = reading[told]
    share = weight[told] / np.bincount(mine, weights=weight[told])[mine]
    if mean:
        share = share * np.bincount(mine)[mine]
    out = np.full(reading.size, np.nan)
    out[told] = values[mine] * share
    return out


def _joined(values, label, hours, width):
    """Readings joined by straight lines where neighbours are ``width`` hours apart or less."""
    known = ~np.isnan(values)
    at, hour = label[known], np.arange(hours)
    out, measured = np.full(hours, np.nan), np.zeros(hours, bool)
    if at.size:
        measured[at] = True
        after = np.minimum(np.searchsorted(at, hour), at.size - 1)
        before = np.maximum(np.searchsorted(at, hour, side="right") - 1, 0)
        between = (at[before] <= hour) & (hour <= at[after]) & (at[after] - at[before] <= width)
        out[between] = np.interp(hour[between], at, values[known])
    return out, measured
