"""Drawings in fewer bytes: the same picture, element by element and pixel by pixel."""

import io
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from sample_guide import sample_guide, sample_note

from lakekit.pages import figures
from lakekit.pages.canvas import Canvas
from lakekit.pages.documents import prepared
from lakekit.pages.fonts import typst_fonts
from lakekit.pages.style import HATCH
from lakekit.pages.svg import compact, plain_svg, svg_text


def guide():
    return prepared(sample_guide(months=3))


def drawn(kind):
    if kind == "column":
        return figures.water_column_figure(guide()["months"][2], guide())
    if kind == "phone":
        return figures.water_column_figure(guide()["months"][2], guide(), form="phone")
    if kind == "strip":
        return figures.season_strip_figure(guide())
    note = prepared(sample_note())
    return figures.front_figure(note["before"], note["after"], note)


def grey(svg, size=720.0):
    """The picture as a typesetter of its own draws it, shape (rows, columns), 0 black to 1."""
    import typst
    from matplotlib.image import imread

    page = (
        f"#set page(width: {size}pt, height: auto, margin: 0pt)\n"
        '#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    )
    made = typst.compile(
        page.encode(), font_paths=typst_fonts(), ignore_system_fonts=True, format="png",
        ppi=144.0, sys_inputs={"svg": svg},
    )  # fmt: skip
    fine = imread(io.BytesIO(made))[..., :3] @ [0.2126, 0.7152, 0.0722]
    rows, columns = (size // 2 for size in fine.shape)
    return fine[: 2 * rows, : 2 * columns].reshape(rows, 2, columns, 2).mean(axis=(1, 3))


@pytest.mark.parametrize(
    ("kind", "outlines"),
    [("column", True), ("column", False), ("phone", False), ("strip", False), ("front", False)],
)
def test_the_picture_stays_and_the_bytes_go(kind, outlines):
    figure = drawn(kind)
    plain, short = plain_svg(figure, outlines=outlines), svg_text(figure, outlines=outlines)
    before, after = grey(plain), grey(short)
    assert before.shape == after.shape
    assert (before < 0.5).mean() > 0.02
    # an edge a hundredth of a point off may turn one step of the rasteriser's coverage: a quarter
    # of a fine pixel, an eighth of the two that are averaged
    assert np.abs(before - after).max() < 0.125
    assert np.abs(before - after).mean() < 0.001
    assert len(short) < 0.7 * len(plain)


def test_a_moved_line_is_seen():
    figure = drawn("column")
    short = svg_text(figure, outlines=False)
    moved = re.sub(r'd="M(\d+)', lambda hit: f'd="M{int(hit[1]) + 2}', short)
    assert np.abs(grey(short) - grey(moved)).max() > 0.3


def test_steps_close_and_turn_as_the_points_did():
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g id="a"><path d="M 1 2 \nL 3 2 \nL 3 4.126 \n'
        'z\nM 10 10 \nQ 11 11 12.5 10 \nC 1 2 3 4 0.5 -0.25 \nL 1.5 0.75 \n" style="fill: red"/>'
        "</g></svg>"
    )
    (path,) = ElementTree.fromstring(compact(text))
    assert path.get("d") == "M1 2h2v2.13zm9 8q1 1 2.5 0c-11.5-8-9.5-6-12-10.25l1 1"
    assert path.get("style") == "fill:red"


def test_only_strokes_drawn_alike_become_one():
    def path(style):
        return f'<g id="x"><path d="M 0 0 \nL 1 1 \n" style="{style}"/></g>'

    thin, thick = "fill: none; stroke: red", "fill: none; stroke: red; stroke-width: 2"
    dashed, filled = "fill: none; stroke-dasharray: 1,1", "fill: red"
    body = "".join(map(path, (thin, thin, thick, dashed, dashed, filled, filled)))
    made = ElementTree.fromstring(
        compact(f'<svg xmlns="http://www.w3.org/2000/svg">{body}</svg>')
    )
    assert [element.get("d") for element in made] == ["M0 0l1 1M0 0l1 1", *["M0 0l1 1"] * 5]


def hatched(points):
    """The strokes of a hatched polygon, shape (n, 2, 2), and their length together."""
    canvas = Canvas(100.0, 100.0)
    canvas.hatch(points, "ground")
    (lines,) = canvas.figure.artists
    ends = np.asarray(lines.get_path().vertices).reshape(-1, 2, 2)
    return ends, np.hypot(*np.diff(ends, axis=1)[:, 0].T).sum()


@pytest.mark.parametrize(
    "points",
    [
        [(10, 10), (80, 10), (80, 60), (10, 60)],
        [(10, 10), (80, 10), (80, 60), (60, 20), (10, 60)],  # a notch from below
    ],
)
def test_hatches_fill_the_polygon_and_nothing_beyond(points):
    # lines at a spacing s cover an area A with a total length near A / s
    from matplotlib.path import Path

    ends, length = hatched(points)
    x, y = np.array(points, dtype=float).T
    area = abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    assert length == pytest.approx(area / HATCH["ground"][1], rel=0.03)
    inside = Path(points).contains_points(ends.mean(axis=1), radius=1e-6)
    assert inside.all()
