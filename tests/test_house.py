"""The house rules that a machine can check: layers, lengths, lint, notebooks without outputs."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted((ROOT / "lakekit").rglob("*.py"))
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

# Arrows run downward only: a module may import from its own level or a later one.
LEVELS = [
    {"cli", "cli_tackle", "bench"},
    {"report"},
    {"tactics"},
    {"trips", "tackle", "strata", "hazards"},
    {"column"},
    {"weather"},
    {"club", "lakefile", "depth_area", "probe", "store", "resources", "fields", "records"},
    {"units", "constants", "errors"},
]
LEVEL = {name: number for number, names in enumerate(LEVELS) for name in names}


def top_name(path):
    return path.relative_to(ROOT / "lakekit").parts[0].removesuffix(".py")


def imported(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("lakekit."):
            yield node.module.split(".")[1]
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("lakekit."):
                    yield alias.name.split(".")[1]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_run_one_way(path):
    name = top_name(path)
    if name == "__init__":
        return
    assert name in LEVEL, f"give {name} a level in this test and in DEVELOPERS.md"
    for other in imported(path):
        assert LEVEL[other] >= LEVEL[name], f"{name} must not import {other}"


def test_no_module_is_over_500_lines():
    lengths = {str(p.relative_to(ROOT)): len(p.read_text().splitlines()) for p in MODULES}
    assert {name: n for name, n in lengths.items() if n > 500} == {}


def test_ruff_finds_nothing():
    result = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "lakekit", "tests", "data"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )
    assert result.returncode == 0, result.stdout


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_notebooks_are_clean(path):
    book = nbformat.read(path, as_version=4)
    code = [cell for cell in book.cells if cell.cell_type == "code"]
    tagged = [c for c in code if "parameters" in c.metadata.get("tags", [])]
    assert len(tagged) == 1
    assert not any(cell.outputs or cell.execution_count for cell in code)
    for cell in code:
        assert not re.search(r"^\s*(def|class|for|while|if|try)\b", cell.source, re.MULTILINE)


def test_there_are_notebooks():
    assert {path.stem for path in NOTEBOOKS} >= {"season", "front", "briefing", "trips", "tackle",
                                                 "evidence"}


def test_every_public_name_is_there():
    import lakekit

    assert {name: getattr(lakekit, name) for name in lakekit.__all__}
    assert set(lakekit.__all__) <= set(dir(lakekit))
    with pytest.raises(AttributeError, match="nothing_such"):
        lakekit.nothing_such  # noqa: B018
