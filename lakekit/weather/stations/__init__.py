"""Weather pulled from open stations: what they measured, kept by year, and a forecast."""

from lakekit.weather.stations.forecast import fetch_forecast
from lakekit.weather.stations.record import fetch_weather, rank_stations, wind_ratio

__all__ = ["fetch_forecast", "fetch_weather", "rank_stations", "wind_ratio"]
