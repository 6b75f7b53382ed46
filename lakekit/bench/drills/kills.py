"""Kills: commands stopped dead at random moments; what they leave must be whole.

After each kill every report in the output folder is one that opens to its end, and no process of
the command is left; at the end the command runs again and writes its set.
"""

import json
import os
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
COMMANDS = (("season", "--months", "2"), ("front", *STORM), ("briefing",), ("patterns",))
PATIENCE = 60.0  # s for what a killed command had started to end too
MARK = "LAKEKIT_DRILL"
YEAR_HOURS = 24 * 500


def whole(path):
    """Whether a report's file opens to its end."""
    content = path.read_bytes()
    match path.suffix:
        case ".pdf":
            return content.startswith(b"%PDF") and b"%%EOF" in content[-64:]
        case ".html":
            return content.rstrip().endswith(b"</html>")
        case ".json":
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


def kill_after(arguments, seconds, *, token):
    """Run a command, kill it after a while if it still runs; its status, and what lives on."""
    process = subprocess.Popen(
        [sys.executable, "-m", "lakekit", *arguments], env={**os.environ, MARK: token},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
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


def damaged(out):
    """Names of reports that are not whole."""
    return [path.name for path in out.glob("*") if path.is_file() and path.name[0] != "."
            and not whole(path)]  # fmt: skip


def kills(command, random, cases, folder):
    """Kill one command at random moments; (killed, faults as sentences)."""
    make_club(folder / "club", hours=YEAR_HOURS)
    out = folder / "out"
    arguments = [*command, "--club", str(folder / "club"), "--out", str(out)]
    start = time.monotonic()
    status, _ = kill_after(arguments, 3600, token=f"{os.getpid()}-first")
    took, faults, killed = time.monotonic() - start, [], 0
    if status != 0:
        return 0, [f"{command[0]}: the first run ends with status {status}"]
    names = {path.name for path in out.glob("*")}
    for number in range(cases):
        moment = random.uniform(0.0, took)
        status, left = kill_after(arguments, moment, token=f"{os.getpid()}-{number}")
        killed += status == -signal.SIGKILL
        faults += [f"{command[0]} killed at {moment:.1f} s: {name} is damaged"
                   for name in damaged(out)]  # fmt: skip
        if left:
            faults.append(f"{command[0]} killed at {moment:.1f} s: {len(left)} processes left")
    status, _ = kill_after(arguments, 3600, token=f"{os.getpid()}-last")
    again = {path.name for path in out.glob("*")}
    if status != 0 or again != names or damaged(out):
        faults.append(f"{command[0]}: the run after the kills ends with {status}, {again ^ names}")
    return killed, faults


def measure(seed, cases):
    """Figures of a run: kills tried and met, and faults after them."""
    random, total, faults = Random(seed), 0, []
    for command in COMMANDS:
        with tempfile.TemporaryDirectory(prefix="lakekit-kills-") as place:
            killed, found = kills(command, random, max(cases // len(COMMANDS), 1), Path(place))
        total, faults = total + killed, faults + found
        print(f"{command[0]}: {killed} killed", *found, sep="\n  ", file=sys.stderr)
    return {"drills_kills_met": total, "drills_kills_faults": len(faults)}
