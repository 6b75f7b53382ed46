"""What is known of one lake before a report is made: its weather, its water, its log."""

from contextlib import suppress
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.club import find_lake
from lakekit.column.run import simulate
from lakekit.errors import TackleError
from lakekit.probe import read_probe
from lakekit.report.kept import digest, kept
from lakekit.report.wording import date_text
from lakekit.strata import layered
from lakekit.strata.indices import stratification
from lakekit.strata.spells import fronts
from lakekit.tackle.running import read_running, running_card
from lakekit.tactics.book import find_species, read_book, read_species, tactic_words
from lakekit.tactics.phase import daily_phases
from lakekit.trips import join_water, read_trips
from lakekit.weather import coverage, lake_weather, prepare_forcing

FIT_MEMBERS = 24
FIT_SEED = 20
LOG_NAMES = ("trips.csv", "trips.xlsx")


@dataclass(frozen=True)
class LakeKnowledge:
    """All that a report on one lake rests on."""

    lake: object
    forcing: xr.Dataset
    as_of: np.datetime64  # last observed hour, UTC
    coverage: pd.DataFrame  # share measured, filled and estimated by variable and month
    parameters: xr.Dataset | None  # fitted members, None: the lake's defaults
    readings: int  # casts with the probe
    layers: xr.Dataset  # daily layers over the record, central member
    phases: pd.Series  # season phase by day
    trips: pd.DataFrame | None  # the club's whole log joined to the water; None without a log
    species: object
    cards: dict  # running-depth cards by lure
    invented: bool
    sources: tuple = field(default=())

    @property
    def weather_text(self):
        """The line every page carries: source, span, attribution, licence."""
        attrs = self.forcing.attrs
        first, last = pd.Timestamp(self.forcing["time"].values[0]), pd.Timestamp(self.as_of)
        parts = [
            f"Weather: {attrs.get('source', 'local record')}, {first.year}-{last.year}, "
            f"to {date_text(last)} {last.year}"
        ]
        parts += [attrs[name] for name in ("attribution", "licence") if attrs.get(name)]
        return "; ".join(parts)


def gather(club, key, *, progress=None):
    """Read, fill and simulate what a club folder holds on one lake.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key or name.
    progress : callable, optional
        Called with one line of text as the work goes on.

    Returns
    -------
    LakeKnowledge

    Raises
    ------
    LakekitError
        When a file of the club cannot be read or the weather has holes past the stated limits.
    """
    say = progress or (lambda line: None)
    lake = club.lakes[find_lake(club, key)]
    say(f"{lake.name}: reading the weather")
    forcing = prepare_forcing(lake_weather(club, lake, progress=say), lake)
    as_of = forcing["time"].values[-1]
    parameters, readings = _fitted(club, lake, forcing, say)
    say(f"{lake.name}: simulating {forcing.sizes['time'] / 8766:.0f} years of water")
    central = None if parameters is None else parameters.isel(member=slice(0, 1))
    key = digest(lake, forcing, central)
    layers = kept(
        "layers",
        lake,
        key,
        lambda: stratification(simulate(lake, forcing, parameters=central)).isel(member=0),
        progress=say,
    )
    species = find_species(club.species, read_species()) or read_species()["white_crappie"]
    phases = _phases(layers, species)
    return LakeKnowledge(
        lake=lake,
        forcing=forcing,
        as_of=as_of,
        coverage=coverage(forcing),
        parameters=parameters,
        readings=readings,
        layers=layers,
        phases=phases,
        trips=_log(club, lake, layers, phases, forcing, as_of, say),
        species=species,
        cards=running_cards(club),
        invented=club.invented,
    )


def log_path(club):
    """The club's trip log, or None when it keeps none."""
    return next((club.folder / name for name in LOG_NAMES if (club.folder / name).exists()), None)


def running_cards(club):
    """Running-depth cards from the club's own points, by lure; lures with too few points have none.

    The file does not say on which line a point was measured: the club's first line is taken.
    """
    path = club.folder / "running.csv"
    if not path.exists() or not club.boat.lines:
        return {}
    cards = {}
    for lure, points in read_running(path).items():
        with suppress(TackleError):
            cards[lure] = running_card(points, lure=lure, diameter=club.boat.lines[0].diameter)
    return cards


def _fitted(club, lake, forcing, say):
    path = club.folder / "probe.csv"
    if not path.exists():
        return None, 0
    readings = read_probe(path, club)
    readings = readings[readings["lake"] == lake.key]
    casts = readings["time"].nunique()
    if not casts:
        return None, 0
    from lakekit.column.fit import fit_lake

    def fit():
        say(f"{lake.name}: fitting the water to {casts} probe casts, kept for next time")
        return fit_lake(lake, forcing, readings, members=FIT_MEMBERS, seed=FIT_SEED)

    key = digest(lake, forcing, readings, FIT_MEMBERS, FIT_SEED)
    return kept("fits", lake, key, fit, progress=say), casts


def _phases(layers, species):
    surface = layers["surface_temperature"].to_series().interpolate(limit_direction="both")
    stratified = layered(layers).to_series().astype(float)
    days = surface.index.normalize()
    return pd.Series(daily_phases(days, surface.to_numpy(), stratified.to_numpy(), species), days)


def _log(club, lake, layers, phases, forcing, as_of, say):
    path = log_path(club)
    if path is None:
        return None
    say(f"{lake.name}: reading the log")
    trips = read_trips(path, club, tactics=tactic_words(read_book()), as_of=as_of)
    return join_water(
        trips,
        {lake.key: layers},
        club,
        phase=lambda key, starts: phases.reindex(starts.normalize(), method="nearest").to_numpy(),
        fronts_by_lake={lake.key: fronts(forcing)},
    )
