"""Reads grid files: scans them, reads the cells of all lakes in one pass, keeps them by cell.

Reanalysis files are stored hour by hour, so one cell of ten years costs as much reading as all of
them. The cells of every lake that shares a grid are therefore read together, in slabs of time of
bounded size, and kept in the user's cache as one memory-mapped array a field, cell by cell: a
lake, or a worker process, then opens only its own few kilobytes of each.
"""

import hashlib
import json
import os
import re
import shutil
import tempfile
from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.errors import WeatherError
from lakekit.store import cache_folder
from lakekit.weather.gridded.fields import (
    FIELDS,
    FIXED,
    STACKED,
    coordinate_height,
    find_fields,
    read_unit,
)
from lakekit.weather.gridded.hours import Series, hourly_weather
from lakekit.weather.gridded.place import Place, cells_around, read_place
from lakekit.weather.gridded.times import decode_time

SLAB = 32 * 2**20  # bytes of one field read at once
KEPT_GRIDS = 4
POINTS = "points.npy"  # the cells of a part that is kept, by row
SUFFIXES = (".nc", ".nc4", ".cdf", ".netcdf")
_DAMAGE = (OSError, ValueError, RuntimeError, KeyError, EOFError)


@dataclass(frozen=True)
class Piece:
    """One field in one file."""

    path: Path
    variable: str
    time: np.ndarray  # (n,) datetime64[s]
    bounds: np.ndarray | None  # (n, 2) datetime64[s], of the interval of each value
    ends: bool | None  # whether the labels end their interval; None: not said
    factor: float
    offset: float
    amount: bool
    height: float | None  # m above the ground


@dataclass(frozen=True)
class Grid:
    """What a set of grid files holds, before any weather is read."""

    name: str
    place: Place
    pieces: dict  # field key -> tuple of Piece, in order of time
    height: np.ndarray | None  # (ny, nx) m above sea level
    land: np.ndarray | None  # (ny, nx) 0 to 1
    notes: tuple
    key: str  # hash of files, names and units


def grid_weather(source, lake, *, lakes=(), progress=None):
    """A lake's hourly weather from a grid.

    Parameters
    ----------
    source : WeatherSource
        Its ``grid`` lists the files; ``columns`` and ``units`` say what their attributes do not.
    lake : Lake
    lakes : sequence of Lake, optional
        All that share the grid: their cells are read in the same pass and kept.
    progress : callable, optional
        Called with a sentence before the files are read.

    Returns
    -------
    xarray.Dataset on `time`
        As from ``read_weather``, every hour flagged as the grid's.

    Raises
    ------
    WeatherError
        In one line: a file cut short or no NetCDF, a unit or calendar that cannot be used, a lake
        outside the grid or over the sea.
    """
    said = ({}, {}) if source.file is not None else (source.columns, source.units)
    grid = scan(tuple(source.grid), *said)
    own = _cells(grid, lake, source.cell)

    def others():
        points = set()
        for other in lakes:
            if other.weather.grid == source.grid:
                with suppress(WeatherError):  # a lake outside has its own message in its turn
                    points.update(map(tuple, _cells(grid, other, other.weather.cell)[0].tolist()))
        return points

    points = set(map(tuple, own[0].tolist()))
    kept = _gathered(grid, points, others, progress or (lambda line: None))
    return hourly_weather(_series(grid, kept, lake, *own), lake, _about(grid, lake, *own))


_SCANNED = OrderedDict()


def scan(paths, columns, units):
    """Find the fields, axes and times of grid files, reading no weather; kept for this process."""
    try:
        stamps = [(str(path), path.stat().st_size, path.stat().st_mtime_ns) for path in paths]
    except OSError as problem:
        raise WeatherError(
            f"cannot be read: {problem.strerror or problem}",
            where=str(problem.filename),
            mend="Check `grid` under [weather] in the lake file.",
        ) from problem
    key = hashlib.sha256(json.dumps([stamps, columns, units], sort_keys=True).encode()).hexdigest()[
        :24
    ]
    if key not in _SCANNED:
        _SCANNED[key] = _scan(paths, columns, units, key)
        while len(_SCANNED) > KEPT_GRIDS:
            _SCANNED.popitem(last=False)
    return _SCANNED[key]


