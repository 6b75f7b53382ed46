"""The plan of a front note: its day, the start depths by day and night, and why they move."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lakekit.guide.front.plan import (
    day_name,
    move_rows,
    plan_day,
    plan_text,
    start_of,
    start_words,
    starts_text,
)
from lakekit.guide.where import BAND_REASONS

LAKE = SimpleNamespace(time_zone="UTC")
NOONS = pd.date_range("2026-07-02T12:00", periods=3, freq="D")
TONIGHT = pd.Timestamp("2026-07-02T02:00")


def water(start=3.0, *, time=NOONS[0], night=None, good=True, reason="warmest", layered=True,
          mixed=3.0, floor=6.0, surface=25.0, band=(2.0, 5.0)):  # fmt: skip
    """A state of the water, as far as the plan looks at it."""
    return SimpleNamespace(
        time=time, layered=layered, bottom=8.0, surface=np.array([0.0, surface, 0.0]),
        band=SimpleNamespace(top=band[0], bottom=band[1], good=good, reason=reason),
        holding=SimpleNamespace(start=start, night=night),
        mixed_layer=np.array([0.0, mixed, 0.0]),
        floors={name: np.array([0.0, floor, 0.0]) for name in ("top", "middle", "bottom")},
    )  # fmt: skip


def noons(*states):
    return [water(**state, time=noon) for state, noon in zip(states, NOONS, strict=True)]


def test_the_plan_is_for_the_first_noon_that_the_front_leaves_in_peace():
    days, after = [water(time=TONIGHT), *noons({}, {}, {})], water()
    just, late = pd.Timedelta("3h"), pd.Timedelta("2h")  # before noon: the lake lies down, or not
    for end, number in ((NOONS[0] - just, 1), (NOONS[0] - late, 2), (NOONS[2] - just, 3)):
        assert plan_day(days, end, after) == (days[number], number)
    assert plan_day(days, NOONS[2] - late, after) == (after, None)
    told = [day_name(number) for number in (1, 2, 3, None)]
    assert told == ["tomorrow", "the day after", "on day 3", "once it is over"]


def test_by_night_fish_are_sought_where_they_rise_to_if_they_rise():
    assert start_of(water(3.0, night=2.0), night=True) == 2.0
    assert start_of(water(3.0, night=2.0)) == start_of(water(3.0), night=True) == 3.0
    assert start_of(water(3.0, night=2.0, good=False), night=True) is None


def test_starts_are_told_for_tonight_and_for_the_day():
    poor = water(good=False)
    assert starts_text(water(3.0, night=2.0), water(4.0), 1, "metric", reason=False) == (
        "start at 2.0 m tonight, 4.0 m tomorrow"
    )
    assert starts_text(water(4.0), water(4.0), 2, "metric", reason=False) == (
        "start at 4.0 m tonight and the day after"
    )
    assert starts_text(None, water(4.0), 3, "metric", reason=False) == (
        "stay ashore till it is over; start at 4.0 m on day 3"
    )
    assert starts_text(poor, water(4.0), 1, "metric", reason=False) == (
        "start at 4.0 m tomorrow; no good band tonight"
    )
    assert starts_text(water(3.0), poor, 1, "metric") == (
        "start at 3.0 m tonight; tomorrow no good band for fish; pressed at 2.0–5.0 m"
    )
    none = water(good=False, band=(None, None))
    assert starts_text(None, none, None, "metric") == (
        "stay ashore till it is over; once it is over no good band for fish"
    )
    assert starts_text(None, water(4.0, mixed=4.0), 1, "metric").endswith(
        f"tomorrow, {BAND_REASONS['warmest']}"
    )
    assert start_words(water(4.0), "us") == "13 ft"  # 4 / 0.3048
    assert start_words(none, "us") == "no good band for fish"


def why(after, tonight, states):
    rows = move_rows(after, [tonight, *states], LAKE, "metric", tonight=tonight)
    assert len(rows) <= 1
    return rows[0][1] if rows else ""


def test_nothing_is_said_of_a_start_that_moves_by_less_than_half_a_metre():
    after, tonight = water(3.0, time=TONIGHT), water(3.0, time=TONIGHT)
    assert why(after, tonight, noons({"start": 3.2}, {"start": 3.6}, {"start": 3.2})) == ""
    said = why(after, tonight, noons({"start": 3.0}, {"start": 3.5}, {"start": 3.5}))
    assert said.startswith("Fri 3 July: ") and ";" not in said


@pytest.mark.parametrize(
    ("old", "new", "cause"),
    [
        ({}, {"good": False}, "no good band"),
        ({"good": False}, {}, "a good band again"),
        ({"layered": False}, {"start": 4.0}, "layers again"),
        ({}, {"start": 4.0, "layered": False}, "no layers"),
        ({}, {"start": 4.0, "reason": "fall"}, f"fish now {BAND_REASONS['fall']}"),
        ({}, {"start": 4.0, "mixed": 3.25}, "the top is mixed down to 3.2 m"),
        ({"start": 4.0, "mixed": 4.0}, {"mixed": 2.0}, "the top is mixed only to 2.0 m"),
        # a start that goes down is not put on a top mixed less deep
        ({"floor": 6.0}, {"start": 4.0, "mixed": 2.0, "floor": 7.0}, "oxygen reaches deeper"),
        ({"start": 4.0}, {"floor": 5.0}, "low oxygen comes up"),
        ({}, {"start": 4.0, "floor": np.nan}, "oxygen reaches deeper"),  # to the bottom, 8 m
        ({}, {"start": 4.0, "surface": 26.0}, "the top is warmer"),
        ({}, {"start": 4.0, "surface": 24.0}, "the top is cooler"),
        ({}, {"start": 4.0, "surface": 25.9}, "a wide band, 2.0–5.0 m suit nearly alike"),
    ],
)
def test_a_move_from_noon_to_noon_has_its_likeliest_cause(old, new, cause):
    after = water(**old, time=TONIGHT)
    tonight = water(**old, time=TONIGHT, night=new.get("start", 3.0))
    said = why(after, tonight, noons(old, new, new))
    assert said.endswith(f"Fri 3 July: {cause}")


def test_tonight_is_shallower_for_the_dark_or_for_the_water():
    days = noons({"start": 4.0}, {"start": 4.0}, {"start": 4.0})
    after = water(4.0, time=TONIGHT - pd.Timedelta("6h"))
    for night, share in ((3.0, "a quarter"), (2.0, "half"), (2.4, "40 %")):
        tonight = water(4.0, time=TONIGHT, night=night)
        assert why(after, tonight, days) == f"tonight {share} shallower, as fish rise after dark"
    # by day it would stand a metre deeper than after the front: the water moved it as well
    tonight = water(5.0, time=TONIGHT, night=2.5, mixed=5.0)
    assert why(after, tonight, days) == (
        "tonight half shallower, as fish rise after dark and the top is mixed down to 5.0 m"
    )
    deeper = water(5.0, time=TONIGHT, mixed=5.0)
    assert why(after, deeper, days) == "tonight the top is mixed down to 5.0 m"
    assert why(after, water(time=TONIGHT, good=False), days) == "tonight no good band"


def card(key, depth="3 m (2 to 4 m)", rank=None):
    return {"key": key, "short": key.title(), "depth_text": depth, "rank": rank}


def planned(before, after, *, was=None, state=None):
    state = state or water(4.0, mixed=4.0)
    return plan_text(before, after, was or water(3.0), water(4.0), state, 1, "metric")


def test_a_plan_tells_the_start_what_it_was_and_which_tactics_moved():
    cards = [card("jig"), card("troll"), card("drift")]
    moved = [card("jig", "5 m (4 to 6 m)"), card("troll", "5 m (3 to 7 m)"), card("cast")]
    assert planned(cards, moved) == (
        "Start at 4.0 m tonight and tomorrow; before the front it was 3.0 m. Fish may hold from "
        "2.0–5.0 m. Moved: jig and troll from 3 m to 5 m. New: cast. Out of reach or season: "
        "drift. The order is no ranking: the log cannot tell."
    )
    wider = [card("jig", "3 m (1 to 5 m)"), *cards[1:]]  # set for the same depth
    assert "No tactic moved." in planned(cards, wider)
    assert "before the front there was no good band." in planned(
        cards, cards, was=water(good=False)
    )


def test_a_plan_without_a_good_band_says_what_its_depths_are():
    for band, told in (((2.0, 5.0), True), ((None, None), False)):
        text = planned([card("jig")], [card("jig")], state=water(good=False, band=band))
        assert ("those where fish are pressed, or of cover" in text) is told
        assert "Fish may hold" not in text


def test_a_plan_says_whether_the_logs_order_is_another_than_before():
    first, other = ([card("a", rank=1), card("b", rank=2)], [card("b", rank=1), card("a", rank=2)])
    assert planned(first, first).endswith("The log's order is as before.")
    assert planned(first, other).endswith("The order is the log's for this phase.")
    unranked = [card("a"), card("b", rank=1)]
    assert planned(unranked, unranked).endswith("The log's order is as before.")
