"""Logs that fool a model or their owner: each has one readable outcome."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from log_helpers import make_club
from rate_helpers import make_log, random_log

from lakekit.errors import TripsError
from lakekit.trips import (
    LIMITS,
    catch_rates,
    headline,
    pooling,
    predict_outing,
    rate_table,
    read_trips,
    try_next,
)
from lakekit.trips.blanks import suspect_blanks
from lakekit.trips.rates import _outing_correlation

CLUB = make_club()


def sane(table):
    figures = table[["rate", "low", "high", "own_share", "best_chance"]].to_numpy(dtype=float)
    assert np.isfinite(figures).all() and (figures >= 0).all()
    assert (table["high"] / table["low"] < 1e3).all()


@pytest.mark.parametrize("trips", [None, pd.DataFrame()])
def test_no_log_is_unranked_in_the_given_order_without_a_rate(trips):
    rates = catch_rates(trips, club=CLUB, book={})
    assert rates.status == "empty" and not rates.ranked
    table = rate_table(rates, "ash", "summer", tactics=["b", "a", "c"])
    assert list(table["tactic"]) == ["b", "a", "c"]
    assert table[["rate", "low", "high", "best_chance"]].isna().all(axis=None)
    assert set(table["sentence"]) == {"Suits season and gear, unranked."}
    assert headline(rates, table).startswith("No usable row in the log")
    assert predict_outing(rates, "ash", "summer", "a", 3)["usual"] is None
    assert try_next(rates, "ash", "summer", tactics=["a", "b"]).empty


def test_log_of_unusable_rows_says_that_rows_were_left_out(tmp_path):
    path = tmp_path / "trips.csv"
    path.write_text("date,start,hours,lake,tactic,rods,fish\n2025-05-01,06:00,,ash,a,1,3\n")
    rates = catch_rates(read_trips(path, CLUB, as_of="2026-01-01"), club=CLUB)
    assert rates.status == "empty"
    assert rates.notes[1].startswith("1 rows are left out")


def test_a_tactic_without_a_fish_is_low_but_not_zero():
    log = pd.concat([random_log(60), make_log(tactic="none", fish=[0] * 8, date="2023-01-01")])
    log["trip"] = range(len(log))
    rates = catch_rates(log, club=CLUB)
    table = rate_table(rates, "ash", "summer").set_index("tactic")
    sane(table)
    assert 0 < table.loc["none", "rate"] < table.drop("none")["rate"].min()
    assert "No fish yet here" in table.loc["none", "sentence"]
    assert any("No fish yet on none in 16 boat-hours" in note for note in rates.notes)


def test_perfect_separation_by_phase_stays_sane():
    log = pd.concat(
        [
            make_log(tactic="a", fish=[5] * 20, phase="summer"),
            make_log(tactic="a", fish=[0] * 20, phase="winter", date="2023-01-01"),
        ]
    )
    log["trip"] = range(40)
    rates = catch_rates(log, club=CLUB)
    summer, winter = (rate_table(rates, "ash", phase) for phase in ("summer", "winter"))
    sane(summer)
    sane(winter)
    assert winter["high"].iloc[0] < summer["low"].iloc[0]


def test_all_zeros_rank_nothing_and_bound_the_rate():
    log = make_log(tactic=["a", "b"] * 15, fish=[0] * 30)
    rates = catch_rates(log, club=CLUB)
    assert rates.status == "no fish" and "No fish in 60 boat-hours" in rates.notes[0]
    table = rate_table(rates, "ash", "summer")
    sane(table)
    assert table["rank"].isna().all()
    assert table["rate"].max() < 0.3
    assert headline(rates, table).startswith("No fish in 60 boat-hours")


def test_one_tactic_cannot_be_compared():
    rates = catch_rates(make_log(tactic="only", fish=[2, 0, 4, 1, 3] * 4), club=CLUB)
    assert rates.status == "one tactic"
    table = rate_table(rates, "ash", "summer", tactics=["only", "never"])
    sane(table)
    assert table["rank"].isna().all()
    assert headline(rates, table).startswith("Only one tactic is in the log (only)")


def test_one_outing_is_little_more_than_a_guess():
    rates = catch_rates(make_log(tactic=["a", "b"], fish=[3, 1], trip="same"), club=CLUB)
    assert rates.status == "one outing" and "little more than a guess" in rates.notes[0]
    table = rate_table(rates, "ash", "summer")
    sane(table)
    assert (table["high"] / table["low"] > 3).all()


def test_a_thin_log_says_so():
    rates = catch_rates(random_log(8), club=CLUB)
    assert rates.status == "thin" and "Only 8 outings" in rates.notes[0]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("hours", 0.0),
        ("hours", np.nan),
        ("hours", -1.0),
        ("hours", np.inf),
        ("rods", -2.0),
        ("rods", np.inf),
        ("rods", np.nan),
        ("fish", -1.0),
        ("fish", np.nan),
        ("fish", np.inf),
        ("fish", 1.5),
        ("tactic", np.nan),
        ("tactic", None),
        ("tactic", " "),
        ("lake", None),
        ("date", pd.NaT),
        ("start", pd.NaT),
        ("trip", np.nan),
    ],
)
def test_values_that_no_rate_can_come_of_are_refused_with_their_row(name, value):
    log = make_log(tactic=["a", "b", "a"], fish=[1, 2, 3])
    log[name] = [log[name][0], value, log[name][2]]
    with pytest.raises(TripsError, match=f"row 3: {name} is"):
        catch_rates(log, club=CLUB)


def test_a_log_without_a_needed_column_is_refused():
    with pytest.raises(KeyError, match="lacks hours"):
        catch_rates(random_log().drop(columns="hours"), club=CLUB)


def test_questions_with_impossible_rods_or_hours_are_refused():
    rates = catch_rates(random_log(20), club=CLUB)
    for rods in (0, -1, np.nan, np.inf):
        with pytest.raises(ValueError, match="rods above 0"):
            rates.log_rate("ash", "summer", "t0", rods=rods)
    with pytest.raises(ValueError, match="hours above 0"):
        predict_outing(rates, "ash", "summer", "t0", np.inf)


def test_slips_and_repeats_never_reach_the_rates(tmp_path):
    rows = ["trip,date,start,hours,lake,tactic,rods,fish"]
    rows += [f"{day},2025-05-{day:02d},06:00,2,ash,a,2,{day % 4}" for day in range(1, 21)]
    clean = tmp_path / "clean.csv"
    clean.write_text("\n".join(rows))
    slips = [
        "3,2025-05-03,06:00,2,ash,a,2,3",
        "21,2025-05-21,06:00,2,ash,a,2,10000",
        "22,2025-05-22,06:00,0,ash,a,2,4",
        "23,2025-05-23,06:00,,ash,a,2,4",
    ]
    messy = tmp_path / "messy.csv"
    messy.write_text("\n".join(rows + slips))
    tables = []
    for path in (clean, messy):
        trips = read_trips(path, CLUB, as_of="2026-01-01")
        tables.append(rate_table(catch_rates(trips, club=CLUB), "ash", "spring"))
    assert len(trips.attrs["excluded"]) == 4
    pd.testing.assert_frame_equal(*tables)


def test_a_fit_that_does_not_settle_is_told(monkeypatch):
    real = pooling.minimize

    def hasty(*args, **options):
        return real(*args, **options | {"options": {"maxiter": 1}})

    monkeypatch.setattr(pooling, "minimize", hasty)
    rates = catch_rates(random_log(), club=CLUB)
    assert rates.notes[-1].startswith("The fit did not quite settle")
    sane(rate_table(rates, "ash", "summer"))


def test_a_fit_that_breaks_leaves_tactics_unranked(monkeypatch):
    def broken(*args, **options):
        raise np.linalg.LinAlgError("not positive definite")

    monkeypatch.setattr(pooling, "minimize", broken)
    rates = catch_rates(random_log(), club=CLUB)
    assert rates.status == "no fit" and "look for a slip" in rates.notes[0]
    table = rate_table(rates, "ash", "summer", tactics=["t0", "t1"])
    assert table["rate"].isna().all()


def counts(*, seed, alpha=1.0, rows=150):
    random = np.random.default_rng(seed)
    mean = random.gamma(4, 0.6, rows) * 1.2
    return random.poisson(mean * random.gamma(1 / alpha, alpha, rows)).astype(float), mean


def test_missing_blanks_are_suspected_and_complete_logs_are_not():
    """At most 2 of 40 complete logs (under 5 %), most of those without four fifths of blanks."""
    alarms, found = 0, 0
    for seed in range(40):
        fish, mean = counts(seed=seed)
        alarms += suspect_blanks(fish, mean)["suspected"]
        kept = (fish > 0) | (np.random.default_rng(seed).random(len(fish)) > 0.8)
        found += suspect_blanks(fish[kept], mean[kept])["suspected"]
    assert alarms <= 2
    assert found >= 28


def test_one_short_outing_does_not_raise_the_note_on_blanks():
    fish, mean = counts(seed=3)
    before = suspect_blanks(fish, mean)
    fish[0], mean[0] = 1.0, 0.002  # three minutes, one fish
    assert suspect_blanks(fish, mean)["score"] == pytest.approx(before["score"], abs=0.2)
    assert not suspect_blanks(fish, mean)["suspected"]


def test_blanks_that_are_missing_are_counted():
    """Nine tenths of 2,000 outings' blanks left out: their number is found again."""
    fish, mean = counts(seed=5, rows=2000)
    kept = (fish > 0) | (np.random.default_rng(5).random(2000) > 0.9)
    found = suspect_blanks(fish[kept], mean[kept])
    assert found["expected"] == pytest.approx((fish == 0).sum(), rel=0.2)
    assert found["kept"] == pytest.approx(0.1, abs=0.05)


