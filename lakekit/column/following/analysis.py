"""One reading's correction of an ensemble of columns."""

from dataclasses import dataclass

import numpy as np

from .. import kernel
from ..basin import monthly_to_hourly
from ..compiled import compiled
from ..mixing import convect
from ..parameters import NAMES, from_standard
from ..run import DRIFT_DAYS
from ..water import density

BEYOND = 4.0  # standard errors past which a reading contradicts the column
ALWAYS = {"temperature": 8.0, "oxygen": 6.0, "clarity": 2.0}  # nearer ones are always believed
OF_OXYGEN = np.array([name.startswith("oxygen") for name in NAMES])
OF_LIGHT = NAMES.index("light_attenuation_factor")
COLUMN_ALIKE = 2.0  # m over which the column's own errors are alike, as in the fit
NO_OXYGEN = 0.3  # mg/L: a probe reading below says no more than "none"


@dataclass(frozen=True)
class Following:
    """What is assumed of errors; set with five waters in sight, tried by ``bench following``."""

    temperature: float = 0.3  # degC, of a probe
    oxygen: float = 0.6  # mg/L, of a probe
    clarity: float = 0.3  # of the logarithm of a Secchi depth
    lean: float = 0.15  # m, by which layers lean and casts drift
    near: float = 3.0  # m, half the reach of a reading
    wander_days: float = 300.0  # of the parameters' memory of what readings taught
    column: float = 2.0  # degC by which the column errs with the best of parameters; mg/L twice
    shift: float = 0.3  # m in a month: how far the column's layers stray
    stray: float = 0.15  # degC in a month; in mg/L twice that
    alike: float = 4.0  # m over which it strays as one
    drift: float = 0.06  # degC a day by which the column errs day after day
    relax: float = 0.3  # share of the spread taken by readings that is given back
    lag_days: float = 30.0  # half the reach of a later reading on earlier days
    unknown: float = 3.0  # degC, of the water at the start of a record
    forget_days: float = 60.0  # in which a start is forgotten


def taper(distance):
    """How far a covariance from few members is believed over a ``distance`` in half-reaches.

    Parameters
    ----------
    distance : array, 0 or above

    Returns
    -------
    array, 1 at 0, falling smoothly to 0 at 2

    References
    ----------
    Gaspari & Cohn 1999, Q. J. R. Meteorol. Soc. 125:723-757, eq. 4.10 (5/24 at 1).
    """
    r = np.abs(np.asarray(distance, float))
    near = 1.0 - 5.0 / 3.0 * r**2 + 5.0 / 8.0 * r**3 + r**4 / 2.0 - r**5 / 4.0
    safe = np.clip(r, 1.0, 2.0)
    far = 4.0 - 5.0 * safe + 5.0 / 3.0 * safe**2 + 5.0 / 8.0 * safe**3
    far += -(safe**4) / 2.0 + safe**5 / 12.0 - 2.0 / (3.0 * safe)
    return np.where(r <= 1.0, near, np.where(r < 2.0, np.maximum(far, 0.0), 0.0))


def weights(simulated, errors, *, apart):
    """Localised covariance of readings with their errors (n, n), and the members' departures.

    Parameters
    ----------
    simulated : array (members, n), each member's own value of the readings
    errors : array (n, n), covariance of the readings' errors
    apart : array (n, n), taper between readings
    """
    spread = (simulated - simulated.mean(axis=0)) / np.sqrt(simulated.shape[0] - 1)
    return apart * (spread.T @ spread) + errors, spread


def gain(states, spread, within, *, near):
    """Kalman gain (k, n) of quantities of the members (members, k) on the readings.

    Parameters
    ----------
    spread, within : from :func:`weights`
    near : array (k, n), taper between quantities and readings

    References
    ----------
    Evensen 1994, J. Geophys. Res. 99:10143-10162; taper on covariances after Houtekamer &
    Mitchell 2001, Mon. Weather Rev. 129:123-137.
    """
    own = (states - states.mean(axis=0)) / np.sqrt(states.shape[0] - 1)
    return np.linalg.solve(within, (near * (own.T @ spread)).T).T


def relaxed(before, after, share):
    """Members 1 and on drawn apart again to a ``share`` of the spread that readings took.

    References
    ----------
    Whitaker & Hamill 2012, Mon. Weather Rev. 140:3078-3089: relaxation to the prior spread.
    """
    out = after.copy()
    old, new = before[1:].std(axis=0), after[1:].std(axis=0)
    factor = 1.0 + share * np.clip(old / np.maximum(new, 1e-9) - 1.0, 0.0, 3.0)
    mean = after[1:].mean(axis=0)
    out[1:] = mean + np.where(new > 1e-9, factor, 1.0) * (after[1:] - mean)
    return out


