"""What a lake's weather record is worth, in a table and in sentences."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.units import UNITS
from lakekit.weather.forcing import coverage, fill_method, prepare_forcing
from lakekit.weather.schema import FORCING, METHODS, NEARBY_DAYS, OTHER_YEAR
from lakekit.weather.source import lake_weather

NAMES = {
    "air_temperature": "air temperature",
    "relative_humidity": "humidity",
    "wind_speed": "wind",
    "air_pressure": "air pressure",
    "cloud_cover": "cloud",
    "shortwave": "sunshine",
    "longwave": "sky radiation",
    "precipitation": "rain",
}
MPH = UNITS["speed"]["mph"][0]  # m/s
FAR = 40.0  # km; common practice, no source: showers and local winds differ beyond it
HIGH = 150.0  # m
LATELY = 30  # days before the record's end that a guide calls now
FILLED = 0.05  # share of temperature or wind from elsewhere that is worth a word
MANY_YEARS = 10
WINDY, STILL = 7.0, 1.0  # m/s, mean of a record at 10 m; common practice, no source


@dataclass(frozen=True)
class WeatherCoverage:
    """A lake's weather: shares by variable and month, and what they mean."""

    table: pd.DataFrame  # variable, month, a share for each method, hours
    sentences: tuple  # what the record is and how whole
    lowers: tuple  # what lowers the guide's confidence, one sentence each
    attribution: str
    licence: str


def weather_coverage(club, lake, *, start=None, end=None, now=None, progress=None):
    """Read a lake's own weather, fill it, and say how much of it was measured.

    Parameters
    ----------
    club : Club
    lake : Lake or str
        A lake of the club, or its key.
    start, end : datetime64 or str, optional
        First and last hour [UTC].
    now : Timestamp, optional
        The time it is [UTC], for a station.
    progress : callable, optional
        Called with a sentence while a station is pulled.

    Returns
    -------
    WeatherCoverage

    Raises
    ------
    WeatherError
        Where the record cannot be read or is missing past its limits.
    """
    if isinstance(lake, str):
        lake = club.lakes[lake]
    weather = lake_weather(club, lake, start=start, end=end, now=now, progress=progress)
    return describe_forcing(prepare_forcing(weather, lake))


def describe_forcing(forcing):
    """The same for a forcing already at hand."""
    table = coverage(forcing)
    return WeatherCoverage(
        table=table,
        sentences=tuple(_sentences(forcing, table)),
        lowers=tuple(weather_doubts(forcing, table)),
        attribution=str(forcing.attrs.get("attribution", "")),
        licence=str(forcing.attrs.get("licence", "")),
    )


def shares(table):
    """Share of all hours by variable and method, from a coverage table.

    Parameters
    ----------
    table : DataFrame from ``coverage``

    Returns
    -------
    DataFrame
        Indexed by variable, one column a method; rows add up to 1.
    """
    weighted = table[list(METHODS)].mul(table["hours"], axis=0)
    total = weighted.groupby(table["variable"]).sum()
    return total.div(table["hours"].groupby(table["variable"]).sum(), axis=0).loc[list(FORCING)]


def _sentences(forcing, table):
    attrs = forcing.attrs
    time = forcing["time"].to_index()
    years = len(time) / 8766
    said = [
        f"Weather from {attrs.get('source', 'a record')}, {time[0]:%Y-%m-%d} to "
        f"{time[-1]:%Y-%m-%d} ({years:.1f} years)."
    ]
    if "station_distance" in attrs:
        said.append(
            f"The station lies {float(attrs['station_distance']):.0f} km from the lake and "
            f"{_height(float(attrs['height_difference']))}."
        )
    if attrs.get("kind") == "grid":
        height = float(attrs.get("cell_height", np.nan))
        said.append(
            f"It is the mean of {attrs.get('cells', 1)} grid cells around the lake"
            + ("." if np.isnan(height) else f", {_height(float(attrs['height_difference']))}.")
        )
    for variable, row in shares(table).iterrows():
        parts = [
            f"{_percent(row[method])} {words}"
            for method, words in (
                ("measured", "measured"),
                ("neighbour_station", "from a neighbouring station"),
                ("interpolated", "interpolated"),
                ("nearby_days", "from nearby days"),
                ("other_year", "from the same days of another year"),
                ("grid", "from the grid"),
                ("estimated", "estimated"),
            )
            if row[method] > 0
        ]
        said.append(f"{NAMES[variable].capitalize()}: {', '.join(parts)}.")
    if attrs.get("sky"):
        said.append(_sentence(attrs["sky"]))
    if attrs.get("notes"):
        said.append(_sentence(attrs["notes"]))
    if attrs.get("attribution"):
        said.append(
            f"Data: {attrs['attribution']}."
            + (f" Licence: {attrs['licence']}." if attrs.get("licence") else "")
        )
    return said


