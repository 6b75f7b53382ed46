"""Reading TOML tables field by field, with an error that names file, key and mend."""

import re
import tomllib
import unicodedata
from datetime import date, datetime
from difflib import get_close_matches

import numpy as np
import pandas as pd

from lakekit.errors import ClubError
from lakekit.inputs import MOST_TOML, file_bytes
from lakekit.units import UNITS, parse_quantity, shown

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)
MOST_UNKNOWN = 20  # unknown keys of one table that are named
MOST_LETTERS = 2000  # of one text
_SI_NAMES = {
    "length": "metres",
    "area": "square metres",
    "temperature": "degrees C",
    "speed": "metres per second",
    "mass": "kilograms",
    "flow": "cubic metres per second",
}


def load_toml(path, *, label):
    """Read a TOML file as a dict; a UTF-8 byte order mark is tolerated.

    Parameters
    ----------
    path : pathlib.Path
    label : str
        The file's name in messages, such as ``lakes/teal.toml``.

    Raises
    ------
    ClubError
        When the file is missing, is no UTF-8 text or has a syntax error (with its line).
    """
    content = file_bytes(path, error=ClubError, where=label, most=MOST_TOML)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise ClubError(
            "a letter is not UTF-8 text",
            where=f"{label}, line {line}",
            mend="Save the file with the encoding UTF-8",
        ) from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ClubError(
            "tables or lists stand in each other too deep to be read",
            where=label,
            mend="A club or lake file needs no list within a list",
        ) from None
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        found = re.search(r"\(at line (\d+), column \d+\)", message)
        number = int(found.group(1)) if found else text.count("\n") + 1
        what = re.sub(r"\s*\(at [^)]*\)$", "", message)
        what = what[:1].lower() + what[1:]
        line = text.splitlines()[number - 1].strip() if found else ""
        raise ClubError(
            f"not valid TOML: {what}" + (f" in {shown(line)}" if line else ""),
            where=f"{label}, line {number}",
            mend=_syntax_mend(line),
        ) from None
    except ValueError:  # what Python says of a whole number with over 4,300 digits
        raise ClubError(
            "a number has too many digits",
            where=label,
            mend="Write numbers of a few digits, with their unit in quotes",
        ) from None


def _syntax_mend(line):
    if re.search("[“”‘’]", line):
        return 'Use straight quotes: name = "..."'
    if re.search(r"=\s*[-+\d./]+\s*[A-Za-z]", line):
        return 'Put a quantity with a unit in quotes: max_depth = "34 ft"'
    return 'Each line is key = value, with text in straight quotes: name = "..."'


def nearest(word, known):
    """The entry of ``known`` spelt most like ``word``, capitals aside; None if none is near."""
    by_lower = {entry.lower(): entry for entry in known}
    low = str(word).lower()
    turned = [entry for entry in by_lower if sorted(entry) == sorted(low)]
    near = turned or get_close_matches(low, list(by_lower), n=1, cutoff=0.55)
    return by_lower[near[0]] if near else None


def near_file(club_folder, path):
    """A file of the club that ``path`` may have meant, as a lake file writes it; None if none."""
    for folder in dict.fromkeys((club_folder.absolute() / "weather", path.parent)):
        beside = [entry.name for entry in folder.glob("*")] if folder.is_dir() else []
        near = nearest(path.name[:80], beside)
        if near and folder.is_relative_to(club_folder.absolute()):
            return (folder / near).relative_to(club_folder.absolute()).as_posix()
    return None


def tidy_text(text):
    """A text on one line, without invisible marks; None where it holds control characters."""
    text = " ".join(text.split())
    kinds = [unicodedata.category(letter) for letter in text]
    if not set(kinds).isdisjoint(("Cc", "Cs", "Cn")):
        return None
    # joiners belong to some scripts; other marks turn the direction or show nothing
    kept = "".join(
        letter
        for letter, kind in zip(text, kinds, strict=True)
        if kind != "Cf" or letter in "\u200c\u200d"
    )
    return kept.strip() if kept.strip("\u200c\u200d ") else ""


def nearest_zone(name, zones):
    """The IANA zone of ``zones`` that a spoken name or a city most likely means."""
    spoken = {"eastern": "America/New_York", "central": "America/Chicago",
              "mountain": "America/Denver", "pacific": "America/Los_Angeles",
              "et": "America/New_York", "ct": "America/Chicago", "mt": "America/Denver",
              "pt": "America/Los_Angeles", "cst": "America/Chicago", "cdt": "America/Chicago",
              "pst": "America/Los_Angeles", "mdt": "America/Denver", "edt": "America/New_York"}
    low = name.strip().lower()
    first = low.split()[0] if low.split() else ""
    if first in spoken and "/" not in low:
        return spoken[first]
    found = nearest(name.strip().replace(" ", "_"), sorted(zones))
    cities = {zone.rsplit("/", 1)[-1]: zone for zone in sorted(zones) if "/" in zone}
    city = nearest(low.rsplit("/", 1)[-1].replace(" ", "_"), cities)
    if "/" not in name and city is not None:
        return cities[city]
    return found or (cities[city] if city else "Etc/UTC")


