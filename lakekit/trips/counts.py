"""Plain count models with effort, through statsmodels, with the checks it leaves to the user."""

import warnings
from dataclasses import dataclass

import numpy as np
import statsmodels.api as sm
from scipy.optimize import minimize
from scipy.special import gammaln
from statsmodels.tools.sm_exceptions import (
    ConvergenceWarning,
    HessianInversionWarning,
    PerfectSeparationWarning,
)

ABSURD_ERROR = 10.0  # a standard error of a log rate: a factor of 20,000 either way
FAILURES = (ConvergenceWarning, HessianInversionWarning, PerfectSeparationWarning)


class CountsError(ValueError):
    """Counts that a plain model cannot answer for; the message names the remedy."""


@dataclass(frozen=True)
class CountFit:
    """A fitted count model: coefficients and errors by name, dispersion, log-likelihood."""

    coefficients: dict
    errors: dict
    alpha: float  # NB2 dispersion; 0 for Poisson
    loglike: float
    deviance: float
    pearson: float
    residual_freedom: int


def check_counts(counts, effort, design, names):
    """Refuse what would come back as nonsense without a warning.

    Parameters
    ----------
    counts, effort : ndarray, shape (n,)
    design : ndarray, shape (n, p)
    names : sequence of str

    Raises
    ------
    CountsError
        No rows; effort of zero or missing; a count that is none; all zeros; a group without a
        count (its coefficient would run to minus infinity); columns that repeat each other.
    """
    if len(counts) == 0:
        raise CountsError("no rows to fit: log some outings first")
    if len(counts) != len(effort) or len(design) != len(counts):
        raise CountsError("counts, effort and design differ in length")
    if not (np.isfinite(effort).all() and (effort > 0).all()):
        raise CountsError("effort is zero or missing in some row: leave it out or fill it in")
    if not np.isfinite(counts).all() or (counts < 0).any():
        raise CountsError("a count is missing or negative: leave the row out or mend it")
    if not np.isfinite(design).all():
        raise CountsError("a covariate is missing in some row: leave it out or fill it in")
    if counts.sum() == 0:
        raise CountsError("no fish in any row: pool with other rows, no rate can be fitted")
    for name, column in zip(names, design.T, strict=True):
        if set(np.unique(column)) == {0.0, 1.0} and counts[column == 1].sum() == 0:
            raise CountsError(f"no fish in any row of {name!r}: pool it with others, or shrink")
    size = np.linalg.norm(design, axis=0)
    if (size == 0).any() or np.linalg.matrix_rank(design / size) < design.shape[1]:
        raise CountsError("columns repeat each other: drop one of them")


def fit_counts(counts, effort, design, names, *, family="negative binomial"):
    """Fit log-linear counts with log effort as the offset.

    Parameters
    ----------
    counts : ndarray, shape (n,)
    effort : ndarray, shape (n,)
        Hours, above 0.
    design : ndarray, shape (n, p)
        With a column of ones for the constant.
    names : sequence of str, length p
    family : str
        "negative binomial" (NB2, dispersion estimated by maximum likelihood) or "poisson".

    Returns
    -------
    CountFit

    Raises
    ------
    CountsError
        As ``check_counts``, or when the fit does not settle or its errors are absurd.

    References
    ----------
    McCullagh & Nelder 1989, Generalized Linear Models (2nd ed.), section 6.3.2 (counts with
    service as the offset); statsmodels 0.14 and later.
    """
    counts, effort, design = (np.asarray(a, dtype="float64") for a in (counts, effort, design))
    check_counts(counts, effort, design, names)
    offset = np.log(effort)
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        for failure in FAILURES:
            warnings.simplefilter("error", failure)
        try:
            poisson = sm.GLM(counts, design, family=sm.families.Poisson(), offset=offset).fit()
            result, alpha = poisson, 0.0
            if family == "negative binomial":
                start = np.append(poisson.params, 0.5)
                model = sm.NegativeBinomial(counts, design, offset=offset, check_rank=False)
                result = model.fit(start_params=start, method="bfgs", maxiter=500, disp=0)
                alpha = float(result.params[-1])
        except (*FAILURES, np.linalg.LinAlgError) as error:
            raise CountsError(f"the fit did not settle ({type(error).__name__}): use fewer "
                              "columns, or shrink") from None
    size = design.shape[1]
    errors = np.asarray(result.bse)[:size]
    if int(result.nobs) != len(counts):
        raise CountsError("the fit has dropped rows")
    if not np.isfinite(errors).all() or errors.max() > ABSURD_ERROR:
        raise CountsError("errors of the fit are absurd: use fewer columns, or shrink")
    mean = np.exp(design @ np.asarray(result.params)[:size] + offset)
    pearson = float(((counts - mean) ** 2 / (mean + alpha * mean**2)).sum())
    return CountFit(
        coefficients=dict(zip(names, map(float, np.asarray(result.params)[:size]), strict=True)),
        errors=dict(zip(names, map(float, errors), strict=True)),
        alpha=alpha, loglike=float(result.llf), deviance=float(poisson.deviance),
        pearson=pearson, residual_freedom=len(counts) - size,
    )


def gamma_poisson(counts, exposure):
    """Rates of groups shrunk toward what they share: empirical-Bayes gamma-Poisson.

    Parameters
    ----------
    counts, exposure : ndarray, shape (n,)
        One group each; exposure above 0.

    Returns
    -------
    tuple of (float, float, ndarray, float)
        Gamma shape, gamma rate [same unit as exposure], shrunken rates
        ``(counts + shape) / (exposure + rate)``, and the log-likelihood.

    References
    ----------
    Gaver & O'Muircheartaigh 1987, Technometrics 29:1-15 (the pumps); George, Makov & Smith 1993,
    Scand. J. Stat. 20:147-156.
    """
    counts, exposure = np.asarray(counts, dtype=float), np.asarray(exposure, dtype=float)
    if not (exposure > 0).all() or counts.sum() <= 0:
        raise CountsError("gamma-Poisson shrinkage needs exposure in each group and some counts")

    def cost(log_values):
        shape, rate = np.exp(log_values)
        chance = exposure / (exposure + rate)
        return -(gammaln(counts + shape) - gammaln(shape) - gammaln(counts + 1)
                 + shape * np.log1p(-chance) + counts * np.log(chance)).sum()

    start = np.log([1.0, exposure.sum() / counts.sum()])
    found = minimize(cost, start, method="Nelder-Mead",
                     options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000})
    shape, rate = np.exp(found.x)
    return float(shape), float(rate), (counts + shape) / (exposure + rate), float(-found.fun)


def free_effort_exponents(trips):
    """How fish really grew with hours and rods in a log, as a plain fit has it.

    Parameters
    ----------
    trips : pandas.DataFrame
        ``fish``, ``hours``, ``rods``.

    Returns
    -------
    dict
        "hours" and "rods" to (exponent, standard error): 1 means twice the effort, twice the
        fish. A kind of effort that hardly varies is left out.

    Raises
    ------
    CountsError
        As ``fit_counts``.
    """
    design, names = [np.ones(len(trips))], ["constant"]
    for name in ("hours", "rods"):
        values = np.log(trips[name].to_numpy(dtype="float64"))
        if values.std() > 0.05:
            design.append(values - values.mean())
            names.append(name)
    fit = fit_counts(trips["fish"], np.ones(len(trips)), np.column_stack(design), names)
    return {name: (fit.coefficients[name], fit.errors[name]) for name in names[1:]}
