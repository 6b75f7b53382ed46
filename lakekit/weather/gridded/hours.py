"""From a grid's fields at a lake to hourly weather: intervals, humidity, height, and holes filled.

What an interval is, is read from the file where it says so (CF bounds, `cell_methods`, the step
type that GRIB gives); where it does not, amounts are told apart from running totals by when they
fall back, and labels that begin their interval from those that end it by the sun: radiation
cannot arrive while the whole interval is night.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.constants import LAPSE_RATE
from lakekit.errors import WeatherError
from lakekit.weather.air import (
    humidity_from_dew_point,
    pressure_change,
    saturation_vapour_pressure,
    standard_pressure,
    wind_to_height,
)
from lakekit.weather.coarse import hourly_from_steps
from lakekit.weather.columns import COLUMNS
from lakekit.weather.schema import (
    FORCING,
    GRID,
    MEASURED,
    VARIABLES,
    make_weather,
    unpack_flag,
)
from lakekit.weather.stations import wind_ratio
from lakekit.weather.sun import hourly_sun

HOUR = np.timedelta64(3600, "s")
LONGEST_STEP = 6  # h
NIGHT_SUN = 0.03  # share of the sun that may fall into whole hours of night: rounding, refraction
CLEARNESS = (0.08, 0.95)  # mean sun over the sun above the air; beyond it a unit is wrong
VAPOUR_TO_AIR = 0.622  # molar masses of water and dry air (WMO-No. 8, annex 4.B)
COLUMN_OF = {item.variable: name for name, item in COLUMNS.items() if item.variable}


@dataclass(frozen=True)
class Series:
    """One field at one lake."""

    time: np.ndarray  # (n,) datetime64[s], increasing
    values: np.ndarray  # (n,) inner unit, NaN where missing
    bounds: np.ndarray | None  # (n, 2) datetime64[s]
    ends: bool | None  # labels end their interval; None: not said
    amount: bool  # gathered over the interval, or running
    height: float | None  # m above the ground


def hourly_weather(series, lake, about):
    """Hourly weather of a lake from its grid series.

    Parameters
    ----------
    series : dict of field key -> Series
    lake : Lake
    about : dict
        Attributes of the record; `notes` is a list and `cell_height` [m] may be NaN.

    Returns
    -------
    xarray.Dataset on `time`

    Raises
    ------
    WeatherError
        For readings more than 6 hours apart, units that cannot be right, or sun by night.
    """
    where, notes = about["source"], list(about["notes"])
    reset = _reset_hour(series)
    fluxes = {
        name: _flux(name, item, reset, where)
        for name, item in series.items()
        if name in ("shortwave", "longwave", "precipitation")
    }
    ends = None
    if "shortwave" in fluxes:
        *sun, said = fluxes["shortwave"]
        ends = _sun_lag(*sun, lake, where, said=said)
    if reset is not None:
        notes.append(f"totals since {reset:02d} UTC turned into amounts")
    columns, origin, steps = {}, {}, set()
    for name, item in series.items():
        if name in fluxes:
            start, values, step, said = fluxes[name]
            if said is None:
                said = step if (item.amount if ends is None else ends) else 0
            hours, data, method = _refined(name, start - said * HOUR, values, step, lake)
        else:
            hours, data, method, step = _state(name, item, lake, where)
        steps.add(step)
        columns[name] = pd.Series(data, hours)
        origin[name] = pd.Series(method, hours)
    if max(steps) > 1:
        notes.append(f"fields every {max(steps)} hours brought to whole hours")
    table = pd.DataFrame(columns).asfreq("h")
    methods = pd.DataFrame(origin).reindex(table.index).fillna(MEASURED).astype(int)
    table = table.loc[table["air_temperature"].first_valid_index() :
                      table["air_temperature"].last_valid_index()]  # fmt: skip
    methods = methods.loc[table.index]
    values = {name: table[name].to_numpy() for name in table}
    _humidity(values, about["cell_height"])
    if series["wind_speed"].height not in (None, 10.0):
        values["wind_speed"] = wind_to_height(
            values["wind_speed"], measured=series["wind_speed"].height
        )
        notes.append(f"wind brought from {series['wind_speed'].height:g} m to 10 m")
    level = _at_lake(values, about, lake, notes)
    _check_ranges(values, where)
    told = {name: methods[name].to_numpy() for name in FORCING if name in methods}
    for name in ("dew_point", "specific_humidity"):
        if name in methods:
            told.setdefault("relative_humidity", methods[name].to_numpy())
    told = {name: np.where(method == MEASURED, GRID, method) for name, method in told.items()}
    attrs = {**about, "notes": "; ".join(dict.fromkeys(notes))}
    return make_weather(table.index, values, pressure_level=level, origin=told, attrs=attrs)


def _step(time, name, where):
    if time.size < 2:
        raise WeatherError(f"{name.replace('_', ' ')} has one time only", where=where)
    step = float(np.median(np.diff(time) / HOUR))
    if step > LONGEST_STEP or step < 1 or step % 1:
        raise WeatherError(
            f"{name.replace('_', ' ')} stands every {step:g} hours",
            where=where,
            mend="Hourly to 6-hourly fields are needed: daily means hide the afternoon's sun and "
            "wind.",
        )
    return int(step)


def _reset_hour(series):
    """Hour of day [UTC] after which running totals start anew; None where amounts do not run."""
    fell = []
    for item in series.values():
        if item.amount and item.bounds is None and item.time.size > 1:
            drop = np.diff(item.values) < -1e-3 * max(float(np.nanmax(item.values)), 1e-9)
            before = item.time[:-1][drop].astype("datetime64[h]").astype(np.int64) % 24
            fell.append(before)
    fell = np.concatenate(fell) if fell else np.array([], dtype=np.int64)
    return int(fell[0]) if fell.size >= 2 and (fell == fell[0]).all() else None


def _flux(name, item, reset, where):
    """Labels, means (rain: totals) over the step, the step [h], and how many hours labels lag.

    The lag is None where the file does not say it.
    """
    step = _step(item.time, name, where)
    time, values, lag = item.time, item.values, None
    if item.bounds is not None:
        step = int(np.median(np.diff(item.bounds, axis=1) / HOUR)) or step
        time, lag = item.bounds[:, 0], 0
    elif reset is not None and item.amount:
        hour = time.astype("datetime64[h]").astype(np.int64) % 24
        fresh = np.roll(hour, 1) == reset
        fresh[0] = (hour[0] - step) % 24 == reset
        whole = np.append(False, np.diff(time) == step * HOUR)
        change = np.append(np.nan, np.diff(values))
        whole[0] = fresh[0]
        grown = np.where(fresh, values, np.maximum(change, 0.0))
        values = np.where(whole, grown, np.nan)
        lag = step
    elif item.ends is not None:
        lag = step if item.ends else 0
    elif _centred(time, step):
        time, lag = time - step * HOUR // 2, 0
    if name == "precipitation":
        values = values if item.amount else values * step
    elif item.amount:
        values = values / (3600.0 * step)
    return time, values, step, lag


def _centred(time, step):
    """Whether labels stand in the middle of whole steps, as time means often do."""
    minutes = time.astype("datetime64[m]").astype(np.int64) % (60 * step)
    return bool((minutes == 30 * step).all())


def _sun_lag(time, values, step, lake, where, *, said):
    """Hours by which labels lag the start of their interval, by the sun; None: too short to say.

    Raises
    ------
    WeatherError
        Where the sun shines by night whichever way, or more of it than reaches the air.
    """
    known = ~np.isnan(values)
    if known.sum() * step < 5 * 24:
        return said
    first = time[0].astype("datetime64[h]") - np.timedelta64(2 * step, "h")
    hours = pd.date_range(first, time[-1] + 2 * step * HOUR, freq="h")
    above = hourly_sun(hours, lake.latitude, lake.longitude).extraterrestrial
    summed = np.concatenate(([0.0], np.cumsum(above)))
    at = ((time - hours[0].to_datetime64()) / HOUR).astype(int)
    values = np.where(known, np.maximum(values, 0.0), 0.0)
    total = max(values.sum(), 1e-9)

    def by_night(lag):
        mean = (summed[at - lag + step] - summed[at - lag]) / step
        return float(values[mean < 1.0].sum() / total)

    lags = [said] if said is not None else [0, step]
    lag = min(lags, key=lambda lag: (round(by_night(lag), 4), lag))
    if by_night(lag) > NIGHT_SUN:
        raise WeatherError(
            f"{by_night(lag):.0%} of its sunshine falls into the night at {lake.name}",
            where=where,
            mend="Its times are not UTC, or its labels stand elsewhere in their interval: say "
            'under [weather.units] time = "UTC, end of hour" or "UTC, start of hour".',
        )
    mean = (summed[at - lag + step] - summed[at - lag]) / step
    clearness = total / max(mean[known].sum(), 1e-9)
    if not CLEARNESS[0] < clearness < CLEARNESS[1]:
        raise WeatherError(
            f"its sunshine comes to {clearness:.2g} of what reaches the top of the air",
            where=where,
            mend="Its unit or the length of its intervals is wrong; name the unit under "
            '[weather.units]: shortwave_wm2 = "J m-2" or "W m-2". Amounts of one hour need '
            "every hour.",
        )
    return lag


def _refined(name, start, values, step, lake):
    """A flux on whole hours: hours, values and methods."""
    hours = pd.DatetimeIndex(start.astype("datetime64[h]").astype("datetime64[ns]"))
    if step == 1:
        return hours, values, np.full(values.size, MEASURED)
    column = COLUMN_OF[name]
    axis, data, origin = hourly_from_steps(
        hours, {column: values}, pd.Timedelta(hours=step), lake=lake
    )
    return axis, data[column], origin[column]


def _state(name, item, lake, where):
    """A field of the moment on whole hours: hours, means, methods, and the step [h]."""
    time, step = item.time, _step(item.time, name, where)
    moment = True
    if item.bounds is not None:
        length = np.diff(item.bounds, axis=1)[:, 0]
        time = item.bounds[:, 0] + (length // (2 * HOUR)) * HOUR
        moment = False
    elif _centred(time, step):
        moment = step > 1
    hours = pd.DatetimeIndex(time.astype("datetime64[h]").astype("datetime64[ns]"))
    if step == 1:
        series = pd.Series(item.values, hours).asfreq("h")
        hours, values = series.index, series.to_numpy()
        method = np.full(values.size, MEASURED)
    else:
        hours, data, origin = hourly_from_steps(
            hours, {name: item.values}, pd.Timedelta(hours=step), lake=lake
        )
        values, method = data[name], origin[name]
    if moment:  # the mean of an hour lies between its ends
        after = np.append(values[1:], np.nan)
        values = np.where(np.isnan(after), values, 0.5 * (values + after))
    return hours, values, method, step


def _humidity(values, cell_height):
    """Relative humidity [%] from what the grid has, in place."""
    air = values["air_temperature"]
    if "relative_humidity" in values:
        values["relative_humidity"] = 100.0 * values["relative_humidity"]
    elif "dew_point" in values:
        values["relative_humidity"] = humidity_from_dew_point(air, values["dew_point"])
    elif "specific_humidity" in values:
        pressure = values.get("air_pressure")
        if pressure is None:
            pressure = standard_pressure(0.0 if np.isnan(cell_height) else cell_height)
        share = values["specific_humidity"]
        vapour = share * pressure / (VAPOUR_TO_AIR + (1.0 - VAPOUR_TO_AIR) * share)
        values["relative_humidity"] = 100.0 * vapour / saturation_vapour_pressure(air)
    for name in ("dew_point", "specific_humidity"):
        values.pop(name, None)
    if "relative_humidity" in values:
        values["relative_humidity"] = np.clip(values["relative_humidity"], 0.0, 100.0)
    for name, high in (("shortwave", np.inf), ("cloud_cover", 1.0), ("precipitation", np.inf)):
        if name in values:
            values[name] = np.clip(values[name], 0.0, high)


def _at_lake(values, about, lake, notes):
    """Temperature and pressure moved from the cell's height to the lake's; the pressure's level."""
    sea = values.pop("sea_level_pressure", None)
    rise = about["cell_height"]
    if np.isnan(rise):
        notes.append("the cell's height is not in the grid: temperature is taken as it stands")
        if sea is not None:
            values["air_pressure"] = sea
            return "sea_level"
        return "lake"
    rise = lake.elevation - rise
    values["air_temperature"] = values["air_temperature"] - LAPSE_RATE * rise
    notes.append(
        f"cells at {about['cell_height']:.0f} m, {abs(rise):.0f} m "
        f"{'below' if rise > 0 else 'above'} the lake: temperature moved by the lapse rate"
    )
    if "air_pressure" not in values:
        if sea is None:
            return None
        values["air_pressure"] = sea
        return "sea_level"
    values["air_pressure"] = pressure_change(
        values["air_pressure"], values["air_temperature"], rise=rise
    )
    return "lake"


