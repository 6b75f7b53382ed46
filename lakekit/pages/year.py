"""A lake's year by depth: isolines and hatching, safe in black and white; and a month in all years.

Lines are of temperature, labelled on the line; hatching is water short of oxygen. Nothing is told
by colour.
"""

import contourpy
import numpy as np
import pandas as pd

from lakekit.pages.canvas import Canvas, text_width
from lakekit.pages.style import FIGURE_TYPE, LINE
from lakekit.units import FOOT, express, wind_text

WIDTH = 640.0
MONTHS = "JFMAMJJASOND"
STEP = {"us": 5.0, "metric": 3.0}  # degrees between isolines
HYPOXIC = ((2.0, "poor"), (4.0, "low"))  # mg/L: the zone drawn by all guides
ROWS = ("ice", "hot calm", "fronts")
ROW = 13.0  # pt
LABEL_EVERY = 34.0  # pt between numbers on isolines, at least
LABEL_CLEAR = 11.0  # pt between a number and what else is drawn, at least


class _Frame:
    """Days across and depth down on a canvas."""

    def __init__(self, canvas, left, right, top, bottom, deepest, units):
        self.canvas, self.units = canvas, units
        self.left, self.right, self.top, self.bottom = left, right, top, bottom
        self.deepest = deepest

    def x(self, day):
        return self.left + np.asarray(day, float) / 365.0 * (self.right - self.left)

    def y(self, depth):
        return self.top + np.asarray(depth, float) / self.deepest * (self.bottom - self.top)

    def axes(self):
        """Months along the foot, and depths."""
        canvas, size = self.canvas, FIGURE_TYPE["tick"]
        for month, letter in enumerate(MONTHS):
            start = pd.Timestamp(2025, month + 1, 1).day_of_year - 1
            canvas.line([self.x(start)] * 2, [self.bottom, self.bottom + 3], colour="rule")
            canvas.text(self.x(start + 15), self.bottom + 9, letter, size, align="center")
        self.depths(self.right)

    def depths(self, right):
        """The surface, feet on the left and metres on the right."""
        self.canvas.line([self.left, right], [self.top] * 2, width=LINE["mark"])
        for unit, length, x, align in (("ft", FOOT, self.left - 5, "right"),
                                       ("m", 1.0, right + 5, "left")):  # fmt: skip
            step = next(s for s in (1, 2, 5, 10, 20, 50) if self.deepest / length / s <= 8)
            for value in range(0, int(self.deepest / length) + 1, step):
                words = f"{value} {unit}" if value == 0 else f"{value}"
                self.canvas.text(x, self.y(value * length), words, FIGURE_TYPE["tick"], align=align)


def year_figure(year, *, units="us", deepest=None):
    """A lake's year as lines of equal temperature by depth and day.

    Parameters
    ----------
    year : dict
        From ``lakekit.waters.year.lake_year``.
    units : str
        "us" or "metric".
    deepest : float, optional
        Depth of the drawing's foot [m], to put lakes on one scale; by default the lake's.

    Returns
    -------
    matplotlib.figure.Figure
    """
    deepest = deepest or year["lake"]["max_depth"]
    head = 30.0 + ROW * len(ROWS)
    height = head + 200.0 + 62.0
    canvas = Canvas(WIDTH, height)
    frame = _Frame(canvas, 62.0, WIDTH - 34.0, head, head + 200.0, deepest, units)
    canvas.text(frame.left, 12, f"{year['lake']['name']}, {year['year']}", FIGURE_TYPE["large"],
                weight="bold")  # fmt: skip
    canvas.box(frame.left, frame.top, frame.right, frame.bottom, fill="water")
    _oxygen(frame, year)
    numbers = _isolines(frame, year)
    _thermocline(frame, year)
    for x, y, words in numbers:
        canvas.text(x, y, words, FIGURE_TYPE["fine"], colour="heat", align="center", ground="water")
    _bed(frame, year)
    for day, depth in year["readings"]:
        canvas.badge(frame.x(day), frame.y(depth), "", radius=2.4)
    for day, depth, fish in year["catches"]:
        size = 2.6 + 1.1 * np.sqrt(fish)
        canvas.ring(frame.x(day), frame.y(depth), size)
    _marks(frame, year)
    frame.axes()
    _key(frame, year)
    return canvas.figure


def _grid(year):
    """Days, depths with the surface and the bed, and temperature on (depth, day)."""
    depth = np.concatenate([[0.0], year["depth"], [year["lake"]["max_depth"]]])
    warmth = year["temperature"]
    known = pd.DataFrame(warmth).ffill(axis=1).bfill(axis=1).to_numpy()
    return year["day"], depth, np.column_stack([known[:, 0], known, known[:, -1]]).T


