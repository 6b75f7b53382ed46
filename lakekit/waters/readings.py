"""Every reading that moves a lake's water: casts of the probe, and what the trip log holds."""

from collections import OrderedDict

import numpy as np
import pandas as pd

from lakekit.store import read_once
from lakekit.trips import read_trips

# A surface temperature or a clarity in a log: where on the lake it was taken, at what depth and
# with what is not known (common practice, no source).
LOG_ERROR = 1.0  # degC
LOG_DEPTH = 0.3  # m
_READ = OrderedDict()  # logs as read lately
COLUMNS = ("time", "lake", "depth", "temperature", "oxygen", "row", "error", "secchi")


def log_readings(path, club, lake, *, as_of):
    """Surface temperatures and clarity of a log, one reading a day.

    Parameters
    ----------
    path : path-like or None
    club : lakekit.club.Club
    lake : Lake
    as_of : datetime64
        Nothing later is read.

    Returns
    -------
    pandas.DataFrame
        As ``lakekit.column.follow`` takes them; empty without any.
    """
    if path is None:
        return pd.DataFrame(columns=COLUMNS)
    end = as_of if club.invented else None
    # read once for all lakes; the club is held, so that no other takes its place in memory
    _, trips = read_once(
        _READ, 2, path, lambda: (club, read_trips(path, club, as_of=end)), id(club), end
    )
    if not len(trips):
        return pd.DataFrame(columns=COLUMNS)
    mine = trips[(trips["lake"] == lake.key) & (trips["start"] <= pd.Timestamp(as_of))]
    mine = mine[mine["surface_temp"].notna() | mine["clarity"].notna()]
    if not len(mine):
        return pd.DataFrame(columns=COLUMNS)
    middle = mine["start"] + pd.to_timedelta(0.5 * mine["hours"].fillna(0.0), unit="h")
    table = mine.assign(time=middle.astype("datetime64[us]"), day=middle.dt.floor("D"))
    daily = table.groupby("day").agg(
        time=("time", "first"),
        temperature=("surface_temp", "median"),
        secchi=("clarity", "median"),
        row=("row", "first"),
    )
    daily = daily.assign(lake=lake.key, depth=LOG_DEPTH, oxygen=np.nan, error=LOG_ERROR)
    return daily[daily["time"] <= pd.Timestamp(as_of)].reset_index(drop=True)[list(COLUMNS)]


def all_readings(probe, log):
    """Casts and log readings as one table in order of time; None without any."""
    parts = [part for part in (probe, log) if part is not None and len(part)]
    if not parts:
        return None
    parts = [part.assign(error=part.get("error", 0.0)) for part in parts]
    return pd.concat(parts, ignore_index=True).sort_values("time", kind="stable", ignore_index=True)
