"""One cell of a log to one value: dates, clock times, numbers with or without units, choices."""

import math
import re
from datetime import date, datetime, time, timedelta

from lakekit.units import UNITS, convert, parse_quantity

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


class CellError(ValueError):
    """A cell that cannot be read: what is wrong, and how to mend it."""

    def __init__(self, finding, mend):
        self.finding, self.mend = finding, mend
        super().__init__(finding)


def blank(cell):
    """Whether a cell says nothing."""
    return cell is None or str(cell).strip().lower() in ("", "-", "na", "n/a", "nan", "none", "?")


def read_date(cell, order):
    """A calendar day.

    Parameters
    ----------
    cell : str, datetime.date or datetime.datetime
    order : str or None
        "YMD", "MDY" or "DMY" for dates in figures such as 05/02/2025; None: ISO dates and
        dates with the month as a word only.

    Raises
    ------
    CellError
    """
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    text = str(cell).strip()
    match = re.match(r"^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?$", text)
    if match:
        return _day(*map(int, match.groups()), text)
    word = re.search(r"[A-Za-z]{3,}", text)
    if word and word.group()[:3].lower() in MONTHS:
        numbers = [int(number) for number in re.findall(r"\d+", text)]
        year = max(numbers, default=0)
        if len(numbers) == 2 and year > 31:
            return _day(year, MONTHS.index(word.group()[:3].lower()) + 1, min(numbers), text)
    match = re.match(r"^(\d{1,4})[./\-](\d{1,2})[./\-](\d{1,4})\.?$", text)
    if not match:
        raise CellError(f"{text!r} is not a date", "write it as 2025-05-31")
    if order is None:
        raise CellError(f"{text!r} may be day or month first",
                        'set date_order = "MDY" or "DMY" in club.toml, or write 2025-05-31')
    parts = dict(zip(order, map(int, match.groups()), strict=True))
    year = parts["Y"] + (2000 if parts["Y"] < 100 else 0)
    try:
        return date(year, parts["M"], parts["D"])
    except ValueError:
        raise CellError(f"{text!r} is no date in the order {order}",
                        "mend the date, or date_order in club.toml") from None


def _day(year, month, day, text):
    try:
        return date(year, month, day)
    except ValueError:
        raise CellError(f"{text!r} is no day of the calendar", "mend the date") from None


def read_clock(cell):
    """Clock hours [h], 0 to below 24, of a local time such as 06:30, 6.30 pm or 0630."""
    if isinstance(cell, datetime):
        return cell.hour + cell.minute / 60
    if isinstance(cell, time):
        return cell.hour + cell.minute / 60
    if isinstance(cell, timedelta):
        return _clock(cell.total_seconds() / 3600, cell)
    if isinstance(cell, float) and 0 <= cell < 1:
        return cell * 24
    text = f"{cell:g}" if isinstance(cell, float) else str(cell).strip().lower()
    match = re.match(r"^(\d{1,2})(?:[:.h](\d{2})(?::\d{2})?|(\d{2}))?\s*h?\s*([ap])?\.?\s*m?\.?$",
                     text)
    if not match:
        raise CellError(f"{text!r} is not a clock time", "write it as 06:30")
    hour, minute = int(match.group(1)), int(match.group(2) or match.group(3) or 0)
    half = match.group(4)
    if minute > 59 or (half and not 1 <= hour <= 12):
        raise CellError(f"{text!r} is not a clock time", "write it as 06:30")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    return _clock(hour + minute / 60, text)


def _clock(hours, text):
    if not 0 <= hours < 24:
        raise CellError(f"{str(text)!r} is not a clock time", "write it as 06:30")
    return float(hours)


