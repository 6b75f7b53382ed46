"""A weather record to the complete hourly forcing of a lake, every filled hour flagged."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.errors import WeatherError
from lakekit.weather.air import (
    pressure_change,
    saturation_vapour_pressure,
    standard_pressure,
    vapour_pressure,
    wind_to_height,
)
from lakekit.weather.gaps import fill, from_other_year, in_short_holes, refuse
from lakekit.weather.schema import (
    ESTIMATED,
    FORCING,
    INTERPOLATED,
    MEASURED,
    METHODS,
    OPTIONAL,
    VARIABLES,
    flag_attrs,
    pack_flags,
    unpack_flag,
    variable_attrs,
)
from lakekit.weather.sky import (
    LOW_SUN,
    clear_sky_shortwave,
    cloud_opacity,
    hourly_sun,
    measured_opacity,
    opacity_cloud,
    sky_longwave,
    sunshine_opacity,
    temperature_range_opacity,
)

WIND_HEIGHT = 10.0  # m, of the forcing
SHORT_SKY = 3  # h, radiation holes bridged at the sky's own opacity
# How far from its lake a forcing serves: less than the weather differs (common practice, no source)
NEAR = {"latitude": 0.05, "longitude": 0.05, "elevation": 50.0}  # degrees, degrees, m


def prepare_forcing(weather, lake):
    """Complete a weather record for one lake: filled, estimated, moved to the lake, and flagged.

    Parameters
    ----------
    weather : xarray.Dataset on `time`
        As from ``read_weather`` or ``fetch_weather``; returned as it is where it is already a
        forcing.
    lake : Lake

    Returns
    -------
    xarray.Dataset on `time`
        The variables of ``schema.FORCING``, finite everywhere, those of ``schema.OPTIONAL`` that
        the record has, and `fill_flag`. Wind is at 10 m,
        pressure at the lake's level. Attributes say which estimate served for the sky.

    Raises
    ------
    WeatherError
        Where air temperature or wind is missing past its limit, the time axis is not hourly, or
        a forcing was made for another lake.

    Examples
    --------
    >>> sorted(set(prepare_forcing(weather, lake)) - set(weather))
    ['fill_flag', 'longwave', 'shortwave']
    """
    if "fill_flag" in weather:
        return checked_place(weather, lake)
    time = _checked_time(weather)
    where = weather.attrs.get("source", "weather")
    raw = {name: _values(weather, name, time.size) for name in VARIABLES}
    origin = _origins(weather, time.size)
    data, methods, notes = {}, {}, []

    driving = ("air_temperature", "wind_speed")
    for name in driving:
        data[name], methods[name] = fill(raw[name], name, time, methods=origin[name])
    for start, stop, years in from_other_year(data, methods):
        other = time[start].year + years
        notes.append(
            f"{time[start]:%Y-%m-%d} to {time[stop - 1]:%Y-%m-%d} taken from {other}, the year "
            "most like it before and after"
        )
    for name in driving:
        refuse(raw[name], data[name], name, time, where=where)
    height = float(weather["wind_speed"].attrs.get("wind_height", WIND_HEIGHT))
    data["wind_speed"] = wind_to_height(data["wind_speed"], measured=height)
    if height != WIND_HEIGHT:
        notes.append(f"wind brought from {height:g} m to 10 m by the logarithmic profile")

    local_day = _local_days(time, lake.longitude)
    data["relative_humidity"], methods["relative_humidity"] = _humidity(
        raw["relative_humidity"],
        origin["relative_humidity"],
        data["air_temperature"],
        local_day,
        time,
        notes,
    )
    data["air_pressure"], methods["air_pressure"] = _pressure(
        weather,
        raw["air_pressure"],
        origin["air_pressure"],
        data["air_temperature"],
        time,
        lake,
        notes,
    )
    data["precipitation"], methods["precipitation"] = _precipitation(
        raw["precipitation"], origin["precipitation"], time, notes,
        forecast=weather.attrs.get("kind") == "forecast",
    )  # fmt: skip
    _sky(raw, origin, data, methods, time, lake, local_day, notes)

    forcing = xr.Dataset(
        {name: ("time", data[name], variable_attrs(name)) for name in FORCING},
        coords={"time": ("time", time.as_unit("ns"), weather["time"].attrs)},
    )
    for name in OPTIONAL:
        if name in weather:
            forcing[name] = ("time", raw[name], variable_attrs(name))
    forcing["fill_flag"] = ("time", pack_flags(methods), flag_attrs())
    forcing["wind_speed"].attrs["wind_height"] = WIND_HEIGHT
    forcing["air_pressure"].attrs["level"] = "lake"
    place = {f"lake_{name}": float(getattr(lake, name)) for name in NEAR}
    forcing.attrs = {**weather.attrs, "lake": lake.key, **place, "sky": "; ".join(notes)}
    _assert_whole(forcing, raw)
    return forcing


def checked_place(forcing, lake):
    """The forcing itself, refused where it says that it was made for another place.

    Parameters
    ----------
    forcing : Dataset from :func:`prepare_forcing`
    lake : Lake

    Raises
    ------
    WeatherError
        Beyond 0.05 degrees or 50 m of height from where it was made.
    """
    for name, most in NEAR.items():
        made, here = forcing.attrs.get(f"lake_{name}"), getattr(lake, name)
        if made is not None and abs(float(made) - here) > most:
            unit = "m" if name == "elevation" else "degrees"
            raise WeatherError(
                f"the forcing was made for {forcing.attrs.get('lake', 'another lake')}, at "
                f"{name} {float(made):g} {unit}, and {lake.key} lies at {here:g}",
                where=forcing.attrs.get("source", "weather"),
                mend="Prepare this lake's own: prepare_forcing(weather, lake), from the raw "
                "weather.",
            )
    return forcing


def fill_method(forcing, variable):
    """How a variable of a forcing was obtained at every hour.

    Parameters
    ----------
    forcing : Dataset from :func:`prepare_forcing`
    variable : str
        One of ``schema.FORCING``.

    Returns
    -------
    (n,) int array
        0 measured, 1 interpolated, 2 neighbour station, 3 nearby days, 4 estimated, 5 grid.
    """
    return unpack_flag(forcing["fill_flag"].values, variable)


def coverage(forcing):
    """Share of hours measured, filled and estimated, by variable and month.

    Parameters
    ----------
    forcing : Dataset from :func:`prepare_forcing`

    Returns
    -------
    DataFrame
        `variable`, `month` (first of the month), the shares of each method (they add up to 1),
        and `hours`.

    Examples
    --------
    >>> coverage(forcing)["variable"].unique()[:2].tolist()
    ['air_temperature', 'relative_humidity']
    """
    month = forcing["time"].to_index().to_period("M").to_timestamp()
    codes, months = pd.factorize(month)
    hours = np.bincount(codes)
    parts = []
    for name in FORCING:
        counts = np.zeros((months.size, len(METHODS)))
        np.add.at(counts, (codes, fill_method(forcing, name)), 1)
        part = pd.DataFrame(counts / hours[:, None], columns=list(METHODS))
        part.insert(0, "month", months)
        part.insert(0, "variable", name)
        part["hours"] = hours
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def _checked_time(weather):
    time = weather["time"].to_index()
    if len(time) < 24:
        raise WeatherError(
            f"the record holds {len(time)} hours",
            mend="A day at least is needed.",
            where=weather.attrs.get("source", "weather"),
        )
    if getattr(time, "tz", None) is not None:
        raise WeatherError(
            "weather times carry a zone", mend='Use tz_convert("UTC").tz_localize(None).'
        )
    steps = np.diff(time.to_numpy()) / np.timedelta64(1, "h")
    if not np.all(steps == 1.0):
        i = int(np.flatnonzero(steps != 1.0)[0])
        raise WeatherError(
            f"the time axis is not hourly after {time[i]}",
            where=weather.attrs.get("source", "weather"),
            mend="Reindex it to whole hours with NaN in the holes.",
        )
    return time


def _values(weather, name, size):
    if name not in weather:
        return np.full(size, np.nan)
    values = np.asarray(weather[name].values, dtype=np.float64)
    low, high = VARIABLES[name].low, VARIABLES[name].high
    with np.errstate(invalid="ignore"):
        bad = np.flatnonzero((values < low) | (values > high) | np.isinf(values))
    if bad.size:
        raise WeatherError(
            f"{name} = {values[bad[0]]:g} at {weather['time'].values[bad[0]]}, "
            f"outside {low:g} to {high:g} ({bad.size} such hours)",
            where=weather.attrs.get("source", "weather"),
            mend="Set faulty hours to missing, or correct the unit.",
        )
    return values


def _origins(weather, size):
    if "origin_flag" not in weather:
        return {name: np.full(size, MEASURED) for name in FORCING}
    return {name: unpack_flag(weather["origin_flag"].values, name) for name in FORCING}


def _local_days(time, longitude):
    """Number of each hour's day in local mean solar time, from 0."""
    shifted = time + pd.Timedelta(hours=round(longitude / 15))
    day = (shifted.normalize() - shifted[0].normalize()) // pd.Timedelta("1D")
    return day.to_numpy()


