"""A lake's depth-area table: read from a CSV, or built from area, mean and maximum depth."""

import os

import numpy as np

from lakekit.errors import ClubError
from lakekit.fields import nearest
from lakekit.inputs import table_rows
from lakekit.units import convert

# Mean over maximum depth where the file gives no mean depth: 0.46, the average of natural lakes
# (Neumann 1959, J. Fish. Res. Board Can. 16:923-927, 107 lakes; from memory).
MEAN_TO_MAX_DEPTH = 0.46
# Longest fetch over the diameter of a circle of the same area: 1.4, an ellipse twice as long as
# wide (sqrt 2, computed).
FETCH_TO_DIAMETER = 1.4

DEPTH_COLUMNS = {"depth_m": "m", "depth_ft": "ft"}
AREA_COLUMNS = {"area_m2": "m2", "area_ha": "ha", "area_acres": "acres"}
_POINTS = 101  # of a built table, denser toward the bottom: volume within 0.1 % of the exact one


def trapezoid_volume(depths, areas):
    """Volume [m3] under a table of areas (k,) [m2] at depths (k,) [m]."""
    return float(np.trapezoid(areas, depths))


def depth_area_from_depths(area, mean_depth, max_depth):
    """Smooth basin whose volume is area times mean depth.

    ``A(z) = A0 (1 - z / zmax)^p`` with ``p = zmax / zmean - 1``: the integral over depth is
    ``A0 zmax / (p + 1) = A0 zmean``. p = 0 is a box, 1 a bowl with evenly sloping sides in area,
    2 a cone (closed form, computed here).

    Parameters
    ----------
    area : float
        Surface area [m2].
    mean_depth, max_depth : float
        [m], 0 < mean_depth <= max_depth.

    Returns
    -------
    (depths, areas) : two (101,) arrays [m], [m2]
    """
    above_bottom = np.linspace(1.0, 0.0, _POINTS) ** 2
    exponent = max_depth / mean_depth - 1.0
    return (1.0 - above_bottom) * max_depth, area * above_bottom**exponent


def read_depth_area(path, *, label, table, area, max_depth):
    """Read a depth-area CSV for a lake file.

    Parameters
    ----------
    path : pathlib.Path
    label : str
        File name in messages.
    table : lakekit.fields.Table
        The lake file's table; findings go to its key ``depth_area``.
    area, max_depth : float
        What the lake file says [m2], [m].

    Returns
    -------
    (depths, areas) : (k,) float64 arrays [m], [m2] from 0 to max_depth, or None after an error
    """
    def fail(what, mend=None):
        table.error("depth_area", f"{label}: {what}", mend)

    if not os.path.lexists(path):
        near = nearest(path.name, [entry.name for entry in path.parent.glob("*.csv")]
                       if path.parent.is_dir() else [])
        fail("the file does not exist", f"Did you mean {near}?" if near
             else "Its path starts at the club folder")
        return None
    columns = _columns(path, label, table, fail)
    if columns is None:
        return None
    rows, depths, areas = columns
    for values, name in ((depths, "depth"), (areas, "area")):
        if (values < 0).any():
            row = rows[int(np.argmax(values < 0))]
            fail(f"negative {name} in row {row} ({int((values < 0).sum())} in all)",
                 "Depth counts down from 0 at the full-pond surface")
            return None
    steps = np.diff(depths)
    if (steps <= 0).any():
        fail(f"depth does not increase in row {rows[int(np.argmax(steps <= 0)) + 1]}",
             "List the depths from the surface down, each once")
        return None
    widening = np.diff(areas) > 0
    if widening.any():
        at = int(np.argmax(widening)) + 1
        fail(f"the lake widens downward in row {rows[at]} ({widening.sum()} in all): "
             f"{areas[at]:,.0f} m2 at {depths[at]:g} m under {areas[at - 1]:,.0f} m2",
             "The area at a depth is that of the water surface if the lake stood at that depth")
        return None
    if depths[0] != 0:
        fail(f"the table starts at {depths[0]:g} m, not at the surface",
             "Add a row with depth 0 and the full-pond area")
        return None
    slack = max(0.15, 0.02 * max_depth)
    if depths[-1] < max_depth - slack:
        fail(f"the table ends at {depths[-1]:.2f} m, above the maximum depth of "
             f"{max_depth:.2f} m", "Add rows down to the bottom, or mend max_depth or the unit")
        return None
    if depths[-1] > max_depth + slack:
        fail(f"the table ends at {depths[-1]:.2f} m, below the maximum depth of "
             f"{max_depth:.2f} m", "Mend max_depth or the unit")
        return None
    if areas[0] <= 0 or abs(areas[0] / area - 1) > 0.25:
        fail(f"the table's area at the surface is {areas[0]:,.0f} m2, the lake file says "
             f"{area:,.0f} m2", "Check the units of both")
        return None
    if abs(areas[0] / area - 1) > 0.01:
        table.problems.add("note", table.where("area"), f"the depth table's surface area is used, "
                           f"{100 * (areas[0] / area - 1):+.0f} % of the lake file's")
    return depths, areas


def _columns(path, label, table, fail):
    try:
        lines, separator = table_rows(path, error=ClubError, where=label)
    except ClubError as problem:
        table.error("depth_area", f"{problem.where}: {problem.what}", problem.mend)
        return None
    if len(lines) < 3:
        fail("fewer than two rows of depths", "Give depth and area from the surface down")
        return None
    header = [cell.strip().lower() for cell in lines[0][1]]
    found = []
    for known in (DEPTH_COLUMNS, AREA_COLUMNS):
        matches = [name for name in header if name in known]
        if len(matches) != 1:
            seen = f"columns are {', '.join(header)}"
            fail(f"it must have one of {', '.join(known)}; its {seen}")
            return None
        found.append(matches[0])
    values = []
    for number, row in lines[1:]:
        pair = []
        for name in found:
            at = header.index(name)
            cell = row[at].strip() if at < len(row) else ""
            if separator == ";":
                cell = cell.replace(",", ".")
            try:
                pair.append(float(cell))
            except ValueError:
                fail(f"{cell!r} in row {number} is not a number", f"Mend its column {name}")
                return None
            if not np.isfinite(pair[-1]):
                fail(f"{cell!r} in row {number} is not a number", f"Mend its column {name}")
                return None
        values.append(pair)
    depths, areas = np.array(values).T
    return ([number for number, _ in lines[1:]],
            convert(depths, DEPTH_COLUMNS[found[0]], "length"),
            convert(areas, AREA_COLUMNS[found[1]], "area"))
