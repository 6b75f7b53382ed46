"""Running depth of a lipped lure from the angler's own measured points.

A lip pulls down, and drag pulls back, both with the speed squared, and so does the line's drag:
the line model then says that depth and line out scale together with one length, inversely as
the line's diameter times its drag coefficient. Speed all but drops out; a thinner line runs
deeper. The saturating curve is fitted at the points' own mean speed and diameter and carried
over with that length.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import least_squares
from scipy.stats import t as student

from lakekit.errors import TackleError
from lakekit.inputs import table_rows
from lakekit.tackle import drag as published
from lakekit.tackle.checks import both, check, unreachable
from lakekit.tackle.measured import LEAST_TOLERANCE
from lakekit.units import UNITS, convert

READING_ERROR = 0.3  # m, one standard deviation of a depth read off a touched bottom or a mark
READING_FREEDOM = 4  # how many readings that figure is worth beside the points' own scatter
MOST_POINTS = 20
SPEED_MARGIN = 1.3  # beyond the measured speeds by this factor, a card answers no more
LINE_MARGIN = 1.1
DIAMETER_MARGIN = 1.6
COLUMNS = {
    "line_out": ("length", ("ft", "m")),
    "speed": ("speed", ("mph", "ms", "kmh")),
    "depth": ("length", ("ft", "m")),
}
UNIT_NAMES = {"ms": "m/s", "kmh": "km/h"}


@dataclass(frozen=True)
class RunningPoint:
    """One measured running depth."""

    line_out: float  # m
    speed: float  # m/s
    depth: float  # m
    row: int | None = None  # of the file


@dataclass(frozen=True)
class RunningDepth:
    """A depth read off a card, with its interval."""

    depth: float  # m
    low: float  # m, two in three
    high: float  # m
    extrapolated: bool


@dataclass(frozen=True)
class RunningCard:
    """A lure's depth against line out: limit * (1 - exp(-line_out / bend))."""

    lure: str
    limit: float  # m, the depth it tends to
    bend: float  # m of line
    covariance: np.ndarray  # (2, 2) of ln(limit), ln(bend)
    scatter: float  # m, one standard deviation about the curve
    freedom: int
    bends: bool  # whether the points show the curve flattening
    speed: float  # m/s, mean of the points
    diameter: float  # m, of the line the points were measured on
    speeds: tuple  # m/s, slowest and fastest measured
    lines: tuple  # m, shortest and longest measured
    points: tuple

    def depth_at(self, line_out, *, speed=None, diameter=None, extrapolate=False):
        """Running depth for a line out.

        Parameters
        ----------
        line_out : float
            [m]
        speed : float, optional
            [m/s]; None: the points' mean.
        diameter : float, optional
            Of the line [m]; None: the points' own.
        extrapolate : bool
            Answer beyond the measured range, marked so and with the interval doubled.

        Returns
        -------
        RunningDepth

        Raises
        ------
        TackleError
            Beyond the measured range, unless asked to extrapolate; ``nearest`` is the nearest
            line out [m] or speed [m/s] that the card answers.
        """
        speed = self.speed if speed is None else speed
        diameter = self.diameter if diameter is None else diameter
        check(line_out, "line out", unit="m", least=0.0, strict=True)
        check(speed, "speed", unit="m/s", least=0.0, strict=True)
        check(diameter, "line diameter", unit="mm", least=1e-5, most=0.005)
        beyond = self._beyond(line_out, speed, diameter)
        if beyond is not None and not extrapolate:
            raise beyond
        scale = self._scale(speed, diameter)
        ratio = line_out / (self.bend * scale)
        depth = self.limit * scale * -np.expm1(-ratio)
        gradient = np.array([depth, -self.limit * scale * ratio * np.exp(-ratio)])
        spread = np.sqrt(gradient @ self.covariance @ gradient + self.scatter**2)
        spread = max(spread * student.ppf(5 / 6, self.freedom), LEAST_TOLERANCE)
        spread *= 2.0 if beyond is not None else 1.0
        return RunningDepth(
            float(depth), float(max(depth - spread, 0.0)), float(depth + spread), beyond is not None
        )

    def line_for(self, depth, *, speed=None, diameter=None):
        """Line out [m] for a running depth [m]; TackleError where the card does not reach it."""
        speed = self.speed if speed is None else speed
        diameter = self.diameter if diameter is None else diameter
        ends = self.lines[0] / LINE_MARGIN, self.lines[1] * LINE_MARGIN
        shallow, deep = (
            self.depth_at(length, speed=speed, diameter=diameter).depth for length in ends
        )
        if not shallow <= depth <= deep:
            nearest = float(np.clip(depth, shallow, deep))
            length = ends[0] if depth < shallow else ends[1]
            raise unreachable(
                f"{self.lure} was measured from {both(shallow)} to {both(deep)} deep, not at "
                f"{both(depth)}",
                nearest=nearest,
                mend=f"Nearest: {both(nearest)} with {both(length)} of line; measure a point "
                "there, or use another lure",
            )
        scale = self._scale(speed, diameter)
        return float(-self.bend * scale * np.log1p(-depth / (self.limit * scale)))

    def _scale(self, speed, diameter):
        return float(
            _line_length_scale(speed, diameter, self._sine)
            / _line_length_scale(self.speed, self.diameter, self._sine)
        )

    @property
    def _sine(self):
        return _mean_sine(self.points)

    def _beyond(self, line_out, speed, diameter):
        limits = (
            ("line out", line_out, self.lines[0] / LINE_MARGIN, self.lines[1] * LINE_MARGIN, both),
            (
                "speed",
                speed,
                self.speeds[0] / SPEED_MARGIN,
                self.speeds[1] * SPEED_MARGIN,
                lambda v: f"{v / 0.44704:.1f} mph ({v:.2f} m/s)",
            ),
            (
                "line diameter",
                diameter,
                self.diameter / DIAMETER_MARGIN,
                self.diameter * DIAMETER_MARGIN,
                lambda d: f"{d * 1000:.2f} mm",
            ),
        )
        for name, value, low, high, text in limits:
            if not low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
                return unreachable(
                    f"{name} {text(value)} lies outside what was measured for {self.lure} "
                    f"({text(low)} to {text(high)} is answered)",
                    nearest=float(np.clip(value, low, high)),
                    mend=f"Nearest: {text(float(np.clip(value, low, high)))}; measure a point "
                    "there, or ask to extrapolate",
                )
        return None


