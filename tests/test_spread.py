"""Spreads: swath, hole, legal rods, turns and weaves, and the drawing."""

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from lakekit.errors import TackleError
from lakekit.records import Boat, Rod, Rules
from lakekit.tackle.spread import (
    legal_rods,
    legal_spread,
    spread,
    spread_drawing,
    turn_speeds,
    weave_speeds,
)
from lakekit.units import FOOT


@pytest.fixture
def laid():
    return spread([feet * FOOT for feet in (8, 12, 16, 20)], beam=6 * FOOT)


def test_practice_rods_of_8_to_20_feet(laid):
    # common practice, no source: on a boat some 6 ft wide they cover 40 to 50 ft, 4 ft apart
    assert laid.swath / FOOT == pytest.approx(46, abs=1e-9)
    assert 40 <= laid.swath / FOOT <= 50
    np.testing.assert_allclose(np.delete(laid.gaps, 3) / FOOT, 4.0, rtol=0, atol=1e-9)
    assert laid.hole / FOOT == pytest.approx(22, abs=1e-9)
    assert laid.gaps[3] == pytest.approx(laid.hole, abs=1e-12)


def test_raked_rods_reach_less():
    raked = spread([3.0], beam=2.0, angles=60.0)
    np.testing.assert_allclose(raked.positions, [-2.5, 2.5], rtol=0, atol=1e-12)
    assert spread([3.0], beam=2.0, angles=90.0).swath == pytest.approx(2.0, abs=1e-12)


def test_one_side_has_no_hole():
    one = spread(([], [2.0, 4.0]), beam=2.0)
    assert one.hole == 0.0 and one.swath == pytest.approx(2.0, abs=1e-12)


def test_rules():
    assert legal_rods(8)[0] is None and "Not checked" in legal_rods(8)[1]
    legal, note = legal_rods(8, max_rods=3, anglers=2, checked="2026-02-14")
    assert legal == 6 and "more than the 6" in note and "2026-02-14" in note
    assert legal_rods(6, max_rods=3, anglers=2)[1].startswith("6 rods; this water allows 6")


def test_legal_spread_cuts_to_the_rule():
    boat = Boat(
        "boat",
        beam=1.8,
        anglers=2,
        rods_per_angler=4,
        speeds=(0.2, 1.5),
        rods=(Rod("long", 4.9, 2), Rod("short", 2.4, 6)),
    )
    free, cut = legal_spread(boat, Rules()), legal_spread(boat, Rules(max_rods=1, checked="2026"))
    assert free.positions.size == 8 and free.legal_rods is None
    assert cut.positions.size == 2 and cut.legal_rods == 2
    assert cut.lengths.tolist() == [4.9, 4.9]


def test_turn_speeds():
    speeds = turn_speeds([-5.0, 0.0, 5.0], speed=0.6, radius=20.0)
    np.testing.assert_allclose(speeds, [0.75, 0.6, 0.45], rtol=1e-12)
    np.testing.assert_allclose(
        turn_speeds([-5.0, 0.0, 5.0], speed=0.6, radius=-20.0), speeds[::-1], rtol=1e-12
    )
    # a lure 12 m behind a tip that turns on 20 m settles on 16 m (a 12-16-20 triangle)
    assert turn_speeds([0.0], speed=0.6, radius=20.0, trail=12.0)[0] == pytest.approx(
        0.6 * 16 / 20, rel=1e-12
    )
    np.testing.assert_allclose(turn_speeds([-5.0, 5.0], speed=0.6, radius=1e9), 0.6, rtol=1e-7)


def test_practice_a_weave_speeds_lures_up_and_down():
    slow, fast = weave_speeds([-7.0, 2.0, 7.0], speed=0.6, swing=20.0, period=30.0)
    assert np.all(slow < 0.6) and np.all(fast > 0.6)
    assert fast[0] == pytest.approx(0.6 + np.radians(20) * 2 * np.pi / 30 * 7, rel=1e-12)
    assert fast[0] - slow[0] > fast[1] - slow[1]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: spread([], beam=2.0), "no rods"),
        (lambda: spread([-1.0], beam=2.0), "rod length"),
        (lambda: spread([2.0], beam=0.0), "beam"),
        (lambda: spread([2.0], beam=2.0, angles=[1.0, 2.0, 3.0]), "do not serve 2 rods"),
        (lambda: spread([2.0], beam=2.0, angles=200.0), "-80 to 90"),
        (lambda: turn_speeds([5.0], speed=0.6, radius=4.0), r"Turn wider than 16\.4 ft"),
        (lambda: turn_speeds([5.0], speed=0.6, radius=20.0, trail=16.0), "inside the circle"),
        (lambda: turn_speeds([5.0], speed=-0.6, radius=20.0), "speed is -1.3 mph"),
        (lambda: weave_speeds([5.0], speed=0.6, swing=90.0, period=30.0), "swing"),
        (lambda: weave_speeds([5.0], speed=0.6, swing=9.0, period=0.0), "period"),
    ],
)
def test_bad_input(call, words):
    with pytest.raises(TackleError, match=words):
        call()


@pytest.mark.parametrize("units", ["us", "metric"])
def test_drawing(laid, units):
    figure = spread_drawing(laid, units=units)
    assert isinstance(figure, Figure)
    text = " ".join(t.get_text() for t in figure.axes[0].texts)
    assert ("swath 46 ft" if units == "us" else "swath 14 m") in text
    assert ("middle 22 ft" if units == "us" else "middle 7 m") in text
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    image = np.asarray(canvas.buffer_rgba())[..., :3]
    assert np.ptp(image.astype(int), axis=-1).max() == 0, "black and white only"
