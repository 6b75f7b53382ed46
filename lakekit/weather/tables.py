"""Weather files: CSV as people have it, to an hourly Dataset with its holes left open.

Sub-hourly rows are averaged over the hour that holds them (precipitation and sunshine summed, or
scaled up where some are missing); an hour with fewer than half its expected readings stays open.
Readings 2 to 6 hours apart are brought to whole hours and flagged (see ``coarse.py``).
"""

import io
import os
import re
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.fields import nearest
from lakekit.inputs import MOST_WEATHER, check_width, cut_rows, decoded, file_bytes, separator_of
from lakekit.store import read_once
from lakekit.units import UNITS
from lakekit.weather.air import humidity_from_dew_point, wind_to_height
from lakekit.weather.clock import read_zone, to_utc
from lakekit.weather.coarse import hourly_from_steps
from lakekit.weather.columns import COLUMNS, check_names, check_unit, pressure_level, to_si
from lakekit.weather.schema import FORCING, VARIABLES, make_weather

MISSING = ["", "NA", "NaN", "nan", "N/A", "null", "None", "M", "-", "--", "///", "missing"]
MISSING_CODES = (-999.0, -9999.0, -99999.0, -6999.0)  # loggers' codes, common practice, no source
KEPT_FILES = 3  # whose rows one process holds: 10 MB for 15 years
LONGEST_STEP = pd.Timedelta(hours=6)
_HOUR = pd.Timedelta(hours=1)
_GUST = re.compile(r"gust|peak|max", re.IGNORECASE)


def read_weather(path, columns=None, *, units=None, lake=None):
    """Read a weather file into an hourly Dataset, leaving holes as NaN.

    Parameters
    ----------
    path : path of a .csv or .csv.gz file
        Comma, semicolon or tab between fields, decimal point or comma, UTF-8 (with or without a
        byte order mark) or Windows-1252.
    columns : dict, optional
        Default column name -> name in this file, as in ``[weather.columns]``.
    units : dict, optional
        Default column name -> unit in this file, as in ``[weather.units]``: for example
        ``{"air_temp_c": "F", "wind_ms": "mph", "pressure_hpa": "hPa at sea level",
        "time": "America/Chicago"}``.
    lake : Lake, optional
        The lake it is for: measured sunshine must then peak near its noon, which catches a file
        in local time; its weather source's attribution and licence are carried. Needed to share
        out the sun of a file with readings hours apart.

    Returns
    -------
    xarray.Dataset on `time`
        The variables of ``schema.VARIABLES`` that the file holds, float64, UTC, regular.

    Raises
    ------
    WeatherError
        Says which row or column, how many, and how to mend it.

    Examples
    --------
    >>> path = club.folder / "weather" / "prairie-airfield.csv.gz"
    >>> list(read_weather(path, lake=lake))[:2]
    ['air_temperature', 'relative_humidity']
    """
    path = Path(path)
    columns, units = dict(columns or {}), dict(units or {})
    check_names(columns, "[weather.columns]")
    check_names(units, "[weather.units]")
    said = repr((sorted(columns.items()), sorted(units.items())))
    rows = read_once(_READ, KEPT_FILES, path, lambda: _rows(path, columns, units), said)
    where = path.name
    time, data, step, notes, origin = rows.time, rows.data, rows.step, list(rows.notes), {}
    if step > _HOUR:
        axis, hourly, origin = hourly_from_steps(
            time, data, step, ends=rows.ends, lake=lake, where=where
        )
        notes.append(f"readings every {step / _HOUR:g} hours brought to whole hours")
    else:
        axis, hourly = _hourly(time, data, step)
        if step != _HOUR:
            notes.append(f"readings every {step.total_seconds() / 60:g} min turned into hours")
    if rows.ignored:
        notes.append("columns not used: " + ", ".join(rows.ignored))
    methods = {COLUMNS[name].variable: method for name, method in origin.items()}
    if "dew_point" in methods:
        methods.setdefault("relative_humidity", methods["dew_point"])
    methods = {name: method for name, method in methods.items() if name in FORCING}
    weather = _observed(_dataset(axis, hourly, rows.wind_height, units, methods or None), where)
    weather.attrs = {
        "source": f"file {path.name}",
        "attribution": "",
        "licence": "",
        "notes": "; ".join(notes),
    }
    if lake is not None:
        weather.attrs["attribution"] = lake.weather.attribution or ""
        weather.attrs["licence"] = lake.weather.licence or ""
        _check_noon(weather, lake, where)
    return weather


