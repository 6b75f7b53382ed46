"""One water column drawn in lanes under one surface: the part that all figures share."""

import math
from itertools import groupby

import numpy as np

from lakekit.guide.summaries import short_name
from lakekit.guide.water_words import SURE, band_of, bottom_of, oxygen_of, thermocline_of
from lakekit.pages.canvas import short_label, spaced, text_width, wrap
from lakekit.pages.style import LINE
from lakekit.units import FOOT, depth_range_text, depth_text, express

MOST_TACTICS = {"page": 6, "phone": 5}


def _steps(span, most):
    """Round tick values from 0 up to ``span``, at most ``most`` steps."""
    for step in (0.5, 1, 2, 5, 10, 20, 50):
        if span / step <= most:
            break
    return np.arange(0, span + 1e-9, step)


def temperature_rows(state):
    """Depth [m] and low, median and high temperature [degC] where computed; None if nowhere."""
    profile = state["profile"]
    depth = np.asarray(profile["depth"], dtype=np.float64)
    rows = {
        key: np.asarray(profile["temperature"][key], dtype=np.float64)
        for key in ("low", "median", "high")
    }
    keep = np.isfinite(rows["median"]) & (depth <= bottom_of(state))
    if keep.sum() < 2:
        return None
    rows = {key: np.where(np.isfinite(row), row, rows["median"])[keep] for key, row in rows.items()}
    return {"depth": depth[keep], **rows}


def temperature_limits(states):
    """Lowest and highest temperature [degC] of several states, or None where none has any."""
    rows = [row for row in map(temperature_rows, states) if row is not None]
    if not rows:
        return None
    return (min(row["low"].min() for row in rows), max(row["high"].max() for row in rows))


def drawn_tactics(state):
    """The tactics of a state that run at a set depth in its water, with their marks."""
    cards = [
        {"mark": str(index + 1), **card}
        for index, card in enumerate(state["tactics"])
        if card["top"] is not None and card["bottom"] is not None
    ]
    return [card for card in cards if min(card["top"], card["bottom"]) < bottom_of(state)]


