"""Computed Datasets kept between runs, each under a key of all that it depends on.

One store for fits, layers, odds and states. A key is a hash of the data (names, types, shapes,
attributes and values), of the package's own sources that compute, and of the versions of the
libraries they compute with: what does not match to the last bit is computed again.
"""

import hashlib
import os
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

import lakekit
from lakekit.progress import counted
from lakekit.store import StoreError, cache_folder, load_dataset, save_dataset

COMPUTES = ("weather", "column", "strata")  # folders whose sources decide a result
LIBRARIES = ("numpy", "numba", "pandas", "pvlib", "scipy", "xarray")
MOST_BYTES = 500_000_000  # kept at the most; what was used longest ago goes first


def content_key(*parts):
    """A short name for content.

    Parameters
    ----------
    parts : Dataset, DataFrame, ndarray, or an object whose repr tells all
        Datasets count with their attributes; select what the result depends on.

    Returns
    -------
    str
        24 hexadecimal digits.
    """
    total = hashlib.sha256(code_key().encode())
    for part in parts:
        _add(total, part)
    return total.hexdigest()[:24]


@lru_cache(maxsize=1)
def code_key():
    """A hash of the sources that compute and of the libraries' versions."""
    root = Path(lakekit.__file__).parent
    sources = [*root.glob("*.py")]
    for folder in COMPUTES:
        sources += [*(root / folder).rglob("*.py")]
    total = hashlib.sha256()
    for path in sorted(sources):
        total.update(path.relative_to(root).as_posix().encode())
        total.update(path.read_bytes())
    for name in LIBRARIES:
        total.update(f"{name} {version(name)}".encode())
    return total.hexdigest()


def _add(total, part):
    if hasattr(part, "data_vars"):
        total.update(_told(sorted(part.attrs.items())))
        for name in sorted(part.variables):
            variable = part[name].variable
            total.update(_told((name, variable.dims, sorted(variable.attrs.items()))))
            _add(total, variable.values)
    elif isinstance(part, pd.DataFrame):
        total.update(_told([(name, str(part[name].dtype)) for name in part.columns]))
        total.update(pd.util.hash_pandas_object(part, index=True).to_numpy().tobytes())
    elif isinstance(part, np.ndarray):
        total.update(_told((part.dtype.str, part.shape)))
        total.update(
            _told(part.tolist()) if part.dtype.hasobject else np.ascontiguousarray(part).tobytes()
        )
    else:
        total.update(_told(part))


def _told(value):
    with np.printoptions(threshold=10_000_000, precision=17, floatmode="unique"):
        return f"{type(value).__name__} {value!r}\n".encode()


def kept(kind, lake, key, make, *, progress=None, folder=None):
    """A Dataset computed before under the same key, or computed now and kept.

    Parameters
    ----------
    kind : str
        What it is: a folder of the store.
    lake : lakekit.club.Lake
    key : str
        From :func:`content_key`.
    make : callable
        Computes the Dataset.
    progress : callable, optional
        Told in one line when it could not be kept, and when old ones had to go.
    folder : path, optional
        The store; by default in the cache folder.

    Returns
    -------
    xarray.Dataset
    """
    folder = cache_folder() / "kept" if folder is None else Path(folder)
    path = folder / kind / lake.key / f"{key}.nc"
    with suppress(StoreError):
        found = load_dataset(path)
        with suppress(OSError):
            os.utime(path)
        return found
    with counted():
        made = make()
    say = progress or (lambda line: None)
    try:
        save_dataset(made, path)
        gone = _make_room(folder, keep=path)
        made = load_dataset(path)  # as the next run will find it: keys of what follows are the same
    except (StoreError, OSError) as error:
        say(f"{lake.name}: not kept for next time ({error})")
        return made
    if gone:
        say(f"kept results over {MOST_BYTES / 1e6:.0f} MB: {gone} of the oldest removed")
    return made


def _make_room(folder, *, keep, most=None):
    """Remove what was used longest ago until the rest fits; how many went."""
    most = MOST_BYTES if most is None else most
    files = []
    for path in folder.glob("*/*/*.nc"):
        with suppress(OSError):
            told = path.stat()
            files.append((told.st_mtime_ns, told.st_size, path))
    total, gone = sum(size for _, size, _ in files), 0
    for _, size, path in sorted(files):
        if total <= most:
            break
        if path == keep:
            continue
        with suppress(OSError):
            path.unlink()
        total, gone = total - size, gone + 1
    return gone