@dataclass(frozen=True)
class Rows:
    """A file's rows in time's order, checked; the same for every lake that names the file."""

    time: pd.DatetimeIndex  # UTC
    data: dict  # default column -> (n,) float64 array in the inner unit
    step: pd.Timedelta
    ends: bool  # whether labels end their interval
    wind_height: float  # m
    ignored: tuple  # headers
    notes: tuple


_READ = OrderedDict()


def _rows(path, columns, units):
    table, where = _read_table(path), path.name
    names, ignored = _match_columns(table, columns, where)
    row = np.arange(2, len(table) + 2)
    notes = []

    zone, ends, order = read_zone(str(units.get("time", "UTC")), where="[weather.units]")
    blank = table[names["time"]].isna().to_numpy() & table.isna().all(axis=1).to_numpy()
    if blank.any():
        table, row = table[~blank].reset_index(drop=True), row[~blank]
    if len(table) == 0:
        raise WeatherError("the file has a header but no rows", where=where)
    time = to_utc(
        table[names["time"]], zone, where=where, header=names["time"], row=row, order=order
    )

    data = {}
    for default, header in names.items():
        if default != "time":
            values = _numbers(table[header], header, row=row, where=where)
            check_unit(values, default, units.get(default), header=header, where=where)
            data[default] = to_si(values, default, units.get(default))
    if "wind_ms" in names and _GUST.search(names["wind_ms"]):
        raise WeatherError(
            f"column {names['wind_ms']!r} reads like gusts, and a gust is not a mean wind",
            where=where,
            mend="Map wind_ms to the mean wind.",
        )
    step = _step(time.sort_values().unique(), where=where)
    hours = max(step / _HOUR, 1.0)
    for default, values in data.items():
        each = values / hours if COLUMNS[default].total else values
        _check_range(each, default, names[default], row=row, time=time, where=where)

    time, data = _sort(time, data, row=row, where=where, notes=notes)
    if ends:
        time = time - min(step, _HOUR)
    wind_height = _wind_height(data, notes)
    for values in data.values():
        values.flags.writeable = False
    return Rows(time, data, step, ends, wind_height, tuple(ignored), tuple(notes))


def _read_table(path):
    if not os.path.lexists(path):
        raise WeatherError(
            "no such weather file",
            where=str(path),
            mend="Check `file` under [weather] in the lake file.",
        )
    raw = file_bytes(path, error=WeatherError, most=MOST_WEATHER, packed=True)
    text, _ = decoded(raw, error=WeatherError, where=str(path))
    header, _, rest = text.partition("\n")
    if not header.strip():
        raise WeatherError("the file is empty, or its first line is not a header", where=str(path))
    separator = separator_of(header)
    if '"' in text:
        # every row through the strict reader: an open quote would swallow the rows after it
        cut_rows(text, separator, error=WeatherError, where=str(path))
    _check_widths(header, rest, separator, str(path))
    sample = text[:20_000].split("\n", 1)[-1]
    comma = separator != "," and re.search(r"\d,\d", sample) and not re.search(r"\d\.\d", sample)
    try:
        table = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            decimal="," if comma else ".",
            keep_default_na=False,
            na_values=MISSING,
            skipinitialspace=True,
            skip_blank_lines=False,
            low_memory=False,
            index_col=False,
        )
    except OverflowError:
        raise WeatherError("a number has too many digits", where=str(path)) from None
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as problem:
        raise WeatherError(f"is not a table: {str(problem).strip()}", where=str(path)) from problem
    table.columns = [str(name).strip() for name in table.columns]
    return table


def _check_widths(header, rest, separator, where):
    """Refuse rows with more cells than the header: the reader would drop what is beyond it."""
    width = header.count(separator) + 1
    for number, line in enumerate(rest.split("\n"), start=2):
        if line.count(separator) >= width and '"' not in line:
            check_width(
                line.split(separator), width, separator, error=WeatherError,
                where=f"{where}, row {number}",
            )  # fmt: skip


