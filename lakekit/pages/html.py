"""The same content as one HTML file for a phone: nothing loaded, no scripts, nothing cut short."""

import re
from functools import lru_cache
from pathlib import Path

from lakekit.guide.summaries import (
    closing_sections,
    foot_text,
    front_sections,
    lake_line,
    lake_sections,
    method_sections,
    month_facts,
    month_lines,
    period_text,
    rows_text,
    sections,
    shown_lakes,
    unique,
)
from lakekit.pages import figures
from lakekit.pages.canvas import svg_text
from lakekit.pages.documents import prepared
from lakekit.pages.style import COLOURS
from lakekit.store import write_whole

_MONTHS_A_STRIP, _LAKES_A_STRIP = 6, 4


@lru_cache(maxsize=1)
def _template():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("page.html.j2")


def _inline(figure, alt, name):
    """A drawing to stand in the page: sized by the page, told in words to those who cannot see."""
    from markupsafe import Markup, escape

    text = svg_text(figure, prefix=f"{name}-")
    opening, rest = text.split(">", 1)
    opening = re.sub(r'\s(width|height)="[^"]*"', "", opening)
    return Markup(f'{opening} role="img" aria-label="{escape(alt)}">{rest}')


def _write(path, **content):
    empty = {
        "lead": "",
        "storm": "",
        "wide_drawings": [],
        "drawings": [],
        "links": [],
        "lines": [],
        "tactics": None,
        "plan_title": "",
        "early": [],
        "months": [],
        "late": [],
    }
    text = _template().render({"colour": COLOURS, **empty, **content})
    return write_whole(path, text.strip() + "\n")


def _month_entry(month, guide, *, title, over, name):
    drawing = figures.water_column_figure(month, guide, form="phone")
    return {
        "id": name,
        "title": title,
        "over": over,
        "month": month,
        "drawing": _inline(drawing, figures.water_column_alt(month, guide), name),
        "facts": month_facts(month),
        "unknown": rows_text(month["not_known"]),
    }


def _season_drawings(guide, name):
    parts = [
        {**guide, "months": guide["months"][at : at + _MONTHS_A_STRIP]}
        for at in range(0, len(guide["months"]), _MONTHS_A_STRIP)
    ]
    narrow = []
    for index, part in enumerate(parts):
        last = index == len(parts) - 1
        drawing = figures.season_strip_figure(
            part, form="phone", height=225.0 if last else 173.0, key=last
        )
        narrow.append(_inline(drawing, figures.season_strip_alt(part), f"{name}-{index}"))
    wide = _inline(
        figures.season_strip_figure(guide, height=235.0),
        figures.season_strip_alt(guide),
        f"{name}-wide",
    )
    return [wide], narrow


def write_season_page(guide, path):
    """The season guide of a lake as one HTML file.

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
    wide, narrow = _season_drawings(guide, "season")
    sure = guide["confidence"]
    closing = closing_sections(guide)
    return _write(
        path,
        title=f"{lake['name']}: season guide, {period_text(guide)}",
        heading=lake["name"],
        under=f"Season guide, {period_text(guide)}",
        club=guide["club"],
        demo=guide["demo"],
        foot=foot_text(guide),
        wide_drawings=wide,
        drawings=narrow,
        links=month_lines(guide),
        early=sections(
            [("Dates", guide["dates"]), (f"How sure: {sure['level']}", sure["reasons"])]
        ),
        months=[
            _month_entry(month, guide, title=month["title"], over="", name=f"m{month['month']}")
            for month in guide["months"]
        ],
        late=[*closing["left"], *closing["right"]],
    )


def write_briefing_page(guides, path, month=None):
    """The club briefing as one HTML file; without ``month`` the season edition.

    Parameters
    ----------
    guides : list of dict
        Season guides of one club, in the order to show.
    path : str or Path
    month : str, optional
        ``YYYY-MM``.

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
    months, wide, narrow = [], [], []
    for index, (guide, entry) in enumerate(shown):
        name = f"lake{index}"
        if month:
            months.append(
                _month_entry(
                    entry,
                    guide,
                    title=guide["lake"]["name"],
                    over=f"{entry['title']} · ",
                    name=name,
                )
            )
        else:
            full, parts = _season_drawings(guide, name)
            wide += full
            narrow += parts
    if month:
        wide = [_inline(figures.lakes_strip_figure(shown), figures.lakes_strip_alt(shown), "all")]
        for at in range(0, len(shown), _LAKES_A_STRIP):
            part = shown[at : at + _LAKES_A_STRIP]
            last = at + _LAKES_A_STRIP >= len(shown)
            drawing = figures.lakes_strip_figure(
                part, form="phone", height=235.0 if last else 183.0, key=last
            )
            narrow.append(_inline(drawing, figures.lakes_strip_alt(part), f"part{at}"))
    lines = []
    for index, (guide, entry) in enumerate(shown):
        line = lake_line(guide, entry)
        lines.append(
            {
                **line,
                "title": line["name"],
                "id": f"lake{index}" if month else "",
                "note": f"{line['phase']} · how sure: {line['sure']}",
            }
        )
    care, method = lake_sections(told, month), method_sections(told, month)
    title = first_month["title"] if month else f"Season from {first_month['title']}"
    return _write(
        path,
        title=f"{first['club']}: briefing, {title}",
        heading=title,
        under=f"Briefing for {len(shown)} lake{'s' if len(shown) > 1 else ''}",
        club=first["club"],
        demo=any(guide["demo"] for guide in told),
        foot=" ".join(unique(foot_text(guide) for guide in told)),
        wide_drawings=wide,
        drawings=narrow,
        lines=lines,
        months=months,
        late=[*care, *method["left"], *method["right"]],
    )


def write_front_page(note, path):
    """The note after a front as one HTML file; see :func:`lakekit.pages.pdf.write_front_pdf`.

    Parameters
    ----------
    note : dict
    path : str or Path

    Returns
    -------
    Path
    """
    note = prepared(note)
    before, after = note["before"], note["after"]
    alt = figures.front_alt(before, after, note)
    return _write(
        path,
        title=f"{note['lake']['name']}: {note['title']}",
        heading=note["title"],
        under=f"{note['lake']['name']} · data to {note['as_of_text']}",
        club=note["club"],
        demo=note["demo"],
        foot=foot_text(note),
        lead=note["headline"],
        storm=note["storm"]["text"],
        wide_drawings=[_inline(figures.front_figure(before, after, note), alt, "wide")],
        drawings=[_inline(figures.front_figure(before, after, note, form="phone"), alt, "phone")],
        tactics=note["tactics"],
        plan_title=note.get("plan_title") or "The plan now",
        early=front_sections(note),
        late=sections(
            [
                ("Hazards to check", unique([*note["hazards"], *note["cautions"]])),
                ("Sources", [note["weather"]["text"], *note.get("sources", [])]),
            ]
        ),
    )
