"""A strict papermill wrapper: a wrong name, type or cell stops the run with one readable line."""

import contextlib
import os
import re
import sys
import tempfile
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path

from lakekit.errors import NotebookError
from lakekit.store import write_whole

PLAIN_KERNEL = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}

_SCALARS = (str, int, float, bool, type(None))
_ANSI = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


def find_notebook(name):
    """Path of a notebook: a path that exists, or a name in lakekit's notebooks folder.

    Raises
    ------
    NotebookError
        When there is none; the nearest name is given.
    """
    path = Path(name)
    if path.suffix == ".ipynb" and path.is_file():
        return path.resolve()
    from lakekit.resources import notebooks_folder

    folder = notebooks_folder()
    found = folder / f"{path.stem}.ipynb"
    if path.parent == Path() and found.is_file():
        return found.resolve()
    known = sorted(entry.stem for entry in folder.glob("*.ipynb"))
    near = get_close_matches(path.stem, known, n=1)
    mend = f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(known) or 'none'}"
    raise NotebookError(f"no notebook {str(name)!r}", mend=mend)


def read_notebook(path):
    """Read a notebook that has exactly one cell tagged ``parameters``.

    Raises
    ------
    NotebookError
        When the file is no notebook, or has none or several such cells.
    """
    import nbformat

    path = Path(path)
    try:
        book = nbformat.read(path, as_version=4)
    except Exception as error:
        raise NotebookError(
            "not a notebook that can be read", where=path.name, mend=_one_line(error)
        ) from error
    tagged = [cell for cell in book.cells if "parameters" in cell.metadata.get("tags", [])]
    if len(tagged) != 1 or tagged[0].cell_type != "code":
        raise NotebookError(
            f"{len(tagged)} cells tagged 'parameters', must be one code cell",
            where=path.name,
            mend="Tag the cell that sets the parameters",
        )
    # a notebook saved without a kernel's name runs all the same: ours is Python
    book.metadata["kernelspec"] = dict(PLAIN_KERNEL)
    return book


def notebook_parameters(path):
    """Names and defaults, as written, of the parameters of a notebook, as a dict."""
    import papermill

    with _quiet_papermill():
        found = papermill.inspect_notebook(read_notebook(path))
    return {name: entry["default"] for name, entry in found.items()}


def check_parameters(path, parameters):
    """Refuse parameters that the notebook does not have, or values that would lose their type.

    Raises
    ------
    NotebookError
        Naming the nearest parameter, or the type of the value.
    """
    known = notebook_parameters(path)
    for name, value in parameters.items():
        if name not in known:
            near = get_close_matches(name, list(known), n=1)
            mend = f"Did you mean {near[0]!r}?" if near else f"It has {', '.join(known) or 'none'}"
            raise NotebookError(f"no parameter {name!r}", where=Path(path).name, mend=mend)
        if not _plain(value):
            raise NotebookError(
                f"parameter {name!r} is a {type(value).__name__}",
                where=Path(path).name,
                mend="Give text, a number, true, false, none, or lists and tables of these",
            )


def _plain(value):
    if isinstance(value, (list, tuple)):
        return all(map(_plain, value))
    if isinstance(value, dict):
        return all(isinstance(key, str) and _plain(item) for key, item in value.items())
    return type(value) in _SCALARS


def run_notebook(name, parameters, *, output=None, progress=None, tell=None, working_folder=None):
    """Run a notebook from the top with these parameters, on this interpreter's own kernel.

    Parameters
    ----------
    name : str or Path
        A path, or the name of one of lakekit's notebooks.
    parameters : dict
        Only names that its parameters cell has; values of plain types, which are kept.
    output : str or Path, optional
        Where to keep the executed notebook; it is kept nowhere else.
    progress : callable, optional
        Called as ``progress(done, cells, heading)`` before each cell that runs, and at the end.
    tell : callable, optional
        Called with each line that a cell prints, as it is printed.
    working_folder : str or Path, optional
        Folder the cells run in; the present one by default.

    Returns
    -------
    nbformat.NotebookNode
        The executed notebook.

    Raises
    ------
    NotebookError
        A wrong parameter, or a cell that failed: notebook, cell and cause in one line.
    """
    path = find_notebook(name)
    check_parameters(path, parameters)
    with (
        own_kernel() as kernel,
        _quiet_papermill(),
        tempfile.TemporaryDirectory(prefix="lk-") as sockets,
    ):
        how = {
            "engine_name": _engine(),
            "kernel_manager_class": _manager(sockets),
            "progress": progress,
            "cwd": str(working_folder or Path.cwd()),
        }
        book = _execute(path, parameters, kernel, tell, how)
    if output is not None:
        import nbformat

        write_whole(output, nbformat.writes(book))
    return book


class _Lines:
    """What a cell prints, passed on line by line."""

    def __init__(self, tell):
        self.tell, self.rest = tell, ""

    def write(self, text):
        *lines, self.rest = (self.rest + text).split("\n")
        for line in lines:
            self.tell(line)

    def flush(self):
        """Nothing is held back but the line that is not yet whole."""


def _execute(path, parameters, kernel, tell, how):
    import papermill
    from papermill.exceptions import PapermillExecutionError

    try:
        book = papermill.execute_notebook(
            read_notebook(path),
            None,
            parameters=dict(parameters),
            kernel_name=kernel,
            progress_bar=False,
            log_output=False,
            stdout_file=None if tell is None else _Lines(tell),
            **how,
        )
    except PapermillExecutionError as error:
        cause = f"{error.ename}: {error.evalue}" if error.ename else _last_line(error)
        place = f"{path.name}, cell {error.cell_index + 1}"
        if _users_own(error.ename):
            failed = NotebookError(f"{_one_line(_plain_cause(error.ename, cause))} [{place}]")
        else:
            failed = NotebookError(_one_line(cause), where=f"{place} ({_cell_words(error.source)})")
            failed.ours = True
        raise failed from None
    except Exception as error:
        raise NotebookError(
            _one_line(f"{type(error).__name__}: {error}"), where=path.name
        ) from error
    book.metadata["kernelspec"] = dict(PLAIN_KERNEL)
    book.metadata.pop("papermill", None)
    return book


