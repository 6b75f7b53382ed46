"""From the water column to its layers, the events that made and broke them, and their odds."""

from lakekit.strata.events import events, front_effects, layered, season_dates
from lakekit.strata.indices import (
    lake_number,
    measured_profiles,
    oxygen_floor_depth,
    schmidt_stability,
    stratification,
    wedderburn_number,
)
from lakekit.strata.spells import fronts, hot_calm_spells, wind_work
from lakekit.strata.tilt import thermocline_tilt

__all__ = [
    "events",
    "front_effects",
    "fronts",
    "hot_calm_spells",
    "lake_number",
    "layered",
    "measured_profiles",
    "oxygen_floor_depth",
    "schmidt_stability",
    "season_dates",
    "stratification",
    "thermocline_tilt",
    "wedderburn_number",
    "wind_work",
]
