"""What a notebook shows: figures at reading size, tables of words, and the files it wrote."""

import html
from itertools import count
from pathlib import Path

from lakekit.pages.canvas import svg_text

_DRAWINGS = count(1)
WRITTEN = "application/vnd.lakekit.written+json"


def show(figure, alt=""):
    """Show a figure in a notebook as a drawing, with its words for those who cannot see it.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    alt : str
        What the figure says.
    """
    from IPython.display import display

    # names inside a drawing must differ from those of the notebook's other drawings
    prefix = f"d{next(_DRAWINGS)}-"
    drawing = (
        f'<div role="img" aria-label="{html.escape(alt)}">{svg_text(figure, prefix=prefix)}</div>'
    )
    display({"text/html": drawing, "text/plain": alt or "figure"}, raw=True)


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
    items = "".join(f"<li><code>{html.escape(str(path))}</code></li>" for path in paths)
    display(
        {
            "text/html": f"<p>Written:</p><ul>{items}</ul>",
            "text/plain": "\n".join(str(path) for path in paths),
            WRITTEN: {"paths": [str(path) for path in paths]},
        },
        raw=True,
    )


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
