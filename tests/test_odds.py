"""Monthly odds: what is hindcast, what is odds, how they add up, and that weather moves them."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from season_helpers import invented_years
from weather_helpers import invented_lake

from lakekit.column.parameters import draw_parameters
from lakekit.errors import LakekitError
from lakekit.strata import history_run, monthly_odds, stratification
from lakekit.strata.odds import (
    DEPTHS,
    _daily_statistics,
    _front_statistics,
    _half_months,
    _statistics,
    _trend,
)
from lakekit.strata.spread import MISSES, widened
from lakekit.weather.forcing import prepare_forcing

AS_OF = pd.Timestamp("2021-08-31T23:00")


@pytest.fixture(scope="module")
def lake():
    return invented_lake()


@pytest.fixture(scope="module")
def forcing(lake):
    return prepare_forcing(invented_years(), lake)


@pytest.fixture(scope="module")
def odds(lake, forcing):
    return monthly_odds(lake, forcing, "2021-06", 13, as_of=AS_OF, members=2)


def test_months_up_to_as_of_are_hindcast_and_later_ones_odds(odds):
    assert list(odds["basis"].values[:4]) == ["hindcast"] * 3 + ["odds"]
    assert list(odds["years"].values[:4]) == [1, 1, 1, 3]
    assert odds.attrs["trace_years"] == "2018, 2019, 2020"
    assert odds.sizes["month"] == 13
    first, last = odds["day"].values[[0, -1]]
    assert str(first)[:10] == "2020-04-27" and str(last)[:10] == "2022-08-05"
    assert (np.diff(odds["day"].values) == np.timedelta64(1, "D")).all()
    assert (odds["layered_years"] <= odds["years"]).all()


def test_chances_and_quantiles_are_in_order(odds):
    for name in odds.data_vars:
        if name.endswith("_chance") or name == "layered_daily":
            values = odds[name].values
            known = values[np.isfinite(values)]
            assert ((known >= 0.0) & (known <= 1.0)).all(), name
    for name in odds.data_vars:
        if "quantile" in odds[name].dims:
            values = odds[name].transpose("quantile", ...).values
            ordered = (np.diff(values, axis=0) >= -1e-9) | ~np.isfinite(np.diff(values, axis=0))
            assert ordered.all(), name
    middle = odds.sel(quantile=0.5)
    layered = odds["layered_chance"] > 0.9
    assert layered.sum() >= 3
    for month in np.flatnonzero(layered):
        row = middle.isel(month=month)
        assert row["mixed_layer_depth"] <= row["thermocline_depth"] + 1e-9
        assert row["fall_zone_top"] <= row["fall_zone_bottom"]
    assert odds["thermocline_depth_chance"].values == pytest.approx(odds["layered_chance"].values)
    assert np.isnan(odds["thermocline_depth"].values[odds["layered_chance"].values == 0]).all()


def test_summer_is_layered_and_winter_is_not(odds):
    months = odds["month"].to_index()
    july, january = months.get_loc("2021-07-01"), months.get_loc("2022-01-01")
    assert odds["layered_chance"][july] > 0.9 and odds["layered_chance"][january] < 0.1
    assert odds["surface_temperature"].sel(quantile=0.5)[july] > 20.0
    assert odds["bottom_temperature"].sel(quantile=0.5)[july] < 16.0
    autumn = months.get_loc("2021-10-01")
    assert odds["surface_trend"][autumn] < 0.0 < odds["surface_trend"][months.get_loc("2022-05-01")]
    turnover = odds["turnover_day"].sel(quantile=0.5)
    assert 240 < turnover < 340 and odds.attrs["turnover_year"] == 2021
    assert odds.attrs["onset_year"] == 2022 and 60 < odds["onset_day"].sel(quantile=0.5) < 160
    assert np.isnan(odds["front_chance"][january])


def test_hindcast_is_the_history_run_itself(lake, forcing, odds):
    run = history_run(
        lake, forcing, as_of=AS_OF, since="2021-06-01T06:00", parameters=draw_parameters(lake, 2, 0)
    )
    july = run.sel(time=slice("2021-07-01T12:00", "2021-08-01T00:00"))
    assert july.sizes["time"] == 31
    layers = stratification(july)
    mine = odds.sel(month="2021-07-01")
    expected = np.quantile(layers["surface_temperature"].values.ravel(), (0.1, 0.5, 0.9))
    expected = widened(expected, MISSES["free"].temperature[0], low=0.0)
    np.testing.assert_allclose(mine["surface_temperature"], expected, rtol=0, atol=1e-9)
    expected = np.quantile(july["water_temperature"].values.reshape(62, -1), 0.5, axis=0)
    np.testing.assert_allclose(mine["temperature"].sel(quantile=0.5), expected, rtol=0, atol=1e-9)


def test_oxygen_zone_is_in_order(odds):
    middle = odds.sel(quantile=0.5)
    names = ("oxygen_zone_top", "oxygen_floor_depth", "oxygen_zone_bottom")
    chance = [odds[f"{name}_chance"].values for name in names]
    assert (chance[0] >= chance[1]).all() and (chance[1] >= chance[2]).all()
    sure = chance[2] > 0.99
    assert sure.any()
    depths = [middle[name].values[sure] for name in names]
    assert (depths[0] < depths[1]).all() and (depths[1] < depths[2]).all()


def test_one_month_alone_equals_the_same_month_of_many(lake, forcing, odds):
    for start, years in (("2021-07", None), ("2021-10", "2018, 2019, 2020"), ("2022-05", None)):
        alone = monthly_odds(lake, forcing, start, 1, as_of=AS_OF, members=2)
        assert years is None or alone.attrs["trace_years"] == years
        monthly = [name for name in odds.data_vars if "month" in odds[name].dims]
        assert len(monthly) > 30
        for name in monthly:  # the front's recovery in the month after included
            np.testing.assert_array_equal(
                alone[name].values[0], odds[name].sel(month=alone["month"].values[0]), name
            )
        halves = [name for name in odds.data_vars if "half" in odds[name].dims]
        assert len(halves) > 5
        for name in halves:
            np.testing.assert_array_equal(alone[name], odds[name].sel(half=alone["half"]), name)
        days = alone["day"].sel(day=slice(f"{start}-01", None)).values
        both = days[np.isin(days, odds["day"].values)]
        assert both.size > 30
        np.testing.assert_array_equal(
            alone["surface_daily"].sel(day=both), odds["surface_daily"].sel(day=both)
        )


def test_days_of_a_far_month_are_worth_what_they_are_of_a_near_one(lake, forcing, odds):
    """Told from 400 days before it, which leaves out the first weeks ahead."""
    far = monthly_odds(lake, forcing, "2022-11", 1, as_of=AS_OF, members=2)
    assert str(far["day"].values[0])[:10] == "2021-09-27"
    shared = np.intersect1d(far["day"], odds["day"])
    worth, near = (table["reading_worth"].sel(day=shared).values for table in (far, odds))
    both = np.isfinite(worth) & np.isfinite(near)
    assert both.sum() > 50 and worth[both].max() > 0.0
    np.testing.assert_allclose(worth[both], near[both], rtol=1e-9)


def test_a_fish_that_bears_less_oxygen_has_a_deeper_floor(lake, forcing, odds):
    hardy = monthly_odds(
        lake, forcing, "2021-07", 1, as_of=AS_OF, members=2, oxygen_zone=(3.0, 2.0, 1.0)
    )
    usual = odds.sel(month="2021-07-01")
    assert (hardy["oxygen_floor_depth"].values[0] > usual["oxygen_floor_depth"].values).all()
    # the limit of the one is the least of the other
    np.testing.assert_allclose(hardy["oxygen_floor_depth"].values[0], usual["oxygen_zone_bottom"])


def test_same_question_same_answer(lake, forcing):
    first = monthly_odds(lake, forcing, "2021-09", 1, as_of=AS_OF, members=2)
    again = monthly_odds(lake, forcing, "2021-09-17", 1, as_of=AS_OF, members=2)
    xr.testing.assert_identical(first, again)


def test_default_as_of_is_the_last_observed_hour(lake):
    weather = invented_years("2019-01-01", "2021-09-03T12:00")
    odds = monthly_odds(lake, weather, "2021-09", 1, members=1)
    assert odds.attrs["as_of"] == "2021-09-03T11:00"
    assert odds["basis"].values[0] == "odds"
    # the days already past are the same in every trace
    spread = odds["surface_daily"].sel(quantile=0.9) - odds["surface_daily"].sel(quantile=0.1)
    assert float(spread[0]) == pytest.approx(0.0, abs=1e-12)
    assert float(spread.isel(day=slice(5, None)).max()) > 0.1


def test_warmer_years_and_darker_water_move_the_odds(lake):
    plain = prepare_forcing(invented_years("2019-01-01", "2022-01-01"), lake)
    warm = invented_years("2019-01-01", "2022-01-01", warmer={2020: 3.0})
    ask = {"as_of": pd.Timestamp("2021-04-30T23:00"), "members": 1}
    before = monthly_odds(lake, plain, "2021-07", 1, **ask)
    after = monthly_odds(lake, prepare_forcing(warm, lake), "2021-07", 1, **ask)
    assert before["years"][0] == 2
    rise = (after["surface_temperature"] - before["surface_temperature"]).sel(quantile=0.9)
    assert float(rise[0]) > 1.0
    murky = replace(lake, secchi=np.full(12, 0.5))
    darker = monthly_odds(murky, plain, "2021-07", 1, **ask)
    assert float(darker["bottom_temperature"].sel(quantile=0.5)[0]) < float(
        before["bottom_temperature"].sel(quantile=0.5)[0]
    )


def test_goes_through_netcdf(odds, tmp_path):
    odds.to_netcdf(tmp_path / "odds.nc")
    with xr.open_dataset(tmp_path / "odds.nc", decode_timedelta=False) as back:
        xr.testing.assert_allclose(back.drop_vars("basis"), odds.drop_vars("basis"))
        assert list(back["basis"].values) == list(odds["basis"].values)
        units = {
            "thermocline_depth": "m", "fall_zone_top": "m", "oxygen_zone_bottom": "m",
            "front_deepening": "m", "tilt_upwind": "m", "bottom_temperature": "degC",
            "temperature": "degC", "surface_daily": "degC", "surface_trend": "degC per week",
            "oxygen": "mg L-1", "recovery_days": "days", "floor_days": "days", "onset_day": "1",
        }  # fmt: skip
        assert {name: back[name].attrs["units"] for name in units} == units


def test_refuses_what_it_cannot_answer(lake, forcing):
    with pytest.raises(LakekitError, match="25 months"):
        monthly_odds(lake, forcing, "2021-07", 25)
    with pytest.raises(LakekitError, match="before the weather record"):
        monthly_odds(lake, forcing, "2015-07", 2)


@pytest.mark.parametrize(
    ("until", "told"), [("2021-07-01T12:00", True), ("2021-07-01T20:00", False)]
)
def test_a_month_needs_its_weather_from_the_first_noon_on(lake, forcing, until, told):
    # local noon is 18:00 UTC; before it the record has a hole of weeks
    time = forcing["time"].to_index()
    holed = forcing.isel(time=(time < "2021-06-01") | (time >= until))
    ask = {"as_of": AS_OF, "members": 1}
    if told:
        odds = monthly_odds(lake, holed, "2021-07", 1, **ask)
        assert np.isfinite(odds["surface_temperature"]).all()
        return
    with pytest.raises(LakekitError, match="weather before 2021-07-02 has a hole"):
        monthly_odds(lake, holed, "2021-07", 1, **ask)


def test_a_reading_moves_the_months_ahead_and_narrows_their_ranges(lake, forcing, odds):
    cast = pd.DataFrame({"time": AS_OF - pd.Timedelta("2D"), "depth": np.arange(0.5, 6.0)})
    before = odds["temperature"].sel(quantile=0.5).isel(month=2)
    warm = np.interp(cast["depth"], odds["depth"], before) + 2.5
    read = monthly_odds(
        lake, forcing, "2021-06", 5, as_of=AS_OF, members=2, readings=cast.assign(temperature=warm)
    )
    ahead = (read["temperature"] - odds["temperature"]).sel(quantile=0.5).isel(month=3)
    assert float(ahead.isel(depth=slice(0, 12)).mean()) > 0.1
    assert list(read["standing"].values[2:5]) == ["free", "soon", "late"]
    assert set(odds["standing"].values) == {"free"}


def test_a_season_is_told_whole_whatever_months_are_asked_for(lake, forcing, odds):
    short = monthly_odds(lake, forcing, "2021-07", 2, as_of=AS_OF, members=2)
    for name in ("onset", "turnover"):
        assert short.attrs[f"{name}_year"] == 2021
    whole = monthly_odds(lake, forcing, "2021-03", 9, as_of=AS_OF, members=2)
    np.testing.assert_array_equal(short["turnover_day"], whole["turnover_day"])
    np.testing.assert_array_equal(short["onset_day"], whole["onset_day"])


def test_a_front_ahead_is_strong_by_the_places_usual_wind(lake):
    """Autumn is windy here: its blows are fronts beside the year's wind, not beside their own."""
    weather = invented_years("2019-01-01", "2021-09-01")
    day = weather["time"].dt.dayofyear
    weather["air_temperature"] = 12.0 + 13.0 * np.cos(2 * np.pi * (day - 200) / 365.25)
    weather["precipitation"] = weather["precipitation"] * 0.0
    windy = weather["time"].dt.month.isin([8, 9, 10])
    wind = xr.where(windy, 2.0, 1.2)
    weather["wind_speed"] = xr.where(windy & (day % 7 == 0), 3.0, wind)
    weather["wind_speed"].attrs["wind_height"] = 10.0
    odds = monthly_odds(lake, weather, "2021-09", 1, members=1)
    assert 3.5 < float(odds["front_count"][0]) < 5.0  # one a week