@compiled
def settle(temperature, oxygen, top, volumes, centres):
    """Turn over what is top-heavy in each profile (profiles, n), in place; no heat is lost."""
    layers = temperature.shape[1]
    first = np.empty(layers, np.int64)
    pool, moment, heavy = np.empty(layers), np.empty(layers), np.empty(layers)
    for m in range(temperature.shape[0]):
        for i in range(layers):
            heavy[i] = density(temperature[m, i])
        convect(temperature[m], oxygen[m], top, volumes, centres, heavy, first, pool, moment)


def profiles(state, basin, level):
    """Temperature and oxygen balance of a state below the day's surface: (2, members, depth)."""
    warm, gas = state["temperature"].values, state["oxygen"].values
    out = np.empty((2, *warm.shape))
    for m, top in enumerate(state["top"].values.astype(int)):
        for k, values in enumerate((warm[m], gas[m])):
            kernel.sample(
                values, warm[m], top, level, basin.faces[1], basin.centres, basin.faces[-1],
                basin.centres, out[k, m],
            )  # fmt: skip
    return out


def _alike_root(basin, assumed):
    """Root (n, n) of how alike the column errs from layer to layer."""
    depth = basin.centres
    alike = np.exp(-np.abs(depth[:, None] - depth) / assumed.alike)
    return np.linalg.cholesky(alike + 1e-9 * np.eye(depth.size))


def stray(state, basin, *, days, extra, assumed, random):
    """Members 1 and on stray as the column does: layers up or down, the water warmer or colder.

    Parameters
    ----------
    state : Dataset as from ``end_state``
    days : float, since it was last corrected
    extra : float [degC], of a start that is not known
    """
    size = np.sqrt(min(days, 120.0) / 30.0)
    depth, top = basin.centres, int(state["top"].values[0])
    warm, gas = state["temperature"].values.copy(), state["oxygen"].values.copy()
    root = _alike_root(basin, assumed)
    moves, warmths, airs = (random.standard_normal(warm.shape) @ root.T for _ in range(3))
    wide = np.hypot(assumed.stray * size, extra)
    for m in range(1, warm.shape[0]):
        at = depth[top:] + assumed.shift * size * moves[m, top:]
        warm[m, top:] = np.interp(at, depth[top:], warm[m, top:]) + wide * warmths[m, top:]
        moved = np.interp(at, depth[top:], gas[m, top:])
        aired = moved > 0.0
        moved += np.where(aired, 2.0 * wide * airs[m, top:], 0.0)
        gas[m, top:] = np.where(aired, np.maximum(moved, 0.0), moved)
    warm = np.maximum(warm, 0.0)
    settle(warm[1:], gas[1:], top, basin.volumes, basin.centres)
    mud = state["sediment"].values.copy()
    mud[1:] += extra * warmths[1:, None]  # of an unknown start the mud is as little known
    return state.assign(
        temperature=(state["temperature"].dims, warm), oxygen=(state["oxygen"].dims, gas),
        sediment=(state["sediment"].dims, mud),
    )  # fmt: skip


def set_adrift(state, basin, *, days, assumed, random):
    """Members 1 and on are given drifts of their own, as far as ``days`` let old ones fade.

    The drift of a column is what it gains in a day without a cause that it knows; readings teach
    it by the water that it moved (Dee & da Silva 1998, Q. J. R. Meteorol. Soc. 124:269-295,
    from memory).
    """
    root = _alike_root(basin, assumed)
    drift = state["drift"].values.copy()
    size = assumed.drift * np.sqrt(1.0 - np.exp(-2.0 * days / DRIFT_DAYS))
    drift[1:] += size * random.standard_normal(drift[1:].shape) @ root.T
    return state.assign(drift=(state["drift"].dims, drift))


def reading_errors(readings, assumed):
    """Covariance (n, n) of the errors of readings of one hour: a probe's, and of its depth.

    A cast that hangs too deep does so at every depth, and layers lean as one: errors of
    depth are alike over the cast, those of the probe are not.
    """
    kind, depth = readings["kind"].to_numpy(), readings["depth"].to_numpy(float)
    own = np.hypot([getattr(assumed, k) for k in kind], readings["error"].to_numpy(float))
    lean = assumed.lean * readings["slope"].to_numpy(float)
    alike = np.exp(-np.abs(depth[:, None] - depth) / (2.0 * assumed.alike))
    alike *= kind[:, None] == kind
    return np.diag(own**2) + lean[:, None] * lean * alike


