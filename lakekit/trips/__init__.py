"""The trip log: reading and checking it, joining it to the water, and rates from it."""

from lakekit.trips.answers import (
    LIMITS,
    guide_answers,
    headline,
    predict_outing,
    rate_table,
    try_next,
)
from lakekit.trips.check import check_trips, outings
from lakekit.trips.columns import COLUMNS, column_help, log_sheet, template
from lakekit.trips.join import join_water
from lakekit.trips.rates import Rates, catch_rates
from lakekit.trips.read import read_trips, require_rows
from lakekit.trips.totals import effort_grid, fish_depths, publishable, totals

__all__ = [
    "COLUMNS",
    "LIMITS",
    "Rates",
    "catch_rates",
    "check_trips",
    "column_help",
    "effort_grid",
    "fish_depths",
    "guide_answers",
    "headline",
    "join_water",
    "log_sheet",
    "outings",
    "predict_outing",
    "publishable",
    "rate_table",
    "read_trips",
    "require_rows",
    "template",
    "totals",
    "try_next",
]
