"""Probe readings as the fit sees them: metres averaged, errors shared, mistakes named."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from column_lakes import small_lake, weather

from lakekit.column.readings import (
    check_readings,
    error_covariance,
    lake_readings,
    predictions,
    scored,
)
from lakekit.errors import ProbeError

LAKE = small_lake()  # 5 m deep
FORCING = weather(24 * 200)
NOON = pd.Timestamp("2001-06-01T18:00")


def probe(depth, temperature, **columns):
    size = len(depth)
    return pd.DataFrame(
        {"time": columns.pop("time", [NOON] * size), "depth": depth, "temperature": temperature}
        | columns
    )


def test_readings_of_one_metre_are_one_and_the_slope_is_that_around_it():
    casts = probe([1.6, 0.2, 0.8, 1.2, 2.5], [16.0, 20.0, 18.0, 17.0, 12.0])
    table = lake_readings(LAKE, casts, FORCING)
    np.testing.assert_allclose(table["depth"], [0.5, 1.4, 2.5])
    np.testing.assert_allclose(table["value"], [19.0, 16.5, 12.0])
    # within a metre of 0.5 m: 20 to 17 over 1 m; of 1.4 m: 18 to 16 over 0.8 m; of 2.5 m: 16 to
    # 12 over 0.9 m
    np.testing.assert_allclose(table["slope"], [3.0, 2.0 / 0.8, 4.0 / 0.9])
    assert table["row"].tolist() == [3, 5, 6]  # rows of the file, its names being the first
    assert [list(depths) for depths in table["depths"]] == [[0.2, 0.8], [1.2, 1.6], [2.5]]
    assert (table["error"] == 0.0).all() and (table["cast"] == 0).all()


def test_readings_a_hand_apart_tell_no_slope():
    for apart, slope in ((0.25, 0.0), (0.5, 4.0)):
        table = lake_readings(LAKE, probe([1.1, 1.1 + apart], [18.0, 16.0]), FORCING)
        assert table["slope"].tolist() == [pytest.approx(slope)]


def test_what_the_reader_adds_to_an_error_is_the_least_of_its_metre():
    casts = probe([0.2, 0.8, 1.5], [20.0, 19.0, 18.0], error=[1.5, 0.5, 0.0], row=[7, 8, 9])
    table = lake_readings(LAKE, casts, FORCING)
    assert table["error"].tolist() == [0.5, 0.0] and table["row"].tolist() == [7, 9]


def test_casts_kinds_and_clarity_are_apart():
    later = NOON + pd.Timedelta(days=3)
    casts = probe(
        [0.5, 2.5, 0.5], [20.0, np.nan, 21.0], time=[NOON, NOON, later],
        oxygen=[9.0, 6.0, np.nan], secchi=[1.0, 4.0, np.nan],
    )  # fmt: skip
    table = lake_readings(LAKE, casts, FORCING)
    assert list(zip(table["cast"], table["kind"], table["depth"], strict=True)) == [
        (0, "temperature", 0.5), (0, "oxygen", 0.5), (0, "oxygen", 2.5), (0, "clarity", 0.0),
        (1, "temperature", 0.5),
    ]  # fmt: skip
    assert table["value"][3] == pytest.approx(np.log(2.0))  # of 1 and 4 m, by their logarithms


@pytest.mark.parametrize(("hours", "kept"), [(0, True), (-1, False), (4800, True), (4801, False)])
def test_readings_within_the_weather_are_kept(hours, kept):
    when = pd.Timestamp("2001-01-01") + pd.Timedelta(hours=hours)
    casts = probe([0.5, 0.5], [4.0, 4.0], time=[NOON, when])
    assert len(lake_readings(LAKE, casts, FORCING)) == 1 + kept


def test_a_metre_below_the_bottom_is_borne_and_feet_are_named():
    assert len(lake_readings(LAKE, probe([6.0], [10.0]), FORCING)) == 1
    with pytest.raises(ProbeError, match=r"1 of 2 depths .*first in row 3") as caught:
        lake_readings(LAKE, probe([1.0, 6.1], [20.0, 10.0]), FORCING)
    assert "depth_ft" in str(caught.value)  # 6.1 ft would fit
    with pytest.raises(ProbeError, match="max_depth"):
        lake_readings(LAKE, probe([1.0, 20.0], [20.0, 10.0]), FORCING)  # nor would 20 ft


def test_errors_are_shared_over_two_metres_and_sixty_days():
    table = lake_readings(
        LAKE,
        probe([0.5, 2.5, 0.5], [20.0, 20.0, 21.0], time=[NOON, NOON, NOON + pd.Timedelta("30D")],
              oxygen=[9.0, np.nan, np.nan], error=[0.0, 0.4, 0.0]),
        FORCING,
    )  # fmt: skip
    assert table["kind"].tolist() == ["temperature", "temperature", "oxygen", "temperature"]
    found = error_covariance(table)
    # the column misses by 1 degC and 1.3 mg/L; the probe by 0.3 degC and 0.4 mg/L, and by what
    # the reader adds; no slope here
    own = [1 + 0.09, 1 + 0.09 + 0.16, 1.69 + 0.16, 1 + 0.09]
    np.testing.assert_allclose(np.diag(found), own, rtol=1e-12)
    assert found[0, 1] == pytest.approx(np.exp(-1.0))
    assert found[0, 3] == pytest.approx(np.exp(-0.5))
    assert found[1, 3] == pytest.approx(np.exp(-1.5))
    assert found[0, 2] == 0.0
    steep = error_covariance(table.assign(slope=[4.0, 0.0, 0.0, 0.0]))
    # half a metre where it cools by 4 degC a metre: 2 degC beside 1
    assert steep[0, 0] == pytest.approx(1 + 4 + 0.09)


def run_of(temperature, oxygen, depth=(1.0, 2.0, 3.0)):
    times = NOON + pd.to_timedelta([0, 24], unit="h")
    dims = ("member", "time", "depth")
    return xr.Dataset(
        {"water_temperature": (dims, np.asarray(temperature, float)),
         "dissolved_oxygen": (dims, np.asarray(oxygen, float))},
        coords={"time": times, "depth": list(depth)},
    )  # fmt: skip


def test_a_run_is_read_at_the_readings_depths_and_nearest_hour():
    run = run_of(
        [[[20, 16, np.nan], [22, 18, np.nan]]], [[[9, 5, np.nan], [8, 4, np.nan]]]
    )  # fmt: skip
    times = [NOON + pd.Timedelta(hours=h) for h in (11, 11, 13, 13)]
    casts = probe(
        [1.25, 1.75, 1.25, 2.9], [0.0] * 4, time=times, oxygen=[0.0, np.nan, np.nan, np.nan]
    )
    table = lake_readings(LAKE, casts, FORCING)
    found = predictions(run, table)[0]
    # 19 and 17 averaged; 8 mg/L; a day later 21, and the lowest water there is
    np.testing.assert_allclose(found, [18.0, 8.0, 21.0, 18.0])


def test_a_score_is_of_temperature_where_there_is_any():
    table = pd.DataFrame({"kind": ["temperature", "oxygen", "temperature"], "value": [10, 5, 12]})
    assert scored(table, np.array([13.0, 50.0, 8.0])) == pytest.approx(np.sqrt((9 + 16) / 2))
    gas = table[table["kind"] == "oxygen"]
    assert scored(gas, np.array([7.0])) == pytest.approx(2.0)


def judged(off, *, depth=1.0, value=20.0, rows=3):
    table = pd.DataFrame({
        "kind": "temperature", "depth": depth, "value": value, "row": np.arange(rows) + 2,
    })  # fmt: skip
    check_readings(table, np.full(rows, value - off), where="pond")


def test_what_no_lake_file_explains_is_refused():
    for depth, limit in ((2.0, 9.0), (2.1, 12.0)):
        judged(limit, depth=depth)
        judged(-limit, depth=depth)
        with pytest.raises(ProbeError, match=f"3 of 3 temperatures are {limit:.0f} degC or more"):
            judged(limit + 0.1, depth=depth)
    with pytest.raises(ProbeError, match=r"20.0 at 1.0 m \(expected about 10\), row 2") as caught:
        judged(10.0)
    assert "Check the date" in str(caught.value)


def test_percent_of_saturation_is_named():
    gas = pd.DataFrame({"kind": "oxygen", "depth": 1.0, "value": [9.0, 25.0], "row": [2, 3]})
    check_readings(gas, np.zeros(2), where="pond")
    with pytest.raises(ProbeError, match=r"1 of 2 oxygen readings .* row 3"):
        check_readings(gas.assign(value=[9.0, 25.1]), np.zeros(2), where="pond")


@pytest.mark.parametrize(
    ("value", "expected", "fahrenheit"),
    [
        (33.8, 1.0, True),  # 1 degC
        (32.9, 0.5, False),  # too near freezing to tell
        (64.4, 18.0, True),
        (35.0, 22.0, False),  # as degrees F it would be 1.7 degC, no nearer
    ],
)
def test_degrees_fahrenheit_are_named_where_they_fit_better(value, expected, fahrenheit):
    table = pd.DataFrame({"kind": "temperature", "depth": 1.0, "value": [value] * 3, "row": 2})
    with pytest.raises(ProbeError) as caught:
        check_readings(table, np.full(3, expected), where="pond")
    assert ("degrees F" in str(caught.value)) == fahrenheit


@pytest.mark.parametrize(("depth", "swapped"), [(12.5, True), (11.5, False), (28.5, False)])
def test_swapped_columns_are_named_where_depths_are_twice_as_near(depth, swapped):
    # 4 degC told, 20 expected: 16 off; a depth that is under 8 from 20 would be the better one
    table = pd.DataFrame({"kind": "temperature", "depth": [depth] * 3, "value": 4.0, "row": 2})
    with pytest.raises(ProbeError) as caught:
        check_readings(table, np.full(3, 20.0), where="pond")
    assert ("swapped" in str(caught.value)) == swapped
    assert ("Check the date" in str(caught.value)) == (not swapped)


def test_the_first_bad_row_among_good_ones_is_told():
    table = pd.DataFrame({"kind": ["temperature", "oxygen", "temperature", "temperature"],
                          "depth": [1.0, 1.0, 2.0, 3.0], "value": [20.0, 9.0, 34.0, 35.0],
                          "row": [2, 3, 4, 5]})  # fmt: skip
    with pytest.raises(ProbeError, match=r"2 of 3 temperatures are 9 degC or more") as caught:
        check_readings(table, np.array([20.0, 9.0, 19.0, 18.0]), where="pond")
    assert "first 34.0 at 2.0 m (expected about 19), row 4" in str(caught.value)


def test_a_slope_is_that_of_the_readings_within_a_metre():
    # 1.5 m: 0.5 and 2.5 m lie a metre off and count, 0.4 and 2.6 m do not: 19 to 11 over 2 m
    casts = probe([0.4, 0.5, 1.5, 2.5, 2.6], [30.0, 19.0, 15.0, 11.0, 2.0])
    slope = lake_readings(LAKE, casts, FORCING)["slope"]
    assert slope[1] == pytest.approx(4.0)


def test_no_reading_of_any_kind_is_told():
    empty = probe([1.0], [np.nan], oxygen=[np.nan])
    with pytest.raises(ProbeError, match="no reading holds"):
        lake_readings(LAKE, empty, FORCING)


def test_errors_fade_with_days_from_the_first_reading_whatever_the_order():
    # casts 60 days apart, the later first: exp(-1) of 1 degC
    casts = probe([0.5, 0.5], [20.0, 19.0], time=[NOON, NOON - pd.Timedelta("60D")])
    found = error_covariance(lake_readings(LAKE, casts, FORCING))
    assert found[0, 1] == found[1, 0] == pytest.approx(np.exp(-1.0))


def test_readings_of_other_lakes_are_left_to_them():
    casts = probe([0.5, 0.5, 0.5], [20.0, 18.0, 16.0], lake=["aa", LAKE.key, "zz"])
    table = lake_readings(LAKE, casts, FORCING)
    assert table["value"].tolist() == [18.0] and table["row"].tolist() == [3]
