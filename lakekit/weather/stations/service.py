"""The weather service itself: its settings, one year of one station, the list of stations.

meteostat reads its settings when it is imported and is silent on failure: a year that is missing,
refused, cut short or empty comes back as nothing beside good ones. So it is asked one year at a
time, what it logs is caught and read, and every outcome has a name here.
"""

import gzip
import logging
import os
import socket
import sqlite3
import tempfile
import urllib.error
import zlib
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError

TIMEOUT = 20  # s without a byte, after which a server counts as not answering
DATABASE_AGE = pd.Timedelta("30D")
# Attribution where a library release names none for a source.
SERVICE_NAME = "Meteostat (https://meteostat.net)"
SERVICE_LICENCE = "CC BY-NC 4.0 as stated by the service's library; sources as named"

# Parameter of the service -> variable and factor to its unit here.
# Served in degC; %; km/h; degrees; hPa at sea level; oktas; minutes; mm.
PARAMETERS = {
    "temp": ("air_temperature", 1.0),
    "rhum": ("relative_humidity", 1.0),
    "wspd": ("wind_speed", 1 / 3.6),
    "wdir": ("wind_direction", 1.0),
    "pres": ("air_pressure", 1.0),
    "cldc": ("cloud_cover", 1 / 8),
    "tsun": ("sunshine_duration", 60.0),
    "prcp": ("precipitation", 1.0),
}
# A report's rain and sunshine are totals of the hour before it (WMO-No. 306, FM-12); labelled here
# with that hour's start. The rest are readings at the hour, within half an hour of ours.
REPORTED_AFTER = ("sunshine_duration", "precipitation")


class Unreachable(Exception):
    """The server refused, did not answer or has no address: no use asking for another year."""


class YearAbsent(Exception):
    """The server has no such year, or an empty one."""


class YearDamaged(Exception):
    """The server sent an error or a file that cannot be read."""


