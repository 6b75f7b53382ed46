"""Invented hourly weather of a temperate continental place, from a seed: fronts, spells, gaps."""

import numpy as np
import pandas as pd
from scipy.signal import lfilter

SEED = 20260331
START, JOIN = "2013-01-01 00:00", "2026-03-31 23:00"
# The record's last months, from a seed of their own, end on a summer evening: a hot calm week, and
# then a front that stirs the lakes.
LAST_SEED = 5
END = "2026-07-16 23:00"
LAST_FRONT = "2026-07-15 06:00"
LOCAL = -6  # hours from UTC to local standard time
STATION_PRESSURE = 991.0  # hPa, mean at the height of the lakes
CLOUD_OUTAGES = (("2019-04-22", "2019-05-19"), ("2022-08-09", "2022-08-30"))
COLUMNS = ("time", "air_temp_c", "rel_hum_pct", "wind_ms", "wind_from_deg", "pressure_hpa",
           "cloud_pct", "precip_mm")


def demo_record():
    """The demo's whole record, ``START`` to ``END``; columns as of :func:`invent_weather`."""
    years = invent_weather(START, JOIN)
    last = invent_weather(pd.Timestamp(JOIN) + pd.Timedelta(hours=1), END, seed=LAST_SEED,
                          last_front=LAST_FRONT)
    fading = np.exp(-np.arange(len(last)) / 24)
    for name, digits in (("air_temp_c", 1), ("rel_hum_pct", 0), ("pressure_hpa", 1)):
        step = years[name].iloc[-1] - last[name].iloc[0]
        last[name] = (last[name] + step * fading).round(digits)
    last["rel_hum_pct"] = last["rel_hum_pct"].clip(upper=100)
    return pd.concat([years, last], ignore_index=True)


