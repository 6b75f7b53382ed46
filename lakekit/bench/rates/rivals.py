"""What the pooled rates must beat: raw totals, one pooled constant, one-line shrinkage."""

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar

from lakekit.trips.pooling import negative_binomial_loglike

GRID = (0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256)  # rod-hours of the one-line shrinkage
RIVALS = {
    "raw_totals": ("raw", ("tactic", "phase")),
    "raw_tactic_totals": ("raw", ("tactic",)),
    "pooled_constant": ("constant", ()),
    "shrunk_cells": ("shrunk", ("tactic", "phase")),
    "shrunk_tactics": ("shrunk", ("tactic",)),
}


def fitted_alpha(fish, mean):
    """The dispersion that suits given means best."""
    found = minimize_scalar(
        lambda value: -negative_binomial_loglike(fish, mean, np.exp(value)).sum(),
        bounds=(-4.0, 3.0),
        method="bounded",
    )
    return float(np.exp(found.x))


class Rival:
    """Fish per rod-hour by cell, and the dispersion that goes with it.

    Raw totals take half a fish where there was none, so that a score exists; a cell without
    effort takes the pooled constant. The one-line shrinkage ``(fish + k m) / (hours + k)`` gets
    the k that predicts each row of its own log best from the others.
    """

    def __init__(self, name, rows):
        self.kind, self.by = RIVALS[name]
        self.constant = (rows["fish"].sum() + 0.5) / (rows["hours"] * rows["rods"]).sum()
        effort, fish = (rows["hours"] * rows["rods"]).to_numpy(), rows["fish"].to_numpy()
        self.cells, self.k = None, None
        if self.kind == "constant":
            self.alpha = fitted_alpha(fish, self.constant * effort)
            return
        keys = [rows[name] for name in self.by]
        table = pd.DataFrame({"fish": fish, "effort": effort}).groupby(keys, sort=False)
        sums = table.transform("sum")
        self.cells = table.sum()
        if self.kind == "raw":
            mean = np.maximum(sums["fish"], 0.5) / sums["effort"] * effort
            self.alpha = fitted_alpha(fish, mean.to_numpy())
            return
        best = -np.inf
        for k in GRID:
            others = (sums["fish"] - fish + k * self.constant) / (sums["effort"] - effort + k)
            mean = (others * effort).to_numpy()
            alpha = fitted_alpha(fish, mean)
            score = negative_binomial_loglike(fish, mean, alpha).sum()
            if score > best:
                best, self.k, self.alpha = score, k, alpha

    def rates(self, rows, *, score=True):
        """Fish per rod-hour of each row's cell; for choosing (not score) a raw zero stays zero."""
        if self.kind == "constant":
            return np.full(len(rows), self.constant)
        names = list(self.by)
        index = (
            pd.MultiIndex.from_frame(rows[names]) if len(names) > 1 else pd.Index(rows[names[0]])
        )
        cells = self.cells.reindex(index)
        fish, effort = cells["fish"].to_numpy(), cells["effort"].to_numpy()
        known = np.isfinite(effort)
        if self.kind == "shrunk":
            fish, effort = np.nan_to_num(fish), np.nan_to_num(effort)
            return (fish + self.k * self.constant) / (effort + self.k)
        if score:
            return np.where(
                known, np.maximum(fish, 0.5) / np.where(known, effort, 1.0), self.constant
            )
        return np.where(known, fish / np.where(known, effort, 1.0), -1.0)

    def log_scores(self, rows):
        """Log probability of each row's fish."""
        mean = self.rates(rows) * (rows["hours"] * rows["rods"]).to_numpy()
        return negative_binomial_loglike(rows["fish"].to_numpy(), mean, self.alpha)