def _scan(paths, columns, units, key):
    place, pieces, fixed, notes = None, {}, {}, []
    for path in paths:
        with opened(path) as dataset:
            found = find_fields(dataset, columns, where=path.name)
            if not found:
                continue
            here = read_place(dataset, next(iter(found.values())), where=path.name)
            if place is not None and not place.same_as(here):
                raise WeatherError(
                    f"its cells are not those of {paths[0].name}",
                    where=path.name,
                    mend="Name files of one grid only.",
                )
            place = place or here
            for name, variable in found.items():
                if FIELDS[name].kind == FIXED:
                    fixed.setdefault(name, _fixed(dataset, name, variable, place, path))
                else:
                    piece = _piece(dataset, name, variable, units, path, notes)
                    pieces.setdefault(name, []).append(piece)
    where = paths[0].name if len(paths) == 1 else f"{paths[0].parent.name}/"
    for column, name in columns.items():
        if column != "time" and not any(
            piece.variable == name for found in pieces.values() for piece in found
        ):
            raise WeatherError(
                f"there is no variable {name!r} on time and place (for {column})",
                where=where,
                mend="Mend it under [weather.columns].",
            )
    winds = {"eastward_wind", "northward_wind"} & set(pieces)
    missing = ["air temperature"] if "air_temperature" not in pieces else []
    if "wind_speed" not in pieces and len(winds) < 2:
        missing.append("second component of the wind" if winds else "wind")
    if missing:
        raise WeatherError(
            f"the grid has no {' and no '.join(missing)}",
            where=where,
            mend="It needs air temperature and wind at least; a variable without a CF "
            "standard_name is named under [weather.columns].",
        )
    for field, found in pieces.items():
        found.sort(key=lambda piece: piece.time[0])
        if len({piece.amount for piece in found}) > 1:
            raise WeatherError(
                f"{field.replace('_', ' ')} is a rate in one file and an amount in another",
                where=where,
                mend="Download all years alike.",
            )
    return Grid(
        where, place, {name: tuple(found) for name, found in pieces.items()},
        fixed.get("height"), fixed.get("land"), tuple(dict.fromkeys(notes)), key,
    )  # fmt: skip


class opened:
    """A grid file opened lazily; what goes wrong inside becomes one line about the file."""

    def __init__(self, path):
        self.path = Path(path)

    def __enter__(self):
        try:
            with open(self.path, "rb") as file:
                start = file.read(8)
        except OSError as problem:
            raise WeatherError(
                f"cannot be read: {problem.strerror or problem}", where=str(self.path)
            ) from problem
        engine = "scipy" if start[:3] == b"CDF" else "h5netcdf"
        if engine == "h5netcdf" and start[1:4] != b"HDF":
            raise WeatherError(
                f"is {_kind(start)}, not a NetCDF file",
                where=self.path.name,
                mend="Download it as NetCDF, or unpack it.",
            )
        try:
            self.dataset = xr.open_dataset(self.path, engine=engine, decode_times=False)
        except _DAMAGE as problem:
            raise self._damaged() from problem
        return self.dataset

    def __exit__(self, kind, problem, trace):
        self.dataset.close()
        if isinstance(problem, _DAMAGE) and not isinstance(problem, WeatherError):
            raise self._damaged() from problem

    def _damaged(self):
        size = self.path.stat().st_size
        return WeatherError(
            f"the file is damaged or was cut short ({size:,} bytes)",
            where=self.path.name,
            mend="Download it again.",
        )


def _kind(start):
    for mark, words in (
        (b"GRIB", "a GRIB file"),
        (b"PK", "a zip archive"),
        (b"\x1f\x8b", "a gzip file"),
        (b"<", "a web page"),
        (b"", "empty" if not start else "something else"),
    ):
        if start.startswith(mark):
            return words
    return "something else"


def _time_name(array, dataset):
    for dim in array.dims:
        if dim in dataset.coords:
            attrs = dataset[dim].attrs
            if attrs.get("standard_name") == "time" or " since " in str(attrs.get("units", "")):
                return dim
    return None


