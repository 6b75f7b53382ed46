"""Functions that a worker process finds by name, for the tests of many lakes."""

import os
from pathlib import Path

import xarray as xr

from lakekit.errors import WeatherError
from lakekit.store import save_dataset


def double(shared, item, say):
    """Twice the item, and what all share."""
    say(f"doubling {item}")
    return shared, 2 * item


def refuse_three(shared, item, say):
    """Fails on 3 as a lake without weather does, on 4 as a fault of ours does."""
    if item == 3:
        raise WeatherError("no weather", where="lake 3", mend="Bring some.")
    if item == 4:
        raise ZeroDivisionError("a fault\nin two lines")
    return item


def die_once(folder, item, say):
    """The process that gets item 2 first is killed; who gets it again does it."""
    mark = Path(folder) / "died"
    if item == 2 and not mark.exists():
        mark.touch()
        os._exit(9)
    return item


def die_always(folder, item, say):
    """No process survives item 2."""
    if item == 2:
        os._exit(9)
    return item


def write_netcdf(folder, name, say):
    """Keep a small Dataset as a file of the store."""
    save_dataset(xr.Dataset({"depth": 3.0}), Path(folder) / f"{name}.nc")
