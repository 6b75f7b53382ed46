"""Reads ``cover.csv``: what stands in a lake, where and how deep; the angler's own spots."""

from dataclasses import dataclass, replace

from lakekit.club import find_lake
from lakekit.errors import ClubError, LakekitError
from lakekit.fields import nearest
from lakekit.inputs import table_rows
from lakekit.units import convert

KINDS = {
    "brush": "brush pile", "stumps": "stumps", "dock": "dock", "weed edge": "weed edge",
    "drop": "drop-off", "point": "point", "cove mouth": "cove mouth",
}  # fmt: skip
DEPTHS = ("top", "foot", "water_depth")
SHORES = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
COLUMNS = ("lake", "kind", "name", "shore", "since", "shared",
           *(f"{name}_{unit}" for name in DEPTHS for unit in ("ft", "m")))  # fmt: skip
SHOWN = "lake, kind, top_ft, foot_ft, water_depth_ft, name, shore, since, shared (or _m for _ft)"
OVER = 0.6  # m over its top at which a bait still fishes a place (common practice, no source)
OFF_BED = 0.3  # m: no bait in the mud (common practice, no source)
DEEPEST = 150.0  # m: beyond it a depth is in the wrong unit


@dataclass(frozen=True)
class Place:
    """One place: depths [m] of its top and foot and of the water it stands in, None not known.

    They count from full pond, as the club measured it, until ``at_level`` takes them to a day.
    """

    lake: str
    kind: str
    top: float
    foot: float
    water_depth: float | None
    name: str
    shore: str  # which shore it lies by, "" where it is not said
    since: str
    shared: bool  # whether a briefing may name it
    row: int


def read_cover(path, club):
    """Read a club's places.

    Columns ``lake``, ``kind`` (brush, stumps, dock, weed edge, drop, point, cove mouth), ``top``
    and ``foot`` with ``_ft`` or ``_m``; optionally ``water_depth``, ``name``, ``shore`` (N to NW),
    ``since`` and ``shared`` (yes: briefings may name it).

    Parameters
    ----------
    path : path-like
    club : Club

    Returns
    -------
    list of Place
        In file order.

    Raises
    ------
    ClubError
        For the first mistake: what, in which row, and the mend.
    """
    lines, separator = table_rows(path, error=ClubError, where=path.name)
    if not lines:
        return []
    header = [name.strip().lower() for name in lines[0][1]]
    for name in header:
        if name and name not in COLUMNS:
            near = nearest(name[:60], COLUMNS)
            raise ClubError(
                f"unknown column {name[:60]!r}", where=path.name,
                mend=f"Did you mean {near}?" if near else f"Columns are {SHOWN}",
            )  # fmt: skip
    if "lake" not in header or "kind" not in header:
        raise ClubError("a column is missing", where=path.name, mend=f"Columns are {SHOWN}")
    places = []
    for number, cells in lines[1:]:
        row = {name: cell.strip() for name, cell in zip(header, cells, strict=False)}
        if any(row.values()):
            places.append(_place(row, number, separator, club, path.name))
    return places


def _place(row, number, separator, club, label):
    where = f"{label}, row {number}"
    kind = row.get("kind", "").lower().replace("_", " ")
    if kind not in KINDS:
        near = nearest(kind, list(KINDS))
        raise ClubError(
            f"{kind or 'an empty cell'!r} is no kind of place", where=where,
            mend=f"Did you mean {near}?" if near else f"One of {', '.join(KINDS)}",
        )  # fmt: skip
    shore = row.get("shore", "").upper()
    if shore and shore not in SHORES:
        raise ClubError(f"{shore!r} is no shore", where=where, mend=f"One of {', '.join(SHORES)}")
    try:
        lake = find_lake(club, row.get("lake", ""))
    except LakekitError as error:
        raise ClubError(error.what, where=where, mend=error.mend) from None
    depths = {name: _depth(row, name, separator, where) for name in DEPTHS}
    if depths["top"] is None:
        depths["top"] = 0.0
    foot = depths["foot"] if depths["foot"] is not None else depths["water_depth"]
    if foot is None:
        raise ClubError(
            "neither the foot nor the water's depth is given", where=where,
            mend="Write foot_ft: the depth at which it ends",
        )  # fmt: skip
    if foot < depths["top"]:
        raise ClubError(
            "its foot lies above its top", where=where, mend="Depths count down from the surface"
        )
    return Place(
        lake=lake, kind=kind, top=depths["top"], foot=foot, water_depth=depths["water_depth"],
        name=row.get("name", "") or KINDS[kind], shore=shore, since=row.get("since", ""),
        shared=row.get("shared", "").lower() in ("yes", "y", "true", "1"), row=number,
    )  # fmt: skip


def _depth(row, name, separator, where):
    given = [(unit, row[f"{name}_{unit}"]) for unit in ("ft", "m") if row.get(f"{name}_{unit}")]
    if not given:
        return None
    unit, text = given[0]
    try:
        metres = float(
            convert(float(text.replace(",", ".") if separator == ";" else text), unit, "length")
        )
    except ValueError:
        metres = -1.0
    if not 0 <= metres <= DEEPEST or len(given) > 1:
        raise ClubError(
            f"{name} is {text!r}", where=where, mend="Write one depth, a number of 0 or more"
        )
    return metres


def at_level(place, below):
    """A place on a day whose water stands ``below`` full pond [m]; None where it lies dry."""
    foot, water = (None if depth is None else depth - below
                   for depth in (place.foot, place.water_depth))  # fmt: skip
    if foot <= 0.0:
        return None
    return replace(place, top=max(place.top - below, 0.0), foot=foot, water_depth=water)


def standing_at(places, lake, depths, *, below=0.0):
    """The places of a lake whose own water holds a bait at one of some depths, best depth first.

    A bait runs along a place from its top to its foot, or a little over its top, and never in the
    mud under it.

    Parameters
    ----------
    places : sequence of Place
        Their depths count from full pond.
    lake : str
        A lake's key.
    depths : sequence of float
        [m] below the day's surface; the first counts most.
    below : float
        How far the day's surface lies below full pond [m].

    Returns
    -------
    list of (float, Place)
        The depth each is listed for, and the place with its depths below the day's surface.
    """
    standing = [at_level(place, below) for place in places if place.lake == lake]
    found, seen = [], set()
    for depth in depths:
        here = [
            place for place in standing
            if place and place.row not in seen
            and place.top - OVER <= depth <= place.foot
            and (place.water_depth is None or depth <= place.water_depth - OFF_BED)
        ]  # fmt: skip
        here.sort(key=lambda place: abs((place.top + place.foot) / 2 - depth))
        seen |= {place.row for place in here}
        found += [(depth, place) for place in here]
    return found


def side_of(place, wind_from):
    """Whether a place lies ``lee`` or ``windward`` for a wind, or None where that is not plain.

    The shore that the wind comes from lies in its lee; the one it blows on is windward.

    Parameters
    ----------
    place : Place
    wind_from : float
        Degrees from north.
    """
    if not place.shore:
        return None
    apart = abs((45.0 * SHORES.index(place.shore) - wind_from + 180) % 360 - 180)
    return "lee" if apart <= 67.5 else "windward" if apart >= 112.5 else None
