"""Files that a user hands over: read within stated limits, decoded, cut into rows, none lost.

Every table of a club (log, probe readings, running depths, depths, weather) comes in through here,
so that a fault of a file is told the same way wherever it is: what, where, how to mend it.
"""

import csv
import errno
import io
import os
import stat
import zlib
from pathlib import Path

from lakekit.errors import LakekitError

MOST_TOML = 1_000_000  # bytes of a club or lake file
MOST_TABLE = 20_000_000  # bytes of a log, of probe readings, running depths or depths
MOST_WEATHER = 250_000_000  # bytes of a weather file, unfolded: 30 years of 5-minute rows
MOST_CELLS = 5_000_000  # of one sheet
NO_FILE = "is a folder, a pipe or a link to itself, no file,"
ALLOW_OUTSIDE = "LAKEKIT_ALLOW_OUTSIDE"  # "1": lake files may name files outside the club
_CHUNK = 1 << 20

_KINDS = {
    b"PK\x03\x04": (
        "a workbook or a zip archive",
        "Give a workbook the ending .xlsx, or save it as CSV",
    ),
    b"\xd0\xcf\x11\xe0": ("an old workbook (.xls)", "Save it as .xlsx or as CSV"),
    b"%PDF": ("a PDF", "Name the file of figures itself"),
    b"\x1f\x8b": ("a packed file", "Unpack it first"),
}
_REASONS = {
    errno.ENOENT: ("there is no such file", "Check the name"),
    errno.ENOTDIR: ("there is no such file", "Check the name: part of its path is a file"),
    errno.ELOOP: ("it is a link that leads back to itself", "Put the file itself there"),
    errno.ENAMETOOLONG: ("its name is too long", "Give it a shorter name"),
    errno.EACCES: (
        "it cannot be opened; perhaps a spreadsheet has it open, or it is not yours to read",
        "Close it there or save a copy under another name, then run again",
    ),
}


def megabytes(count):
    """A size in words, such as ``20 MB``."""
    return f"{count / 1e6:.0f} MB" if count >= 1e6 else f"{count / 1e3:.0f} kB"


def file_bytes(path, *, error=LakekitError, where=None, most=MOST_TABLE, packed=False):
    """The content of a plain file, gunzipped where allowed, never more than ``most`` bytes.

    Parameters
    ----------
    path : path-like
    error : type
        The LakekitError to raise.
    where : str, optional
        The file's name in messages; its path by default.
    most : int
        Limit [bytes] on the file, and on what it unfolds to.
    packed : bool
        Whether a gzip file is unfolded.

    Raises
    ------
    LakekitError
        No file, a folder, a pipe, a loop of links, too large, damaged or cut short.
    """
    path, where = Path(path), where or str(path)
    try:
        found = os.stat(path)
    except OSError as problem:
        raise _told(problem, error, where) from None
    except ValueError:  # a NUL in the name
        raise error("this cannot be a file's name", where=repr(where)) from None
    if stat.S_ISDIR(found.st_mode):
        raise error("this is a folder, not a file", where=where, mend="Name the file in it")
    if not stat.S_ISREG(found.st_mode):
        raise error(
            "this is a pipe or a device, not a file",
            where=where,
            mend="Save what it gives as a file",
        )
    if found.st_size > most:
        raise error(
            f"the file has {megabytes(found.st_size)}; at most {megabytes(most)} are read",
            where=where,
            mend="Keep the part that is needed",
        )
    try:
        content = path.read_bytes()
    except OSError as problem:
        raise _told(problem, error, where) from None
    if packed and content[:2] == b"\x1f\x8b":
        return _unfolded(content, error, where, most)
    return content


def _told(problem, error, where):
    reason, mend = _REASONS.get(problem.errno, (problem.strerror or str(problem), None))
    return error(reason, where=where, mend=mend)


def within(path, folder):
    """Whether a file lies in a folder, links followed, or files outside it were allowed.

    Somebody else's club folder must not read its way about the disk.
    """
    if os.environ.get(ALLOW_OUTSIDE) == "1":
        return True
    try:
        return Path(path).resolve().is_relative_to(Path(folder).resolve())
    except (OSError, RuntimeError, ValueError):  # no name, or links in a circle: told when read
        return Path(os.path.normpath(path)).is_relative_to(os.path.normpath(folder))


def _unfolded(content, error, where, most):
    parts, total = [], 0
    try:
        while content:  # a gzip file may be several, one after the other
            unfold = zlib.decompressobj(wbits=31)
            while not unfold.eof:
                part = unfold.decompress(content, _CHUNK)
                content = unfold.unconsumed_tail or unfold.unused_data
                total += len(part)
                parts.append(part)
                if total > most:
                    raise error(
                        f"the packed file unfolds to over {megabytes(most)}, the most that is read",
                        where=where,
                        mend="Keep the part that is needed",
                    )
                if not part and not unfold.eof:
                    raise error(
                        "the packed file is cut short", where=where, mend="Fetch or copy it again"
                    )
            content = content.lstrip(b"\x00")
    except zlib.error:
        raise error(
            "the packed file is damaged", where=where, mend="Fetch or copy it again"
        ) from None
    return b"".join(parts)


