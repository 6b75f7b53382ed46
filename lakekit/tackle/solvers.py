"""Solve one motion each: the gear, line and speed that run a bait at the depth asked for."""

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from lakekit.errors import TackleError
from lakekit.tackle import words
from lakekit.tackle.drag import WATER_DENSITY
from lakekit.tackle.line import Weight, longest_carried, trace_line
from lakekit.tackle.materials import material_density
from lakekit.tackle.measured import LEAST_TOLERANCE, depth_tolerance
from lakekit.tackle.reach import line_for_depth, weight_for_depth
from lakekit.tackle.sink import SHAPE_ERROR, seconds_to_depth, sink_interval, terminal_speed
from lakekit.tackle.words import TANDEM_GAP
from lakekit.units import FOOT, OUNCE

# Common practice, no source, all of them.
LONGEST_OUT = 45.0  # m of line behind a trolling boat on a small lake
LEAST_OUT = 40 * FOOT  # behind a motor; nearer than that it scares fish
USUAL_OUT = 20.0  # m
USUAL_JIG = OUNCE / 8
SINK_WITHIN = 20.0  # s to the depth, for what is dropped straight down; heavier where it is deeper
NEXT_LINE = 0.4  # what a change from the season's first line or jig costs, in score
TANDEM_SPREAD = 0.3  # m by which the lower of two trolled jigs runs below the middle of both
STEEPEST = {"push": 60.0, "drift": 40.0, "vertical": 75.0}  # degrees above level
LONG_POLE = 2.4  # m
DRESSES = {"plastic": "jig", "hair": "hair jig", "none": "bare jig"}
SHAPE = {"sinker": "drop", "spoon": "spoon", "bait": "jig"}


def sink_shape(lure):
    """The shape a lure sinks as: a jig by its dress, the rest by kind."""
    return DRESSES[lure.dress] if lure.kind == "jig" else SHAPE[lure.kind]


def _rig(lure, count):
    mass_density = material_density(lure.material)
    return tuple(
        Weight(lure.mass, mass_density, i * TANDEM_GAP, lure.drag_area, lure.name)
        for i in range(count)
    )


@lru_cache(maxsize=2048)
def _trace(weights, line, speed, conditions):
    reach = min(LONGEST_OUT, 0.98 * longest_carried(weights, line))
    if reach <= max(w.position for w in weights):
        return None
    return trace_line(weights, line, speed=speed, longest=reach, **dict(conditions))


def _troll(ask, speeds, lures, lines):
    lipped = [x for x in lures if x.kind == "lipped"]
    if lipped and len(lipped) == len(lures):
        return _troll_lipped(ask, speeds, lipped, lines)
    best, deepest = None, (0.0, None, None, None)
    for lure in (x for x in lures if x.kind != "lipped"):
        rig = _rig(lure, 2 if lure.kind == "jig" else 1)
        target = _lower_target(ask, len(rig))
        unlike = 0.3 * abs(math.log(lure.mass / USUAL_JIG))
        for spool, line in enumerate(lines):
            for rank, speed in enumerate(speeds):
                trace = _trace(rig, line, speed, ask.conditions)
                if trace is None:
                    continue
                top = trace.along >= rig[-1].position
                reach = float(trace.height[top].max())
                if reach > deepest[0]:
                    deepest = reach, lure, line, speed
                if not trace.height[top][0] < target < reach:
                    continue
                length = float(np.interp(target, trace.height[top], trace.along[top]))
                out = trace.line_out(length, ask.tip)
                if not LEAST_OUT <= out <= LONGEST_OUT:
                    continue
                changed = NEXT_LINE * (spool > 0)
                score = abs(math.log(out / USUAL_OUT)) + 0.15 * rank + unlike + changed
                if best is None or score < best[0]:
                    best = score, rig, lure, line, speed
    if best is None:
        return _troll_too_deep(ask, deepest)
    _, rig, lure, line, speed = best
    conditions = dict(ask.conditions)
    shape = line_for_depth(
        rig,
        line,
        depth=_lower_target(ask, len(rig)),
        speed=speed,
        tip_height=ask.tip,
        longest=LONGEST_OUT,
        **conditions,
    )
    doubt = depth_tolerance(rig, line, speed=speed, line_in_water=shape.line_in_water, **conditions)
    alternatives = []
    thinner = min(lines, key=lambda x: x.diameter)
    if thinner.diameter < 0.8 * line.diameter:
        trace = _trace(rig, thinner, speed, ask.conditions)
        if trace is not None and trace.along[-1] >= shape.line_in_water:
            deeper = trace.depth(shape.line_in_water)
            alternatives.append(
                lambda u: (
                    f"The same line out on {thinner.name} runs about "
                    f"{words.depth_text(deeper, u)} deep."
                )
            )
    return ask.can(
        depth=shape.depth,
        low=doubt.low,
        high=doubt.high,
        tolerance=doubt.half_width,
        lure=lure,
        line=line,
        lures_on_line=len(rig),
        speed=speed,
        upper_depth=shape.weight_depths[-1] if len(rig) > 1 else None,
        line_out=shape.line_out,
        line_in_water=shape.line_in_water,
        line_angle=shape.tip_angle,
        alternatives=alternatives,
    )