def test_the_trend_is_the_slope_through_the_days_in_degrees_a_week():
    day = np.arange(30.0)
    surface = np.stack([[10 + 0.1 * day, 12 + 0.3 * day], [9 + 0.2 * day, 11 - 0.4 * day]])
    assert _trend(surface) == pytest.approx(7 * 0.15)  # the median of 0.3, 0.2, 0.1 and -0.4
    assert _trend(surface[..., :3]) == pytest.approx(7 * 0.15)
    assert np.isnan(_trend(surface[..., :2]))


def front_table(rows):
    """Effects of fronts: (trace, member, start, broke, deepened by, days until back)."""
    names = ["trace", "member", "start", "broke", "deepening", "thermocline_days"]
    table = pd.DataFrame(rows, columns=names)
    table["start"] = table["start"].map(pd.Timestamp)
    table["deepened"] = table["deepening"] >= 0.5
    table["skin_days"] = table["thermocline_days"] / 2
    table["floor_lost"] = table["broke"]
    table["floor_days"] = table["thermocline_days"] + 1.0
    return table


def test_fronts_are_counted_by_the_month_in_which_they_began_there():
    zone = pd.Timedelta(hours=-6)
    months = pd.to_datetime(["2021-06-01", "2021-07-01", "2021-08-01", "2021-09-01"])
    odds = xr.Dataset(
        {"layered_chance": ("month", np.array([1.0, 1.0, 0.2, 0.0]))},
        coords={"month": months, "quantile": [0.1, 0.5, 0.9]},
    )
    every = xr.Dataset(coords={"trace": range(3), "member": range(2)})
    hindcast = np.array([True, False, False, False])
    seen = front_table([
        (-1, 0, "2021-06-10", True, np.nan, 4.0), (-1, 1, "2021-06-10", False, 0.8, 2.0),
        (-1, 0, "2021-07-01T05:00", False, 0.0, 0.0), (-1, 1, "2021-07-01T05:00", False, 0.0, 0.0),
    ]).drop(columns="trace")  # fmt: skip
    # three traces; 1 July 05:00 UTC is still June here; member 0 of trace 0 is hit twice in July
    traces = [
        front_table([
            (0, 0, "2021-07-05", True, np.nan, 10.0), (0, 0, "2021-07-20", True, np.nan, np.inf),
            (0, 1, "2021-07-05", False, 0.6, 6.0), (0, 1, "2021-07-20", False, 0.1, 0.0),
            (0, 0, "2021-06-20", True, np.nan, 1.0), (0, 0, "2021-09-05", True, np.nan, 1.0),
        ]),
        front_table([(1, 0, "2021-07-05", False, 0.2, 0.0), (1, 1, "2021-07-05", False, 0.0, 0.0)]),
        front_table([(2, 0, "2021-07-08", False, 0.0, 0.0), (2, 1, "2021-07-08", False, 0.3, 0.0)]),
    ]  # fmt: skip
    starts = [
        pd.Series(pd.to_datetime(["2021-07-05", "2021-07-20", "2021-09-05"])),
        pd.Series(pd.to_datetime(["2021-07-05"])),
        pd.Series(pd.to_datetime(["2021-07-08"])),
    ]
    seen_starts = seen["start"].drop_duplicates()
    found = _front_statistics(
        [table.drop(columns="trace") for table in traces], starts, (seen, seen_starts), every,
        odds, zone, hindcast,
    )  # fmt: skip
    # June from history alone: both members hit, one by a break
    np.testing.assert_allclose(found["front_chance"], [1.0, 2 / 6, 0.0, np.nan])
    np.testing.assert_allclose(found["front_broke_chance"], [0.5, 1 / 6, 0.0, np.nan])
    np.testing.assert_allclose(found["front_count"], [2.0, 4 / 3, 0.0, 1 / 3])
    np.testing.assert_allclose(found["recovery_chance"], [1.0, 2 / 3, np.nan, np.nan])
    middle = found.sel(quantile=0.5)
    np.testing.assert_allclose(middle["front_deepening"], [0.8, 0.6, np.nan, np.nan])
    # never within the horizon counts as its thirty days: 6, 10 and 30
    np.testing.assert_allclose(middle["recovery_days"], [3.0, 10.0, np.nan, np.nan])
    np.testing.assert_allclose(found["recovery_days"][1], np.quantile([6, 10, 30], (0.1, 0.5, 0.9)))
    np.testing.assert_allclose(middle["skin_days"], [1.5, 5.0, np.nan, np.nan])
    np.testing.assert_allclose(middle["floor_days"], [5.0, (11 + 30) / 2, np.nan, np.nan])