def _by_day(values, day, reduce):
    start = np.flatnonzero(np.diff(day, prepend=-1))
    return reduce.reduceat(values, start)


def _humidity(raw, origin, air_temperature, local_day, time, notes):
    filled, methods = fill(raw, "relative_humidity", time, methods=origin)
    left = np.isnan(filled)
    if left.any():
        minimum = _by_day(air_temperature, local_day, np.minimum)[local_day]
        ratio = saturation_vapour_pressure(minimum) / saturation_vapour_pressure(air_temperature)
        filled = np.where(left, np.minimum(100.0 * ratio, 100.0), filled)
        methods[left] = ESTIMATED
        notes.append(
            "humidity of holes past 21 days from the day's lowest temperature as dew "
            "point (FAO-56 eq. 48)"
        )
    return np.clip(filled, 0.0, 100.0), methods


def _pressure(weather, raw, origin, air_temperature, time, lake, notes):
    standard = float(standard_pressure(lake.elevation))
    if np.isnan(raw).all():
        notes.append("air pressure from the lake's elevation (standard atmosphere)")
        return np.full(time.size, standard), np.full(time.size, ESTIMATED)
    level = weather["air_pressure"].attrs.get("level", "not said")
    if level == "not said":
        sea = float(standard_pressure(0.0))
        middle = np.nanmedian(raw)
        level = "sea_level" if abs(middle - sea) < abs(middle - standard) else "lake"
    if level == "sea_level":
        raw = pressure_change(raw, air_temperature, rise=lake.elevation)
        notes.append("air pressure brought from sea level to the lake")
    elif level == "station":
        elevation = weather["air_pressure"].attrs.get("station_elevation", lake.elevation)
        raw = pressure_change(raw, air_temperature, rise=lake.elevation - float(elevation))
    filled, methods = fill(raw, "air_pressure", time, methods=origin)
    left = np.isnan(filled)
    filled[left] = np.nanmean(raw)
    methods[left] = ESTIMATED
    return filled, methods


