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
from lakekit.strata.spread import MISSES, quantiles_of, widened
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


def test_quantiles_are_those_of_numpy_and_keep_infinity():
    rng = np.random.default_rng(1)
    values = rng.normal(size=(40, 7))
    np.testing.assert_allclose(
        quantiles_of(values), np.quantile(values, (0.1, 0.5, 0.9), axis=0), rtol=1e-12
    )
    values[rng.random(values.shape) < 0.3] = np.nan
    values[:, 6] = np.nan
    values[0, 6] = 3.0
    np.testing.assert_allclose(
        quantiles_of(values), np.nanquantile(values, (0.1, 0.5, 0.9), axis=0), rtol=1e-12
    )
    np.testing.assert_array_equal(quantiles_of([1.0, 2.0, np.inf])[[0, 2]], [1.2, np.inf])
    assert np.isnan(quantiles_of([])).all()
    assert np.isnan(quantiles_of([np.nan, np.nan])).all()


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
        days = alone["day"].sel(day=slice(f"{start}-01", None)).values
        both = days[np.isin(days, odds["day"].values)]
        assert both.size > 30
        np.testing.assert_array_equal(
            alone["surface_daily"].sel(day=both), odds["surface_daily"].sel(day=both)
        )


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
        assert back["thermocline_depth"].attrs["units"] == "m"


def test_refuses_what_it_cannot_answer(lake, forcing):
    with pytest.raises(LakekitError, match="25 months"):
        monthly_odds(lake, forcing, "2021-07", 25)
    with pytest.raises(LakekitError, match="before the weather record"):
        monthly_odds(lake, forcing, "2015-07", 2)


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