class WaterColumn:
    """One water column on a canvas: lanes side by side under one surface, depth downward."""

    def __init__(self, canvas, state, units, *, top, bottom, left, right, roomy=True, scale=None):
        self.canvas, self.state, self.units, self.roomy = canvas, state, units, roomy
        self.top, self.bottom, self.left, self.right = top, bottom, left, right
        self.depth = bottom_of(state)
        self.scale = max(scale or 0.0, self.depth)  # m at the lower edge, with several in a row
        self.band, self.thermocline = band_of(state), thermocline_of(state)
        self.oxygen, self.floor = oxygen_of(state)

    def y(self, depth):
        return self.top + np.clip(depth / self.scale, 0, 1) * (self.bottom - self.top)

    @property
    def bed(self):
        """y of the lake's own bottom."""
        return self.y(self.depth)

    def water(self, left, right):
        """The water of a lane, with the band and the zones of low oxygen."""
        canvas = self.canvas
        canvas.box(left, self.top, right, self.bed, fill="water")
        band = self.band
        if band:
            canvas.box(left, self.y(band[0]), right, self.y(band[1]), fill="band")
        zone, floor = self.oxygen, self.floor
        if floor:
            canvas.box(left, self.y(floor), right, self.bed, fill="poor")
            canvas.hatch_box(left, self.y(floor), right, self.bed, "poor", colour="soft")
        if zone:
            canvas.hatch_box(left, self.y(zone[0]), right, self.y(zone[1]), "low")
        if band:
            for depth in band:
                canvas.line([left, right], [self.y(depth)] * 2, width=LINE["mark"])

    def thermocline_line(self, left, right):
        entry = self.thermocline
        if entry:
            sure = self.state["layered"]["chance"] >= SURE
            self.canvas.line(
                [left, right],
                [self.y(entry["median"])] * 2,
                colour="deep",
                width=LINE["mark"],
                dash=(7, 2.5) if sure else (2.5, 2.5),
                halo=0.7,
            )

    def axes(self, left_edge, right_edge, size):
        """Feet on the left, metres on the right."""
        canvas = self.canvas
        most = max(4, int((self.bottom - self.top) / 26))
        for step, x, side, scale in (
            (_steps(self.scale / FOOT, most), left_edge, -1, FOOT),
            (_steps(self.scale, most), right_edge, 1, 1.0),
        ):
            marks = [(float(value), float(self.y(value * scale))) for value in step]
            ends = [(x + reach, y) for _, y in marks for reach in (0.0, side * 3.5)]
            canvas.strokes(ends, width=LINE["fine"])
            for value, y in marks:
                canvas.text(
                    x + side * 5.5,
                    y,
                    f"{value:g}",
                    size,
                    colour="ink",
                    align="right" if side < 0 else "left",
                )
            canvas.text(
                x + side * 5.5,
                self.top - 11,
                "ft" if side < 0 else "m",
                size,
                weight="bold",
                align="right" if side < 0 else "left",
            )

    def surface_and_bed(self, left, right):
        canvas = self.canvas
        canvas.line([left, right], [self.top] * 2, colour="deep", width=LINE["mark"])
        canvas.hatch_box(left, self.bed, right, self.bed + 7, "ground")
        canvas.line([left, right], [self.bed] * 2, width=LINE["heavy"])

    def light(self, left, right, size):
        """Bars of light from the surface: midday, then dawn and dusk."""
        canvas, light = self.canvas, self.state["light"]
        canvas.text((left + right) / 2, self.top - 11, "Light", size, weight="bold", align="center")
        width = (right - left) / 2
        low_sun = [light[key] for key in ("dawn", "dusk") if light[key] is not None]
        bars = [(light["midday"], ["midday"]), (max(low_sun, default=None), ["dawn,", "dusk"])]
        for index, (depth, words) in enumerate(bars):
            if depth is None:
                continue
            middle = left + (index + 0.5) * width
            end = self.y(depth)
            canvas.box(
                middle - 5.5,
                self.top + 1,
                middle + 5.5,
                max(end, self.top + 3),
                fill="paper",
                edge="ink",
                width=LINE["fine"],
            )
            room = self.bottom - end > 9 * len(words) + 4
            start = end + 6 if room else end - 9 * len(words)
            for row, word in enumerate(words):
                half = text_width(word, size - 1) / 2 + 2.0  # no word over the edge or a tick
                x = min(max(middle, left + half), right - half)
                canvas.text(x, start + 8.4 * row, word, size - 1, align="center", ground="paper")

    def temperature(self, left, right, size, *, limits=None):
        """The profile with the range that holds it in 8 years of 10, and its scale on top.

        ``limits`` (low, high) [degC] widens the scale, so that two columns can share one.
        """
        canvas, rows = self.canvas, temperature_rows(self.state)
        if rows is None:
            canvas.text(
                (left + right) / 2,
                (self.top + self.bottom) / 2,
                "not computed",
                size,
                align="center",
            )
            return
        depth = np.r_[0.0, rows["depth"], self.depth]
        unit = "F" if self.units == "us" else "C"
        shown = {
            key: express(np.r_[rows[key][0], rows[key], rows[key][-1]], unit, "temperature")
            for key in ("low", "median", "high")
        }
        ends = express(np.array(limits or temperature_limits([self.state])), unit, "temperature")
        low, high = ends
        most = (right - left) / 26 - 0.8
        grains = (5, 10, 20, 40)
        grain = next((step for step in grains[unit == "F" :] if high - low < most * step), 40)
        first, last = grain * math.floor(low / grain), grain * math.ceil(high / grain)
        if last - first < 2 * grain:
            last = first + 2 * grain
        inner = 9.0

        def x(value):
            return left + inner + (value - first) / (last - first) * (right - left - 2 * inner)

        values = np.arange(first, last + 1e-9, grain)
        grid = [(x(value), y) for value in values for y in (self.top, self.bottom)]
        canvas.strokes(grid, colour="rule", width=0.4)
        marks = [(x(value), y) for value in values for y in (self.top - 3.5, self.top)]
        canvas.strokes(marks, width=LINE["fine"])
        for value in values:
            canvas.text(x(value), self.top - 11, f"{value:g}°", size, colour="heat", align="center")
        heading = f"Temperature, °{unit}" if self.roomy else f"Temp., °{unit}"
        canvas.text(
            (left + right) / 2,
            self.top - (35 if self.roomy else 23),
            heading,
            size,
            weight="bold",
            colour="heat",
            align="center",
        )
        if self.roomy:
            years = self.state.get("basis") == "odds" and (self.state.get("years") or 0) >= 10
            words = "hatched: 8 years in 10" if years else "hatched: likely range"
            canvas.text((left + right) / 2, self.top - 23.5, words, size - 0.8, align="center")
        y = self.y(depth)
        outline = np.column_stack(
            [np.r_[x(shown["low"]), x(shown["high"])[::-1]], np.r_[y, y[::-1]]]
        )
        canvas.hatch(outline, "range", colour="heat")
        canvas.line(x(shown["median"]), y, colour="heat", width=LINE["curve"], halo=1.1)

    def suits(self, left, right, size):
        """How well each depth suits the fish, as a curve, with the depth to start at."""
        canvas, curve = self.canvas, self.state["curve"]
        middle, inner = (left + right) / 2, 3.0
        canvas.text(middle, self.top - 11, "Suits fish", size, weight="bold", align="center")
        depth, share = np.asarray(curve["depth"]), np.asarray(curve["suits"])
        inside = depth <= self.depth
        if not inside.any() or not share.max() > 0:
            return
        x = left + inner + share[inside] * (right - left - 2 * inner)
        y = self.y(depth[inside])
        canvas.hatch(
            np.column_stack(
                [np.r_[np.full(2, left + inner), x[::-1]], np.r_[y[0], y[-1], y[::-1]]]
            ),
            "range",
            colour="deep",
        )
        canvas.line(x, y, colour="deep", width=LINE["curve"], halo=1.1)
        start = self.state["band"].get("start")
        if start is not None:
            canvas.line([left, right], [self.y(start)] * 2, width=LINE["heavy"])

    def _entries(self):
        """What is labelled: top and bottom [m], name, words, colour and mark of each."""
        units = self.units
        entries = []
        band, told = self.band, self.state["band"]
        if band:
            start, span = told.get("start"), depth_range_text(*band, units)
            if start is None:
                entries.append((*band, "Fish can hold", span, "ink", "bar"))
            else:
                words = depth_text(start, units)
                entries.append((*band, f"Start, of {span}", words, "ink", "bar"))
        else:
            middle = 0.3 * self.depth if told["top"] is None else told["top"]
            entries.append((middle, middle, "No good band", "for fish this month", "ink", None))
        entry = self.thermocline
        if entry:
            words = depth_text(entry["median"], units)
            if entry["low"] is not None and entry["high"] is not None:
                words = f"{words} ({depth_range_text(entry['low'], entry['high'], units)})"
            low = entry["low"] if entry["low"] is not None else entry["median"]
            high = entry["high"] if entry["high"] is not None else entry["median"]
            name = (
                "Thermocline"
                if self.state["layered"]["chance"] >= SURE
                else "If layered, thermocline"
            )
            entries.append((low, high, name, words, "deep", "range"))
        elif self.state["layered"]["chance"] < 0.5:
            iced = (self.state.get("ice") or {}).get("chance", 0.0) >= 0.5
            at = 0.75 * self.depth
            words = (
                ("Ice likely", "coldest on top") if iced else ("Not layered", "mixed to the bottom")
            )
            entries.append((at, at, *words, "deep", None))
        zone, floor = self.oxygen, self.floor
        if zone:
            entries.append((*zone, "Oxygen runs low", depth_range_text(*zone, units), "ink", "low"))
        if floor is not None:
            entries.append(
                (
                    floor,
                    self.depth,
                    "Too little oxygen",
                    f"below {depth_text(floor, units)}",
                    "ink",
                    "poor",
                )
            )
        return entries

    def labels(self, left, right, sizes):
        """What each depth means, in words beside it."""
        canvas = self.canvas
        large, small = sizes
        entries = self._entries()
        entries.sort(key=lambda row: (row[0] + row[1]) / 2)
        width = right - left - 18
        blocks = []
        for top, bottom, name, words, colour, mark in entries:
            lines = [(line, small, "normal", colour) for line in wrap(name, width, small, lines=2)]
            lines += [
                (line, large, "bold", colour)
                for line in wrap(words, width, large, weight="bold", lines=2)
            ]
            height = sum(1.16 * size for _, size, _, _ in lines) + 5
            blocks.append((self.y(top), self.y(bottom), lines, height, colour, mark))
        centres = spaced(
            [(top + bottom) / 2 for top, bottom, *_ in blocks],
            [height for *_, height, _, _ in blocks],
            self.top + 1,
            self.bottom - 1,
        )
        for (top, bottom, lines, height, colour, mark), centre in zip(blocks, centres, strict=True):
            start = left + 17
            if mark:
                x, middle = left + 3.5, self._leaves(top, bottom, centre)
                if mark == "range":
                    x, middle = left + 8.5, self.y(self.thermocline["median"])
                    canvas.line([left, x], [middle, middle], colour=colour, width=LINE["fine"])
                    for y in (top, bottom):
                        canvas.line([x - 2.4, x + 2.4], [y, y], colour=colour)
                thick = LINE["heavy"] if mark == "bar" else LINE["mark"]
                canvas.line(
                    [x, x], [top + thick / 2, bottom - thick / 2], colour=colour, width=thick
                )
                canvas.line(
                    [x, left + 12.5, start - 1.5],
                    [middle, centre, centre],
                    colour=colour,
                    width=LINE["fine"],
                )
            canvas.lines_of_text(start, centre - height / 2 + 2.5, lines)

    def _leaves(self, top, bottom, centre):
        """y at which a bar's line to its words leaves it: clear of the thermocline's own bar."""
        y = float(np.clip(centre, top, bottom))
        entry = self.thermocline
        if entry and entry["low"] is not None and entry["high"] is not None:
            low, high = self.y(entry["low"]), self.y(entry["high"])
            free = [edge for edge in (top, bottom) if not low - 1 <= edge <= high + 1]
            if free and low - 1 <= y <= high + 1:
                y = min(free, key=lambda edge: abs(edge - y))
        return y

    def tactics(self, left, right, form, sizes):
        """Each tactic as a line from the surface to the depth at which it runs."""
        canvas = self.canvas
        name_size, depth_size = sizes
        cards = drawn_tactics(self.state)[: MOST_TACTICS[form]]
        if not cards:
            lines = wrap("No tactic with a set depth", right - left - 6, name_size, lines=3)
            for row, line in enumerate(reversed(lines)):
                canvas.text(
                    (left + right) / 2, self.top - 8 - 9.2 * row, line, name_size, align="center"
                )
            return
        slot = (right - left) / len(cards)
        drawn = []
        for index, card in enumerate(cards):
            x = left + (index + 0.5) * slot
            top, bottom = sorted((card["top"], card["bottom"]))
            start, end = self.y(top), self.y(bottom)
            if end - start < 8:
                middle = float(np.clip((start + end) / 2, self.top + 4, self.bottom - 4))
                start, end = middle - 4, middle + 4
            canvas.line([x, x], [self.top - 4, start], width=LINE["rule"], halo=0.8)
            canvas.box(x - 4.4, start - 1, x + 4.4, end + 1, fill="paper", round=3.2)
            canvas.box(x - 3.4, start, x + 3.4, end, fill="ink", round=2.4)
            if form == "page":
                drawn.append((x, start, end, depth_range_text(top, bottom, self.units)))
                name = short_label(short_name(card), 40)
                lines = wrap(name, slot - 2, name_size, weight="bold", lines=3)
                y = self.top - 20 - 9.2 * (len(lines) - 1)
                for row, line in enumerate(lines):
                    canvas.text(
                        x, y - 6 + 9.2 * row, line, name_size, weight="bold", align="center"
                    )
            canvas.badge(x, self.top - 9, card["mark"], radius=6.4 if form == "page" else 6.0)
        self._spans(drawn, slot, depth_size)

    def _spans(self, drawn, slot, size):
        """The depths of bars (x, top, end, words) under them: neighbours alike share one label."""
        canvas = self.canvas
        lines = [self.y(depth) for depth in self.band or ()]
        lines += [self.y(self.thermocline["median"])] if self.thermocline else []
        for _, group in groupby(drawn, key=lambda bar: bar[1:]):
            bars = list(group)
            (first, start, end, words), last = bars[0], bars[-1][0]
            y = end + (12 if len(bars) > 1 else 8)
            for line in sorted(lines):  # no line of the water runs through the words
                y = line + 7 if abs(y - line) < 7 else y
            if y > self.bottom - 5:
                y = start - 8
            elif len(bars) > 1:
                canvas.line([first - 4, last + 4], [y - 7] * 2, width=LINE["fine"], halo=0.8)
            if len(bars) == 1 and text_width(words, size, "bold") > slot - 7:
                words = words.rsplit(" ", 1)[0]
            canvas.text((first + last) / 2, y, words, size, weight="bold", align="center",
                        ground="paper")  # fmt: skip
