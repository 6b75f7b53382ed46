"""Local clock times of a lake, through both clock changes, to UTC."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


def to_utc(local, time_zone):
    """The UTC instant of a wall-clock time, and what the clock change did to it.

    Parameters
    ----------
    local : datetime.datetime
        Naive local wall-clock time.
    time_zone : str
        IANA name.

    Returns
    -------
    tuple of (datetime.datetime, str)
        Naive UTC, and "" , "skipped" (the clocks jumped over that time in spring: it is taken
        as the same elapsed time, an hour later by the new clock) or "twice" (the clocks went
        back: the first of the two is taken).

    References
    ----------
    Python's PEP 495, "Local Time Disambiguation": fold=0 means the first of two readings, and
    for a time that was jumped over the offset before the jump.
    """
    zone = ZoneInfo(time_zone)
    first = local.replace(tzinfo=zone, fold=0)
    instant = first.astimezone(UTC)
    if instant.astimezone(zone).replace(tzinfo=None) != local:
        change = "skipped"
    elif first.utcoffset() != local.replace(tzinfo=zone, fold=1).utcoffset():
        change = "twice"
    else:
        change = ""
    return instant.replace(tzinfo=None), change


def local_datetime(date, hours):
    """A date and decimal clock hours [h] as a naive local datetime, to the minute."""
    midnight = datetime(date.year, date.month, date.day)
    return midnight + timedelta(minutes=round(hours * 60))
