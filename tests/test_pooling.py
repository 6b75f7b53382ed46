"""The pooled fit: its gradient, its limits, and the distribution it draws from."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate as quadrature
from scipy import sparse
from scipy.stats import nbinom

from lakekit.trips.pooling import (
    ALPHA_PRIOR,
    REACH,
    Counts,
    Node,
    Setting,
    _leverage,
    _thread_counts,
    draw_coefficients,
    find_mode,
    integrate,
    log_evidence,
    negative_binomial_loglike,
    one_thread,
    refit,
    settle,
)


def groups(count=60, levels=6, *, seed=0, weights=None, single=0):
    random = np.random.default_rng(seed)
    code = random.integers(0, levels, count)
    other = random.integers(0, 3, count)
    design = np.column_stack(
        [np.ones(count), random.normal(size=count), np.eye(levels)[code], np.eye(3)[other]]
    )
    hours = random.gamma(3, 1, count) + 0.2
    effect = random.normal(0, 0.6, levels)
    fish = random.poisson(hours * np.exp(0.3 + effect[code]) * random.gamma(1.5, 1 / 1.5, count))
    block = np.array([-1, -1] + [0] * levels + [1] * 3 + [2] * single)
    if single:
        design = np.hstack([design, np.eye(single)[np.arange(count) * single // count]])
    return Counts(
        counts=fish.astype(float),
        offset=np.log(hours),
        weights=np.ones(count) if weights is None else weights,
        design=sparse.csr_array(design),
        block=block,
        fixed_spread=np.where(block == -1, 1.5, 1.0),
        spread_prior=np.array([[np.log(0.5), 0.7], [np.log(0.3), 0.7], [np.log(0.3), 0.7]])[
            : 3 if single else 2
        ],
        single=single,
    )


def test_loglike_is_the_negative_binomial_of_scipy():
    counts, mean, alpha = np.arange(12.0), 2.3, 0.7
    assert negative_binomial_loglike(counts, mean, alpha) == pytest.approx(
        nbinom.logpmf(counts, 1 / alpha, 1 / (1 + alpha * mean)), rel=1e-12
    )


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("single", [0, 25, 60])
def test_gradient_of_the_evidence_is_its_slope(weighted, single):
    weights = np.random.default_rng(5).uniform(0.3, 1, 60) if weighted else None
    data = groups(weights=weights, single=single)
    theta = np.log([0.4, 0.2, 0.3, 0.8] if single else [0.4, 0.2, 0.8])
    _, slope, _, _ = log_evidence(data, theta)
    for k, step in enumerate(1e-4 * np.eye(len(theta))):
        up, down = (log_evidence(data, theta + move)[0] for move in (step, -step))
        assert slope[k] == pytest.approx((up - down) / 2e-4, rel=1e-5, abs=1e-6)


def test_a_setting_that_is_only_weighed_is_weighed_near_enough():
    data, theta = groups(single=25), np.log([0.4, 0.2, 0.3, 0.8])
    assert log_evidence(data, theta, gradient=False)[0] == pytest.approx(
        log_evidence(data, theta)[0], abs=2e-3
    )


def test_single_columns_are_eliminated_without_changing_the_answer():
    """The same block as ordinary columns gives the same evidence, mode and precision."""
    apart = groups(single=25)
    together = replace(apart, single=0)
    theta = np.log([0.4, 0.2, 0.3, 0.8])
    (value, slope, mode, curve), (other, other_slope, other_mode, whole) = (
        log_evidence(data, theta) for data in (apart, together)
    )
    assert value == pytest.approx(other, rel=1e-10)
    assert slope == pytest.approx(other_slope, rel=1e-6, abs=1e-8)
    assert mode == pytest.approx(other_mode, abs=1e-6)
    vector = np.arange(len(mode), dtype=float)
    assert curve.solve(vector) == pytest.approx(whole.solve(vector), rel=1e-5)
    assert curve.log_determinant() == pytest.approx(whole.log_determinant(), rel=1e-9)


def test_rows_taken_out_keep_the_kept_columns_and_the_single_ones_they_use():
    data = groups(single=25)
    some = data.of_rows(np.arange(60) < 12)
    assert some.design.shape == (12, data.kept + 5) and some.single == 5
    nodes = integrate(some, settle(some), nodes=8)
    start = np.zeros(data.design.shape[1])
    whole = refit(data, nodes, start)
    mode, _, _ = find_mode(data, nodes[3].spreads, nodes[3].alpha)
    assert whole[3].mode == pytest.approx(mode[: data.kept], abs=1e-5)


def test_mode_has_no_slope_and_vast_spreads_do_not_matter():
    data = groups()
    mode, _, mean = find_mode(data, np.array([0.5, 0.3]), 0.7)
    size = 1 / 0.7
    precision = np.append([1.5, 1.5], np.append(np.full(6, 0.5), np.full(3, 0.3))) ** -2.0
    slope = data.design.T @ ((data.counts - mean) * size / (size + mean)) - precision * mode
    assert np.abs(slope).max() < 1e-5


def test_small_spread_pools_completely_and_a_large_one_not_at_all():
    data = groups()
    tight, _, _ = find_mode(data, np.array([1e-4, 1e-4]), 0.7)
    assert np.abs(tight[2:]).max() < 1e-4
    loose, _, _ = find_mode(data, np.array([0.8, 1e-4]), 0.7)
    assert np.ptp(loose[2:8]) > 0.5


def test_one_group_against_numerical_integration():
    fish, hours = np.array([3.0, 0.0, 5.0, 2.0]), np.array([2.0, 1.0, 2.5, 3.0])
    data = Counts(
        counts=fish,
        offset=np.log(hours),
        weights=np.ones(4),
        design=sparse.csr_array(np.ones((4, 1))),
        block=np.array([-1]),
        fixed_spread=np.array([1.0]),
        spread_prior=np.empty((0, 2)),
    )

    def density(level, log_alpha):
        fit = negative_binomial_loglike(fish, hours * np.exp(level), np.exp(log_alpha)).sum()
        return np.exp(fit - level**2 / 2 - ((log_alpha - np.log(0.9)) / 0.9) ** 2 / 2)

    def expect(function):
        return quadrature.dblquad(
            lambda b, a: function(b) * density(b, a), -4, 4, -3, 3, epsabs=1e-9
        )[0]

    total = expect(lambda b: 1.0)
    mean = expect(lambda b: b) / total
    spread = np.sqrt(expect(lambda b: (b - mean) ** 2) / total)
    draws, _, _ = draw_coefficients(integrate(data, settle(data), nodes=200), 20000)
    assert draws.mean() == pytest.approx(mean, abs=0.05 * spread + 0.02)
    assert draws.std() == pytest.approx(spread, rel=0.06)


def test_same_seed_same_draws_and_weights_add_to_one():
    data = groups()
    nodes = integrate(data, settle(data), seed=4)
    assert sum(node.weight for node in nodes) == pytest.approx(1.0, abs=1e-12)
    first, again = (draw_coefficients(nodes, 50, seed=9)[0] for _ in range(2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, draw_coefficients(nodes, 50, seed=10)[0])


def test_rows_that_count_half_widen_the_answer():
    full = groups()
    half = groups(weights=np.full(60, 0.5))
    spread = [
        draw_coefficients(integrate(data, settle(data)), 2000)[0][:, 0].std()
        for data in (full, half)
    ]
    assert spread[1] > spread[0]


def test_blocks_and_kept_columns_are_counted():
    data = groups(single=25)
    assert data.blocks == 3 and data.kept == 2 + 6 + 3 and data.design.shape[1] == data.kept + 25
    assert replace(data, block=np.full(data.block.size, -1)).blocks == 0


def test_products_make_the_weighted_matrix():
    data = groups(single=25)
    weight = np.random.default_rng(2).uniform(0.2, 2.0, 60)
    square, across, indices, starts = data.products
    dense = data.design.toarray()
    whole, kept = dense.T @ (weight[:, None] * dense), data.kept
    lower = np.tril(whole[:kept, :kept])
    np.testing.assert_allclose(np.tril((square @ weight).reshape(kept, kept)), lower, atol=1e-12)
    rows = sparse.csr_array((across @ weight, indices, starts), shape=(25, kept)).toarray()
    np.testing.assert_allclose(rows, whole[kept:, :kept], atol=1e-12)


def test_rows_taken_out_are_those_rows():
    weights = np.random.default_rng(3).uniform(0.3, 1.0, 60)
    data = groups(single=25, weights=weights)
    chosen = np.arange(60) % 3 == 0
    some = data.of_rows(chosen)
    for name in ("counts", "offset", "weights"):
        np.testing.assert_array_equal(getattr(some, name), getattr(data, name)[chosen])
    kept = data.kept
    dense = data.design.toarray()[chosen]
    np.testing.assert_array_equal(some.design.toarray()[:, :kept], dense[:, :kept])
    used = dense[:, kept:].any(axis=0)
    np.testing.assert_array_equal(some.design.toarray()[:, kept:], dense[:, kept:][:, used])
    np.testing.assert_array_equal(some.block, data.block[np.append(np.ones(kept, bool), used)])
    assert some.fixed_spread.size == some.block.size


def test_the_variance_is_the_inverse_of_the_precision():
    data = groups(single=25)
    spreads, alpha = np.array([0.4, 0.2, 0.3]), 0.8
    _, curve, mean = find_mode(data, spreads, alpha)
    size = 1 / alpha
    weight = (data.counts + size) * size * mean / (size + mean) ** 2
    dense = data.design.toarray()
    own = np.where(data.block < 0, data.fixed_spread, np.append(spreads, 1.0)[data.block])
    precision = dense.T @ (weight[:, None] * dense) + np.diag(own**-2.0)
    half, extra = curve.half()
    np.testing.assert_allclose(
        half @ half.T + np.diag(extra), np.linalg.inv(precision), rtol=1e-4, atol=1e-7
    )
    assert curve.log_determinant() == pytest.approx(np.linalg.slogdet(precision)[1], rel=1e-6)


def test_the_evidence_adds_up():
    """Laplace: fit + prior of the coefficients - half the log determinants + prior of settings."""
    data, theta = groups(), np.log([0.4, 0.2, 0.8])
    value, _, mode, curve = log_evidence(data, theta)
    mean = np.exp(data.offset + data.design @ mode)
    fit = negative_binomial_loglike(data.counts, mean, 0.8).sum()
    spread = np.append([1.5, 1.5], np.append(np.full(6, 0.4), np.full(3, 0.2)))
    own = -0.5 * ((mode / spread) ** 2).sum() - np.log(spread).sum()
    # settings: log 0.4 about log 0.5 and log 0.2 about log 0.3, 0.7 wide; log 0.8 about log 0.9,
    # 0.9 wide
    scores = np.log([0.4 / 0.5, 0.2 / 0.3, 0.8 / 0.9]) / [0.7, 0.7, 0.9]
    expected = fit + own - 0.5 * curve.log_determinant() - 0.5 * scores @ scores
    assert value == pytest.approx(expected, rel=1e-8)


def test_the_most_probable_setting_has_no_slope_and_more_than_its_neighbours():
    data = groups()
    top = settle(data)
    assert top.settled and np.abs(top.slope).max() < 0.01
    best = log_evidence(data, top.theta)[0]
    for step in 0.2 * np.eye(3):
        assert log_evidence(data, top.theta + step)[0] < best
        assert log_evidence(data, top.theta - step)[0] < best
    again = settle(data, top)  # from there it is found at once
    np.testing.assert_allclose(again.theta, top.theta, atol=0.01)


def test_settings_lie_about_the_top_and_pairs_mirror_it():
    data = groups()
    top = settle(data)
    nodes = integrate(data, top, seed=4, nodes=20)
    assert len(nodes) == 20 and all(node.weight > 0 for node in nodes)
    theta = np.array([np.append(np.log(n.spreads), np.log(n.alpha)) for n in nodes])
    np.testing.assert_allclose(theta[:10] + theta[10:], 2 * top.theta * np.ones((10, 1)), atol=1e-9)
    # no one setting stands for all: at most sqrt(n) times the mean before they are scaled
    weights = np.array([node.weight for node in nodes])
    assert weights.max() < 0.5
    other = integrate(data, top, seed=5, nodes=20)
    assert other[0].alpha != nodes[0].alpha


def test_draws_are_of_each_setting_as_often_as_it_weighs():
    def node(weight, level):
        return Node(weight, np.array([level]), level, np.array([level, -level]), 2.0 * np.eye(2))

    nodes = [node(0.2, 1.0), node(0.5, 2.0), node(0.3, 3.0)]
    coefficients, spreads, alpha = draw_coefficients(nodes, 1000)
    shares = [np.mean(alpha == level) for level in (1.0, 2.0, 3.0)]
    assert shares == pytest.approx([0.2, 0.5, 0.3], abs=0.0011)
    short = draw_coefficients([node(0.4, 1.0), node(0.59, 2.0)], 100)[2]  # what lacks is the last's
    assert (short[40:] == 2.0).all() and len(short) == 100
    np.testing.assert_array_equal(spreads[:, 0], alpha)
    away = coefficients - np.column_stack([alpha, -alpha])
    assert away.std() == pytest.approx(0.5, rel=0.05)  # a precision of 4
    assert abs(np.corrcoef(away.T)[0, 1]) < 0.1


def test_draws_bear_the_covariance_of_their_setting():
    precision = np.array([[4.0, 1.5], [1.5, 1.0]])
    node = Node(1.0, np.ones(1), 1.0, np.zeros(2), np.linalg.cholesky(precision))
    coefficients, _, _ = draw_coefficients([node], 40000)
    np.testing.assert_allclose(np.cov(coefficients.T), np.linalg.inv(precision), rtol=0.05)


def test_threads_are_given_back():
    counts = [get for _, get in _thread_counts()]
    before = [get() for get in counts]
    with one_thread():
        assert all(get() == 1 for get in counts)
    assert [get() for get in counts] == before


def test_the_leverage_of_a_long_log_is_that_of_each_of_its_rows():
    random = np.random.default_rng(8)
    design, half = random.normal(size=(4003, 3)), random.normal(size=(3, 3))
    expected = np.einsum("ij,jk,ik->i", design, half @ half.T, design)
    np.testing.assert_allclose(_leverage(sparse.csr_array(design), half), expected, rtol=1e-9)


def test_no_setting_lies_further_from_its_prior_than_it_is_looked_for():
    # 1 row of 400 holds all fish: the counts alone would have a far larger dispersion
    data = groups(400)
    data = replace(data, counts=np.where(np.arange(400) == 7, 1e6, 0.0))
    highest = ALPHA_PRIOR[0] + REACH * ALPHA_PRIOR[1]
    assert settle(data).theta[-1] == pytest.approx(highest)
    # 100 levels that are all alike, of which the prior is sure that they are not
    alike = groups(600, levels=100)
    alike = replace(alike, counts=np.random.default_rng(1).poisson(5 * np.exp(alike.offset)) + 0.0)
    alike.spread_prior[0] = np.log(2.0), 0.1
    assert settle(alike).theta[0] == pytest.approx(np.log(2.0) - REACH * 0.1)
    # settings drawn about one near an end are held at it, and no sooner
    data = groups()
    centre, width = np.array([*data.spread_prior, ALPHA_PRIOR]).T
    for way in (-1.0, 1.0):
        theta = centre + way * (REACH - 0.1) * width
        _, slope, mode, _ = log_evidence(data, theta)
        nodes = integrate(data, Setting(theta, slope, mode), nodes=12)
        drawn = np.array([np.append(np.log(n.spreads), np.log(n.alpha)) for n in nodes])
        away = way * (drawn - centre) / width
        np.testing.assert_allclose(away.max(axis=0), REACH, rtol=1e-9)
