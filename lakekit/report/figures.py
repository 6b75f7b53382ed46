"""The figures: data of a guide or front note -> matplotlib Figure, and what each says in words.

Depth runs downward in all of them, feet on the left and metres on the right.
"""

import math

import numpy as np

from lakekit.report.canvas import Canvas, short_label, spread, text_width, wrap
from lakekit.report.style import FIGURE_TYPE, LINE, MARGIN, PAPERS
from lakekit.units import FOOT, depth_range_text, depth_text, express, temperature_text

MOST_TACTICS = {"page": 6, "phone": 5}

# x of the lanes from the left [pt], as shares of what the two depth axes leave
_LANES = {
    "page": (("light", 0.12), ("temperature", 0.225), ("labels", 0.225), ("tactics", 0.43)),
    "phone": (("temperature", 0.30), ("labels", 0.39), ("tactics", 0.31)),
}
_AXIS = {"page": (27.0, 27.0), "phone": (22.0, 22.0)}


def _span_text(top, bottom, units):
    return depth_range_text(top, bottom, units).replace("-", "–")


def _steps(span, most):
    """Round tick values from 0 up to ``span``, at most ``most`` steps."""
    for step in (0.5, 1, 2, 5, 10, 20, 50):
        if span / step <= most:
            break
    return np.arange(0, span + 1e-9, step)


