"""A weather server on the loopback address in meteostat's own file layout, with faults to order.

``pull`` is the client: one process a server, because meteostat reads its endpoints when it is
imported. It pulls a lake's weather as a user would and prints what came of it as JSON. Each process
is forked from one that has imported all but meteostat: imports took longer than most pulls.
"""

import gzip
import json
import multiprocessing
import os
import sqlite3
import sys
import tempfile
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pandas as pd

import lakekit

PARAMETERS = (
    "temp",
    "rhum",
    "prcp",
    "snwd",
    "wdir",
    "wspd",
    "wpgt",
    "pres",
    "tsun",
    "cldc",
    "coco",
)
MODEL, OBSERVATION = "dwd_mosmix", "isd_lite"


def year_file(weather, year, *, drop=(), source=OBSERVATION, change=None):
    """One year of a Dataset as the service serves it: gzipped CSV, its units, its rounding.

    Rain and sunshine are stamped with the END of their hour, as reports are.
    """
    time_axis = weather["time"].to_index()
    columns = {}
    for name, variable, factor, digits, late in (
        ("temp", "air_temperature", 1.0, 1, 0),
        ("rhum", "relative_humidity", 1.0, 0, 0),
        ("prcp", "precipitation", 1.0, 1, 1),
        ("wspd", "wind_speed", 3.6, 1, 0),
        ("pres", "air_pressure", 1.0, 1, 0),
        ("tsun", "sunshine_duration", 1 / 60, 0, 1),
        ("cldc", "cloud_cover", 8.0, 0, 0),
    ):
        if variable in weather and name not in drop:
            values = np.round(weather[variable].values * factor, digits)
            columns[name] = pd.Series(values, index=time_axis + pd.Timedelta(hours=late))
    table = pd.DataFrame(columns).reindex(columns=list(PARAMETERS))
    table = table[table.index.year == year]
    if change is not None:
        table = change(table)
    data = {
        "year": table.index.year,
        "month": table.index.month,
        "day": table.index.day,
        "hour": table.index.hour,
    }
    for name in PARAMETERS:
        values = table[name]
        whole = name in ("rhum", "tsun", "cldc")
        data[name] = [
            ("" if np.isnan(v) else f"{v:.0f}" if whole else f"{v:.1f}")
            for v in values.to_numpy(dtype=float)
        ]
        data[f"{name}_source"] = np.where(values.isna(), "", source)
    text = pd.DataFrame(data).to_csv(index=False)
    return gzip.compress(text.encode(), compresslevel=1)


def stations_database(stations, *, inventory=()):
    """The stations database as bytes. Stations: (id, name, latitude, longitude, elevation)."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "stations.db"
        connection = sqlite3.connect(path)
        connection.executescript("""
            CREATE TABLE stations (id TEXT, country TEXT, region TEXT, latitude REAL,
                                   longitude REAL, elevation INTEGER, timezone TEXT);
            CREATE TABLE names (station TEXT, language TEXT, name TEXT);
            CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);
            CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT,
                                    end TEXT, completeness REAL);
        """)
        for key, name, latitude, longitude, elevation in stations:
            connection.execute(
                "INSERT INTO stations VALUES (?,?,?,?,?,?,?)",
                (key, "US", "IL", latitude, longitude, elevation, "America/Chicago"),
            )
            connection.execute("INSERT INTO names VALUES (?,?,?)", (key, "en", name))
        connection.executemany("INSERT INTO inventory VALUES (?,?,?,?,?,?)", inventory)
        connection.commit()
        connection.close()
        return path.read_bytes()


class WeatherServer:
    """Serves `files` (path -> bytes); `faults` (path -> words) spoils some of them.

    Faults: "404", "500", "hang", "cut" (a truncated file), "page" (a web page, status 200).
    """

    def __init__(self, files, faults=None):
        self.files, self.faults, self.asked = dict(files), dict(faults or {}), []
        self.closing = threading.Event()
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self):
                path = self.path.split("?")[0]
                outer.asked.append(path)
                fault = outer.faults.get(path)
                body = outer.files.get(path)
                if fault == "hang":
                    outer.closing.wait(20)
                    return
                status = 200
                if fault == "500":
                    status, body = 500, b"broken"
                elif fault == "page":
                    body = b"<!DOCTYPE html><html><body>Please sign in</body></html>"
                elif fault == "404" or body is None:
                    status, body = 404, b"not found"
                elif fault == "cut":
                    body = body[: len(body) // 2]
                self.send_response(status)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        self.thread = threading.Thread(target=self.server.serve_forever, args=(0.05,), daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.closing.set()
        self.server.shutdown()
        self.server.server_close()


def pull(port, folder, **request):
    """Run the client against a server; returns what it printed."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.lower().endswith("_proxy") and not name.startswith("MS_")
    }
    host = f"http://127.0.0.1:{port}"
    environment.update(
        {
            "MS_HOURLY_ENDPOINT": host + "/hourly/{year}/{station}.csv.gz",
            "MS_STATIONS_DB_ENDPOINTS": json.dumps([host + "/stations.db"]),
            "MS_METNO_FORECAST_ENDPOINT": host + "/forecast?lat={latitude}",
            "MS_NETWORK_TIMEOUT": "1",
            "LAKEKIT_CACHE": str(folder),
        }
    )
    with tempfile.TemporaryDirectory() as said:
        out, err = (Path(said) / name for name in ("out", "err"))
        asked = (environment, request, out, err, lakekit.__file__)
        child = NURSERY.Process(target=_child, args=asked)
        child.start()
        child.join(300)
        if child.exitcode is None:
            child.kill()
            child.join()
        said_out, said_err = out.read_text(), err.read_text()
    lines = [line for line in said_out.splitlines() if line.startswith("{")]
    if child.exitcode or not lines:
        raise AssertionError(f"the client failed:\n{said_out}\n{said_err}")
    answer = json.loads(lines[-1])
    answer["stderr"] = said_err
    return answer


