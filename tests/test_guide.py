"""The season guide as data: on the demo, on a measured reservoir, and how it answers to change."""

import json
import re
from copy import deepcopy

import numpy as np
import pandas as pd
import pytest
from contradictions import guide_contradictions
from guide_helpers import beaverdam_club, numbers, short_demo
from pypdf import PdfReader

from lakekit.club import read_club
from lakekit.errors import ClubError
from lakekit.guide.season import late_spawn_text, season_guide
from lakekit.guide.words import season_months
from lakekit.inputs import ALLOW_OUTSIDE
from lakekit.pages.documents import season_document
from lakekit.pages.pdf import write_pdf
from lakekit.tactics.book import read_species


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = short_demo(tmp_path_factory.mktemp("club"))
    return folder, season_guide(read_club(folder), "quarry-hollow", "2026-05", 4)


def test_months_asked_for_are_the_months_given(demo):
    _, guide = demo
    assert [month["month"] for month in guide["months"]] == [
        "2026-05", "2026-06", "2026-07", "2026-08",
    ]  # fmt: skip
    json.dumps(guide, allow_nan=False)


def test_no_depth_of_a_guide_contradicts_another(demo):
    _, guide = demo
    assert any(month["places"] for month in guide["months"])
    assert list(guide_contradictions(guide)) == []


@pytest.mark.parametrize(
    ("spoil", "what"),
    [
        (lambda month: month["places"][0].update(depth=month["places"][0]["foot"] + 0.3), " at "),
        (lambda month: month["where"]["ladder"][0].update(depth=14.0), "14.0 is outside"),
        (lambda month: month["layered"].update(text="Mixed: layered 5 %."), "told as mixed"),
        (lambda month: month["depths"][1].update(median=9.0), "under a thermocline"),
        (lambda month: month["tactics"][0].update(water="ice"), "ice first"),
        (lambda month: month["tactics"][0]["setup_figures"].update(target=0.4), "is aimed at"),
    ],
)
def test_the_checker_of_guides_finds_each_contradiction(demo, spoil, what):
    guide = deepcopy(demo[1])
    spoil(guide["months"][2])
    found = list(guide_contradictions(guide))
    assert any(what in fault for fault in found)


def test_every_month_has_its_answers(demo):
    _, guide = demo
    for month in guide["months"]:
        assert month["headline"].endswith(".")
        assert month["tactics"]
        assert month["sun"]["text"]
        assert month["not_known"]
        assert month["cautions"]
        for card in month["tactics"]:
            assert card["top"] < card["bottom"]
            assert card["setup"]
            assert card["rank"] is None or card["value"] is not None
    july = guide["months"][2]
    assert july["layered"]["chance"] > 0.9
    assert 0 < july["depths"][0]["median"] < july["profile"]["bottom"]


def test_no_sentence_is_cut_in_print_and_no_unit_slips(demo, tmp_path):
    _, guide = demo
    reader = PdfReader(write_pdf(season_document(guide), tmp_path / "guide.pdf"))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "…" not in text
    reasons = guide["confidence"]["reasons"]
    told = " ".join([*guide["method"], *reasons, *(text for _, text in guide["evidence"])])
    assert not re.search(r"°C|metre|\d (m|cm)\b", told.replace("mg/L", ""))


def test_few_years_are_told_as_n_of_n(demo):
    _, guide = demo
    month = guide["months"][2]
    assert month["years"] < 10
    assert f"of {month['years']} years" in month["layered"]["text"]


def test_months_before_the_record_ends_are_hindcast(demo):
    """The month in which it ends says how far it is the lake's own."""
    _, guide = demo
    assert [month["basis"] for month in guide["months"]] == ["hindcast"] * 2 + ["odds"] * 2
    assert guide["months"][2]["basis_text"].startswith("Its own weather to 16 July, then odds")
    assert guide["months"][3]["basis_text"].startswith("Odds from")


