"""Reads and checks a lake file; what it leaves out is filled with a stated default."""

import os
import re
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

import numpy as np

from lakekit.depth_area import depth_area_from_depths, read_depth_area, trapezoid_volume
from lakekit.fields import Problems, Table, load_toml, nearest, nearest_zone
from lakekit.inputs import within
from lakekit.records import Flow, Lake, Rules, WeatherSource
from lakekit.units import COMPASS, UNITS, shown

LAKE_KEYS = (
    "name", "latitude", "longitude", "time_zone", "area", "max_depth", "elevation", "mean_depth",
    "longest_fetch", "axis", "depth_area", "secchi", "below_full_pond", "fertility", "surroundings",
    "weather", "flow", "rules", "catchment",
)
REQUIRED = LAKE_KEYS[:6]
WEATHER_KEYS = ("station", "file", "grid", "cell", "columns", "units", "attribution", "licence")
WEATHER_COLUMNS = (
    "time", "air_temp_c", "rel_hum_pct", "dew_point_c", "wind_ms", "wind_height_m",
    "wind_from_deg", "pressure_hpa", "cloud_pct", "sunshine_min", "shortwave_wm2",
    "longwave_wm2", "precip_mm",
)
FLOW_KEYS = ("inflow", "inflow_temperature", "release", "release_depth", "aerator", "aerator_stirs")
RULES_KEYS = ("max_rods", "limits", "closures", "consumption_advice", "checked")
FERTILITY = ("oligotrophic", "mesotrophic", "eutrophic", "hypereutrophic")
SURROUNDINGS = ("open", "mixed", "wooded", "valley")

FASTEST_EXCHANGE = 86400.0  # s; water renewed faster than once a day is a river (no source)
SMALLEST_AREA = 1000.0  # m2; below it the area was most likely written without its unit
LARGEST_AREA = 1e9  # m2
DEEPEST = 300.0  # m

# Secchi depth [m] where the file gives none: the geometric middle of each class of Carlson's
# (1977, Limnol. Oceanogr. 22:361-369) trophic state index, whose bounds 40, 50 and 70 are Secchi
# depths of 4, 2 and 0.5 m (class bounds from memory); the open-ended classes span one octave.
DEFAULT_SECCHI = {"oligotrophic": 5.7, "mesotrophic": 2.8, "eutrophic": 1.0, "hypereutrophic": 0.35}
SECCHI_BOUNDS = (4.0, 2.0, 0.5)  # m, between the four classes

# Mean over maximum depth where the file gives no mean depth: 0.46, the average of natural lakes
# (Neumann 1959, J. Fish. Res. Board Can. 16:923-927, 107 lakes; from memory).
MEAN_TO_MAX_DEPTH = 0.46
# Longest fetch over the diameter of a circle of the same area: 1.4, an ellipse twice as long as
# wide (sqrt 2, computed).
FETCH_TO_DIAMETER = 1.4
LONGEST_FETCH_TO_DIAMETER = 10.0  # a ribbon 79 times as long as wide; beyond it a unit is wrong


def read_lake(path, *, club_folder=None):
    """Read one lake file.

    Parameters
    ----------
    path : path-like
        The lake's TOML file; its stem is the lake's key.
    club_folder : path-like, optional
        Folder against which ``depth_area`` and ``weather.file`` are looked up; default: the
        folder above ``lakes/``, else the file's own.

    Returns
    -------
    Lake

    Raises
    ------
    ClubError
        Naming file, key, what is wrong and how to mend it, and how many more errors there are.

    Examples
    --------
    >>> read_lake(club.folder / "lakes" / "quarry-hollow.toml").fertility
    'mesotrophic'
    """
    lake, problems = parse_lake_file(path, club_folder=club_folder)
    problems.raise_first()
    return lake


def check_lake(path, *, club_folder=None):
    """Check one lake file and list everything worth telling its owner.

    Parameters
    ----------
    path : path-like
    club_folder : path-like, optional
        As for :func:`read_lake`.

    Returns
    -------
    pandas.DataFrame
        Columns where, severity (error | warning | note), finding, mend; empty when all is given
        and sound.

    Raises
    ------
    ClubError
        When the file is missing or no TOML.

    Examples
    --------
    >>> check_lake(club.folder / "lakes" / "quarry-hollow.toml").columns.tolist()
    ['where', 'severity', 'finding', 'mend']
    """
    return parse_lake_file(path, club_folder=club_folder)[1].table()


