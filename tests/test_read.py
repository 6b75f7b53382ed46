"""Reading logs as people really keep them."""

from datetime import date, datetime, time, timedelta

import numpy as np
import pandas as pd
import pytest
from log_helpers import make_club, make_lake
from openpyxl import Workbook

from lakekit.errors import TripsError
from lakekit.trips import cells, read_trips, require_rows

AS_OF = "2026-01-01"
HEADER = "date,start,hours,lake,tactic,rods,fish\n"
TACTICS = {"casting": "cast_jig", "cast jig": "cast_jig", "slip bobber": "float_rig",
           "long lining": "troll_jigs"}


def read(tmp_path, text, club=None, *, name="trips.csv", encoding="utf-8", **options):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return read_trips(path, club or make_club(), as_of=AS_OF, **options)


def finding(trips, column):
    found = trips.attrs["findings"]
    return found[found["column"] == column].iloc[0]


def test_plain_csv_becomes_canonical_columns(tmp_path):
    trips = read(tmp_path, HEADER + "2025-05-03,06:30,2.5,Ash Pit Pond,Casting,4,7\n",
                 tactics=TACTICS)
    row = trips.iloc[0]
    assert (row["row"], row["lake"], row["tactic"]) == (2, "ash", "cast_jig")
    assert (row["hours"], row["rods"], row["fish"]) == (2.5, 4, 7)
    assert row["start"] == pd.Timestamp("2025-05-03 11:30")  # CDT is UTC-5
    assert row["hour"] == 6.5
    assert row["species"] == "crappie"
    assert trips["start"].dt.tz is None
    assert trips.attrs["summary"] == "1 of 1 rows of trips.csv are used"


@pytest.mark.parametrize(
    "text",
    [
        "2025-05-03;06:30;2,5;ash;casting;4;7\n",
        "2025-05-03\t6:30 am\t2:30\tash\tcasting\t4\t7\n",
    ],
)
def test_semicolons_tabs_and_decimal_commas(tmp_path, text):
    mark = ";" if ";" in text else "\t"
    trips = read(tmp_path, HEADER.replace(",", mark) + text)
    assert trips["hours"].tolist() == [2.5]
    assert trips["hour"].tolist() == [6.5]


def test_separator_hint_of_a_spreadsheet_keeps_row_numbers(tmp_path):
    trips = read(tmp_path, "sep=;\n" + HEADER.replace(",", ";")
                 + "2025-05-03;06:30;2,5;ash;casting;4;7\n")
    assert trips["row"].tolist() == [2]


def test_byte_order_mark_utf16_and_ansi(tmp_path):
    text = "date,start,hours,lake,tactic,rods,fish,notes\n2025-05-03,06:30,2,ash,casting,4,7,café\n"
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        trips = read(tmp_path, text, encoding=encoding)
        assert trips["notes"].tolist() == ["café"], encoding
    assert trips.attrs["findings"]["finding"].str.contains("cp1252").any()


def test_quoted_line_breaks_and_blank_lines_keep_spreadsheet_rows(tmp_path):
    text = ("date,start,hours,lake,tactic,rods,fish,notes\n"
            '2025-05-03,06:30,2,ash,casting,4,7,"two\nlines"\n'
            "\n"
            "2025-05-04,06:30,x,ash,casting,4,7,\n")
    trips = read(tmp_path, text)
    assert trips["notes"].tolist() == ["two lines"]
    assert trips["row"].tolist() == [2]
    assert finding(trips, "hours")["row"] == 4


@pytest.mark.parametrize(("order", "day"), [("MDY", "2025-05-02"), ("DMY", "2025-02-05")])
def test_date_order_is_explicit(tmp_path, order, day):
    trips = read(tmp_path, HEADER + "05/02/2025,06:30,2,ash,casting,4,7\n",
                 make_club(date_order=order))
    assert trips["date"].tolist() == [pd.Timestamp(day)]


