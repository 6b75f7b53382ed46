"""What is known before a report is made: each lake's weather and water, and the club's log."""

import os
from contextlib import suppress
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.club import find_lake
from lakekit.column.fit import fit_lake, needed_weather
from lakekit.column.following.follow import follow
from lakekit.column.run import simulate
from lakekit.errors import ProbeError, TackleError, TripsError, WeatherError
from lakekit.inputs import file_bytes
from lakekit.probe import read_probe
from lakekit.shown import Shown
from lakekit.strata import layered, stratification
from lakekit.tackle.drops import read_drops, sinking
from lakekit.tackle.running import read_running, running_card
from lakekit.tackle.solvers import sink_shape
from lakekit.tactics.book import find_species, read_book, read_species, tactic_words
from lakekit.tactics.phase import daily_phases
from lakekit.trips import fish_depths, read_trips
from lakekit.trips.rates import catch_rates
from lakekit.waters.cover import read_cover
from lakekit.waters.kept import content_key, kept
from lakekit.waters.logged import LogPatterns, join_log, log_water
from lakekit.waters.readings import all_readings, log_readings
from lakekit.weather import coverage, lake_weather, prepare_forcing

FIT_MEMBERS = 24
FIT_SEED = 20
HINDCAST_MEMBERS = 16  # their spread weighs the readings; what is kept is the best estimate
BEFORE_READINGS = pd.Timedelta(days=730)  # of weather with every member, before the first reading
LOG_UNITS = (
    dict.fromkeys(
        ("catch_depth", "water_depth", "bait_depth", "size", "clarity", "line_out",
         "thermocline_depth", "mixed_layer_depth", "oxygen_floor_depth", "depth_from_thermocline",
         "start_depth"),
        "m")
    | dict.fromkeys(("surface_temp", "surface_temperature"), "degC")
    | {"hours": "h", "speed": "m/s", "weight": "kg", "days_since_front": "d"}
)  # fmt: skip
LOG_NAMES = ("trips.csv", "trips.xlsx")
UNREAD_LOGS = ("trips.xls", "trips.ods", "trips.xlsm", "trips.numbers", "trips.tsv")


@dataclass(frozen=True)
class LakeWater(Shown):
    """One lake's weather and simulated water."""

    lake: object
    forcing: xr.Dataset
    as_of: np.datetime64  # last hour of the record, UTC
    coverage: pd.DataFrame  # share measured, filled and estimated by variable and month
    parameters: xr.Dataset | None  # fitted members; None: the lake's defaults
    readings: int  # casts with the probe
    log_readings: int  # days on which the log holds a surface temperature or a clarity
    probe: pd.DataFrame | None  # the readings that move the water; None without any
    moved: pd.DataFrame | None  # what each of them found and moved
    layers: xr.Dataset  # daily layers over the record, best estimate; readings smooth them
    phases: pd.Series  # season phase by day
    species: object

    def shown_rows(self):
        """The lake, the record, what it was fitted to, and the parts by name."""
        times = pd.DatetimeIndex(self.forcing["time"].values)
        casts = f"{self.readings} casts" if self.readings else "no probe: the lake file's defaults"
        parts = ", ".join(part.name for part in fields(self))
        return [("Water of", self.lake.name),
                ("Weather", f"{times[0]:%Y-%m-%d} to {pd.Timestamp(self.as_of):%Y-%m-%d}"),
                ("Fitted to", casts), ("Parts", parts)]  # fmt: skip


