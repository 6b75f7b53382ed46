"""Does the catch go with the water: what is asked, what is told, and what it does to a rate."""

from lakekit.trips.patterns.candidates import BY_NAME, CANDIDATES, candidate_values
from lakekit.trips.patterns.effect import Effect, pattern_effect
from lakekit.trips.patterns.find import FEWEST_OUTINGS, LEVEL, Pattern, Patterns, find_patterns
from lakekit.trips.patterns.pooled import fit_counts

__all__ = [
    "BY_NAME",
    "CANDIDATES",
    "FEWEST_OUTINGS",
    "LEVEL",
    "Effect",
    "Pattern",
    "Patterns",
    "candidate_values",
    "find_patterns",
    "fit_counts",
    "pattern_effect",
]
