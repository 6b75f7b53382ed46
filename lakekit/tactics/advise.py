"""Which tactics suit a month or a day, how deep to run each, and how to set it up."""

from lakekit.errors import TackleError
from lakekit.tackle.setups import setup_for
from lakekit.tactics.start import working_depth
from lakekit.units import depth_range_text, depth_text, told_depth

MANY_RODS = ("troll", "push", "drift")  # motions that use all the rods a crew may put out
SPAWN_PLACES = ("cover", "bank", "edge")
ICE_CHANCE = 0.2  # share of days with ice from which ice tactics are listed, and to which boats
LIKELY = 0.5  # share of days with ice above which it is likelier than not
LEAST_OUTINGS = 2  # one outing never makes a first choice
SURE_CHANCE = 0.5  # chance of being the best from which a first choice is called so
PLACE_WORDS = {
    "open": "open water", "edge": "edges and drop-offs", "cover": "wood, brush and docks",
    "bank": "along the bank", "ice": "through the ice",
}  # fmt: skip
LOOSE = "It cannot be placed so finely as the band: vary it until one answers."
DEEP = 7.5  # m: from about here fish brought up fast suffer (common practice, no source)
HOT = 26.0  # degC at the surface, from which released fish suffer (common practice, no source)


def advise(
    book,
    club,
    lake,
    *,
    phases,
    band,
    start,
    bottom,
    ice_chance,
    surface_temperature,
    night=None,
    ice_first=None,
    answers=None,
    cards=None,
    sinking=None,
):
    """The tactics that suit, best first where the log can tell, each with its set-up.

    Boat and ice are never weighed against each other: where both can be, ice comes first only
    where it is likelier than not, each with an order of its own.

    Parameters
    ----------
    book : dict of str to lakekit.tactics.book.Tactic
    club : lakekit.club.Club
        Its boat's gear makes the set-ups; its units word them.
    lake : lakekit.club.Lake
        Its legal rods cap the boat's.
    phases : sequence of str
        The season phase the month is told by, then any other that its log speaks of.
    band : lakekit.tactics.start.Band
        Depths that can hold fish.
    start : float or None
        The depth to fish first [m].
    bottom : float
        Deepest water [m].
    ice_chance : float
        Chance of ice, 0 to 1.
    surface_temperature : float
        Warmest usual surface temperature [degC].
    night : float, optional
        The depth to fish first by night [m]; default: ``start``.
    ice_first : bool, optional
        Default: by ``ice_chance``.
    answers : callable, optional
        Tactic -> the depth it is set at [m], as a dict, to what the log says of each, as
        ``lakekit.trips.answers.guide_answers``.
        None: no log, and no order.
    cards : dict, optional
        Running-depth cards by lure, from the club's own measured points.
    sinking : dict, optional
        Sinking by lure, from the club's own timed drops.

    Returns
    -------
    list of dict
        As in the guide: ``key``, ``name``, ``water`` ("boat" or "ice"), ``rank`` (None when
        unranked), ``sure`` (whether the log is enough to call the first the first), ``top``,
        ``bottom``, ``start`` [m], ``depth_text``, ``place``, ``setup``, ``setup_figures`` (SI,
        None without a set-up), ``log``, ``why``, ``caution``.
    """
    suited = {}
    for tactic in book.values():
        if not set(phases) & set(tactic.phases) or not _water_bears(tactic, ice_chance):
            continue
        depths = working_depth(tactic.depth_rule(phases[0]), band, bottom=bottom)
        if depths is not None:
            suited[tactic.key] = depths
    gear = {"club": club, "lake": lake, "cards": cards, "sinking": sinking}
    starts, listed = {True: start if night is None else night, False: start}, []
    for water in _waters(ice_chance > LIKELY if ice_first is None else ice_first):
        keys = [key for key in suited if book[key].needs_ice == (water == "ice")]
        targets = {k: _target(*suited[k], starts[book[k].by_night], club.units) for k in keys}
        told = answers(targets) if answers and keys else {}
        common = {"phase": phases[0], "band": band, "surface_temperature": surface_temperature}
        listed += _ranked([
            _row(book[k], suited[k], told.get(k, {}), gear, target=targets[k], **common)
            for k in keys
        ])  # fmt: skip
    return listed


def _waters(ice_first):
    return ("ice", "boat") if ice_first else ("boat", "ice")


