"""What a notebook shows: figures at reading size, tables of words, and the files it wrote."""

import base64
import html
import io
import os
from pathlib import Path
from urllib.parse import quote

from lakekit.pages.svg import svg_text

PNG_DENSITY = 144
WRITTEN = "application/vnd.lakekit.written+json"


def show(figure, alt=""):
    """Show a figure in a notebook as a drawing, with its words for those who cannot see it.

    The drawing stands in an image element, which a notebook that is not trusted shows as well; a
    PNG goes with it for programs that show no SVG.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    alt : str
        What the figure says.
    """
    from IPython.display import display

    drawing = base64.b64encode(svg_text(figure).encode()).decode()
    picture = io.BytesIO()
    figure.savefig(picture, format="png", dpi=PNG_DENSITY)
    display(
        {
            "text/html": f'<img style="max-width:100%" alt="{html.escape(alt)}" '
            f'src="data:image/svg+xml;base64,{drawing}">',
            "image/png": base64.b64encode(picture.getvalue()).decode(),
            "text/plain": alt or "figure",
        },
        raw=True,
    )


def show_each(parts):
    """Show figures one under the other, each with its lines above it.

    Parameters
    ----------
    parts : iterable of (sequence of str, matplotlib.figure.Figure, str)
        Lines, figure, and what it says.
    """
    for lines, figure, alt in parts:
        if lines:
            show_lines(lines)
        show(figure, alt)


def explore(draw, **choices):
    """Draw with the first of each choice, or, with ipywidgets (``lakekit[explore]``), with any.

    In a notebook that a command runs, the first of each is drawn.

    Parameters
    ----------
    draw : callable
        Takes one value of each choice by name.
    **choices : list
        What may be chosen, the first being the start.
    """
    try:
        if os.environ.get("LAKEKIT_NOTEBOOK"):
            raise ImportError  # nobody is there to choose, and widgets have stopped such runs
        from ipywidgets import Dropdown, interact
    except ImportError:
        return draw(**{name: values[0] for name, values in choices.items()})
    interact(draw, **{name: Dropdown(options=values) for name, values in choices.items()})
    return None


def show_rows(rows):
    """Show (label, text) rows as a two-column table."""
    from IPython.display import display

    cells = "".join(
        f'<tr><th scope="row" style="text-align:left">{html.escape(str(label))}</th>'
        f'<td style="text-align:left">{html.escape(str(text))}</td></tr>'
        for label, text in rows
    )
    plain = "\n".join(f"{label}: {text}" for label, text in rows)
    display({"text/html": f"<table>{cells}</table>", "text/plain": plain}, raw=True)


def show_lines(lines):
    """Show sentences, one a line."""
    from IPython.display import display

    body = "".join(f"<p>{html.escape(line)}</p>" for line in lines)
    display({"text/html": body, "text/plain": "\n".join(lines)}, raw=True)


def show_written(paths):
    """Show which files a notebook wrote, and leave their paths in its last output.

    Parameters
    ----------
    paths : sequence of path
    """
    from IPython.display import display

    paths = [Path(path) for path in paths]
    items = "".join(f"<li>{_link(path)}</li>" for path in paths)
    display(
        {
            "text/html": f"<p>Written:</p><ul>{items}</ul>",
            "text/plain": "\n".join(str(path) for path in paths),
            WRITTEN: {"paths": [str(path) for path in paths]},
        },
        raw=True,
    )


def _link(path):
    # a notebook's page finds files beside itself, not those of the whole disk
    try:
        near = Path(os.path.relpath(path)).as_posix()
    except ValueError:  # another drive
        near = path.as_posix()
    return f'<a href="{html.escape(quote(near))}" target="_blank">{html.escape(str(path))}</a>'


def show_table(head, rows):
    """Show rows of text under a head.

    Parameters
    ----------
    head : sequence of str
    rows : sequence of sequence of str
    """
    from IPython.display import display

    line = "<tr>{}</tr>".format
    top = line("".join(f'<th scope="col">{html.escape(str(cell))}</th>' for cell in head))
    body = "".join(
        line(f'<th scope="row">{html.escape(str(first))}</th>'
             + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in rest))
        for first, *rest in rows
    )  # fmt: skip
    plain = "\n".join(" | ".join(map(str, row)) for row in [head, *rows])
    display(
        {"text/html": f"<table><thead>{top}</thead><tbody>{body}</tbody></table>",
         "text/plain": plain},
        raw=True,
    )  # fmt: skip


def written_paths(book):
    """Paths that an executed notebook left with :func:`show_written`, in order.

    Parameters
    ----------
    book : nbformat.NotebookNode

    Returns
    -------
    list of pathlib.Path
    """
    return [
        Path(path)
        for cell in book.cells
        for output in cell.get("outputs", ())
        for path in output.get("data", {}).get(WRITTEN, {}).get("paths", ())
    ]
