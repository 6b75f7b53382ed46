"""Which club and lakes a command is about."""

import sys
from pathlib import Path


def club_of(options, *, quiet=False):
    """The club a command is about: the one named, this folder's, or the demo; and say which."""
    from lakekit.club import read_club

    if not options.club and Path("club.toml").is_file():
        options.club = "."
        say("Club: the one in this folder")
    elif not options.club and not quiet:
        say("Club: the demo, invented. Your own: lakekit new DIR, then --club DIR")
    return read_club(options.club or None)


def say(line):
    print(line, file=sys.stderr, flush=True)


def lakes_of(club, names):
    from lakekit.club import find_lake

    return [find_lake(club, name) for name in names] or list(club.lakes)
