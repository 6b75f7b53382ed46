"""Gridded weather in CF NetCDF: reanalyses and model output, read once for many lakes."""

from lakekit.weather.gridded.hours import fill_from_grid
from lakekit.weather.gridded.read import grid_weather

__all__ = ["fill_from_grid", "grid_weather"]