def _piece(dataset, field, variable, units, path, notes):
    array = dataset[variable]
    name = _time_name(array, dataset)
    if name is None:
        raise WeatherError(f"{variable} has no time axis", where=path.name)
    attrs = dataset[name].attrs
    time = decode_time(dataset[name].values, attrs, notes, where=path.name)
    methods = str(array.attrs.get("cell_methods", ""))
    over = re.search(r"time\s*:\s*(\w+)", methods)
    bounds = attrs.get("bounds") or dataset[name].encoding.get("bounds")
    interval = None
    if bounds in dataset.variables and not (over and over.group(1) == "point"):
        raw = dataset[bounds].values
        interval = decode_time(raw.reshape(-1), attrs, notes, where=path.name).reshape(-1, 2)
    unit = units.get(FIELDS[field].column) or array.attrs.get("units")
    factor, offset, amount = read_unit(FIELDS[field], unit, name=variable, where=path.name)
    said = str(units.get("time", ""))
    ends = True if array.attrs.get("GRIB_stepType") in ("accum", "avg") else None
    ends = True if "end of hour" in said else False if "start of hour" in said else ends
    return Piece(
        path, variable, time, interval, ends, factor, offset, amount, coordinate_height(array)
    )


def _fixed(dataset, field, variable, place, path):
    array = dataset[variable]
    extra = {dim: 0 for dim in array.dims if dim not in place.dims}
    values = array.isel(extra).transpose(*place.dims).values.astype(np.float64)
    factor, offset, _ = read_unit(
        FIELDS[field], array.attrs.get("units"), name=variable, where=path.name
    )
    return values * factor + offset


def _cells(grid, lake, method):
    cells, weights = cells_around(grid.place, lake, method=method, where=grid.name)
    if grid.land is not None:
        dry = grid.land[tuple(cells.T)] >= 0.5
        if not dry.any():
            raise _over_sea(grid, lake)
        cells, weights = cells[dry], weights[dry] / weights[dry].sum()
    return cells, weights


def _over_sea(grid, lake):
    return WeatherError(
        f"the cells around {lake.name} lie over the sea or hold no values",
        where=grid.name,
        mend="Check the lake's latitude and longitude, or take a grid that has land there.",
    )


def _gathered(grid, points, more, say):
    """Where each point's values are kept: (arrays by field, memory-mapped; row).

    What has no values yet is read together with ``more()``, in one pass through the files. A cell
    kept before is not read again when a club takes in another lake.
    """
    folder = cache_folder() / "grids" / grid.key
    kept = _kept_cells(folder, grid)
    if not points <= kept.keys():
        missing = sorted((points | more()) - kept.keys())
        say(f"{grid.name}: reading {len(missing)} cells, kept for next time")
        name = hashlib.sha256(repr(missing).encode()).hexdigest()[:24]
        try:
            folder.mkdir(parents=True, exist_ok=True)
            draft = Path(tempfile.mkdtemp(dir=folder, prefix=f".{name}-"))
        except OSError as problem:
            raise WeatherError(
                f"its cells cannot be kept: {problem.strerror or problem}",
                where=str(folder.parent),
                mend="Set LAKEKIT_CACHE to a folder that can be written.",
            ) from problem
        try:
            for field, pieces in grid.pieces.items():
                _gather_field(grid, pieces, missing, draft / f"{field}.npy")
            np.save(draft / POINTS, missing)
            with suppress(OSError):  # another process was faster: its arrays are the same
                os.replace(draft, folder / name)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
            with suppress(OSError):  # of a grid that nothing could be read from
                folder.rmdir()
        _forget(folder)
        kept = _kept_cells(folder, grid)
    return kept


def _kept_cells(folder, grid):
    """Every cell of a grid that is kept; each part was read in one pass."""
    kept = {}
    for path in sorted(folder.glob(f"[!.]*/{POINTS}")):
        arrays = {
            field: np.load(path.with_name(f"{field}.npy"), mmap_mode="r") for field in grid.pieces
        }
        for row, point in enumerate(np.load(path).tolist()):
            kept[tuple(point)] = arrays, row
    return kept


def _gather_field(grid, pieces, points, path):
    count = sum(piece.time.size for piece in pieces)
    out = np.lib.format.open_memmap(path, mode="w+", dtype=np.float32, shape=(len(points), count))
    y, x = np.array(points).T
    low_y, low_x = y.min(), x.min()
    box = (slice(low_y, y.max() + 1), slice(low_x, x.max() + 1))
    done = 0
    for piece in pieces:
        with opened(piece.path) as dataset:
            array = _plain(dataset[piece.variable], dataset, grid.place, piece)
            step = _slab(array, box)
            for first in range(0, piece.time.size, step):
                part = array.isel(
                    dict(zip(array.dims, (slice(first, first + step), *box), strict=True))
                ).values
                part = part[:, y - low_y, x - low_x] * piece.factor + piece.offset
                out[:, done + first : done + first + part.shape[0]] = part.T
        done += piece.time.size
    out.flush()


