"""The command line: exit status, one readable message, what it prints and where."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
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
        (("season", "--lakes", "nothing.txt"), "no such file"),
        (("briefing", "--lakes", "a\x00b"), "cannot be a file's name"),
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
    assert written[-1].stat().st_size < 2e6
    with xr.open_dataset(written[-1], engine="h5netcdf", decode_cf=False) as archive:
        assert archive["water_temperature"].dims == ("quantile", "profile_time", "depth")
        low, middle, high = archive["water_temperature"].values
        water = np.isfinite(middle)  # a low lake has none at its lowest depths
        assert water.mean() > 0.5
        assert (low <= middle)[water].all() and (middle <= high)[water].all()
        assert (high - low)[water].max() > 0.1
        # what compliance-checker 6.1.0 (cf:1.11) found at first, and what CF asks of flags
        for name, variable in archive.data_vars.items():
            on_month = "month" in variable.dims
            assert not on_month or variable.dims[-1] == "month", name
            assert "long_name" in variable.attrs, name
            assert variable.attrs.get("units") != "degC" or "units_metadata" in variable.attrs, name
        for name in ("time", "profile_time", "month"):
            assert archive[name].attrs["units_metadata"] == "leap_seconds: none"
        assert archive["stratified"].attrs["flag_values"].tolist() == [0, 1]
        assert "2026-" in archive.attrs["history"]


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


# Terminals, and the order in which things fail


def run_apart(*arguments, **options):
    """A command in a process of its own, as a shell runs it."""
    return subprocess.run(
        [sys.executable, "-m", "lakekit", *map(str, arguments)], capture_output=True, check=False,
        timeout=300, **options,
    )  # fmt: skip


def test_a_terminal_of_ascii_alone_is_served():
    done = run_apart("lake", "quarry-hollow", env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert b"40.306 deg N 90.918 deg W" in done.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_device_is_one_message():
    with open("/dev/full", "wb") as full:
        done = subprocess.run([sys.executable, "-m", "lakekit", "lake"], stdout=full,
                              stderr=subprocess.PIPE, check=False, timeout=300)  # fmt: skip
    assert done.returncode == 2
    assert b"the output cannot be written (No space left" in done.stderr
    assert b"Traceback" not in done.stderr and b"Exception ignored" not in done.stderr


def test_a_pipe_that_nobody_reads_is_no_traceback():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run([sys.executable, "-m", "lakekit", "lake"], stdout=write,
                          stderr=subprocess.PIPE, check=False, timeout=300)  # fmt: skip
    os.close(write)
    assert done.returncode == 1
    assert done.stderr.splitlines() == [b"Club: the demo, invented. Your own: lakekit new DIR, "
                                        b"then --club DIR"]  # fmt: skip


def test_modules_of_the_working_folder_are_not_run(tmp_path):
    for name in ("numpy", "pandas", "tomllib", "argparse"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('planted')")
    done = run_apart("lake", "quarry-hollow", cwd=tmp_path)
    assert done.returncode == 0 and b"planted" not in done.stdout + done.stderr


def test_a_checkout_that_is_the_working_folder_stays_on_the_path_of_its_workers():
    script = (
        "import os, sys; sys.path[:0] = ['', os.getcwd()]; import lakekit.__main__\n"
        "from importlib.machinery import PathFinder\n"
        "print(bool(PathFinder.find_spec('lakekit')), '' in sys.path, sys.path[-1] == os.getcwd())"
    )
    home = Path(cli.__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-P", "-c", script], cwd=home, capture_output=True)
    assert done.stdout.split() == [b"True", b"False", b"True"]


def test_control_characters_never_reach_the_terminal(capsys):
    status, _, err = run(capsys, "trips", "a\x1b[2J\x07b.csv")
    assert status == 2
    assert all(c.isprintable() or c == "\n" for c in err)


def test_help_tells_the_exit_status(capsys):
    for arguments in (("--help",), ("season", "--help")):
        status, out, _ = run(capsys, *arguments)
        assert status == 0 and "exit status:" in out and "2  something to mend" in out


def test_quiet_and_verbose(capsys):
    assert run(capsys, "lake", "-q")[2] == ""
    assert " s  Club: the demo" in run(capsys, "lake", "-v")[2]
    assert run(capsys, "lake")[2].startswith("Club: the demo")


@pytest.mark.parametrize(
    ("arguments", "option"),
    [(("briefing", "--month", "2026-00"), "--month: "),
     (("season", "--start", "9999-12"), "--start: "),
     (("front", "--since", "9999-12-31"), "--since: ")],
)  # fmt: skip
def test_a_message_names_the_option_that_was_given(capsys, arguments, option):
    assert f"lakekit: {option}" in run(capsys, *arguments)[2]


def test_a_log_sheet_needs_no_lake(capsys, tmp_path):
    club = tmp_path / "club"
    club.mkdir()
    (club / "club.toml").write_text('name = "Bare"\n')
    assert run(capsys, "trips", "--club", club, "--out", tmp_path)[0] == 2
    status, out, _ = run(capsys, "trips", "--paper", "--club", club, "--out", tmp_path)
    assert status == 0 and Path(out.strip()).stat().st_size > 1000


def test_the_words_on_weather_come_though_its_picture_cannot(capsys, tmp_path):
    folder = short_demo(tmp_path / "club", years=2)
    (tmp_path / "file").write_text("")
    status, out, err = run(capsys, "weather", "--club", folder, "--out", tmp_path / "file")
    assert status == 2
    assert "Sunshine: 100 % estimated" in out and "Quarry Hollow" in out
    assert "reports cannot go here: it is a file" in err


def test_an_old_record_says_its_age_first(capsys, tmp_path):
    folder = short_demo(tmp_path / "club", years=2)
    club = folder / "club.toml"
    club.write_text(club.read_text().replace("invented = true", "invented = false"))
    _, _, err = run(capsys, "weather", "--club", folder, "--out", tmp_path)
    assert "the weather record ended" in err.splitlines()[0]


def test_the_age_of_a_record():
    import pandas as pd
    import xarray as xr

    from lakekit.weather.source import record_age

    record = xr.Dataset(coords={"time": pd.date_range("2025-01-01", "2025-06-30", freq="h")})
    assert record_age(record, pd.Timestamp("2025-08-01")) == ""
    assert "ended 184 days ago, on 2025-06-30" in record_age(record, pd.Timestamp("2025-12-31"))


@pytest.mark.parametrize("command", ["season", "briefing", "front", "day"])
def test_a_missing_network_is_told_before_what_computes_is_loaded(tmp_path, command):
    (tmp_path / "lakes").mkdir()
    (tmp_path / "club.toml").write_text('name = "Far Club"\n')
    (tmp_path / "lakes" / "far.toml").write_text(
        'name = "Far Pond"\nlatitude = 40.1\nlongitude = -89.2\ntime_zone = "America/Chicago"\n'
        'area = "310 acres"\nmax_depth = "34 ft"\n[weather]\nstation = "auto"\n'
    )
    script = (
        "import sys, lakekit.weather\n"
        "from lakekit.errors import WeatherError\n"
        "def unreachable(*a, **k): raise WeatherError('no such server')\n"
        "lakekit.weather.lake_weather = unreachable\n"
        "from lakekit.cli.main import main\n"
        f"status = main([{command!r}, '--club', {str(tmp_path)!r}])\n"
        "slow = {'numba', 'scipy', 'matplotlib', 'typst', 'lakekit.column', 'lakekit.strata'}\n"
        "print(status, sorted(slow & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout == "2 []\n" and "no such server" in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="closes a stream as a Unix shell does")
@pytest.mark.parametrize("closed", [1, 2])
def test_a_closed_stream_is_no_fault(closed):
    done = subprocess.run(
        [sys.executable, "-m", "lakekit", "lake", "teal-marsh"], capture_output=True, text=True,
        preexec_fn=lambda: os.close(closed),
    )  # fmt: skip
    assert done.returncode == 0
    assert ("Teal Marsh" in done.stdout) == (closed == 2) and "Traceback" not in done.stderr