def parse_lake_file(path, *, club_folder=None):
    """A lake file's lake, None where it has an error, and its findings as Problems."""
    path, parent = Path(path), Path(os.path.abspath(path)).parent
    if club_folder is None:
        club_folder = parent.parent if parent.name == "lakes" else parent
    label = f"lakes/{path.name}" if path.parent.name == "lakes" else path.name
    data = load_toml(path, label=label)
    if not set(REQUIRED) & set(data):
        problems = Problems()
        missing = f"{', '.join(REQUIRED[:-1])} and {REQUIRED[-1]} are to be filled in"
        mend = f"Open {path}, write your lake's own after each =, and take away the # in front"
        problems.add("error", label, f"it is still the template: {missing}", mend)
        return None, problems
    return parse_lake(data, label=label, key=path.stem, club_folder=Path(club_folder))


def parse_lake(data, *, label, key, club_folder, problems=None):
    """A lake from the content of its file, or of its row in a table.

    Parameters
    ----------
    data : dict
        As TOML gives it.
    label : str
        Where it stands, for messages.
    key : str
        The lake's key.
    club_folder : path
        Folder against which files are looked up.
    problems : Problems, optional
        Findings so far.

    Returns
    -------
    (Lake or None, Problems)
        None where there is an error.
    """
    problems = problems or Problems()
    table = Table(data, label=label, problems=problems, known=LAKE_KEYS)
    name = table.text("name", required=True)
    latitude = table.number("latitude", low=-90, high=90, required=True,
                            hint="Degrees north, such as latitude = 40.1")
    longitude = table.number("longitude", low=-180, high=180, required=True,
                             hint="Degrees east, negative in the Americas: longitude = -89.2")
    zone = _time_zone(table, longitude)
    area = table.quantity("area", "area", low=SMALLEST_AREA, high=LARGEST_AREA, required=True,
                          hint='Write the unit: area = "310 acres"')
    max_depth = table.quantity("max_depth", "length", low=0.5, high=DEEPEST, required=True,
                               hint='Write the unit: max_depth = "34 ft"')
    elevation = table.quantity("elevation", "length", low=-450, high=6000)
    if elevation is None:
        elevation = 0.0
        if "elevation" not in table:
            _note(table, "elevation", "elevation is not given: sea level is assumed, which raises "
                  "air pressure and oxygen by 1.2 % for each 100 m")
    mean_depth = table.quantity("mean_depth", "length", low=0.1, high=DEEPEST)
    if mean_depth is not None and max_depth is not None and mean_depth > max_depth:
        table.error(
            "mean_depth",
            f"mean_depth {shown(table.data['mean_depth'])} is more than "
            f"max_depth {shown(table.data['max_depth'])}",
            "The mean depth is volume over area",
        )
        mean_depth = None
    fetch = _fetch(table, area)
    axis = _axis(table)
    basin = _basin(table, club_folder, area, max_depth, mean_depth)
    secchi, secchi_source, fertility = _clarity(
        table, max_depth, north=latitude is None or latitude >= 0
    )
    below = _below_full_pond(table, max_depth)
    surroundings = table.text("surroundings", choices=SURROUNDINGS)
    if "surroundings" not in table:
        _note(table, "surroundings", 'surroundings is not given: "mixed" is assumed')
    weather = _weather(table, club_folder)
    flow = _flow(table, max_depth, None if basin is None else basin[2] * basin[1][0])
    catchment = table.quantity("catchment", "area", low=SMALLEST_AREA, high=1e12)
    rules = _rules(table)
    if problems.errors:
        return None, problems
    depths, areas, mean_depth, source = basin
    return Lake(
        key=key, name=name, latitude=float(latitude), longitude=float(longitude),
        time_zone=zone, area=float(areas[0]), max_depth=float(depths[-1]),
        elevation=float(elevation), mean_depth=float(mean_depth), longest_fetch=float(fetch),
        axis=axis, depths=depths, areas=areas, depth_area_source=source, secchi=secchi,
        secchi_source=secchi_source, below_full_pond=below, fertility=fertility,
        surroundings=surroundings or "mixed", weather=weather, flow=flow, rules=rules,
        catchment=catchment,
        notes=tuple(row["finding"] for row in problems.rows),
    ), problems


