"""Figures of the log: where its effort lies, and rates with their intervals."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from lakekit.pages.canvas import Canvas
from lakekit.pages.fonts import FALLBACK, FAMILY, use_in_matplotlib
from lakekit.pages.style import COLOURS, FIGURE_TYPE, LINE
from lakekit.tactics.book import read_book

MONTHS = "JFMAMJJASOND"
WIDTH = 7.2  # inches
FONT = (FAMILY, FALLBACK)


def _name(key):
    book = read_book()
    return book[key].name if key in book else str(key).replace("_", " ")


def effort_figure(effort):
    """Boat-hours by tactic and month, as numbers on a grid; empty cells are gaps.

    Parameters
    ----------
    effort : pandas.DataFrame
        From ``lakekit.trips.effort_grid``.

    Returns
    -------
    matplotlib.figure.Figure
    """
    use_in_matplotlib()
    hours = effort.to_numpy()
    rows = len(effort)
    figure = Figure(figsize=(WIDTH, 0.9 + 0.3 * rows), layout="constrained")
    axes = figure.subplots()
    for row in range(rows):
        for column in range(12):
            value = hours[row, column]
            if value <= 0:
                continue
            share = np.sqrt(value / hours.max())
            axes.add_patch(_cell(column, row, facecolor=str(1 - 0.45 * share), edgecolor="none"))
            axes.text(
                column,
                row,
                f"{value:.0f}" if value >= 1 else "<1",
                ha="center",
                va="center",
                family=FONT,
                fontsize=FIGURE_TYPE["tick"],
                color=COLOURS["ink"],
            )
    for row in range(rows + 1):
        axes.axhline(row - 0.5, color=COLOURS["rule"], lw=LINE["fine"])
    axes.set(xlim=(-0.5, 11.5), ylim=(rows - 0.5, -0.5))
    axes.set_xticks(range(12), list(MONTHS))
    axes.set_yticks(range(rows), [_name(key) for key in effort.index])
    _plain(axes)
    axes.xaxis.tick_top()
    return figure


def _cell(column, row, **look):
    from matplotlib.patches import Rectangle

    return Rectangle((column - 0.5, row - 0.5), 1, 1, **look)


def effort_alt(effort):
    """What the effort grid says, in words."""
    gaps = int((effort.to_numpy() <= 0).sum())
    most = effort.sum(axis=1).idxmax()
    return (
        f"Boat-hours by tactic and month: most with {_name(most)}, "
        f"{effort.sum(axis=1).max():.0f} hours; {gaps} of {effort.size} cells are empty."
    )


def rates_figure(rows):
    """Fish per boat-hour by tactic with the range that holds eight in ten.

    Parameters
    ----------
    rows : list of dict
        From ``lakekit.guide.log.logbook.phase_rows``.

    Returns
    -------
    matplotlib.figure.Figure
    """
    use_in_matplotlib()
    known = [row for row in rows if row["rate"] is not None and np.isfinite(row["rate"])]
    figure = Figure(figsize=(WIDTH, 1.0 + 0.36 * max(len(known), 1)), layout="constrained")
    axes = figure.subplots()
    for place, row in enumerate(known):
        tried = row["outings"] > 0
        axes.plot(
            [row["low"], row["high"]],
            [place, place],
            color=COLOURS["ink"],
            lw=LINE["curve"],
            ls="-" if tried else (0, (1.5, 1.5)),
        )
        axes.plot(
            row["rate"],
            place,
            marker="o",
            ms=7,
            mec=COLOURS["ink"],
            mfc=COLOURS["ink"] if tried else COLOURS["paper"],
        )
    axes.set_yticks(range(len(known)), [row["name"] for row in known])
    axes.set_ylim(len(known) - 0.5, -0.5)
    axes.set_xlim(left=0)
    axes.set_xlabel(
        "fish per boat-hour (open: no outing here in this phase)",
        family=FONT,
        fontsize=FIGURE_TYPE["tick"],
        color=COLOURS["soft"],
    )
    _plain(axes)
    axes.grid(axis="x", color=COLOURS["rule"], lw=LINE["fine"])
    axes.set_axisbelow(True)
    return figure


def _plain(axes):
    axes.tick_params(
        length=0,
        labelsize=FIGURE_TYPE["tick"],
        labelcolor=COLOURS["ink"],
        labelfontfamily=FONT,
    )
    for side in axes.spines.values():
        side.set_visible(False)


def rates_alt(rows):
    """What the rates say, in words."""
    known = [row for row in rows if row["rate"] is not None and np.isfinite(row["rate"])]
    if not known:
        return "No rates: the log has none to give."
    return "; ".join(f"{row['name']}: {row['sentence']}" for row in known)


def pattern_figure(pattern):
    """The rate against the water: a line, its hatched range, and a tick for each outing.

    Parameters
    ----------
    pattern : dict
        One of ``told`` from ``lakekit.guide.log.patterns.log_patterns``.

    Returns
    -------
    matplotlib.figure.Figure
    """
    curve = pattern["curve"]
    width, height, left, right, top, bottom = 420.0, 230.0, 58.0, 14.0, 12.0, 58.0
    canvas = Canvas(width, height)
    values = np.array(curve["value"])
    low, high = max(min(curve["low"]), 0.1), min(max(curve["high"]), 10.0)
    low, high = min(low, 0.8), max(high, 1.25)

    def x(value):
        share = (np.asarray(value) - values[0]) / (values[-1] - values[0])
        return left + share * (width - left - right)

    def y(ratio):
        share = np.log(np.clip(ratio, low, high) / low) / np.log(high / low)
        return height - bottom - share * (height - bottom - top)

    for tick in (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0):
        if low <= tick <= high:
            canvas.line([left, width - right], [y(tick)] * 2, colour="rule", width=LINE["fine"])
            canvas.text(left - 6, y(tick), f"{tick:g} times", FIGURE_TYPE["tick"], align="right")
    edge = [*zip(x(values), y(curve["low"]), strict=True)]
    edge += [*zip(x(values[::-1]), y(curve["high"][::-1]), strict=True)]
    canvas.hatch(edge, "range", colour="soft")
    canvas.line(x(values), y(curve["ratio"]), width=LINE["curve"], halo=1.5)
    floor = height - bottom
    for value in curve["outings"]:
        if values[0] <= value <= values[-1]:
            canvas.line([x(value)] * 2, [floor + 3, floor + 10], width=LINE["fine"])
    ticks = MaxNLocator(6).tick_values(values[0], values[-1])
    for tick in ticks[(ticks >= values[0]) & (ticks <= values[-1])]:
        canvas.text(x(tick), floor + 20, f"{tick:g}", FIGURE_TYPE["tick"], align="center")
    words = pattern["words"][0].upper() + pattern["words"][1:]
    canvas.text(left, floor + 35, f"{words} [{pattern['unit']}]", FIGURE_TYPE["label"])
    said = "fish an hour beside the middle; hatched: 8 in 10; ticks: outings"
    canvas.text(left, floor + 49, said, FIGURE_TYPE["fine"], colour="soft")
    return canvas.figure


def pattern_alt(pattern):
    """What a pattern's figure says, in words."""
    return f"Rate of fish against {pattern['words']}. {pattern['sentence']}"
