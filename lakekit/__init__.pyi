"""The public names and where each lives: read by editors, by type checkers and by __init__.py."""

from lakekit.club import new_club as new_club
from lakekit.club import read_club as read_club
from lakekit.column.fit import fit_lake as fit_lake
from lakekit.column.parameters import default_parameters as default_parameters
from lakekit.column.parameters import draw_parameters as draw_parameters
from lakekit.column.run import end_state as end_state
from lakekit.column.run import simulate as simulate
from lakekit.errors import LakekitError as LakekitError
from lakekit.guide.day import day_card as day_card
from lakekit.guide.front.note import front_note as front_note
from lakekit.guide.lake import describe_lake as describe_lake
from lakekit.guide.season import season_guide as season_guide
from lakekit.lakefile import check_lake as check_lake
from lakekit.lakefile import read_lake as read_lake
from lakekit.pages.reports import write_briefing as write_briefing
from lakekit.pages.reports import write_day as write_day
from lakekit.pages.reports import write_front as write_front
from lakekit.pages.reports import write_season as write_season
from lakekit.probe import read_probe as read_probe
from lakekit.strata import find_fronts as find_fronts
from lakekit.strata import hot_calm_spells as hot_calm_spells
from lakekit.strata import monthly_odds as monthly_odds
from lakekit.strata import stratification as stratification
from lakekit.tactics.book import read_book as read_book
from lakekit.tactics.book import read_species as read_species
from lakekit.trips import join_water as join_water
from lakekit.trips import read_trips as read_trips
from lakekit.trips import totals as totals
from lakekit.trips.patterns import find_patterns as find_patterns
from lakekit.trips.patterns.candidates import candidate_values as candidate_values
from lakekit.trips.rates import catch_rates as catch_rates
from lakekit.waters.knowledge import gather as gather
from lakekit.weather import coverage as coverage
from lakekit.weather import lake_weather as lake_weather
from lakekit.weather import prepare_forcing as prepare_forcing
from lakekit.weather import read_weather as read_weather
from lakekit.weather.stations import fetch_forecast as fetch_forecast
from lakekit.weather.stations import fetch_weather as fetch_weather

__version__: str
