"""Ways to choose a tactic from the posterior, each to be scored beside plain totals."""

import numpy as np

from lakekit.trips.answers import RELIED


def least_regret(draws):
    """Less the share of the best rate that each tactic is expected to lose."""
    return np.exp(draws - draws.max(axis=0)).mean(axis=1)


# name -> score of each tactic from its draws of log rate in a phase and lake (tactics, draws)
RANKS = {
    "relied": lambda draws: np.quantile(draws, RELIED, axis=1),
    "middle": lambda draws: np.median(draws, axis=1),
    "mean": lambda draws: np.exp(draws).mean(axis=1),
    "least_regret": least_regret,
    "best_chance": lambda draws: np.bincount(draws.argmax(axis=0), minlength=len(draws)),
}


def rank_scores(draws, whole):
    """Every rank's score of each tactic.

    Parameters
    ----------
    draws : ndarray, shape (tactics, draws)
        Log rates in one phase and lake.
    whole : ndarray, shape (tactics, draws)
        Their means over all phases and lakes.

    Returns
    -------
    dict of str to ndarray, shape (tactics,)
    """
    scores = {name: rank(draws) for name, rank in RANKS.items()}
    return scores | {"tactic_alone": np.median(whole, axis=1)}


RANK_NAMES = (*RANKS, "tactic_alone")
