"""Killed at any moment, the front note leaves the old note and the saved state as they were."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
from front_kills import example
from pypdf import PdfReader

from lakekit.fronts.record import read_record
from lakekit.guide.front.look import last_told, look_at_lakes
from lakekit.pages.reports import write_front
from lakekit.store import finish_together, load_dataset

HERE = Path(__file__).parent
BEFORE_THE_MOVE = ["typesetting", "page", "numbers", "first move", "ready"]
OF_THE_STATE = ["state half written", "state before its move"]
BETWEEN_THE_MOVES = ["move 1", "move 2", "move 3", "move 4", "move 5"]
AT_ANY_TIME = ["2", "20", "60", "150", "300"]  # ms

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


@pytest.fixture(scope="module")
def victim(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kills")
    notes, states = folder / "notes", folder / "states"
    process = subprocess.Popen(
        [sys.executable, str(HERE / "front_kills.py"), str(notes), str(states)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=HERE,
    )  # fmt: skip
    assert process.stdout.readline().strip() == "finished"

    def kill(point):
        process.stdin.write(f"{point}\n")
        process.stdin.flush()
        return process.stdout.readline().strip()

    yield kill, notes, states
    process.stdin.close()
    process.wait(timeout=20)


def contents(folder):
    """Files by name, but for hidden drafts and the schema, which every report shares."""
    whole = [path for path in folder.rglob("*") if path.is_file() and ".schema." not in path.name
             and not any(part.startswith(".") for part in path.relative_to(folder).parts)]
    return {path.name: path.read_bytes() for path in whole}


@pytest.mark.parametrize("point", [*BEFORE_THE_MOVE, *OF_THE_STATE])
def test_a_kill_before_the_end_changes_nothing(victim, point):
    kill, notes, states = victim
    old, old_states = contents(notes), contents(states)
    assert kill(point) == "killed"
    assert contents(notes) == old
    assert contents(states) == old_states


def whose(folder):
    """The text that all four files of the note and the table of fronts agree on."""
    found = {name.rpartition(".")[2]: whole for name, whole in contents(folder).items()
             if "-front-" in name}  # fmt: skip
    assert sorted(found) == ["html", "json", "pdf", "txt"]
    text = found["txt"].decode().strip()
    note = json.loads(found["json"])
    assert note["headline"] == text
    said = read_record(folder)["said_days"].tolist()
    assert said == [note["recovery"]["deeper"]["days"]["median"]]
    assert text in found["html"].decode()
    assert text in " ".join(PdfReader(io.BytesIO(found["pdf"])).pages[0].extract_text().split())
    return text


@pytest.mark.parametrize("point", BETWEEN_THE_MOVES)
def test_a_kill_between_the_last_moves_is_ended_by_the_next_reader(victim, point):
    kill, notes, _ = victim
    write_front(example("the old note"), notes)
    assert kill(point) == "killed"
    finish_together(notes)
    assert whose(notes) == "the new note"
    assert [path for path in notes.iterdir() if path.is_dir()] == []


def test_a_look_for_fronts_ends_it_too_and_reads_the_new_note(victim):
    kill, notes, _ = victim
    write_front(example("the old note"), notes)
    assert kill("move 3") == "killed"
    assert look_at_lakes(SimpleNamespace(invented=True, lakes={}), [], notes) == []
    assert whose(notes) == "the new note"
    new = example("the new note")
    assert last_told(notes, new["lake"]["key"]) == pd.Timestamp(new["storm"]["end"])


@pytest.mark.parametrize("point", AT_ANY_TIME)
def test_a_kill_at_any_time_leaves_the_old_set_or_the_new(victim, point):
    kill, notes, states = victim
    assert kill(point) in ("killed", "finished")
    finish_together(notes)
    assert whose(notes) in ("the old note", "the new note")
    for path in states.glob("*/*/*.nc"):
        if not path.name.startswith("."):
            assert "temperature" in load_dataset(path)


def test_the_next_run_writes_the_note_and_clears_what_was_left(victim):
    _, notes, _ = victim
    paths = write_front(example("after the kills"), notes)
    assert paths[2].read_text() == "after the kills\n"
    assert [path for path in notes.iterdir() if path.is_dir()] == []