def flat_odds_inputs():
    """Two traces of one member, noon by noon through June and July 2021, by hand."""
    time = pd.date_range("2021-06-01T18:00", "2021-07-31T18:00", freq="D")
    local = np.asarray(time.day)
    july = np.asarray(time.month == 7)
    dims, shape = ("trace", "member", "time"), (2, 1, len(time))
    second = np.array([0.0, 1.0])[:, None, None]
    warm = np.ones(shape, bool)
    warm[1, 0, july & (local > 10)] = False
    values = {name: np.full(shape, np.nan) for name in DEPTHS}
    values["thermocline_depth"] = 3.0 + 2.0 * (local > 15) + second
    values["oxygen_floor_depth"] = np.where(july & (local > 15), 4.0, np.nan) + 0.0 * second
    values["mixed_layer_depth"] = np.where(july, 2.0, 1.0) + second
    values |= {
        "wedderburn_number": np.full(shape, 5.0), "bottom_temperature": np.full(shape, 9.0),
        "surface_temperature": 20.0 + np.arange(len(time)) / 7 + 2.0 * second,
    }  # fmt: skip
    every = xr.Dataset(
        {name: (dims, np.broadcast_to(value, shape)) for name, value in values.items()}
        | {"stratified": (dims, warm), "inverse": (dims, np.zeros(shape, bool)),
           "ice": (dims, np.broadcast_to(~july & (local == 1), shape))},
        coords={"time": time},
    )  # fmt: skip
    deep = (*dims, "depth")
    column = np.broadcast_to(np.array([20.0, 10.0]) + second[..., None], (*shape, 2))
    water = xr.Dataset(
        {"water_temperature": (deep, column), "dissolved_oxygen": (deep, column / 2)},
        coords={"time": time, "depth": [1.0, 5.0]},
    )
    return every, water, pd.DatetimeIndex(["2021-06-01", "2021-07-01"]), pd.Timedelta(hours=-6)


