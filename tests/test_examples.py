"""The examples in docstrings say what comes out."""

import doctest
from importlib import import_module
from inspect import unwrap

import pytest
from guide_helpers import short_demo

import lakekit

MODULES = (
    "lakekit.hazards", "lakekit.notebook.asked", "lakekit.tackle.drag", "lakekit.tackle.sink",
    "lakekit.trips.patterns.candidates", "lakekit.trips.patterns.pooled", "lakekit.units",
    "lakekit.weather.moon",
)  # fmt: skip
OPTIONS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE | doctest.IGNORE_EXCEPTION_DETAIL
PUBLIC = [name for name in lakekit.__all__ if name != "__version__"]
ONLINE = {"fetch_forecast"}  # only the network could answer its example


@pytest.fixture(scope="module")
def at_hand(tmp_path_factory):
    """What examples go on from, as the package's own docstring lists it, of two years only."""
    place = tmp_path_factory.mktemp("examples")
    club = lakekit.read_club(short_demo(place / "club", years=2))
    lake, key = club.lakes["quarry-hollow"], "quarry-hollow"
    weather = lakekit.lake_weather(club, lake)
    knowledge = lakekit.gather(club, key)
    demo = lakekit.read_club()
    return {name: getattr(lakekit, name) for name in PUBLIC} | {
        "club": club, "lake": lake, "weather": weather, "knowledge": knowledge,
        "forcing": lakekit.prepare_forcing(weather, lake), "trips": knowledge.trips,
        "probe": lakekit.read_probe(demo.folder / "probe.csv", demo), "out": place / "out",
        "run": lakekit.simulate(lake, weather.sel(time=slice("2026-05-01", "2026-05-31"))),
        "guide": lakekit.season_guide(club, key, "2026-07", 1, knowledge=knowledge),
        "note": lakekit.front_note(club, key, knowledge=knowledge),
        "card": lakekit.day_card(club, key, "2026-07-04", knowledge=knowledge),
    }  # fmt: skip


@pytest.mark.parametrize("name", PUBLIC)
def test_each_public_name_has_an_example_that_runs(name, at_hand):
    thing = unwrap(getattr(lakekit, name))
    (test,) = doctest.DocTestFinder(recurse=False).find(thing, name, globs=dict(at_hand))
    skipped = [example for example in test.examples if doctest.SKIP in example.options]
    assert bool(skipped) == (name in ONLINE)
    assert test.examples
    assert doctest.DocTestRunner(optionflags=OPTIONS).run(test).failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_examples_run_as_they_stand(name, at_hand):
    found = doctest.testmod(import_module(name), extraglobs=dict(at_hand), optionflags=OPTIONS)
    assert found.attempted > 0
    assert found.failed == 0
