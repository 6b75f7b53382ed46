"""Reads a trip log, CSV or XLSX, into SI columns; every row is used or listed with its reason."""

from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.errors import TripsError
from lakekit.trips import cells
from lakekit.trips.check import FINDING_COLUMNS, check_table
from lakekit.trips.clock import local_datetime, to_utc
from lakekit.trips.columns import BY_NAME, COLUMNS, SUFFIXES
from lakekit.trips.headers import assign, find_header
from lakekit.trips.sheet import read_sheet
from lakekit.units import plain_word

NUMERIC = ("count", "number", "duration")


def read_trips(path, club, *, tactics=None, as_of=None):
    """Read and check a trip log.

    Parameters
    ----------
    path : pathlib.Path or str
        A .csv or .xlsx file; it is only ever read.
    club : lakekit.club.Club
        Its lakes, date order, species, units, boat and the log's column map.
    tactics : dict, optional
        Word to tactic key; None takes the log's words as they are.
    as_of : datetime-like, optional
        Dates after this are mistakes; by default today.

    Returns
    -------
    pandas.DataFrame
        One row for each usable row of the log, SI units: ``row`` (spreadsheet row), ``trip``,
        ``date``, ``start`` (UTC, naive), ``hour`` (local clock, NaN where not logged), ``hours``,
        ``lake`` and ``tactic`` keys, and the other columns of ``columns.COLUMNS`` (NaN or ""
        where empty). ``attrs``: ``findings`` (row, column, severity, finding, mend),
        ``excluded`` (row, reason), ``rows_read``, ``summary``.

    Raises
    ------
    TripsError
        When the file cannot be read at all: missing, locked, no header, a column missing.

    Examples
    --------
    >>> read_trips(club.folder / "trips.csv", club).columns[:6].tolist()
    ['row', 'trip', 'date', 'start', 'hours', 'lake']
    """
    path = Path(path)
    rows, remarks = read_sheet(path)
    findings = [_finding(None, "", "note", remark, "nothing to do") for remark in remarks]
    rows = [(number, row) for number, row in rows if not all(map(cells.blank, row))]
    if not rows:
        return _finish(pd.DataFrame(), findings, club, path, as_of)
    start = find_header(rows, club.log_columns, str(path))
    header = rows[start][1]
    pairs, header_findings = assign(header, club.log_columns, lakes=len(club.lakes),
                                    path=str(path))
    findings += [_finding(rows[start][0], "", *item) for item in header_findings]
    units = _units(pairs, club, findings, rows[start][0])
    lookup = _Lookup(club, tactics)
    records = [
        _record(number, row, pairs, units, lookup, findings) for number, row in rows[start + 1:]
    ]
    return _finish(pd.DataFrame(records), findings, club, path, as_of)


def _finding(row, column, severity, finding, mend):
    return {"row": row, "column": column, "severity": severity, "finding": finding, "mend": mend}


def _units(pairs, club, findings, header_row):
    units = {}
    for index, name, unit in pairs:
        column = BY_NAME[name]
        if column.dimension is None:
            continue
        suffix = column.us if club.units == "us" else column.metric
        units[index] = unit or SUFFIXES[column.dimension][suffix]
        if unit is None:
            findings.append(_finding(header_row, name, "note",
                                     f"{name} names no unit: read as {units[index]}",
                                     f"call it {column.header(club.units)}"))
    return units


class _Lookup:
    """Words of the log to lakes and tactics."""

    def __init__(self, club, tactics):
        self.club, self.read = club, {}
        self.lakes = {}
        for lake in club.lakes.values():
            self.lakes[plain_word(lake.key)] = self.lakes[plain_word(lake.name)] = lake.key
        self.tactics = None
        if tactics is not None:
            self.tactics = {plain_word(word): key for word, key in tactics.items()}
            self.tactics |= {plain_word(key): key for key in tactics.values()}

    def lake(self, cell):
        key = self.lakes.get(plain_word(cell))
        if key is None:
            near = get_close_matches(plain_word(cell), list(self.lakes), n=1)
            names = ", ".join(lake.key for lake in self.club.lakes.values())
            hint = f"did you mean {self.lakes[near[0]]!r}? " if near else ""
            raise cells.CellError(f"no lake {str(cell).strip()!r} in the club",
                                  f"{hint}lakes: {names}")
        return key

    def tactic(self, cell):
        word = plain_word(cell)
        if self.tactics is None:
            return "_".join(str(cell).strip().lower().replace("-", " ").replace("_", " ").split())
        if word in self.tactics:
            return self.tactics[word]
        near = get_close_matches(word, list(self.tactics), n=1, cutoff=0.5)
        hint = f"did you mean {self.tactics[near[0]]!r}? " if near else ""
        raise cells.CellError(f"no tactic {str(cell).strip()!r} in the book",
                              f"{hint}tactics: {', '.join(sorted(set(self.tactics.values())))}")


