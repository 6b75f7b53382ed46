"""A storm that has not come: its words, what they do to the weather, and its note."""

import numpy as np
import pandas as pd
import pytest
from front_helpers import LAKE, ending, short_club

from lakekit.errors import ClubError
from lakekit.fronts.what_if import (
    checked_storm,
    storm_front,
    what_if_storm,
    with_storm,
)
from lakekit.guide.front.note import front_note
from lakekit.guide.front.words import storm_text
from lakekit.pages.reports import write_front
from lakekit.strata.traces import HOUR

LAST = "2025-07-10T23:00"  # a calm week of the demo, well layered


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    club, knowledge = short_club(tmp_path_factory)
    return club, ending(knowledge, LAST)


def test_words_with_units_become_si():
    storm = what_if_storm(wind="25 mph", hours=12, air="55 F", rain="2 in")
    assert storm["wind"] == pytest.approx(11.176, abs=1e-9)  # exact: 25 x 0.44704 m/s
    assert storm["air"] == pytest.approx(115 / 9, abs=1e-9)
    assert storm["rain"] == pytest.approx(50.8, abs=1e-9)
    assert storm["hours"] == 12.0
    assert what_if_storm(wind="10 m/s", hours="6")["air"] is None


def test_nothing_asked_for_is_no_storm():
    assert what_if_storm() is None
    assert what_if_storm(wind="", hours="") is None
    assert checked_storm({}) is None
    assert checked_storm(None) is None


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"wind": "25 mph"}, "needs its hours"),
        ({"rain": "2 in"}, "needs its hours beside its rain"),
        ({"hours": 12}, "needs wind, air or rain"),
        ({"wind": "fast", "hours": 12}, "is not a speed"),
        ({"wind": "25 lb", "hours": 12}, "not a unit of speed"),
        ({"wind": "200 mph", "hours": 12}, "out of range: a storm's wind may be 1.1 to 100 mph"),
        ({"wind": "25 mph", "hours": 100}, "not a number of hours from 1 to 96"),
        ({"air": "155 F", "hours": 12}, "out of range"),
        ({"rain": "-1 in", "hours": 12}, "out of range"),
        ({"wind": "25 mph", "hours": "long"}, "not a number of hours"),
        ({"wind": "25 mph", "hours": 0}, "not a number of hours"),
        ({"wind": "25 mph", "hours": float("nan")}, "not a number of hours"),
        ({"wind": "25 mph", "hours": 2000}, "not a number of hours"),
    ],
)
def test_bad_storms_are_one_message(options, what):
    with pytest.raises(ClubError, match=what) as caught:
        what_if_storm(**options)
    assert "--" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_notebook_may_give_words_or_what_was_read():
    words = {"wind": "25 mph", "hours": 12, "rain": "2 in"}
    read = checked_storm(words)
    assert read == what_if_storm(**words)
    assert checked_storm(read) == read
    with pytest.raises(ClubError, match="no 'gust'"):
        checked_storm({"gust": "40 mph", "hours": 3})


def test_the_storm_lies_over_its_hours_and_the_air_goes_back(known):
    _, knowledge = known
    weather = knowledge.forcing.isel(time=slice(-96, None))
    storm = what_if_storm(wind="15 m/s", hours=6, air="10 C", rain="30 mm")
    front = storm_front(storm, weather["time"].values[9])
    after = with_storm(weather, front, storm)
    inside = slice(10, 16)
    assert (after["wind_speed"][inside] == 15.0).all()
    assert (after["air_temperature"][inside] == 10.0).all()
    assert float(after["precipitation"][inside].sum()) == pytest.approx(30.0, abs=1e-9)
    for name in ("wind_speed", "precipitation"):
        np.testing.assert_array_equal(after[name][16:], weather[name][16:])
    moved = after["air_temperature"] - weather["air_temperature"]
    share = moved[16:40] / (10.0 - weather["air_temperature"][16:40])
    assert (np.diff(share) < 0).all()
    np.testing.assert_array_equal(moved[40:], 0.0)
    np.testing.assert_array_equal(moved[:10], 0.0)
    still = with_storm(weather, front, storm, wind=False, cooling=False)
    np.testing.assert_array_equal(still["wind_speed"], weather["wind_speed"])
    np.testing.assert_array_equal(still["air_temperature"], weather["air_temperature"])


