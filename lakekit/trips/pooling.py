"""Partially pooled negative-binomial counts: Laplace's method, with the pooling itself uncertain.

The model, for row i with count y, hours h and linear predictor eta:

    y ~ NB2(mu, alpha),  variance mu + alpha mu^2,  log mu = log h + X b
    b_j ~ N(0, s_k^2)   for the columns j of block k; some blocks have a fixed s
    log s_k, log alpha ~ normal, wide

The last columns may be a block of which each row has one (days): their part of the precision is
diagonal and is eliminated first, so that thousands of them cost little.

For one setting of (s, alpha) the coefficients are found by Newton's method and are treated as
normal about their mode. The settings are integrated over: their own mode and curvature give a
wide proposal, a few dozen settings are drawn from it, and each is weighed by how well it
explains the counts.

References
----------
Hilbe 2011, Negative Binomial Regression (2nd ed.), NB2 parameterisation; Tierney & Kadane 1986,
J. Am. Stat. Assoc. 81:82-86 (Laplace's method); Rue, Martino & Chopin 2009, J. R. Stat. Soc. B
71:319-392 (integration over the settings); Skaug & Fournier 2006, Comput. Stat. Data Anal.
51:699-709 (gradient of the Laplace approximation). From memory, equation numbers not checked.
"""

import ctypes
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path

import numpy as np
import scipy
from scipy import sparse
from scipy.linalg import cho_factor, cho_solve, lapack, solve_triangular
from scipy.optimize import minimize
from scipy.special import gammaln, psi

ALPHA_PRIOR = (np.log(0.9), 0.9)  # 80 % between 0.3 and 2.9; public surveys have 0.1-3
NODES = 40
PROPOSAL_FREEDOM = 7.0
PROPOSAL_WIDTH = 1.15
NEAR_ENOUGH = 1e-6  # for a setting that is only weighed
REACH = 4.5  # widths of its prior within which a setting is looked for


@cache
def _thread_counts():
    """(set, get) of the number of threads of the OpenBLAS that scipy brings along, if it does."""
    folder = Path(scipy.__file__).parents[1] / "scipy.libs"
    names = ("scipy_openblas_set_num_threads", "scipy_openblas_get_num_threads")
    found = [ctypes.CDLL(str(path)) for path in folder.glob("*openblas*")]
    return [[getattr(one, name) for name in names] for one in found if hasattr(one, names[0])]


@contextmanager
def one_thread():
    """Run what is inside with one thread of linear algebra, where scipy's build allows it.

    Matrices of a few hundred columns lose by more, on a busy machine ten times over.
    """
    before = [(put, get()) for put, get in _thread_counts()]
    for put, _ in before:
        put(1)
    try:
        yield
    finally:
        for put, number in before:
            put(number)


@dataclass(frozen=True)
class Counts:
    """Counts with their design.

    Attributes
    ----------
    counts, offset, weights : ndarray, shape (n,)
        Fish; log of effort; how much of a row counts, 0 to 1.
    design : scipy.sparse.csr_array, shape (n, p)
        Sparse also when small: dense products start threads that cost more than they save.
    single : int
        How many of the last columns form one block of which each row has one column, a 1.
    block : ndarray of int, shape (p,)
        Which spread a column has; -1: the fixed one in ``fixed_spread``.
    fixed_spread : ndarray, shape (p,)
        Prior standard deviation of the columns with block -1.
    spread_prior : ndarray, shape (blocks, 2)
        Centre and width of the normal prior of each block's log spread.
    """

    counts: np.ndarray
    offset: np.ndarray
    weights: np.ndarray
    design: sparse.csr_array
    block: np.ndarray
    fixed_spread: np.ndarray
    spread_prior: np.ndarray
    single: int = 0

    @property
    def blocks(self):
        return int(self.block.max(initial=-1)) + 1

    @property
    def kept(self):
        """Columns before the single ones."""
        return self.design.shape[1] - self.single

    @cached_property
    def products(self):
        """What turns a weight for each row into ``X' W X``, as sparse maps of the weights.

        Returns
        -------
        tuple
            Map to the lower half of the kept columns' matrix (kept * kept, n); map to the entries
            of the single columns' rows, those rows' indices and their row starts.
        """
        design, kept = self.design, self.kept
        sizes = np.diff(design.indptr)
        row = np.repeat(np.arange(len(sizes)), sizes)
        mates = sizes[row]
        first = np.repeat(np.arange(len(row)), mates)
        second = np.arange(len(first)) - np.repeat(
            np.cumsum(mates) - mates - design.indptr[row], mates
        )
        low, high = design.indices[second].astype(int), design.indices[first].astype(int)
        value, row = design.data[first] * design.data[second], row[first]
        both, linked = (high < kept) & (low <= high), (high >= kept) & (low < kept)
        square = sparse.csr_array(
            (value[both], ((high * kept + low)[both], row[both])), shape=(kept * kept, len(sizes))
        )
        used, entry = np.unique(((high - kept) * kept + low)[linked], return_inverse=True)
        across = sparse.csr_array(
            (value[linked], (entry, row[linked])), shape=(len(used), len(sizes))
        )
        starts = np.searchsorted(used, np.arange(self.single + 1) * kept)
        return square, across, used % kept if kept else used, starts

    def of_rows(self, chosen):
        """The counts of some rows, every kept column and the single columns that they use."""
        design = self.design[np.flatnonzero(chosen)]
        single = np.unique(design.indices[design.indices >= self.kept])
        columns = np.concatenate([np.arange(self.kept), single])
        return replace(
            self,
            counts=self.counts[chosen],
            offset=self.offset[chosen],
            weights=self.weights[chosen],
            design=sparse.csr_array(design[:, columns]),
            block=self.block[columns],
            fixed_spread=self.fixed_spread[columns],
            single=len(single),
        )


