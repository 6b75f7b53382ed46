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
