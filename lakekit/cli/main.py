"""The command line: thin. It checks input, calls the package or a notebook, and says what it wrote.

Exit status: 0; 2 for the user's input (one readable message, no traceback); 1 for our own faults.
"""

import argparse
import json
import sys
import traceback
from pathlib import Path

from lakekit import __version__
from lakekit.cli.clubs import club_of, lakes_of, say
from lakekit.cli.tackle import add_tackle_commands
from lakekit.errors import LakekitError


def main(arguments=None):
    """Run one command; returns the exit status."""
    parser = build_parser()
    try:
        options = parser.parse_args(arguments)
    except SystemExit as stop:
        return int(stop.code or 0)
    if not hasattr(options, "run"):
        parser.print_help()
        return 2
    try:
        result = options.run(options)
    except LakekitError as error:
        print(f"lakekit: {error}", file=sys.stderr)
        return 1 if getattr(error, "ours", False) else 2
    except KeyboardInterrupt:
        print("lakekit: stopped; earlier reports are untouched", file=sys.stderr)
        return 1
    except Exception as error:
        traceback.print_exc()
        print(
            f"lakekit: this is a fault of lakekit's own ({type(error).__name__}); "
            "the lines above say where",
            file=sys.stderr,
        )
        return 1
    if options.json:
        print(json.dumps(result, indent=2, ensure_ascii=False, default=str))
    return 0