class _Column:
    """One water column on a canvas: lanes side by side under one surface, depth downward."""

    def __init__(self, canvas, state, units, *, top, bottom, left, right, roomy=True):
        self.canvas, self.state, self.units, self.roomy = canvas, state, units, roomy
        self.top, self.bottom, self.left, self.right = top, bottom, left, right
        self.depth = max(state["profile"]["bottom"] or 0.0, 0.5)

    def y(self, depth):
        return self.top + np.clip(depth / self.depth, 0, 1) * (self.bottom - self.top)

    def water(self, left, right):
        """The water of a lane, with the band and the zones of low oxygen."""
        canvas = self.canvas
        canvas.box(left, self.top, right, self.bottom, fill="water")
        band = self.band()
        if band:
            canvas.box(left, self.y(band[0]), right, self.y(band[1]), fill="band")
        zone, floor = self.oxygen_zone()
        if floor:
            canvas.box(left, self.y(floor), right, self.bottom, fill="poor")
            canvas.hatch_box(left, self.y(floor), right, self.bottom, "poor", colour="soft")
        if zone:
            canvas.hatch_box(left, self.y(zone[0]), right, self.y(zone[1]), "low")
        if band:
            for depth in band:
                canvas.line([left, right], [self.y(depth)] * 2, width=LINE["mark"])

    def band(self):
        band = self.state["band"]
        if not band["good"] or band["top"] is None or band["bottom"] is None:
            return None
        top, bottom = sorted((band["top"], band["bottom"]))
        return (top, min(bottom, self.depth)) if top < self.depth else None

    def oxygen_zone(self):
        """((top, bottom) of the zone or None, top of the water under 2 mg/L or None)."""
        zone = self.state["oxygen_zone"]
        top, floor = zone["top"], zone["bottom"]
        if floor is not None and floor >= self.depth:
            floor = None
        if top is None:
            top = zone["middle"] if zone["middle"] is not None else floor
        if top is None or top >= self.depth:
            return None, floor
        return (top, floor if floor is not None else self.depth), floor

    def thermocline(self):
        for entry in self.state["depths"]:
            if entry["key"] == "thermocline" and entry["median"] is not None:
                return entry
        return None

    def thermocline_line(self, left, right):
        entry = self.thermocline()
        if entry:
            sure = self.state["layered"]["chance"] >= 0.8
            self.canvas.line([left, right], [self.y(entry["median"])] * 2, colour="deep",
                             width=LINE["mark"], dash=(7, 2.5) if sure else (2.5, 2.5), halo=0.7)

    def axes(self, left_edge, right_edge, size):
        """Feet on the left, metres on the right."""
        canvas = self.canvas
        most = max(4, int((self.bottom - self.top) / 26))
        for step, x, side, scale in (
            (_steps(self.depth / FOOT, most), left_edge, -1, FOOT),
            (_steps(self.depth, most), right_edge, 1, 1.0),
        ):
            for value in step:
                y = self.y(value * scale)
                canvas.line([x, x + side * 3.5], [y, y], width=LINE["fine"])
                canvas.text(x + side * 5.5, y, f"{value:g}", size, colour="ink",
                            align="right" if side < 0 else "left")
            canvas.text(x + side * 5.5, self.top - 11, "ft" if side < 0 else "m", size,
                        weight="bold", align="right" if side < 0 else "left")

    def surface_and_bed(self, left, right):
        canvas = self.canvas
        canvas.line([left, right], [self.top] * 2, colour="deep", width=LINE["mark"])
        canvas.hatch_box(left, self.bottom, right, self.bottom + 7, "ground")
        canvas.line([left, right], [self.bottom] * 2, width=LINE["heavy"])

    def light(self, left, right, size):
        """Bars of light from the surface: midday, then dawn and dusk."""
        canvas, light = self.canvas, self.state["light"]
        canvas.text((left + right) / 2, self.top - 11, "Light", size, weight="bold",
                    align="center")
        width = (right - left) / 2
        low_sun = [light[key] for key in ("dawn", "dusk") if light[key] is not None]
        bars = [(light["midday"], ["midday"]), (max(low_sun, default=None), ["dawn,", "dusk"])]
        for index, (depth, words) in enumerate(bars):
            if depth is None:
                continue
            middle = left + (index + 0.5) * width
            end = self.y(depth)
            canvas.box(middle - 5.5, self.top + 1, middle + 5.5, max(end, self.top + 3),
                       fill="paper", edge="ink", width=LINE["fine"])
            room = self.bottom - end > 9 * len(words) + 4
            start = end + 6 if room else end - 9 * len(words)
            for row, word in enumerate(words):
                canvas.text(middle, start + 8.4 * row, word, size - 1, align="center",
                            ground="paper")

    def temperature(self, left, right, size):
        """The profile with the range that holds it in 8 years of 10, and its scale on top."""
        canvas, profile = self.canvas, self.state["profile"]
        depth = np.asarray(profile["depth"], dtype=np.float64)
        rows = {key: np.asarray(profile["temperature"][key], dtype=np.float64)
                for key in ("low", "median", "high")}
        keep = np.isfinite(rows["median"]) & (depth <= self.depth)
        if keep.sum() < 2:
            canvas.text((left + right) / 2, (self.top + self.bottom) / 2, "not computed", size,
                        align="center")
            return
        depth = depth[keep]
        rows = {key: np.where(np.isfinite(row[keep]), row[keep], rows["median"][keep])
                for key, row in rows.items()}
        ends = np.r_[0.0, depth, self.depth]
        rows = {key: np.r_[row[0], row, row[-1]] for key, row in rows.items()}
        unit = "F" if self.units == "us" else "C"
        shown = {key: express(row, unit, "temperature") for key, row in rows.items()}
        step = (10, 20) if unit == "F" else (5, 10)
        low = min(shown["low"].min(), shown["median"].min())
        high = max(shown["high"].max(), shown["median"].max())
        most = (right - left) / 26
        grain = step[0] if high - low < (most - 0.8) * step[0] else step[1]
        first, last = grain * math.floor(low / grain), grain * math.ceil(high / grain)
        if last - first < 2 * grain:
            last = first + 2 * grain
        inner = 9.0

        def x(value):
            return left + inner + (value - first) / (last - first) * (right - left - 2 * inner)

        for value in np.arange(first, last + 1e-9, grain):
            canvas.line([x(value)] * 2, [self.top, self.bottom], colour="rule", width=0.4)
            canvas.line([x(value)] * 2, [self.top - 3.5, self.top], width=LINE["fine"])
            canvas.text(x(value), self.top - 11, f"{value:g}°", size, colour="heat",
                        align="center")
        heading = f"Temperature, °{unit}" if self.roomy else f"Temp., °{unit}"
        canvas.text((left + right) / 2, self.top - (35 if self.roomy else 23), heading, size,
                    weight="bold", colour="heat", align="center")
        if self.roomy:
            years = self.state.get("basis") == "odds" and (self.state.get("years") or 0) >= 10
            words = "hatched: 8 years in 10" if years else "hatched: likely range"
            canvas.text((left + right) / 2, self.top - 23.5, words, size - 0.8, align="center")
        y = self.y(ends)
        outline = np.column_stack([np.r_[x(shown["low"]), x(shown["high"])[::-1]],
                                   np.r_[y, y[::-1]]])
        canvas.hatch(outline, "range", colour="heat")
        canvas.line(x(shown["median"]), y, colour="heat", width=LINE["curve"], halo=1.1)

    def labels(self, left, right, sizes):
        """What each depth means, in words beside it."""
        canvas, units = self.canvas, self.units
        large, small = sizes
        entries = []
        band, text = self.band(), self.state["band"]
        if band:
            entries.append((*band, "Fish can hold", _span_text(*band, units), "ink", "bar"))
        else:
            middle = 0.3 * self.depth if text["top"] is None else text["top"]
            entries.append((middle, middle, "No good band", "for fish this month", "ink", None))
        entry = self.thermocline()
        if entry:
            words = depth_text(entry["median"], units)
            if entry["low"] is not None and entry["high"] is not None:
                words = f"{words} ({_span_text(entry['low'], entry['high'], units)})"
            low = entry["low"] if entry["low"] is not None else entry["median"]
            high = entry["high"] if entry["high"] is not None else entry["median"]
            name = "Thermocline" if self.state["layered"]["chance"] >= 0.8 else "If layered, thermocline"
            entries.append((low, high, name, words, "deep", "range"))
        elif self.state["layered"]["chance"] < 0.5:
            entries.append((0.75 * self.depth, 0.75 * self.depth, "Not layered",
                            "mixed to the bottom", "deep", None))
        zone, floor = self.oxygen_zone()
        if zone:
            entries.append((*zone, "Oxygen runs low", _span_text(*zone, units), "ink", "low"))
        if floor is not None:
            entries.append((floor, self.depth, "Too little oxygen",
                            f"below {depth_text(floor, units)}", "ink", "poor"))
        entries.sort(key=lambda row: (row[0] + row[1]) / 2)
        width = right - left - 18
        blocks = []
        for top, bottom, name, words, colour, mark in entries:
            lines = [(line, small, "normal", colour) for line in wrap(name, width, small, lines=2)]
            lines += [(line, large, "bold", colour)
                      for line in wrap(words, width, large, weight="bold", lines=2)]
            height = sum(1.16 * size for _, size, _, _ in lines) + 5
            blocks.append((self.y(top), self.y(bottom), lines, height, colour, mark))
        centres = spread([(top + bottom) / 2 for top, bottom, *_ in blocks],
                         [height for *_, height, _, _ in blocks], self.top + 1, self.bottom - 1)
        for (top, bottom, lines, height, colour, mark), centre in zip(blocks, centres, strict=True):
            start = left + 17
            if mark:
                x, middle = left + 3.5, (top + bottom) / 2
                if mark == "range":
                    x, middle = left + 8.5, self.y(self.thermocline()["median"])
                    canvas.line([left, x], [middle, middle], colour=colour, width=LINE["fine"])
                    for y in (top, bottom):
                        canvas.line([x - 2.4, x + 2.4], [y, y], colour=colour)
                thick = LINE["heavy"] if mark == "bar" else LINE["mark"]
                canvas.line([x, x], [top + thick / 2, bottom - thick / 2], colour=colour,
                            width=thick)
                canvas.line([x, left + 12.5, start - 1.5], [middle, centre, centre],
                            colour=colour, width=LINE["fine"])
            canvas.lines_of_text(start, centre - height / 2 + 2.5, lines)

    def tactics(self, left, right, form, sizes):
        """Each tactic as a line from the surface to the depth at which it runs."""
        canvas = self.canvas
        name_size, depth_size = sizes
        cards = [(index + 1, card) for index, card in enumerate(self.state["tactics"])
                 if card["top"] is not None and card["bottom"] is not None]
        cards = [(n, c) for n, c in cards if c["top"] < self.depth][: MOST_TACTICS[form]]
        if not cards:
            canvas.text((left + right) / 2, self.top - 11, "No tactic with a set depth", name_size,
                        align="center")
            return
        slot = (right - left) / len(cards)
        for index, (number, card) in enumerate(cards):
            x = left + (index + 0.5) * slot
            top, bottom = sorted((card["top"], card["bottom"]))
            start, end = self.y(top), self.y(bottom)
            if end - start < 8:
                middle = float(np.clip((start + end) / 2, self.top + 4, self.bottom - 4))
                start, end = middle - 4, middle + 4
            canvas.line([x, x], [self.top - 4, start], width=LINE["rule"], halo=0.8)
            canvas.box(x - 4.4, start - 1, x + 4.4, end + 1, fill="paper", round=3.2)
            canvas.box(x - 3.4, start, x + 3.4, end, fill="ink", round=2.4)
            below = self.bottom - end > 12
            if form == "page":
                words = _span_text(top, bottom, self.units)
                if text_width(words, depth_size, "bold") > slot - 1:
                    words = words.rsplit(" ", 1)[0]
                canvas.text(x, end + 8 if below else start - 8, words, depth_size, weight="bold",
                            align="center", ground="paper")
                name = short_label(card.get("short") or card["name"], 40)
                lines = wrap(name, slot - 3, name_size, weight="bold", lines=3)
                y = self.top - 20 - 9.2 * (len(lines) - 1)
                for row, line in enumerate(lines):
                    canvas.text(x, y - 6 + 9.2 * row, line, name_size, weight="bold",
                                align="center")
            canvas.badge(x, self.top - 9, str(number), radius=6.4 if form == "page" else 6.0)


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
    width = PAPERS[guide["paper"]][0] - 2 * MARGIN["side"] if page else 268.0
    head, tall = (56.0, 218.0) if page else (32.0, 272.0)
    canvas = Canvas(width, head + tall + 10)
    left, right = _AXIS[form][0], width - _AXIS[form][1]
    column = _Column(canvas, month, guide["units"], top=head, bottom=head + tall,
                     left=left, right=right, roomy=page)
    lanes = _lanes(form, left, right)
    for name, (start, end) in lanes.items():
        if name != "labels":
            column.water(start, end)
            column.thermocline_line(start, end)
    column.surface_and_bed(left, right)
    column.axes(left, right, FIGURE_TYPE["tick"])
    if page:
        column.light(*lanes["light"], FIGURE_TYPE["tick"])
    column.temperature(*lanes["temperature"], FIGURE_TYPE["tick"])
    column.labels(*lanes["labels"],
                  (FIGURE_TYPE["large"] if page else FIGURE_TYPE["label"], FIGURE_TYPE["label"]))
    column.tactics(*lanes["tactics"], form, (FIGURE_TYPE["fine"], FIGURE_TYPE["tick"]))
    return canvas.figure


