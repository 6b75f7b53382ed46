"""Files that a user hands over: what is no file, too large, damaged, or swallows its rows."""

import gzip
import os

import pytest

from lakekit.errors import ProbeError
from lakekit.inputs import (
    ALLOW_OUTSIDE,
    cut_rows,
    decoded,
    file_bytes,
    separator_of,
    table_rows,
    within,
)

TABLE = "date,lake,notes\n2025-05-01,ash,calm\n2025-05-02,ash,\n2025-05-03,ash,wind\n"


def refuse(call, *arguments, **options):
    with pytest.raises(ProbeError) as caught:
        call(*arguments, error=ProbeError, **options)
    return str(caught.value)


@pytest.mark.parametrize(
    ("kind", "words"),
    [("folder", "a folder, not a file"), ("pipe", "a pipe or a device"),
     ("loop", "leads back to itself"), ("device", "a pipe or a device"),
     ("absent", "there is no such file"), ("below a file", "there is no such file"),
     ("long", "its name is too long"), ("nul", "cannot be a file's name")],
)  # fmt: skip
def test_what_is_no_file_is_named(tmp_path, kind, words):
    path = tmp_path / "w.csv"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "loop":
        path.symlink_to(tmp_path / "x.csv")
        (tmp_path / "x.csv").symlink_to(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "below a file":
        path.write_text("x")
        path = path / "w.csv"
    path = {"long": tmp_path / ("n" * 300), "nul": tmp_path / "a\x00b"}.get(kind, path)
    assert words in refuse(file_bytes, path)


def test_sizes_have_limits_whatever_they_unfold_to(tmp_path):
    path = tmp_path / "w.csv.gz"
    path.write_bytes(gzip.compress(b"0" * 3_000_000))
    assert path.stat().st_size < 10_000
    assert "unfolds to over 1 MB" in refuse(file_bytes, path, most=1_000_000, packed=True)
    assert len(file_bytes(path, most=3_000_000, packed=True)) == 3_000_000
    path.write_bytes(b"0" * 2000)
    assert "the file has 2 kB; at most 1 kB" in refuse(file_bytes, path, most=1000)


@pytest.mark.parametrize("damage", ["cut", "flipped", "trailing"])
def test_damaged_packed_files_are_one_message(tmp_path, damage):
    whole = bytearray(gzip.compress(TABLE.encode() * 50))
    cut = bytes(whole[:-30])
    whole[len(whole) // 2] ^= 0xFF
    content = {"cut": cut, "flipped": bytes(whole), "trailing": cut[:5]}[damage]
    path = tmp_path / "w.csv.gz"
    path.write_bytes(content)
    assert "the packed file is" in refuse(file_bytes, path, packed=True)


def test_packed_parts_one_after_the_other_are_whole(tmp_path):
    path = tmp_path / "w.csv.gz"
    path.write_bytes(gzip.compress(b"first,") + gzip.compress(b"second"))
    assert file_bytes(path, packed=True) == b"first,second"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends_read_alike(tmp_path, encoding, ends):
    path = tmp_path / "t.csv"
    path.write_bytes(TABLE.replace("\n", ends).encode(encoding))
    rows, separator = table_rows(path)
    assert separator == "," and [number for number, _ in rows] == [1, 2, 3, 4]
    assert rows[3][1] == ["2025-05-03", "ash", "wind"]


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"PK\x03\x04rest", ".xlsx"), (b"\xd0\xcf\x11\xe0rest", "an old workbook"),
     (b"%PDF-1.7", "a PDF"), (b"\x1f\x8b\x08", "a packed file"),
     (b"a,b\n" + bytes(500) + b"\n", "bytes that no text has"),
     ("a,b\n1,2\n".encode("utf-16")[:-1], "cut short")],
)  # fmt: skip
def test_what_is_no_text_is_named(content, words):
    assert words in refuse(decoded, content)


def test_an_open_quote_swallows_no_row():
    text = TABLE.replace(",calm", ',"calm')
    assert "line 2" in (said := refuse(cut_rows, text, ",", where="t.csv"))
    assert "a quote opens and is not closed" in said


def test_a_quote_that_closes_rows_later_is_found_too():
    """Read leniently, these are two rows of which one holds the other three: all valid."""
    text = TABLE.replace(",calm", ',"calm').replace("wind\n", 'x""wind"\n2025-05-04,ash,\n')
    assert "line 2" in refuse(cut_rows, text, ",", where="t.csv")


def test_a_quote_closed_by_that_of_a_damaged_row_below_is_found():
    header, good = "date,hours,lake,notes\n", "2025-05-03,1,elm,\n"
    text = header + '2025-05-01,2,ash,"calm\n2025-05-02,",ash,"x"\n' + good
    assert "line 2" in refuse(cut_rows, text, ",", where="t.csv")


def test_a_note_of_several_lines_is_one_row():
    text = TABLE.replace("calm", '"calm,\nthen ""wind"",\nthen calm"')
    rows = cut_rows(text, ",")
    assert len(rows) == 4 and rows[1][1][2] == 'calm,\nthen "wind",\nthen calm'
    assert [number for number, _ in rows] == [1, 2, 3, 4]


def test_text_after_a_closing_quote_is_named():
    assert "text follows a closing quote" in refuse(cut_rows, 'a,b\n"big" one,2\n', ",")


def test_a_cell_without_a_column_is_not_dropped(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("date,depth_m\n2025-05-01,2,5\n")
    said = refuse(table_rows, path, where="t.csv")
    assert "row 2: 3 cells under 2 column names" in said and "semicolons" in said
    path.write_text("date,depth_m\n2025-05-01,2,,\n")
    assert len(table_rows(path)[0]) == 2


def test_the_separator_is_taken_from_outside_quotes():
    assert separator_of('\n"a;b;c;d",x\n') == ","


def test_files_outside_the_club_need_leave(tmp_path, monkeypatch):
    club = tmp_path / "club"
    club.mkdir()
    (tmp_path / "far.csv").write_text("x")
    (club / "link.csv").symlink_to(tmp_path / "far.csv")
    assert within(club / "weather" / "near.csv", club)
    for path in (club / ".." / "far.csv", tmp_path / "far.csv", club / "link.csv"):
        assert not within(path, club)
    monkeypatch.setenv(ALLOW_OUTSIDE, "1")
    assert within(tmp_path / "far.csv", club)
