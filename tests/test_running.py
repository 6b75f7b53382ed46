"""Running-depth cards: recovery, carry-over, intervals, no silent extrapolation, bad files."""

import numpy as np
import pytest

from lakekit.errors import TackleError
from lakekit.records import Line
from lakekit.tackle.drag import WATER_DENSITY, weight_in_water
from lakekit.tackle.line import Weight, line_shape
from lakekit.tackle.running import RunningPoint, read_running, running_card
from lakekit.units import FOOT, MILE

MPH = MILE / 3600


def _curve(length, limit=4.0, bend=15.0):
    return limit * (1 - np.exp(-length / bend))


def _lipped(length, speed, diameter, *, lip=8e-4, back=0.6):
    """A lure whose lip pulls down as speed squared, on a neutral line: depth by line drag."""
    down = 0.5 * WATER_DENSITY * lip * speed**2
    weight = Weight(down / weight_in_water(1.0, 11300.0), drag_area=lip * back)
    return line_shape(
        [weight], Line("neutral", diameter, WATER_DENSITY), speed=speed, line_in_water=length
    ).depth


@pytest.fixture
def card():
    points = [RunningPoint(x, 0.75, float(_curve(x))) for x in (8.0, 14.0, 22.0, 30.0, 40.0)]
    return running_card(points, lure="small lipped lure", diameter=0.25e-3)


def test_curve_is_recovered(card):
    assert card.limit == pytest.approx(4.0, rel=1e-5)
    assert card.bend == pytest.approx(15.0, rel=1e-5)
    assert card.bends
    answer = card.depth_at(18.0)
    assert answer.depth == pytest.approx(_curve(18.0), rel=1e-5)
    assert answer.low < answer.depth < answer.high and not answer.extrapolated
    assert card.line_for(answer.depth) == pytest.approx(18.0, rel=1e-5)


def test_two_points_pass_through_both_and_are_less_sure(card):
    points = [RunningPoint(x, 0.75, float(_curve(x))) for x in (10.0, 30.0)]
    two = running_card(points, lure="two points", diameter=0.25e-3)
    for point in points:
        assert two.depth_at(point.line_out).depth == pytest.approx(point.depth, abs=1e-4)
    wide, narrow = two.depth_at(20.0), card.depth_at(20.0)
    assert wide.high - wide.low > narrow.high - narrow.low


def test_carried_over_as_the_line_model_carries():
    points = [RunningPoint(x, 0.75, _lipped(x, 0.75, 0.25e-3)) for x in (8.0, 15.0, 25.0, 40.0)]
    card = running_card(points, lure="synthetic", diameter=0.25e-3)
    base = card.depth_at(25.0).depth / _lipped(25.0, 0.75, 0.25e-3)
    for speed, diameter in ((0.6, 0.25e-3), (0.9, 0.25e-3), (0.75, 0.18e-3), (0.75, 0.35e-3)):
        answer = card.depth_at(25.0, speed=speed, diameter=diameter)
        assert answer.depth / base == pytest.approx(_lipped(25.0, speed, diameter), rel=0.03)
        assert answer.low < _lipped(25.0, speed, diameter) < answer.high
    assert card.depth_at(25.0, diameter=0.18e-3).depth > card.depth_at(25.0).depth + 0.5


def test_points_at_different_speeds_share_one_card():
    points = [
        RunningPoint(x, v, _lipped(x, v, 0.25e-3))
        for x, v in ((8.0, 0.6), (15.0, 0.9), (25.0, 0.7), (40.0, 0.8))
    ]
    card = running_card(points, lure="synthetic", diameter=0.25e-3)
    assert card.scatter < 0.35
    assert card.depth_at(20.0, speed=0.8).depth == pytest.approx(
        _lipped(20.0, 0.8, 0.25e-3), rel=0.06
    )


def test_interval_covers_two_in_three():
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(300):
        points = [
            RunningPoint(x, 0.75, float(_curve(x)) + float(rng.normal(0, 0.3)))
            for x in (8.0, 14.0, 22.0, 30.0, 40.0)
        ]
        answer = running_card(points, lure="noisy", diameter=0.25e-3).depth_at(26.0)
        inside += answer.low <= _curve(26.0) + rng.normal(0, 0.3) <= answer.high
    assert 0.6 < inside / 300 < 0.85