def decoded(content, *, error=LakekitError, where=""):
    """Bytes of a text table as text whose lines end in ``\\n``, and a remark for the user.

    UTF-8 and UTF-16 with or without byte order mark, else Windows-1252; lines may end in CR, LF
    or both.

    Returns
    -------
    (str, str)
        The remark is empty where nothing was assumed.

    Raises
    ------
    LakekitError
        When it is no text: a workbook, a PDF, a packed file, or UTF-16 cut short.
    """
    for start, (kind, mend) in _KINDS.items():
        if content.startswith(start):
            raise error(f"this is {kind}, not a text table", where=where, mend=mend)
    remark = ""
    wide = _wide(content)
    try:
        text = content.decode(wide or "utf-8-sig")
    except UnicodeDecodeError:
        if wide:
            raise error(
                "the UTF-16 text is damaged or cut short",
                where=where,
                mend="Save it again as CSV UTF-8",
            ) from None
        remark = "the file is not UTF-8: read as Windows text (cp1252)"
        text = content.decode("cp1252", errors="replace")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    nulls = text.count("\x00")
    if nulls > 0.01 * len(text) + 10:
        raise error(
            "this is no text table: it holds bytes that no text has",
            where=where,
            mend="Save it as CSV",
        )
    return (text.replace("\x00", "") if nulls else text), remark


def _wide(content):
    """The UTF-16 a text is written in, or None; without its mark, by where its zero bytes are."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    start = content[:2000]
    if len(start) < 8 or start.count(0) < 0.3 * len(start):
        return None
    even, odd = start[::2].count(0), start[1::2].count(0)
    if even and odd:
        return None
    return "utf-16-be" if even else "utf-16-le"


def outside_quotes(line):
    """A line without what stands in quotes."""
    return "".join(line.split('"')[::2])


def separator_of(text):
    """The mark between cells: of ``;``, tab and ``,`` the commonest in the first written line."""
    first = next((line for line in io.StringIO(text) if line.strip()), "")
    return max(";\t,", key=outside_quotes(first).count)


def cut_rows(text, separator, *, error=LakekitError, where=""):
    """Cut a text table into rows of cells, refusing whatever would swallow a row.

    Parameters
    ----------
    text : str
        Lines end in ``\\n``, as from :func:`decoded`.
    separator : str
    error : type
    where : str

    Returns
    -------
    list of (int, list of str)
        Row number as a spreadsheet counts them (1 = first), and the cells. Blank rows are kept.

    Raises
    ------
    LakekitError
        For a quote that opens and is not closed, or closes rows later: the line where it opens.
        For more cells than are read.
    """
    if text.count(separator) + text.count("\n") > MOST_CELLS:
        raise error(
            f"the table has over {MOST_CELLS:,} cells, the most that are read",
            where=where,
            mend="Keep the part that is needed",
        )
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True, skipinitialspace=True)
    rows, start, width = [], 1, None
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return rows
        except csv.Error as problem:
            raise _broken(text, start, reader.line_num, problem, error, where) from None
        if width is None and any(cell.strip() for cell in row):
            width = len(row)
        if reader.line_num > start and len(row) > (width or 0):
            raise _broken(text, start, reader.line_num, None, error, where)
        for cell in row if reader.line_num > start else ():
            held = outside_quotes(cell).splitlines()[1:]
            if any(width > 1 and line.count(separator) >= width - 1 for line in held):
                raise _broken(text, start, reader.line_num, None, error, where)
        rows.append((len(rows) + 1, row))
        start = reader.line_num + 1


def _broken(text, start, end, problem, error, where):
    if problem is not None and "field limit" in str(problem):
        return error(
            f"a cell has over {csv.field_size_limit():,} letters",
            where=f"{where}, line {start}",
            mend="Shorten it",
        )
    lines = text.split("\n")[start - 1 : end]
    # the line that opens a quote holds an odd number of them
    odd = [at for at, line in enumerate(lines) if line.count('"') % 2]
    at = odd[0] if odd else len(lines) - 1
    shown = repr(lines[at].strip()[:60])
    if odd:
        return error(
            "a quote opens and is not closed, so that the rows after it are lost in it",
            where=f"{where}, line {start + at}",
            mend=f"Close it, or take it away: {shown}",
        )
    return error(
        "text follows a closing quote",
        where=f"{where}, line {start + at}",
        mend=f"Take the quotes away, or put them around the whole cell: {shown}",
    )


def table_rows(path, *, error=LakekitError, where=None, most=MOST_TABLE):
    """The written rows of a CSV file of any common dialect.

    Returns
    -------
    (list of (int, list of str), str)
        Rows with anything in them, cells stripped, and the separator.

    Raises
    ------
    LakekitError
        As :func:`file_bytes`, :func:`decoded` and :func:`cut_rows`; or a row with more cells than
        its header.
    """
    where = where or str(path)
    text, _ = decoded(
        file_bytes(path, error=error, where=where, most=most), error=error, where=where
    )
    separator = separator_of(text)
    rows = [
        (number, [cell.strip() for cell in row])
        for number, row in cut_rows(text, separator, error=error, where=where)
    ]
    rows = [(number, row) for number, row in rows if any(row)]
    for number, row in rows[1:]:
        check_width(row, len(rows[0][1]), separator, error=error, where=f"{where}, row {number}")
    return rows, separator


def check_width(row, width, separator, *, error=LakekitError, where=""):
    """Refuse a row with more filled cells than the header has names: one would be lost."""
    if any(cell.strip() for cell in row[width:]):
        mend = (
            "With decimal commas, separate the columns by semicolons; a text with a comma "
            "goes in quotes"
            if separator == ","
            else "Put a text that holds the mark in quotes"
        )
        raise error(f"{len(row)} cells under {width} column names", where=where, mend=mend)
