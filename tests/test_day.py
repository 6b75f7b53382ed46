"""The day card: from the day's own weather, from a forecast, or from odds; on one half sheet."""

import json
from types import SimpleNamespace

import jsonschema
import numpy as np
import pandas as pd
import pytest
from guide_helpers import short_demo
from pypdf import PdfReader

from lakekit.cli.main import main
from lakekit.club import read_club
from lakekit.errors import ClubError
from lakekit.guide.day import (
    _wind_from,
    day_card,
    day_of,
    fallback_text,
    moon_text,
    readings_to_take,
)
from lakekit.guide.schema import DayCard
from lakekit.pages.json_schema import json_schema
from lakekit.pages.reports import write_day
from lakekit.waters.knowledge import gather

COVER = """lake,kind,top_ft,foot_ft,name
quarry-hollow,brush,6,16,old tree
quarry-hollow,stumps,40,45,too deep
"""


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    folder = short_demo(tmp_path_factory.mktemp("club"), years=2)
    (folder / "cover.csv").write_text(COVER)
    return read_club(folder)


@pytest.fixture(scope="module")
def knowledge(club):
    return gather(club, "quarry-hollow")


@pytest.fixture(scope="module")
def past(club, knowledge):
    return day_card(club, "quarry-hollow", "2025-07-12", knowledge=knowledge)


def test_a_day_of_the_record_is_its_own(past, knowledge):
    assert past["basis"] == "hindcast"
    jsonschema.validate(past, json_schema(DayCard))
    json.dumps(past, allow_nan=False)
    assert 0 < past["where"]["start"] < 15.0
    at = knowledge.layers.sel(time="2025-07-12", method="nearest")
    thermocline = next(text for label, text in past["water"] if label == "Thermocline")
    feet = float(thermocline.split()[0])
    assert feet == pytest.approx(float(at["lasting_thermocline_depth"]) / 0.3048, abs=8)


def test_start_ladder_and_two_set_ups_agree(past):
    start = past["where"]["start"]
    assert past["where"]["top"] <= start <= past["where"]["bottom"]
    assert f"Start at {past['where']['start_text']}" in past["headline"]
    assert len(past["tactics"]) >= 2
    assert len({card["water"] for card in past["tactics"]}) == 1
    for rung in past["where"]["ladder"]:
        assert rung["text"] in past["headline"]
        assert rung["text"] in past["fallback"]


def test_what_stands_at_the_start_depth_is_named(past):
    told = " ".join(place["text"] for place in past["places"])
    assert "old tree" in told
    assert "too deep" not in told


def test_hours_hazards_readings_and_rows_to_log(past):
    assert {label for label, _ in past["hours"]} == {"Sun", "Moon", "Best hours"}
    assert "common practice" in past["hours"][2][1]
    assert past["hazards"][-1].startswith("These are cautions and no verdict")
    assert [label for label, _ in past["rules"]][:3] == ["Closures", "Limits", "Rods"]
    assert len(past["readings"]) == 4
    assert {box["header"] for box in past["log"]["boxes"]} >= {"tactic", "fish"}


def test_the_day_after_the_record_has_its_last_water_under_past_years_weather(club, knowledge):
    card = day_card(club, "quarry-hollow", None, knowledge=knowledge)
    assert (card["date"], card["basis"]) == ("2026-07-17", "recent")
    assert "the water of 16 July, carried on under past years' weather" in card["basis_text"]
    jsonschema.validate(card, json_schema(DayCard))


def test_a_day_beyond_the_record_is_told_by_odds_and_says_so(club, knowledge):
    card = day_card(club, "quarry-hollow", "2026-07-20", knowledge=knowledge)
    assert card["basis"] == "odds"
    assert "the odds of 16–31 Jul" in card["basis_text"]
    jsonschema.validate(card, json_schema(DayCard))


def test_a_forecast_carries_the_card_past_the_record(club, knowledge):
    last = pd.Timestamp(knowledge.as_of)
    coming = knowledge.forcing.isel(time=slice(-96, None))
    times = last + pd.to_timedelta(np.arange(1, 97), unit="h")
    forecast = coming.assign_coords(time=times.to_numpy())
    day = f"{last + pd.Timedelta(days=2):%Y-%m-%d}"
    card = day_card(club, "quarry-hollow", day, knowledge=knowledge, forecast=forecast)
    assert (card["basis"], card["basis_text"]) == ("forecast", "Computed from a forecast")
    far = f"{last + pd.Timedelta(days=20):%Y-%m-%d}"
    late = day_card(club, "quarry-hollow", far, knowledge=knowledge, forecast=forecast)
    assert late["basis"] == "odds"


