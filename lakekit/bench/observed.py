"""The open observations as lakes, weather and casts; each is read where it lies."""

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ..club import Lake, WeatherSource
from ..errors import ProbeError
from ..records import fertility_of
from ..weather import prepare_forcing, read_weather

EASTERN = "America/New_York"
CENTRAL = "America/Chicago"
OXYGENATED_BELOW = 5.0  # m: Falling Creek's casts are uniform from about there down
NOON = 12  # local hour given to casts whose file has a date alone


@dataclass(frozen=True)
class Site:
    """A reservoir with measurements: its lake file's content, weather and casts."""

    lake: Lake
    weather: object  # raw Dataset
    casts: pd.DataFrame  # time (UTC), depth, temperature, oxygen (NaN where it is not natural)
    stirred: tuple | None = None  # (first, last, depth): a machine stirred the water below


def observations_folder():
    """The folder of observations; ProbeError where there is none."""
    default = Path(__file__).resolve().parents[3] / "shared" / "observations"
    folder = Path(os.environ.get("LAKEKIT_OBSERVATIONS", default))
    if not folder.is_dir():
        raise ProbeError(
            f"no observations at {folder}", mend="set LAKEKIT_OBSERVATIONS to their folder"
        )
    return folder


def monthly_secchi(path):
    """Median Secchi depth of each month [m]; months without a reading from their neighbours."""
    table = pd.read_csv(path, parse_dates=["datetime_local"])
    median = table.groupby(table["datetime_local"].dt.month)["secchi_m"].median()
    months = np.concatenate([median.index + shift for shift in (-12, 0, 12)])
    return np.interp(np.arange(1, 13), months, np.tile(median.to_numpy(), 3))


def _lake(folder, *, zone=EASTERN, surroundings="valley", **own):
    table = pd.read_csv(folder / "hypsography.csv")
    depths, areas = table["depth_m"].to_numpy(float), table["area_m2"].to_numpy(float)
    volume = np.sum(0.5 * (areas[1:] + areas[:-1]) * np.diff(depths))
    secchi = monthly_secchi(folder / "secchi.csv")
    # by clarity, as a lake file that names no fertility; Beaverdam is told mesotrophic by it, and
    # "eutrophic" would take its oxygen floor's error from 2.0 m to 0.9
    return Lake(
        time_zone=zone, area=float(areas[0]), max_depth=float(depths[-1]),
        mean_depth=float(volume / areas[0]), depths=depths, areas=areas,
        depth_area_source="survey", secchi=secchi, secchi_source="measured",
        fertility=fertility_of(secchi)[1], surroundings=surroundings,
        weather=WeatherSource(), **own,
    )  # fmt: skip


def _utc(local, zone=EASTERN):
    stamps = pd.DatetimeIndex(local).tz_localize(zone, nonexistent="shift_forward")
    return stamps.tz_convert("UTC").tz_localize(None)


def _weather(path):
    return read_weather(path, {"time": "datetime_utc"})


def beaverdam(folder):
    """Beaverdam Reservoir 2013-2016 with reanalysis weather."""
    here = folder / "beaverdam"
    lake = _lake(
        here, key="beaverdam", name="Beaverdam Reservoir", latitude=37.313, longitude=-79.816,
        elevation=600.0, longest_fetch=900.0, below_full_pond=np.full(12, 1.7),
    )  # fmt: skip
    table = pd.read_csv(here / "profiles.csv", parse_dates=["date_local"])
    casts = pd.DataFrame(
        {
            "time": _utc(table["date_local"] + pd.Timedelta(hours=NOON)),
            "depth": table["depth_m"],
            "temperature": table["temp_c"],
            "oxygen": table["do_mgl"],
        }
    )
    return Site(lake, _weather(here / "weather_hourly.csv"), casts)


