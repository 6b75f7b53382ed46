"""The plan of a front note: the depth to start at tonight and on the day that it is made for.

One state of the water feeds the headline's start, the row of its day, the last step of every row
of what changed, and the tactics: that of the first noon told ahead that the front leaves in peace.
"""

import numpy as np
import pandas as pd

from lakekit.guide.where import BAND_REASONS
from lakekit.guide.words import date_text, list_text, local, sentence
from lakekit.strata.events import event_threshold
from lakekit.units import depth_range_text, depth_text

NAMES = ("Tonight", "Tomorrow", "The day after", "Day 3")
MOVED = event_threshold("deepened")  # m of start depth that are worth a reason
SETTLE = pd.Timedelta(hours=3)  # for a lake to lie down after a blow (common practice, no source)
ASHORE = "stay ashore"
WARMER = 1.0  # degC of the surface between two noons that is told as a reason
PARTS = {0.1: "a tenth", 0.2: "a fifth", 0.25: "a quarter", 0.3: "a third", 0.5: "half"}


def blows(state, front_end):
    """Whether a front is still on at a state's time, or hardly over: no depth is told then."""
    return state.time < front_end + SETTLE


def plan_day(states, front_end, after):
    """The state that the plan is made for, and its number among those told ahead.

    Parameters
    ----------
    states : sequence of lakekit.fronts.state.State
        Tonight, then three noons.
    front_end : Timestamp
        [UTC]
    after : lakekit.fronts.state.State
        At the first noon after the front, for a storm that outlasts the days told.

    Returns
    -------
    (lakekit.fronts.state.State, int or None)
    """
    for number, state in enumerate(states[1:], 1):
        if not blows(state, front_end):
            return state, number
    return after, None


def day_name(number):
    """The plan's day within a sentence."""
    if number is None:
        return "once it is over"
    return "on day 3" if number == 3 else NAMES[number].lower()


def start_of(state, *, night=False):
    """The depth [m] to fish first, by day or by night; None where there is none."""
    if not state.band.good:
        return None
    by_night = state.holding.night
    return by_night if night and by_night is not None else state.holding.start


def starts_text(tonight, state, number, units, *, reason=True):
    """The start depth tonight and on the plan's day, and why there, without a full stop.

    Parameters
    ----------
    tonight : lakekit.fronts.state.State or None
        None: the front still blows.
    state : lakekit.fronts.state.State
        The plan's.
    number : int or None
        Its day, as from :func:`plan_day`.
    units : str
    reason : bool
        Whether to say why there.
    """
    day, start = day_name(number), start_of(state)
    night = None if tonight is None else start_of(tonight, night=True)
    wait = f"{ASHORE} till it is over; " if tonight is None else ""
    if start is None:
        first = wait if night is None else f"start at {depth_text(night, units)} tonight; "
        return f"{first}{day} {pressed_text(state, units)}"
    text = depth_text(start, units)
    why = f", {BAND_REASONS[state.band.reason]}" if reason else ""
    if night is None:
        poor = "" if tonight is None else "; no good band tonight"
        return f"{wait}start at {text} {day}{why}{poor}"
    dark = depth_text(night, units)
    both = f"{text} tonight and {day}" if dark == text else f"{dark} tonight, {text} {day}"
    return f"start at {both}{why}"


def pressed_text(state, units):
    """That there is no good band, and where fish are pressed for want of one."""
    band = state.band
    if band.top is None:
        return "no good band for fish"
    return f"no good band for fish; pressed at {depth_range_text(band.top, band.bottom, units)}"


def start_words(state, units):
    """The start depth of a state in a row of what changed."""
    start = start_of(state)
    return pressed_text(state, units) if start is None else depth_text(start, units)


def move_rows(after, states, lake, units, *, tonight):
    """Why the start depth moves from the front to tonight and from noon to noon, as rows.

    Parameters
    ----------
    after : lakekit.fronts.state.State
        After the front.
    states : sequence of lakekit.fronts.state.State
        Tonight, then three noons.
    lake : Lake
    units : str
    tonight : lakekit.fronts.state.State or None
        None: the front still blows, and no start is told.

    Returns
    -------
    list of [str, str]
        Empty where nothing moves by half a metre.
    """
    said = []
    noons = states[1:]
    shown = None if tonight is None else start_of(tonight, night=True)
    if tonight is not None and any(_moved(shown, start_of(noon)) for noon in (after, noons[0])):
        said.append(f"tonight {' and '.join(_by_night(after, tonight, units))}")
    for old, new in zip([after, *noons], noons, strict=False):
        if old.time >= new.time or not _moved(start_of(old), start_of(new)):
            continue
        stamp = local(new.time, lake)
        said.append(f"{stamp:%a} {date_text(stamp)}: {_cause(old, new, units)}")
    return [["Why the start moves", "; ".join(said)]] if said else []


