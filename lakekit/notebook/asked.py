"""The parameters of every notebook, checked one way: wrong ones are one line that names them."""

import re
from difflib import get_close_matches
from types import SimpleNamespace

import pandas as pd

from lakekit.club import find_lake, read_club
from lakekit.errors import LakekitError, NotebookError
from lakekit.tactics.phase import PHASE_NAMES
from lakekit.waters.year import CHANGES

STORM = {"wind": ("mph", "m/s"), "air": ("F", "C"), "rain": ("in", "mm"), "hours": None}


def given(**parameters):
    """A notebook's parameters, checked and completed; rerunning the cell changes nothing.

    Parameters
    ----------
    club_folder : str
        "" is the demo.
    **parameters
        By the names in ``CHECKS``; others are passed on as they are.

    Returns
    -------
    types.SimpleNamespace
        ``club``, and each parameter: a lake as its key, "" as what it stands for (None where
        something later decides).

    Raises
    ------
    NotebookError
        In one line: the parameter, what is wrong with it, how to mend it.

    Examples
    --------
    >>> given(lake="TEAL MARSH LAKE").lake
    'teal-marsh'
    >>> given(months="12")
    Traceback (most recent call last):
    lakekit.errors.NotebookError: parameter months: '12' is no whole number. Write 1 to 24, ...
    """
    club = read_club(_text(parameters.pop("club_folder", "")) or None)
    found = {}
    for name, value in parameters.items():
        try:
            found[name] = CHECKS.get(name, lambda value, club: value)(value, club)
        except LakekitError as error:
            raise NotebookError(error.what, where=f"parameter {name}", mend=error.mend) from None
    return SimpleNamespace(club=club, **found)


def _text(value, club=None):
    if not isinstance(value, str):
        raise NotebookError(f"{value!r} is no text", mend='Write it in quotes, "" for none')
    return value.strip()


def _lake(value, club):
    value = _text(value)
    return find_lake(club, value) if value else next(iter(club.lakes))


def _lake_or_all(value, club):
    return _lake(value, club) if _text(value) else None


def _lakes(value, club):
    if isinstance(value, str) or not isinstance(value, (list, tuple)):
        raise NotebookError(f"{value!r} is no list", mend='Write ["one", "another"], [] for all')
    return [find_lake(club, _text(word)) for word in value] or list(club.lakes)


def _month(value, club):
    value = _text(value)
    if value and not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", value):
        raise NotebookError(f"{value!r} is not a month", mend="Write it as YYYY-MM, 2026-05")
    return value or None


def _day(value, club):
    value = _text(value)
    try:
        pd.Timestamp(value or "2000-01-01")
    except ValueError:
        raise NotebookError(f"{value!r} is not a date", mend="Write it as YYYY-MM-DD") from None
    return value or None


def _months(value, club):
    if type(value) is not int or not 1 <= value <= 24:
        wrong = "is no whole number" if type(value) is not int else "months are asked for"
        raise NotebookError(f"{value!r} {wrong}", mend="Write 1 to 24, without quotes")
    return value


def _year(value, club):
    if type(value) is not int or not (value == 0 or 1900 <= value <= 2200):
        raise NotebookError(f"{value!r} is no year", mend="Write 2025, or 0 for the last whole one")
    return value or None


def _month_number(value, club):
    if type(value) is not int or not 1 <= value <= 12:
        raise NotebookError(f"{value!r} is no month", mend="Write 1 to 12, without quotes")
    return value


def _change(value, club):
    word = _text(value).lower()
    if word not in CHANGES:
        near = get_close_matches(word, CHANGES, n=1)
        mend = f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(CHANGES)}"
        raise NotebookError(f"no change {value!r}", mend=mend)
    return word


def _phase(value, club):
    word = _text(value).lower().replace(" ", "_").replace("-", "_")
    if word not in PHASE_NAMES:
        near = get_close_matches(word, PHASE_NAMES, n=1)
        mend = f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(PHASE_NAMES)}"
        raise NotebookError(f"no season phase {value!r}", mend=mend)
    return word


def _hours(value, club):
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value <= 24:
        raise NotebookError(f"{value!r} is no number of hours", mend="Write 0.5 to 24")
    return float(value)


def _storm(value, club):
    if not isinstance(value, dict):
        raise NotebookError(
            f"{value!r} is no storm", mend='Write {"wind": "25 mph", "hours": 12}, {} for none'
        )
    for name, part in value.items():
        if name not in STORM:
            raise NotebookError(f"a storm has no {name!r}", mend=f"It has {', '.join(STORM)}")
        if STORM[name] and not re.search("[A-Za-z]", str(part)):
            mend = f'Write "{part} {STORM[name][0]}" or "{part} {STORM[name][1]}"'
            raise NotebookError(f"its {name}, {part!r}, has no unit", mend=mend)
    return value or None


CHECKS = {
    "lake": _lake,
    "only_lake": _lake_or_all,
    "lakes": _lakes,
    "start": _month,
    "month": _month,
    "date": _day,
    "since": _day,
    "months": _months,
    "year": _year,
    "compared_month": _month_number,
    "change": _change,
    "amount": _text,
    "phase": _phase,
    "planned_hours": _hours,
    "storm": _storm,
    "log": _text,
    "out": _text,
}