def water_column_alt(month, guide):
    """What the water column of a month says, in words."""
    units = guide["units"]
    depth = month["profile"]["bottom"] or 0.0
    said = [f"Water column of {guide['lake']['name']}, {month['title']}, surface to bottom at "
            f"{depth_text(depth, units)}.", *_state_words(month, units)]
    cards = [f"{card['name']} at {_span_text(card['top'], card['bottom'], units)}"
             for card in month["tactics"] if card["top"] is not None and card["bottom"] is not None]
    if cards:
        said.append(f"Tactics drawn: {'; '.join(cards[: MOST_TACTICS['page']])}.")
    return " ".join(said)


def _state_words(state, units):
    column = _Column(None, state, units, top=0, bottom=1, left=0, right=1)
    median = [t for t in state["profile"]["temperature"]["median"] if t is not None]
    median = [t for t in median if math.isfinite(t)]
    if median:
        yield (f"Temperature {temperature_text(median[0], units)} at the surface and "
               f"{temperature_text(median[-1], units)} at the bottom.")
    entry = column.thermocline()
    if entry:
        words = depth_text(entry["median"], units)
        if entry["low"] is not None and entry["high"] is not None:
            words += f", range {_span_text(entry['low'], entry['high'], units)}"
        yield f"Thermocline at {words}."
    else:
        yield "No thermocline."
    zone, floor = column.oxygen_zone()
    if zone:
        yield f"Oxygen runs low, 4 to 2 mg/L, at {_span_text(*zone, units)}."
    if floor is not None:
        yield f"Too little oxygen below {depth_text(floor, units)}."
    band = column.band()
    yield (f"Fish can hold at {_span_text(*band, units)}." if band
           else "No good band for fish.")
    light = state.get("light") or {}
    if light.get("midday") is not None:
        yield f"Light reaches {depth_text(light['midday'], units)} at midday."


