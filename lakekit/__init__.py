"""Month-by-month tactic guides for small lakes, from open weather and an angler's log.

The public names, by the module they live in; each is imported when it is first used, so that the
command line answers at once.
"""

from importlib import import_module

__version__ = "0.1.0"

_NAMES = {
    "lakekit.club": ("read_club", "new_club"),
    "lakekit.lakefile": ("read_lake", "check_lake", "describe_lake"),
    "lakekit.probe": ("read_probe",),
    "lakekit.weather": ("read_weather", "lake_weather", "prepare_forcing", "coverage"),
    "lakekit.weather.stations": ("fetch_forecast", "fetch_weather"),
    "lakekit.column.run": ("simulate", "end_state"),
    "lakekit.column.parameters": ("default_parameters", "draw_parameters"),
    "lakekit.column.fit": ("fit_lake",),
    "lakekit.strata": ("stratification", "fronts", "hot_calm_spells", "monthly_odds"),
    "lakekit.trips": ("read_trips", "join_water", "totals"),
    "lakekit.trips.rates": ("catch_rates",),
    "lakekit.tactics.book": ("read_book", "read_species"),
    "lakekit.waters.knowledge": ("gather",),
    "lakekit.guide.season": ("season_guide",),
    "lakekit.guide.front.note": ("front_note",),
    "lakekit.pages.reports": ("write_season", "write_front", "write_briefing"),
}
_HOME = {name: module for module, names in _NAMES.items() for name in names}

__all__ = ["__version__", *_HOME]


def __getattr__(name):
    if name not in _HOME:
        raise AttributeError(f"module 'lakekit' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__():
    return sorted(__all__)
