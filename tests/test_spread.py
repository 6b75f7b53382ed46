"""The table of the column's own errors, and ranges widened by it."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from lakekit.guide.evidence import recorded
from lakekit.strata.spread import (
    LATE,
    MISSES,
    OWN_CASTS,
    SOON,
    USUAL,
    cast_misses,
    own_scale,
    profile_error,
    quantiles_of,
    standing,
    widened,
)


def test_a_reading_stands_for_five_weeks_then_for_eleven_then_not():
    assert standing(3, True) == standing(SOON, False) == "soon"
    assert standing(SOON + 1, True) == standing(LATE, False) == "late"
    assert standing(LATE + 1, True) == standing(None, True) == "fitted"
    assert standing(None, False) == "free"


def test_errors_add_in_quadrature_and_bounds_hold():
    low, middle, high = widened([1.0, 2.0, 4.0], 1.0, low=0.9)
    assert middle == 2.0
    assert low == 0.9
    assert high == pytest.approx(2.0 + np.hypot(2.0, norm.ppf(0.9)), rel=1e-4)
    assert np.isnan(widened([np.nan] * 3, 1.0)).all()
    low, middle, high = widened([1.0, 2.0, 4.0], 0.0, scale=1.5)
    assert (low, middle, high) == (0.5, 2.0, 5.0)


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


def test_the_table_is_the_one_that_the_bench_made():
    figures, _ = recorded("accuracy")
    for how, row in MISSES.items():
        for field, values in vars(row).items():
            for part, value in zip(("", "_mixed"), np.atleast_1d(values), strict=False):
                assert value == pytest.approx(figures[f"accuracy_table_{how}_{field}{part}"])
    assert pytest.approx(figures["accuracy_table_usual_c"], abs=0.005) == USUAL


def found(*misses, days=28, depths=3):
    times = pd.Timestamp("2024-05-01") + pd.to_timedelta(days * np.arange(len(misses)), "D")
    rows = [
        {"time": time, "kind": "temperature", "depth": depth, "value": 10.0 + miss,
         "expected": 10.0, "used": True}
        for time, miss in zip(times, misses, strict=True) for depth in range(depths)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def test_what_casts_find_amiss_is_counted_from_the_second_on():
    np.testing.assert_allclose(cast_misses(found(3.0, 1.0, 2.0)), [1.0, 4.0])
    assert cast_misses(found(3.0, 1.0, 2.0, days=5)).size == 0
    assert cast_misses(found(3.0, 1.0, 2.0, depths=1)).size == 0
    assert cast_misses(None).size == 0
    unused = found(3.0, 1.0)
    unused["used"] = [1.0, 1.0, 1.0, 0.0, 0.0, 0.0]  # as it comes back from the store
    assert cast_misses(unused).size == 0


def test_a_lake_that_is_missed_by_more_than_others_has_wider_ranges():
    assert own_scale([]) == 1.0
    assert own_scale([USUAL**2] * 5) == pytest.approx(1.0)
    worse, better = own_scale([4.0 * USUAL**2] * OWN_CASTS), own_scale([0.0] * OWN_CASTS)
    assert worse == pytest.approx(np.sqrt(2.5)) and better == pytest.approx(np.sqrt(0.5))
    assert own_scale([1e6]) == own_scale([1e9])


def test_quantiles_are_those_of_numpy_and_keep_infinity():
    rng = np.random.default_rng(1)
    values = rng.normal(size=(40, 7))
    np.testing.assert_allclose(
        quantiles_of(values), np.quantile(values, (0.1, 0.5, 0.9), axis=0), rtol=1e-12
    )
    values[rng.random(values.shape) < 0.3] = np.nan
    values[:, 6] = np.nan
    values[0, 6] = 3.0
    np.testing.assert_allclose(
        quantiles_of(values), np.nanquantile(values, (0.1, 0.5, 0.9), axis=0), rtol=1e-12
    )
    np.testing.assert_array_equal(quantiles_of([1.0, 2.0, np.inf])[[0, 2]], [1.2, np.inf])
    assert np.isnan(quantiles_of([])).all()
    assert np.isnan(quantiles_of([np.nan, np.nan])).all()
