"""From the water column to its layers, the events that made and broke them, and their odds."""

from lakekit.strata.indices import (
    lake_number,
    measured_profiles,
    oxygen_floor_depth,
    schmidt_stability,
    stratification,
    wedderburn_number,
)

__all__ = [
    "lake_number",
    "measured_profiles",
    "oxygen_floor_depth",
    "schmidt_stability",
    "stratification",
    "wedderburn_number",
]
