"""Whether a log can be taken at its word: blanks left out of it, and one row that carries it."""

import numpy as np
from scipy.optimize import minimize
from scipy.stats import nbinom

from lakekit.trips.pooling import ALPHA_PRIOR, negative_binomial_loglike

FEWEST_ROWS = 20
MOST_ROWS = 2000  # of a longer log so many, evenly spread, are looked at
LEAST_MEAN = 0.1  # fish: shorter outings say next to nothing of blanks, and much by accident
TOO_FEW = 2.0  # signed root of the likelihood ratio from which blanks are called missing
KEPT_AT_MOST = 0.3  # share of its blanks that a log called incomplete seems to hold: luck with a
# heavier tail than the negative binomial's looks like a few blanks missing
ONE_IN = 2000  # logs like the others of which one would hold such a row
LEAST_SHARE = 0.25  # of all fish, from which a row is worth a note
FREEDOM = ((0.0, 1.0), (1.0, 0.3), ALPHA_PRIOR)  # level, exponent of the mean, log alpha


def _evenly(count):
    return slice(None, None, max(1, -(-count // MOST_ROWS)))


def suspect_blanks(counts, mean):
    """Test whether outings without a fish were left out of a log.

    Two accounts of the rows are compared by their likelihood: negative-binomial counts, and the
    same counts of which only a share of the zeros was written down. Level, exponent of the mean
    and dispersion are free in both.

    Parameters
    ----------
    counts, mean : ndarray, shape (n,)
        Fish, and fitted fish, of each row.

    Returns
    -------
    dict
        ``suspected`` (bool), ``zeros`` (in the log), ``expected`` (that would be usual), ``kept``
        (share of its blanks that the log seems to hold), ``score`` (signed root of the
        likelihood ratio; above 0 where zeros are too few), ``text``. The bench prints how often
        it is suspected of complete logs (under 5 in 100) and of others.

    References
    ----------
    Cox & Hinkley 1974, Theoretical Statistics, section 9.3 (likelihood ratio; from memory).
    """
    zeros = int((counts == 0).sum())
    answer = {
        "suspected": False,
        "zeros": zeros,
        "expected": np.nan,
        "kept": np.nan,
        "score": np.nan,
        "text": "",
    }
    told = mean >= LEAST_MEAN
    y, base = counts[told][_evenly(told.sum())], np.log(mean[told][_evenly(told.sum())])
    if len(y) < FEWEST_ROWS or (y > 0).sum() < FEWEST_ROWS // 2:
        return answer
    base = base - base.mean()
    start = np.log(max(y.mean(), 0.1))

    def cost(theta, log_kept):
        scaled, alpha = np.exp(start + theta[0] + theta[1] * base), np.exp(theta[2])
        none = np.exp(negative_binomial_loglike(0.0, scaled, alpha))
        seen = np.log1p(-none * -np.expm1(log_kept))
        fit = negative_binomial_loglike(y, scaled, alpha) + np.where(y == 0, log_kept, 0.0) - seen
        prior = sum(
            ((value - centre) / width) ** 2 / 2
            for value, (centre, width) in zip(theta, FREEDOM, strict=True)
        )
        return prior - fit.sum()

    options = {"xatol": 1e-3, "fatol": 1e-4}
    plain = minimize(
        lambda theta: cost(theta, 0.0),
        [0.0, 1.0, ALPHA_PRIOR[0]],
        method="Nelder-Mead",
        options=options,
    )
    thinned = minimize(
        lambda theta: cost(theta[:3], np.clip(theta[3], -4.0, 2.0)),
        [*plain.x, -0.2],
        method="Nelder-Mead",
        options=options,
    )
    log_kept = float(np.clip(thinned.x[3], -4.0, 2.0))
    kept = float(np.exp(log_kept))
    score = float(np.sqrt(max(0.0, 2 * (plain.fun - thinned.fun))) * -np.sign(log_kept))
    level, exponent, log_alpha = thinned.x[:3]
    none = np.exp(
        negative_binomial_loglike(0.0, np.exp(start + level + exponent * base), np.exp(log_alpha))
    )
    missing = ((1 - kept) * none / (1 - none * (1 - kept))).sum() * told.sum() / len(y)
    expected = float(zeros + missing)
    suspected = score > TOO_FEW and kept < KEPT_AT_MOST
    text = (
        f"Trips without a fish seem to be missing: {zeros} are logged where about "
        f"{expected:.0f} would be usual beside the rest. If so, every rate here is too high. "
        "(Of complete logs fewer than 1 in 20 get this note.)"
    )
    return answer | {
        "suspected": bool(suspected),
        "expected": expected,
        "kept": kept,
        "score": score,
        "text": text if suspected else "",
    }


def loud_row(counts, effort):
    """The row with most fish, where it is out of keeping with all the others.

    Parameters
    ----------
    counts, effort : ndarray, shape (n,)
        Fish of each row, and what they are taken to grow in step with.

    Returns
    -------
    int or None
        Its place; None where counts like the others' would have such a row in more than one log
        of ``ONE_IN``, where it is no great share of the fish, or where others are too few to say.
    """
    if len(counts) < FEWEST_ROWS // 2 or not counts.max() > LEAST_SHARE * counts.sum():
        return None
    place = int(np.argmax(counts))
    others = np.arange(len(counts)) != place
    y, mean = counts[others], effort[others] * max(counts[others].sum(), 0.5) / effort[others].sum()
    part = _evenly(len(y))

    def cost(theta):
        fit = negative_binomial_loglike(y[part], mean[part] * np.exp(theta[0]), np.exp(theta[1]))
        return (((theta[1] - ALPHA_PRIOR[0]) / ALPHA_PRIOR[1]) ** 2 + theta[0] ** 2) / 2 - fit.sum()

    level, log_alpha = minimize(
        cost, [0.0, ALPHA_PRIOR[0]], method="Nelder-Mead", options={"xatol": 1e-3, "fatol": 1e-4}
    ).x
    usual = mean.sum() / effort[others].sum() * effort[place] * np.exp(level)
    size = np.exp(-log_alpha)
    chance = len(counts) * nbinom.sf(counts[place] - 1, size, size / (size + usual))
    return place if chance < 1 / ONE_IN else None