@dataclass(frozen=True)
class Station:
    """A weather station near a lake."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation: float  # m
    distance: float  # km from the lake
    country: str = ""


def load_service():
    """Import meteostat with the settings this package needs, once.

    Endpoints, timeout and retries may be set in the environment (``MS_HOURLY_ENDPOINT`` and so
    on) before the first call; the rest is fixed here.
    """
    os.environ.setdefault("MS_NETWORK_TIMEOUT", str(TIMEOUT))
    os.environ.setdefault("MS_NETWORK_MAX_RETRIES", "0")
    os.environ.setdefault("MS_METNO_USER_AGENT", "lakekit/0 (lake guide for an angling club)")
    os.environ.update(
        {
            "MS_CACHE_ENABLE": "false",  # it keeps the current year a month, and failures
            "MS_CACHE_TTL": "0",
            "MS_CACHE_AUTOCLEAN": "false",
            "MS_CACHE_DIRECTORY": tempfile.gettempdir(),
            "MS_INCLUDE_MODEL_DATA": "false",
            "MS_BLOCK_LARGE_REQUESTS": "false",
        }
    )
    import meteostat

    return meteostat


class Service:
    """meteostat asked carefully: it counts its requests and names each failure.

    Parameters
    ----------
    database : path
        Where the list of stations is kept.
    budget : int
        Requests it may make.
    """

    def __init__(self, database, *, budget=58):
        self.database, self.budget, self.requests = Path(database), budget, 0
        self.attributions, self.licences = set(), set()
        self._meteostat = load_service()

    def _spend(self):
        if self.requests >= self.budget:
            raise Unreachable(f"{self.budget} requests were made for one lake, and no more are")
        self.requests += 1

    def year(self, station, year):
        """One year of observations.

        Parameters
        ----------
        station : Station
        year : int

        Returns
        -------
        dict of str -> (n,) float64 array
            Variables of ``schema`` in its units, hourly from 1 January 00:00 UTC, NaN in holes,
            labelled as served (see ``REPORTED_AFTER``).

        Raises
        ------
        Unreachable, YearAbsent, YearDamaged
        """
        self._spend()
        meteostat = self._meteostat
        where = meteostat.Station(
            id=station.id,
            name=station.name,
            country=station.country,
            latitude=station.latitude,
            longitude=station.longitude,
            elevation=round(station.elevation),
        )
        with _heard() as heard, _impatient(meteostat):
            series = meteostat.hourly(
                where,
                datetime(year, 1, 1),
                datetime(year, 12, 31, 23),
                parameters=[meteostat.Parameter(name) for name in PARAMETERS],
            )
            table = series.fetch()
        if table is None or len(table) == 0:
            raise _reason(heard, f"{year} of station {station.id}")
        self._note_licences(series)
        return _arrays(table, year)

    def forecast(self, latitude, longitude, elevation, start, end):
        """A forecast for a point, as a table of the service's parameters by time (UTC)."""
        self._spend()
        meteostat = self._meteostat
        point = meteostat.Point(latitude, longitude, round(elevation))
        with _heard() as heard, _impatient(meteostat):
            series = meteostat.hourly(
                point,
                pd.Timestamp(start).to_pydatetime(),
                pd.Timestamp(end).to_pydatetime(),
                parameters=[meteostat.Parameter(name) for name in PARAMETERS],
                providers=[meteostat.Provider.METNO_FORECAST],
            )
            table = series.fetch()
        if table is None or len(table) == 0:
            raise _reason(heard, "the forecast")
        licences = [item for item in series.licenses if item.name]
        return table, series.attribution, "; ".join(sorted({item.name for item in licences}))

    def _note_licences(self, series):
        self.attributions.update(part.strip() for part in series.attribution.split(","))
        self.licences.update(item.name for item in series.licenses if item.name)

    def nearby(self, latitude, longitude, *, radius=100_000, limit=20):
        """Stations within `radius` metres, nearest first, and what their inventory promises.

        Stations whose height is not known are left out: their temperature could not be moved.

        Returns
        -------
        stations : list of Station
        inventory : DataFrame with station, parameter, start, end (may be empty)

        Raises
        ------
        Unreachable, WeatherError
        """
        meteostat = self._meteostat
        self._ensure_database()
        try:
            with _heard():
                table = meteostat.stations.nearby(
                    meteostat.Point(latitude, longitude), radius=radius, limit=limit
                )
                inventory = (
                    meteostat.stations.inventory(list(table.index)).df if len(table) else None
                )
        except (sqlite3.Error, pd.errors.DatabaseError) as problem:
            raise WeatherError(
                f"the list of weather stations cannot be read: {problem}",
                where=str(self.database),
                mend="Delete it; it is pulled again.",
            ) from problem
        stations = [
            Station(
                str(key),
                str(row["name"]),
                float(row["latitude"]),
                float(row["longitude"]),
                float(row["elevation"]),
                float(row["distance"]) / 1000,
                str(row["country"] or ""),
            )
            for key, row in table.iterrows()
            if pd.notna(row["elevation"])
        ]
        inventory = (
            pd.DataFrame(columns=["station", "parameter", "start", "end"])
            if inventory is None
            else inventory.reset_index()
        )
        return stations, inventory

    def _ensure_database(self):
        config = self._meteostat.config
        config.stations_db_ttl = 10**9  # our own age check decides, so it never pulls by itself
        fresh = _is_database(self.database)
        age = (
            pd.Timestamp.now() - pd.Timestamp.fromtimestamp(self.database.stat().st_mtime)
            if fresh
            else None
        )
        if fresh and age < DATABASE_AGE:
            config.stations_db_file = str(self.database)
            return
        incoming = self.database.with_suffix(".incoming")
        self.database.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            incoming.unlink()
        config.stations_db_file = str(incoming)
        try:
            self._spend()
            with _heard() as heard, _impatient(self._meteostat):
                self._meteostat.stations.connect().close()
        except Exception as problem:
            with suppress(OSError):
                incoming.unlink()
            if fresh:  # an old list is better than none
                config.stations_db_file = str(self.database)
                return
            said = [str(record.getMessage()) for record in heard]
            raise Unreachable(
                "the list of weather stations could not be pulled: "
                + (_network_words(heard) or (said[-1] if said else str(problem)))
            ) from problem
        if not _is_database(incoming, thorough=True):
            start = incoming.read_bytes()[:200] if incoming.exists() else b""
            with suppress(OSError):
                incoming.unlink()
            if fresh:
                config.stations_db_file = str(self.database)
                return
            what = "a web page" if b"<" in start[:50] else "something else"
            raise WeatherError(
                f"the server sent {what} in place of the list of weather stations",
                mend="Is there a sign-in page on this network? Try again later, or "
                'name a file under [weather]: file = "weather/name.csv" in place of station.',
            )
        os.replace(incoming, self.database)
        config.stations_db_file = str(self.database)


