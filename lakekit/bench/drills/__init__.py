"""Drills: faults of every input file and option, each met in a process of its own.

A case is clean when the command ends by itself, in time and within its memory, with status 0 or
with status 2 and one message; when no traceback, no control character and no endless line reaches
the terminal; and when no row of a log is lost in silence.
"""

import contextlib
import io
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

from lakekit.bench.drills import faults
from lakekit.club import read_club

SECONDS = 20  # of processor time a case; of the clock, six times as many
MEMORY = 2_000_000_000  # bytes beyond what the parent holds
LONGEST_LINE = 4000
CLEAN = "clean"
GROUPS = ("club", "lake", "depths", "weather", "packed weather", "log", "workbook", "probe",
          "running", "places", "options")  # fmt: skip
HOURS = 24 * 40

_CLUB = """name = "Drill Club"
units = "us"
species = "crappie"

[log]
date_order = "MDY"

[boat]
name = "a boat"
beam = "5.5 ft"
anglers = 2
rods_per_angler = 3
speeds = ["0.3 mph", "3.5 mph"]

[[rods]]
name = "long rod"
length = "12 ft"
count = 4

[[lines]]
name = "nylon"
diameter = "0.23 mm"
material = "nylon"
strength = "6 lb"

[[lures]]
name = "jig"
weight = "1/16 oz"
kind = "jig"
tactics = ["cast_jig"]
"""
_LAKE = """name = "Drill Pond"
latitude = 40.2
longitude = -91.0
time_zone = "America/Chicago"
area = "120 acres"
max_depth = "30 ft"
mean_depth = "12 ft"
elevation = "638 ft"
longest_fetch = "0.8 mi"
depth_area = "pond-depths.csv"
secchi = { mar = "3 ft", jul = "2 ft" }
below_full_pond = { apr = "0 ft", oct = "2 ft" }
fertility = "eutrophic"
surroundings = "wooded"

[weather]
file = "weather/w.csv"
attribution = "invented"

[flow]
inflow = "5 cfs"
release_depth = "9 ft"

[rules]
max_rods = 2
limits = "15 a day"
checked = 2026-02-14
"""
_DEPTHS = "depth_ft,area_acres\n0,120\n6,100\n12,80\n20,40\n30,2\n"
_RUNNING = "lure,line_out_ft,speed_mph,depth_ft\n" + "".join(
    f"lipped lure,{out},1.8,{depth}\n" for out, depth in ((40, 6.5), (60, 8.5), (80, 10))
)


def make_club(folder, *, hours=HOURS):
    """A small invented club of every input file, its weather so long."""
    for name in ("lakes", "weather"):
        (folder / name).mkdir(parents=True)
    (folder / "club.toml").write_text(_CLUB)
    (folder / "lakes" / "pond.toml").write_text(_LAKE)
    (folder / "pond-depths.csv").write_text(_DEPTHS)
    (folder / "running.csv").write_text(_RUNNING)
    rows = ["time,air_temp_c,rel_hum_pct,wind_ms,cloud_pct,precip_mm"]
    first = datetime(2025, 7, 11) - timedelta(hours=hours)
    for hour in range(hours):
        clock = hour % 24
        stamp = f"{first + timedelta(hours=hour):%Y-%m-%d %H:%M}"
        rows.append(f"{stamp},{18 + clock % 12},{50 + clock},{1 + hour % 7},{hour % 101},0")
    (folder / "weather" / "w.csv").write_text("\n".join(rows) + "\n")
    log = ["date,start,hours,lake,tactic,rods,fish,notes"]
    log += [f"2025-06-{day:02d},06:30,2.5,pond,cast_jig,2,{day % 5},\"calm, then \"\"wind\"\"\""
            for day in range(1, 25)]  # fmt: skip
    (folder / "trips.csv").write_text("\n".join(log) + "\n")
    probe = ["date,time,lake,depth_ft,temperature_F,oxygen_mgl"]
    probe += [f"2025-06-{day:02d},10:00,pond,{depth},{75 - depth},{8 - depth / 5}"
              for day in (5, 15) for depth in range(1, 26, 4)]  # fmt: skip
    (folder / "probe.csv").write_text("\n".join(probe) + "\n")
    return folder


def _workbook(folder):
    from openpyxl import Workbook

    book = Workbook()
    for line in (folder / "trips.csv").read_text().splitlines():
        book.active.append(line.split(",")[:7])
    book.save(folder / "trips.xlsx")


