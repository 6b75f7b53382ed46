"""Reads a finished front note, as its PDF, web page and message stand, and lists contradictions."""

import html
import io
import re
from itertools import pairwise

from pypdf import PdfReader

FOOT = 0.3048
ROUNDING = {"ft": 1.0, "m": 0.11}  # two rounded depths that agree lie no further apart
MOVED = {"ft": 0.5 / FOOT, "m": 0.5}  # what counts as deeper, before rounding
POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
          "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")  # fmt: skip
OPPOSITE = {point: POINTS[(number + 8) % 16] for number, point in enumerate(POINTS)}
DEPTH = r"(\d+(?:\.\d)?)(?: (?:ft|m))?"


def read_note(pdf, page, message):
    """The three finished forms as texts; the page's [label, text] rows as a list of pairs."""
    body = re.sub(r"<(svg|style)\b.*?</\1>", " ", page, flags=re.S)
    rows = [
        (_plain(label), _plain(text))
        for label, text in re.findall(r"<b>([^<]*):?</b>:? ?([^<]*)", body)
    ]
    printed = " ".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(pdf)).pages)
    return {
        "pdf": " ".join(printed.split()),
        "page": _plain(re.sub(r"<[^>]+>", " ", body)),
        "message": message,
        "headline": _plain(re.search(r'<p class="lead">(.*?)</p>', body, flags=re.S).group(1)),
        "rows": rows,
    }


def _plain(text):
    return " ".join(html.unescape(text).split()).removesuffix(":")


def contradictions(note, *, deepest):
    """What of a note contradicts itself or its lake, as sentences; empty where nothing does.

    Parameters
    ----------
    note : dict
        From :func:`read_note`.
    deepest : float
        Of the lake [m].
    """
    unit = "ft" if " ft" in note["page"] else "m"
    bottom = deepest / FOOT if unit == "ft" else deepest
    rows = dict(note["rows"])
    return [
        *_units(note, unit),
        *_ranges(note),
        *_everywhere(note),
        *_depths(rows, note, unit, bottom),
        *_layers(rows, note, unit),
        *_fish(rows, note, unit),
        *_days(note, unit),
        *_plan(rows, note, unit),
        *_whole(rows, note),
        *_wind(rows),
    ]


def _units(note, unit):
    foreign = r"\d °C|\d m/s|\d mm\b|\d m\b" if unit == "ft" else r"\d °F|\d ft\b|\d mph|\d in of"
    for form in ("page", "message", "headline"):
        found = re.search(foreign, note[form])
        if found:
            yield f"{form}: {found.group()!r} in a note in {unit}"


def _ranges(note):
    """Every middle value lies in its range, and every range rises."""
    for form in ("page", "message", "pdf"):
        text = note[form]
        for middle, low, high in re.findall(r"([\d.]+) (?:ft|m|°F|°C) \(([\d.]+)–([\d.]+)\)", text):
            if not float(low) <= float(middle) <= float(high):
                yield f"{form}: {middle} is not within {low}–{high}"
        for middle, low, high in re.findall(r"in (\d+) days? \((\d+) to (\d+)\+?\)", text):
            if not int(low) <= int(middle) <= int(high):
                yield f"{form}: {middle} days are not within {low} to {high}"
        for low, high in re.findall(r"([\d.]+)–([\d.]+) (?:ft|m)\b", text):
            if float(low) >= float(high):
                yield f"{form}: {low}–{high} does not rise"


def _everywhere(note):
    for form in ("pdf", "message"):
        if note["headline"] not in note[form]:
            yield f"{form}: the headline is another"
    if len(note["message"]) > 1000:
        yield "message: too long"
    for line in note["message"].splitlines():
        label, _, text = line.rstrip(".").partition(": ")
        page = {name: said.rstrip(".") for name, said in note["rows"]}
        if label in ("Surface", "For fish", "Low oxygen") and page.get(label, text) != text:
            same = [said for name, said in note["rows"] if name == label]
            if text not in [said.rstrip(".") for said in same]:
                yield f"message: {label} is {text!r}, on the page {same}"


def _steps(text):
    """The middle values of a row's states, before to now; None where there is no depth."""
    said = []
    for part in text.split(" → "):
        found = re.search(DEPTH + r"(?:[ –(]|$)", part)
        said.append(float(found.group(1)) if found and part[:1].isdigit() else None)
    return said