def _isolines(frame, year):
    days, depth, warmth = _grid(year)
    shown = express(warmth, "F", "temperature") if frame.units == "us" else warmth
    lines = contourpy.contour_generator(x=days, y=depth, z=shown)
    step = STEP[frame.units]
    first, last = np.nanmin(shown), np.nanmax(shown)
    placed, taken, foot = [], _taken(frame, year), frame.y(year["bed"].min())
    for level in np.arange(np.ceil(first / step) * step, last, step):
        for line in lines.lines(level):
            x, y = frame.x(line[:, 0]), frame.y(line[:, 1])
            if len(x) < 4:
                continue
            tens = level % (2 * step) == 0
            frame.canvas.line(x, y, colour="heat", width=LINE["rule"] if tens else LINE["fine"])
            if tens:
                _place_label(frame, x, y, f"{level:.0f}", placed, taken, foot)
    return placed


def _taken(frame, year):
    """Where readings, catches and the thermocline are drawn, shape (n, 2) [pt]."""
    line = zip(year["day"], year["thermocline"][1], strict=True)
    points = [*year["readings"], *((day, depth) for day, depth, _ in year["catches"]), *line]
    days, depths = np.array(points, float).T
    return np.column_stack([frame.x(days), frame.y(depths)])[np.isfinite(depths)]


def _place_label(frame, x, y, words, placed, taken, foot):
    """Where a line's number stands: where it runs most level, clear of numbers and marks."""
    slope = np.abs(np.gradient(y)) / np.maximum(np.abs(np.gradient(x)), 0.3)
    inside = (x > frame.left + 14) & (x < frame.right - 14) & (y > frame.top + 6)
    inside &= y < foot - 6
    apart = np.abs(x[:, None] - taken[:, 0]) + 1.5 * np.abs(y[:, None] - taken[:, 1])
    inside &= apart.min(axis=1, initial=np.inf) > LABEL_CLEAR
    for index in np.argsort(slope, kind="stable"):
        near = [abs(x[index] - a) + 2 * abs(y[index] - b) < LABEL_EVERY for a, b, _ in placed]
        same = [abs(x[index] - a) < 3 * LABEL_EVERY and w == words for a, b, w in placed]
        if inside[index] and not any(near) and not any(same):
            placed.append((x[index], y[index], words))
            return


def _oxygen(frame, year):
    """Hatching from where oxygen runs short, and stays so, down to the bed."""
    depth, bed = year["depth"], year["lake"]["max_depth"]
    tops = []
    for limit, _ in HYPOXIC:
        enough = np.nan_to_num(year["oxygen"], nan=np.inf) >= limit
        known = np.isfinite(year["oxygen"])
        deepest = np.where(
            (enough & known).any(axis=1),
            depth.size - 1 - np.argmax((enough & known)[:, ::-1], axis=1),
            -1,
        )
        edge = np.append(depth, bed)[deepest + 1]
        last = known.shape[1] - 1 - np.argmax(known[:, ::-1], axis=1)
        tops.append(np.where(deepest >= last, bed, np.where(deepest < 0, 0.0, edge)))
    poor, low = tops
    for upper, lower, kind, colour in ((poor, np.full_like(poor, bed), "poor", "soft"),
                                       (low, poor, "low", "ink")):  # fmt: skip
        for a, b in _runs(lower - upper > 0.02 * bed):
            if b - a < 3:
                continue
            x = frame.x(year["day"][a:b])
            edge = np.column_stack([x, frame.y(upper[a:b])])
            foot = np.column_stack([x[::-1], frame.y(lower[a:b][::-1])])
            frame.canvas.hatch(np.vstack([edge, foot]), kind, colour=colour)


def _thermocline(frame, year):
    low, middle, high = year["thermocline"]
    for a, b in _runs(np.isfinite(middle)):
        if b - a < 4:
            continue
        x = frame.x(year["day"][a:b])
        for edge in (low, high):
            frame.canvas.line(x, frame.y(edge[a:b]), colour="deep", width=LINE["rule"],
                              dash=(2, 1.6))  # fmt: skip
        frame.canvas.line(x, frame.y(middle[a:b]), colour="deep", width=LINE["heavy"], halo=1.0)


def _bed(frame, year):
    """Nothing is drawn below the bed, which lies less deep while the level is low."""
    x = np.concatenate([[frame.left], frame.x(year["day"]), [frame.right]])
    y = frame.y(np.concatenate([year["bed"][:1], year["bed"], year["bed"][-1:]]))
    if y.min() < frame.bottom - 0.5:
        corners = [(frame.right, frame.bottom), (frame.left, frame.bottom)]
        frame.canvas.area([*zip(x, y, strict=True), *corners], "paper")
        frame.canvas.line(x, y)


