"""The command line: thin. It checks input, calls the package or a notebook, and says what it wrote.

Exit status: 0; 2 for the user's input (one readable message, no traceback); 1 for our own faults;
3 when ``front --check`` finds a new front.
"""

import argparse
import json
import os
import sys
import traceback
from contextlib import suppress
from pathlib import Path

from lakekit import __version__
from lakekit.cli.clubs import (
    add_crew,
    asked_lakes,
    club_of,
    crew_of,
    lakes_of,
    refuse_problems,
)
from lakekit.cli.notebooks import add_notebook, by_notebook
from lakekit.cli.tackle import add_tackle_commands
from lakekit.cli.terminal import give_up_output, safe_streams, say
from lakekit.errors import LakekitError, StoreError
from lakekit.inputs import ALLOW_OUTSIDE
from lakekit.progress import listening

EXIT_CODES = """exit status:
  0  done
  1  a fault of lakekit's own, stopped by hand, or nobody read the output
  2  something to mend in the input, named in one message; nothing was changed
"""


def main(arguments=None):
    """Run one command; returns the exit status."""
    try:
        with safe_streams():
            return _run(arguments)
    except BrokenPipeError:
        give_up_output()
        return 1
    except StoreError as problem:  # the output itself: a full device
        give_up_output()
        with suppress(OSError, ValueError):
            print(f"lakekit: {problem}", file=sys.stderr)
        return 2


def _run(arguments):
    parser = build_parser()
    try:
        options = parser.parse_args(arguments)
    except SystemExit as stop:
        return int(stop.code or 0)
    if not hasattr(options, "run"):
        parser.print_help()
        return 2
    say.quiet, say.verbose = options.quiet, options.verbose
    if options.allow_outside:
        os.environ[ALLOW_OUTSIDE] = "1"  # for the notebook's own process too
    try:
        with listening(say.passing):
            result = options.run(options)
        if options.json:
            print(json.dumps(result, indent=2, ensure_ascii=False, default=str))
    except LakekitError as error:
        print(f"lakekit: {error}", file=sys.stderr)
        return 1 if getattr(error, "ours", False) else 2
    except KeyboardInterrupt:
        print("lakekit: stopped; earlier reports are untouched", file=sys.stderr)
        return 1
    except BrokenPipeError:
        raise
    except Exception as error:
        traceback.print_exc()
        print(
            f"lakekit: this is a fault of lakekit's own ({type(error).__name__}); "
            "the lines above say where",
            file=sys.stderr,
        )
        return 1
    return getattr(options, "status", 0)


def _shared_options():
    """Options that every command takes."""
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument(
        "--club", metavar="DIR",
        help="the club folder (default: this folder if it holds a club.toml, else the demo)",
    )  # fmt: skip
    shared.add_argument("--out", metavar="DIR", default="reports", help="where reports go")
    shared.add_argument("--json", action="store_true", help="print the result as JSON")
    told = shared.add_mutually_exclusive_group()
    told.add_argument("-q", "--quiet", action="store_true", help="no progress, only the result")
    told.add_argument("-v", "--verbose", action="store_true", help="progress with seconds")
    shared.add_argument(
        "--allow-outside", action="store_true",
        help="let lake files name files outside the club's folder",
    )  # fmt: skip
    return shared