def _water_bears(tactic, ice_chance):
    """Whether the month has the water a tactic needs: ice for the one, none for the other."""
    return ice_chance >= ICE_CHANCE if tactic.needs_ice else ice_chance <= 1 - ICE_CHANCE


def _target(top, base, start, units):
    """The depth a tactic is set at: the start as it is told, or the nearest that it works."""
    return min(max(top if start is None else told_depth(start, units), top), base)


def _row(tactic, depths, answer, gear, *, phase, band, target, surface_temperature):
    top, base = depths
    text, figures = _setup(tactic, top, base, target, **gear)
    places = tactic.places
    if phase == "spawn":
        places = tuple(p for p in SPAWN_PLACES if p in places) or places
    within, units = tactic.depth_rule(phase).within, gear["club"].units
    return {
        "key": tactic.key,
        "name": tactic.name,
        "short": tactic.short,
        "water": "ice" if tactic.needs_ice else "boat",
        "rank": None,
        "value": answer.get("value"),
        "best_chance": answer.get("best_chance"),
        "outings": answer.get("outings", 0),
        "sure": False,
        "top": top,
        "bottom": base,
        "start": target,
        "depth_text": _depth_text(target, top, base, figures, units),
        "place": ", ".join(PLACE_WORDS[place] for place in places),
        "setup": text,
        "setup_figures": figures,
        "how": tactic.how,
        "log": answer.get("text", "Suits season and gear, unranked."),
        "why": _why(within, band),
        "caution": _caution(tactic, base, band, surface_temperature),
    }


def _loose(figures, top, base):
    """Whether a set-up may miss by more than the whole band, so that no depth of it is placed."""
    return bool(figures and figures["possible"]) and figures["tolerance"] > base - top > 0.0


def _depth_text(target, top, base, figures, units):
    at, span = depth_text(target, units), depth_range_text(top, base, units)
    if _loose(figures, top, base):
        return f"about {at}"
    return at if "–" not in span else f"{at} ({span.rsplit(' ', 1)[0]})"


def _setup(tactic, top, base, target, *, club, lake, cards, sinking):
    """The set-up as words and as flat SI figures; the figures are None where there is none."""
    try:
        setup = setup_for(
            tactic.motion, top, base, club.boat, speed=tactic.speed, tactic=tactic.key,
            gear=tactic.gear, cards=cards, target=target, sinking=sinking,
        )  # fmt: skip
    except TackleError as error:
        return str(error), None
    text = setup.text(club.units)
    if not setup.possible:
        text = " ".join([text, *setup.alternatives_text(club.units)[:1]])
    elif tactic.motion in MANY_RODS:
        text = f"{text} {_rods_text(tactic, club, lake)}"
    figures = setup.as_dict()
    if _loose(figures, top, base):
        text = f"{text} {LOOSE}"
    return text, figures


def _rods_text(tactic, club, lake):
    if lake.rules.max_rods is None:
        return "Rods allowed here: not checked."
    law, own = lake.rules.max_rods, club.boat.rods_per_angler
    each = min(own, tactic.rods_per_angler or own, law)
    rods = f"{each} rod{'s' if each > 1 else ''}"
    if each == law:
        return f"At most {rods} an angler, the law here."
    why = "as the club fishes" if each == own else "as one can tend"
    return f"At most {rods} an angler, {why}; the law here allows {law}."


def _why(within, band):
    if within == "cover":
        return "works the cover itself, whatever the open water does"
    return "" if band.good else "runs where fish are pressed"


def _caution(tactic, base, band, surface_temperature):
    if tactic.needs_ice:
        return (
            "This guide cannot know the ice: ask locally and measure it all the way out; it can "
            "still break."
        )
    if band.reason == "warm_and_squeezed":
        return "Squeezed fish rarely live after release: better left alone."
    if surface_temperature >= HOT and base > DEEP:
        return "Brought up through hot water they die after release: keep your limit, then stop."
    return None


def _ranked(rows):
    """What the boat can run and the log knows from two outings or more first, by its rate."""

    def order(row):
        possible = bool((row["setup_figures"] or {}).get("possible"))
        return (not possible, row["outings"] < LEAST_OUTINGS, -row["value"])

    known = sorted((row for row in rows if row["value"] is not None), key=order)
    for rank, row in enumerate(known, 1):
        row["rank"] = rank
        row["sure"] = (
            order(row)[:2] == (False, False) and (row["best_chance"] or 0.0) >= SURE_CHANCE
        )
    return known + [row for row in rows if row["value"] is None]
