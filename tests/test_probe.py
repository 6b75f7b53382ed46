"""The probe reader: every silly value is refused by name and row."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lakekit.club import read_club
from lakekit.errors import ProbeError
from lakekit.probe import MOST_OXYGEN, read_probe
from lakekit.units import FOOT

HEADER = "date,time,lake,depth_m,temperature_C,oxygen_mgl\n"
CAST = [(0.5, 25.0, 8.0), (2, 24.5, 7.8), (4, 20.0, 5.0), (6, 14.0, 1.0), (8, 11.0, 0.1)]


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """A club with two lakes in two time zones: 10 m and 20 m deep."""
    folder = tmp_path_factory.mktemp("club")
    (folder / "lakes").mkdir()
    (folder / "club.toml").write_text('name = "Test"\n', encoding="utf-8")
    for key, name, depth, zone, longitude in (
            ("pond", "Test Pond", 10, "America/Chicago", -89),
            ("tarn", "Far Tarn", 20, "Europe/Berlin", 11)):
        (folder / "lakes" / f"{key}.toml").write_text(
            f'name = "{name}"\nlatitude = 40.0\nlongitude = {longitude}\ntime_zone = "{zone}"\n'
            f'area = "50 ha"\nmax_depth = "{depth} m"\n', encoding="utf-8")
    return read_club(folder)


@pytest.fixture
def read(club, tmp_path):
    """Read a probe file of that content (text or bytes), by a club with that date order."""
    def reader(content, date_order=None):
        path = tmp_path / "probe.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_probe(path, replace(club, date_order=date_order))

    return reader


@pytest.fixture
def refuse(read):
    """The ProbeError of a probe file of that content."""
    def refuser(content, **options):
        with pytest.raises(ProbeError) as caught:
            read(content, **options)
        return caught.value

    return refuser


def cast(readings=CAST, *, header=HEADER, day="2025-07-12", clock="09:00", lake="pond"):
    rows = [f"{day},{clock},{lake}," + ",".join(f"{value:g}" for value in reading)
            for reading in readings]
    return header + "\n".join(rows) + "\n"


def test_a_row_with_oxygen_alone_is_kept(read):
    frame = read(cast().replace("24.5,7.8", ",7.8"))
    assert np.isnan(frame["temperature"][1])
    assert frame["oxygen"][1] == 7.8
    assert len(frame) == 5


def test_a_plain_file_is_read(read):
    frame = read(cast())
    assert list(frame.columns) == ["time", "lake", "depth", "temperature", "oxygen", "row"]
    np.testing.assert_allclose(frame["depth"], [0.5, 2, 4, 6, 8], rtol=1e-12)
    np.testing.assert_allclose(frame["oxygen"], [8, 7.8, 5, 1, 0.1], rtol=1e-12)
    assert list(frame["row"]) == [2, 3, 4, 5, 6]
    # Central daylight time is five hours behind UTC
    assert set(frame["time"]) == {pd.Timestamp("2025-07-12 14:00")}
    assert frame["time"].dt.tz is None and frame.attrs["notes"] == []


@pytest.mark.parametrize(("day", "clock", "lake", "utc"), [
    ("2025-01-12", "09:00", "pond", "2025-01-12 15:00"),
    ("2025-07-12", "23:30", "Test Pond", "2025-07-13 04:30"),
    ("2025-07-12", "9:00", "FAR TARN", "2025-07-12 07:00"),
    ("2025-07-12", "2:05 PM", "tarn", "2025-07-12 12:05"),
    ("2025-07-12", "12:05 am", "tarn", "2025-07-11 22:05"),
    ("2025-03-09", "03:00", "pond", "2025-03-09 08:00"),  # first moment of daylight time
    ("2025-11-02", "01:30", "pond", "2025-11-02 06:30"),  # the hour that comes twice: its first
])
def test_local_times_become_utc(read, day, clock, lake, utc):
    frame = read(cast(day=day, clock=clock, lake=lake))
    assert set(frame["time"]) == {pd.Timestamp(utc)}


def test_the_two_clock_changes(read, refuse):
    error = refuse(cast(day="2025-03-09", clock="02:30"))
    assert "does not exist in America/Chicago" in error.what and "row 2" in error.where
    frame = read(cast(day="2025-11-02", clock="01:30"))
    assert frame.attrs["notes"] == ["the hour that clocks repeat is taken as its first pass "
                                    "(5 readings)"]


def test_readings_without_a_time_are_noon(read):
    frame = read(cast(clock=""))
    assert set(frame["time"]) == {pd.Timestamp("2025-07-12 17:00")}
    assert frame.attrs["notes"] == ["readings without a time are taken as noon (5)"]


def test_feet_and_fahrenheit(read):
    frame = read(cast([(3, 77, 8), (30, 50, 1)], header=HEADER.replace("_m,", "_ft,").replace(
        "_C", "_F")))
    np.testing.assert_allclose(frame["depth"], [3 * FOOT, 30 * FOOT], rtol=1e-12)
    np.testing.assert_allclose(frame["temperature"], [25, 10], rtol=1e-12)


@pytest.mark.parametrize("content", [
    b"\xef\xbb\xbf" + cast().encode(),
    cast().replace(",", ";").replace(".", ",").encode(),
    cast().replace(",", ";").encode(),
    cast().replace(",", "\t").encode(),
    cast().replace("\n", "\r\n\r\n").encode(),
    cast().replace("temperature_C", "Temperature_c").replace("date", " Date ").encode(),
])
def test_files_of_every_spelling(read, content):
    frame = read(content)
    np.testing.assert_allclose(frame["temperature"], [25, 24.5, 20, 14, 11], rtol=1e-12)


def test_an_ansi_file_is_read_and_its_letters_kept(refuse):
    error = refuse(cast(lake="Étang").encode("cp1252"))
    assert "unknown lake 'Étang'" in error.what


def test_oxygen_may_be_left_out(read):
    text = cast().replace(",oxygen_mgl", "")
    bare = "\n".join(line.rsplit(",", 1)[0] if line[:4] == "2025" else line
                     for line in text.splitlines())
    assert read(bare)["oxygen"].isna().all()
    some = read(cast().replace(",5\n", ",\n"))
    assert some["oxygen"].isna().sum() == 1 and some["temperature"].notna().all()


def test_a_header_alone_reads_as_no_readings(read):
    frame = read(HEADER)
    assert len(frame) == 0 and frame["time"].dtype.kind == "M"
    assert list(frame.columns) == ["time", "lake", "depth", "temperature", "oxygen", "row"]


@pytest.mark.parametrize(("order", "text", "day"), [
    ("MDY", "05/02/2025", "2025-05-02"), ("DMY", "05/02/2025", "2025-02-05"),
    ("YMD", "2025/5/2", "2025-05-02"), ("DMY", "5.2.25", "2025-02-05"),
    (None, "2025-05-02", "2025-05-02")])
def test_dates_in_the_clubs_order(read, order, text, day):
    frame = read(cast(day=text), date_order=order)
    assert set(frame["time"].dt.strftime("%Y-%m-%d")) == {day}


def test_readings_come_sorted_and_repeats_once(read):
    text = cast(CAST[::-1]) + cast(CAST[:1]).splitlines()[1] + "\n"
    frame = read(text)
    assert list(frame["depth"]) == [0.5, 2, 4, 6, 8] and list(frame["row"]) == [6, 5, 4, 3, 2]
    assert frame.attrs["notes"] == ["readings listed twice are used once: row 7"]


def swapped(readings):
    return [(b, a, *rest) for a, b, *rest in readings]


COLD = [(0.5, 0.4, 13), (3, 2.0, 12), (6, 3.4, 10), (9, 4.4, 6)]
BAD = [
    # (content, what, where, mend)
    (cast([(0.5, 77, 8), (4, 60, 5)]), "77 under temperature_C is no lake temperature (2 rows)",
     "rows 2, 3, column temperature_C", "degrees F: name the column temperature_F"),
    (cast([(0.5, 25, 8), (4, 60, 5)]), "60 under temperature_C is no lake temperature (1 row)",
     "row 3, column temperature_C", "degrees F"),
    (cast([(0.5, 25, 8), (4, 200, 5)]), "200 under temperature_C", "row 3", "Mend the reading"),
    (cast([(3, 25, 8), (9, 12, 5)], header=HEADER.replace("_C", "_F")), "25 under temperature_F",
     "rows 2, 3, column temperature_F", "degrees C: name the column temperature_C"),
    (cast([(1, 25, 8), (24, 12, 5), (30, 11, 1)]), "24.0 m is deeper than Test Pond, 10.0 m at "
     "most (2 rows)", "rows 3, 4, column depth_m", "feet: name the column depth_ft"),
    (cast([(1, 25, 8), (80, 12, 5)]), "deeper than Test Pond", "row 3", "max_depth in the lake"),
    (cast([(-1, 25, 8), (4, 20, 5)]), "negative depth -1 (1 row)", "row 2, column depth_m",
     "counts down from 0"),
    (cast(swapped(CAST)), "depth and temperature look swapped", "rows 2, 3, 4, 5, 6",
     "Swap the two columns' names"),
    (cast([(depth, oxygen, celsius) for depth, celsius, oxygen in CAST]),
     "temperature and oxygen look swapped: up to 25 mg/L in water of 8 degC", "rows 2, 3, 4",
     "Swap the two columns' names"),
    (cast([(0.5, 25, 8), (4, 26, 5), (6, 12, 30)]), "30 mg/L is no oxygen content (1 row)",
     "row 4, column oxygen_mgl", "percentage of saturation"),
    (cast([(0.5, 25, -2), (4, 20, 5)]), "-2 mg/L is no oxygen content", "row 2", None),
    (cast([(0.5, 20, 8), (4, 15, 5), (6, 19, 4)]), "19.0 degC at 6.0 m is warmer than the "
     "15.0 degC above it (1 row)", "row 4", "all rows of the cast are of one hour"),
    (cast([(0.5, 25, 8)], lake="pont"), "unknown lake 'pont'", "row 2, column lake",
     "Did you mean pond"),
    (cast([(0.5, 25, 8)], lake=""), "the lake is missing", "row 2, column lake", None),
    (cast([(0.5, 25, 8)], day="05/02/2025"), "could be more than one date", "row 2, column date",
     "date_order"),
    (cast([(0.5, 25, 8)], day="2025-02-30"), "could be", "row 2", None),
    (cast([(0.5, 25, 8)], day="²025/7/12"), "'²025/7/12' is not a date", "row 2, column date",
     "Write it as 2025-05-31"),
    (cast([(0.5, 25, 8)], day="yesterday"), "'yesterday' is not a date", "row 2, column date",
     "2025-05-31"),
    (cast([(0.5, 25, 8)], day=""), "the date is missing", "row 2, column date", None),
    (cast([(0.5, 25, 8)], day="0205-07-12"), "outside 1950 to 2100", "row 2", None),
    (cast([(0.5, 25, 8)], clock="25:00"), "'25:00' is not a clock time", "row 2, column time",
     "14:30"),
    (cast([(0.5, 25, 8)], clock="morning"), "'morning' is not a clock time", "row 2", None),
    (cast().replace("24.5", "warm"), "'warm' is not a number (1 such rows)",
     "row 3, column temperature_c", "plain number"),
    (cast().replace("24.5", '"24,5"'), "'24,5' is not a number", "row 3", "semicolons"),
    (cast().replace("24.5,7.8", ","), "temperature_c is missing in row 3", "column temperature_c",
     None),
    (cast().replace("depth_m", "depth"), "unknown column 'depth'", "row 1", "depth_m"),
    (cast().replace("depth_m", "notes"), "unknown column 'notes'", "row 1", "Columns are"),
    (cast().replace("oxygen_mgl", "depth_ft"), "both columns depth_m and depth_ft", None,
     "one of them"),
    (cast().replace("oxygen_mgl", "depth_m"), "two columns are named 'depth_m'", None, None),
    (cast().replace("temperature_C", "oxygen_mgl", 1).replace("oxygen_mgl\n", "\n"),
     "no column temperature_C or temperature_F", None, "Name the unit"),
    (cast().replace("lake,", "time,", 1), "two columns are named 'time'", None, None),
    ("depth_m,temperature_C\n1,20\n", "no column 'date'", None, "date, time, lake"),
    ("\n\n", "the file is empty", None, "names the columns"),
]


@pytest.mark.parametrize(("content", "what", "where", "mend"), BAD)
def test_a_wrong_reading_is_named_with_its_row(refuse, content, what, where, mend):
    error = refuse(content)
    assert what in error.what
    assert "probe.csv" in error.where
    if where:
        assert where in error.where
    if mend:
        assert mend in error.mend


@pytest.mark.parametrize("day", ["25/02/2025", "2/25/99999999999"])
def test_a_date_that_is_none_in_the_clubs_order(refuse, day):
    error = refuse(cast(day=day), date_order="MDY")
    assert "no date in the order MDY" in error.what and "date_order" in error.mend


def test_a_missing_file_is_named(club, tmp_path):
    with pytest.raises(ProbeError, match=r"none\.csv: there is no such file"):
        read_probe(tmp_path / "none.csv", club)


@pytest.mark.parametrize("readings", [
    COLD,  # under ice: coldest at the top
    COLD[::-1],  # listed from the bottom up
    [(0, 3.4, 12), (4, 3.6, 12), (9, 3.9, 12)][::-1],
    CAST[::-1],
    [(0.1, 23.0, 8), (1, 24.5, 8), (3, 24.4, 8), (9, 12, 0)],  # a skin cooled overnight
    [(1, 20.0, MOST_OXYGEN), (9, 20.0, 0.0)],
    [(0, 20.0, 8), (10.4, 9.0, 0.0)],  # a little deeper than the lake file has it
])
def test_real_waters_are_not_refused(read, readings):
    assert len(read(cast(readings))) == len(readings)


def test_a_sensor_a_little_below_zero_reads_as_none_left(read):
    assert read(cast([(1, 20, 8), (9, 10, -0.1)]))["oxygen"].min() == 0.0


def test_measured_casts_are_taken(read, observations):
    """Whole casts of a real reservoir pass; the one reading refused is a slip in its own record.

    Beaverdam Reservoir, Carey et al., EDI 198 and 200 (CC BY 4.0): 2016-09-16, 21.6 degC and
    5.1 mg/L at 6.0 m between 15.9 and 14.4 degC a quarter of a metre above and below.
    """
    table = pd.read_csv(observations / "beaverdam" / "profiles.csv")
    table = pd.DataFrame({"date": table["date_local"], "time": "", "lake": "tarn",
                          "depth_m": table["depth_m"], "temperature_C": table["temp_c"],
                          "oxygen_mgl": table["do_mgl"]})
    with pytest.raises(ProbeError, match="warmer than"):
        read(table.to_csv(index=False))
    slip = (table["date"] == "2016-09-16") & (table["depth_m"] == 6.0)
    assert slip.sum() == 1
    assert len(read(table[~slip].to_csv(index=False))) == len(table) - 1


def test_the_fewer_bad_readings_are_left_out_and_told(club, tmp_path):
    path = tmp_path / "probe.csv"
    bad = ["2025-07-12,10:00,pond,1,999,8", "2025-07-12,10:00,pond,2,warm,8",
           "205-07-12,10:00,pond,2,20,8", "2025-07-12,10:00,pont,1,20,8"]
    path.write_text(cast() + "\n".join(bad) + "\n")
    findings = []
    frame = read_probe(path, club, findings=findings)
    assert list(frame["row"]) == [2, 3, 4, 5, 6]
    assert len(findings) == 4
    for words in ("row 7, column temperature_C: 999 under", "row 8", "row 9", "unknown lake"):
        assert any(words in line and "probe.csv" in line and "left out" in line
                   for line in findings), words


def test_a_file_of_which_half_is_wrong_is_refused_whole(club, tmp_path):
    path = tmp_path / "probe.csv"
    path.write_text(cast([(0.5, 77, 8), (4, 60, 5), (6, 15, 1), (8, 12, 0)]))
    findings = []
    with pytest.raises(ProbeError, match="degrees F"):
        read_probe(path, club, findings=findings)
    assert findings == []


def test_an_open_quote_swallows_no_reading(refuse):
    error = refuse(cast().replace("09:00,pond,2,", '09:00,"pond,2,'))
    assert "a quote opens and is not closed" in error.what and "line 3" in error.where
