"""Computed Datasets kept between runs, by the content of all that they depend on."""

import hashlib
from contextlib import suppress
from pathlib import Path

import numpy as np

from lakekit import strata
from lakekit.column.compiled import source_hash
from lakekit.store import StoreError, cache_folder, load_dataset, save_dataset

KEPT_EACH = 6  # files a lake and kind; older ones are removed


def digest(*parts):
    """A short name for content: Datasets, arrays, tables and anything whose repr tells all.

    Parameters
    ----------
    parts : Dataset, DataFrame, ndarray, or an object with a full repr

    Returns
    -------
    str
    """
    total = hashlib.sha256((source_hash() + source_hash(Path(strata.__file__).parent)).encode())
    for part in parts:
        if hasattr(part, "data_vars"):
            for name in sorted(part.variables):
                total.update(name.encode())
                total.update(np.ascontiguousarray(part[name].values).tobytes())
        elif hasattr(part, "to_csv"):
            total.update(part.to_csv(index=False).encode())
        elif isinstance(part, np.ndarray):
            total.update(np.ascontiguousarray(part).tobytes())
        else:
            with np.printoptions(threshold=1_000_000, precision=17):
                total.update(repr(part).encode())
    return total.hexdigest()[:24]


def kept(kind, lake, key, make, *, progress=None):
    """A Dataset computed before under the same key, or computed now and kept.

    Parameters
    ----------
    kind : str
        What it is: a folder of the cache.
    lake : lakekit.club.Lake
    key : str
        From :func:`digest`.
    make : callable
        Computes the Dataset.
    progress : callable, optional
        Told in one line when it could not be kept.

    Returns
    -------
    xarray.Dataset
    """
    folder = cache_folder() / kind
    path = folder / f"{lake.key}-{key}.nc"
    with suppress(StoreError):
        return load_dataset(path)
    made = make()
    try:
        save_dataset(made, path)
        _forget(folder, lake)
    except (StoreError, OSError) as error:
        if progress:
            progress(f"{lake.name}: not kept for next time ({error})")
    return made


def _forget(folder, lake):
    length = len(lake.key) + 1 + 24 + len(".nc")
    mine = [path for path in folder.glob(f"{lake.key}-*.nc") if len(path.name) == length]
    for path in sorted(mine, key=lambda p: p.stat().st_mtime)[:-KEPT_EACH]:
        path.unlink(missing_ok=True)
