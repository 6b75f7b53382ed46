"""The table of the column's own errors (``strata.spread.MISSES``), made anew from measured waters.

A water left out is one more draw from waters: what its ranges must be can only be told by how the
column errs on others. So every water counts alike however many casts it has, and a water is scored
by a table that was made without it.
"""

import numpy as np

from ..strata import stratification
from ..strata.spread import QUANTILES, SOON, Misses, own_scale, widened

PROBE_ERROR = 0.3  # degC
OXYGEN_ERROR = 0.5  # mg/L
WORTH = 10.0  # of a degree outside a range, in degrees of its width: 2 over what 80 % leave out
SIZES = np.arange(0.0, 3.01, 0.1)
LEANS = np.arange(0.0, 1.01, 0.1)
FACTORS = np.arange(1.0, 2.01, 0.05)
HELD = 0.8  # share that a range is to hold
LEAST = 20  # values below which a water says nothing of a cell
# rows of the arrays that samples() makes
TRUE, LOW, MIDDLE, HIGH, STEEP, LAYERED, SCALE = range(7)


def samples(seen, true, *, scale=1.0):
    """What was measured beside the members' ranges.

    Parameters
    ----------
    seen : Dataset on (member, time, depth)
    true : Dataset on (time, depth), the casts
    scale : float or (time,) array, as from ``strata.spread.own_scale``

    Returns
    -------
    dict of str to (7, n) array
        ``temperature``, ``oxygen``, ``line`` and ``floor``; the rows are named above.
    """
    layers, found = stratification(seen), stratification(true)
    layered = np.asarray(found["stratified"], float)
    scale = np.broadcast_to(np.asarray(scale, float), layered.shape)
    out, depth = {}, true["depth"].values
    for what, name in (("temperature", "water_temperature"), ("oxygen", "dissolved_oxygen")):
        values = np.quantile(seen[name].values, QUANTILES, axis=0)
        steep = np.nan_to_num(np.abs(np.gradient(values[1], depth, axis=-1)))
        of_cast = (np.broadcast_to(row[:, None], steep.shape) for row in (layered, scale))
        out[what] = _known(true[name].values, *values, steep, *of_cast)
    for what, name in (("line", "thermocline_depth"), ("floor", "oxygen_floor_depth")):
        members = np.asarray(layers[name].transpose("member", "time"))
        most = np.isfinite(members).mean(axis=0) > 0.5
        values = np.full((3, most.size), np.nan)
        values[:, most] = np.nanquantile(members[:, most], QUANTILES, axis=0)
        out[what] = _known(found[name].values, *values, np.zeros(most.size), layered, scale)
    return out


def _known(*rows):
    rows = np.array([np.ravel(row) for row in rows])
    return rows[:, np.isfinite(rows).all(axis=0)]


def ranges(rows, error):
    """Low and high ends (n,) of the widened ranges of samples, ``error`` their own deviation."""
    low, _, high = widened(rows[LOW : HIGH + 1], error, scale=rows[SCALE])
    return low, high


def interval_score(rows, error):
    """Mean width of ranges plus what misses cost: least where they hold 8 of 10 and no wider.

    References
    ----------
    Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359-378, eq. 43.
    """
    low, high = ranges(rows, error)
    outside = np.maximum(low - rows[TRUE], 0.0) + np.maximum(rows[TRUE] - high, 0.0)
    return float(np.mean(high - low + WORTH * outside))


def share_inside(rows, misses, factor=None):
    """Share of temperature samples inside the ranges that a row of the table makes."""
    rows, inside = rows.copy(), np.zeros(rows.shape[1], bool)
    rows[SCALE] *= misses.factor if factor is None else factor
    for at, part in enumerate(_parts(rows)):
        own = _error(rows[:, part], misses.temperature[at], misses.lean[at])
        inside[part] = _inside(rows[:, part], own)
    return float(inside.mean())


def _parts(rows):
    layered = rows[LAYERED] > 0.5
    return layered, ~layered


def _error(rows, size, lean):
    return np.sqrt(size**2 + (lean * rows[STEEP]) ** 2 + PROBE_ERROR**2)


def _best(many):
    """Size and lean of temperature's error, of the least mean score over waters."""
    many = [rows for rows in many if rows.shape[1] >= LEAST]
    found = [
        (np.mean([interval_score(rows, _error(rows, size, lean)) for rows in many]), size, lean)
        for size in SIZES for lean in LEANS
    ]  # fmt: skip
    return tuple(round(float(value), 2) for value in min(found)[1:])


