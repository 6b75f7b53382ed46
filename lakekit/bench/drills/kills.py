"""Kills: commands stopped dead at random moments; what they leave must be whole.

Every second kill meets a command that has all yet to compute, the others one that finds its
results kept. After each, every report and every kept result opens to its end, and no process of
the command is left; at the end the command runs again and writes its set, with the same numbers.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random

from lakekit.bench.drills import make_club
from lakekit.store import StoreError, load_dataset

STORM = ("--wind", "25 mph", "--hours", "8", "--air", "60 F")
COMMANDS = (
    ("season", "pond", "--months", "2"),
    ("front", *STORM),
    ("briefing", "pond"),
    ("patterns",),
    ("season", "--months", "1", "--workers", "2"),
    ("season", "pond", "--months", "1", "--notebook"),
)
PATIENCE = 60.0  # s for what a killed command had started to end too
MARK = "LAKEKIT_DRILL"
WAYS = ("--workers", "--notebook")
YEAR_HOURS = 24 * 500


def whole(path):
    """Whether a report's file opens to its end."""
    content = path.read_bytes()
    match path.suffix:
        case ".pdf":
            return content.startswith(b"%PDF") and b"%%EOF" in content[-64:]
        case ".html":
            return content.rstrip().endswith(b"</html>")
        case ".json" | ".ipynb":
            try:
                return bool(json.loads(content))
            except ValueError:
                return False
        case ".nc":
            try:
                return bool(load_dataset(path).sizes)
            except StoreError:
                return False
    return content.endswith(b"\n")


def marked(token):
    """Processes that were started, at whatever remove, under this token."""
    found = []
    for place in Path("/proc").glob("[0-9]*/environ"):
        try:
            if f"{MARK}={token}".encode() in place.read_bytes().split(b"\0"):
                found.append(int(place.parent.name))
        except OSError:
            continue
    return found


def kill_after(arguments, seconds, *, token, kept=None, said=os.devnull):
    """Run a command, kill it after a while if it still runs; its status, and what lives on.

    ``kept`` is the folder of its kept results; compiled code stays where it is. What it says goes
    to the file ``said``.
    """
    own = {MARK: token} if kept is None else {MARK: token, "LAKEKIT_CACHE": str(kept)}
    with open(said, "wb") as lines:  # a pipe would be held open by what is left
        process = subprocess.Popen(
            [sys.executable, "-m", "lakekit", *arguments], env={**os.environ, **own},
            stdout=subprocess.DEVNULL, stderr=lines, start_new_session=True,
        )  # fmt: skip
    try:
        status = process.wait(timeout=seconds)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        status = process.wait()
    until = time.monotonic() + PATIENCE
    while (left := marked(token)) and time.monotonic() < until:
        time.sleep(0.2)
    return status, left


def damaged(folder):
    """Names of files in a folder and below that are not whole; drafts are hidden."""
    paths = [path for path in folder.rglob("*") if path.is_file()]
    seen = [path for path in paths
            if not any(part[0] == "." for part in path.relative_to(folder).parts)]  # fmt: skip
    return [path.name for path in seen if not whole(path)]


def last_lines(said):
    """The end of what a command said, in one line."""
    return " / ".join(said.read_text(errors="replace").splitlines()[-6:])


def numbers(out):
    """The reports as data, by name: what a run must find again whatever was killed before it."""
    return {path.name: json.loads(path.read_bytes()) for path in out.glob("*.json")}


def kills(command, random, cases, folder):
    """Kill one command at random moments; (killed, faults as sentences)."""
    club = make_club(folder / "club", hours=YEAR_HOURS)
    second = (club / "lakes" / "pond.toml").read_text().replace("Drill Pond", "Second Pond")
    (club / "lakes" / "second.toml").write_text(second)
    out, kept, said = folder / "out", folder / "kept", folder / "said"
    arguments = [*command, "--club", str(club), "--out", str(out)]
    faults, killed, took, found = [], 0, [], []
    for run in ("first", "second"):
        start = time.monotonic()
        status, _ = kill_after(arguments, 3600, token=f"{os.getpid()}-{run}", kept=kept, said=said)
        took.append(time.monotonic() - start)
        if status != 0:
            return 0, [f"the {run} run ends with status {status}: {last_lines(said)}"]
        found.append(numbers(out))
    if found[0] != found[1]:
        faults.append("kept results change the numbers")
    names = {path.name for path in out.glob("*")}
    for number in range(cases):
        if number % 2 == 0:
            shutil.rmtree(kept, ignore_errors=True)
        moment = random.uniform(0.0, took[number % 2])
        status, left = kill_after(arguments, moment, token=f"{os.getpid()}-{number}", kept=kept)
        killed += status == -signal.SIGKILL
        faults += [f"killed at {moment:.1f} s: {name} is damaged"
                   for name in damaged(out) + damaged(kept)]  # fmt: skip
        if left:
            faults.append(f"killed at {moment:.1f} s: {len(left)} processes left")
    status, _ = kill_after(arguments, 3600, token=f"{os.getpid()}-last", kept=kept, said=said)
    again = {path.name for path in out.glob("*")}
    if status != 0 or again != names or damaged(out):
        told = f"{again ^ names}: {last_lines(said)}"
        faults.append(f"the run after the kills ends with {status}, {told}")
    if numbers(out) != found[0]:
        faults.append("the run after the kills finds other numbers")
    return killed, faults


def measure(seed, cases):
    """Figures of a run: kills tried and met by command, and faults after them."""
    random, figures, faults = Random(seed), {}, []
    for number, command in enumerate(COMMANDS):
        share = (cases + len(COMMANDS) - 1 - number) // len(COMMANDS)
        with tempfile.TemporaryDirectory(prefix="lakekit-kills-") as place:
            killed, found = kills(command, random, share, Path(place))
        name = command[0] + "".join(f"_{word[2:]}" for word in command if word in WAYS)
        figures[f"drills_kills_{name}"] = killed
        faults += found
        print(f"{name}: {killed} of {share} killed", *found, sep="\n  ", file=sys.stderr)
    return figures | {"drills_kills_met": sum(figures.values()), "drills_kills_faults": len(faults)}