def _precipitation(raw, origin, time, notes, *, forecast):
    if forecast:  # rain of the days before says nothing of rain to come
        filled, methods = np.array(raw), np.array(origin)
        why = "where the forecast gives none"
    else:
        filled, methods = fill(raw, "precipitation", time, methods=origin)
        why = "where it was not recorded for over a month"
    left = np.isnan(filled)
    if left.any():
        notes.append(f"no rain assumed {why}")
    filled[left] = 0.0
    methods[left] = ESTIMATED
    return np.maximum(filled, 0.0), methods


def _sky(raw, origin, data, methods, time, lake, local_day, notes):
    """Cloud, shortwave and longwave, in that order of evidence, into `data` and `methods`."""
    sun = hourly_sun(time, lake.latitude, lake.longitude)
    vapour = vapour_pressure(data["air_temperature"], data["relative_humidity"])
    clear = clear_sky_shortwave(sun, vapour, data["air_pressure"])
    shortwave = np.where(raw["shortwave"] < 0.0, 0.0, raw["shortwave"])

    cloud, cloud_methods = fill(
        raw["cloud_cover"], "cloud_cover", time, methods=origin["cloud_cover"]
    )
    from_cloud = cloud_opacity(cloud)
    from_shortwave = measured_opacity(shortwave, sun, clear)
    from_sunshine = sunshine_opacity(raw["sunshine_duration"], sun, clear)
    from_range = _range_opacity(data, methods, clear, sun, local_day)[local_day]
    lit = sun.sine_while_up > LOW_SUN
    gap = in_short_holes(np.isnan(shortwave), SHORT_SKY)

    # By day each hour takes the best evidence it has; the night is bridged from dusk to dawn.
    sources = {
        "cloud cover (Kasten & Czeplak 1980)": from_cloud,
        "measured shortwave": from_shortwave,
        "sunshine (FAO-56 eq. 35)": from_sunshine,
        _range_name(methods): np.where(gap, np.nan, from_range),
    }
    opacity, used = np.full(time.size, np.nan), {}
    for name, source in sources.items():
        take = np.isnan(opacity) & ~np.isnan(source) & (lit | ~np.isnan(from_cloud))
        opacity[take] = source[take]
        used[name] = int(np.count_nonzero(take & lit))
    known = ~np.isnan(opacity)
    at = np.arange(time.size)
    opacity = (
        np.where(known, opacity, np.interp(at, at[known], opacity[known]))
        if known.any()
        else from_range
    )
    total = max(int(np.count_nonzero(lit)), 1)
    notes.append(
        "cloudiness by day from "
        + ", ".join(f"{name} {count / total:.0%}" for name, count in used.items() if count)
    )

    left = np.isnan(cloud)
    data["cloud_cover"] = np.clip(np.where(left, opacity_cloud(opacity), cloud), 0.0, 1.0)
    cloud_methods[left] = ESTIMATED
    methods["cloud_cover"] = cloud_methods

    missing = np.isnan(shortwave)
    shortwave_methods = np.array(origin["shortwave"])
    bridged = gap & np.isnan(from_cloud) & np.isnan(from_sunshine)
    shortwave_methods[missing] = np.where(bridged, INTERPOLATED, ESTIMATED)[missing]
    # Sunshine minutes say more of the sun's own disc than cloud cover does.
    shining = np.where(np.isnan(from_sunshine), opacity, from_sunshine)
    data["shortwave"] = np.where(missing, clear * (1.0 - shining), shortwave)
    methods["shortwave"] = shortwave_methods

    longwave, longwave_methods = raw["longwave"].copy(), np.array(origin["longwave"])
    estimate = sky_longwave(data["air_temperature"], vapour, opacity)
    missing = np.isnan(longwave)
    short = in_short_holes(missing, SHORT_SKY)
    if short.any():
        longwave[short] = np.interp(at[short], at[~missing], longwave[~missing])
        longwave_methods[short] = INTERPOLATED
    left = np.isnan(longwave)
    longwave[left] = estimate[left]
    longwave_methods[left] = ESTIMATED
    if left.any():
        notes.append(
            f"longwave estimated for {left.mean():.0%} of hours (Brutsaert 1975, "
            f"Crawford & Duchon 1999)"
        )
    data["longwave"], methods["longwave"] = longwave, longwave_methods