def _match_columns(table, columns, where):
    names = {}
    for default in COLUMNS:
        wanted = columns.get(default)
        if wanted is not None and wanted not in table.columns:
            near = nearest(wanted, list(table.columns))
            hint = f" Did you mean {near!r}?" if near else ""
            raise WeatherError(
                f"there is no column {wanted!r} (for {default})",
                where=where,
                mend=f"It has {', '.join(table.columns)}.{hint}",
            )
        header = wanted or default
        if header not in table.columns:  # capitals aside
            header = next((name for name in table.columns if name.lower() == default), header)
        if header in table.columns:
            if list(table.columns).count(header) > 1:
                raise WeatherError(f"two columns are named {header!r}", where=where,
                                   mend="Keep one of them.")
            names[default] = header
    if "time" not in names:
        near = nearest("time", list(table.columns))
        hint = f"Did you mean {near!r}? " if near else ""
        raise WeatherError(
            "there is no column `time`",
            where=where,
            mend=f"{hint}It has {', '.join(table.columns)}. Name the right one under "
            f'[weather.columns]: time = "..."; UTC, start of the hour.',
        )
    if not set(names) - {"time", "wind_height_m"}:
        raise WeatherError(
            "there is no weather column",
            where=where,
            mend=f"Expected some of {', '.join(COLUMNS)}; it has "
            f"{', '.join(table.columns)}. Map others under [weather.columns].",
        )
    used = set(names.values())
    return names, [name for name in table.columns if name not in used]


def _numbers(series, header, *, row, where):
    if series.dtype == object or isinstance(series.dtype, pd.StringDtype):
        values = pd.to_numeric(series, errors="coerce")
        bad = np.flatnonzero(values.isna().to_numpy() & series.notna().to_numpy())
        if bad.size:
            raise WeatherError(
                f"row {row[bad[0]]}: {header} = {series.iloc[bad[0]]!r} is not a "
                f"number ({bad.size} such cells)",
                where=where,
                mend="Leave missing values empty.",
            )
        series = values
    values = series.to_numpy(dtype=np.float64, na_value=np.nan).copy()
    values[np.isin(values, MISSING_CODES)] = np.nan
    return values


def _check_range(values, default, header, *, row, time, where):
    variable = {"dew_point_c": "air_temperature"}.get(default, COLUMNS[default].variable)
    low, high = (
        (0.5, 200.0)
        if variable == "wind_height"
        else (VARIABLES[variable].low, VARIABLES[variable].high)
    )
    unit = "m" if variable == "wind_height" else VARIABLES[variable].units
    slack = 1e-9 * max(abs(low), abs(high))
    with np.errstate(invalid="ignore"):
        bad = np.flatnonzero((values < low - slack) | (values > high + slack) | np.isinf(values))
    if bad.size:
        i = bad[0]
        raise WeatherError(
            f"row {row[i]} ({time[i]:%Y-%m-%d %H:%M}): {header} comes to {values[i]:g} {unit}, "
            f"outside {low:g} to {high:g} ({bad.size} such values)",
            where=where,
            mend="Empty the cell if it is a fault; if the whole column is in another unit, say so "
            f'under [weather.units]: {default} = "{_other_units(default)}".',
        )


def _other_units(default):
    units = list(COLUMNS[default].factors) or list(UNITS[COLUMNS[default].dimension])
    return " or ".join(unit for unit in units if unit.lower() != COLUMNS[default].unit.lower())


def _sort(time, data, *, row, where, notes):
    if not time.is_monotonic_increasing:
        order = np.argsort(time.to_numpy(), kind="stable")
        notes.append("rows sorted by time")
        time, row = time[order], row[order]
        data = {name: values[order] for name, values in data.items()}
    repeated = time.duplicated(keep="first")
    if repeated.any():
        first = pd.Series(np.arange(len(time))).groupby(time.to_numpy()).transform("first")
        first = first.to_numpy()
        for name, values in data.items():
            differs = repeated & ~np.isclose(values, values[first], equal_nan=True, rtol=1e-9)
            differs &= ~np.isnan(values)
            if differs.any():
                i = int(np.flatnonzero(differs)[0])
                raise WeatherError(
                    f"row {row[i]}: {time[i]:%Y-%m-%d %H:%M} stands twice with different {name} "
                    f"({int(differs.sum())} such rows)",
                    where=where,
                    mend="Delete one of each, or, if the file is in local time and a clock change "
                    "repeats the hour, name the zone under [weather.units].",
                )
        notes.append(f"{int(repeated.sum())} repeated rows dropped")
        time = time[~repeated]
        data = {name: values[~repeated] for name, values in data.items()}
    return time, data


