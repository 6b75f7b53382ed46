"""Scale: many lakes serially, in processes and on a cluster; the column; a grid for many lakes."""

import contextlib
import os
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from lakekit.club import read_club
from lakekit.column.run import simulate
from lakekit.many.seasons import Season, season_guides, write_seasons
from lakekit.pages.reports import write_briefing
from lakekit.records import WeatherSource
from lakekit.resources import demo_folder
from lakekit.weather.gridded import grid_weather

from .column import standard_forcing, standard_lake

LAKES = tuple(int(n) for n in os.environ.get("LAKEKIT_SCALE_LAKES", "1 2 4 8 24").split())
MONTHS = int(os.environ.get("LAKEKIT_SCALE_MONTHS", "3"))
GRID_CELLS, GRID_YEARS, GRID_LAKES = 40, 10, 100


def demo_lakes(count):
    """The demo club with its lakes again and again under other names, all different lakes.

    Its own two are always there: log, readings and cover name them.
    """
    club = read_club(demo_folder())
    originals = list(club.lakes.values())
    lakes = dict(club.lakes)
    for number in range(len(originals), count):
        lake = originals[number % len(originals)]
        depth = 1.0 + 0.004 * (number // len(originals))
        key = f"{lake.key}-{number + 1}"
        lakes[key] = replace(
            lake, key=key, name=f"{lake.name} {number + 1}", depths=lake.depths * depth,
            max_depth=lake.max_depth * depth, mean_depth=lake.mean_depth * depth,
        )  # fmt: skip
    return replace(club, lakes=lakes)


def _used():
    """Processor seconds of this process and of its children that have ended; largest process, MB.

    ``ru_maxrss`` of a process begins with what its parent held, so this process's own peak is read
    from the kernel; the children's begins with ours, which counts anyway.
    """
    own, others = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    seconds = sum(item.ru_utime + item.ru_stime for item in (own, others))
    return seconds, max(_peak(), others.ru_maxrss / 1024)


def _peak():
    """Most memory [MB] that this process has held."""
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def _seasons(count, out, cache, way):
    """In a process of its own: seconds, processor seconds, peak memory, and what went wrong."""
    os.environ["LAKEKIT_CACHE"] = str(cache)
    with WAYS[way]() as how:
        began = time.perf_counter()
        club = demo_lakes(count)
        made = list(write_seasons(club, list(club.lakes)[:count], Season(None, MONTHS, out), **how))
        wall = time.perf_counter() - began
    return wall, *_used(), [outcome.problem for outcome in made if outcome.problem]


def _briefing(count, out, cache):
    """In a process of its own: seconds and peak memory of a month's briefing, its water kept."""
    os.environ["LAKEKIT_CACHE"] = str(cache)
    began = time.perf_counter()
    club = demo_lakes(count)
    made = season_guides(club, list(club.lakes)[:count], Season(None, 1, out))
    guides = [outcome.value for outcome in made]
    write_briefing(guides, out, guides[0]["months"][0]["month"])
    return time.perf_counter() - began, _peak()


def _apart(function, *args):
    """A function's result from a fresh process, so that its memory is its own."""
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        return pool.submit(function, *args).result()


def _pages(folder):
    kinds = (".pdf", ".html", ".json")
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in kinds}