def test_a_months_figures_by_hand():
    every, water, firsts, zone = flat_odds_inputs()
    found = _statistics(every, water, firsts, zone, np.array([True, False]))
    np.testing.assert_allclose(found["layered_chance"], [1.0, (31 + 10) / 62])
    assert found["layered_years"].values.tolist() == [1, 1]  # ten days of 31 are not most
    np.testing.assert_allclose(found["ice_chance"], [1 / 30, 0.0])
    # June is history: one trace; a thermocline of days not layered is none
    assert found["thermocline_depth"].sel(quantile=0.5).values.tolist() == [4.0, 4.0]
    np.testing.assert_allclose(
        found["thermocline_depth"][1], np.quantile([3] * 15 + [5] * 16 + [4] * 10, (0.1, 0.5, 0.9))
    )
    np.testing.assert_allclose(found["thermocline_depth_chance"], [1.0, 41 / 62])
    np.testing.assert_allclose(found["oxygen_floor_depth_chance"], [0.0, 16 / 31])
    np.testing.assert_allclose(found["surface_trend"], [1.0, 1.0])
    middle = found["temperature"].sel(quantile=0.5)
    np.testing.assert_allclose(middle, [[20.0, 10.0], [20.5, 10.5]])
    np.testing.assert_allclose(found["oxygen"].sel(quantile=0.5), middle / 2)
    for days, years in ((15, 0), (16, 1)):  # of June's 30: more than half are most
        every["stratified"][..., :30] = np.arange(30) < days
        part = _statistics(every, water, firsts, zone, np.array([True, False]))
        assert part["layered_years"].values[0] == years


