"""Many lakes in one table, ``lakes.csv``: a row a lake, a column a key of the lake file.

A key inside a table of the lake file is written with a point: ``weather.grid``, ``secchi.jul``,
``rules.max_rods``. A cell holds what the lake file would: ``310 acres``, ``0.45``. An empty cell is
a key that is not given. ``key`` names the lake; without it the name does, in small letters.
"""

import re
from pathlib import Path

from lakekit.errors import ClubError
from lakekit.fields import Problems
from lakekit.inputs import table_rows
from lakekit.lakefile import REQUIRED, parse_lake

NAME = "lakes.csv"
WORDS = ("key", "name", "time_zone", "depth_area", "fertility", "surroundings",
         "region")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)


def read_lakes_table(path):
    """Every lake of a table, each checked as a lake file is.

    Parameters
    ----------
    path : path-like
        The club's ``lakes.csv``; files that its rows name are looked up from its folder.

    Returns
    -------
    list of (str, Lake or None, Problems)
        The lake's key, the lake where its row has no error, and what is worth telling.

    Raises
    ------
    ClubError
        Where the file is no table, lacks a column that every lake needs, or names one twice.
    """
    path = Path(path)
    rows, _ = table_rows(path, error=ClubError, where=path.name)
    if not rows:
        raise ClubError("the table is empty", where=path.name, mend=f"Write {', '.join(REQUIRED)}")
    header = [cell.strip() for cell in rows[0][1]]
    missing = [name for name in REQUIRED if name not in header]
    if missing:
        raise ClubError(
            f"there is no column {missing[0]}",
            where=path.name,
            mend=f"Its columns are {', '.join(header)}; every lake needs {', '.join(REQUIRED)}",
        )
    twice = next((name for name in header if name and header.count(name) > 1), None)
    if twice:
        raise ClubError(f"the column {twice} stands twice", where=path.name, mend="Keep one")
    return [_lake(path, number, header, cells) for number, cells in rows[1:]]


def _lake(path, number, header, cells):
    label = f"{path.name}, row {number}"
    problems, data = Problems(), {}
    for name, cell in zip(header, cells, strict=False):
        if not cell or not name:
            continue
        place = data
        *tables, last = name.split(".")
        for table in tables:
            place = place.setdefault(table, {})
            if not isinstance(place, dict):
                break
        if isinstance(place, dict):
            place[last] = _value(name, cell)
        else:
            problems.add("error", f"{label}, column {name}",
                         f"{tables[0]} has a value of its own as well",
                         f"Keep either {tables[0]} or {name}")  # fmt: skip
    key = str(data.pop("key", "")) or _key(str(data.get("name", "")))
    if not re.fullmatch(r"[\w-]+", key):
        problems.add("error", f"{label}, column key", f"{key!r} is no key",
                     "Write letters, digits and hyphens, such as mill-pond")  # fmt: skip
    lake, problems = parse_lake(
        data, label=label, key=key, club_folder=path.parent, problems=problems
    )
    return key, lake, problems


def _key(name):
    return re.sub(r"[^\w]+", "-", name.strip().lower()).strip("-")


def _value(name, cell):
    """A cell as a lake file would hold it: a number where keys have numbers, else a text."""
    in_words = name in WORDS or name.startswith(("weather.", "rules."))
    if (name != "rules.max_rods" and in_words) or not _NUMBER.fullmatch(cell):
        return cell
    return int(cell) if re.fullmatch(r"[+-]?\d+", cell) else float(cell)
