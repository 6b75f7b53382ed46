"""Strips: months or lakes across, depth down, each with its layers and its band."""

from lakekit.guide.water_words import AT_TIMES, SURE, band_of, thermocline_of
from lakekit.pages.canvas import Canvas, text_width, wrap
from lakekit.pages.style import FIGURE_TYPE, LINE, MARGIN, PAPERS, PHONE_WIDTH
from lakekit.pages.water_column import WaterColumn
from lakekit.units import depth_range_text, depth_text

_AXIS = {"page": 27.0, "phone": 22.0}  # pt, each side


def _strip_cell(canvas, column, left, right, units, size):
    """One month of the season strip."""
    month = column.state
    column.water(left, right)
    entry = column.thermocline
    middle = (left + right) / 2
    if entry and month["layered"]["chance"] >= AT_TIMES:
        column.thermocline_line(left, right)
        if entry["low"] is not None and entry["high"] is not None:
            x, low, high = right - 5.5, column.y(entry["low"]), column.y(entry["high"])
            canvas.line([x, x], [low, high], colour="deep", halo=0.7)
            canvas.strokes([(x + r, y) for y in (low, high) for r in (-2.5, 2.5)], colour="deep")
    band = column.band
    if band:
        top, bottom = (column.y(depth) for depth in band)
        canvas.line([left + 1.6] * 2, [top, bottom], width=LINE["heavy"])
        words, size = _fitting(_band_words(band, units, size), right - left - 3.0)
        step = 0.85 * size
        places = [top + step, bottom - step, top - step, bottom + step]
        line = column.y(entry["median"]) if entry else -99.0
        if bottom - top < 1.6 * size:
            places = places[2:]
        clear = [y for y in places if abs(y - line) > 0.8 * size and y > column.top + 0.6 * size]
        canvas.text(
            middle,
            clear[0] if clear else max(places[0], column.top + 0.6 * size),
            words,
            size,
            weight="bold",
            align="center",
            ground="band" if bottom - top >= 1.6 * size else "paper",
        )
    else:
        words, size = _fitting([("none", size), ("none", FIGURE_TYPE["fine"])], right - left - 2.0)
        y = column.top + 0.3 * (column.bottom - column.top)
        canvas.text(middle, y, words, size, align="center", ground="paper")


def _told_parts(state):
    """A state, or a month's two halves where they are told apart, each with its own band."""
    if not state.get("halves_differ"):
        return [state]
    return [{**state, "band": half} for half in state["halves"]]


def _band_words(band, units, size):
    """Ways to write a band in a cell, the fullest first."""
    full = depth_range_text(*band, units).rsplit(" ", 1)[0]
    whole = "–".join(f"{float(part):.0f}" for part in full.split("–"))
    return [(full, size), (full, FIGURE_TYPE["fine"]), (whole, FIGURE_TYPE["fine"])]


def _fitting(ways, width):
    """The first (words, size) no wider than ``width`` [pt]; no words where none is."""
    for words, size in ways:
        if text_width(words, size, "bold") <= width:
            return words, size
    return "", ways[-1][1]


def _at_times(state):
    """Whether a state's thermocline is drawn as one that is there only at times."""
    return thermocline_of(state) is not None and AT_TIMES <= state["layered"]["chance"] < SURE


def _strip_key(canvas, left, right, y, unit, *, at_times):
    """What the signs of the strip mean, in rows under it."""
    size, swatch = FIGURE_TYPE["label"], 18.0
    entries = (
        (f"band that can hold fish, {unit}", "band"),
        ("thermocline, 8 years in 10", "deep"),
        ("oxygen low", "low"),
        ("too little oxygen", "poor"),
        *([("thermocline there only at times", "times")] if at_times else []),
    )
    at = left
    for words, sign in entries:
        wide = swatch + 4 + text_width(words, size)
        if at > left and at + wide > right:
            at, y = left, y + 15
        _swatch(canvas, at, y, swatch, sign)
        canvas.text(at + swatch + 4, y, words, size)
        at += wide + 14


def _swatch(canvas, left, y, width, sign):
    right, top, bottom = left + width, y - 5, y + 5
    if sign == "times":
        canvas.line([left, right], [y, y], colour="deep", width=LINE["mark"], dash=(2.5, 2.5))
        return
    if sign == "deep":
        canvas.line([left, right], [y, y], colour="deep", width=LINE["mark"], dash=(7, 2.5))
        canvas.line([right - 3] * 2, [top, bottom], colour="deep")
        for edge in (top, bottom):
            canvas.line([right - 5.5, right - 0.5], [edge, edge], colour="deep")
        return
    canvas.box(
        left, top, right, bottom, fill={"band": "band", "low": "water", "poor": "poor"}[sign]
    )
    if sign == "band":
        canvas.line([left + 1.6] * 2, [top, bottom], width=LINE["heavy"])
        for edge in (top, bottom):
            canvas.line([left, right], [edge, edge])
        return
    canvas.hatch_box(left, top, right, bottom, sign, colour="soft" if sign == "poor" else "ink")


