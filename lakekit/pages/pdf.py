"""Documents on paper: PDF by typst.

PDF/UA-1: tagged, with a title, a language and words for every figure; fonts embedded; the same
bytes for the same input. Texts too long for a page are cut there with an ellipsis; the HTML page
has them whole.
"""

import json
from datetime import UTC, datetime
from pathlib import Path

from lakekit.pages.canvas import spoken
from lakekit.pages.documents import Drawing
from lakekit.pages.fonts import typst_fonts
from lakekit.pages.svg import svg_text
from lakekit.store import write_whole

TEMPLATES = Path(__file__).parent / "typst"

FRAME = ("title", "club", "page", "demo", "as_of_text", "footer", "style", "web")
FORGETS = 11  # compilations after which typst lets go of what came before them
_LONGEST_WORD = 26  # characters; longer ones may break anywhere


def write_pdf(document, path):
    """Set a document in its template and write the PDF in one step.

    Parameters
    ----------
    document : lakekit.pages.documents.Document
    path : str or Path

    Returns
    -------
    Path
    """
    import typst

    stamp = datetime.fromisoformat(document.as_of)
    if stamp.tzinfo is None:
        stamp = stamp.replace(tzinfo=UTC)
    printed = _breakable(document.printed)
    if "months" in printed:
        frame = {key: value for key, value in printed.items() if key in FRAME}
        printed["months"] = [page | {"levels": _levels(page, frame)} for page in printed["months"]]
    made = typst.compile(
        TEMPLATES / f"{document.template}.typ",
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=int(stamp.timestamp()),
        sys_inputs={"data": json.dumps(printed)},
        **_setting(),
    )
    return write_whole(path, made)


def _setting():
    return {"root": TEMPLATES, "font_paths": typst_fonts(), "ignore_system_fonts": True}


def _levels(page, frame):
    """How much of its lists a month's page has room for, found with that page alone.

    All that typst measures stays in memory until ten later compilations have not asked for it:
    25 MB a page, which would add up over a briefing of many lakes.
    """
    import typst

    data = json.dumps({**frame, "month": page})
    told = typst.query(TEMPLATES / "month.typ", "<level>", sys_inputs={"data": data}, **_setting())
    for _ in range(FORGETS):
        typst.compile(b"", font_paths=typst_fonts(), ignore_system_fonts=True)
    return [entry["value"] for entry in json.loads(told)]


def _breakable(value):
    """Nested data for typst: drawings drawn, zero-width spaces in words too long for a column."""
    if isinstance(value, Drawing):
        return {"svg": svg_text(value.draw(), outlines=False), "alt": spoken(value.alt)}
    if isinstance(value, str):
        words = value.split(" ")
        if max(map(len, words)) <= _LONGEST_WORD:
            return value
        return " ".join(
            "\u200b".join(word[i : i + _LONGEST_WORD] for i in range(0, len(word), _LONGEST_WORD))
            for word in words
        )
    if isinstance(value, dict):
        return {key: item if key == "style" else _breakable(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_breakable(item) for item in value]
    return value