@pytest.mark.parametrize(("last", "month"), [
    ("2026-03-31T23:00", "2026-04"), ("2026-03-25T05:00", "2026-04"),
    ("2026-03-21T05:00", "2026-03"), ("2026-12-30T12:00", "2027-01"),
])  # fmt: skip
def test_the_default_start_is_the_month_that_is_still_ahead(last, month):
    """That of the record's last day while ten days of it are left, else the next."""
    assert season_months(np.datetime64(last), None, 2)[0] == pd.Timestamp(month)


@pytest.mark.parametrize("start", ["2026-13", "spring", "26-5-1x"])
def test_a_month_that_cannot_be_read_is_refused(start):
    with pytest.raises(ClubError, match="not a month"):
        season_months(np.datetime64("2026-03-31T23:00"), start, 2)


@pytest.mark.parametrize("months", [0, 25])
def test_a_silly_number_of_months_is_refused(months):
    with pytest.raises(ClubError, match="months asked for"):
        season_months(np.datetime64("2026-03-31T23:00"), None, months)


def test_halving_the_clarity_changes_the_guide(demo):
    folder, guide = demo
    path = folder / "lakes" / "quarry-hollow.toml"
    text = path.read_text()
    line = next(row for row in text.splitlines() if row.startswith("secchi"))
    values = {"mar": "3 ft", "may": "4.5 ft", "jul": "3.5 ft", "sep": "3.2 ft", "nov": "3.5 ft"}
    half = "secchi = { " + ", ".join(f'{m} = "{v}"' for m, v in values.items()) + " }"
    try:
        path.write_text(text.replace(line, half))
        murky = season_guide(read_club(folder), "quarry-hollow", "2026-05", 4)
    finally:
        path.write_text(text)
    assert murky["months"][2]["light"]["midday"] == pytest.approx(
        guide["months"][2]["light"]["midday"] / 2, rel=0.1
    )
    # thermocline and mixed layer: less deep, if by nothing where casts of the month say how deep
    for number in (0, 1):
        clear, dim = (
            np.array([month["depths"][number]["median"] for month in g["months"]])
            for g in (guide, murky)
        )
        assert (dim <= clear).all() and (dim < clear)[2:].all() and np.mean(clear - dim) > 0.1


def test_a_reading_typed_in_changes_the_months_ahead_and_how_sure(demo):
    folder, guide = demo
    path, day = folder / "probe.csv", pd.Timestamp(guide["as_of"]) - pd.Timedelta("3D")
    july, august = (month["profile"] for month in guide["months"][2:])
    typed = 4.0 + 32.0 + 1.8 * np.interp(
        np.array([2, 6, 12]) * 0.3048, july["depth"], july["temperature"]["median"]
    )  # fmt: skip
    rows = [
        f"{day:%Y-%m-%d},10:00,Quarry Hollow Reservoir,{depth},{value:.1f}\n"
        for depth, value in zip((2, 6, 12), typed, strict=True)
    ]
    try:
        path.write_text("date,time,lake,depth_ft,temperature_F\n" + "".join(rows))
        told = season_guide(read_club(folder), "quarry-hollow", "2026-08", 1)
    finally:
        path.unlink()
    read = told["months"][0]["profile"]["temperature"]
    (low, middle, high), (low_before, middle_before, high_before) = (
        np.array([one[name] for name in ("low", "median", "high")], float)
        for one in (read, august["temperature"])
    )
    assert np.nanmax(np.abs(middle - middle_before)) > 0.2
    assert np.nanmean(high - low) < np.nanmean(high_before - low_before)
    sure, unsure = (" ".join(g["confidence"]["reasons"]) for g in (told, guide))
    assert "No probe readings" in unsure and "No probe readings" not in sure
    assert "lowered only once" in sure and "days old: new enough to go by" in sure
    # which reading moved what: found, computed, and by how much the water was moved
    found = re.search(
        rf"reading of {day.day} {day:%B} found (.+?) °F at \d+ ft where (.+?) °F was computed; "
        r"the water there was (warmed|cooled) by (.+?) °F", sure,
    )  # fmt: skip
    assert found, sure
    value, computed, by = (float(found.group(n)) for n in (1, 2, 4))
    assert found.group(3) == ("warmed" if value > computed else "cooled")
    assert 0.2 * abs(value - computed) < by <= abs(value - computed) + 0.2


