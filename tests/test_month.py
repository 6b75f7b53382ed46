"""What a month page takes from the lake file by itself."""

from types import SimpleNamespace

import pytest

from lakekit.club import read_club
from lakekit.guide.lake import closed_places, closures_in, rules_rows
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
