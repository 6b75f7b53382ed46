"""Estimated radiation against measured: the station on Falling Creek's dam, and a reanalysis.

Each record is prepared twice, as a user's would be who has no radiation: once with shortwave
withheld (it then comes from each day's temperature range and rain; the station knows no cloud),
once with longwave alone withheld (cloudiness is then read off the measured shortwave). Figures
are over the hours that were measured. The rivals are what the formulas were chosen against:

- clear sky by Haurwitz (1945) instead of ASCE-EWRI (2005): read as the spread between months of
  the clearest days' share of it, which ought to be none;
- the day's temperature range by the square-root law (FAO-56 eq. 50) without rain;
- longwave by Idso (1981) under the same cloud, and by Brutsaert's clear sky times 1 + 0.22 C^2.75
  (Brutsaert 1982, from memory).

What they say: temperature range and rain beat the square-root law by the hour and by the day on
both records. At the station they run 23 W/m2 too bright, which no formula for open land can know:
the dam lies in a wooded valley, and the reanalysis of the same year reads 41 W/m2 more summer sun
than the station; on the reanalysis the bias is within 2. Longwave with Brutsaert and Crawford &
Duchon has the least bias and the least RMSE of the three on both.
"""

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from lakekit.errors import WeatherError
from lakekit.weather.air import vapour_pressure
from lakekit.weather.forcing import prepare_forcing
from lakekit.weather.sky import clear_sky_shortwave, cloud_opacity
from lakekit.weather.sun import hourly_sun
from lakekit.weather.tables import read_weather

CLEAR_QUANTILE = 0.93  # of days in a month, taken as cloudless


@dataclass(frozen=True)
class Site:
    """Where a record was taken: what preparing it needs of a lake."""

    key: str
    name: str
    latitude: float
    longitude: float
    elevation: float
    file: str
    sensor: str  # prefix of the keys


# Positions: SOURCE.md beside the observations (EDI 389 and 725, CC BY 4.0).
SITES = (
    Site(
        "falling-creek",
        "Falling Creek",
        37.303,
        -79.837,
        507.0,
        "falling-creek-2018/weather_hourly_station.csv",
        "accuracy_sky",
    ),
    Site(
        "beaverdam",
        "Beaverdam",
        37.313,
        -79.816,
        600.0,
        "beaverdam/weather_hourly.csv",
        "accuracy_sky_reanalysis",
    ),
)


def observations_folder():
    """Folder of open observations: ``$LAKEKIT_OBSERVATIONS``, else ../shared/observations."""
    default = Path(__file__).resolve().parents[3] / "shared" / "observations"
    folder = Path(os.environ.get("LAKEKIT_OBSERVATIONS", default))
    if not folder.is_dir():
        raise WeatherError(
            "the open observations are not there",
            where=str(folder),
            mend="Set LAKEKIT_OBSERVATIONS to their folder.",
        )
    return folder


def measure(folder=None):
    """Bias and RMSE of estimated shortwave and longwave, by the hour and by the day.

    Parameters
    ----------
    folder : path, optional
        Folder of open observations.

    Returns
    -------
    dict of str -> float
        Keys say the quantity, the step and the unit; ``accuracy_sky_...`` is the measured
        station, ``accuracy_sky_reanalysis_...`` the reanalysis.
    """
    folder = Path(folder) if folder else observations_folder()
    figures = {}
    for site in SITES:
        weather = read_weather(folder / site.file, {"time": "datetime_utc"})
        figures.update(
            {f"{site.sensor}_{key}": value for key, value in _compare(weather, site).items()}
        )
    return figures


