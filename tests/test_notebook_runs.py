"""Every notebook runs from the top: the quick ones through nbval, the reports through papermill."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import xarray as xr
from guide_helpers import short_demo

from lakekit.cli.main import main
from lakekit.notebook.display import written_paths
from lakekit.notebook.runner import run_notebook
from lakekit.store import load_dataset

ROOT = Path(__file__).resolve().parents[1]
BY_NBVAL = ("tackle", "trips")
BY_PAPERMILL = (
    "season", "briefing", "front", "day", "evidence", "patterns", "year", "what_if",
)  # fmt: skip


def test_every_notebook_is_run_one_way_or_the_other():
    found = {path.stem for path in (ROOT / "notebooks").glob("*.ipynb")}
    assert found == {*BY_NBVAL, *BY_PAPERMILL}


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    return short_demo(tmp_path_factory.mktemp("club"), years=2)


def test_the_explaining_notebooks_run_as_they_are(club, tmp_path):
    paths = [tmp_path / f"{name}.ipynb" for name in BY_NBVAL]
    for path in paths:  # on the demo with fewer years of weather
        text = (ROOT / "notebooks" / path.name).read_text(encoding="utf-8")
        demo = r'club_folder: str = \"\"'
        assert text.count(demo) == 1
        path.write_text(text.replace(demo, f"club_folder: str = '{club}'"), encoding="utf-8")
    cells = "-p no:cacheprovider --nbval-lax --nbval-cell-timeout=120 -q -o addopts="
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *cells.split(), *paths],
        cwd=ROOT, capture_output=True, text=True, check=False, env=os.environ,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:]
    passed = int(re.search(r"(\d+) passed", done.stdout).group(1))
    assert passed >= 12
    assert "Warning" not in done.stdout


def no_warnings(book):
    for cell in book.cells:
        for output in cell.get("outputs", ()):
            assert output.get("name") != "stderr", output.get("text")


def test_the_season_notebook_and_the_command_write_the_same_files(club, tmp_path):
    said = {"club_folder": str(club), "months": 2, "out": str(tmp_path / "notebook")}
    book = run_notebook("season", said)
    paths = written_paths(book)
    assert [path.suffix for path in paths] == [".pdf", ".html", ".json", ".nc"]
    no_warnings(book)
    asked = ["season", "--club", club, "--months", "2", "--out", tmp_path / "command"]
    assert main([str(word) for word in asked]) == 0
    differing = [
        path.suffix
        for path in paths[:3]
        if path.read_bytes() != (tmp_path / "command" / path.name).read_bytes()
    ]
    assert differing == []
    xr.testing.assert_identical(
        *(load_dataset(tmp_path / by / paths[3].name) for by in ("notebook", "command"))
    )


def test_the_evidence_notebook_runs_with_or_without_observations(tmp_path):
    book = run_notebook("evidence", {"observations": str(tmp_path / "nowhere")})
    assert "not on this machine" in str([cell.get("outputs") for cell in book.cells])
    no_warnings(book)


@pytest.mark.parametrize("month", ["2026-06", ""])
def test_the_briefing_notebook_writes_its_three_files(club, tmp_path, month):
    book = run_notebook(
        "briefing", {"club_folder": str(club), "month": month, "months": 2, "out": str(tmp_path)}
    )
    assert [path.suffix for path in written_paths(book)] == [".pdf", ".html", ".json"]
    assert all(path.exists() for path in written_paths(book))
    no_warnings(book)


def test_modules_that_lie_where_a_notebook_runs_are_not_run(tmp_path):
    for name in ("numpy", "lakekit", "pandas"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()")
    import nbformat

    book = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_code_cell("x = 1", metadata={"tags": ["parameters"]}),
            nbformat.v4.new_code_cell("import numpy, lakekit\nprint(numpy.arange(3).sum() + x)"),
        ]
    )
    path = tmp_path / "probe.ipynb"
    nbformat.write(book, path)
    told = []
    run_notebook(path, {"x": 2}, tell=told.append, working_folder=tmp_path)
    assert told == ["5"]
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize(
    ("name", "parameters", "words"),
    [
        ("patterns", {"only_lake": "Quarry Hollow Reservoir"}, "would have been found"),
        ("year", {"lakes": ["quarry-hollow"]}, "in every year alike"),
        ("what_if", {"change": "level", "amount": "6 ft"}, "level 6 ft lower"),
    ],
)
def test_the_looking_notebooks_draw_what_they_promise(club, name, parameters, words):
    book = run_notebook(name, {"club_folder": str(club), **parameters})
    outputs = [output for cell in book.cells for output in cell.get("outputs", ())]
    assert words in str([output.get("data") for output in outputs])
    if name != "patterns":
        assert sum("image/png" in output.get("data", {}) for output in outputs) >= 2
    no_warnings(book)