def _strip(cells, units, paper, height, head, form, key):
    """Cells (state, heading lines, small line above or None) side by side on one depth scale."""
    page = form == "page"
    width = PAPERS[paper][0] - 2 * MARGIN["side"] if page else PHONE_WIDTH
    canvas = Canvas(width, height)
    left, right = _AXIS[form], width - _AXIS[form]
    at_times = any(_at_times(state) for state, *_ in cells)
    foot = (32.0 if page else 62.0) + (15.0 if at_times else 0.0)
    top, bottom = head, height - (foot if key else 10.0)
    if not cells:
        canvas.text(width / 2, height / 2, "Nothing to show", FIGURE_TYPE["label"], align="center")
        return canvas.figure
    deepest = max(state["profile"]["bottom"] or 0 for state, *_ in cells)
    slot = (right - left) / max(len(cells), 2)
    end = left + slot * len(cells)
    for index, (state, lines, above) in enumerate(cells):
        start = left + index * slot
        parts = _told_parts(state)
        wide = slot / len(parts)
        for number, part in enumerate(parts):
            edge = start + number * wide
            column = WaterColumn(
                canvas,
                part,
                units,
                top=top,
                bottom=bottom,
                left=edge,
                right=edge + wide,
                scale=deepest,
            )
            ends = edge + 1.2 * (number == 0), edge + wide - 1.2 * (number == len(parts) - 1)
            _strip_cell(canvas, column, *ends, units, FIGURE_TYPE["label"])
        for row, (line, size) in enumerate(reversed(lines)):
            if text_width(line, size, "bold") > slot - 2:
                line, size = _fitting(
                    [(line, FIGURE_TYPE["fine"]), (line[:1], FIGURE_TYPE["fine"])], slot - 1
                )
            canvas.text(
                start + slot / 2, top - 8 - 10 * row, line, size, weight="bold", align="center"
            )
        if above:
            canvas.text(start + slot / 2, top - 20, above, FIGURE_TYPE["fine"], align="center")
        column.surface_and_bed(start, start + slot)
    column.axes(left, end, FIGURE_TYPE["tick"])
    if key:
        _strip_key(
            canvas, left if page else 4.0, right, bottom + 22, "ft" if units == "us" else "m",
            at_times=at_times,
        )  # fmt: skip
    return canvas.figure


def season_strip_figure(guide, *, height=210.0, form="page", key=True):
    """The season of a lake: months across, depth down, each month's layers and band.

    Parameters
    ----------
    guide : dict
    height : float
        Of the whole figure [pt], 120 or more.
    form : str
        ``page`` or ``phone``; at most six months are readable on a phone.
    key : bool
        Whether to explain the signs under it.

    Returns
    -------
    matplotlib.figure.Figure
    """
    cells, year = [], None
    for month in guide["months"]:
        this = month["month"][:4]
        cells.append(
            (month, [(month["label"], FIGURE_TYPE["large"])], this if this != year else None)
        )
        year = this
    return _strip(cells, guide["units"], guide["paper"], height, 27.0, form, key)


def _cell_words(month, units):
    bands, entry = [band_of(part) for part in _told_parts(month)], thermocline_of(month)
    words = ", then ".join(depth_range_text(*band, units) if band else "none" for band in bands)
    layer = f"thermocline {depth_text(entry['median'], units)}" if entry else "mixed"
    return f"band {words}, {layer}"


def season_strip_alt(guide):
    """What the season strip says, month by month."""
    said = [f"{guide['lake']['name']}, months across and depth down."]
    for month in guide["months"]:
        said.append(f"{month['title']}: {_cell_words(month, guide['units'])}.")
    return " ".join(said)


def lakes_strip_figure(pairs, *, height=200.0, form="page", key=True):
    """Several lakes in one month, side by side on one depth scale.

    Parameters
    ----------
    pairs : list of (guide, month)
        One or more; units and paper are the first guide's.
    height : float
        Of the whole figure [pt], 140 or more.
    form : str
        ``page`` or ``phone``; at most four lakes are readable on a phone.
    key : bool
        Whether to explain the signs under it.

    Returns
    -------
    matplotlib.figure.Figure
    """
    paper, units = pairs[0][0]["paper"], pairs[0][0]["units"]
    width = PAPERS[paper][0] - 2 * MARGIN["side"] if form == "page" else PHONE_WIDTH
    slot = (width - 2 * _AXIS[form]) / max(len(pairs), 2)
    size = FIGURE_TYPE["label"] if len(pairs) <= 7 and form == "page" else FIGURE_TYPE["fine"]
    cells = [
        (
            month,
            [
                (line, size)
                for line in wrap(guide["lake"]["name"], slot - 4, size, weight="bold", lines=3)
            ],
            None,
        )
        for guide, month in pairs
    ]
    return _strip(cells, units, paper, height, 38.0, form, key)


def lakes_strip_alt(pairs):
    """What the strip of lakes says, lake by lake."""
    said = ["Lakes side by side, depth down."]
    for guide, month in pairs:
        said.append(f"{guide['lake']['name']}: {_cell_words(month, guide['units'])}.")
    return " ".join(said)
