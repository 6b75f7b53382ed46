"""Holes: bounded, flagged, refused past the limit."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lakekit.errors import WeatherError
from lakekit.weather.gaps import (
    LIMITS,
    fill,
    from_nearby_days,
    from_other_year,
    holes,
    in_short_holes,
    interpolate_short,
    refuse,
)
from lakekit.weather.schema import INTERPOLATED, MEASURED, NEARBY_DAYS, OTHER_YEAR

DAYS = 80
TIME = pd.date_range("2024-04-01", periods=DAYS * 24, freq="h")
DAY = np.repeat(np.arange(DAYS, dtype=float), 24)
SERIES = DAY + np.tile(np.arange(24) / 100, DAYS)  # says its own day and hour


def with_hole(start, stop):
    values = SERIES.copy()
    values[start:stop] = np.nan
    return values


def test_holes_are_found():
    start, stop, length = holes([True, False, True, True, False, True])
    assert start.tolist() == [0, 2, 5]
    assert stop.tolist() == [1, 4, 6]
    assert length.tolist() == [1, 2, 1]
    assert in_short_holes([True, False, True, False, True, True, False, True], 1).tolist() == [
        False,
        False,
        True,
        False,
        False,
        False,
        False,
        False,
    ]


def test_each_short_hole_is_found_whatever_went_before():
    missing = np.array([0, 1, 0, 1, 1, 0, 0, 1, 1, 1, 0, 1, 0], bool)
    expected = np.array([0, 1, 0, 1, 1, 0, 0, 0, 0, 0, 0, 1, 0], bool)
    np.testing.assert_array_equal(in_short_holes(missing, 2), expected)


def test_short_holes_are_bridged_by_a_line():
    values = np.array([1.0, np.nan, np.nan, 4.0, np.nan, np.nan, np.nan, 8.0])
    filled, where = interpolate_short(values, 2)
    assert filled[:4] == pytest.approx([1, 2, 3, 4])
    assert np.isnan(filled[4:7]).all()
    assert where.tolist() == [False, True, True, False, False, False, False, False]


def test_long_holes_take_the_same_hour_of_mirrored_days():
    filled, where = from_nearby_days(with_hole(40 * 24, 44 * 24), 21)
    assert where.sum() == 96
    assert np.floor(filled[40 * 24 : 44 * 24 : 24]).tolist() == [39, 38, 45, 44]
    assert (filled[where] % 1) == pytest.approx(SERIES[where] % 1, abs=1e-9)  # the same hour


def test_days_beyond_the_start_are_mirrored_from_the_other_edge():
    filled, where = from_nearby_days(with_hole(24, 96), 21)
    assert where.sum() == 72
    assert np.floor(filled[24:96:24]).tolist() == [0, 5, 4]  # day 2 would mirror to day -1


def test_days_beyond_the_end_are_mirrored_from_the_other_edge():
    filled, _ = from_nearby_days(with_hole(74 * 24, 79 * 24), 21)
    # day 77 would mirror to day 80, which is past the record: the fourth day before it instead
    assert np.floor(filled[74 * 24 : 79 * 24 : 24]).tolist() == [73, 72, 71, 70, 79]


def test_a_hole_that_starts_within_a_day_keeps_the_hour():
    filled, where = from_nearby_days(with_hole(40 * 24 + 7, 43 * 24 + 3), 21)
    assert (filled[where] % 1) == pytest.approx(SERIES[where] % 1, abs=1e-9)


@pytest.mark.parametrize(("start", "stop"), [(0, 72), (DAYS * 24 - 72, DAYS * 24)])
def test_open_ends_take_the_days_there_are(start, stop):
    filled, methods = fill(with_hole(start, stop), "air_temperature", TIME)
    assert np.isfinite(filled).all()
    assert (methods[start:stop] == NEARBY_DAYS).all()


def test_methods_and_limits_by_variable():
    values = with_hole(100, 103)
    values[200:250] = np.nan
    filled, methods = fill(values, "wind_speed", TIME)
    assert (methods[100:103] == INTERPOLATED).all()
    assert (methods[200:250] == NEARBY_DAYS).all()
    assert (np.delete(methods, np.r_[100:103, 200:250]) == MEASURED).all()
    assert np.isfinite(filled).all()
    filled, _ = fill(values, "precipitation", TIME)  # rain is never drawn as a line
    assert filled[100] != pytest.approx((values[99] + values[103]) / 2, abs=1e-6)


def test_a_hole_past_the_limit_is_refused_with_dates_and_share():
    values = with_hole(20 * 24, 42 * 24)
    filled, _ = fill(values, "air_temperature", TIME)
    assert np.isnan(filled).sum() == 22 * 24
    with pytest.raises(WeatherError) as caught:
        refuse(values, filled, "air_temperature", TIME, where="station X")
    message = str(caught.value)
    assert "station X: air temperature is missing for 27.5%" in message
    assert "2024-04-21 00:00 to 2024-05-12 23:00" in message
    assert "22.0 days" in message


def test_many_small_holes_are_refused_by_share():
    values = SERIES.copy()
    values[::4] = np.nan
    filled, _ = fill(values, "wind_speed", TIME)
    with pytest.raises(WeatherError, match=r"25\.0% of 2024-04-01 to 2024-06-19"):
        refuse(values, filled, "wind_speed", TIME, where="w")


def test_a_long_hole_takes_the_days_of_the_year_most_alike():
    time = pd.date_range("2020-01-01", periods=4 * 8766, freq="h")
    base = 10.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 8766)
    air = base + np.array([0.0, 5.0, 0.3, -5.0])[np.minimum(time.year.to_numpy() - 2020, 3)]
    wind = 3.0 + 2.0 * np.sin(2 * np.pi * np.arange(time.size) / 24)
    data = {"air_temperature": air.copy(), "wind_speed": wind.copy()}
    hole = slice(24 * 40, 24 * 90)
    data["wind_speed"][hole] = np.nan
    methods = {name: np.full(time.size, MEASURED) for name in data}
    assert [(a, b, years) for a, b, years in from_other_year(data, methods)] == [(960, 2160, 2)]
    np.testing.assert_allclose(data["wind_speed"], wind)  # the hour of the day is kept
    assert (methods["wind_speed"][hole] == OTHER_YEAR).all()
    np.testing.assert_array_equal(data["air_temperature"], air)
    assert (methods["air_temperature"] == MEASURED).all()


def test_the_year_most_alike_may_lie_before_and_the_record_end_soon_after():
    time = pd.date_range("2020-01-01", periods=4 * 8766, freq="h")
    own_level = np.array([0.0, 5.0, 9.0, 0.3])[np.minimum(time.year.to_numpy() - 2020, 3)]
    air = 10.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 8766) + own_level
    late, early = slice(4 * 8766 - 24 * 40, 4 * 8766 - 24 * 5), slice(24 * 30, 24 * 60)
    data = {"air_temperature": air.copy()}
    data["air_temperature"][late] = data["air_temperature"][early] = np.nan
    methods = {"air_temperature": np.full(time.size, MEASURED)}
    said = from_other_year(data, methods)
    assert said == [(early.start, early.stop, 3), (late.start, late.stop, -3)]
    np.testing.assert_allclose(data["air_temperature"][late], air[late] - 0.3, atol=0.05)
    np.testing.assert_allclose(data["air_temperature"][early], air[early] + 0.3, atol=0.05)


def test_a_hole_of_half_a_year_or_of_every_year_stays():
    data = {"wind_speed": np.tile(SERIES, 20)}
    data["wind_speed"][5000 : 5000 + 24 * 170] = np.nan
    assert from_other_year(data, {"wind_speed": np.zeros(data["wind_speed"].size, int)}) == []
    one = {"wind_speed": with_hole(20 * 24, 60 * 24)}
    assert from_other_year(one, {"wind_speed": np.zeros(SERIES.size, int)}) == []


def test_nothing_at_all_is_refused():
    with pytest.raises(WeatherError, match="no wind speed in the record at all"):
        refuse(np.full(48, np.nan), np.full(48, np.nan), "wind_speed", TIME[:48], where="w")


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.integers(0, DAYS * 24 - 1), st.integers(1, 700)), max_size=6),
    st.sampled_from(list(LIMITS)),
)
def test_whatever_is_missing_no_filled_hour_is_unflagged(cuts, variable):
    values = SERIES.copy()
    for start, length in cuts:
        values[start : start + length] = np.nan
    filled, methods = fill(values, variable, TIME)
    missing = np.isnan(values)
    assert np.array_equal(filled[~missing], values[~missing])
    changed = missing & ~np.isnan(filled)
    assert (methods[changed] != MEASURED).all()
    assert (methods[~missing] == MEASURED).all()
    start, _, length = holes(np.isnan(filled))
    if LIMITS[variable].nearby and not missing.all() and len(length) and (~missing).sum() > 24 * 60:
        assert length.max() > LIMITS[variable].nearby * 24 - 24


@pytest.mark.parametrize(("days", "filled"), [(21, True), (22, False)])
def test_three_weeks_are_the_longest_hole_filled_from_nearby_days(days, filled):
    values = with_hole(25 * 24, (25 + days) * 24)
    found, methods = fill(values, "wind_speed", TIME)
    assert np.isfinite(found).all() == filled
    assert (methods == NEARBY_DAYS).sum() == (days * 24 if filled else 0)


@pytest.mark.parametrize(
    ("variable", "longest"),
    [("air_temperature", 6), ("wind_speed", 3), ("air_pressure", 12), ("precipitation", 0)],
)
def test_lines_are_drawn_as_far_as_each_variable_bears(variable, longest):
    for hours, how in ((longest, INTERPOLATED), (longest + 1, NEARBY_DAYS)):
        values = with_hole(1000, 1000 + hours)
        filled, methods = fill(values, variable, TIME)
        if LIMITS[variable].nearby or how == INTERPOLATED:
            assert (methods[1000 : 1000 + hours] == how).all()
        else:
            assert np.isnan(filled[1000 : 1000 + hours]).all()


def test_what_was_estimated_before_keeps_its_mark():
    before = np.full(SERIES.size, OTHER_YEAR)
    _, methods = fill(with_hole(1000, 1002), "air_temperature", TIME, methods=before)
    assert (methods[1000:1002] == INTERPOLATED).all()
    assert (np.delete(methods, [1000, 1001]) == OTHER_YEAR).all()
    assert (before == OTHER_YEAR).all()  # the caller's is left as it was


def test_a_share_up_to_the_limit_is_borne():
    values = SERIES[: 80 * 20].copy()
    values[::5] = np.nan  # a fifth, as much wind as may be filled
    filled, _ = fill(values, "wind_speed", TIME[: values.size])
    refuse(values, np.nan_to_num(filled), "wind_speed", TIME, where="w")
    values[1] = np.nan
    with pytest.raises(WeatherError):
        refuse(values, np.nan_to_num(filled), "wind_speed", TIME, where="w")


@pytest.mark.parametrize(("hours", "told"), [(47, "47 hours"), (48, "2.0 days"), (60, "2.5 days")])
def test_a_refusal_tells_hours_up_to_two_days(hours, told):
    values = with_hole(600, 600 + hours)
    values[1000] = np.nan  # a shorter one beside it
    with pytest.raises(WeatherError) as caught:
        refuse(values, values, "wind_speed", TIME, where="w")
    last = f"{TIME[600 + hours - 1]:%Y-%m-%d %H:%M}"
    assert f"2024-04-26 00:00 to {last} UTC ({told})" in str(caught.value)
    assert "no more than 21 days (150 where" in str(caught.value)
    assert "20% of a record" in str(caught.value)


@pytest.mark.parametrize(("days", "filled"), [(150, True), (151, False)])
def test_five_months_are_the_longest_hole_another_year_fills(days, filled):
    size = 3 * 8766
    hours = np.arange(size)
    data = {"wind_speed": 3.0 + np.sin(2 * np.pi * hours / 24) + np.cos(2 * np.pi * hours / 8766)}
    start = 8766 + 1000
    data["wind_speed"][start : start + 24 * days] = np.nan
    said = from_other_year(data, {"wind_speed": np.full(size, MEASURED)})
    assert len(said) == (1 if filled else 0)


def test_a_year_with_a_hole_of_its_own_there_fills_none():
    size = 3 * 8766
    data = {"wind_speed": 3.0 + np.sin(2 * np.pi * np.arange(size) / 24)}
    hole = slice(8766 + 1000, 8766 + 2000)
    data["wind_speed"][hole] = np.nan
    for years_off in (-1, 1):
        data["wind_speed"][hole.start + years_off * 24 * round(365.25) + 500] = np.nan
    untouched = data["wind_speed"].copy()
    said = from_other_year(data, {"wind_speed": np.full(size, MEASURED)})
    assert all(stop - start == 1 for start, stop, _ in said)  # the single hours alone
    np.testing.assert_array_equal(data["wind_speed"][hole], untouched[hole])


def test_an_hour_missing_day_after_day_is_filled_from_seven_days_at_most():
    # holes of an hour, so that each fits; three days are the longest, hence days up to 7 away: the
    # mirrored one while it is, then the edge day itself
    values = SERIES.copy()
    values[20 * 24 + 5 : 40 * 24 + 5 : 24] = np.nan
    filled, where = from_nearby_days(values, 3)
    days = np.floor(filled[20 * 24 + 5 : 40 * 24 + 5 : 24])
    assert days[:7].tolist() == [19, 18, 17, 16, 19, 19, 19]
    assert np.isnan(days[7:13]).all()
    assert days[13:].tolist() == [40, 40, 40, 43, 42, 41, 40]
    assert where.sum() == 14


@pytest.mark.parametrize("first", [True, False])
def test_years_are_compared_by_thirty_days_before_and_after(first):
    # the year before is all but alike on one side and 5 off on the other, the year after 1 off on
    # both: 2.55 against 1; what lies further off than thirty days does not count
    values = np.zeros(3 * 8766)
    hole = slice(8766 + 3000, 8766 + 3240)
    sides = [slice(hole.start - 720, hole.start), slice(hole.stop, hole.stop + 720)]
    near, far = sides if first else sides[::-1]

    def at(side, years):
        shift = 24 * round(365.25 * years)
        return slice(side.start + shift, side.stop + shift)

    values[at(near, -1)], values[at(far, -1)] = 0.1, 5.0
    values[at(near, 1)], values[at(far, 1)] = 1.0, 1.0
    values[at(slice(hole.start - 1000, hole.start - 720), 1)] = 50.0
    values[at(slice(hole.stop + 720, hole.stop + 1000), 1)] = 50.0
    values[hole] = np.nan
    data = {"wind_speed": values}
    said = from_other_year(data, {"wind_speed": np.full(values.size, MEASURED)})
    assert said == [(hole.start, hole.stop, 1)]


def test_variables_are_compared_each_on_its_own_scale():
    # pressure off by 3 of its spread of some tens, air by 2 of its spread of one: air decides
    size, hole = 3 * 8766, slice(8766 + 3000, 8766 + 3240)
    turn = np.sin(2 * np.pi * np.arange(size) / 24)
    air, wind = turn.copy(), 40.0 * turn
    year = 24 * round(365.25)
    around = np.r_[hole.start - 720 : hole.start, hole.stop : hole.stop + 720]
    air[around - year] += 2.0
    wind[around + year] += 3.0
    air[hole] = np.nan
    data = {"air_temperature": air, "wind_speed": wind}
    methods = {name: np.full(size, MEASURED) for name in data}
    assert from_other_year(data, methods) == [(hole.start, hole.stop, 1)]
