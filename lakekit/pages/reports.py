"""The one door for reports: content -> document -> files, by the report's name.

A report is one entry here. Its content is made by a module of ``guide``, its document by a
function of ``documents``, its paper by a typst template; its notebook and its command have its
name.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pandas as pd

from lakekit.fronts.record import FILE, after_note, read_record, record_text
from lakekit.guide.front.schema import FrontNote
from lakekit.guide.schema import SCHEMA, Briefing, DayCard, SeasonGuide
from lakekit.guide.season import season_odds
from lakekit.guide.summaries import without_spots
from lakekit.pages.briefing import briefing_document
from lakekit.pages.coverage import coverage_figure
from lakekit.pages.documents import (
    day_document,
    front_document,
    log_sheet_document,
    season_document,
)
from lakekit.pages.html import write_page
from lakekit.pages.json_schema import json_schema
from lakekit.pages.log_figures import pattern_figure
from lakekit.pages.pdf import write_pdf
from lakekit.pages.svg import svg_text
from lakekit.store import save_dataset, write_together, write_whole
from lakekit.tactics.book import read_book
from lakekit.trips import log_sheet
from lakekit.waters.archive import lake_archive


@dataclass(frozen=True)
class Report:
    """One kind of report."""

    content: type  # its shape, of lakekit.guide.schema
    stem: Callable  # content -> the files' name without its suffix
    document: Callable  # content -> lakekit.pages.documents.Document
    text: Callable | None = None  # content -> a text for a message
    table: Callable | None = None  # content, folder, draft folder -> the club's own table, renewed


def _season_stem(guide):
    return f"{guide['lake']['key']}-season-{guide['months'][0]['month']}"


def _briefing_stem(briefing):
    month = briefing["month"]
    return (
        f"club-briefing-{month}"
        if month
        else (f"club-season-{briefing['guides'][0]['months'][0]['month']}")
    )


def _front_stem(note):
    return f"{note['lake']['key']}-front-{note['date']}{'-what-if' if note['what_if'] else ''}"


def _day_stem(card):
    return f"{card['lake']['key']}-day-{card['date']}"


def _front_table(note, out, draft):
    """What notes said of fronts, with this one's; none for a storm that has not come."""
    if note["what_if"] is None:
        yield write_whole(draft / FILE, record_text(after_note(read_record(out), note)))


REPORTS = {
    "day": Report(DayCard, _day_stem, day_document),
    "season": Report(SeasonGuide, _season_stem, season_document),
    "briefing": Report(Briefing, _briefing_stem, briefing_document),
    "front": Report(
        FrontNote, _front_stem, front_document, lambda note: note["message"] + "\n", _front_table
    ),
}


def write_report(name, content, out, *, dataset=None):
    """Write a report as PDF, HTML and JSON with its JSON Schema, and what else belongs to it.

    All are made beside the old ones and take their place together at the end: see
    :func:`lakekit.store.write_together`.

    Parameters
    ----------
    name : str
        A key of ``REPORTS``.
    content : dict
        The guide, note or briefing; it goes into the JSON and the pages with its numbers rounded
        by :func:`meant`.
    out : path
        Folder; made when it is not there.
    dataset : xarray.Dataset, optional
        Written beside it as NetCDF.

    Returns
    -------
    list of pathlib.Path
    """
    report, out, content = REPORTS[name], Path(out), meant(content)
    stem, document = report.stem(content), report.document(content)

    def write(folder):
        yield write_pdf(document, folder / f"{stem}.pdf")
        yield write_page(document, folder / f"{stem}.html")
        if report.text:
            yield write_whole(folder / f"{stem}.txt", report.text(content))
        yield _write_json(folder / f"{stem}.json", content)
        if dataset is not None:
            yield save_dataset(dataset, folder / f"{stem}.nc")

    made = write_together(out, stem, write, report.table and partial(report.table, content, out))
    _write_json(out / f"{name}.schema.json", json_schema(report.content))
    return made


