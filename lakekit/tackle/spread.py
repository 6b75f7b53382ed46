"""A spread of rods across a boat: swath, gaps, the hole in the middle, and lures in a turn."""

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from lakekit.errors import TackleError
from lakekit.tackle.checks import both, check
from lakekit.units import FOOT


@dataclass(frozen=True)
class Spread:
    """Lures side by side behind or before a boat; positions from port (-) to starboard (+)."""

    positions: np.ndarray  # (n,) m off the centre line, rising
    lengths: np.ndarray  # (n,) m of rod
    swath: float  # m between the outermost lures
    gaps: np.ndarray  # (n-1,) m between neighbours
    hole: float  # m between the innermost lures of either side; 0 with lures on one side only
    beam: float  # m
    legal_rods: int | None  # None: not checked
    rules_note: str
    angles: np.ndarray  # (n,) degrees forward of straight out


def spread(side_lengths, *, beam, angles=0.0, max_rods=None, anglers=None, checked=None):
    """Lay the same rods out on both sides of a boat.

    Parameters
    ----------
    side_lengths : sequence of float
        Rods on each side, from the gunwale outward [m]; or a pair of such sequences for port
        and starboard.
    beam : float
        [m]
    angles : float or sequence
        Forward of straight out from the side [degrees], -80 to 90, one for all or one a rod.
    max_rods : int, optional
        Rods an angler may use on this water; None: not written down.
    anglers : int, optional
        Anglers aboard.
    checked : str, optional
        Date on which the rule was checked.

    Returns
    -------
    Spread

    Raises
    ------
    TackleError
        Where there are no rods or a length is out of range.
    """
    check(beam, "beam", unit="m", least=0.0, most=10.0, strict=True)
    port, starboard = _sides(side_lengths)
    total = len(port) + len(starboard)
    if not total:
        raise TackleError("there are no rods to spread", mend="Give at least one rod")
    for length in (*port, *starboard):
        check(length, "rod length", unit="m", least=0.0, most=15.0, strict=True)
    tilt = (
        np.broadcast_to(np.asarray(angles, dtype=float), (total,))
        if np.ndim(angles) == 0
        else np.asarray(angles, dtype=float)
    )
    if tilt.shape != (total,) or np.any(~((tilt >= -80) & (tilt <= 90))):
        raise TackleError(
            f"rod angles {angles!r} do not serve {total} rods",
            mend="Give one angle, or one a rod, from -80 to 90 degrees",
        )
    sides = np.array([-1.0] * len(port) + [1.0] * len(starboard))
    lengths = np.array([*port, *starboard], dtype=float)
    positions = sides * (beam / 2 + lengths * np.cos(np.radians(tilt)))
    order = np.argsort(positions, kind="stable")
    positions, lengths, tilt = positions[order], lengths[order], tilt[order]
    both_sides = bool(len(port) and len(starboard))
    hole = (
        float(positions[positions > 0].min() - positions[positions < 0].max())
        if both_sides
        else 0.0
    )
    legal, note = legal_rods(total, max_rods=max_rods, anglers=anglers, checked=checked)
    return Spread(
        positions=positions,
        lengths=lengths,
        swath=float(np.ptp(positions)),
        gaps=np.diff(positions),
        hole=hole,
        beam=float(beam),
        legal_rods=legal,
        rules_note=note,
        angles=tilt,
    )


def legal_rods(rods, *, max_rods=None, anglers=None, checked=None):
    """How many rods the crew may use, and a sentence that says so.

    Returns
    -------
    (int or None, str)
        None where the water's rule is not written down.
    """
    if max_rods is None or anglers is None:
        return None, (
            f"{rods} rods. Not checked against this water's rules: look up how many "
            "rods an angler may use."
        )
    legal = int(max_rods) * int(anglers)
    when = f", checked {checked}" if checked else ", date of the check not given"
    rule = f"{max_rods} an angler for {anglers} aboard{when}"
    if rods > legal:
        return legal, f"{rods} rods are more than the {legal} this water allows ({rule})."
    return legal, f"{rods} rods; this water allows {legal} ({rule})."


def legal_spread(boat, rules, *, angles=0.0):
    """The boat's own rods, longest outermost, as many as the water's rules allow.

    Parameters
    ----------
    boat : lakekit.club.Boat
    rules : lakekit.club.Rules

    Returns
    -------
    Spread
    """
    rods = sorted((rod.length for rod in boat.rods for _ in range(rod.count)), reverse=True)
    wanted = min(len(rods), boat.anglers * boat.rods_per_angler)
    if rules.max_rods is not None:
        wanted = min(wanted, rules.max_rods * boat.anglers)
    keep = sorted(rods[:wanted])
    return spread(
        (keep[0::2], keep[1::2]),
        beam=boat.beam,
        angles=angles,
        max_rods=rules.max_rods,
        anglers=boat.anglers,
        checked=rules.checked,
    )


