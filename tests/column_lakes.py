"""Invented lakes and weather for the tests of the column."""

import dataclasses

import numpy as np

from lakekit.bench.column import standard_forcing, standard_lake


def lake(**changes):
    """The bench's invented lake, with fields replaced; depths and areas keep in step."""
    water = standard_lake()
    if "depths" in changes:
        changes.setdefault("max_depth", float(changes["depths"][-1]))
        changes.setdefault("area", float(changes["areas"][0]))
    return dataclasses.replace(water, **changes)


def small_lake(**changes):
    """A lake of 20 layers, for speed."""
    depths = np.linspace(0.0, 5.0, 11)
    areas = 2e5 * (1.0 - depths / 5.0) ** 1.2
    return lake(**{"depths": depths, "areas": areas, "mean_depth": 2.3} | changes)


def weather(hours=8760, *, colder=0.0, start=0, seed=0):
    """Invented forcing; ``colder`` lowers air and sky for a year with ice."""
    forcing = standard_forcing(hours + start, seed=seed)
    if colder:
        forcing["air_temperature"] = forcing["air_temperature"] - colder
        forcing["longwave"] = forcing["longwave"] - 4.0 * colder
        forcing["precipitation"] = forcing["precipitation"] * 0 + 0.05
    return forcing.isel(time=slice(start, None))
