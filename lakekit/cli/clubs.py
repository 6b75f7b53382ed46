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


def add_crew(command):
    """The options of a command that works through many lakes."""
    command.add_argument(
        "--lakes", metavar="FILE", dest="lakes_file", help="lakes to do, a key or name a line"
    )
    command.add_argument(
        "--workers", metavar="N", type=int,
        help="lakes at once on this machine (default: its cores, for more than three lakes)",
    )  # fmt: skip
    command.add_argument(
        "--scheduler", metavar="ADDRESS", help="a running dask scheduler, tcp://host:8786"
    )


def asked_lakes(club, options):
    """Keys of the lakes a command names, by word or in a file; every lake by default."""
    from lakekit.errors import ClubError
    from lakekit.inputs import decoded, file_bytes

    names = list(options.lakes if isinstance(options.lakes, list) else [])
    if options.lakes_file:
        where = f"--lakes {options.lakes_file}"
        content = file_bytes(options.lakes_file, error=ClubError, where=where)
        lines = decoded(content, error=ClubError, where=where)[0].splitlines()
        names += [line.strip() for line in lines if line.strip() and not line.startswith("#")]
        if not names:
            raise ClubError("names no lake", where=where, mend="Write a lake's key a line.")
    return list(dict.fromkeys(lakes_of(club, names)))


FEW = 3  # lakes that one process does sooner than processes start


def crew_of(options, lakes):
    """Workers and scheduler a command asks for, as :func:`lakekit.many.workers.crew` takes them."""
    from lakekit.errors import ClubError
    from lakekit.many.workers import cores

    workers = options.workers
    if workers is not None and workers < 1:
        raise ClubError(
            f"{workers} workers asked for", where="--workers", mend="Ask for 1 or more."
        )
    if workers is None:
        workers = cores() if len(lakes) > FEW else 1
    return {"workers": min(workers, len(lakes)), "scheduler": options.scheduler}


def refuse_problems(problems, count):
    """Raise one error for the lakes that failed, a line for each told before.

    Raises
    ------
    ClubError
        With the lake's own message where there is one lake, else how many of them failed.
    """
    from lakekit.errors import ClubError, NotebookError

    if not problems:
        return
    kind = NotebookError if any(outcome.ours for outcome in problems) else ClubError
    if count > 1:
        for outcome in problems:
            say(f"{outcome.item}: {outcome.problem}")
        names = ", ".join(outcome.item for outcome in problems[:5])
        error = kind(
            f"{len(problems)} of {count} lakes could not be done ({names})",
            mend="What is wrong with each is said above; the others are done.",
        )
    else:
        error = kind(problems[0].problem)
    error.ours = any(outcome.ours for outcome in problems)
    raise error
