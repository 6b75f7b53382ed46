"""Open weather records to the hourly forcing of a lake."""

from lakekit.weather.forcing import coverage, fill_method, prepare_forcing
from lakekit.weather.sky import solar_elevation, sun_times
from lakekit.weather.source import lake_weather
from lakekit.weather.stations import fetch_weather
from lakekit.weather.stations.forecast import fetch_forecast
from lakekit.weather.summary import weather_coverage, weather_doubts
from lakekit.weather.tables import read_weather

__all__ = [
    "coverage",
    "fetch_forecast",
    "fetch_weather",
    "fill_method",
    "lake_weather",
    "prepare_forcing",
    "read_weather",
    "solar_elevation",
    "sun_times",
    "weather_coverage",
    "weather_doubts",
]