@dataclass(frozen=True)
class LakeKnowledge(LakeWater):
    """All that a report on one lake rests on."""

    trips: pd.DataFrame | None  # the club's whole log joined to the water; None without a log
    rates: object  # lakekit.trips.Rates of the whole log
    patterns: object  # LogPatterns: what the log says of its water
    cards: dict  # running-depth cards by lure
    sinking: dict  # what the club's own timed drops say, by lure
    places: tuple  # what stands in the club's lakes, from its cover.csv
    units: str  # the club's, for sentences
    invented: bool

    @cached_property
    def fish_depths(self):
        """Where the log's fish sat, by season phase, as from ``lakekit.trips.fish_depths``."""
        return fish_depths(self.trips, units=self.units)

    @cached_property
    def logged_outings(self):
        """This lake's outings in the log: calendar month -> outings by season phase, most first."""
        here = self.trips[self.trips["lake"] == self.lake.key]
        return {
            month: rows.drop_duplicates("trip")["phase"].value_counts()
            for month, rows in here.groupby(here["start"].dt.month)
        }

    @property
    def water(self):
        """Every day of the record by depth: temperature [degC] and oxygen [mg/L] (time, depth)."""
        from lakekit.waters.year import whole_run

        return whole_run(self)

    @property
    def log(self):
        """The joined log; ``attrs["units"]`` gives the unit of each column that has one."""
        if self.trips is None:
            return None
        log = self.trips.copy()
        log.attrs = {"units": {name: unit for name, unit in LOG_UNITS.items() if name in log}}
        return log

    def shown_rows(self):
        """As of the water, and how much log there is."""
        log = "none" if self.trips is None else f"{len(self.trips)} rows"
        rows = super().shown_rows()
        return [*rows[:-1], ("Log", log), rows[-1]]


def gather(club, key, *, as_of=None, progress=None):
    """Read, fill and simulate what a club folder holds on one lake.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key or name.
    as_of : datetime64, optional
        Label of the last hour [UTC] that may be known: no later weather, reading or trip enters.
    progress : callable, optional
        Called with one line of text as the work goes on.

    Returns
    -------
    LakeKnowledge

    Raises
    ------
    LakekitError
        When a file of the club cannot be read or the weather has holes past the stated limits.

    Examples
    --------
    >>> gather(club, "quarry-hollow").layers["thermocline_depth"].dims
    ('time',)
    """
    return gather_all(club, [key], as_of=as_of, progress=progress)[0]


def gather_all(club, keys, *, as_of=None, progress=None):
    """What a club folder holds on several lakes, as :func:`gather`, its log read once.

    Parameters
    ----------
    club : lakekit.club.Club
    keys : sequence of str
    as_of : datetime64, optional
    progress : callable, optional

    Returns
    -------
    list of LakeKnowledge
    """
    say = progress or (lambda line: None)
    keys = [find_lake(club, key) for key in keys]
    waters = {key: lake_water(club, key, as_of=as_of, progress=say) for key in keys}
    end = log_end(club, [water.as_of for water in waters.values()], as_of)
    trips = log_rows(club, end, progress=say)
    told = {key: log_water(water, trips) for key, water in waters.items()}
    for key in logged_lakes(trips):
        if key not in told:
            try:
                told[key] = log_water(lake_water(club, key, as_of=as_of, progress=say), trips)
            except WeatherError as problem:
                say(without_water(key, problem))
    shared = shared_knowledge(club, trips, told)
    return [lake_knowledge(club, water, shared) for water in waters.values()]


@dataclass(frozen=True)
class SharedKnowledge:
    """What all lakes of a club share: the log joined to the water, its rates, the measured runs."""

    trips: pd.DataFrame | None
    rates: object
    patterns: LogPatterns
    cards: dict
    sinking: dict
    places: tuple


def log_end(club, ends, as_of):
    """The last hour trips may have; None where later ones stay, without the state of their water.

    Trips after the weather's end are the user's own; only a demo stops with its record.
    """
    return max(ends) if club.invented or as_of is not None else None


def log_rows(club, end=None, *, progress=None):
    """The club's log as ``read_trips`` reads it; None without one."""
    path = log_path(club)
    if path is None:
        return None
    if progress:
        progress(f"{club.name}: reading the log")
    return read_trips(path, club, tactics=tactic_words(read_book()), as_of=end)


def logged_lakes(trips):
    """Keys of the lakes that a log has rows of, in their order."""
    return [] if trips is None else list(trips.get("lake", pd.Series(dtype=str)).unique())


def without_water(key, problem):
    """The line that says a lake's trips count without their water."""
    return f"{key}: its trips count without their water ({problem})"


def shared_knowledge(club, trips, waters):
    """The log joined to the lakes' waters and its rates, once for all lakes.

    Parameters
    ----------
    club : lakekit.club.Club
    trips : pandas.DataFrame or None
        From :func:`log_rows`.
    waters : dict of str to LogWater

    Returns
    -------
    SharedKnowledge
    """
    if trips is not None and len(trips):
        trips = join_log(trips, club, waters)
    rates = catch_rates(trips, book=read_book(), club=club)
    if trips is not None:
        trips = trips.copy(deep=False)
        trips.attrs = {}  # what was left out and why: every slice of the log would copy it
    known = [water.values for water in waters.values() if water.values is not None]
    values = pd.concat(known).reindex(trips["row"]).set_axis(trips.index) if known else None
    return SharedKnowledge(
        trips, rates, LogPatterns(trips, values, club),
        running_cards(club), own_sinking(club), own_places(club),
    )  # fmt: skip


