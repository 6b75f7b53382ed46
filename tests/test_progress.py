"""How far a long computation has come: told while it runs, and never part of what it computes."""

import io
import re
import threading

import pytest
import xarray as xr
from column_lakes import small_lake, weather

from lakekit import progress
from lakekit.cli import terminal
from lakekit.cli.terminal import Sayer, safe_streams
from lakekit.column import simulate
from lakekit.progress import counted, listening, passing, patience
from lakekit.waters.kept import kept

YEARS = re.compile(r"(\d+(?:\.\d)?) years so far")


def years(told):
    return [float(YEARS.fullmatch(text)[1]) for text in told if text is not None]


@pytest.mark.parametrize("members", [1, 3])
def test_a_run_tells_its_years_and_computes_the_same(monkeypatch, members):
    monkeypatch.setattr(progress, "EVERY", 0.001)
    forcing, told = weather(2 * 8766), []
    silent = simulate(small_lake(), forcing, members=members)
    with listening(told.append):
        heard = simulate(small_lake(), forcing, members=members)
    assert told.pop() is None
    said = years(told)
    assert said == sorted(said) and 0.0 < said[0] <= said[-1] == 2.0
    xr.testing.assert_identical(heard, silent)


def test_runs_of_one_kept_work_add_up_and_the_next_begins_anew(tmp_path):
    forcing, told = weather(1461), []

    def make():
        for _ in range(3):
            run = simulate(small_lake(), forcing, every="1D")
        return run[["ice_thickness"]]

    with listening(told.append):
        for key in ("a", "b"):
            kept("days", small_lake(), key, make, folder=tmp_path)
    ends = [number for number, text in enumerate(told) if text is None]
    for work in (told[: ends[0]], told[ends[0] + 1 : ends[1]]):
        assert {0.2, 0.3, 0.5} <= set(years(work)) and max(years(work)) == 0.5


def test_nobody_listens_unless_asked():
    assert patience() is None
    passing("to nobody")
    with listening(lambda text: None):
        assert patience() == progress.EVERY
        with listening(None):
            assert patience() is None
    with counted():
        assert patience() is None


class Terminal(io.StringIO):
    """An error stream that says it is a terminal."""

    def isatty(self):
        return True


def said_to(monkeypatch, stream, *, quiet=False, seldom=0.0):
    """What a stream gets of a line, two passing ones and another line."""
    monkeypatch.setattr(terminal, "EVERY", 0.0)
    monkeypatch.setattr(terminal, "SELDOM", seldom)
    monkeypatch.setattr("sys.stderr", stream)
    monkeypatch.setenv("COLUMNS", "40")
    say = Sayer()
    say.quiet = quiet
    with safe_streams():
        say("the pond \x1b[2J with a name that does not fit in")
        say.passing("9.9 years so far")
        say.passing("10 years so far")
        say("next")
        say.passing("11 years so far")
        say.passing(None)
    return stream.getvalue()


def test_a_terminal_has_one_line_that_changes_in_its_place(monkeypatch):
    text = said_to(monkeypatch, Terminal())
    first, rest = text.split("\n", 1)
    assert first == "the pond ?[2J with a name that does not fit in"
    shown = rest.split("\r")
    assert shown == [
        "", "the pond ?[2J with a : 9.9 years so far", "the pond ?[2J with a n: 10 years so far",
        " " * 39, "next\n", "next: 11 years so far", " " * 21, "",
    ]  # fmt: skip
    assert "\x1b" not in text


def test_a_pipe_gets_whole_lines_and_seldom(monkeypatch):
    lines = said_to(monkeypatch, io.StringIO()).splitlines()
    assert lines[1:] == [f"{lines[0]}: 9.9 years so far", f"{lines[0]}: 10 years so far", "next",
                         "next: 11 years so far"]  # fmt: skip
    lines = said_to(monkeypatch, io.StringIO(), seldom=30.0).splitlines()
    assert lines[1:] == ["next"]


def test_quiet_is_quiet(monkeypatch):
    assert said_to(monkeypatch, Terminal(), quiet=True) == ""
    assert said_to(monkeypatch, io.StringIO(), quiet=True) == ""


def test_a_cell_that_tells_nothing_is_timed(monkeypatch):
    monkeypatch.setattr(terminal, "EVERY", 0.001)
    monkeypatch.setattr(terminal, "SELDOM", 0.0)
    stream, ticked = io.StringIO(), threading.Event()
    write = stream.write
    monkeypatch.setattr(
        stream, "write", lambda text: (write(text), " so far" in text and ticked.set())
    )
    monkeypatch.setattr("sys.stderr", stream)
    say, before = Sayer(), threading.active_count()
    with safe_streams(), say.clock():
        say("  The season ahead")
        assert ticked.wait(10.0)
    assert threading.active_count() == before
    lines = stream.getvalue().splitlines()
    assert "  The season ahead: 0 s so far" in lines
