"""A drawing sheet in points on a matplotlib Figure: text that is measured, hatching that is lines.

Hatches are drawn as lines of a set spacing and width, so that they look alike on a screen, in a
PDF and after a photocopier, which matplotlib's own hatches do not.
"""

import io
import math
import re
from functools import lru_cache
from threading import get_ident

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, FancyBboxPatch, PathPatch, Rectangle
from matplotlib.path import Path as DrawnPath

from lakekit.pages.fonts import FALLBACK, FAMILY, clip, font_files, printable, use_in_matplotlib
from lakekit.pages.style import COLOURS, HATCH, LINE

_WEIGHTS = {"normal": "Regular", "bold": "Bold"}


@lru_cache(maxsize=32)
def _measuring_font(weight, thread):
    """A font of the calling thread's own: FreeType's objects are not to be shared."""
    from matplotlib.ft2font import FT2Font

    name = f"SourceSansPro-{_WEIGHTS[weight]}.ttf"
    return FT2Font(str(next(path for path in font_files() if path.name == name)))


@lru_cache(maxsize=4096)
def text_width(text, size, weight="normal"):
    """Width [pt] of one line of text at a size [pt]."""
    font = _measuring_font(weight, get_ident())
    font.set_size(100, 72)
    # a character that the text family lacks is counted as an em square, which is never too narrow
    known = font.get_charmap()
    plain = "".join(character for character in text if ord(character) in known)
    font.set_text(plain, 0.0)
    return (font.get_width_height()[0] / 64 + 100 * (len(text) - len(plain))) * size / 100


def wrap(text, width, size, *, weight="normal", lines=3):
    """Lines of text no wider than ``width`` [pt]; the last is cut with an ellipsis if need be."""
    made, words = [], text.replace("/", "/ ").split()
    while words and len(made) < lines:
        line = words.pop(0)
        while words and text_width(f"{line} {words[0]}", size, weight) <= width:
            line = f"{line} {words.pop(0)}"
        if "-" in line and text_width(line, size, weight) > width:
            head, _, tail = line.partition("-")
            line, words = f"{head}-", [tail, *words]
        made.append(line)
    if words and made:
        made[-1] = f"{made[-1]}…"
    return [_narrow(line, width, size, weight) for line in made]


def _narrow(line, width, size, weight):
    while len(line) > 1 and text_width(line, size, weight) > width:
        line = f"{line.rstrip('…')[:-1]}…"
    return line


def spaced(wanted, heights, low, high):
    """Centres as near the wanted ones as labels of those heights allow, in order, inside limits.

    Parameters
    ----------
    wanted, heights : sequence of float, shape (n,), ascending wanted [pt]
    low, high : float, limits of the labels' edges [pt]

    Returns
    -------
    list of float, shape (n,)
    """
    placed = []
    edge = low
    for centre, height in zip(wanted, heights, strict=True):
        middle = max(centre, edge + height / 2)
        placed.append(middle)
        edge = middle + height / 2
    edge = high
    for index in reversed(range(len(placed))):
        placed[index] = min(placed[index], edge - heights[index] / 2)
        edge = placed[index] - heights[index] / 2
    return placed


