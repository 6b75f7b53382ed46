"""Reads probe readings: temperature, and oxygen where read, by lake, local time and depth."""

import re
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from lakekit.club import find_lake
from lakekit.errors import ClubError, ProbeError
from lakekit.fields import nearest
from lakekit.inputs import table_rows
from lakekit.units import convert, shown

DEPTH = {"depth_m": "m", "depth_ft": "ft"}
TEMPERATURE = {"temperature_c": "C", "temperature_f": "F"}
OXYGEN = "oxygen_mgl"
COLUMNS = ("date", "time", "lake", *DEPTH, *TEMPERATURE, OXYGEN)
SHOWN = ("date", "time", "lake", "depth_m or depth_ft", "temperature_C or temperature_F", OXYGEN)

WARMEST = 36.0  # degC; open lake water beyond it is a unit, not weather (common practice)
COLDEST = -0.5  # degC
MOST_OXYGEN = 25.0  # mg/L; 300 % of saturation at 30 degC (computed from 7.6 mg/L)
WARMER_BELOW = 2.0  # degC over shallower water, which would float; sensors and skins differ less
INVERSE_LIMIT = 6.0  # degC; up to here water may warm downward, as under ice (densest near 4)
MOST_FINDINGS = 30  # kinds of mistake, or mistaken dates, before a file is refused
DATE_ORDERS = {"YMD": (0, 1, 2), "DMY": (2, 1, 0), "MDY": (2, 0, 1)}


def read_probe(path, club, *, findings=None):
    """Read a file of probe readings.

    Columns ``date``, ``time`` (local clock; blank: noon), ``lake``, ``depth_m`` or ``depth_ft``,
    ``temperature_C`` or ``temperature_F``, and optionally ``oxygen_mgl``. Commas, semicolons or
    tabs; decimal commas with semicolons; UTF-8 with or without byte order mark, or ANSI.

    Parameters
    ----------
    path : path-like
    club : Club
    findings : list, optional
        Where given, readings that cannot be are left out and told here, a line each; as long as
        they are the fewer. Without it the first of them raises.

    Returns
    -------
    pandas.DataFrame
        time (datetime64, UTC without zone), lake (key), depth [m], temperature [degC],
        oxygen [mg/L] (NaN where not read), row (row number in the file, header = 1), in the
        order lake, time, depth; ``attrs["notes"]`` lists what was assumed.

    Raises
    ------
    ProbeError
        For the first kind of mistake found: file, column, rows, how many, and the mend.

    Examples
    --------
    >>> demo = read_club()
    >>> read_probe(demo.folder / "probe.csv", demo).columns[:5].tolist()
    ['time', 'lake', 'depth', 'temperature', 'oxygen']
    """
    path = Path(path)
    header, rows = _read_rows(path)
    most = len(rows) / 2
    told = []
    while True:
        try:
            frame = _frame(header, rows, club, path)
        except ProbeError as error:
            bad = set(error.rows)
            most -= len(bad)
            if findings is None or not bad or most <= 0 or len(told) == MOST_FINDINGS:
                raise
            told.append(f"{error.where}: {error.what}: left out. {error.mend or ''}".rstrip())
            rows = [(number, cells) for number, cells in rows if number not in bad]
        else:
            if findings is not None:
                findings += told
            return frame


def _frame(header, rows, club, path):
    depth_column = _one_of(header, DEPTH, path)
    temperature_column = _one_of(header, TEMPERATURE, path)
    for name in ("date", "lake"):
        if name not in header:
            raise ProbeError(f"there is no column {name!r}", where=path.name,
                             mend=f"Columns are {', '.join(SHOWN)}")
    notes = []
    frame = pd.DataFrame({
        "row": [number for number, _ in rows],
        "lake": [_lake(cells, number, club, path) for number, cells in rows],
        "depth": _numbers(rows, depth_column, path, required=True),
        "temperature": _numbers(rows, temperature_column, path, required=False),
        "oxygen": _numbers(rows, OXYGEN, path, required=False),
    })
    _check_something(frame, path, temperature_column)
    frame["time"] = _times(rows, frame["lake"], club, path, notes)
    raw = frame.copy()
    frame["depth"] = convert(frame["depth"], DEPTH[depth_column], "length")
    frame["temperature"] = convert(
        frame["temperature"], TEMPERATURE[temperature_column], "temperature")
    for check in (_check_swapped, _check_depth, _check_temperature, _check_oxygen):
        check(frame, raw, club, path, depth_column, temperature_column)
    _check_density(frame, path)
    twice = frame.duplicated(["lake", "time", "depth", "temperature", "oxygen"])
    if twice.any():
        notes.append("readings listed twice are used once: "
                     f"{_rows_text(frame.loc[twice, 'row'])}")
        frame = frame[~twice]
    frame = frame.sort_values(["lake", "time", "depth"], kind="stable").reset_index(drop=True)
    frame = frame[["time", "lake", "depth", "temperature", "oxygen", "row"]]
    frame.attrs["notes"] = notes
    return frame


