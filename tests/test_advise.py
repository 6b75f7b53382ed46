"""Which tactics are listed, how deep, in what order, and what is said of hot, squeezed water."""

from dataclasses import replace

import pytest

from lakekit.club import read_club
from lakekit.tactics.advise import advise
from lakekit.tactics.band import Band
from lakekit.tactics.book import read_book

GOOD = Band(3.0, 6.0, True, "above_oxygen_floor")


@pytest.fixture(scope="module")
def club():
    return read_club()


def rows(club, *, phase="summer", band=GOOD, ice_chance=0.0, warm=24.0, answers=None, bottom=12.0):
    lake = club.lakes["quarry-hollow"]
    return advise(
        read_book(),
        club,
        lake,
        phase=phase,
        band=band,
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


def test_a_log_puts_the_better_rate_first_and_the_untried_last(club):
    answers = {
        "drift": {"value": 5.0, "text": "five"},
        "cast_jig": {"value": 2.0, "text": "two"},
    }
    listed = rows(club, answers=answers)
    assert [row["key"] for row in listed[:2]] == ["drift", "cast_jig"]
    assert [row["rank"] for row in listed[:3]] == [1, 2, None]


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
    assert "4 rods at most" in text["push_rods"]
    lake = club.lakes["quarry-hollow"]
    unknown = replace(lake, rules=replace(lake.rules, max_rods=None))
    asked = advise(
        read_book(),
        club,
        unknown,
        phase="summer",
        band=GOOD,
        bottom=12.0,
        ice_chance=0.0,
        surface_temperature=24.0,
    )
    assert "not checked" in next(r["setup"] for r in asked if r["key"] == "push_rods")


def test_set_ups_use_the_clubs_own_gear(club):
    names = {lure.name for lure in club.boat.lures}
    for row in rows(club):
        known = any(name in row["setup"] or f"{name}s" in row["setup"] for name in names)
        assert known or "no " in row["setup"].lower(), row["setup"]