def lake_knowledge(club, water, shared):
    """All that a report on one lake rests on: its water, and what the club's lakes share."""
    return LakeKnowledge(**vars(water), **vars(shared), units=club.units, invented=club.invented)


def lake_forcing(club, lake, *, as_of=None, progress=None):
    """A lake's weather, filled, up to ``as_of`` where it is given."""
    weather = lake_weather(club, lake, progress=progress)
    if as_of is not None:
        weather = weather.sel(time=slice(None, as_of))
    return prepare_forcing(weather, lake)


def lake_water(club, key, *, as_of=None, progress=None):
    """One lake's weather, filled, and its water simulated over the whole record.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key.
    as_of : datetime64, optional
        As for :func:`gather`.
    progress : callable, optional

    Returns
    -------
    LakeWater
    """
    say = progress or (lambda line: None)
    lake, species = club.lakes[key], find_species(club.species, read_species())
    say(f"{lake.name}: reading the weather")
    forcing = lake_forcing(club, lake, as_of=as_of, progress=say)
    parameters, casts = _fitted(club, lake, forcing, say)
    log = log_readings(log_path(club), club, lake, as_of=forcing["time"].values[-1])
    probe = all_readings(casts, log)
    central = None if parameters is None else parameters.isel(member=slice(0, 1))

    def simulated():
        days = forcing.sizes["time"] // 24
        span = f"{days / 365.25:.0f} years" if days >= 550 else f"{days} days"
        say(f"{lake.name}: simulating {span} of water")
        if probe is None:
            run = simulate(lake, forcing, parameters=central)
            return stratification(run, oxygen_limit=species.oxygen_limit).isel(member=0)
        return _followed_layers(lake, forcing, probe, parameters, species.oxygen_limit)

    told = (central,) if probe is None else (parameters, probe)
    key = content_key(lake, forcing, *told, species.oxygen_limit)
    layers = kept("layers", lake, key, simulated, progress=say)
    moved = moved_table(layers) if probe is not None else None
    layers = layers.drop_dims("reading", errors="ignore")
    return LakeWater(
        lake=lake,
        forcing=forcing,
        as_of=forcing["time"].values[-1],
        coverage=coverage(forcing),
        parameters=parameters,
        readings=0 if casts is None else int(casts["time"].nunique()),
        log_readings=len(log),
        probe=probe,
        moved=moved,
        layers=layers,
        phases=_phases(layers, species),
        species=species,
    )


def _followed_layers(lake, forcing, probe, parameters, oxygen_limit):
    """Layers of the smoothed best estimate, and beside them what each reading found.

    The years before the readings are simulated once, with the central member alone.
    """
    first = pd.Timestamp(probe["time"].min()) - BEFORE_READINGS
    times = forcing["time"].to_index()
    cut = int(times.searchsorted(first))
    central = None if parameters is None else parameters.isel(member=slice(0, 1))
    if cut < 24 * 365:
        cut = 0
    run = follow(
        lake, forcing.isel(time=slice(cut, None)), probe, parameters=parameters,
        members=HINDCAST_MEMBERS, seed=FIT_SEED, smoothed=True,
    )  # fmt: skip
    layers = stratification(run.isel(member=[0]), oxygen_limit=oxygen_limit).isel(member=0)
    if cut:
        # a year in common, in which the later run forgets its start
        early = simulate(lake, forcing.isel(time=slice(0, cut + 24 * 365)), parameters=central)
        early = stratification(early, oxygen_limit=oxygen_limit).isel(member=0)
        layers = layers.sel(time=slice(early["time"].values[-1] + np.timedelta64(1, "h"), None))
        layers = xr.concat([early, layers], "time", join="override", combine_attrs="override")
    names = [name for name in run.data_vars if name.startswith("reading_")]
    return layers.merge(run[[name for name in names if run[name].dims == ("reading",)]])


