"""Killed at any moment, the front note leaves the old note and the saved state as they were."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from front_kills import example

from lakekit.pages.reports import write_front
from lakekit.store import load_dataset

HERE = Path(__file__).parent
BEFORE_THE_MOVE = ["typesetting", "page", "numbers", "first move"]
OF_THE_STATE = ["state half written", "state before its move"]
AT_ANY_TIME = ["second move", "2", "20", "60", "150", "300"]  # ms

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
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.is_file()
            and not path.name.startswith(".") and ".schema." not in path.name}  # fmt: skip


@pytest.mark.parametrize("point", [*BEFORE_THE_MOVE, *OF_THE_STATE])
def test_a_kill_before_the_end_changes_nothing(victim, point):
    kill, notes, states = victim
    old, old_states = contents(notes), contents(states)
    assert kill(point) == "killed"
    assert contents(notes) == old
    assert contents(states) == old_states


@pytest.mark.parametrize("point", AT_ANY_TIME)
def test_a_kill_at_any_time_leaves_whole_files(victim, point):
    kill, notes, states = victim
    assert kill(point) in ("killed", "finished")
    found = contents(notes)
    assert len(found) == 4
    text = {name.rpartition(".")[2]: content for name, content in found.items()}
    assert json.loads(text["json"])["kind"] == "front"
    assert text["txt"] in (b"the old note\n", b"the new note\n")
    assert text["html"].rstrip().endswith(b"</html>")
    assert text["pdf"].startswith(b"%PDF") and b"%%EOF" in text["pdf"][-32:]
    for path in states.glob("*/*/*.nc"):
        if not path.name.startswith("."):
            assert "temperature" in load_dataset(path)


def test_the_next_run_writes_the_note_and_clears_what_was_left(victim):
    _, notes, _ = victim
    paths = write_front(example("after the kills"), notes)
    assert paths[2].read_text() == "after the kills\n"
    assert [path for path in notes.iterdir() if path.is_dir()] == []
