"""A drawing sheet in points on a matplotlib Figure: text that is measured, hatching that is lines.

Hatches are drawn as lines of a set spacing and width, so that they look alike on a screen, in a
PDF and after a photocopier, which matplotlib's own hatches do not.
"""

import math
import re
from functools import lru_cache
from threading import get_ident

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, FancyBboxPatch, PathPatch, Rectangle
from matplotlib.path import Path as DrawnPath
from matplotlib.transforms import Affine2D

from lakekit.pages.fonts import clip, font_files, printable, use_in_matplotlib
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


def _ends(points, along, side):
    """Where a line enters and leaves a polygon, as distances along it, in pairs.

    ``points`` has shape (n, 2); ``side`` (n,) is their distance from the line, with its sign.
    """
    after, side_after = np.roll(points, -1, axis=0), np.roll(side, -1)
    crossed = (side < 0) != (side_after < 0)
    share = side[crossed] / (side - side_after)[crossed]
    return np.sort((points[crossed] + share[:, None] * (after - points)[crossed]) @ along)


class Canvas:
    """A Figure of ``width`` by ``height`` points; x runs right and y runs down from the corner."""

    def __init__(self, width, height):
        self.width, self.height = width, height
        self.family = use_in_matplotlib()
        self.figure = Figure(figsize=(width / 72, height / 72), facecolor=COLOURS["paper"])
        down = Affine2D().scale(1 / 72, -1 / 72).translate(0, height / 72)
        self.points = down + self.figure.dpi_scale_trans
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

    def strokes(self, ends, *, colour="ink", width=LINE["rule"]):
        """Many straight lines drawn alike, as one: ``ends`` are (x, y) points, two a line."""
        if not ends:
            return
        codes = [DrawnPath.MOVETO, DrawnPath.LINETO] * (len(ends) // 2)
        look = {"facecolor": "none", "edgecolor": COLOURS[colour], "linewidth": width}
        self._add(PathPatch(DrawnPath(ends, codes), capstyle="butt", **look))

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
        artist.set(zorder=self._next(), transform=self.points)
        self.figure.add_artist(artist)

    def hatch(self, points, kind, *, colour="ink"):
        """Hatch a polygon of (x, y) points in one of the styles of ``style.HATCH``."""
        angles, spacing, width = HATCH[kind]
        points = np.asarray(points, dtype=np.float64)
        strokes = []
        for angle in angles:
            along = np.array([math.cos(math.radians(angle)), -math.sin(math.radians(angle))])
            across = np.array([-along[1], along[0]])
            reach = points @ across
            # counted from the sheet's corner, so that hatches of neighbours meet
            for step in range(math.ceil(reach.min() / spacing), 1 + int(reach.max() // spacing)):
                middle = across * step * spacing
                ends = _ends(points, along, reach - step * spacing)
                strokes += [middle + along * end for end in ends]
        self.strokes(strokes, colour=colour, width=width)

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
        self.figure.text(
            x,
            y + drop,
            text,
            transform=self.points,
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


def short_label(text, length=28):
    """A user's text cut for a figure's label."""
    return clip(printable(text), length)


def spoken(text):
    """A drawing's words for a voice: 8 to 11 for 8–11, degrees for the sign.

    A PDF writes plain letters in a quarter of the bytes.
    """
    return re.sub(r"(?<=\d)–(?=\d)", " to ", text).replace("°", "degrees ")
