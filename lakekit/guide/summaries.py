"""The short forms of a guide that the PDF and the HTML page share: lines, facts, last lists."""

from lakekit.guide.lake import closure_text
from lakekit.guide.water_words import water_facts
from lakekit.guide.words import sentence
from lakekit.hazards import COLD_HEAD, DEFER, ICE_HEAD, grave

LONGEST_FOOT = 240  # characters that fit the foot of a printed page
FEW_NAMES = 2  # lakes that are named in a heading
LONGEST_LIST = 200  # characters of the lakes named behind a caution

KEPT_WHOLE = (
    "Take care",
    "Hazards to check",
    "How good it has been",
    "How long until it is back",
)


def rows_text(rows):
    """(label, text) rows as one run of text."""
    return "; ".join(f"{label}: {text}" for label, text in rows)


def period_text(guide):
    """The months that a guide covers."""
    months = guide["months"]
    if not months:
        return "no month"
    first, last = months[0]["title"], months[-1]["title"]
    return first if len(months) == 1 else f"{first} to {last}"


def month_facts(month, fish):
    """The facts beside the figure as [label, text], what matters most first; ``fish`` by name."""
    rows = [
        (fish[:1].upper() + fish[1:], month["band"]["text"]),
        ("Layers", month["layered"]["text"]),
        ("Ice", month["ice"]["text"]),
        ("Closures", month["closures"] and closure_text(month["closures"])),
    ]
    rows += [(entry["name"], entry["text"]) for entry in month["depths"]]
    rows += [
        ("Phase", month["phase"]["text"]),
        ("Surface", month["surface"]["text"]),
        ("Your log", month["log_text"]),
        ("Room", month["bottom_text"]),
        ("Stands there", "; ".join(place["text"] for place in month["places"])),
        ("Lure or bait", month["bait_text"]),
        ("After a front", month["front_text"]),
        ("Wind tilts it", (month["tilt"] or {}).get("text")),
        ("Light", month["light"]["text"]),
        ("Sun", month["sun"]["text"]),
    ]
    return [[label, text] for label, text in rows if text]


def short_name(card):
    """A tactic's name for a narrow place: its own short one, or the head of the long one."""
    if card.get("short"):
        return card["short"]
    name = card["name"]
    for joint in (",", " with ", " below ", " over ", " through ", " into ", " at ", " and "):
        head = name.split(joint)[0]
        if " " in head:
            name = head
    return name


def choice_label(months):
    """What the column of choices holds: tactics that suit, unless the log could rank some."""
    cards = [card for month in months for card in month["tactics"]]
    ranked = any(card.get("rank") is not None for card in cards)
    return "First choice" if ranked or not cards else "Suit, unranked"


def without_spots(guide):
    """A guide to hand out: of the club's own places only those it shares."""
    months = [
        {**month, "places": [place for place in month["places"] if place["shared"]]}
        for month in guide["months"]
    ]
    return {**guide, "months": months}


def first_choice(tactics):
    """The best tactic's name, boat and ice apart; or which few the log cannot tell apart."""
    waters = list(dict.fromkeys(card.get("water", "boat") for card in tactics))
    if not waters:
        return "none suits"
    told = {
        water: _choice([card for card in tactics if card.get("water", "boat") == water])
        for water in waters
    }
    if len(told) == 1:
        return told[waters[0]]
    return "; ".join(f"{WATER_WORDS[water]}: {text}" for water, text in told.items())


WATER_WORDS = {"boat": "open water", "ice": "on ice"}
WATER_HEADS = {
    "boat": "In open water, by boat",
    "ice": "On ice, if it comes: measured ice can still break",
}


def _choice(cards):
    if cards[0].get("rank") is None:
        more = f" and {len(cards) - 2} more" if len(cards) > 2 else ""
        return ", ".join(short_name(card) for card in cards[:2]) + more
    if cards[0].get("sure") or len(cards) == 1:
        return short_name(cards[0])
    ranked = [card for card in cards if card.get("rank") is not None]
    return "the log leans to " + " or ".join(short_name(card) for card in ranked[:2])