def _plain(array, dataset, place, piece):
    """A variable on (time, y, x) alone."""
    time = _time_name(array, dataset)
    for dim in array.dims:
        if dim in (time, *place.dims):
            continue
        if array.sizes[dim] == 1:
            array = array.isel({dim: 0})
        elif dim == STACKED[0]:  # final and preliminary data: each hour is in one of them
            first, *others = (array.isel({dim: i}) for i in range(array.sizes[dim]))
            for other in others:
                first = first.fillna(other)
            array = first
        else:
            raise WeatherError(
                f"{piece.variable} holds {array.sizes[dim]} values along {dim!r}",
                where=piece.path.name,
                mend="Download one of them.",
            )
    return array.transpose(time, *place.dims)


def _slab(array, box):
    """Steps of time read at once: within the size allowed, in whole chunks of the file."""
    cells = (box[0].stop - box[0].start) * (box[1].stop - box[1].start)
    steps = max(SLAB // (8 * cells), 1)
    chunks = array.encoding.get("chunksizes") or array.encoding.get("preferred_chunks") or (1,)
    chunk = chunks.get(array.dims[0], 1) if isinstance(chunks, dict) else chunks[0]
    return max(steps // chunk, 1) * chunk


def _forget(folder):
    kept = sorted(folder.parent.iterdir(), key=lambda path: path.stat().st_mtime)
    for path in kept[:-KEPT_GRIDS]:
        if path != folder:
            shutil.rmtree(path, ignore_errors=True)


def _series(grid, kept, lake, cells, weights):
    """The lake's own series of every field, over its cells."""
    at = [kept[tuple(cell)] for cell in cells.tolist()]
    blocks = {
        name: np.array([arrays[name][row] for arrays, row in at], dtype=np.float64)
        for name in grid.pieces
    }
    if "eastward_wind" in blocks and "wind_speed" not in blocks:
        east, north = (_joined(grid.pieces[f"{way}ward_wind"]) for way in ("east", "north"))
        if not np.array_equal(east, north):
            raise WeatherError(
                "the two components of the wind do not stand at the same hours",
                where=grid.name,
                mend="Download both for the same times.",
            )
        blocks["wind_speed"] = np.hypot(blocks["eastward_wind"], blocks["northward_wind"])
    series = {}
    for name, block in blocks.items():
        if name.endswith("ward_wind"):
            continue
        pieces = grid.pieces.get(name) or grid.pieces["eastward_wind"]
        known = ~np.isnan(block)
        total = (weights[:, None] * known).sum(axis=0)
        with np.errstate(invalid="ignore"):
            values = np.nansum(weights[:, None] * block, axis=0) / total
        if name == "air_temperature" and not known.any():
            raise _over_sea(grid, lake)
        bounds = [piece.bounds for piece in pieces]
        bounds = None if any(item is None for item in bounds) else np.concatenate(bounds)
        time, first = np.unique(_joined(pieces), return_index=True)
        series[name] = Series(
            time, values[first], None if bounds is None else bounds[first], pieces[0].ends,
            pieces[0].amount, pieces[0].height,
        )  # fmt: skip
    return series


def _joined(pieces):
    return np.concatenate([piece.time for piece in pieces])


def _about(grid, lake, cells, weights):
    """What the record says of itself."""
    height = None if grid.height is None else float(weights @ grid.height[tuple(cells.T)])
    times = pd.DatetimeIndex([grid.pieces["air_temperature"][0].time[0]])
    return {
        "kind": "grid",
        "source": f"grid {grid.name}",
        "attribution": lake.weather.attribution or "",
        "licence": lake.weather.licence or "",
        "cells": len(cells),
        "cell_height": np.nan if height is None else height,
        "height_difference": 0.0 if height is None else height - lake.elevation,
        "first": str(times[0]),
        "notes": list(grid.notes),
    }
