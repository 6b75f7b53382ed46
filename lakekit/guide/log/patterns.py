"""What the log says of the catch and the water, as sentences a member understands."""

import numpy as np

from lakekit.errors import TripsError, WeatherError
from lakekit.guide.words import list_text, sentence
from lakekit.trips.patterns import LEVEL, find_patterns
from lakekit.trips.patterns.candidates import BY_NAME, candidate_values
from lakekit.units import express

CANNOT = (
    "Days were chosen: who goes out only before a front knows nothing of the days after it.",
    "Anglers, spots and baits changed with the seasons and the years, and part of what looks like "
    "the water may be theirs.",
    "What a log happens to show strongly is told, so a told pattern is, on the whole, weaker than "
    "it looks here.",
    "The water is computed, not measured, and its errors hide patterns.",
)
# unit of a candidate -> (dimension for lakekit.units, unit in US, unit elsewhere)
UNITS = {
    "degC": ("temperature", "F", "C"),
    "m": ("length", "ft", "m"),
    "m/s": ("speed", "mph", "m/s"),
}
LIKELY = "no pattern; one that doubles the rate would more likely than not have been found"
UNLIKELY = "no pattern found, but the log is too small to find even one that doubles the rate"
NO_FRONT = 0.5  # m/s: no front blows as little
SHOWN = {"F": "°F", "C": "°C", "d": "days", "degrees": "°", "h": "hours"}


def log_patterns(log, lake=None, *, values=None):
    """Patterns between the water and the catch of a club's log, told or not found.

    Parameters
    ----------
    log : lakekit.guide.log.logbook.ClubLog
        From ``read_log``.
    lake : str, optional
        Key: only this lake's rows; by default all rows are asked together.
    values : pandas.DataFrame, optional
        Candidates by row, as from ``candidate_values``; by default of the log's own waters.

    Returns
    -------
    dict
        ``outings``, ``asked``, ``told`` (each ``name``, ``words``, ``unit``, ``sentence``,
        ``evidence``, and ``curve`` with ``value``, ``ratio``, ``low``, ``high`` and ``outings``
        (values of the outings) in the club's units), ``rest`` (``name``, ``words``, ``answer``,
        ``sentence``), ``cannot``, ``note`` and ``lines`` for print.

    Raises
    ------
    WeatherError, TripsError
        When there is no water to join the log to, or no row to ask.
    """
    if log.missing:
        raise WeatherError(log.missing)
    trips = log.trips if lake is None else log.trips[log.trips["lake"] == lake]
    if not len(trips):
        raise TripsError("no usable row in the log to ask", where=lake or str(log.path),
                         mend="Log some outings first, those without fish too")  # fmt: skip
    if values is None:
        values = candidate_values(trips, log.waters)
    found = find_patterns(trips, values, club=log.club)
    units = log.club.units
    told = [_told(pattern, found, units) for pattern in found.told]
    rest = [_untold(pattern) for pattern in found.patterns if not pattern.told]
    head = (
        f"{found.outings} outings, {found.asked} questions asked of them. In logs with nothing in "
        f"them, fewer than 1 in 20 would be told any pattern."
    )
    lines = [head, ""]
    lines += [line for item in told for line in (item["sentence"], f"  {item['evidence']}")]
    lines += [] if told else [found.note or "No pattern was found that predicts outings left out."]
    lines += ["", "Not found", *_rest_lines(found)]
    lines += ["", "What a pattern cannot show"] + [f"  {line}" for line in CANNOT]
    return {
        "outings": found.outings, "asked": found.asked, "told": told, "rest": rest,
        "cannot": list(CANNOT), "note": found.note, "lines": lines,
    }  # fmt: skip


def weighed_text(effect, factors):
    """How told patterns weigh the tactics of a half-month, as one sentence.

    Parameters
    ----------
    effect : lakekit.trips.patterns.effect.Effect
    factors : dict
        Name of each ranked tactic -> its rate here beside what is usual for it.
    """
    words = list_text(
        f"{BY_NAME[name].words} ({outings} outings)"
        for name, outings in zip(effect.names, effect.outings, strict=True)
    )
    text = f"Weighed by a pattern in the log: the catch goes with {words}"
    if not factors:
        return sentence(text)
    most, least = (pick(factors, key=factors.get) for pick in (max, min))
    if factors[most] < 1.15 * factors[least]:
        return sentence(f"{text}; here that makes {factors[most]:.1f} times the usual of any rate")
    return sentence(
        f"{text}; here that makes {factors[most]:.1f} times its usual rate of {most}, "
        f"{factors[least]:.1f} times of {least}"
    )


def in_club_units(name, values, units):
    """A candidate's values in the club's units, and the unit's sign.

    Parameters
    ----------
    name : str
        A candidate.
    values : ndarray
    units : str
        "us" or "metric".
    """
    unit = BY_NAME[name].unit
    if unit not in UNITS:
        return np.asarray(values, float), SHOWN.get(unit, unit)
    dimension, us, metric = UNITS[unit]
    wanted = us if units == "us" else metric
    if name.endswith("_change") and dimension == "temperature":
        return np.asarray(values, float) * (1.8 if wanted == "F" else 1.0), SHOWN[wanted]
    return express(np.asarray(values, float), wanted, dimension), SHOWN.get(wanted, wanted)


