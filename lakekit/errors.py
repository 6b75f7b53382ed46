"""Errors a user can mend: each says what is wrong, where, and how to mend it."""


class LakekitError(ValueError):
    """Bad input, told in one readable message; the command line exits with status 2.

    Parameters
    ----------
    what : str
        What is wrong, as one sentence without a full stop.
    where : str, optional
        File, key, row or time at which it is wrong.
    mend : str, optional
        What the user can do about it.

    Examples
    --------
    >>> try:
    ...     read_club("nowhere")
    ... except LakekitError as problem:
    ...     print(problem.what)
    the club folder does not exist
    """

    def __init__(self, what, *, where=None, mend=None):
        self.what, self.where, self.mend = what, where, mend
        message = f"{where}: {what}" if where else what
        super().__init__(f"{message}. {mend}" if mend else message)


class ClubError(LakekitError):
    """A club folder, a lake file or club.toml."""


class WeatherError(LakekitError):
    """A weather record: missing, out of range, or with gaps too long to fill."""


class ProbeError(LakekitError):
    """Probe readings; ``rows``: those of the file that are wrong, where single ones are."""

    rows = ()


class TripsError(LakekitError):
    """The trip log."""


class TackleError(LakekitError):
    """A tackle question without an answer, such as a depth that cannot be reached."""


class StoreError(LakekitError):
    """A file that cannot be written or read back."""


class ClusterError(LakekitError):
    """A cluster that cannot be reached, or cannot do the work."""


class NotebookError(LakekitError):
    """A notebook with a wrong parameter, or a cell that failed.

    ``ours`` is True where the cause was not the user's input: the exit status is then 1.
    """

    ours = False
