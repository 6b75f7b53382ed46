"""Rates from a log: what they say, what changes nothing, and what must never happen."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from log_helpers import make_club, make_lake
from rate_helpers import make_log, random_log
from scipy.stats import nbinom

from lakekit.trips import (
    catch_rates,
    guide_answers,
    headline,
    predict_outing,
    rate_table,
    read_trips,
    try_next,
)
from lakekit.trips.answers import fish_chances, shortest_range

CLUB = make_club()
FIGURES = [
    "rate",
    "low",
    "high",
    "relied",
    "rods",
    "rate_per_rod",
    "own_share",
    "best_chance",
    "hours",
    "fish",
    "outings",
    "outings_with_tactic",
]


def table_of(log, *, book=None, club=CLUB, lake="ash", phase="summer", **options):
    rates = catch_rates(log, book=book, club=club)
    return rate_table(rates, lake, phase, **options).set_index("tactic")


def test_a_plentiful_log_gets_its_own_rates():
    log = pd.concat(
        [
            make_log(tactic="good", fish=np.tile([3, 9, 6, 5, 7], 24), rods=2.0),
            make_log(tactic="poor", fish=np.tile([1, 0, 2, 1, 1], 24), rods=2.0, date="2022-06-01"),
        ]
    )
    log["trip"] = range(len(log))
    table = table_of(log, rods={"good": 2, "poor": 2})
    assert table.loc["good", "rate"] == pytest.approx(3.0, rel=0.08)  # 6 fish in 2 hours
    assert table.loc["poor", "rate"] == pytest.approx(0.5, rel=0.15)
    assert table.loc["good", "best_chance"] > 0.99
    assert table.loc["good", "own_share"] > 0.9
    assert list(table["rank"]) == [1, 2]
    assert (table["low"] < table["rate"]).all() and (table["rate"] < table["high"]).all()
    assert (table["rate_per_rod"] * table["rods"]).tolist() == pytest.approx(table["rate"].tolist())


def test_three_lucky_hours_never_outrank_thirty_honest_ones():
    lucky = make_log(tactic="lucky", fish=[8], hours=3.0)
    honest = make_log(
        tactic="honest", fish=[4, 6, 5, 3, 7, 5, 4, 6, 5, 5], hours=3.0, date="2023-06-01"
    )
    others = make_log(
        tactic=["dull", "slow"] * 6,
        fish=[1, 2, 0, 1, 3, 0, 1, 2, 1, 0, 2, 1],
        hours=3.0,
        date="2022-06-01",
    )
    log = pd.concat([lucky, honest, others])
    log["trip"] = range(len(log))
    table = table_of(log, rods=dict.fromkeys(["lucky", "honest", "dull", "slow"], 2))
    raw = log.groupby("tactic")["fish"].sum() / log.groupby("tactic")["hours"].sum()
    assert raw["lucky"] > raw["honest"]  # the totals would be fooled
    assert table.loc["honest", "rank"] == 1
    assert table.loc["lucky", "rate"] < raw["lucky"] / 1.3  # 2.0 where the totals say 2.7
    wide = np.log(table["high"] / table["low"])
    assert wide["lucky"] > wide["honest"]
    assert table.loc["lucky", "relied"] < table.loc["lucky", "rate"]  # one outing: cautiously
    assert table.loc["honest", "relied"] == table.loc["honest", "rate"]


def test_nor_where_there_is_nothing_else_to_shrink_toward():
    lucky = make_log(tactic="lucky", fish=[9], hours=3.0)
    honest = make_log(
        tactic="honest", fish=[2, 11, 6, 0, 14, 5, 3, 9, 1, 9], hours=3.0, date="2023-06-01"
    )
    log = pd.concat([lucky, honest])
    log["trip"] = range(len(log))
    table = table_of(log, rods=dict.fromkeys(["lucky", "honest"], 2))
    assert table.loc["honest", "rank"] == 1


def test_boat_hours_rank_and_rods_are_the_crews_legal_ones():
    """Eight trolled rods at 16 fish an hour beat one cast rod at 4, by boat-hour."""
    club = make_club(lakes=(make_lake("ash", "Ash", max_rods=4),))
    club = replace(club, boat=replace(club.boat, rods_per_angler=4))
    troll = make_log(tactic="troll", fish=[32, 25, 40, 30, 33] * 4, rods=8.0)
    cast = make_log(tactic="cast", fish=[8, 7, 9, 6, 10] * 4, rods=1.0, date="2023-06-01")
    log = pd.concat([troll, cast])
    log["trip"] = range(len(log))
    book = {"cast": SimpleNamespace(motion="cast"), "troll": SimpleNamespace(motion="troll")}
    table = table_of(log, book=book, club=club)
    assert table["rods"].to_dict() == {"troll": 8, "cast": 2}  # two anglers, one cast rod each
    assert table.loc["troll", "rank"] == 1
    assert table.loc["cast", "rate_per_rod"] > table.loc["troll", "rate_per_rod"]
    strict = make_club(lakes=(make_lake("ash", "Ash", max_rods=1),))
    assert catch_rates(log, book=book, club=strict).rods_for("ash", "troll") == 2
    own = {"push": SimpleNamespace(motion="push", rods_per_angler=3)}
    assert catch_rates(log, book=own, club=club).rods_for("ash", "push") == 6


def test_rods_exponent_follows_the_log_and_shrinks_toward_what_surveys_have():
    random = np.random.default_rng(2)
    rods = random.integers(1, 9, 300).astype(float)
    fish = random.poisson(2.0 * rods**0.2 * random.gamma(2, 0.5, 300))
    many = catch_rates(make_log(tactic="t", fish=fish, rods=rods), club=CLUB)
    few = catch_rates(make_log(tactic="t", fish=fish[:12], rods=rods[:12]), club=CLUB)
    low, high = many.rods_exponent[1:]
    assert low < 0.2 < high and high - low < 0.4
    few = few.rods_exponent
    assert abs(few[0] - 0.6) < 0.2 and few[2] - few[1] > 0.4  # the prior's 0.6, hardly moved
    same = catch_rates(make_log(tactic="t", fish=fish[:40], rods=2.0), club=CLUB)
    assert same.rods_exponent[0] == pytest.approx(0.6, abs=0.05)


def test_order_of_rows_changes_nothing():
    log = random_log()
    shuffled = log.sample(frac=1, random_state=7)
    first, again = table_of(log), table_of(shuffled)
    assert list(first.index) == list(again.index)
    pd.testing.assert_frame_equal(first[FIGURES], again[FIGURES], rtol=1e-6)


def test_names_of_tactics_change_nothing():
    log = random_log()
    names = {"t0": "zebra", "t1": "aardvark", "t2": "10", "t3": "méthode 3"}
    renamed = log.assign(tactic=log["tactic"].map(names))
    first, again = table_of(log), table_of(renamed)
    assert [names[key] for key in first.index] == list(again.index)
    pd.testing.assert_frame_equal(first.rename(index=names)[FIGURES], again[FIGURES], rtol=1e-6)


def test_units_of_the_log_change_nothing(tmp_path):
    random = np.random.default_rng(1)
    us = ["date,start,hours,lake,tactic,rods,fish,bait_depth_ft"]
    metric = ["date,start,hours,lake,tactic,rods,fish,bait_depth_m"]
    for day in range(60):
        depth = round(float(random.uniform(3, 20)), 1)
        row = (
            f"2025-{5 + day // 28:02d}-{1 + day % 28:02d},{'05' if day % 2 else '13'}:30,2,ash,"
            f"t{random.integers(3)},2,{random.poisson(3)},"
        )
        us.append(f"{row}{depth}")
        metric.append(f"{row}{depth * 0.3048:.12f}")
    times = pd.date_range("2025-05-01", periods=100, freq="D")
    layers = xr.Dataset(
        {
            "thermocline_depth": ("time", np.full(100, 3.0)),
            "oxygen_floor_depth": ("time", np.full(100, 5.0)),
            "stratified": ("time", np.ones(100)),
        },
        coords={"time": times},
    )
    tables = []
    for name, lines in (("us.csv", us), ("metric.csv", metric)):
        (tmp_path / name).write_text("\n".join(lines))
        trips = read_trips(tmp_path / name, CLUB, as_of="2026-01-01")
        rates = catch_rates(trips, {"ash": layers}, club=CLUB)
        assert {"near thermocline", "below oxygen floor", "low light"} <= set(rates.design.fixed)
        tables.append(rate_table(rates, "ash", "spring").set_index("tactic")[FIGURES])
    pd.testing.assert_frame_equal(*tables, rtol=1e-6)


def test_same_log_same_answer_and_chances_add_to_one():
    log = random_log()
    first, again = table_of(log), table_of(log)
    pd.testing.assert_frame_equal(first, again)
    assert first["best_chance"].sum() == pytest.approx(1.0, abs=1e-12)


def test_catch_depth_is_no_covariate():
    """Only rows with fish have a catch depth: it must not enter a rate."""
    log = random_log()
    with_depth = log.assign(
        catch_depth=np.where(log["fish"] > 0, 3.0, np.nan), thermocline_depth=3.0, bait_depth=np.nan
    )
    pd.testing.assert_frame_equal(table_of(log), table_of(with_depth))


def test_water_of_the_hour_moves_the_rate():
    random = np.random.default_rng(4)
    layered = random.integers(0, 2, 300).astype(float)
    fish = random.poisson(2.0 * np.exp(0.8 * layered) * random.gamma(2, 0.5, 300))
    log = make_log(tactic="t", fish=fish).assign(stratified=layered)
    rates = catch_rates(log, club=CLUB)
    calm, mixed = (
        np.median(rates.log_rate("ash", "summer", "t", water={"layered": value}))
        for value in (1.0, 0.0)
    )
    assert 0.4 < calm - mixed < 0.9  # 0.8, shrunk
    with pytest.raises(KeyError, match="no condition 'moon'"):
        rates.log_rate("ash", "summer", "t", water={"moon": 1.0})


def test_rows_of_one_outing_count_for_less():
    random = np.random.default_rng(6)
    day = np.repeat(random.normal(0, 1.2, 40), 5)
    fish = random.poisson(2 * np.exp(day))
    apart = make_log(tactic="t", fish=fish)
    together = apart.assign(trip=np.repeat(np.arange(40), 5))
    alone, shared = (catch_rates(log, club=CLUB) for log in (apart, together))
    assert alone.outing_correlation == 0.0
    assert 0.3 < shared.outing_correlation <= 0.8
    wide = [
        np.ptp(np.quantile(r.log_rate("ash", "summer", "t"), [0.1, 0.9])) for r in (alone, shared)
    ]
    assert wide[1] > 1.1 * wide[0]


def test_boats_out_on_one_day_share_it():
    """Thirty days of five boats: the day's spread is found and the rate is less sure for it."""
    random = np.random.default_rng(9)
    day = np.repeat(random.normal(0, 0.7, 30), 5)
    fish = random.poisson(3 * np.exp(day) * random.gamma(5, 0.2, 150))
    apart = make_log(tactic="t", fish=fish)
    dates = pd.Timestamp("2024-06-01") + pd.to_timedelta(np.repeat(np.arange(30), 5), unit="D")
    together = apart.assign(date=dates, start=dates + pd.Timedelta(hours=12))
    alone, shared = (catch_rates(log, club=CLUB) for log in (apart, together))
    assert 0.4 < np.median(shared.day_spread) < 1.0
    wide = [
        np.ptp(np.quantile(r.log_rate("ash", "summer", "t"), [0.1, 0.9])) for r in (alone, shared)
    ]
    assert wide[1] > 1.2 * wide[0]
    assert abs(shared.day_luck().mean() + np.mean(shared.day_spread**2) / 2) < 0.05
    other = together.assign(lake=np.tile(["ash", "birch"], 75))
    assert len(set(catch_rates(other, club=CLUB).design.day)) == 60  # each lake has its own day


