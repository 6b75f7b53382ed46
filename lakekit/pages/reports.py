"""What a report leaves on disk: its pages, its numbers and its layers, each file whole."""

import json
import os
import shutil
import tempfile
from pathlib import Path

from lakekit.guide.front.message import printed
from lakekit.pages.canvas import svg_text
from lakekit.pages.coverage import coverage_figure
from lakekit.pages.html import write_briefing_page, write_front_page, write_season_page
from lakekit.pages.pdf import (
    write_briefing_pdf,
    write_front_pdf,
    write_log_sheet_pdf,
    write_season_pdf,
)
from lakekit.store import save_dataset, write_whole
from lakekit.tactics.book import read_book
from lakekit.trips import log_sheet


def write_season(guide, knowledge, out):
    """Write a season guide as PDF, HTML and JSON, and its daily layers as NetCDF.

    Each file replaces the one before it only when it is complete.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.guide.season.season_guide`.
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    out : path
        Folder; made when it is not there.

    Returns
    -------
    list of pathlib.Path
        ``<lake>-season-<first month>`` as .pdf, .html, .json and .nc.
    """
    name = f"{guide['lake']['key']}-season-{guide['months'][0]['month']}"
    pdf, html, data, layers = _paths(out, name, ("pdf", "html", "json", "nc"))
    write_season_pdf(guide, pdf)
    write_season_page(guide, html)
    _write_json(data, guide)
    save_dataset(knowledge.layers, layers)
    return [pdf, html, data, layers]


def write_briefing(guides, out, month=None):
    """Write a club's briefing as PDF, HTML and JSON.

    Parameters
    ----------
    guides : list of dict
        Season guides of one club, in the order to print.
    out : path
        Folder; made when it is not there.
    month : str, optional
        ``YYYY-MM``, a page a lake; without it the season edition, a strip a lake.

    Returns
    -------
    list of pathlib.Path
        ``club-briefing-<month>`` or ``club-season-<first month>`` as .pdf, .html and .json.
    """
    first = month or guides[0]["months"][0]["month"]
    name = f"club-briefing-{first}" if month else f"club-season-{first}"
    pdf, html, data = _paths(out, name, ("pdf", "html", "json"))
    write_briefing_pdf(guides, pdf, month)
    write_briefing_page(guides, html, month)
    _write_json(data, {"month": month, "guides": guides})
    return [pdf, html, data]


def write_front(note, out):
    """Write a front note as PDF, HTML, text for a message and JSON.

    All four are made beside the old ones and take their place together at the end, so that an
    interruption leaves the old note whole.

    Parameters
    ----------
    note : dict
        From :func:`lakekit.guide.front.note.front_note`.
    out : path
        Folder; made when it is not there.

    Returns
    -------
    list of pathlib.Path
        ``<lake>-front-<date>`` as .pdf, .html, .txt and .json; a what-if's name ends in
        ``-what-if``.
    """
    out = Path(out)
    name = f"{note['lake']['key']}-front-{note['date']}"
    name += "-what-if" if note["what_if"] else ""
    out.mkdir(parents=True, exist_ok=True)
    for left in out.glob(f".{name}-*"):  # of a run that was killed
        shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(dir=out, prefix=f".{name}-") as draft:
        pdf, html, text, data = _paths(draft, name, ("pdf", "html", "txt", "json"))
        write_front_pdf(printed(note), pdf)
        write_front_page(note, html)
        write_whole(text, note["message"] + "\n")
        _write_json(data, note)
        made = [pdf, html, text, data]
        for path in made:
            os.replace(path, out / path.name)
    return [out / path.name for path in made]


def write_coverage(table, key, out):
    """Write the drawing of a lake's weather record as ``<lake>-weather.svg``; returns its path."""
    path = Path(out) / f"{key}-weather.svg"
    write_whole(path, svg_text(coverage_figure(table)))
    return path


def write_log_sheet(club, out):
    """Print a blank log sheet whose boxes are the log's columns; returns its path."""
    path = Path(out) / "log-sheet.pdf"
    sheet = log_sheet(club.units) | {"tactics": list(read_book())}
    sheet["notes"] = [*sheet["notes"], f"Lakes: {', '.join(club.lakes)}."]
    write_log_sheet_pdf(sheet, path, paper=club.paper, club=club.name)
    return path


def _paths(out, name, suffixes):
    return [Path(out) / f"{name}.{suffix}" for suffix in suffixes]


def _write_json(path, content):
    write_whole(path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")
