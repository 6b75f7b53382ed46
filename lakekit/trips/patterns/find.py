"""Does the catch go with the water? Told only where it predicts outings that were left out.

Fish in a row are negative-binomial counts about hours times a pooled rate (tactic, lake, phase,
rods, angler, as the rates have them, without the water). Each candidate enters as a smooth with
at most two degrees of freedom, cleared of what the pooled part already says. Whether it is more
than luck is asked by turning the signs of whole weeks of a lake: what a week's outings say of a
candidate is as likely for as against it where there is nothing in it. The best of all candidates
in each turning corrects for how many were asked.

References
----------
Hemerik, Goeman & Finos 2020, J. R. Stat. Soc. B 82:841-864 (score tests by sign-flipping);
Westfall & Young 1993, Resampling-based Multiple Testing (the best of all); Durrleman & Simon
1989, Stat. Med. 8:551-561 (restricted cubic splines). From memory.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from scipy.stats import chi2, ncx2

from lakekit.trips.design import canonical_order, with_phase
from lakekit.trips.patterns.candidates import CANDIDATES, Smooth
from lakekit.trips.patterns.pooled import PooledLog, fit_counts

LEVEL = 0.025  # half of the 1 in 20 promised: weeks are not quite as independent as the turnings
TURNINGS = 1999
FEWEST_OUTINGS = 20  # on which a candidate must be known to be asked at all
MOST_TOLD = 3
WIDE = 1.2816  # standard errors either side that hold 80 %
CURVE_POINTS = 25


@dataclass(frozen=True)
class Pattern:
    """What the log says of one candidate.

    ``outings``: on which it is known; ``chance``: of seeing as much by luck in any of the
    candidates asked (1 where it was not asked); ``gain``: mean log score of left-out weeks with it
    less without it, per outing [nats], ``gain_error`` its standard error; ``power``: chance that a
    rate doubled from the low to the high tenth of its values would have been told; ``curve``: a
    table of ``value``, ``ratio`` (rate beside that at the middle value), ``low`` and ``high``
    (80 %); ``contrast``: ``best`` and ``worst`` value of the curve, the ``ratio`` of their rates
    and its 80 % range; ``goes_with``: the told pattern that it cannot be told apart from.
    """

    name: str
    words: str
    unit: str
    outings: int
    told: bool = False
    chance: float = 1.0
    gain: float = np.nan
    gain_error: float = np.nan
    power: float = np.nan
    curve: pd.DataFrame | None = None
    contrast: dict | None = None
    goes_with: str = ""
    why_not: str = ""


@dataclass(frozen=True)
class Patterns:
    """All candidates of a log, told ones first; ``values``: the candidates by row of ``rows``."""

    patterns: tuple
    outings: int
    asked: int
    rows: pd.DataFrame = field(repr=False)
    values: pd.DataFrame = field(repr=False)
    note: str = ""

    @property
    def told(self):
        """The patterns that predict outings left out."""
        return tuple(pattern for pattern in self.patterns if pattern.told)

    def table(self):
        """One row a candidate: name, told, outings, chance, gain and its error, power."""
        names = (
            "name",
            "told",
            "outings",
            "chance",
            "gain",
            "gain_error",
            "power",
            "goes_with",
            "why_not",
        )
        return pd.DataFrame(
            [{name: getattr(pattern, name) for name in names} for pattern in self.patterns],
            columns=names,
        )


def find_patterns(trips, values, *, club, seed=0):
    """Ask each candidate whether the catch goes with it, and how sure that is.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``join_water``, with ``phase`` where known; hours and rods above 0.
    values : pandas.DataFrame
        As from ``candidate_values``: the same index; a column a candidate, NaN unknown.
    club : lakekit.club.Club
    seed : int
        Of the turnings, so that the same log always has the same answer.

    Returns
    -------
    Patterns

    Examples
    --------
    >>> values = candidate_values(trips, {lake.key: knowledge})
    >>> find_patterns(trips, values, club=club).table().columns[:3].tolist()
    ['name', 'told', 'outings']
    """
    rows = pd.DataFrame(trips.reset_index(drop=True))
    rows.attrs = {}
    rows, _ = with_phase(rows, club)
    if "angler" not in rows:
        rows["angler"] = ""
    order = canonical_order(rows)
    values = values.reset_index(drop=True).iloc[order].reset_index(drop=True)
    rows = rows.iloc[order].reset_index(drop=True)
    known = {
        c.name: rows.loc[values[c.name].notna(), "trip"].nunique() if c.name in values else 0
        for c in CANDIDATES
    }
    blank = {c.name: Pattern(c.name, c.words, c.unit, known[c.name]) for c in CANDIDATES}
    outings = rows["trip"].nunique()
    smooths = {
        c.name: Smooth.over(values[c.name].to_numpy(), by_log=c.by_log)
        for c in CANDIDATES
        if known[c.name] >= FEWEST_OUTINGS
    }
    smooths = {name: smooth for name, smooth in smooths.items() if smooth is not None}
    found = {
        name: replace(pattern, why_not=_why_not(pattern, name in smooths))
        for name, pattern in blank.items()
    }
    if rows["fish"].sum() == 0 or not smooths:
        note = "No fish in the log" if rows["fish"].sum() == 0 else "Too few outings to ask"
        return Patterns(tuple(found.values()), outings, 0, rows, values, note)
    log = PooledLog.of(rows, club)
    found |= _ask(log, smooths, blank, seed)
    ranked = sorted(found.values(), key=lambda p: (not p.told, p.chance, p.outings == 0))
    return Patterns(tuple(ranked), outings, len(smooths), rows, values)


def _why_not(pattern, asked):
    if asked:
        return ""
    if pattern.outings < FEWEST_OUTINGS:
        return f"known on {pattern.outings} outings only"
    return "it hardly varies in this log"


def _ask(log, smooths, blank, seed):
    """Tell the strongest that predicts, then ask the others what it leaves open, and so on."""
    bases = {name: smooth.basis(smooth.values) for name, smooth in smooths.items()}
    found, told, passed_once = {}, [], set()
    while len(told) < MOST_TOLD:
        tests = _tests(log, {name: bases[name] for name in bases if name not in told}, seed)
        predicts = {}
        for name, test in tests.items():
            if not told:
                power = test.power(smooths[name].doubling())
                found[name] = replace(blank[name], chance=test.chance, power=power)
            if test.chance <= LEVEL:
                gain, error = log.gain(bases[name])
                found[name] = replace(found[name], chance=test.chance, gain=gain, gain_error=error)
                if gain > error:
                    predicts[name] = (test.chance, -test.statistic)
        if told:
            for name in passed_once - set(predicts) - set(told):
                found[name] = replace(found[name], goes_with=found[name].goes_with or told[-1])
        passed_once |= set(predicts)
        if not predicts:
            break
        best = min(predicts, key=predicts.get)
        drawn = _curve(log, smooths[best], bases[best])
        found[best] = replace(found[best], told=True, goes_with="", **drawn)
        told.append(best)
        log = log.with_columns(bases[best])
    return found


@dataclass(frozen=True)
class _Test:
    """One candidate's score test."""

    statistic: float
    own: float  # chance by its own turnings
    chance: float  # by the best of all candidates
    bar: float  # statistic that would just be told
    pull: np.ndarray  # (n, p) what a row's log rate adds to the score
    spread: np.ndarray  # (p, p) of the score

    def power(self, effect):
        """Chance that an effect on each row's log rate would pass the bar."""
        push = self.pull.T @ effect
        away = float(push @ np.linalg.solve(self.spread, push))
        return float(ncx2.sf(self.bar, len(push), away))