def _lower_target(ask, lures):
    """Depth of the lowest lure [m]: of two, it runs below the target and its fellow above."""
    return (
        ask.target if lures == 1 else min(ask.target + TANDEM_SPREAD, max(ask.band[1], ask.target))
    )


def _troll_too_deep(ask, deepest):
    reach, lure, line, speed = deepest
    if lure is None or ask.target < reach:
        return ask.cannot(
            lambda u: (
                f"{words.depth_text(ask.target, u)} is shallower than two "
                f"trolled jigs run {words.length_text(LEAST_OUT, u)} behind the boat."
            ),
            (lambda u: "Use one lighter jig, go faster, or cast.",),
        )
    shown = [
        lambda u: (
            f"Nearest: {words.named(lure, u)} on {line.name} at "
            f"{words.speed_text(speed, u)} with "
            f"{words.length_text(LONGEST_OUT, u)} of line runs at "
            f"{words.depth_text(reach, u)}."
        )
    ]
    for factor in (1.5, 2.0, 3.0, 4.0, 6.0):
        heavier = replace(lure, mass=lure.mass * factor, drag_area=None)
        trace = _trace(_rig(heavier, 2 if lure.kind == "jig" else 1), line, speed, ask.conditions)
        if trace is not None and trace.height.max() > ask.target:
            shown.append(
                lambda u, m=heavier.mass: f"A {words.mass_text(m, u)} {lure.kind} would reach it."
            )
            break
    return ask.cannot(
        lambda u: (
            f"{words.depth_text(ask.target, u)} is out of reach of what the boat has for trolling."
        ),
        shown,
    )


def _troll_lipped(ask, speeds, lures, lines):
    target = ask.target
    reached, unknown, near = [], [], []
    for lure in lures:
        card = ask.cards.get(lure.name)
        if card is None:
            unknown.append(lure.name)
            continue
        for line in lines:
            for speed in speeds:
                try:
                    out = card.line_for(target, speed=speed, diameter=line.diameter)
                    answer = card.depth_at(out, speed=speed, diameter=line.diameter)
                except TackleError as error:
                    reached.append((lure, line, speed, error))
                    continue
                if out < LEAST_OUT:
                    near.append(lure)
                    continue
                tolerance = max(answer.high - answer.depth, LEAST_TOLERANCE)
                return ask.can(
                    depth=answer.depth,
                    low=max(answer.depth - tolerance, 0.0),
                    high=answer.depth + tolerance,
                    tolerance=tolerance,
                    lure=lure,
                    line=line,
                    speed=speed,
                    line_out=out,
                )
    if near:
        return ask.cannot(
            lambda u: (
                f"{words.depth_text(target, u)} is shallower than {near[0].name} runs "
                f"{words.length_text(LEAST_OUT, u)} behind the boat."
            )
        )
    if unknown and not reached:
        names = ", ".join(unknown)
        return ask.cannot(
            lambda u: f"No measured running depths for {names}, and none are guessed.",
            (
                lambda u: (
                    "Troll it over a flat of known depth with two lengths of "
                    "line and write when it touches into running.csv."
                ),
            ),
        )
    lure, _, _, error = reached[0]
    return ask.cannot(
        lambda u: f"{lure.name} was not measured at {words.depth_text(target, u)}.",
        (lambda u: f"Nearest measured: {words.depth_text(error.nearest, u)}.",),
    )


def _hold(ask, speeds, lures, lines):
    """Push, drift, vertical, dip: the lightest weight that keeps the line steep enough."""
    steep, conditions = STEEPEST[ask.motion], dict(ask.conditions)
    lures = sorted(lures, key=lambda x: x.mass)
    if ask.motion == "vertical":
        lures = [x for x in lures if SINK_WITHIN * _descent(x) >= ask.target] or lures[-1:]
    best = None
    for speed in speeds:
        for lure in lures:
            if material_density(lure.material) <= WATER_DENSITY:
                continue
            for line in lines:
                rig = _rig(lure, 1)
                trace = _trace(rig, line, speed, ask.conditions)
                if trace is None or trace.height.max() <= ask.target:
                    continue
                end = int(np.argmax(trace.height)) + 1
                length = float(np.interp(ask.target, trace.height[:end], trace.along[:end]))
                angle = math.degrees(trace.angle(length))
                if best is None or angle > best[0]:
                    best = angle, lure, line, speed
                if angle >= steep:
                    return _held(ask, lure, line, speed, steep=True, speeds=speeds)
    if best is None:
        heaviest = lures[-1]
        return ask.cannot(
            lambda u: (
                f"{words.named(heaviest, u)} does not get down to "
                f"{words.depth_text(ask.target, u)} at that speed."
            ),
            (_needed(ask, lines[0], speeds, steep, conditions),),
        )
    _, lure, line, speed = best
    return _held(ask, lure, line, speed, steep=False, speeds=speeds)


