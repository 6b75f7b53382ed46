"""One state of the water as a report tells it, and where its fish are looked for."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lakekit.column.parameters import draw_parameters
from lakekit.fronts.state import read_state
from lakekit.guide.front.plan import start_of
from lakekit.guide.log.logbook import own_depth
from lakekit.guide.where import Part
from lakekit.strata.spread import cast_misses, own_scale, standing

MEMBERS, SEED = 16, 7  # drawn where the lake has no fit


def members_of(knowledge):
    """The sets of uncertain parameters that a day is computed with: of the fit, else drawn."""
    if knowledge.parameters is not None:
        return knowledge.parameters
    return draw_parameters(knowledge.lake, MEMBERS, SEED)


def told_state(columns, knowledge, phase, *, month, cast):
    """A state with the ranges of the column's own errors: a front note's and a day card's.

    Parameters
    ----------
    columns : xarray.Dataset
        Column and layers on (sample, depth), at one time.
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    phase : str
        The season phase.
    month : int
        1 to 12: whose fish of the log pull the start.
    cast : Timestamp or None
        [UTC] of the last reading that moved this water.

    Returns
    -------
    lakekit.fronts.state.State
    """
    since = None
    if cast is not None:
        since = (pd.Timestamp(columns["time"].values) - cast) / pd.Timedelta("1D")
    return read_state(
        columns, knowledge.lake, knowledge.species, phase, parameters=knowledge.parameters,
        how=standing(since, knowledge.parameters is not None),
        own_scale=own_scale(cast_misses(knowledge.moved)),
        log_depth=own_depth(knowledge, month, phase),
    )  # fmt: skip


def state_part(state, phase, label, *, night=False):
    """A state as a part of the season: what tactics are chosen for.

    Parameters
    ----------
    state : lakekit.fronts.state.State
    phase, label : str
    night : bool
        Whether it is fished by night.

    Returns
    -------
    lakekit.guide.where.Part
    """
    start = start_of(state, night=night)
    met = {
        "surface_temperature": float(state.surface[1]),
        "thermocline_depth": float(state.thermocline[1]),
        "oxygen_floor_depth": float(state.floors["middle"][1]),
        "start_depth": np.nan if start is None else start,
    }
    holding = replace(state.holding, start=start)
    return Part(label, phase, (phase,), state.ice_chance, state.layered, holding, None, met)
