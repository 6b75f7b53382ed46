"""Figures as SVG text: the same bytes each time, and no more of them than the picture takes."""

import io
import re
from functools import lru_cache
from xml.etree import ElementTree

from lakekit.pages.fonts import FALLBACK, FAMILY

_SVG, _LINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
_TOKEN = re.compile(r"[A-Za-z]|-?[\d.]+(?:e[-+]?\d+)?")
_FAMILIES = f"font-family: '{FAMILY}', '{FALLBACK}'"
_USUAL = {"text-anchor: start", "stroke-dashoffset: 0", _FAMILIES}  # holds where nothing is said


def svg_text(figure, *, prefix="", outlines=True):
    """A figure as SVG text, the same bytes each time.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    prefix : str
        Put before every id, so that several drawings can stand in one HTML page.
    outlines : bool
        Letters as outlines, for a reader without our fonts; else as text, half the size.
    """
    text = compact(plain_svg(figure, outlines=outlines))
    said = 'stroke-linejoin="round" stroke-linecap="butt"'
    family = "" if outlines else f' style="{_FAMILIES}"'
    text = text.replace("<svg ", f"<svg {said}{family} ", 1)
    if prefix:
        text = re.sub(r'\bid="', f'id="{prefix}', text)
        text = re.sub(r'(href="#|url\(#)', rf"\g<1>{prefix}", text)
    return text


def plain_svg(figure, *, outlines=True):
    """A figure as matplotlib writes it."""
    import matplotlib

    settings = {
        "svg.fonttype": "path" if outlines else "none",
        "svg.hashsalt": "lakekit",
        "path.simplify": False,
    }
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    stream = io.StringIO()
    with matplotlib.rc_context(settings):
        figure.savefig(stream, format="svg", metadata=nothing)
    return stream.getvalue()


def compact(text):
    """The same picture in fewer bytes.

    Groups that only carry a name are opened, numbers are rounded to a hundredth of a point,
    paths are told in steps, and neighbours drawn alike become one path. matplotlib's own style
    sheet goes: it would reach every element of a page the drawing stands in.

    Parameters
    ----------
    text : str
        A drawing as matplotlib writes it.

    Returns
    -------
    str
    """
    root = ElementTree.fromstring(text)
    root.text = None
    _tidy(root)
    ElementTree.register_namespace("", _SVG)
    ElementTree.register_namespace("xlink", _LINK)
    made = ElementTree.tostring(root, encoding="unicode")
    return re.sub(r'(style="[^"]*")', lambda style: re.sub(r"([:;]) ", r"\1", style[1]), made)


def _tidy(parent):
    kept = []
    for child in _opened(parent):
        if kept and _one_stroke(kept[-1], child):
            kept[-1].set("d", kept[-1].get("d") + child.get("d"))
        else:
            kept.append(child)
    parent[:] = kept


def _opened(parent):
    """The elements of a group, those of groups in it that only carry a name among them."""
    for child in parent:
        name = child.tag.rpartition("}")[2]
        child.tail = None
        if name == "style" or (name == "defs" and child.find(f"{{{_SVG}}}style") is not None):
            continue
        if name == "g" and set(child.attrib) <= {"id"}:
            yield from _opened(child)
            continue
        if name != "text":
            child.text = None
        _shorten(child, name)
        _tidy(child)
        yield child


def _shorten(element, name):
    if "d" in element.attrib:
        element.set("d", _steps(element.get("d")))
    if name == "text":
        for key in ("x", "y"):
            if key in element.attrib:
                element.set(key, _number(round(100 * float(element.get(key)))))
        if element.get("transform", "").startswith("rotate(-0 "):
            del element.attrib["transform"]
    if "style" in element.attrib:
        told = [part for part in element.get("style").split("; ") if part not in _USUAL]
        element.set("style", "; ".join(told))


def _one_stroke(one, other):
    """Whether two neighbours are lines drawn alike, which one path can hold."""
    if not (one.get("d") and other.get("d")):
        return False
    alike = {**one.attrib, "d": ""} == {**other.attrib, "d": ""}
    return alike and "fill: none" in one.get("style", "") and "dash" not in one.get("style")


def _steps(path):
    """Path data of M, L, Q, C and Z, from point to point in hundredths."""
    said, last, at, start = [], "", (0, 0), (0, 0)
    letter, pairs = "", []
    tokens = [*_TOKEN.findall(path), "end"]
    for token in tokens:
        if not token.isalpha():
            pairs.append(round(100 * float(token)))
            continue
        if letter and letter in "zZ":
            said.append("z")
            last, at = "z", start
        elif letter:
            size = {"Q": 4, "C": 6}.get(letter, 2)
            for first in range(0, len(pairs), size):
                part = pairs[first : first + size]
                step = [value - at[place % 2] for place, value in enumerate(part)]
                at, name = tuple(part[-2:]), letter.lower()
                if letter == "M":
                    start = at
                elif letter == "L" and 0 in step:
                    name, step = ("v", step[1:]) if step[0] == 0 else ("h", step[:1])
                if not said:
                    name = "M"
                said.append(("" if name == last else name) + " ".join(map(_number, step)))
                last = name
        letter, pairs = token, []
    return re.sub(r"(?<=[a-zA-Z]) | (?=[-a-zA-Z])", "", " ".join(said))


@lru_cache(maxsize=8192)
def _number(hundredths):
    """A number of hundredths, as short as it can be written."""
    text = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    return re.sub(r"^(-?)0\.", r"\1.", text)
