"""Fronts and hot calm spells in the hourly weather."""

import numpy as np
import pandas as pd

from lakekit.constants import DRY_AIR_GAS, ZERO_CELSIUS

WATER_DENSITY = 1000.0  # kg/m3

# name -> (value, unit, meaning, source)
THRESHOLDS = {
    "strong_wind": (
        5.5,
        "m/s",
        "6 h mean wind at 10 m that starts a front",
        "Beaufort 4, moderate breeze, lower bound (WMO scale)",
    ),
    "gust_ratio": (
        2.0,
        "1",
        "or that many times the record's median wind, if that is less: a "
        "sheltered station never reads 5.5 m/s",
        "common practice, no source",
    ),
    "cooling": (
        5.0,
        "degC",
        "fall of the 24 h mean air temperature within 48 h that is a front without strong wind",
        "common practice, no source",
    ),
    "heavy_rain": (
        25.0,
        "mm",
        "rain in 24 h that is a front without strong wind",
        "common practice, no source",
    ),
    "join": (12.0, "h", "lull within one front", "common practice, no source"),
    "least_hours": (
        6.0,
        "h",
        "shortest blow of strong wind that is a front",
        "common practice, no source",
    ),
    "light_wind": (
        3.3,
        "m/s",
        "daily mean wind of a calm day, at most",
        "Beaufort 2, light breeze, upper bound (WMO scale)",
    ),
    "hot": (27.0, "degC", "warmest hour of a hot day, at least", "common practice, no source"),
    "sunny": (
        0.7,
        "1",
        "day's sun beside the sunniest tenth of days within a month of it",
        "common practice, no source",
    ),
    "spell": (
        2,
        "days",
        "hot calm days in a row that make a spell: the trade's rule says two or "
        "three set up the layers again",
        "common practice, no source",
    ),
}


def threshold(name, thresholds=None):
    """Value of one threshold, from ``thresholds`` where it names it, else from the table."""
    return (thresholds or {}).get(name, THRESHOLDS[name][0])


def wind_work(wind_speed, air_temperature, air_pressure):
    """Turbulent energy that an hour's wind gives to open water.

    Parameters
    ----------
    wind_speed : (...) array_like
        Hourly mean at 10 m [m/s].
    air_temperature : (...) array_like
        [degC]
    air_pressure : (...) array_like
        [hPa]

    Returns
    -------
    (...) float64
        Stress times friction velocity in the water, over the hour [J/m2]; unsheltered.

    References
    ----------
    tau u*, tau = rho_a C_D U^2 and u* = (tau / rho_w)^0.5, the rate that stirs a mixed layer
    (Kraus & Turner 1967, Tellus 19:98-106, from memory); C_D 1.2e-3 up to 11 m/s, then (0.49 +
    0.065 U) 1e-3 (Large & Pond 1981, J. Phys. Oceanogr. 11:324-336).
    """
    wind = np.asarray(wind_speed, dtype=np.float64)
    air = 100.0 * np.asarray(air_pressure, np.float64)
    air = air / (DRY_AIR_GAS * (np.asarray(air_temperature, np.float64) + ZERO_CELSIUS))
    drag = np.where(wind < 11.0, 1.2e-3, (0.49 + 0.065 * np.minimum(wind, 25.0)) * 1e-3)
    stress = air * drag * wind**2
    return stress * np.sqrt(stress / WATER_DENSITY) * 3600.0


def fronts(forcing, *, thresholds=None, typical_wind=None):
    """Find the fronts and storms of an hourly record.

    A front is strong wind (lulls shorter than 12 h joined), or without it a sharp fall of the
    air temperature, or heavy rain; what overlaps is one front.

    Parameters
    ----------
    forcing : xarray.Dataset
        Hourly ``air_temperature`` [degC], ``wind_speed`` [m/s at 10 m] and, where known,
        ``air_pressure`` [hPa] and ``precipitation`` [mm], on ``time``.
    thresholds : dict, optional
        Values in place of those in ``THRESHOLDS``.
    typical_wind : float, optional
        Median wind of the place [m/s]; default: the record's, where it has 60 days or more.

    Returns
    -------
    pandas.DataFrame
        One row a front, in order: ``start``, ``end`` (UTC, end exclusive), ``wind_work`` [J/m2],
        ``temperature_fall`` [degC] (24 h mean before it less the lowest 24 h mean until a day
        after it), ``pressure_fall`` [hPa] (likewise, to the lowest hour), ``rain`` [mm],
        ``peak_wind`` [m/s], ``kind`` ("wind", "cooling", "rain": what it was found by).

    Examples
    --------
    >>> find_fronts(forcing).columns[:4].tolist()
    ['start', 'end', 'wind_work', 'temperature_fall']
    """
    time = pd.DatetimeIndex(forcing["time"].to_numpy())
    wind = _series(forcing, "wind_speed", time)
    air = _series(forcing, "air_temperature", time)
    rain = _series(forcing, "precipitation", time).fillna(0.0)
    pressure = _series(forcing, "air_pressure", time)
    if typical_wind is None and len(time) >= 60 * 24:
        typical_wind = float(wind.median())
    strong = threshold("strong_wind", thresholds)
    if typical_wind is not None:
        strong = min(strong, threshold("gust_ratio", thresholds) * typical_wind)

    blow = wind.rolling(6, center=True, min_periods=3).mean().to_numpy() >= strong
    join = int(threshold("join", thresholds))
    least = int(threshold("least_hours", thresholds))
    spans = [(a, b, "wind") for a, b in _joined(_runs(blow), join) if blow[a:b].sum() >= least]

    daily = air.rolling(24, min_periods=18).mean()  # over the 24 h that end with the hour
    warmest = daily.rolling(49, min_periods=1).max()
    cold = (warmest - daily).to_numpy() >= threshold("cooling", thresholds)
    values = daily.to_numpy()
    for a, b in _joined(_runs(cold), join):
        lowest = a + int(np.nanargmin(values[a:b]))
        first = max(lowest - 48, 0)
        height = values[first : lowest + 1] >= np.nanmax(values[first : lowest + 1]) - 1e-9
        spans.append((first + int(np.flatnonzero(height)[-1]), lowest + 1, "cooling"))
    wet = rain.rolling(24, min_periods=1).sum().to_numpy() >= threshold("heavy_rain", thresholds)
    raining = rain.to_numpy() > 0
    for a, b in _joined(_runs(wet), join):
        hours = np.flatnonzero(raining[max(a - 23, 0) : b]) + max(a - 23, 0)
        spans.append((int(hours[0]), int(hours[-1]) + 1, "rain"))

    work = wind_work(wind, air, pressure.fillna(1013.25))
    blown, fallen, pressed = wind.to_numpy(), rain.to_numpy(), pressure.to_numpy()
    rows = []
    for a, b, kind in _merged(spans):
        rows.append(
            {
                "start": time[a],
                "end": time[b - 1] + pd.Timedelta(hours=1),
                "wind_work": float(np.nansum(work[a:b])),
                "temperature_fall": _fall(values[max(a - 24, 0) : a + 1], values[a : b + 24]),
                "pressure_fall": _fall(pressed[max(a - 24, 0) : a + 1], pressed[a:b]),
                "rain": float(fallen[a:b].sum()),
                "peak_wind": float(np.nanmax(blown[a:b], initial=0.0)),
                "kind": kind,
            }
        )
    columns = [
        "start",
        "end",
        "wind_work",
        "temperature_fall",
        "pressure_fall",
        "rain",
        "peak_wind",
        "kind",
    ]
    return pd.DataFrame(rows, columns=columns)