def test_the_storm_begins_with_the_hour_after_the_last():
    front = storm_front(what_if_storm(wind="10 m/s", hours=12), "2025-07-10T23:00")
    assert front["start"] == pd.Timestamp("2025-07-11T00:00")
    assert front["end"] - front["start"] == 12 * HOUR
    assert front["rain"] == 0.0


def test_storm_words():
    storm = what_if_storm(wind="25 mph", hours=12, air="55 F", rain="2 in")
    assert storm_text(storm, "us") == "12 hours of wind of 25 mph, air at 55 °F, 2.0 in of rain"
    assert "11 m/s" in storm_text(storm, "metric")


def mixed_depth(note):
    return note["after"]["depths"][1]["median"]


def test_a_stronger_storm_does_more(known):
    club, knowledge = known
    weak = front_note(club, LAKE, storm={"wind": "3 m/s", "hours": 12}, knowledge=knowledge)
    storm = {"wind": "18 m/s", "hours": 30, "air": "12 C", "rain": "60 mm"}
    strong = front_note(club, LAKE, storm=storm, knowledge=knowledge)
    assert mixed_depth(strong) > mixed_depth(weak) + 1.0
    assert strong["after"]["surface"]["median"] < weak["after"]["surface"]["median"] - 1.0
    assert strong["broke_chance"] >= weak["broke_chance"]
    assert strong["title"].startswith("What if: 18 m/s") or "40 mph" in strong["title"]
    assert "would" in strong["headline"]
    assert strong["before"]["label"].startswith("Now: ")
    assert strong["plan_title"] == "The plan if it comes, the day after"
    causes = strong["storm"]["causes"]
    assert causes["wind"] + causes["cooling"] == pytest.approx(1.0, abs=1e-9)
    assert any(text.startswith("In such a storm") for text in strong["hazards"])
    assert ["Muddy inflow"] == [row[0] for row in strong["not_known"] if row[0] == "Muddy inflow"]


def test_wind_alone_is_told_as_wind_and_no_plan_for_its_own_night(known):
    club, knowledge = known
    note = front_note(club, LAKE, storm={"wind": "18 m/s", "hours": 30}, knowledge=knowledge)
    end = pd.Timestamp(note["storm"]["end"])
    ashore = [day["ashore"] for day in note["days"]]
    assert ashore[0] and not ashore[-1]
    for day, row in zip(note["days"], note["day_table"][1:], strict=True):
        assert day["ashore"] == (pd.Timestamp(day["time"]) < end + pd.Timedelta(hours=3))
        if day["ashore"]:
            assert (day["start_depth"], day["tactic"], day["set_up"]) == (None, None, None)
            assert row[1:3] == ["stay ashore", "none"] and "start at" not in day["text"]
        else:
            assert row[1] != "stay ashore"
    assert "tay ashore till it is over; start at" in note["headline"]
    assert not any("tonight" in text for _, text in note["day_rows"])
    assert note["hazards"][0].startswith("In such a storm stay ashore")
    assert note["storm"]["causes"]["wind"] == pytest.approx(1.0, abs=1e-9)
    assert "Wind did nearly all of the work" in note["storm"]["text"]


def test_a_what_if_never_overwrites_the_real_note(known, tmp_path):
    club, knowledge = known
    note = front_note(club, LAKE, storm={"wind": "10 m/s", "hours": 12}, knowledge=knowledge)
    names = {path.name for path in write_front(note, tmp_path)}
    assert names == {
        f"quarry-hollow-front-2025-07-10-what-if.{suffix}"
        for suffix in ("pdf", "html", "txt", "json")
    }
