"""The HTML page: self-contained, nothing cut, everything escaped, readable at 360 px."""

import itertools
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from chromium import FLAGS
from sample_guide import HOSTILE, LONG, hostile_guide, sample_guide, sample_note

import lakekit.pages
from lakekit.guide.summaries import month_lines
from lakekit.pages.briefing import briefing_document
from lakekit.pages.documents import front_document, prepared, season_document
from lakekit.pages.fonts import MISSING, printable
from lakekit.pages.html import write_page
from lakekit.pages.style import COLOURS, DARK, TEXT_ON, contrast

VOID = {"meta", "link", "br", "hr", "img", "input", "path", "use", "rect", "circle", "ellipse"}


class Reading(HTMLParser):
    """Elements, ids, attributes and text of a page; complains of tags left open."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.ids, self.words, self.open = [], [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *pair) for pair in attrs]
        self.ids += [value for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    lakes = [
        sample_guide(key=f"l{i}", name=f"Lake {i}", months=2, bottom=4.0 + i) for i in range(5)
    ]
    return {
        "season": write_page(season_document(sample_guide(months=8)), folder / "season.html"),
        "hostile": write_page(
            season_document(hostile_guide(months=1, tactics=10)), folder / "hostile.html"
        ),
        "briefing": write_page(
            briefing_document({"guides": lakes, "month": "2026-06"}), folder / "briefing.html"
        ),
        "edition": write_page(
            briefing_document({"guides": lakes, "month": None}), folder / "edition.html"
        ),
        "front": write_page(front_document(sample_note()), folder / "front.html"),
    }


KINDS = ("season", "hostile", "briefing", "edition", "front")


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_well_formed_and_loads_nothing(made, kind):
    text = made[kind].read_text(encoding="utf-8")
    read = Reading(text)
    assert read.open == []
    assert not {"script", "link", "img", "iframe", "object", "image", "foreignobject"} & set(
        read.tags
    )
    for tag, name, value in read.attributes:
        assert not name.startswith("on"), (tag, name)
        if name in ("src", "href", "xlink:href", "action", "data"):
            assert value.startswith("#"), (tag, name, value)
    assert "@import" not in text
    assert not re.search(r"url\((?!#|data:font/woff;base64,)", text)
    assert ("meta", "name", "viewport") in read.attributes


@pytest.mark.parametrize("kind", KINDS)
def test_ids_are_unique_and_every_reference_is_met(made, kind):
    text = made[kind].read_text(encoding="utf-8")
    read = Reading(text)
    assert len(read.ids) == len(set(read.ids))
    wanted = set(re.findall(r'href="#([^"]+)"', text)) | set(re.findall(r"url\(#([^)]+)\)", text))
    assert wanted or kind in ("edition", "front")  # these two link nowhere
    assert wanted <= set(read.ids)


@pytest.mark.parametrize("kind", KINDS)
def test_every_drawing_is_told_in_words_and_headings_step_down(made, kind):
    read = Reading(made[kind].read_text(encoding="utf-8"))
    drawings = [name for tag, name, _ in read.attributes if tag == "svg" and name == "aria-label"]
    assert len(drawings) == read.tags.count("svg") > 0
    said = [value for tag, name, value in read.attributes if tag == "svg" and name == "aria-label"]
    assert not any(re.search(r"\d–\d|°", words) for words in said)
    assert any(re.search(r"\d to \d+ ft", words) for words in said)
    levels = [int(tag[1]) for tag in read.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_user_text_comes_out_as_typed_and_whole(made):
    text = made["hostile"].read_text(encoding="utf-8")
    assert "<script" not in text
    read = Reading(text)
    assert printable(HOSTILE) in read.text
    assert printable(LONG) in read.text
    assert "Lac d'Été" in read.text
    assert "אגם השקט بحيرة" in read.text
    assert MISSING in read.text
    assert "…and" not in read.text
    assert read.text.count("Ångström") == 10


def test_it_holds_the_same_content_as_the_pdf(made):
    guide = sample_guide(months=8)
    text = Reading(made["season"].read_text(encoding="utf-8")).text
    for month in guide["months"]:
        for part in (
            month["title"],
            month["headline"],
            month["layered"]["text"],
            month["log_text"],
            month["sun"]["text"],
            month["light"]["text"],
            *(entry["text"] for entry in month["depths"]),
            *(card["setup"] for card in month["tactics"]),
        ):
            assert part in text
    for row in (*guide["rules"], *guide["dates"], *guide["evidence"]):
        assert row[0] in text
        assert row[1] in text
    for part in (
        *guide["method"],
        *guide["sources"],
        *guide["cautions"],
        guide["weather"]["text"],
        guide["as_of_text"],
        "INVENTED DATA",
    ):
        assert part in text


def test_same_input_gives_the_same_bytes(tmp_path, made):
    again = write_page(front_document(sample_note()), tmp_path / "front.html")
    assert again.read_bytes() == made["front"].read_bytes()


def test_its_colours_are_those_whose_contrast_is_tested():
    text = (Path(lakekit.pages.__file__).parent / "page.html.j2").read_text()
    assert not re.search(r"#[0-9a-fA-F]{3,8}\s*[;}]", text)
    grounds = {"body": "paper", ".demo": "ink", ".aside": "note", ".badge": "ink"}
    for colour in set(re.findall(r"[^-]color: var\(--(\w+)\)", text)):
        assert any((colour, ground) in TEXT_ON for ground in grounds.values()), colour
    for rule in re.findall(r"[^{}]+\{[^{}]*background: var\(--\w+\)[^{}]*\}", text):
        ground = re.search(r"background: var\(--(\w+)\)", rule)[1]
        colour = re.search(r"[^-]color: var\(--(\w+)\)", rule)
        assert (colour[1] if colour else "ink", ground) in TEXT_ON


def chromium():
    return next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )


@pytest.mark.skipif(chromium() is None, reason="no Chromium on this machine to lay the page out")
@pytest.mark.parametrize("kind", ["season", "hostile", "briefing", "front"])
def test_at_360_px_nothing_is_wider_than_the_screen(tmp_path, made, kind):
    text = made[kind].read_text(encoding="utf-8")
    # our measuring script aside, the page's own policy holds: its fonts must pass it
    text = text.replace("default-src 'none';", "default-src 'none'; script-src 'unsafe-inline';")
    last = Reading(text).attributes[::-1]
    mark = next((value for _, name, value in last if name == "href" and "#m20" in value), "")
    inner = tmp_path / "inner.html"
    measure = """<script>addEventListener("load", async () => {
      await document.fonts.ready;
      const faces = [...document.fonts].map(face => face.status);
      const marked = document.querySelector("details:has(:target)");
      const shut = document.querySelectorAll("details:not([open])").length;
      const wide = [...document.querySelectorAll("body *")]
        .filter(e => !e.closest("svg") || e.tagName == "svg")
        .map(e => e.getBoundingClientRect().right);
      const small = [...document.querySelectorAll("p, dt, dd, h1, h2, h3, li")]
        .map(e => parseFloat(getComputedStyle(e).fontSize));
      parent.postMessage(JSON.stringify([innerWidth, document.documentElement.scrollWidth,
        Math.max(...wide), Math.min(...small), faces, shut, marked && marked.open]), "*");
      });</script>"""
    inner.write_text(text.replace("</body>", measure + "</body>"), encoding="utf-8")
    outer = tmp_path / "outer.html"
    outer.write_text(
        '<!DOCTYPE html><title>wait</title><iframe src="inner.html'
        f'{mark}" width="360" height="700" style="border:0"></iframe><script>'
        'addEventListener("message", e => { document.title = e.data; });</script>'
    )
    done = subprocess.run(
        [
            chromium(),
            *FLAGS,
            "--virtual-time-budget=4000",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--dump-dom",
            outer.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )
    title = re.search(r"<title>(\[.*?\])</title>", done.stdout)
    assert title, done.stderr[-400:]
    window, scroll, widest, smallest, faces, shut, opened = json.loads(title[1])
    assert window == 360
    assert scroll <= 360
    assert widest <= 360.5
    assert smallest >= 15.0
    assert faces == ["loaded", "loaded"]
    if kind == "season":  # the first month and the one that the link asked for stand open
        assert shut == 6
        assert opened


def test_text_follows_the_readers_own_size_and_dark_screens_keep_their_contrast(made):
    text = made["briefing"].read_text(encoding="utf-8")
    style = text[text.index("<style>") : text.index("</style>")]
    sizes = re.findall(r"font-size: ([\d.]+)(\w+|%)", style)
    assert {unit for _, unit in sizes} <= {"rem", "em", "%", "pt"}  # pt: on paper
    assert "prefers-color-scheme: dark" in style
    dark = COLOURS | DARK
    for colour, ground in TEXT_ON:
        if {colour, ground} <= set(DARK):
            assert contrast(dark[colour], dark[ground]) >= 4.5, (colour, ground)


def test_later_months_are_folded_with_a_way_back_from_each(made):
    season = made["season"].read_text(encoding="utf-8")
    assert season.count('<a href="#months">Back to all months</a>') == season.count(
        '<section class="month"'
    )
    assert season.count('id="months"') == 1
    assert season.count("<details open>") == 1
    assert season.count("<details>") == season.count('<section class="month"') - 1
    assert "details::details-content" in season[season.index("@media print") :]


def test_a_season_begins_with_a_table_of_its_months(made):
    guide = sample_guide(months=8)
    text = made["season"].read_text(encoding="utf-8")
    table = text[text.index("<table") : text.index("</table>")]
    assert text.index("<table") < text.index("<svg")
    assert text.count("<table") == 1
    rows = [Reading(row).text for row in re.findall("<tr>.*?</tr>", table)[1:]]
    for line, row in zip(month_lines(prepared(guide)), rows, strict=True):
        for part in ("month", "phase", "start", "water", "band", "first"):
            assert line[part] in row
    assert table.count('scope="row"') == len(rows)
    assert {*re.findall(r'href="#([^"]+)"', table)} == {f"m{m['month']}" for m in guide["months"]}


def test_signs_are_read_as_words(made):
    season = made["season"].read_text(encoding="utf-8")
    assert not re.search(r"<span[^>]* aria-label=", season)
