"""The figures: nothing overlaps or leaves the sheet, and nothing is told by colour alone."""

import itertools

import numpy as np
import pytest
from sample_guide import EMOJI, LONG, RIGHT_TO_LEFT, hostile_guide, sample_guide, sample_note

from lakekit.pages import figures
from lakekit.pages.canvas import spaced, text_width, wrap
from lakekit.pages.documents import prepared
from lakekit.pages.style import COLOURS, TEXT_ON, contrast
from lakekit.pages.svg import svg_text
from lakekit.pages.water_column import drawn_tactics

# Full deuteranopia, linear RGB: Machado, Oliveira & Fernandes 2009, IEEE TVCG 15:1291-1298,
# table of matrices, severity 1.0 (from memory)
DEUTERANOPIA = np.array(
    [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]
)


def linear(colour):
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def hexed(values):
    values = np.clip(values, 0, 1)
    coded = np.where(values <= 0.0031308, 12.92 * values, 1.055 * values ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * channel):02x}" for channel in coded)


def grey(colour):
    return hexed(np.full(3, linear(colour) @ [0.2126, 0.7152, 0.0722]))


def deuteranopia(colour):
    return hexed(DEUTERANOPIA @ linear(colour))


SIGHTS = {"colour": str, "grey": grey, "deuteranopia": deuteranopia}


@pytest.mark.parametrize("sight", SIGHTS)
def test_text_reads_at_4_5_to_1_in_colour_grey_and_deuteranopia(sight):
    see = SIGHTS[sight]
    for text, ground in TEXT_ON:
        ratio = contrast(see(COLOURS[text]), see(COLOURS[ground]))
        assert ratio >= 4.5, (text, ground, ratio)


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize(
    ("mark", "ground"),
    [
        ("ink", "band"),
        ("ink", "water"),
        ("ink", "poor"),
        ("soft", "poor"),
        ("heat", "band"),
        ("heat", "water"),
        ("heat", "poor"),
        ("deep", "water"),
        ("deep", "band"),
    ],
)
def test_lines_and_hatches_stand_out_from_every_ground(sight, mark, ground):
    # 3:1 for what is no text: WCAG 2.1, success criterion 1.4.11
    see = SIGHTS[sight]
    assert contrast(see(COLOURS[mark]), see(COLOURS[ground])) >= 3.0


def test_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)  # WCAG 2.1, definition


def pixels(figure, dpi=144):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure.set_dpi(dpi)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3] / 255.0, canvas


def test_zones_differ_in_print_without_any_grey_tone():
    """A photocopier that drops every pale tone still shows three kinds of water by their marks."""
    guide = prepared(sample_guide())
    month = guide["months"][2]
    image, _ = pixels(figures.water_column_figure(month, guide))
    black = (image @ [0.2126, 0.7152, 0.0722]) < 0.45
    width = black.shape[1]
    lane = black[:, int(0.60 * width) : int(0.93 * width)]
    top, tall = 2 * 56.0, 2 * 218.0

    def inked(shallow, deep):
        bottom = month["profile"]["bottom"]
        rows = slice(int(top + tall * shallow / bottom) + 4, int(top + tall * deep / bottom) - 4)
        return lane[rows].mean()

    zone, floor = month["oxygen_zone"]["top"], month["oxygen_zone"]["bottom"]
    clear, low, poor = inked(0.1, month["band"]["top"]), inked(zone, floor), inked(floor, 10.3)
    assert clear < low
    assert clear < poor
    assert low > 0.08
    edge = int(top + tall * month["band"]["top"] / month["profile"]["bottom"])
    assert black[edge - 2 : edge + 3, int(0.2 * width) : int(0.34 * width)].any(axis=0).mean() > 0.9


CASES = {
    "usual": {},
    "ten tactics": {"tactics": 10},
    "no tactics": {"tactics": 0},
    "metric a4": {"units": "metric", "paper": "a4"},
    "no oxygen": {"oxygen": False},
    "shallow": {"bottom": 2.2},
    "deep": {"bottom": 31.0},
}


def boxes(figure):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure.set_dpi(72)
    renderer = FigureCanvasAgg(figure).get_renderer()
    return [(text.get_text(), text.get_window_extent(renderer)) for text in figure.texts]


