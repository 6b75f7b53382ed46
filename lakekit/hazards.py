"""Hazards to check before a trip: cautions, never a verdict and never a green light.

Every list ends with :data:`DEFER`. About a day without a forecast nothing is said.
"""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.constants import GRAVITY
from lakekit.units import FOOT, MILE, speed_text, temperature_text
from lakekit.weather.forcing import fill_method
from lakekit.weather.schema import FORCING, NEIGHBOUR_STATION

DEFER = (
    "These are cautions and no verdict: a hazard not named here can still be there. The "
    "official forecast, the local rules and the skipper decide."
)
SINGLE_WAVE = 1.8  # times the mean of the highest third (Rayleigh heights, some 650 waves)

# Wind [m/s]. Lake wind advisories start at 15 to 25 mph sustained, by forecast office (their
# own pages); wave heights are told from the lower of these on.
ADVISORY_WIND = 15 * MILE / 3600
TOLD_WIND = 8 * MILE / 3600  # m/s: under this no wave is told, for it could read as a go-ahead
MOST_OF_A_DAY = 18  # hours
# Water [degC]: tiers of cold-water advice, 50, 60 and 70 degF (from memory).
COLD_WATER = (10.0, 15.6, 21.1)
COLD_WORDS = (
    "if you fall in, it takes the breath at once and the use of the hands within minutes. Wear "
    "the life jacket the whole time, dress for the water and do not go alone.",
    "cold shock is likely if you fall in. Wear the life jacket the whole time and carry dry "
    "clothes.",
    "cold enough to weaken a swimmer soon. Wear the life jacket.",
)
ICE_HEAD, COLD_HEAD = "Ice possible", "Water under"  # how cautions of ice and cold water begin
HOT_AIR = 32.0  # degC, 90 degF: heat advice begins about there (from memory)
WARM_BLOOM = 20.0  # degC, above which cyanobacteria outgrow the rest (from memory)
CALM_WIND = 3.0  # m/s: gentle enough for scum to gather (common practice, no source)
HEAVY_RAIN = 12.5  # mm, half an inch: streams can bring mud and debris (common practice)
ICE_WATER = 4.0  # degC
LIT_DARK = (
    "In the dark: show the lights the law asks for, keep a white light up at anchor, and carry a "
    "hand lamp."
)
LIGHTNING = (
    "Lightning: be off the water at the first thunder, and stay off for 30 minutes after the "
    "last; caught in an open boat, lay long rods down, anchor and get low."
)
POWER_LINES = "Power lines: look up before a long rod goes up, at the ramp most of all."
DOCKS = "Docks: never swim or wade near one with electricity; current in the water does not show."
# Weather codes of the open station records that mean thunder: thunderstorm 25 and 26, storm 27.
THUNDER_CODES = (25, 26, 27)


@dataclass(frozen=True)
class Waves:
    """Waves raised along a fetch; each range spans the two published relations."""

    low: float  # m, mean of the highest third
    high: float  # m
    single: float  # m, single waves up to about this
    period_low: float  # s
    period_high: float  # s


def spm_waves(wind_speed, fetch, *, depth=None, hours=None):
    """Wave height and period of the Shore Protection Manual.

    Parameters
    ----------
    wind_speed : float or array
        At 10 m over the water [m/s], 0 to 40.
    fetch : float or array
        [m]
    depth : float or array, optional
        Mean along the fetch [m]; None: deep.
    hours : float, optional
        How long the wind has blown; None: long enough.

    Returns
    -------
    (float or array, float or array)
        Height, mean of the highest third [m], and peak period [s].

    References
    ----------
    Shore Protection Manual 1984: UA = 0.71 U**1.23 (eq 3-28); deep, 1.6e-3 and 0.2857;
    shallow, eqs 3-39 and 3-40 (forms from memory); full growth 0.2433 and 8.134.

    Examples
    --------
    >>> round(float(spm_waves(10.0, 5000.0)[0]), 3)
    0.436
    """
    wind_speed, fetch = _wind_and_fetch(wind_speed, fetch)
    stress = np.maximum(0.71 * wind_speed**1.23, 1e-9)
    scaled = GRAVITY * fetch / stress**2
    if hours is not None:
        reached = (GRAVITY * 3600 * hours / (68.8 * stress)) ** 1.5
        scaled = np.minimum(scaled, reached)
    if depth is None:
        height = np.minimum(1.6e-3 * np.sqrt(scaled), 0.2433)
        period = np.minimum(0.2857 * np.cbrt(scaled), 8.134)
    else:
        floor = GRAVITY * np.asarray(depth, dtype=float) / stress**2
        tall, long = np.tanh(0.530 * floor**0.75), np.tanh(0.833 * floor**0.375)
        height = 0.283 * tall * np.tanh(0.00565 * np.sqrt(scaled) / tall)
        period = 7.54 * long * np.tanh(0.0379 * np.cbrt(scaled) / long)
    return height * stress**2 / GRAVITY, period * stress / GRAVITY