class Canvas:
    """A Figure of ``width`` by ``height`` points; x runs right and y runs down from the corner."""

    def __init__(self, width, height):
        self.width, self.height = width, height
        self.family = use_in_matplotlib()
        self.figure = Figure(figsize=(width / 72, height / 72), facecolor=COLOURS["paper"])
        self.axes = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set(xlim=(0, width), ylim=(height, 0))
        self.axes.set_axis_off()
        self._order = 1.0

    def _next(self):
        self._order += 0.001
        return self._order

    def box(self, left, top, right, bottom, *, fill=None, edge=None, width=LINE["rule"], round=0):
        """A rectangle, its corners rounded by ``round`` [pt]."""
        look = {
            "facecolor": COLOURS[fill] if fill else "none",
            "edgecolor": COLOURS[edge] if edge else "none",
            "linewidth": width if edge else 0,
        }
        if round:
            patch = FancyBboxPatch(
                (left, top),
                right - left,
                bottom - top,
                boxstyle=f"round,pad=0,rounding_size={round}",
                **look,
            )
        else:
            patch = Rectangle((left, top), right - left, bottom - top, **look)
        self._add(patch)

    def area(self, points, fill):
        """A polygon of (x, y) points filled with a colour."""
        self._add(PathPatch(DrawnPath(points), facecolor=COLOURS[fill], linewidth=0))

    def line(self, x, y, *, colour="ink", width=LINE["rule"], dash=None, halo=0):
        """A line through points; ``halo`` [pt] of paper on both sides keeps it apart."""
        points = np.column_stack([x, y])
        if halo:
            self._stroke(points, "paper", width + 2 * halo, None)
        self._stroke(points, colour, width, dash)

    def _stroke(self, points, colour, width, dash):
        self._add(
            Line2D(
                *points.T,
                color=COLOURS[colour],
                linewidth=width,
                linestyle=(0, dash) if dash else "solid",
                solid_capstyle="butt",
                dash_capstyle="butt",
                solid_joinstyle="round",
            )
        )

    def _add(self, artist):
        artist.set_zorder(self._next())
        artist.set_clip_on(False)
        self.axes.add_artist(artist)

    def hatch(self, points, kind, *, colour="ink"):
        """Hatch a polygon of (x, y) points in one of the styles of ``style.HATCH``."""
        angles, spacing, width = HATCH[kind]
        points = np.asarray(points, dtype=np.float64)
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        reach = math.hypot(right - left, bottom - top) / 2 + spacing
        centre = np.array([(left + right) / 2, (top + bottom) / 2])
        strokes = []
        for angle in angles:
            along = np.array([math.cos(math.radians(angle)), -math.sin(math.radians(angle))])
            across = np.array([-along[1], along[0]])
            # counted from the sheet's corner, so that hatches of neighbours meet
            first = math.ceil((centre @ across - reach) / spacing)
            last = math.floor((centre @ across + reach) / spacing)
            for step in range(first, last + 1):
                middle = across * step * spacing + along * (centre @ along)
                strokes += [middle - along * reach, middle + along * reach]
        codes = [DrawnPath.MOVETO, DrawnPath.LINETO] * (len(strokes) // 2)
        lines = PathPatch(
            DrawnPath(strokes, codes), facecolor="none", edgecolor=COLOURS[colour], linewidth=width
        )
        self._add(lines)
        lines.set_clip_on(True)
        lines.set_clip_path(DrawnPath([*points, points[0]]), self.axes.transData)

    def hatch_box(self, left, top, right, bottom, kind, *, colour="ink"):
        """Hatch a rectangle."""
        if bottom - top > 0.2:
            self.hatch(
                [(left, top), (right, top), (right, bottom), (left, bottom)], kind, colour=colour
            )

    def text(
        self,
        x,
        y,
        text,
        size,
        *,
        colour="ink",
        weight="normal",
        align="left",
        base="middle",
        ground=None,
    ):
        """One line of text; ``ground`` paints a box of that colour behind it."""
        text = printable(text)
        if not text:
            return
        if ground:
            wide = text_width(text, size, weight)
            left = {"left": x, "center": x - wide / 2, "right": x - wide}[align]
            middle = {"middle": y, "top": y + 0.5 * size, "bottom": y - 0.5 * size}[base]
            self.box(
                left - 2,
                middle - 0.56 * size,
                left + wide + 2,
                middle + 0.56 * size,
                fill=ground,
                round=1.5,
            )
        # centred on the height of figures and capitals, which fonts' own centring is not
        drop = {"middle": 0.33, "top": 0.80, "bottom": -0.14}[base] * size
        self.axes.text(
            x,
            y + drop,
            text,
            fontsize=size,
            fontweight=weight,
            fontfamily=self.family,
            color=COLOURS[colour],
            ha=align,
            va="baseline",
            zorder=self._next(),
            parse_math=False,
        )

    def lines_of_text(self, x, y, lines, *, align="left", leading=1.16):
        """Lines of (text, size, weight, colour) downward from the top ``y``; returns the end."""
        for text, size, weight, colour in lines:
            self.text(
                x, y + 0.5 * size * leading, text, size, weight=weight, colour=colour, align=align
            )
            y += size * leading
        return y

    def badge(self, x, y, text, *, radius=6.6, fill="ink", colour="paper", size=9.0):
        """A number in a filled disc with a rim of paper."""
        self._add(
            Circle(
                (x, y), radius, facecolor=COLOURS[fill], edgecolor=COLOURS["paper"], linewidth=1.0
            )
        )
        self.text(x, y, text, size, weight="bold", colour=colour, align="center")


    def ring(self, x, y, radius):
        """An open circle with a rim of paper."""
        for edge, width in (("paper", 3.2), ("ink", 1.3)):
            look = {"facecolor": "none", "edgecolor": COLOURS[edge], "linewidth": width}
            self._add(Circle((x, y), radius, **look))


_FAMILIES = f"font-family: '{FAMILY}', '{FALLBACK}'; "


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
    text = stream.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r' d="[^"]*"', lambda match: re.sub(r"(\.\d\d)\d+", r"\1", match[0]), text)
    # matplotlib's own style sheet would reach every element of a page the drawing stands in
    text = re.sub(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>", "", text, count=1, flags=re.DOTALL)
    if not outlines:  # said once for the drawing, and no turn by nothing
        text = text.replace(_FAMILIES, "")
        text = re.sub(r' transform="rotate\(-0 [^"]*"', "", text)
        text = re.sub(r' ([xy])="(-?\d+\.\d\d)\d+"', r' \1="\2"', text)
        text = text.replace("<svg ", f'<svg style="{_FAMILIES.strip()}" ', 1)
    text = text.replace("<svg ", '<svg stroke-linejoin="round" stroke-linecap="butt" ', 1)
    if prefix:
        text = re.sub(r'\bid="', f'id="{prefix}', text)
        text = re.sub(r'(href="#|url\(#)', rf"\g<1>{prefix}", text)
    return text


def short_label(text, length=28):
    """A user's text cut for a figure's label."""
    return clip(printable(text), length)
