"""A whole boat's tackle answers: every way of moving a bait, and the rods it may lay."""

from lakekit.errors import TackleError
from lakekit.tackle.commands import running_question
from lakekit.tackle.running import read_running
from lakekit.tackle.setups import setup_for
from lakekit.tackle.spread import legal_spread
from lakekit.tactics.book import read_book
from lakekit.units import depth_text
from lakekit.waters.knowledge import running_cards


def setups_for_band(club, top, bottom):
    """How each tactic of the book would run a bait in a band with the club's gear.

    Parameters
    ----------
    club : lakekit.club.Club
    top, bottom : float
        The band [m].

    Returns
    -------
    list of (str, str)
        Tactic's name, set-up or why there is none.
    """
    cards = running_cards(club)
    rows = []
    for tactic in read_book().values():
        try:
            setup = setup_for(
                tactic.motion, top, bottom, club.boat, speed=tactic.speed, tactic=tactic.key,
                gear=tactic.gear, cards=cards,
            )  # fmt: skip
        except TackleError as error:
            rows.append((tactic.name, str(error)))
            continue
        rows.append(
            (
                tactic.name,
                " ".join([setup.text(club.units), *setup.alternatives_text(club.units)[:1]]),
            )
        )
    return rows


def running_lines(club):
    """What the club's own running.csv says of each lure in it, or why it says nothing yet.

    Parameters
    ----------
    club : lakekit.club.Club

    Returns
    -------
    list of str
    """
    path = club.folder / "running.csv"
    if not path.exists() or not club.boat.lines:
        return ["There is no running.csv, or no line in club.toml: no lure's depth is known."]
    lines = []
    for lure in read_running(path):
        try:
            lines += running_question(
                path=path, lure=lure, diameter=club.boat.lines[0].diameter, units=club.units
            )[1]
        except TackleError as error:
            lines.append(str(error))
    return lines or ["running.csv has no rows yet: two measured depths of a lure are a beginning."]


def rod_spread(club, lake):
    """The legal rods of the club's boat on a lake, laid out to both sides."""
    return legal_spread(club.boat, lake.rules)


def spread_alt(laid, units):
    """What the drawing of a spread says, in words."""
    gaps = [depth_text(gap, units) for gap in laid.gaps]
    hole = f" nothing in the middle {depth_text(laid.hole, units)};" if laid.hole else ""
    return (
        f"A boat from above, {len(laid.positions)} lures side by side over "
        f"{depth_text(laid.swath, units)};{hole} gaps from side to side: {', '.join(gaps)}."
    )
