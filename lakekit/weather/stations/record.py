"""A lake's hourly record from the weather stations around it.

The best station comes first: near, at the lake's height, and with data. Its missing hours and
variables (cloud above all) come from the next ones, temperature moved to the lake's height by the
lapse rate, wind scaled to the first station's on the hours both have. Every such hour is flagged.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.constants import LAPSE_RATE
from lakekit.errors import WeatherError
from lakekit.weather.schema import (
    FORCING,
    MEASURED,
    NEIGHBOUR_STATION,
    VARIABLES,
    make_weather,
)
from lakekit.weather.stations.pulled import Years, join_years
from lakekit.weather.stations.service import (
    REPORTED_AFTER,
    SERVICE_LICENCE,
    SERVICE_NAME,
    Station,
    Unreachable,
)

YEARS = 15  # pulled by default
PROBED = 4  # stations whose last full year is looked at
NEIGHBOURS = 3  # stations that may fill holes
HEIGHT_COUNTS = 100.0  # m of height difference weigh like 10 km (common practice, no source)
# Share of a year that must be missing before a neighbour is asked for it.
WORTH_ASKING = {
    "air_temperature": 0.01,
    "wind_speed": 0.01,
    "relative_humidity": 0.01,
    "cloud_cover": 0.05,
    "precipitation": 0.05,
    "air_pressure": 0.20,
}
WIND_RATIO = (0.5, 2.0)  # a neighbour's wind is scaled no further than this
COMMON_HOURS = 500  # needed to scale it


@dataclass(frozen=True)
class Candidate:
    """A station with how well it suits a lake; lower is better."""

    station: Station
    score: float  # km, height difference included
    promised: bool  # its inventory covers temperature and wind in the years wanted


def rank_stations(stations, inventory, lake, *, start, end):
    """Order stations by distance and height difference, those without data last.

    Parameters
    ----------
    stations : list of Station
    inventory : DataFrame with station, parameter, start, end
        What each station holds; a station the inventory does not name is kept behind the others.
    lake : Lake
    start, end : Timestamp

    Returns
    -------
    list of Candidate
    """
    held = {}
    for row in inventory.itertuples():
        if pd.Timestamp(row.start) <= end and pd.Timestamp(row.end) >= start:
            held.setdefault(str(row.station), set()).add(str(row.parameter))
    candidates = []
    for station in stations:
        height = abs(station.elevation - lake.elevation)
        score = station.distance + 10.0 * height / HEIGHT_COUNTS
        promised = {"temp", "wspd"} <= held.get(station.id, set())
        candidates.append(Candidate(station, score, promised))
    return sorted(candidates, key=lambda item: (not item.promised, item.score))


def fetch_weather(lake, start=None, end=None, *, years=None, now=None, progress=None):
    """Pull a lake's hourly observations from the stations around it.

    Parameters
    ----------
    lake : Lake
        Its weather source says "auto" or a station's id.
    start, end : datetime64 or str, optional
        First and last hour [UTC]; by default the last 15 years up to now.
    years : Years, optional
        Where pulled years are kept; made where not given.
    now : Timestamp, optional
        The time it is [UTC].
    progress : callable, optional
        Called with a sentence before each request.

    Returns
    -------
    xarray.Dataset on `time`
        As from ``read_weather``, with `origin_flag` saying which hours come from a neighbour, and
        stations, distances, licences and ages in the attributes. It ends with the last hour of
        which temperature and wind are known.

    Raises
    ------
    WeatherError
        Where no station has data, or nothing can be reached and nothing was kept.

    Examples
    --------
    >>> fetch_weather(lake, "2025-07-01", "2025-06-01")
    Traceback (most recent call last):
    lakekit.errors.WeatherError: ... start 2025-07-01 00:00:00 is not before end 2025-06-01 00:00:00
    """
    years = years or Years(now=now, progress=progress)
    end = (pd.Timestamp(end) if end is not None else years.now).floor("h")
    start = (
        pd.Timestamp(start) if start is not None else pd.Timestamp(f"{end.year - YEARS + 1}-01-01")
    ).floor("h")
    if start >= end:
        raise WeatherError(f"start {start} is not before end {end}", where=lake.name)
    wanted = range(start.year, end.year + 1)
    try:
        candidates = _candidates(lake, years, start, end)
    except Unreachable as problem:
        raise _no_weather(lake, years, str(problem)) from problem
    main, others = _choose(candidates, lake, years, wanted)
    pieces = {year: years.get(main, year) for year in reversed(wanted)}
    if not any(pieces.values()):
        said = next(iter(years.failures.values()), "no station has data")
        raise _no_weather(lake, years, years.out_of_reach or said)
    neighbours = _neighbours(pieces, others, years)
    weather = _merge(lake, main, pieces, neighbours, start, end)
    return _described(weather, lake, years, main, neighbours, wanted, end)


def _no_weather(lake, years, why):
    return WeatherError(
        f"no weather for {lake.name}: {why}",
        where="weather stations",
        mend="Nothing that was pulled before can stand in. Try again with a network, or name a "
        'file under [weather] in the lake file: file = "weather/name.csv" in place of station.',
    )


def _candidates(lake, years, start, end):
    stations, inventory = years.nearby(lake.latitude, lake.longitude)
    ranked = rank_stations(stations, inventory, lake, start=start, end=end)
    named = lake.weather.station
    if named and named != "auto":
        ids = [item.station.id for item in ranked]
        if named not in ids:
            near = ", ".join(
                f"{item.station.id} ({item.station.name}, {item.station.distance:.0f} km)"
                for item in ranked[:3]
            )
            raise WeatherError(
                f"station {named!r} is not within 100 km of {lake.name}",
                where="[weather]",
                mend=f"The nearest are {near}." if near else None,
            )
        ranked.sort(key=lambda item: item.station.id != named)
    if not ranked:
        raise WeatherError(
            f"there is no weather station within 100 km of {lake.name}",
            where="weather stations",
            mend='Name a file under [weather]: file = "weather/name.csv" in place of station.',
        )
    return ranked


def _choose(candidates, lake, years, wanted):
    """The station to lean on, and the others in order."""
    stations = [item.station for item in candidates]
    if lake.weather.station and lake.weather.station != "auto":
        return stations[0], stations[1:]
    probe = wanted[-2] if len(wanted) > 1 else wanted[-1]  # the last full year
    best, best_share = stations[0], -1.0
    for station in stations[:PROBED]:
        piece = years.get(station, probe)
        if years.out_of_reach and not piece:
            continue
        share = _usable(piece)
        if share > best_share:
            best, best_share = station, share
        if share >= 0.90:
            break
    return best, [station for station in stations if station is not best]


def _usable(piece):
    """Share of a year's hours with what must be whole: temperature, wind, humidity."""
    if not piece:
        return 0.0
    names = ("air_temperature", "wind_speed", "relative_humidity")
    return min(float(np.mean(~np.isnan(piece[name]))) if name in piece else 0.0 for name in names)


