"""Measured waters cast by cast beside their simulation, for the evidence notebook."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from lakekit.bench.accuracy import at_casts, on_grid, score, weekly
from lakekit.bench.leads import EVERY, apart
from lakekit.bench.observed import SITES, beaverdam, natural, observations_folder
from lakekit.column import follow, simulate
from lakekit.errors import ProbeError
from lakekit.guide.evidence import WHAT
from lakekit.pages.fonts import FALLBACK, FAMILY, use_in_matplotlib
from lakekit.pages.style import COLOURS, FIGURE_TYPE, LINE
from lakekit.strata import stratification

FONT = (FAMILY, FALLBACK)
BEFORE = 400  # days of weather before the first cast: a whole year forgets any start
SHOWN = 4  # casts of each water
MEMBERS = 16  # their spread weighs the readings, as for the log
ABSENT = "The open observations are not on this machine."


@dataclass(frozen=True)
class Casts:
    """Measured casts and the column at the same hours."""

    observed: object  # Dataset on (time, depth)
    simulated: object


def cast_comparison(observations=None):
    """Beaverdam's casts beside the column from its lake file and weather alone.

    Parameters
    ----------
    observations : path, optional
        By default ``$LAKEKIT_OBSERVATIONS``, else ``../shared/observations``.

    Returns
    -------
    Casts or None
        None where the observations are not at hand.
    """
    folder = _folder(observations)
    if folder is None:
        return None
    site = beaverdam(folder)
    observed = on_grid(weekly(site))
    run = simulate(site.lake, site.weather, every="1h")
    return Casts(observed, at_casts(run, observed).isel(member=0, drop=True))


def _folder(observations):
    try:
        folder = Path(observations) if observations else observations_folder()
    except ProbeError:
        return None
    return folder if folder.is_dir() else None


def comparison_rows(casts):
    """Errors of a comparison as (label, text) rows; why there are none without observations."""
    if casts is None:
        return [("No comparison", "the open observations are not on this machine")]
    figures = score(casts.simulated, casts.observed)
    return [(label, f"{figures[key]:.2f} {unit}") for key, label, unit in WHAT]


def comparison_figure(casts):
    """Measured and simulated thermocline and bottom temperature, cast by cast.

    Parameters
    ----------
    casts : Casts or None

    Returns
    -------
    matplotlib.figure.Figure
        With a line of words only where there are no observations.
    """
    use_in_matplotlib()
    figure = Figure(figsize=(7.2, 4.4), layout="constrained")
    if casts is None:
        figure.text(0.5, 0.5, ABSENT, ha="center",
                    family=FONT, fontsize=FIGURE_TYPE["large"])  # fmt: skip
        return figure
    upper, lower = figure.subplots(2, 1, sharex=True)
    time = pd.DatetimeIndex(casts.observed["time"].values)
    order = np.arange(time.size)
    layers = [stratification(part) for part in (casts.observed, casts.simulated)]
    marks = (("measured", "o", COLOURS["ink"]), ("computed", "D", COLOURS["paper"]))
    for part, (label, mark, fill) in zip(layers, marks, strict=True):
        style = dict(marker=mark, ls="", mfc=fill, mec=COLOURS["ink"], ms=4.5, label=label)
        upper.plot(order, part["thermocline_depth"], **style)
        lower.plot(order, part["bottom_temperature"], **style)
    upper.invert_yaxis()
    upper.set_ylabel("thermocline, m", family=FONT, fontsize=FIGURE_TYPE["label"])
    lower.set_ylabel("bottom, °C", family=FONT, fontsize=FIGURE_TYPE["label"])
    upper.legend(frameon=False, prop={"family": FONT, "size": FIGURE_TYPE["label"]}, ncols=2)
    firsts = np.flatnonzero(np.r_[True, np.diff(time.year) > 0])
    firsts = firsts[np.diff(np.r_[firsts, time.size]) > 2]  # a year of one cast has no room
    lower.set_xticks(firsts, [str(year) for year in time.year[firsts]])
    lower.set_xlabel("casts in order", family=FONT, fontsize=FIGURE_TYPE["label"])
    for axes in (upper, lower):
        axes.tick_params(labelfontfamily=FONT, labelsize=FIGURE_TYPE["tick"])
        axes.grid(axis="y", color=COLOURS["rule"], lw=LINE["fine"])
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        for first in firsts[1:]:
            axes.axvline(first - 0.5, color=COLOURS["rule"], lw=LINE["fine"])
    return figure


def comparison_alt(casts):
    """What the comparison says, in words."""
    rows = comparison_rows(casts)
    return "; ".join(f"{label}: {text}" for label, text in rows)


def corrections(observations=None):
    """Each open water followed through its last full season, a cast every four weeks.

    Parameters
    ----------
    observations : path, optional
        As for :func:`cast_comparison`.

    Returns
    -------
    dict of str to DataFrame
        Water -> what each metre of each cast read (``value`` [degC]), what was computed there
        before it (``expected``) and after (``after``); empty where there are no observations.
    """
    folder = _folder(observations)
    if folder is None:
        return {}
    found = {}
    for read in SITES.values():
        site = read(folder)
        casts = natural(site)
        chosen = _season(apart(np.sort(casts["time"].unique()), EVERY))
        weather = site.weather.sel(
            time=slice(chosen[0] - pd.Timedelta(days=BEFORE), chosen[-1] + pd.Timedelta("1h"))
        )
        part = casts[casts["time"].isin(chosen)].drop(columns="oxygen")
        run = follow(site.lake, weather, part, members=MEMBERS, every=[chosen[-1].round("h")])
        names = ("time", "depth", "value", "expected", "after")
        found[site.lake.name] = pd.DataFrame({n: run[f"reading_{n}"].values for n in names})
    return found


def _season(times):
    """Those of the last year with four casts or more from April to October, else of the fullest."""
    times = pd.DatetimeIndex(times)
    warm = times[(times.month >= 4) & (times.month <= 10)]
    counts = warm.year.value_counts().sort_index()
    full = counts[counts >= SHOWN]
    return warm[warm.year == (full.index[-1] if len(full) else counts.idxmax())]


def correction_rows(found):
    """How far each water was from its casts before and after them, as (water, text) rows."""
    rows = []
    for name, table in found.items():
        before, after = (
            float(np.sqrt(((table[column] - table["value"]) ** 2).mean()))
            for column in ("expected", "after")
        )
        casts, year = table["time"].nunique(), pd.Timestamp(table["time"].iloc[0]).year
        told = f"{casts} casts: {before:.1f} °C before, {after:.1f} °C after"
        rows.append((f"{name}, {year}", told))
    return rows or [("No casts", ABSENT)]


def correction_figure(found):
    """Casts of each water beside the column before and after the cast corrected it.

    Parameters
    ----------
    found : dict, from :func:`corrections`

    Returns
    -------
    matplotlib.figure.Figure
        With a line of words only where there are no observations.
    """
    use_in_matplotlib()
    if not found:
        figure = Figure(figsize=(7.2, 1.0))
        figure.text(0.5, 0.5, ABSENT, ha="center", family=FONT, fontsize=FIGURE_TYPE["large"])
        return figure
    figure = Figure(figsize=(7.2, 1.9 * len(found)), layout="constrained")
    grid = figure.subplots(len(found), SHOWN, sharex="row", sharey="row", squeeze=False)
    ink = COLOURS["ink"]
    for row, (name, table) in zip(grid, found.items(), strict=True):
        times = table["time"].unique()
        shown = times[np.unique(np.linspace(0, len(times) - 1, SHOWN).round().astype(int))]
        for axes in row[len(shown) :]:
            axes.set_axis_off()
        for axes, time in zip(row, pd.DatetimeIndex(shown), strict=False):
            cast = table[table["time"] == time].sort_values("depth")
            axes.plot(cast["expected"], cast["depth"], ls="--", lw=LINE["rule"], color=ink,
                      label="computed before the cast")  # fmt: skip
            axes.plot(cast["after"], cast["depth"], lw=LINE["mark"], color=ink, label="after it")
            axes.plot(cast["value"], cast["depth"], "o", mfc=COLOURS["paper"], mec=ink, ms=3.5,
                      label="measured")  # fmt: skip
            axes.set_title(f"{time.day} {time:%b %Y}", family=FONT,
                           fontsize=FIGURE_TYPE["label"])  # fmt: skip
            axes.tick_params(labelfontfamily=FONT, labelsize=FIGURE_TYPE["tick"])
            for side in ("top", "right"):
                axes.spines[side].set_visible(False)
        row[0].invert_yaxis()
        row[0].set_ylabel(f"{name}\ndepth, m", family=FONT, fontsize=FIGURE_TYPE["label"])
    for axes in grid[-1]:
        axes.set_xlabel("°C", family=FONT, fontsize=FIGURE_TYPE["label"])
    handles, labels = grid[0][0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper center", ncols=3, frameon=False,
                  prop={"family": FONT, "size": FIGURE_TYPE["label"]})  # fmt: skip
    return figure


def correction_alt(found):
    """What the casts before and after say, in words."""
    return "; ".join(f"{label}: {text}" for label, text in correction_rows(found))
