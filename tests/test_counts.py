"""Published counts with exposure, and what a plain fit refuses to answer."""

import numpy as np
import pytest

from lakekit.trips.counts import (
    CountsError,
    fit_counts,
    free_effort_exponents,
    gamma_poisson,
)
from lakekit.trips.pooling import Counts, find_mode

# McCullagh & Nelder 1989, Generalized Linear Models (2nd ed.), Table 6.2 p. 205, as distributed
# with an R package (data seen); type, year, period, months of service, incidents; service > 0.
SHIPS = """
A 60 60 127 0;A 60 75 63 0;A 65 60 1095 3;A 65 75 1095 4;A 70 60 1512 6;A 70 75 3353 18
A 75 75 2244 11;B 60 60 44882 39;B 60 75 17176 29;B 65 60 28609 58;B 65 75 20370 53
B 70 60 7064 12;B 70 75 13099 44;B 75 75 7117 18;C 60 60 1179 1;C 60 75 552 1;C 65 60 781 0
C 65 75 676 1;C 70 60 783 6;C 70 75 1948 2;C 75 75 274 1;D 60 60 251 0;D 60 75 105 0
D 65 60 288 0;D 65 75 192 0;D 70 60 349 2;D 70 75 1208 11;D 75 75 2051 4;E 60 60 45 0
E 65 60 789 7;E 65 75 437 7;E 70 60 1157 5;E 70 75 2161 12;E 75 75 542 1
"""
# Book's coefficients from memory, agreeing with the fit of the same data by statsmodels 0.15.0.
SHIP_BOOK = {"constant": -6.41, "B": -0.54, "C": -0.69, "D": -0.08, "E": 0.33, "65": 0.70,
             "70": 0.82, "75": 0.45, "period": 0.38}
# Child mortality by cohort (data and printed answers from memory: example of a commercial
# package's nbreg manual); deaths and exposure by age for three cohorts.
DEATHS = [168, 48, 63, 89, 102, 81, 40, 197, 48, 62, 81, 97, 103, 39, 195, 55, 58, 85, 87, 70, 10]
EXPOSURE = [278.4, 538.8, 794.4, 1550.8, 3006.0, 8743.5, 14270.0, 403.2, 786.0, 1165.3, 2294.8,
            4500.5, 13201.5, 19525.0, 495.3, 956.7, 1381.4, 2604.5, 4618.5, 9814.5, 5802.5]
# Ten pumps: failures and 1000 h of operation (Gaver & O'Muircheartaigh 1987; George, Makov & Smith
# 1993, Scand. J. Stat. 20:147-156; seen in four copies).
FAILURES = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
HOURS = [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]
# Empirical-Bayes maximum likelihood, computed for the reference sheet by an independent script;
# fully Bayesian means by quadrature in the same sheet, for orientation.
PUMPS = [0.06093, 0.10748, 0.09075, 0.11648, 0.58800, 0.60692, 0.78860, 0.78860, 1.43470, 1.94046]
PUMPS_BAYES = [0.05982, 0.10183, 0.08924, 0.11579, 0.60134, 0.60939, 0.89254, 0.89254, 1.58631,
               1.98983]


def ships():
    rows = [row.split() for line in SHIPS.strip().splitlines() for row in line.split(";")]
    kind, year, period, service, incidents = zip(*rows, strict=True)
    columns = {"constant": np.ones(len(rows))}
    columns |= {name: (np.array(kind) == name).astype(float) for name in "BCDE"}
    columns |= {name: (np.array(year) == name).astype(float) for name in ("65", "70", "75")}
    columns["period"] = (np.array(period) == "75").astype(float)
    return (np.array(incidents, dtype=float), np.array(service, dtype=float),
            np.column_stack(list(columns.values())), list(columns))


def mortality():
    cohort = np.repeat([0, 1, 2], 7)
    design = np.column_stack([np.ones(21), cohort == 1, cohort == 2]).astype(float)
    return (np.array(DEATHS, dtype=float), np.array(EXPOSURE), design,
            ["constant", "cohort 2", "cohort 3"])


def test_ships_coefficients_and_deviance():
    fit = fit_counts(*ships(), family="poisson")
    for name, value in SHIP_BOOK.items():
        assert fit.coefficients[name] == pytest.approx(value, abs=0.005), name
    assert fit.deviance == pytest.approx(38.7, abs=0.05)  # the book's, on 25 degrees of freedom
    assert fit.residual_freedom == 25
    assert fit.pearson / fit.residual_freedom == pytest.approx(1.69, abs=0.005)  # the book's
    assert fit.loglike == pytest.approx(-68.281, abs=0.001)  # statsmodels 0.15.0