def test_one_row_out_of_keeping_is_named_and_never_makes_a_first():
    log = pd.concat([random_log(40), make_log(tactic="lucky", fish=[900], date="2023-01-01")])
    log["trip"], log["row"] = range(41), range(2, 43)
    rates = catch_rates(log, club=CLUB)
    assert any(note.startswith("Row 42 stands out: 900 fish in 2 hours") for note in rates.notes)
    words = headline(rates, rate_table(rates, "ash", "summer"))
    assert "is first" not in words
    assert words == "lucky did best so far, on 1 outing: too few to call it first."
    quiet = catch_rates(random_log(40), club=CLUB)
    assert not any("stands out" in note for note in quiet.notes)


def test_one_outing_never_reads_as_sure():
    """One hour with fish beside one without: whatever the chances, nothing is called first."""
    log = make_log(tactic=["a", "b"], fish=[40, 0], trip="same")
    rates = catch_rates(log, club=CLUB)
    words = headline(rates, rate_table(rates, "ash", "summer"))
    assert "is first" not in words and "9 in 10" not in words


def test_suspected_blanks_are_told_in_words():
    fish, _ = counts(seed=1)
    log = make_log(tactic="a", fish=fish[fish > 0])
    rates = catch_rates(log, club=CLUB)
    assert rates.blanks["suspected"]
    assert any(
        "Trips without a fish seem to be missing: 0 are logged" in note for note in rates.notes
    )


