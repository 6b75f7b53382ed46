"""Which tactics suit a month or a day, how deep to run each, and how to set it up."""

from lakekit.errors import TackleError
from lakekit.tackle.setups import setup_for
from lakekit.tactics.band import working_depth
from lakekit.units import depth_range_text

MANY_RODS = ("troll", "push", "drift")  # motions that use all the rods a crew may put out
SPAWN_PLACES = ("cover", "bank", "edge")
ICE_CHANCE = 0.2  # share of years or days from which ice fishing is listed at all
PLACE_WORDS = {
    "open": "open water", "edge": "edges and drop-offs", "cover": "wood, brush and docks",
    "bank": "along the bank", "ice": "through the ice",
}  # fmt: skip
DEEP = 7.5  # m: from about here fish brought up fast suffer (common practice, no source)
HOT = 26.0  # degC at the surface, from which released fish suffer (common practice, no source)


def advise(
    book,
    club,
    lake,
    *,
    phase,
    band,
    bottom,
    ice_chance,
    surface_temperature,
    answers=None,
    cards=None,
):
    """The tactics that suit, best first where the log can tell, each with its set-up.

    Parameters
    ----------
    book : dict of str to lakekit.tactics.book.Tactic
    club : lakekit.club.Club
        Its boat's gear makes the set-ups; its units word them.
    lake : lakekit.club.Lake
        Its legal rods cap the boat's.
    phase : str
        The season phase the month is told by.
    band : lakekit.tactics.band.Band
        Depths that can hold fish.
    bottom : float
        Deepest water [m].
    ice_chance : float
        Chance of ice, 0 to 1.
    surface_temperature : float
        Warmest usual surface temperature [degC].
    answers : dict, optional
        Tactic key to ``{"value": fish per boat-hour, "text": sentence}`` from the log; tactics
        without a value come after those with one. None: no log, and no order.
    cards : dict, optional
        Running-depth cards by lure, from the club's own measured points.

    Returns
    -------
    list of dict
        As in the guide: ``key``, ``name``, ``rank`` (None when unranked), ``top``, ``bottom`` [m],
        ``depth_text``, ``place``, ``setup``, ``setup_figures`` (SI, None without
        a set-up), ``log``, ``why``, ``caution``.
    """
    rows = []
    for tactic in book.values():
        if phase not in tactic.phases or (tactic.needs_ice and ice_chance < ICE_CHANCE):
            continue
        depths = working_depth(tactic.depth_rule(phase), band, bottom=bottom)
        if depths is None:
            continue
        rows.append(
            _row(
                tactic,
                club,
                lake,
                depths,
                phase=phase,
                band=band,
                cards=cards,
                surface_temperature=surface_temperature,
                answers=answers,
            )
        )
    return _ranked(rows)


def _row(tactic, club, lake, depths, *, phase, band, cards, surface_temperature, answers):
    top, base = depths
    answer = (answers or {}).get(tactic.key, {})
    text, figures = _setup(tactic, club, lake, top, base, cards)
    places = tactic.places
    if phase == "spawn":
        places = tuple(p for p in SPAWN_PLACES if p in places) or places
    within = tactic.depth_rule(phase).within
    return {
        "key": tactic.key,
        "name": tactic.name,
        "short": tactic.short,
        "rank": None,
        "value": answer.get("value"),
        "top": top,
        "bottom": base,
        "depth_text": depth_range_text(top, base, club.units),
        "place": ", ".join(PLACE_WORDS[place] for place in places),
        "setup": text,
        "setup_figures": figures,
        "how": tactic.how,
        "log": answer.get("text", "Suits season and gear, unranked."),
        "why": _why(within, band),
        "caution": _caution(base, band, surface_temperature),
    }


def _setup(tactic, club, lake, top, base, cards):
    """The set-up as words and as flat SI figures; the figures are None where there is none."""
    try:
        setup = setup_for(
            tactic.motion, top, base, club.boat, speed=tactic.speed, tactic=tactic.key,
            gear=tactic.gear, cards=cards,
        )  # fmt: skip
    except TackleError as error:
        return str(error), None
    text = setup.text(club.units)
    if not setup.possible:
        text = " ".join([text, *setup.alternatives_text(club.units)[:1]])
    elif tactic.motion in MANY_RODS:
        text = f"{text} {_rods_text(tactic, club, lake)}"
    return text, setup.as_dict()


def _rods_text(tactic, club, lake):
    if lake.rules.max_rods is None:
        return "Rods allowed here: not checked."
    each = min(club.boat.rods_per_angler, tactic.rods_per_angler or club.boat.rods_per_angler)
    return f"{club.boat.anglers * min(each, lake.rules.max_rods)} rods at most."


def _why(within, band):
    if within == "cover":
        return "works the cover itself, whatever the open water does"
    return "runs in the band that can hold fish" if band.good else "runs where fish are pressed"


def _caution(base, band, surface_temperature):
    if band.reason == "warm_and_squeezed":
        return "Squeezed fish rarely live after release: better left alone."
    if surface_temperature >= HOT and base > DEEP:
        return "Brought up through hot water they die after release: keep your limit, then stop."
    return None


def _ranked(rows):
    known = sorted((row for row in rows if row["value"] is not None), key=lambda r: -r["value"])
    for rank, row in enumerate(known, 1):
        row["rank"] = rank
    return known + [row for row in rows if row["value"] is None]