@dataclass(frozen=True)
class Node:
    """One setting of spreads and dispersion, its weight and the kept coefficients under it."""

    weight: float
    spreads: np.ndarray  # (blocks,)
    alpha: float
    mode: np.ndarray  # (kept,)
    root: np.ndarray  # (kept, kept) lower Cholesky factor of the precision


@dataclass(frozen=True)
class Setting:
    """The most probable logs of spreads and alpha, the slope there, and the coefficients."""

    theta: np.ndarray  # (blocks + 1,)
    slope: np.ndarray  # (blocks + 1,)
    mode: np.ndarray  # (p,)
    settled: bool = True


@dataclass(frozen=True)
class Curve:
    """The precision of all coefficients, the single ones eliminated."""

    factor: tuple  # Cholesky factor of the kept columns' precision, (kept, kept)
    link: sparse.csr_array  # (single, kept): a single column's shift per unit of a kept one
    own: np.ndarray  # (single,) precision of a single column, all others known

    def solve(self, vector):
        """Coefficients that the precision takes to ``vector``."""
        kept = len(self.factor[0])
        right = cho_solve(self.factor, vector[:kept] - self.link.T @ vector[kept:])
        return np.concatenate([right, vector[kept:] / self.own - self.link @ right])

    def half(self):
        """(G, extra): the variance is G G' + diag(extra)."""
        root, _ = lapack.dtrtri(np.tril(self.factor[0]), lower=1)
        half = np.ascontiguousarray(root.T)
        return (
            np.vstack([half, -(self.link @ half)]),
            np.concatenate([np.zeros(len(half)), 1 / self.own]),
        )

    def log_determinant(self):
        return 2 * np.log(np.diag(self.factor[0])).sum() + np.log(self.own).sum()


def negative_binomial_loglike(counts, mean, alpha):
    """Log probability of NB2 counts; shapes broadcast, ``alpha`` > 0."""
    size = 1 / alpha
    return (
        gammaln(counts + size)
        - gammaln(size)
        - gammaln(counts + 1)
        - size * np.log1p(alpha * mean)
        + np.where(counts > 0, counts * (np.log(alpha * mean) - np.log1p(alpha * mean)), 0.0)
    )


def _precision(data, spreads):
    sd = np.where(data.block >= 0, np.append(spreads, 1.0)[data.block], data.fixed_spread)
    return sd**-2.0


def find_mode(data, spreads, alpha, start=None, *, enough=1e-11):
    """Coefficients that explain the counts best under one setting.

    Parameters
    ----------
    data : Counts
    spreads : ndarray, shape (blocks,)
        Prior standard deviation of each block.
    alpha : float
        Dispersion.
    start : ndarray, shape (p,), optional
    enough : float
        Gain in log-likelihood, twice over, below which a step is the last one.

    Returns
    -------
    tuple of (ndarray, Curve, ndarray)
        Mode (p,), the precision there, and the mean of each row.
    """
    size = 1 / alpha
    precision = _precision(data, spreads)
    design, counts, weights = data.design, data.counts, data.weights
    coefficients = np.zeros(design.shape[1]) if start is None else start.copy()

    def objective(values):
        eta = data.offset + design @ values
        mean = np.exp(np.minimum(eta, 30.0))
        fit = weights @ (counts * eta - (counts + size) * np.log(size + mean))
        return fit - 0.5 * precision @ values**2, mean

    value, mean = objective(coefficients)
    for _ in range(60):
        slope = weights * (counts - mean) * size / (size + mean)
        curve = weights * (counts + size) * size * mean / (size + mean) ** 2
        gradient = design.T @ slope - precision * coefficients
        found = _curve(data, curve, precision)
        step = found.solve(gradient)
        gain = gradient @ step
        if gain < enough:
            coefficients = coefficients + step
            break
        length = 1.0
        while length > 1e-6:
            trial, trial_mean = objective(coefficients + length * step)
            if trial >= value + 1e-4 * length * gain - 1e-12 * abs(value):
                break
            length /= 2
        coefficients, value, mean = coefficients + length * step, trial, trial_mean
    return coefficients, found, mean


