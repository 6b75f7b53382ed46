"""The printed documents: guide, briefing, front note and log sheet -> PDF by typst.

PDF/UA-1: tagged, with a title, a language and words for every figure; fonts embedded; the same
bytes for the same input. Texts too long for a page are cut there with an ellipsis; the HTML page
has them whole.
"""

import json
from datetime import UTC, datetime
from pathlib import Path

from lakekit.guide.summaries import (
    choice_label,
    closing_sections,
    common_foot,
    cover_facts,
    foot_cautions,
    foot_text,
    front_sections,
    halves,
    lake_line,
    lake_sections,
    method_sections,
    month_facts,
    month_lines,
    period_text,
    rows_text,
    shown_lakes,
    unique,
    whole_rows,
)
from lakekit.pages import figures
from lakekit.pages.canvas import svg_text, text_width
from lakekit.pages.documents import prepared
from lakekit.pages.fonts import printable_all, typst_fonts
from lakekit.pages.style import PAPERS, sheet
from lakekit.store import write_whole

TEMPLATES = Path(__file__).parent / "typst"

_LONGEST_WORD = 26  # characters; longer ones may break anywhere


def typeset(template, data, path, *, as_of):
    """Set ``data`` in a template and write the PDF in one step.

    Parameters
    ----------
    template : str
        Name of a file in the templates folder, without its suffix.
    data : dict
        Plain data, texts already printable.
    path : str or Path
    as_of : str
        ISO time of the data; it is the document's date, so that bytes repeat.

    Returns
    -------
    Path
    """
    import typst

    stamp = datetime.fromisoformat(as_of)
    if stamp.tzinfo is None:
        stamp = stamp.replace(tzinfo=UTC)
    made = typst.compile(
        TEMPLATES / f"{template}.typ",
        root=TEMPLATES,
        font_paths=typst_fonts(),
        ignore_system_fonts=True,
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=int(stamp.timestamp()),
        sys_inputs={"data": json.dumps(_breakable(data))},
    )
    return write_whole(path, made)


def _breakable(value):
    """Zero-width spaces in words too long for a column, in nested data."""
    if isinstance(value, str):
        words = value.split(" ")
        if max(map(len, words)) <= _LONGEST_WORD:
            return value
        return " ".join(
            "\u200b".join(word[i : i + _LONGEST_WORD] for i in range(0, len(word), _LONGEST_WORD))
            for word in words
        )
    if isinstance(value, dict):
        return {
            key: item if key in ("svg", "style") else _breakable(item)
            for key, item in value.items()
        }
    if isinstance(value, list):
        return [_breakable(item) for item in value]
    return value


def _drawing(figure, alt):
    return {"svg": svg_text(figure), "alt": alt}


def _frame(guide, title, foot):
    """What every document needs: title, paper, footer, style."""
    return {
        "title": title,
        "club": guide["club"] or "A club",
        "page": list(PAPERS[guide["paper"]]),
        "demo": bool(guide["demo"]),
        "as_of_text": f"Data to {guide['as_of_text']}",
        "footer": foot,
        "style": sheet(),
    }


def _month_page(month, guide, *, over, title, place, beside_months):
    return {
        "over": over,
        "beside": guide["club"],
        "title": title,
        "footer": foot_text(guide),
        "month": {key: month[key] for key in ("headline", "phase", "basis_text", "tactics")},
        "figure": _drawing(
            figures.water_column_figure(month, guide), figures.water_column_alt(month, guide)
        ),
        "facts": month_facts(month),
        "unknown": "; ".join(label for label, _ in month["not_known"]),
        "mind": foot_cautions(month, beside_months, place=place),
    }


def write_season_pdf(guide, path):
    """The season guide of a lake: a cover, one page a month, a page of sources and cautions.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.guide.season.season_guide`.
    path : str or Path

    Returns
    -------
    Path
    """
    guide = prepared(guide)
    lake = guide["lake"]
    period = period_text(guide)
    data = _frame(guide, f"{lake['name']}: season guide, {period}", foot_text(guide))
    data["cover"] = {
        "name": lake["name"],
        "title": f"Season guide, {period}",
        "figure": _drawing(
            figures.season_strip_figure(guide, height=235.0), figures.season_strip_alt(guide)
        ),
        "lines": month_lines(guide),
        "dates": guide["dates"],
        "facts": cover_facts(lake["facts"]),
        "choice": choice_label(guide["months"]),
        "level": guide["confidence"]["level"],
        "reasons": guide["confidence"]["reasons"],
    }
    data["months"] = [
        _month_page(
            month,
            guide,
            over=lake["name"],
            title=month["title"],
            place="see the last page",
            beside_months=guide["months"],
        )
        for month in guide["months"]
    ]
    data["closing"] = {
        "over": lake["name"],
        "beside": guide["club"],
        "title": "Care, rules and sources",
        **closing_sections(guide),
    }
    return typeset("season", data, path, as_of=guide["as_of"])


def _front_height(lakes):
    """Height [pt] of the strip of lakes that leaves room for a line on each."""
    return 290.0 if lakes <= 4 else 215.0 if lakes <= 8 else 185.0


