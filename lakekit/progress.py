"""How far a long computation has come, told to whoever listens: nobody, unless a command does.

What is told goes past: it never enters a result, and what is computed does not depend on it.
"""

from contextlib import contextmanager
from contextvars import ContextVar

EVERY = 0.5  # s between two tellings
YEAR_HOURS = 8766.0

_TELL = ContextVar("lakekit_tell", default=None)
_HOURS = ContextVar("lakekit_hours", default=None)  # of this piece of work, before the run at hand


@contextmanager
def listening(tell):
    """Inside, ``tell(text)`` is called twice a second or more in long work, ``tell(None)`` after.

    Parameters
    ----------
    tell : callable or None
        None where the work is told in another way.
    """
    token = _TELL.set(tell)
    try:
        yield
    finally:
        passing(None)
        _TELL.reset(token)


@contextmanager
def counted():
    """Count simulated years from nothing inside: one piece of work, in however many runs."""
    token = _HOURS.set(0.0)
    try:
        yield
    finally:
        _HOURS.reset(token)
        passing(None)


def patience():
    """Seconds to wait before the next telling; None, for ever, where nobody listens."""
    return None if _TELL.get() is None else EVERY


def passing(text):
    """Tell how far the work has come, in a few words."""
    if tell := _TELL.get():
        tell(text)


def simulated(hours, *, ended=False):
    """Tell the hours that the run at hand has come through; at its end they count for good."""
    before = _HOURS.get()
    if ended:
        if before is not None:
            _HOURS.set(before + hours)
    elif hours:
        passing(f"{((before or 0.0) + hours) / YEAR_HOURS:.1f} years so far")