def test_one_storm_more_changes_the_guide(demo):
    folder, _ = demo
    path = next((folder / "weather").glob("*.csv.gz"))
    before = path.read_bytes()
    club = read_club(folder)
    calm = season_guide(club, "quarry-hollow", "2025-07", 1)
    table = pd.read_csv(path)
    storm = table["time"].str.startswith("2025-07-0") & (
        table["time"].str[8:10].between("04", "06")
    )
    assert storm.sum() > 60
    try:
        table.loc[storm, "wind_ms"] = 15.0
        table.loc[storm, "air_temp_c"] -= 8.0
        table.to_csv(path, index=False)
        stormy = season_guide(club, "quarry-hollow", "2025-07", 1)
    finally:
        path.write_bytes(before)
    assert calm["months"][0]["basis"] == stormy["months"][0]["basis"] == "hindcast"
    assert np.nanmax(np.abs(numbers(calm) - numbers(stormy))) > 0.3
    deepest_mixed = [g["months"][0]["depths"][1]["high"] for g in (calm, stormy)]
    assert deepest_mixed[1] > deepest_mixed[0] + 1.0


def test_beaverdam_makes_a_whole_guide_without_a_log(observations, tmp_path, monkeypatch):
    monkeypatch.setenv(ALLOW_OUTSIDE, "1")  # the observations are read in place
    # Carey et al., Environmental Data Initiative 198, 200 and 1254; NLDAS-2 weather 2013-2016.
    club = read_club(beaverdam_club(tmp_path / "club", observations))
    guide = season_guide(club, "beaverdam", None, 12)
    assert len(guide["months"]) == 12
    assert list(guide_contradictions(guide)) == []
    assert guide["months"][0]["month"] == "2017-01"
    assert all(3 <= month["years"] <= 4 for month in guide["months"])
    july = guide["months"][6]
    assert july["month"] == "2017-07"
    assert f"of {july['years']} years" in july["layered"]["text"]
    assert all(card["rank"] is None for month in guide["months"] for card in month["tactics"])
    assert "No log" in july["log_text"]
    # measured casts of July 2014-2016 have their steepest step between 2 and 5 m
    assert 1.5 < july["depths"][0]["median"] < 6.0
    assert july["depths"][2]["median"] is not None


def test_a_lake_whose_weather_cannot_be_read_does_not_stop_the_others(tmp_path):
    folder = short_demo(tmp_path / "club", years=2, keep=("quarry-hollow", "teal-marsh"))
    good = next((folder / "weather").glob("*.csv.gz"))
    broken = folder / "weather" / "broken.csv"
    broken.write_text("time,air_temp_c\n2025-01-01 00:00,3\n")
    path = folder / "lakes" / "teal-marsh.toml"
    path.write_text(path.read_text().replace(good.name, broken.name))
    told = []
    guide = season_guide(read_club(folder), "quarry-hollow", "2026-04", 1, progress=told.append)
    assert any(line.startswith("teal-marsh: its trips count without") for line in told)
    assert any(card["rank"] for card in guide["months"][0]["tactics"])


@pytest.mark.parametrize(("warmest", "words"), [
    ((25.0, 27.0, 29.0), None), ((19.0, 21.0, 23.0), "in some years the water never passes 68 °F"),
    ((15.0, 17.0, 19.0), "in most years the water never passes 68 °F"),
    ((12.0, 14.0, 18.0), "in a middling year not at all"), ((10.0, 11.0, 12.0), "seldom"),
])  # fmt: skip
def test_a_spring_that_comes_late_or_never_warms_past_the_spawn_is_told_in_words(warmest, words):
    days = np.arange("2025-01-01", "2026-01-01", dtype="datetime64[D]")
    course = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(days.size) - 20) / 365)
    surface = np.array([1.0 + (top - 1.0) * course for top in warmest])
    told = late_spawn_text(days, surface, read_species()["white_crappie"], "us")
    assert told is None if words is None else words in told
