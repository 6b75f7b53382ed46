"""Which club and lakes a command is about."""

from pathlib import Path

from lakekit.cli.terminal import say


def club_of(options, *, quiet=False, lakes=True):
    """The club a command is about: the one named, this folder's, or the demo; and say which.

    ``lakes`` is False for what needs none: lake files that cannot be read are then passed over.
    """
    from lakekit.club import read_club

    if not options.club and Path("club.toml").is_file():
        options.club = "."
        say("Club: the one in this folder")
    elif not options.club and not quiet:
        say("Club: the demo, invented. Your own: lakekit new DIR, then --club DIR")
    return read_club(options.club or None, lakes=lakes)


def lakes_of(club, names):
    from lakekit.club import find_lake

    return [find_lake(club, name) for name in names] or list(club.lakes)
