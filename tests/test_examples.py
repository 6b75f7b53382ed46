"""The examples in docstrings say what comes out."""

import doctest
from importlib import import_module

import pytest

MODULES = (
    "lakekit.club", "lakekit.hazards", "lakekit.notebook.asked", "lakekit.tackle.drag",
    "lakekit.tackle.sink", "lakekit.trips.patterns.candidates", "lakekit.trips.patterns.pooled",
    "lakekit.units", "lakekit.weather.moon",
)  # fmt: skip


@pytest.mark.parametrize("name", MODULES)
def test_examples_run_as_they_stand(name):
    options = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE | doctest.IGNORE_EXCEPTION_DETAIL
    found = doctest.testmod(import_module(name), optionflags=options)
    assert found.attempted > 0
    assert found.failed == 0