def test_a_long_log_learns_its_pooling_from_part_of_it(monkeypatch):
    log = random_log(240)
    whole = catch_rates(log, club=CLUB)
    monkeypatch.setattr("lakekit.trips.rates.MANY_ROWS", 130)
    part = catch_rates(log, club=CLUB)
    for tactic in ("t0", "t3"):
        first, again = (r.log_rate("ash", "summer", tactic) for r in (whole, part))
        assert np.median(again) == pytest.approx(np.median(first), abs=0.15)
        assert again.std() == pytest.approx(first.std(), rel=0.3)


def test_pooled_anglers_keep_their_own_skill_apart():
    random = np.random.default_rng(8)
    who = np.repeat(["Ann", "Bo", "Cy"], 60)
    skill = np.repeat([0.8, 0.0, -0.8], 60)
    # Ann, the most skilful, prefers the worse tactic
    tactic = np.where(random.random(180) < np.repeat([0.85, 0.5, 0.15], 60), "worse", "better")
    rate = np.exp(skill + np.where(tactic == "better", 0.4, 0.0))
    fish = random.poisson(3 * rate * random.gamma(4, 0.25, 180))
    log = make_log(tactic=list(tactic), fish=fish, angler=list(who))
    raw = log.groupby("tactic")["fish"].mean()
    assert raw["worse"] > raw["better"]  # confounded
    assert table_of(log).loc["better", "rank"] == 1
    rates = catch_rates(log, club=CLUB)
    ann, cy = (
        np.median(rates.log_rate("ash", "summer", "better", angler=name)) for name in ("ANN", "cy")
    )
    assert 1.1 < ann - cy < 1.8


