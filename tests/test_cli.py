"""The command line: exit status, one readable message, what it prints and where."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from guide_helpers import short_demo

import lakekit.cli.main as cli


def run(capsys, *arguments):
    status = cli.main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return status, said.out, said.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("season", "no-such-lake"), "no lake"),
        (("season", "teal-mash"), "teal-marsh"),
        (("season", "--start", "2026-13"), "not a month"),
        (("season", "--months", "99"), "1 to 24"),
        (("season", "--club", "nowhere"), "does not exist"),
        (("briefing", "--month", "July"), "not a month"),
        (("lake", "nothing.toml"), "no such file"),
        (("trips", "nothing.csv"), "nothing.csv"),
        (("tackle", "sink", "--weight", "1/16 ozz", "--depth", "9 ft"), "did you mean 'oz'"),
        (("front", "--wind", "25 mph"), "hours"),
    ],
)
def test_bad_input_is_one_message_and_status_2(capsys, arguments, words):
    status, out, err = run(capsys, *arguments)
    assert status == 2
    assert words in err
    assert "Traceback" not in err
    assert len([line for line in err.splitlines() if line.startswith("lakekit:")]) == 1
    assert out == ""


def test_a_fault_of_ours_is_status_1(capsys, monkeypatch):
    def broken(options):
        raise RuntimeError("a fault")

    monkeypatch.setattr(cli, "run_lake", broken)
    status, _, err = run(capsys, "lake")
    assert status == 1
    assert "fault of lakekit's own" in err


def test_json_is_nothing_but_json(capsys):
    status, out, _ = run(capsys, "lake", "--json")
    assert status == 0
    assert set(json.loads(out)) == {"quarry-hollow", "teal-marsh"}


def test_no_command_prints_help(capsys):
    status, out, _ = run(capsys)
    assert status == 2
    assert "season" in out


def test_new_club_can_be_read_back_after_filling(capsys, tmp_path):
    folder = tmp_path / "my-club"
    assert run(capsys, "new", folder)[0] == 0
    assert run(capsys, "new", folder)[0] == 2
    assert run(capsys, "lake", "--club", folder)[0] in (0, 2)
    assert (folder / "notebooks" / "season.ipynb").exists()


def test_weather_says_what_was_measured(capsys, tmp_path):
    folder = short_demo(tmp_path / "club", years=2)
    status, out, _ = run(capsys, "weather", "--club", folder)
    assert status == 0
    assert "Sunshine: 100 % estimated" in out
    assert "Invented weather" in out


def test_season_writes_four_whole_files_and_says_where(capsys, tmp_path):
    folder = short_demo(tmp_path / "club", years=2)
    status, out, err = run(
        capsys, "season", "--club", folder, "--out", tmp_path / "out", "--months", 1,
        "--start", "2026-04",
    )  # fmt: skip
    assert status == 0, err
    written = [Path(line) for line in out.split()]
    assert [path.suffix for path in written] == [".pdf", ".html", ".json", ".nc"]
    assert all(path.stat().st_size > 1000 for path in written)
    assert all(path.stem == "quarry-hollow-season-2026-04" for path in written)
    assert not list((tmp_path / "out").glob(".*"))


def test_weather_that_cannot_be_read_is_one_line_and_nothing_is_written(capsys, tmp_path):
    folder = short_demo(tmp_path / "club", years=2)
    weather = next((folder / "weather").glob("*.csv.gz"))
    weather.write_bytes(weather.read_bytes()[:2000])
    status, _, err = run(capsys, "season", "--club", folder, "--out", tmp_path / "out")
    assert status == 2
    assert "prairie-airfield" in err
    assert len([line for line in err.splitlines() if line.startswith("lakekit:")]) == 1
    assert "Traceback" not in err
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_help_is_quick_to_import():
    # the heavy libraries must not be needed to print help
    code = "import sys, lakekit.cli.main as c; c.build_parser(); print('numba' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert done.stdout.strip() == "False"
