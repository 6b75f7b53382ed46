"""Run by the test of kills: writes a note, then is killed at one point while writing another.

Arguments: the folder of notes, the folder of states. Each line of standard input names a point;
a child is forked that kills itself there (a number: is killed after so many milliseconds), and
"done" is printed once it is gone. The imports and the compiled kernel are paid once.
"""

import os
import signal
import sys
import threading
from pathlib import Path

import pandas as pd
from column_lakes import small_lake, weather
from sample_guide import sample_note

from lakekit.column.parameters import default_parameters
from lakekit.fronts.water import state_at
from lakekit.pages import reports as saved
from lakekit.pages.reports import write_front
from lakekit.store import READY


def example(text):
    note = sample_note()
    days = 5.0 if text == "the old note" else 9.0
    note["recovery"]["deeper"]["days"]["median"] = days
    return note | {"date": "2026-07-03", "what_if": None, "message": text, "headline": text}


def die(*_args, **_options):
    os.kill(os.getpid(), signal.SIGKILL)
    threading.Event().wait()


def at_move(number, replace):
    """Moves files through, but kills at the given move of a finished set into its place."""
    moved = [0]

    def wrapped(source, target):
        moved[0] += Path(source).parent.name.endswith(READY)
        return die() if moved[0] == number else replace(source, target)

    return wrapped


def half(path, *_args, **_options):
    Path(path).write_bytes(b"half of")
    die()


def arm(point):
    if point == "typesetting":
        saved.write_pdf = lambda document, path: half(path)
    elif point == "page":
        saved.write_page = lambda document, path: half(path)
    elif point == "numbers":
        saved._write_json = lambda path, content: half(path)
    elif point == "first move":
        os.replace = die
    elif point == "state half written":
        written = Path.write_bytes
        Path.write_bytes = lambda path, content: die(written(path, content[: len(content) // 2]))
    elif point == "state before its move":
        os.replace = die
    elif point == "ready":
        os.rename = die
    elif point.startswith("move "):
        os.replace = at_move(int(point.split()[1]), os.replace)
    else:
        threading.Timer(float(point) / 1000.0, die).start()


def child(work):
    """Do some work in a fork of its own: typesetter and kernel start threads that no fork has."""
    made = os.fork()
    if made == 0:
        signal.alarm(300)
        work()
        os._exit(0)
    _, status = os.waitpid(made, 0)
    return "killed" if os.WIFSIGNALED(status) else "finished"


def main(notes, states):
    lake = small_lake()
    forcing = weather(24 * 120)
    parameters = default_parameters(lake)
    times = forcing["time"].to_index()

    def carry(day):
        until = times[0] + pd.Timedelta(days=day)
        return state_at(lake, forcing, parameters, until, folder=Path(states))

    def first():
        write_front(example("the old note"), notes)
        carry(60)

    def second(point):
        arm(point)
        if point.startswith("state"):
            carry(90)
        write_front(example("the new note"), notes)
        carry(90)

    print(child(first), flush=True)
    for line in sys.stdin:
        print(child(lambda: second(line.strip())), flush=True)  # noqa: B023


if __name__ == "__main__":
    main(*sys.argv[1:])
