"""The strict notebook wrapper: wrong names, wrong cells and foreign kernels are caught."""

import json
import os
import sys
from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from lakekit.errors import NotebookError
from lakekit.notebook import runner as notebooks


def _write(folder, *, body="result = (lake, count, flag)", tags=1, name="small.ipynb"):
    cells = [new_markdown_cell("# A small notebook")]
    for _ in range(tags):
        cells.append(
            new_code_cell(
                'lake = "marl"\ncount = 3\nflag = True', metadata={"tags": ["parameters"]}
            )
        )
    cells += [new_markdown_cell("## The work"), new_code_cell(body)]
    path = folder / name
    nbformat.write(new_notebook(cells=cells), path)
    return path


SHOW = "import json, sys; print(json.dumps([lake, count, flag, sys.executable]))"


def _printed(book):
    texts = [
        output["text"]
        for cell in book.cells
        if cell.cell_type == "code"
        for output in cell.outputs
        if output.output_type == "stream"
    ]
    return json.loads(texts[-1])


def test_types_are_kept_progress_told_and_nothing_left(tmp_path):
    path = _write(tmp_path, body=SHOW)
    told = []
    book = notebooks.run_notebook(
        path, {"flag": False, "count": 2.5}, progress=lambda *a: told.append(a)
    )
    assert _printed(book) == ["marl", 2.5, False, sys.executable]
    assert [entry[0] for entry in told] == list(range(len(told)))
    assert told[-1] == (told[-1][1], told[-1][1], "done")
    assert told[-2][2] == "The work"
    assert [entry.name for entry in tmp_path.iterdir()] == ["small.ipynb"]


def test_executed_notebook_is_kept_where_asked(tmp_path):
    path = _write(tmp_path)
    kept = tmp_path / "out" / "kept.ipynb"
    notebooks.run_notebook(path, {}, output=kept)
    book = nbformat.read(kept, as_version=4)
    assert all(cell.execution_count for cell in book.cells if cell.cell_type == "code")


def test_a_foreign_python3_kernel_is_not_used(tmp_path, monkeypatch):
    spec = tmp_path / "jupyter" / "kernels" / "python3"
    spec.mkdir(parents=True)
    (spec / "kernel.json").write_text(
        json.dumps(
            {
                "argv": ["/bin/false", "{connection_file}"],
                "display_name": "trap",
                "language": "python",
            }
        )
    )
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path / "jupyter"))
    book = notebooks.run_notebook(_write(tmp_path, body=SHOW), {})
    assert _printed(book)[3] == sys.executable
    assert os.environ["JUPYTER_PATH"] == str(tmp_path / "jupyter")


def test_runs_where_the_home_folder_cannot_be_written(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", "/proc/nowhere")
    monkeypatch.setenv("USERPROFILE", "/proc/nowhere")
    for name in ("IPYTHONDIR", "JUPYTER_RUNTIME_DIR"):
        monkeypatch.delenv(name, raising=False)
    assert _printed(notebooks.run_notebook(_write(tmp_path, body=SHOW), {}))[0] == "marl"


def test_unknown_parameter_names_the_nearest(tmp_path):
    with pytest.raises(
        NotebookError, match=r"small.ipynb: no parameter 'cuont'. Did you mean 'count'"
    ):
        notebooks.run_notebook(_write(tmp_path), {"cuont": 1})


def test_value_that_would_lose_its_type_is_refused(tmp_path):
    with pytest.raises(NotebookError, match=r"'lake' is a PosixPath|'lake' is a WindowsPath"):
        notebooks.run_notebook(_write(tmp_path), {"lake": Path("x")})


@pytest.mark.parametrize("tags", [0, 2])
def test_exactly_one_parameters_cell(tmp_path, tags):
    with pytest.raises(NotebookError, match=f"{tags} cells tagged 'parameters'"):
        notebooks.run_notebook(_write(tmp_path, tags=tags), {})


def test_failing_cell_gives_notebook_cell_and_cause_in_one_line(tmp_path):
    body = (
        "from lakekit.errors import ClubError\n"
        'raise ClubError("no lake\\n marsh", where="club.toml")'
    )
    with pytest.raises(NotebookError) as caught:
        notebooks.run_notebook(_write(tmp_path, body=body), {})
    message = str(caught.value)
    assert "\n" not in message
    assert message == "club.toml: no lake marsh [small.ipynb, cell 4]"


def test_what_a_cell_prints_is_told_line_by_line(tmp_path):
    told = []
    path = _write(tmp_path, body="print('one')\nprint('two')")
    notebooks.run_notebook(path, {}, tell=told.append)
    assert told == ["one", "two"]


def test_a_kernel_that_dies_is_told_in_one_line(tmp_path):
    with pytest.raises(NotebookError) as caught:
        notebooks.run_notebook(_write(tmp_path, body="import os; os._exit(3)"), {})
    assert "\n" not in str(caught.value)
    assert "small.ipynb" in str(caught.value)


def test_unknown_notebook_names_what_there_is(tmp_path, monkeypatch):
    _write(tmp_path, name="season.ipynb")
    monkeypatch.setattr("lakekit.resources.notebooks_folder", lambda: tmp_path)
    assert notebooks.find_notebook("season") == (tmp_path / "season.ipynb").resolve()
    with pytest.raises(NotebookError, match=r"no notebook 'saeson'\. Did you mean 'season'\?"):
        notebooks.find_notebook("saeson")


def test_a_notebook_saved_without_a_kernel_name_runs_and_gets_the_plain_one(tmp_path):
    book = notebooks.run_notebook(_write(tmp_path), {})
    assert book.metadata["kernelspec"]["name"] == "python3"


def test_a_file_that_is_no_notebook_is_told(tmp_path):
    path = tmp_path / "broken.ipynb"
    path.write_text("{ not json")
    with pytest.raises(NotebookError, match=r"broken.ipynb: not a notebook"):
        notebooks.run_notebook(path, {})
