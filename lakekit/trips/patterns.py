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

import warnings
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import sparse
from scipy.optimize import minimize_scalar
from scipy.stats import chi2, ncx2
from statsmodels.tools.sm_exceptions import (
    ConvergenceWarning,
    HessianInversionWarning,
    PerfectSeparationWarning,
)

from lakekit.errors import TripsError
from lakekit.trips.candidates import CANDIDATES, Smooth
from lakekit.trips.design import build_design, canonical_order, with_phase
from lakekit.trips.pooling import find_mode, negative_binomial_loglike, settle

LEVEL = 0.025  # half of the 1 in 20 promised: weeks are not quite as independent as the turnings
TURNINGS = 1999
FOLDS = 10
FEWEST_OUTINGS = 20  # on which a candidate must be known to be asked at all
MOST_TOLD = 3
WIDE = 1.2816  # standard errors either side that hold 80 %
CURVE_POINTS = 25
WATER_COLUMNS = (
    "stratified",
    "thermocline_depth",
    "oxygen_floor_depth",
    "days_since_front",
    "bait_depth",
    "light",
)
FAILURES = (ConvergenceWarning, HessianInversionWarning, PerfectSeparationWarning)


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


def fit_counts(counts, offset, design, *, alpha=None, clusters=None):
    """Log-linear counts with an offset, by statsmodels' GLM.

    Parameters
    ----------
    counts : ndarray, shape (n,)
    offset : ndarray, shape (n,)
        Log of effort, and whatever else is taken as known.
    design : ndarray, shape (n, p)
    alpha : float, optional
        Dispersion of the negative binomial (NB2); 0 is Poisson; None: the most likely one.
    clusters : ndarray of int, shape (n,), optional
        Rows that share their luck: standard errors are robust to it.

    Returns
    -------
    tuple of (statsmodels GLMResults, float)
        The fit and its alpha.

    Raises
    ------
    TripsError
        Missing values, columns that repeat each other, or a fit that does not settle.

    References
    ----------
    McCullagh & Nelder 1989, Generalized Linear Models (2nd ed.), section 6.3.2; Hilbe 2011,
    Negative Binomial Regression (2nd ed.), NB2 (from memory).

    Examples
    --------
    >>> fish, hours = [3, 5, 4], [1.0, 2.0, 1.0]
    >>> fit, _ = fit_counts(fish, np.log(hours), np.ones((3, 1)), alpha=0.0)
    >>> float(np.exp(fit.params[0]).round(6))  # 12 fish in 4 hours
    3.0
    """
    counts, offset, design = (np.asarray(a, dtype="float64") for a in (counts, offset, design))
    if not all(np.isfinite(a).all() for a in (counts, offset, design)) or (counts < 0).any():
        raise TripsError(
            "a count, its effort or a covariate is missing, zero or negative",
            mend="Leave the row out or fill it in",
        )
    if np.linalg.matrix_rank(design) < design.shape[1] or counts.sum() == 0:
        raise TripsError(
            "no fish at all, or columns that repeat each other",
            mend="Pool with other rows, or drop a column",
        )

    def fitted(value):
        family = sm.families.Poisson() if value == 0 else sm.families.NegativeBinomial(alpha=value)
        model = sm.GLM(counts, design, family=family, offset=offset)
        if clusters is None:
            return model.fit(tol=1e-10)
        return model.fit(tol=1e-10, cov_type="cluster", cov_kwds={"groups": clusters})

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        for failure in FAILURES:
            warnings.simplefilter("error", failure)
        try:
            if alpha is None:
                best = minimize_scalar(
                    lambda log: -fitted(np.exp(log)).llf,
                    bounds=(-7.0, 4.0),
                    method="bounded",
                    options={"xatol": 1e-6},
                )
                alpha = float(np.exp(best.x))
            result = fitted(alpha)
        except (*FAILURES, np.linalg.LinAlgError, ValueError) as error:
            raise TripsError(
                f"a plain fit did not settle ({type(error).__name__})",
                mend="Use fewer columns, or pool",
            ) from None
    return result, alpha


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
    log = _Log.of(rows, club)
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


