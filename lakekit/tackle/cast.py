"""A cast to a marked fish: where the bait must land so that it arrives just above."""

import math
from dataclasses import dataclass

from lakekit.tackle.checks import both, check, unreachable

FAR = 1000.0  # m: what is beyond is a slip of the pen
MARK_ERROR = 1.5  # m: how well a fish's place is known from a marked return (no source)


@dataclass(frozen=True)
class CastPlan:
    """Where to land a bait and how long to let it sink."""

    land_at: float  # m from the rod tip, over the water
    beyond: float  # m past the fish
    count: float  # s from the splash until it is just above the fish
    bait_depth: float  # m on arrival
    low: float  # m from the tip: nearer than this it passes short
    high: float  # m


def cast_beyond(
    distance,
    depth,
    *,
    sink_speed,
    above=0.3,
    tip_height=1.2,
    boat_speed=0.0,
    retrieve_speed=0.0,
    line="taut",
    farthest=35.0,
    sink_error=0.35,
):
    """Where to land a bait beyond a marked fish.

    On a taut line a sinking bait swings in on the circle about the rod tip; line wound in, and a
    boat that closes on the fish or draws off, move it as well. On a slack line, fed as it
    sinks, it falls straight down.

    Parameters
    ----------
    distance : float
        To the fish from the rod tip, over the water [m].
    depth : float
        Of the fish [m].
    sink_speed : float
        Of the bait [m/s], from :func:`lakekit.tackle.sink.terminal_speed` or a count.
    above : float
        How far above the fish to arrive [m].
    tip_height : float
        Of the rod tip above the water [m].
    boat_speed : float
        Away from the fish [m/s]; negative towards it.
    retrieve_speed : float
        Line wound in while it sinks [m/s].
    line : str
        "taut" or "slack".
    farthest : float
        The longest cast [m] (common practice, no source).
    sink_error : float
        Of the sink speed, a share.

    Returns
    -------
    CastPlan

    Raises
    ------
    TackleError
        Where the fish lies shallower than ``above``, or the cast is too long; ``nearest`` is
        the farthest fish that such a cast serves [m].
    """
    check(distance, "distance to the fish", unit="m", least=0.0, strict=True, most=FAR)
    check(depth, "depth of the fish", unit="m", least=0.0, strict=True, most=FAR)
    check(sink_speed, "sink speed", unit="m/s", least=0.0, strict=True)
    check(retrieve_speed, "retrieve speed", unit="m/s", least=0.0)
    check(tip_height, "tip height", unit="m", least=0.0, most=10.0)
    check(above, "height above the fish", unit="m", least=0.0)
    if line not in ("taut", "slack"):
        raise unreachable(
            f"line {line!r} is neither taut nor slack", nearest="taut", mend='Use "taut" or "slack"'
        )
    target = depth - above
    if target <= 0:
        raise unreachable(
            f"a fish {both(depth)} deep leaves no room {both(above)} above it",
            nearest=above,
            mend="Cast past it and draw the bait over at the surface",
        )

    def landing(speed):
        seconds = target / speed
        return _landing(distance, target, seconds, tip_height, boat_speed, retrieve_speed, line)

    land_at, seconds = landing(sink_speed), target / sink_speed
    if land_at > farthest:
        reach = _reach(farthest, target, seconds, tip_height, boat_speed, retrieve_speed, line)
        mend = (
            f"Close to within {both(reach)} of the fish"
            if reach
            else "Come over it and drop straight down"
        )
        raise unreachable(
            f"the bait would have to land {both(land_at)} away, beyond a cast of {both(farthest)}",
            nearest=reach,
            mend=mend,
        )
    ends = sorted((landing(sink_speed / (1 + sink_error)), landing(sink_speed * (1 + sink_error))))
    return CastPlan(
        land_at=land_at,
        beyond=land_at - distance,
        count=seconds,
        bait_depth=target,
        low=min(ends[0], land_at - MARK_ERROR),
        high=max(ends[1], land_at + MARK_ERROR),
    )


def _landing(distance, target, seconds, tip_height, boat_speed, retrieve_speed, line):
    """Horizontal distance from the tip at the splash [m]; the tip moves with the boat."""
    away = distance + boat_speed * seconds
    if line == "slack":
        return distance
    arrival = math.hypot(away, target + tip_height)
    return math.sqrt(max((arrival + retrieve_speed * seconds) ** 2 - tip_height**2, 0.0))


def _reach(farthest, target, seconds, tip_height, boat_speed, retrieve_speed, line):
    """The farthest fish that a cast of this length serves [m], 0 where none."""
    if line == "slack":
        return farthest
    arrival = math.hypot(farthest, tip_height) - retrieve_speed * seconds
    away = (
        math.sqrt(max(arrival, 0.0) ** 2 - (target + tip_height) ** 2)
        if arrival > target + tip_height
        else 0.0
    )
    return max(away - boat_speed * seconds, 0.0)