def test_child_mortality_negative_binomial():
    fit = fit_counts(*mortality())
    found = [*fit.coefficients.values(), np.log(fit.alpha), fit.loglike]
    # printed answers, from memory
    assert found == pytest.approx([-2.086731, -0.2676187, -0.4573957, 0.5939963, -131.3799],
                                  abs=2e-4)
    poisson = fit_counts(*mortality(), family="poisson")
    assert list(poisson.coefficients.values()) == pytest.approx(
        [-3.899488, -0.302041, 0.074214], abs=1e-6)  # statsmodels 0.15.0


def flat(counts, effort, design):
    from scipy import sparse

    size = design.shape[1]
    return Counts(counts=counts, offset=np.log(effort), weights=np.ones(len(counts)),
                  design=sparse.csr_array(design), block=np.full(size, -1),
                  fixed_spread=np.full(size, 1e4), spread_prior=np.empty((0, 2)))


def test_pooled_solver_without_pooling_gives_the_published_answers():
    counts, effort, design, names = ships()
    mode, _, _ = find_mode(flat(counts, effort, design), np.array([]), 1e-6)
    assert mode == pytest.approx([SHIP_BOOK[name] for name in names], abs=0.005)
    counts, effort, design, _ = mortality()
    mode, _, _ = find_mode(flat(counts, effort, design), np.array([]), np.exp(0.5939963))
    assert mode == pytest.approx([-2.086731, -0.2676187, -0.4573957], abs=2e-5)


def test_pumps_shrunken_rates():
    shape, rate, rates, loglike = gamma_poisson(FAILURES, HOURS)
    assert (shape, rate) == pytest.approx((0.82297, 1.26165), abs=2e-5)
    assert loglike == pytest.approx(-32.25784, abs=1e-5)
    assert rates == pytest.approx(PUMPS, abs=1e-5)
    # full Bayes differs by the doubt about shape and rate: up to 13 % where hours are few
    assert rates == pytest.approx(PUMPS_BAYES, rel=0.13)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda y, h, x: (y * 0, h, x), "no fish in any row: pool"),
        (lambda y, h, x: (np.where(x[:, 1] == 1, 0, y), h, x), "no fish in any row of 'B'.*pool"),
        (lambda y, h, x: (y, np.where(y > 3, 0, h), x), "effort is zero or missing"),
        (lambda y, h, x: (y, np.where(y > 3, np.nan, h), x), "effort is zero or missing"),
        (lambda y, h, x: (np.where(y > 3, np.nan, y), h, x), "count is missing"),
        (lambda y, h, x: (y[:0], h[:0], x[:0]), "no rows to fit"),
        (lambda y, h, x: (y, h, np.column_stack([x[:, :8], x[:, 1]])), "repeat each other"),
        (lambda y, h, x: (y, h, np.where(x == 0, np.nan, x)), "covariate is missing"),
    ],
)
def test_nonsense_is_refused_with_its_remedy(change, words):
    counts, effort, design, names = ships()
    with pytest.raises(CountsError, match=words):
        fit_counts(*change(counts, effort, design), names)


def test_separation_that_no_group_shows_is_refused():
    design = np.column_stack([np.ones(8), np.arange(8.0)])
    counts = np.array([0, 0, 0, 0, 0, 0, 0, 5.0])
    with pytest.raises(CountsError, match=r"did not settle|absurd"):
        fit_counts(counts, np.ones(8), design, ["constant", "slope"])


def test_free_exponents_recover_what_was_put_in():
    import pandas as pd

    random = np.random.default_rng(3)
    hours, rods = random.gamma(4, 1, 3000) + 0.5, random.integers(1, 5, 3000)
    mean = 1.2 * hours**0.6 * rods**0.9 * random.gamma(2, 0.5, 3000)
    found = free_effort_exponents(
        pd.DataFrame({"fish": random.poisson(mean), "hours": hours, "rods": rods}))
    assert found["hours"][0] == pytest.approx(0.6, abs=3 * found["hours"][1])
    assert found["rods"][0] == pytest.approx(0.9, abs=3 * found["rods"][1])
    assert found["hours"][1] < 0.1