def candidate_table(values, units):
    """What the water did at the hours of a log's rows, in the club's units.

    Parameters
    ----------
    values : pandas.DataFrame
        From ``candidate_values``.
    units : str
        "us" or "metric".

    Returns
    -------
    (list of str, list of list of str)
        Head, and a row a candidate: rows of the log where it is known, least, middle and most.
    """
    rows = []
    for name in values:
        known = values[name].dropna()
        told = [_text(name, known.quantile(q), units) if len(known) else "" for q in (0, 0.5, 1)]
        rows.append([_opened(BY_NAME[name].words), f"{len(known)}", *told])
    return ["", "rows", "least", "middle", "most"], rows


def _text(name, value, units):
    number, sign = in_club_units(name, value, units)
    digits = 0 if abs(number) >= 10 or sign in ("°F", "%", "°") else 1
    if sign == "ft" and abs(number) >= 1:
        digits = 0
    gap = "" if sign in ("°", "%") else " "
    shown = f"{number:.{digits}f}"
    return f"{shown if float(shown) else 0}{gap}{sign}"


def _opened(words):
    return words[0].upper() + words[1:]


def _rest_lines(found):
    """What was not told, those alike together: first what the log would likely have shown."""
    groups = {}
    for pattern in found.patterns:
        if pattern.told:
            continue
        plain = not (pattern.why_not or pattern.goes_with or pattern.chance <= LEVEL)
        answer = _why_untold(pattern)
        if plain:
            answer = LIKELY if pattern.power >= 0.5 else UNLIKELY
        groups.setdefault((not plain, answer == UNLIKELY, answer), []).append(pattern.words)
    return [f"  {_opened(list_text(words))}: {key[-1]}." for key, words in sorted(groups.items())]


def _sentence(pattern, units):
    between = pattern.contrast
    best, worst = (_at(pattern.name, between[key], units) for key in ("best", "worst"))
    return (
        f"The catch goes with {pattern.words}: about {between['ratio']:.1f} times as many fish an "
        f"hour {best} as {worst} (8 in 10: {between['low']:.1f} to {between['high']:.1f})."
    )


def _told(pattern, found, units):
    evidence = (
        f"Known on {pattern.outings} outings. Luck alone shows as much in any of the questions "
        f"once in {1 / pattern.chance:.0f} logs like this. Outings left out are predicted better: "
        f"log score {pattern.gain:+.3f} an outing, give or take {pattern.gain_error:.3f}."
    )
    rows = found.values[pattern.name].groupby(found.rows["trip"]).mean().dropna()
    curve = {name: pattern.curve[name].tolist() for name in ("ratio", "low", "high")}
    for key, values in (("value", pattern.curve["value"]), ("outings", rows)):
        shown, sign = in_club_units(pattern.name, values.to_numpy(), units)
        curve[key] = shown.tolist()
    return {
        "name": pattern.name, "words": pattern.words, "unit": sign,
        "sentence": _sentence(pattern, units), "evidence": evidence, "curve": curve,
    }  # fmt: skip


def _at(name, value, units):
    """At which value of a candidate, within a sentence; a front of no wind is none."""
    none = name == "front_strength" and value < NO_FRONT
    return "with no front" if none else f"at {_text(name, value, units)}"


def after_front(found, units):
    """What told patterns say of the catch in the days after a front, as [label, text] rows.

    Parameters
    ----------
    found : lakekit.trips.patterns.find.Patterns or None
    units : str
    """
    rows = []
    for pattern in found.told if found else ():
        best, worst = (pattern.contrast[key] for key in ("best", "worst"))
        if pattern.name == "front_strength":
            fewer = best < worst
        elif pattern.name == "days_since_front":
            fewer = best > worst
        else:
            continue
        between = pattern.contrast
        often, seldom = (_after(pattern.name, value, units) for value in (best, worst))
        rows.append([
            "Your log",
            f"expect {'fewer' if fewer else 'more'} fish at first: about {between['ratio']:.1f} "
            f"times as many an hour {often} as {seldom} (8 in 10: {between['low']:.1f} to "
            f"{between['high']:.1f})",
        ])  # fmt: skip
    return rows


def _after(name, value, units):
    if name == "days_since_front":
        return f"{_text(name, value, units)} after a front"
    return _at(name, value, units).replace("at ", "after ")


def _untold(pattern):
    words, answer = _opened(pattern.words), _why_untold(pattern)
    sentence = f"{words}: {answer}."
    return {"name": pattern.name, "words": words, "answer": answer, "sentence": sentence}


def _why_untold(pattern):
    if pattern.why_not:
        return f"not asked, {pattern.why_not}"
    if pattern.goes_with:
        other = BY_NAME[pattern.goes_with].words
        return f"it goes along with {other}, and this log cannot tell the two apart"
    if pattern.chance <= LEVEL:
        return "something shows, but it does not predict outings left out"
    size = f"one that doubles the rate would have been found {_tenths(pattern.power)}"
    return f"no pattern found in {pattern.outings} outings; {size}"


def _tenths(chance):
    words = {0: "hardly ever", 1: "once in ten", 2: "twice in ten", 10: "nearly always"}
    return words.get(round(10 * chance), f"{round(10 * chance)} times in ten")
