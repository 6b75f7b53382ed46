"""What a report leaves on disk: its pages, its numbers, its layers; and fits kept for next time."""

import hashlib
import json
from pathlib import Path

import numpy as np

from lakekit.column.compiled import source_hash
from lakekit.report.briefing import write_season_pdf
from lakekit.report.files import write_whole
from lakekit.report.page import write_season_page
from lakekit.store import StoreError, cache_folder, load_dataset, save_dataset

FIT_MEMBERS = 24
FIT_SEED = 20


def write_season(guide, knowledge, out):
    """Write a season guide as PDF, HTML and JSON, and its daily layers as NetCDF.

    Each file replaces the one before it only when it is complete.

    Parameters
    ----------
    guide : dict
        From :func:`lakekit.report.guide.season_guide`.
    knowledge : lakekit.report.knowledge.LakeKnowledge
    out : path
        Folder; made when it is not there.

    Returns
    -------
    list of pathlib.Path
        ``<lake>-season-<first month>`` as .pdf, .html, .json and .nc.
    """
    stem = Path(out) / f"{guide['lake']['key']}-season-{guide['months'][0]['month']}"
    pdf, html, data, layers = (
        stem.with_name(f"{stem.name}.{suffix}") for suffix in ("pdf", "html", "json", "nc")
    )
    write_season_pdf(guide, pdf)
    write_season_page(guide, html)
    write_whole(data, json.dumps(guide, indent=1, ensure_ascii=False) + "\n")
    save_dataset(knowledge.layers, layers)
    return [pdf, html, data, layers]


def fit_key(lake, forcing, readings):
    """A name for a fit that changes when the lake, its weather, its readings or our code do."""
    parts = hashlib.sha256(source_hash().encode())
    parts.update(repr(lake).encode())
    for name in ("air_temperature", "wind_speed", "shortwave", "longwave", "relative_humidity"):
        parts.update(np.ascontiguousarray(forcing[name].values).tobytes())
    parts.update(forcing["time"].values[[0, -1]].tobytes())
    table = readings[["time", "depth", "temperature", "oxygen"]]
    parts.update(table.to_csv(index=False).encode())
    parts.update(f"{FIT_MEMBERS} {FIT_SEED}".encode())
    return parts.hexdigest()[:24]


def saved_fit(lake, forcing, readings, *, progress=None):
    """The lake's parameters fitted to its probe readings, kept in the user's cache.

    Parameters
    ----------
    lake : lakekit.club.Lake
    forcing : xarray.Dataset
    readings : pandas.DataFrame
        This lake's rows of :func:`lakekit.probe.read_probe`.
    progress : callable, optional
        Called with one line of text.

    Returns
    -------
    xarray.Dataset
        On ``member``, the first central.
    """
    say = progress or (lambda line: None)
    path = cache_folder() / "fits" / f"{lake.key}-{fit_key(lake, forcing, readings)}.nc"
    try:
        return load_dataset(path)
    except StoreError:
        say(f"{lake.name}: fitting the lake to {readings['time'].nunique()} probe casts (kept)")
    from lakekit.column.fit import fit_lake

    fitted = fit_lake(lake, forcing, readings, members=FIT_MEMBERS, seed=FIT_SEED)
    try:
        save_dataset(fitted, path)
    except StoreError as error:
        say(f"the fit could not be kept: {error}")
    return fitted