def cem_waves(wind_speed, fetch):
    """Wave height and period of the Coastal Engineering Manual, deep water, steady wind.

    Parameters and returns as in :func:`spm_waves`.

    References
    ----------
    EM 1110-2-1100 (2003) II-2: 4.13e-2 and 0.651 on the friction velocity, drag
    0.001 (1.1 + 0.035 U) (from memory); full growth 2.115e2 and 2.398e2.
    """
    wind_speed, fetch = _wind_and_fetch(wind_speed, fetch)
    friction = np.maximum(wind_speed * np.sqrt(0.001 * (1.1 + 0.035 * wind_speed)), 1e-9)
    scaled = GRAVITY * fetch / friction**2
    height = np.minimum(4.13e-2 * np.sqrt(scaled), 211.5)
    period = np.minimum(0.651 * np.cbrt(scaled), 239.8)
    return height * friction**2 / GRAVITY, period * friction / GRAVITY


def waves(wind_speed, fetch, *, depth=None, hours=None):
    """Waves along a fetch, as the range of both relations.

    Parameters
    ----------
    wind_speed : float
        [m/s]
    fetch : float
        [m]
    depth : float, optional
        [m]
    hours : float, optional

    Returns
    -------
    Waves
    """
    height, period = spm_waves(wind_speed, fetch, depth=depth, hours=hours)
    other, other_period = cem_waves(wind_speed, fetch)
    low, high = sorted((float(height), float(other)))
    short, long = sorted((float(period), float(other_period)))
    return Waves(low, high, SINGLE_WAVE * high, short, long)


def wave_text(wind_speed, lake, units, *, hours=None):
    """Waves along a lake's longest fetch in one clause."""
    sea = waves(wind_speed, lake.longest_fetch, depth=lake.mean_depth, hours=hours)
    if units == "us":
        low, high, single = (f"{x / FOOT:.1f}" for x in (sea.low, sea.high, sea.single))
        unit, wind = "ft", f"{wind_speed * 3600 / MILE:.0f} mph"
    else:
        low, high, single = (f"{x:.1f}" for x in (sea.low, sea.high, sea.single))
        unit, wind = "m", f"{wind_speed:.0f} m/s"
    span = f"{low} {unit}" if low == high else f"{low} to {high} {unit}"
    return (
        f"{wind} down the longest fetch raises single waves to about {single} {unit} ({span} the "
        "mean of the highest third)"
    )


