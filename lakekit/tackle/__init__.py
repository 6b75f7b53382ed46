"""Tackle arithmetic: running depth by line drag, sinking, spreads, casts and set-ups."""

from lakekit.tackle.cast import CastPlan, cast_beyond
from lakekit.tackle.line import LineShape, Weight, line_shape, neutral_line_depth, trace_line
from lakekit.tackle.materials import material_density
from lakekit.tackle.measured import (
    Correction,
    MeasuredPoint,
    Tolerance,
    depth_tolerance,
    fit_drag_factor,
)
from lakekit.tackle.reach import depth_chart, line_for_depth, weight_for_depth
from lakekit.tackle.running import RunningCard, RunningPoint, read_running, running_card
from lakekit.tackle.setups import Setup, setup_for
from lakekit.tackle.sink import mass_for_time, seconds_to_depth, terminal_speed
from lakekit.tackle.spread import (
    Spread,
    legal_rods,
    legal_spread,
    spread,
    spread_drawing,
    turn_speeds,
    weave_speeds,
)

__all__ = [
    "CastPlan",
    "Correction",
    "LineShape",
    "MeasuredPoint",
    "RunningCard",
    "RunningPoint",
    "Setup",
    "Spread",
    "Tolerance",
    "Weight",
    "cast_beyond",
    "depth_chart",
    "depth_tolerance",
    "fit_drag_factor",
    "legal_rods",
    "legal_spread",
    "line_for_depth",
    "line_shape",
    "mass_for_time",
    "material_density",
    "neutral_line_depth",
    "read_running",
    "running_card",
    "seconds_to_depth",
    "setup_for",
    "spread",
    "spread_drawing",
    "terminal_speed",
    "trace_line",
    "turn_speeds",
    "weave_speeds",
    "weight_for_depth",
]