def build_parser():
    """The parser of every command, also read by the tests of the README."""
    shared = _shared_options()
    parser = argparse.ArgumentParser(
        prog="lakekit", description="Month-by-month tactic guides for small lakes.",
        allow_abbrev=False, epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"lakekit {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    def command(name, run, text):
        sub = commands.add_parser(
            name, parents=[shared], help=text, description=text, allow_abbrev=False,
            epilog=EXIT_CODES, formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip
        sub.set_defaults(run=run)
        return sub

    new = command("new", run_new, "make a club folder with templates and notebooks")
    new.add_argument("folder", metavar="DIR")

    season = command("season", run_season, "the guide, month by month")
    season.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake of the club")
    season.add_argument("--start", metavar="YYYY-MM", help="default: the month at hand")
    season.add_argument("--months", metavar="N", type=int, default=12, help="1 to 24, default 12")
    add_crew(season)
    add_notebook(season)

    front = command("front", run_front, "what a front did, and what comes next")
    front.add_argument("lake", metavar="LAKE", nargs="?", help="default: the club's first lake")
    front.add_argument("--since", metavar="DATE", help="default: the last front in the record")
    front.add_argument(
        "--check", action="store_true",
        help="only look, at every lake, for a front since its last note: status 3 if there is one",
    )  # fmt: skip
    front.add_argument("--wind", metavar="SPEED", help='a what-if storm\'s wind, such as "25 mph"')
    front.add_argument("--hours", type=float, help="how long it blows")
    front.add_argument("--air", metavar="TEMP", help='its air temperature, such as "55 F"')
    front.add_argument("--rain", metavar="DEPTH", help='its rain, such as "2 in"')
    add_notebook(front)

    briefing = command("briefing", run_briefing, "the club's printed briefing")
    briefing.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake")
    briefing.add_argument("--month", metavar="YYYY-MM", help="default: the whole season")
    add_crew(briefing)
    add_notebook(briefing)

    day = command("day", run_day, "one half sheet for a day on the water")
    day.add_argument("lake", metavar="LAKE", nargs="?", help="default: the club's first lake")
    day.add_argument("--date", metavar="DATE", help="default: the day after the record's last")
    add_notebook(day)

    weather = command("weather", run_weather, "pull and check weather, report its coverage")
    weather.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake")

    trips = command("trips", run_trips, "check a trip log, then show its rates")
    trips.add_argument("file", metavar="FILE", nargs="?", help="default: the club's log")
    trips.add_argument("--paper", action="store_true", help="print a blank log sheet instead")

    patterns = command("patterns", run_patterns, "does the catch go with the water?")
    patterns.add_argument("lake", metavar="LAKE", nargs="?", help="default: the whole log at once")

    lake = command("lake", run_lake, "check a lake file")
    lake.add_argument(
        "file", metavar="FILE", nargs="?", help="a file, or a lake's name (default: every lake)"
    )

    add_tackle_commands(commands, shared)

    completion = command("completion", run_completion, "print a script that completes words")
    completion.add_argument("shell", choices=("bash", "zsh", "fish"), metavar="SHELL",
                            help="bash, zsh or fish")  # fmt: skip
    return parser


def run_completion(options):
    from lakekit.cli.completion import completion_script

    script = completion_script(build_parser(), options.shell)
    if not options.json:
        print(script)
    return {"script": script}


def run_new(options):
    from lakekit.club import new_club

    folder = Path(options.folder)
    written = new_club(folder)
    if not options.json:
        lake = next(path for path in written if path.parent.name == "lakes")
        print(f"A club folder is ready: {folder}. Next:")
        print(f"  1. rename {lake} after your lake, and fill in its first six keys")
        print(f"  2. fill in {folder / 'club.toml'}: your boat, rods, lines and lures")
        print(f"  3. check both:  lakekit lake --club {folder}")
        print(f"What comes then stands in {folder / 'README.md'}.")
    return {"folder": options.folder, "files": [str(path) for path in written]}


def _pull(club, keys):
    """Pull what a station has before any long work: without a network, say so at once.

    Long work begins with the import of what computes: commands do that after this.
    """
    from lakekit.weather import lake_weather

    for key in keys:
        if club.lakes[key].weather.station is not None:
            lake_weather(club, key, progress=say)


def _tell(options, paths):
    if not options.json:
        for path in paths:
            print(path)


def run_season(options):
    from lakekit.guide.words import season_months
    from lakekit.store import check_folder

    season_months("2000-01-01", options.start, options.months)
    club = club_of(options)
    lakes = asked_lakes(club, options)
    _pull(club, lakes[:1])
    from lakekit.many.seasons import Season, write_seasons

    if options.notebook:
        written = {}
        for key in lakes:
            say(f"[{len(written) + 1} of {len(lakes)}] {key}")
            asked = {"lake": key, "start": options.start or "", "months": options.months}
            written[key] = by_notebook(options, "season", asked, kept=f"{key}-season")
        _tell(options, [path for paths in written.values() for path in paths])
        return written
    season = Season(options.start, options.months, check_folder(options.out))
    written, problems = {}, []
    made = write_seasons(club, lakes, season, **crew_of(options, lakes), progress=_say_indented)
    for outcome in made:
        done = len(written) + len(problems) + 1
        say(f"[{done} of {len(lakes)}] {outcome.item}{': not made' if outcome.problem else ''}")
        if outcome.problem:
            problems.append(outcome)
        else:
            written[outcome.item] = outcome.value
    _tell(options, [path for key in lakes if key in written for path in written[key]])
    refuse_problems(problems, len(lakes))
    return {key: written[key] for key in lakes if key in written}


def _say_indented(line):
    say(f"    {line}")


def run_front(options):
    if options.check:
        return _check_fronts(options)

    from lakekit.cli.asked import needs_unit
    from lakekit.store import check_folder

    club = club_of(options)
    key = lakes_of(club, [options.lake] if options.lake else [])[0]
    for name, units in (("wind", ("mph", "m/s")), ("air", ("F", "C")), ("rain", ("in", "mm"))):
        needs_unit(getattr(options, name), f"--{name}", units)
    _check_day(options.since, "--since")
    _pull(club, [key])
    from lakekit.guide.front.note import front_note, what_if_storm
    from lakekit.pages.reports import write_front

    storm = what_if_storm(
        wind=options.wind, hours=options.hours, air=options.air, rain=options.rain
    )
    if options.notebook:
        asked = {"lake": key, "since": options.since or "", "storm": storm or {}}
        written = by_notebook(options, "front", asked, kept=f"{key}-front")
    else:
        out = check_folder(options.out)
        note = front_note(
            club, key, options.since, storm=storm, reports=out, progress=_say_indented
        )
        written = [str(path) for path in write_front(note, out)]
    _tell(options, written)
    return {key: written}


def _check_fronts(options):
    """One line a lake; the exit status is 3 when any has a new front, 2 when any cannot be told."""
    from lakekit.guide.front.look import look_at_lakes

    club = club_of(options)
    keys = lakes_of(club, [options.lake] if options.lake else [])
    looks = look_at_lakes(club, keys, Path(options.out), progress=say)
    if not options.json:
        print("\n".join(look["text"] for look in looks))
    options.status = 3 if any(look["new"] for look in looks) else 0
    if not options.status and any(look["error"] for look in looks):
        options.status = 2
    return looks


def _check_day(text, option):
    import pandas as pd

    from lakekit.errors import ClubError
    from lakekit.units import shown

    try:
        year = pd.Timestamp(text or "2000-01-01").year
    except (ValueError, OverflowError):
        year = 0
    if not 1900 <= year <= 2100:
        raise ClubError(f"{shown(text)} is not a date", where=option,
                        mend="Write it as YYYY-MM-DD, between 1900 and 2100.")


def run_briefing(options):
    from lakekit.guide.words import season_months
    from lakekit.store import check_folder

    season_months("2000-01-01", options.month, 1, option="--month")
    club = club_of(options)
    lakes = asked_lakes(club, options)
    _pull(club, lakes[:1])
    from lakekit.many.seasons import Season, season_guides
    from lakekit.pages.reports import write_briefing

    if options.notebook:
        asked = {"lakes": lakes, "month": options.month or ""}
        written = by_notebook(options, "briefing", asked, kept="club-briefing")
        _tell(options, written)
        return {"briefing": written}
    season = Season(options.month, 1 if options.month else 12, check_folder(options.out))
    guides, problems = {}, []
    made = season_guides(club, lakes, season, **crew_of(options, lakes), progress=_say_indented)
    for outcome in made:
        done = len(guides) + len(problems) + 1
        say(f"[{done} of {len(lakes)}] {outcome.item}{': not made' if outcome.problem else ''}")
        if outcome.problem:
            problems.append(outcome)
        else:
            guides[outcome.item] = outcome.value
    written = []
    if guides:
        ordered = [guides[key] for key in lakes if key in guides]
        written = [str(path) for path in write_briefing(ordered, options.out, options.month)]
    _tell(options, written)
    refuse_problems(problems, len(lakes))
    return {"briefing": written}


def run_day(options):
    from lakekit.store import check_folder

    club = club_of(options)
    key = lakes_of(club, [options.lake] if options.lake else [])[0]
    _check_day(options.date, "--date")
    _pull(club, [key])
    from lakekit.guide.day import day_card
    from lakekit.pages.reports import write_day

    if options.notebook:
        asked = {"lake": key, "date": options.date or ""}
        written = by_notebook(options, "day", asked, kept=f"{key}-day")
    else:
        out = check_folder(options.out)
        card = day_card(club, key, options.date, progress=_say_indented)
        written = [str(path) for path in write_day(card, out)]
    _tell(options, written)
    return {key: written}


def run_weather(options):
    from lakekit.pages.reports import write_coverage
    from lakekit.store import check_folder
    from lakekit.weather import weather_coverage

    club = club_of(options)
    results, unwritten = {}, None
    for key in lakes_of(club, options.lakes):
        cover = weather_coverage(club, key, progress=say)
        if not options.json:
            doubts = [f"less sure: {doubt}" for doubt in cover.lowers]
            print("\n".join([club.lakes[key].name, *cover.sentences, *doubts]))
            try:
                print(write_coverage(cover.table, key, check_folder(options.out)), end="\n\n")
            except StoreError as problem:
                print()
                unwritten = problem
        results[key] = {
            "sentences": cover.sentences,
            "doubts": cover.lowers,
            "shares": cover.table.to_dict("records"),
        }
    if unwritten is not None:
        raise unwritten
    return results


def run_trips(options):
    from lakekit.guide.log.logbook import log_report, read_log
    from lakekit.pages.reports import write_log_sheet
    from lakekit.store import check_folder

    club = club_of(options, lakes=not options.paper)
    if options.paper:
        path = write_log_sheet(club, check_folder(options.out))
        _tell(options, [path])
        return {"sheet": str(path)}
    report = log_report(read_log(club, options.file, progress=say))
    if not options.json:
        print("\n".join(report["lines"]))
    return report


def run_patterns(options):
    from lakekit.guide.log.logbook import read_log
    from lakekit.guide.log.patterns import log_patterns
    from lakekit.pages.reports import write_patterns

    club = club_of(options)
    lake = lakes_of(club, [options.lake])[0] if options.lake else None
    patterns = log_patterns(read_log(club, progress=say), lake)
    drawn = [str(path) for path in write_patterns(patterns, options.out)]
    if not options.json:
        print("\n".join([*patterns["lines"], "", *drawn]).rstrip())
    return {key: value for key, value in patterns.items() if key != "lines"} | {"drawings": drawn}


def run_lake(options):
    from lakekit.errors import ClubError
    from lakekit.guide.lake import describe_lake

    found, units, problem = _lakes_to_check(options)
    described, wrong = {}, []
    for where, key, lake, problems in found:
        if lake is None:
            wrong.append((where, problems))
            lines = []
        else:
            described[key] = describe_lake(lake, units)
            lines = [f"{label}: {text}" for label, text in described[key]]
        if not options.json:
            print("\n".join([*lines, *map(_finding, problems.table().itertuples()), ""]))
    if wrong and not options.json:
        names = ", ".join(dict.fromkeys(where for where, _ in wrong))
        raise ClubError("to be mended, as listed above", where=names)
    if problem is not None:
        raise problem
    for _, problems in wrong:
        problems.raise_first()
    return {key: dict(rows) for key, rows in described.items()}


def _lakes_to_check(options):
    """Where each lake stands, its key, the lake and its findings; units; what is wrong beyond."""
    from lakekit.club import find_lake
    from lakekit.errors import ClubError
    from lakekit.lakefile import parse_lake_file
    from lakekit.lakes_table import NAME, read_lakes_table

    def of_file(path):
        return [(str(path), path.stem, *parse_lake_file(path))]

    def of_table(path):
        return [(str(path), *row) for row in read_lakes_table(path)]

    def of_folder(folder):
        paths = sorted(Path(folder, "lakes").glob("*.toml"))
        table = Path(folder, NAME)
        found = [row for path in paths for row in of_file(path)]
        return found + (of_table(table) if table.is_file() else [])

    name = options.file
    if name and (os.path.isfile(name) or Path(name).suffix):
        read = of_table if Path(name).suffix == ".csv" else of_file
        return read(Path(name)), "us", None
    try:
        club = club_of(options)
    except ClubError as problem:
        if name or not options.club:
            raise
        return of_folder(options.club), "us", problem
    key = name and find_lake(club, name)
    found = [row for row in of_folder(club.folder) if row[1] == (key or row[1])]
    return found, club.units, None


def _finding(row):
    return f"{row.severity}: {row.where}: {row.finding}. {row.mend or ''}".rstrip()