def test_ambiguous_date_without_an_order_is_a_finding_with_its_mend(tmp_path):
    trips = read(tmp_path, HEADER + "05/02/2025,06:30,2,ash,casting,4,7\n"
                 "2025-05-03,06:30,2,ash,casting,4,7\n")
    assert len(trips) == 1
    found = finding(trips, "date")
    assert found["severity"] == "error" and "day or month first" in found["finding"]
    assert "date_order" in found["mend"]
    assert trips.attrs["excluded"]["row"].tolist() == [2]


def test_date_against_the_order_is_an_error_not_a_guess(tmp_path):
    trips = read(tmp_path, HEADER + "25/05/2025,06:30,2,ash,casting,4,7\n",
                 make_club(date_order="MDY"))
    assert len(trips) == 0
    assert "no date in the order MDY" in trips.attrs["excluded"]["reason"].iloc[0]


def test_dates_with_words_and_short_years():
    assert cells.read_date("3 May 2025", None) == date(2025, 5, 3)
    assert cells.read_date("May 3, 2025", None) == date(2025, 5, 3)
    assert cells.read_date("3.5.25", "DMY") == date(2025, 5, 3)
    assert cells.read_date("2025-05-03T06:30:00", None) == date(2025, 5, 3)
    with pytest.raises(cells.CellError, match="no day of the calendar"):
        cells.read_date("2025-02-30", None)
    with pytest.raises(cells.CellError, match="not a date"):
        cells.read_date("soon", "DMY")


@pytest.mark.parametrize(
    ("cell", "hours"),
    [("06:30", 6.5), ("6:30 PM", 18.5), ("0630", 6.5), ("630", 6.5), ("6 am", 6.0),
     ("12:15 am", 0.25), ("18h30", 18.5), (time(6, 30), 6.5), (0.25, 6.0), ("18", 18.0),
     (datetime(1899, 12, 30, 6, 30), 6.5)],
)
def test_clock_times(cell, hours):
    assert cells.read_clock(cell) == pytest.approx(hours, abs=1e-12)


@pytest.mark.parametrize("cell", ["25:00", "13 pm", "6:75", "morning"])
def test_clock_times_that_are_none(cell):
    with pytest.raises(cells.CellError, match="clock time"):
        cells.read_clock(cell)


@pytest.mark.parametrize(
    ("cell", "hours"),
    [("2.5", 2.5), ("2,5", 2.5), ("2:30", 2.5), ("2 h 30", 2.5), ("150 min", 2.5),
     ("2.5 hrs", 2.5), (time(2, 30), 2.5), (timedelta(hours=2.5), 2.5)],
)
def test_durations(cell, hours):
    assert cells.read_duration(cell) == pytest.approx(hours, abs=1e-12)


def test_numbers_with_commas():
    assert cells.read_number("1,5") == 1.5
    assert cells.read_number("0,125") == 0.125
    assert cells.read_number("1,234,567") == 1234567
    assert cells.read_count("10,000") == 10000
    with pytest.raises(cells.CellError, match="may be"):
        cells.read_number("1,500")
    with pytest.raises(cells.CellError, match="whole"):
        cells.read_count("2.5")
    with pytest.raises(cells.CellError, match="beyond any number"):
        cells.read_count("2e999")


def test_unit_suffixes_and_units_in_cells(tmp_path):
    header = HEADER.strip() + ",catch_depth_ft,surface_temp_F,speed_mph,weight_oz,clarity_m\n"
    trips = read(tmp_path, header + "2025-05-03,06:30,2,ash,troll,4,7,10,68,1,1/4,40 in\n")
    row = trips.iloc[0]
    assert row["catch_depth"] == pytest.approx(3.048, abs=1e-12)
    assert row["surface_temp"] == pytest.approx(20.0, abs=1e-9)
    assert row["speed"] == pytest.approx(0.44704, abs=1e-9)
    assert row["weight"] == pytest.approx(0.25 * 0.45359237 / 16, abs=1e-12)
    assert row["clarity"] == pytest.approx(1.016, abs=1e-9)
    metric = header.replace("_ft", "_m").replace("_F", "_C").replace("_mph", "_ms").replace(
        "_oz", "_g")
    trips = read(tmp_path, metric + "2025-05-03,06:30,2,ash,troll,4,7,3,20,0.5,7,1\n")
    assert trips[["catch_depth", "surface_temp", "speed", "weight"]].iloc[0].tolist() == (
        pytest.approx([3.0, 20.0, 0.5, 0.007]))


