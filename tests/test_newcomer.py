"""The first hour of a new user at the command line: an invented lake, from folder to guide."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from pypdf import PdfReader

from lakekit.cli import main as cli
from lakekit.lakefile import REQUIRED
from lakekit.resources import demo_folder, template_folder
from lakekit.tactics.book import read_book

LAKE = {"name": '"Fern Hollow Lake"', "latitude": "40.1", "longitude": "-89.2",
        "time_zone": '"America/Chicago"', "area": '"310 acres"', "max_depth": '"34 ft"'}
STATION = """
[weather]
file = "weather/shed.csv"
[weather.columns]
time = "Date/Time"
air_temp_c = "Temp"
rel_hum_pct = "Hum"
wind_ms = "Wind Speed"
pressure_hpa = "Barometer"
precip_mm = "Rain"
[weather.units]
time = "UTC-6, MDY"
air_temp_c = "F"
wind_ms = "mph"
pressure_hpa = "inHg"
precip_mm = "in"
"""
HEAD = "date,start,hours,lake,tactic,rods,fish\n"
TRIPS = HEAD + (
    "2025-05-31,06:30,2.5,fern,cast_jig,2,4\n"
    "2025-05-31,9:00,2,Fern Hollow Lake,slip bobber,2,0\n"
    "2025-06-14,6:30 AM,3,fern,spider rigging,8,11\n"
    "2025-06-14,930,1:30,FERN,castjig,2,2\n"
    "2025-07-04,6:00,4,fern,long lining,8,5\n"
)


def export_of_a_station(folder, years=2):
    """The demo's last years as a shed's weather station would export them."""
    table = pd.read_csv(demo_folder() / "weather" / "prairie-airfield.csv.gz")
    table = table.iloc[-int(years * 8766) :]
    local = pd.to_datetime(table["time"]) - pd.Timedelta(hours=6)
    pd.DataFrame({
        "Date/Time": local.dt.strftime("%m/%d/%Y %H:%M"),
        "Temp": (table["air_temp_c"] * 9 / 5 + 32).round(1),
        "Hum": table["rel_hum_pct"],
        "Wind Speed": (table["wind_ms"] / 0.44704).round(1),
        "Barometer": (table["pressure_hpa"] / 33.8639).round(3),
        "Rain": (table["precip_mm"] / 25.4).round(3),
    }).to_csv(folder / "weather" / "shed.csv", index=False)  # fmt: skip


@pytest.fixture(scope="module")
def new(tmp_path_factory):
    """A club folder as ``lakekit new`` leaves it."""
    folder = tmp_path_factory.mktemp("walk") / "my-club"
    assert cli.main(["new", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def filled(new, tmp_path_factory):
    """The same with its lake, weather and trips filled in as the files' own words ask for."""
    folder = shutil.copytree(new, tmp_path_factory.mktemp("filled") / "my-club")
    text = (folder / "lakes" / "my-lake.toml").read_text(encoding="utf-8")
    for key, value in LAKE.items():
        lines = [line for line in text.splitlines() if line.startswith(f"# {key} = ")]
        text = text.replace(lines[0], f"{key} = {value}")
    head, _, rest = text.partition("[weather]")
    text = head + STATION + "# [flow]" + rest.partition("# [flow]")[2]
    (folder / "lakes" / "my-lake.toml").unlink()
    (folder / "lakes" / "fern.toml").write_text(text, encoding="utf-8")
    export_of_a_station(folder)
    (folder / "trips.csv").write_text(TRIPS, encoding="utf-8")
    return folder


@pytest.fixture
def club(filled, tmp_path):
    """A copy to spoil."""
    return shutil.copytree(filled, tmp_path / "my-club")


def run(capsys, *arguments):
    capsys.readouterr()
    status = cli.main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    return status, said.out, said.err


def change(path, right, slip):
    text = path.read_text(encoding="utf-8")
    assert right in text
    path.write_text(text.replace(right, slip), encoding="utf-8")


@pytest.mark.parametrize("command", ["lake", "season", "briefing", "front", "weather", "trips"])
def test_a_club_not_filled_in_says_what_to_fill_in(capsys, new, command):
    status, out, err = run(capsys, command, "--club", new)
    assert status == 2
    said = out + err
    assert all(key in said for key in REQUIRED)
    assert str(new / "lakes" / "my-lake.toml") in said


