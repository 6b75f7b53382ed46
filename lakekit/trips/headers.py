"""Which cell of a row belongs to which column of the log, and in which unit."""

import re
from difflib import get_close_matches

from lakekit.errors import TripsError
from lakekit.trips.columns import BY_NAME, REQUIRED, header_names
from lakekit.units import shown

KNOWN = header_names()


def tidy_header(text):
    """A header as lakekit compares it: lower case, words joined by one underscore."""
    words = re.sub(r"[^0-9a-zA-Z]+", "_", str(text if text is not None else "")).strip("_")
    return words.lower().replace("degf", "f").replace("degc", "c")


def header_score(row):
    """How many cells of a row are known headers."""
    return sum(tidy_header(cell) in KNOWN for cell in row)


def find_header(rows, column_map, path):
    """The position of the header among the first rows.

    Parameters
    ----------
    rows : list of (int, list)
    column_map : dict
        Column (with a unit suffix if need be) to its name in the file.
    path : str
        For the message.

    Returns
    -------
    int
        Index into ``rows``.

    Raises
    ------
    TripsError
        When none of the first rows holds a known header.
    """
    wanted = {tidy_header(name) for name in column_map.values()}
    scores = [
        max(header_score(row), sum(tidy_header(cell) in wanted for cell in row))
        for _, row in rows[:10]
    ]
    if not scores or max(scores) < 2:
        raise TripsError("no header row with the log's column names was found", where=path,
                         mend=f"The first row must name the columns: {', '.join(REQUIRED)}; "
                              "or map a form's own names under [log.columns] in club.toml")
    return scores.index(max(scores))


def assign(header, column_map, *, lakes, path):
    """Match a header row to the log's columns.

    Parameters
    ----------
    header : list
        Cells of the header row.
    column_map : dict
        Column (with a unit suffix if need be) to its name in the file.
    lakes : int
        Lakes in the club; with one, the lake column may be left out.
    path : str
        For the message.

    Returns
    -------
    tuple of (list of (int, str, str or None), list of (str, str, str))
        (cell index, column name, unit) for each column read, and findings on headers as
        (severity, finding, mend).

    Raises
    ------
    TripsError
        When a required column is missing, or the map names what is not there.
    """
    names = {tidy_header(cell): index for index, cell in reversed(list(enumerate(header)))
             if tidy_header(cell)}
    pairs, findings, used = [], [], set()
    for key, name in column_map.items():
        if tidy_header(key) not in KNOWN:
            near = get_close_matches(tidy_header(key), list(KNOWN), n=1)
            hint = f"did you mean {near[0]!r}? " if near else ""
            raise TripsError(f"[log.columns] maps {key!r}, which is no column of the log",
                             where="club.toml", mend=f"{hint}Columns: {', '.join(BY_NAME)}")
        if tidy_header(name) not in names:
            near = get_close_matches(tidy_header(name), list(names), n=1)
            hint = f"; did you mean {header[names[near[0]]]!r}?" if near else ""
            raise TripsError(f"[log.columns] expects a column {name!r}, which is not in the "
                             f"log{hint}", where=path,
                             mend="Write the name as it stands in the file's first row")
        column, unit = KNOWN[tidy_header(key)]
        pairs.append((names[tidy_header(name)], column, unit))
        used.add(names[tidy_header(name)])
    mapped = {column for _, column, _ in pairs}
    for index, cell in enumerate(header):
        tidy = tidy_header(cell)
        if not tidy or index in used:
            continue
        if tidy in KNOWN and KNOWN[tidy][0] not in mapped:
            pairs.append((index, *KNOWN[tidy]))
        elif tidy in KNOWN:
            findings.append(("note", f"column {cell!r} is not read: [log.columns] takes "
                             f"{KNOWN[tidy][0]!r} from another column", "nothing to do"))
        else:
            near = get_close_matches(tidy, list(KNOWN), n=1, cutoff=0.75)
            mend = (f"rename it to {near[0]!r} if that is meant" if near
                    else "nothing to do; map it under [log.columns] if it should be read")
            findings.append(("warning" if near else "note",
                             f"column {str(cell)!r} is not read", mend))
    have = {column for _, column, _ in pairs}
    missing = [name for name in REQUIRED
               if name not in have and not (name == "lake" and lakes == 1)]
    if missing:
        unread = [shown(str(cell)) for index, cell in enumerate(header)
                  if tidy_header(cell) and index not in {i for i, _, _ in pairs}]
        hint = f" (not recognised: {', '.join(unread)})" if unread else ""
        raise TripsError(f"the log has no column {', '.join(map(repr, missing))}{hint}",
                         where=path, mend="Add it, or say under [log.columns] in club.toml what "
                                          "the file calls it")
    for column in sorted({c for _, c, _ in pairs if [p[1] for p in pairs].count(c) > 1}):
        findings.append(("warning", f"two columns hold {column!r}",
                         "the first that is filled counts; delete the other"))
    return pairs, findings