def month_cautions(guides, month=None):
    """Every caution of the months of some lakes, told once, with whose and when unless of all.

    Parameters
    ----------
    guides : list of dict
        Season guides.
    month : str, optional
        ``YYYY-MM``; by default all.
    """
    names = [guide["lake"]["name"] for guide in guides]
    shown = [
        [entry for entry in guide["months"] if month in (None, entry["month"])] for guide in guides
    ]
    seen = {}
    for lake, months in enumerate(shown):
        for entry in months:
            for caution in unique(entry["cautions"]):
                seen.setdefault(caution, {}).setdefault(lake, []).append(entry["label"])
    told = []
    for caution, found in seen.items():
        whole = all(len(labels) == len(shown[lake]) for lake, labels in found.items())
        lists = [", ".join(labels) for labels in found.values()]
        if whole and len(guides) > 1:
            lists = [names[lake] for lake in found]
        elif len(found) == len(guides) and len(set(lists)) == 1:
            lists = lists[:1]
        else:
            lists = [f"{names[lake]}: {text}" for lake, text in zip(found, lists, strict=True)]
        whose = _listed(lists, "lakes", joint=", " if whole else "; ")
        told.append(caution if whole and len(found) == len(shown) else f"{caution} ({whose})")
    return sorted(told, key=_gravity)


def _gravity(caution):
    """Ice, then the coldest water, first; who decides last."""
    return (not grave(caution), caution if grave(caution) else caution == DEFER)


def _listed(names, what, joint=", "):
    """Names in a row, or how many there are."""
    text = joint.join(names)
    return text if len(text) <= LONGEST_LIST else f"{len(names)} {what}"


def grave_text(labelled, place):
    """Of ice and cold water in a line, for a page that has no month's own cautions; or ''.

    Parameters
    ----------
    labelled : list of (str, dict)
        Months, each with the label to tell it by: its own or its lake's.
    place : str
        Where the cautions stand whole.
    """
    told = []
    for head, words in (
        (ICE_HEAD, "Ice ({}): measured ice can still break; ask locally, never go alone."),
        (COLD_HEAD, "Cold water ({}): wear the life jacket the whole time."),
    ):
        labels = [
            label
            for label, month in labelled
            if any(caution.startswith(head) for caution in month["cautions"])
        ]
        if labels:
            told.append(words.format(_listed(labels, "lakes")))
    return " ".join([*told, sentence(place)]) if told else ""


def foot_cautions(month, months, *, place, room=300):
    """The cautions of a month under its page: grave ones, what fits, then where the rest is.

    Parameters
    ----------
    month : dict
    months : list of dict
        All months of the document, to tell this month's own cautions from shared ones.
    place : str
        Where the rest stands.
    room : int
        Characters.
    """
    elsewhere = [caution for other in months if other is not month for caution in other["cautions"]]
    cautions = sorted(
        unique(month["cautions"]),
        key=lambda caution: (not grave(caution), caution in elsewhere),
    )
    return whole_rows(cautions, room=room, rest=place, always=sum(map(grave, cautions)))


def whole_rows(rows, *, room, rest, always=1):
    """The first sentences that fit in ``room`` characters whole, then where the rest stands.

    ``always`` so many are kept, whatever their length.
    """
    kept = []
    for row in rows:
        if len(kept) >= max(always, 1) and sum(map(len, kept)) + len(row) > room:
            break
        kept.append(row)
    left = len(rows) - len(kept)
    return " ".join([*kept, f"{left} more: {rest}."] if left else kept)