def test_untried_tactics_are_listed_last_without_a_rank():
    book = {key: SimpleNamespace(motion="troll") for key in ("new", "t1", "t0", "other")}
    rates = catch_rates(random_log(), book=book, club=CLUB)
    table = rate_table(rates, "ash", "summer")
    assert list(table["tactic"][2:]) == ["new", "other"]  # the book's order
    assert table["rank"].isna().tolist() == [False, False, True, True]
    assert "unranked: not in the log" in table["sentence"].iloc[2]
    wide = np.log(table["high"] / table["low"])
    assert wide[2:].min() > wide[:2].max()
    answers = guide_answers(rates, "ash", "summer")
    assert answers["new"]["value"] is None
    assert answers["t0"]["value"] > 0 and "8 in 10" in answers["t0"]["text"]


def test_a_phase_or_lake_never_fished_borrows_and_says_so():
    table = table_of(random_log(), phase="winter")
    assert (table["outings"] == 0).all() and (table["own_share"] == 0).all()
    assert table["sentence"].str.contains("told by .* elsewhere").all()
    known = table_of(random_log())
    assert np.log(table["high"] / table["low"]).min() > np.log(known["high"] / known["low"]).min()


def test_planned_outing_has_an_interval_that_holds_luck():
    log = make_log(tactic="t", fish=np.random.default_rng(0).negative_binomial(1, 0.2, 300))
    rates = catch_rates(log, club=CLUB)
    plan = predict_outing(rates, "ash", "summer", "t", 2.0, rods=2)
    assert plan["usual"] == pytest.approx(4.0, rel=0.12)  # mean of that distribution
    assert plan["blank_chance"] == pytest.approx(0.2, abs=0.03)
    assert (plan["low"], plan["high"]) == (0, pytest.approx(7, abs=1))  # its 80 % point is 7
    assert "bring none" in plan["sentence"]
    longer = predict_outing(rates, "ash", "summer", "t", 6.0, rods=2)
    assert longer["usual"] == pytest.approx(3 * plan["usual"], rel=1e-12)
    assert "expected" not in plan  # the mean misleads while the log is thin
    with pytest.raises(ValueError, match="needs hours"):
        predict_outing(rates, "ash", "summer", "t", 0)


