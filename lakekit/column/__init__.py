"""The lake as a water column: heat, mixing, ice, light and oxygen, by depth and hour."""

from .basin import Basin, make_basin
from .fit import fit_lake
from .flow import flow_doubts
from .following.follow import follow
from .parameters import default_parameters, draw_parameters
from .run import end_state, run_parameters, simulate

__all__ = [
    "Basin",
    "default_parameters",
    "draw_parameters",
    "end_state",
    "fit_lake",
    "flow_doubts",
    "follow",
    "make_basin",
    "run_parameters",
    "simulate",
]
