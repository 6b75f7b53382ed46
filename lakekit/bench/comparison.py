"""One measured reservoir cast by cast beside its simulation, for the evidence notebook."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from lakekit.bench.accuracy import at_casts, on_grid, score, weekly
from lakekit.bench.observed import beaverdam, observations_folder
from lakekit.column import simulate
from lakekit.errors import ProbeError
from lakekit.guide.evidence import WHAT
from lakekit.pages.fonts import FALLBACK, FAMILY, use_in_matplotlib
from lakekit.pages.style import COLOURS, FIGURE_TYPE, LINE
from lakekit.strata import stratification

FONT = (FAMILY, FALLBACK)


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
    try:
        folder = Path(observations) if observations else observations_folder()
    except ProbeError:
        return None
    if not folder.is_dir():
        return None
    site = beaverdam(folder)
    observed = on_grid(weekly(site))
    run = simulate(site.lake, site.weather, every="1h")
    return Casts(observed, at_casts(run, observed).isel(member=0, drop=True))


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
        figure.text(0.5, 0.5, "The open observations are not on this machine.", ha="center",
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