def month_lines(guide):
    """Each month in one line, or a line for each half where its halves differ."""
    months = guide["months"]
    long = len(months) > 12
    lines = []
    for month in months:
        name = f"{month['label']} {month['month'][:4]}" if long else month["label"]
        parts = month["halves"] if month["halves_differ"] else [month["where"]]
        for part in parts:
            facts = water_facts({**month, "band": part}, guide["units"])
            lines.append(
                {
                    **facts,
                    "id": f"m{month['month']}",
                    "month": name if part is month["where"] else part["label"],
                    "phase": part["phase_name"],
                    "start": start_words(part),
                    "first": part.get("first", first_choice(month["tactics"])),
                    "water": facts["water"],
                }
            )
    return lines


def start_words(part):
    """The start depth and the ladder in a few words, such as ``12 ft, then 9, 15``."""
    if part["start"] is None or not part["good"]:
        return "no good band"
    rungs = ", ".join(rung["text"].split(" ")[0] for rung in part["ladder"])
    place = " at cover" if part["phase"] == "spawn" else ""
    return f"{part['start_text']}{place}" + (f", then {rungs}" if rungs and not place else "")


def cover_facts(facts, most=4):
    """The few facts of a lake that a cover has room for: size, depth, clarity, fertility."""
    wanted = ("Area", "Size", "Depth", "Deepest", "Secchi", "Clarity", "Fertility", "Water")
    chosen = [row for row in facts if row[0].startswith(wanted) and row[0] != "Depth and area"]
    return (chosen or facts)[:most]


def find_month(guide, month):
    """The month ``YYYY-MM`` of a guide, or None."""
    return next((entry for entry in guide["months"] if entry["month"] == month), None)


def sections(pairs):
    """(title, rows) pairs as data; a row is a sentence, or a label with its text.

    ``whole`` marks what a crowded page shortens last: cautions, rules, and how good it has been.
    """
    return [
        {
            "title": title,
            "rows": [row if isinstance(row, str) else list(row) for row in rows],
            "whole": title in KEPT_WHOLE or title.startswith("Rules"),
        }
        for title, rows in pairs
        if rows
    ]


def closing_sections(guide):
    """The lists of a guide's last page, in two columns."""
    pairs = (
        (
            "Take care",
            unique([*month_cautions([guide]), *guide["cautions"]]),
        ),
        ("Rules of this water", guide["rules"]),
        ("Not known", unique(row for month in guide["months"] for row in month["not_known"])),
        ("How it was made", guide["method"]),
        ("How good it has been", guide["evidence"]),
        ("The lake", guide["lake"]["facts"]),
        ("Sources", [guide["weather"]["text"], *guide["sources"]]),
    )
    return halves(sections(pairs))


def unique(rows):
    """Rows without repeats, in order."""
    kept = []
    for row in rows:
        if row not in kept:
            kept.append(row)
    return kept


def foot_text(guide):
    """What stands at the foot of every page: weather, its date, what made it."""
    weather = guide["weather"]["text"].rstrip(".")
    return f"{weather}. Data to {guide['as_of_text']}; made with {guide['made_with']}."


def lake_line(guide, month):
    """A lake in one line."""
    return {
        "name": guide["lake"]["name"],
        "phase": month["phase"]["name"],
        "headline": month["headline"],
        "sure": guide["confidence"]["level"],
        "choice": choice_label([month]),
        "start": start_words(month["where"]),
        "first": first_choice(month["tactics"]),
        **water_facts(month, guide["units"]),
    }


def common_foot(guides):
    """The foot of pages that tell of several lakes."""
    latest = max(guides, key=lambda guide: guide["as_of"])
    weather = "; ".join(unique(guide["weather"]["text"].rstrip(".") for guide in guides))
    foot = foot_text({**latest, "weather": {"text": weather}})
    if len(foot) <= LONGEST_FOOT:
        return foot
    short = "Weather: each lake's source stands on its own page and under Sources"
    return foot_text({**latest, "weather": {"text": short}})


