"""Years of station weather: from our own store where they are fresh enough, else pulled and kept.

A finished year is kept for good; the running one, and a year pulled before it was over, are
pulled again when older than an hour. Each year is kept as soon as it has come, so an interrupted
pull goes on where it stopped. Without a network, what is kept serves however old, and says so.
"""

import tempfile
from collections import OrderedDict
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.store import StoreError, cache_folder, keep_arrays, kept_arrays, read_once
from lakekit.weather.stations.service import Service, Unreachable, YearAbsent, YearDamaged

FRESH = pd.Timedelta("1h")
ABSENT_FRESH = pd.Timedelta("1D")
SETTLED = pd.Timedelta("14D")  # late reports still come in for about as long
ENOUGH_FAILURES = 2  # in a row, before the server counts as out of reach
KEPT_YEARS = 64  # that one process holds, half a megabyte each: four stations of 15 years

_READ = OrderedDict()


class Years:
    """Years of any station, kept or pulled.

    Parameters
    ----------
    folder : path, optional
        Where years are kept; by default in the cache folder.
    now : Timestamp, optional
        The time it is [UTC].
    progress : callable, optional
        Called with a sentence before each request.
    """

    def __init__(self, *, folder=None, now=None, progress=None):
        self.folder = Path(folder) if folder else cache_folder() / "weather"
        self.now = pd.Timestamp(now) if now is not None else _utc_now()
        self.progress = progress or (lambda text: None)
        self.service = Service(self.folder / "stations.db")
        self.out_of_reach = None  # why, once the server is given up
        self.failures = {}  # (station, year) -> what went wrong
        self.pulled_at = {}  # (station, year) -> when it was pulled
        self.unkept = None  # why years could not be kept
        self._unreachable_in_a_row = 0

    def get(self, station, year):
        """The year's arrays, or None where there are none to be had."""
        path = self.folder / _safe(station.id) / f"{year}.npz"
        kept = read_once(_READ, KEPT_YEARS, path, lambda: kept_arrays(path))
        if kept is not None and self._fresh(kept[1], year):
            return self._use(kept, station, year)
        if self.out_of_reach is None:
            try:
                return self._pull(station, year, path)
            except Unreachable as problem:
                self._unreachable_in_a_row += 1
                self.failures[station.id, year] = str(problem)
                if self._unreachable_in_a_row >= ENOUGH_FAILURES or kept is not None:
                    self.out_of_reach = str(problem)
            except YearAbsent as problem:
                self.failures[station.id, year] = str(problem)
                if not kept or kept[1].get("absent"):
                    self._keep(path, {}, {"absent": True, "pulled": str(self.now)})
            except YearDamaged as problem:
                self.failures[station.id, year] = str(problem)
        if kept is not None:
            return self._use(kept, station, year)
        return None

    def _use(self, kept, station, year):
        arrays, about = kept
        if about.get("absent"):
            self.failures.setdefault(
                (station.id, year), f"{year} of station {station.id} is not on the server"
            )
            return None
        self.pulled_at[station.id, year] = pd.Timestamp(about["pulled"])
        self.service.attributions.update(about.get("attributions", ()))
        self.service.licences.update(about.get("licences", ()))
        return arrays

    def _fresh(self, about, year):
        age = self.now - pd.Timestamp(about["pulled"])
        if about.get("absent"):
            return age < ABSENT_FRESH
        over = pd.Timestamp(f"{year + 1}-01-01") + SETTLED
        return pd.Timestamp(about["pulled"]) >= over or age < FRESH

    def _pull(self, station, year, path):
        self.progress(f"pulling {year} from {station.name} ({station.id})")
        try:
            arrays = self.service.year(station, year)
        except YearDamaged:
            arrays = self.service.year(station, year)  # once more: it may have been a hiccup
        self._unreachable_in_a_row = 0
        self.pulled_at[station.id, year] = self.now
        self._keep(
            path,
            arrays,
            {
                "pulled": str(self.now),
                "station": station.id,
                "year": year,
                "attributions": sorted(self.service.attributions),
                "licences": sorted(self.service.licences),
            },
        )
        return arrays

    def _keep(self, path, arrays, about):
        if self.unkept:
            return
        try:
            keep_arrays(path, arrays, about)
        except StoreError as problem:
            self.unkept = str(problem)

    def nearby(self, latitude, longitude, **limits):
        """Stations near a place and their inventory; see :meth:`Service.nearby`."""
        self.progress("looking for weather stations")
        try:
            return self.service.nearby(latitude, longitude, **limits)
        except OSError as problem:  # nowhere to keep the list: use it from a temporary folder
            self.unkept = f"the list of stations cannot be kept: {problem.strerror or problem}"
            with tempfile.TemporaryDirectory() as folder:
                self.service.database = Path(folder) / "stations.db"
                return self.service.nearby(latitude, longitude, **limits)

    def age_words(self):
        """How old the oldest kept year is that should have been newer, in words."""
        if not self.pulled_at:
            return "nothing was kept"
        newest = max(self.pulled_at.values())
        age = self.now - newest
        days = age / pd.Timedelta("1D")
        if days >= 2:
            return f"last pulled {days:.0f} days ago"
        return f"last pulled {max(age / pd.Timedelta('1h'), 0):.0f} hours ago"


def join_years(pieces, start, end):
    """Put yearly arrays on one hourly axis.

    Parameters
    ----------
    pieces : dict of int -> dict of str -> array, or None
        Year -> variables from 1 January 00:00.
    start, end : Timestamp
        First and last hour.

    Returns
    -------
    axis : DatetimeIndex
    arrays : dict of str -> (n,) array
    """
    axis = pd.date_range(start, end, freq="h", unit="ns")
    names = {name for piece in pieces.values() if piece for name in piece}
    arrays = {name: np.full(axis.size, np.nan) for name in names}
    for year, piece in pieces.items():
        if not piece:
            continue
        offset = int((pd.Timestamp(f"{year}-01-01") - axis[0]) / pd.Timedelta("1h"))
        for name, values in piece.items():
            low, high = max(offset, 0), min(offset + values.size, axis.size)
            if high > low:
                arrays[name][low:high] = values[low - offset : high - offset]
    return axis, arrays


def _safe(name):
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in name) or "_"


def _utc_now():
    return pd.Timestamp.now("UTC").tz_localize(None)
