"""What a club's log needs of its lakes' waters: the state at each row, and what it may go with."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.light import attenuation
from lakekit.column.parameters import fading_factor
from lakekit.strata import fronts, layered
from lakekit.tactics.start import hold
from lakekit.trips import join_water
from lakekit.trips.join import STATE, water_state
from lakekit.trips.patterns import (
    FEWEST_OUTINGS,
    candidate_values,
    find_patterns,
    pattern_effect,
)
from lakekit.waters.year import whole_run

ICED = 0.01  # m


@dataclass(frozen=True)
class LogWater:
    """What the log needs of one lake's water: a hundredth of it, fit to be sent about."""

    layers: xr.Dataset  # the state that trips are joined to, daily
    phases: pd.Series
    fronts: pd.DataFrame
    as_of: np.datetime64
    starts: pd.Series | None = None  # start depth [m] of each row of the log, by its row number
    values: pd.DataFrame | None = None  # candidates of patterns, likewise


@dataclass(frozen=True)
class LogPatterns:
    """Whether the log's catch goes with its water, asked when first wanted."""

    trips: pd.DataFrame | None  # joined to the water
    values: pd.DataFrame | None  # candidates by row, indexed as trips
    club: object

    @cached_property
    def found(self):
        """All patterns asked of the log, as ``find_patterns`` has them; None without a log."""
        if self.values is None:
            return None
        return find_patterns(self.trips, self.values, club=self.club)

    @cached_property
    def effect(self):
        """Told patterns that a half-month's water knows, as an Effect; None without any."""
        return self.found and pattern_effect(self.found, self.club)


def log_water(water, trips=None):
    """The part of a :class:`LakeWater` that its trips are joined to.

    Parameters
    ----------
    water : lakekit.waters.knowledge.LakeWater
    trips : pandas.DataFrame, optional
        As from ``read_trips``: the start depth and the candidates of its rows are then told.

    Returns
    -------
    LogWater
    """
    starts, values, key = None, None, water.lake.key
    if trips is not None and len(trips) and (trips["lake"] == key).any():
        mine = trips[trips["lake"] == key].set_index("row")
        starts = pd.Series(np.nan, mine.index)
        # asked of fewer, no pattern is told: not worth the days of the record by depth
        if _with_bait(trips) >= FEWEST_OUTINGS:
            starts = start_depths(water, mine)
        values = candidate_values(mine.assign(start_depth=starts), {key: water})
    layers = water.layers[[name for name in STATE if name in water.layers]]
    return LogWater(
        layers.drop_attrs(), water.phases, fronts(water.forcing), water.as_of, starts, values
    )


def _with_bait(trips):
    known = trips["bait_depth"].notna() if "bait_depth" in trips else np.zeros(len(trips), bool)
    return trips.loc[known, "trip"].nunique()


def start_depths(water, rows):
    """Where fish would have been looked for first on the day of each row, without the log's word.

    Parameters
    ----------
    water : lakekit.waters.knowledge.LakeWater
    rows : pandas.DataFrame
        ``start`` (UTC).

    Returns
    -------
    pandas.Series
        [m], indexed as ``rows``; NaN where the record does not cover the day, or no depth is good.
    """
    lake, run, layers = water.lake, whole_run(water), water.layers
    fading = fading_factor(lake, water.parameters)
    names, starts = ("oxygen_floor_depth", "mixed_layer_depth"), pd.DatetimeIndex(rows["start"])
    state = water_state(layers, starts, names=names)
    warm = water_state(layers.assign(warm=layered(layers)), starts, names=("warm",))["warm"]
    days = run["time"].to_index()
    columns = [run[name].transpose("time", "depth").to_numpy()
               for name in ("water_temperature", "dissolved_oxygen")]  # fmt: skip
    ice = run["ice_thickness"].to_numpy()
    found, known = np.full(len(rows), np.nan), {}
    nearest = days.get_indexer(starts, method="nearest")
    covered = np.abs(days[nearest] - starts) <= pd.Timedelta("1D")
    phase_at = water.phases.index.get_indexer(days.normalize(), method="nearest")
    for place in np.flatnonzero(covered):
        at = int(nearest[place])
        if at not in known:
            day = days[at].normalize()
            below = lake.below_full_pond[day.month - 1]
            known[at] = hold(
                run["depth"].to_numpy(), columns[0][at], columns[1][at], species=water.species,
                phase=str(water.phases.iloc[phase_at[at]]),
                oxygen_floor=state["oxygen_floor_depth"][place],
                mixed_layer=state["mixed_layer_depth"][place],
                layered=warm[place] == 1.0, iced=ice[at] > ICED,
                attenuation=float(attenuation(lake.secchi[day.month - 1], factor=fading)),
                bottom=lake.max_depth - below,
            ).start  # fmt: skip
        if known[at] is not None:
            found[place] = known[at]
    return pd.Series(found, rows.index)


def join_log(trips, club, waters):
    """A log joined to the water, the phase and the fronts of each row's lake.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``read_trips``.
    club : lakekit.club.Club
    waters : dict of str to LogWater

    Returns
    -------
    pandas.DataFrame
    """

    def phase(key, starts):
        # a lake without weather has its neighbour's season
        water = waters.get(key) or next(iter(waters.values()))
        return water.phases.reindex(starts.normalize(), method="nearest").to_numpy()

    joined = join_water(
        trips,
        {key: water.layers for key, water in waters.items()},
        club,
        phase=phase,
        fronts_by_lake={key: water.fronts for key, water in waters.items()},
    )
    starts = [water.starts for water in waters.values() if water.starts is not None]
    if starts:
        joined["start_depth"] = pd.concat(starts).reindex(joined["row"]).to_numpy()
    return joined