def test_it_prints_on_one_half_sheet(past, tmp_path):
    paths = write_day(past, tmp_path)
    assert [path.suffix for path in paths] == [".pdf", ".html", ".json"]
    reader = PdfReader(paths[0])
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((396.0, 612.0), abs=0.01)
    text = " ".join(reader.pages[0].extract_text().split())
    assert past["fallback"] in text
    assert past["tactics"][0]["setup"].split(":")[0] in text
    assert "…" not in text


def test_rows_to_log_give_way_and_no_caution_or_rule(past, tmp_path):
    many = [f"Caution {number}: keep clear of the {number} old stumps in the cove." for number in
            range(20)]  # fmt: skip
    rules = [["Closures", "No boats in the north arm, 1 October to 15 January"], *past["rules"][1:]]
    card = past | {"hazards": many, "rules": rules}
    reader = PdfReader(write_day(card, tmp_path)[0])
    assert len(reader.pages) == 1
    text = " ".join(reader.pages[0].extract_text().split())
    for words in [*many, *(said for _, said in rules)]:
        assert words in text
    assert "more in the web page" not in text
    plain = PdfReader(write_day(past, tmp_path)[0]).pages[0].extract_text()
    assert all(said in " ".join(plain.split()) for said in past["hazards"])


@pytest.mark.parametrize("word", ["2025-13-01", "tomorrow", "1200-01-01"])
def test_a_date_that_is_none_is_refused(word):
    with pytest.raises(ClubError, match="not a date"):
        day_of(word)


def test_the_command_refuses_a_bad_date_before_any_work(club, capsys):
    assert main(["day", "quarry-hollow", "--date", "x", "--club", str(club.folder)]) == 2
    assert "is not a date" in capsys.readouterr().err


def test_the_days_wind_tells_lee_from_windward(club, knowledge):
    hours = knowledge.forcing.sizes["time"]
    westerly = knowledge.forcing.assign(wind_direction=("time", np.full(hours, 270.0)))
    noon = pd.Timestamp("2025-07-12 18:00")
    assert _wind_from(westerly, noon) == pytest.approx(270.0)
    turning = westerly.assign(wind_direction=("time", np.arange(hours) * 97.0 % 360))
    assert _wind_from(turning, noon) is None
    assert _wind_from(knowledge.forcing.drop_vars("wind_direction", errors="ignore"), noon) is None


def test_a_moon_without_a_rise_on_the_day_has_been_up_since_the_day_before():
    rise, down = pd.Timestamp("2026-10-03 09:36"), pd.Timestamp("2026-10-03 14:56")
    assert moon_text(rise, down) == "up 09:36, down 14:56"
    assert moon_text(None, down) == "up since the day before, down 14:56"
    assert moon_text(rise, None) == "up 09:36, down after midnight"
    assert moon_text(None, None) == "neither rises nor sets"


def test_oxygen_is_asked_for_where_it_should_run_short():
    holding = SimpleNamespace(start=3.0)
    short = SimpleNamespace(holding=holding, met={"oxygen_floor_depth": 12.0})
    # 3 m above 12 m is 29.5 ft
    assert "Oxygen every 3 ft from 30 ft down, where it runs low" in readings_to_take(short, "us")
    shallow = SimpleNamespace(holding=holding, met={"oxygen_floor_depth": 1.0})
    assert any("from 0.0 m down" in row for row in readings_to_take(shallow, "metric"))
    enough = SimpleNamespace(holding=holding, met={"oxygen_floor_depth": np.nan})
    assert "Oxygen at 10 ft and just off the bottom" in readings_to_take(enough, "us")


def test_a_card_says_when_the_log_is_too_thin_for_its_order(club):
    lake = club.lakes["quarry-hollow"]
    part = SimpleNamespace(holding=SimpleNamespace(ladder=[]))

    def said(**first):
        return fallback_text(part, [first], lake, pd.Timestamp("2026-07-17"), "us")

    assert "too thin" in said(sure=False, rank=1)
    assert "too thin" not in said(sure=True, rank=1) + said(sure=False, rank=None)