def _held(ask, lure, line, speed, *, steep, speeds):
    conditions = dict(ask.conditions)
    rig = _rig(lure, 1)
    shape = line_for_depth(
        rig, line, depth=ask.target, speed=speed, tip_height=ask.tip, **conditions
    )
    doubt = depth_tolerance(rig, line, speed=speed, line_in_water=shape.line_in_water, **conditions)
    alternatives = (
        []
        if steep
        else [
            _needed(ask, line, (speed,), STEEPEST[ask.motion], conditions),
            lambda u: "Or slow down: the lean falls with the square of the speed.",
        ]
    )
    return ask.can(
        depth=shape.depth,
        low=doubt.low,
        high=doubt.high,
        tolerance=doubt.half_width,
        lure=lure,
        line=line,
        speed=speed,
        line_out=shape.line_out,
        line_in_water=shape.line_in_water,
        line_angle=shape.tip_angle,
        alternatives=alternatives,
    )


def _needed(ask, line, speeds, steep, conditions):
    speed = min(speeds)
    try:
        mass, _ = weight_for_depth(line, depth=ask.target, angle=steep, speed=speed, **conditions)
    except TackleError:
        return lambda u: "No weight up to a pound holds it there: slow down."
    return lambda u: (
        f"A {words.mass_text(mass, u)} lead would hold the line within "
        f"{90 - steep:.0f}° of straight down at {words.speed_text(speed, u)}."
    )


def _cast(ask, speeds, lures, lines):
    lure = min(lures, key=lambda x: abs(_descent(x) - max(ask.target / 8, 0.3)))
    line = lines[0]
    shape = sink_shape(lure)
    middle = seconds_to_depth(
        lure.mass,
        material_density(lure.material),
        depth=ask.target,
        shape=shape,
        line=line,
        temperature=dict(ask.conditions)["temperature"],
    )
    own = ask.sinking.get(lure.name)
    if own is None:
        low, high = sink_interval(middle, shape)
        doubt = SHAPE_ERROR[shape]
        notes = [lambda u: "Time your own fall over a known depth into drops.csv: it beats this."]
    else:
        middle, doubt = middle * own.factor, math.expm1(own.spread)
        low, high = middle / (1 + doubt), middle * (1 + doubt)
        notes = []
    tolerance = max(ask.target * doubt, LEAST_TOLERANCE)
    return ask.can(
        depth=ask.target,
        low=max(ask.target - tolerance, 0.0),
        high=ask.target + tolerance,
        tolerance=tolerance,
        lure=lure,
        line=line,
        count=(low, middle, high),
        alternatives=notes,
    )


def _descent(lure):
    """Sink speed [m/s]; infinite for what does not sink, so that it is never chosen."""
    try:
        return terminal_speed(lure.mass, material_density(lure.material), shape=sink_shape(lure))
    except TackleError:
        return math.inf


def _float(ask, speeds, lures, lines):
    if not any(x.kind == "float" for x in ask.boat.lures):
        return ask.cannot(
            lambda u: "There is no float among the club's lures.",
            (lambda u: "Add one to club.toml.",),
        )
    return ask.can(
        depth=ask.target,
        low=max(ask.target - LEAST_TOLERANCE, 0.0),
        high=ask.target + LEAST_TOLERANCE,
        tolerance=LEAST_TOLERANCE,
        lure=lures[0],
        line=lines[0] if lines else None,
        stop_depth=ask.target,
        alternatives=[lambda u: "In a drift the bait swings up: add shot, or set the stop deeper."],
    )


def _dip(ask, speeds, lures, lines):
    longest = max((rod.length for rod in ask.boat.rods), default=0.0)
    if longest < LONG_POLE:
        return ask.cannot(
            lambda u: "There is no long pole among the club's rods.",
            (lambda u: f"It takes one of {words.length_text(LONG_POLE, u)} or more.",),
        )
    if ask.target > longest:
        return ask.cannot(
            lambda u: (
                f"{words.depth_text(ask.target, u)} is deeper than a "
                f"{words.length_text(longest, u)} pole dips."
            ),
            (lambda u: "Jig straight down instead.",),
        )
    lure = min(lures, key=lambda x: x.mass)
    return ask.can(
        depth=ask.target,
        low=max(ask.target - LEAST_TOLERANCE, 0.0),
        high=ask.target + LEAST_TOLERANCE,
        tolerance=LEAST_TOLERANCE,
        lure=lure,
        line=lines[0] if lines else None,
        line_in_water=ask.target,
    )


SOLVERS = {
    "troll": _troll,
    "push": _hold,
    "drift": _hold,
    "vertical": _hold,
    "cast": _cast,
    "float": _float,
    "dip": _dip,
}