def _marks(frame, year):
    canvas, size = frame.canvas, FIGURE_TYPE["fine"]
    middle = {name: frame.top - 8 - ROW * (len(ROWS) - 1 - i) for i, name in enumerate(ROWS)}
    for name, y in middle.items():
        canvas.text(frame.left - 5, y, name, size, align="right", colour="soft")
    for first, last in year["ice"]:
        canvas.box(frame.x(first), middle["ice"] - 3.5, frame.x(last + 1), middle["ice"] + 3.5,
                   fill="ink")  # fmt: skip
    for first, last in year["hot_calm"]:
        left, right, y = frame.x(first), frame.x(last), middle["hot calm"]
        canvas.box(left, y - 4, right, y + 4, edge="ink", width=LINE["fine"])
        canvas.hatch_box(left, y - 4, right, y + 4, "range")
    strongest = max((wind for _, wind in year["fronts"]), default=1.0)
    for day, wind in year["fronts"]:
        y = middle["fronts"] + 5
        canvas.line([frame.x(day)] * 2, [y, y - 2 - 9 * wind / strongest], width=LINE["mark"])


def _key(frame, year):
    canvas, size = frame.canvas, FIGURE_TYPE["fine"]
    degree = "°F" if frame.units == "us" else "°C"
    strongest = max((wind for _, wind in year["fronts"]), default=0.0)
    entries = [
        f"thin lines: temperature [{degree}]",
        "thick line: thermocline; dotted: its likely range, 8 in 10",
        "crossed: oxygen under 2 mg/L; slanted: 2 to 4 mg/L",
        f"fronts: the taller, the more wind, to {wind_text(strongest, frame.units)}",
        "dots: readings" if year["readings"] else "",
        "rings: fish logged, larger for more" if year["catches"] else "",
    ]
    x, y = frame.left, frame.bottom + 26
    for words in filter(None, entries):
        wide = text_width(words, size)
        if x > frame.left and x + wide > frame.right:
            x, y = frame.left, y + 13
        canvas.text(x, y, words, size, colour="soft")
        x += wide + 16


def _runs(flags):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(flags, int), [0]])))
    return list(zip(edges[::2], edges[1::2], strict=True))


def years_figure(table, title, *, units="us", deepest, mark=None):
    """One month of every year side by side: the thermocline's range, and oxygen's floor.

    Parameters
    ----------
    table : pandas.DataFrame
        From ``lakekit.waters.year.month_layers``.
    title : str
        Lake and month.
    units : str
    deepest : float
        Of the lake [m].
    mark : int, optional
        The year to frame.

    Returns
    -------
    matplotlib.figure.Figure
    """
    canvas = Canvas(WIDTH, 266.0)
    frame = _Frame(canvas, 62.0, WIDTH - 34.0, 62.0, 224.0, deepest, units)
    slot = (frame.right - frame.left) / max(len(table), 6)
    size = FIGURE_TYPE["tick"]
    canvas.text(frame.left, 12, title, FIGURE_TYPE["large"], weight="bold")
    degree = "F" if units == "us" else "C"
    canvas.text(frame.left - 5, 50, f"surface, °{degree}", FIGURE_TYPE["fine"], align="right",
                colour="soft")  # fmt: skip
    for place, (year, row) in enumerate(table.iterrows()):
        left, right = frame.left + place * slot + 2, frame.left + (place + 1) * slot - 2
        canvas.box(left, frame.top, right, frame.bottom, fill="water")
        if np.isfinite(row["floor"]):
            canvas.hatch_box(left, frame.y(row["floor"]), right, frame.bottom, "poor",
                             colour="soft")  # fmt: skip
        if row["layered"] > 0.5:
            middle = (left + right) / 2
            canvas.line([middle] * 2, frame.y([row["low"], row["high"]]), colour="deep",
                        width=LINE["mark"])  # fmt: skip
            canvas.line([left + 3, right - 3], [frame.y(row["middle"])] * 2, colour="deep",
                        width=LINE["heavy"])  # fmt: skip
        if year == mark:
            canvas.box(left, frame.top, right, frame.bottom, edge="ink", width=LINE["mark"])
        warmth = express(row["surface"], degree, "temperature")
        canvas.text((left + right) / 2, 50, f"{warmth:.0f}", size, align="center")
        canvas.text((left + right) / 2, 36, f"{year}", size, align="center", weight="bold")
    frame.depths(frame.left + len(table) * slot)
    words = ("thick bar: thermocline; upright line: where it was on 8 days in 10; crossed: too "
             "little oxygen")  # fmt: skip
    framed = f"; framed: {mark}" if mark in table.index else ""
    canvas.text(frame.left, 242, words + framed, FIGURE_TYPE["fine"], colour="soft")
    return canvas.figure