def figure_of(kind, guide, month):
    if kind == "page":
        return figures.water_column_figure(month, guide)
    if kind == "phone":
        return figures.water_column_figure(month, guide, form="phone")
    return figures.season_strip_figure(guide)


@pytest.mark.parametrize("kind", ["page", "phone", "strip"])
@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("number", [2, 6])
def test_words_stay_on_the_sheet_and_clear_of_each_other(kind, case, number):
    guide = prepared(sample_guide(**CASES[case]))
    figure = figure_of(kind, guide, guide["months"][number])
    wide, high = figure.get_size_inches() * 72
    found = boxes(figure)
    for words, box in found:
        assert box.x0 > -1, words
        assert box.x1 < wide + 1, words
        assert box.y0 > -1, words
        assert box.y1 < high + 1, words
    for (one, first), (other, second) in itertools.combinations(found, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert across < 1.5 or down < 4.0, (one, other)


@pytest.mark.parametrize("months", [1, 24])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_words_of_a_short_and_a_long_strip_stay_clear_of_each_other(months, units):
    guide = prepared(sample_guide(months=months, units=units, bottom=28.0))
    found = boxes(figures.season_strip_figure(guide))
    for (one, first), (other, second) in itertools.combinations(found, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert across < 1.5 or down < 4.0, (one, other)


@pytest.mark.parametrize("kind", ["page", "phone", "strip"])
def test_hostile_names_stay_on_the_sheet(kind):
    guide = prepared(hostile_guide(tactics=10, months=3))
    figure = figure_of(kind, guide, guide["months"][2])
    wide = figure.get_size_inches()[0] * 72
    for words, box in boxes(figure):
        assert box.x0 > -1, words
        assert box.x1 < wide + 1, words


def test_depth_runs_downward_with_feet_left_and_metres_right():
    guide = prepared(sample_guide())
    figure = figures.water_column_figure(guide["months"][2], guide)
    found = boxes(figure)
    zeros = sorted(box.x0 for words, box in found if words == "0")
    feet = next(box.x0 for words, box in found if words == "ft")
    metres = next(box.x0 for words, box in found if words == "m")
    assert feet < 40 < 480 < metres
    assert len(zeros) == 2
    levels = {words: box.y0 for words, box in found if box.x1 < 27 and words.isdigit()}
    assert levels["0"] > levels["10"] > levels["30"]


def test_same_figure_gives_the_same_bytes_and_no_pyplot_figure_is_left():
    from matplotlib import pyplot

    guide = prepared(sample_guide())
    before = pyplot.get_fignums()
    texts = {svg_text(figures.water_column_figure(guide["months"][2], guide)) for _ in range(2)}
    assert len(texts) == 1
    assert pyplot.get_fignums() == before
    (text,) = texts
    assert "<text" not in text
    assert "<metadata" not in text


def test_ids_are_kept_apart_by_a_prefix():
    guide = prepared(sample_guide())
    text = svg_text(figures.season_strip_figure(guide), prefix="one-")
    ids = text.count(' id="')
    assert ids > 10
    assert text.count(' id="one-') == ids
    assert 'href="#' not in text.replace('href="#one-', "")
    assert "url(#" not in text.replace("url(#one-", "")


def test_unranked_tactics_carry_letters_and_ranked_ones_numbers():
    guide = sample_guide(tactics=8)
    marks = [card["mark"] for card in prepared(guide)["months"][2]["tactics"]]
    assert marks == ["1", "2", "3", "4", "5", "6", "A", "B"]


def test_neighbours_at_one_depth_share_a_label_and_others_have_their_own():
    guide = prepared(sample_guide())
    month = guide["months"][2]
    cards = [dict(card, top=3.0, bottom=4.0) for card in month["tactics"][:4]]
    alike = {**month, "tactics": cards}  # 3 to 4 m is 10 to 13 ft

    def labels(state):
        words = [words for words, _ in boxes(figures.water_column_figure(state, guide))]
        return [word for word in words if word.startswith(("10–13", "10–16"))]

    assert labels(alike) == ["10–13 ft"]
    cards[1] = {**cards[1], "bottom": 5.0}  # between its neighbours: 10 to 16 ft
    first, second, pair = labels(alike)
    assert first.startswith("10–13") and second.startswith("10–16") and pair.startswith("10–13")


def test_a_thermocline_that_is_there_at_times_is_explained_where_it_is_drawn():
    guide = prepared(sample_guide())

    def explained(chance):
        months = [{**month, "layered": {**month["layered"], "chance": chance}}
                  for month in guide["months"]]  # fmt: skip
        found = boxes(figures.season_strip_figure({**guide, "months": months}))
        return any("only at times" in words for words, _ in found)

    assert explained(0.5) and not explained(0.95) and not explained(0.1)


def test_no_word_of_the_light_hides_a_depth_on_the_axis():
    guide = prepared(sample_guide())
    found = boxes(figures.water_column_figure(guide["months"][2], guide))
    midday = next(box for words, box in found if words == "midday")
    feet = [box for words, box in found if words.isdigit() and box.x1 < midday.x1]
    assert len(feet) > 3
    assert max(box.x1 for box in feet) + 3.5 < midday.x0  # the ticks between them too


def test_words_of_the_column_say_what_it_shows():
    guide = prepared(sample_guide())
    said = figures.water_column_alt(guide["months"][2], guide)
    for part in (
        "Marl Pit Lake, July 2026",
        "bottom at 34 ft",
        "Thermocline at 14 ft, range 12–18 ft",
        "Oxygen runs low, 4 to 2 mg/L, at 19–21 ft",
        "Too little oxygen below 21 ft",
        "Fish can hold at 8–19 ft",
        "Light reaches 9 ft at midday",
        "1 Long-line trolling with jigs at",
    ):
        assert part in said
    mixed = figures.water_column_alt(guide["months"][7], guide)
    assert "No thermocline" in mixed
    assert "No good band" in mixed


def test_words_of_strips_and_fronts_name_each_month_lake_and_state():
    guide = prepared(sample_guide())
    assert "July 2026: band 8–19 ft, thermocline 14 ft" in figures.season_strip_alt(guide)
    pair = [(guide, guide["months"][2])]
    assert "Marl Pit Lake: band 8–19 ft" in figures.lakes_strip_alt(pair)
    note = prepared(sample_note())
    said = figures.front_alt(note["before"], note["after"], note)
    assert said.index("Before: Wed 1 July") < said.index("14 ft") < said.index("After: Fri 3 July")


def test_front_columns_share_one_temperature_scale():
    note = prepared(sample_note())
    words = [words for words, _ in boxes(figures.front_figure(note["before"], note["after"], note))]
    degrees = [word for word in words if word.endswith("°")]
    assert degrees[: len(degrees) // 2] == degrees[len(degrees) // 2 :]


def test_a_state_that_was_not_computed_is_drawn_as_such():
    guide = prepared(sample_guide(months=1))
    month = guide["months"][0]
    month["profile"]["temperature"] = {
        key: [None] * len(month["profile"]["depth"]) for key in ("low", "median", "high")
    }
    assert "not computed" in [w for w, _ in boxes(figures.water_column_figure(month, guide))]
    assert "not computed" in [
        w for w, _ in boxes(figures.water_column_figure(month, guide, form="phone"))
    ]


def test_tactics_without_a_set_depth_are_not_drawn():
    month = prepared(sample_guide(tactics=10))["months"][2]
    assert {card["key"] for card in drawn_tactics(month)}.isdisjoint({"dock_cast", "dip_pole"})


@pytest.mark.parametrize("text", [LONG, EMOJI, RIGHT_TO_LEFT, "x" * 300, "one-two-three four/five"])
def test_wrapped_lines_are_never_wider_than_asked(text):
    for line in wrap(text, 60.0, 9.0, lines=3):
        assert text_width(line, 9.0) <= 60.0 or len(line) == 1


def test_spread_labels_keep_order_distance_and_limits():
    heights = [20.0, 20.0, 20.0, 20.0]
    placed = spaced([50.0, 51.0, 52.0, 99.0], heights, 0.0, 100.0)
    assert placed == sorted(placed)
    assert np.all(np.diff(placed) >= 20.0 - 1e-9)
    assert placed[0] >= 10.0
    assert placed[-1] <= 90.0
    assert spaced([50.0], [20.0], 0.0, 100.0) == [50.0]
