"""Patterns as sentences: told ones with their evidence, the rest with their power."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from log_helpers import make_club
from test_patterns import log_and_values

from lakekit.errors import TripsError, WeatherError
from lakekit.guide.log.patterns import (
    after_front,
    candidate_table,
    in_club_units,
    log_patterns,
)
from lakekit.pages.log_figures import pattern_alt, pattern_figure
from lakekit.pages.svg import svg_text
from lakekit.trips.patterns.candidates import CANDIDATES


def club_log(trips, *, units="us", missing=""):
    return SimpleNamespace(
        club=make_club(units=units), trips=trips, waters={}, missing=missing, path=Path("trips.csv")
    )


@pytest.fixture(scope="module")
def found():
    trips, values = log_and_values(160, strength=1.2)
    values["wind_speed"] = values["wind_speed"] + 4.0
    return log_patterns(club_log(trips), values=values)


def test_a_told_pattern_is_a_sentence_a_picture_and_its_evidence(found):
    told = found["told"][0]
    assert len(found["told"]) == 1
    assert told["sentence"].startswith("The catch goes with the wind: about ")
    assert "mph" in told["sentence"]
    assert "Known on 160 outings" in told["evidence"]
    assert told["unit"] == "mph"
    # 4 m/s is 8.9 mph; the curve spans what the log saw
    assert min(told["curve"]["value"]) < 4 / 0.44704 < max(told["curve"]["value"])
    assert len(told["curve"]["outings"]) == 160
    drawings = {svg_text(pattern_figure(told)) for _ in range(2)}
    assert len(drawings) == 1
    assert told["sentence"] in pattern_alt(told)


def test_the_rest_say_how_surely_they_would_have_been_found(found):
    rest = {item["name"]: item["sentence"] for item in found["rest"]}
    assert len(rest) == len(CANDIDATES) - 1
    assert (
        "no pattern found in 160 outings; one that doubles the rate would have been" in rest["moon"]
    )
    assert rest["sun_height"] == "The height of the sun: not asked, known on 0 outings only."
    for item in found["rest"]:
        assert item["sentence"] == f"{item['words']}: {item['answer']}."
    assert "What a pattern cannot show" in found["lines"]
    # in print those alike share a line, and each stands in one
    first, end = map(found["lines"].index, ("Not found", "What a pattern cannot show"))
    printed = " ".join(found["lines"][first + 1 : end])
    assert len(printed) < sum(len(item["sentence"]) for item in found["rest"])
    for item in found["rest"]:
        assert printed.lower().count(item["words"].lower()) == 1


def test_what_was_known_at_the_rows_in_the_clubs_units():
    values = pd.DataFrame({"lit_depth": [0.0, 0.1, 3.048, np.nan], "wind_speed": [0.0] * 4,
                           "clarity": [np.nan] * 4})  # fmt: skip
    head, (lit, wind, clarity) = candidate_table(values, "us")
    assert head == ["", "rows", "least", "middle", "most"]
    assert lit == ["The depth that light reaches", "3", "0 ft", "0.3 ft", "10 ft"]
    assert wind[1:] == ["4", "0 mph", "0 mph", "0 mph"]
    assert clarity[1:] == ["0", "", "", ""]


def test_values_in_the_clubs_units():
    assert in_club_units("surface_temperature", 20.0, "us") == (68.0, "°F")
    # a difference has no freezing point
    assert in_club_units("surface_temperature_change", 5.0, "us") == (9.0, "°F")
    assert in_club_units("surface_temperature_change", 5.0, "metric") == (5.0, "°C")
    value, unit = in_club_units("lit_depth", np.array([3.048]), "us")
    assert (value.tolist(), unit) == (pytest.approx([10.0], abs=1e-9), "ft")
    assert in_club_units("days_since_front", 2.0, "us") == (2.0, "days")


def test_nothing_to_ask_says_so():
    with pytest.raises(WeatherError, match="no weather yet"):
        log_patterns(club_log(pd.DataFrame(), missing="no weather yet"))
    trips, values = log_and_values(30)
    with pytest.raises(TripsError, match="no usable row"):
        log_patterns(club_log(trips), "oak", values=values)


def told(name, *, best, worst):
    contrast = {"best": best, "worst": worst, "ratio": 1.8, "low": 1.4, "high": 2.2}
    return SimpleNamespace(name=name, words=f"{name} in words", contrast=contrast)


def test_a_front_note_says_what_the_log_knows_of_fronts_alone():
    calm = told("front_strength", best=0.0, worst=10.73)  # 10.73 m/s is 24 mph
    blow = told("front_strength", best=10.73, worst=0.0)
    late = told("days_since_front", best=6.0, worst=1.0)

    def said(*patterns):
        return after_front(SimpleNamespace(told=patterns), "us")

    ((label, text),) = said(calm, told("wind_speed", best=1.0, worst=5.0))
    assert label == "Your log"
    assert text.startswith("expect fewer fish")
    assert "with no front as after 24 mph (8 in 10: 1.4 to 2.2)" in text
    assert said(blow)[0][1].startswith("expect more fish")
    assert said(late)[0][1].startswith("expect fewer fish")
    assert "6.0 days after a front as 1.0 days after a front" in said(late)[0][1]
    assert said() == after_front(None, "us") == []