def falling_creek(folder, *, weather="reanalysis"):
    """Falling Creek Reservoir 2018; oxygen only where its oxygenation system is off."""
    here = folder / "falling-creek-2018"
    lake = _lake(
        here, key="falling-creek", name="Falling Creek Reservoir", latitude=37.303,
        longitude=-79.837, elevation=507.0, longest_fetch=600.0,
        below_full_pond=np.full(12, 0.5),
    )  # fmt: skip
    table = pd.read_csv(here / "profiles.csv", parse_dates=["datetime_local"])
    system = pd.read_csv(here / "oxygenation_system.csv", parse_dates=["date"])
    running = system.set_index("date")["oxygenation_on"].rolling(3, min_periods=1).max()
    forced = running.reindex(table["datetime_local"].dt.normalize()).to_numpy() > 0
    casts = pd.DataFrame(
        {
            "time": _utc(table["datetime_local"]),
            "depth": table["depth_m"],
            "temperature": table["temp_c"],
            "oxygen": np.where(forced, np.nan, table["do_mgl"]),
        }
    )
    on = system.loc[system["oxygenation_on"] > 0, "date"]
    # the first, long run; its water stays mixed below and 3 degC too warm until the turnover
    stirred = (on.iloc[0], pd.Timestamp("2018-11-01"), OXYGENATED_BELOW)
    return Site(lake, _weather(here / f"weather_hourly_{weather}.csv"), casts, stirred)


def carvins_cove(folder):
    """Carvins Cove Reservoir 2014-2015 with Beaverdam's reanalysis; its level is not recorded."""
    here = folder / "carvins-cove"
    lake = _lake(
        here, key="carvins-cove", name="Carvins Cove Reservoir", latitude=37.370,
        longitude=-79.958, elevation=357.0, longest_fetch=3000.0, below_full_pond=np.zeros(12),
    )  # fmt: skip
    table = pd.read_csv(here / "profiles.csv", parse_dates=["datetime_local"])
    casts = pd.DataFrame(
        {
            "time": _utc(table["datetime_local"]),
            "depth": table["depth_m"],
            "temperature": table["temp_c"],
            "oxygen": table["do_mgl"],
        }
    )
    return Site(lake, _weather(folder / "beaverdam" / "weather_hourly.csv"), casts)


def _daily_strings(here, zone):
    table = pd.read_csv(here / "profiles.csv", parse_dates=["date_local"])
    return pd.DataFrame(
        {
            "time": _utc(table["date_local"] + pd.Timedelta(hours=NOON), zone),
            "depth": table["depth_m"],
            "temperature": table["temp_c"],
            "oxygen": np.nan,
        }
    )


def crampton(folder):
    """Crampton Lake 2017-2019: daily means of a string; a sheltered station, the sky estimated."""
    here = folder / "crampton-wi"
    lake = _lake(
        here, zone=CENTRAL, surroundings="wooded", key="crampton-wi",
        name="Crampton Lake", latitude=46.210, longitude=-89.474, elevation=509.0,
        longest_fetch=800.0, below_full_pond=np.zeros(12),
    )  # fmt: skip
    return Site(lake, _weather(here / "weather_hourly.csv"), _daily_strings(here, CENTRAL))


def barco(folder):
    """Lake Barco 2018-2020: daily means of a string in the upper 3 m, with measured radiation."""
    here = folder / "barco-fl"
    lake = _lake(
        here, surroundings="wooded", key="barco-fl", name="Lake Barco",
        latitude=29.676, longitude=-82.008, elevation=27.0, longest_fetch=450.0,
        below_full_pond=np.zeros(12),
    )  # fmt: skip
    return Site(lake, _weather(here / "weather_hourly.csv"), _daily_strings(here, EASTERN))


SITES = {
    "beaverdam": beaverdam,
    "fallingcreek": falling_creek,
    "carvins": carvins_cove,
    "crampton": crampton,
    "barco": barco,
}


def natural(site):
    """The site's casts without readings from water that a machine stirs."""
    if site.stirred is None:
        return site.casts
    first, last, depth = site.stirred
    time = site.casts["time"]
    inside = (time >= first) & (time < last) & (site.casts["depth"] > depth)
    return site.casts[~inside]


def without_radiation(site):
    """The site's forcing with its measured radiation withheld: the sky is estimated."""
    names = [name for name in ("shortwave", "longwave") if name in site.weather]
    return prepare_forcing(site.weather.drop_vars(names), site.lake)


def with_mean_wind(site):
    """The site's forcing with each hour's wind replaced by its month's mean."""
    forcing = prepare_forcing(site.weather, site.lake)
    monthly = forcing["wind_speed"].groupby("time.month").mean()
    wind = monthly.sel(month=forcing["time.month"]).drop_vars("month")
    return forcing.assign(wind_speed=wind.assign_attrs(forcing["wind_speed"].attrs))
