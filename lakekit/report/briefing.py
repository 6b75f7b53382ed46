"""The printed documents: guide or front note -> PDF by typst.

PDF/UA-1: tagged, with a title, a language and words for every figure; fonts embedded; the same
bytes for the same input.
"""

import json
import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from lakekit.report import figures
from lakekit.report.canvas import svg_text
from lakekit.report.fonts import printable_all, typst_fonts
from lakekit.report.style import PAPERS, sheet

TEMPLATES = Path(__file__).parent / "typst"

_LONGEST_WORD = 26  # characters; longer ones may break anywhere


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
        return {key: item if key in ("svg", "style") else _breakable(item)
                for key, item in value.items()}
    if isinstance(value, list):
        return [_breakable(item) for item in value]
    return value


def _drawing(figure, alt):
    return {"svg": svg_text(figure), "alt": alt}


def _frame(guide, title):
    """What every document needs: title, paper, footer, style."""
    return {
        "title": title,
        "club": guide["club"] or "lakekit",
        "page": list(PAPERS[guide["paper"]]),
        "demo": bool(guide["demo"]),
        "as_of_text": guide["as_of_text"],
        "footer": f"{guide['weather']['text']}. {guide['as_of_text']}; {guide['made_with']}.",
        "style": sheet(),
    }


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


def write_whole(path, content):
    """Write bytes so that a reader finds the old file or the whole new one."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path


def _rows_text(rows):
    return "; ".join(f"{label}: {text}" for label, text in rows)


def month_facts(month):
    """The facts beside the figure as (label, text), what matters most first."""
    rows = [("Layers", month["layered"]["text"])]
    rows += [(entry["name"], entry["text"]) for entry in month["depths"]]
    rows += [
        ("Fish", month["band"]["text"]),
        (month["phase"]["name"], month["phase"]["text"]),
        ("Surface", month["surface"]["text"]),
        ("Your log", month["log_text"]),
        ("After a front", month["front_text"]),
        ("Wind tilts it", (month["tilt"] or {}).get("text")),
        ("Light", month["light"]["text"]),
        ("Sun", month["sun"]["text"]),
    ]
    return [[label, text] for label, text in rows if text]


def _month_page(month, guide, *, over, beside, title):
    return {
        "over": over, "beside": beside, "title": title, "month": _month_text(month),
        "figure": _drawing(figures.water_column_figure(month, guide),
                           figures.water_column_alt(month, guide)),
        "facts": month_facts(month),
        "unknown": _rows_text(month["not_known"]),
        "mind": " ".join(month["cautions"]),
    }


def _month_text(month):
    return {key: month[key] for key in ("headline", "phase", "basis_text", "tactics")}


def month_line(month, units):
    """A month in one line: what the water is, where fish can hold, the first choice."""
    column = figures.water_facts(month, units)
    tactics = month["tactics"]
    return {
        "month": month["label"], "phase": month["phase"]["name"], "water": column["water"],
        "thermocline": column["thermocline"], "oxygen": column["oxygen"], "band": column["band"],
        "first": tactics[0]["name"] if tactics else "none suits",
    }


def closing_sections(guide):
    """The lists of the last page, left column and right, as dicts of title and rows."""
    left = (
        ("Take care", [*guide["cautions"], *guide.get("hazards", [])]),
        ("Rules of this water", guide["rules"]),
        ("The lake", guide["lake"]["facts"]),
    )
    right = (
        ("How it was made", guide["method"]),
        ("How good it has been", guide.get("evidence", [])),
        ("Sources", [guide["weather"]["text"], *guide["sources"]]),
    )
    return {"left": sections(left), "right": sections(right)}


def sections(pairs):
    """(title, rows) pairs as data; a row is a sentence or a label with its text."""
    return [{"title": title, "rows": [row if isinstance(row, str) else list(row) for row in rows]}
            for title, rows in pairs]


def write_season_pdf(guide, path):
    """The season guide of a lake: a cover, one page a month, a page of sources and cautions.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.report.guide.season_guide`.
    path : str or Path

    Returns
    -------
    Path
    """
    guide = printable_all(guide)
    lake = guide["lake"]
    beside = f"{guide['club']} · {guide['as_of_text']}"
    data = _frame(guide, f"{lake['name']}: {guide['title']}")
    data["cover"] = {
        "name": lake["name"], "title": guide["title"],
        "figure": _drawing(figures.season_strip_figure(guide, height=235.0), figures.season_strip_alt(guide)),
        "lines": [month_line(month, guide["units"]) for month in guide["months"]],
        "dates": guide["dates"], "facts": lake["facts"][:3],
        "level": guide["confidence"]["level"], "reasons": guide["confidence"]["reasons"],
    }
    data["months"] = [
        _month_page(month, guide, over=lake["name"], beside=beside, title=month["title"])
        for month in guide["months"]
    ]
    data["closing"] = {"over": lake["name"], "beside": beside,
                       "title": "Care, rules and sources", **closing_sections(guide)}
    return typeset("season", data, path, as_of=guide["as_of"])
