"""The tackle questions of the command line: SI in, flat figures and lines of text out."""

import math

import numpy as np

from lakekit.errors import TackleError
from lakekit.records import Line
from lakekit.tackle import words
from lakekit.tackle.cast import cast_beyond
from lakekit.tackle.line import Weight, line_shape
from lakekit.tackle.materials import material_density
from lakekit.tackle.measured import DRAG_ERROR, MeasuredPoint, depth_tolerance, fit_drag_factor
from lakekit.tackle.reach import depth_chart, line_for_depth, weight_for_depth
from lakekit.tackle.running import read_running, running_card
from lakekit.tackle.sink import mass_for_time, seconds_to_depth, sink_interval, terminal_speed
from lakekit.tackle.spread import spread, turn_speeds, weave_speeds
from lakekit.units import FOOT, depth_text, speed_text

ONE_FOOT = "No depth here is good to a foot: bottom, current, waves and lure all move it."


def line_question(
    *,
    masses=(),
    spacing=3 * FOOT,
    material="lead",
    diameter,
    line_material="nylon",
    speed,
    line_out=None,
    depth=None,
    angle=None,
    tip_height=0.3,
    current=0.0,
    drag_factor=1.0,
    measured=(),
    temperature=20.0,
    units="us",
):
    """Answer ``lakekit tackle line``.

    Parameters
    ----------
    masses : sequence of float
        Of the lures or weights from the lower end up [kg]; leave out to ask for the weight.
    spacing : float
        Between them [m].
    material, line_material : str
        Keys of :mod:`lakekit.tackle.materials`.
    diameter : float
        Of the line [m].
    speed, current : float
        Over ground, and along the track [m/s].
    line_out, depth, angle : float, optional
        The line from the tip [m]; or the depth wanted [m]; or depth and line angle above the
        horizontal [degrees], for the weight.
    tip_height : float
        [m]
    drag_factor : float
    measured : sequence of (line_out, speed, depth)
        [m], [m/s], [m]; corrects the drag before the answer.
    temperature : float
        Of the water [degC].
    units : str

    Returns
    -------
    (dict, list of str)
    """
    line = Line(name=line_material, diameter=diameter, density=material_density(line_material))
    conditions = {"current": current, "temperature": temperature}
    drag_error, lines, figures = DRAG_ERROR, [], {}
    weights = tuple(
        Weight(mass, material_density(material), i * spacing) for i, mass in enumerate(masses)
    )
    if measured:
        if not weights:
            raise TackleError("measured depths need the weight they were measured with")
        points = [MeasuredPoint(*point) for point in measured]
        correction = fit_drag_factor(points, weights, line, tip_height=tip_height, **conditions)
        drag_factor, drag_error = correction.drag_factor, correction.error
        lines.append(correction.text(units))
        figures |= {
            "measured_points": len(points),
            "miss_before_m": correction.rms_before,
            "miss_after_m": correction.rms_after,
        }
    conditions["drag_factor"] = drag_factor
    if not weights:
        if depth is None or angle is None:
            raise TackleError(
                "without a weight there is nothing to run",
                mend="Give a weight, or a depth and a line angle to find it",
            )
        mass, shape = weight_for_depth(
            line,
            depth=depth,
            angle=angle,
            speed=speed,
            density=material_density(material),
            tip_height=tip_height,
            **conditions,
        )
        weights = (Weight(mass, material_density(material)),)
        figures["weight_kg"] = mass
        lines.append(f"Weight: {words.mass_text(mass, units)} of {material}.")
    elif depth is not None:
        shape = line_for_depth(
            weights, line, depth=depth, speed=speed, tip_height=tip_height, **conditions
        )
    elif line_out is not None:
        shape = line_shape(
            weights, line, speed=speed, line_out=line_out, tip_height=tip_height, **conditions
        )
    else:
        raise TackleError(
            "neither a depth nor a line out is given",
            mend="Give the line out, or the depth to find it",
        )
    doubt = depth_tolerance(
        weights,
        line,
        speed=speed,
        drag_error=drag_error,
        line_in_water=shape.line_in_water,
        **conditions,
    )
    figures |= _line_figures(shape, doubt, drag_factor)
    return figures, [*lines, *_line_text(shape, doubt, weights, speed, current, units), ONE_FOOT]


