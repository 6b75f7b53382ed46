"""The towed line: closed form, published drag, inverses, corrections, and common practice."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lakekit.bench import tackle as bench
from lakekit.errors import TackleError
from lakekit.records import Line
from lakekit.tackle.drag import (
    WATER_DENSITY,
    cylinder_drag,
    cylinder_drag_white,
    kinematic_viscosity,
    sphere_drag,
    weight_in_water,
)
from lakekit.tackle.line import Weight, line_shape, neutral_line_depth, speed_through_water
from lakekit.tackle.materials import LINE_MATERIALS, material_density
from lakekit.tackle.measured import MeasuredPoint, depth_tolerance, fit_drag_factor
from lakekit.tackle.reach import depth_chart, line_for_depth, weight_for_depth
from lakekit.units import FOOT, INCH, MILE, OUNCE

MPH = MILE / 3600
MONO = Line("nylon", 0.23e-3, 1140.0)
JIG = Weight(OUNCE / 8)
TWO_JIGS = (JIG, Weight(OUNCE / 8, position=3 * FOOT))

# Closed form integrated by hand for a line that neither floats nor sinks, printed to 1e-6 m:
# weight N, drag N, diameter mm, speed m/s, coefficient, length m -> pull N, top angle deg,
# depth m, trail m
TOWED = [
    (0.10, 0.00, 0.25, 1.0, 1.2, 20.0, 0.100000, 1.912593, 2.733468, 19.343279),
    (0.10, 0.02, 0.25, 1.0, 1.2, 20.0, 0.101980, 1.937256, 2.643546, 19.453151),
    (0.30, 0.05, 0.20, 0.7, 1.3, 30.0, 0.304138, 8.828144, 11.458241, 26.317290),
    (1.00, 0.20, 0.30, 1.0, 1.2, 50.0, 1.019804, 6.333672, 15.300719, 45.660993),
]
# Formula values: White 1 + 10 Re**(-2/3); Sucker & Brauer 1975 (both forms from memory).
CYLINDER = [
    (50, 1.7368, 1.6463),
    (100, 1.4642, 1.4490),
    (150, 1.3542, 1.3592),
    (300, 1.2231, 1.2194),
    (1000, 1.1000, 0.9633),
    (10000, 1.0215, 1.0945),
]


def _load(weight, drag, speed):
    mass = weight / weight_in_water(1.0, 11300.0)
    return [Weight(mass, drag_area=drag / (0.5 * WATER_DENSITY * speed**2))]


@pytest.mark.parametrize("row", TOWED)
def test_shape_equals_closed_form(row):
    weight, drag, diameter, speed, coefficient, length, pull, angle, depth, trail = row
    shape = line_shape(
        _load(weight, drag, speed),
        Line("neutral", diameter / 1000, WATER_DENSITY),
        speed=speed,
        line_in_water=length,
        normal_coefficient=coefficient,
        tangential_coefficient=0.0,
    )
    assert shape.depth == pytest.approx(depth, abs=2e-6)
    assert shape.trail == pytest.approx(trail, abs=2e-6)
    assert shape.tip_angle == pytest.approx(angle, abs=2e-6)
    assert shape.tension == pytest.approx(pull, abs=1e-6)


@pytest.mark.parametrize("row", TOWED)
def test_closed_form_at_printed_precision(row):
    weight, drag, diameter, speed, coefficient, length, *_, depth, trail = row
    resistance = 0.5 * WATER_DENSITY * coefficient * diameter / 1000 * speed**2
    answer = neutral_line_depth(weight=weight, drag=drag, resistance=resistance, length=length)
    assert answer == pytest.approx((depth, trail), abs=1e-6)
    if drag == 0:
        assert answer[0] == pytest.approx(
            weight / resistance * math.asinh(resistance * length / weight), abs=1e-12
        )


@pytest.mark.parametrize("row", CYLINDER)
def test_cylinder_drag(row):
    reynolds, white, sucker_brauer = row
    assert cylinder_drag_white(reynolds) == pytest.approx(white, abs=6e-5)
    assert cylinder_drag(reynolds) == pytest.approx(sucker_brauer, abs=6e-5)


def test_chosen_cylinder_law_fits_the_evidence_best():
    figures = bench._drag_laws()
    chosen = figures["tackle_cylinder_sucker_brauer_rms_log"]
    assert chosen < 0.1
    assert chosen < figures["tackle_cylinder_white_rms_log"]
    assert chosen < figures["tackle_cylinder_constant_1_2_rms_log"]


def test_sphere_drag():
    # Clift, Grace & Weber 1978, documented example of the fluids library at Re 200.
    assert sphere_drag(200.0) == pytest.approx(0.7756342422322543, rel=1e-12)
    assert sphere_drag(1000.0) == pytest.approx(0.47109, abs=5e-6)


def test_viscosity():
    # IAPWS-95 at 10, 20, 25 degC [m2/s]
    for celsius, published in ((10, 1.30629e-6), (20, 1.00340e-6), (25, 8.92658e-7)):
        assert kinematic_viscosity(celsius) == pytest.approx(published, rel=0.01)


def test_shape_equals_an_independent_integration():
    """Angle and tension integrated by another method, with a sinking line and real drag."""
    line, speed, length = Line("fluorocarbon", 0.3e-3, 1780.0), 0.7, 15.0
    shape = line_shape([Weight(0.01, drag_area=3e-5)], line, speed=speed, line_in_water=length)
    per_metre = (1780.0 - WATER_DENSITY) * 9.80665 * math.pi / 4 * line.diameter**2
    pressure = 0.5 * WATER_DENSITY * speed**2
    viscosity = kinematic_viscosity(20.0)

    def balance(_s, y):
        phi, pull = y[:2]
        reynolds = speed * math.sin(phi) * line.diameter / viscosity
        normal = pressure * line.diameter * cylinder_drag(reynolds) * math.sin(phi) ** 2
        skin = 0.01 * math.pi * line.diameter * pressure * math.cos(phi) ** 2
        return [
            (per_metre * math.cos(phi) - normal) / pull,
            per_metre * math.sin(phi) + skin,
            math.cos(phi),
            math.sin(phi),
        ]

    weight, drag = weight_in_water(0.01, 11300.0), pressure * 3e-5
    start = [math.atan2(weight, drag), math.hypot(weight, drag), 0, 0]
    end = solve_ivp(balance, (0, length), start, method="DOP853", rtol=1e-10, atol=1e-12).y[:, -1]
    assert shape.depth == pytest.approx(end[3], rel=1e-7)
    assert shape.trail == pytest.approx(end[2], rel=1e-7)
    assert shape.tension == pytest.approx(end[1], rel=1e-7)


def test_profile_runs_from_the_lure_to_the_surface():
    shape = line_shape(TWO_JIGS, MONO, speed=0.5, line_in_water=12.0)
    assert shape.depths[0] == pytest.approx(shape.depth, abs=1e-12)
    assert shape.depths[-1] == 0.0 and shape.behind[-1] == 0.0
    assert np.all(np.diff(shape.depths) <= 0) and np.all(np.diff(shape.behind) <= 0)
    step = np.hypot(np.diff(shape.depths), np.diff(shape.behind))
    assert step.sum() == pytest.approx(12.0, rel=1e-3)


def test_only_line_in_the_water_sets_the_depth():
    low = line_shape(TWO_JIGS, MONO, speed=0.5, line_out=15.0, tip_height=0.3)
    high = line_shape(TWO_JIGS, MONO, speed=0.5, line_out=15.0, tip_height=1.2)
    assert low.line_out == pytest.approx(15.0, abs=1e-7)
    assert high.line_out == pytest.approx(15.0, abs=1e-7)
    assert high.line_in_air > low.line_in_air + 1 and high.depth < low.depth
    same = line_shape(TWO_JIGS, MONO, speed=0.5, line_in_water=high.line_in_water)
    assert same.depth == pytest.approx(high.depth, abs=1e-6)


def test_line_in_the_air_runs_straight_from_the_tip_at_the_angle_it_has_in_the_water():
    shape = line_shape(TWO_JIGS, MONO, speed=0.5, line_in_water=12.0, tip_height=1.2)
    angle = math.radians(shape.tip_angle)
    assert shape.line_in_air == pytest.approx(1.2 / math.sin(angle), rel=1e-12)
    assert shape.distance_behind_tip - shape.trail == pytest.approx(1.2 / math.tan(angle), rel=1e-9)


def test_current_is_taken_off_the_speed():
    assert speed_through_water(0.8, 0.2) == pytest.approx(0.6, abs=1e-12)
    assert speed_through_water(0.3, 0.5) == pytest.approx(0.2, abs=1e-12)
    with_current = line_shape([JIG], MONO, speed=0.8, current=0.2, line_in_water=10.0)
    still = line_shape([JIG], MONO, speed=0.6, line_in_water=10.0)
    assert with_current.depth == pytest.approx(still.depth, rel=1e-12)


def test_floating_line_lies_on_top():
    floating = Line("floating", 0.4e-3, 400.0)
    shapes = [
        line_shape([Weight(0.02)], floating, speed=0.8, line_in_water=length)
        for length in (3.0, 40.0, 50.0)
    ]
    assert shapes[0].line_on_surface == 0
    assert shapes[1].line_on_surface > 0
    assert shapes[2].depth == pytest.approx(shapes[1].depth, abs=1e-9)
    assert shapes[2].trail - shapes[1].trail == pytest.approx(10.0, abs=1e-9)
    # under water it is the line that just comes up level
    reach = 40.0 - shapes[1].line_on_surface
    level = line_shape([Weight(0.02)], floating, speed=0.8, line_in_water=reach * (1 - 1e-6))
    assert level.line_on_surface == 0.0 and level.tip_angle == pytest.approx(0.0, abs=0.01)
    assert shapes[1].depth == pytest.approx(level.depth, rel=1e-4) and level.depth > shapes[0].depth
    # on top it is pulled at by what rubs along it alone: 0.01 of pi d 10 m at 0.5 rho 0.8^2
    skin = 0.01 * math.pi * floating.diameter * 10.0 * 0.5 * WATER_DENSITY * 0.8**2
    assert shapes[2].tension - shapes[1].tension == pytest.approx(skin, rel=1e-6)
    with pytest.raises(TackleError, match="cannot be reached") as caught:
        line_for_depth([Weight(0.02)], floating, depth=shapes[1].depth + 0.1, speed=0.8)
    assert caught.value.nearest == pytest.approx(shapes[1].depth, abs=1e-6)


def test_sinking_line_runs_deeper_than_floating():
    depths = [
        line_shape(
            [JIG], Line(name, 0.25e-3, LINE_MATERIALS[name][0]), speed=0.4, line_in_water=20.0
        ).depth
        for name in ("braid", "nylon", "fluorocarbon")
    ]
    assert depths == sorted(depths) and depths[2] > depths[0] + 0.1


def test_floating_lure_above_a_pegged_weight():
    rig = (Weight(0.004, 600.0), Weight(0.014, position=INCH * 12))
    hanging = line_shape(rig, MONO, speed=0.0, line_in_water=6.0)
    lure, weight = hanging.weight_depths
    assert weight == pytest.approx(6.0 - 12 * INCH, abs=1e-6)
    assert lure == pytest.approx(weight - 12 * INCH, abs=1e-6)


def test_line_for_depth_inverts():
    found = line_for_depth(TWO_JIGS, MONO, depth=2.5, speed=0.55, tip_height=0.3)
    again = line_shape(TWO_JIGS, MONO, speed=0.55, line_out=found.line_out, tip_height=0.3)
    assert found.depth == pytest.approx(2.5, abs=1e-7)
    assert again.depth == pytest.approx(2.5, abs=1e-6)


def test_weight_for_depth_and_angle():
    mass, shape = weight_for_depth(MONO, depth=4.0, angle=60.0, speed=0.3)
    assert shape.tip_angle == pytest.approx(60.0, abs=1e-4)
    assert shape.depth == pytest.approx(4.0, abs=1e-6)
    check = line_shape([Weight(mass)], MONO, speed=0.3, line_in_water=shape.line_in_water)
    assert check.depth == pytest.approx(4.0, abs=1e-6)
    lighter, _ = weight_for_depth(MONO, depth=4.0, angle=45.0, speed=0.3)
    assert lighter < mass


def test_chart_equals_single_shapes():
    speeds, lengths = [0.4, 0.6], [8.0, 15.0, 25.0]
    chart = depth_chart(TWO_JIGS, MONO, speeds=speeds, lengths=lengths, tip_height=0.3)
    single = [
        [
            line_shape(TWO_JIGS, MONO, speed=v, line_out=length, tip_height=0.3).depth
            for length in lengths
        ]
        for v in speeds
    ]
    np.testing.assert_allclose(chart, single, rtol=0, atol=0.005)


def test_chart_leaves_out_what_cannot_be():
    chart = depth_chart([JIG], MONO, speeds=[0.5], lengths=[0.2, 10.0], tip_height=1.2)
    assert np.isnan(chart[0, 0]) and chart[0, 1] > 0


def test_a_chart_of_a_line_past_all_reason_is_refused():
    with pytest.raises(TackleError, match="line diameter"):
        depth_chart([JIG], Line("a slip", 1e308, 1140.0), speeds=[0.5], lengths=[10.0])


def test_drag_factor_is_recovered():
    points = [
        MeasuredPoint(
            length,
            0.58,
            line_shape(
                TWO_JIGS, MONO, speed=0.58, line_out=length, tip_height=0.3, drag_factor=1.45
            ).depth,
        )
        for length in (10.0, 16.0, 24.0)
    ]
    correction = fit_drag_factor(points, TWO_JIGS, MONO, tip_height=0.3)
    assert correction.drag_factor == pytest.approx(1.45, rel=1e-5)
    assert correction.low < 1.45 < correction.high
    assert correction.rms_before > 0.3 and correction.rms_after < 1e-4
    assert "45% more drag" in correction.text("us")


def test_drag_factor_by_least_squares_with_scatter():
    rng = np.random.default_rng(3)
    lengths = np.linspace(8, 26, 12)
    points = [
        MeasuredPoint(
            float(length),
            0.5,
            line_shape(TWO_JIGS, MONO, speed=0.5, line_out=float(length), drag_factor=0.8).depth
            + float(rng.normal(0, 0.2)),
        )
        for length in lengths
    ]
    correction = fit_drag_factor(points, TWO_JIGS, MONO)
    assert abs(math.log(correction.drag_factor / 0.8)) < 3 * correction.error
    for other in (0.9, 1.1):
        worse = [
            line_shape(
                TWO_JIGS,
                MONO,
                speed=0.5,
                line_out=p.line_out,
                drag_factor=correction.drag_factor * other,
            ).depth
            - p.depth
            for p in points
        ]
        assert np.sqrt(np.mean(np.square(worse))) > correction.rms_after


def test_one_measured_point_corrects():
    correction = fit_drag_factor([MeasuredPoint(20.0, 0.6, 1.9)], TWO_JIGS, MONO)
    assert correction.after[0] == pytest.approx(1.9, abs=1e-4)


def test_impossible_measurement_is_refused():
    with pytest.raises(TackleError, match="no drag from") as caught:
        fit_drag_factor([MeasuredPoint(10.0, 0.6, 9.99)], TWO_JIGS, MONO)
    assert caught.value.nearest == pytest.approx(0.1, rel=0.05)


def test_tolerance_comes_from_speed_and_drag():
    doubt = depth_tolerance(TWO_JIGS, MONO, speed=0.58, line_in_water=12.0)
    depth = line_shape(TWO_JIGS, MONO, speed=0.58, line_in_water=12.0).depth
    assert doubt.low < depth < doubt.high
    assert doubt.from_speed > 0.1 and doubt.from_drag > 0.1
    surer = depth_tolerance(
        TWO_JIGS, MONO, speed=0.58, line_in_water=12.0, drag_error=0.05, speed_error=0.01
    )
    assert surer.half_width < doubt.half_width
    # one-foot placement is never promised
    sure = depth_tolerance(
        [Weight(0.5)], MONO, speed=0.01, line_in_water=3.0, drag_error=0.0, speed_error=0.0
    )
    assert sure.half_width == pytest.approx(1.5 * FOOT, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"speed": -0.5}, "speed is -1.1 mph"),
        ({"speed": float("nan")}, "speed is nan"),
        ({"line_in_water": 0.0}, "line in water is 0.0 ft"),
        ({"line_in_water": None}, "one of them"),
        ({"line_out": 4.0}, "one of them"),
        ({"weights": []}, "no weight"),
        ({"weights": [Weight(-0.01)]}, "weight is -0.35 oz"),
        ({"weights": [Weight(0.01, 500.0)]}, "does not sink"),
        ({"weights": [Weight(0.01, position=50.0)]}, "up the line"),
        ({"weights": [Weight(0.01), Weight(0.01, position=-0.1)]}, "up the line"),
        ({"line": Line("in metres", 0.25, 1140.0)}, "line diameter is 250 mm"),
        ({"drag_factor": -1.0}, "drag factor"),
        ({"tip_height": -1.0}, "tip height"),
    ],
)
def test_bad_input(change, words):
    ask = {"weights": [JIG], "line": MONO, "speed": 0.5, "line_in_water": 10.0} | change
    with pytest.raises(TackleError, match=words):
        line_shape(ask.pop("weights"), ask.pop("line"), **ask)


def test_line_heavier_than_its_lure():
    thick = Line("fluorocarbon", 0.5e-3, 1780.0)
    with pytest.raises(TackleError, match=r"heavier in water than the 0\.02 oz") as caught:
        line_shape([Weight(OUNCE / 64)], thick, speed=0.5, line_in_water=40.0)
    assert caught.value.nearest == pytest.approx(
        weight_in_water(OUNCE / 64, 11300.0)
        / ((1780 - WATER_DENSITY) * 9.80665 * math.pi / 4 * 0.5e-3**2),
        rel=1e-6,
    )
    line_shape([Weight(OUNCE / 64)], thick, speed=0.5, line_in_water=0.99 * caught.value.nearest)


def test_too_little_line_to_reach_the_water():
    with pytest.raises(TackleError, match="does not put the weights in the water") as caught:
        line_shape(TWO_JIGS, MONO, speed=0.5, line_out=1.0, tip_height=1.2)
    line_shape(TWO_JIGS, MONO, speed=0.5, line_out=caught.value.nearest + 0.1, tip_height=1.2)


def test_unreachable_depth_names_the_nearest():
    with pytest.raises(TackleError, match=r"cannot be reached.*times the weight") as caught:
        line_for_depth([JIG], MONO, depth=8.0, speed=0.8, longest=40.0)
    nearest = line_shape([JIG], MONO, speed=0.8, line_in_water=40.0).depth
    assert caught.value.nearest == pytest.approx(nearest, abs=1e-4)
    with pytest.raises(TackleError, match="not even") as caught:
        weight_for_depth(MONO, depth=20.0, angle=85.0, speed=2.0)
    assert 0 < caught.value.nearest < 85


def test_unknown_material():
    with pytest.raises(TackleError, match="did you mean 'tungsten'"):
        material_density("tungstn")
    assert material_density("mono") == material_density("nylon")


# Common practice, no source: the physics must be compatible, and is not tuned to any of it.


def test_practice_two_jigs_at_8_to_10_feet():
    for mph, feet in ((1.2, 8), (1.3, 9), (1.4, 9)):
        shape = line_for_depth(TWO_JIGS, MONO, depth=feet * FOOT, speed=mph * MPH, tip_height=0.3)
        assert 15 < shape.line_in_water / FOOT < 40
    # Sixty to a hundred feet in the water would run deeper than 8 to 10 ft; strumming (towed
    # cables have 1.5 times a smooth cylinder's drag) and dressed jigs would reconcile the two.
    for feet in (60, 100):
        deep = line_shape(TWO_JIGS, MONO, speed=1.3 * MPH, line_in_water=feet * FOOT)
        assert 11 < deep.depth / FOOT < 16
        shallow = line_shape(
            TWO_JIGS, MONO, speed=1.3 * MPH, line_in_water=feet * FOOT, drag_factor=1.6
        )
        assert 7.5 < shallow.depth / FOOT < 10


def test_practice_line_in_the_air():
    shape = {
        tip: line_for_depth(
            TWO_JIGS, MONO, depth=8 * FOOT, speed=1.1 * MPH, tip_height=tip * INCH
        ).line_in_air
        / FOOT
        for tip in (48, 12, 10)
    }
    assert shape[48] == pytest.approx(12, abs=2)
    assert 2 < shape[10] < shape[12] < 3.5


def test_practice_braid_runs_deeper_than_monofilament_of_its_strength():
    depths = [
        line_shape([JIG], line, speed=0.5, line_in_water=15.0).depth
        for line in (bench.MONO_20_LB, bench.BRAID_20_LB, bench.MONO_8_LB)
    ]
    assert depths[0] < depths[1] - 0.2
    assert depths[1] == pytest.approx(depths[2], rel=0.1)


def test_practice_half_ounce_holds_over_single_fish():
    rig = (Weight(OUNCE / 32), Weight(OUNCE / 2, position=12 * INCH))
    shape = line_for_depth(rig, MONO, depth=5.0, speed=0.1)
    assert shape.tip_angle > 80


def test_bench_figures():
    figures = bench._closed_forms() | bench._two_jigs() | bench._other_practice()
    assert figures["tackle_closed_form_worst_relative_error"] < 1e-6
    assert figures["tackle_sphere_against_library_worst_relative_error"] < 1e-9
    assert all(name.startswith("tackle_") and math.isfinite(x) for name, x in figures.items())


@pytest.mark.parametrize(("density", "way"), [(400.0, -1.0), (1780.0, 1.0)])
def test_bare_line_below_a_weight_rises_or_hangs_by_its_own_density(density, way):
    line = Line("tail", 0.3e-3, density)
    shape = line_shape([Weight(0.02, position=2.0)], line, speed=0.0, line_in_water=6.0)
    assert shape.weight_depths[0] == pytest.approx(4.0, abs=1e-6)
    assert shape.depth == pytest.approx(4.0 + 2.0 * way, abs=1e-6)


def test_a_float_that_outweighs_the_pull_below_it_lays_the_line_down_there():
    floating, sinker = Line("floating", 0.4e-3, 400.0), Weight(0.02)
    bare = line_shape([sinker], floating, speed=0.8, line_in_water=8.0)
    pull_up = bare.tension * math.sin(math.radians(bare.tip_angle))
    assert 0.0 < pull_up
    lift = weight_in_water(1.0, 300.0)  # N per kg, upward
    for share, on_surface in ((1.05, True), (0.5, False)):
        bobber = Weight(-share * pull_up / lift, 300.0, position=8.0, drag_area=0.0)
        shape = line_shape([sinker, bobber], floating, speed=0.8, line_in_water=8.2)
        assert (shape.line_on_surface == pytest.approx(0.2, abs=1e-9)) is on_surface
        if on_surface:
            assert shape.depth == pytest.approx(bare.depth, abs=1e-6)
            assert shape.trail == pytest.approx(bare.trail + 0.2, abs=1e-6)


def test_bare_line_below_a_weight_trails_at_the_angle_where_weight_and_drag_balance():
    # without skin drag it is straight: w cos(phi) = k sin(phi)^2, k = 0.5 rho C d v^2
    line, speed = Line("tail", 0.5e-3, 1780.0), 0.3
    shape = line_shape(
        [Weight(0.1, position=2.0)], line, speed=speed, line_in_water=6.0,
        normal_coefficient=1.2, tangential_coefficient=0.0,
    )  # fmt: skip
    weight = (1780.0 - WATER_DENSITY) * 9.80665 * math.pi / 4 * line.diameter**2
    k = 0.5 * WATER_DENSITY * 1.2 * line.diameter * speed**2
    cosine = (math.hypot(weight, 2 * k) - weight) / (2 * k)
    fall = shape.depth - shape.weight_depths[0]
    assert fall == pytest.approx(2.0 * math.sqrt(1 - cosine**2), rel=1e-4)