def _depths(rows, note, unit, bottom):
    for label in ("Thermocline", "Mixed layer", "Fish band"):
        for value in _steps(rows.get(label, "")):
            if value is not None and not 0.0 <= value <= bottom + ROUNDING[unit]:
                yield f"{label}: {value} lies under the lake's bottom, {bottom:.1f}"
    mixed, steps = (_steps(rows.get(name, "")) for name in ("Mixed layer", "Thermocline"))
    for upper, step in zip(mixed, steps, strict=False):
        known = None not in (upper, step) and len(mixed) == len(steps)
        if known and upper > step + MOVED[unit] + 2 * ROUNDING[unit]:
            yield f"mixed to {upper}, under a thermocline at {step}"


def _layers(rows, note, unit):
    headline = note["headline"]
    broke = rows.get("Layers broke", "")
    chance = re.search(r"(\d+) %", broke)
    share = 1.0 if broke == "nearly certain" else float(chance.group(1)) / 100 if chance else 0.0
    steps = _steps(rows.get("Thermocline", ""))
    if ("untouched" in headline or "deeper" in headline.split(";")[0]) and share > 0.5:
        yield f"{headline!r}, but the layers broke: {broke}"
    told_broken = "The layers broke" in headline or "would break" in headline
    if told_broken and share < 0.5 and not any(step is None for step in steps[1:2]):
        yield f"{headline!r}, but the layers broke: {broke}"
    moved = re.search(rf"thermocline from {DEPTH} \S+ to {DEPTH}", headline)
    if moved:
        was, is_now = map(float, moved.groups())
        if is_now <= was:
            yield f"deeper, but from {was} to {is_now}"
        shown = steps if len(steps) > 1 else steps * 2
        if [was, is_now] != shown[:2]:
            yield f"headline's thermocline {was} to {is_now}, the row's {steps}"
    if "untouched" in headline and "Layers, if broken" in rows:
        yield "untouched, but surely broken"
    if len(steps) > 1 and None not in (steps[0], steps[-1]):
        risen = steps[0] - steps[-1]
        if risen > MOVED[unit] + ROUNDING[unit] and "Why shallower" not in rows:
            yield f"the thermocline rose by {risen:.1f}, and nothing says why"
        if risen < MOVED[unit] - ROUNDING[unit] and "Why shallower" in rows:
            yield f"says why it is shallower, but it rose by {risen:.1f}"
    if "No layers" in headline and "Layers, if" in " ".join(rows):
        yield "no layers before, but layers to come back"


def _fish(rows, note, unit):
    band = rows.get("Fish band", "").split(" → ")
    now, fish = band[-1], rows.get("For fish", "")
    poor = "no good band" in now
    if poor != ("no good band for fish" in note["headline"]):
        yield f"band {now!r}, headline {note['headline']!r}"
    start = _starts(note["headline"]).get(_plan_day(note["headline"]))
    edges = re.match(r"([\d.]+)(?:–([\d.]+))? ", now)
    if start and edges:
        low, high = float(edges.group(1)), float(edges.group(2) or edges.group(1))
        if not low - ROUNDING[unit] <= start <= high + ROUNDING[unit]:
            yield f"start at {start}, band {now}"
    if start and poor:
        yield f"start at {start} without a good band"
    oxygen = [re.search(r"from ([\d.]+)", part) for part in
              rows.get("Low oxygen", "").split(" → ")]  # fmt: skip
    tops = [float(found.group(1)) if found else None for found in oxygen]
    if len(tops) == 1:
        tops *= 2
    if None not in (tops[0], tops[-1]):
        if "reaches deeper" in fish and tops[-1] <= tops[0] - ROUNDING[unit]:
            yield f"oxygen reaches deeper, from {tops[0]} to {tops[-1]}"
        if "came up" in fish and tops[-1] >= tops[0] + ROUNDING[unit]:
            yield f"low oxygen came up, from {tops[0]} to {tops[-1]}"
    if rows.get("Low oxygen", "").startswith("none") and rows.get(
        "Low oxygen again", ""
    ).startswith("comes up"):
        yield "low oxygen to return, but there was none before"
    short = re.search(r"runs short from ([\d.]+)", fish)
    if short and float(short.group(1)) != tops[-1]:
        yield f"oxygen short from {short.group(1)}, the row says {tops[-1]}"
    roam = re.search(rf"roam down to {DEPTH}", fish)
    if roam and edges:
        foot = float(edges.group(2) or edges.group(1))
        was = re.match(r"([\d.]+)(?:–([\d.]+))? ", band[0])
        if float(roam.group(1)) != foot:
            yield f"may roam down to {roam.group(1)}, band {now}"
        if was and foot < float(was.group(2) or was.group(1)):
            yield f"may roam deeper, but the band went from {band[0]} to {now}"