def test_a_column_without_a_unit_takes_the_clubs_and_says_so(tmp_path):
    text = HEADER.strip() + ",catch_depth\n2025-05-03,06:30,2,ash,troll,4,7,10\n"
    us = read(tmp_path, text)
    metric = read(tmp_path, text, make_club(units="metric"))
    assert us["catch_depth"].iloc[0] == pytest.approx(3.048)
    assert metric["catch_depth"].iloc[0] == 10.0
    assert "names no unit" in finding(us, "catch_depth")["finding"]


def test_phone_form_with_its_own_names(tmp_path):
    club = make_club(log_columns={"date": "Date fished", "start": "Lines in (local)",
                                  "hours": "How long?", "tactic": "Method",
                                  "fish": "Caught", "catch_depth_ft": "Depth"})
    text = ("Timestamp,Date fished,Lines in (local),How long?,Lake,Method,Rods,Caught,Depth\n"
            "2025-05-03 20:11,2025-05-03,06:30,2:30,Lake Birch,Slip bobber,2,3,10\n")
    trips = read(tmp_path, text, club, tactics=TACTICS)
    row = trips.iloc[0]
    assert (row["lake"], row["tactic"], row["hours"], row["fish"]) == ("birch", "float_rig", 2.5, 3)
    assert row["catch_depth"] == pytest.approx(3.048)


def test_map_to_a_column_that_is_not_there_names_the_nearest(tmp_path):
    club = make_club(log_columns={"fish": "Caugt"})
    with pytest.raises(TripsError, match="did you mean 'Caught'"):
        read(tmp_path, HEADER.replace("fish", "Caught") + "2025-05-03,06:30,2,ash,cast,4,7\n",
             club)
    with pytest.raises(TripsError, match="did you mean 'fish'"):
        read(tmp_path, HEADER, make_club(log_columns={"fsh": "fish"}))


def test_missing_column_and_missing_header(tmp_path):
    with pytest.raises(TripsError, match=r"no column 'rods' \(not recognised: 'poles'\)"):
        read(tmp_path, HEADER.replace("rods", "poles") + "2025-05-03,06:30,2,ash,cast,4,7\n")
    with pytest.raises(TripsError, match="no header row"):
        read(tmp_path, "2025-05-03,06:30,2,ash,cast,4,7\n")


def test_title_rows_above_the_header_are_passed_over(tmp_path):
    trips = read(tmp_path, "Our log 2025\n\n" + HEADER + "2025-05-03,06:30,2,ash,cast,4,7\n")
    assert trips["row"].tolist() == [4]


def test_one_lake_needs_no_lake_column(tmp_path):
    club = make_club(lakes=(make_lake("ash", "Ash Pit Pond"),))
    trips = read(tmp_path, "date,start,hours,tactic,rods,fish\n2025-05-03,06:30,2,cast,4,7\n",
                 club)
    assert trips["lake"].tolist() == ["ash"]


def test_every_row_is_used_or_listed(tmp_path):
    text = HEADER + (
        "2025-05-03,06:30,2,ash,cast,4,7\n"
        "2025-05-04,06:30,,ash,cast,4,7\n"
        "2025-05-05,06:30,2,nowhere,cast,4,7\n"
        "someday,06:30,2,ash,cast,4,7\n"
        "2025-05-07,06:30,2,ash,,4,7\n"
        "2025-05-08,06:30,2,ash,cast,4,\n"
        "2025-05-09,06:30,2,ash,cast,4,many\n"
        "2025-05-10\n"
    )
    trips = read(tmp_path, text)
    excluded = trips.attrs["excluded"]
    assert sorted(trips["row"].tolist() + excluded["row"].tolist()) == list(range(2, 10))
    assert (excluded["reason"] != "").all()
    assert trips.attrs["rows_read"] == 8
    assert "7 are left out" in trips.attrs["summary"]


