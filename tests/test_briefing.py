"""The PDFs: page counts, nothing cut without saying so, tags, fonts, the same bytes twice."""

import itertools
import re
from functools import lru_cache

import pytest
from pypdf import PdfReader
from sample_guide import LONG, hostile_guide, sample_guide, sample_note

from lakekit.guide.summaries import month_cautions
from lakekit.pages.briefing import briefing_document
from lakekit.pages.canvas import text_width
from lakekit.pages.documents import (
    front_document,
    log_sheet_document,
    season_document,
)
from lakekit.pages.fonts import MISSING, clip, printable
from lakekit.pages.pdf import write_pdf
from lakekit.pages.style import MARGIN, PAPERS
from lakekit.trips.columns import log_sheet

LATIN = re.compile(r"[\u0020-\u024f\u2010-\u2030]+")
SOURCE = "Weather: invented hourly record of the demo"
NAMES = (
    "Marl Pit Lake",
    "Old Mill Pond",
    "Upper Lake of the Seven Sisters and their Brother",
    "Quarry 3",
)


def plain(text):
    """Text of a PDF in one line, without the breaks that long words may take."""
    return re.sub(r"\s+", " ", text.replace("\u200b", "").replace("\n", " "))


@lru_cache(maxsize=64)
def read(path, only=None):
    """Text and runs (left, base line, right, size, words) [pt] of a PDF's pages."""
    told = []
    for page in PdfReader(path).pages[slice(only)]:
        runs = []

        def note(text, matrix, _place, _font, size, runs=runs):
            if text.strip():
                words = text.strip()
                runs.append(
                    (matrix[4], matrix[5], matrix[4] + text_width(words, size), size, words)
                )

        told.append((plain(page.extract_text(visitor_text=note)), runs))
    return told


def pages(path, only=None):
    return [text for text, _ in read(path, only)]


def lakes(count, **options):
    return [
        sample_guide(
            key=f"lake{index}",
            name=f"{NAMES[index % 4]} {index}",
            months=2,
            bottom=5.0 + 2 * index,
            tactics=index % 11,
            **options,
        )
        for index in range(count)
    ]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pdf")

    @lru_cache
    def make(name):
        path = folder / f"{name}.pdf"
        if name == "season":
            return write_pdf(season_document(sample_guide(months=3)), path)
        if name == "hostile":
            return write_pdf(season_document(hostile_guide(tactics=10, months=2)), path)
        if name == "briefing":
            return write_pdf(briefing_document({"guides": lakes(3), "month": "2026-06"}), path)
        if name == "front":
            return write_pdf(front_document(sample_note()), path)
        return write_pdf(
            log_sheet_document(log_sheet("us") | {"club": "The Slack Water Club"}), path
        )

    return make


ALL = ("season", "hostile", "briefing", "front", "log")


@pytest.mark.parametrize("tactics", [0, 1, 5, 10])
@pytest.mark.parametrize(("units", "paper"), [("us", "letter"), ("metric", "a4")])
def test_a_month_takes_one_page(tmp_path, tactics, units, paper):
    guide = sample_guide(tactics=tactics, units=units, paper=paper, months=1, oxygen=tactics != 1)
    path = write_pdf(season_document(guide), tmp_path / "guide.pdf")
    reader = PdfReader(path)
    assert len(reader.pages) == 2 + 1
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(PAPERS[paper], abs=0.01)
    told = pages(path)
    for month, text in zip(guide["months"], told[1:2], strict=True):
        assert month["title"] in text
        named = [card["name"] in text for card in month["tactics"]]
        assert all(named)


def test_hostile_text_takes_one_page_a_month_and_says_how_much_is_left_out(made):
    told = pages(made("hostile"))
    assert len(told) == 2 + 2
    for text in told[1:3]:
        shown = len(re.findall("Ångström", text))
        more = re.search(r"And (\d+) more in the web page", text)
        assert shown >= 10 or int(more[1]) >= 10 - shown


def test_user_text_comes_out_as_typed_or_visibly_replaced(made):
    told = pages(made("hostile"))
    for text in told[1:3]:
        assert '#let x = 1; $a$ [b] *c* _d_ <script>alert("x")</script> \\ & `e` @f {{ g }}' in text
    everywhere = " ".join(told)
    assert MISSING in everywhere
    assert "Lac d'Été" in everywhere
    assert "\x00" not in everywhere
    letters = set("אגם השקט بحيرة") - {" "}
    # Arabic letters come back as the shaped forms that were drawn, so Hebrew alone is looked for
    assert letters & set(everywhere) >= set("אגםהשקט")