def _curve(data, curve, precision):
    kept = data.kept
    square, across, indices, starts = data.products
    matrix = (square @ curve).reshape(kept, kept)
    matrix[np.diag_indices_from(matrix)] += precision[:kept]
    if not data.single:
        return Curve(cho_factor(matrix, lower=True), sparse.csr_array((0, kept)), np.empty(0))
    own = data.design.T @ curve
    own = own[kept:] + precision[kept:]
    values, shape = across @ curve, (data.single, kept)
    link = sparse.csr_array(
        (values / np.repeat(own, np.diff(starts)), indices, starts), shape=shape
    )
    matrix -= (sparse.csr_array((values, indices, starts), shape=shape).T @ link).toarray()
    return Curve(factor=cho_factor(matrix, lower=True), link=link, own=own)


def _log_prior(theta, data):
    centre, width = _prior(data)
    score = (theta - centre) / width
    return -0.5 * score @ score, -score / width


def _prior(data):
    return np.vstack([data.spread_prior, ALPHA_PRIOR]).T


def log_evidence(data, theta, start=None, *, gradient=True):
    """Laplace's log evidence of a setting, its gradient, and the coefficients found.

    Parameters
    ----------
    data : Counts
    theta : ndarray, shape (blocks + 1,)
        Logs of the spreads, then of alpha.
    start : ndarray, optional
    gradient : bool
        Whether to work out the gradient.

    Returns
    -------
    tuple of (float, ndarray or None, ndarray, Curve)
        Log evidence with the settings' prior, gradient (blocks + 1,), mode, precision.
    """
    blocks = data.blocks
    spreads, alpha = np.exp(theta[:blocks]), np.exp(theta[-1])
    size = 1 / alpha
    enough = 1e-11 if gradient else NEAR_ENOUGH
    mode, curve, mean = find_mode(data, spreads, alpha, start, enough=enough)
    precision = _precision(data, spreads)
    y, weights = data.counts, data.weights
    fit = weights @ negative_binomial_loglike(y, mean, alpha)
    prior, prior_slope = _log_prior(theta, data)
    value = (
        fit
        - 0.5 * precision @ mode**2
        + 0.5 * np.log(precision).sum()
        - 0.5 * curve.log_determinant()
        + prior
    )
    if not gradient:
        return value, None, mode, curve
    half, extra = curve.half()
    variance = (half**2).sum(axis=1) + extra
    total = size + mean
    leverage = _leverage(data.design, half) + data.design @ extra
    third = weights * (y + size) * size * mean * (size - mean) / total**3
    pull = data.design.T @ (leverage * third)  # d log|H| / d mode
    slope = np.empty(blocks + 1)
    for k in range(blocks):
        of = data.block == k
        own = precision[of]
        push = np.zeros(len(mode))
        push[of] = 2 * own * mode[of]
        slope[k] = (
            own @ mode[of] ** 2 - of.sum() + own @ variance[of] - 0.5 * pull @ curve.solve(push)
        )
    fit_by_size = weights @ (
        psi(y + size) - psi(size) + np.log(size) + 1 - np.log(total) - (y + size) / total
    )
    curve_by_size = weights * mean * ((y + 2 * size) * total - 2 * size * (y + size)) / total**3
    move = curve.solve(data.design.T @ (weights * (y - mean) * mean / total**2))
    slope[-1] = -size * (fit_by_size - 0.5 * leverage @ curve_by_size - 0.5 * pull @ move)
    return value, slope + prior_slope, mode, curve


def _leverage(design, half):
    leverage = np.empty(design.shape[0])
    for first in range(0, design.shape[0], 2000):
        scaled = design[first : first + 2000] @ half
        leverage[first : first + 2000] = (scaled**2).sum(axis=1)
    return leverage