def _check_ranges(values, where):
    for name, array in values.items():
        low, high = VARIABLES[name].low, VARIABLES[name].high
        with np.errstate(invalid="ignore"):
            bad = np.flatnonzero((array < low) | (array > high))
        if bad.size:
            raise WeatherError(
                f"{name.replace('_', ' ')} comes to {array[bad[0]]:g} {VARIABLES[name].units}, "
                f"outside {low:g} to {high:g} ({bad.size} such hours): its unit is wrong",
                where=where,
                mend=f'Name it under [weather.units]: {COLUMN_OF[name]} = "...".',
            )


def fill_from_grid(weather, grid, lake):
    """Fill the holes of a record from a grid, each hour flagged.

    Parameters
    ----------
    weather : xarray.Dataset on `time`
        From stations or a file; its span is kept.
    grid : xarray.Dataset on `time`
        From :func:`lakekit.weather.gridded.read.grid_weather`.
    lake : Lake

    Returns
    -------
    xarray.Dataset on `time`

    Raises
    ------
    WeatherError
        Where the two have no hour in common.
    """
    time, other_time = weather["time"].to_index(), grid["time"].to_index()
    if other_time[-1] < time[0] or other_time[0] > time[-1]:
        raise WeatherError(
            f"the grid runs from {other_time[0]:%Y-%m-%d} to {other_time[-1]:%Y-%m-%d} and the "
            f"record of {lake.name} from {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}: no hour in "
            "common",
            where=str(grid.attrs.get("source", "grid")),
            mend="Download the years of the record, or take the grid out of the lake file.",
        )
    other = grid.reindex(time=weather["time"])
    values = {name: weather[name].to_numpy().copy() for name in VARIABLES if name in weather}
    origin = {
        name: unpack_flag(weather["origin_flag"].values, name)
        if "origin_flag" in weather
        else np.full(time.size, MEASURED)
        for name in FORCING
    }
    level = weather["air_pressure"].attrs.get("level") if "air_pressure" in values else None
    height = float(weather["wind_speed"].attrs.get("wind_height", 10.0)) if (
        "wind_speed" in values) else 10.0  # fmt: skip
    filled = []
    for name in FORCING:
        if name not in other:
            continue
        new = other[name].to_numpy()
        mine = values.setdefault(name, np.full(time.size, np.nan))
        if name == "wind_speed":
            new = wind_to_height(new, measured=10.0, wanted=height)
            new = new * wind_ratio(mine, new)
        if name == "air_pressure":
            level = level or grid[name].attrs.get("level")
            new = _to_level(new, other, grid[name].attrs.get("level"), level, weather, lake)
        take = np.isnan(mine) & ~np.isnan(new)
        mine[take] = new[take]
        origin[name][take] = GRID
        if take.any():
            filled.append(f"{take.mean():.0%} of {name.replace('_', ' ')}")
    attrs = dict(weather.attrs)
    if filled:
        notes = [str(attrs.get("notes", "")), f"holes filled from {grid.attrs['source']}: "
                 + ", ".join(filled)]  # fmt: skip
        attrs["notes"] = "; ".join(note for note in notes if note)
    result = make_weather(
        time, values, wind_height=height, pressure_level=level, origin=origin, attrs=attrs
    )
    if "air_pressure" in weather:
        result["air_pressure"].attrs = dict(weather["air_pressure"].attrs)
    return result


def _to_level(pressure, other, level, wanted, weather, lake):
    """The grid's pressure at the level the record's own has."""
    heights = {"lake": lake.elevation, "sea_level": 0.0, "not said": lake.elevation}
    heights["station"] = float(
        weather["air_pressure"].attrs.get("station_elevation", lake.elevation)
        if "air_pressure" in weather
        else lake.elevation
    )
    if level is None or wanted is None:
        return pressure
    rise = heights[wanted] - heights[level]
    air = other["air_temperature"].to_numpy() - LAPSE_RATE * (heights[wanted] - lake.elevation)
    return pressure_change(pressure, air, rise=rise)