def _neighbours(pieces, others, years):
    """Years of neighbouring stations, asked for only where they can fill something."""
    need = {}
    for year, piece in pieces.items():
        first, last = pd.Timestamp(f"{year}-01-01"), pd.Timestamp(f"{year + 1}-01-01")
        hours = int((min(last, years.now) - first) / pd.Timedelta("1h"))
        need[year] = {
            name: np.isnan(piece[name][:hours]) if piece else np.ones(max(hours, 0), dtype=bool)
            for name in WORTH_ASKING
        }
    neighbours = []
    for station in others:
        if len(neighbours) >= NEIGHBOURS or years.out_of_reach:
            break
        found, helpful = {}, None
        for year, missing in need.items():
            short = {
                name
                for name, share in WORTH_ASKING.items()
                if missing[name].size and missing[name].mean() > share
            }
            if not short or (helpful is not None and not short & helpful):
                continue
            piece = years.get(station, year)
            if not piece:
                if helpful is None:
                    break  # its most recent year is missing: do not search the others
                continue
            gives = {name for name in WORTH_ASKING if np.mean(~np.isnan(piece[name])) > 0.1}
            helpful = gives if helpful is None else helpful | gives
            found[year] = piece
            for name, hole in missing.items():
                hole &= np.isnan(piece[name][: hole.size])
        if found:
            _overlap(station, found, pieces, years)
            neighbours.append((station, found))
    return neighbours


def _overlap(station, found, pieces, years):
    """See to one year that both stations have, so that their winds can be compared."""
    if any(pieces[year] and _usable(pieces[year]) > 0.5 for year in found):
        return
    good = [year for year, piece in pieces.items() if piece and _usable(piece) > 0.5]
    for year in sorted(good, reverse=True)[:1]:
        piece = years.get(station, year)
        if piece:
            found[year] = piece


