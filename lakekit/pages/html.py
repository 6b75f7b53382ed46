"""Documents as one HTML file for a phone: nothing loaded, no scripts, nothing cut short."""

import re
from functools import lru_cache
from html import unescape
from itertools import count
from pathlib import Path

from markupsafe import Markup, escape

from lakekit.pages.canvas import spoken
from lakekit.pages.documents import Drawing
from lakekit.pages.fonts import font_faces
from lakekit.pages.style import COLOURS, DARK
from lakekit.pages.svg import svg_text
from lakekit.store import write_whole

_TAG = re.compile(r"<[^>]*>")

EMPTY = {
    "lead": "",
    "storm": "",
    "wide_drawings": [],
    "drawings": [],
    "links": [],
    "choice": "",
    "lines": [],
    "index": [],
    "tactics": None,
    "plan_title": "",
    "early": [],
    "months": [],
    "late": [],
}


def write_page(document, path):
    """Write a document as one HTML file, in one step.

    Parameters
    ----------
    document : lakekit.pages.documents.Document
    path : str or Path

    Returns
    -------
    Path
    """
    content = _drawn({**EMPTY, **document.screen}, count(1))
    look = {"colour": COLOURS, "dark": DARK, "title": document.title}
    text = _template().render({**look, **content}).strip()
    letters = "".join(sorted({*unescape(_TAG.sub("", text[text.index("</style>") :])), " "}))
    return write_whole(path, text.replace("<style>", f"<style>{font_faces(letters)}", 1) + "\n")


def _drawn(value, numbers):
    """Nested content with its drawings drawn, each with names of its own."""
    if isinstance(value, Drawing):
        return _inline(value.draw(), value.alt, f"drawing{next(numbers)}")
    if isinstance(value, dict):
        return {key: _drawn(item, numbers) for key, item in value.items()}
    if isinstance(value, list):
        return [_drawn(item, numbers) for item in value]
    return value


@lru_cache(maxsize=1)
def _template():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("page.html.j2")


def _inline(figure, alt, name):
    """A drawing to stand in the page: sized by the page, told in words to those who cannot see."""
    text = svg_text(figure, prefix=f"{name}-", outlines=False)
    opening, rest = text.split(">", 1)
    opening = re.sub(r'\s(width|height)="[^"]*"', "", opening)
    return Markup(f'{opening} role="img" aria-label="{escape(spoken(alt))}">{rest}')