def hot_calm_spells(forcing, *, thresholds=None, utc_offset=0.0):
    """Find runs of hot, sunny days with light wind.

    Parameters
    ----------
    forcing : xarray.Dataset
        Hourly ``air_temperature`` [degC], ``wind_speed`` [m/s at 10 m] and, where known,
        ``shortwave`` [W/m2], on ``time``.
    thresholds : dict, optional
        Values in place of those in ``THRESHOLDS``.
    utc_offset : float
        Local standard time less UTC [h]: where a day begins.

    Returns
    -------
    pandas.DataFrame
        One row a spell, in order: ``start``, ``end`` (UTC, end exclusive), ``days``,
        ``warmest`` [degC], ``mean_wind`` [m/s], ``sun`` [MJ/m2 a day].

    Examples
    --------
    >>> hot_calm_spells(forcing, utc_offset=-6).columns.tolist()
    ['start', 'end', 'days', 'warmest', 'mean_wind', 'sun']
    """
    time = pd.DatetimeIndex(forcing["time"].to_numpy())
    shift = pd.Timedelta(hours=utc_offset)
    day = (time + shift).floor("D")
    wind = _series(forcing, "wind_speed", time).groupby(day).mean()
    warmest = _series(forcing, "air_temperature", time).groupby(day).max()
    good = (wind <= threshold("light_wind", thresholds)) & (warmest >= threshold("hot", thresholds))
    sun = _series(forcing, "shortwave", time).groupby(day).sum(min_count=18) * 3600.0 / 1e6
    if sun.notna().any():
        bright = sun.rolling(61, center=True, min_periods=1).quantile(0.9)
        good &= ~(sun < threshold("sunny", thresholds) * bright)
    rows = []
    for a, b in _runs(good.to_numpy()):
        if b - a < threshold("spell", thresholds):
            continue
        rows.append(
            {
                "start": good.index[a] - shift,
                "end": good.index[b - 1] + pd.Timedelta(days=1) - shift,
                "days": b - a,
                "warmest": float(warmest.iloc[a:b].max()),
                "mean_wind": float(wind.iloc[a:b].mean()),
                "sun": float(sun.iloc[a:b].mean()),
            }
        )
    return pd.DataFrame(rows, columns=["start", "end", "days", "warmest", "mean_wind", "sun"])


def _fall(before, after):
    """Highest value before less the lowest after; NaN where either is not known."""
    before, after = before[np.isfinite(before)], after[np.isfinite(after)]
    return float(before.max() - after.min()) if before.size and after.size else np.nan


def _series(forcing, name, time):
    if name not in forcing:
        return pd.Series(np.nan, index=time)
    return pd.Series(np.asarray(forcing[name].to_numpy(), dtype=np.float64), index=time)


def _runs(flags):
    """Half-open index ranges in which a boolean array is true."""
    edges = np.diff(np.concatenate([[0], np.asarray(flags, dtype=np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True))


def _joined(runs, gap):
    """Runs with gaps shorter than ``gap`` closed."""
    out = []
    for a, b in runs:
        if out and a - out[-1][1] < gap:
            out[-1] = (out[-1][0], b)
        else:
            out.append((int(a), int(b)))
    return out


def _merged(spans):
    """Overlapping spans as one; found by wind before cooling before rain."""
    order = {"wind": 0, "cooling": 1, "rain": 2}
    out = []
    for a, b, kind in sorted(spans):
        if out and a < out[-1][1]:
            first, last, was = out[-1]
            out[-1] = (first, max(last, b), min(was, kind, key=order.get))
        else:
            out.append((a, b, kind))
    return out