def _is_database(path, *, thorough=False):
    """Whether a file is a SQLite database with stations in it; thorough: and whole."""
    try:
        with open(path, "rb") as file:
            if file.read(16) != b"SQLite format 3\x00":
                return False
        connection = sqlite3.connect(path)
        try:
            if thorough and connection.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                return False
            return connection.execute("SELECT COUNT(*) FROM stations").fetchone()[0] > 0
        finally:
            connection.close()
    except (OSError, sqlite3.Error):
        return False


def _arrays(table, year):
    hours = pd.date_range(
        f"{year}-01-01", f"{year + 1}-01-01", freq="h", inclusive="left", unit="ns"
    )
    index = pd.DatetimeIndex(table.index)
    if index.tz is not None:
        index = index.tz_convert("UTC").tz_localize(None)
    place = ((index.as_unit("ns") - hours[0]) / pd.Timedelta("1h")).to_numpy()
    arrays = {}
    for name, (variable, factor) in PARAMETERS.items():
        values = np.full(hours.size, np.nan)
        if name in table:
            # Small unsigned integers first to float64: 60 minutes x 60 would wrap in UInt8.
            column = table[name].to_numpy(dtype=np.float64, na_value=np.nan)
            inside = (place >= 0) & (place < hours.size) & (place == np.floor(place))
            inside &= ~np.isnan(column)
            values[place[inside].astype(int)] = column[inside] * factor
        arrays[variable] = values
    np.clip(arrays["cloud_cover"], 0.0, 1.0, out=arrays["cloud_cover"])
    if all(np.isnan(values).all() for values in arrays.values()):
        raise YearAbsent("no values in the file")
    return arrays


class _Listener(logging.Handler):
    def __init__(self):
        super().__init__(logging.DEBUG)
        self.records = []

    def emit(self, record):
        self.records.append(record)


@contextmanager
def _heard():
    """Catch what the library logs, which is where it says what went wrong."""
    logger = logging.getLogger("meteostat")
    listener, level, spread = _Listener(), logger.level, logger.propagate
    logger.addHandler(listener)
    logger.setLevel(logging.INFO)
    logger.propagate = False
    try:
        yield listener.records
    finally:
        logger.removeHandler(listener)
        logger.setLevel(level)
        logger.propagate = spread


@contextmanager
def _impatient(meteostat):
    """A socket timeout: the library's own is not used for the hourly files."""
    before = socket.getdefaulttimeout()
    socket.setdefaulttimeout(float(meteostat.config.network_timeout))
    try:
        yield
    finally:
        socket.setdefaulttimeout(before)


def _problems(heard):
    for record in heard:
        if record.exc_info and record.exc_info[1] is not None:
            yield record.exc_info[1]


def _network_words(heard):
    for record in heard:
        text = record.getMessage().lower()
        for words, plain in (
            ("refused", "connection refused"),
            ("timed out", "no answer"),
            ("timeout", "no answer"),
            ("name or service", "no such server"),
            ("resolve", "no such server"),
            ("unreachable", "no network"),
        ):
            if words in text:
                return plain
        if "returned status" in text:
            return "the server answered with " + text.split("returned ", 1)[1].split(" (")[0]
    return None


def _reason(heard, what):
    """The named failure behind an answer with nothing in it."""
    for problem in _problems(heard):
        if isinstance(problem, urllib.error.HTTPError):
            return YearDamaged(f"{what}: the server answered with status {problem.code}")
        if isinstance(problem, (TimeoutError, socket.timeout)):
            return Unreachable(f"{what}: the server does not answer")
        if isinstance(problem, urllib.error.URLError):
            cause = problem.reason
            if isinstance(cause, (TimeoutError, socket.timeout)):
                return Unreachable(f"{what}: the server does not answer")
            if isinstance(cause, ConnectionRefusedError):
                return Unreachable(f"{what}: connection refused")
            return Unreachable(f"{what}: {cause}")
        if isinstance(problem, (ConnectionError, OSError)) and not isinstance(
            problem, gzip.BadGzipFile
        ):
            return Unreachable(f"{what}: {problem}")
        if isinstance(problem, (EOFError, zlib.error)):
            return YearDamaged(f"{what}: the file was cut short")
        if isinstance(problem, gzip.BadGzipFile):
            return YearDamaged(f"{what}: the file is not what its name says")
        return YearDamaged(f"{what}: {type(problem).__name__}: {problem}")
    words = _network_words(heard)
    if words:
        return Unreachable(f"{what}: {words}")
    if any("was not found" in record.getMessage() for record in heard):
        return YearAbsent(f"{what} is not on the server")
    return YearAbsent(f"{what} is empty")
