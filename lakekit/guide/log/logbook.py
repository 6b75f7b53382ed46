"""What the club's log says: of a month's tactics, and of itself."""

import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.errors import TripsError, WeatherError
from lakekit.guide.log.patterns import weighed_text
from lakekit.guide.words import sentence
from lakekit.tactics.book import read_book, tactic_words
from lakekit.tactics.phase import PHASE_NAMES
from lakekit.trips import read_trips, totals
from lakekit.trips.answers import (
    FIRST_CHOICE,
    guide_answers,
    headline,
    predict_outing,
    rate_table,
    try_next,
)
from lakekit.trips.check import FINDING_COLUMNS
from lakekit.trips.rates import catch_rates
from lakekit.trips.totals import EIGHT_IN_TEN, FEWEST_OUTINGS
from lakekit.units import depth_text
from lakekit.waters.knowledge import lake_water, log_end, log_path
from lakekit.waters.logged import join_log, log_water


def log_answers(knowledge, phase, met=None):
    """What the log says of tactics in a phase on this lake.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    phase : str
        Season phase.
    met : dict, optional
        The water that told patterns weigh the tactics by, as ``lakekit.guide.where.Part`` has it.

    Returns
    -------
    callable or None
        Tactics to weigh against each other -> the depth each is set at [m], to what
        ``guide_answers`` says; None without a log.
    """
    if not knowledge.rates.ranked:
        return None

    def answers(targets):
        return guide_answers(
            knowledge.rates, knowledge.lake.key, phase, tactics=list(targets),
            weigh=weighing(knowledge, phase, targets, met),
        )  # fmt: skip

    return answers


def weighing(knowledge, phase, targets, met):
    """What told patterns say of tactics in a water.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    phase : str
    targets : dict
        Tactic -> the depth it is set at [m].
    met : dict or None

    Returns
    -------
    callable or None
        Tactic -> draws to add to its log rate, as ``rate_table`` takes it; None where no pattern
        is told, or this water does not know what the told ones go with.
    """
    effect = knowledge.patterns.effect if met and knowledge.rates.ranked else None
    if effect is None:
        return None
    unknown = float("nan")
    mets = {
        key: met
        | {
            "bait_below_thermocline": target - met.get("thermocline_depth", unknown),
            "bait_below_start": target - met.get("start_depth", unknown),
        }
        for key, target in targets.items()
    }
    if not any(np.isfinite(here.get(name, unknown)) for here in mets.values()
               for name in effect.names):  # fmt: skip
        return None
    rates = knowledge.rates

    def draws(tactic):
        return effect.log_factor(
            mets[tactic], lake=knowledge.lake.key, phase=phase, tactic=tactic,
            draws=len(rates.alpha), seed=rates.seed,
        )  # fmt: skip

    return draws


def own_fish_depth(knowledge, phase, *, thermocline, oxygen_floor):
    """Where the log's own fish sat in a phase, carried to a month's water.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    phase : str
    thermocline, oxygen_floor : float
        The month's [m]; NaN where there is none.

    Returns
    -------
    ((float, float, int), str) or None
        Centre and standard deviation [m] and outings, and the sentence. Where fish kept best to
        the bottom under the boat, which differs from spot to spot, their depth from the surface
        is taken and told, with its own wide spread; not in the spawn, whose nests lie at a known
        depth whatever was caught beside them. None with under five outings in the phase, or where
        the month's water lacks what they were told from.
    """
    if knowledge.trips is None or not len(knowledge.trips):
        return None
    table = knowledge.fish_depths
    mine = table[(table["phase"] == phase) & table["centre"].notna()]
    mine = mine[(mine["outings"] >= FEWEST_OUTINGS) & mine["tightest"]]
    for row in mine.to_dict("records"):
        centre = {
            "thermocline": thermocline + row["centre"],
            "oxygen floor": oxygen_floor - row["centre"],
            "surface": row["centre"],
            "bottom": None,
        }[row["reference"]]
        if centre is None:
            pull = _from_surface(knowledge, phase)
            kept = row["sentence"].split(",")[0]
            return pull and (pull, f"{kept}; here {depth_text(pull[0], knowledge.units)} down")
        if np.isfinite(centre):
            spread = (row["high"] - row["low"]) / (2 * EIGHT_IN_TEN)
            return (max(centre, 0.0), spread, int(row["outings"])), row["sentence"]
    return None


def _from_surface(knowledge, phase):
    """Centre, standard deviation [m] and outings of this lake's fish in a phase, or None."""
    if phase == "spawn":
        return None
    trips = knowledge.trips
    here = trips[(trips["lake"] == knowledge.lake.key) & (trips["phase"] == phase)]
    depth = here[here["fish"] > 0].groupby("trip")["catch_depth"].mean().dropna()
    if len(depth) < FEWEST_OUTINGS:
        return None
    return float(depth.mean()), float(depth.std(ddof=1)), len(depth)