def _strip_cell(canvas, column, left, right, units, size):
    """One month of the season strip."""
    month = column.state
    column.water(left, right)
    entry = column.thermocline()
    middle = (left + right) / 2
    if entry and month["layered"]["chance"] >= 0.2:
        column.thermocline_line(left, right)
        if entry["low"] is not None and entry["high"] is not None:
            x, low, high = right - 5.5, column.y(entry["low"]), column.y(entry["high"])
            canvas.line([x, x], [low, high], colour="deep", width=LINE["rule"], halo=0.7)
            for y in (low, high):
                canvas.line([x - 2.5, x + 2.5], [y, y], colour="deep", width=LINE["rule"])
    band = column.band()
    if band:
        top, bottom = (column.y(depth) for depth in band)
        canvas.line([left + 1.6] * 2, [top, bottom], width=LINE["heavy"])
        words = _span_text(*band, units).rsplit(" ", 1)[0]
        places = [top + 0.85 * size, bottom - 0.85 * size, top - 0.85 * size]
        line = column.y(entry["median"]) if entry else -99.0
        if bottom - top < 1.6 * size:
            places = places[2:]
        clear = [y for y in places if abs(y - line) > 0.8 * size and y > column.top + 0.6 * size]
        canvas.text(middle, clear[0] if clear else max(places[0], column.top + 0.6 * size), words,
                    size, weight="bold", align="center",
                    ground="band" if bottom - top >= 1.6 * size else "paper")
    else:
        canvas.text(middle, column.top + 0.3 * (column.bottom - column.top), "none", size,
                    align="center", ground="paper")


