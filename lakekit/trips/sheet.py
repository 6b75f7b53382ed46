"""A log file as plain rows of cells: CSV in any common dialect, or a workbook; never written to."""

import csv
import io
import zipfile
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from lakekit.errors import TripsError
from lakekit.trips.headers import header_score

OPEN_ELSEWHERE = "close it there or save a copy under another name, then run again"


def read_sheet(path):
    """Read a CSV or XLSX file as text-like cells with spreadsheet row numbers.

    Parameters
    ----------
    path : pathlib.Path or str
        A .csv, .txt, .tsv or .xlsx (.xlsm) file.

    Returns
    -------
    tuple of (list of (int, list), list of str)
        Rows as (spreadsheet row number, cells), and remarks for the user.

    Raises
    ------
    TripsError
        When the file is missing, locked, no such table, or of an unknown kind.
    """
    path = Path(path)
    remarks = _lock_remarks(path)
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise TripsError("no such log file", where=str(path),
                         mend="check the name, or run `lakekit new` for an empty log") from None
    except PermissionError:
        raise TripsError("the log cannot be opened, probably because a spreadsheet has it open",
                         where=str(path), mend=OPEN_ELSEWHERE[0].upper() + OPEN_ELSEWHERE[1:]
                         ) from None
    except IsADirectoryError:
        raise TripsError("this is a folder, not a log file", where=str(path),
                         mend="name the .csv or .xlsx file in it") from None
    suffix = path.suffix.lower()
    if suffix in (".xlsx", ".xlsm"):
        rows = _workbook_rows(content, path, remarks)
    elif suffix in (".csv", ".txt", ".tsv"):
        rows = _text_rows(content, path, remarks)
    else:
        raise TripsError(f"a log cannot be read from a {suffix or 'nameless'} file",
                         where=str(path), mend="Save it as .csv or .xlsx")
    return rows, remarks


def _lock_remarks(path):
    locks = (path.with_name("~$" + path.name), path.with_name(f".~lock.{path.name}#"))
    if any(lock.exists() for lock in locks):
        return ["the file is open in a spreadsheet: what was saved last has been read"]
    return []


def _decode(content, path, remarks):
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16")
    if content[:4] == b"PK\x03\x04":
        raise TripsError("this is a workbook with a .csv name", where=str(path),
                         mend="Give it the ending .xlsx, or save it as CSV")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        remarks.append("the file is not UTF-8: read as Windows text (cp1252)")
        return content.decode("cp1252", errors="replace")


def _text_rows(content, path, remarks):
    text = _decode(content, path, remarks).replace("\x00", "")
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    hint = first.strip().lower()
    if hint.startswith("sep=") and len(hint) == 5:
        delimiter = hint[4]
        text = text[text.lower().index("sep=") + 5:].lstrip("\r").removeprefix("\n")
    else:
        delimiter = max(";\t,", key=lambda mark: _fits(lines[:10], mark))
    csv.field_size_limit(10_000_000)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        raise TripsError(f"the file is no readable table ({error})", where=str(path),
                         mend="Open it in a spreadsheet and save it as CSV anew") from None
    return [(number, row) for number, row in enumerate(rows, start=1)]


def _fits(lines, mark):
    known = max((header_score(line.split(mark)) for line in lines), default=0)
    outside_quotes = ["".join(line.split('"')[::2]) for line in lines]
    return known, max((line.count(mark) for line in outside_quotes), default=0)


def _workbook_rows(content, path, remarks):
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    except (zipfile.BadZipFile, InvalidFileException, KeyError, OSError, ValueError):
        raise TripsError("this is no readable workbook; it may be half saved or protected by a "
                         "password", where=str(path),
                         mend="Close it in the spreadsheet and save it again as .xlsx") from None
    try:
        filled = []
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            rows = [
                (number, list(row))
                for number, row in enumerate(sheet.iter_rows(values_only=True), start=1)
            ]
            if any(cell not in (None, "") for _, row in rows for cell in row):
                filled.append((sheet.title, rows))
    finally:
        book.close()
    if not filled:
        return []
    scores = [max(header_score(row) for _, row in rows[:10]) for _, rows in filled]
    best = scores.index(max(scores))
    others = [title for index, (title, _) in enumerate(filled) if index != best]
    if others:
        remarks.append(f"sheet {filled[best][0]!r} is read; not read: "
                       + ", ".join(repr(title) for title in others))
    return filled[best][1]
