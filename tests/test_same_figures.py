"""No figure differs between a guide, a briefing, a front note and the JSON of the same data."""

import json
import re

import pandas as pd
import pytest
from front_helpers import LAKE, short_club

from lakekit.guide.day import day_card
from lakekit.guide.front.note import front_note
from lakekit.guide.season import season_guide
from lakekit.pages.briefing import briefing_document
from lakekit.pages.documents import front_document, season_document

MONTHS = ("2026-06", "2026-08")  # one past, one to come: the record ends in July 2026


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    return short_club(tmp_path_factory)


@pytest.fixture(scope="module")
def season(known):
    club, knowledge = known
    return season_guide(club, LAKE, "2026-06", 12, knowledge=knowledge)


@pytest.fixture(scope="module", params=MONTHS)
def alone(request, known):
    club, knowledge = known
    return season_guide(club, LAKE, request.param, 1, knowledge=knowledge)


def month_of(guide, month):
    return next(page for page in guide["months"] if page["month"] == month)


def same(one, other, at=""):
    """Texts alike to the letter, numbers to the fifth figure or a thousandth."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), at
        for key in one:
            same(one[key], other[key], f"{at}.{key}")
    elif isinstance(one, list):
        assert len(one) == len(other), at
        for number, pair in enumerate(zip(one, other, strict=True)):
            same(*pair, f"{at}[{number}]")
    elif isinstance(one, float):
        # histories that begin in different years forget it to a thousandth of a degree, far
        # under any printed digit
        assert one == pytest.approx(other, rel=1e-5, abs=1e-3), at
    else:
        assert one == other, at


def test_a_month_alone_is_the_same_month_of_the_season(season, alone):
    page = alone["months"][0]
    same(page, month_of(season, page["month"]))
    assert page["front_text"] is None or re.search(r"\d", page["front_text"])


def test_a_briefing_tells_what_the_guide_tells(season, alone):
    month = alone["months"][0]["month"]
    briefing = briefing_document({"guides": [alone], "month": month})
    guide = season_document(season)
    printed = {page["title"]: page for page in guide.printed["months"]}
    told = briefing.printed["months"][0]
    whole = printed[month_of(season, month)["title"]]
    for part in ("facts", "month", "unknown"):
        same(told[part], whole[part], part)
    screens = {page["title"]: page for page in guide.screen["months"]}
    same(briefing.screen["months"][0]["facts"], screens[whole["title"]]["facts"])


@pytest.mark.parametrize("days", [1, 2])
def test_a_day_card_tells_what_the_front_note_tells_of_its_day(known, days):
    club, knowledge = known
    note = front_note(club, LAKE, knowledge=knowledge)
    entry = note["days"][days]
    noon = pd.Timestamp(entry["time"])
    card = day_card(club, LAKE, f"{noon:%Y-%m-%d}", knowledge=knowledge)
    assert card["basis"] == "recent"
    assert card["where"]["start"] == entry["start_depth"]
    assert card["tactics"][0]["setup"] == entry["set_up"]
    water = dict(card["water"])
    assert f"{water['Surface'].split(' (')[0]} on top" in entry["text"]
    if days == 1:  # the day that the note plans for
        assert pd.Timestamp(note["after"]["time"]) == noon
        same(card["tactics"], note["tactics"])
        told = {row["key"]: row["text"] for row in note["after"]["depths"]}
        assert water["Thermocline"] == told["thermocline"]
        assert told["mixed_layer"] in water["Mixed"]
        assert water["Surface"] == note["after"]["surface"]["text"]
def test_what_a_page_leaves_to_the_last_page_is_there_with_its_month(season):
    document = season_document(season)
    closing = document.printed["closing"]
    (care,) = (part for part in closing["left"] + closing["right"] if part["title"] == "Take care")
    for month, page in zip(season["months"], document.printed["months"], strict=True):
        last = [
            text
            for text in month["cautions"]
            for row in care["rows"]
            if row == text or (row.startswith(f"{text} (") and month["label"] in row)
        ]
        assert last == sorted(last, key=month["cautions"].index) and len(last) == len(
            month["cautions"]
        )
        shown = [text for text in month["cautions"] if text in page["mind"]]
        left = re.search(r"(\d+) more: see the last page", page["mind"])
        assert int(left[1]) == len(month["cautions"]) - len(shown)
        assert ("life jacket" in page["mind"]) == (month["surface"]["low"] < 21.1)


def test_an_overview_that_tells_of_ice_or_cold_water_warns_of_it(season):
    cold = {month["label"] for month in season["months"] if month["surface"]["low"] < 21.1}
    iced = {month["label"] for month in season["months"] if month["ice"]["chance"] > 0}
    strips = briefing_document({"guides": [season], "month": None}).printed["strips"]
    for mind in (season_document(season).printed["cover"]["mind"], strips[0]["mind"]):
        ice, water = re.findall(r"\(([^)]+)\)", mind)
        assert set(ice.split(", ")) == iced and set(water.split(", ")) == cold
    assert iced < cold < {month["label"] for month in season["months"]}


def test_the_days_of_a_front_note_are_one_figure(known):
    club, knowledge = known
    note = json.loads(json.dumps(front_note(club, LAKE, "2025-06-20", knowledge=knowledge)))
    part = note["verdict"]
    assert part in ("broken", "deeper")
    days = note["recovery"][part]["days"]
    text = next(text for label, text in note["ahead"] if f", if {part}" in label)
    (told,) = re.findall(r"in (\d+) days?", text)
    assert float(told) == pytest.approx(days["median"], abs=0.5)
    span = re.search(r"\((\d+) to (\d+)(\+?)\)", text)
    if span:
        assert float(span[1]) == pytest.approx(days["low"], abs=0.5)
        if span[3]:  # not back within the horizon in a tenth of them
            assert days["high"] is None
        else:
            assert float(span[2]) == pytest.approx(days["high"], abs=0.5)
    for line in (note["headline"], note["message"].splitlines()[1]):
        assert re.findall(r"in (\d+) days?", line) == [told]
    document = front_document(note)
    rows = json.dumps([document.printed, document.screen], default=str, ensure_ascii=False)
    assert rows.count(text) >= 2