def observed(columns, scores, readings, depth, *, lake, hour):
    """What each member says for readings of one hour: array (members, n).

    Parameters
    ----------
    columns : array (2, members, depth), from :func:`profiles`
    scores : array (members, p)
    readings : DataFrame, from ``lake_readings``
    depth : array (depth,) [m]
    """
    out = np.empty((columns.shape[1], len(readings)))
    known = np.isfinite(columns[0, 0])
    rows = zip(readings["kind"], readings["depths"], readings["value"], strict=True)
    for k, (kind, depths, value) in enumerate(rows):
        if kind == "clarity":
            usual = float(monthly_to_hourly(lake.secchi, [np.datetime64(hour)])[0])
            both = from_standard(np.vstack([np.zeros_like(scores[:1]), scores]), lake)[:, OF_LIGHT]
            out[:, k] = np.log(usual * both[0] / both[1:])
            continue
        field = columns[0 if kind == "temperature" else 1][:, known]
        for m in range(out.shape[0]):
            here = np.interp(depths, depth[known], field[m])
            # to a probe a debt is water without oxygen; where it read some, the debt counts
            bare = kind == "oxygen" and (here.max() > 0.0 or value <= NO_OXYGEN)
            out[m, k] = np.maximum(here, 0.0).mean() if bare else here.mean()
    return out


def correct(state, scores, readings, *, lake, basin, level, assumed, random, past):
    """Move an ensemble by the readings of one hour: temperature and clarity first, then oxygen.

    Temperature moves the water, its mud, its oxygen and the parameters; oxygen moves oxygen and
    its parameters alone.

    Parameters
    ----------
    state : Dataset as from ``end_state``
    scores : array (members, p), parameters as standard scores
    readings : DataFrame, rows of ``lake_readings`` with ``hour``
    level : float [m], surface below full pond
    past : list of Dataset, runs that later readings correct too (in place); empty for none

    Returns
    -------
    state : Dataset
    scores : array (members, p)
    told : dict, arrays of what was read, expected and left
    """
    hour = np.datetime64(readings["hour"].iloc[0], "ns")
    top = int(state["top"].values[0])
    columns = profiles(state, basin, level)
    warm, gas = state["temperature"].values.copy(), state["oxygen"].values.copy()
    mud, scores = state["sediment"].values.copy(), scores.copy()
    drift = state["drift"].values.copy()
    old = warm.copy(), gas.copy(), scores.copy(), drift.copy()
    layer_depth = np.maximum(basin.centres - level, 0.0)
    expected = np.full(len(readings), np.nan)
    used = np.zeros(len(readings), bool)
    kinds = readings["kind"].to_numpy()
    for mine in (("temperature", "clarity"), ("oxygen",)):
        rows = np.flatnonzero(np.isin(kinds, mine))
        if not rows.size:
            continue
        part, of_gas = readings.iloc[rows], mine == ("oxygen",)
        simulated = observed(columns, scores, part, basin.centres, lake=lake, hour=hour)
        expected[rows] = simulated[0]
        used[rows] = _believable(part, simulated, assumed)
        if not used[rows].any():
            continue
        part, simulated = part[used[rows]], simulated[:, used[rows]]
        water = (part["kind"] != "clarity").to_numpy()
        depth = part["depth"].to_numpy()
        moved, learned = _solved(part, simulated, water, assumed, random, of_gas=of_gas)
        near = taper((layer_depth[:, None] - depth) / assumed.near) * water
        for run in past:
            _smooth(run, moved, hour, depth, water, assumed, basin, of_gas=of_gas)
        change = gas + moved(gas, near)
        # a debt is moved by readings of oxygen alone
        gas = np.where(gas > 0.0, np.maximum(change, 0.0), change if of_gas else gas)
        if not of_gas:
            for slab in range(mud.shape[1]):
                mud[:, slab] += moved(mud[:, slab], near)
            warm = np.maximum(warm + moved(warm, near), 0.0)
            drift = drift + moved(drift, near)
        scores = scores + learned(scores)
        columns = profiles(_with(state, warm, gas, mud, drift), basin, level)
    warm, gas, scores, drift = (
        relaxed(a, b, assumed.relax) for a, b in zip(old, (warm, gas, scores, drift), strict=True)
    )
    warm = np.maximum(warm, 0.0)
    gas = np.where(old[1] > 0.0, np.maximum(gas, 0.0), gas)
    settle(warm, gas, top, basin.volumes, basin.centres)
    out = _with(state, warm, gas, mud, drift)
    columns = profiles(out, basin, level)
    after = observed(columns, scores, readings, basin.centres, lake=lake, hour=hour)[0]
    told = {f"reading_{name}": readings[name].to_numpy() for name in ("row", "depth", "value")}
    told |= {
        "time": hour,
        "reading_time": readings["time"].to_numpy("datetime64[ns]"),
        "reading_kind": kinds.astype(str),
        "reading_expected": expected,
        "reading_after": after,
        "reading_used": used,
        "columns": columns,
    }
    return out, np.clip(scores, -2.5, 2.5), told