def _strip_key(canvas, left, y, unit):
    """What the signs of the strip mean, in one row under it."""
    size = FIGURE_TYPE["label"]
    canvas.box(left, y - 5, left + 18, y + 5, fill="band")
    canvas.line([left + 1.6] * 2, [y - 5, y + 5], width=LINE["heavy"])
    for edge in (y - 5, y + 5):
        canvas.line([left, left + 18], [edge, edge], width=LINE["rule"])
    at = left + 22
    for words, draw in (
        (f"band that can hold fish, {unit}", None),
        ("thermocline, 8 years in 10", "thermocline"),
        ("oxygen low", "low"),
        ("too little oxygen", "poor"),
    ):
        if draw == "thermocline":
            canvas.line([at, at + 18], [y, y], colour="deep", width=LINE["mark"], dash=(7, 2.5))
            canvas.line([at + 15] * 2, [y - 5, y + 5], colour="deep")
            for edge in (y - 5, y + 5):
                canvas.line([at + 12.5, at + 17.5], [edge, edge], colour="deep")
            at += 22
        elif draw:
            canvas.box(at, y - 5, at + 18, y + 5, fill="poor" if draw == "poor" else "water")
            canvas.hatch_box(at, y - 5, at + 18, y + 5, draw,
                             colour="soft" if draw == "poor" else "ink")
            at += 22
        canvas.text(at, y, words, size)
        at += text_width(words, size) + 14


