"""A look for new fronts: against the last note, in one line, with its own exit status."""

import json
import shutil

import pytest
from guide_helpers import short_demo

from lakekit.cli.main import main
from lakekit.club import read_club
from lakekit.guide.front.look import last_told, look_at_lakes

LAKE = "quarry-hollow"


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    return read_club(short_demo(tmp_path_factory.mktemp("club")))


def told(reports, end, *, name="2025-06-28", what_if=None):
    reports.mkdir(exist_ok=True)
    note = {"lake": {"key": LAKE}, "what_if": what_if, "storm": {"end": end}}
    (reports / f"{LAKE}-front-{name}.json").write_text(json.dumps(note))


def test_the_newest_note_counts_and_no_storm_that_never_came(tmp_path):
    assert last_told(tmp_path, LAKE) is None
    told(tmp_path, "2025-06-28 01:00:00")
    told(tmp_path, "2025-05-01 01:00:00", name="2025-05-02")
    told(tmp_path, "2026-03-01 01:00:00", name="2026-03-02-what-if", what_if={"wind": 9.0})
    (tmp_path / f"{LAKE}-front-broken.json").write_text("{half a")
    assert str(last_told(tmp_path, LAKE)) == "2025-06-28 01:00:00"


def test_a_front_is_new_until_its_note_is_written(club, tmp_path):
    (first,) = look_at_lakes(club, [LAKE], tmp_path)
    assert first["new"] and "NEW front of" in first["text"]
    assert first["layers"] in ("unlayered", "broken", "deeper", "untouched", None)
    told(tmp_path, first["end"])
    (second,) = look_at_lakes(club, [LAKE], tmp_path)
    assert not second["new"] and "no front since the last note" in second["text"]
    told(tmp_path, "2025-06-28 01:00:00")  # the same file: that note is of an older front
    (third,) = look_at_lakes(club, [LAKE], tmp_path)
    assert third["new"]


def test_the_command_says_it_by_its_exit_status(club, tmp_path, capsys):
    folder = str(club.folder)
    asked = ["front", "--check", "--club", folder, "--out", str(tmp_path / "reports"), "--json"]
    assert main(asked) == 3
    (look,) = json.loads(capsys.readouterr().out)
    told(tmp_path / "reports", look["end"])
    assert main(asked) == 0
    assert not (tmp_path / "reports" / f"{LAKE}-front-{look['end'][:10]}.pdf").exists()


def test_a_lake_without_weather_does_not_hide_the_others(club, tmp_path, capsys):
    folder = tmp_path / "club"
    shutil.copytree(club.folder, folder)
    text = (folder / "lakes" / f"{LAKE}.toml").read_text()
    other = text.replace("prairie-airfield.csv.gz", "empty.csv").replace("Quarry Hollow", "Dry")
    (folder / "lakes" / "dry.toml").write_text(other)
    (folder / "weather" / "empty.csv").write_text("time,air_temp_c,wind_ms\n")
    asked = ["front", "--check", "--club", str(folder), "--out", str(tmp_path / "reports")]
    assert main(asked) == 3
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 2 and "not known; " in lines[0] and "NEW front" in lines[1]
    told(tmp_path / "reports", "2026-12-31 00:00:00")
    assert main(asked) == 2
