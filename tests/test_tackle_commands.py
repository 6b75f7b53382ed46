"""The tackle questions of the command line: flat figures that serialise, and text."""

import json

import pytest

from lakekit.errors import TackleError
from lakekit.tackle.commands import (
    cast_question,
    chart_question,
    line_question,
    running_question,
    sink_question,
    spread_question,
)
from lakekit.units import FOOT, OUNCE

JIGS = [OUNCE / 8, OUNCE / 8]


def _sound(answer):
    figures, lines = answer
    json.dumps(figures, allow_nan=False)
    assert all(isinstance(x, (int, float, bool, type(None))) for x in figures.values())
    assert lines and all(isinstance(text, str) and text for text in lines)
    return figures, "\n".join(lines)


def test_line_for_a_depth():
    figures, text = _sound(line_question(masses=JIGS, diameter=0.23e-3, speed=0.58, depth=9 * FOOT))
    assert figures["depth_m"] == pytest.approx(9 * FOOT, abs=1e-6)
    assert figures["line_out_m"] == pytest.approx(
        figures["line_in_water_m"] + figures["line_in_air_m"], abs=1e-9
    )
    assert "Runs at 9 ft, give or take 3 ft" in text and "good to a foot" in text


def test_line_out_corrected_by_a_measured_depth():
    ask = {"masses": JIGS, "diameter": 0.23e-3, "speed": 0.58, "line_out": 18.0}
    plain, _ = _sound(line_question(**ask))
    figures, text = _sound(line_question(**ask, measured=[(18.0, 0.58, plain["depth_m"] - 0.5)]))
    assert figures["depth_m"] == pytest.approx(plain["depth_m"] - 0.5, abs=1e-4)
    assert figures["drag_factor"] > 1 and "more drag than published" in text


def test_current_changes_the_answer_and_is_told():
    ask = {"masses": JIGS, "diameter": 0.23e-3, "speed": 0.58, "line_out": 18.0}
    with_current, text = _sound(line_question(**ask, current=0.2))
    assert with_current["depth_m"] > _sound(line_question(**ask))[0]["depth_m"] + 0.3
    assert "through the water" in text


def test_weight_for_a_depth_and_angle():
    figures, text = _sound(
        line_question(diameter=0.3e-3, speed=0.3, depth=6.0, angle=60.0, units="metric")
    )
    assert figures["tip_angle_deg"] == pytest.approx(60.0, abs=1e-3)
    assert text.startswith("Weight: 25.2 g of lead.")


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        ({"masses": JIGS}, "neither a depth nor a line out"),
        ({}, "nothing to run"),
        ({"measured": [(10, 0.5, 2)]}, "need the weight"),
        ({"masses": JIGS, "line_out": 20.0, "speed": -1.0}, "speed is -2.2 mph"),
    ],
)
def test_bad_line_questions(ask, words):
    with pytest.raises(TackleError, match=words):
        line_question(**({"diameter": 0.23e-3, "speed": 0.5} | ask))


def test_chart():
    figures, text = _sound(
        chart_question(masses=JIGS, diameter=0.23e-3, speeds=[0.4, 0.6], lengths=[1.0, 10.0, 20.0])
    )
    assert len(figures) == 6 and figures["depth_m_at_0.400_ms_20.00_m"] > 2
    assert text.splitlines()[0] == "line out | 0.9 mph | 1.3 mph"


def test_running(tmp_path):
    path = tmp_path / "running.csv"
    path.write_text(
        "lure,line_out_ft,speed_mph,depth_ft\nA,40,1.6,6\nA,70,1.6,9\nA,100,1.6,10.5\nB,40,1.6,6\n"
    )
    figures, text = _sound(running_question(path=path, lure="A", diameter=0.25e-3))
    assert figures["points"] == 3 and "from 3 of your own depth points" in text
    one, _ = _sound(running_question(path=path, lure="A", diameter=0.25e-3, depth=8 * FOOT))
    assert one["depth_m"] == pytest.approx(8 * FOOT, abs=1e-6)
    far, text = _sound(
        running_question(path=path, lure="A", diameter=0.25e-3, line_out=60.0, extrapolate=True)
    )
    assert far["extrapolated"] and "beyond what was measured" in text
    for ask, words in (
        ({}, "several lures"),
        ({"lure": "C"}, "Use one of A, B"),
        ({"lure": "B"}, "one length of line"),
    ):
        with pytest.raises(TackleError, match=words):
            running_question(path=path, diameter=0.25e-3, **ask)


def test_sink():
    figures, text = _sound(sink_question(mass=OUNCE / 8, depth=5.0, diameter=0.2e-3))
    assert figures["seconds_low"] < figures["seconds"] < figures["seconds_high"]
    assert "Count 15 seconds" in text
    lightest, text = _sound(sink_question(depth=5.0, seconds=figures["seconds"], diameter=0.2e-3))
    assert lightest["mass_kg"] == pytest.approx(OUNCE / 8, rel=1e-3)
    with pytest.raises(TackleError, match="neither a weight nor a time"):
        sink_question(depth=5.0)


def test_spread():
    figures, text = _sound(
        spread_question(
            lengths=[2.4, 3.6],
            beam=1.8,
            speed=0.6,
            radius=20.0,
            trail=8.0,
            swing=15.0,
            period=25.0,
            max_rods=2,
            anglers=1,
        )
    )
    assert figures["rods"] == 4 and figures["legal_rods"] == 2 and "more than the 2" in text
    assert figures["turn_slowest_ms"] < 0.6 < figures["turn_fastest_ms"]
    assert "Not checked" in _sound(spread_question(lengths=[2.4], beam=1.8))[1]


def test_cast():
    figures, text = _sound(cast_question(distance=30 * FOOT, depth=13 * FOOT, mass=OUNCE / 16))
    assert figures["land_at_m"] == pytest.approx(9.144 + figures["beyond_m"], abs=1e-9)
    assert text.startswith("Fish at 30 ft, 13 ft down: land it at 34 ft")