def _note(table, key, finding, mend=None):
    table.problems.add("note", table.where(key), finding, mend)


def _warn(table, key, finding, mend=None):
    table.problems.add("warning", table.where(key), finding, mend)


def _both(metres):
    """A length in metres and feet: the lake file alone does not know the club's units."""
    digits = 0 if metres >= 100 else 1
    return f"{metres:.{digits}f} m ({metres / UNITS['length']['ft'][0]:.{digits}f} ft)"


def _time_zone(table, longitude):
    name = table.text("time_zone", required=True)
    if name is None:
        return None
    zones = available_timezones()
    if name not in zones:
        table.error(
            "time_zone",
            f"{shown(name)} is not an IANA time zone",
            f"Did you mean {nearest_zone(name, zones)}?",
        )
        return None
    if longitude is not None:
        zone = ZoneInfo(name)
        winter, summer = (zone.utcoffset(datetime(2024, month, 1)) for month in (1, 7))
        hours = min(winter, summer).total_seconds() / 3600
        gap = abs((longitude / 15 - hours + 12) % 24 - 12)
        if gap > 4:
            flipped = abs((-longitude / 15 - hours + 12) % 24 - 12)
            mend = (f"Did you mean longitude = {-longitude:g}?" if flipped <= 4
                    else "Mend one of the two")
            table.error("longitude", f"longitude {longitude:g} is {gap:.0f} hours away from the "
                        f"time zone {name}", mend)
    return name


def _fetch(table, area):
    fetch = table.quantity("longest_fetch", "length", low=10.0, high=1e5)
    if area is None:
        return None
    diameter = 2 * np.sqrt(area / np.pi)
    if fetch is None:
        if "longest_fetch" not in table:
            fetch = FETCH_TO_DIAMETER * diameter
            _note(table, "longest_fetch", f"longest_fetch is not given: {_both(fetch)} assumed, "
                  f"{FETCH_TO_DIAMETER} times the diameter of a circle of this area")
        return fetch
    raw = table.data["longest_fetch"]
    if fetch > LONGEST_FETCH_TO_DIAMETER * diameter:
        table.error(
            "longest_fetch",
            f"longest_fetch {shown(raw)} is longer than a lake of this area "
            f"can well be: {area / fetch:.0f} m wide on average",
            "Check the units of longest_fetch and area; fetch is one straight line of open water",
        )
    elif fetch > LONGEST_FETCH_TO_DIAMETER / 2 * diameter:
        _warn(
            table,
            "longest_fetch",
            f"longest_fetch {shown(raw)} leaves the lake {area / fetch:.0f} m wide on average",
            "Fetch is one straight line of open water",
        )
    return fetch


def _axis(table):
    """Bearing of the lake's long axis, 0 to 180 degrees; None where it is not given."""
    raw = table.data.get("axis")
    if raw is None:
        return None
    mend = 'Write axis = "NE-SW", or a bearing such as axis = 45'
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        if 0 <= raw <= 360:
            return float(raw) % 180.0
        table.error("axis", f"axis {shown(raw)} is no bearing from 0 to 360 degrees", mend)
        return None
    ends = [part.strip().upper() for part in re.split("[-–—/ ]+", str(raw).strip())]
    if len(ends) != 2 or any(end not in COMPASS for end in ends):
        table.error("axis", f"axis {shown(raw)} is not two points of the compass", mend)
        return None
    first, second = (22.5 * COMPASS.index(end) for end in ends)
    if abs(abs(first - second) - 180.0) > 1e-9:
        table.error("axis", f"axis {shown(raw)} does not join two opposite points", mend)
        return None
    return first % 180.0


