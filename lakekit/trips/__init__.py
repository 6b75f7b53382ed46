"""The trip log: reading and checking it, joining it to the water, and rates from it."""

from lakekit.trips.check import check_trips, outings
from lakekit.trips.columns import COLUMNS, column_help, log_sheet, template
from lakekit.trips.join import join_water
from lakekit.trips.read import read_trips, require_rows
from lakekit.trips.totals import effort_grid, publishable, totals

__all__ = [
    "COLUMNS",
    "check_trips",
    "column_help",
    "effort_grid",
    "join_water",
    "log_sheet",
    "outings",
    "publishable",
    "read_trips",
    "require_rows",
    "template",
    "totals",
]
