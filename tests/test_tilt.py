"""The thermocline's lean: balance of pressure and stress, limits, invariance."""

import numpy as np
import pytest

from lakekit.constants import GRAVITY
from lakekit.strata import thermocline_tilt, wedderburn_number
from lakekit.strata.tilt import settling_time


def test_lean_balances_the_stress():
    # the interface's slope times g' h equals the stress over the density (two-layer balance)
    stress, step, h, length, density = 0.10, 1.5, 4.0, 1200.0, 1000.0
    w = wedderburn_number(step, h, wind_stress=stress, fetch=length)
    assert 1.0 < w < 3.0
    upwind, downwind, upwelling = thermocline_tilt(h, w)
    slope = (downwind - upwind) / length
    assert slope * GRAVITY * step / density * h == pytest.approx(stress / density, rel=1e-12)
    assert 0.5 * (upwind + downwind) == pytest.approx(h, rel=1e-12)
    assert not upwelling


def test_limits():
    assert thermocline_tilt(4.0, 3.0) == (4.0, 4.0, False)
    # h / 2 W by each shore: 4 / 5.9
    assert thermocline_tilt(4.0, 2.95)[:2] == pytest.approx((4 - 4 / 5.9, 4 + 4 / 5.9))
    assert thermocline_tilt(4.0, 2.95, leans_below=2.0) == (4.0, 4.0, False)
    assert thermocline_tilt(4.0, np.inf) == (4.0, 4.0, False)
    upwind, downwind, upwelling = thermocline_tilt(4.0, 0.8, bottom_depth=6.0)
    assert (upwind, downwind, bool(upwelling)) == (0.0, 6.0, True)
    upwind, downwind, upwelling = thermocline_tilt(4.0, 0.0, bottom_depth=6.0)
    assert (upwind, downwind, bool(upwelling)) == (0.0, 6.0, True)
    for depth, number in ((np.nan, 2.0), (4.0, np.nan)):
        upwind, downwind, upwelling = thermocline_tilt(depth, number)
        assert np.isnan(upwind) and np.isnan(downwind) and not upwelling
    with pytest.raises(ValueError, match="negative"):
        thermocline_tilt(4.0, -1.0)


def test_leans_more_in_more_wind_and_never_past_the_ends():
    number = np.linspace(0.05, 5.0, 200)
    upwind, downwind, upwelling = thermocline_tilt(5.0, number, bottom_depth=9.0)
    assert (np.diff(upwind) >= 0).all() and (np.diff(downwind) <= 0).all()
    assert upwind.min() == 0.0 and downwind.max() == 9.0
    assert (upwelling == (number < 1.0)).all()


def test_one_depth_a_row_and_an_ensemble_agree():
    rng = np.random.default_rng(2)
    depth, number = rng.uniform(1, 8, (4, 6)), rng.uniform(0.2, 5.0, (4, 6))
    whole = thermocline_tilt(depth, number)
    for i in range(4):
        row = thermocline_tilt(depth[i], number[i])
        for part, every in zip(row, whole, strict=True):
            np.testing.assert_array_equal(part, every[i])
        assert thermocline_tilt(depth[i, 0], number[i, 0])[0] == whole[0][i, 0]


def test_seiche_of_the_closed_form():
    # closed form constructed for L 1000 m, 4 m over 6 m, g' 0.0264949 m/s2: 7931.3 s
    period = settling_time(1000.0, upper_depth=4.0, lower_depth=6.0, reduced_gravity=0.0264949)
    assert period == pytest.approx(7931.3, abs=0.05)