def running_card(points, *, lure, diameter):
    """Fit a lipped lure's running-depth card to measured points.

    Parameters
    ----------
    points : sequence of RunningPoint
        2 to 20, at two lengths of line or more.
    lure : str
    diameter : float
        Of the line on which they were measured [m].

    Returns
    -------
    RunningCard

    Raises
    ------
    TackleError
        With fewer than two lengths of line, or points that do not rise with line out. For one
        point, ``nearest`` is the depth measured [m]: the only answer there is.
    """
    points = tuple(points)
    check(diameter, "line diameter", unit="mm", least=1e-5, most=0.005)
    for point in points:
        where = f"row {point.row}: " if point.row else ""
        for name, value, unit in (
            ("line out", point.line_out, "m"),
            ("speed", point.speed, "m/s"),
            ("depth", point.depth, "m"),
        ):
            check(value, where + name, unit=unit, least=0.0, strict=True)
        if point.depth >= point.line_out:
            raise TackleError(
                f"{where}a depth of {both(point.depth)} on {both(point.line_out)} "
                "of line cannot be",
                mend="Check the units of both",
            )
    if not points:
        raise TackleError(
            f"there are no measured points for {lure}",
            mend="Measure its depth at two lengths of line or more",
        )
    lengths = np.array([p.line_out for p in points])
    if np.ptp(lengths) < 0.05 * lengths.max():
        first = points[0]
        raise unreachable(
            f"one length of line does not make a card for {lure}",
            nearest=first.depth,
            mend=f"All that is known: {both(first.depth)} at {both(first.line_out)} of line; "
            "measure a second point at half or twice the line",
        )
    if len(points) > MOST_POINTS:
        raise TackleError(
            f"{len(points)} points for {lure} are more than a card of {MOST_POINTS} takes",
            mend="Keep those on the same line and tuning",
        )
    depths = np.array([p.depth for p in points])
    speeds = np.array([p.speed for p in points])
    sine = _mean_sine(points)
    reference = _line_length_scale(speeds.mean(), diameter, sine)
    scales = np.array([_line_length_scale(v, diameter, sine) for v in speeds]) / reference

    def misses(logs):
        limit, bend = np.exp(logs)
        return limit * scales * -np.expm1(-lengths / (bend * scales)) - depths

    most = 10 * lengths.max()
    start = np.log([1.3 * depths.max(), 0.6 * lengths.max()])
    bounds = (np.log([0.5 * depths.min(), 0.05 * lengths.min()]), np.log([50 * depths.max(), most]))
    fit = least_squares(misses, start, bounds=bounds, xtol=1e-12, ftol=1e-12)
    limit, bend = np.exp(fit.x)
    slope = np.polyfit(lengths, depths, 1)[0]
    if slope <= 0:
        raise TackleError(
            f"the points for {lure} do not run deeper with more line",
            mend="Check the rows: a lure runs deeper, or as deep, on more line",
        )
    freedom = len(points) - 2 + READING_FREEDOM
    squares = float(np.sum(fit.fun**2)) + READING_FREEDOM * READING_ERROR**2
    scatter = np.sqrt(squares / freedom)
    # A weak prior, depth limit and bend each known to a factor e, keeps two points finite.
    covariance = np.linalg.inv(fit.jac.T @ fit.jac / scatter**2 + np.eye(2))
    return RunningCard(
        lure=lure,
        limit=float(limit),
        bend=float(bend),
        covariance=covariance,
        scatter=float(scatter),
        freedom=freedom,
        bends=bool(bend < 1.5 * lengths.max()),
        speed=float(speeds.mean()),
        diameter=float(diameter),
        speeds=(float(speeds.min()), float(speeds.max())),
        lines=(float(lengths.min()), float(lengths.max())),
        points=points,
    )