def _compare(weather, site):
    local = weather["time"].to_index() + pd.Timedelta(hours=round(site.longitude / 15))
    day = local.normalize()
    shortwave, longwave = weather["shortwave"].values, weather["longwave"].values
    whole = prepare_forcing(weather, site)
    blind = prepare_forcing(weather.drop_vars(["shortwave", "longwave"]), site)
    seeing = prepare_forcing(weather.drop_vars("longwave"), site)
    dry = prepare_forcing(weather.drop_vars(["shortwave", "longwave", "precipitation"]), site)

    temperature = whole["air_temperature"].values
    vapour = vapour_pressure(temperature, whole["relative_humidity"].values)
    kelvin = temperature + ZERO_CELSIUS
    black = STEFAN_BOLTZMANN * kelvin**4
    cloud = seeing["cloud_cover"].values
    opacity = cloud_opacity(cloud)
    idso = 0.70 + 5.95e-5 * vapour * np.exp(1500.0 / kelvin)
    brutsaert = 1.24 * (vapour / kelvin) ** (1 / 7)

    figures = {}
    for name, estimate, truth in (
        ("shortwave", blind["shortwave"].values, shortwave),
        ("shortwave_no_rain", dry["shortwave"].values, shortwave),
        ("longwave", seeing["longwave"].values, longwave),
        ("longwave_no_radiation", blind["longwave"].values, longwave),
        ("longwave_idso", (opacity + (1 - opacity) * idso) * black, longwave),
        ("longwave_power_law", brutsaert * (1 + 0.22 * cloud**2.75) * black, longwave),
    ):
        figures.update(
            {f"{name}_{key}": value for key, value in _errors(estimate, truth, day).items()}
        )
    summer = np.isin(local.month, (6, 7, 8))
    for name, estimate, truth in (
        ("shortwave", blind["shortwave"].values, shortwave),
        ("longwave", seeing["longwave"].values, longwave),
    ):
        figures[f"{name}_summer_bias_wm2"] = float(np.nanmean((estimate - truth)[summer]))

    sun = hourly_sun(weather["time"].values, site.latitude, site.longitude)
    ours = clear_sky_shortwave(sun, vapour, whole["air_pressure"].values)
    sine = sun.sine_while_up
    haurwitz = 1098 * sine * np.exp(-0.057 / np.maximum(sine, 0.01)) * sun.daylight
    figures["clear_sky_month_spread"] = _clear_spread(shortwave, ours, day)
    figures["clear_sky_month_spread_haurwitz"] = _clear_spread(shortwave, haurwitz, day)
    return figures


def _errors(estimate, truth, day):
    error = pd.Series(estimate - truth, index=day)
    hourly = error.dropna()
    count = error.notna().groupby(level=0).sum()
    daily = error.groupby(level=0).mean()[count == 24]
    return {
        "hourly_bias_wm2": float(hourly.mean()),
        "hourly_rmse_wm2": float(np.sqrt((hourly**2).mean())),
        "daily_rmse_wm2": float(np.sqrt((daily**2).mean())),
    }


def _clear_spread(shortwave, clear, day):
    """Largest less smallest month of the clearest days' measured share of a clear sky."""
    table = pd.DataFrame({"measured": shortwave, "clear": clear}, index=day)
    sums = table[~np.isnan(shortwave)].groupby(level=0).sum()
    sums = sums[table["measured"].notna().groupby(level=0).sum().reindex(sums.index) == 24]
    share = sums["measured"] / sums["clear"]
    by_month = share.groupby(share.index.month).quantile(CLEAR_QUANTILE)
    return float(by_month.max() - by_month.min())


def table(figures):
    """The figures in rows for people, one block a record."""
    lines = ["estimate                    hourly bias  hourly RMSE  daily RMSE  (W/m2)"]
    for site in SITES:
        lines.append(site.name)
        for name in (
            "shortwave",
            "shortwave_no_rain",
            "longwave",
            "longwave_no_radiation",
            "longwave_idso",
            "longwave_power_law",
        ):
            bias, hourly, daily = (
                figures[f"{site.sensor}_{name}_{key}_wm2"]
                for key in ("hourly_bias", "hourly_rmse", "daily_rmse")
            )
            lines.append(
                f"  {name.replace('_', ' '):24s} {bias:10.1f} {hourly:12.1f} {daily:11.1f}"
            )
    return "\n".join(lines)
