"""Which tactics are listed, how deep, in what order, and what is said of hot, squeezed water."""

import re
from dataclasses import replace

import pytest

from lakekit.club import read_club
from lakekit.guide.summaries import first_choice
from lakekit.tactics.advise import advise
from lakekit.tactics.book import read_book
from lakekit.tactics.start import Band

GOOD = Band(3.0, 6.0, True, "above_oxygen_floor")
START = 4.5


@pytest.fixture(scope="module")
def club():
    return read_club()


def rows(club, *, phase="summer", band=GOOD, ice_chance=0.0, warm=24.0, answers=None, bottom=12.0):
    lake = club.lakes["quarry-hollow"]
    return advise(
        read_book(),
        club,
        lake,
        phases=(phase,) if isinstance(phase, str) else phase,
        band=band,
        start=START if band.top is not None else None,
        bottom=bottom,
        ice_chance=ice_chance,
        surface_temperature=warm,
        answers=answers,
    )


def test_only_tactics_of_the_phase_within_reach_are_listed(club):
    for row in rows(club):
        tactic = read_book()[row["key"]]
        assert "summer" in tactic.phases
        assert tactic.depth.shallowest <= row["top"] < row["bottom"] <= tactic.depth.deepest
        if tactic.depth.within == "band":
            assert GOOD.top <= row["top"]
            assert row["bottom"] <= GOOD.bottom


def test_without_a_log_there_is_no_order_but_the_books(club):
    listed = rows(club)
    assert [row["key"] for row in listed] == [
        key for key in read_book() if key in {row["key"] for row in listed}
    ]
    assert all(row["rank"] is None and row["value"] is None for row in listed)
    assert all("unranked" in row["log"] for row in listed)


def told(**answers):
    """A log that answers for these tactics: (value, chance to be the best, outings) each."""
    known = {
        key: {"value": value, "text": f"{value}", "best_chance": chance, "outings": outings}
        for key, (value, chance, outings) in answers.items()
    }
    return lambda keys: {key: known[key] for key in keys if key in known}


def test_a_log_puts_the_better_rate_first_and_the_untried_last(club):
    listed = rows(club, answers=told(drift=(5.0, 0.8, 9), cast_jig=(2.0, 0.2, 9)))
    assert [row["key"] for row in listed[:2]] == ["drift", "cast_jig"]
    assert [row["rank"] for row in listed[:3]] == [1, 2, None]
    assert [row["sure"] for row in listed[:2]] == [True, False]


def test_a_thin_log_crowns_nobody(club):
    even = rows(club, answers=told(drift=(5.0, 0.45, 9), cast_jig=(4.9, 0.4, 9)))
    assert not any(row["sure"] for row in even)
    assert first_choice(even) == "the log leans to Drift bait or Cast a jig"
    sure = rows(club, answers=told(drift=(5.0, 0.7, 9), cast_jig=(4.9, 0.3, 9)))
    assert first_choice(sure) == "Drift bait"


def test_one_outing_never_makes_a_first_choice(club):
    listed = rows(club, answers=told(drift=(9.0, 0.9, 1), cast_jig=(2.0, 0.1, 9)))
    assert listed[0]["key"] == "cast_jig"
    alone = rows(club, answers=told(drift=(9.0, 0.9, 1)))
    assert not alone[0]["sure"]


def test_a_first_choice_is_one_that_the_boat_can_run(club):
    shallow = Band(1.0, 2.0, True, "warmest")
    listed = rows(
        club, band=shallow, answers=told(troll_lipped=(9.0, 0.9, 9), cast_jig=(2.0, 0.1, 9))
    )
    assert listed[0]["key"] == "cast_jig"
    assert listed[0]["setup_figures"]["possible"]


def test_boat_and_ice_are_never_ranked_against_each_other(club):
    deep = Band(4.0, 9.0, True, "cold")
    answers = told(ice_jig=(9.0, 1.0, 9), vertical_jig=(2.0, 1.0, 9))
    both = rows(club, phase="winter", band=deep, ice_chance=0.6, answers=answers)
    assert [(row["water"], row["rank"]) for row in both[:2]] == [("ice", 1), ("boat", 1)]
    assert first_choice(both) == "on ice: Ice jig; open water: Vertical jig"
    iced = rows(club, phase="winter", band=deep, ice_chance=0.95, answers=answers)
    assert {row["water"] for row in iced} == {"ice"}
    open_water = rows(club, phase="winter", band=deep, ice_chance=0.05, answers=answers)
    assert {row["water"] for row in open_water} == {"boat"}
    assert all("cannot know the ice" in row["caution"] for row in both if row["water"] == "ice")


def test_the_logs_own_season_adds_its_tactics(club):
    deep = Band(2.0, 9.0, True, "cold")
    alone = {row["key"] for row in rows(club, phase="winter", band=deep)}
    both = {row["key"] for row in rows(club, phase=("winter", "pre_spawn"), band=deep)}
    assert "float_rig" in both - alone


def test_each_is_set_up_at_the_start_depth_where_it_reaches(club):
    for row in rows(club):
        assert row["top"] <= row["start"] <= row["bottom"]
        if row["top"] <= START <= row["bottom"]:
            assert row["start"] == pytest.approx(15 * 0.3048)  # 4.5 m is told as 15 ft
        if row["setup_figures"]["possible"]:
            assert row["setup_figures"]["target"] == pytest.approx(row["start"], abs=0.01)


def test_spawn_is_fished_at_the_cover_whatever_the_band(club):
    keys = {row["key"]: row for row in rows(club, phase="spawn")}
    assert keys["cast_jig"]["bottom"] < GOOD.top
    assert "cover" in keys["cast_jig"]["why"]
    assert keys["cast_jig"]["place"].startswith("wood")


