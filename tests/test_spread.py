"""The table of the column's own errors, and ranges widened by it."""

import numpy as np
import pytest

from lakekit.strata.spread import LATE, MISSES, SOON, TENTH, profile_error, standing, widened


def test_a_reading_stands_for_five_weeks_then_for_eleven_then_not():
    assert standing(3, True) == standing(SOON, False) == "soon"
    assert standing(SOON + 1, True) == standing(LATE, False) == "late"
    assert standing(LATE + 1, True) == standing(None, True) == "fitted"
    assert standing(None, False) == "free"


def test_errors_add_in_quadrature_and_bounds_hold():
    low, middle, high = widened([1.0, 2.0, 4.0], 1.0, low=0.9)
    assert middle == 2.0
    assert low == 0.9
    assert high == pytest.approx(2.0 + np.hypot(2.0, TENTH))
    assert np.isnan(widened([np.nan] * 3, 1.0)).all()


def test_steep_water_errs_by_its_depth():
    depth = np.arange(0.5, 8.0)
    middle = np.where(depth < 4.0, 24.0, 12.0)
    error = profile_error(middle, depth, how="soon", layered=True)
    row = MISSES["soon"]
    assert error[0] == row.temperature[0]
    assert error.max() == pytest.approx(np.hypot(row.temperature[0], 6.0 * row.lean[0]))
    assert (profile_error(middle, depth, how="soon", layered=False) >= error).all()


def test_a_fresh_reading_leaves_less_open_than_none():
    for field in ("temperature", "lean", "oxygen"):
        assert getattr(MISSES["soon"], field)[0] <= getattr(MISSES["free"], field)[0]
    assert MISSES["soon"].line <= MISSES["late"].line <= MISSES["free"].line
