"""What a told pattern does to rates: a factor beside the log's own usual, and nothing untold."""

from types import SimpleNamespace

import numpy as np
import pytest
from log_helpers import make_club
from test_patterns import log_and_values

from lakekit.guide.log.logbook import log_answers, log_text, weighing
from lakekit.trips.answers import rate_table
from lakekit.trips.patterns import find_patterns, pattern_effect
from lakekit.trips.rates import catch_rates

CLUB = make_club()
BAIT = "bait_below_thermocline"
PLANTED = 1.2  # log of the factor: fish 3.3 times as many above 0
DEEP, SHALLOW = 1.5, -1.5  # m below the thermocline
PLACE = {"lake": "ash", "phase": "summer"}


def told_log(name=BAIT, strength=PLANTED, outings=240):
    log, values = log_and_values(outings, strength=strength, names=(name, "moon"))
    return log, find_patterns(log, values, club=CLUB)


@pytest.fixture(scope="module")
def planted():
    log, found = told_log()
    return SimpleNamespace(
        log=log, found=found, effect=pattern_effect(found, CLUB), rates=catch_rates(log, club=CLUB)
    )


def middle(effect, value, tactic="t0"):
    met = {} if value is None else {BAIT: value}
    return float(np.median(effect.log_factor(met, tactic=tactic, draws=2000, **PLACE)))


def test_a_planted_effect_comes_back_a_little_smaller_with_its_doubt(planted):
    assert planted.effect.names == (BAIT,)
    apart = middle(planted.effect, DEEP) - middle(planted.effect, SHALLOW)
    assert 0.7 * PLANTED < apart < 1.3 * PLANTED
    at_deep, at_shallow = (
        planted.effect.log_factor({BAIT: value}, tactic="t0", draws=2000, **PLACE)
        for value in (DEEP, SHALLOW)
    )
    assert 0.03 < (at_deep - at_shallow).std() < 0.5 * PLANTED


def test_nothing_beyond_what_the_log_met_and_nothing_where_nothing_is_known(planted):
    assert middle(planted.effect, 50.0) == middle(planted.effect, 9.0)
    assert middle(planted.effect, None) == 0.0
    assert middle(planted.effect, np.nan) == 0.0


def test_a_tactic_that_always_ran_so_is_not_rewarded_twice():
    # its own rate holds the effect already: t0 ran deep on every outing
    log, values = log_and_values(240, strength=0.0, names=(BAIT, "moon"))
    deep = (log["tactic"] == "t0").to_numpy()
    values.loc[deep, BAIT] = values.loc[deep, BAIT].abs() + 0.5
    random = np.random.default_rng(4)
    mean = 2.0 * np.exp(PLANTED * (values[BAIT] > 0)) * random.gamma(2, 0.5, len(log))
    log["fish"] = random.poisson(mean).astype(float)
    effect = pattern_effect(find_patterns(log, values, club=CLUB), CLUB)
    usual = float(values.loc[deep, BAIT].mean())
    assert abs(middle(effect, usual, "t0")) < 0.4 * abs(middle(effect, usual, "t1"))


@pytest.mark.parametrize(("name", "strength"), [(BAIT, 0.0), ("wind_speed", PLANTED)])
def test_no_effect_where_none_is_told_or_the_half_month_cannot_know_it(name, strength):
    _, found = told_log(name, strength)
    assert bool(found.told) == bool(strength)
    assert pattern_effect(found, CLUB) is None


def knowledge(planted, effect):
    return SimpleNamespace(
        rates=planted.rates, lake=SimpleNamespace(key="ash"),
        patterns=SimpleNamespace(effect=effect),
    )  # fmt: skip


def test_tactics_are_weighed_by_where_they_run_and_the_guide_says_so(planted):
    table = rate_table(planted.rates, "ash", "summer").set_index("tactic")
    first = table["rank"].idxmin()
    last = table["rank"].idxmax()
    met = {"thermocline_depth": 4.0, "start_depth": 4.0}
    targets = {key: 4.0 + (DEEP if key == last else SHALLOW) for key in table.index}
    told = knowledge(planted, planted.effect)
    answers = log_answers(told, "summer", met)(targets)
    assert answers[last]["value"] > table.loc[last, "relied"]
    assert answers[first]["value"] < table.loc[first, "relied"]
    best = max(answers, key=lambda key: answers[key]["value"])
    assert best == last
    text = log_text(told, "summer", targets, met)
    assert "Weighed by a pattern in the log: the catch goes with how far below" in text
    assert "(240 outings)" in text
    assert last in text


@pytest.mark.parametrize("case", ["none told", "no thermocline"])
def test_the_guide_is_the_same_to_the_last_digit_without(planted, case):
    met = {"thermocline_depth": 4.0 if case == "none told" else np.nan, "start_depth": 2.0}
    told = knowledge(planted, None if case == "none told" else planted.effect)
    targets = {"t0": 1.0, "t1": 5.0}
    assert weighing(told, "summer", targets, met) is None
    plain = log_answers(told, "summer")(targets)
    assert log_answers(told, "summer", met)(targets) == plain
    assert "Weighed" not in log_text(told, "summer", targets, met)
