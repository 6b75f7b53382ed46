"""Compiled functions whose cache cannot go stale.

numba's cache notices an edit of the file that holds a function but not of a function called from
another file, and it needs a writable folder. The cache of this package therefore lives in a
folder named by a hash of all its sources, in the user's cache, else in a temporary folder.
"""

import hashlib
import os
import tempfile
from pathlib import Path

import numba
import platformdirs
from numba import njit


def source_hash(folder=None):
    """Twelve hexadecimal digits that change with any source file in ``folder`` (this package)."""
    digest = hashlib.sha256()
    for path in sorted(Path(folder or Path(__file__).parent).glob("*.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    digest.update(numba.__version__.encode())
    return digest.hexdigest()[:12]


def _user_cache():
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    return Path(chosen) if chosen else platformdirs.user_cache_path("lakekit", appauthor=False)


def compiled_folder():
    """The first folder that can be written: the user's cache, else a temporary one."""
    name = f"column-{source_hash()}"
    try:
        folder = _user_cache() / name
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except (OSError, RuntimeError):
        user = os.getuid() if hasattr(os, "getuid") else "user"
        folder = Path(tempfile.gettempdir()) / f"lakekit-{user}-{name}"
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            folder = Path(tempfile.mkdtemp(prefix="lakekit-"))
    return folder


CACHE_FOLDER = compiled_folder()


def compiled(function):
    """Compile with numba on first use: cached, without the global lock, strict about NaN."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(CACHE_FOLDER)
    try:
        return njit(cache=True, nogil=True, error_model="numpy")(function)
    finally:
        numba.config.CACHE_DIR = before
