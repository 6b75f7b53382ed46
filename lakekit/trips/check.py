"""Findings on a log: what is wrong in which row, how bad, and how to mend it.

Thresholds are common practice, no source: they catch slips of the pen, not good days.
"""

import numpy as np
import pandas as pd

from lakekit.trips.columns import BY_NAME, COLUMNS
from lakekit.units import plain_word

FINDING_COLUMNS = ("row", "column", "severity", "finding", "mend")
MOST_FISH_PER_ROD_HOUR = 60.0  # one fish a minute on every rod
LONG_HOURS = 14.0
FEW_ROWS = 5
UNIT_HINTS = {
    "surface_temp": "is it in the other unit? _F and _C in the header say which",
    "size": "is it in the other unit? _in and _cm in the header say which",
    "weight": "is it in the other unit? _oz and _g in the header say which",
}


class _Notes:
    """Collects findings, and the reason for which each row is left out."""

    def __init__(self, table):
        self.table, self.findings = table, []
        self.reason = pd.Series("", index=table.index, dtype=object)

    def add(self, where, column, severity, finding, mend):
        for index in self.table.index[where]:
            row = self.table.loc[index]
            text = finding(row) if callable(finding) else finding
            self.findings.append({"row": row["row"], "column": column,
                                  "severity": severity, "finding": text, "mend": mend})
            if severity == "error" and not self.reason[index]:
                self.reason[index] = text

    def remark(self, severity, finding, mend):
        self.findings.append({"row": None, "column": "", "severity": severity,
                              "finding": finding, "mend": mend})


def check_table(table, club, *, as_of):
    """Check a log that has been read, and set aside the rows that cannot be used.

    Parameters
    ----------
    table : pandas.DataFrame
        Typed columns as ``read_trips`` builds them, plus ``unreadable``.
    club : lakekit.club.Club
    as_of : pandas.Timestamp
        Later dates are mistakes.

    Returns
    -------
    tuple of (pandas.DataFrame, list of dict, pandas.DataFrame)
        Usable rows, findings, and excluded rows with their reason.
    """
    notes = _Notes(table)
    _needed(table, notes)
    _impossible(table, notes, as_of)
    _doubtful(table, notes, club)
    table = _without_silly_values(table, notes, club)
    usable = notes.reason == ""
    repeats = usable & _repeats(table, usable)
    named = (table["trip"].str.strip() != "") | (table["angler"].str.strip() != "")
    twins = _first_twins(table, repeats, usable)
    notes.add(repeats & named, "", "error",
              lambda row: f"the same in every cell as row {twins[row['row']]}",
              "delete it; if both are real, give each its own start or angler")
    notes.add(repeats & ~named, "", "warning",
              lambda row: f"the same in every cell as row {twins[row['row']]}: "
                          "kept, as a second boat's",
              "two boats? give each its own word under trip; typed twice? delete one")
    usable = notes.reason == ""
    _remarks(table[usable], notes)
    columns = ["row", "date", "lake", "tactic", "hours", "fish"]
    excluded = table.loc[~usable, columns].assign(reason=notes.reason[~usable])
    used = table[usable].drop(columns="unreadable").reset_index(drop=True)
    own = outings(used)
    boat = used.groupby(_compared(used), dropna=False, sort=False).cumcount() + 1
    used["trip"] = own.where(boat == 1, own + " boat " + boat.astype(str))
    return used, notes.findings, excluded.reset_index(drop=True)


def _needed(table, notes):
    notes.reason = table["unreadable"].astype(object)
    readable = table["unreadable"] == ""
    gaps = sum((table[name].isna() | (table[name] == "")).astype(int)
               for name in ("date", "lake", "tactic", "hours", "fish"))
    notes.add(readable & (gaps >= 3), "", "error", "a row with hardly anything in it",
              "fill it in or delete it")
    readable &= gaps < 3
    for name in ("date", "lake", "tactic"):
        empty = table[name].isna() | (table[name] == "")
        notes.add(readable & empty, name, "error", f"no {name}", f"fill in the {name}")
    hours, fish = table["hours"], table["fish"]
    none = hours.isna() | (hours == 0)
    notes.add(readable & none & (fish > 0), "hours", "error",
              lambda row: f"{row['fish']:.0f} fish in no hours", "fill in the hours fished")
    notes.add(readable & none & ~(fish > 0), "hours", "error",
              "no hours: without effort a row says nothing",
              "fill in the hours fished, also of a trip without a fish")
    notes.add(readable & fish.isna(), "fish", "error", "no number of fish",
              "write 0 for a trip without a fish")
    rods = table["rods"]
    missing = rods.isna() | (rods == 0)
    notes.add(missing & readable, "rods", "warning",
              "no rods: one for each angler is taken", "fill in the rods in the water")
    table.loc[missing, "rods"] = table.loc[missing, "anglers"].fillna(1.0)