def moved_table(layers):
    """What each metre of each cast read, what was expected there and what was left."""
    names = ("row", "time", "kind", "depth", "value", "expected", "after", "used")
    return pd.DataFrame({name: layers[f"reading_{name}"].values for name in names})


def log_path(club):
    """The club's trip log, or None when it keeps none.

    A workbook beside the empty ``trips.csv`` of a new club is the log.

    Raises
    ------
    TripsError
        When there are two logs with rows, or only one that cannot be read.
    """
    paths = [club.folder / name for name in LOG_NAMES if os.path.lexists(club.folder / name)]
    if len(paths) > 1:
        lines = file_bytes(paths[0], error=TripsError).splitlines()
        if sum(bool(line.strip(b",; \t")) for line in lines) > 1:
            raise TripsError(
                f"there are two logs, {' and '.join(LOG_NAMES)}",
                where=str(club.folder),
                mend="Keep one of them, and move the other out of the club's folder.",
            )
        return paths[1]
    others = [club.folder / name for name in UNREAD_LOGS if os.path.lexists(club.folder / name)]
    if others and not paths:
        raise TripsError("a log is not read from such a file", where=str(others[0]),
                         mend="Save it as trips.xlsx, or as trips.csv.")  # fmt: skip
    return paths[0] if paths else None


def own_places(club):
    """What the club says stands in its lakes; empty without a cover.csv."""
    path = club.folder / "cover.csv"
    return tuple(read_cover(path, club)) if os.path.lexists(path) else ()


def own_sinking(club):
    """What the club's own timed drops say of the lures in its boat, by lure; empty without any."""
    path = club.folder / "drops.csv"
    if not os.path.lexists(path):
        return {}
    drops = read_drops(path)
    return {
        lure.name: sinking(drops[lure.name], lure, shape=sink_shape(lure), lines=club.boat.lines)
        for lure in club.boat.lures
        if lure.name in drops and lure.kind in ("jig", "spoon", "sinker", "bait")
    }


def running_cards(club):
    """Running-depth cards from the club's own points, by lure; lures with too few points have none.

    The file does not say on which line a point was measured: the club's first line is taken.
    """
    path = club.folder / "running.csv"
    if not os.path.lexists(path) or not club.boat.lines:
        return {}
    cards = {}
    for lure, points in read_running(path).items():
        with suppress(TackleError):
            cards[lure] = running_card(points, lure=lure, diameter=club.boat.lines[0].diameter)
    return cards


def _fitted(club, lake, forcing, say):
    path = club.folder / "probe.csv"
    if not os.path.lexists(path):
        return None, None
    findings = []
    readings = read_probe(path, club, findings=findings)
    for finding in findings:
        say(finding)
    readings = readings[readings["lake"] == lake.key]
    first, last = pd.to_datetime(forcing["time"].values[[0, -1]])
    known = readings["time"].between(first, last + pd.Timedelta(hours=1))
    if not known.all():
        rows, left = readings.loc[~known, "row"], readings.loc[~known, "time"].nunique()
        say(
            f"{path.name}: {'1 cast' if left == 1 else f'{left} casts'} of {lake.name} outside its "
            f"weather record ({first:%Y-%m-%d} to {last:%Y-%m-%d}), not used, the first in row "
            f"{rows.min()}"
        )
    readings = readings[known]
    casts = readings["time"].nunique()
    if not casts:
        return None, None

    # a new hour after the last reading changes nothing for the fit
    needed = needed_weather(forcing, readings)
    key = content_key(lake, needed.drop_attrs(deep=False), readings, FIT_MEMBERS, FIT_SEED)

    def fit():
        say(f"{lake.name}: fitting the water to {casts} probe casts, kept for next time")
        return fit_lake(lake, needed, readings, members=FIT_MEMBERS, seed=FIT_SEED)

    try:
        return kept("fits", lake, key, fit, progress=say), readings.reset_index(drop=True)
    except ProbeError as problem:  # readings that no such lake explains: the rest goes on
        say(f"{path.name}: {str(problem).rstrip('.')}. The readings of {lake.name} are not used")
        return None, None


def _phases(layers, species):
    surface = layers["surface_temperature"].to_series().interpolate(limit_direction="both")
    stratified = layered(layers).to_series().astype(float)
    days = surface.index.normalize()
    return pd.Series(daily_phases(days, surface.to_numpy(), stratified.to_numpy(), species), days)