def _basin(table, club_folder, area, max_depth, mean_depth):
    if area is None or max_depth is None:
        return None
    if "depth_area" in table:
        name = table.text("depth_area")
        if name is None:
            return None
        path = _club_file(club_folder, name, table, "depth_area")
        if path is None:
            return None
        read = read_depth_area(path, label=name, table=table, area=area, max_depth=max_depth)
        if read is None:
            return None
        depths, areas = read
        mean = trapezoid_volume(depths, areas) / areas[0]
        if mean_depth is not None and abs(mean - mean_depth) > 0.15 * mean:
            _warn(table, "mean_depth", f"mean_depth is {mean_depth:.1f} m but the depth table "
                  f"makes it {mean:.1f} m; the table is used")
        return depths, areas, mean, f"depth table {name}"
    if mean_depth is None:
        if "mean_depth" in table:
            return None
        mean_depth = MEAN_TO_MAX_DEPTH * max_depth
        _note(table, "mean_depth", f"mean_depth is not given: {_both(mean_depth)} assumed, "
              f"{MEAN_TO_MAX_DEPTH} of the maximum depth as in the average natural lake")
        source = "built from area and maximum depth, mean depth assumed"
    else:
        source = "built from area, mean depth and maximum depth"
    depths, areas = depth_area_from_depths(area, mean_depth, max_depth)
    _note(table, "depth_area", f"no depth table: a smooth basin {source}")
    return depths, areas, mean_depth, source


def _club_file(club_folder, name, table, key):
    """Path of a file that a lake file names; None and an error where it lies outside the club."""
    inside = club_folder / name
    beside = club_folder / "lakes" / name
    path = beside if os.path.isfile(beside) and not os.path.isfile(inside) else inside
    if not within(path, club_folder):
        table.error(
            key,
            f"{shown(name)} lies outside the club's folder",
            "Copy it into the folder, or give --allow-outside if you trust this lake file",
        )
        return None
    return path


def _clarity(table, max_depth, *, north):
    fertility = table.text("fertility", choices=FERTILITY)
    secchi, given = table.monthly("secchi", "length", low=0.05, high=30.0,
                                  hint="Secchi depths run from 0.05 to 30 m")
    if secchi is not None:
        if max_depth is not None and secchi.max() > max_depth:
            table.error("secchi", f"secchi {secchi.max():.1f} m is deeper than the lake "
                        f"({max_depth:.1f} m)", "Check its unit")
        if given < 12:
            _note(table, "secchi", f"secchi is given for {given} of 12 months: "
                  + ("the same all year" if given == 1 else "the others are interpolated"))
        if fertility is None:
            summer = secchi[5:9].mean() if north else secchi[[11, 0, 1, 2]].mean()
            fertility = FERTILITY[sum(summer < bound for bound in SECCHI_BOUNDS)]
            if "fertility" not in table:
                _note(table, "fertility", f"fertility is not given: {fertility}, from the summer "
                      f"Secchi depth of {_both(summer)}")
        return secchi, "lake file", fertility
    if fertility is None:
        if "fertility" not in table:
            _note(table, "fertility", "fertility is not given: eutrophic is assumed")
        fertility = "eutrophic"
    depth = DEFAULT_SECCHI[fertility]
    if max_depth is not None:
        depth = min(depth, max_depth)
    if "secchi" not in table:
        _note(table, "secchi", f"secchi is not given: {_both(depth)} assumed, usual for "
              f"{fertility} water", "Lower a white plate on a tape and write down where it fades")
    return np.full(12, depth), f"default for {fertility} water", fertility


def _below_full_pond(table, max_depth):
    high = np.inf if max_depth is None else 0.9 * max_depth
    below, given = table.monthly("below_full_pond", "length", low=0.0, high=high,
                                 hint="At least a tenth of the greatest depth must stay wet")
    if below is None:
        return np.zeros(12)
    if given < 12:
        _note(table, "below_full_pond", f"below_full_pond is given for {given} of 12 months: "
              + ("the same all year" if given == 1 else "the others are interpolated"))
    return below


def _weather(table, club_folder):
    source = table.table("weather", WEATHER_KEYS)
    columns = source.table("columns", WEATHER_COLUMNS)
    units = source.table("units", WEATHER_COLUMNS)
    for part in (columns, units):
        for key, value in part.data.items():
            if not isinstance(value, str):
                part.error(key, f"{shown(value)} is not a text", f'Write {key} = "..."')
    file = source.text("file")
    station = source.data.get("station")
    if station is not None and not (isinstance(station, str) and station.strip()):
        source.error(
            "station", f"{shown(station)} is not a text", 'Write station = "auto" or its id'
        )
    if file is not None and station is not None:
        source.error(
            "station",
            "both file and station are given",
            f"Keep one of them: take away the line station = {shown(station)} to use the file",
        )
    path = None
    if file is not None:
        path = _club_file(club_folder, file, source, "file")
        path = path if path is None else path.absolute()
        if path is not None and not os.path.isfile(path):
            near = _near_file(club_folder, path)
            what = "is no file" if os.path.lexists(path) else "does not exist"
            source.error(
                "file",
                f"weather file {shown(file)} {what} in {club_folder}",
                f"Did you mean {near}?"
                if near
                else "Put it there, in the folder weather/, or mend its name",
            )
        station = None
    grid = _grid(source, club_folder)
    if file is None and station is None and "grid" not in source:
        station = "auto"
        if "station" not in source:
            _note(table, "weather", "no weather source is given: the nearest station is asked for")
    return WeatherSource(station=station, file=path, columns=dict(columns.data),
                         units=dict(units.data), attribution=source.text("attribution"),
                         licence=source.text("licence"), grid=grid,
                         cell=source.text("cell", "bilinear", choices=("bilinear", "nearest")))


