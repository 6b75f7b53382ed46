"""A log file as plain rows of cells: CSV in any common dialect, or a workbook; never written to."""

import io
import zipfile
from pathlib import Path

from lakekit.errors import TripsError
from lakekit.inputs import MOST_CELLS, cut_rows, decoded, file_bytes, megabytes, outside_quotes
from lakekit.trips.headers import header_score

WORKBOOKS = (".xlsx", ".xlsm")
TEXTS = (".csv", ".txt", ".tsv")
MOST_UNFOLDED = 200_000_000  # bytes of a workbook's parts once unpacked


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
    suffix = path.suffix.lower()
    if suffix not in (*WORKBOOKS, *TEXTS) and not path.is_dir():
        raise TripsError(f"a log cannot be read from a {suffix or 'nameless'} file",
                         where=str(path), mend="Save it as .csv or .xlsx")
    content = file_bytes(path, error=TripsError)
    if suffix in WORKBOOKS:
        return _workbook_rows(content, path, remarks), remarks
    return _text_rows(content, path, remarks), remarks


def _lock_remarks(path):
    locks = (path.with_name("~$" + path.name), path.with_name(f".~lock.{path.name}#"))
    if any(lock.exists() for lock in locks):
        return ["the file is open in a spreadsheet: what was saved last has been read"]
    return []


def _text_rows(content, path, remarks):
    text, remark = decoded(content, error=TripsError, where=str(path))
    remarks += [remark] if remark else []
    lines = [line for _, line in zip(range(10), io.StringIO(text), strict=False)]
    first = next((line for line in lines if line.strip()), "")
    hint = first.strip().lower()
    if hint.startswith("sep=") and len(hint) == 5:
        text = text[len(first):]
        # the hint is not a row that a spreadsheet shows
        return cut_rows(text, hint[4], error=TripsError, where=str(path))
    separator = max(";\t,", key=lambda mark: _fits(lines, mark))
    return cut_rows(text, separator, error=TripsError, where=str(path))


def _fits(lines, mark):
    known = max((header_score(line.split(mark)) for line in lines), default=0)
    return known, max((outside_quotes(line).count(mark) for line in lines), default=0)


def _workbook_rows(content, path, remarks):
    try:
        filled = _filled_sheets(content, path)
    except TripsError:
        raise
    except Exception:  # a damaged workbook fails anywhere in zip, XML or the cells' own types
        raise TripsError("this is no readable workbook; it may be damaged, half saved or protected "
                         "by a password", where=str(path),
                         mend="Close it in the spreadsheet and save it again as .xlsx") from None
    if not filled:
        return []
    scores = [max(header_score(row) for _, row in rows[:10]) for _, rows in filled]
    best = scores.index(max(scores))
    others = [title for index, (title, _) in enumerate(filled) if index != best]
    if others:
        remarks.append(f"sheet {filled[best][0]!r} is read; not read: "
                       + ", ".join(repr(title) for title in others))
    return filled[best][1]


def _filled_sheets(content, path):
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        unfolded = sum(entry.file_size for entry in packed.infolist())
    if unfolded > MOST_UNFOLDED:
        raise TripsError(f"the workbook unfolds to {megabytes(unfolded)}; at most "
                         f"{megabytes(MOST_UNFOLDED)} are read", where=str(path),
                         mend="Copy the log's rows alone into a new workbook")
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    filled, cells = [], 0
    try:
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            rows = []
            for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
                cells += len(row) + 1
                if cells > MOST_CELLS:
                    raise TripsError(f"the workbook has over {MOST_CELLS:,} cells, the most that "
                                     "are read", where=str(path),
                                     mend="Copy the log's rows alone into a new workbook")
                if any(cell not in (None, "") for cell in row):
                    rows.append((number, list(row)))
            if rows:
                filled.append((sheet.title, rows))
    finally:
        book.close()
    return filled