def _moved(old, new):
    if old is None or new is None:
        return old is not new
    return abs(new - old) >= MOVED


def _by_night(after, tonight, units):
    """Why tonight's start is another than the days': the dark, the water, or both."""
    if start_of(tonight) is None:
        return ["no good band"]
    dark, light = start_of(tonight, night=True), start_of(tonight)
    said = []
    if dark < light:
        share = 1.0 - dark / light
        part = next((word for at, word in PARTS.items() if abs(share - at) < 0.02), None)
        said.append(f"{part or f'{100 * share:.0f} %'} shallower, as fish rise after dark")
    if not said or (after.time < tonight.time and _moved(start_of(after), light)):
        said.append(_cause(after, tonight, units))
    return said


def _cause(old, new, units):
    """What moved the start depth between two noons, the likeliest alone."""
    if not new.band.good:
        return "no good band"
    if old.layered != new.layered:
        return "layers again" if new.layered else "no layers"
    if not old.band.good:
        return "a good band again"
    if old.band.reason != new.band.reason:
        return f"fish now {BAND_REASONS[new.band.reason]}"
    deeper = start_of(new) > start_of(old)
    mixed = new.mixed_layer[1] - old.mixed_layer[1]
    if abs(mixed) >= MOVED / 2 and (mixed > 0) == deeper:
        how = "down to" if deeper else "only to"
        return f"the top is mixed {how} {depth_text(new.mixed_layer[1], units)}"
    floors = [state.floors["middle"][1] for state in (old, new)]
    floors = [state.bottom if np.isnan(floor) else floor
              for floor, state in zip(floors, (old, new), strict=True)]  # fmt: skip
    if abs(floors[1] - floors[0]) >= MOVED / 2 and (floors[1] > floors[0]) == deeper:
        return "oxygen reaches deeper" if deeper else "low oxygen comes up"
    warmer = new.surface[1] - old.surface[1]
    if abs(warmer) >= WARMER:
        return f"the top is {'warmer' if warmer > 0 else 'cooler'}"
    band = depth_range_text(new.band.top, new.band.bottom, units)
    return f"a wide band, {band} suit nearly alike"


def plan_text(before_cards, after_cards, before, tonight, state, number, units):
    """The start depth first, then what it was, and each tactic that came, went or moved."""
    old = {card["key"]: card for card in before_cards}
    new = {card["key"]: card for card in after_cards}
    starts = starts_text(tonight, state, number, units, reason=False)
    was = start_of(before)
    parts = [f"{starts}; before the front {_was(was, units)}"]
    if state.band.good:
        parts.append(
            f"fish may hold from {depth_range_text(state.band.top, state.band.bottom, units)}"
        )
    elif state.band.top is not None:
        parts.append("the depths below are those where fish are pressed, or of cover")
    moved = {}
    for key, card in new.items():
        if key in old and _aim(card) != _aim(old[key]):
            moved.setdefault((_aim(old[key]), _aim(card)), []).append(_short(card))
    if moved:
        told = [f"{list_text(names)} from {a} to {b}" for (a, b), names in moved.items()]
        parts.append(f"moved: {'; '.join(told)}")
    fresh = [_short(card) for key, card in new.items() if key not in old]
    if fresh:
        parts.append(f"new: {list_text(fresh[:4])}")
    gone = [_short(card) for key, card in old.items() if key not in new]
    if gone:
        parts.append(f"out of reach or season: {list_text(gone[:4])}")
    if not (moved or fresh or gone):
        parts.append("no tactic moved")
    ranked = [card for card in after_cards if card["rank"] is not None]
    order = [card["key"] for card in before_cards if card["rank"] is not None]
    if not ranked:
        parts.append("the order is no ranking: the log cannot tell")
    elif [card["key"] for card in ranked] == order:
        parts.append("the log's order is as before")
    else:
        parts.append("the order is the log's for this phase")
    return " ".join(sentence(part) for part in parts)


def _was(start, units):
    return "there was no good band" if start is None else f"it was {depth_text(start, units)}"


def _short(card):
    return card["short"].lower()


def _aim(card):
    """The depth a tactic is set for, without its range."""
    return card["depth_text"].split(" (")[0]
