"""From the water column to its layers, the events that made and broke them, and their odds."""

from lakekit.strata.events import events, front_effects, layered, season_dates
from lakekit.strata.indices import (
    lake_number,
    measured_profiles,
    oxygen_floor_depth,
    run_layers,
    schmidt_stability,
    stratification,
    wedderburn_number,
)
from lakekit.strata.odds import monthly_odds
from lakekit.strata.recovery import recovery_odds, trade_rule_days
from lakekit.strata.spells import fronts, hot_calm_spells, wind_work
from lakekit.strata.tilt import thermocline_tilt
from lakekit.strata.traces import forward_traces, history_run

find_fronts = fronts  # its public name: the room `lakekit.fronts` has the other

__all__ = [
    "events",
    "find_fronts",
    "forward_traces",
    "front_effects",
    "fronts",
    "history_run",
    "hot_calm_spells",
    "lake_number",
    "layered",
    "measured_profiles",
    "monthly_odds",
    "oxygen_floor_depth",
    "recovery_odds",
    "run_layers",
    "schmidt_stability",
    "season_dates",
    "stratification",
    "thermocline_tilt",
    "trade_rule_days",
    "wedderburn_number",
    "wind_work",
]
