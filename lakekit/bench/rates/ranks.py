"""Ways to choose a tactic from the posterior, each to be scored beside plain totals."""

import numpy as np

from lakekit.trips.answers import FEWEST_OUTINGS, RELIED


def guarded(draws, outings):
    """The middle rate; under a few outings, the rate beaten with 4 chances in 5."""
    low, middle = np.quantile(draws, [RELIED, 0.5], axis=1)
    return np.where(outings < FEWEST_OUTINGS, low, middle)


# name -> score of each tactic from its draws of log rate in a phase and lake, (tactics, draws),
# and its outings in the log, (tactics,)
RANKS = {
    "guarded": guarded,
    "cautious": lambda draws, outings: np.quantile(draws, RELIED, axis=1),
    "middle": lambda draws, outings: np.median(draws, axis=1),
    "mean": lambda draws, outings: np.exp(draws).mean(axis=1),
    "least_regret": lambda draws, outings: np.exp(draws - draws.max(axis=0)).mean(axis=1),
    "best_chance": lambda draws, outings: np.bincount(draws.argmax(axis=0), minlength=len(draws)),
}
RANK_NAMES = (*RANKS, "tactic_alone")


def rank_scores(draws, whole, outings):
    """Every rank's score of each tactic.

    Parameters
    ----------
    draws : ndarray, shape (tactics, draws)
        Log rates in one phase and lake.
    whole : ndarray, shape (tactics, draws)
        Their means over all phases and lakes.
    outings : ndarray, shape (tactics,)

    Returns
    -------
    dict of str to ndarray, shape (tactics,)
    """
    scores = {name: rank(draws, outings) for name, rank in RANKS.items()}
    return scores | {"tactic_alone": np.median(whole, axis=1)}
