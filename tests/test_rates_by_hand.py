"""What a fitted log's draws are put together to, by hand from the draws themselves."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from log_helpers import make_club, make_lake
from rate_helpers import make_log, random_log

from lakekit.errors import TripsError
from lakekit.trips import catch_rates
from lakekit.trips import rates as rates_module
from lakekit.trips.rates import _information

CLUB = make_club()
PLACE = ("ash", "summer")


@pytest.fixture(scope="module")
def log():
    """Sixty rows of three anglers, two of whom share a boat; some with known water."""
    table = random_log(60, seed=3, tactics=3)
    random = np.random.default_rng(1)
    table["angler"] = np.where(np.arange(60) < 30, "Ann", np.where(np.arange(60) < 50, "Bo", "Cy"))
    table["trip"] = np.arange(60) // 2
    table["stratified"] = random.integers(0, 2, 60).astype(float)
    return table


@pytest.fixture(scope="module")
def rates(log):
    return catch_rates(log, club=CLUB, draws=400)


def coefficient(rates, block, *key):
    return rates.coefficients[:, rates.design.columns[block][key]]


def fixed(rates, name):
    return rates.coefficients[:, rates.design.fixed[name]]


def test_a_rate_is_the_sum_of_what_it_is_made_of(rates):
    words = {"lake": "ash", "phase": "summer", "tactic": "t1"}
    expected = rates.design.level + fixed(rates, "level")
    for block, factors in (
        ("tactic", ("tactic",)), ("phase", ("phase",)), ("lake", ("lake",)),
        ("tactic and phase", ("tactic", "phase")), ("tactic and lake", ("tactic", "lake")),
        ("phase and lake", ("phase", "lake")),
    ):  # fmt: skip
        expected = expected + coefficient(rates, block, *(words[factor] for factor in factors))
    expected = expected + coefficient(rates, "angler", "bo")
    # the mean over days of a lognormal day: exp(s^2 / 2)
    expected = expected + rates.spreads[:, rates.design.blocks.index("day")] ** 2 / 2
    # four rods beside the usual ones, by an exponent about 0.6
    usual = np.log(rates.rows["rods"]).mean()
    expected = expected + (np.log(4.0) - usual) * (0.6 + fixed(rates, "rods"))
    found = rates.log_rate(*PLACE, "t1", rods=4.0, angler="Bo")
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_rods_that_are_not_told_are_the_crews_legal_ones(rates):
    np.testing.assert_array_equal(
        rates.log_rate(*PLACE, "t1"), rates.log_rate(*PLACE, "t1", rods=rates.rods_for("ash", "t1"))
    )
    assert rates.rods_for("ash", "t1") == 4  # two anglers of two rods


def test_known_water_moves_the_rate_from_what_the_log_met(rates, log):
    usual = rates.log_rate(*PLACE, "t1")
    layered = rates.log_rate(*PLACE, "t1", water={"layered": 1.0})
    share = log["stratified"].mean()
    np.testing.assert_allclose(layered - usual, (1 - share) * fixed(rates, "layered"), rtol=1e-9)
    # a condition that this log never met says nothing
    np.testing.assert_array_equal(rates.log_rate(*PLACE, "t1", water={"fresh front": 1.0}), usual)


def test_the_usual_angler_is_the_crew_by_hours(rates, log):
    hours = log.groupby("angler")["hours"].sum() / log["hours"].sum()
    mixed = sum(hours[name] * coefficient(rates, "angler", name.lower()) for name in hours.index)
    anyone = rates.log_rate(*PLACE, "t1")
    bo = rates.log_rate(*PLACE, "t1", angler="bo")
    np.testing.assert_allclose(anyone - bo, mixed - coefficient(rates, "angler", "bo"), atol=1e-12)


def test_what_was_never_logged_is_drawn_from_its_spread():
    rates = catch_rates(random_log(60, seed=3), club=CLUB, draws=4000)
    whole = rates.log_rate(*PLACE, "t1")
    new, other = (rates.log_rate(*PLACE, name) for name in ("new", "other"))
    np.testing.assert_array_equal(new, rates.log_rate(*PLACE, "new"))
    parts = {}
    for name, draws in (("new", new), ("other", other)):
        known = rates.design.level + fixed(rates, "level") + rates.day_spread**2 / 2
        known = known + (np.log(4) - rates.design.centres["rods"]) * (0.6 + fixed(rates, "rods"))
        for block, key in (
            ("phase", ("summer",)), ("lake", ("ash",)), ("phase and lake", ("summer", "ash"))
        ):  # fmt: skip
            known = known + coefficient(rates, block, *key)
        parts[name] = draws - known
    spread = sum(
        rates.spreads[:, rates.design.blocks.index(block)] ** 2
        for block in ("tactic", "tactic and phase", "tactic and lake")
    )
    for part in parts.values():
        assert part.mean() == pytest.approx(0.0, abs=0.06)
        assert part.var() == pytest.approx(spread.mean(), rel=0.15)
    assert abs(np.corrcoef(parts["new"], parts["other"])[0, 1]) < 0.1  # apart from each other
    assert new.var() > whole.var()


@pytest.mark.parametrize("book", [{}, {"new": None, "t0": None, "other": None}])
def test_untried_lakes_and_tactics_of_the_club_have_effects_of_their_own(book):
    club = make_club(lakes=tuple(make_lake(k, k) for k in ("ash", "birch", "cedar", "dogwood")))
    rates = catch_rates(random_log(40), club=club, book=book, draws=2000)
    base = rates.log_rate("ash", "summer", "t1", rods=2)
    apart = [rates.log_rate(lake, "summer", "t1", rods=2) - base for lake in ("cedar", "dogwood")]
    apart += [
        rates.log_rate("ash", "summer", name, rods=2) - base for name in ("new", "other", "third")
    ]
    assert len({tuple(part) for part in apart}) == 5


def test_a_days_luck_leaves_the_mean_alone(rates):
    day = rates.day_spread
    luck = replace(rates, spreads=np.tile(rates.spreads.mean(axis=0), (40000, 1))).day_luck()
    assert np.exp(luck).mean() == pytest.approx(1.0, abs=0.02)
    assert luck.std() == pytest.approx(day.mean(), rel=0.03)


def test_expected_fish_of_a_row_are_its_rate_its_hours_and_its_day(rates, log):
    rows = log.iloc[[2, 40]].assign(hours=[1.5, 4.0], angler=["Ann", "Stranger"])
    rows["stratified"] = [1.0, np.nan]
    found = rates.log_rates_of_rows(rows, every=4)
    assert found.shape == (100, 2)
    for place, (angler, water) in enumerate((("ann", {"layered": 1.0}), (None, {}))):
        row = rows.iloc[place]
        rate = rates.log_rate(
            row["lake"], row["phase"], row["tactic"], rods=row["rods"], angler=angler, water=water
        )
        expected = rate[::4] + rates.day_luck()[::4] + np.log(row["hours"])
        np.testing.assert_allclose(found[:, place], expected, rtol=1e-12)


def test_usual_hours_are_the_geometric_mean():
    log = make_log(tactic=["a", "b"] * 10, fish=[2, 3] * 10, hours=[1.0, 4.0] * 10)
    assert catch_rates(log, club=CLUB, draws=50).usual_hours == pytest.approx(2.0)


def test_rows_of_an_outing_weigh_by_how_much_they_are_alike():
    random = np.random.default_rng(6)
    fish = random.poisson(2 * np.exp(np.repeat(random.normal(0, 1.2, 30), 3)))
    log = make_log(tactic="t", fish=np.append(fish, 3))
    log["trip"] = np.append(np.repeat(np.arange(30), 3), 99)
    alike = catch_rates(log, club=CLUB, draws=50)
    likeness = alike.outing_correlation
    assert likeness > 0.3
    weights = alike.design.data.weights
    alone = alike.rows["trip"].to_numpy() == 99
    np.testing.assert_allclose(weights[alone], 1.0)
    np.testing.assert_allclose(weights[~alone], 1 / (1 + 2 * likeness), rtol=1e-12)


def test_what_rows_say_by_hand():
    """Two rows of a day of 3 and 1 expected fish, alpha 1, spread of days 0.5 (precision 4):
    each alone w mean / (1 + mean): 3/4 and 1/2 half weighed 1/4; shared with 4 + 1."""
    design = SimpleNamespace(
        data=SimpleNamespace(
            offset=np.log([3.0, 1.0, 1.0]), design=np.zeros((3, 1)), weights=np.array([1, 0.5, 1])
        ),
        day=np.array([0, 0, 1]),
    )
    top = SimpleNamespace(mode=np.zeros(1), theta=np.log([9.0, 0.5, 1.0]))
    expected = [0.75 * 4 / 5, 0.25 * 4 / 5, 0.5 * 4 / 4.5]
    np.testing.assert_allclose(_information(design, top), expected, rtol=1e-12)


@pytest.mark.parametrize(("outings", "status"), [(14, "thin"), (15, "ok")])
def test_fifteen_outings_are_no_thin_log(outings, status):
    log = make_log(tactic=["a", "b"] * 15, fish=[2, 3] * 15, trip=np.arange(30) % outings)
    rates = catch_rates(log, club=CLUB, draws=50)
    assert rates.status == status
    assert any("Only 14 outings" in note for note in rates.notes) == (status == "thin")


def test_the_worst_that_is_wrong_with_a_log_names_it_and_all_is_told():
    log = make_log(tactic="a", fish=[0, 0], trip="same")
    rates = catch_rates(log, club=CLUB, draws=50)
    assert rates.status == "no fish"
    assert [note.split()[0:2] for note in rates.notes] == [
        ["Only", "one"], ["Only", "one"], ["No", "fish"],
    ]  # fmt: skip


def test_a_loud_row_without_a_number_is_named_by_its_day():
    log = pd.concat([random_log(40), make_log(tactic="big_lure", fish=[900], date="2023-01-01")])
    log = log.assign(trip=range(41)).drop(columns="row")
    notes = catch_rates(log, club=CLUB, draws=50).notes
    share = 100 * 900 / log["fish"].sum()
    told = next(note for note in notes if "stands out" in note)
    assert told.startswith("The row of 2023-01-01 stands out: 900 fish in 2 hours with big lure, ")
    assert f" {share:.0f} % of all fish" in told


def test_only_tactics_without_a_fish_are_told_as_such(rates):
    assert not any("No fish yet on" in note for note in rates.notes)
    assert rates.status == "ok"


def test_refusals_without_row_numbers_count_from_the_first():
    log = make_log(tactic="t", fish=[2, 2, 2]).drop(columns="row").assign(hours=[1.0, 1.0, 0.0])
    with pytest.raises(TripsError, match="position 2: hours is"):
        catch_rates(log, club=CLUB)
    log = log.assign(rods=[1.0, 0.0, 1.0], fish=[0.5, 1.0, 1.0])
    with pytest.raises(TripsError) as caught:
        catch_rates(log, club=CLUB)
    told = str(caught.value)
    assert told.index("position 0: fish") < told.index("position 1: rods")
    assert told.index("position 1: rods") < told.index("position 2: hours")


def test_legal_rods():
    boat = replace(CLUB.boat, anglers=3, rods_per_angler=4)
    club = replace(
        CLUB, boat=boat,
        lakes={"free": make_lake("free", "Free", max_rods=None),
               "strict": make_lake("strict", "Strict", max_rods=2)},
    )  # fmt: skip
    book = {
        "troll": SimpleNamespace(motion="troll"), "dip": SimpleNamespace(motion="dip"),
        "jig": SimpleNamespace(motion="vertical"),
        "push": SimpleNamespace(motion="push", rods_per_angler=3),
    }  # fmt: skip
    rates = catch_rates(None, club=club, book=book)
    rods = {
        lake: [rates.rods_for(lake, tactic) for tactic in ("troll", "dip", "jig", "push", "other")]
        for lake in ("free", "strict", "elsewhere")
    }
    assert rods == {
        "free": [12, 3, 3, 9, 12], "strict": [6, 3, 3, 6, 6], "elsewhere": [12, 3, 3, 9, 12],
    }  # fmt: skip


def test_a_log_up_to_the_limit_is_taken_whole(monkeypatch):
    log = random_log(60)
    whole = catch_rates(log, club=CLUB, draws=100)
    monkeypatch.setattr(rates_module, "MANY_ROWS", 60)
    same = catch_rates(log, club=CLUB, draws=100)
    np.testing.assert_array_equal(same.coefficients, whole.coefficients)
    monkeypatch.setattr(rates_module, "MANY_ROWS", 59)
    part = catch_rates(log, club=CLUB, draws=100)
    assert not np.array_equal(part.coefficients, whole.coefficients)
    # all columns keep their place, and all rows their say
    assert part.coefficients.shape == whole.coefficients.shape
    assert part.information.shape == (60,)
    first, again = (np.median(r.log_rate(*PLACE, "t1")) for r in (whole, part))
    assert again == pytest.approx(first, abs=0.2)


def test_the_seed_and_the_number_of_draws_are_kept_to(log):
    first, other = (catch_rates(log, club=CLUB, draws=60, seed=seed) for seed in (1, 2))
    assert first.coefficients.shape[0] == first.alpha.shape[0] == len(first.day_luck()) == 60
    assert not np.array_equal(first.coefficients, other.coefficients)
    assert not np.array_equal(first.day_luck(), other.day_luck())


def test_a_long_log_of_like_outings_is_settled_on_the_same_part_twice(monkeypatch):
    random = np.random.default_rng(6)
    fish = random.poisson(2 * np.exp(np.repeat(random.normal(0, 1.2, 30), 3)))
    log = make_log(tactic="t", fish=fish, trip=np.repeat(np.arange(30), 3))
    settled = []

    def settle(data, start=None):
        settled.append(data)
        return real(data, start)

    real = rates_module.settle
    monkeypatch.setattr(rates_module, "settle", settle)
    monkeypatch.setattr(rates_module, "MANY_ROWS", 60)
    assert catch_rates(log, club=CLUB, draws=50).outing_correlation > 0.1
    first, second = settled  # rows alike, then weighed
    np.testing.assert_array_equal(first.counts, second.counts)
    assert len(first.counts) == 45 and first.weights.max() == 1.0 > second.weights.max()
