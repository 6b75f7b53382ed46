"""How far the column itself errs beyond its members' spread: a table, and ranges widened by it.

Made from five waters by ``bench accuracy`` (``bench/spread.py``), each water of equal weight: what
must be added to the members' 80 % range so that ranges hold 8 of 10 casts and are no wider than
they need be, times a factor for one more water. Where readings are followed, a lake's own casts say
whether it is missed by more or less than others. Three of the waters have oxygen, their fertility
told by their clarity.
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
    factor: float = 1.0  # on the half widths, since the table comes from few waters


MISSES = {
    "free": Misses((0.7, 0.6), (0.3, 0.5), (1.2, 1.0), 0.5, 0.5),
    "fitted": Misses((0.6, 0.5), (0.1, 0.7), (1.4, 0.9), 0.3, 0.4, 1.05),
    "soon": Misses((0.2, 0.6), (0.0, 0.3), (1.0, 1.4), 0.4, 0.4, 1.05),
    "late": Misses((0.5, 0.7), (0.0, 0.0), (1.2, 1.1), 0.5, 0.5, 1.1),
}
FOLLOWED = ("soon", "late")
SOON, LATE = 35, 75  # days since a reading up to which "soon" and "late" were measured
USUAL = 1.27  # degC, root mean square of what casts four weeks apart find amiss
OWN_CASTS = 4  # by as much other waters' casts weigh (4 and 8 score alike on waters left out)
WORST = 9.0  # times the usual square: one odd cast does not rule
LEAST_DEPTHS = 3  # a surface temperature alone does not tell how far the column errs
APART = np.timedelta64(14, "D")
OF_FLOORS = ("oxygen_floor_depth", "oxygen_zone_top", "oxygen_zone_bottom")


def standing(days, fitted):
    """Which row of the table: by days since the last reading (None without one), else the fit."""
    if days is not None and 0 <= days <= LATE:
        return "soon" if days <= SOON else "late"
    return "fitted" if fitted else "free"


def widened(quantiles, error, *, low=-np.inf, high=np.inf, scale=1.0):
    """Quantiles (10, 50, 90 %) with an error of the column's own added.

    Parameters
    ----------
    quantiles : (3, ...) array
    error : float or array
        Standard deviation, taken as independent of the members' spread.
    low, high : float
        Bounds that no value can pass.
    scale : float or array
        Factor on the half widths, as from :func:`own_scale`.

    Returns
    -------
    (3, ...) float64
    """
    bottom, middle, top = np.asarray(quantiles, dtype=np.float64)
    own = TENTH * error
    with np.errstate(invalid="ignore"):
        below, above = (scale * np.hypot(half, own) for half in (middle - bottom, top - middle))
        ends = [middle - below, middle, middle + above]
    return np.clip(ends, low, high)


def cast_misses(found):
    """What each cast found amiss, before it moved the water.

    Parameters
    ----------
    found : DataFrame with ``time``, ``kind``, ``depth``, ``value``, ``expected``, ``used``
        A row for each metre of each cast; None without any.

    Returns
    -------
    (n,) float64 [degC2]
        The mean square of each cast of temperature at three depths or more, in order. The first is
        left out, since nothing was followed before it, and so are casts within two weeks of one
        before, which find little anew.
    """
    if found is None or not len(found):
        return np.zeros(0)
    warm = found[(found["kind"] == "temperature") & found["used"].astype(bool)]
    squares, last = [], None
    for time, cast in warm.groupby("time"):
        if cast["depth"].nunique() < LEAST_DEPTHS:
            continue
        if last is None or time - last >= APART:
            squares.append(float(((cast["value"] - cast["expected"]) ** 2).mean()))
            last = time
    return np.array(squares[1:])


def own_scale(squares, *, usual=USUAL):
    """How much wider or narrower than usual a lake's ranges are, by what its own casts found.

    Parameters
    ----------
    squares : (n,) array [degC2], from :func:`cast_misses`
    usual : float [degC], what casts find amiss on other waters

    Returns
    -------
    float
        1 without casts. The usual error counts as ``OWN_CASTS`` casts do.
    """
    own = np.minimum(np.asarray(squares, float) / usual**2, WORST)
    return float(np.sqrt((OWN_CASTS + own.sum()) / (OWN_CASTS + own.size)))


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
