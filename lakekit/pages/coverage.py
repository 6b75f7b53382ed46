"""A drawing of a weather record: what was measured, filled and estimated, month by month."""

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from lakekit.pages.fonts import FALLBACK, FAMILY, use_in_matplotlib
from lakekit.pages.style import COLOURS, FIGURE_TYPE, LINE
from lakekit.weather.summary import NAMES, shares

FONT = (FAMILY, FALLBACK)
FILLED = ["interpolated", "neighbour_station", "nearby_days", "other_year", "grid"]


def coverage_figure(table):
    """Shares measured (solid), filled (hatched) and estimated (white) of each month's hours.

    Parameters
    ----------
    table : pandas.DataFrame
        From ``lakekit.weather.coverage``.

    Returns
    -------
    matplotlib.figure.Figure
        One strip a variable, months across; legible in black and white.
    """
    use_in_matplotlib()
    variables = [name for name in NAMES if name in set(table["variable"])]
    months = pd.DatetimeIndex(sorted(table["month"].unique()))
    figure = Figure(figsize=(7.2, 0.8 + 0.42 * len(variables)), layout="constrained")
    rows = figure.subplots(len(variables), 1, sharex=True, squeeze=False)[:, 0]
    edges = np.arange(months.size + 1) - 0.5
    for axes, name in zip(rows, variables, strict=True):
        part = table[table["variable"] == name].set_index("month").reindex(months)
        measured = part["measured"].to_numpy()
        filled = part[FILLED].sum(axis=1).to_numpy()
        axes.stairs(measured, edges, fill=True, color=COLOURS["deep"], lw=0)
        axes.stairs(
            measured + filled, edges, baseline=measured, fill=True, facecolor=COLOURS["paper"],
            edgecolor=COLOURS["ink"], hatch="/////", lw=0,
        )  # fmt: skip
        axes.set(ylim=(0, 1), xlim=(-0.5, months.size - 0.5), yticks=[])
        axes.set_ylabel(
            NAMES[name], rotation=0, ha="right", va="center", family=FONT,
            fontsize=FIGURE_TYPE["tick"],
        )  # fmt: skip
        for side in axes.spines.values():
            side.set(color=COLOURS["rule"], lw=LINE["fine"])
    years = np.flatnonzero(months.month == 1)
    rows[-1].set_xticks(years, [f"{year}" for year in months.year[years]])
    for axes in rows:
        axes.tick_params(length=0, labelfontfamily=FONT, labelsize=FIGURE_TYPE["tick"])
    rows[0].set_title(
        "dark: measured   hatched: filled   white: estimated", family=FONT,
        fontsize=FIGURE_TYPE["label"], loc="left",
    )  # fmt: skip
    return figure


def coverage_alt(table):
    """What the drawing says, in words."""
    said = []
    for name, row in shares(table).iterrows():
        filled = row[FILLED].sum()
        said.append(
            f"{NAMES[name]}: {row['measured']:.0%} measured, {filled:.0%} filled, "
            f"{row['estimated']:.0%} estimated"
        )
    return "Hours of the record. " + "; ".join(said) + "."