def _step(time, *, where):
    if len(time) < 2:
        return _HOUR
    step = pd.Timedelta(
        np.median(np.diff(time.to_numpy()).astype("timedelta64[ns]").astype(np.int64)), unit="ns"
    )
    if step > LONGEST_STEP:
        raise WeatherError(
            f"readings are {step.total_seconds() / 3600:g} hours apart",
            where=where,
            mend="An hourly record is needed; up to 6 hours apart can be used.",
        )
    return step


def _wind_height(data, notes):
    heights = data.pop("wind_height_m", None)
    if heights is None or np.isnan(heights).all() or "wind_ms" not in data:
        return 10.0
    known = heights[~np.isnan(heights)]
    if np.ptp(known) == 0:
        return float(known[0])
    filled = pd.Series(heights).ffill().bfill().to_numpy()
    data["wind_ms"] = wind_to_height(data["wind_ms"], measured=filled)
    notes.append("wind of several heights brought to 10 m")
    return 10.0


def _hourly(time, data, step):
    hour = time.floor("h")
    axis = pd.date_range(hour[0], hour[-1], freq="h", unit="ns")
    place = ((hour - axis[0]) // _HOUR).to_numpy()
    expected = max(1, round(_HOUR / step))
    result = {}
    for name, values in data.items():
        if name == "wind_from_deg":
            result[name] = _mean_direction(values, place, axis.size)
            continue
        valid = ~np.isnan(values)
        count = np.bincount(place[valid], minlength=axis.size)
        total = np.bincount(place[valid], weights=values[valid], minlength=axis.size)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = total / count
        mean[count < 0.5 * expected] = np.nan
        summed = COLUMNS[name].total and step < _HOUR
        result[name] = mean * expected if summed else mean
    return axis, result


def _mean_direction(degrees, place, size):
    """Mean direction by place, of unit vectors: 350 and 10 degrees are north, not south."""
    valid = ~np.isnan(degrees)
    turns = np.radians(degrees[valid])
    east, north = (
        np.bincount(place[valid], weights=part, minlength=size)
        for part in (np.sin(turns), np.cos(turns))
    )
    mean = np.degrees(np.arctan2(east, north)) % 360.0
    return np.where(np.hypot(east, north) > 1e-6, mean, np.nan)


def _dataset(axis, data, wind_height, units, origin):
    values = {COLUMNS[name].variable: array for name, array in data.items()}
    dew_point = values.pop("dew_point", None)
    if dew_point is not None and "air_temperature" in values:
        humidity = humidity_from_dew_point(values["air_temperature"], dew_point)
        given = values.get("relative_humidity", np.full(axis.size, np.nan))
        values["relative_humidity"] = np.where(np.isnan(given), humidity, given)
    for name, low, high in (
        ("relative_humidity", 0.0, 100.0),
        ("shortwave", 0.0, np.inf),
        ("cloud_cover", 0.0, 1.0),
    ):
        if name in values:
            values[name] = np.clip(values[name], low, high)
    level = pressure_level(str(units.get("pressure_hpa", "hPa")))[1]
    return make_weather(
        axis,
        values,
        wind_height=wind_height,
        pressure_level=level or "not said",
        origin=origin,
    )


def _observed(weather, where):
    """Cut the hours before the first and after the last value of any variable."""
    known = np.flatnonzero(
        np.any([~np.isnan(weather[name].values) for name in weather if name in VARIABLES], axis=0)
    )
    if not known.size:
        raise WeatherError("there is no value in any weather column", where=where)
    return weather.isel(time=slice(known[0], known[-1] + 1))


def _check_noon(weather, lake, where):
    """Refuse a record whose measured sun peaks hours away from the lake's noon."""
    if "shortwave" not in weather:
        return
    sun = pd.Series(weather["shortwave"].values, index=weather["time"].to_index()).dropna()
    if len(sun) < 24 * 5 or sun.max() < 50:
        return
    angle = 2 * np.pi * (sun.index.hour.to_numpy() + 0.5) / 24
    mean = np.angle(np.sum(sun.to_numpy() * np.exp(1j * angle))) * 12 / np.pi
    late = (mean - (12 - lake.longitude / 15) + 12) % 24 - 12
    if abs(late) > 2:
        raise WeatherError(
            f"the sun peaks {abs(late):.1f} hours {'after' if late > 0 else 'before'} noon at "
            f"{lake.name}, so the times are not UTC (or the longitude is wrong)",
            where=where,
            mend='Say under [weather.units] what the times are: time = "America/Chicago" or '
            '"UTC-6".',
        )