def test_the_six_keys_are_the_templates_first():
    text = (template_folder() / "lakes" / "my-lake.toml").read_text(encoding="utf-8")
    keys = [line[2:].split(" =")[0] for line in text.splitlines() if " = " in line[2:]]
    assert tuple(keys[: len(REQUIRED)]) == REQUIRED == tuple(LAKE)


def test_the_templates_readme_names_every_tactic():
    text = (template_folder() / "README.md").read_text(encoding="utf-8")
    assert [key for key in read_book() if f"`{key}`" not in text] == []


def test_the_walk(capsys, club, monkeypatch):
    """From inside the folder, by the files' own names: lake, weather, sheet, trips, guide."""
    monkeypatch.chdir(club)
    status, out, err = run(capsys, "lake")
    assert status == 0, err
    assert "Fern Hollow Lake" in out
    assert "note: lakes/fern.toml, key secchi: secchi is not given: 1.0 m (3.3 ft)" in out

    status, out, err = run(capsys, "weather")
    assert status == 0, err
    assert "Weather from file shed.csv, 2024-" in out
    assert "less sure: Only 2 whole years" in out

    status, out, err = run(capsys, "trips", "--paper")
    assert status == 0, err
    sheet = PdfReader(club / out.strip()).pages[0].extract_text()
    assert "push_rods" in sheet and "fern" in sheet

    status, out, err = run(capsys, "trips")
    assert status == 0, err
    assert "5 of 5 rows of trips.csv are used" in out
    assert "Slip float with jig or bait: 0 fish in 2.0 boat-hours, 1 outing" in out

    status, out, err = run(capsys, "season", "--start", "2026-06", "--months", "1")
    assert status == 0, err
    assert "Club: the one in this folder" in err
    assert "Fern Hollow Lake: reading the weather" in err
    assert [Path(line).suffix for line in out.split()] == [".pdf", ".html", ".json", ".nc"]
    text = "".join(page.extract_text() for page in PdfReader(out.split()[0]).pages)
    assert "Fern Hollow Lake" in text and "June 2026" in text

    status, out, err = run(capsys, "briefing", "--month", "2026-06")
    assert status == 0, err
    assert (club / "reports" / "club-briefing-2026-06.pdf").stat().st_size > 10_000


def test_an_empty_log_gives_a_whole_guide(capsys, club, tmp_path):
    (club / "trips.csv").write_text(HEAD, encoding="utf-8")
    assert run(capsys, "trips", "--club", club)[1].startswith("trips.csv has no rows yet")
    status, _, err = run(
        capsys, "season", "--club", club, "--out", tmp_path, "--start", "2026-06", "--months", 1
    )
    assert status == 0, err
    guide = json.loads((tmp_path / "fern-season-2026-06.json").read_text(encoding="utf-8"))
    month = guide["months"][0]
    assert "unranked" in month["log_text"]
    assert len(month["tactics"]) > 3
    assert {row["key"] for row in month["depths"]} >= {"thermocline", "oxygen_floor"}


@pytest.mark.parametrize(
    ("right", "slip", "words"),
    [
        ('"310 acres"', "310", 'Write the unit: area = "310 acres"'),
        ('"34 ft"', "34 ft", "Put a quantity with a unit in quotes"),
        ("-89.2", "89.2", "Did you mean longitude = -89.2?"),
        ('"America/Chicago"', '"Central"', "Did you mean America/Chicago?"),
        ("max_depth", "maxdepth", "Did you mean max_depth?"),
        ("weather/shed.csv", "shed.csv", "Did you mean weather/shed.csv?"),
    ],
)
def test_slips_in_a_lake_file(capsys, club, right, slip, words):
    change(club / "lakes" / "fern.toml", right, slip)
    status, _, err = run(capsys, "season", "--club", club)
    assert status == 2
    assert err.count("lakekit:") == 1
    assert "lakes/fern.toml" in err and words in err


@pytest.mark.parametrize(
    ("right", "slip", "words"),
    [
        ('pressure_hpa = "inHg"', "", 'under [weather.units]: pressure_hpa = "'),
        ("UTC-6, MDY", "UTC-6", 'time = "UTC-6, MDY"'),
        ("UTC-6, MDY", "UTC-6, DMY", "write MDY instead"),
        ("UTC-6, MDY", "Central, MDY", "lakes/fern.toml, [weather.units]: time zone 'Central'"),
        ('"Wind Speed"', '"WindSpeed"', "Did you mean 'Wind Speed'?"),
    ],
)
def test_slips_in_a_stations_export(capsys, club, right, slip, words):
    change(club / "lakes" / "fern.toml", right, slip)
    status, _, err = run(capsys, "weather", "--club", club)
    assert status == 2
    assert words in err