def test_what_a_log_cannot_show_is_written_down():
    words = " ".join(LIMITS)
    for part in ("picks the tactic that suits the day", "without its blanks", "bag limit"):
        assert part in words


def test_a_refusal_names_five_rows_and_counts_the_rest():
    log = make_log(tactic="t", fish=[2] * 8).assign(hours=0.0)
    with pytest.raises(TripsError) as caught:
        catch_rates(log, club=CLUB)
    assert str(caught.value).count("hours is") == 5 and "; 3 more" in str(caught.value)
    with pytest.raises(TripsError) as caught:
        catch_rates(log.iloc[:5], club=CLUB)
    assert str(caught.value).count("hours is") == 5 and " more" not in str(caught.value)


def test_rows_alike_within_an_outing_are_weighed_as_computed_by_hand():
    """Twenty pairs, both rows one above or one below the fit: alike to 1, and 40 pairs of doubt
    count against 40 ordered pairs found: 1 x 40 / (40 + 40)."""
    counts = np.repeat(np.tile([5.0, 3.0], 10), 2)
    data = SimpleNamespace(counts=counts, offset=np.full(40, np.log(4.0)), design=np.zeros((40, 1)))
    top = SimpleNamespace(mode=np.zeros(1), theta=np.array([-1.0]))
    trips = pd.Series(np.repeat(np.arange(20), 2))
    assert _outing_correlation(trips, data, top) == pytest.approx(0.5, rel=1e-9)
    assert _outing_correlation(pd.Series(np.arange(40)), data, top) == 0.0


def test_likeness_of_unequal_rows_by_hand():
    """Two outings of rows of 1 and 4 expected fish, alpha 1, so variances 2 and 20."""
    trips = pd.Series(["a", "a", "b", "b"])
    data = SimpleNamespace(offset=np.log([1.0, 4.0, 1.0, 4.0]), design=np.zeros((4, 1)))
    top = SimpleNamespace(mode=np.zeros(1), theta=np.log([7.0, 1.0]))
    # residuals 2 / 2^0.5 and 4 / 20^0.5, then -1 / 2^0.5 and -4 / 20^0.5; 4 ordered pairs
    data.counts = np.array([3.0, 8.0, 0.0, 0.0])
    alike = 2 * (2 * 4 + 1 * 4) / 40**0.5 / 4
    square = (4 / 2 + 16 / 20 + 1 / 2 + 16 / 20) / 4
    expected = alike / square * 4 / (4 + 40)
    assert _outing_correlation(trips, data, top) == pytest.approx(expected, rel=1e-9)
    # a row beyond three standard deviations counts as three
    found = []
    for fish in (1 + 3 * 2**0.5, 100.0):
        data.counts = np.array([fish, 8.0, 0.0, 0.0])
        found.append(_outing_correlation(trips, data, top))
    assert found[0] == pytest.approx(found[1], rel=1e-9)
    # rows that differ within an outing are not alike
    data.counts = np.array([3.0, 0.0, 0.0, 8.0])
    assert _outing_correlation(trips, data, top) == 0.0