def hazards_for_month(
    lake,
    month,
    *,
    surface_temperature=None,
    air_temperature=None,
    wind=None,
    ice_chance=None,
    long_rods=True,
    docks=True,
    night=False,
    units="us",
):
    """Cautions for a month, none of them about a day.

    Parameters
    ----------
    lake : lakekit.club.Lake
    month : int
        1 to 12.
    surface_temperature : sequence of float, optional
        Low, middle and high [degC]; NaN where not known.
    air_temperature : float, optional
        A hot afternoon of the month [degC].
    wind : float, optional
        A strong wind of the month, as of one hour in twenty [m/s].
    ice_chance : float, optional
        0 to 1.
    long_rods, docks, night : bool
        Whether long rods, docks or night fishing are in the plan.
    units : str

    Returns
    -------
    list of str
        Sentences, the gravest first (see :func:`grave`), the last :data:`DEFER`.
    """
    if month not in range(1, 13):
        raise ValueError(f"month {month!r} is not 1 to 12")
    low, _, high = _three(surface_temperature)
    cautions = _cold_water(low, units)
    if _known(ice_chance) > 0 or low <= 1.0:
        # boats come first where ice is the rarer
        cautions.insert(0 if _known(ice_chance) >= 0.5 else 1, _ice(lake, month))
    strong = wind if _known(wind) > 0 else ADVISORY_WIND
    cautions.append(
        "Wind: often stronger over open water than on land, and ahead of a front it can rise "
        f"within minutes. {wave_text(strong, lake, units)}; heed every wind advisory."
    )
    if high > 12.0 or math.isnan(high):
        cautions.append(LIGHTNING)
    if long_rods:
        cautions.append(POWER_LINES)
    if _known(air_temperature) >= HOT_AIR:
        cautions.append(_heat(air_temperature, units))
    if high >= WARM_BLOOM and lake.fertility in ("eutrophic", "hypereutrophic"):
        cautions.append(_bloom())
    if docks and (high > 15.0 or math.isnan(high)):
        cautions.append(DOCKS)
    if night:
        cautions.append(LIT_DARK)
    if lake.flow is not None:
        cautions.append(_release())
    drawn_down = float(np.asarray(lake.below_full_pond, dtype=float)[month - 1])
    if drawn_down > 0.3:
        cautions.append(
            "Low water: the level is down this month, so stumps, bars and debris lie "
            "nearer the surface."
        )
    return [*cautions, DEFER]


def hazards_for_forecast(
    lake, forecast, *, water_temperature=None, days=None, long_rods=True, night=False, units="us"
):
    """Cautions for the days that a forecast covers.

    Parameters
    ----------
    lake : lakekit.club.Lake
    forecast : xarray.Dataset
        On ``time`` (UTC, hourly): any of ``wind_speed`` [m/s], ``wind_gust`` [m/s],
        ``air_temperature`` [degC], ``precipitation`` [mm], ``weather_code``.
    water_temperature : float, optional
        Of the surface [degC].
    days : sequence of dates, optional
        Local dates to speak about; default all that are covered.
    long_rods, night : bool
    units : str

    Returns
    -------
    list of str
        Sentences that start with the day or days, the last :data:`DEFER`; empty where the
        forecast covers none of the days.
    """
    table = _local_table(forecast, lake.time_zone)
    wanted = None if days is None else {pd.Timestamp(day).date() for day in days}
    told, covered = {}, False
    for day, hours in table.groupby(table.index.date):
        if (wanted is not None and day not in wanted) or hours.notna().sum().sum() == 0:
            continue
        stamp = pd.Timestamp(day)
        head = f"{stamp:%A} {stamp.day} {stamp:%B}"
        found = _day_cautions(lake, hours, water_temperature, night, units)
        if found and len(hours) < MOST_OF_A_DAY:
            head += f" (only {len(hours)} of its hours are forecast)"
        for caution in found:
            told.setdefault(caution, []).append(head)
        covered = True
    if not covered:
        return []
    cautions = [f"{', '.join(heads)}: {caution}" for caution, heads in told.items()]
    if long_rods:
        cautions.append(POWER_LINES)
    return [*cautions, DEFER]


