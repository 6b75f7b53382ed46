"""From a band of depth to what to tie on, let out and count, with the gear in the boat."""

import math

import numpy as np

from lakekit.errors import TackleError
from lakekit.tackle import words
from lakekit.tackle.plan import Ask, Setup
from lakekit.tackle.solvers import SOLVERS
from lakekit.units import MILE

MPH = MILE / 3600
MOTIONS = tuple(SOLVERS)
# Common practice, no source, all of them.
TIP_HEIGHT = {
    "cast": 1.2,
    "troll": 0.3,
    "push": 0.6,
    "vertical": 0.5,
    "float": 1.2,
    "drift": 0.6,
    "dip": 0.6,
}  # m; trolling tips are held low
USUAL_SPEED = {
    "troll": (0.8 * MPH, 1.6 * MPH),
    "push": 0.5 * MPH,
    "drift": 0.6 * MPH,
    "vertical": 0.0,
}  # m/s where none is given
KINDS = {
    "cast": ("jig", "spoon"),
    "troll": ("jig", "lipped"),
    "push": ("sinker",),
    "vertical": ("jig", "spoon"),
    "float": ("jig", "bait"),
    "drift": ("sinker",),
    "dip": ("jig",),
}
LURE_WORDS = {"lipped": "lipped lure", "bait": "bait rig"}  # kinds that are no noun of their own

__all__ = ["MOTIONS", "Setup", "setup_for"]


def setup_for(
    motion,
    depth_top,
    depth_bottom,
    boat,
    *,
    speed=None,
    lure=None,
    line=None,
    tactic=None,
    gear=None,
    cards=None,
    target=None,
    sinking=None,
    current=0.0,
    drag_factor=1.0,
    temperature=20.0,
    tip_height=None,
):
    """How to run a bait in a band of depth with the gear in the boat.

    Parameters
    ----------
    motion : str
        cast | troll | push | vertical | float | drift | dip.
    depth_top, depth_bottom : float
        The band to run in [m].
    boat : lakekit.club.Boat
        Its lures, lines and the speeds it can hold.
    speed : float or (float, float), optional
        Over ground [m/s], or the slowest and fastest that suit the tactic.
    lure, line : lakekit.club.Lure, lakekit.club.Line, optional
        To use these and no others.
    tactic : str, optional
        Key of the tactic; lures that name it are preferred.
    gear : sequence of str, optional
        Kinds of lure that serve; default by motion.
    cards : dict, optional
        Lure name -> RunningCard, for lipped lures.
    target : float, optional
        The depth in the band to run at [m]; by default its upper third.
    sinking : dict, optional
        Lure name -> ``lakekit.tackle.drops.Sinking``, from the club's own timed drops.
    current : float
        Along the track [m/s].
    drag_factor : float
        From measured depths.
    temperature : float
        Of the water [degC].
    tip_height : float, optional
        Of the rod tip [m]; default by motion.

    Returns
    -------
    Setup
        With ``possible`` False, a reason and alternatives, where this gear cannot do it.

    Raises
    ------
    TackleError
        For an unknown motion or a band out of range.
    """
    if motion not in MOTIONS:
        raise TackleError(
            f"motion {motion!r} is not known", mend=f"Use one of {', '.join(MOTIONS)}"
        )
    if not (math.isfinite(depth_top) and 0 <= depth_top <= depth_bottom < 200 and depth_bottom > 0):
        raise TackleError(
            f"a band from {depth_top!r} to {depth_bottom!r} m is no band of water",
            mend="Give top and bottom in metres, top first",
        )
    ask = Ask(
        motion=motion,
        band=(float(depth_top), float(depth_bottom)),
        boat=boat,
        target=_target(depth_top, depth_bottom, target),
        tactic=tactic,
        kinds=tuple(k for k in (gear or KINDS[motion]) if k in KINDS[motion]) or KINDS[motion],
        cards=cards or {},
        sinking=sinking or {},
        tip=TIP_HEIGHT[motion] if tip_height is None else tip_height,
        conditions=(
            ("current", current),
            ("drag_factor", drag_factor),
            ("temperature", temperature),
        ),
    )
    speeds, reason = _speeds(motion, speed, boat)
    if reason:
        return ask.cannot(reason)
    lures = (lure,) if lure is not None else _lures(ask)
    lines = (line,) if line is not None else tuple(boat.lines)
    if not lures:
        kinds = " or ".join(LURE_WORDS.get(kind, kind) for kind in ask.kinds)
        return ask.cannot(
            lambda u: f"There is no {kinds} among the club's lures for this.",
            (lambda u: f"Add a {kinds} and its weight to club.toml.",),
        )
    if not lines and motion not in ("float", "dip"):
        return ask.cannot(
            lambda u: "There is no line in club.toml to work this out with.",
            (lambda u: "Add a line and its diameter to club.toml.",),
        )
    return SOLVERS[motion](ask, speeds, lures, lines)


def _target(top, bottom, asked):
    if asked is None:
        return max(top + (bottom - top) / 3, 0.3)
    return max(min(max(asked, top), bottom), 0.3)


def _speeds(motion, speed, boat):
    """Speeds to try, the preferred first; or the reason why the boat holds none of them."""
    if motion in ("cast", "float", "dip"):
        return (0.0,), None
    if speed is None:
        speed = USUAL_SPEED[motion]
    low, high = (speed, speed) if np.ndim(speed) == 0 else speed
    slowest, fastest = boat.speeds if motion in ("troll", "push") else (0.0, math.inf)
    if low > high or low < 0:
        raise TackleError(
            f"speed {speed!r} is no range of speeds",
            mend="Give one speed, or slowest and fastest, 0 or more, in m/s",
        )
    if high < slowest or low > fastest:
        least, most = max(low, 0.0), high
        return (
            (),
            lambda u: (
                f"{boat.name} holds {words.speed_text(slowest, u)} to "
                f"{words.speed_text(fastest, u)}; this needs {words.speed_text(least, u)} to "
                f"{words.speed_text(most, u)}."
            ),
        )
    low, high = max(low, slowest), min(high, fastest)
    return tuple(dict.fromkeys(low + (high - low) * f for f in (0.5, 0.25, 0.0, 0.75, 1.0))), None


def _lures(ask):
    fit = [x for x in ask.boat.lures if x.kind in ask.kinds]
    named = [x for x in fit if ask.tactic and ask.tactic in x.tactics]
    return tuple(named or [x for x in fit if not x.tactics] or fit)