def invent_weather(start=START, end=JOIN, *, seed=SEED, outages=True, last_front=None):
    """Hourly weather from ``start`` to ``end`` (UTC, ends included); the same seed, the same hours.

    Parameters
    ----------
    start, end : str
    seed : int
    outages : bool
        Whether hours are taken out as a real station loses them.
    last_front : str, optional
        When a front is planted, behind hot calm days.

    Returns
    -------
    pandas.DataFrame
        Columns ``COLUMNS``; hours of an outage of the whole station are absent.
    """
    time = pd.date_range(start, end, freq="h")
    rng = np.random.default_rng(seed)
    n = len(time)
    day = (time.day_of_year + (time.hour + LOCAL) / 24).to_numpy()
    hour = ((time.hour + LOCAL) % 24).to_numpy()
    summer = 0.5 + 0.5 * np.cos(2 * np.pi * (day - 201) / 365.25)  # 0 mid-January, 1 mid-July

    spell = _hot_spells(time, rng)
    if last_front is not None:
        blow = (pd.Timestamp(last_front) - time[0]) / pd.Timedelta(hours=1)
        since = np.arange(n) - blow
        spell = np.where(since < -24 * 6, spell, 1 / (1 + np.exp(np.clip(since / 4, -30, 30))))
    front = _fronts(n, summer, spell, rng)
    if last_front is not None:
        _add_front(front, blow, n, warm=0.5, force=1.5, peak=10.0, wet=24.0, lasts=5.0)

    month_mood = _slow(n, 24 * 25, rng) * 1.3
    weather_mood = _slow(n, 55, rng) * (2.6 - 1.2 * summer)
    level = (12.0 + 12.2 * np.cos(2 * np.pi * (day - 201) / 365.25) + month_mood + weather_mood
             + front["air"] + 2.0 * spell)

    cover = _slow(n, 10, rng) * 1.15 + 0.02 + 0.40 * (0.5 - summer) + front["cloud"] - 1.4 * spell
    cover += 0.5 * summer * np.exp(-(((hour - 15.5) / 3.0) ** 2)) - 0.2 * summer
    cloud = 1 / (1 + np.exp(-2.3 * cover))
    eighths = np.round(cloud * 8)

    swing = (3.1 + 2.0 * summer) * (1.3 - 0.75 * _smooth(cloud, 8))
    beat = np.cos(2 * np.pi * (hour - 15.2) / 24) + 0.18 * np.cos(4 * np.pi * (hour - 15.2) / 24)
    air = level + swing * beat + _slow(n, 3, rng) * 0.4

    depression = np.clip(4.3 + 2.2 * _slow(n, 40, rng) - 0.45 * front["air"] * (front["air"] < 0)
                         - 2.2 * np.clip(front["cloud"], 0, 1.5) + 1.4 * spell, 0.6, 14)
    dew = np.minimum(level - depression, 24.5 + 0.25 * (level - 24.5))
    humidity = np.clip(100 * _vapour(dew) / _vapour(air), 14, 100)

    season_wind = 3.35 + 0.75 * np.cos(2 * np.pi * (day - 85) / 365.25)
    daily_wind = 1 + (0.22 + 0.2 * summer) * np.cos(2 * np.pi * (hour - 14.5) / 24)
    gust = np.exp(0.34 * _slow(n, 9, rng) - 0.06)
    wind = season_wind * daily_wind * gust * (1 - 0.42 * spell) * 0.79 + front["wind"]
    wind = np.clip(wind + 0.25 * rng.standard_normal(n), 0, None)
    wind[wind < 0.45] = 0.0

    pressure = (STATION_PRESSURE + _slow(n, 45, rng) * (4.3 - 2.1 * summer) + front["pressure"]
                + 2.0 * (0.5 - summer) + 1.5 * spell
                + 0.7 * np.cos(4 * np.pi * (hour - 10) / 24))

    shower = (rng.random(n) < 0.012 * summer * np.exp(-(((hour - 16) / 3.5) ** 2)) * (1 - spell))
    rain = front["rain"] + shower * rng.gamma(0.8, 6.0, n)
    rain[rain < 0.15] = 0.0

    table = pd.DataFrame({
        "time": time, "air_temp_c": np.round(air, 1), "rel_hum_pct": np.round(humidity),
        "wind_ms": np.round(wind, 1),
        "wind_from_deg": _direction(np.round(wind, 1), pressure, np.random.default_rng(seed + 1)),
        "pressure_hpa": np.round(pressure, 1),
        "cloud_pct": eighths * 12.5, "precip_mm": np.round(rain, 1),
    })
    return _outages(table, rng) if outages else table


def _direction(wind, pressure, rng):
    """Degrees it blows from, in tens: southerly before a trough, north-west behind it; calm: none.

    From a generator of its own, so that no other column moves.
    """
    tendency = np.gradient(_smooth(pressure, 6)) * 12.0  # hPa in 12 h
    degrees = 250.0 + 70.0 * np.tanh(tendency / 3.0) + 24.0 * _slow(len(wind), 8, rng)
    tens = 10 * (np.round(degrees / 10.0).astype(int) % 36)
    tens = pd.Series(np.where(tens == 0, 360, tens), dtype="Int64")
    return tens.mask(wind == 0.0)


def _slow(n, hours, rng):
    """Red noise of unit variance that forgets in about ``hours`` (first-order autoregression)."""
    keep = np.exp(-1 / hours)
    noise = rng.standard_normal(n) * np.sqrt(1 - keep**2)
    noise[0] /= np.sqrt(1 - keep**2)
    return lfilter([1.0], [1.0, -keep], noise)