def _prepare(group, folder, random):
    """Put one fault into a fresh club; what to run on it."""
    make_club(folder)
    file = {"club": "club.toml", "lake": "lakes/pond.toml", "depths": "pond-depths.csv",
            "weather": "weather/w.csv", "packed weather": "weather/w.csv", "log": "trips.csv",
            "workbook": "trips.xlsx", "probe": "probe.csv", "running": "running.csv"}  # fmt: skip
    if group == "options":
        return ["command", *faults.odd_options(random)]
    if group == "places":
        group = random.choice(list(file))
        if group == "workbook":
            _workbook(folder)
        faults.odd_place(folder / file[group], random)
        return [group]
    if group == "workbook":
        (folder / "trips.csv").unlink(missing_ok=True)
        make_log = folder / "trips.csv"
        make_log.write_text(
            "date,start,hours,lake,tactic,rods,fish\n"
            + "".join(
                f"2025-06-{day:02d},06:30,2.5,pond,cast_jig,2,{day}\n" for day in range(1, 25)
            )
        )
        _workbook(folder)
        make_log.unlink()
    path = folder / file[group]
    content = path.read_bytes()
    if group in ("club", "lake"):
        odd = faults.odd_toml if random.random() < 0.8 else faults.damaged
    elif group == "workbook":
        odd = faults.odd_workbook
    elif group == "packed weather":
        odd = faults.odd_gzip
    else:
        odd = faults.odd_table if random.random() < 0.7 else faults.damaged
    path.write_bytes(odd(content, random))
    return [group]


def _meet(group, arguments, folder):
    """Run what reads the faulty file; the exit status."""
    from lakekit.cli import main as command

    club = ["--club", str(folder), "--out", str(folder / "out")]
    _spare_the_long_work()
    if group == "command":
        return command.main([*arguments, *club])
    if group in ("club", "lake", "depths"):
        return command.main(["lake", *club])
    if group in ("weather", "packed weather"):
        return command.main(["weather", *club])
    from lakekit.errors import LakekitError

    try:
        _read(group, folder)
    except LakekitError as error:
        print(f"lakekit: {error}", file=sys.stderr)
        return 2
    return 0


def _spare_the_long_work():
    """Options and files are drilled, not the computing: in this fork it ends at once."""
    from lakekit.errors import LakekitError
    from lakekit.guide import day
    from lakekit.guide.front import note
    from lakekit.many import seasons

    def spared(*_, **__):
        raise LakekitError("spared by the drill", mend="None is needed.")

    seasons.write_seasons = seasons.season_guides = lambda *_, **__: iter(())
    note.front_note = day.day_card = spared


def _read(group, folder):
    from lakekit.probe import read_probe
    from lakekit.tackle.running import read_running
    from lakekit.trips import read_trips
    from lakekit.waters.knowledge import log_path, running_cards

    club = read_club(folder)
    if group == "probe":
        read_probe(folder / "probe.csv", club, findings=[])
    elif group == "running":
        read_running(folder / "running.csv")
        running_cards(club)
    else:
        path = log_path(club)
        if path is None:
            return
        trips = read_trips(path, club, as_of="2026-01-01")
        told = trips.attrs["summary"], *trips.attrs["findings"]["finding"]
        print("\n".join(map(str, told)))
        if path.suffix == ".csv":
            _count_rows(path, trips)


def _count_rows(path, trips):
    """Every filled line of a log is a row that was read, part of a quoted cell, or its header."""
    lines = path.read_bytes().decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")
    spread = lines.count("2025-06-")
    if trips.attrs["rows_read"] < spread - _headers_and_notes(lines):
        raise AssertionError(f"{spread} dates in the file, {trips.attrs['rows_read']} rows read")


def _headers_and_notes(text):
    """Dates that are no row of their own: twice in a line, or in the line of the header."""
    lines = text.split("\n")
    twice = sum(max(line.count("2025-06-") - 1, 0) for line in lines)
    first = next((number for number, line in enumerate(lines) if "date" in line), 0)
    return twice + sum(line.count("2025-06-") for line in lines[: first + 1])


