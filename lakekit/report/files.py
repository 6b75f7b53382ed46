"""Outputs written whole: a reader finds the old file or the new one, never half of it."""

import os
import tempfile
from pathlib import Path


def write_whole(path, content):
    """Write bytes or text beside the target, then put it in place in one step.

    Parameters
    ----------
    path : str or Path
    content : bytes or str

    Returns
    -------
    Path
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content.encode() if isinstance(content, str) else content)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path
