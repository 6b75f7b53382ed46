"""A report by its notebook, which is then kept beside it with all that it showed."""

import tempfile
from pathlib import Path

from lakekit.cli.terminal import say


def add_notebook(command):
    """The option of a command whose report has a notebook of the same name."""
    command.add_argument(
        "--notebook", action="store_true",
        help="run the notebook of this name instead, and keep it beside the report",
    )  # fmt: skip


def by_notebook(options, name, parameters, *, kept):
    """Run one notebook on the options' club and output folder.

    Parameters
    ----------
    options : argparse.Namespace
    name : str
        Of one of lakekit's notebooks.
    parameters : dict
        Its parameters, without the club's and the output folder.
    kept : str
        Stem of the file that the executed notebook is kept in.

    Returns
    -------
    list of str
        Paths of what it wrote, and of itself.
    """
    from lakekit.notebook.display import written_paths
    from lakekit.notebook.runner import run_notebook
    from lakekit.store import check_folder

    out = check_folder(options.out)
    path, told = out / f"{kept}.ipynb", []

    def step(done, cells, heading):
        if done < cells and heading not in told:
            told.append(heading)
            say(f"  {heading}")

    club = str(Path(options.club).absolute()) if options.club else ""
    with say.clock(), tempfile.TemporaryDirectory(prefix="lakekit-work-") as neutral:
        # nothing that lies in the club's folder, or in this one, is settings or code for us
        book = run_notebook(
            name, {"club_folder": club, "out": str(out), **parameters}, output=path,
            progress=step, tell=lambda line: say(f"    {line}"), working_folder=neutral,
        )  # fmt: skip
    return [*map(str, written_paths(book)), str(path)]
