"""Running depth of weights on a line towed through water, from the line's drag.

The line is integrated from its lower end up. Nothing above a point bears on its shape below,
so that one integration answers every length of line at once.

Forces on a length of line, inclined by phi to the flow: its weight in water, a normal drag on
the speed across it and a small tangential drag on the speed along it, each independent of the
other (the standard form: Ablow & Schechter 1983, Ocean Engng 10:443-457). A line that neither
floats nor sinks, with a constant normal coefficient, has a closed form, see
:func:`neutral_line_depth`.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint
from scipy.optimize import brentq

from lakekit.constants import GRAVITY
from lakekit.errors import TackleError
from lakekit.tackle import drag as published
from lakekit.tackle.checks import both, check, mass_both, unreachable

LONGEST_LINE = 90.0  # m: as much as is trolled on a small lake (common practice, no source)
LEAST_AIR_ANGLE = math.radians(2.0)  # a line that lies on the water still lifts off it to the tip


@dataclass(frozen=True)
class Weight:
    """A weight or lure somewhere on a line."""

    mass: float  # kg
    density: float = 11300.0  # kg/m3
    position: float = 0.0  # m of line above the lower end
    drag_area: float | None = None  # m2, coefficient times frontal area; None: that of a ball
    name: str = ""


@dataclass(frozen=True)
class LineTrace:
    """A line from its lower end up, on a grid that every shorter length shares.

    Arrays are (n,): ``along`` [m of line above the lower end], ``forward`` and ``height`` [m
    from the lower end], ``pull_forward`` and ``pull_up`` [N].
    """

    along: np.ndarray
    forward: np.ndarray
    height: np.ndarray
    pull_forward: np.ndarray
    pull_up: np.ndarray
    balance: object  # gradients of the four against the line
    afloat_from: float  # m of line; beyond it the line lies on the surface (inf: never)
    speed: float  # m/s through the water
    weights: tuple

    def at(self, length):
        """Forward, height [m], pull forward and pull up [N] at a length of line [m]."""
        along = self.along
        i = min(max(int(np.searchsorted(along, length, side="right")) - 1, 0), along.size - 2)
        if along[i + 1] == along[i]:
            i -= 1
        step = along[i + 1] - along[i]
        u = (length - along[i]) / step
        a, b = (1 + 2 * u) * (1 - u) ** 2, u * u * (3 - 2 * u)
        c, d = u * (1 - u) ** 2 * step, u * u * (u - 1) * step
        ends = [
            (self.forward[k], self.height[k], self.pull_forward[k], self.pull_up[k])
            for k in (i, i + 1)
        ]
        slopes = [self._slopes(end[2], end[3], along[i]) for end in ends]
        return tuple(
            float(a * y0 + b * y1 + c * g0 + d * g1)
            for y0, y1, g0, g1 in zip(*ends, *slopes, strict=True)
        )

    def _slopes(self, pull_forward, pull_up, along):
        sideways, upward, cosine, sine = self.balance((pull_forward, pull_up), along)
        if along >= self.afloat_from:
            return 1.0, 0.0, sideways, 0.0
        return cosine, sine, sideways, upward

    def depth(self, length):
        """Depth [m] of the lower end when this length [m] is in the water."""
        return self.at(length)[1]

    def angle(self, length):
        """Angle [rad] of the line above the horizontal at the surface."""
        _, _, forward, up = self.at(length)
        return math.atan2(up, forward)

    def line_out(self, length, tip_height):
        """Line from tip to lower end [m] when ``length`` of it is in the water."""
        return length + tip_height / math.sin(max(self.angle(length), LEAST_AIR_ANGLE))


@dataclass(frozen=True)
class LineShape:
    """Where a line and its weights run. Arrays run from the lower end to the surface."""

    depth: float  # m, of the lower end
    weight_depths: tuple  # m, in the order of the weights given
    trail: float  # m behind the point where the line enters the water
    distance_behind_tip: float  # m
    tip_angle: float  # degrees above the horizontal
    line_in_water: float  # m
    line_in_air: float  # m
    line_on_surface: float  # m of the line in water that floats on top
    tension: float  # N at the surface
    speed_through_water: float  # m/s
    depths: np.ndarray  # (n,) m below the surface
    behind: np.ndarray  # (n,) m behind the point of entry

    @property
    def line_out(self):
        """Line from the rod tip to the lower end [m]."""
        return self.line_in_water + self.line_in_air


def speed_through_water(speed, current=0.0):
    """Speed through the water [m/s] from speed over ground and the current along the track."""
    check(
        speed,
        "speed",
        unit="m/s",
        least=0.0,
        mend="Give the speed over ground as a positive number and "
        "a following or opposing current apart",
    )
    return abs(speed - current)


def check_line(line):
    """Refuse a line that none is like."""
    check(
        line.diameter,
        "line diameter",
        unit="mm",
        least=1e-5,
        most=0.005,
        mend="Lines are 0.01 to 5 mm thick: give it with its unit, such as 0.25 mm",
    )
    check(line.density, "line density", unit="kg/m3", least=300.0, most=3000.0)


def line_weight(line):
    """Weight of a line in water [N/m]; negative where it floats."""
    return (line.density - published.WATER_DENSITY) * GRAVITY * math.pi / 4 * line.diameter**2


def trace_line(
    weights,
    line,
    *,
    speed,
    longest,
    current=0.0,
    drag_factor=1.0,
    temperature=published.NORMAL_VISCOSITY_TEMPERATURE,
    normal_coefficient=None,
    tangential_coefficient=published.TANGENTIAL_COEFFICIENT,
):
    """Integrate a line from its lower end up.

    Parameters
    ----------
    weights : sequence of Weight
        Any number; together they must sink.
    line : object
        With ``diameter`` [m] and ``density`` [kg/m3].
    speed : float
        Over ground [m/s], 0 or more.
    longest : float
        Length of line in the water [m].
    current : float
        Along the track [m/s], positive with the boat.
    drag_factor : float
        Multiplies every drag: the correction from measured depths.
    temperature : float
        Of the water [degC].
    normal_coefficient : float, optional
        A constant in place of the published Reynolds-dependent one.
    tangential_coefficient : float
        On the wetted surface.

    Returns
    -------
    LineTrace

    Raises
    ------
    TackleError
        Where an input is out of range or nothing sinks.
    """
    water_speed = speed_through_water(speed, current)
    check(longest, "line in the water", unit="m", least=0.0, strict=True)
    check_line(line)
    check(drag_factor, "drag factor", least=0.0)
    weights = tuple(weights)
    if not weights:
        raise TackleError("there is no weight on the line", mend="Give at least one weight or lure")
    pressure = 0.5 * published.WATER_DENSITY * water_speed**2 * drag_factor
    loads = {}
    for weight in weights:
        check(weight.mass, "weight", unit="kg", least=0.0, strict=True, most=20.0)
        check(weight.density, "density", unit="kg/m3", least=50.0, most=25000.0)
        if not 0 <= weight.position <= longest:
            raise TackleError(
                f"a weight sits {both(weight.position)} up the line, of which "
                f"{both(longest)} is in the water",
                mend=f"Put it between 0 and {both(longest)} from the end",
            )
        area = weight.drag_area
        if area is None:
            area = published.sphere_drag_area(
                weight.mass, weight.density, speed=water_speed, temperature=temperature
            )
        # weights within a micrometre hang from one point: a shorter piece of line is no line
        place = min(round(weight.position, 6), longest)
        pull, sink = loads.get(place, (0.0, 0.0))
        loads[place] = (
            pull + pressure * area,
            sink + published.weight_in_water(weight.mass, weight.density),
        )
    if sum(sink for _, sink in loads.values()) <= 0:
        raise TackleError(
            "what is on the line does not sink",
            mend="Add a weight that outweighs the float of the lure",
        )

    rhs = _line_balance(
        line, water_speed, drag_factor, temperature, normal_coefficient, tangential_coefficient
    )
    scale = _length_scale(line, loads, pressure)
    state = np.zeros(4)
    positions = sorted({0.0, *loads})
    pieces, starts = [], []
    for start, end in zip(positions, [*positions[1:], longest], strict=True):
        state[:2] += loads.get(start, (0.0, 0.0))
        if not np.any(state[:2]):
            state[1] = -1e-9 if line_weight(line) < 0 else 1e-9
        if end > start or not pieces:
            grid = _grid(start, end, scale)
            values = odeint(rhs, state, grid, rtol=1e-9, atol=1e-10, mxstep=5000)
            pieces.append(values)
            starts.append(grid)
            state = values[-1].copy()
    afloat = math.inf
    last, grid = pieces[-1], starts[-1]
    if last[-1, 1] < 0 and line_weight(line) < 0:
        pieces[-1], starts[-1], afloat = _lay_on_surface(last, grid, rhs)
    values, along = np.concatenate(pieces), np.concatenate(starts)
    if not np.all(np.isfinite(values)):
        raise ArithmeticError("the line's shape could not be integrated")
    return LineTrace(
        along=along,
        forward=values[:, 2],
        height=values[:, 3],
        pull_forward=values[:, 0],
        pull_up=values[:, 1],
        balance=rhs,
        afloat_from=afloat,
        speed=water_speed,
        weights=weights,
    )


def line_shape(
    weights, line, *, speed, line_in_water=None, line_out=None, tip_height=0.0, **conditions
):
    """Where weights on a towed line run.

    Parameters
    ----------
    weights : sequence of Weight
    line : object
        With ``diameter`` [m] and ``density`` [kg/m3].
    speed : float
        Over ground [m/s], 0 or more.
    line_in_water, line_out : float
        One of them: the line in the water, or from the rod tip to the lower end [m].
    tip_height : float
        Of the rod tip above the water [m]; the line in the air is straight and sets no depth.
    **conditions
        ``current``, ``drag_factor``, ``temperature``, ``normal_coefficient``,
        ``tangential_coefficient`` as in :func:`trace_line`.

    Returns
    -------
    LineShape

    Raises
    ------
    TackleError
        Where an input is out of range, or the line in the water is heavier (or more buoyant)
        than what it carries.
    """
    check(tip_height, "tip height", unit="m", least=0.0, most=20.0)
    if (line_in_water is None) == (line_out is None):
        raise TackleError("give either the line in the water or the line out, one of them")
    weights = tuple(weights)
    given = line_in_water if line_out is None else line_out
    check(
        given, "line in water" if line_out is None else "line out", unit="m", least=0.0, strict=True
    )
    trace = trace_line(weights, line, speed=speed, longest=given, **conditions)
    if line_in_water is None:
        line_in_water = _length_in_water(trace, line_out, tip_height)
    _check_line_weight(weights, line, line_in_water)
    return shape_at(trace, line_in_water, tip_height=tip_height)


def shape_at(trace, length, *, tip_height=0.0):
    """The shape of a traced line when only ``length`` [m] of it is in the water."""
    keep = trace.along < length
    entry, top, forward, up = trace.at(length)
    angle = math.atan2(up, forward)
    air = tip_height / math.sin(max(angle, LEAST_AIR_ANGLE))
    depths = tuple(top - trace.at(w.position)[1] for w in trace.weights)
    return LineShape(
        depth=top,
        weight_depths=depths,
        trail=entry,
        distance_behind_tip=entry + math.sqrt(max(air**2 - tip_height**2, 0.0)),
        tip_angle=math.degrees(angle),
        line_in_water=float(length),
        line_in_air=air,
        line_on_surface=max(length - trace.afloat_from, 0.0),
        tension=math.hypot(forward, up),
        speed_through_water=trace.speed,
        depths=np.append(top - trace.height[keep], 0.0),
        behind=np.append(entry - trace.forward[keep], 0.0),
    )


def neutral_line_depth(*, weight, drag, resistance, length):
    """Depth and trail of one weight on a line that neither floats nor sinks.

    Parameters
    ----------
    weight, drag : float
        Of the load [N].
    resistance : float
        Normal drag of the line at right angles to the flow [N/m].
    length : float
        Line in the water [m].

    Returns
    -------
    (float, float)
        [m]

    References
    ----------
    Integrated by hand from the balance above, constant normal coefficient, no tangential drag:
    cot(phi1) = cot(phi0) + R L / T; depth = T/R ln(tan(phi0/2) / tan(phi1/2));
    trail = T/R (1/sin(phi1) - 1/sin(phi0)); without drag of the load, W/R asinh(R L / W).
    """
    pull = math.hypot(weight, drag)
    low = math.atan2(weight, drag)
    high = math.atan2(1.0, 1 / math.tan(low) + resistance * length / pull)
    scale = pull / resistance
    return (
        scale * math.log(math.tan(low / 2) / math.tan(high / 2)),
        scale * (1 / math.sin(high) - 1 / math.sin(low)),
    )


def longest_carried(weights, line):
    check_line(line)
    heft = sum(published.weight_in_water(w.mass, w.density) for w in weights)
    per_metre = abs(line_weight(line))
    return math.inf if per_metre == 0 else max(heft, 0.0) / per_metre


def _check_line_weight(weights, line, length):
    limit = longest_carried(weights, line)
    if length > limit:
        mass = sum(w.mass for w in weights)
        which = "heavier" if line_weight(line) > 0 else "more buoyant"
        raise unreachable(
            f"{both(length)} of this line is {which} in water than the {mass_both(mass)} on it, so "
            "that the line and not the lure would set the depth",
            nearest=limit,
            mend=f"Use at most {both(limit)} of it, or at least {mass_both(mass * length / limit)}",
        )


def _line_balance(line, speed, factor, temperature, constant, tangential):
    """Right-hand side: pull forward, pull up [N], forward, height [m] against line [m]."""
    sink = line_weight(line)
    normal = 0.5 * published.WATER_DENSITY * line.diameter * speed**2 * factor
    skin = 0.5 * published.WATER_DENSITY * math.pi * line.diameter * speed**2 * tangential * factor
    reynolds_across = speed * line.diameter / published.kinematic_viscosity(temperature)
    coefficient, sqrt = published.cylinder_drag, math.sqrt

    def balance(state, _along):
        forward, up = state[0], state[1]
        pull = sqrt(forward * forward + up * up)
        cosine, sine = forward / pull, up / pull
        across = normal * sine * abs(sine)
        if across:
            across *= constant or coefficient(max(reynolds_across * abs(sine), 1e-4))
        along = skin * cosine * abs(cosine)
        return (across * sine + along * cosine, sink - across * cosine + along * sine, cosine, sine)

    return balance


def _length_scale(line, loads, pressure):
    heft = max(math.hypot(*(sum(x) for x in zip(*loads.values(), strict=True))), 1e-6)
    return heft / max(2 * pressure * line.diameter, 1e-3)


def _grid(start, end, scale):
    span = math.asinh((end - start) / scale)
    count = min(max(int(span / 0.08), 8), 120) + 1
    grid = start + scale * np.sinh(np.linspace(0.0, span, count))
    grid[-1] = end
    return grid


def _lay_on_surface(values, grid, rhs):
    """End the line where it lies level; beyond, a floating line rests on the surface."""
    i = int(np.argmax(values[:, 1] <= 0))
    if i == 0:
        level, start = values[0].copy(), grid[0]
    else:
        rise = brentq(
            lambda s: odeint(rhs, values[i - 1], [grid[i - 1], s], rtol=1e-10, atol=1e-13)[-1, 1],
            grid[i - 1],
            grid[i],
            xtol=1e-10,
        )
        level = odeint(rhs, values[i - 1], [grid[i - 1], rise], rtol=1e-10, atol=1e-13)[-1]
        start = rise
    level[1] = 0.0
    skin = rhs((max(level[0], 1e-12), 0.0), 0.0)[0]
    rest = np.concatenate([[start], grid[grid > start]])
    flat = np.tile(level, (rest.size, 1))
    flat[:, 0] += skin * (rest - start)
    flat[:, 2] += rest - start
    return np.concatenate([values[:i], flat]), np.concatenate([grid[:i], rest]), float(start)


def _length_in_water(trace, line_out, tip_height):
    if tip_height == 0:
        return line_out
    lowest = max(w.position for w in trace.weights)
    least = trace.line_out(lowest, tip_height)
    if least >= line_out:
        raise unreachable(
            f"{both(line_out)} of line does not put the weights in the water from a "
            f"tip {both(tip_height)} up",
            nearest=least,
            mend=f"Let out more than {both(least)}, or lower the tip",
        )
    return brentq(lambda s: trace.line_out(s, tip_height) - line_out, lowest, line_out, xtol=1e-9)