def _smooth(values, hours):
    keep = np.exp(-1 / hours)
    return lfilter([1 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0]


def _vapour(celsius):
    return 6.112 * np.exp(17.62 * celsius / (243.12 + celsius))


def _hot_spells(time, rng):
    """Share 0-1 of a hot calm spell at each hour: one to four a summer, three to nine days."""
    strength = np.zeros(len(time))
    stamp = ((time - time[0]) / pd.Timedelta(hours=1)).to_numpy()
    for year in range(time[0].year, time[-1].year + 1):
        for _ in range(rng.integers(1, 5)):
            start = pd.Timestamp(f"{year}-06-05") + pd.Timedelta(hours=float(rng.uniform(0, 2350)))
            length = rng.uniform(72, 216)
            begin = (start - time[0]) / pd.Timedelta(hours=1)
            rise = 1 / (1 + np.exp(-np.clip((stamp - begin) / 10, -30, 30)))
            fall = 1 / (1 + np.exp(-np.clip((begin + length - stamp) / 7, -30, 30)))
            strength = np.maximum(strength, rise * fall)
    return strength


def _fronts(n, summer, spell, rng):
    """What passing cold fronts add to each variable; hot calm spells hold them off."""
    added = {name: np.zeros(n) for name in ("air", "cloud", "wind", "pressure", "rain")}
    at = float(rng.uniform(10, 90))
    while at < n + 100:
        hour = int(min(at, n - 1))
        warm = summer[hour]
        force = min(rng.gamma(4.0, 0.25), 2.2)
        peak = rng.uniform(4.2, 7.4)
        wet = rng.gamma(1.3, 9.0 + 7.0 * warm)
        lasts = rng.uniform(3, 6 + 7 * (1 - warm))
        if spell[hour] < 0.5:
            _add_front(added, at, n, warm=warm, force=force, peak=peak, wet=wet, lasts=lasts)
        at += 40 + rng.gamma(2.2, 34.0 + 34.0 * warm)
    return added


def _add_front(added, at, n, *, warm, force, peak, wet, lasts):
    begin, end = max(0, int(at) - 80), min(n, int(at) + 170)
    if begin >= end:
        return
    hours = np.arange(begin, end) - at
    part = slice(begin, end)
    before = hours < 0
    fall = force * (10.5 - 4.5 * warm)
    ahead = 0.35 * fall * np.exp(hours / 22)
    behind = -0.65 * fall * (1 - 1.54 * np.exp(-hours / 4)) * np.exp(-hours / 42)
    added["air"][part] += np.where(before, ahead, behind)
    depth = force * (12.5 - 6.0 * warm)
    trough = -depth * np.exp(-np.abs(hours) / np.where(before, 20.0, 8.0))
    ridge = 0.5 * depth * np.exp(-(((hours - 42) / 24) ** 2))
    added["pressure"][part] += trough + ridge
    blow = peak * force**0.5
    added["wind"][part] += np.where(
        before, 0.55 * blow * np.exp(hours / 9), blow * np.exp(-np.clip(hours, 0, None) / 13))
    added["cloud"][part] += 1.7 * np.exp(-(((hours + 3) / 11) ** 2)) - 0.7 * np.exp(
        -(((hours - 34) / 18) ** 2))
    raining = np.exp(-(((hours - 0.5) / (0.5 * lasts)) ** 2))
    added["rain"][part] += wet * raining / max(raining.sum(), 1.0)


def _outages(table, rng):
    """Take out hours and days as a real station does; whole weeks of cloud in two years."""
    time = table["time"]
    keep = np.ones(len(table), dtype=bool)
    years = len(table) / 8766
    safe = len(table) - 24 * 14  # the last two weeks stay whole
    for count, shortest, longest in ((22 * years, 1, 6), (2.2 * years, 14, 66)):
        for _ in range(round(count)):
            begin = int(rng.integers(24 * 14, max(safe, 24 * 14 + 1)))
            keep[begin : begin + int(rng.integers(shortest, longest + 1))] = False
    for name, count in (("wind_ms", 3 * years), ("rel_hum_pct", 2 * years),
                        ("cloud_pct", 12 * years), ("precip_mm", 3 * years)):
        for _ in range(round(count)):
            begin = int(rng.integers(24 * 14, max(safe, 24 * 14 + 1)))
            table.loc[begin : begin + int(rng.integers(0, 9)), name] = np.nan
    for first, last in CLOUD_OUTAGES:
        table.loc[(time >= first) & (time < last), "cloud_pct"] = np.nan
    return table[keep].reset_index(drop=True)