@contextlib.contextmanager
def cluster():
    """A scheduler and two workers of one thread, as processes of this machine."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1", silence_logs=50,
    ) as made:  # fmt: skip
        yield {"scheduler": made.scheduler_address}


WAYS = {
    "serial": lambda: contextlib.nullcontext({"workers": 1}),
    "workers_2": lambda: contextlib.nullcontext({"workers": 2}),
    "cluster_2": cluster,
}


def measure_lakes(figures):
    """Season guides with nothing kept from before, by how many lakes and by who does the work.

    ``MONTHS`` each; a cluster's start is in its processor seconds and not in its seconds; the
    peak is that of the largest process. The pages must be the same to the byte.
    """
    figures["scale_season_months"] = MONTHS
    for count in LAKES:
        wanted = None
        for way in WAYS:
            with tempfile.TemporaryDirectory() as place:
                out, cache = Path(place) / "out", Path(place) / "cache"
                name = f"scale_{count}_lakes_{way}"
                wall, processor, peak, problems = _apart(_seasons, count, out, cache, way)
                if problems:
                    raise RuntimeError(problems[0])
                figures |= {
                    f"{name}_s": wall, f"{name}_cpu_s": processor, f"{name}_peak_mb": peak
                }  # fmt: skip
                print(f"{name}: {wall:.0f} s, {processor:.0f} CPU s, {peak:.0f} MB",
                      file=sys.stderr, flush=True)  # fmt: skip
                pages = _pages(out)
                if way == "serial":
                    wanted = pages
                    _measure_briefing(figures, count, place, cache)
                else:
                    serial = figures[f"scale_{count}_lakes_serial_s"]
                    figures[f"{name}_efficiency"] = serial / (2 * wall)
                if pages != wanted:
                    raise AssertionError(f"{count} lakes: {way} made other pages than one process")
    _extrapolate(figures)


def _measure_briefing(figures, count, place, cache):
    seconds, peak = _apart(_briefing, count, Path(place) / "briefing", cache)
    figures[f"scale_{count}_lakes_briefing_s"] = seconds
    figures[f"scale_{count}_lakes_briefing_peak_mb"] = peak


def _extrapolate(figures):
    """What each lake costs after the first, and so 300 of them: computed, not measured."""
    first, last = min(LAKES), max(LAKES)
    if last > first:
        cpu = [figures[f"scale_{count}_lakes_serial_cpu_s"] for count in (first, last)]
        each = (cpu[1] - cpu[0]) / (last - first)
        start = max(cpu[0] - first * each, 0.0)
        figures["scale_cpu_s_per_lake"] = each
        # from the third count on, every process holds as many lakes as it ever will
        few = sorted(LAKES)[-2]
        for name in ("serial", "briefing"):
            peaks = [figures[f"scale_{count}_lakes_{name}_peak_mb"] for count in (few, last)]
            figures[f"scale_{name}_mb_per_lake"] = (peaks[1] - peaks[0]) / (last - few)
        for cores in (1, 8, 64):
            # every worker starts by itself; the lakes are shared out
            figures[f"scale_300_lakes_{cores}_cores_extrapolated_s"] = start + 300 * each / cores


def _lake_of(layers):
    """The standard lake with this many layers, each 0.25 to 1 m thick."""
    lake = standard_lake()
    depth = layers * (0.25 if layers < 40 else 1.0 if layers >= 100 else 0.5)
    factor = depth / lake.max_depth
    return replace(lake, depths=lake.depths * factor, max_depth=depth,
                   mean_depth=lake.mean_depth * factor)  # fmt: skip


def measure_column(figures):
    """Processor time of the column alone against members, layers and years."""
    forcing = standard_forcing(2 * 8760)

    def spent(lake, forcing, members=1):
        began = time.process_time()
        run = simulate(lake, forcing, members=members, seed=1)
        return 1000 * (time.process_time() - began), run.sizes["depth"]

    lake = standard_lake()
    spent(lake, forcing)
    for members in (1, 4, 16, 64):
        figures[f"scale_column_{members}_members_2_years_ms"], _ = spent(lake, forcing, members)
    for layers in (10, 40, 100, 200):
        taken, found = spent(_lake_of(layers), forcing)
        figures[f"scale_column_{found}_layers_2_years_ms"] = taken
    for years in (1, 5, 20, 60):
        taken, _ = spent(lake, standard_forcing(years * 8760))
        figures[f"scale_column_{years}_years_ms"] = taken


def write_grid(path, *, cells=GRID_CELLS, years=GRID_YEARS):
    """An invented hourly grid in chunks of a day, as reanalyses are stored; its megabytes."""
    import h5py

    hours = years * 8760
    axis = 38.0 + 0.25 * np.arange(cells)
    daily = np.sin(2 * np.pi * np.arange(24) / 24)[:, None, None]
    slope = (axis - 40.0)[None, :, None] * np.ones((1, 1, cells))
    fields = {
        "t2m": ("K", 285.0 + 6.0 * daily - slope), "d2m": ("K", 280.0 + 0 * daily - slope),
        "u10": ("m s**-1", 3.0 + daily + 0 * slope), "v10": ("m s**-1", 2.0 - daily + 0 * slope),
    }  # fmt: skip
    with h5py.File(path, "w") as file:
        names = {"valid_time": np.arange(hours), "latitude": axis, "longitude": -95.0 + axis - 38.0}
        for name, values in names.items():
            file[name] = values.astype("float64")
            file[name].make_scale(name)
        file["valid_time"].attrs["units"] = "hours since 2010-01-01"
        file["latitude"].attrs["units"] = "degrees_north"
        file["longitude"].attrs["units"] = "degrees_east"
        for name, (unit, day) in fields.items():
            data = file.create_dataset(
                name, (hours, cells, cells), "float32", chunks=(24, cells, cells)
            )
            data.attrs["units"] = unit
            for axis_number, dim in enumerate(names):
                data.dims[axis_number].attach_scale(file[dim])
            for first in range(0, hours, 24):
                data[first : first + 24] = day + 8.0 * np.sin(2 * np.pi * first / 8766)
    return path.stat().st_size / 1e6


def _grid(path, count, cache):
    os.environ["LAKEKIT_CACHE"] = str(cache)
    random = np.random.default_rng(0)
    source = WeatherSource(station=None, grid=(path,))
    lakes = [
        SimpleNamespace(
            key=f"lake-{n}", name=f"Lake {n}", elevation=200.0, weather=source,
            latitude=random.uniform(38.5, 47.0), longitude=random.uniform(-94.5, -86.0),
        )
        for n in range(count)
    ]  # fmt: skip
    read = Path("/proc/self/io")
    before = read.read_text() if read.exists() else "rchar: 0"
    began = time.perf_counter()
    for lake in lakes:
        grid_weather(source, lake, lakes=lakes)
    seconds = time.perf_counter() - began
    after = read.read_text() if read.exists() else "rchar: 0"
    count_read = [int(text.split("rchar:")[1].split()[0]) for text in (before, after)]
    return seconds, _peak(), (count_read[1] - count_read[0]) / 1e6


def measure_grid(figures):
    """A grid of 40 x 40 cells and ten years that serves a hundred lakes in one pass."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "region.nc"
        figures["scale_grid_file_mb"] = write_grid(path)
        for count in (1, GRID_LAKES):
            seconds, peak, read = _apart(_grid, path, count, Path(place) / f"cache-{count}")
            figures[f"scale_grid_{count}_lakes_s"] = seconds
            figures[f"scale_grid_{count}_lakes_peak_mb"] = peak
            figures[f"scale_grid_{count}_lakes_read_mb"] = read


def measure():
    """All of it: many lakes, the column, the grid."""
    figures = {}
    measure_column(figures)
    measure_grid(figures)
    measure_lakes(figures)
    return figures
