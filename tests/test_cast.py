"""Casts to a marked fish: geometry by hand, common practice, and bad input."""

import math

import pytest

from lakekit.errors import TackleError
from lakekit.tackle.cast import cast_beyond
from lakekit.units import FOOT


def test_taut_line_swings_on_a_circle():
    # tip 0 m up, fish 8 m off and 6 m down, arriving level with it: 6-8-10
    plan = cast_beyond(8.0, 6.0, sink_speed=0.5, above=0.0, tip_height=0.0)
    assert plan.land_at == pytest.approx(10.0, abs=1e-12)
    assert plan.count == pytest.approx(12.0, abs=1e-12)
    raised = cast_beyond(8.0, 6.0, sink_speed=0.5, above=0.0, tip_height=1.5)
    assert math.hypot(raised.land_at, 1.5) == pytest.approx(math.hypot(8.0, 7.5), abs=1e-12)


def test_slack_line_falls_straight():
    assert cast_beyond(9.0, 4.0, sink_speed=0.5, line="slack").beyond == 0.0


def test_retrieve_and_boat_add_to_the_cast():
    still = cast_beyond(9.0, 4.0, sink_speed=0.5)
    wound = cast_beyond(9.0, 4.0, sink_speed=0.5, retrieve_speed=0.1)
    leaving = cast_beyond(9.0, 4.0, sink_speed=0.5, boat_speed=0.1)
    closing = cast_beyond(9.0, 4.0, sink_speed=0.5, boat_speed=-0.1)
    assert closing.land_at < still.land_at < min(wound.land_at, leaving.land_at)


def test_practice_fish_at_30_feet_cast_to_35():
    # common practice, no source: no depth is given with it
    for feet in (10, 15):
        plan = cast_beyond(30 * FOOT, feet * FOOT, sink_speed=0.5)
        assert plan.low < 35 * FOOT < plan.high
        assert plan.bait_depth < feet * FOOT


def test_faster_sink_counts_less():
    assert cast_beyond(9.0, 4.0, sink_speed=1.0).count < cast_beyond(9.0, 4.0, sink_speed=0.5).count


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        ({"distance": -1.0}, "distance to the fish"),
        ({"distance": 1e308}, "distance to the fish is 1e[+]308"),
        ({"depth": 0.2}, "leaves no room"),
        ({"sink_speed": 0.0}, "sink speed"),
        ({"line": "loose"}, "neither taut nor slack"),
        ({"retrieve_speed": -1.0}, "retrieve speed"),
    ],
)
def test_bad_input(ask, words):
    ask = {"distance": 9.0, "depth": 4.0, "sink_speed": 0.5} | ask
    with pytest.raises(TackleError, match=words):
        cast_beyond(ask.pop("distance"), ask.pop("depth"), **ask)


def test_too_long_a_cast_names_the_nearest():
    with pytest.raises(TackleError, match="beyond a cast") as caught:
        cast_beyond(34.0, 12.0, sink_speed=0.5)
    plan = cast_beyond(caught.value.nearest - 1e-6, 12.0, sink_speed=0.5)
    assert plan.land_at == pytest.approx(35.0, abs=1e-4)
    with pytest.raises(TackleError, match="straight down") as caught:
        cast_beyond(5.0, 40.0, sink_speed=0.5)
    assert caught.value.nearest == 0.0
