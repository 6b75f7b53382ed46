"""A log's counts with its pooled part: what the rates say of each row without the water."""

import warnings
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.optimize import minimize_scalar
from statsmodels.genmod.families import NegativeBinomial, Poisson
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.tools.sm_exceptions import (
    ConvergenceWarning,
    HessianInversionWarning,
    PerfectSeparationWarning,
)

from lakekit.errors import TripsError
from lakekit.trips.design import build_design
from lakekit.trips.pooling import find_mode, negative_binomial_loglike, settle

FOLDS = 10
WATER_COLUMNS = (
    "stratified",
    "thermocline_depth",
    "oxygen_floor_depth",
    "days_since_front",
    "bait_depth",
    "light",
)
FAILURES = (ConvergenceWarning, HessianInversionWarning, PerfectSeparationWarning)


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
        family = Poisson() if value == 0 else NegativeBinomial(alpha=value)
        model = GLM(counts, design, family=family, offset=offset)
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
class PooledLog:
    """A log with its pooled fit, ready to be asked."""

    data: object
    spreads: np.ndarray
    alpha: float
    weeks: np.ndarray  # (n,) number of each row's lake and week
    outings: int
    mode: np.ndarray
    columns: dict  # block -> words -> column of the design

    @classmethod
    def of(cls, rows, club):
        plain = rows.drop(columns=[name for name in WATER_COLUMNS if name in rows])
        plain = plain.assign(hour=np.nan)
        design = build_design(plain, club)
        data = _without_days(design.data)
        week = rows["lake"].astype(str) + rows["date"].dt.to_period("W").astype(str)
        weeks = pd.factorize(week)[0]
        return cls._settled(data, weeks, rows["trip"].nunique(), design.columns)

    @classmethod
    def _settled(cls, data, weeks, outings, columns):
        top = settle(data)
        alpha = float(np.exp(top.theta[-1]))
        return cls(data, np.exp(top.theta[:-1]), alpha, weeks, outings, top.mode, columns)

    def with_columns(self, basis):
        """The same log with a told smooth in its pooled part, its size hardly shrunk."""
        more = basis.shape[1]
        data = replace(
            self.data,
            design=sparse.csr_array(sparse.hstack([self.data.design, basis])),
            block=np.append(self.data.block, np.full(more, -1)),
            fixed_spread=np.append(self.data.fixed_spread, np.ones(more)),
        )
        return self._settled(data, self.weeks, self.outings, self.columns)

    @cached_property
    def whole(self):
        """The pooled part fitted to all rows."""
        return PooledPart.of(self, self.data.weights)

    @cached_property
    def folds(self):
        """Pooled parts fitted to all but some weeks each, and which rows those are."""
        shuffled = np.random.default_rng(5).permutation(self.weeks.max() + 1)
        fold = shuffled[self.weeks] % FOLDS
        outs = [fold == number for number in range(FOLDS)]
        outs = [out for out in outs if out.any() and self.data.counts[~out].sum() > 0]
        return [(out, PooledPart.of(self, np.where(out, 0.0, self.data.weights))) for out in outs]

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
class PooledPart:
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

    def expected(self, basis):
        """Coefficients of what the pooled part says of a basis, (columns, p)."""
        told = self.design.T @ (self.pull[:, None] * basis)
        return np.column_stack([self.curve.solve(part) for part in told.T])

    def cleared(self, basis):
        """A basis without what the pooled part says of it."""
        return basis - self.design @ self.expected(basis)
