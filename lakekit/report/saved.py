"""What a report leaves on disk: its pages, its numbers and its layers, each file whole."""

import json
from pathlib import Path

from lakekit.report.briefing import write_briefing_pdf, write_season_pdf
from lakekit.report.files import write_whole
from lakekit.report.page import write_briefing_page, write_season_page
from lakekit.store import save_dataset


def write_season(guide, knowledge, out):
    """Write a season guide as PDF, HTML and JSON, and its daily layers as NetCDF.

    Each file replaces the one before it only when it is complete.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.report.guide.season_guide`.
    knowledge : lakekit.report.knowledge.LakeKnowledge
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


def _paths(out, name, suffixes):
    return [Path(out) / f"{name}.{suffix}" for suffix in suffixes]


def _write_json(path, content):
    write_whole(path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")