def weather_doubts(forcing, table=None):
    """What about a forcing lowers the confidence in a guide made from it.

    Parameters
    ----------
    forcing : Dataset from ``prepare_forcing``
    table : DataFrame from ``coverage``, optional

    Returns
    -------
    list of str
        Sentences, most serious first; empty for a long, near and whole record.
    """
    share = shares(coverage(forcing) if table is None else table)
    attrs = forcing.attrs
    doubts = []
    wind = float(forcing["wind_speed"].mean())
    if wind > WINDY:
        doubts.append(
            f"The wind averages {wind:.0f} m/s ({wind / MPH:.0f} mph), more than nearly any inland "
            "water knows: check its unit."
        )
    elif wind < STILL:
        doubts.append(
            f"The wind averages {wind:.1f} m/s ({wind / MPH:.1f} mph): an anemometer behind trees "
            "or houses says too little of a lake; check its unit and its place."
        )
    doubts = _lately(forcing) + doubts
    grid = attrs.get("kind") == "grid"
    if grid:
        doubts.append(
            "The weather is a grid's, not measured at a station: cells many kilometres wide "
            "smooth showers, and their wind is the open land's."
        )
    for variable in ("wind_speed", "air_temperature"):
        away = 0.0 if grid else 1.0 - share.loc[variable, "measured"]
        if away > FILLED:
            doubts.append(
                f"{_percent(away)} of the {NAMES[variable]} hours were not measured at the station."
            )
    distance = float(attrs.get("station_distance", 0.0))
    if distance > FAR:
        doubts.append(
            f"The weather station is {distance:.0f} km away: its wind and showers are "
            f"not always the lake's."
        )
    height = float(attrs.get("height_difference", 0.0))
    if abs(height) > HIGH:
        doubts.append(
            f"The {'grid cell' if grid else 'weather station'} lies {_height(height)}: "
            "temperatures were moved by the lapse rate."
        )
    if share.loc["shortwave", "estimated"] > 0.5:
        doubts.append(_sun_doubt(str(attrs.get("sky", ""))))
    if share.loc["relative_humidity", "estimated"] > 0.2:
        doubts.append("Humidity was not measured, so evaporation is uncertain.")
    years = forcing.sizes["time"] / 8766
    if years < MANY_YEARS:
        whole = int(np.floor(years + 0.05))
        told = f"Only {whole} whole year{'s' * (whole > 1)}" if whole else "Less than a whole year"
        doubts.append(f"{told} of weather: odds are said as n of N years.")
    return doubts


def _lately(forcing):
    """A hole in the last month is said first: it is in what a guide calls now."""
    last = forcing.isel(time=slice(-24 * LATELY, None))
    filled = {
        name: float(np.isin(fill_method(last, name), (NEARBY_DAYS, OTHER_YEAR)).mean())
        for name in ("wind_speed", "air_temperature")
    }
    name = max(filled, key=filled.get)
    if filled[name] <= FILLED:
        return []
    return [
        f"{_percent(filled[name])} of the last {LATELY} days' {NAMES[name]} was not measured but "
        "taken from other days: what is said of the water now leans on a guess."
    ]


def _sun_doubt(sky):
    if "temperature range" in sky and "cloud cover" not in sky and "FAO-56 eq. 35" not in sky:
        return (
            "Sunshine is guessed from each day's temperature range (35-50 W/m2 off on a "
            "single day): surface warmth is uncertain."
        )
    return "Sunshine is estimated from cloud, not measured."


def _height(metres):
    if abs(metres) < 1:
        return "at its height"
    return f"{abs(metres):.0f} m {'above' if metres > 0 else 'below'} it"


def _percent(share):
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{100 * share:.0f} %"


def _sentence(text):
    text = text.strip().rstrip(".")
    return text[:1].upper() + text[1:] + "."
