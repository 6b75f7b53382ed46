"""Files read and written whole: the cache folder, arrays and Datasets with checksums, outputs.

Everything is written to a temporary file in the same folder and then moved over the old one, so a
reader never sees half a file and an interruption leaves the old one as it was.
"""

import errno
import json
import os
import shutil
import stat
import tempfile
import zipfile
import zlib
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import numpy as np
import platformdirs
import xarray as xr

from lakekit.errors import StoreError

READY = ".ready"  # ends the name of a hidden folder whose files only wait to be moved

_REASONS = {
    errno.ENOSPC: ("the disk is full", "Free some space, or write elsewhere."),
    getattr(errno, "EDQUOT", -1): ("the disk quota is used up", "Free some space."),
    errno.EROFS: ("the disk is read-only", "Write to another folder."),
    errno.EACCES: (
        "it may not be written here",
        "Close it if another program has it open, or write to another folder.",
    ),
    errno.EPERM: ("it may not be written here", "Write to another folder."),
    errno.ENOENT: ("there is no such folder", "Make the folder first."),
    errno.ENOTDIR: ("part of the path is a file, not a folder", "Write to another folder."),
    errno.EISDIR: ("that is a folder", "Give the name of a file."),
}


def _readable(problem, path, doing):
    """The StoreError that tells an OSError of the system's in one line."""
    reason, mend = _REASONS.get(problem.errno, (problem.strerror or str(problem), None))
    return StoreError(f"cannot be {doing}: {reason}", where=str(path), mend=mend)


def cache_folder():
    """The folder for what can be pulled or computed again, ours alone.

    ``$LAKEKIT_CACHE`` where set, else the user's cache folder for the system.

    Raises
    ------
    StoreError
        When others may write there: what is read back could be theirs.
    """
    chosen = os.environ.get("LAKEKIT_CACHE")
    folder = Path(chosen or platformdirs.user_cache_path("lakekit", appauthor=False)).absolute()
    with suppress(OSError):  # what cannot be made cannot be kept either, and is said there
        private_folder(folder)
    return folder


def private_folder(folder):
    """Make a folder that only its owner writes to, or make sure that one is.

    Parameters
    ----------
    folder : path

    Returns
    -------
    pathlib.Path

    Raises
    ------
    StoreError
        When it belongs to someone else, or others may write to it or to a folder it stands in.
    OSError
        When it cannot be made.
    """
    folder = Path(folder)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not hasattr(os, "getuid"):
        return folder
    told = folder.stat()
    if told.st_mode & 0o022 == 0o020 and told.st_uid == os.getuid():
        folder.chmod(told.st_mode & 0o755)  # a user's own group, by an old habit of some systems
        told = folder.stat()
    above = [place.stat() for place in folder.resolve().parents]
    fault = folder_fault(told, above, user=os.getuid())
    if fault:
        raise StoreError(f"nothing can safely be kept here: {fault}", where=str(folder),
                         mend="Name a folder of your own in LAKEKIT_CACHE (compiled code: in "
                              "NUMBA_CACHE_DIR), or chmod 700 it")
    return folder


def folder_fault(told, above, *, user):
    """Why files in a folder could be someone else's; empty where they could not.

    Parameters
    ----------
    told : os.stat_result
        Of the folder.
    above : sequence of os.stat_result
        Of the folders it stands in.
    user : int
        Who runs us.
    """
    if told.st_uid not in (user, 0):
        return "it belongs to someone else"
    if told.st_mode & 0o022:
        return "others may write to it"
    if any(place.st_mode & 0o002 and not place.st_mode & stat.S_ISVTX for place in above):
        return "others may write to a folder it stands in"
    return ""


@contextmanager
def replace_atomically(path):
    """Write a file whole or not at all.

    Parameters
    ----------
    path : path
        File to make or replace; its folder is made if need be.

    Yields
    ------
    pathlib.Path
        A temporary file in the same folder with the same suffix, to write to; it takes the place
        of `path` when the block ends without an exception, and is removed otherwise.

    Raises
    ------
    StoreError
        In one line, when the disk is full, read-only, or the path cannot be written.
    """
    path = Path(path)
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.stem[:40]}-", suffix=path.suffix
        )
        os.close(handle)
        temporary = Path(name)
        yield temporary
        with open(temporary, "rb+") as written:
            os.fsync(written.fileno())
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        os.replace(temporary, path)
        temporary = None
    except OSError as problem:
        raise _readable(problem, path, "written") from problem
    finally:
        if temporary is not None:
            with suppress(OSError):
                temporary.unlink()


KEPT_ENCODING = ("_FillValue", "zlib")  # what a Dataset may ask of its file


def save_dataset(dataset, path):
    """Write a Dataset as NetCDF with a checksum on every array, whole or not at all."""
    encoding = {
        name: {"fletcher32": True}
        | {key: variable.encoding[key] for key in KEPT_ENCODING if key in variable.encoding}
        for name, variable in dataset.variables.items()
        if variable.ndim and variable.size and variable.dtype.kind in "fiub"
    }
    # made in memory: the library that writes to disk does not survive a full one
    content = bytes(dataset.to_netcdf(engine="h5netcdf", encoding=encoding))
    with replace_atomically(path) as temporary:
        temporary.write_bytes(content)
    return Path(path)


