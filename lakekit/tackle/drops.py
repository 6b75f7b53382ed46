"""The angler's own timed drops: how much slower or faster a lure sinks than it is worked out to."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from lakekit.errors import TackleError
from lakekit.inputs import table_rows
from lakekit.tackle.materials import material_density
from lakekit.tackle.sink import SHAPE_ERROR, seconds_to_depth
from lakekit.units import convert

DEPTHS = {"depth_ft": "ft", "depth_m": "m"}
SHOWN = "lure, line, depth_ft (or depth_m), seconds"
TIMING_ERROR = 0.12  # of one drop's seconds, one standard deviation (common practice, no source)
MOST_FACTOR = 6.0  # a drop further than this from what is worked out is a mistake of units


@dataclass(frozen=True)
class Drop:
    """One timed drop, on a slack line that follows the lure."""

    line: str  # the club's name of it, "" where it is not said
    depth: float  # m
    seconds: float
    row: int | None = None  # of the file


@dataclass(frozen=True)
class Sinking:
    """What a lure's own drops say of the seconds that are worked out for it."""

    factor: float  # times those seconds
    spread: float  # one standard deviation of the factor's logarithm
    drops: int


def read_drops(path):
    """Read timed drops.

    Parameters
    ----------
    path : path-like
        A CSV file: lure, line (may be empty), depth_ft or depth_m, seconds.

    Returns
    -------
    dict
        Lure name -> list of Drop, in file order.

    Raises
    ------
    TackleError
        What is wrong, in which row, and how to mend it.
    """
    path = Path(path)
    rows, _ = table_rows(path, error=TackleError, where=path.name)
    rows = [(number, row) for number, row in rows if not row[0].startswith("#")]
    header = [name.lower() for name in rows[0][1]] if rows else []
    depth = [name for name in DEPTHS if name in header]
    if "lure" not in header or "seconds" not in header or len(depth) != 1:
        raise TackleError(
            f"its columns are {', '.join(header) or 'none'}",
            where=path.name,
            mend=f"They should be {SHOWN}",
        )
    drops = {}
    for number, cells in rows[1:]:
        row = dict(zip(header, [*cells, *[""] * len(header)], strict=False))
        where, lure = f"{path.name}, row {number}", row["lure"]
        if not lure:
            raise TackleError("no lure is named", where=where, mend="Write the lure's name")
        metres = convert(_number(row[depth[0]], depth[0], where), DEPTHS[depth[0]], "length")
        drops.setdefault(lure, []).append(
            Drop(
                row.get("line", ""),
                float(metres),
                _number(row["seconds"], "seconds", where),
                number,
            )
        )
    return drops


def _number(text, name, where):
    try:
        value = float(str(text).strip().replace(",", "."))
    except ValueError:
        value = np.nan
    if not np.isfinite(value) or value <= 0:
        shown = repr(text) if text else "empty"
        raise TackleError(f"{name} is {shown}", where=where, mend="Write a number above 0")
    return value


def sinking(drops, lure, *, shape, lines):
    """What a lure's own drops say of its worked-out seconds.

    The factor is the geometric mean of the drops' own, drawn toward 1 by as much as the shape's
    fall is uncertain: three good drops all but settle it.

    Parameters
    ----------
    drops : sequence of Drop
    lure : lakekit.records.Lure
    shape : str
        A key of ``lakekit.tackle.sink.SHAPES``.
    lines : sequence of lakekit.records.Line
        The club's; a drop on a line it does not know is worked out without a line.

    Returns
    -------
    Sinking

    Raises
    ------
    TackleError
        For a drop that cannot be: more than six times faster or slower than worked out.
    """
    known = {line.name.casefold(): line for line in lines}
    logs = []
    for drop in drops:
        line = known.get(drop.line.casefold())
        worked = seconds_to_depth(
            lure.mass, material_density(lure.material), depth=drop.depth, shape=shape, line=line
        )
        ratio = drop.seconds / worked
        if not 1 / MOST_FACTOR < ratio < MOST_FACTOR:
            raise TackleError(
                f"{lure.name}: {drop.seconds:g} s where {worked:.0f} s is worked out",
                where=f"drops.csv, row {drop.row}" if drop.row else None,
                mend="Check the depth's unit and the seconds, or take the row out",
            )
        logs.append(np.log(ratio))
    prior = np.log1p(SHAPE_ERROR[shape]) ** -2
    weight = len(logs) * TIMING_ERROR**-2
    mean = weight * float(np.mean(logs)) / (weight + prior) if logs else 0.0
    return Sinking(float(np.exp(mean)), float((weight + prior) ** -0.5), len(logs))