def test_told_range_is_the_shortest_of_whole_fish_that_holds_eight_in_ten():
    assert shortest_range(np.array([0.85, 0.1, 0.05])) == (0, 0)
    assert shortest_range(np.array([0.05, 0.1, 0.3, 0.35, 0.15, 0.05])) == (2, 4)
    assert shortest_range(np.array([0.1, 0.4, 0.4, 0.1])) == (1, 2)
    assert shortest_range(np.full(10, 0.1)) == (0, 7)
    random = np.random.default_rng(3)
    for _ in range(20):
        chances = random.dirichlet(np.full(30, 0.5))
        low, high = shortest_range(chances)
        assert chances[low : high + 1].sum() >= 0.8 - 1e-9
        narrower = np.convolve(chances, np.ones(max(1, high - low)), "valid")
        assert high == low or narrower.max() < 0.8
    sure = fish_chances(np.full(50, 2.3), np.full(50, 0.7))
    assert sure[:12] == pytest.approx(nbinom.pmf(np.arange(12), 1 / 0.7, 1 / (1 + 0.7 * 2.3)))
    assert sure.sum() == pytest.approx(1.0, abs=1e-3)


def test_what_to_try_next_is_the_doubtful_rival_not_the_known_loser():
    known = make_log(tactic="known", fish=[6, 8, 7, 6, 9, 7, 8, 7, 6, 7] * 4)
    loser = make_log(tactic="loser", fish=[0, 1, 0, 0, 1, 0, 1, 0, 0, 1] * 4, date="2022-06-01")
    rival = make_log(tactic="rival", fish=[9], date="2023-01-01")
    log = pd.concat([known, loser, rival])
    log["trip"] = range(len(log))
    rates = catch_rates(log, club=CLUB)
    trials = try_next(rates, "ash", "summer")
    assert trials["tactic"].iloc[0] == "rival"
    gain = trials.set_index("tactic")["gain"]
    assert gain["rival"] > 10 * gain["loser"] and (gain >= 0).all()
    assert "would teach the log most" in trials["sentence"].iloc[0]
    assert "hardly change" in trials.set_index("tactic").loc["loser", "sentence"]