def settle(data, start=None):
    """The most probable setting and the coefficients under it.

    Parameters
    ----------
    data : Counts
    start : Setting, optional
        Of much the same counts.

    Returns
    -------
    Setting
    """
    centre, width = _prior(data)
    state = {"mode": None if start is None else start.mode}

    def cost(theta):
        value, slope, state["mode"], _ = log_evidence(data, theta, state["mode"])
        return -value, -slope

    best = minimize(
        cost,
        centre if start is None else start.theta,
        jac=True,
        method="L-BFGS-B",
        bounds=list(zip(centre - REACH * width, centre + REACH * width, strict=True)),
        options={"maxiter": 60, "ftol": 1e-7, "gtol": 1e-3},
    )
    if not np.isfinite(best.fun):
        raise FloatingPointError("the pooled fit has no value: check the counts and hours")
    slope = -cost(best.x)[1]
    return Setting(theta=best.x, slope=slope, mode=state["mode"], settled=bool(best.success))


def integrate(data, top, *, seed=0, nodes=NODES):
    """Weighted settings that together stand for the posterior.

    Parameters
    ----------
    data : Counts
    top : Setting
        The most probable one, from ``settle``.
    seed : int
    nodes : int
        Settings to draw about it.

    Returns
    -------
    list of Node
        Weights add to one.
    """
    centre, width = _prior(data)
    lows, highs = centre - REACH * width, centre + REACH * width
    size = len(centre)
    curvature = np.empty((size, size))
    for k, move in enumerate(0.05 * np.eye(size)):
        slope = log_evidence(data, top.theta + move, top.mode)[1]
        curvature[k] = (top.slope - slope) / 0.05
    curvature = (curvature + curvature.T) / 2
    values, vectors = np.linalg.eigh(curvature)
    values = np.clip(values, 0.5 / width.max() ** 2, None)
    scale = vectors * (PROPOSAL_WIDTH / np.sqrt(values))
    draws = _proposals(size, nodes, seed)
    found = []
    for draw in draws:
        theta = np.clip(top.theta + scale @ draw, lows, highs)
        value, _, mode, curve = log_evidence(data, theta, top.mode, gradient=False)
        density = -0.5 * (PROPOSAL_FREEDOM + size) * np.log1p(draw @ draw / PROPOSAL_FREEDOM)
        found.append((value - density, theta, mode[: data.kept], np.tril(curve.factor[0])))
    logs = np.array([item[0] for item in found])
    weights = np.exp(logs - logs.max())
    weights = np.minimum(weights, weights.mean() * np.sqrt(nodes))
    weights /= weights.sum()
    return [
        Node(
            weight=float(weight),
            spreads=np.exp(theta[:-1]),
            alpha=float(np.exp(theta[-1])),
            mode=mode,
            root=root,
        )
        for weight, (_, theta, mode, root) in zip(weights, found, strict=True)
    ]


def refit(data, nodes, start):
    """Nodes of ``integrate`` on part of the rows, with the coefficients that all rows give."""
    found = []
    for node in nodes:
        start, curve, _ = find_mode(data, node.spreads, node.alpha, start, enough=NEAR_ENOUGH)
        found.append(replace(node, mode=start[: data.kept], root=np.tril(curve.factor[0])))
    return found


def _proposals(size, nodes, seed):
    random = np.random.default_rng([seed, 7])
    half = random.standard_normal((nodes // 2, size))
    stretch = np.sqrt(PROPOSAL_FREEDOM / random.chisquare(PROPOSAL_FREEDOM, nodes // 2))
    half *= stretch[:, None]
    return np.concatenate([half, -half])


def draw_coefficients(nodes, draws, *, seed=0):
    """Draws of coefficients and settings from the posterior.

    Parameters
    ----------
    nodes : list of Node
    draws : int
    seed : int

    Returns
    -------
    tuple of ndarray
        Coefficients (draws, p), spreads (draws, blocks), alpha (draws,).
    """
    random = np.random.default_rng([seed, 11])
    weights = np.array([node.weight for node in nodes])
    places = (np.arange(draws) + random.random()) / draws
    chosen = np.minimum(np.searchsorted(np.cumsum(weights), places), len(nodes) - 1)
    normal = random.standard_normal((draws, len(nodes[0].mode)))
    coefficients = np.empty_like(normal)
    for index in np.unique(chosen):
        of, node = chosen == index, nodes[index]
        coefficients[of] = (
            node.mode + solve_triangular(node.root, normal[of].T, lower=True, trans="T").T
        )
    spreads = np.array([node.spreads for node in nodes])[chosen]
    alpha = np.array([node.alpha for node in nodes])[chosen]
    return coefficients, spreads, alpha