def write_briefing_pdf(guides, path, month=None):
    """The club briefing: each lake in a line, a page a lake, hazards and rules, how it was made.

    Parameters
    ----------
    guides : list of dict
        Season guides of one club, in the order to print.
    path : str or Path
    month : str, optional
        ``YYYY-MM``: the month to brief. Without it the season edition is made, which has a strip
        a lake instead of a page a lake.

    Returns
    -------
    Path

    Raises
    ------
    ValueError
        With no guide, or none that has the month.
    """
    shown = shown_lakes([prepared(guide) for guide in guides], month)
    first, first_month = shown[0]
    told = [guide for guide, _ in shown]
    title = first_month["title"] if month else f"Season from {first_month['title']}"
    count = f"{len(shown)} lake{'s' if len(shown) > 1 else ''}"
    data = _frame(first, f"{first['club']}: briefing, {title}", common_foot(told))
    data["demo"] = any(guide["demo"] for guide in told)
    data["front"] = {
        "title": title,
        "figure": _drawing(
            figures.lakes_strip_figure(shown, height=_front_height(len(shown))),
            figures.lakes_strip_alt(shown),
        ),
        "under": f"Briefing for {count}" if month else f"Season briefing for {count}; first month",
        "lines": [lake_line(guide, entry) for guide, entry in shown],
    }
    data["months"] = [
        _month_page(
            entry,
            guide,
            over=entry["title"],
            title=guide["lake"]["name"],
            place="see Hazards and rules",
            beside_months=[other for _, other in shown],
        )
        for guide, entry in shown
        if month
    ]
    data["strips"] = [
        {
            "name": guide["lake"]["name"],
            "figure": _drawing(
                figures.season_strip_figure(guide, height=180.0), figures.season_strip_alt(guide)
            ),
            "dates": rows_text(guide["dates"]),
        }
        for guide in told
        if not month
    ]
    data["care"] = halves(lake_sections(told, month))
    data["closing"] = {
        "over": first["club"],
        "beside": f"data to {first['as_of_text']}",
        "title": "How it was made",
        **method_sections(told, month),
    }
    return typeset("briefing", data, path, as_of=max(guide["as_of"] for guide in told))


def write_front_pdf(note, path):
    """The note after a front, on one page.

    Parameters
    ----------
    note : dict
        As a guide (``units``, ``paper``, ``club``, ``lake``, ``title``, ``as_of``,
        ``as_of_text``, ``made_with``, ``demo``, ``weather``, ``cautions``), and: ``headline``;
        ``storm`` with ``text``; ``before`` and ``after``, states with what a month has of
        ``label``, ``layered``, ``depths``, ``oxygen_zone``, ``band``, ``profile``; ``changes``,
        ``ahead`` and ``not_known``, [label, text] rows; ``hazards``, sentences; ``plan_text``,
        why the plan moved; ``tactics`` as a month has them.
    path : str or Path

    Returns
    -------
    Path
    """
    note = prepared(note)
    before, after = note["before"], note["after"]
    data = _frame(note, f"{note['lake']['name']}: {note['title']}", foot_text(note))
    data["note"] = {
        "over": note["lake"]["name"],
        "beside": note["club"],
        "title": note["title"],
        "headline": note["headline"],
        "storm": note["storm"]["text"],
        "figure": _drawing(
            figures.front_figure(before, after, note), figures.front_alt(before, after, note)
        ),
        "plan_title": note.get("plan_title") or "The plan now",
        "tactics": note["tactics"],
        "sections": front_sections(note),
        "mind": whole_rows(
            unique([*note["hazards"], *note["cautions"]]), room=620, rest="see the web page"
        ),
    }
    return typeset("front", data, path, as_of=note["as_of"])


def write_log_sheet_pdf(
    log, path, *, paper="letter", club="", title="Trip log", as_of="2000-01-01"
):
    """A paper log sheet, landscape, whose boxes are the columns of the trip log.

    Parameters
    ----------
    log : dict
        From :func:`lakekit.trips.columns.log_sheet`: ``boxes`` (label, width, required, choices),
        ``rows``, ``notes``, and optionally ``tactics``, the keys to write in the tactic box.
    path : str or Path
    paper : str
        ``letter`` or ``a4``.
    club, title : str
        Printed on top.
    as_of : str
        ISO date that the document carries.

    Returns
    -------
    Path
    """
    log = printable_all(log)
    frame = {
        "paper": paper,
        "club": printable_all(club),
        "demo": False,
        "as_of_text": "",
    }
    choices = [
        f"{box['label']}: {', '.join(box['choices'])}."
        for box in log["boxes"]
        if box.get("choices")
    ]
    tactics = [f"tactic: {', '.join(log['tactics'])}."] if log.get("tactics") else []
    data = _frame(frame, title, "* must be filled in. Everything else helps.")
    data["log"] = {
        "title": title,
        "boxes": [
            {"label": box["label"], "required": box["required"], "width": _box_width(box)}
            for box in log["boxes"]
        ],
        "rows": log["rows"],
        "notes": [" ".join(log["notes"]), *tactics, " ".join(choices)],
    }
    return typeset("log_sheet", data, path, as_of=as_of)


def _box_width(box):
    """Share of the sheet's width: as wide as it was asked, and as its longest word in print."""
    words = max(text_width(word, 8.6, "bold") for word in f"{box['label']} *".split()) + 8
    return max(6.0 * box["width"], words)