NURSERY = multiprocessing.get_context("forkserver")
NURSERY.set_forkserver_preload(["lakekit.weather.forcing", "lakekit.weather.stations"])


def _child(environment, request, out, err, package):
    assert "meteostat" not in sys.modules and lakekit.__file__ == package
    os.environ.clear()
    os.environ.update(environment)
    for number, path in ((1, out), (2, err)):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT), number)
    guides(request) if "guides" in request else client(request)


def client(request):
    """What a user's process does: pull, prepare, report."""
    from weather_helpers import invented_lake

    from lakekit.club import WeatherSource
    from lakekit.errors import LakekitError
    from lakekit.weather.forcing import coverage, prepare_forcing
    from lakekit.weather.schema import METHODS
    from lakekit.weather.stations import fetch_weather
    from lakekit.weather.stations.forecast import fetch_forecast

    lake = invented_lake(
        weather=WeatherSource(station=request.get("station", "auto")),
        elevation=request.get("elevation", 190.0),
    )
    said, began = [], time.perf_counter()

    def progress(text):
        said.append(text)
        if request.get("interrupt_after") and len(said) > request["interrupt_after"]:
            raise KeyboardInterrupt

    answer = {}
    try:
        if request.get("forecast"):
            weather = fetch_forecast(lake, now=request["now"], progress=progress)
        else:
            weather = fetch_weather(
                lake,
                request.get("start"),
                request.get("end"),
                now=request["now"],
                progress=progress,
            )
        answer["attrs"] = {key: str(value) for key, value in weather.attrs.items()}
        answer["first"], answer["last"] = (str(weather["time"].values[i])[:16] for i in (0, -1))
        if request.get("out"):
            weather.to_netcdf(request["out"], engine="h5netcdf")
        forcing = prepare_forcing(weather, lake)
        shares = (
            coverage(forcing)
            .groupby("variable")[list(METHODS)]
            .mean()
        )
        answer["coverage"] = {
            name: {key: float(value) for key, value in row.items()}
            for name, row in shares.iterrows()
        }
        if request.get("forcing"):
            forcing.to_netcdf(request["forcing"], engine="h5netcdf")
        answer["outcome"] = "weather"
    except LakekitError as problem:
        answer["outcome"], answer["message"] = type(problem).__name__, str(problem)
    except KeyboardInterrupt:
        answer["outcome"] = "interrupted"
    answer["progress"], answer["seconds"] = said, time.perf_counter() - began
    sys.stdout.write("\n" + json.dumps(answer) + "\n")


def guides(request):
    """The guide of the same lake from a station and from a file, as a user would ask for them."""
    from functools import partial

    from lakekit.club import read_club
    from lakekit.guide.season import season_guide
    from lakekit.waters import knowledge
    from lakekit.weather import lake_weather

    knowledge.lake_weather = partial(lake_weather, now=request["now"])
    answer = {}
    for name, folder in request["guides"].items():
        club = read_club(Path(folder))
        answer[name] = season_guide(club, next(iter(club.lakes)), None, request["months"])
    sys.stdout.write("\n" + json.dumps(answer, default=str) + "\n")

