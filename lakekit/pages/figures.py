"""The figures: data of a guide or front note -> matplotlib Figure, and what each says in words.

Depth runs downward in all of them, feet on the left and metres on the right.
"""

from lakekit.guide.water_words import bottom_of, state_words
from lakekit.pages.canvas import Canvas, short_label
from lakekit.pages.strips import (
    lakes_strip_alt,
    lakes_strip_figure,
    season_strip_alt,
    season_strip_figure,
)
from lakekit.pages.style import FIGURE_TYPE, MARGIN, PAPERS, PHONE_WIDTH
from lakekit.pages.water_column import MOST_TACTICS, WaterColumn, drawn_tactics, temperature_limits
from lakekit.units import depth_range_text, depth_text

__all__ = [
    "front_alt",
    "front_figure",
    "lakes_strip_alt",
    "lakes_strip_figure",
    "season_strip_alt",
    "season_strip_figure",
    "water_column_alt",
    "water_column_figure",
]

# x of the lanes from the left [pt], as shares of what the two depth axes leave
_LANES = {
    "page": (
        ("light", 0.1),
        ("temperature", 0.2),
        ("suits", 0.09),
        ("labels", 0.21),
        ("tactics", 0.4),
    ),
    "phone": (("temperature", 0.30), ("labels", 0.39), ("tactics", 0.31)),
}
_AXIS = {"page": (27.0, 27.0), "phone": (22.0, 22.0)}


def _lanes(form, left, right):
    lanes, at = {}, left
    for name, share in _LANES[form]:
        lanes[name] = (at, at + share * (right - left))
        at = lanes[name][1]
    return lanes


def water_column_figure(month, guide, *, form="page"):
    """The water column of a month: temperature, oxygen, light, the band, the tactics in it.

    Parameters
    ----------
    month : dict
        One of ``guide["months"]``.
    guide : dict
        The guide; its ``units`` and ``paper`` are used.
    form : str
        ``page`` is as wide as the printed text; ``phone`` is narrow with large type, and shows
        the tactics by number.

    Returns
    -------
    matplotlib.figure.Figure
    """
    page = form == "page"
    width = PAPERS[guide["paper"]][0] - 2 * MARGIN["side"] if page else PHONE_WIDTH
    head, tall = (56.0, 218.0) if page else (32.0, 272.0)
    canvas = Canvas(width, head + tall + 10)
    left, right = _AXIS[form][0], width - _AXIS[form][1]
    column = WaterColumn(
        canvas,
        month,
        guide["units"],
        top=head,
        bottom=head + tall,
        left=left,
        right=right,
        roomy=page,
    )
    lanes = _lanes(form, left, right)
    beside, beyond = lanes["labels"]
    for start, end in ((left, beside), (beyond, right)):
        column.water(start, end)
        column.thermocline_line(start, end)
    column.surface_and_bed(left, right)
    column.axes(left, right, FIGURE_TYPE["tick"])
    if page:
        column.light(*lanes["light"], FIGURE_TYPE["tick"])
        column.suits(*lanes["suits"], FIGURE_TYPE["tick"])
    column.temperature(*lanes["temperature"], FIGURE_TYPE["tick"])
    column.labels(
        *lanes["labels"],
        (FIGURE_TYPE["large"] if page else FIGURE_TYPE["label"], FIGURE_TYPE["label"]),
    )
    column.tactics(*lanes["tactics"], form, (FIGURE_TYPE["fine"], FIGURE_TYPE["tick"]))
    return canvas.figure


def water_column_alt(month, guide):
    """What the water column of a month says, in words."""
    units = guide["units"]
    depth = bottom_of(month)
    said = [
        f"Water column of {guide['lake']['name']}, {month['title']}, surface to bottom at "
        f"{depth_text(depth, units)}.",
        *state_words(month, units),
    ]
    cards = [
        f"{card['mark']} {card['name']} at {depth_range_text(card['top'], card['bottom'], units)}"
        for card in drawn_tactics(month)
    ]
    if cards:
        said.append(f"Tactics drawn: {'; '.join(cards[: MOST_TACTICS['page']])}.")
    return " ".join(said)


def front_figure(before, after, guide, *, form="page"):
    """The water column before and after a front, side by side on one depth scale.

    Parameters
    ----------
    before, after : dict
        States with the keys of a month that a column needs: ``label``, ``layered``, ``depths``,
        ``oxygen_zone``, ``band``, ``profile``.
    guide : dict
        ``units`` and ``paper`` are used.
    form : str
        ``page`` or ``phone``.

    Returns
    -------
    matplotlib.figure.Figure
    """
    page = form == "page"
    width = PAPERS[guide["paper"]][0] - 2 * MARGIN["side"] if page else PHONE_WIDTH
    head, tall = (50.0, 132.0) if page else (52.0, 200.0)
    each = head + tall + 10
    canvas = Canvas(width, each if page else 2 * each + 12)
    left, right = _AXIS[form][0], width - _AXIS[form][1]
    across = (right - left) / 2 if page else right - left
    deepest = max(before["profile"]["bottom"] or 0, after["profile"]["bottom"] or 0)
    limits = temperature_limits((before, after))
    for index, state in enumerate((before, after)):
        start = left + index * across if page else left
        over = 0.0 if page else index * (each + 12)
        middle = start + 0.46 * across
        column = WaterColumn(
            canvas,
            state,
            guide["units"],
            top=over + head,
            bottom=over + head + tall,
            left=start,
            right=start + across,
            roomy=False,
            scale=deepest,
        )
        column.water(start, middle)
        column.thermocline_line(start, middle)
        column.temperature(start, middle, FIGURE_TYPE["tick"], limits=limits)
        column.labels(middle, start + across, (FIGURE_TYPE["large"], FIGURE_TYPE["label"]))
        canvas.text(
            start, over + 8, short_label(state["label"], 34), FIGURE_TYPE["large"], weight="bold"
        )
        if not page:
            column.surface_and_bed(left, right)
            column.axes(left, right, FIGURE_TYPE["tick"])
    if page:
        column.surface_and_bed(left, right)
        column.axes(left, right, FIGURE_TYPE["tick"])
    return canvas.figure


def front_alt(before, after, guide):
    """What the two columns of a front say, in words."""
    said = [f"Water column of {guide['lake']['name']} before and after."]
    for state in (before, after):
        said += [f"{state['label']}:", *state_words(state, guide["units"])]
    return " ".join(said)
