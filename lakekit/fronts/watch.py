"""Has a front come since the last note? Quick enough to be asked by a clock, for every lake."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.column.parameters import default_parameters
from lakekit.column.run import simulate
from lakekit.fronts.water import LEAD, RECENT, SPIN_UP, state_at
from lakekit.strata.events import front_effects
from lakekit.strata.indices import run_layers
from lakekit.strata.spells import fronts
from lakekit.strata.traces import HOUR
from lakekit.weather import lake_weather, prepare_forcing
from lakekit.weather.air import wind_to_height

FRESH = pd.Timedelta(days=7)  # without a note, a front that ended longer ago is no news


@dataclass(frozen=True)
class Watch:
    """What a look at one lake found."""

    as_of: pd.Timestamp  # label of the record's last hour, UTC
    front: dict | None  # the last front within 30 days, a row of ``fronts``
    new: bool  # it began after the front of the last note, or within a week without a note
    over: bool  # it has ended
    stronger: float | None  # share of the fronts of the last two years with less wind work
    layers: str | None  # unlayered, broken, deeper or untouched; None: not to be told yet
    deepening: float | None  # m, where it made the thermocline deeper


def watch_lake(club, lake, *, told_until=None, progress=None, now=None, folder=None):
    """Look for a front that is newer than a lake's last note.

    Parameters
    ----------
    club : lakekit.club.Club
    lake : Lake
    told_until : datetime64, optional
        End of the front that the last note told of [UTC].
    progress : callable, optional
    now : Timestamp, optional
        [UTC] For a station's record.
    folder : path, optional
        As for :func:`lakekit.waters.kept.kept`.

    Returns
    -------
    Watch
        From one run with the lake file's own values: a note has the spread.

    Raises
    ------
    LakekitError
        Where the lake's weather cannot serve.
    """
    weather = lake_weather(club, lake, now=now, progress=progress)
    times = weather["time"].to_index()
    wind = weather["wind_speed"].to_numpy()
    height = float(weather["wind_speed"].attrs.get("wind_height", 10.0))
    typical = float(np.nanmedian(wind_to_height(wind, measured=height)))
    begin = pd.Timestamp(year=times[-1].year - SPIN_UP - 1, month=1, day=1)
    forcing = prepare_forcing(weather.isel(time=slice(times.searchsorted(begin), None)), lake)
    as_of = forcing["time"].to_index()[-1]
    found = fronts(forcing, typical_wind=typical)
    recent = found[found["end"] > as_of - RECENT]
    if recent.empty:
        return Watch(as_of, None, False, True, None, None, None)
    front = recent.iloc[-1].to_dict()
    if told_until is None:
        new = front["end"] > as_of - FRESH
    else:
        new = front["start"] >= pd.Timestamp(told_until)
    two_years = found[found["start"] > as_of - pd.Timedelta(days=730)]
    stronger = float((two_years["wind_work"] < front["wind_work"]).mean())
    over = front["end"] <= as_of
    layers, deepening = (None, None) if not new else _touched(lake, forcing, front, as_of, folder)
    return Watch(as_of, front, bool(new), bool(over), stronger, layers, deepening)


def _touched(lake, forcing, front, as_of, folder):
    parameters = default_parameters(lake)
    begin = (front["start"] - LEAD).floor("D")
    state = state_at(lake, forcing, parameters, begin, folder=folder)
    part = forcing.sel(time=slice(begin, as_of))
    run = simulate(lake, part, parameters=parameters, state=state)
    effects = front_effects(pd.DataFrame([front]), run_layers(run, lake))
    if effects.empty:
        return None, None  # no noon has come since it ended
    row = effects.iloc[0]
    if not row["layered_before"]:
        return "unlayered", None
    if row["broke"]:
        return "broken", None
    return ("deeper", float(row["deepening"])) if row["deepened"] else ("untouched", None)


def hours_old(watch, now):
    """How long ago the record ended [h]."""
    return (pd.Timestamp(now) - (watch.as_of + HOUR)) / HOUR