def season_strip_figure(guide, *, height=210.0):
    """The season of a lake: months across, depth down, each month's layers and band.

    Parameters
    ----------
    guide : dict
    height : float
        Of the whole figure [pt], 120 or more.

    Returns
    -------
    matplotlib.figure.Figure
    """
    months, units = guide["months"], guide["units"]
    width = PAPERS[guide["paper"]][0] - 2 * MARGIN["side"]
    canvas = Canvas(width, height)
    left, right = _AXIS["page"][0], width - _AXIS["page"][1]
    top, bottom = 27.0, height - 32.0
    deepest = max([month["profile"]["bottom"] or 0 for month in months], default=0)
    if not months:
        canvas.text(width / 2, height / 2, "No month in this guide", FIGURE_TYPE["label"],
                    align="center")
        return canvas.figure
    slot = (right - left) / max(len(months), 4)
    end = left + slot * len(months)
    first_year = None
    for index, month in enumerate(months):
        state = {**month, "profile": {**month["profile"], "bottom": deepest}}
        start = left + index * slot
        column = _Column(canvas, state, units, top=top, bottom=bottom, left=start,
                         right=start + slot)
        _strip_cell(canvas, column, start + 1.2, start + slot - 1.2, units, FIGURE_TYPE["label"])
        year = month["month"][:4]
        canvas.text(start + slot / 2, top - 8, month["label"], FIGURE_TYPE["large"], weight="bold",
                    align="center")
        if year != first_year:
            canvas.text(start + slot / 2, top - 20, year, FIGURE_TYPE["fine"], align="center")
            first_year = year
    column.surface_and_bed(left, end)
    column.axes(left, end, FIGURE_TYPE["tick"])
    _strip_key(canvas, left, height - 10, "ft" if units == "us" else "m")
    return canvas.figure


def season_strip_alt(guide):
    """What the season strip says, month by month."""
    said = [f"{guide['lake']['name']}, months across and depth down."]
    for month in guide["months"]:
        column = _Column(None, month, guide["units"], top=0, bottom=1, left=0, right=1)
        band, entry = column.band(), column.thermocline()
        words = _span_text(*band, guide["units"]) if band else "none"
        layer = f"thermocline {depth_text(entry['median'], guide['units'])}" if entry else "mixed"
        said.append(f"{month['title']}: band {words}, {layer}.")
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
    width = PAPERS[guide["paper"]][0] - 2 * MARGIN["side"] if page else 268.0
    head, tall = (50.0, 215.0) if page else (50.0, 240.0)
    canvas = Canvas(width, head + tall + 10)
    left, right = _AXIS[form][0], width - _AXIS[form][1]
    half = (right - left) / 2
    deepest = max(before["profile"]["bottom"] or 0, after["profile"]["bottom"] or 0)
    for index, state in enumerate((before, after)):
        state = {**state, "profile": {**state["profile"], "bottom": deepest}}
        start = left + index * half
        lane = 0.46 if page else 0.42
        middle = start + lane * half
        column = _Column(canvas, state, guide["units"], top=head, bottom=head + tall, left=start,
                         right=start + half, roomy=False)
        column.water(start, middle)
        column.thermocline_line(start, middle)
        column.temperature(start, middle, FIGURE_TYPE["tick"])
        large = FIGURE_TYPE["large"] if page else FIGURE_TYPE["tick"]
        column.labels(middle, start + half, (large, FIGURE_TYPE["label"] if page else 8.4))
        canvas.text(start, 8, short_label(state["label"], 34 if page else 18),
                    FIGURE_TYPE["large"], weight="bold")
    column.surface_and_bed(left, right)
    column.axes(left, right, FIGURE_TYPE["tick"])
    return canvas.figure


def front_alt(before, after, guide):
    """What the two columns of a front say, in words."""
    said = [f"Water column of {guide['lake']['name']} before and after."]
    for state in (before, after):
        said += [f"{state['label']}:", *_state_words(state, guide["units"])]
    return " ".join(said)


def water_facts(state, units):
    """The water of a state in a few words each: water, thermocline, oxygen, band."""
    column = _Column(None, state, units, top=0, bottom=1, left=0, right=1)
    entry, band = column.thermocline(), column.band()
    zone, floor = column.oxygen_zone()
    chance = state["layered"]["chance"]
    if entry and chance >= 0.2:
        thermocline = depth_text(entry["median"], units)
        water = f"thermocline {thermocline}" if chance >= 0.8 else f"at times layered, {thermocline}"
    else:
        water = thermocline = "mixed"
    oxygen = "no limit"
    if zone:
        oxygen = f"low from {depth_text(zone[0], units)}"
    elif floor is not None:
        oxygen = f"gone below {depth_text(floor, units)}"
    return {"water": water, "thermocline": thermocline, "oxygen": oxygen,
            "band": _span_text(*band, units) if band else "no good band"}
