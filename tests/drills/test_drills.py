"""A sample of the drills of every group, and the drill itself put to the test."""

import os

import pytest

from lakekit.bench import drills

CASES = 18  # a group
SEED = 20261126

pytestmark = [
    pytest.mark.drills,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork"),
]


@pytest.fixture(scope="module", autouse=True)
def warm():
    drills._warm_up()


@pytest.mark.parametrize("group", drills.GROUPS)
def test_every_fault_of_a_group_is_met(group):
    faults = {number: drills.drill(SEED, number, group) for number in range(CASES)}
    assert {number: fault for number, fault in faults.items() if fault} == {}


@pytest.mark.parametrize(
    ("ending", "words"),
    [
        (lambda *_: 1 / 0, "ZeroDivisionError"),
        (lambda *_: os.kill(os.getpid(), 9), "ended by signal 9"),
        (lambda *_: os._exit(0), "ended without an answer"),
        (lambda *_: 1, "status 1"),
        (lambda *_: 2, "status 2 without a message"),
        (lambda *_: print("\x1b[2J") or 0, "a control character"),
        (lambda *_: print("Traceback (most recent call last)") or 0, "traceback"),
        (lambda *_: print("x" * 5000) or 0, "a line without end"),
        (lambda *_: bytearray(8 * drills.MEMORY) and 0, "MemoryError"),
    ],
)
def test_a_drill_sees_what_goes_wrong(monkeypatch, ending, words):
    monkeypatch.setattr(drills, "_meet", ending)
    assert words in drills.drill(SEED, 0, "club")


def test_a_drill_ends_what_does_not_end(monkeypatch):
    def endless(*_):
        while True:
            pass

    monkeypatch.setattr(drills, "SECONDS", 1)
    monkeypatch.setattr(drills, "_meet", endless)
    assert "ended by signal" in drills.drill(SEED, 0, "club")


def test_a_drill_counts_the_rows_of_a_log(monkeypatch):
    from lakekit.trips import sheet

    whole = sheet.cut_rows
    monkeypatch.setattr(sheet, "cut_rows", lambda *a, **o: whole(*a, **o)[:10])
    faults = [drills.drill(SEED, number, "log") for number in range(6)]
    assert any("rows read" in fault for fault in faults)


def test_the_same_seed_makes_the_same_faults():
    from random import Random

    from lakekit.bench.drills import faults

    table = drills._DEPTHS.encode()
    assert faults.odd_table(table, Random("a")) == faults.odd_table(table, Random("a"))
    assert faults.odd_table(table, Random("a")) != faults.odd_table(table, Random("b"))
