"""The house rules that a machine can check: layers, lengths, lint, notebooks without outputs."""

import ast
import re
import subprocess
import sys
from collections import Counter
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted((ROOT / "lakekit").rglob("*.py"))
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

# Arrows run downward only: a part may import from itself or from a later line.
LEVELS = [
    {"__main__"},
    {"cli", "bench"},
    {"many", "notebook"},
    {"pages"},
    {"guide"},
    {"fronts"},
    {"waters"},
    {"tactics"},
    {"trips", "tackle", "strata", "hazards"},
    {"column"},
    {"weather"},
    {
        "club",
        "lakefile",
        "lakes_table",
        "depth_area",
        "probe",
        "store",
        "resources",
        "fields",
        "records",
        "inputs",
    },
    {"units", "constants", "errors", "shown", "progress"},
]
LEVEL = {name: number for number, names in enumerate(LEVELS) for name in names}
MOST_MODULES, MOST_LINES, LONGEST_FUNCTION = 16, 500, 80


def part(name):
    """The part of the package that a dotted module name lies in; empty for the package itself."""
    return name.partition(".")[2].partition(".")[0]


def module_name(path):
    """Dotted name of a module's file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(source, path):
    """Dotted names of the package's own modules that a source imports, relative ones resolved."""
    package = module_name(path).split(".")
    if path.name != "__init__.py":
        package = package[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*package[: len(package) - node.level + 1], *filter(None, [base])])
            if base == "lakekit" or base.startswith("lakekit."):
                yield from (f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.startswith("lakekit"))


def upward(source, path):
    """Imports that run against the arrows."""
    own = part(module_name(path))
    others = {part(name) for name in imported(source, path)} & set(LEVEL)
    return sorted(other for other in others if LEVEL[other] < LEVEL[own])


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_run_one_way(path):
    name = part(module_name(path))
    if not name:
        return
    assert name in LEVEL, f"give {name} a level in this test and in DEVELOPERS.md"
    assert upward(path.read_text(encoding="utf-8"), path) == []


@pytest.mark.parametrize(
    "line",
    ["from ..pages import pdf", "from .. import guide", "from lakekit import cli",
     "import lakekit.bench.rates", "from ..guide.words import date_text"],
)  # fmt: skip
def test_an_upward_import_is_seen_however_it_is_written(line):
    assert upward(line, ROOT / "lakekit" / "column" / "run.py")
    assert not upward("from .basin import make_basin", ROOT / "lakekit" / "column" / "run.py")


def test_no_circle_between_modules():
    names = {module_name(path): path for path in MODULES}
    arrows = {
        name: {
            found
            for wanted in at_import(path)
            if (found := wanted if wanted in names else wanted.rpartition(".")[0]) in names
        }
        for name, path in names.items()
    }
    try:
        list(TopologicalSorter(arrows).static_order())
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def at_import(path):
    """What a module imports when it is itself imported: not what its functions import later."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    later = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    inside = {id(node) for function in later for node in ast.walk(function)}
    kept = [
        ast.unparse(node)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Import, ast.ImportFrom)) and id(node) not in inside
    ]
    # a package's own __init__ is no module that its parts wait for
    return [name for name in imported("\n".join(kept), path) if name.count(".") > 1]


def test_no_folder_has_too_many_modules():
    counts = Counter(path.parent for path in MODULES if not path.name.startswith("__"))
    assert {str(folder): n for folder, n in counts.items() if n > MOST_MODULES} == {}


def test_no_function_is_too_long():
    long = {}
    for path in MODULES:
        if path.name == "kernel.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                first = node.body[1] if ast.get_docstring(node) and node.body[1:] else node.body[0]
                lines = node.end_lineno - first.lineno + 1
                if lines > LONGEST_FUNCTION:
                    long[f"{path.name}:{node.name}"] = lines
    assert long == {}


def test_no_module_is_too_long():
    lengths = {str(p.relative_to(ROOT)): len(p.read_text().splitlines()) for p in MODULES}
    assert {name: n for name, n in lengths.items() if n > MOST_LINES} == {}


def test_ruff_finds_nothing():
    result = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "lakekit", "tests", "data"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
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
    assert {path.stem for path in NOTEBOOKS} >= {
        "season",
        "front",
        "briefing",
        "trips",
        "tackle",
        "evidence",
    }


def test_every_public_name_is_there():
    import lakekit

    assert {name: getattr(lakekit, name) for name in lakekit.__all__}
    assert set(lakekit.__all__) <= set(dir(lakekit))
    # a name that a room of the package has too would be the room once that is imported
    rooms = {path.stem for path in (ROOT / "lakekit").iterdir()}
    assert not rooms & set(lakekit.__all__)
    with pytest.raises(AttributeError, match="nothing_such"):
        lakekit.nothing_such  # noqa: B018