def own_depth(knowledge, month, phase):
    """How the log's own fish pull a start depth in a month's phase: what ``own_fish_depth`` takes.

    Returns
    -------
    callable
        ``(*, thermocline, oxygen_floor)`` [m] -> as from ``own_fish_depth``. In the spawn no
        other phase's log tells the depth.
    """
    told = phase if phase == "spawn" else season_in_log(knowledge, month, phase)
    return partial(own_fish_depth, knowledge, told)


def season_in_log(knowledge, month, phase):
    """The season phase whose rates and depths a month takes from the log.

    The log's own months count before the month's usual phase: where five outings or more fell in
    this calendar month, most of them in another phase, that phase is taken.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    month : int
        1 to 12.
    phase : str
        The month's season phase.

    Returns
    -------
    str
    """
    trips = knowledge.trips
    if trips is None or not len(trips) or "phase" not in trips:
        return phase
    outings = knowledge.logged_outings.get(month)
    if outings is None or outings.sum() < FEWEST_OUTINGS:
        return phase
    if phase in outings.index[outings == outings.max()]:
        return phase
    return str(outings.index[0])


def log_text(knowledge, phase, suited, met=None):
    """How much log stands behind a month, and what it comes to.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    phase : str
    suited : dict
        Keys of the tactics that suit the month -> the depth each is set at [m].
    met : dict, optional
        As for :func:`log_answers`.

    Returns
    -------
    str
    """
    rates = knowledge.rates
    if not rates.ranked:
        return "No log yet: tactics suit season and gear, unranked."
    book = read_book()
    names = {key: tactic.short for key, tactic in book.items()}
    if not suited:
        return rates.notes[0] if rates.notes else ""
    weigh = weighing(knowledge, phase, suited, met)
    waters = {}  # boat and ice apart, as their tactics are listed
    for key in suited:
        water = "on ice" if key in book and book[key].needs_ice else "in open water"
        waters.setdefault(water, []).append(key)
    tables = {
        water: rate_table(rates, knowledge.lake.key, phase, tactics=keys, weigh=weigh)
        for water, keys in waters.items()
    }
    firsts = {water: headline(rates, table, names=names) for water, table in tables.items()}
    if len(set(firsts.values())) > 1:
        firsts = {water: f"{water}: {text}" for water, text in firsts.items()}
    rows = rates.rows
    here = rows[(rows["lake"] == knowledge.lake.key) & (rows["phase"] == phase)]
    count = here["trip"].nunique()
    behind = f"{count} outing{'s' if count != 1 else ''} here in this phase, with any tactic"
    said = [f"{' '.join(map(sentence, dict.fromkeys(firsts.values())))} ({behind}.)"]
    if weigh is not None:
        table = pd.concat(tables.values())
        ranked = table.loc[table["rank"].notna(), "tactic"]
        factors = {names.get(key, key): float(np.exp(np.median(weigh(key)))) for key in ranked}
        said.append(weighed_text(knowledge.patterns.effect, factors))
    trial = try_next(
        rates, knowledge.lake.key, phase, tactics=list(suited), names=names, weigh=weigh
    )
    if len(trial) and "hardly" not in trial["sentence"][0]:
        said.append(trial["sentence"][0])
    return " ".join(said)


@dataclass(frozen=True)
class ClubLog:
    """A club's log: read, checked, joined to the water, with its rates."""

    club: object
    path: Path
    trips: pd.DataFrame  # attrs hold findings, excluded rows and a summary
    rates: object
    waters: dict  # lake key to LakeWater
    missing: str = ""  # why there is no water to join the log to; empty: it is joined


def read_log(club, path=None, *, progress=None):
    """Read and check a log, and take its rates.

    Parameters
    ----------
    club : lakekit.club.Club
    path : path, optional
        By default the club's own log.
    progress : callable, optional

    Returns
    -------
    ClubLog

    Raises
    ------
    TripsError
        When there is no log, or the file cannot be read.
    """
    path = Path(path) if path else log_path(club)
    if path is None:
        raise TripsError(
            "there is no trip log", where=str(club.folder),
            mend="Start one: lakekit trips --paper prints a log sheet, or fill in trips.csv.",
        )  # fmt: skip
    book = read_book()
    if not os.path.lexists(path):
        own = club.folder / path
        mend = f"Did you mean {own}?" if os.path.lexists(own) else "Check the name."
        raise TripsError("there is no such file", where=str(path), mend=mend)
    trips = read_trips(path, club, tactics=tactic_words(book))
    try:
        waters = {key: lake_water(club, key, progress=progress) for key in trips["lake"].unique()}
    except WeatherError as problem:
        # a log can be checked before there is any weather
        return ClubLog(club, path, trips, None, {}, missing=str(problem))
    end = log_end(club, [water.as_of for water in waters.values()], None) if waters else None
    if end is not None:
        trips = read_trips(path, club, tactics=tactic_words(book), as_of=end)
    if len(trips):
        told = {key: log_water(water, trips) for key, water in waters.items()}
        trips = join_log(trips, club, told)
        both = [trips.attrs["findings"], outside_findings(trips, waters)]
        trips.attrs = trips.attrs | {"findings": pd.concat(both, ignore_index=True)}
    return ClubLog(club, path, trips, catch_rates(trips, book=book, club=club), waters)


