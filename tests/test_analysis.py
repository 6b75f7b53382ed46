"""One correction's algebra: taper, gain, and the spread it leaves."""

import numpy as np
import pytest

from lakekit.column.following.analysis import gain, relaxed, settle, taper, weights
from lakekit.column.water import density


def test_the_taper_is_that_of_gaspari_and_cohn():
    # Gaspari & Cohn 1999, eq. 4.10: 5/24 at half its support, 0 at the end
    np.testing.assert_allclose(taper([0.0, 1.0, 2.0, 5.0]), [1.0, 5.0 / 24.0, 0.0, 0.0], atol=1e-12)
    assert (np.diff(taper(np.linspace(0.0, 2.0, 50))) <= 1e-12).all()


def test_many_members_give_kalmans_gain():
    # prior N(0, 4), reading with variance 1: gain 4 / 5; a quantity that is half of it: 2 / 5
    states = np.random.default_rng(0).normal(0.0, 2.0, (40000, 1))
    within, spread = weights(states, np.eye(1), apart=np.ones((1, 1)))
    both = np.hstack([states, 0.5 * states])
    found = gain(both, spread, within, near=np.ones((2, 1)))
    assert found[0, 0] == pytest.approx(0.8, abs=0.01)
    assert found[1, 0] == pytest.approx(0.4, abs=0.01)
    assert gain(both, spread, within, near=np.zeros((2, 1))).max() == 0.0


def test_relaxing_gives_back_a_share_of_the_spread_and_keeps_the_mean():
    before = np.random.default_rng(1).normal(0.0, 2.0, (9, 3))
    after = 1.0 + 0.5 * before
    out = relaxed(before, after, 0.3)
    np.testing.assert_array_equal(out[0], after[0])
    np.testing.assert_allclose(out[1:].mean(axis=0), after[1:].mean(axis=0))
    np.testing.assert_allclose(out[1:].std(axis=0), 1.3 * after[1:].std(axis=0))


def test_what_is_top_heavy_turns_over_and_keeps_its_heat():
    temperature = np.array([[20.0, 22.0, 15.0, 16.0, 8.0]])
    oxygen = np.array([[9.0, 8.0, 6.0, 4.0, 1.0]])
    volumes, centres = np.array([5.0, 4.0, 3.0, 2.0, 1.0]), np.arange(0.5, 5.0)
    heat, gas = temperature @ volumes, oxygen @ volumes
    settle(temperature, oxygen, 0, volumes, centres)
    assert (np.diff(density(temperature[0])) >= -1e-12).all()
    np.testing.assert_allclose(temperature @ volumes, heat)
    np.testing.assert_allclose(oxygen @ volumes, gas)