def _line_figures(shape, doubt, drag_factor):
    figures = {
        "depth_m": shape.depth,
        "depth_low_m": doubt.low,
        "depth_high_m": doubt.high,
        "line_out_m": shape.line_out,
        "line_in_water_m": shape.line_in_water,
        "line_in_air_m": shape.line_in_air,
        "line_on_surface_m": shape.line_on_surface,
        "distance_behind_tip_m": shape.distance_behind_tip,
        "tip_angle_deg": shape.tip_angle,
        "tension_n": shape.tension,
        "speed_through_water_ms": shape.speed_through_water,
        "drag_factor": drag_factor,
        "depth_error_from_speed_m": doubt.from_speed,
        "depth_error_from_drag_m": doubt.from_drag,
    }
    return figures | {f"weight_{i + 1}_depth_m": d for i, d in enumerate(shape.weight_depths)}


def _line_text(shape, doubt, weights, speed, current, units):
    lines = [
        f"Runs at {depth_text(shape.depth, units)}, give or take "
        f"{words.tolerance_text(doubt.half_width, units)}, at {speed_text(speed, units)}"
        + (
            f" ({speed_text(shape.speed_through_water, units)} through the water)."
            if current
            else "."
        ),
        f"Line out {words.length_text(shape.line_out, units)}: "
        f"{words.length_text(shape.line_in_water, units)} in the water, "
        f"{words.length_text(shape.line_in_air, units)} in the air, which sets no depth.",
        f"It trails {words.length_text(shape.distance_behind_tip, units)} behind the tip, the "
        f"line {shape.tip_angle:.0f}° above level at the surface.",
    ]
    if len(weights) > 1:
        each = ", ".join(depth_text(d, units) for d in shape.weight_depths)
        lines.append(f"From the lower end up: {each}.")
    if shape.line_on_surface > 0:
        lines.append(
            f"{words.length_text(shape.line_on_surface, units)} of this line floats on "
            "top and adds no depth."
        )
    return lines


def chart_question(
    *,
    masses,
    spacing=3 * FOOT,
    material="lead",
    diameter,
    line_material="nylon",
    speeds,
    lengths,
    tip_height=0.3,
    units="us",
    **conditions,
):
    """A depth-against-line chart to laminate: figures keyed by speed and line, and text rows."""
    line = Line(name=line_material, diameter=diameter, density=material_density(line_material))
    weights = [
        Weight(mass, material_density(material), i * spacing) for i, mass in enumerate(masses)
    ]
    chart = depth_chart(
        weights, line, speeds=speeds, lengths=lengths, tip_height=tip_height, **conditions
    )
    figures = {
        f"depth_m_at_{speed:.3f}_ms_{length:.2f}_m": None if math.isnan(d) else float(d)
        for row, speed in zip(chart, speeds, strict=True)
        for d, length in zip(row, lengths, strict=True)
    }
    head = "line out | " + " | ".join(speed_text(speed, units) for speed in speeds)
    rows = [
        f"{words.length_text(length, units)} | "
        + " | ".join("-" if math.isnan(d) else depth_text(d, units) for d in chart[:, i])
        for i, length in enumerate(lengths)
    ]
    return figures, [head, *rows, ONE_FOOT]