def turn_speeds(positions, *, speed, radius, trail=0.0):
    """Speed of each lure in a steady turn to starboard.

    Parameters
    ----------
    positions : array (n,)
        Off the centre line, starboard positive: the inside of the turn [m].
    speed : float
        Of the boat [m/s].
    radius : float
        Of the boat's track [m]; negative turns to port.
    trail : float
        How far the lures run behind their rod tips [m]. A trailed lure settles on the smaller
        circle to which its line is the tangent.

    Returns
    -------
    array (n,)
        [m/s]

    Raises
    ------
    TackleError
        Where a tip would go backward, or a lure would hang still inside the circle.
    """
    check(speed, "speed", unit="m/s", least=0.0)
    check(trail, "trail", unit="m", least=0.0)
    if not math.isfinite(radius) or radius == 0:
        raise TackleError(f"turning radius is {radius!r}", mend="Give a radius other than 0 [m]")
    positions = np.asarray(positions, dtype=float)
    circle = abs(radius) - math.copysign(1.0, radius) * positions
    if circle.size and circle.min() <= 0:
        need = float(np.abs(positions).max())
        raise TackleError(
            f"a turn of {both(abs(radius))} puts the inside rod at rest or backward",
            mend=f"Turn wider than {both(need)}",
        )
    inner = circle**2 - trail**2
    if inner.size and inner.min() <= 0:
        need = trail + float(np.abs(positions).max())
        raise TackleError(
            f"a turn of {both(abs(radius))} lets a lure {both(trail)} behind sink "
            "inside the circle",
            mend=f"Turn wider than {both(need)}",
        )
    return speed / abs(radius) * np.sqrt(inner)


def weave_speeds(positions, *, speed, swing, period):
    """Slowest and fastest speed of each lure's rod tip in a gentle weave.

    The boat's heading swings as a sine; a tip off the centre line gains or loses the turning
    rate times its distance. A lure on a long line follows less.

    Parameters
    ----------
    positions : array (n,)
        [m]
    speed : float
        [m/s]
    swing : float
        Of the heading to either side [degrees], 0 to 60.
    period : float
        Of one weave left and right [s].

    Returns
    -------
    (array (n,), array (n,))
        [m/s]
    """
    check(speed, "speed", unit="m/s", least=0.0)
    check(swing, "swing of the heading", unit="degrees", least=0.0, most=60.0)
    check(period, "period of the weave", unit="s", least=0.0, strict=True)
    change = math.radians(swing) * 2 * math.pi / period * np.abs(np.asarray(positions, float))
    return speed - change, speed + change


def spread_drawing(laid, *, units="us", title=None):
    """A plain drawing of a spread from above.

    Parameters
    ----------
    laid : Spread
    units : str
        "us" (feet) or "metric".

    Returns
    -------
    matplotlib.figure.Figure
    """
    unit, factor = ("ft", FOOT) if units == "us" else ("m", 1.0)
    figure = Figure(figsize=(6.5, 2.9), layout="constrained")
    axes = figure.subplots()
    half, across = laid.beam / 2 / factor, laid.positions / factor
    hull = np.array([[-1, 0], [-1, 1.2], [-0.6, 2.0], [0, 2.5], [0.6, 2.0], [1, 1.2], [1, 0]])
    axes.fill(hull[:, 0] * half, hull[:, 1] * half * 2, facecolor="0.88", edgecolor="black", lw=1)
    middle = half * 1.6
    ahead = laid.lengths / factor * np.sin(np.radians(laid.angles))
    rank = {side: np.argsort(np.argsort(-np.abs(across[across * side > 0]))) for side in (-1, 1)}
    step = {side: iter(rank[side]) for side in rank}
    for x, y in zip(across, ahead, strict=True):
        side = math.copysign(1, x)
        foot = middle + 0.25 * half * (next(step[side]) - 1)
        axes.plot([side * half, x], [foot, foot + y], color="black", lw=1)
        axes.plot([x, x], [foot + y, -2.6 * half], color="black", lw=0.8, ls=(0, (4, 3)))
    axes.plot(across, np.full(across.size, -2.6 * half), ls="none", marker="v", ms=6, color="black")
    if laid.hole > 0:
        inner = across[across > 0].min(), across[across < 0].max()
        axes.add_patch(_hatched(inner[1], -2.6 * half, inner[0] - inner[1], 1.5 * half))
        axes.annotate(
            f"nothing in the middle {laid.hole / factor:.0f} {unit}",
            (sum(inner) / 2, -0.65 * half),
            ha="center",
            va="center",
            fontsize=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        )
    axes.annotate(
        "",
        (across.min(), -3.6 * half),
        (across.max(), -3.6 * half),
        arrowprops={"arrowstyle": "<->", "lw": 0.8},
    )
    axes.annotate(
        f"swath {laid.swath / factor:.0f} {unit}",
        (0, -4.3 * half),
        ha="center",
        va="center",
        fontsize=9,
    )
    axes.set_xlabel(f"distance off the centre line ({unit})")
    axes.set_xticks(np.round(across, 1))
    axes.tick_params(axis="x", labelsize=7)
    axes.set_yticks([])
    axes.set_ylim(-5.0 * half, max(5.4 * half, middle + ahead.max() + half))
    axes.set_xlim(min(across.min(), -half) - 2, max(across.max(), half) + 2)
    for side in ("top", "left", "right"):
        axes.spines[side].set_visible(False)
    axes.set_title(title or "The spread from above", fontsize=10, loc="left")
    return figure


def _hatched(x, y, width, height):
    return Rectangle((x, y), width, height, facecolor="none", edgecolor="0.45", hatch="//", lw=0)


def _sides(side_lengths):
    sides = list(side_lengths)
    if len(sides) == 2 and all(np.ndim(side) == 1 for side in sides):
        return [float(x) for x in sides[0]], [float(x) for x in sides[1]]
    lengths = [float(x) for x in sides]
    return lengths, lengths
