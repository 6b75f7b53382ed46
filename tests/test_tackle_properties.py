"""What must hold of any towed line and any sinking weight, whatever the figures."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lakekit.records import Line
from lakekit.tackle.drag import WATER_DENSITY
from lakekit.tackle.line import Weight, line_shape
from lakekit.tackle.sink import mass_for_time, seconds_to_depth, terminal_speed

masses = st.floats(0.001, 0.2)
# below 3 g, above 3 mph on 100 ft of the thickest line, the line's own drag coefficient falls as
# speed rises, and the computed depth of 9 inches grows by up to 1 %
holding = st.floats(0.003, 0.2)
densities = st.floats(2000.0, 19300.0)
moderate = st.floats(1200.0, 8000.0)
diameters = st.floats(0.1e-3, 0.5e-3)
speeds = st.floats(0.05, 2.0)
lengths = st.floats(1.0, 40.0)
line_densities = st.floats(900.0, 1800.0)
steps = st.floats(1.05, 3.0)
quick = settings(max_examples=40, deadline=None, derandomize=True)


def _neutral(diameter):
    return Line("neutral", diameter, WATER_DENSITY)


@quick
@given(masses, densities, diameters, lengths)
def test_zero_speed_hangs_straight(mass, density, diameter, length):
    line = Line("nylon", diameter, 1140.0)
    assume(abs(1140 - WATER_DENSITY) * 0.785 * diameter**2 * length < mass / 4)
    shape = line_shape([Weight(mass, density)], line, speed=0.0, line_in_water=length)
    assert shape.depth == pytest.approx(length, rel=1e-8)
    assert shape.trail == pytest.approx(0.0, abs=1e-9 * length)
    assert shape.tip_angle == pytest.approx(90.0, abs=1e-6)


@quick
@given(masses, densities, diameters, speeds, lengths, steps)
def test_depth_rises_with_weight(mass, density, diameter, speed, length, step):
    light, heavy = (
        line_shape(
            [Weight(mass * f, density)], _neutral(diameter), speed=speed, line_in_water=length
        ).depth
        for f in (1.0, step)
    )
    assert heavy > light


@quick
@given(holding, densities, diameters, speeds, lengths, steps)
def test_depth_falls_with_speed(mass, density, diameter, speed, length, step):
    slow, fast = (
        line_shape(
            [Weight(mass, density)], _neutral(diameter), speed=speed * f, line_in_water=length
        ).depth
        for f in (1.0, step)
    )
    assert fast < slow


@quick
@given(masses, densities, diameters, speeds, lengths, steps)
def test_depth_falls_with_line_diameter(mass, density, diameter, speed, length, step):
    thin, thick = (
        line_shape(
            [Weight(mass, density)], _neutral(diameter * f), speed=speed, line_in_water=length
        ).depth
        for f in (1.0, step)
    )
    assert thick < thin


@quick
@given(masses, densities, diameters, line_densities, speeds, lengths, steps)
def test_depth_rises_with_line_and_never_beyond_it(
    mass, density, diameter, heft, speed, length, step
):
    line = Line("any", diameter, heft)
    assume(abs(heft - WATER_DENSITY) * 0.8 * diameter**2 * length * step < 0.4 * mass)
    short, long = (
        line_shape([Weight(mass, density)], line, speed=speed, line_in_water=x)
        for x in (length, length * step)
    )
    assert long.depth >= short.depth - 1e-9
    assert short.depth <= length * (1 + 1e-9)
    assert short.depth**2 + short.trail**2 <= length**2 * (1 + 1e-6)


@quick
@given(
    masses, diameters, line_densities, speeds, lengths, st.floats(0.0, 0.8), st.floats(0.0, 5e-4)
)
def test_two_equal_weights_at_a_point_equal_one_of_double(
    mass, diameter, heft, speed, length, place, area
):
    line = Line("any", diameter, heft)
    assume(abs(heft - WATER_DENSITY) * 0.8 * diameter**2 * length < 0.4 * mass)
    position = place * length
    end = Weight(mass, drag_area=1e-5)
    one = Weight(mass, position=position, drag_area=area)
    both = Weight(2 * mass, position=position, drag_area=2 * area)
    apart = line_shape([end, one, one], line, speed=speed, line_in_water=length)
    together = line_shape([end, both], line, speed=speed, line_in_water=length)
    assert apart.depth == pytest.approx(together.depth, rel=1e-9)
    assert apart.trail == pytest.approx(together.trail, rel=1e-9, abs=1e-9)


@quick
@given(masses, densities, diameters, speeds, lengths)
def test_drag_factor_is_a_speed_squared_with_a_constant_coefficient(
    mass, density, diameter, speed, length
):
    weight = Weight(mass, density, drag_area=1e-5)
    more = line_shape(
        [weight],
        _neutral(diameter),
        speed=speed,
        line_in_water=length,
        drag_factor=1.44,
        normal_coefficient=1.2,
    )
    faster = line_shape(
        [weight],
        _neutral(diameter),
        speed=1.2 * speed,
        line_in_water=length,
        normal_coefficient=1.2,
    )
    assert more.depth == pytest.approx(faster.depth, rel=1e-6)


@quick
@given(masses, moderate, steps)
def test_heavier_and_denser_sink_faster(mass, density, step):
    speed = terminal_speed(mass, density)
    assert terminal_speed(mass * step, density) > speed
    assert terminal_speed(mass, density * step) > speed


@settings(max_examples=15, deadline=None, derandomize=True)
@given(masses, st.floats(0.5, 20.0), diameters)
def test_mass_for_time_inverts_the_count(mass, depth, diameter):
    line = Line("nylon", diameter, 1140.0)
    seconds = seconds_to_depth(mass, 11300.0, depth=depth, line=line)
    found = mass_for_time(11300.0, depth=depth, seconds=seconds, line=line)
    again = seconds_to_depth(found, 11300.0, depth=depth, line=line)
    assert again == pytest.approx(seconds, rel=1e-3)
