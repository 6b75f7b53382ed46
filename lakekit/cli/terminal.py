"""What a command says, made safe for any terminal: no control characters, ASCII where that is all.

Progress goes to the error stream, results to the output; neither a closed pipe nor a full disk
behind them ends in a traceback.
"""

import contextlib
import os
import sys
import time

from lakekit.errors import StoreError

PLAIN = str.maketrans(
    {"°": " deg ", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "×": "x", "…": "...",
     "é": "e", "è": "e", "ü": "u", "ö": "o", "ä": "a", "ñ": "n", "²": "2", "³": "3", "±": "+-"}
)  # fmt: skip
_KEPT = "\n\t\u200c\u200d"


class _Safe:
    """A stream that a file's own letters cannot command."""

    def __init__(self, stream):
        self.stream = stream

    def __getattr__(self, name):
        return getattr(self.stream, name)

    def write(self, text):
        if not text.isprintable():
            text = "".join(c if c.isprintable() or c in _KEPT else "?" for c in text)
        encoding = getattr(self.stream, "encoding", None) or "utf-8"
        try:
            text.encode(encoding)
        except UnicodeEncodeError:
            text = text.translate(PLAIN).encode(encoding, "replace").decode(encoding)
        with _told():
            return self.stream.write(text)

    def flush(self):
        with _told():
            self.stream.flush()


@contextlib.contextmanager
def _told():
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as problem:
        raise StoreError(
            f"the output cannot be written ({problem.strerror})",
            mend="Free some space, or send it elsewhere",
        ) from problem


class Sayer:
    """Progress lines: quiet, usual, or with the seconds since the start."""

    def __init__(self):
        self.quiet, self.verbose, self.start = False, False, time.monotonic()

    def __call__(self, line):
        if self.quiet:
            return
        if self.verbose:
            line = f"{time.monotonic() - self.start:6.1f} s  {line}"
        print(line, file=sys.stderr, flush=True)


say = Sayer()


@contextlib.contextmanager
def safe_streams():
    """Both streams made safe while a command runs, and written out before it ends.

    Raises
    ------
    BrokenPipeError
        When nobody reads the output any more.
    StoreError
        When the output cannot be written, as to a full disk.
    """
    with (
        contextlib.redirect_stdout(_Safe(sys.stdout)),
        contextlib.redirect_stderr(_Safe(sys.stderr)),
    ):
        yield
        sys.stdout.flush()


def give_up_output():
    """Send what is still held back nowhere, so that the interpreter's end does not fail on it."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