def read_running(path):
    """Read measured running depths.

    Parameters
    ----------
    path : path
        A CSV file: lure, line_out_ft or _m, speed_mph or _ms, depth_ft or _m.

    Returns
    -------
    dict
        Lure name -> list of RunningPoint, in file order.

    Raises
    ------
    TackleError
        What is wrong, in which row, and how to mend it.
    """
    path = Path(path)
    rows, _ = table_rows(path, error=TackleError, where=path.name)
    rows = [(number, row) for number, row in rows if not row[0].startswith("#")]
    header = [name.lower() for name in rows[0][1]] if rows else []
    table = pd.DataFrame(
        [[*row, *[""] * len(header)][: len(header)] for _, row in rows[1:]],
        columns=header,
        dtype=str,
    )
    if "lure" not in table.columns:
        raise TackleError(
            "there is no column 'lure'",
            where=path.name,
            mend="Its columns are lure, line_out_ft, speed_mph, depth_ft (or metric)",
        )
    values = {name: _column(table, name, path.name) for name in COLUMNS}
    points = {}
    for i, ((row, _), lure) in enumerate(zip(rows[1:], table["lure"], strict=True)):
        if not lure:
            raise TackleError(
                "no lure is named",
                where=f"{path.name}, row {row}",
                mend="Write the lure's name, or take the row out",
            )
        for name in COLUMNS:
            if not np.isfinite(values[name][i]) or values[name][i] <= 0:
                raise TackleError(
                    f"{name} is {table.filter(regex=f'^{name}_').iloc[i, 0]!r}",
                    where=f"{path.name}, row {row}",
                    mend="Write a number above 0, or take the row out",
                )
        points.setdefault(lure, []).append(
            RunningPoint(*(float(values[name][i]) for name in COLUMNS), row=row)
        )
    return points


def _column(table, name, where):
    dimension, units = COLUMNS[name]
    found = [unit for unit in units for title in table.columns if title == f"{name}_{unit}"]
    if len(found) != 1:
        choice = " or ".join(f"{name}_{unit}" for unit in units)
        state = "there is no column" if not found else "there is more than one column"
        raise TackleError(f"{state} for {name}", where=where, mend=f"Give one of {choice}")
    text = table[f"{name}_{found[0]}"].str.strip().str.replace(",", ".", regex=False)
    numbers = pd.to_numeric(text, errors="coerce").to_numpy(dtype=float)
    unit = UNIT_NAMES.get(found[0], found[0])
    assert unit in UNITS[dimension]
    return convert(numbers, unit, dimension)


def _mean_sine(points):
    return float(np.mean([min(p.depth / p.line_out, 0.9) for p in points]))


def _line_length_scale(speed, diameter, sine):
    """Relative length scale of a line under a load that grows as the speed squared."""
    reynolds = (
        speed
        * diameter
        * sine
        / published.kinematic_viscosity(published.NORMAL_VISCOSITY_TEMPERATURE)
    )
    return 1 / (diameter * published.cylinder_drag(reynolds))
