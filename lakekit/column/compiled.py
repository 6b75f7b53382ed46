"""Compiled functions whose cache cannot go stale.

numba's cache notices an edit of the file that holds a function but not of a function called from
another file, and it needs a writable folder. The cache of this package therefore lives in a
folder named by a hash of all its sources, in the user's cache where that is ours alone, else in
a temporary folder; each file with a checksum, as damaged code crashes and pickles run code.
"""

import atexit
import hashlib
import os
import pickle
import shutil
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

import numba
import platformdirs
from numba import njit
from numba.core.caching import FunctionCache
from numba.core.serialize import dumps

from lakekit.store import StoreError, private_folder, replace_atomically


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
    """The user's cache where it is ours alone and can be written, else a folder of this run.

    Compiled code is run as it is read: a name that others could foresee and fill is never used.
    """
    try:
        folder = private_folder(_user_cache().absolute() / f"column-{source_hash()}")
        with tempfile.TemporaryFile(dir=folder):
            pass
    except (OSError, RuntimeError, StoreError):
        folder = Path(tempfile.mkdtemp(prefix="lakekit-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


CACHE_FOLDER = compiled_folder()
_SAID = set()


def _say_once(line):
    if line not in _SAID:
        _SAID.add(line)
        # a notebook passes on what is printed; a command keeps that stream for its result
        stream = sys.stdout if os.environ.get("LAKEKIT_NOTEBOOK") else sys.stderr
        print(line, file=stream, flush=True)


class _CheckedFiles:
    """One file a compiled function and signature, its checksum before it.

    numba's own files carry none: cut short they end in a traceback, altered in a crash.
    """

    def __init__(self, folder, function):
        self.folder, self.name = Path(folder), function.__qualname__
        self.source = Path(function.__code__.co_filename).read_bytes()

    def _path(self, key):
        told = self.source + repr((key, sys.version_info[:3])).encode()
        return self.folder / f"{self.name}-{hashlib.sha256(told).hexdigest()[:24]}.code"

    def load(self, key):
        path = self._path(key)
        try:
            content = path.read_bytes()
        except OSError:
            _say_once("compiling the water column for this machine: once, up to a minute")
            return None
        if hashlib.sha256(content[32:]).digest() != content[:32]:
            _say_once("damaged compiled code was removed, and is made again")
            with suppress(OSError):
                path.unlink()
            return None
        return pickle.loads(content[32:])

    def save(self, key, data):
        content = dumps(data)
        try:
            with replace_atomically(self._path(key)) as draft:
                draft.write_bytes(hashlib.sha256(content).digest() + content)
        except StoreError as problem:
            _say_once(f"compiled code is not kept for next time ({problem.what})")

    def flush(self):
        for path in self.folder.glob(f"{self.name}-*.code"):
            path.unlink(missing_ok=True)


class _CheckedCache(FunctionCache):
    def __init__(self, function):
        super().__init__(function)
        self._cache_file = _CheckedFiles(CACHE_FOLDER, function)

    def _save_overload(self, sig, data):
        with suppress(OSError):  # the folder is full or gone
            super()._save_overload(sig, data)


def compiled(function):
    """Compile with numba on first use: cached, without the global lock, strict about NaN."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(CACHE_FOLDER)
    try:
        made = njit(cache=True, nogil=True, error_model="numpy")(function)
        made._cache = _CheckedCache(function)
        return made
    finally:
        numba.config.CACHE_DIR = before