def _fault_of(status, out, err):
    """What is wrong with how a case ended; empty where nothing is."""
    said = out + err
    odd = next((c for c in said if not c.isprintable() and c not in "\n\t\u200c\u200d"), None)
    if odd is not None:
        return f"a control character {odd!r} was printed"
    if "Traceback" in said:
        return f"traceback: {said.strip().splitlines()[-2:]}"
    if status not in (0, 2):
        return f"status {status}: {err.strip()[-200:]}"
    if status == 2 and not _has_message(err):
        return f"status 2 without a message: {err.strip()[-200:]!r}"
    if max(map(len, said.splitlines()), default=0) > LONGEST_LINE:
        return "a line without end was printed"
    return ""


def _has_message(err):
    """Whether the error stream holds a message of ours, or of the option parser."""
    return "lakekit" in err or "usage:" in err


def _child(group, arguments, folder, answer):
    out, err = io.StringIO(), io.StringIO()
    try:
        held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (held + MEMORY, held + MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        signal.alarm(6 * SECONDS)
        os.chdir(folder)
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = _meet(group, arguments, folder)
        told = _fault_of(status, out.getvalue(), err.getvalue())
    except BaseException as error:
        told = f"{type(error).__name__}: {str(error)[:300]}"
    answer.write((told or CLEAN).encode("utf-8", "replace"))
    answer.close()


def drill(seed, number, group, *, keep=None):
    """One case; what was wrong with it, empty where it was clean.

    Parameters
    ----------
    seed, number : int
        The same two make the same fault.
    group : str
        One of ``GROUPS``.
    keep : path, optional
        Where to leave the faulty club, to look at.
    """
    random = Random(f"{seed}-{number}-{group}")
    with tempfile.TemporaryDirectory(prefix="lakekit-drill-") as place:
        folder = Path(place) / "club"
        told, *arguments = _prepare(group, folder, random)
        if keep:
            shutil.copytree(folder, keep, symlinks=True)
        read, write = os.pipe()
        made = os.fork()
        if made == 0:
            os.close(read)
            with contextlib.suppress(BaseException):
                _child(told, arguments, folder, os.fdopen(write, "wb"))
            os._exit(0)
        os.close(write)
        with os.fdopen(read, "rb") as answer:
            said = answer.read().decode("utf-8", "replace")
        _, status = os.waitpid(made, 0)
    if os.WIFSIGNALED(status):
        return f"ended by signal {os.WTERMSIG(status)}"
    if said == CLEAN:
        return ""
    return f"{said or 'ended without an answer'}  {arguments or ''}".rstrip()


def run(seed, cases, *, say=None):
    """Many cases, the groups in turn: (tried, failed) counters by group, and the failures told."""
    _warm_up()
    tried, failed, told = Counter(), Counter(), []
    for number in range(cases):
        if say and number and number % 110 == 0:
            say(f"{number} tried, {failed.total()} failed")
        group = GROUPS[number % len(GROUPS)]
        tried[group] += 1
        fault = drill(seed, number, group)
        if fault:
            failed[group] += 1
            told.append(f"case {number} ({group}, seed {seed}): {fault}")
            if say:
                say(told[-1])
    return tried, failed, told


def _warm_up():
    """Pay for the imports once, before any fork."""
    with tempfile.TemporaryDirectory() as place:
        folder = make_club(Path(place) / "club")
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            from lakekit.cli import main as command

            for name in ("lake", "weather"):
                command.main([name, "--club", str(folder), "--out", str(folder / "out")])
            for group in ("log", "probe", "running"):
                _read(group, folder)
        made = os.fork()  # what starts threads must not run in the parent of later forks
        if made == 0:
            out, err = io.StringIO(), io.StringIO()
            with (
                contextlib.suppress(BaseException),
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(err),
            ):
                command.main(["trips", "--club", str(folder), "--out", str(folder / "out")])
            os._exit(0)
        os.waitpid(made, 0)


def measure(seed=None, cases=550, kills=0):
    """Figures of a run: tried, clean and failed, in all and by group; then of so many kills."""
    seed = int(time.time()) if seed is None else seed
    print(f"drills: seed {seed}", file=sys.stderr)
    tried, failed, _ = run(seed, cases, say=lambda line: print(line, file=sys.stderr))
    figures = {"drills_seed": seed, "drills_tried": tried.total(),
               "drills_clean": tried.total() - failed.total(),
               "drills_failed": failed.total()}  # fmt: skip
    for group in GROUPS:
        name = group.replace(" ", "_")
        figures[f"drills_{name}_tried"] = tried[group]
        figures[f"drills_{name}_failed"] = failed[group]
    if kills:
        from lakekit.bench.drills.kills import measure as measure_kills

        figures |= measure_kills(seed, kills)
    return figures