def read_duration(cell):
    """Hours [h] from 2.5, 2:30, "2 h 30", a workbook's time, or "150 min"."""
    if isinstance(cell, time):
        return cell.hour + cell.minute / 60 + cell.second / 3600
    if isinstance(cell, timedelta):
        return cell.total_seconds() / 3600
    text = str(cell).strip().lower()
    match = re.match(r"^(\d{1,2})\s*(?::|h\w*)\s*(\d{1,2})(?::00)?\s*(?:m\w*)?$", text)
    if match and int(match.group(2)) < 60:
        return int(match.group(1)) + int(match.group(2)) / 60
    match = re.match(r"^([\d.,]+)\s*min\w*$", text)
    if match:
        return read_number(match.group(1)) / 60
    return read_number(re.sub(r"\s*h(?:ours?|rs?)?\.?$", "", text))


def read_number(cell):
    """A number, with a decimal comma or thousands marks if need be.

    Raises
    ------
    CellError
        Where it is none, or "1,500" could be one and a half or fifteen hundred.
    """
    if isinstance(cell, bool):
        raise CellError(f"{cell!r} is not a number", "write a number")
    if isinstance(cell, (int, float)):
        return float(cell)
    text = str(cell).strip().replace("\u00a0", "").replace("\u2212", "-")
    if re.match(r"^[+-]?\d{1,3}(,\d{3})+\.\d+$", text) or re.match(r"^[+-]?\d{1,3}(,\d{3}){2,}$",
                                                                   text):
        text = text.replace(",", "")
    elif re.match(r"^[+-]?[1-9]\d{0,2},\d{3}$", text):
        raise CellError(f"{text!r} may be {text.replace(',', '.')} or {text.replace(',', '')}",
                        "write it without the comma")
    elif re.match(r"^[+-]?\d*,\d+$", text):
        text = text.replace(",", ".")
    if not re.match(r"^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$", text, re.IGNORECASE):
        raise CellError(f"{text!r} is not a number", "write a plain number")
    number = float(text)
    if math.isinf(number):
        raise CellError(f"{text!r} is beyond any number", "write a plain number")
    return number


def read_count(cell):
    """A whole number; "10,000" is ten thousand."""
    if isinstance(cell, str) and re.match(r"^\s*\d{1,3}(,\d{3})+\s*$", cell):
        cell = cell.replace(",", "")
    number = read_number(cell)
    if number != round(number):
        raise CellError(f"{cell!r} is not a whole number", "write a whole number")
    return number


def read_quantity(cell, dimension, unit):
    """SI value of a cell: a number in ``unit``, or text that names its own unit."""
    text = str(cell).strip()
    if isinstance(cell, str) and re.search(r"[A-Za-z°]", text):
        try:
            return parse_quantity(text.replace(",", "."), dimension)
        except ValueError as error:
            raise CellError(str(error), f"write a number in {unit}") from None
    if isinstance(cell, str) and re.match(r"^\d+\s*/\s*\d+$", text):
        top, bottom = map(float, text.split("/"))
        if bottom == 0:
            raise CellError(f"{text!r} divides by zero", f"write a number in {unit}")
        return float(convert(top / bottom, unit, dimension))
    if unit not in UNITS[dimension]:
        raise CellError(f"{unit!r} is no unit of {dimension}", "mend the column's suffix")
    return float(convert(read_number(cell), unit, dimension))


def read_choice(cell, choices):
    """One of ``choices``; its first letters are enough when they are unambiguous."""
    text = str(cell).strip().lower()
    yes_no = {"y": "yes", "n": "no", "true": "yes", "false": "no", "1": "yes", "0": "no"}
    if choices == ("yes", "no"):
        text = yes_no.get(text, text)
    near = [choice for choice in choices if choice.startswith(text)]
    if text in choices:
        return text
    if len(near) == 1 and len(text) >= 2:
        return near[0]
    raise CellError(f"{text!r} is none of {', '.join(choices)}", "use one of those words")


def read_text(cell):
    """Text on one line, without control characters."""
    if isinstance(cell, float) and cell == round(cell):
        cell = int(cell)
    text = "".join(" " if character in "\r\n\t" else character for character in str(cell))
    return "".join(character for character in text if character.isprintable()).strip()
