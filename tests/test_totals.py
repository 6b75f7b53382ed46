"""Depth of the fish relative to the water: recovery, borrowing, and the published pattern."""

import numpy as np
import pandas as pd
import pytest

from lakekit.trips import fish_depths
from lakekit.trips.totals import rates_by


def joined(count, *, seed=0, phase="summer", above_floor=0.6, spread=0.4):
    random = np.random.default_rng(seed)
    thermocline = random.uniform(3, 6, count)
    floor = thermocline + random.uniform(0.5, 3, count)
    depth = floor - above_floor - random.normal(0, spread, count)
    return pd.DataFrame({
        "trip": [f"{phase} {number}" for number in range(count)], "phase": phase,
        "fish": 1.0 + random.poisson(2, count), "catch_depth": depth,
        "water_depth": random.uniform(7, 12, count), "thermocline_depth": thermocline,
        "oxygen_floor_depth": floor, "place": "cover",
    })


def test_the_reference_that_the_fish_keep_to_is_found():
    table = fish_depths(joined(60))
    best = table[(table["phase"] == "summer") & table["tightest"]].iloc[0]
    assert best["reference"] == "oxygen floor"
    assert best["centre"] == pytest.approx(0.6, abs=0.15)
    # 80 % of a normal with a spread of 0.4 m lies within 0.51 m of its middle
    assert best["high"] - best["centre"] == pytest.approx(0.51, abs=0.15)
    assert best["cover_share"] == 1.0
    assert "above the oxygen-poor water" in best["sentence"]


def test_eighty_percent_of_further_outings_fall_inside():
    inside = []
    for seed in range(60):
        table = fish_depths(joined(12, seed=seed))
        row = table[(table["phase"] == "summer") & (table["reference"] == "oxygen floor")].iloc[0]
        new = np.random.default_rng(1000 + seed).normal(0.6, 0.4, 200)
        inside.append(((row["low"] <= new) & (new <= row["high"])).mean())
    assert 0.74 < np.mean(inside) < 0.86


def test_a_phase_with_one_outing_borrows_from_the_rest():
    logs = pd.concat([joined(30), joined(1, seed=3, phase="fall", above_floor=3.0, spread=0.0)])
    table = fish_depths(logs).set_index(["phase", "reference"])
    fall = table.loc[("fall", "oxygen floor")]
    assert 0.6 < fall["centre"] < 2.0
    assert fall["own_share"] == pytest.approx(0.25)
    assert fall["high"] - fall["low"] > (table.loc[("summer", "oxygen floor"), "high"]
                                         - table.loc[("summer", "oxygen floor"), "low"])


def test_few_depths_fall_back_on_the_published_pattern():
    for logs in (joined(4), joined(0)):
        table = fish_depths(logs)
        assert table.attrs["source"] == "published pattern"
        assert "just above the oxygen-poor water" in table["sentence"].iloc[0]
        assert "From published work" in table["sentence"].iloc[0]
        assert table[["centre", "low", "high"]].isna().all(axis=None)
        assert any("SEAFWA 1974" in source for source in table.attrs["references"])


def test_rows_without_fish_or_depth_say_nothing_and_an_outing_votes_once():
    logs = joined(10)
    blank = logs.assign(fish=0.0, catch_depth=0.0, trip="blank")
    unknown = logs.assign(catch_depth=np.nan, trip="unknown")
    table = fish_depths(pd.concat([logs, blank, unknown]))
    pd.testing.assert_frame_equal(table, fish_depths(logs))
    twice = pd.concat([logs, logs[logs["trip"] == "summer 0"]])
    pd.testing.assert_frame_equal(fish_depths(twice), fish_depths(logs))


def test_without_layers_the_bottom_and_the_surface_remain():
    logs = joined(12).assign(thermocline_depth=np.nan, oxygen_floor_depth=np.nan)
    table = fish_depths(logs, units="metric")
    assert set(table["reference"]) == {"bottom", "surface"}
    assert " m above the bottom" in table[table["reference"] == "bottom"]["sentence"].iloc[0]


def test_rates_in_equal_parts_of_the_rows():
    trips = pd.DataFrame({"hours": [1.0, 2.0, 2.0, 4.0, 9.0], "fish": [1.0, 1.0, 4.0, 1.0, 9.0]})
    values = pd.Series([0.5, 1.0, 2.0, 3.0, np.nan])
    table = rates_by(trips, values, parts=2)
    assert table["hours"].tolist() == [3.0, 6.0]  # the row without a value is left out
    assert table["fish_per_hour"].tolist() == [0.67, 0.83]
    assert len(rates_by(trips, pd.Series([0.0, 0, 0, 0, 1]), parts=4)) == 1