def meant(value):
    """Nested content with its fractions to five significant digits: 0.001 degC, 1 mm in 16 m.

    What comes after is the arithmetic's, not the lake's, and was a fifth of the JSON. Counts,
    texts, times and keys stay.
    """
    if isinstance(value, float):
        return float(f"{value:.5g}")
    if isinstance(value, dict):
        return {key: meant(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [meant(item) for item in value]
    return value


def write_season(guide, knowledge, out):
    """Write a season guide, and its lake's layers, profiles and odds.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.guide.season.season_guide`.
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    out : path

    Returns
    -------
    list of pathlib.Path
        ``<lake>-season-<first month>`` as .pdf, .html, .json and .nc.

    Examples
    --------
    >>> [path.suffix for path in write_season(guide, knowledge, out)]
    ['.pdf', '.html', '.json', '.nc']
    """
    months = guide["months"]
    odds, *_ = season_odds(knowledge, pd.Timestamp(months[0]["month"]), len(months))
    return write_report("season", guide, out, dataset=lake_archive(knowledge, odds))


def write_briefing(guides, out, month=None):
    """Write a club's briefing.

    Parameters
    ----------
    guides : list of dict
        Season guides of one club, in the order to print.
    out : path
    month : str, optional
        ``YYYY-MM``, a page a lake; without it the season edition, a strip a lake.

    Returns
    -------
    list of pathlib.Path
        ``club-briefing-<month>`` or ``club-season-<first month>`` as .pdf, .html and .json.

    Examples
    --------
    >>> [path.suffix for path in write_briefing([guide], out, "2026-07")]
    ['.pdf', '.html', '.json']
    """
    shared = [without_spots(guide) for guide in guides]
    content = {"schema": SCHEMA, "kind": "briefing", "month": month, "guides": shared}
    return write_report("briefing", content, out)


def write_day(card, out):
    """Write a day card.

    Parameters
    ----------
    card : dict
        From :func:`lakekit.guide.day.day_card`.
    out : path

    Returns
    -------
    list of pathlib.Path
        ``<lake>-day-<date>`` as .pdf, .html and .json.

    Examples
    --------
    >>> [path.suffix for path in write_day(card, out)]
    ['.pdf', '.html', '.json']
    """
    return write_report("day", card, out)


def write_front(note, out):
    """Write a front note, with a text for a message.

    Parameters
    ----------
    note : dict
        From :func:`lakekit.guide.front.note.front_note`.
    out : path

    Returns
    -------
    list of pathlib.Path
        ``<lake>-front-<date>`` as .pdf, .html, .txt and .json; a what-if's name ends in
        ``-what-if``. Without one, ``fronts.csv`` too: what notes said, and what came.

    Examples
    --------
    >>> [path.suffix for path in write_front(note, out)]
    ['.pdf', '.html', '.txt', '.json', '.csv']
    """
    return write_report("front", note, out)


def write_log_sheet(club, out):
    """Print a blank log sheet whose boxes are the log's columns; returns its path."""
    sheet = log_sheet(club.units)
    notes = [*sheet["notes"], f"Lakes: {', '.join(club.lakes)}."]
    about = {"tactics": list(read_book()), "paper": club.paper, "club": club.name}
    return write_pdf(
        log_sheet_document({**sheet, **about, "notes": notes}), Path(out) / "log-sheet.pdf"
    )


def write_coverage(table, key, out):
    """Write the drawing of a lake's weather record as ``<lake>-weather.svg``; returns its path."""
    return write_whole(Path(out) / f"{key}-weather.svg", svg_text(coverage_figure(table)))


def write_patterns(patterns, out):
    """Write a drawing of each told pattern as ``pattern-<name>.svg``; returns their paths."""
    return [
        write_whole(Path(out) / f"pattern-{told['name']}.svg", svg_text(pattern_figure(told)))
        for told in patterns["told"]
    ]


def _write_json(path, content):
    return write_whole(path, json.dumps(content, separators=(",", ":"), ensure_ascii=False) + "\n")