def _grid(source, club_folder):
    """The grid's files in name order: one, a list of them, or all NetCDF files of a folder."""
    found = []
    for name in source.texts("grid"):
        path = _club_file(club_folder, name, source, "grid")
        if path is None:  # outside the club: told
            continue
        path = path.absolute()
        inside = sorted(path.glob("*.nc*")) if path.is_dir() else []
        if not path.exists() or not (inside or path.is_file()):
            near = None if path.exists() else _near_file(club_folder, path)
            what = "holds no .nc file" if path.exists() else f"does not exist in {club_folder}"
            source.error("grid", f"grid {name} {what}", f"Did you mean {near}?" if near
                         else "Put its NetCDF files there, or mend its name")
        found += inside or [path]
    return tuple(found)


def _near_file(club_folder, path):
    """A file of the club that ``path`` may have meant, as a lake file writes it; None if none."""
    for folder in dict.fromkeys((club_folder.absolute() / "weather", path.parent)):
        beside = [entry.name for entry in folder.glob("*")] if folder.is_dir() else []
        near = nearest(path.name[:80], beside)
        if near and folder.is_relative_to(club_folder.absolute()):
            return (folder / near).relative_to(club_folder.absolute()).as_posix()
    return None


def _flow(table, max_depth, volume):
    if "flow" not in table:
        return None
    flow = table.table("flow", FLOW_KEYS)
    ends = dict(low=0.0, high=max_depth or DEEPEST, hint="It must lie within the lake")
    inflow, _ = flow.monthly("inflow", "flow", low=0.0)
    temperature, _ = flow.monthly("inflow_temperature", "temperature", low=0.0, high=40.0)
    release, _ = flow.monthly("release", "flow", low=0.0)
    depths = (flow.quantity(key, "length", **ends) for key in ("release_depth", "aerator"))
    release_depth, aerator = depths
    if inflow is not None and volume is not None and inflow.max() * FASTEST_EXCHANGE > volume:
        hours = volume / inflow.max() / 3600
        flow.error(
            "inflow",
            f"an inflow of {inflow.max():,.1f} m3/s renews the lake's "
            f"{volume:,.0f} m3 in {hours:.1f} hours; under {FASTEST_EXCHANGE / 3600:.0f} "
            "hours it is a river, and no layers can be computed",
            "Check the units of inflow and area; leave [flow] out to compute a lake",
        )
    stirs = flow.text("aerator_stirs", "above", choices=("above", "below"))
    needs = dict.fromkeys(("inflow_temperature", "release", "release_depth"), 'inflow = "20 cfs"')
    for key, line in (needs | {"aerator_stirs": 'aerator = "25 ft"'}).items():
        if key in flow and line.split()[0] not in flow:
            flow.error(key, f"{key} is given without an {line.split()[0]}", f"Add {line}")
            break
    return Flow(inflow=inflow, inflow_temperature=temperature, release=release,
                release_depth=release_depth, aerator_depth=aerator, aerator_stirs=stirs)


def _rules(table):
    rules = table.table("rules", RULES_KEYS)
    read = Rules(
        max_rods=rules.number("max_rods", low=1, high=30, whole=True,
                              hint="Rods per angler, such as max_rods = 2"),
        limits=rules.text("limits"), closures=rules.text("closures"),
        consumption_advice=rules.text("consumption_advice"), checked=rules.day("checked"))
    if rules.data and read.checked is None and "checked" not in rules:
        _warn(table, "rules", "the rules do not say when they were checked",
              "Add checked = 2026-02-14 under [rules]")
    return read