def _read_rows(path):
    lines, separator = table_rows(path, error=ProbeError, where=path.name)
    if not lines:
        raise ProbeError("the file is empty", where=path.name,
                         mend=f"Its first line names the columns: {', '.join(SHOWN)}")
    header = [name.lower() for name in lines[0][1]]
    for name in header:
        if name and name not in COLUMNS:
            near = nearest(name[:60], COLUMNS)
            raise ProbeError(f"unknown column {shown(name)}",
                             where=f"{path.name}, row {lines[0][0]}",
                             mend=f"Did you mean {near}?" if near
                             else f"Columns are {', '.join(SHOWN)}")
        if name and header.count(name) > 1:
            raise ProbeError(f"two columns are named {name!r}", where=path.name,
                             mend="Keep one of them")
    rows = []
    for number, row in lines[1:]:
        cells = dict(zip(header, row, strict=False))
        if separator == ";":
            for name in (*DEPTH, *TEMPERATURE, OXYGEN):
                if name in cells:
                    cells[name] = cells[name].replace(",", ".")
        rows.append((number, cells))
    return header, rows


def _one_of(header, known, path):
    found = [name for name in known if name in header]
    if len(found) == 1:
        return found[0]
    names = " or ".join(name[:-1] + name[-1].upper() if name in TEMPERATURE else name
                        for name in known)
    if not found:
        raise ProbeError(f"there is no column {names}", where=path.name, mend="Name the unit")
    raise ProbeError(f"there are both columns {names.replace(' or ', ' and ')}", where=path.name,
                     mend="Keep one of them")


def _lake(cells, number, club, path):
    word = cells.get("lake", "")
    try:
        return find_lake(club, word)
    except ClubError as error:
        what = f"unknown lake {shown(word)}" if word else "the lake is missing"
        raise _bad([number], what, where=f"{path.name}, row {number}, column lake",
                   mend=error.mend) from None


def _numbers(rows, name, path, *, required):
    values, wrong, missing = [], [], []
    for number, cells in rows:
        cell = cells.get(name, "")
        value = np.nan
        if cell:
            try:
                value = float(cell)
            except ValueError:
                value = np.inf
            if not np.isfinite(value):
                wrong.append((number, cell))
        elif required:
            missing.append(number)
        values.append(value)
    if wrong:
        mend = ("With decimal commas, separate the columns by semicolons"
                if "," in wrong[0][1] else "Write a plain number, its unit in the column's name")
        raise _bad([number for number, _ in wrong],
                   f"{shown(wrong[0][1])} is not a number ({len(wrong)} such rows)",
                   where=f"{path.name}, row {wrong[0][0]}, column {name}", mend=mend)
    if missing:
        raise _bad(missing, f"{name} is missing in {_rows_text(missing)}",
                   where=f"{path.name}, column {name}", mend="Fill it in or delete the row")
    return np.array(values, dtype=float)


