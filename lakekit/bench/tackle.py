"""Measures the tackle arithmetic: its speed, its closed forms, and common practice beside it."""

import math
import time

import numpy as np
from fluids.drag import v_terminal
from scipy.optimize import brentq

from lakekit.records import Line
from lakekit.tackle.cast import cast_beyond
from lakekit.tackle.drag import (
    WATER_DENSITY,
    cylinder_drag,
    cylinder_drag_white,
    kinematic_viscosity,
    sphere_diameter,
    weight_in_water,
)
from lakekit.tackle.line import Weight, line_shape, neutral_line_depth
from lakekit.tackle.measured import depth_tolerance
from lakekit.tackle.reach import depth_chart, line_for_depth
from lakekit.tackle.sink import terminal_speed
from lakekit.tackle.spread import spread
from lakekit.units import FOOT, INCH, MILE, OUNCE

MPH = MILE / 3600
MONO_6_LB = Line("6-lb monofilament", 0.23e-3, 1140.0)  # diameter from memory, 0.22 to 0.24 mm
MONO_8_LB = Line("8-lb monofilament", 0.26e-3, 1140.0)  # diameter from memory
MONO_20_LB = Line("20-lb monofilament", 0.45e-3, 1140.0)  # diameter from memory
BRAID_20_LB = Line("20-lb braid", 0.26e-3, 970.0)  # that of 8-lb monofilament: common practice
TWO_JIGS = (Weight(OUNCE / 8), Weight(OUNCE / 8, position=3 * FOOT))
# Computed drag of a cylinder by Reynolds number: Dennis & Chang 1970 (from memory), and the
# measured dip, Wieselsberger 1921 as drawn in textbooks (from memory).
CYLINDER = {10: 2.846, 20: 2.045, 40: 1.522, 1000: 1.0, 3000: 0.95}
LOW_TIP, HIGH_TIP = 11 * INCH, 4 * FOOT


def measure():
    """Measure speed, closed forms and common practice.

    Returns
    -------
    dict
        Flat figures; names start with ``tackle_`` and end with the unit.
    """
    return {**_speed(), **_closed_forms(), **_drag_laws(), **_two_jigs(), **_other_practice()}


def _speed():
    line_shape(TWO_JIGS, MONO_6_LB, speed=0.58, line_out=15.0, tip_height=LOW_TIP)
    times = []
    for length in np.linspace(8.0, 40.0, 60):
        start = time.perf_counter()
        line_shape(TWO_JIGS, MONO_6_LB, speed=0.58, line_out=float(length), tip_height=LOW_TIP)
        times.append(time.perf_counter() - start)
    start = time.perf_counter()
    depth_chart(
        TWO_JIGS,
        MONO_6_LB,
        speeds=np.linspace(0.3, 1.0, 20),
        lengths=np.linspace(5.0, 45.0, 100),
        tip_height=LOW_TIP,
    )
    chart = time.perf_counter() - start
    start = time.perf_counter()
    for speed in np.linspace(0.2, 1.2, 2000):
        line_shape(TWO_JIGS, MONO_6_LB, speed=float(speed), line_in_water=20.0)
    return {
        "tackle_line_shape_ms": 1000 * float(np.median(times)),
        "tackle_line_shape_slowest_ms": 1000 * max(times),
        "tackle_chart_2000_points_s": chart,
        "tackle_2000_separate_shapes_s": time.perf_counter() - start,
    }


def _closed_forms():
    worst = 0.0
    for mass in (0.002, 0.01, 0.1):
        for diameter in (0.15e-3, 0.3e-3):
            for speed in (0.3, 0.7, 1.5):
                for area in (0.0, 4e-5):
                    line = Line("neutral", diameter, WATER_DENSITY)
                    shape = line_shape(
                        [Weight(mass, drag_area=area)],
                        line,
                        speed=speed,
                        line_in_water=30.0,
                        normal_coefficient=1.2,
                        tangential_coefficient=0.0,
                    )
                    pressure = 0.5 * WATER_DENSITY * speed**2
                    depth, trail = neutral_line_depth(
                        weight=weight_in_water(mass, 11300.0),
                        drag=pressure * area,
                        resistance=1.2 * pressure * diameter,
                        length=30.0,
                    )
                    worst = max(worst, abs(shape.depth / depth - 1), abs(shape.trail / trail - 1))
    viscosity = kinematic_viscosity(20.0) * WATER_DENSITY
    sunk = max(
        abs(
            terminal_speed(mass, density)
            / v_terminal(
                sphere_diameter(mass, density), density, WATER_DENSITY, viscosity, Method="Clift"
            )
            - 1
        )
        for mass in (1e-4, 1e-3, 1e-2)
        for density in (7870.0, 11300.0, 19300.0)
    )
    return {
        "tackle_closed_form_worst_relative_error": worst,
        "tackle_sphere_against_library_worst_relative_error": sunk,
    }


def _drag_laws():
    def rms(law):
        return math.sqrt(
            np.mean([math.log(law(float(re)) / cd) ** 2 for re, cd in CYLINDER.items()])
        )

    return {
        "tackle_cylinder_sucker_brauer_rms_log": rms(cylinder_drag),
        "tackle_cylinder_white_rms_log": rms(cylinder_drag_white),
        "tackle_cylinder_constant_1_2_rms_log": rms(lambda re: 1.2),
    }