def _with(state, warm, gas, mud, drift):
    new = {"temperature": warm, "oxygen": gas, "sediment": mud, "drift": drift}
    return state.assign({name: (state[name].dims, values) for name, values in new.items()})


def _believable(readings, simulated, assumed):
    """Which readings the column does not contradict beyond reason: bool array (n,)."""
    own = np.hypot([getattr(assumed, k) for k in readings["kind"]], readings["error"])
    size = np.hypot(simulated[1:].std(axis=0), own)
    off = np.abs(readings["value"].to_numpy() - simulated[0])
    return off <= np.maximum(BEYOND * size, [ALWAYS[k] for k in readings["kind"]])


def _solved(readings, simulated, water, assumed, random, *, of_gas):
    """Functions that give the change of each member's quantities, and of its parameters."""
    errors = reading_errors(readings, assumed)
    depth, kind = readings["depth"].to_numpy(), readings["kind"].to_numpy()
    distance = np.abs(depth[:, None] - depth)
    apart = taper(distance / assumed.near) * (kind[:, None] == kind)
    within, spread = weights(simulated[1:], errors, apart=apart)
    off = readings["value"].to_numpy() + _draws(errors, len(simulated), random) - simulated
    # what parameters cannot mend must not move them
    own = assumed.column * (2.0 if of_gas else 1.0) * water
    beside = within + own[:, None] * own * np.exp(-distance / COLUMN_ALIKE)
    taught = np.ones((len(NAMES), len(readings))) * (OF_OXYGEN if of_gas else ~OF_OXYGEN)[:, None]
    taught[np.ix_(np.arange(len(NAMES)) != OF_LIGHT, ~water)] = 0.0

    def moved(values, near):
        return off @ gain(values[1:], spread, within, near=near).T

    def learned(scores):
        return off @ gain(scores[1:], spread, beside, near=taught).T

    return moved, learned


def _draws(errors, members, random):
    """Errors for each member to believe, without a mean; member 0 has none."""
    root = np.linalg.cholesky(errors + 1e-10 * np.eye(len(errors)))
    out = random.standard_normal((members, len(errors))) @ root.T
    out[0] = 0.0
    out[1:] -= out[1:].mean(axis=0)
    return out


def _smooth(run, moved, hour, depth, water, assumed, basin, *, of_gas):
    """Carry a correction back to the outputs of an earlier run, in place, fading with days."""
    days = (hour - run["time"].values) / np.timedelta64(1, "D")
    late = days < 2.0 * assumed.lag_days
    if not late.any():
        return
    known = np.isfinite(run["water_temperature"].values[0, late]).all(axis=0)
    below = run["depth"].values[known]
    near = taper(days[late] / assumed.lag_days)[:, None, None] * water
    near = (near * taper((below[:, None] - depth) / assumed.near)).reshape(-1, depth.size)
    names = ("dissolved_oxygen",) if of_gas else ("dissolved_oxygen", "water_temperature")
    fields = {n: run[n].values[:, late][..., known] for n in ("water_temperature", *names)}
    for name in names:
        flat = fields[name].reshape(fields[name].shape[0], -1)
        flat = np.maximum(flat + moved(flat, near), 0.0)
        fields[name] = flat.reshape(fields[name].shape)
    warm = np.ascontiguousarray(fields["water_temperature"]).reshape(-1, below.size)
    gas = np.ascontiguousarray(fields["dissolved_oxygen"]).reshape(-1, below.size)
    settle(warm, gas, 0, basin.volumes[: below.size], basin.centres[: below.size])
    for name, values in (("water_temperature", warm), ("dissolved_oxygen", gas)):
        whole = run[name].values
        at = np.ix_(np.arange(whole.shape[0]), late, known)
        whole[at] = values.reshape(fields[name].shape)
        run[name].values = whole
