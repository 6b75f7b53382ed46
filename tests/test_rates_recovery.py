"""Known rates are recovered, and the rivals beaten: a small part of the bench of rates."""

import numpy as np
import pytest

from lakekit.bench.rates.run import (
    EVERY,
    predictive_coverage,
    read_survey,
    recovery,
    survey_scores,
    told_coverage,
)
from lakekit.bench.rates.worlds import CREWS, bench_club, make_world
from lakekit.trips import catch_rates

THREE = ("raw_totals", "pooled_constant", "shrunk_cells")


@pytest.fixture(scope="module")
def assumed():
    return recovery(["assumed"], (40, 120), repeats=16, workers=2)


def test_eighty_percent_intervals_hold_about_eighty_percent(assumed):
    """The bench asks for 75-86 %; here 16 logs a size leave a standard error of 2-3 %."""
    assert 0.72 < assumed["coverage"].mean() < 0.88
    assert (assumed["coverage_error"] < 0.05).all()


def test_log_score_and_regret_beat_totals_constant_and_one_line_shrinkage(assumed):
    for name in THREE:
        assert (assumed[f"lead_log_score_{name}"] > 0).all(), name
        assert (assumed[f"lead_regret_{name}"] > 0).all(), name


def test_prediction_of_an_outing_holds_its_luck():
    world = make_world("assumed", 120, 5)
    rates, later = catch_rates(world.log, club=bench_club()), world.held_out
    mean = np.exp(rates.log_rates_of_rows(later, every=EVERY))
    assert predictive_coverage(rates, later, mean).mean() == pytest.approx(0.8, abs=0.09)
    told = told_coverage(rates, later, mean)
    assert 0.72 < told.mean() < 0.92
    assert not told_coverage(rates, later.assign(fish=later["fish"] + 60), mean).any()


def test_worlds_are_what_they_say():
    plain, limited = (make_world(kind, 400, 1) for kind in ("assumed", "bag limit of 10"))
    assert limited.log["fish"].max() == 10 < plain.log["fish"].max()
    assert len(make_world("blanks left out", 400, 1).log) < 400
    pairs = make_world("several rows an outing", 50, 1).log
    assert len(pairs) == 100 and pairs["trip"].nunique() == 50
    assert (plain.log.groupby("tactic").size() / 400).max() > 0.15  # used unequally
    again = make_world("assumed", 400, 1)
    days = make_world("shared days", 100, 1).log
    assert days["date"].nunique() <= 25 and (days.groupby("date")["lake"].nunique() == 1).all()
    assert make_world("several crews", 100, 1).log["angler"].nunique() == CREWS
    far = make_world("one tactic far off", 40, 2).log_rates.mean(axis=(1, 2))
    assert far[0] < np.sort(far)[1]
    assert np.array_equal(plain.log["fish"], again.log["fish"])


def test_real_outings_by_method_and_gear(observations):
    """An access survey's interviews (SOURCE.md: treat as realistic), a fifth left out in turn."""
    scores = survey_scores(read_survey(observations / "angling" / "trips.csv"), folds=5)
    assert scores["outings"] == 123
    assert 0.72 < scores["coverage"] < 0.88
    for name in THREE:
        assert scores["log_score_model"] > scores[f"log_score_{name}"], name
