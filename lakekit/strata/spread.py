"""How far the column itself errs beyond its members' spread: a table, and ranges widened by it.

Measured on five waters: what must be added to the members' 80 % range so that it holds 80 % of
the casts, on average over waters; with each water left out it held 79 % up to 35 days after a cast
and after, and 71 % untuned (medians). One reservoir, ruled by its inflow, stays below.
"""

from dataclasses import dataclass

import numpy as np

QUANTILES = (0.1, 0.5, 0.9)
TENTH = 1.2816  # standard deviations to the 10 and 90 % values of a normal distribution


@dataclass(frozen=True)
class Misses:
    """Standard deviations of the column's own errors, beside those of its members."""

    temperature: tuple  # degC where water is alike in depth: while layered, while mixed
    lean: tuple  # m, times the steepness of temperature: while layered, while mixed
    oxygen: tuple  # mg/L: while layered, while mixed
    line: float  # m, of the thermocline and the mixed layer
    floor: float  # m, of the depth where oxygen runs out


MISSES = {
    "free": Misses((0.6, 0.9), (0.25, 1.0), (1.6, 1.0), 0.65, 1.0),
    "fitted": Misses((0.6, 0.6), (0.2, 0.8), (1.6, 1.0), 0.55, 0.6),
    "soon": Misses((0.5, 1.3), (0.0, 0.5), (1.5, 2.1), 0.5, 0.55),
    "late": Misses((0.7, 1.2), (0.15, 0.65), (1.9, 1.8), 0.6, 0.9),
}
SOON, LATE = 35, 75  # days since a reading up to which "soon" and "late" were measured
OF_FLOORS = ("oxygen_floor_depth", "oxygen_zone_top", "oxygen_zone_bottom")


def standing(days, fitted):
    """Which row of the table: by days since the last reading (None without one), else the fit."""
    if days is not None and 0 <= days <= LATE:
        return "soon" if days <= SOON else "late"
    return "fitted" if fitted else "free"


def widened(quantiles, error, *, low=-np.inf, high=np.inf):
    """Quantiles (10, 50, 90 %) with an error of the column's own added.

    Parameters
    ----------
    quantiles : (3, ...) array
    error : float or array
        Standard deviation, taken as independent of the members' spread.
    low, high : float
        Bounds that no value can pass.

    Returns
    -------
    (3, ...) float64
    """
    bottom, middle, top = np.asarray(quantiles, dtype=np.float64)
    own = TENTH * error
    with np.errstate(invalid="ignore"):
        ends = [
            middle - np.hypot(middle - bottom, own), middle, middle + np.hypot(top - middle, own),
        ]  # fmt: skip
    return np.clip(ends, low, high)


def profile_error(middle, depth, *, how, layered):
    """The column's own error of temperature by depth [degC], from a middle profile (..., depth).

    Parameters
    ----------
    middle : (..., depth) array [degC], NaN below the bottom
    depth : (depth,) array [m]
    how : a key of ``MISSES``
    layered : bool
    """
    row, at = MISSES[how], int(not layered)
    steepness = np.abs(np.gradient(middle, depth, axis=-1))
    return np.hypot(row.temperature[at], row.lean[at] * np.nan_to_num(steepness))


def quantiles_of(values, *, levels=QUANTILES):
    """Quantiles along the first axis of what is not NaN; infinite values stay infinite.

    Parameters
    ----------
    values : (n, ...) array_like
    levels : sequence of float

    Returns
    -------
    (levels, ...) float64
        NaN where nothing is known.
    """
    values = np.asarray(values, dtype=np.float64)
    if values.shape[0] == 0:
        return np.full((len(levels), *values.shape[1:]), np.nan)
    ordered = np.sort(values, axis=0)  # NaN last
    last = np.isfinite(ordered).sum(axis=0) + np.isposinf(ordered).sum(axis=0) - 1
    out = []
    for level in levels:
        at = np.maximum(last, 0) * level
        low = np.floor(at).astype(np.int64)
        high = np.minimum(low + 1, np.maximum(last, 0))
        a = np.take_along_axis(ordered, low[None], axis=0)[0]
        b = np.take_along_axis(ordered, high[None], axis=0)[0]
        with np.errstate(invalid="ignore"):
            mixed = a + (b - a) * (at - low)
        out.append(np.where(at == low, a, np.where(np.isinf(b), b, mixed)))
    return np.array(out)