def _days(note, unit):
    names = ("Tonight", "Tomorrow", "The day after", "Day 3")
    said = [(label, text) for label, text in note["rows"] if label.split(",")[0] in names]
    if [label.split(",")[0] for label, _ in said] != list(names):
        yield f"days told: {[label for label, _ in said]}"
    for label, text in said:
        found = {
            name: float(match.group(1))
            for name, pattern in (
                ("mixed", rf"mixed to {DEPTH}"), ("step", rf"thermocline {DEPTH}"),
                ("oxygen", r"low oxygen from ([\d.]+)"), ("start", rf"start at {DEPTH}"),
            )
            if (match := re.search(pattern, text))
        }  # fmt: skip
        slack = MOVED[unit] + 2 * ROUNDING[unit]
        if "step" in found and found.get("mixed", 0.0) > found["step"] + slack:
            yield f"{label}: mixed under the thermocline: {text}"
        if "oxygen" in found and found.get("start", 0.0) > found["oxygen"] + slack:
            yield f"{label}: starts in water without oxygen: {text}"
        if "no layers" in text and "step" in found:
            yield f"{label}: no layers, and a thermocline: {text}"
        if "no good band" in text and "start" in found:
            yield f"{label}: no good band, and a start: {text}"
        degrees = re.search(r"(-?\d+) °", text)
        if not degrees or degrees.group(0) not in note["pdf"]:
            yield f"{label}: the printed table has no {text[:6]!r}"


DAYS = {"tomorrow": "Tomorrow", "the day after": "The day after", "on day 3": "Day 3"}
WHEN = "|".join([*DAYS, "once it is over"])


def _plan_day(headline):
    """The row of the day that a headline plans for; None for a storm that outlasts them all."""
    found = re.findall(rf"\b(?:{WHEN})\b", headline)
    return DAYS.get(found[-1]) if found else None


def _starts(headline):
    """Start depths that a headline tells, by the row that should tell the same."""
    day = _plan_day(headline)
    both = re.search(rf"tart at {DEPTH} tonight and", headline)
    if both:
        return dict.fromkeys(("Tonight", day), float(both.group(1)))
    night = re.search(rf"tart at {DEPTH} tonight", headline)
    planned = re.search(rf"(?:tart at|tonight,) {DEPTH} (?:{WHEN})", headline)
    found = {"Tonight": night, day: planned}
    return {row: float(match.group(1)) for row, match in found.items() if match}


def _plan(rows, note, unit):
    """The start depth of the headline, the rows by day, the changes, the plan and the message."""
    headline = note["headline"]
    starts, day = _starts(headline), _plan_day(headline)
    if not starts and "no good band" not in headline:
        yield f"no start depth in {headline!r}"
    by_day = {label.split(",")[0]: text for label, text in note["rows"]}
    shown = {row: re.match(rf"start at {DEPTH}", by_day.get(row, ""))
             for row in ("Tonight", *DAYS.values())}  # fmt: skip
    shown = {row: match and float(match.group(1)) for row, match in shown.items()}
    for row, start in starts.items():
        if row is not None and shown[row] != start:
            yield f"headline's start for {row} is {start}, the row's {shown[row]}"
    steps = _steps(rows.get("Start depth", ""))
    if steps[-1] != starts.get(day):
        yield f"start depth row ends at {steps[-1]}, headline {headline!r}"
    phrase = re.search(rf"[Ss]tart at [^;]*?(?:{WHEN})", headline)
    if phrase and note["page"].lower().count(phrase.group().lower()) < 2:
        yield f"the plan does not say {phrase.group()!r}"
    size = r"[\d.]+(?:–[\d.]+)? (?:ft|m)(?: \([^)]*\))?"
    said = re.search(rf"^Plan [^:]*: [^;]*? ({size})(?=[;.]|$)", note["message"], flags=re.M)
    planned = re.search(rf"; [^;]*? ({size});", by_day.get(day, ""))
    if said and planned and said.group(1) != planned.group(1):
        yield f"message plans {said.group(1)}, {day} {planned.group(1)}"
    told, planned_row = starts.get(day), by_day.get(day, "")
    mixed = re.search(rf"mixed to {DEPTH}", planned_row)
    slack = MOVED[unit] + 2 * ROUNDING[unit]
    upper = re.search("toward the base of the warm|in the warm upper", headline)
    if upper and mixed and told and told > float(mixed.group(1)) + slack:
        yield f"starts at {told} in or at the foot of a top mixed to {mixed.group(1)}"
    short = re.search(r"low oxygen from ([\d.]+)", planned_row)
    above = "just above the oxygen" in headline
    if above and short and told and told < float(short.group(1)) - MOVED[unit] - slack:
        yield f"starts at {told}, said to be just above {short.group(1)}"
    moved = [start for start in (steps[1:2] + list(shown.values())) if start is not None]
    far = MOVED[unit] + ROUNDING[unit]
    if "Why the start moves" not in rows and any(
        abs(b - a) > far for a, b in pairwise(moved)
    ):
        yield f"the start moves {moved}, and nothing says why"