def test_half_months_by_hand():
    every, water, firsts, zone = flat_odds_inputs()
    found = _half_months(every, water, firsts, zone, np.array([True, False]))
    halves = [f"{day:%m-%d}" for day in found["half"].to_index()]
    assert halves == ["06-01", "06-16", "07-01", "07-16"]
    # days 1 to 15, and from the 16th on
    assert found["half_thermocline_depth"].values.tolist() == [3.0, 5.0, 3.0, 5.0]
    assert found["half_mixed_layer_depth"].values.tolist() == [1.0, 1.0, 2.5, 2.5]
    np.testing.assert_allclose(found["half_layered_chance"], [1.0, 1.0, 25 / 30, 0.5])
    np.testing.assert_allclose(found["half_ice_chance"], [1 / 15, 0.0, 0.0, 0.0])
    np.testing.assert_allclose(found["half_oxygen_floor_depth_chance"], [0.0, 0.0, 0.0, 1.0])
    # days 0 to 14, 15 to 29, then with those of a trace 14 sevenths warmer: the middle ones
    np.testing.assert_allclose(
        found["half_surface_temperature"], 20 + np.array([7, 22, 44, 59.5]) / 7
    )
    np.testing.assert_allclose(found["half_temperature"][2:], [[20.5, 10.5]] * 2)
    np.testing.assert_allclose(found["half_oxygen"][:2], [[10.0, 5.0]] * 2)


def test_days_past_are_one_and_days_ahead_are_many():
    every, _, firsts, zone = flat_odds_inputs()
    now = every["time"].to_index()[29]  # 30 June
    found = _daily_statistics(every, firsts[0], zone, now)
    surface = found["surface_daily"].sel(quantile=0.5).values
    np.testing.assert_allclose(surface[:30], 20 + np.arange(30) / 7)
    np.testing.assert_allclose(surface[30:], 21 + np.arange(30, 61) / 7)
    np.testing.assert_allclose(found["layered_daily"], np.where(np.arange(61) < 40, 1.0, 0.5))
    assert found["ice_daily"].values[:2].tolist() == [1.0, 0.0]
    assert found["day"].values[0] == np.datetime64("2021-06-01")
