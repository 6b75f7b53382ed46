"""What a month page takes from the lake file by itself."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lakekit.club import read_club
from lakekit.guide.lake import closed_places, closures_in, rules_rows
from lakekit.guide.season import _coves_text, _ice_dates
from lakekit.guide.words import oxygen_text
from lakekit.records import Rules

SPRING = "North cove closed to anchoring, 1 April to 15 May (spawning beds)"


@pytest.mark.parametrize(
    ("text", "months"),
    [
        (SPRING, {4, 5}),
        ("closed from 1 Nov to 15 Feb", {11, 12, 1, 2}),
        ("closed in March", {3}),
        ("no motors; may be closed for drawdown at any time", set(range(1, 13))),
        (None, set()),
        ("", set()),
    ],
)
def test_closures_stand_on_the_months_they_touch(text, months):
    found = {month for month in range(1, 13) if closures_in(text, month)}
    assert found == months


@pytest.mark.parametrize(
    ("zone", "chance", "text"),
    [  # 9 m is 29.5 ft, 10 m 32.8 ft, 13 m 42.7 ft
        ((9.0, 10.0, 13.0), 0.95, "low from 30 ft, too little below 43 ft"),
        ((9.0, 10.0, 13.0), 0.38, "low from 30 ft, too little below 43 ft, on 4 days in 10"),
        ((9.0, 10.0, np.nan), 0.95, "low from 30 ft to the bottom"),
        ((np.nan, 10.0, np.nan), 0.95, "low from about 33 ft"),
        ((13.0, 13.0, 13.0), 0.95, "too little below 43 ft"),
        ((0.0, 0.2, 2.0), 0.6, "the whole column runs short, on 6 days in 10"),
        ((9.0, 10.0, 13.0), 0.05, "oxygen down to the bottom on most days"),
    ],
)
def test_low_oxygen_is_told_as_a_zone_and_not_as_a_range(zone, chance, text):
    top, middle, bottom = zone
    assert oxygen_text(middle, top, bottom, chance, "us", years=13) == text


def test_ice_that_is_likely_and_ice_that_is_seldom_stand_in_rows_of_their_own():
    days = np.arange("2026-12-01", "2027-03-01", dtype="datetime64[D]")
    chance = np.zeros(days.size)
    chance[9:70], chance[21:50] = 0.2, 0.7  # 10 December to 8 February, 22 December to 19 January
    assert _ice_dates(days, chance) == [
        ["Ice likelier than not", "22 December to 19 January"],
        ["Ice in 1 year of 10", "10 December to 8 February"],
    ]
    assert _ice_dates(days, np.minimum(chance, 0.05)) == []


def test_a_month_names_the_coves_that_begin_to_spawn_in_it():
    coves = [("cattail cove", np.datetime64("2027-04-24")),
             ("Mill cove", np.datetime64("2027-04-28")),
             ("North cove", np.datetime64("2027-05-01"))]  # fmt: skip
    april = _coves_text(coves, pd.Timestamp("2027-04-01"))
    assert april == " Spawn may begin in cattail cove about 24 April and Mill cove about 28 April."
    assert "North" in _coves_text(coves, pd.Timestamp("2027-05-01"))
    assert _coves_text(coves, pd.Timestamp("2028-05-01")) == ""
def test_a_closure_stands_on_its_own_days_and_the_rest_of_the_rules_on_all():
    """The marsh is closed east of its buoys from 1 October to 15 January."""
    lake = read_club().lakes["teal-marsh"]
    october, july = (dict(rules_rows(lake, month)) for month in (10, 7))
    assert "No boats east of the marsh buoys" in october["Closures"]
    assert "No boats" not in july["Closures"]
    assert {**october, "Closures": ""} == {**july, "Closures": ""}
    assert lake.rules.limits == july["Limits"] and "ask again" in july["These rules were"]


@pytest.mark.parametrize(("advice", "kept"), [
    (None, False), ("None posted", False), ("No notice up", False), ("Notice: eat no carp", True),
])  # fmt: skip
def test_no_advice_on_eating_fish_clears_none_and_all_send_to_who_knows(advice, kept):
    rows = dict(rules_rows(SimpleNamespace(rules=Rules(consumption_advice=advice))))
    assert ((advice or "-") in rows["Eating the catch"]) == kept
    assert "ask the health agency" in rows["Eating the catch"]


def test_a_place_that_a_closure_names_is_marked_and_no_other():
    places = [{"name": name, "text": f"{name} at 7 ft"} for name in ("north cove", "the ledge")]
    marked, other = closed_places(places, SPRING)
    assert marked["text"] == "north cove at 7 ft, see Closures"
    assert other == places[1] and closed_places(places, None) == places