def _impossible(table, notes, as_of):
    notes.add(table["date"] > as_of, "date", "error",
              lambda row: f"{row['date']:%Y-%m-%d} lies in the future", "mend the date")
    notes.add(table["date"] < pd.Timestamp("1950-01-01"), "date", "error",
              lambda row: f"{row['date']:%Y-%m-%d} is too long ago", "mend the year")
    for name in ("hours", "rods", "fish"):
        column, values = BY_NAME[name], table[name]
        notes.add((values < 0) | (values > column.high), name, "error",
                  lambda row, name=name: f"{row[name]:g} {name} cannot be",
                  f"{column.low:g} to {column.high:g} is believable")
    ok = (table["hours"] > 0) & (table["rods"] > 0) & (table["fish"] <= BY_NAME["fish"].high)
    rate = table["fish"] / (table["hours"] * table["rods"]).where(ok)
    notes.add(rate > MOST_FISH_PER_ROD_HOUR, "fish", "error",
              lambda row: f"{row['fish']:.0f} fish in {row['hours']:g} hours on "
                          f"{row['rods']:.0f} rods cannot be",
              "mend the fish or the hours (a digit too many?)")


def _doubtful(table, notes, club):
    hours = table["hours"]
    notes.add((hours > LONG_HOURS) & (hours <= 24), "hours", "warning",
              lambda row: f"{row['hours']:g} hours is a long outing",
              "check that it is hours, not minutes or the hour of the day")
    good = (notes.reason == "") & (hours > 0) & table["fish"].notna()
    rate = (table["fish"] / hours).where(good)
    if good.sum() >= 10:
        usual = rate.quantile(0.9)
        notes.add(rate > max(10 * usual, 20.0), "fish", "warning",
                  lambda row: f"{row['fish']:.0f} fish in {row['hours']:g} hours is more than ten "
                              "times a good outing of this log", "check the figures; it counts")
    notes.add(table["kept"] > table["fish"], "kept", "warning",
              lambda row: f"{row['kept']:.0f} kept of {row['fish']:.0f} caught",
              "fish are all fish caught, the kept ones too")
    notes.add(table["catch_depth"] > table["water_depth"] + 0.1, "catch_depth", "warning",
              "fish caught deeper than the water", "check both depths and their units")
    for key, lake in club.lakes.items():
        limit = lake.rules.max_rods
        if limit is None:
            continue
        anglers = table["anglers"].fillna(club.boat.anglers)
        over = (table["lake"] == key) & (table["rods"] > limit * anglers)
        notes.add(over, "rods", "warning",
                  lambda row, limit=limit: f"{row['rods']:.0f} rods are more than {limit} for each "
                                           "angler, as the lake file has it",
                  "check the rods and anglers, and the rule; the row counts")


def _without_silly_values(table, notes, club):
    table = table.copy()
    for column in COLUMNS:
        if column.kind != "number" and column.name not in ("anglers", "kept"):
            continue
        values = table[column.name]
        silly = (values < column.low) | (values > column.high)
        notes.add(silly, column.name, "warning", f"{column.name} is out of any range: left out",
                  UNIT_HINTS.get(column.name, "mend the figure or the header's unit"))
        table.loc[silly, column.name] = np.nan
    for key, lake in club.lakes.items():
        for name in ("catch_depth", "water_depth", "bait_depth"):
            deep = (table["lake"] == key) & (table[name] > lake.max_depth * 1.1 + 0.5)
            notes.add(deep, name, "warning",
                      f"{name} is deeper than the lake: left out",
                      "are feet read as metres? _ft and _m in the header say which")
            table.loc[deep, name] = np.nan
    return table


def _compared(table):
    return [name for name in table.columns if name not in ("row", "unreadable")]


def _repeats(table, usable):
    repeats = table[usable].duplicated(subset=_compared(table))
    return repeats.reindex(table.index, fill_value=False)


def _first_twins(table, repeats, usable):
    """Row of each repeated row -> that of the first that is the same in every cell."""
    if not repeats.any():
        return {}
    known = table[usable]
    first = known.groupby(_compared(table), dropna=False, sort=False)["row"].transform("first")
    return dict(zip(known["row"], first, strict=True))


def _remarks(used, notes):
    if used.empty:
        notes.remark("note", "the log has no usable row yet: tactics stay unranked",
                     "log each outing, those without a fish too")
        return
    blanks = int((used["fish"] == 0).sum())
    if blanks == 0 and len(used) >= FEW_ROWS:
        notes.remark("warning", f"none of {len(used)} rows is without a fish",
                     "trips without a fish belong in the log: without them every rate is too high")
    else:
        notes.remark("note", f"{blanks} of {len(used)} rows are without a fish", "")


def outings(table):
    """The outing of each row: the log's own word, else lake, day and angler together.

    Parameters
    ----------
    table : pandas.DataFrame
        With ``trip``, ``date``, ``lake`` and ``angler``.

    Returns
    -------
    pandas.Series of str
    """
    day = table["date"].dt.strftime("%Y-%m-%d")
    angler = table["angler"].map(plain_word)
    own = day + " " + table["lake"] + angler.where(angler == "", " " + angler)
    word = table["trip"].astype(str).str.strip()
    return own.where(word == "", "trip " + word)


def check_trips(trips):
    """The findings table of a log that ``read_trips`` has read.

    Parameters
    ----------
    trips : pandas.DataFrame

    Returns
    -------
    pandas.DataFrame
        row (spreadsheet row, NA for the whole log), column, severity ("error": the row is left
        out; "warning": check it; "note"), finding, mend.
    """
    return trips.attrs["findings"]
