"""Documents as one HTML file for a phone: nothing loaded, no scripts, nothing cut short."""

import re
from functools import lru_cache
from itertools import count
from pathlib import Path

from lakekit.pages.canvas import svg_text
from lakekit.pages.documents import Drawing
from lakekit.pages.style import COLOURS, DARK
from lakekit.store import write_whole

EMPTY = {
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
    text = _template().render({"colour": COLOURS, "dark": DARK, "title": document.title, **content})
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
