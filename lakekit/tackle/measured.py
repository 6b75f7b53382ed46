"""How sure a computed depth is, and its correction from depths the angler measured."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from lakekit.errors import TackleError
from lakekit.tackle.checks import check, unreachable
from lakekit.tackle.line import line_shape
from lakekit.units import FOOT, MILE, depth_text

SPEED_ERROR = 0.15 * MILE / 3600  # m/s: display and an unseen drift (common practice, no source)
# A smooth cylinder's drag is known to about 10 %; a line that strums has up to 1.5 times as much
# (towed cables have 1.5 where a smooth cylinder has 1.1), and a dressed jig is no ball.
DRAG_ERROR = 0.3
READING_ERROR = FOOT  # m: how well a depth is read off a mark or a touched bottom
LEAST_TOLERANCE = 1.5 * FOOT  # m: nothing on a line is placed to a foot
FACTOR_RANGE = (0.1, 10.0)


@dataclass(frozen=True)
class Tolerance:
    """About two in three runs should lie between ``low`` and ``high`` [m]."""

    low: float
    high: float
    from_speed: float  # m, one standard deviation
    from_drag: float  # m
    half_width: float  # m, the wider side


@dataclass(frozen=True)
class MeasuredPoint:
    """A depth the angler found a rig to run at."""

    line_out: float  # m, from the rod tip
    speed: float  # m/s over ground
    depth: float  # m, of the lower end


@dataclass(frozen=True)
class Correction:
    """The drag factor that fits measured depths best, and what it changed."""

    drag_factor: float
    low: float  # one standard error below
    high: float
    error: float  # standard error of ln(factor): the drag error to use from here on
    before: np.ndarray  # (n,) m, depths computed with published drag
    after: np.ndarray  # (n,) m
    measured: np.ndarray  # (n,) m
    rms_before: float  # m
    rms_after: float  # m

    def text(self, units="us"):
        """The correction in one sentence."""
        way = "more" if self.drag_factor > 1 else "less"
        n = self.measured.size
        before, after = (depth_text(x, units, digits=1) for x in (self.rms_before, self.rms_after))
        return (
            f"Your {n} measured depth{'s' if n > 1 else ''}: {abs(self.drag_factor - 1):.0%} "
            f"{way} drag than published (factor {self.drag_factor:.2f}, {self.low:.2f} to "
            f"{self.high:.2f}); mean miss {before} before, {after} after."
        )


def depth_tolerance(
    weights,
    line,
    *,
    speed,
    speed_error=SPEED_ERROR,
    drag_error=DRAG_ERROR,
    line_in_water=None,
    line_out=None,
    tip_height=0.0,
    drag_factor=1.0,
    **conditions,
):
    """How far a computed running depth may be off.

    Parameters
    ----------
    weights, line, speed, line_in_water, line_out, tip_height, drag_factor, **conditions
        As in :func:`lakekit.tackle.line.line_shape`.
    speed_error : float
        One standard deviation of the speed through the water [m/s].
    drag_error : float
        One standard deviation of ln(drag) [-].

    Returns
    -------
    Tolerance
        Never narrower than 1.5 ft each way.
    """
    check(speed_error, "speed error", unit="m/s", least=0.0)
    check(drag_error, "drag error", least=0.0, most=2.0)

    def depth(change, factor):
        return line_shape(
            weights,
            line,
            speed=max(speed + change, 0.0),
            tip_height=tip_height,
            line_in_water=line_in_water,
            line_out=line_out,
            drag_factor=drag_factor * factor,
            **conditions,
        ).depth

    middle = depth(0.0, 1.0)
    faster, slower = depth(speed_error, 1.0), depth(-speed_error, 1.0)
    more, less = depth(0.0, math.exp(drag_error)), depth(0.0, math.exp(-drag_error))
    shallower = math.hypot(max(middle - faster, 0.0), middle - more)
    deeper = math.hypot(max(slower - middle, 0.0), less - middle)
    shallower, deeper = max(shallower, LEAST_TOLERANCE), max(deeper, LEAST_TOLERANCE)
    return Tolerance(
        low=max(middle - shallower, 0.0),
        high=middle + deeper,
        from_speed=abs(slower - faster) / 2,
        from_drag=abs(less - more) / 2,
        half_width=max(shallower, deeper),
    )


def fit_drag_factor(
    points, weights, line, *, tip_height=0.0, reading_error=READING_ERROR, **conditions
):
    """Correct the drag by least squares from measured depths.

    Parameters
    ----------
    points : sequence of MeasuredPoint
        One or more, of the same rig on the same line.
    reading_error : float
        One standard deviation of a measured depth [m].

    Returns
    -------
    Correction

    Raises
    ------
    TackleError
        Where no drag between a tenth and ten times the published explains the depths;
        ``nearest`` is the factor that comes closest.

    Notes
    -----
    One factor multiplies every drag. It cannot be told from a current that was not entered: a
    factor of 1.2 is also what a water speed 10 % higher would give.
    """
    points = list(points)
    if not points:
        raise TackleError(
            "there is no measured depth to correct from", mend="Give one or more measured points"
        )
    for point in points:
        check(point.depth, "measured depth", unit="m", least=0.0, strict=True)
        check(point.speed, "speed", unit="m/s", least=0.0, strict=True)
    measured = np.array([point.depth for point in points])

    def depths(factor):
        return np.array(
            [
                line_shape(
                    weights,
                    line,
                    speed=p.speed,
                    line_out=p.line_out,
                    tip_height=tip_height,
                    drag_factor=factor,
                    **conditions,
                ).depth
                for p in points
            ]
        )

    bounds = tuple(math.log(f) for f in FACTOR_RANGE)
    fit = least_squares(
        lambda log_factor: depths(math.exp(log_factor[0])) - measured,
        [0.0],
        bounds=bounds,
        xtol=1e-10,
        ftol=1e-12,
        diff_step=1e-4,
    )
    factor = math.exp(fit.x[0])
    after = depths(factor)
    rms_after = float(np.sqrt(np.mean((after - measured) ** 2)))
    at_bound = min(factor / FACTOR_RANGE[0], FACTOR_RANGE[1] / factor) < 1.02
    if at_bound:
        raise unreachable(
            f"no drag from {FACTOR_RANGE[0]:g} to {FACTOR_RANGE[1]:g} times the published explains "
            f"the measured depths (nearest: factor {factor:.2f}, still {rms_after / FOOT:.1f} ft "
            "off)",
            nearest=factor,
            mend="Check the weight, the line out, the tip height and the current",
        )
    before = depths(1.0)
    scatter = float(np.sqrt(np.sum((after - measured) ** 2) / max(measured.size - 1, 1)))
    gradient = float(np.sqrt(np.sum(fit.jac[:, 0] ** 2)))
    error = max(reading_error, scatter) / max(gradient, 1e-12)
    return Correction(
        drag_factor=factor,
        low=factor * math.exp(-error),
        high=factor * math.exp(error),
        error=error,
        before=before,
        after=after,
        measured=measured,
        rms_before=float(np.sqrt(np.mean((before - measured) ** 2))),
        rms_after=rms_after,
    )
