"""Documents as one HTML file for a phone: nothing loaded, no scripts, nothing cut short."""

import re
from functools import lru_cache
from html import unescape
from itertools import count
from pathlib import Path

from markupsafe import Markup, escape

from lakekit.pages.canvas import svg_text
from lakekit.pages.documents import Drawing
from lakekit.pages.fonts import font_faces
from lakekit.pages.style import COLOURS, DARK
from lakekit.store import write_whole

_TEXT = re.compile(r"<text[^>]*>([^<]*)</text>")

EMPTY = {
    "lead": "",
    "storm": "",
    "wide_drawings": [],
    "drawings": [],
    "links": [],
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
    look = {"colour": COLOURS, "dark": DARK, "faces": font_faces(tuple(_shown_in(content)))}
    text = _template().render({**look, "title": document.title, **content})
    return write_whole(path, text.strip() + "\n")


def _drawn(value, numbers):
    """Nested content with its drawings drawn, each with names of its own."""
    if isinstance(value, Drawing):
        return _inline(value.draw(), value.alt, f"drawing{next(numbers)}")
    if isinstance(value, dict):
        return {key: _drawn(item, numbers) for key, item in value.items()}
    if isinstance(value, list):
        return [_drawn(item, numbers) for item in value]
    return value


def _shown_in(value):
    """The drawings' own letters, sorted, of nested content that is drawn."""
    letters = set()
    if isinstance(value, Markup):
        letters.update(*(unescape(text) for text in _TEXT.findall(value)))
    elif isinstance(value, (dict, list)):
        for item in value.values() if isinstance(value, dict) else value:
            letters.update(_shown_in(item))
    return sorted(letters)


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
    return Markup(f'{opening} role="img" aria-label="{escape(alt)}">{rest}')