def test_empty_file_and_header_alone_give_an_empty_log(tmp_path):
    for text in ("", "\n\n", HEADER):
        trips = read(tmp_path, text)
        assert len(trips) == 0 and {"start", "lake", "fish"} <= set(trips.columns)
        with pytest.raises(TripsError, match="no usable row"):
            require_rows(trips, "trips.csv")


@pytest.mark.parametrize(
    ("local", "utc", "word"),
    [
        ("2025-03-09,02:30", "2025-03-09 08:30", "went forward"),  # 2:30 CST = 3:30 CDT
        ("2025-11-02,01:30", "2025-11-02 06:30", "came twice"),  # the first, CDT
        ("2025-11-02,02:30", "2025-11-02 08:30", None),  # CST again
    ],
)
def test_both_clock_changes(tmp_path, local, utc, word):
    trips = read(tmp_path, HEADER + f"{local},2,ash,cast,4,7\n")
    assert trips["start"].tolist() == [pd.Timestamp(utc)]
    found = trips.attrs["findings"]
    told = found[found["column"] == "start"]["finding"]
    assert told.empty if word is None else told.str.contains(word).all()


def test_a_row_without_a_start_is_kept_and_told(tmp_path):
    trips = read(tmp_path, HEADER + "2025-05-03,,2,ash,cast,4,7\n")
    assert trips["start"].tolist() == [pd.Timestamp("2025-05-03 17:00")]
    assert np.isnan(trips["hour"].iloc[0])
    assert "noon is taken" in finding(trips, "start")["finding"]


def workbook(tmp_path, rows, extra=None):
    book = Workbook()
    sheet = book.active
    sheet.title = "Log"
    for row in rows:
        sheet.append(row)
    if extra:
        other = book.create_sheet("Prices", 0)
        other.append(extra)
    path = tmp_path / "trips.xlsx"
    book.save(path)
    return path


ROWS = [
    ["date", "start", "hours", "lake", "tactic", "rods", "fish"],
    [datetime(2025, 5, 3), time(6, 30), 2.5, "ash", "casting", 4, 7],
    [None] * 7,
    [date(2025, 5, 4), "6:30 PM", time(1, 30), "birch", "casting", 2, 0],
]


def test_workbook_with_typed_cells_and_another_sheet(tmp_path):
    path = workbook(tmp_path, ROWS, extra=["item", "price"])
    before = path.read_bytes()
    trips = read_trips(path, make_club(), as_of=AS_OF)
    assert trips["row"].tolist() == [2, 4]
    assert trips["hours"].tolist() == [2.5, 1.5]
    assert trips["hour"].tolist() == [6.5, 18.5]
    assert trips.attrs["findings"]["finding"].str.contains("not read: 'Prices'").any()
    assert path.read_bytes() == before


def test_workbook_open_in_a_spreadsheet_is_read_and_told(tmp_path):
    path = workbook(tmp_path, ROWS)
    (tmp_path / "~$trips.xlsx").write_text("owner")
    trips = read_trips(path, make_club(), as_of=AS_OF)
    assert len(trips) == 2
    assert trips.attrs["findings"]["finding"].str.contains("open in a spreadsheet").any()


def test_locked_file_is_one_readable_error(tmp_path, monkeypatch):
    path = workbook(tmp_path, ROWS)

    def refuse(self):
        raise PermissionError(13, "in use")

    monkeypatch.setattr("pathlib.Path.read_bytes", refuse)
    with pytest.raises(TripsError, match=r"spreadsheet has it open.*Close it there"):
        read_trips(path, make_club(), as_of=AS_OF)


