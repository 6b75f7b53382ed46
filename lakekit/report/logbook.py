"""What the club's log says: of a month's tactics, and of itself."""

from pathlib import Path

import numpy as np

from lakekit.errors import TripsError
from lakekit.report.knowledge import join_log, lake_water, log_path
from lakekit.tactics.book import read_book, tactic_words
from lakekit.trips import effort_grid, log_sheet, read_trips, totals
from lakekit.trips.answers import headline, rate_table, try_next
from lakekit.trips.rates import catch_rates
from lakekit.weather import lake_weather


def log_answers(knowledge, phase):
    """What the log says of each tactic in a phase on this lake.

    Parameters
    ----------
    knowledge : lakekit.report.knowledge.LakeKnowledge
    phase : str
        Season phase.

    Returns
    -------
    dict or None
        Tactic key to ``{"value": fish per boat-hour or None, "text": sentence}``; None without a
        log.
    """
    if not knowledge.rates.ranked:
        return None
    table = rate_table(knowledge.rates, knowledge.lake.key, phase)
    return {
        row["tactic"]: {
            "value": float(row["rate"]) if row["rank"] is not None and row["rank"] == row["rank"]
            and row["outings_with_tactic"] > 0 else None,
            "text": row["sentence"],
        }
        for row in table.astype(object).to_dict("records")
    }  # fmt: skip


def log_text(knowledge, phase, suited):
    """How much log stands behind a month, and what it comes to.

    Parameters
    ----------
    knowledge : lakekit.report.knowledge.LakeKnowledge
    phase : str
    suited : sequence of str
        Keys of the tactics that suit the month.

    Returns
    -------
    str
    """
    rates = knowledge.rates
    if not rates.ranked:
        return "No log yet: tactics suit season and gear, unranked."
    names = {key: tactic.name for key, tactic in read_book().items()}
    if not suited:
        return rates.notes[0] if rates.notes else ""
    table = rate_table(rates, knowledge.lake.key, phase, tactics=suited)
    rows = rates.rows
    here = rows[(rows["lake"] == knowledge.lake.key) & (rows["phase"] == phase)]
    count = here["trip"].nunique()
    behind = f"{count} outing{'s' if count != 1 else ''} here in this phase"
    said = [f"{headline(rates, table, names=names)} ({behind}.)"]
    trial = try_next(rates, knowledge.lake.key, phase, tactics=suited, names=names)
    if len(trial) and "hardly" not in trial["sentence"][0]:
        said.append(trial["sentence"][0])
    return " ".join(said)


def log_report(club, path=None, *, progress=None):
    """Check a log, then say what its rates are, for the command line and the trips notebook.

    Parameters
    ----------
    club : lakekit.club.Club
    path : path, optional
        By default the club's own log.
    progress : callable, optional

    Returns
    -------
    dict
        ``findings``, ``excluded``, ``totals`` and ``rates`` (lists of rows), ``notes``, and
        ``lines`` for print; ``effort`` (tactic by month) as a table for the notebook.

    Raises
    ------
    TripsError
        When there is no log, or the file cannot be read.
    """
    say = progress or (lambda line: None)
    path = path or log_path(club)
    if path is None:
        raise TripsError(
            "there is no trip log", where=str(club.folder),
            mend="Start one: lakekit trips --paper prints a log sheet, or fill in trips.csv.",
        )  # fmt: skip
    book = read_book()
    as_of = max(_last_hour(club, lake) for lake in club.lakes.values())
    trips = read_trips(Path(path), club, tactics=tactic_words(book), as_of=as_of)
    findings = trips.attrs["findings"]
    excluded = trips.attrs["excluded"]
    report = {
        "file": str(path),
        "findings": findings.to_dict("records"),
        "excluded": excluded.to_dict("records"),
        "summary": trips.attrs["summary"],
    }
    lines = [f"{Path(path).name}: {report['summary']}"]
    lines += [_finding_line(row) for row in report["findings"]]
    if not len(trips):
        rates = catch_rates(trips, book=book, club=club)
        return report | {"notes": list(rates.notes), "totals": [], "rates": [],
                         "lines": [*lines, *rates.notes]}  # fmt: skip
    waters = {key: lake_water(club, key, progress=say) for key in trips["lake"].unique()}
    trips = join_log(trips, club, waters)
    rates = catch_rates(trips, book=book, club=club)
    table = totals(trips, by=("tactic", "month"))
    report["totals"] = table.to_dict("records")
    report["rates"], told = _rates_now(club, rates, waters, book)
    report["notes"] = list(rates.notes)
    lines += ["", "Totals (no rates: nothing pooled, no interval)"]
    lines += [_total_line(book, row) for row in totals(trips, by=("tactic",)).to_dict("records")]
    lines += ["", *told, *rates.notes]
    return report | {"lines": lines, "effort": effort_grid(trips)}


def _last_hour(club, lake):
    return np.datetime64(lake_weather(club, lake)["time"].values[-1])


def _finding_line(row):
    where = f"row {row['row']}" if row["row"] == row["row"] and row["row"] is not None else "log"
    column = f", {row['column']}" if row["column"] else ""
    mend = f" Mend: {row['mend']}." if row["mend"] else ""
    return f"{row['severity']}: {where}{column}: {row['finding']}.{mend}".replace("..", ".")


def _total_line(book, row):
    name = book[row["tactic"]].name if row["tactic"] in book else row["tactic"]
    return (
        f"{name}: {row['fish']:.0f} fish in {row['boat_hours']:.0f} boat-hours, "
        f"{row['outings']} outings"
    )


def _rates_now(club, rates, waters, book):
    """Rates for each lake in the phase its record ends in, as rows and as lines."""
    rows, lines = [], []
    for key, water in waters.items():
        phase = water.phases.iloc[-1]
        suited = [name for name, tactic in book.items() if phase in tactic.phases]
        table = rate_table(rates, key, phase, tactics=suited)
        rows += [{"lake": key, "phase": phase, **row} for row in table.to_dict("records")]
        lines += [f"{club.lakes[key].name}, {phase.replace('_', '-')} (now)"]
        lines += [f"  {book[row['tactic']].name}: {row['sentence']}"
                  for row in table.to_dict("records")]  # fmt: skip
    return rows, lines


def write_log_sheet(club, out):
    """Print a blank log sheet whose boxes are the log's columns; returns its path."""
    from lakekit.report.briefing import write_log_sheet_pdf

    path = Path(out) / "log-sheet.pdf"
    write_log_sheet_pdf(log_sheet(club.units), path, paper=club.paper, club=club.name)
    return path
