"""Each report as one document: what its printed pages and its web page are given to lay out.

A document words nothing of its own: it takes sentences from the guide or note, and says which
drawings stand where. ``printed`` is for the typst template, ``screen`` for the HTML one.
"""

from collections.abc import Callable
from dataclasses import dataclass

from lakekit.guide import summaries
from lakekit.guide.front.message import printed
from lakekit.guide.summaries import rows_text, sections, unique
from lakekit.guide.words import list_text
from lakekit.pages import figures
from lakekit.pages.canvas import text_width
from lakekit.pages.fonts import printable_all
from lakekit.pages.style import PAPERS, sheet

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MONTHS_A_STRIP = 6  # on a phone


@dataclass(frozen=True)
class Drawing:
    """A figure that is drawn when a page takes it, and its words."""

    draw: Callable
    alt: str


@dataclass(frozen=True)
class Document:
    """A report ready to be laid out; texts are printable, drawings not yet drawn."""

    template: str  # of typst
    title: str
    as_of: str  # ISO time; the printed document's date, so that bytes repeat
    printed: dict
    screen: dict | None = None  # None: on paper only


def marked(tactics):
    """Tactics with the sign that the figure and the list share as ``mark``.

    A rank is a number. What the log cannot rank gets a letter, so that no order is read into it;
    so do those on ice where there are both. ``over`` heads the first of each water.
    """
    waters = [card.get("water", "boat") for card in tactics]
    both = len(set(waters)) > 1
    unranked = iter(_LETTERS * (1 + len(tactics) // len(_LETTERS)))
    rows = []
    for number, (card, water) in enumerate(zip(tactics, waters, strict=True)):
        ranked = card.get("rank") is not None and not (both and water == "ice")
        first = both and water not in waters[:number]
        over = summaries.WATER_HEADS[water] if first else None
        mark = str(card["rank"]) if ranked else next(unranked)
        rows.append({**card, "mark": mark, "over": over})
    return rows


def prepared(guide):
    """A guide whose every text can be set in type, and whose tactics carry their marks."""
    guide = printable_all(guide)
    guide["months"] = [
        {**month, "tactics": marked(month["tactics"]), "phase": _capital(month["phase"])}
        for month in guide.get("months", [])
    ]
    if "tactics" in guide:
        guide["tactics"] = marked(guide["tactics"])
    return guide


def _capital(phase):
    return {**phase, "name": phase["name"][:1].upper() + phase["name"][1:]}


def frame(guide, title, foot, **more):
    """What every printed document needs: title, paper, footer, style."""
    return {
        "title": title,
        "club": guide["club"] or "A club",
        "page": list(PAPERS[guide["paper"]]),
        "demo": bool(guide["demo"]),
        "as_of_text": f"Data to {guide['as_of_text']}",
        "footer": foot,
        "web": True,
        "style": sheet(),
        **more,
    }


def named(over, guide):
    """What stands on top of a page, with the fish that it is for."""
    return f"{over} · {guide['species']}"


def strip(guide, **how):
    return Drawing(
        lambda: figures.season_strip_figure(guide, **how), figures.season_strip_alt(guide)
    )


def parts(whole, size):
    """A list in parts of at most ``size``, and whether each is the last."""
    starts = range(0, len(whole), size)
    return [(whole[at : at + size], at + size >= len(whole)) for at in starts]


def season_strips(guide):
    """The strip of a season: wide, and in narrow parts of six months."""
    narrow = [
        strip({**guide, "months": months}, form="phone", height=225.0 if last else 173.0, key=last)
        for months, last in parts(guide["months"], _MONTHS_A_STRIP)
    ]
    return [strip(guide, height=235.0)], narrow


def grave_of(guide, place):
    """Of ice and cold water in a guide's months, in a line."""
    return summaries.grave_text([(month["label"], month) for month in guide["months"]], place)


def month_page(month, guide, *, name, over, title, screen_over, place, beside):
    """One month of one lake, as a printed page and as a section of the web page."""
    alt = figures.water_column_alt(month, guide)
    facts = summaries.month_facts(month, guide["species"])
    page = {
        "id": name,
        "over": named(over, guide),
        "beside": guide["club"],
        "title": title,
        "footer": summaries.foot_text(guide),
        "month": {
            key: month[key] for key in ("headline", "halves_text", "phase", "basis_text", "tactics")
        },
        "figure": Drawing(lambda: figures.water_column_figure(month, guide), alt),
        "facts": facts,
        "unknown": list_text(label[:1].lower() + label[1:] for label, _ in month["not_known"]),
        "mind": summaries.foot_cautions(month, beside, place=place),
    }
    screen = {
        "id": name,
        "title": title,
        "over": screen_over,
        "month": month,
        "drawing": Drawing(lambda: figures.water_column_figure(month, guide, form="phone"), alt),
        "facts": facts,
        "unknown": rows_text(month["not_known"]),
    }
    return page, screen


def season_document(guide):
    """The season guide of a lake: a cover, one page a month, a page of sources and cautions.

    Parameters
    ----------
    guide : lakekit.guide.schema.SeasonGuide

    Returns
    -------
    Document
    """
    guide = prepared(guide)
    lake, sure, foot = guide["lake"], guide["confidence"], summaries.foot_text(guide)
    under = f"Season guide for {guide['species']}, {summaries.period_text(guide)}"
    title = f"{lake['name']}: season guide, {summaries.period_text(guide)}"
    lines, closing = summaries.month_lines(guide), summaries.closing_sections(guide)
    wide, narrow = season_strips(guide)
    months = [
        month_page(
            month,
            guide,
            name=f"m{month['month']}",
            over=lake["name"],
            title=month["title"],
            screen_over="",
            place="see the last page",
            beside=guide["months"],
        )
        for month in guide["months"]
    ]
    cover = {
        "name": lake["name"],
        "title": under,
        "figure": wide[0],
        "lines": lines,
        "dates": guide["dates"],
        "facts": summaries.cover_facts(lake["facts"]),
        "choice": summaries.choice_label(guide["months"]),
        "mind": grave_of(guide, "see the last page"),
        **sure,
    }
    last = {
        "over": lake["name"],
        "beside": guide["club"],
        "title": "Care, rules and sources",
        **closing,
    }
    return Document(
        "season",
        title,
        guide["as_of"],
        frame(guide, title, foot, cover=cover, months=[page for page, _ in months], closing=last),
        {
            "heading": lake["name"],
            "under": under,
            "club": guide["club"],
            "demo": guide["demo"],
            "foot": foot,
            "wide_drawings": wide,
            "drawings": narrow,
            "links": lines,
            "choice": cover["choice"],
            "early": sections(
                [("Dates", guide["dates"]), (f"How sure: {sure['level']}", sure["reasons"])]
            ),
            "months": [section for _, section in months],
            "late": [*closing["left"], *closing["right"]],
        },
    )


def front_document(note):
    """The note after a front, on one page.

    Parameters
    ----------
    note : lakekit.guide.front.schema.FrontNote

    Returns
    -------
    Document
    """
    whole, note = prepared(note), prepared(printed(note))
    before, after = whole["before"], whole["after"]
    title, foot = f"{note['lake']['name']}: {note['title']}", summaries.foot_text(note)
    alt = figures.front_alt(before, after, whole)
    wide = Drawing(lambda: figures.front_figure(before, after, whole), alt)
    plan_title = note.get("plan_title") or "The plan now"
    page = {
        "over": named(note["lake"]["name"], note),
        "beside": note["club"],
        "title": note["title"],
        "headline": note["headline"],
        "storm": note["storm"]["text"],
        "figure": wide,
        "plan_title": plan_title,
        "tactics": note["tactics"],
        "days": note["day_table"],
        "days-from": note["day_rows"][len(note["day_table"]) - 1 :],
        "sections": summaries.front_sections({**note, "day_rows": []}),
        "mind": " ".join(unique([*note["hazards"], *note["cautions"]])),
    }
    return Document(
        "front",
        title,
        note["as_of"],
        frame(note, title, foot, note=page),
        {
            "heading": whole["title"],
            "under": f"{whole['lake']['name']} · data to {whole['as_of_text']}",
            "club": whole["club"],
            "demo": whole["demo"],
            "foot": foot,
            "lead": whole["headline"],
            "storm": whole["storm"]["text"],
            "wide_drawings": [wide],
            "drawings": [
                Drawing(lambda: figures.front_figure(before, after, whole, form="phone"), alt)
            ],
            "tactics": whole["tactics"],
            "plan_title": plan_title,
            "early": summaries.front_sections(whole),
            "late": sections(
                [
                    ("Hazards to check", unique([*whole["hazards"], *whole["cautions"]])),
                    ("Sources", [whole["weather"]["text"], *whole.get("sources", [])]),
                ]
            ),
        },
    )


def day_document(card):
    """The card for one day: one side of a half sheet, with rows to log it.

    Parameters
    ----------
    card : lakekit.guide.schema.DayCard

    Returns
    -------
    Document
    """
    card = prepared(card)
    lake = card["lake"]["name"]
    title, foot = f"{lake}: {card['title']}", summaries.foot_text(card)
    width, height = PAPERS[card["paper"]]
    places = ";\n".join(place["text"] for place in card["places"])  # a line each
    facts = [*card["water"], *([["Stands there", places]] if places else []), *card["hours"]]
    page = {
        **{key: card[key] for key in ("title", "headline", "basis_text", "fallback")},
        "mind": " ".join(card["hazards"]),
        "rules": card["rules"],
        "over": lake,
        "facts": facts,
        "phase": f"{card['where']['phase_name'].capitalize()}, {card['species']}",
        "readings": card["readings"],
        "tactics": card["tactics"][:2],
        "boxes": [
            {"label": box["label"], "width": _box_width(box)} for box in card["log"]["boxes"]
        ],
        "rows": card["log"]["rows"],
    }
    return Document(
        "day",
        title,
        card["as_of"],
        frame(card, title, foot, page=[height / 2, width], day=page),
        {
            "heading": card["title"],
            "under": f"{lake} · {card['basis_text']}",
            "club": card["club"],
            "demo": card["demo"],
            "foot": foot,
            "lead": card["headline"],
            "storm": card["fallback"],
            "tactics": card["tactics"],
            "plan_title": "First and second, then the rest",
            "early": sections([("The water and the hours", facts)]),
            "late": sections(
                [
                    ("Readings worth taking", card["readings"]),
                    ("Take care", card["hazards"]),
                    ("Rules of this water", card["rules"]),
                ]
            ),
        },
    )


def log_sheet_document(log):
    """A paper log sheet, landscape, whose boxes are the columns of the trip log.

    Parameters
    ----------
    log : dict
        From :func:`lakekit.trips.columns.log_sheet`: ``boxes`` (label, width, required, choices),
        ``rows``, ``notes``, and optionally ``tactics``, the keys to write in the tactic box;
        beside it ``paper`` (``letter`` or ``a4``), ``club``, and the ISO ``as_of`` it carries.

    Returns
    -------
    Document
    """
    log = printable_all({"paper": "letter", "club": "", "as_of": "2000-01-01", **log})
    choices = [
        f"{box['label']}: {', '.join(box['choices'])}."
        for box in log["boxes"]
        if box.get("choices")
    ]
    tactics = [f"tactic: {', '.join(log['tactics'])}."] if log.get("tactics") else []
    about = {**log, "demo": False, "as_of_text": ""}
    sheet_of = {
        "title": "Trip log",
        "boxes": [
            {"label": box["label"], "required": box["required"], "width": _box_width(box)}
            for box in log["boxes"]
        ],
        "rows": log["rows"],
        "notes": [" ".join(log["notes"]), *tactics, " ".join(choices)],
    }
    foot = "* must be filled in. Everything else helps."
    return Document(
        "log_sheet",
        "Trip log",
        log["as_of"],
        frame(about, "Trip log", foot, log=sheet_of, web=False),
    )


def _box_width(box):
    """Share of the sheet's width: as wide as it was asked, and as its longest word in print."""
    words = max(text_width(word, 8.6, "bold") for word in f"{box['label']} *".split()) + 8
    return max(6.0 * box["width"], words)