def _times(rows, lakes, club, path, notes):
    times, noon, twice = [], 0, 0
    for (number, cells), lake in zip(rows, lakes, strict=True):
        where = f"{path.name}, row {number}"
        clock = cells.get("time", "")
        noon += not clock
        try:
            day = _date(cells.get("date", ""), club.date_order, where)
            local = datetime.combine(day, datetime.min.time()) + _clock(clock or "12:00", where)
        except ProbeError as error:
            error.rows = (number,)
            raise
        zone = ZoneInfo(club.lakes[lake].time_zone)
        moment = local.replace(tzinfo=zone)
        utc = moment.astimezone(ZoneInfo("UTC"))
        if utc.astimezone(zone).replace(tzinfo=None) != local:
            raise _bad([number], f"{local:%Y-%m-%d %H:%M} does not exist in {zone.key}: clocks "
                       "went forward", where=f"{where}, column time", mend="Add one hour")
        twice += moment.utcoffset() != moment.replace(fold=1).utcoffset()
        times.append(utc.replace(tzinfo=None))
    if noon:
        notes.append(f"readings without a time are taken as noon ({noon})")
    if twice:
        notes.append(f"the hour that clocks repeat is taken as its first pass ({twice} readings)")
    return pd.Series(pd.to_datetime(times), dtype="datetime64[us]")


def _date(text, order, where):
    where = f"{where}, column date"
    if not text:
        raise ProbeError("the date is missing", where=where, mend="Write it as 2025-05-31")
    try:
        found = date.fromisoformat(text)
    except ValueError:
        parts = re.split(r"[-/.\s]+", text.strip("."))
        if len(parts) != 3 or not all(part.isdecimal() for part in parts):
            raise ProbeError(f"{shown(text)} is not a date", where=where,
                             mend="Write it as 2025-05-31") from None
        if order is None:
            raise ProbeError(f"{shown(text)} could be more than one date", where=where,
                             mend="Write dates as 2025-05-31, or set date_order under [log] in "
                                  'club.toml to "YMD", "MDY" or "DMY"') from None
        year, month, day = (int(parts[at]) for at in DATE_ORDERS[order])
        year += 2000 if year < 100 else 0
        try:
            found = date(year, month, day)
        except (ValueError, OverflowError):
            raise ProbeError(f"{shown(text)} is no date in the order {order}", where=where,
                             mend="Mend it, or date_order in club.toml") from None
    if not 1950 <= found.year <= 2100:
        raise ProbeError(f"the year of {shown(text)} is outside 1950 to 2100", where=where,
                         mend="Write it as 2025-05-31")
    return found


def _clock(text, where):
    match = re.fullmatch(r"(\d{1,2})[:.h](\d{2})(?::(\d{2}))?\s*([ap])?\.?m?\.?", text.lower())
    if match:
        hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
        if match[4] and 1 <= hour <= 12:
            hour = hour % 12 + 12 * (match[4] == "p")
        if hour < 24 and minute < 60 and second < 60:
            return timedelta(hours=hour, minutes=minute, seconds=second)
    raise ProbeError(f"{shown(text)} is not a clock time", where=f"{where}, column time",
                     mend="Write it as 14:30")


def _check_something(frame, path, column):
    """A row may hold oxygen alone, but not neither."""
    empty = frame["temperature"].isna() & frame["oxygen"].isna()
    if empty.any():
        rows = frame.loc[empty, "row"]
        raise _bad(rows, f"{column} is missing in {_rows_text(rows)}, and oxygen with it",
                   where=f"{path.name}, column {column}", mend="Fill it in or delete the row")


def _check_swapped(frame, raw, club, path, depth_column, temperature_column):
    shallow = 1.1 if DEPTH[depth_column] == "m" else 3.6
    liquid = 3.5 if TEMPERATURE[temperature_column] == "C" else 33.0
    for _, cast in raw.groupby(["lake", "time"], sort=False):
        depth, temperature = cast["depth"].to_numpy(), cast["temperature"].to_numpy()
        if (len(cast) >= 4 and (np.diff(temperature) > 0).all() and temperature[0] <= shallow
                and depth.min() > liquid and depth[0] >= depth.max() - 1.0):
            raise ProbeError("depth and temperature look swapped: the one stays at "
                             f"{depth.min():g} or more while the other counts up from "
                             f"{temperature[0]:g}", where=_where(path, cast["row"]),
                             mend="Swap the two columns' names")
        oxygen = cast["oxygen"].to_numpy()
        if (TEMPERATURE[temperature_column] == "C" and len(cast) >= 3 and temperature.max() <= 16
                and (oxygen > temperature).all() and 20 < oxygen.max() <= WARMEST):
            raise ProbeError("temperature and oxygen look swapped: up to "
                             f"{oxygen.max():g} mg/L in water of {temperature.max():g} degC",
                             where=_where(path, cast["row"]), mend="Swap the two columns' names")