def outside_findings(trips, waters):
    """Findings on rows before or after their lake's weather record, as ``check_trips`` has them."""
    rows = []
    for key, water in waters.items():
        first, last = pd.to_datetime(water.forcing["time"].values[[0, -1]])
        mine = trips[trips["lake"] == key]
        out = mine.loc[~mine["start"].between(first, last + pd.Timedelta(hours=1)), "row"]
        if len(out):
            whose = f"{len(out)} rows of {key}, this one first, lie"
            if len(out) == 1:
                whose = f"this row of {key} lies"
            rows.append({
                "row": int(out.iloc[0]), "column": "date", "severity": "note",
                "finding": f"{whose} outside its weather "
                           f"record ({first:%Y-%m-%d} to {last:%Y-%m-%d}): counted without the "
                           "state of the water",
                "mend": "give a weather record that reaches them, if there is one",
            })  # fmt: skip
    return pd.DataFrame(rows, columns=list(FINDING_COLUMNS)).astype({"row": "Int64"})


def log_report(log):
    """Findings, totals and rates of a log, for the command line and the trips notebook.

    Parameters
    ----------
    log : ClubLog

    Returns
    -------
    dict
        ``file``, ``summary``, ``findings``, ``excluded``, ``totals`` and ``rates`` (rows),
        ``notes``, and ``lines`` for print.
    """
    trips, book = log.trips, read_book()
    findings = trips.attrs["findings"].to_dict("records")
    report = {
        "file": str(log.path),
        "summary": trips.attrs["summary"],
        "findings": findings,
        "excluded": trips.attrs["excluded"].to_dict("records"),
        "totals": [],
        "rates": [],
        "notes": [f"No rates yet, for want of weather. {log.missing}"]
        if log.missing
        else [*_rods_note(log.rates), *log.rates.notes, *([FIRST_CHOICE] * log.rates.ranked)],
    }
    summary = report["summary"] if trips.attrs["rows_read"] else f"{log.path.name} has no rows yet"
    lines = [summary, *map(_finding_line, findings)]
    if len(trips):
        report["totals"] = totals(trips, by=("tactic", "month")).to_dict("records")
        lines += [
            f"The rows used are {trips['trip'].nunique()} outings",
            "",
            "Totals (no rates: nothing pooled, no interval); an outing with two tactics counts "
            "under both",
        ]
        lines += [
            _total_line(book, row) for row in totals(trips, by=("tactic",)).to_dict("records")
        ]
        for key, water in log.waters.items():
            phase = str(water.phases.iloc[-1])
            rows = phase_rows(log, key, phase)
            report["rates"] += [{"lake": key, "phase": phase, **row} for row in rows]
            lines += [
                "",
                f"{log.club.lakes[key].name}, {PHASE_NAMES[phase]} "
                f"(on {pd.Timestamp(water.as_of):%Y-%m-%d}, the record's last day)",
            ]
            lines += [f"  {row['name']}: {row['sentence']}" for row in rows]
    return report | {"lines": [*lines, "", *report["notes"]]}


def _rods_note(rates):
    """What more rods brought in this log, as a list of one sentence or none."""
    if not rates.ranked:
        return []
    middle, low, high = 2.0**rates.rods_exponent
    return [
        f"Twice the rods bring about {middle:.1f} times the fish in this log "
        f"(8 in 10: {low:.1f} to {high:.1f})."
    ]


def phase_rows(log, lake, phase):
    """Rates of the tactics that suit a phase on a lake, best first, as rows with their names."""
    if log.missing:
        raise WeatherError(log.missing)
    book = read_book()
    suited = [key for key, tactic in book.items() if phase in tactic.phases]
    table = rate_table(log.rates, lake, phase, tactics=suited)
    return [
        {"name": book[row["tactic"]].name, **row} for row in table.astype(object).to_dict("records")
    ]


def planned_outing(log, lake, phase, hours):
    """What a planned outing with the first tactic may bring, and what to try to learn more."""
    rows = phase_rows(log, lake, phase)
    if not log.rates.ranked or not rows:
        return list(log.rates.notes) or ["No tactic suits that phase."]
    names = {key: tactic.name for key, tactic in read_book().items()}
    plan = predict_outing(log.rates, lake, phase, rows[0]["tactic"], hours)
    trials = try_next(log.rates, lake, phase, tactics=[r["tactic"] for r in rows], names=names)
    return [f"{rows[0]['name']}: {plan['sentence']}", *trials["sentence"].head(3)]


def _finding_line(row):
    where = f"row {row['row']}" if row["row"] == row["row"] and row["row"] is not None else "log"
    column = f", {row['column']}" if row["column"] else ""
    mend = f" Mend: {row['mend']}." if row["mend"] else ""
    return f"{row['severity']}: {where}{column}: {row['finding']}.{mend}".replace("..", ".")


def _total_line(book, row):
    name = book[row["tactic"]].name if row["tactic"] in book else row["tactic"]
    outings = f"{row['outings']} outing{'s' if row['outings'] != 1 else ''}"
    return f"{name}: {row['fish']:.0f} fish in {row['boat_hours']:.1f} boat-hours, {outings}"