def _whole(rows, note):
    """Nothing is cut, no count is none of so many, and every row has as many steps as days."""
    for form in ("pdf", "page", "message"):
        if "…" in note[form] or "..." in note[form]:
            yield f"{form}: a text is cut"
        if re.search(r"\b0 of \d+ years", note[form]):
            yield f"{form}: 0 of so many years"
    days = rows.get("When", "").count("→")
    for label in ("Start depth", "Surface", "Thermocline", "Mixed layer", "Low oxygen"):
        if rows.get(label, "").count("→") not in (0, days):
            yield f"{label} has other steps than {rows.get('When')}"


def _wind(rows):
    lean = re.match(
        rf"{DEPTH} \([^)]*\) at the (\w+) end, {DEPTH} \([^)]*\) at the (\w+) end",
        rows.get("Thermocline then", "").replace("the surface", "0 ft"),
    )
    if not lean:
        if "Thermocline then" in rows:
            yield f"unreadable: {rows['Thermocline then']!r}"
        return
    piled, end, bared, other = lean.groups()
    if float(piled) < float(bared):
        yield f"piled end {piled}, bared end {bared}"
    if end in OPPOSITE and OPPOSITE[end] != other:
        yield f"{end} and {other} are not opposite ends"
    if f"to the {end} end" not in rows.get("The blow", ""):
        yield f"the blow {rows.get('The blow')!r}, the lean deeper at the {end} end"
    if "Upwelling" in " ".join(rows) and f"Upwelling, {other} shore" not in rows:
        yield "upwelling at the piled end"


def guide_contradictions(guide):
    """What of a season guide's depths contradicts itself, as sentences, over all its months."""
    words = [month["layered"]["text"].split(":")[0].lower() for month in guide["months"]]
    for label, _ in guide["dates"]:
        if label == "Layers set up" and len(words) == 12 and "layered" not in words:
            yield f"{label!r}, but the months are told as {sorted(set(words))}"
    for month, word in zip(guide["months"], words, strict=True):
        for fault in (*_month_water(month, word), *_month_parts(month), *_month_places(month)):
            yield f"{month['month']}: {fault}"


def _month_water(month, word):
    depths = {entry["key"]: entry["median"] for entry in month["depths"]}
    line, mixed = depths["thermocline"], depths["mixed_layer"]
    if (line is None) is not (word == "mixed"):
        yield f"told as {word}, thermocline {line}"
    if line is not None and mixed > line + 1e-6:
        yield f"mixed to {mixed}, under a thermocline at {line}"
    chance = month["ice"]["chance"]
    if month["tactics"] and month["tactics"][0]["water"] == "ice" and chance <= 0.5:
        yield f"ice first, on {chance:.0%} of days"


def _month_parts(month):
    told = month["halves"] if month["halves_differ"] else [month["where"]]
    for part in (month["where"], *told):
        for depth in [part["start"], *(rung["depth"] for rung in part["ladder"])]:
            if part["good"] and not part["top"] - 1e-6 <= depth <= part["bottom"] + 1e-6:
                yield f"{part['label']}: {depth} is outside {part['top']}-{part['bottom']}"
    for card in month["tactics"]:
        figures, part = card["setup_figures"] or {}, month["where"]
        aim = part["night"] if card["key"] == "night_light" else part["start"]
        aim = None if aim is None else min(max(aim, card["top"]), card["bottom"])
        if figures.get("possible") and aim and abs(figures["target"] - aim) > FOOT / 2 + 1e-6:
            yield f"{card['key']} is aimed at {figures['target']}, told {aim}"


def _month_places(month):
    for place in month["places"]:
        if not place["top"] - 2 * FOOT <= place["depth"] <= place["foot"] + 1e-6:
            yield f"{place['name']} of {place['top']}-{place['foot']} at {place['depth']}"
        if place["foot"] > month["profile"]["bottom"] + FOOT:
            yield f"{place['name']} reaches {place['foot']}, the lake {month['profile']['bottom']}"
