"""Set-ups: the bait runs in the band with the boat's own gear, or the reason and what would."""

import json
import math
from dataclasses import replace

import pytest

from lakekit.errors import TackleError
from lakekit.records import Boat, Line, Lure, Rod
from lakekit.tackle.drops import Sinking
from lakekit.tackle.line import Weight, line_shape
from lakekit.tackle.materials import LINE_MATERIALS, material_density
from lakekit.tackle.running import RunningPoint, running_card
from lakekit.tackle.setups import MOTIONS, setup_for
from lakekit.tackle.words import angle_text, length_text, mass_text, tolerance_text
from lakekit.units import FOOT, MILE, OUNCE

MPH = MILE / 3600


@pytest.fixture
def boat():
    return Boat(
        "boat",
        beam=1.8,
        anglers=2,
        rods_per_angler=2,
        speeds=(0.3 * MPH, 3 * MPH),
        rods=(Rod("pole", 3.0, 2), Rod("casting", 1.8, 2)),
        lines=(Line("nylon 6 lb", 0.23e-3, 1140.0), Line("braid 10 lb", 0.15e-3, 970.0)),
        lures=(
            Lure("small jig", OUNCE / 32, "jig", tactics=("cast_jig",)),
            Lure("1/8 oz jig", OUNCE / 8, "jig", tactics=("troll_jigs", "vertical_jig")),
            Lure("sinker", OUNCE / 2, "sinker"),
            Lure("2 in lipped lure", 0.2 * OUNCE, "lipped", "plastic"),
            Lure("slip float", 0.15 * OUNCE, "float", "foam"),
        ),
    )


@pytest.mark.parametrize("motion", [m for m in MOTIONS])
def test_every_motion_answers_in_both_units(boat, motion):
    setup = setup_for(motion, 2.0, 3.5, boat, gear=("jig", "sinker"))
    assert setup.possible and setup.band == (2.0, 3.5)
    assert setup.low < setup.depth < setup.high
    assert 2.0 <= setup.depth <= 3.5
    assert setup.tolerance >= 1.5 * FOOT - 1e-12
    us, metric = setup.text("us"), setup.text("metric")
    assert " ft" in us and " ft" not in metric and " m" in metric
    assert "Give or take" in us
    json.dumps(setup.as_dict(), allow_nan=False)


def test_troll_is_what_the_line_model_says(boat):
    setup = setup_for(
        "troll", 2.7, 3.7, boat, speed=(0.7 * MPH, 1.4 * MPH), tactic="troll_jigs", gear=("jig",)
    )
    assert setup.lure.name == "1/8 oz jig" and setup.lures_on_line == 2
    rig = [Weight(setup.lure.mass, material_density("lead"), i * 3 * FOOT) for i in (0, 1)]
    shape = line_shape(rig, setup.line, speed=setup.speed, line_out=setup.line_out, tip_height=0.3)
    assert shape.depth == pytest.approx(setup.depth, abs=1e-4)
    assert shape.weight_depths[1] == pytest.approx(setup.upper_depth, abs=1e-4)
    assert 0.7 * MPH <= setup.speed <= 1.4 * MPH


def test_deeper_band_takes_more_line_or_less_speed(boat):
    shallow, deep = (
        setup_for(
            "troll",
            top,
            top + 1,
            boat,
            speed=1.3 * MPH,
            gear=("jig",),
            lure=boat.lures[1],
            line=boat.lines[0],
        )
        for top in (2.6, 3.2)
    )
    assert deep.line_out > shallow.line_out


def test_never_nearer_than_forty_feet_behind_a_motor(boat):
    # common practice, no source
    for top in (2.4, 2.8, 3.2):
        setup = setup_for("troll", top, top + 1, boat, speed=(1.2 * MPH, 1.4 * MPH), gear=("jig",))
        assert setup.line_out >= 40 * FOOT
    near = setup_for("troll", 0.6, 1.0, boat, speed=(0.8 * MPH, 1.0 * MPH), lure=boat.lures[1])
    assert not near.possible and "40 ft behind the boat" in near.text("us")