def _tests(log, bases, seed):
    signs = np.random.default_rng([seed, 31]).choice(
        [-1.0, 1.0], size=(TURNINGS, log.weeks.max() + 1)
    )
    observed, turned, kept = {}, {}, {}
    for name, basis in bases.items():
        own, mean = log.whole.cleared(basis), np.exp(log.whole.eta)
        residual = (log.data.counts - mean) / (1 + log.alpha * mean)
        weeks = np.column_stack(
            [np.bincount(log.weeks, own[:, k] * residual) for k in range(own.shape[1])]
        )
        spread = weeks.T @ weeks
        spread += 1e-9 * np.trace(spread) * np.eye(len(spread))
        inverse = np.linalg.inv(spread)
        score = weeks.sum(axis=0)
        sums = signs @ weeks
        size = own.shape[1]
        # on one scale whatever the degrees of freedom: minus the log of the usual chance
        observed[name] = -chi2.logsf(score @ inverse @ score, size)
        turned[name] = -chi2.logsf(np.einsum("ij,jk,ik->i", sums, inverse, sums), size)
        kept[name] = (log.whole.pull[:, None] * own, spread, size)
    best = np.max(np.column_stack(list(turned.values())), axis=1)
    bar = np.quantile(best, 1 - LEVEL)
    return {
        name: _Test(
            statistic=value,
            own=_chance(turned[name], value),
            chance=_chance(best, value),
            bar=float(chi2.isf(np.exp(-bar), kept[name][2])),
            pull=kept[name][0],
            spread=kept[name][1],
        )
        for name, value in observed.items()
    }


def _chance(turned, value):
    return float((1 + (turned >= value - 1e-12).sum()) / (1 + len(turned)))


def _curve(log, smooth, basis):
    """The rate against the value, and its best beside its worst, errors robust to shared weeks."""
    own = log.whole.cleared(basis)
    fit, _ = fit_counts(log.data.counts, log.whole.eta, own, alpha=log.alpha, clusters=log.weeks)
    known = smooth.values[np.isfinite(smooth.values)]
    low, middle, high = np.quantile(known, [0.05, 0.5, 0.95])
    values = np.linspace(low, high, CURVE_POINTS)

    def ratios(columns):
        log_ratio = columns @ fit.params
        error = np.sqrt(np.einsum("ij,jk,ik->i", columns, fit.cov_params(), columns))
        return [np.exp(log_ratio + widths * error) for widths in (0.0, -WIDE, WIDE)]

    raw = smooth.raw(values)
    ratio, least, most = ratios(raw - smooth.raw(np.array([middle])))
    best, worst = int(ratio.argmax()), int(ratio.argmin())
    contrast = [float(value[0]) for value in ratios((raw[best] - raw[worst])[None, :])]
    return {
        "curve": pd.DataFrame({"value": values, "ratio": ratio, "low": least, "high": most}),
        "contrast": {"best": float(values[best]), "worst": float(values[worst])}
        | dict(zip(("ratio", "low", "high"), contrast, strict=True)),
    }