def _users_own(kind):
    from lakekit import errors

    return isinstance(getattr(errors, kind or "", None), type)


def _plain_cause(kind, cause):
    # an error of lakekit's own already says what is wrong; its class name helps nobody
    return cause.partition(": ")[2] if _users_own(kind) and ": " in cause else cause


def _last_line(error):
    lines = [line for line in _ANSI.sub("", str(error)).splitlines() if line.strip()]
    return lines[-1] if lines else type(error).__name__


def _one_line(text):
    return " ".join(_ANSI.sub("", str(text)).split())[:400]


def _cell_words(source):
    lines = [line.strip() for line in (source or "").splitlines() if line.strip()]
    return lines[0][:60] if lines else "empty"


def _manager(sockets):
    """A kernel manager that talks through files, not through ports, wherever files can.

    A machine without any network may lack even its own loopback address, and on a shared one a
    port can be listened to; Windows has ports alone. ``sockets`` is a folder with a short name:
    the path of a socket may have 107 bytes, fewer than a home folder's can take.
    """
    from jupyter_client import AsyncKernelManager

    if os.name == "nt":
        return AsyncKernelManager

    class FileManager(AsyncKernelManager):
        def __init__(self, **options):
            super().__init__(**options)
            self.transport, self.ip = "ipc", f"{sockets}/s"

    return FileManager


@lru_cache(maxsize=1)
def _engine():
    """The name of our papermill engine, which tells of each cell as it starts."""
    from papermill.engines import NBClientEngine, papermill_engines

    class Telling(NBClientEngine):
        @classmethod
        def execute_managed_notebook(cls, nb_man, kernel_name, *, progress=None, **options):
            cells = [
                index
                for index, cell in enumerate(nb_man.nb.cells)
                if cell.cell_type == "code" and cell.source.strip()
            ]
            started = nb_man.cell_start

            def cell_start(cell, cell_index=None, **more):
                if progress and cell_index in cells:
                    progress(
                        cells.index(cell_index), len(cells), _heading(nb_man.nb.cells, cell_index)
                    )
                return started(cell, cell_index=cell_index, **more)

            nb_man.cell_start = cell_start
            result = super().execute_managed_notebook(nb_man, kernel_name, **options)
            if progress:
                progress(len(cells), len(cells), "done")
            return result

    papermill_engines.register("lakekit", Telling)
    return "lakekit"


def _heading(cells, index):
    for cell in reversed(cells[:index]):
        if cell.cell_type == "markdown":
            for line in cell.source.splitlines():
                if line.startswith("#"):
                    return line.lstrip("# ").strip()
    return "starting"


@contextlib.contextmanager
def own_kernel():
    """A kernel of this very interpreter, whatever else is called ``python3`` on the machine.

    A kernel specification in a temporary folder, first on Jupyter's path; where the home folder
    cannot be written, Jupyter's and IPython's own folders are temporary too.
    """
    import json

    name = "lakekit-own"
    with tempfile.TemporaryDirectory(prefix="lakekit-jupyter-") as folder, _environment() as put:
        spec = Path(folder) / "kernels" / name
        spec.mkdir(parents=True)
        (spec / "kernel.json").write_text(
            json.dumps(
                {
                    "argv": [
                        sys.executable,
                        "-P",  # no module is taken from the folder it runs in, here
                        "-m",
                        "ipykernel_launcher",
                        "--InteractiveShellApp.ignore_cwd=True",  # nor there
                        "--log-level=50",
                        "-f",
                        "{connection_file}",
                    ],
                    "display_name": "lakekit",
                    "language": "python",
                    "env": {
                        "MPLBACKEND": "module://matplotlib_inline.backend_inline",
                        "PYTHONSAFEPATH": "1",
                        "LAKEKIT_NOTEBOOK": "1",
                    },
                }
            )
        )
        put("JUPYTER_PATH", os.pathsep.join(filter(None, [folder, os.environ.get("JUPYTER_PATH")])))
        put("PYDEVD_DISABLE_FILE_VALIDATION", "1")
        if not _home_is_writable():
            for key in (
                "IPYTHONDIR",
                "JUPYTER_CONFIG_DIR",
                "JUPYTER_DATA_DIR",
                "JUPYTER_RUNTIME_DIR",
                "MPLCONFIGDIR",
            ):
                if not os.environ.get(key):
                    place = Path(folder) / key.lower()
                    place.mkdir()
                    put(key, str(place))
        yield name


@contextlib.contextmanager
def _environment():
    before = {}

    def put(key, value):
        before.setdefault(key, os.environ.get(key))
        os.environ[key] = value

    try:
        yield put
    finally:
        for key, value in before.items():
            if value is None:
                os.environ.pop(key, None)
            else:
                os.environ[key] = value


def _home_is_writable():
    try:
        with tempfile.TemporaryFile(dir=Path.home()):
            return True
    except (OSError, RuntimeError):
        return False


@contextlib.contextmanager
def _quiet_papermill():
    """Without papermill's log lines; what goes wrong is raised instead."""
    import logging

    loggers = [logging.getLogger(name) for name in ("papermill", "traitlets")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)