def build_parser():
    """The parser of every command, also read by the tests of the README."""
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument(
        "--club", metavar="DIR",
        help="the club folder (default: this folder if it holds a club.toml, else the demo)",
    )  # fmt: skip
    shared.add_argument("--out", metavar="DIR", default="reports", help="where reports go")
    shared.add_argument("--json", action="store_true", help="print the result as JSON")

    parser = argparse.ArgumentParser(
        prog="lakekit", description="Month-by-month tactic guides for small lakes.",
        allow_abbrev=False,
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"lakekit {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    def command(name, run, text):
        sub = commands.add_parser(
            name, parents=[shared], help=text, description=text, allow_abbrev=False
        )
        sub.set_defaults(run=run)
        return sub

    new = command("new", run_new, "make a club folder with templates and notebooks")
    new.add_argument("folder", metavar="DIR")

    season = command("season", run_season, "the guide, month by month")
    season.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake of the club")
    season.add_argument("--start", metavar="YYYY-MM", help="default: the month after the record")
    season.add_argument("--months", metavar="N", type=int, default=12, help="1 to 24, default 12")

    front = command("front", run_front, "what a front did, and what comes next")
    front.add_argument("lake", metavar="LAKE", nargs="?", help="default: the club's first lake")
    front.add_argument("--since", metavar="DATE", help="default: the last front in the record")
    front.add_argument("--wind", metavar="SPEED", help='a what-if storm\'s wind, such as "25 mph"')
    front.add_argument("--hours", type=float, help="how long it blows")
    front.add_argument("--air", metavar="TEMP", help='its air temperature, such as "55 F"')
    front.add_argument("--rain", metavar="DEPTH", help='its rain, such as "2 in"')

    briefing = command("briefing", run_briefing, "the club's printed briefing")
    briefing.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake")
    briefing.add_argument("--month", metavar="YYYY-MM", help="default: the month after the record")

    weather = command("weather", run_weather, "pull and check weather, report its coverage")
    weather.add_argument("lakes", metavar="LAKE", nargs="*", help="default: every lake")

    trips = command("trips", run_trips, "check a trip log, then show its rates")
    trips.add_argument("file", metavar="FILE", nargs="?", help="default: the club's log")
    trips.add_argument("--paper", action="store_true", help="print a blank log sheet instead")

    lake = command("lake", run_lake, "check a lake file")
    lake.add_argument(
        "file", metavar="FILE", nargs="?", help="a file, or a lake's name (default: every lake)"
    )

    add_tackle_commands(commands, shared)
    return parser


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


def _run_notebook(options, notebook, parameters):
    """Run one notebook on the options' club and output folder; what it wrote, as text paths."""
    from lakekit.notebook.display import written_paths
    from lakekit.notebook.runner import run_notebook
    from lakekit.store import check_folder

    out = check_folder(options.out)
    told = []

    def step(done, cells, heading):
        if done < cells and heading not in told:
            told.append(heading)
            say(f"  {heading}")

    shared = {"club_folder": options.club or "", "out": str(out)}
    node = run_notebook(
        notebook, {**shared, **parameters}, progress=step, tell=lambda line: say(f"    {line}")
    )
    return [str(path) for path in written_paths(node)]


def _tell(options, paths):
    if not options.json:
        for path in paths:
            print(path)


def run_season(options):
    from lakekit.guide.season import season_months

    lakes = lakes_of(club_of(options), options.lakes)
    season_months("2000-01-01", options.start, options.months)
    written = {}
    for number, key in enumerate(lakes, 1):
        say(f"[{number} of {len(lakes)}] {key}")
        parameters = {"lake": key, "start": options.start or "", "months": options.months}
        written[key] = _run_notebook(options, "season", parameters)
    _tell(options, [path for paths in written.values() for path in paths])
    return written


def run_front(options):
    from lakekit.cli.asked import needs_unit
    from lakekit.guide.front.note import what_if_storm

    club = club_of(options)
    key = lakes_of(club, [options.lake] if options.lake else [])[0]
    for name, units in (("wind", ("mph", "m/s")), ("air", ("F", "C")), ("rain", ("in", "mm"))):
        needs_unit(getattr(options, name), f"--{name}", units)
    storm = what_if_storm(
        wind=options.wind, hours=options.hours, air=options.air, rain=options.rain
    )
    _check_day(options.since)
    written = _run_notebook(
        options, "front", {"lake": key, "since": options.since or "", "storm": storm or {}}
    )
    _tell(options, written)
    return {key: written}


def _check_day(text):
    import pandas as pd

    from lakekit.errors import ClubError

    try:
        pd.Timestamp(text or "2000-01-01")
    except ValueError:
        raise ClubError(
            f"{text!r} is not a date", where="--since", mend="Write it as YYYY-MM-DD."
        ) from None


def run_briefing(options):
    from lakekit.guide.season import season_months

    lakes = lakes_of(club_of(options), options.lakes)
    season_months("2000-01-01", options.month, 1)
    written = _run_notebook(options, "briefing", {"lakes": lakes, "month": options.month or ""})
    _tell(options, written)
    return {"briefing": written}


def run_weather(options):
    from lakekit.pages.reports import write_coverage
    from lakekit.weather import weather_coverage

    club = club_of(options)
    results = {}
    for key in lakes_of(club, options.lakes):
        cover = weather_coverage(club, key, progress=say)
        if not options.json:
            doubts = [f"less sure: {doubt}" for doubt in cover.lowers]
            drawing = str(write_coverage(cover.table, key, options.out))
            print("\n".join([club.lakes[key].name, *cover.sentences, *doubts, drawing, ""]))
        results[key] = {
            "sentences": cover.sentences,
            "doubts": cover.lowers,
            "shares": cover.table.to_dict("records"),
        }
    return results


def run_trips(options):
    from lakekit.guide.logbook import log_report, read_log
    from lakekit.pages.reports import write_log_sheet

    club = club_of(options)
    if options.paper:
        path = write_log_sheet(club, Path(options.out))
        _tell(options, [path])
        return {"sheet": str(path)}
    report = log_report(read_log(club, options.file, progress=say))
    if not options.json:
        print("\n".join(report["lines"]))
    return report


def run_lake(options):
    from lakekit.errors import ClubError
    from lakekit.lakefile import check_lake, describe_lake, read_lake

    paths, units, problem = _lake_files(options)
    described, wrong = {}, []
    for path in paths:
        findings = check_lake(path)
        if "error" in set(findings["severity"]):
            wrong.append(path)
            lines = []
        else:
            described[path.stem] = describe_lake(read_lake(path), units)
            lines = [f"{label}: {text}" for label, text in described[path.stem]]
        if not options.json:
            print("\n".join([*lines, *map(_finding, findings.itertuples()), ""]))
    if wrong and not options.json:
        names = ", ".join(str(path) for path in wrong)
        raise ClubError("to be mended, as listed above", where=names)
    if problem is not None:
        raise problem
    for path in wrong:
        read_lake(path)
    return {key: dict(rows) for key, rows in described.items()}


def _lake_files(options):
    """Files to check, units to describe them in, and what is wrong with the club, if anything."""
    from lakekit.club import find_lake
    from lakekit.errors import ClubError

    name = options.file
    if name and (Path(name).is_file() or Path(name).suffix):
        return [Path(name)], "us", None
    try:
        club = club_of(options)
    except ClubError as problem:
        if name or not options.club:
            raise
        return sorted(Path(options.club, "lakes").glob("*.toml")), "us", problem
    keys = [find_lake(club, name)] if name else list(club.lakes)
    return [club.folder / "lakes" / f"{key}.toml" for key in keys], club.units, None


def _finding(row):
    return f"{row.severity}: {row.where}: {row.finding}. {row.mend or ''}".rstrip()