def test_every_page_has_the_weather_its_date_and_the_demo_mark(made):
    for name in ("season", "hostile", "briefing", "front"):
        for text in pages(made(name)):
            assert SOURCE in text
            assert "Data to 30 April 2026" in text
            assert "INVENTED DATA" in text


def test_a_guide_of_real_data_carries_no_demo_mark(tmp_path):
    path = write_pdf(season_document(sample_guide(months=1, demo=False)), tmp_path / "real.pdf")
    assert not any("INVENTED" in text for text in pages(path))


@pytest.mark.parametrize("name", ALL)
def test_nothing_is_set_outside_the_margins_or_over_another(made, name):
    sheets = PdfReader(made(name)).pages
    for sheet, (_, found) in zip(sheets, read(made(name)), strict=True):
        wide, high = float(sheet.mediabox.width), float(sheet.mediabox.height)
        side = 32.0 if name == "log" else MARGIN["side"]
        assert len(found) > 20
        for left, base, right, _, text in found:
            assert left >= side - 1.0, text
            assert right <= wide - side + 3.0 or not LATIN.fullmatch(text), text
            assert 14.0 < base < high - 30.0, text
        for one, other in itertools.combinations(found, 2):
            across = min(one[2], other[2]) - max(one[0], other[0])
            apart = abs(one[1] - other[1])
            smaller = min(one[3], other[3])
            # runs of a line that holds right-to-left words do not come in their own order
            if name == "hostile" and apart < 0.1:
                continue
            latin = LATIN.fullmatch(one[4]) and LATIN.fullmatch(other[4])
            assert across < 2.0 or apart > 0.7 * smaller or not latin, (one[4], other[4])


def walk(node, seen):
    """Every structure element below a node of the tag tree."""
    node = node.get_object()
    if isinstance(node, list):
        for child in node:
            yield from walk(child, seen)
        return
    if not hasattr(node, "get") or id(node) in seen:
        return
    seen.add(id(node))
    if "/S" in node:
        yield node
    if "/K" in node:
        children = node["/K"]
        for child in children if isinstance(children, list) else [children]:
            if not isinstance(child, int):
                yield from walk(child, seen)


def tags(path):
    reader = PdfReader(path)
    return list(walk(reader.trailer["/Root"]["/StructTreeRoot"], set()))


@pytest.mark.parametrize("name", ALL)
def test_it_is_tagged_titled_and_in_english(made, name):
    reader = PdfReader(made(name))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata.title
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()