def test_the_usual_jig_and_the_first_line_hold_through_the_season(boat):
    chosen = {
        (setup.lure.name, setup.line.name)
        for top in (2.4, 2.7, 3.0, 3.3)
        if (
            setup := setup_for(
                "troll", top, top + 0.5, boat, speed=(1.0 * MPH, 1.6 * MPH), gear=("jig",)
            )
        ).possible
    }
    assert chosen == {("1/8 oz jig", "nylon 6 lb")}


def test_runs_at_the_depth_asked_for(boat):
    setup = setup_for("vertical", 3.0, 7.0, boat, speed=0.0, tactic="vertical_jig", target=6.0)
    assert setup.depth == pytest.approx(6.0, abs=1e-6)
    assert setup_for("float", 1.0, 2.0, boat, target=5.0).depth == 2.0


def test_out_of_reach_names_the_nearest_and_what_would(boat):
    setup = setup_for("troll", 9.0, 10.0, boat, speed=1.3 * MPH, gear=("jig",), lure=boat.lures[0])
    assert not setup.possible and "out of reach" in setup.text("us")
    told = " ".join(setup.alternatives_text("us"))
    assert "Nearest: small jig" in told
    json.dumps(setup.as_dict(), allow_nan=False)


def test_boat_that_cannot_hold_the_speed(boat):
    setup = setup_for("push", 3.0, 4.0, boat, speed=(0.05, 0.1))
    assert not setup.possible and "holds 0.3 mph to 3.0 mph" in setup.text("us")


def test_push_takes_the_lightest_that_stays_steep(boat):
    setup = setup_for("push", 3.0, 4.0, boat, speed=0.5 * MPH)
    assert setup.lure.name == "sinker" and setup.line_angle >= 60
    fast = setup_for("push", 6.0, 8.0, boat, speed=1.2 * MPH)
    assert fast.line_angle < 60
    assert any("would hold the line within 30°" in text for text in fast.alternatives_text("us"))


def test_vertical_at_rest_is_straight_down(boat):
    setup = setup_for("vertical", 5.0, 6.0, boat, speed=0.0, tactic="vertical_jig")
    assert setup.line_angle == pytest.approx(90.0, abs=1e-6)
    assert setup.line_in_water == pytest.approx(setup.depth, abs=1e-6)
    assert "straight down" in setup.text("us")


def test_what_is_dropped_straight_down_is_heavier_where_it_is_deeper(boat):
    small, large = Lure("small", OUNCE / 32, "jig"), Lure("large", OUNCE / 4, "jig")
    both = replace(boat, lures=(large, small))
    used = [setup_for("vertical", d, d + 1, both, speed=0.0).lure.mass for d in (1.5, 4.0, 9.0)]
    assert used == sorted(used) and used[0] == small.mass and used[-1] == large.mass


def test_cast_counts_down(boat):
    setup = setup_for("cast", 3.0, 4.0, boat, tactic="cast_jig")
    low, middle, high = setup.count
    assert low < middle < high and setup.lure.name == "small jig"
    assert "cast 30 to 45 ft" in setup.text("us") and "9.1 to 14 m" in setup.text("metric")
    assert f"count {middle:.0f} seconds ({low:.0f} to {high:.0f})" in setup.text("metric")
    shallow = setup_for("cast", 0.2, 0.3, boat, tactic="cast_jig")
    assert "start back at once" in shallow.text("us")


def test_own_drops_set_the_count(boat):
    worked = setup_for("cast", 3.0, 4.0, boat, tactic="cast_jig").count[1]
    own = {"small jig": Sinking(1.5, 0.05, 4)}
    low, middle, high = setup_for("cast", 3.0, 4.0, boat, tactic="cast_jig", sinking=own).count
    assert middle == pytest.approx(1.5 * worked)
    assert high / low < 1.2