def test_a_wind_in_the_wrong_unit_is_doubted(capsys, club):
    change(club / "lakes" / "fern.toml", 'wind_ms = "mph"', "")
    status, out, _ = run(capsys, "weather", "--club", club, "--out", club)
    assert status == 0
    assert "less sure: The wind averages" in out and "check its unit" in out


def test_slips_in_a_log_are_listed_with_their_rows(capsys, club):
    rows = "5/6/2025,6:00,2,fern,cast_jig,2,1\n2025-05-06,6:00,2,firn,cast_jig,2,1\n" \
           "2025-05-06,6:00,2,fern,cast_jig,2,\n"  # fmt: skip
    (club / "trips.csv").write_text(HEAD + rows, encoding="utf-8")
    status, out, _ = run(capsys, "trips", "--club", club)
    assert status == 0
    assert "0 of 3 rows" in out
    assert "row 2, date" in out and "date_order" in out
    assert "row 3, lake: no lake 'firn'" in out and "did you mean 'fern'" in out
    assert "row 4, fish" in out and "write 0" in out


def test_a_workbook_beside_the_empty_log_is_the_log(capsys, club):
    book = openpyxl.Workbook()
    for line in TRIPS.splitlines()[:2]:
        book.active.append(line.split(","))
    book.save(club / "trips.xlsx")
    status, _, err = run(capsys, "trips", "--club", club)
    assert status == 2 and "two logs" in err
    (club / "trips.csv").write_text(HEAD, encoding="utf-8")
    status, out, _ = run(capsys, "trips", "--club", club)
    assert status == 0 and out.startswith("1 of 1 rows of trips.xlsx are used")


def test_a_log_is_checked_before_there_is_weather(capsys, club, monkeypatch):
    import lakekit.guide.log.logbook as logbook
    from lakekit.errors import WeatherError

    def none(*args, **options):
        raise WeatherError("no weather")

    monkeypatch.setattr(logbook, "lake_water", none)
    status, out, _ = run(capsys, "trips", "--club", club)
    assert status == 0
    assert "5 of 5 rows" in out and "No rates yet, for want of weather. no weather" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["season", "frn"], "Did you mean fern?"),
        (["front", "--since", "yesterday"], "YYYY-MM-DD"),
        (["front", "--wind", "25", "--hours", "12"], 'Write "25 mph" or "25 m/s"'),
        (["trips", "trips.csv"], "Did you mean"),
        (["season", "--month", "3"], "unrecognized arguments"),
        (["tackle", "sink", "--depth", "9"], 'Write "9 ft" or "9 m"'),
        (["tackle", "line", "--line", "6 lb", "--speed", "1 mph"], "diameter"),
        (["season", "--out", "club.toml"], "--out DIR"),
    ],
)
def test_slips_at_the_command_line(capsys, filled, tmp_path, monkeypatch, arguments, words):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "club.toml").write_text("", encoding="utf-8")
    status, _, err = run(capsys, *arguments, "--club", filled)
    assert status == 2
    assert words in err


@pytest.mark.parametrize("inside", ["lakes", "club.toml", "notebooks"])
def test_a_part_of_the_club_is_not_the_club(capsys, filled, inside):
    status, _, err = run(capsys, "season", "--club", filled / inside)
    assert status == 2
    assert f"Name {filled} instead" in err


def test_the_clubs_notebooks_are_about_the_club(filled, tmp_path):
    """A notebook run where it lies, as JupyterLab runs it, works on the folder above it."""
    source = filled / "notebooks" / "tackle.ipynb"
    done = subprocess.run(
        [sys.executable, "-m", "nbconvert", "--to", "markdown", "--stdout", "--execute", source],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-600:]
    assert "running.csv has no rows yet" in done.stdout
    season = json.loads((filled / "notebooks" / "season.ipynb").read_text(encoding="utf-8"))
    cells = ["".join(c["source"]) for c in season["cells"] if c["metadata"].get("tags")]
    assert 'club_folder: str = ".."' in cells[0] and 'out: str = "../reports"' in cells[0]