class Problems:
    """Findings of one check: errors, warnings and notes, in the order met."""

    def __init__(self):
        self.rows = []

    def add(self, severity, where, finding, mend=None):
        """Append one finding; severity is error, warning or note."""
        self.rows.append({"where": where, "severity": severity, "finding": finding,
                          "mend": mend or ""})

    @property
    def errors(self):
        """The findings that stop a file from being used."""
        return [row for row in self.rows if row["severity"] == "error"]

    def raise_first(self):
        """Raise the first error as a ClubError that also says how many more there are."""
        if not self.errors:
            return
        first = self.errors[0]
        more = len(self.errors) - 1
        mend = first["mend"].rstrip(".")
        if more:
            also = "; ".join(row["where"].rsplit(", ", 1)[-1] for row in self.errors[1:4])
            stop = "" if mend.endswith("?") else "."
            mend = (f"{mend}{stop} " if mend else "") + f"{more} more to mend ({also})"
        raise ClubError(first["finding"], where=first["where"], mend=mend or None)

    def table(self):
        """Findings as a DataFrame: where, severity, finding, mend."""
        return pd.DataFrame(self.rows, columns=["where", "severity", "finding", "mend"])


class Table:
    """One TOML table being read; a wrong field becomes a finding and reads as its default.

    Parameters
    ----------
    data : dict
    label : str
        File name in messages.
    problems : Problems
        Where findings go.
    known : sequence of str
        The keys this table may hold.
    name : str
        The table's own name, empty at the top level.
    """

    def __init__(self, data, *, label, problems, known, name=""):
        self.label, self.problems, self.name = label, problems, name
        if not isinstance(data, dict):
            self.problems.add("error", f"{label}, [{name}]", f"[{name}] is not a table",
                              f"Write [{name}] on a line of its own, its keys below it")
            data = {}
        self.data = data
        unknown = [key for key in data if key not in known]
        for key in unknown[:MOST_UNKNOWN]:
            near = nearest(key[:60], known)
            hint = f"Did you mean {near}?" if near else f"Known keys: {', '.join(known)}"
            self.error(key, f"unknown key {shown(key)}" + (f" in [{name}]" if name else ""), hint)
        if len(unknown) > MOST_UNKNOWN:
            more = len(unknown) - MOST_UNKNOWN
            self.problems.add("error", label, f"{more:,} more unknown keys", "Take them out")

    def where(self, key):
        """File and key, as messages name them."""
        name = f"{self.name + '.' if self.name else ''}{key}"
        return f"{self.label}, key {name if name.isprintable() and len(name) < 80 else shown(name)}"

    def error(self, key, what, mend=None):
        """Record an error at a key."""
        self.problems.add("error", self.where(key), what, mend)

    def __contains__(self, key):
        return key in self.data

    def text(self, key, default=None, *, choices=None, required=False):
        """A line of text, one of ``choices`` where given."""
        if key not in self.data:
            if required:
                self.error(key, f"{key} is missing", f'Add {key} = "..."')
            return default
        value = self.data[key]
        if not isinstance(value, str) or not value.strip():
            self.error(
                key,
                f"{shown(value)} is not a text" if value != "" else f"{key} is empty",
                f'Write {key} = "..."',
            )
            return default
        found, value = value, tidy_text(value)
        if not value or len(value) > MOST_LETTERS:
            what = (
                "holds nothing that can be seen"
                if value == ""
                else "holds control characters"
                if value is None
                else f"has over {MOST_LETTERS} letters"
            )
            self.error(key, f"{shown(found)} {what}", f'Write {key} = "..."')
            return default
        if choices is not None and value not in choices:
            near = nearest(value, choices)
            self.error(
                key,
                f"{shown(value)} is not one of {', '.join(choices)}",
                f"Did you mean {near}?" if near else None,
            )
            return default
        return value

    def texts(self, key):
        """A list of texts; one text alone is a list of one."""
        value = self.data.get(key, [])
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(entry, str) for entry in value):
            self.error(key, f"{key} is not a list of texts", f'Write {key} = ["...", "..."]')
            return ()
        tidy = [tidy_text(entry) for entry in value]
        if not all(tidy) or any(len(entry) > MOST_LETTERS for entry in tidy):
            self.error(
                key,
                f"{key} holds a text that is empty, too long or not printable",
                f'Write {key} = ["...", "..."]',
            )
            return ()
        return tuple(tidy)

    def number(self, key, default=None, *, low, high, whole=False, required=False, hint=None):
        """A bare number between ``low`` and ``high``."""
        if key not in self.data:
            if required:
                self.error(key, f"{key} is missing", hint or f"Add {key} = a number")
            return default
        value = self.data[key]
        kind = "a whole number" if whole else "a number"
        allowed = int if whole else (int, float)
        if isinstance(value, bool) or not isinstance(value, allowed):
            self.error(key, f"{shown(value)} is not {kind}", hint or f"Write {key} = {kind}")
            return default
        if not low <= value <= high:
            self.error(key, f"{key} {shown(value)} is outside {low} to {high}", hint)
            return default
        return value

    def flag(self, key, default):
        """true or false."""
        value = self.data.get(key, default)
        if not isinstance(value, bool):
            self.error(
                key, f"{shown(value)} is not true or false", f"Write {key} = true, without quotes"
            )
            return default
        return value

    def quantity(self, key, dimension, default=None, *, low=-np.inf, high=np.inf, required=False,
                 hint=None):
        """A quantity with a unit, as SI, between ``low`` and ``high`` (SI)."""
        if key not in self.data:
            if required:
                self.error(key, f"{key} is missing", hint or f"Add {key} = "
                           f'"a number and one of {", ".join(UNITS[dimension])}"')
            return default
        value = self._parse(key, self.data[key], dimension, low, high, hint)
        return default if value is None else value

    def _parse(self, key, raw, dimension, low, high, hint):
        try:
            value = parse_quantity(raw, dimension)
        except ValueError as error:
            self.error(key, str(error))
            return None
        if not np.isfinite(value):
            self.error(key, f"{shown(raw)} is not a finite number")
            return None
        if low >= 0 and value < 0:
            self.error(key, f"{shown(raw)} is negative", f"A {dimension} here is zero or more")
            return None
        if not low <= value <= high:
            bare = not isinstance(raw, str) or not re.search("[A-Za-z]", raw)
            unit = f" (a bare number is read as {_SI_NAMES[dimension]})" if bare else ""
            limits = f"below {low:g}" if value < low else f"above {high:g}"
            self.error(key, f"{key} {shown(raw)}{unit} is {limits} {_SI_NAMES[dimension]}", hint)
            return None
        return value

    def monthly(self, key, dimension, *, low=-np.inf, high=np.inf, hint=None):
        """Twelve monthly values from one quantity, or from a table of months.

        Months not given are interpolated linearly around the year between those given.

        Returns
        -------
        (values, given) : (12,) ndarray or None [SI], and how many months were written (12 for a
            single quantity).
        """
        if key not in self.data:
            return None, 0
        raw = self.data[key]
        if not isinstance(raw, dict):
            value = self._parse(key, raw, dimension, low, high, hint)
            return (None, 0) if value is None else (np.full(12, value), 12)
        if not raw:
            self.error(key, "the table of months is empty", f'Write {key} = {{ apr = "5 ft" }}')
            return None, 0
        values = np.full(12, np.nan)
        sound = True
        for name, entry in raw.items():
            month = month_number(name)
            if month is None:
                near = nearest(name, MONTHS + MONTH_NAMES)
                self.error(
                    f"{key}.{name}",
                    f"{shown(name)} is not a month",
                    f"Did you mean {near}?" if near else f"Months: {', '.join(MONTHS)}",
                )
                sound = False
                continue
            if np.isfinite(values[month]):
                self.error(f"{key}.{name}", f"{MONTHS[month]} is given twice", "Keep one of them")
                sound = False
                continue
            value = self._parse(f"{key}.{name}", entry, dimension, low, high, hint)
            sound = sound and value is not None
            values[month] = np.nan if value is None else value
        if not sound:
            return None, 0
        return interpolate_months(values), int(np.isfinite(values).sum())

    def day(self, key):
        """An ISO date as text (TOML date or text), or None."""
        value = self.data.get(key)
        if value is None:
            return None
        if isinstance(value, datetime):
            return value.date().isoformat()
        if isinstance(value, date):
            return value.isoformat()
        try:
            return date.fromisoformat(value).isoformat()
        except (TypeError, ValueError):
            self.error(key, f"{shown(value)} is not a date", f"Write {key} = 2026-02-14")
            return None

    def table(self, key, known):
        """A table below this one, empty where absent."""
        name = f"{self.name}.{key}" if self.name else key
        return Table(self.data.get(key, {}), label=self.label, problems=self.problems,
                     known=known, name=name)

    def tables(self, key, known):
        """The tables of a list such as ``[[rods]]``."""
        entries = self.data.get(key, [])
        if not isinstance(entries, list):
            self.error(key, f"{key} is not a list of tables", f"Write [[{key}]] above each entry")
            entries = []
        return [Table(entry, label=self.label, problems=self.problems, known=known,
                      name=f"{key}[{number}]") for number, entry in enumerate(entries, 1)]


def month_number(name):
    """0 for jan or January ... 11, None where ``name`` is no month."""
    low = name.strip().lower()
    if low == "sept":
        return 8
    for names in (MONTHS, MONTH_NAMES):
        if low in names:
            return names.index(low)
    return None


def interpolate_months(values):
    """Fill NaN months linearly between the given ones, December running on into January.

    Parameters
    ----------
    values : (12,) array, at least one finite.
    """
    given = np.flatnonzero(np.isfinite(values))
    return np.interp(np.arange(12), given, np.asarray(values)[given], period=12)
