"""Whether outings without a fish were left out of a log: too few zeros for its dispersion."""

import numpy as np
from scipy.optimize import minimize

from lakekit.trips.pooling import ALPHA_PRIOR, negative_binomial_loglike

FEWEST_ROWS = 15
FEWEST_MISSING = 4.0
CHANCE = 0.05


def suspect_blanks(counts, mean, *, seed=0):
    """Compare the zeros of a log with what its other rows lead one to expect.

    The rows with fish alone are fitted as zero-truncated negative-binomial counts, their means
    in proportion to the fitted ones; that says how many zeros belong beside them.

    Parameters
    ----------
    counts, mean : ndarray, shape (n,)
        Fish, and fitted fish, of each row.
    seed : int

    Returns
    -------
    dict
        ``suspected`` (bool), ``zeros`` (in the log), ``expected`` (median), ``chance`` (of so few
        zeros), ``text``.

    References
    ----------
    Hilbe 2011, Negative Binomial Regression (2nd ed.), chapter 11 (zero-truncated counts; from
    memory).
    """
    zeros, with_fish = int((counts == 0).sum()), counts > 0
    answer = {"suspected": False, "zeros": zeros, "expected": np.nan, "chance": np.nan, "text": ""}
    if len(counts) < FEWEST_ROWS or with_fish.sum() < FEWEST_ROWS // 2:
        return answer
    y, base = counts[with_fish], mean[with_fish]

    def cost(theta):
        scaled, alpha = base * np.exp(theta[0]), np.exp(theta[1])
        none = negative_binomial_loglike(0.0, scaled, alpha)
        fit = negative_binomial_loglike(y, scaled, alpha) - np.log(-np.expm1(none))
        prior = ((theta[1] - ALPHA_PRIOR[0]) / ALPHA_PRIOR[1]) ** 2 / 2 + theta[0] ** 2 / 2
        return prior - fit.sum()

    found = minimize(cost, [0.0, ALPHA_PRIOR[0]], method="Nelder-Mead",
                     options={"xatol": 1e-6, "fatol": 1e-8})
    spread = np.linalg.inv(_curvature(cost, found.x))
    random = np.random.default_rng([seed, 31])
    draws = random.multivariate_normal(found.x, spread, size=400)
    none = np.exp(negative_binomial_loglike(
        0.0, base * np.exp(draws[:, :1]), np.exp(draws[:, 1:])))
    expected = (none / (1 - none)).sum(axis=1)
    future = random.poisson(np.minimum(expected, 1e6))
    chance, middle = float(np.mean(future <= zeros)), float(np.median(expected))
    suspected = chance < CHANCE and middle - zeros >= FEWEST_MISSING
    text = (f"Trips without a fish seem to be missing: {zeros} are logged where about "
            f"{middle:.0f} would be usual beside the rest. If so, every rate here is too high.")
    return answer | {"suspected": suspected, "expected": middle, "chance": chance,
                     "text": text if suspected else ""}


def _curvature(cost, at, step=1e-3):
    size, centre = len(at), cost(at)
    matrix = np.empty((size, size))
    moves = np.eye(size) * step
    for i in range(size):
        for j in range(size):
            matrix[i, j] = (cost(at + moves[i] + moves[j]) - cost(at + moves[i] - moves[j])
                            - cost(at - moves[i] + moves[j]) + cost(at - moves[i] - moves[j]))
    matrix /= 4 * step**2
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2)
    values = np.maximum(values, 0.25)
    if not np.isfinite(centre):
        raise FloatingPointError("the truncated fit has no value at its optimum")
    return (vectors * values) @ vectors.T