def _record(number, row, pairs, units, lookup, findings):
    record = {"row": number}
    faults = []
    for index, name, _ in pairs:
        cell = row[index] if index < len(row) else None
        if cells.blank(cell) or name in record:
            continue
        try:
            record[name] = _value(cell, BY_NAME[name], units.get(index), lookup)
        except cells.CellError as error:
            severity = "error" if name in ("date", "lake", "hours", "fish") else "warning"
            findings.append(_finding(number, name, severity, error.finding, error.mend))
            if name == "tactic":
                record[name] = _own_word(cell)
            elif severity == "error":
                faults.append((name, error.finding))
    if any(not cells.blank(cell) for cell in row[max(i for i, _, _ in pairs) + 1:]):
        extra = [c for c in row[max(i for i, _, _ in pairs) + 1:] if not cells.blank(c)]
        findings.append(_finding(number, "", "note", f"cells beyond the header: {extra[0]!r}",
                                 "a comma inside a cell? put that cell in quotes"))
    record["unreadable"] = "; ".join(finding for _, finding in faults)
    if "lake" not in record and len(lookup.club.lakes) == 1 and "lake" not in dict(faults):
        record["lake"] = next(iter(lookup.club.lakes))
    if "date" in record and "lake" in record:
        _start(record, lookup.club.lakes[record["lake"]], findings)
    return record


def _own_word(cell):
    return "_".join(cells.read_text(cell).lower().replace("-", " ").split())


def _value(cell, column, unit, lookup):
    """A cell's value; one that stood in the column before is not read again."""
    key = column.name, unit, type(cell), cell
    if key not in lookup.read:
        lookup.read[key] = _read_value(cell, column, unit, lookup)
    return lookup.read[key]


def _read_value(cell, column, unit, lookup):
    match column.kind:
        case "date":
            return cells.read_date(cell, lookup.club.date_order)
        case "time":
            return cells.read_clock(cell)
        case "duration":
            return cells.read_duration(cell)
        case "count":
            return cells.read_count(cell)
        case "number":
            return cells.read_quantity(cell, column.dimension, unit)
        case "choice":
            return cells.read_choice(cell, column.choices)
        case "lake":
            return lookup.lake(cell)
        case "tactic":
            return lookup.tactic(cell)
    return cells.read_text(cell)


def _start(record, lake, findings):
    hour = record.get("start")
    record["hour"] = np.nan if hour is None else hour
    local = local_datetime(record["date"], 12.0 if hour is None else hour)
    record["start"], change = to_utc(local, lake.time_zone)
    if hour is None:
        findings.append(_finding(record["row"], "start", "warning",
                                 "no start time: noon is taken for the state of the water",
                                 "add the local clock time, such as 06:30"))
    elif change == "skipped":
        findings.append(_finding(record["row"], "start", "warning",
                                 f"{local:%H:%M} did not exist on {local:%Y-%m-%d}: the clocks "
                                 "went forward", "taken as one hour later; mend it if need be"))
    elif change == "twice":
        findings.append(_finding(record["row"], "start", "note",
                                 f"{local:%H:%M} came twice on {local:%Y-%m-%d}: the clocks went "
                                 "back", "the first of the two is taken"))


def _finish(table, findings, club, path, as_of):
    as_of = pd.Timestamp(datetime.now(UTC).replace(tzinfo=None) if as_of is None else as_of)
    table = _typed(table, club)
    table, more, excluded = check_table(table, club, as_of=as_of)
    findings = pd.DataFrame(findings + more, columns=list(FINDING_COLUMNS))
    findings["row"] = findings["row"].astype("Int64")
    findings = findings.sort_values("row", kind="stable", ignore_index=True)
    read = len(table) + len(excluded)
    summary = f"{len(table)} of {read} rows of {path.name} are used"
    if len(excluded):
        left = "1 is left out," if len(excluded) == 1 else f"{len(excluded)} are left out, each"
        summary += f"; {left} listed with its reason"
    table.attrs = {"findings": findings, "excluded": excluded, "rows_read": read,
                   "summary": summary, "path": str(path)}
    return table


def _typed(table, club):
    names = ["row", "trip", *(c.name for c in COLUMNS if c.name != "trip"), "hour", "unreadable"]
    table = table.reindex(columns=names)
    for column in COLUMNS:
        if column.kind in NUMERIC:
            table[column.name] = table[column.name].astype("float64")
        elif column.kind not in ("date", "time"):
            table[column.name] = table[column.name].astype(object).fillna("").astype(str)
    table["row"] = table["row"].astype("float64").fillna(0).astype("int64")
    table["hour"] = table["hour"].astype("float64")
    table["date"] = pd.to_datetime(table["date"])
    starts = table["start"].where(table["date"].notna() & (table["lake"] != ""))
    table["start"] = pd.to_datetime(starts)
    table["unreadable"] = table["unreadable"].astype(object).fillna("").astype(str)
    table["species"] = table["species"].replace("", club.species).str.lower()
    table["anglers"] = table["anglers"].where(table["anglers"] != 0)
    return table


def require_rows(trips, path):
    """Raise when a log has no usable row, naming the first reason."""
    if len(trips):
        return trips
    excluded = trips.attrs.get("excluded")
    first = "" if excluded is None or excluded.empty else (
        f"; row {excluded['row'].iloc[0]}: {excluded['reason'].iloc[0]}")
    raise TripsError(f"the log has no usable row{first}", where=str(path),
                     mend="Mend the rows listed, or leave the log out: the guide works without")