def load_dataset(path):
    """Read a Dataset written by :func:`save_dataset` into memory.

    Raises
    ------
    StoreError
        Where there is no such file, or its checksums fail.
    """
    path = Path(path)
    if not path.exists():
        raise StoreError("there is no such file", where=str(path))
    try:
        with xr.open_dataset(path, engine="h5netcdf", decode_timedelta=False) as dataset:
            return dataset.load()
    except (OSError, ValueError, KeyError, RuntimeError) as problem:
        raise StoreError(
            "is damaged, or is no NetCDF file",
            where=str(path),
            mend="Delete it; it is computed again.",
        ) from problem


def keep_arrays(path, arrays, about):
    """Keep named arrays and a few facts about them in one checked file.

    Parameters
    ----------
    path : path of a .npz file
    arrays : dict of str -> array
    about : dict
        JSON-able facts.
    """
    text = np.frombuffer(json.dumps(about, sort_keys=True).encode(), dtype=np.uint8)
    with replace_atomically(path) as temporary, open(temporary, "wb") as file:
        np.savez_compressed(file, about=text, **arrays)


def read_once(read, most, path, reader, *more):
    """What a file was read as before in this process, while it stays as it is; else read now.

    Parameters
    ----------
    read : OrderedDict
        What was read lately; ours to change.
    most : int
        How many it may hold; what was asked for longest ago goes first.
    path : path
    reader : callable
        Reads the file; what it gives is shared, so nobody may change it.
    *more : hashable
        What else the result depends on.
    """
    try:
        told = os.stat(path)
    except OSError:  # the reader has the words for it
        return reader()
    key = (os.path.abspath(path), told.st_size, told.st_mtime_ns, told.st_ino, *more)
    found = read.pop(key) if key in read else reader()
    read[key] = found
    while len(read) > most:
        read.popitem(last=False)
    return found


def kept_arrays(path):
    """What :func:`keep_arrays` kept: (arrays, about), or None where absent or damaged.

    A damaged file (its checksums fail, or it was cut short) is removed, so it is pulled again.
    """
    path = Path(path)
    try:
        with np.load(path, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        about = json.loads(arrays.pop("about").tobytes().decode())
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error):
        with suppress(OSError):
            path.unlink()
        return None
    return arrays, about


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


@contextmanager
def _held(folder, *, wait=True):
    """Hold a folder until the block or the process ends; yields whether nobody else holds it.

    Where the system or the disk has no such locks, nobody is kept out and False is yielded.
    """
    handle, alone = None, False
    with suppress(ImportError, OSError):
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        alone = True
    try:
        yield alone
    finally:
        if handle is not None:
            os.close(handle)


def write_together(folder, stem, write, last=None):
    """Write a set of files so that a reader has the old set or the new one, never some of each.

    They are made in a hidden folder. Its renaming to ``.<stem>.ready`` is the moment from which
    the new set counts; then each file is moved to its place. Where the moves are interrupted,
    :func:`finish_together` ends them: writers call it first, and so must readers. Any number of
    processes may write to one folder.

    Parameters
    ----------
    folder : path
        Made when it is not there.
    stem : str
        Of the set's file names.
    write : callable
        Given a folder, yields the path of each file that it has written there.
    last : callable, optional
        Of the same kind, for files that are renewed from what lies in `folder`: no other set is
        put in its place from when it is called until this one is.

    Returns
    -------
    list of pathlib.Path

    Raises
    ------
    StoreError
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with ExitStack() as until_written:
            with _held(folder):
                _finish(folder)
                for left in folder.glob(f".{stem}-*"):
                    with _held(left, wait=False) as dead:  # of a run that was killed
                        if dead:
                            shutil.rmtree(left, ignore_errors=True)
                draft = Path(tempfile.mkdtemp(dir=folder, prefix=f".{stem}-"))
                until_written.callback(shutil.rmtree, draft, ignore_errors=True)
                until_written.enter_context(_held(draft))
            made = list(write(draft))
            with _held(folder):
                made += last(draft) if last else []
                _finish(folder)
                os.rename(draft, folder / f".{stem}{READY}")
                _finish(folder)
    except OSError as problem:
        raise _readable(problem, folder, "written") from problem
    return [folder / path.name for path in made]


def finish_together(folder):
    """End what :func:`write_together` was kept from ending in a folder of reports.

    Raises
    ------
    StoreError
        Where a file cannot be put in its place; the rest of the new set waits for the next try.
    """
    with _held(folder):
        _finish(Path(folder))


def _finish(folder):
    for ready in sorted(folder.glob(f".*{READY}")):
        for path in sorted(ready.glob("*")):
            try:
                os.replace(path, folder / path.name)
            except OSError as problem:
                if path.exists():  # else another process was faster, where there are no locks
                    raise _readable(problem, folder / path.name, "replaced") from problem
        with suppress(OSError):
            ready.rmdir()