def shown_lakes(guides, month):
    """(guide, its month) for each guide that has it; the first month where ``month`` is None.

    Raises
    ------
    ValueError
        When none has it.
    """
    shown = [
        (guide, find_month(guide, month) if month else guide["months"][0])
        for guide in guides
        if guide["months"] and (month is None or find_month(guide, month))
    ]
    if not shown:
        raise ValueError(f"no guide has the month {month}" if month else "no guide to brief from")
    return shown


def lake_sections(guides, month):
    """Hazards of all lakes, then each water's rules."""
    hazards = month_cautions(guides, month)
    hazards += [caution for guide in guides for caution in guide["cautions"]]
    rules = []
    for names, told in _alike(guides, lambda guide: guide["rules"]):
        if len(names) <= FEW_NAMES or not told:
            rules.append((f"Rules: {', '.join(names)}", told))
        else:
            rules.append((f"Rules of {len(names)} lakes", [["Lakes", "; ".join(names)], *told]))
    return sections([("Hazards to check", unique(hazards)), *rules])


def _alike(guides, tell):
    """(names of lakes, what is told of each of them), lakes of which the same is told together."""
    groups = []
    for guide in guides:
        told = tell(guide)
        names = next((names for names, other in groups if other == told), None)
        if names is None:
            groups.append(([guide["lake"]["name"]], told))
        else:
            names.append(guide["lake"]["name"])
    return groups


def by_region(shown):
    """(guide, month) pairs by their lake's region: (name, pairs), in the order of the names.

    Lakes of no region come last, as "Other lakes", or with no name where none has a region.
    """
    regions = {}
    for guide, month in shown:
        regions.setdefault(guide["lake"]["region"], []).append((guide, month))
    others = regions.pop(None, None)
    named = sorted(regions.items(), key=lambda item: item[0].casefold())
    return named + ([("Other lakes" if named else "", others)] if others else [])


def halves(made):
    """Sections in two columns of about the same length, in order."""
    lengths = [
        sum(45 + len(" ".join(row) if isinstance(row, list) else row) for row in section["rows"])
        + 90
        for section in made
    ]
    splits = range(1, len(made) + 1)
    split = min(
        splits, default=0, key=lambda index: abs(sum(lengths[:index]) - sum(lengths[index:]))
    )
    return {"left": made[:split], "right": made[split:]}


def reasons_text(reasons):
    """Sentences as one run of text, whether or not they end in a full stop."""
    return "; ".join(reason.rstrip(".") for reason in reasons)


def _sure_text(guide):
    sure = guide["confidence"]
    return f"{sure['level']}: {reasons_text(sure['reasons'])}"


def method_sections(guides, month=None):
    """How several lakes' guides were made, how good that has been, and from what."""
    not_known = unique(
        row
        for guide in guides
        for entry in guide["months"]
        if month in (None, entry["month"])
        for row in entry["not_known"]
    )
    sure = [
        [", ".join(names) if len(names) <= FEW_NAMES else f"{len(names)} lakes", text]
        for names, text in _alike(guides, _sure_text)
    ]
    left = (
        ("Method", unique(row for guide in guides for row in guide["method"])),
        (
            "How good it has been",
            unique(row for guide in guides for row in guide["evidence"]),
        ),
        ("Not known", not_known),
    )
    right = (
        ("How sure, lake by lake", sure),
        (
            "Sources",
            unique(
                row for guide in guides for row in (guide["weather"]["text"], *guide["sources"])
            ),
        ),
    )
    return {"left": sections(left), "right": sections(right)}


def front_sections(note):
    """The lists of a front note beside its plan; its hazards stand apart."""
    plan = [note["plan_text"]] if note.get("plan_text") else []
    return sections(
        [
            ("How long until it is back", [*note["earlier"], *note["ahead"]]),
            ("What changed", note["changes"]),
            ("By day", note["day_rows"]),
            ("Where the wind put it", note["wind_rows"]),
            ("Why the plan moved", plan),
            ("Not known", note["not_known"]),
        ]
    )