def _two_jigs():
    """Two 1/8 oz jigs 3 ft apart on 6-lb line at 1.2 to 1.4 mph run at 8 to 10 ft: practice."""
    figures = {}
    for mph, feet, name in ((1.2, 8, "least"), (1.3, 9, "middle"), (1.4, 10, "most")):
        shape = line_for_depth(
            TWO_JIGS, MONO_6_LB, depth=feet * FOOT, speed=mph * MPH, tip_height=LOW_TIP
        )
        figures[f"tackle_two_jigs_{name}_in_water_ft"] = shape.line_in_water / FOOT
        figures[f"tackle_two_jigs_{name}_out_ft"] = shape.line_out / FOOT
    for feet in (60, 100):
        length = feet * FOOT
        shape = line_shape(TWO_JIGS, MONO_6_LB, speed=1.3 * MPH, line_in_water=length)
        figures[f"tackle_two_jigs_{feet}ft_in_water_depth_ft"] = shape.depth / FOOT
        for depth in (8, 10):
            figures[f"tackle_two_jigs_{feet}ft_at_{depth}ft_drag_factor"] = _factor(
                length, depth * FOOT
            )
    doubt = depth_tolerance(TWO_JIGS, MONO_6_LB, speed=1.3 * MPH, line_in_water=26 * FOOT)
    return figures | {"tackle_two_jigs_tolerance_ft": doubt.half_width / FOOT}


def _factor(length, depth):
    def miss(log_factor):
        return (
            line_shape(
                TWO_JIGS,
                MONO_6_LB,
                speed=1.3 * MPH,
                line_in_water=length,
                drag_factor=math.exp(log_factor),
            ).depth
            - depth
        )

    return math.exp(brentq(miss, math.log(0.2), math.log(8.0), xtol=1e-6))


def _other_practice():
    jig = TWO_JIGS[:1]
    air = {
        name: line_for_depth(
            TWO_JIGS, MONO_6_LB, depth=8 * FOOT, speed=1.1 * MPH, tip_height=tip
        ).line_in_air
        / FOOT
        for name, tip in (("high", HIGH_TIP), ("low", LOW_TIP))
    }
    depths = {
        line.name: line_shape(jig, line, speed=0.5, line_in_water=15.0).depth / FOOT
        for line in (MONO_8_LB, MONO_20_LB, BRAID_20_LB)
    }
    laid = spread([feet * FOOT for feet in (8, 12, 16, 20)], beam=6 * FOOT)
    cast = cast_beyond(
        30 * FOOT,
        13 * FOOT,
        tip_height=HIGH_TIP,
        sink_speed=terminal_speed(OUNCE / 16, 11300.0, shape="jig"),
    )
    return {
        "tackle_air_line_tip_4ft_ft": air["high"],
        "tackle_air_line_tip_11in_ft": air["low"],
        "tackle_jig_on_20lb_braid_ft": depths["20-lb braid"],
        "tackle_jig_on_20lb_mono_ft": depths["20-lb monofilament"],
        "tackle_jig_on_8lb_mono_ft": depths["8-lb monofilament"],
        "tackle_spread_swath_ft": laid.swath / FOOT,
        "tackle_spread_hole_ft": laid.hole / FOOT,
        "tackle_cast_30ft_lands_at_ft": cast.land_at / FOOT,
    }


def table(figures):
    """The figures as a table for people."""
    rows = [
        ("A line's shape", f"{figures['tackle_line_shape_ms']:.2f} ms", "under 2 ms"),
        ("A chart of 2,000 points", f"{figures['tackle_chart_2000_points_s']:.3f} s", "under 2 s"),
        ("2,000 separate shapes", f"{figures['tackle_2000_separate_shapes_s']:.2f} s", ""),
        (
            "Against the closed form",
            f"{figures['tackle_closed_form_worst_relative_error']:.1e}",
            "worst, relative",
        ),
        (
            "Two 1/8 oz jigs, 6-lb line, 8-10 ft at 1.2-1.4 mph",
            f"{figures['tackle_two_jigs_least_in_water_ft']:.0f}-"
            f"{figures['tackle_two_jigs_most_in_water_ft']:.0f} ft in the water",
            f"{figures['tackle_two_jigs_least_out_ft']:.0f}-"
            f"{figures['tackle_two_jigs_most_out_ft']:.0f} ft out",
        ),
        (
            "The same with 60 and 100 ft in the water",
            f"{figures['tackle_two_jigs_60ft_in_water_depth_ft']:.1f} and "
            f"{figures['tackle_two_jigs_100ft_in_water_depth_ft']:.1f} ft",
            "at 1.3 mph",
        ),
        (
            "Drag that would put 60 ft, 100 ft at 8-10 ft",
            f"{figures['tackle_two_jigs_60ft_at_10ft_drag_factor']:.2f}-"
            f"{figures['tackle_two_jigs_60ft_at_8ft_drag_factor']:.2f}, "
            f"{figures['tackle_two_jigs_100ft_at_10ft_drag_factor']:.2f}-"
            f"{figures['tackle_two_jigs_100ft_at_8ft_drag_factor']:.2f}",
            "times the published",
        ),
        (
            "Line in the air, tip at 4 ft and 11 in",
            f"{figures['tackle_air_line_tip_4ft_ft']:.0f} and "
            f"{figures['tackle_air_line_tip_11in_ft']:.1f} ft",
            "practice: 12 and 2-3 ft",
        ),
        (
            "Rods of 8-20 ft on a 6 ft boat",
            f"{figures['tackle_spread_swath_ft']:.0f} ft",
            f"hole {figures['tackle_spread_hole_ft']:.0f} ft",
        ),
    ]
    width = max(len(row[0]) for row in rows)
    return "\n".join(f"{name:<{width}}  {value:>18}  {note}".rstrip() for name, value, note in rows)