def test_ice_tactics_wait_for_a_chance_of_ice(club):
    deep = Band(4.0, 11.0, True, "unlayered")
    assert "ice_jig" not in {r["key"] for r in rows(club, phase="winter", band=deep)}
    assert "ice_jig" in {r["key"] for r in rows(club, phase="winter", band=deep, ice_chance=0.6)}


def test_a_squeezed_band_is_discouraged(club):
    squeezed = Band(3.0, 5.0, False, "warm_and_squeezed")
    listed = [r for r in rows(club, band=squeezed, warm=30.0) if r["why"].startswith("runs")]
    assert listed
    assert all("left alone" in row["caution"] for row in listed)


def test_deep_fish_in_hot_water_carry_their_warning(club):
    deep = Band(6.0, 11.0, True, "above_oxygen_floor")
    warned = {r["key"] for r in rows(club, band=deep, warm=28.0) if r["caution"]}
    assert "vertical_jig" in warned
    assert not any(r["caution"] for r in rows(club, band=deep, warm=20.0))


def test_set_ups_are_figures_too(club):
    for row in rows(club):
        figures = row["setup_figures"]
        assert figures["band_top"] == pytest.approx(row["top"])
        if figures["possible"]:
            assert row["top"] - 1e-6 <= figures["target"] <= row["bottom"] + 1e-6


def test_no_band_leaves_only_the_cover(club):
    none = Band(None, None, False, "no_oxygen")
    assert {read_book()[r["key"]].depth.within for r in rows(club, band=none)} <= {"cover"}


def test_rods_are_the_waters_or_not_checked(club):
    text = {row["key"]: row["setup"] for row in rows(club)}
    assert "At most 2 rods an angler, the law here" in text["push_rods"]
    lake = club.lakes["quarry-hollow"]
    unknown = replace(lake, rules=replace(lake.rules, max_rods=None))
    asked = advise(
        read_book(),
        club,
        unknown,
        phases=("summer",),
        band=GOOD,
        start=START,
        bottom=12.0,
        ice_chance=0.0,
        surface_temperature=24.0,
    )
    assert "not checked" in next(r["setup"] for r in asked if r["key"] == "push_rods")


@pytest.mark.parametrize("law", [1, 2, 5])
def test_rods_are_told_an_angler_and_never_more_than_the_law(club, law):
    """The boat has 3 an angler; the book says how many of them one can tend."""
    lake = club.lakes["quarry-hollow"]
    lake = replace(lake, rules=replace(lake.rules, max_rods=law))
    book, seen = read_book(), set()
    for row in rows(replace(club, lakes={"quarry-hollow": lake})):
        found = re.search(r"At most (\d+) rods? an angler(.*)", row["setup"])
        if found is None:
            continue
        tended = book[row["key"]].rods_per_angler or 3
        assert int(found[1]) == min(law, tended, 3)
        assert (f"the law here allows {law}" in found[2]) == (int(found[1]) < law)
        seen.add(int(found[1]))
    assert seen and max(seen) == min(law, 3)


def test_set_ups_use_the_clubs_own_gear(club):
    names = {lure.name for lure in club.boat.lures}
    for row in rows(club):
        known = any(name in row["setup"] or f"{name}s" in row["setup"] for name in names)
        assert known or "no " in row["setup"].lower(), row["setup"]


def test_what_is_fished_by_night_is_set_at_the_nights_depth(club):
    listed = advise(
        read_book(), club, club.lakes["quarry-hollow"], phases=("summer",), band=GOOD, start=START,
        night=3.6, bottom=12.0, ice_chance=0.0, surface_temperature=24.0,
    )  # fmt: skip
    starts = {row["key"]: row["start"] for row in listed}
    assert starts["night_light"] == pytest.approx(3.6576)  # 12 ft, as 3.6 m is told
    assert starts["float_rig"] == pytest.approx(4.572)  # 15 ft, as 4.5 m is told


def test_one_told_depth_has_one_set_up(club):
    # 4.45 m and 4.70 m are both told as 15 ft (14.6 and 15.4)
    both = [
        advise(
            read_book(), club, club.lakes["quarry-hollow"], phases=("summer",), band=GOOD,
            start=start, bottom=12.0, ice_chance=0.0, surface_temperature=24.0,
        )
        for start in (4.45, 4.70)
    ]  # fmt: skip
    assert [row["setup"] for row in both[0]] == [row["setup"] for row in both[1]]


def test_a_miss_wider_than_the_band_is_said_and_no_range_told(club):
    thin, wide = Band(4.3, 4.8, True, "warmest"), Band(2.0, 7.0, True, "warmest")
    for band in (thin, wide):
        for row in rows(club, band=band):
            figures = row["setup_figures"]
            if figures["possible"]:
                loose = 0 < row["bottom"] - row["top"] < figures["tolerance"]
                assert row["depth_text"].startswith("about") is loose
                assert ("cannot be placed" in row["setup"]) is loose
    # two trolled jigs miss by 2 ft and more (0.6 m): more than 0.5 m, less than 5
    trolled = [
        next(row for row in rows(club, band=band) if row["key"] == "troll_jigs")
        for band in (thin, wide)
    ]
    assert ["about" in row["depth_text"] for row in trolled] == [True, False]


def test_ice_comes_first_only_where_it_is_likelier_than_not(club):
    deep = Band(4.0, 9.0, True, "cold")
    for chance, first in ((0.5, "boat"), (0.51, "ice")):
        assert rows(club, phase="winter", band=deep, ice_chance=chance)[0]["water"] == first