@pytest.mark.parametrize("name", ALL)
def test_fonts_are_embedded_and_only_ours(made, name):
    found = set()
    for page in PdfReader(made(name)).pages:
        for font in page["/Resources"]["/Font"].values():
            font = font.get_object()
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            descriptor = inner["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
            found.add(str(descriptor["/FontName"]).split("+")[-1])
    assert all(font.startswith(("SourceSansPro", "DejaVuSans")) for font in found)


def test_tag_tree_has_words_for_figures_headings_in_order_and_a_table_with_headers(made):
    found = tags(made("season"))
    kinds = [str(node["/S"]) for node in found]
    figures = [node for node in found if node["/S"] == "/Figure"]
    assert len(figures) == 1 + 3
    assert all(len(str(node["/Alt"])) > 60 for node in figures)
    assert "Water column of Marl Pit Lake, May 2026" in str(figures[1]["/Alt"])
    headings = [kind for kind in kinds if re.fullmatch(r"/H\d", kind)]
    assert headings[0] == "/H1"
    assert headings.count("/H1") == 1 + 3 + 1
    # a tactic is a heading: between a month's and the next there are as many as are printed
    first, second = [at for at, kind in enumerate(kinds) if kind == "/H1"][1:3]
    printed = min(len(sample_guide(months=3)["months"][0]["tactics"]), 10)
    assert kinds[first:second].count("/H2") == printed
    assert kinds.count("/Table") == 1
    assert kinds.count("/TH") == 5
    assert kinds.index("/H1") < kinds.index("/Figure")


def test_log_sheet_table_has_a_header_for_every_box(made):
    sheet = log_sheet("us")
    found = [str(node["/S"]) for node in tags(made("log"))]
    assert found.count("/TH") == len(sheet["boxes"])
    text = pages(made("log"))[0]
    assert len(PdfReader(made("log")).pages) == 1
    for box in sheet["boxes"]:
        for word in box["label"].split():
            assert word in text


def test_same_input_gives_the_same_bytes_and_leaves_no_other_file(tmp_path):
    guide = sample_guide(months=2)
    first = write_pdf(season_document(guide), tmp_path / "a" / "guide.pdf").read_bytes()
    second = write_pdf(season_document(guide), tmp_path / "a" / "guide.pdf").read_bytes()
    assert first == second
    assert [entry.name for entry in (tmp_path / "a").iterdir()] == ["guide.pdf"]


@pytest.mark.parametrize("count", [1, 3, 12])
def test_briefing_front_page_has_every_lake_in_a_line_and_a_page_each(tmp_path, count):
    path = write_pdf(
        briefing_document({"guides": lakes(count), "month": "2026-06"}), tmp_path / "briefing.pdf"
    )
    assert len(PdfReader(path).pages) == 1 + count + 2
    told = pages(path, only=4)
    for index in range(count):
        assert f"{NAMES[index % 4]} {index}" in told[0]
    for index, text in enumerate(told[1 : 1 + count]):
        assert f"{NAMES[index % 4]} {index}" in text
    assert told[0].count("Start, then") == count


def test_over_a_dozen_lakes_stand_in_an_index_by_region(tmp_path):
    guides = lakes(16)
    for number, guide in enumerate(guides):
        guide["lake"]["region"] = ("Zander Hills", "North Plain", None)[number % 3]
    document = briefing_document({"guides": guides, "month": "2026-06"})
    told = pages(write_pdf(document, tmp_path / "briefing.pdf"))
    assert len(told) == 1 + 16 + 2
    assert "Briefing for 16 lakes in 2 regions" in told[0]
    order = [told[0].index(name) for name in ("North Plain", "Zander Hills", "Other lakes")]
    assert order == sorted(order)
    wanted = [*range(1, 16, 3), *range(0, 16, 3), *range(2, 16, 3)]
    for page, number in enumerate(wanted, start=2):
        name = f"{NAMES[number % 4]} {number}"
        # its line ends in the number of its page, on which it stands
        assert re.search(rf"{re.escape(name)} .*? {page}\b", told[0]), name
        assert name in told[page - 1]
    told_on_screen = [line["name"] for part in document.screen["index"] for line in part["lines"]]
    assert told_on_screen == [f"{NAMES[number % 4]} {number}" for number in wanted]


def test_an_index_goes_over_pages_and_loses_no_lake(tmp_path):
    document = briefing_document({"guides": lakes(90), "month": None})
    reader = PdfReader(write_pdf(document, tmp_path / "season.pdf"))
    told = " ".join(plain(page.extract_text()) for page in reader.pages[:3])
    assert told.count("Start, then") >= 2
    assert all(f"{NAMES[number % 4]} {number} " in told for number in range(90))


def test_lakes_with_the_same_rules_are_told_together(tmp_path):
    guides = lakes(4)
    guides[3]["rules"] = [["Rods", "1 an angler"]]
    document = briefing_document({"guides": guides, "month": "2026-06"})
    titles = [section["title"] for section in document.screen["late"]]
    assert "Rules of 3 lakes" in titles and f"Rules: {NAMES[3]} 3" in titles
    rules = next(part for part in document.screen["late"] if part["title"] == "Rules of 3 lakes")
    assert rules["rows"][0] == ["Lakes", f"{NAMES[0]} 0; {NAMES[1]} 1; {NAMES[2]} 2"]


def test_a_page_measured_alone_is_set_as_if_it_were_measured_in_place(tmp_path, monkeypatch):
    document = season_document(hostile_guide(tactics=10, months=2))
    alone = write_pdf(document, tmp_path / "a.pdf").read_bytes()
    monkeypatch.setattr("lakekit.pages.pdf._levels", lambda page, frame: [None, None])
    assert write_pdf(document, tmp_path / "b.pdf").read_bytes() == alone


def test_hazards_rules_and_method_close_the_briefing(made):
    told = pages(made("briefing"))
    assert "Hazards and rules" in told[-2]
    assert "checked 2 March 2026" in told[-2]
    assert "In the dark: show the lights the law asks for" in told[-2]
    assert "How good it has been" in told[-1]
    assert "no sounding of shad" in told[-1]


def test_rules_of_twelve_waters_are_never_cut(tmp_path):
    guides = lakes(12)
    for guide in guides:
        guide["rules"] = [[f"Rule {row} of {guide['lake']['key']}", LONG[:120]] for row in range(5)]
    path = write_pdf(briefing_document({"guides": guides, "month": "2026-06"}), tmp_path / "b.pdf")
    told = " ".join(plain(page.extract_text()) for page in PdfReader(path).pages[13:])
    for guide in guides:
        for row in range(5):
            assert f"Rule {row} of {guide['lake']['key']}" in told


def test_season_edition_has_a_strip_for_each_lake(tmp_path):
    path = write_pdf(
        briefing_document({"guides": lakes(4), "month": None}), tmp_path / "season.pdf"
    )
    alts = [str(node["/Alt"]) for node in tags(path) if node["/S"] == "/Figure"]
    assert len(alts) == 1 + 4
    assert sum("months across and depth down" in alt for alt in alts) == 4


def test_briefing_without_the_month_is_refused(tmp_path):
    with pytest.raises(ValueError, match="no guide has the month 2031-01"):
        write_pdf(briefing_document({"guides": lakes(1), "month": "2031-01"}), tmp_path / "b.pdf")


@pytest.mark.parametrize("paper", PAPERS)
def test_front_note_is_one_page(tmp_path, paper):
    note = sample_note(paper=paper, tactics=10)
    note["storm"]["text"] = note["headline"] = LONG
    note["changes"] = note["ahead"] = [["Label", LONG]] * 6
    note["hazards"] = note["cautions"] = [LONG] * 6
    path = write_pdf(front_document(note), tmp_path / "front.pdf")
    assert len(PdfReader(path).pages) == 1


@pytest.mark.parametrize("more", [0, 1, 2, 4, 8])
def test_nothing_on_a_front_note_is_cut_by_the_edge_of_its_room(tmp_path, more):
    note = sample_note(tactics=10)
    words = " and that for as long as the wind blew; then it was another matter" * more
    note["headline"] += words[:300]
    note["storm"]["text"] += words[:400]
    for name in ("changes", "ahead", "not_known", "wind_rows"):
        note[name] = [[label, text + words] for label, text in note[name]] * 2
    (page,) = PdfReader(write_pdf(front_document(note), tmp_path / "front.pdf")).pages
    # the figure's own edge is the one clipping path of the page
    assert len(re.findall(rb"\bW\*?\s+n\b", page.get_contents().get_data())) == 1


def test_printable_keeps_letters_and_replaces_what_has_no_glyph():
    assert printable("Ä é Ω Ж א ب ½ °") == "Ä é Ω Ж א ب ½ °"
    assert printable("a\x00b\x07c\u202ed\ufeff") == "abcd"
    assert printable("tab\tand\nline\u2028end ") == "tab and line end"
    assert printable("🎣 湖 \ud800 \ue000") == " ".join([MISSING] * 4)
    assert printable("👍🏽") == MISSING
    assert printable("e\u0301") == "é"


def test_clip_cuts_at_a_word_and_says_so():
    assert clip("short", 20) == "short"
    assert clip("one two three four five", 15) == "one two three…"
    assert len(clip("x" * 50, 20)) == 20
    assert clip(None, 5) is None


def test_every_caution_of_a_month_is_told_under_it_or_on_the_last_page(made):
    told = pages(made("season"))
    guide = sample_guide(months=3)
    for month, text in zip(guide["months"], told[1:-1], strict=True):
        for caution in month["cautions"]:
            assert caution in text or caution in told[-1]
        assert "more: see the last page" in text
        assert month["cautions"][1] in text


def test_a_caution_of_several_lakes_is_told_once_with_whose_and_when_it_is():
    guides = [sample_guide(name=name, months=2) for name in ("Marl Pit", "Osier Pool")]
    guides[1]["months"][0]["cautions"] += ["Stumps lie near the surface."]
    told = month_cautions(guides)
    months = ["In May look at the ramp before you launch. (May)",
              "In June look at the ramp before you launch. (Jun)"]  # fmt: skip
    assert set(months) < set(told) and len(told) == len(set(told))
    assert "Stumps lie near the surface. (Osier Pool: May)" in told
    assert sum(text.startswith("Power lines") for text in told) == 1
    may = month_cautions(guides, "2026-05")
    assert "Stumps lie near the surface. (Osier Pool)" in may
    assert "In May look at the ramp before you launch." in may
    assert not any("In June" in text for text in may)


def test_no_caution_of_a_shore_of_lakes_is_lost_where_their_names_are_too_many():
    guides = [sample_guide(name=f"Long-named water number {n}", months=1) for n in range(30)]
    for guide in guides[:20]:
        guide["months"][0]["cautions"] += ["Stumps lie near the surface."]
    assert "Stumps lie near the surface. (20 lakes)" in month_cautions(guides)


@pytest.mark.parametrize("months", [1, 24])
def test_a_cover_takes_one_page_for_one_month_and_for_24(tmp_path, months):
    path = write_pdf(season_document(sample_guide(months=months, tactics=1)), tmp_path / "g.pdf")
    assert len(PdfReader(path).pages) == 1 + months + 1
    cover = pages(path, only=1)[0]
    assert cover.count("Long-line jigs") >= months
    assert ("Apr 2028" in cover) == (months == 24)


def test_a_crowded_last_page_keeps_cautions_and_misses_whole(tmp_path):
    cautions = [
        f"Caution {number}: " + "leave the water at the first thunder, and stay off it for thirty "
        "minutes after the last; an open boat is no shelter." for number in range(9)
    ]  # fmt: skip
    misses = [["Thermocline depth", "one reservoir 0.6 m (rival 0.9 m); the other 1.1 m, a miss."]]
    guide = sample_guide() | {"cautions": cautions, "evidence": misses}
    guide["method"] = ["A long account of how the water was computed from the weather. " * 8] * 14
    path = write_pdf(season_document(guide), tmp_path / "crowded.pdf")
    told = re.sub(r"\s+", "", PdfReader(path).pages[-1].extract_text())
    for words in (*cautions, misses[0][1]):
        assert re.sub(r"\s+", "", words) in told
    assert "…" not in told and told.count("Alongaccount") < 14 * 8  # it gave way, by sentences


@pytest.mark.parametrize("name", ["season", "hostile", "briefing", "front"])
def test_rows_are_lists_in_the_tag_tree(made, name):
    found = tags(made(name))
    lists = [node for node in found if node["/S"] == "/L"]
    items = [node for node in found if node["/S"] == "/LI"]
    assert lists
    held = [child for node in lists for child in walk(node["/K"], set())]
    for node in lists:
        children = [child.get_object() for child in node["/K"]]
        assert {str(child["/S"]) for child in children} == {"/LI"}
    for item in items:
        assert any(child["/S"] == "/LBody" for child in walk(item["/K"], set()))
    assert len([node for node in held if node["/S"] == "/LI"]) == len(items)


def test_a_months_facts_are_one_list_with_an_item_each(made):
    document = season_document(sample_guide(months=3))
    sizes = [len(node["/K"]) for node in tags(made("season")) if node["/S"] == "/L"]
    for page in document.printed["months"]:
        assert len([row for row in page["facts"] if row[1]]) in sizes


def linked(path):
    """(page the link stands on, page it leads to) of every link, counted from nought."""
    reader = PdfReader(path)
    named = reader.named_destinations
    for at, page in enumerate(reader.pages):
        for note in page.get("/Annots", []):
            note = note.get_object()
            if note["/Subtype"] != "/Link":
                continue
            goal = note["/Dest"] if "/Dest" in note else note["/A"]["/D"]
            if isinstance(goal, (str, bytes)):
                goal = named[goal].dest_array
            yield at, reader.get_page_number(goal[0].get_object())


@pytest.mark.parametrize("name", ["season", "briefing"])
def test_the_front_page_leads_to_every_month_and_back(made, name):
    found = list(linked(made(name)))
    assert {goal for at, goal in found if at == 0} == {1, 2, 3}
    assert {at for at, goal in found if goal == 0} == {1, 2, 3}
