"""Mutation testing by sample: what share of small faults do a module's own tests find?

    uv pip install cosmic-ray
    nice .venv/bin/python tests/mutation.py [--each 16] [--seed 1] [MODULE ...]

A seeded sample of places in a module, one fault at each (an operator, a comparison, a number, a
branch), is put into a copy of the package, and the module's own tests run against it in a fork.
Compiled modules are tested uncompiled, against those of their tests that simulate nothing; the
time loop against tests of a few hours. What no test noticed is printed with its line. Not run in
CI.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

import hypothesis  # noqa: F401  the libraries are loaded once, before the forks
import numba  # noqa: F401
import pvlib  # noqa: F401
import pytest
import scipy.optimize
import scipy.stats  # noqa: F401
import statsmodels.api  # noqa: F401
import xarray  # noqa: F401
from cosmic_ray.ast import get_ast
from cosmic_ray.mutating import MutationVisitor
from cosmic_ray.plugins import get_operator, operator_names

ROOT = Path(__file__).resolve().parents[1]
os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # they take longer to load than most tests run
PURE = "\n\ndef compiled(function):\n    function.py_func = function\n    return function\n"
PINNED = "\n\nCACHE_FOLDER = Path({!r})\n"
NO_LOOP = """

def march(*arguments):
    import pytest

    pytest.skip("simulates")
"""
# module: its test files, and whether they need the compiled column
MODULES = {
    **{f"column/{name}": (f"test_{name}.py", False) for name in
       ("basin", "flow", "ice", "light", "mixing", "oxygen", "parameters", "surface", "water")},
    "column/hour": ("test_ice.py test_surface.py test_sunlight.py test_hour.py", False),
    "column/kernel": ("test_kernel.py", False),
    "column/run": ("test_run.py", True),
    "column/fit": ("test_fit.py", True),
    "column/readings": ("test_readings.py test_fit.py", True),
    "column/following/analysis": ("test_analysis.py test_follow.py", True),
    "column/following/follow": ("test_follow.py", True),
    "weather/sky": ("test_sky.py test_forcing.py", False),
    "weather/gaps": ("test_gaps.py test_forcing.py", False),
    **{f"strata/{name}": (f"test_{name}.py", True) for name in
       ("events", "indices", "odds", "reading_days", "recovery", "seasons", "spells", "tilt",
        "traces")},
    "strata/spread": ("test_spread.py test_seasons.py", True),
    "strata/profile": ("test_indices.py test_profile.py", False),
    "trips/rates": ("test_rates_by_hand.py test_rates.py test_rates_honesty.py", True),
    "trips/pooling": ("test_pooling.py test_rates_by_hand.py test_rates.py", True),
    "tackle/line": ("test_line.py", True),
}  # fmt: skip
ARITHMETIC, COMPARISONS = ("Add", "Sub", "Mul", "Div", "Pow"), ("Eq", "NotEq", "Lt", "LtE", "Gt",
                                                                "GtE")  # fmt: skip
# a star of another kind
NO_ARITHMETIC = ("parameters", "param", "argument", "arglist", "star_expr")


def is_used(name):
    """Whether a fault is one that a person might make: no bit operators on floats."""
    kind, *change = name.removeprefix("core/").split("_")
    if kind == "ReplaceBinaryOperator":
        return all(part in ARITHMETIC for part in change)
    if kind == "ReplaceComparisonOperator":
        return all(part in COMPARISONS for part in change)
    return kind in ("AddNot", "NumberReplacer", "ReplaceAndWithOr", "ReplaceOrWithAnd",
                    "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ZeroIterationForLoop",
                    "ReplaceBreakWithContinue") or name.endswith("Delete_USub")  # fmt: skip


def faults(source, *, each, seed):
    """A sample of (line, mutated source), one a place."""
    places = {}
    for name in filter(is_used, operator_names()):
        operator, count = get_operator(name)(), 0
        tree = get_ast(source)
        stack = [tree]
        while stack:
            node = stack.pop()
            stack += reversed(getattr(node, "children", []))
            for start, _ in operator.mutation_positions(node):
                if getattr(node.parent, "type", "") not in NO_ARITHMETIC:
                    places.setdefault(start, []).append((name, count))
                count += 1
    rng = random.Random(seed)
    chosen = rng.sample(sorted(places), min(each, len(places)))
    for start in sorted(chosen):
        name, occurrence = rng.choice(places[start])
        yield start[0], MutationVisitor.mutate_code(source, get_operator(name)(), occurrence)


def run(copy, tests, limit):
    """(exit code or None past the limit, seconds) of the tests against a copy of the package."""
    began, child = time.monotonic(), os.fork()
    if child == 0:
        signal.alarm(int(limit))
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        sys.path[:0] = [str(copy)]
        os.chdir(copy)
        known = [f"tests/{name}" for name in tests.split() if (copy / "tests" / name).exists()]
        os._exit(pytest.main([*known, "-x", "-q", "-p", "no:cacheprovider", "-o", "addopts="]))
    status = os.waitpid(child, 0)[1]
    code = os.WEXITSTATUS(status) if os.WIFEXITED(status) else None
    return code, time.monotonic() - began


def package_copy(folder, *, compiled, loop):
    """The package, its tests and its data in a folder; returns it."""
    for name in ("lakekit", "tests"):
        shutil.copytree(ROOT / name, folder / name)
    for name in ("data", "notebooks", "pyproject.toml"):
        (folder / name).symlink_to(ROOT / name)
    column = folder / "lakekit" / "column"
    with (column / "compiled.py").open("a") as file:
        file.write(PINNED.format(str(folder / "cache")) if compiled else PURE)
    if not (compiled or loop):
        with (column / "kernel.py").open("a") as file:
            file.write(NO_LOOP)
    return folder


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("modules", nargs="*", default=list(MODULES))
    parser.add_argument("--each", type=int, default=16)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copies = {}
        for module in asked.modules:
            tests, compiled = MODULES[module]
            loop = module == "column/kernel"
            if (compiled, loop) not in copies:
                where = Path(folder) / str(len(copies))
                copies[compiled, loop] = package_copy(where, compiled=compiled, loop=loop)
            copy = copies[compiled, loop]
            path = copy / "lakekit" / f"{module}.py"
            source, stamp = path.read_text(), path.stat()
            run(copy, tests, 600)  # compiles
            code, seconds = run(copy, tests, 600)
            if code != 0:
                print(f"{module}: its tests fail unchanged ({code})", flush=True)
                continue
            found = total = late = 0
            for line, mutant in faults(source, each=asked.each, seed=asked.seed):
                path.write_text(mutant)
                code, _ = run(copy, tests, max(20.0, 5.0 * seconds) + 60 * compiled)
                total, found, late = total + 1, found + (code != 0), late + (code is None)
                if code == 0:
                    changed = mutant.splitlines()[line - 1].strip()
                    print(f"  lives: {module}:{line} {changed}", flush=True)
            path.write_text(source)
            os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
            by = f", {late} of them past the time limit" if late else ""
            print(f"{module}: {found} of {total} found{by} ({seconds:.0f} s a run)", flush=True)


if __name__ == "__main__":
    main()
