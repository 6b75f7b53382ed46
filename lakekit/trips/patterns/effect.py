"""What told patterns do to a tactic's rate where the water ahead is known."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag

from lakekit.errors import TripsError
from lakekit.trips.design import BLOCKS
from lakekit.trips.patterns.candidates import BY_NAME, Smooth
from lakekit.trips.patterns.pooled import PooledLog, PooledPart, fit_counts

# log spread that an effect is expected to have over a log's rows: doubled between usual extremes.
# It takes back part of what a strong showing owes to luck (common practice, no source)
USUAL_SIZE = np.log(2.0) / 2
# what a half-month's computed water knows; a front, the wind or the hour it does not
AHEAD = (
    "surface_temperature",
    "thermocline_depth",
    "bait_below_thermocline",
    "bait_below_start",
    "oxygen_floor_depth",
)


@dataclass(frozen=True)
class Effect:
    """Told patterns as a factor on rates, beside what the log met with a tactic on its lake.

    ``names``: the patterns; ``smooths`` and ``reach``: their smooths, and the values (low, high)
    beyond which the log says nothing; ``coefficients`` (k,) and ``spread`` (k, k) of their
    columns; ``expected`` (columns of the pooled part, k): their columns as the log met them;
    ``columns``: block of the pooled part -> words -> column; ``outings``: on which each is known.
    """

    names: tuple
    smooths: tuple
    reach: tuple
    coefficients: np.ndarray
    spread: np.ndarray
    expected: np.ndarray
    columns: dict
    outings: tuple

    def shift(self, met, *, lake, phase, tactic):
        """Columns of the conditions met less those the log met with a tactic: (k,).

        Parameters
        ----------
        met : dict
            Candidate -> its value, in the unit of ``CANDIDATES``; what is not known may be absent
            or NaN, and shifts nothing.
        lake, phase, tactic : str
        """
        words = {"lake": lake, "phase": phase, "tactic": tactic}
        row = np.zeros(len(self.expected))
        row[0] = 1.0
        for block, columns in self.columns.items():
            column = columns.get(tuple(words.get(factor) for factor in BLOCKS[block][0]))
            if column is not None:
                row[column] = 1.0
        usual, parts, at = row @ self.expected, [], 0
        for name, smooth, (low, high) in zip(self.names, self.smooths, self.reach, strict=True):
            value = met.get(name, np.nan)
            here = smooth.basis(np.array([np.clip(value, low, high)]))[0]
            parts.append((here - usual[at : at + here.size]) * np.isfinite(value))
            at += here.size
        return np.concatenate(parts)

    def log_factor(self, met, *, lake, phase, tactic, draws, seed=0):
        """Draws of what the conditions met add to a tactic's log rate.

        Parameters
        ----------
        met, lake, phase, tactic
            As for ``shift``.
        draws : int
        seed : int
            The same for all tactics to be weighed against each other.

        Returns
        -------
        ndarray, shape (draws,)
            Exactly 0 where nothing that was told is known.
        """
        drawn = np.random.default_rng([seed, 37]).multivariate_normal(
            self.coefficients, self.spread, size=draws, method="cholesky"
        )
        return drawn @ self.shift(met, lake=lake, phase=phase, tactic=tactic)


def pattern_effect(found, club, *, names=AHEAD):
    """The told patterns among some candidates, as one effect.

    Parameters
    ----------
    found : lakekit.trips.patterns.find.Patterns
    club : lakekit.club.Club
    names : sequence of str
        Candidates whose value will be known where the effect is asked.

    Returns
    -------
    Effect or None
        None where no such pattern is told, or where together they do not settle.
    """
    told = [pattern for pattern in found.told if pattern.name in names]
    if not told:
        return None
    log = PooledLog.of(found.rows, club)
    smooths, own, expected, tight = [], [], [], []
    for pattern in told:
        values = found.values[pattern.name].to_numpy()
        smooth = Smooth.over(values, by_log=BY_NAME[pattern.name].by_log)
        known, basis = np.isfinite(values), smooth.basis(values)
        # what the log met is learnt from the rows that say so alone
        part = PooledPart.of(log, np.where(known, log.data.weights, 0.0))
        usual = part.expected(basis)
        cleared = np.where(known[:, None], basis - log.data.design @ usual, 0.0)
        size = cleared.shape[1]
        smooths.append(smooth)
        own.append(cleared)
        expected.append(usual)
        tight.append(cleared.T @ cleared / known.sum() / (size * USUAL_SIZE**2))
    own, expected = np.column_stack(own), np.column_stack(expected)
    try:
        fit, _ = fit_counts(
            log.data.counts, log.whole.eta, own, alpha=log.alpha, clusters=log.weeks
        )
        precision = np.linalg.inv(fit.cov_params())
    except (TripsError, np.linalg.LinAlgError):
        return None
    spread = np.linalg.inv(precision + block_diag(*tight))
    return Effect(
        names=tuple(pattern.name for pattern in told),
        smooths=tuple(smooths),
        reach=tuple(
            tuple(np.nanquantile(found.values[pattern.name], [0.05, 0.95])) for pattern in told
        ),
        coefficients=spread @ precision @ fit.params,
        spread=spread,
        expected=expected,
        columns=log.columns,
        outings=tuple(pattern.outings for pattern in told),
    )
