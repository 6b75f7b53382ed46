"""The kill drill itself: it sees half a file and a process left."""

import json
import os
import subprocess
import sys
from random import Random

import pytest

from lakekit.bench.drills import kills
from lakekit.bench.drills.kills import MARK, damaged, kill_after, marked

pytestmark = [
    pytest.mark.drills,
    pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="needs /proc"),
]


def test_half_a_report_is_seen(tmp_path):
    whole = {"a.pdf": b"%PDF-1.7 x %%EOF\n", "a.html": b"<html></html>\n", "a.txt": b"x\n",
             "a.json": b"{\"x\": 1}", "a.ipynb": b"{\"cells\": [1]}"}  # fmt: skip
    for name, content in whole.items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / ".draft.pdf").write_bytes(b"%PDF")
    assert damaged(tmp_path) == []
    for name, content in whole.items():
        (tmp_path / name).write_bytes(content[:-2])
    (tmp_path / "a.nc").write_bytes(b"\x89HDF")
    assert set(damaged(tmp_path)) == {*whole, "a.nc"}


def test_a_process_left_behind_is_seen(monkeypatch):
    monkeypatch.setattr("lakekit.bench.drills.kills.PATIENCE", 0.0)
    sleeper = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"],
                               env={**os.environ, MARK: "seen"})  # fmt: skip
    try:
        assert marked("seen") == [sleeper.pid]
        assert kill_after(["--version"], 60, token="seen") == (0, [sleeper.pid])
    finally:
        sleeper.kill()
        sleeper.wait()
    assert marked("seen") == []


def test_a_kill_drill_tells_what_a_kill_broke(monkeypatch, tmp_path):
    runs = []

    def half_hearted(arguments, seconds, *, token, kept, said=None):
        out = tmp_path / "out"
        for folder in (out, kept):
            folder.mkdir(exist_ok=True)
        runs.append(kept)
        (out / "a.json").write_text(json.dumps({"run": len(runs) // 4}))
        if seconds == 3600:
            return 0, []
        (kept / "half.nc").write_bytes(b"\x89HDF")
        return -9, [1]

    monkeypatch.setattr(kills, "YEAR_HOURS", 24)
    monkeypatch.setattr(kills, "kill_after", half_hearted)
    killed, faults = kills.kills(("front",), Random(1), 3, tmp_path)
    told = " ".join(faults)
    assert killed == 3
    assert told.count("half.nc is damaged") == 3 and told.count("1 processes left") == 3
    assert "finds other numbers" in told and "kept results change" not in told


def test_a_run_that_fails_by_itself_is_told_with_what_it_said(monkeypatch, tmp_path):
    monkeypatch.setattr(kills, "YEAR_HOURS", 24)
    killed, [fault] = kills.kills(("season", "nowhere"), Random(1), 2, tmp_path)
    assert killed == 0
    assert "the first run ends with status 2" in fault and "nowhere" in fault