def test_headline_says_best_only_when_it_is():
    sure = pd.concat(
        [
            make_log(tactic="good", fish=[8] * 30),
            make_log(tactic="poor", fish=[1] * 30, date="2023-01-01"),
        ]
    )
    sure["trip"] = range(60)
    rates = catch_rates(sure, club=CLUB)
    words = headline(rates, rate_table(rates, "ash", "summer"), names={"good": "Good one"})
    assert words.startswith("Good one is first")
    vague = catch_rates(random_log(30, tactics=8), club=CLUB)
    words = headline(vague, rate_table(vague, "ash", "summer"))
    assert "leans to" in words and "too thin" in words


def test_calendar_quarters_serve_where_no_phase_is_joined():
    log = random_log().drop(columns="phase")
    rates = catch_rates(log, club=CLUB)
    assert rates.phase_kind == "calendar quarter"
    assert set(rates.design.levels["phase"]) <= {"winter", "spring", "summer", "fall"}
    south = make_club(
        lakes=(
            replace(make_lake("ash", "Ash"), latitude=-38.0),
            replace(make_lake("birch", "Birch"), latitude=-38.0),
        )
    )
    june = log[log["date"].dt.month == 6]
    assert set(catch_rates(june, club=south).rows["phase"]) == {"winter"}
