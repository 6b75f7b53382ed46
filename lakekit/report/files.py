"""Outputs written whole: a reader finds the old file or the new one, never half of it."""

import os
from pathlib import Path

from lakekit.errors import StoreError
from lakekit.store import replace_atomically


def check_folder(folder):
    """Refuse, before any long work, a folder that reports could not be written to.

    Parameters
    ----------
    folder : str or Path
        It need not exist yet.

    Returns
    -------
    Path
        Absolute.

    Raises
    ------
    StoreError
    """
    folder = Path(folder).resolve()
    there = next(place for place in (folder, *folder.parents) if place.exists())
    if not there.is_dir():
        raise StoreError(
            "reports cannot go here: it is a file",
            where=str(there),
            mend="Name a folder: --out DIR.",
        )
    if not os.access(there, os.W_OK):
        raise StoreError(
            "reports may not be written here", where=str(there), mend="Name another: --out DIR."
        )
    return folder


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