def running_question(
    *,
    path,
    lure=None,
    diameter,
    line_out=None,
    depth=None,
    speed=None,
    new_diameter=None,
    extrapolate=False,
    units="us",
):
    """Answer ``lakekit tackle running``.

    Parameters
    ----------
    path : path
        A file of measured running depths.
    lure : str, optional
        Which; the only one in the file where it is left out.
    diameter : float
        Of the line on which they were measured [m].
    line_out, depth : float, optional
        One of them [m]; with neither the whole card is given.
    speed, new_diameter : float, optional
        To carry it over to [m/s], [m].
    extrapolate : bool

    Returns
    -------
    (dict, list of str)
    """
    points = read_running(path)
    if not points:
        raise TackleError(
            "the file of running depths has no rows",
            where=str(path),
            mend="Write two of your own depth points of a lure or more",
        )
    if lure is None and len(points) > 1:
        raise TackleError("the file holds several lures", mend=f"Name one of {', '.join(points)}")
    lure = next(iter(points)) if lure is None else lure
    if lure not in points:
        raise TackleError(f"{lure!r} is not in the file", mend=f"Use one of {', '.join(points)}")
    card = running_card(points[lure], lure=lure, diameter=diameter)
    figures = {
        "points": len(card.points),
        "limit_m": card.limit,
        "bend_m": card.bend,
        "scatter_m": card.scatter,
        "bends": card.bends,
        "line_shortest_m": card.lines[0],
        "line_longest_m": card.lines[1],
    }
    lines = [
        f"{lure}: from {len(card.points)} of your own depth points, "
        f"{words.length_text(card.lines[0], units)} to "
        f"{words.length_text(card.lines[1], units)} of line."
    ]
    if not card.bends:
        lines.append("The points do not show yet where it stops running deeper.")
    at = {"speed": speed, "diameter": new_diameter}
    if depth is not None:
        line_out = card.line_for(depth, **at)
    wanted = [line_out] if line_out is not None else np.linspace(*card.lines, 6)
    for i, length in enumerate(wanted):
        answer = card.depth_at(float(length), extrapolate=extrapolate, **at)
        tail = "" if len(wanted) == 1 else f"_{i + 1}"
        figures |= {
            f"line_out_m{tail}": float(length),
            f"depth_m{tail}": answer.depth,
            f"depth_low_m{tail}": answer.low,
            f"depth_high_m{tail}": answer.high,
            f"extrapolated{tail}": answer.extrapolated,
        }
        guess = " (beyond what was measured)" if answer.extrapolated else ""
        lines.append(
            f"{words.length_text(length, units)} of line: "
            f"{depth_text(answer.depth, units)} ({depth_text(answer.low, units)} to "
            f"{depth_text(answer.high, units)}){guess}."
        )
    return figures, [*lines, ONE_FOOT]


def sink_question(
    *,
    mass=None,
    material="lead",
    shape="jig",
    depth,
    seconds=None,
    diameter=None,
    line_material="nylon",
    temperature=20.0,
    units="us",
):
    """Answer ``lakekit tackle sink``.

    Parameters
    ----------
    mass : float, optional
        [kg]; left out, the lightest that reaches the depth in ``seconds``.
    material, shape, line_material : str
    depth : float
        [m]
    seconds : float, optional
        [s]
    diameter : float, optional
        Of the line paid out [m]; None: no line.
    temperature : float
        Of the water [degC].

    Returns
    -------
    (dict, list of str)
    """
    line = (
        None
        if diameter is None
        else Line(name=line_material, diameter=diameter, density=material_density(line_material))
    )
    heft, lines = material_density(material), []
    args = {"shape": shape, "line": line, "temperature": temperature}
    if mass is None:
        if seconds is None:
            raise TackleError(
                "neither a weight nor a time is given",
                mend="Give the weight for its count-down, or the seconds allowed",
            )
        mass = mass_for_time(heft, depth=depth, seconds=seconds, **args)
        lines.append(
            f"Lightest that gets there in {seconds:.0f} s: "
            f"{words.mass_text(mass, units)} of {material}."
        )
    speed = terminal_speed(mass, heft, shape=shape, temperature=temperature)
    time = seconds_to_depth(mass, heft, depth=depth, **args)
    low, high = sink_interval(time, shape)
    rate = f"{speed / FOOT:.1f} ft/s" if units == "us" else f"{speed:.2f} m/s"
    lines += [
        f"Count {time:.0f} seconds ({low:.0f} to {high:.0f}) to "
        f"{depth_text(depth, units)}; it starts at {rate}.",
        "Time one fall over a known depth: your own count beats this table.",
    ]
    return {
        "mass_kg": mass,
        "sink_speed_ms": speed,
        "seconds": time,
        "seconds_low": low,
        "seconds_high": high,
        "depth_m": float(depth),
    }, lines