def _least(many, probe=0.0):
    """Least size at which ranges hold what they should, mean over waters.

    A few dozen depths a water, and three waters with oxygen, are too few for a score of widths.
    """
    many = [rows for rows in many if rows.shape[1] >= LEAST // 4]
    if not many:
        return np.nan
    held = [[_inside(rows, np.hypot(size, probe)).mean() for rows in many] for size in SIZES]
    enough = np.mean(held, axis=1) >= HELD
    return round(float(SIZES[enough.argmax() if enough.any() else -1]), 2)


def _inside(rows, error):
    low, high = ranges(rows, error)
    return (rows[TRUE] >= low) & (rows[TRUE] <= high)


def _of_temperature(many):
    parts = [[rows[:, _parts(rows)[at]] for rows in many] for at in (0, 1)]
    return tuple(zip(*(_best(part) for part in parts), strict=True))


def _of_few(many):
    """Factor by which a table of few waters must be widened to hold for one more.

    Each water in turn is held against the table of the others: the factor makes their mean share
    what it should be. It stands in place of Student's t, which would take the errors of waters for
    normal.
    """
    held = []
    for left, rows in enumerate(many):
        sizes, leans = _of_temperature(many[:left] + many[left + 1 :])
        one = Misses(sizes, leans, (0.0, 0.0), 0.0, 0.0)
        held.append([share_inside(rows, one, factor) for factor in FACTORS])
    enough = np.mean(held, axis=0) >= HELD
    return round(float(FACTORS[enough.argmax() if enough.any() else -1]), 2)


def made_table(waters):
    """One row of the table from the samples of several waters, each of equal weight.

    Parameters
    ----------
    waters : sequence of dict, from :func:`samples`

    Returns
    -------
    Misses
    """
    sizes, leans = _of_temperature([one["temperature"] for one in waters])
    gases = [
        _least([one["oxygen"][:, _parts(one["oxygen"])[at]] for one in waters], OXYGEN_ERROR)
        for at in (0, 1)
    ]
    line, floor = (_least([one[what] for one in waters]) for what in ("line", "floor"))
    return Misses(
        temperature=sizes, lean=leans, oxygen=tuple(gases), line=line,
        floor=float(np.fmax(line, floor)),  # oxygen ends below the line: it is no better known
        factor=_of_few([one["temperature"] for one in waters]),
    )  # fmt: skip


def joined(parts):
    """Samples of several runs of one water as one."""
    return {what: np.concatenate([part[what] for part in parts], axis=1) for what in parts[0]}


def how_of(label):
    """Which row of the table serves a label such as ``untuned`` or ``followed_11to21``."""
    if not label.startswith("followed_"):
        return {"untuned": "free", "fitted": "fitted"}[label]
    return "soon" if int(label.split("to")[1]) <= SOON else "late"


def usual_miss(missed):
    """What casts find amiss on several waters, each of equal weight: root mean square [degC]."""
    return float(np.sqrt(np.mean([many[-1].mean() for many in missed if len(many[-1])])))


def scaled(rows, missed, usual):
    """Samples whose scale was the number of a pair of casts, with what their water had found."""
    scales = np.array([own_scale(squares, usual=usual) for squares in missed])
    return {
        what: np.vstack([part[:SCALE], scales[part[SCALE].astype(int)]])
        for what, part in rows.items()
    }


def table_of(bands, missed):
    """The whole table from several waters, as (rows by how, usual miss).

    Parameters
    ----------
    bands : sequence of dict, label -> samples
    missed : sequence of list, what casts had found amiss by each pair of casts
    """
    usual, cells = usual_miss(missed), {}
    for one, squares in zip(bands, missed, strict=True):
        mine = {}
        for label, rows in one.items():
            ready = scaled(rows, squares, usual) if label.startswith("followed_") else rows
            mine.setdefault(how_of(label), []).append(ready)
        for how, parts in mine.items():
            cells.setdefault(how, []).append(joined(parts))
    return {how: made_table(waters) for how, waters in cells.items()}, usual


def left_out_shares(bands, missed):
    """Share of casts inside the 80 % range, each water by the table of the others; then the table.

    Parameters
    ----------
    bands : dict of water to dict of label to samples
    missed : dict of water to list

    Returns
    -------
    dict, keys ``accuracy_<water>_<label>_band80_share`` (temperature), ``_line80_share``
        (thermocline), ``_floor80_share`` (oxygen floor) and ``accuracy_table_<how>_<field>``
    """
    figures = {}
    for water, mine in bands.items():
        others = [name for name in bands if name != water]
        table, usual = table_of([bands[o] for o in others], [missed[o] for o in others])
        for label, rows in mine.items():
            if label.startswith("followed_"):
                rows = scaled(rows, missed[water], usual)
            row = table[how_of(label)]
            key = f"accuracy_{water}_{label}"
            figures[f"{key}_band80_share"] = share_inside(rows["temperature"], row)
            for what, size in (("line", row.line), ("floor", row.floor)):
                if rows[what].shape[1] >= LEAST // 4:
                    figures[f"{key}_{what}80_share"] = float(_inside(rows[what], size).mean())
    table, usual = table_of(list(bands.values()), list(missed.values()))
    for how, row in table.items():
        for field, values in vars(row).items():
            for at, value in enumerate(np.atleast_1d(values)):
                part = ("", "_mixed")[at]
                figures[f"accuracy_table_{how}_{field}{part}"] = float(value)
    return figures | {"accuracy_table_usual_c": usual}
