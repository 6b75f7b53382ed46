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
    made = typst.compile(
        TEMPLATES / f"{document.template}.typ",
        root=TEMPLATES,
        font_paths=typst_fonts(),
        ignore_system_fonts=True,
        format="pdf",
        pdf_standards=["ua-1"],
        timestamp=int(stamp.timestamp()),
        sys_inputs={"data": json.dumps(_breakable(document.printed))},
    )
    return write_whole(path, made)


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
