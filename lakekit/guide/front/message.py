"""The short forms of a front note: a text for a message, and the one printed page."""

from lakekit.guide.words import sentence
from lakekit.hazards import DEFER, grave

LONGEST_MESSAGE = 1000  # characters
LOG = "Your log"  # the row of the days that a message tells
# rows that a printed page leaves out: its figure and the table of the days have them
WEB_ONLY = ("When", "Start depth", "Surface", "Thermocline", "Mixed layer", "Low oxygen",
            "Fish band", "Deep water")  # fmt: skip


def message(note):
    """The note as a text of at most 1,000 characters for a message.

    Lines are left out whole, those that matter least first; the last is always there.
    """
    rows = dict(map(tuple, note["changes"]))
    back = [f"{label}: {text}" for label, text in note["ahead"]]
    plan = [f"{card['name']} {card['depth_text']}" for card in note["tactics"][:3]]
    warned = [
        sentence(f"{label}: {text}")
        for label, text in note["weather_rows"]
        if label not in ("Forecast", "Later weather")
    ]
    title = note["plan_title"].removeprefix("The ").capitalize()
    care = [text for text in note["hazards"] if text != DEFER]
    lines = [  # (how much it matters, line) in the order of reading
        (0, f"{note['lake']['name']}: {note['title'][:1].lower()}{note['title'][1:]}."),
        (0, note["headline"]),
        (3, note["storm"]["text"]),
        *[(1, text) for text in warned[:2]],
        (4, sentence(f"Surface: {rows['Surface']}")),
        (1, sentence(f"For fish: {rows['For fish']}")),
        *[(2, sentence(f"Your log: {text}")) for label, text in note["day_rows"] if label == LOG],
        *[(2, sentence(text)) for text in back],
        (2, sentence(f"{title}: {'; '.join(plan)}") if plan else f"{title}: no tactic suits."),
        *[(1 if grave(text) else 5 + number, text) for number, text in enumerate(care)],
    ]
    end = f"Check the official forecast; the skipper decides. Data to {note['as_of_text']}."
    if note["demo"]:
        end += " Invented data."
    room = LONGEST_MESSAGE - len(end)
    kept = set()
    for number in sorted(range(len(lines)), key=lambda number: (lines[number][0], number)):
        need = len(lines[number][1]) + 1
        if need <= room:
            kept.add(number)
            room -= need
    return "\n".join([*(line for number, (_, line) in enumerate(lines) if number in kept), end])


def printed(note):
    """The note for one printed page: the same answers, each as short as paper asks.

    What the figure, the table of the days and the headline have is left out of the lists; no
    caution is shortened.
    """
    return {
        **note,
        "changes": [row for row in note["changes"] if row[0] not in WEB_ONLY],
        "plan_text": "",
        "wind_rows": note["wind_rows"][:2],
        "cautions": [] if note["hazards"] else note["cautions"],
        "not_known": [[label, text.split(";")[0]] for label, text in note["not_known"][:3]],
    }