def _day_cautions(lake, hours, water_temperature, night, units):
    found = []
    wind = hours.get("wind_speed")
    strongest = float("nan") if wind is None or wind.isna().all() else float(wind.max())
    if strongest >= TOLD_WIND:
        lasting = max(int((wind >= 0.9 * strongest).sum()), 1)
        found.append(
            f"Wind: {wave_text(strongest, lake, units, hours=lasting)}, if the forecast "
            "wind comes true; it is often stronger over open water."
        )
        if strongest >= ADVISORY_WIND:
            found.append(
                "Wind of this strength is what lake wind advisories are issued for: read "
                "the official one."
            )
    gust = hours.get("wind_gust")
    if gust is not None and gust.max() >= 1.3 * max(_known(strongest), ADVISORY_WIND):
        found.append(f"Gusts to {speed_text(float(gust.max()), units)} are forecast.")
    found += _cold_water(_nan_if_none(water_temperature), units)
    air = hours.get("air_temperature")
    hottest = float("nan") if air is None or air.isna().all() else float(air.max())
    if hottest >= HOT_AIR:
        found.append(_heat(hottest, units))
    rain = hours.get("precipitation")
    total = float("nan") if rain is None or rain.isna().all() else float(rain.sum())
    codes = hours.get("weather_code")
    if codes is not None and codes.isin(THUNDER_CODES).any():
        found.append("Thunder is in the forecast. " + LIGHTNING)
    elif total > 0 and not hottest < 12.0:
        found.append("Rain is in the forecast, and may bring thunder. " + LIGHTNING)
    if total >= HEAVY_RAIN:
        found.append("Much rain: expect rising, muddy water with floating debris.")
        found.append(_release())
    calm = not math.isnan(strongest) and float(wind.mean()) < CALM_WIND
    warm = _nan_if_none(water_temperature) >= WARM_BLOOM
    if calm and (hottest >= 28.0 or warm) and lake.fertility != "oligotrophic":
        found.append(_bloom())
    if not _nan_if_none(water_temperature) > ICE_WATER and (
        hottest <= 0.0 or _nan_if_none(water_temperature) <= 1.0
    ):
        found.append(_ice(lake, hours.index[0].month))
    if night:
        found.append(LIT_DARK)
    return found


def grave(caution):
    """Whether a caution is of ice or of cold water, which no page leaves to another."""
    return caution.startswith((ICE_HEAD, COLD_HEAD))


def _cold_water(celsius, units):
    """By tiers, so that months of one tier are told in the same words."""
    for limit, words in zip(COLD_WATER, COLD_WORDS, strict=True):
        if celsius < limit:
            return [f"{COLD_HEAD} {temperature_text(limit, units)}: {words}"]
    return []


def _heat(celsius, units):
    return (
        f"Heat to about {temperature_text(celsius, units)}: shade, water and an early end; "
        "confusion or no more sweat is an emergency."
    )


def _bloom():
    return (
        "Blooms gather after hot calm days: keep people and dogs out of green scum or "
        "paint-like water, and heed posted notices."
    )


def _release():
    return (
        "High water and releases: a dam can let water go without warning; keep off the "
        "tailwater and the intake, and watch the level."
    )


def _ice(lake, month):
    worse = []
    if float(np.asarray(lake.below_full_pond, dtype=float)[month - 1]) > 0.3:
        worse.append("this water is drawn down")
    if lake.flow is not None:
        worse.append("this water flows")
    tail = f" ({' and '.join(worse)})" if worse else ""
    return (
        f"{ICE_HEAD}: ask locally first, measure at every few steps, never go alone, and turn "
        "back in any doubt. Measured ice can still break. Drawn-down or flowing reservoirs are "
        f"worse{tail}."
    )


def _local_table(forecast, time_zone):
    names = [
        name
        for name in ("wind_speed", "wind_gust", "air_temperature", "precipitation", "weather_code")
        if name in forecast
    ]
    index = pd.DatetimeIndex(forecast["time"].values).tz_localize("UTC").tz_convert(time_zone)
    table = pd.DataFrame(
        {name: np.asarray(forecast[name].values, dtype=float) for name in names}, index=index
    )
    if "fill_flag" in forecast:  # a prepared one has no holes; what it was not given is no news
        for name in set(names) & set(FORCING):
            table.loc[fill_method(forecast, name) > NEIGHBOUR_STATION, name] = np.nan
    return table


def _wind_and_fetch(wind_speed, fetch):
    wind_speed, fetch = np.asarray(wind_speed, dtype=float), np.asarray(fetch, dtype=float)
    if np.any(~(wind_speed >= 0)) or np.any(~(fetch > 0)):
        raise ValueError("wind speed must be 0 or more and fetch above 0, in m/s and m")
    return wind_speed, fetch


def _three(values):
    if values is None:
        return (math.nan,) * 3
    values = [float(x) for x in np.atleast_1d(values)]
    return values[0], values[len(values) // 2], values[-1]


def _nan_if_none(value):
    return math.nan if value is None else float(value)


def _known(value):
    """The value, or 0 where it is None or NaN: such a figure raises no caution."""
    return 0.0 if value is None or math.isnan(value) else float(value)
