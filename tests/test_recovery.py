"""Recovery after a front: parts kept apart, known days read back, the trade's rule beside them."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.strata import recovery_odds, trade_rule_days
from lakekit.strata.recovery import days_range

FRONT = {"start": pd.Timestamp("2020-06-20T20:00"), "end": pd.Timestamp("2020-06-21T06:00")}
NOON = "18:00"  # UTC of the daily states


def layers(days, *, start, thermocline, floor, skin, dims, shape):
    time = pd.date_range(f"{start}T{NOON}", periods=days, freq="D")
    data = {}
    for name, values in (
        ("lasting_thermocline_depth", thermocline),
        ("oxygen_floor_depth", floor),
        ("surface_skin", skin),
        ("mixed_layer_depth", 2.0),
        ("surface_temperature", 24.0),
    ):
        data[name] = (dims, np.broadcast_to(np.asarray(values, float), shape).copy())
    data["thermocline_depth"] = data["lasting_thermocline_depth"]
    data["stratified"] = (dims, np.isfinite(data["lasting_thermocline_depth"][1]))
    return xr.Dataset(data, coords={"time": time})


def storm(back_after, *, floor_after=None, members=2, days=40):
    """Layers of a lake that a front mixed, back ``back_after`` noons later in each trace."""
    past = layers(
        20, start="2020-06-01", thermocline=3.0, floor=4.0, skin=1.0,
        dims=("member", "time"), shape=(members, 20),
    )  # fmt: skip
    traces = len(back_after)
    day = np.arange(days)
    gone = day[None, :] < np.asarray(back_after)[:, None]
    thermocline = np.where(gone, np.nan, 3.0)[:, None, :]
    away = day[None, :] < np.asarray(floor_after or back_after)[:, None]
    ahead = layers(
        days, start="2020-06-21", thermocline=thermocline,
        floor=np.where(away, np.nan, 4.2)[:, None, :], skin=np.where(day == 0, 0.1, 1.0),
        dims=("trace", "member", "time"), shape=(traces, members, days),
    )  # fmt: skip
    return past, ahead


def test_known_days_are_read_back_and_kept_apart():
    past, ahead = storm([4] * 10, floor_after=[15] * 10)
    odds = recovery_odds(FRONT, past, ahead)
    # the front ends at 06:00; noon states stand at 18:00, half a day later
    thermocline = odds.sel(part="broken")
    np.testing.assert_allclose(thermocline["days"], 4.5, rtol=0, atol=1e-9)
    np.testing.assert_allclose(odds["days"].sel(part="oxygen_floor"), 15.5, rtol=0, atol=1e-9)
    np.testing.assert_allclose(odds["days"].sel(part="skin"), 1.5, rtol=0, atol=1e-9)
    assert float(thermocline["lost_chance"]) == 1.0 and float(thermocline["back_chance"]) == 1.0
    assert odds.attrs["broke_chance"] == 1.0 and odds.attrs["deepened_chance"] == 0.0
    np.testing.assert_array_equal(thermocline["within_chance"], [0.0, 0.0, 1.0, 1.0])


def test_quantiles_over_traces_and_never():
    past, ahead = storm([1, 2, 3, 4, 5, 6, 7, 8, 9, 60], days=45)
    odds = recovery_odds(FRONT, past, ahead).sel(part="broken")
    np.testing.assert_allclose(odds["days"], [1.5, 5.5, 9.5], rtol=0, atol=1e-9)
    assert float(odds["back_chance"]) == pytest.approx(0.9)
    np.testing.assert_allclose(odds["within_chance"], [0.1, 0.2, 0.6, 0.9], rtol=0, atol=1e-9)
    past, ahead = storm([60] * 4, days=45)
    odds = recovery_odds(FRONT, past, ahead).sel(part="broken")
    assert (odds["days"] == np.inf).all() and float(odds["back_chance"]) == 0.0


def test_what_was_not_taken_has_no_days():
    past, ahead = storm([0] * 3)
    odds = recovery_odds(FRONT, past, ahead)
    for part in ("broken", "deeper", "oxygen_floor"):
        assert float(odds["lost_chance"].sel(part=part)) == 0.0
        assert np.isnan(odds["days"].sel(part=part)).all()


def test_layers_that_do_not_reach_the_front_are_refused():
    past, ahead = storm([3, 3])
    late = {"start": pd.Timestamp("2021-01-01"), "end": pd.Timestamp("2021-01-02")}
    with pytest.raises(ValueError, match="front"):
        recovery_odds(late, past, ahead)


def weather(hot, *, days=20):
    time = pd.date_range("2020-06-21T00:00", periods=24 * days, freq="h")
    local_day = (time - pd.Timedelta(hours=6)).normalize()
    number = ((local_day - pd.Timestamp("2020-06-21")) / pd.Timedelta(days=1)).to_numpy()
    is_hot = np.isin(number, hot)
    return xr.Dataset(
        {
            "air_temperature": ("time", np.where(is_hot, 31.0, 20.0)),
            "wind_speed": ("time", np.where(is_hot, 2.0, 6.0)),
        },
        coords={"time": time},
    )


def test_the_trades_rule_counts_hot_calm_days_in_a_row():
    days = trade_rule_days(FRONT["end"], weather([2, 5, 6, 9, 10, 11]), utc_offset=-6.0)
    # local days begin at 06:00 UTC, as the front ends: days 5-6 are over after 7, 9-11 after 12
    np.testing.assert_allclose(days, [7.0, 12.0], rtol=0, atol=1e-9)
    never = trade_rule_days(FRONT["end"], weather([1, 3, 5]), utc_offset=-6.0)
    assert (never == np.inf).all()
    assert (trade_rule_days("2020-07-10T20:00", weather([1]), utc_offset=-6.0) == np.inf).all()


def test_a_few_years_make_a_wider_range_than_their_extremes():
    """Of n lognormal years the range holds 8 of 10 further ones: simulated, not assumed."""
    rng = np.random.default_rng(3)
    draws = np.exp(1.5 + 0.4 * rng.standard_normal((2000, 4)))
    ranges = np.array([days_range(row[:3], traces=3, horizon=1e6) for row in draws])
    held = (draws[:, 3] >= ranges[:, 0]) & (draws[:, 3] <= ranges[:, 2])
    assert held.mean() == pytest.approx(0.8, abs=0.03)
    bare = (draws[:, 3] >= draws[:, :3].min(axis=1)) & (draws[:, 3] <= draws[:, :3].max(axis=1))
    assert bare.mean() == pytest.approx(0.5, abs=0.03)  # (n - 1) / (n + 1)
    many = np.arange(1.0, 21.0)
    np.testing.assert_array_equal(days_range(many, traces=20, horizon=30), [2.0, 10.0, 18.0])


def test_parts_not_lost_are_there_and_taken_from_none():
    past, ahead = storm([0] * 4)  # but for the skin of the first noon
    odds = recovery_odds(FRONT, past, ahead)
    assert odds["before"].values.tolist() == [1.0] * 4
    assert odds["lost_chance"].values.tolist() == [1.0, 0.0, 0.0, 0.0]
    assert odds.attrs["traces"] == 4 and odds.attrs["horizon"] == 30
    assert odds.attrs["broke_chance"] == 0.0 and np.isnan(odds.attrs["deepening"])


def test_a_warm_skin_at_the_first_noon_was_never_lost():
    past, ahead = storm([0] * 2)
    for first_noon, lost in ((1.0, 0.0), (0.1, 1.0)):
        ahead["surface_skin"][..., 0] = first_noon
        skin = recovery_odds(FRONT, past, ahead).sel(part="skin")
        assert float(skin["lost_chance"]) == lost
    ahead["surface_skin"][..., 0] = np.nan  # not known
    skin = recovery_odds(FRONT, past, ahead).sel(part="skin")
    assert float(skin["before"]) == 0.0 and np.isnan(skin["lost_chance"])


def test_a_share_of_traces_and_members_that_a_front_changed():
    past, ahead = storm([0, 0, 0, 0, 5])  # broken in one trace of five
    for name in ("lasting_thermocline_depth", "thermocline_depth"):
        ahead[name][0, :, :8] = 4.0  # a metre deeper in another, for eight noons
        ahead[name][1, 0, :8] = 5.0  # two metres in one member of a third
    odds = recovery_odds(FRONT, past, ahead)
    lost = dict(zip(odds["part"].values, odds["lost_chance"].values, strict=True))
    assert lost["broken"] == pytest.approx(0.2) and lost["deeper"] == pytest.approx(0.3)
    assert odds.attrs["broke_chance"] == pytest.approx(0.2)
    assert odds.attrs["deepened_chance"] == pytest.approx(0.3)
    assert odds.attrs["deepening"] == 1.0  # the median of 1, 1 and 2 m
    deeper = odds.sel(part="deeper")
    assert float(deeper["days"][1]) == 8.5 and float(deeper["back_chance"]) == 1.0


def test_days_within_are_counted_with_the_last_one():
    past, ahead = storm([1, 2, 2, 3, 7, 14] * 2)  # back half a day after that
    late = {"start": FRONT["start"], "end": FRONT["end"] + pd.Timedelta(hours=12)}
    within = recovery_odds(late, past, ahead).sel(part="broken")["within_chance"]
    np.testing.assert_allclose(within, np.array([3, 4, 5, 6]) / 6)  # after 1, 2, 2, 3, 7, 14


def test_the_range_of_three_years_by_hand():
    # logarithms 0, 1 and 2: mean 1, standard deviation 1; t(2) 1.886 at 90 % (a printed table,
    # from memory); half a range 1.886 (1 + 1/3)^0.5 = 2.178
    days = np.exp([0.0, 1.0, 2.0])
    low, middle, high = days_range(days, traces=3, horizon=100.0)
    assert middle == pytest.approx(np.e)
    assert np.log(low) == pytest.approx(1 - 2.178, abs=0.001)
    assert np.log(high) == pytest.approx(1 + 2.178, abs=0.001)
    assert days_range(days, traces=3, horizon=20.0)[2] == np.inf  # 24 days
    # two years, logarithms 0 and 2: t(1) 3.078, half a range 3.078 x 2^0.5 (1 + 1/2)^0.5 = 5.331
    two = days_range(days[::2], traces=2, horizon=1000.0)
    assert np.log(two[[0, 2]]) == pytest.approx([1 - 5.331, 1 + 5.331], abs=0.001)
    # one year, or ten, tell no more than what was seen
    for traces in (1, 10):
        np.testing.assert_array_equal(days_range(days, traces=traces, horizon=30.0), days)
    assert days_range(np.repeat(days, 3), traces=9, horizon=100.0)[0] < 1.0


def test_members_of_one_year_are_no_further_years():
    few = days_range([2.0, 4.0, 8.0], traces=3, horizon=1e6)
    many = days_range([2.0, 4.0, 8.0] * 24, traces=3, horizon=1e6)
    np.testing.assert_allclose(many, few, rtol=1e-12)


def test_days_under_half_a_day_are_not_told_apart():
    with_zero, with_half = (
        days_range([first, 3.0, 4.0], traces=3, horizon=30.0) for first in (0.0, 0.5)
    )
    assert with_zero[2] == with_half[2]
    assert with_zero[0] == 0.0  # seen, and under what the logarithms reach


def test_days_up_to_the_horizon_are_told():
    np.testing.assert_array_equal(
        days_range([29.5] * 10, traces=10, horizon=30.0), [29.5, 29.5, 29.5]
    )
    assert (days_range([30.0] * 10, traces=10, horizon=30.0) == np.inf).all()


def test_the_trades_rule_is_asked_in_its_own_order_and_needs_a_day_of_weather():
    days = trade_rule_days(FRONT["end"], weather([2, 3, 4]), utc_offset=-6.0, rule=(3, 2))
    np.testing.assert_allclose(days, [5.0, 4.0])
    short = weather([0]).sel(time=slice(FRONT["end"], FRONT["end"] + pd.Timedelta(hours=23)))
    assert trade_rule_days(FRONT["end"], short, utc_offset=-6.0, rule=(1,)) == [1.0]
    cut = short.isel(time=slice(0, 23))
    assert trade_rule_days(FRONT["end"], cut, utc_offset=-6.0, rule=(1,)) == [np.inf]
    warm = trade_rule_days(
        FRONT["end"], weather([2, 3]), utc_offset=-6.0, thresholds={"hot": 31.5}
    )
    assert (warm == np.inf).all()