@pytest.mark.parametrize(
    ("ask", "nearest"),
    [
        ({"line_out": 60.0}, 44.0),
        ({"line_out": 2.0}, 8.0 / 1.1),
        ({"line_out": 20.0, "speed": 2.0}, 0.975),
        ({"line_out": 20.0, "diameter": 0.6e-3}, 0.4e-3),
    ],
)
def test_no_silent_extrapolation(card, ask, nearest):
    with pytest.raises(TackleError, match="lies outside what was measured") as caught:
        card.depth_at(**ask)
    assert caught.value.nearest == pytest.approx(nearest, rel=1e-6)
    answer = card.depth_at(**ask, extrapolate=True)
    assert answer.extrapolated
    inside = card.depth_at(20.0)
    assert answer.high - answer.low > inside.high - inside.low


def test_depth_beyond_the_card_names_the_nearest(card):
    with pytest.raises(TackleError, match=r"not at 29\.5 ft") as caught:
        card.line_for(9.0)
    assert caught.value.nearest == pytest.approx(_curve(44.0), rel=1e-5)


def test_straight_points_are_told_so():
    points = [RunningPoint(x, 0.7, 0.1 * x) for x in (10.0, 20.0, 30.0)]
    assert not running_card(points, lure="straight", diameter=0.25e-3).bends


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([RunningPoint(20.0, 0.7, 2.5)], r"one length of line.*8\.2 ft .* at 65\.6 ft"),
        ([RunningPoint(20.0, 0.7, 2.5), RunningPoint(20.0, 0.8, 2.6)], "one length of line"),
        ([RunningPoint(10.0, 0.7, 3.0), RunningPoint(30.0, 0.7, 2.0)], "do not run deeper"),
        ([RunningPoint(10.0, 0.7, 12.0), RunningPoint(30.0, 0.7, 13.0)], "Check the units"),
        ([RunningPoint(10.0, -0.7, 2.0), RunningPoint(30.0, 0.7, 3.0)], "speed is -1.6 mph"),
        ([RunningPoint(10.0 + i, 0.7, 2.0 + i / 50) for i in range(21)], "21 points"),
        ([], "no measured points"),
    ],
)
def test_bad_points(points, words):
    with pytest.raises(TackleError, match=words):
        running_card(points, lure="a lure", diameter=0.25e-3)


def test_one_point_carries_the_only_answer():
    with pytest.raises(TackleError) as caught:
        running_card([RunningPoint(20.0, 0.7, 2.5)], lure="a lure", diameter=0.25e-3)
    assert caught.value.nearest == 2.5


def test_read_feet_and_metres(tmp_path):
    feet, metres = tmp_path / "feet.csv", tmp_path / "metres.csv"
    feet.write_text(
        "\ufefflure,line_out_ft,speed_mph,depth_ft\nA,60,1.6,8\n\nB,90,1.5,9.5\nA,100,1.6,10\n",
        encoding="utf-8",
    )
    metres.write_text("Lure,line_out_m,speed_ms,depth_m\nA,18.288,0.715264,2.4384\n")
    points = read_running(feet)
    assert list(points) == ["A", "B"] and [p.row for p in points["A"]] == [2, 5]
    first = points["A"][0]
    assert first.line_out == pytest.approx(60 * FOOT, rel=1e-12)
    assert first.speed == pytest.approx(1.6 * MPH, rel=1e-12)
    same = read_running(metres)["A"][0]
    assert (same.line_out, same.speed, same.depth) == pytest.approx(
        (first.line_out, first.speed, first.depth), rel=1e-9
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lure,line_out_ft,speed_mph,depth_ft\nA,60,fast,8\n", "row 2: speed is 'fast'"),
        ("lure,line_out_ft,speed_mph,depth_ft\nA,60,1.5,-8\n", "row 2: depth is '-8'"),
        ("lure,line_out_ft,speed_mph,depth_ft\n,60,1.5,8\n", "row 2: no lure"),
        ("lure,line_out,speed_mph,depth_ft\nA,60,1.5,8\n", "no column for line_out"),
        ("lure,line_out_ft,line_out_m,speed_mph,depth_ft\nA,60,18,1.5,8\n", "more than one column"),
        ("name,line_out_ft,speed_mph,depth_ft\nA,60,1.5,8\n", "no column 'lure'"),
        ("", "no column 'lure'"),
    ],
)
def test_bad_files(tmp_path, text, words):
    path = tmp_path / "running.csv"
    path.write_text(text)
    with pytest.raises(TackleError, match=words):
        read_running(path)


def test_missing_file(tmp_path):
    with pytest.raises(TackleError, match=r"running\.csv"):
        read_running(tmp_path / "running.csv")