def _without_days(data):
    """The pooled part without its days: a day's luck is what the turnings of weeks are for."""
    return replace(
        data,
        design=data.design[:, : data.kept],
        block=data.block[: data.kept],
        fixed_spread=data.fixed_spread[: data.kept],
        spread_prior=data.spread_prior[:-1],
        single=0,
    )


@dataclass(frozen=True)
class _Log:
    """A log with its pooled fit, ready to be asked."""

    data: object
    spreads: np.ndarray
    alpha: float
    weeks: np.ndarray  # (n,) number of each row's lake and week
    outings: int
    mode: np.ndarray

    @classmethod
    def of(cls, rows, club):
        plain = rows.drop(columns=[name for name in WATER_COLUMNS if name in rows])
        plain = plain.assign(hour=np.nan)
        data = _without_days(build_design(plain, club).data)
        week = rows["lake"].astype(str) + rows["date"].dt.to_period("W").astype(str)
        weeks = pd.factorize(week)[0]
        return cls._settled(data, weeks, rows["trip"].nunique())

    @classmethod
    def _settled(cls, data, weeks, outings):
        top = settle(data)
        return cls(
            data, np.exp(top.theta[:-1]), float(np.exp(top.theta[-1])), weeks, outings, top.mode
        )

    def with_columns(self, basis):
        """The same log with a told smooth in its pooled part, its size hardly shrunk."""
        more = basis.shape[1]
        data = replace(
            self.data,
            design=sparse.csr_array(sparse.hstack([self.data.design, basis])),
            block=np.append(self.data.block, np.full(more, -1)),
            fixed_spread=np.append(self.data.fixed_spread, np.ones(more)),
        )
        return self._settled(data, self.weeks, self.outings)

    @cached_property
    def whole(self):
        """The pooled part fitted to all rows."""
        return _Base.of(self, self.data.weights)

    @cached_property
    def folds(self):
        """Pooled parts fitted to all but some weeks each, and which rows those are."""
        shuffled = np.random.default_rng(5).permutation(self.weeks.max() + 1)
        fold = shuffled[self.weeks] % FOLDS
        outs = [fold == number for number in range(FOLDS)]
        outs = [out for out in outs if out.any() and self.data.counts[~out].sum() > 0]
        return [(out, _Base.of(self, np.where(out, 0.0, self.data.weights))) for out in outs]

    def gain(self, basis):
        """Log score of left-out weeks with a smooth less without: mean an outing, its error."""
        gain, counts = np.zeros(len(self.weeks)), self.data.counts
        for out, base in self.folds:
            own = base.cleared(basis)
            try:
                fit, _ = fit_counts(counts[~out], base.eta[~out], own[~out], alpha=self.alpha)
            except TripsError:
                return -np.inf, 0.0
            both = base.eta[out] + own[out] @ fit.params, base.eta[out]
            with_it, without = (
                negative_binomial_loglike(counts[out], np.exp(np.minimum(eta, 30.0)), self.alpha)
                for eta in both
            )
            gain[out] = with_it - without
        by_week = np.bincount(self.weeks, gain)
        error = by_week.std(ddof=1) * np.sqrt(by_week.size) if by_week.size > 1 else np.inf
        return float(by_week.sum() / self.outings), float(error / self.outings)


@dataclass(frozen=True)
class _Base:
    """The pooled part under given weights: its linear predictor, and how to clear a basis of it."""

    design: object
    curve: object  # the precision of its coefficients
    eta: np.ndarray
    pull: np.ndarray  # what a row says of its log rate

    @classmethod
    def of(cls, log, weights):
        data = replace(log.data, weights=weights)
        mode, curve, _ = find_mode(data, log.spreads, log.alpha, log.mode)
        eta = data.offset + data.design @ mode
        mean = np.exp(eta)
        return cls(data.design, curve, eta, weights * mean / (1 + log.alpha * mean))

    def cleared(self, basis):
        """A basis without what the pooled part says of it."""
        told = self.design.T @ (self.pull[:, None] * basis)
        return basis - self.design @ np.column_stack([self.curve.solve(part) for part in told.T])


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
