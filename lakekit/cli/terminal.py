"""What a command says, made safe for any terminal: no control characters, ASCII where that is all.

Progress goes to the error stream, results to the output; neither a closed pipe nor a full disk
behind them ends in a traceback.
"""

import contextlib
import os
import shutil
import sys
import threading
import time

from lakekit.errors import StoreError
from lakekit.progress import EVERY

PLAIN = str.maketrans(
    {"°": " deg ", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "×": "x", "…": "...",
     "é": "e", "è": "e", "ü": "u", "ö": "o", "ä": "a", "ñ": "n", "²": "2", "³": "3", "±": "+-"}
)  # fmt: skip
_KEPT = "\n\t\u200c\u200d"
SELDOM = 30.0  # s between lines of how far it is, where no later line can take their place


class _Safe:
    """A stream that a file's own letters cannot command."""

    def __init__(self, stream):
        self.stream, self.passing = stream, 0

    def __getattr__(self, name):
        return getattr(self.stream, name)

    def write(self, text):
        if self.passing and text:
            self.passing_line("")
        with _told():
            return self.stream.write(self._safe(text))

    def passing_line(self, line, end=""):
        """On a terminal: put a line in the place of the one before, its end whole, or clear it."""
        room = max(shutil.get_terminal_size().columns - 1 - len(end), 0)
        line = self._safe(line)[:room] + end
        with _told():
            self.stream.write("\r" + line.ljust(self.passing) + ("" if line else "\r"))
            self.stream.flush()
        self.passing = len(line)

    def _safe(self, text):
        if not text.isprintable():
            text = "".join(c if c.isprintable() or c in _KEPT else "?" for c in text)
        encoding = getattr(self.stream, "encoding", None) or "utf-8"
        try:
            text.encode(encoding)
        except UnicodeEncodeError:
            text = text.translate(PLAIN).encode(encoding, "replace").decode(encoding)
        return text

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
        self.last, self.said, self.turn = "", self.start, threading.RLock()

    def __call__(self, line):
        self.last = line
        self._print(line)

    def _print(self, line):
        if not self.quiet:
            with self.turn:
                self.said = time.monotonic()
                print(self._told(line), file=sys.stderr, flush=True)

    @contextlib.contextmanager
    def clock(self):
        """Inside, the seconds are told of work that tells nothing itself: a notebook's cells."""
        over, start = threading.Event(), time.monotonic()

        def tick():
            with contextlib.suppress(BrokenPipeError, StoreError):  # the next line will meet it too
                while not over.wait(EVERY):
                    with self.turn:
                        self.passing(f"{time.monotonic() - start:.0f} s so far")

        ticking = threading.Thread(target=tick, daemon=True)
        ticking.start()
        try:
            yield
        finally:
            over.set()
            ticking.join()
            self.passing(None)

    def _told(self, line):
        return f"{time.monotonic() - self.start:6.1f} s  {line}" if self.verbose else line

    def passing(self, text):
        """How far the last line's work has come: on a terminal in one place, else seldom a line.

        ``None`` when it is done: the terminal's line is cleared.
        """
        stream = sys.stderr
        if self.quiet or not isinstance(stream, _Safe):
            return
        if text is None:
            if stream.passing:
                stream.passing_line("")
            return
        silent = time.monotonic() - self.said
        if not stream.isatty():
            if silent >= SELDOM:
                self._print(f"{self.last}: {text}")
        elif silent >= EVERY:
            self.said = time.monotonic()
            stream.passing_line(self._told(self.last), f": {text}")


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
        open(os.devnull, "w", encoding="utf-8") as nowhere,  # for a stream that was closed: >&-
        contextlib.redirect_stdout(_Safe(sys.stdout or nowhere)),
        contextlib.redirect_stderr(_Safe(sys.stderr or nowhere)),
    ):
        yield
        sys.stdout.flush()


def give_up_output():
    """Send what is still held back nowhere, so that the interpreter's end does not fail on it."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