def _check_depth(frame, raw, club, path, depth_column, temperature_column):
    below = frame["depth"] < 0
    if below.any():
        rows = frame.loc[below, "row"]
        raise _bad(rows, f"negative depth {raw.loc[below, 'depth'].iloc[0]:g} ({_count(rows)})",
                         where=_where(path, rows, depth_column),
                         mend="Depth counts down from 0 at the surface")
    bottom = frame["lake"].map({key: lake.max_depth for key, lake in club.lakes.items()})
    limit = 1.05 * bottom.astype(float) + 0.5
    deep = frame["depth"] > limit
    if deep.any():
        at = frame.index[deep][0]
        rows = frame.loc[deep, "row"]
        feet = depth_column == "depth_m" and (
            convert(frame.loc[deep, "depth"], "ft", "length") <= limit[deep]).all()
        raise _bad(
            rows, f"{frame.depth[at]:.1f} m is deeper than {club.lakes[frame.lake[at]].name}, "
            f"{bottom[at]:.1f} m at most ({_count(rows)})",
            where=_where(path, rows, depth_column),
            mend="These look like feet: name the column depth_ft" if feet
            else "Mend the depth, or max_depth in the lake file")


def _check_temperature(frame, raw, club, path, depth_column, temperature_column):
    value = frame["temperature"]
    wrong = (value > WARMEST) | (value < COLDEST)
    if not wrong.any():
        return
    rows = frame.loc[wrong, "row"]
    first = raw.loc[wrong, "temperature"].iloc[0]
    column = temperature_column[:-1] + temperature_column[-1].upper()
    mend = "Mend the reading"
    if temperature_column == "temperature_c":
        celsius = convert(raw.loc[wrong, "temperature"], "F", "temperature")
        if celsius.between(COLDEST, WARMEST).all():
            mend = "These look like degrees F: name the column temperature_F"
    elif raw.loc[wrong, "temperature"].between(COLDEST, WARMEST).all():
        mend = "These look like degrees C: name the column temperature_C"
    raise _bad(rows, f"{first:g} under {column} is no lake temperature ({_count(rows)})",
               where=_where(path, rows, column), mend=mend)


def _check_oxygen(frame, raw, club, path, depth_column, temperature_column):
    wrong = (frame["oxygen"] > MOST_OXYGEN) | (frame["oxygen"] < -0.3)
    if wrong.any():
        rows = frame.loc[wrong, "row"]
        raise _bad(
            rows,
            f"{frame.loc[wrong, 'oxygen'].iloc[0]:g} mg/L is no oxygen content ({_count(rows)})",
            where=_where(path, rows, OXYGEN),
            mend=f"Between 0 and {MOST_OXYGEN:g} mg/L; a percentage of saturation does not serve")
    frame["oxygen"] = frame["oxygen"].clip(lower=0.0)


def _check_density(frame, path):
    """Refuse casts that warm downward so much that the water would turn over."""
    for _, cast in frame.groupby(["lake", "time"], sort=False):
        cast = cast.dropna(subset=["temperature"]).sort_values("depth", kind="stable")
        value = cast["temperature"].to_numpy()
        coldest_above = np.minimum.accumulate(value)
        wrong = (value - coldest_above > WARMER_BELOW) & (value > INVERSE_LIMIT)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise _bad(
                cast["row"][wrong],
                f"{value[at]:.1f} degC at {cast['depth'].iloc[at]:.1f} m is warmer than the "
                f"{coldest_above[at]:.1f} degC above it ({_count(cast['row'][wrong])}): warm "
                "water would rise", where=_where(path, cast["row"][wrong]),
                mend="Check these readings, and that all rows of the cast are of one hour")


def _bad(rows, what, **told):
    """The error of single rows, which may be left out."""
    error = ProbeError(what, **told)
    error.rows = tuple(rows)
    return error


def _count(rows):
    return f"{len(rows)} row{'s' if len(rows) != 1 else ''}"


def _rows_text(rows):
    rows = list(rows)
    shown = ", ".join(str(row) for row in rows[:5]) + (" ..." if len(rows) > 5 else "")
    return f"row{'s' if len(rows) > 1 else ''} {shown}"


def _where(path, rows, column=None):
    return f"{path.name}, {_rows_text(rows)}" + (f", column {column}" if column else "")