def spread_question(
    *,
    lengths,
    beam,
    angles=0.0,
    speed=None,
    radius=None,
    trail=0.0,
    swing=None,
    period=None,
    max_rods=None,
    anglers=None,
    checked=None,
    units="us",
):
    """Answer ``lakekit tackle spread``; the drawing is ``spread_drawing(spread(...))``.

    Parameters
    ----------
    lengths : sequence of float
        Rods on each side [m].
    beam : float
        [m]
    speed, radius, trail : float, optional
        Of the boat [m/s], its turn [m], and how far the lures run behind [m].
    swing, period : float, optional
        Of a weave: heading to either side [degrees], and seconds.
    max_rods, anglers, checked
        As in :func:`lakekit.tackle.spread.spread`.

    Returns
    -------
    (dict, list of str)
    """
    laid = spread(
        lengths, beam=beam, angles=angles, max_rods=max_rods, anglers=anglers, checked=checked
    )
    figures = {
        "rods": laid.positions.size,
        "swath_m": laid.swath,
        "hole_m": laid.hole,
        "widest_gap_m": float(laid.gaps.max()) if laid.gaps.size else 0.0,
        "legal_rods": laid.legal_rods,
    }
    lines = [
        f"{laid.positions.size} rods cover {words.length_text(laid.swath, units)}, with "
        f"{words.length_text(laid.hole, units)} in the middle where none runs.",
        laid.rules_note,
    ]
    if speed is not None and radius is not None:
        turned = turn_speeds(laid.positions, speed=speed, radius=radius, trail=trail)
        figures |= {"turn_slowest_ms": float(turned.min()), "turn_fastest_ms": float(turned.max())}
        lines.append(
            f"In that turn the inside lure slows to {speed_text(turned.min(), units)} and "
            f"sinks; the outside one speeds up to {speed_text(turned.max(), units)} and "
            "rises."
        )
    if speed is not None and swing is not None and period is not None:
        slow, fast = weave_speeds(laid.positions, speed=speed, swing=swing, period=period)
        figures |= {"weave_slowest_ms": float(slow.min()), "weave_fastest_ms": float(fast.max())}
        lines.append(
            f"In that weave the outer tips swing between {speed_text(slow.min(), units)} "
            f"and {speed_text(fast.max(), units)}."
        )
    return figures, lines


def cast_question(*, distance, depth, mass, material="lead", shape="jig", units="us", **how):
    """Where to land a bait beyond a marked fish; ``how`` as in ``cast_beyond``."""
    speed = terminal_speed(mass, material_density(material), shape=shape)
    plan = cast_beyond(distance, depth, sink_speed=speed, **how)
    lines = [
        f"Fish at {words.length_text(distance, units)}, {depth_text(depth, units)} down: "
        f"land it at {words.length_text(plan.land_at, units)} "
        f"({words.length_text(plan.low, units)} to "
        f"{words.length_text(plan.high, units)}), "
        f"count {plan.count:.0f}, and it comes in at {depth_text(plan.bait_depth, units)}."
    ]
    return {
        "land_at_m": plan.land_at,
        "beyond_m": plan.beyond,
        "count_s": plan.count,
        "bait_depth_m": plan.bait_depth,
        "land_low_m": plan.low,
        "land_high_m": plan.high,
        "sink_speed_ms": speed,
    }, lines
