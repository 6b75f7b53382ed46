"""Outputs written whole: a reader finds the old file or the new one, never half of it."""

from pathlib import Path

from lakekit.store import replace_atomically


def write_whole(path, content):
    """Write bytes or text beside the target, then put it in place in one step.

    Parameters
    ----------
    path : str or Path
    content : bytes or str

    Returns
    -------
    Path

    Raises
    ------
    StoreError
        Where the file cannot be written.
    """
    path = Path(path)
    with replace_atomically(path) as draft:
        draft.write_bytes(content.encode() if isinstance(content, str) else content)
    return path