def _range_name(methods):
    return (
        "the day's temperature range (FAO-56 eq. 50)"
        if np.all(methods["precipitation"] == ESTIMATED)
        else "the day's temperature range and rain (Thornton & Running 1999)"
    )


def _range_opacity(data, methods, clear, sun, local_day):
    hours = _by_day(np.ones(local_day.size), local_day, np.add)
    rain = (
        None
        if np.all(methods["precipitation"] == ESTIMATED)
        else _by_day(data["precipitation"], local_day, np.add)
    )
    opacity = temperature_range_opacity(
        _by_day(data["air_temperature"], local_day, np.maximum),
        _by_day(data["air_temperature"], local_day, np.minimum),
        rain,
        _by_day(clear, local_day, np.add) / hours,
        _by_day(sun.extraterrestrial, local_day, np.add) / hours,
    )
    # A day cut short by the ends of the record shows too small a range.
    whole = hours >= 18
    if whole.any():
        day = np.arange(hours.size)
        opacity = np.where(whole, opacity, np.interp(day, day[whole], opacity[whole]))
    return opacity


def _assert_whole(forcing, raw):
    for name in FORCING:
        values = forcing[name].values
        if not np.all(np.isfinite(values)):
            raise AssertionError(f"{name} is not finite after filling")
        unflagged = np.isnan(raw[name]) & (fill_method(forcing, name) == MEASURED)
        if unflagged.any():
            raise AssertionError(f"{int(unflagged.sum())} filled hours of {name} are unflagged")