def test_files_that_are_no_log(tmp_path):
    club = make_club()
    with pytest.raises(TripsError, match="no such file"):
        read_trips(tmp_path / "none.csv", club)
    (tmp_path / "half.xlsx").write_bytes(b"PK\x03\x04 half")
    with pytest.raises(TripsError, match="no readable workbook"):
        read_trips(tmp_path / "half.xlsx", club)
    (tmp_path / "book.csv").write_bytes(workbook(tmp_path, ROWS).read_bytes())
    with pytest.raises(TripsError, match=r"a workbook.*ending \.xlsx"):
        read_trips(tmp_path / "book.csv", club)
    (tmp_path / "old.xls").write_bytes(b"x")
    with pytest.raises(TripsError, match=r"Save it as \.csv or \.xlsx"):
        read_trips(tmp_path / "old.xls", club)


def test_csv_and_workbook_agree(tmp_path):
    book = read_trips(workbook(tmp_path, ROWS), make_club(), as_of=AS_OF)
    text = HEADER + ("2025-05-03,06:30,2.5,ash,casting,4,7\n\n"
                     "2025-05-04,18:30,1:30,birch,casting,2,0\n")
    pd.testing.assert_frame_equal(book, read(tmp_path, text), check_dtype=True)


def test_cells_with_markup_and_control_characters_stay_text(tmp_path):
    text = (HEADER.strip() + ",notes\n"
            '2025-05-03,06:30,2,ash,cast,4,7,"=1+1 <b> #x \x07 \U0001f41f"\n')
    trips = read(tmp_path, text)
    assert trips["notes"].iloc[0] == "=1+1 <b> #x  \U0001f41f"


def test_an_open_quote_in_a_note_loses_no_row(tmp_path):
    lines = [f'2025-05-{day:02d},06:30,2,ash,cast,4,7,"fine"\n' for day in range(1, 29)]
    lines[4] = lines[4].replace('"fine"', '"fine')
    with pytest.raises(TripsError, match=r"trips\.csv, line 6: a quote opens and is not closed"):
        read(tmp_path, HEADER.strip() + ",notes\n" + "".join(lines))


def test_old_line_ends_and_unicode_text_read_alike(tmp_path):
    text = HEADER + "2025-05-03,06:30,2,ash,casting,4,7\n2025-05-04,06:30,2,ash,casting,4,0\n"
    for content in (text.replace("\n", "\r").encode(), text.replace(",", "\t").encode("utf-16"),
                    text.encode("utf-16-le")):
        assert read(tmp_path, content)["fish"].tolist() == [7, 0]


@pytest.mark.parametrize("at", range(0, 100, 9))
def test_a_damaged_workbook_is_one_message_or_read(tmp_path, at):
    content = bytearray(workbook(tmp_path, ROWS).read_bytes())
    for place in range(len(content) * at // 100, len(content) * at // 100 + 12):
        content[place % len(content)] ^= 0xFF
    try:
        read(tmp_path, bytes(content), name="damaged.xlsx")
    except TripsError as error:
        assert "workbook" in str(error) or "header" in str(error)


def test_a_workbook_that_unfolds_to_no_end_is_refused_before_it_is_unfolded(tmp_path):
    import zipfile

    path = tmp_path / "bomb.xlsx"
    packed = zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(path, "w", packed) as book, book.open("sheet1.xml", "w") as part:
        for _ in range(260):
            part.write(bytes(1_000_000))
    assert path.stat().st_size < 400_000
    with pytest.raises(TripsError, match=r"unfolds to 260 MB; at most 200 MB"):
        read_trips(path, make_club(), as_of=AS_OF)


def test_a_log_with_its_blanks_is_not_scolded(tmp_path):
    text = HEADER + "".join(f"2025-05-{day:02d},06:30,2,ash,cast,4,{day % 3}\n"
                            for day in range(1, 13))
    found = read(tmp_path, text).attrs["findings"]
    said = found[found["finding"].str.contains("without a fish")]
    assert said["mend"].tolist() == [""] and said["severity"].tolist() == ["note"]