def _merge(lake, main, pieces, neighbours, start, end):
    axis, data = _at_lake(lake, main, pieces, start, end)
    methods = {name: np.full(axis.size, MEASURED) for name in FORCING}
    for station, found in neighbours:
        _, other = _at_lake(lake, station, found, start, end)
        if "wind_speed" in other and "wind_speed" in data:
            other["wind_speed"] = other["wind_speed"] * wind_ratio(
                data["wind_speed"], other["wind_speed"]
            )
        for name, values in other.items():
            mine = data.setdefault(name, np.full(axis.size, np.nan))
            take = np.isnan(mine) & ~np.isnan(values)
            mine[take] = values[take]
            if name in methods:
                methods[name][take] = NEIGHBOUR_STATION
    known = np.flatnonzero(~np.isnan(data["air_temperature"]) & ~np.isnan(data["wind_speed"]))
    if known.size < 24:
        raise WeatherError(
            f"no station near {lake.name} has both temperature and wind",
            where="weather stations",
            mend='Name a file under [weather]: file = "weather/name.csv" in place of station.',
        )
    part = slice(known[0], known[-1] + 1)
    return make_weather(
        axis[part],
        {name: held[part] for name, held in data.items() if not np.isnan(held[part]).all()},
        wind_height=10.0,  # WMO-No. 8: the standard exposure
        pressure_level="sea_level",
        origin={name: method[part] for name, method in methods.items()},
    )


def _at_lake(lake, station, pieces, start, end):
    """A station's years on the wanted hours, temperature at the lake's height."""
    axis, data = join_years(pieces, start, end)
    for name in REPORTED_AFTER:
        if name in data:
            data[name] = np.append(data[name][1:], np.nan)
    data["air_temperature"] = data["air_temperature"] + LAPSE_RATE * (
        station.elevation - lake.elevation
    )
    for name, values in data.items():
        low, high = VARIABLES[name].low, VARIABLES[name].high
        with np.errstate(invalid="ignore"):
            values[(values < low) | (values > high)] = np.nan
        if name == "relative_humidity":
            np.minimum(values, 100.0, out=values)
    return axis, data


def wind_ratio(wind, neighbour_wind):
    """What to multiply a neighbour's wind by: the ratio of means over the hours both have.

    Parameters
    ----------
    wind, neighbour_wind : (n,) array [m/s], NaN where missing

    Returns
    -------
    float
        0.5 to 2; 1 where fewer than 500 hours are common.
    """
    common = ~np.isnan(wind) & ~np.isnan(neighbour_wind)
    if common.sum() < COMMON_HOURS or neighbour_wind[common].mean() <= 0:
        return 1.0
    return float(np.clip(wind[common].mean() / neighbour_wind[common].mean(), *WIND_RATIO))


def _described(weather, lake, years, main, neighbours, wanted, end):
    notes = []
    last = weather["time"].to_index()[-1]
    if end - last > pd.Timedelta("2D"):
        notes.append(
            f"the record ends on {last:%Y-%m-%d}: no station near has both temperature "
            f"and wind after it"
        )
    if years.out_of_reach:
        notes.append(
            f"weather server out of reach ({years.out_of_reach}): using what was kept, "
            f"{years.age_words()}"
        )
    missing = [
        str(year)
        for (station, year), _ in sorted(years.failures.items())
        if station == main.id and year in wanted
    ]
    if missing:
        notes.append(
            f"station {main.id} has no {', '.join(missing)}: "
            + years.failures[main.id, int(missing[-1])]
        )
    if years.unkept:
        notes.append(f"pulled years are not kept: {years.unkept}")
    if neighbours:
        notes.append(
            "holes filled from "
            + ", ".join(
                f"{station.name} ({station.id}, {station.distance:.0f} km, "
                f"{station.elevation - lake.elevation:+.0f} m)"
                for station, _ in neighbours
            )
        )
    others = sorted(years.service.attributions - {"Meteostat", ""})
    pulled = years.pulled_at.values()
    weather.attrs = {
        "kind": "observations",
        "source": f"weather station {main.name} ({main.id})",
        "attribution": ", ".join([SERVICE_NAME, *others]),
        "licence": "; ".join([SERVICE_LICENCE, *sorted(years.service.licences)]),
        "station": main.id,
        "station_name": main.name,
        "station_distance": main.distance,
        "station_distance_units": "km",
        "station_elevation": main.elevation,
        "height_difference": main.elevation - lake.elevation,
        "neighbours": ", ".join(station.id for station, _ in neighbours),
        "requests": years.service.requests,
        "pulled": str(max(pulled)) if pulled else "",
        "notes": "; ".join(notes),
    }
    return weather