def test_float_stop_and_pole(boat):
    setup = setup_for("float", 2.0, 2.6, boat)
    assert setup.stop_depth == pytest.approx(2.2, abs=1e-12)
    assert not setup_for("dip", 5.0, 6.0, boat).possible
    short = Boat("boat", 1.8, 1, 1, (0.1, 1.0), lures=boat.lures, lines=boat.lines)
    assert "no long pole" in setup_for("dip", 1.0, 1.5, short).text("us")


def test_lipped_lure_runs_only_on_measured_depths(boat):
    ask = {"speed": (1.2 * MPH, 2.2 * MPH), "gear": ("lipped",)}
    unknown = setup_for("troll", 2.5, 3.5, boat, **ask)
    assert not unknown.possible and "none are guessed" in unknown.text("us")
    points = [
        RunningPoint(length, 0.72, depth)
        for length, depth in ((10.0, 1.6), (20.0, 2.6), (32.0, 3.2))
    ]
    cards = {"2 in lipped lure": running_card(points, lure="2 in lipped lure", diameter=0.23e-3)}
    setup = setup_for("troll", 2.5, 3.1, boat, cards=cards, **ask)
    assert setup.depth == pytest.approx(setup.target, abs=1e-6)
    assert "runs at" in setup.text("us")
    deep = setup_for("troll", 8.0, 9.0, boat, cards=cards, **ask)
    assert not deep.possible and "Nearest" in deep.alternatives_text("us")[0]


def test_missing_gear_is_told():
    bare = Boat("bare", 1.8, 1, 1, (0.1, 1.0))
    assert "no jig" in setup_for("cast", 2.0, 3.0, bare).text("us")
    jigs = Boat("jigs", 1.8, 1, 1, (0.1, 1.0), lures=(Lure("jig", 0.003, "jig"),))
    assert "no line" in setup_for("vertical", 2.0, 3.0, jigs).text("us")
    assert "no float" in setup_for("float", 2.0, 3.0, jigs).text("us")


@pytest.mark.parametrize(
    ("motion", "top", "bottom", "words"),
    [
        ("fly", 1.0, 2.0, "motion 'fly'"),
        ("cast", 3.0, 2.0, "no band"),
        ("cast", math.nan, 2.0, "no band"),
        ("cast", -1.0, 2.0, "no band"),
    ],
)
def test_bad_input(boat, motion, top, bottom, words):
    with pytest.raises(TackleError, match=words):
        setup_for(motion, top, bottom, boat)


def test_bad_speed(boat):
    with pytest.raises(TackleError, match="no range of speeds"):
        setup_for("troll", 1.0, 2.0, boat, speed=(1.0, 0.5))


def test_words():
    assert mass_text(OUNCE / 8, "us") == "1/8 oz" and mass_text(1.5 * OUNCE, "us") == "1 1/2 oz"
    assert mass_text(0.2 * OUNCE, "us") == "0.2 oz" and mass_text(OUNCE / 8, "metric") == "3.54 g"
    assert length_text(60 * FOOT, "us") == "60 ft" and length_text(0.91, "metric") == "0.9 m"
    assert tolerance_text(0.46, "us") == "2 ft" and tolerance_text(0.7, "us") == "3 ft"
    assert tolerance_text(0.46, "metric") == "0.5 m" and tolerance_text(0.61, "metric") == "1.0 m"
    assert angle_text(89.0) == "straight down"
    assert angle_text(70.0).startswith("20° off straight down at the top")


def test_line_densities_agree_with_the_club_reader():
    from lakekit import club

    assert {name: LINE_MATERIALS[name][0] for name in LINE_MATERIALS} == club.LINE_DENSITY
    for material in club.LURE_MATERIALS:
        assert material_density(material) > 0
