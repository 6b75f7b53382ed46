"""A lake's year by depth: what is drawn of it, where it ranks, and with one thing changed."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from season_helpers import invented_years
from weather_helpers import invented_lake

from lakekit.column.run import simulate
from lakekit.errors import ClubError
from lakekit.guide.year import differences, month_alt, rank_table, year_alt, year_ranks
from lakekit.pages.svg import svg_text
from lakekit.pages.year import _place_label, year_figure, years_figure
from lakekit.strata import stratification
from lakekit.tactics.book import find_species, read_species
from lakekit.waters import logged
from lakekit.waters import year as years
from lakekit.waters.knowledge import LakeWater
from lakekit.waters.logged import start_depths
from lakekit.weather import prepare_forcing


@pytest.fixture(scope="module")
def simulated():
    lake = invented_lake()
    forcing = prepare_forcing(invented_years("2019-01-01", "2021-01-01"), lake)
    return forcing, simulate(lake, forcing)


@pytest.fixture(scope="module")
def water(simulated):
    forcing, run = simulated
    return LakeWater(
        lake=invented_lake(), forcing=forcing, parameters=None, readings=0, log_readings=0,
        probe=None, moved=None, coverage=None,
        as_of=forcing["time"].values[-1], layers=stratification(run).isel(member=0), phases=None,
        species=None)  # fmt: skip


@pytest.fixture(scope="module")
def run(simulated):
    return years._daily(simulated[1]).isel(member=0)


@pytest.fixture(scope="module")
def drawn(water, run):
    readings = pd.DataFrame(
        {
            "lake": ["mill", "mill", "other"],
            "depth": [1.0, 4.0, 2.0],
            "time": pd.to_datetime(["2020-07-01 18:00", "2019-07-01 18:00", "2020-07-01 18:00"]),
        }
    )
    trips = pd.DataFrame(
        {
            "lake": "mill",
            "start": pd.to_datetime(["2020-06-01 12:00"] * 3),
            "fish": [4.0, 0.0, 2.0],
            "catch_depth": [3.0, 3.0, np.nan],
        }
    )
    return years.lake_year(water, 2020, run=run, readings=readings, trips=trips)


def test_a_year_is_its_own_days(water, drawn, run):
    assert drawn["temperature"].shape == (366, run.sizes["depth"])
    mean = run["water_temperature"].sel(time=slice("2020-07-08", "2020-07-12")).mean("time")
    assert drawn["temperature"][191] == pytest.approx(mean.to_numpy(), abs=1e-9)  # 10 July
    assert drawn["readings"] == [(182.75, 1.0)]  # this lake, this year
    assert drawn["catches"] == [(152.5, 3.0, 4.0)]  # with fish and a depth
    low, middle, high = drawn["thermocline"]
    known = np.isfinite(middle)
    assert 60 < known.sum() < 330
    assert (low[known] <= middle[known]).all()
    assert (middle[known] <= high[known]).all()
    assert all(0 <= day <= 366 and wind > 0 for day, wind in drawn["fronts"])


def test_the_last_whole_year_and_a_year_not_covered(water, run):
    assert years.last_whole_year(water) == 2020
    early = replace(water, as_of=np.datetime64("2020-12-30T20"))
    assert years.last_whole_year(early) == 2019
    with pytest.raises(ClubError, match=r"does not cover 2025.*It runs from 2019-01-01"):
        years.lake_year(water, 2025, run=run)


def test_measures_of_whole_years_only(water, run):
    table = years.year_measures(water, run)
    assert list(table.index) == [2019, 2020]
    surface = water.layers["surface_temperature"].to_series()["2020"]
    assert table.loc[2020, "warmest"] == pytest.approx(surface.rolling(7).mean().max(), abs=0.05)
    ice = run["ice_thickness"].to_series()["2020"]
    assert table.loc[2020, "ice_days"] == (ice >= 0.02).sum()
    july = years.month_layers(water, 7)
    assert list(july.index) == [2019, 2020]
    assert (july["low"] <= july["high"]).all()


def test_ranks_count_from_the_nearer_end():
    table = pd.DataFrame(
        {
            "onset": [90.0, 95, 100, np.nan],
            "warmest": [28.0, 29, 30, 31],
            "deepest": [5.0] * 4,
            "turnover": [300.0, 310, 305, 299],
            "ice_days": [10.0, 30, 30, 0],
        },
        index=[2018, 2019, 2020, 2021],
    )
    ranks = dict(year_ranks(table, 2020, units="metric"))
    assert ranks["Layers set up"] == "10 April; latest of 3 years"
    assert ranks["Warmest week at the surface"] == "30 °C; 2nd warmest of 4 years"
    assert ranks["Turnover"] == "1 November; 2nd latest of 4 years"
    assert ranks["Days of ice"] == "30 days; most of 4 years (shared)"
    assert ranks["Deepest thermocline"].startswith("not in this year, or in every year alike")
    assert dict(year_ranks(table, 2021))["Layers set up"].startswith("not in this year")


def test_drawings_say_what_they_show_and_come_out_alike(water, drawn):
    first, again = (svg_text(year_figure(drawn, units="metric", deepest=12.0)) for _ in range(2))
    assert first == again
    assert "Mill Pond in 2020" in year_alt(drawn)
    assert "readings: 1, catches at their depth: 1." in year_alt(drawn)
    airless = drawn | {"oxygen": np.full_like(drawn["oxygen"], 1.0)}
    words = "366 days with under 2 mg/L of oxygen at the bottom, 1 January to 31 December;"
    assert words in year_alt(airless)
    july = years.month_layers(water, 7)
    months = years_figure(july, "Mill Pond, July", deepest=10.0, mark=2020)
    assert svg_text(months).startswith("<svg")
    assert month_alt(july, "Mill Pond, July").startswith("Mill Pond, July, depth down. 2019: the")


def test_a_number_on_a_line_stands_in_the_water_and_clear_of_marks(drawn):
    frame = SimpleNamespace(left=0.0, right=400.0, top=0.0, bottom=200.0)
    x, level, placed = np.linspace(0.0, 400.0, 41), np.full(41, 100.0), []
    _place_label(frame, x, level, "50", placed, np.array([[20.0, 100.0], [30.0, 100.0]]), 150.0)
    assert placed == [(50.0, 100.0, "50")]  # the first at the left that is clear of both marks
    _place_label(frame, x, level + 48, "40", placed, np.empty((0, 2)), 150.0)
    assert len(placed) == 1  # too near the bed


def test_lakes_stand_side_by_side():
    years = [
        {"water": SimpleNamespace(lake=SimpleNamespace(name=name)), "year": {"year": 2025},
         "ranks": [("Turnover", day), ("Days of ice", "9 days")]}
        for name, day in (("Mill", "1 May"), ("Oak", "2 May"))
    ]  # fmt: skip
    head, rows = rank_table(years)
    assert head == ["", "Mill, 2025", "Oak, 2025"]
    assert rows == [["Turnover", "1 May", "2 May"], ["Days of ice", "9 days", "9 days"]]


@pytest.fixture
def club(monkeypatch):
    raw = invented_years("2019-01-01", "2021-01-01")
    monkeypatch.setattr(years, "lake_weather", lambda club, lake: raw)
    return SimpleNamespace()


@pytest.mark.parametrize("change", list(years.CHANGES))
def test_each_change_does_what_it_says(club, water, drawn, change):
    other, said = years.changed(club, water, change, years.CHANGES[change][1])
    assert said
    if change == "clarity":
        assert other.lake.secchi == pytest.approx(water.lake.secchi / 2, rel=1e-12)
    elif change == "level":
        assert other.lake.below_full_pond == pytest.approx(6 * 0.3048, rel=1e-12)
        lower = years.lake_year(other, 2020, run=years.changed_run(other, 2020))
        assert lower["bed"] == pytest.approx(drawn["bed"] - 6 * 0.3048, rel=1e-12)
        drawings = [svg_text(year_figure(drawn | {"bed": year["bed"]})) for year in (drawn, lower)]
        assert drawings[0] != drawings[1]
    elif change == "aerator":
        assert other.lake.flow.aerator_depth == pytest.approx(15 * 0.3048, rel=1e-12)
    else:
        more = (other.forcing["air_temperature"] - water.forcing["air_temperature"]).to_series()
        assert more.groupby(more.index.month).mean()[[2, 4, 6]].tolist() == pytest.approx(
            [0.0, 2.0, 0.0], abs=1e-9
        )
    assert (water.lake.flow, float(water.lake.secchi[0])) == (None, 1.0)  # the true one stays


def test_half_the_clarity_makes_a_colder_bottom(club, water, run, drawn):
    other, _ = years.changed(club, water, "clarity", "0.5")
    murky = years.changed_run(other, 2020)
    summer = {"time": slice("2020-07-01", "2020-08-31")}
    bottom = [r["water_temperature"].sel(summer).isel(depth=-1).mean() for r in (run, murky)]
    assert bottom[1] < bottom[0]
    after = years.lake_year(other, 2020, run=murky)
    rows = {name: told for name, *told in differences(drawn, after, units="metric")}
    assert [text[-2:] for text in rows["Bottom, July and August"]] == ["°C", "°C"]


@pytest.mark.parametrize(
    ("change", "amount", "words"),
    [
        ("colour", "1", "no change 'colour'"),
        ("clarity", "murky", "cannot be read"),
        ("clarity", "50", "out of range"),
        ("level", "60 ft", "out of range"),
        ("spring", "2", "cannot be read"),
        ("aerator", "deep", "cannot be read"),
    ],
)
def test_a_change_that_cannot_be_made_says_so(club, water, change, amount, words):
    with pytest.raises(ClubError, match=words):
        years.changed(club, water, change, amount)


def test_the_start_depth_of_a_logs_days(water, run, monkeypatch):
    monkeypatch.setattr(logged, "whole_run", lambda _: run)
    days = pd.DatetimeIndex(water.layers["time"].values).normalize()
    known = replace(
        water, species=find_species("white crappie", read_species()),
        phases=pd.Series("summer", days),
    )  # fmt: skip
    starts = ["2020-07-10 14:00", "2020-07-10 17:00", "2018-07-10 17:00", "2020-04-02 17:00"]
    rows = pd.DataFrame({"start": pd.to_datetime(starts)}, index=[7, 8, 9, 10])
    found = start_depths(known, rows)
    assert found[7] == found[8]
    assert np.isnan(found[9])  # before the record
    floor = float(known.layers["oxygen_floor_depth"].sel(time="2020-07-10").squeeze())
    assert 0 < found[7] <= (floor if np.isfinite(floor) else known.lake.max_depth)
    assert found[10] > 0
