"""Through-flow, aerators, and what they conserve."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from column_lakes import lake, weather

from lakekit.club import Flow
from lakekit.column import simulate
from lakekit.column.flow import (
    AERATOR_DIFFUSIVITY,
    flow_doubts,
    hourly_flow,
    inflow_temperature,
    neutral_layer,
    residence_days,
    route,
)
from lakekit.column.parameters import default_parameters


def test_a_stream_follows_the_air_and_never_freezes():
    air = np.concatenate([np.full(2000, 15.0), np.full(2000, -20.0)])
    stream = inflow_temperature(air)
    assert stream[1999] == pytest.approx(15.0, abs=1e-9)
    assert stream[-1] == 0.5
    # an exponential memory of 5 days: 1 - exp(-1) of a step of 10 degC after 5 days
    step = inflow_temperature(np.concatenate([np.full(240, 10.0), np.full(240, 20.0)]))
    assert step[240 + 119] == pytest.approx(20.0 - 10.0 * np.exp(-1.0), abs=0.03)


def test_a_stream_resumes_where_it_was():
    air = 10.0 + 8.0 * np.sin(np.arange(1000) / 40.0)
    whole = inflow_temperature(air)
    second = inflow_temperature(air[400:], start=whole[399])
    np.testing.assert_array_equal(second, whole[400:])


@pytest.mark.parametrize("release", [0.0, 50.0, 120.0])
@pytest.mark.parametrize(("entry", "outlet"), [(0, 9), (9, 0), (4, 4), (7, 2), (2, 7)])
def test_every_layer_keeps_its_volume(entry, outlet, release):
    n, amount = 10, 80.0
    up, down, sink = (np.empty(n) for _ in range(3))
    route(0, entry, outlet, amount, release, up, down, sink)
    inflow = np.zeros(n)
    inflow[entry] = amount
    net = inflow - sink
    net[:-1] += up[:-1] - down[:-1]
    net[1:] += down[:-1] - up[:-1]
    np.testing.assert_allclose(net, 0.0, atol=1e-12)


def test_a_lake_without_flow_has_none():
    times = pd.date_range("2001-01-01", periods=10, freq="1h").values
    assert hourly_flow(None, times, np.zeros(10)).inflow.sum() == 0.0


def test_unknown_and_fast_flow_raise_doubts():
    assert "No inflow" in flow_doubts(lake())[0]
    volume = 86400.0 * 100.0  # a box that 1 m3/s fills in 100 days
    box = {"depths": np.array([0.0, 10.0]), "areas": np.full(2, volume / 10.0)}
    slow = lake(flow=Flow(inflow=np.full(12, 1.0)), **box)
    assert residence_days(slow) == pytest.approx(100.0, rel=1e-12)
    assert flow_doubts(slow) == ()
    deep = dataclasses.replace(slow.flow, aerator_depth=6.0, aerator_stirs="below")
    assert "more oxygen than told" in flow_doubts(dataclasses.replace(slow, flow=deep))[0]
    assert "25 days" in flow_doubts(lake(flow=Flow(release=np.full(12, 4.0)), **box))[0]


def flowing(**flow):
    return lake(flow=Flow(**flow))


def run(water, hours=8760):
    return simulate(water, weather(hours), parameters=default_parameters(water))


def test_heat_and_oxygen_close_with_flow_and_a_falling_level():
    water = flowing(inflow=np.full(12, 0.3), release=np.full(12, 0.25), release_depth=7.0)
    level = np.array([0, 0, 0.2, 0.6, 1.1, 1.6, 2.2, 2.7, 3.0, 2.0, 1.0, 0.3])
    out = run(lake(flow=water.flow, below_full_pond=level))
    assert abs(float(out["flow_heat"].mean())) > 0.5
    exchanged = float(abs(out["shortwave_in"]).sum() + abs(out["net_longwave"]).sum())
    assert abs(float(out["heat_residual"].sum())) < 1e-9 * exchanged
    gas = float(abs(out["oxygen_demand"]).sum() + abs(out["oxygen_production"]).sum())
    assert abs(float(out["oxygen_residual"].sum())) < 1e-9 * gas


def test_a_deep_release_warms_the_deep_water():
    shallow = run(flowing(inflow=np.full(12, 0.3), release_depth=0.0))
    deep = run(flowing(inflow=np.full(12, 0.3), release_depth=9.0))
    at = {"time": "2001-08-15", "member": 0}
    assert deep["water_temperature"].sel(at).values[0, 26] > (
        shallow["water_temperature"].sel(at).values[0, 26] + 1.0
    )


def test_an_aerator_mixes_the_water_above_it():
    bare, aerated = run(lake()), run(flowing(aerator_depth=8.0))

    def difference(out):
        july = out["water_temperature"].sel(time="2001-07-20").values[0, 0]
        return july[1] - july[22]

    assert difference(bare) > 5.0
    assert difference(aerated) < 0.5 * difference(bare)


def test_an_aerator_below_its_depth_mixes_the_deep_water_and_leaves_the_layers():
    bare = run(lake())
    stirred = run(flowing(aerator_depth=8.0, aerator_stirs="below"))

    def july(out, name):
        found = out[name].sel(time="2001-07-20").isel(time=0, member=0)
        return np.interp([1.0, 7.0, 8.5, 11.0], found["depth"], found)

    before, after = (july(out, "water_temperature") for out in (bare, stirred))
    assert before[2] - before[3] > 0.3
    assert abs(after[2] - after[3]) < 0.05
    # warmth goes down from under the layers; the surface and the step down from it stay
    assert after[3] > before[3]
    assert after[0] - after[1] > 0.9 * (before[0] - before[1])
    gas = abs(stirred["oxygen_demand"]).sum() + abs(stirred["oxygen_production"]).sum()
    assert abs(float(stirred["oxygen_residual"].sum())) < 1e-9 * float(gas)


def test_three_tenths_of_the_rain_on_a_catchment_run_in_and_snow_stays():
    rain, air = np.array([0.0, 10.0, 10.0]), np.array([15.0, 15.0, -3.0])
    flow = hourly_flow(None, np.arange(3), air, catchment=1e6, rain=rain)
    np.testing.assert_allclose(flow.inflow, [0.0, 0.3 * 0.01 * 1e6 / 3600.0, 0.0])
    np.testing.assert_array_equal(flow.release, flow.inflow)


def test_cool_runoff_enters_below_the_warm_surface_and_the_budget_closes():
    wet = weather(4000)
    wet["precipitation"][3600:3648] = 3.0
    wet["air_temperature"][3600:3648] = 12.0
    dry = lake()
    runs = [simulate(water, wet) for water in (dry, dataclasses.replace(dry, catchment=2e7))]
    assert float(abs(runs[1]["flow_heat"]).max()) > 0.0
    assert float(abs(runs[0]["flow_heat"]).max()) == 0.0
    heat = abs(runs[1]["heat_residual"]).sum() / abs(runs[1]["flow_heat"]).sum()
    assert float(heat) < 1e-6


def test_what_a_lake_file_leaves_out_is_made_up_by_what_it_gives():
    times = pd.date_range("2001-01-01", periods=10, freq="1h").values
    assert hourly_flow(Flow(aerator_depth=8.0), times, np.zeros(10)).aerated == (0.0, 8.0)
    flow = hourly_flow(
        Flow(release=np.full(12, 0.3), release_depth=6.0), times, np.full(10, 12.0), stream=4.0
    )
    np.testing.assert_array_equal(flow.inflow, 0.3)
    np.testing.assert_array_equal(flow.release, 0.3)
    assert (flow.release_depth, flow.aerated) == (6.0, (0.0, 0.0))
    assert 4.0 < flow.inflow_temperature[0] < 4.1
    own = hourly_flow(
        Flow(inflow=np.full(12, 0.2), inflow_temperature=np.full(12, 9.0)), times, np.zeros(10)
    )
    np.testing.assert_array_equal(own.inflow_temperature, 9.0)
    np.testing.assert_array_equal(own.release, 0.2)


def test_inflow_goes_to_the_layer_of_its_own_weight():
    densities = np.array([998.0, 999.0, 1000.0])
    for top, weight, layer in ((0, 997.0, 0), (0, 998.5, 1), (0, 1001.0, 2), (1, 997.0, 1)):
        assert neutral_layer(np.zeros(3), densities, top, weight) == layer


def test_a_stream_takes_a_hundred_and_twentieth_of_the_difference_an_hour():
    # by hand from 10 under air of 22 degC: 10 + 12 / 120, then 10.1 + 11.9 / 120, and after five
    # days 22 - 12 (1 - 1 / 120)^120, where (1 - 1 / 120)^120 is 0.36634
    found = inflow_temperature(np.full(120, 22.0), start=10.0)
    np.testing.assert_allclose(found[[0, 1, 119]], [10.1, 10.19917, 17.60392], atol=1e-4)


def test_an_unknown_stream_begins_at_the_mean_of_its_memory():
    air = np.concatenate([np.full(60, 4.0), np.full(60, 8.0), np.full(60, 30.0)])
    assert inflow_temperature(air)[0] == pytest.approx(6.0 - 2.0 / 120.0)
    # of one day: 4 degC already; and a brook without memory is as warm as the air
    assert inflow_temperature(air, days=1.0)[0] == pytest.approx(4.0)
    np.testing.assert_allclose(inflow_temperature(air, days=1.0 / 24.0), air)


def test_rain_runs_off_from_half_a_degree_up():
    air, rain = np.array([0.4, 0.5, 0.6]), np.full(3, 3.6)
    flow = hourly_flow(None, np.arange(3), air, catchment=1e6, rain=rain)
    # 3.6 mm on a square kilometre is 1 m3/s for an hour
    np.testing.assert_allclose(flow.inflow, [0.0, 0.3, 0.3])


def test_runoff_is_added_to_a_known_stream_and_takes_its_warmth():
    times = pd.date_range("2001-01-01", periods=3, freq="1h").values
    rain, air = np.array([0.0, 3.6, 0.0]), np.full(3, 12.0)
    known = Flow(inflow=np.full(12, 0.2), release=np.full(12, 0.1), release_depth=5.0,
                 inflow_temperature=np.full(12, 9.0))  # fmt: skip
    both = hourly_flow(known, times, air, catchment=1e6, rain=rain)
    np.testing.assert_allclose(both.inflow, [0.2, 0.5, 0.2])
    np.testing.assert_allclose(both.release, [0.1, 0.4, 0.1])
    np.testing.assert_array_equal(both.inflow_temperature, 9.0)
    assert both.release_depth == 5.0
    alone = hourly_flow(None, times, air, stream=4.0, catchment=1e6, rain=rain)
    np.testing.assert_array_equal(alone.inflow_temperature, inflow_temperature(air, start=4.0))


def test_a_release_without_a_depth_is_taken_from_the_surface():
    times = pd.date_range("2001-01-01", periods=3, freq="1h").values
    flow = hourly_flow(Flow(release=np.full(12, 0.1)), times, np.full(3, 12.0))
    assert flow.release_depth == 0.0
    below = Flow(aerator_depth=8.0, aerator_stirs="below")
    assert hourly_flow(below, times, np.full(3, 12.0)).aerated == (8.0, np.inf)


def test_an_aerator_mixes_five_metres_in_a_few_hours():
    hours = 5.0**2 / AERATOR_DIFFUSIVITY / 3600.0
    assert 1.0 < hours < 12.0


WEDGE = {"depths": np.array([0.0, 4.0, 10.0]), "areas": np.array([1e5, 5e4, 0.0])}


def test_residence_by_hand_counts_inflow_before_release():
    # 4 m of 7.5e4 and 6 m of 2.5e4 m2 on average: 4.5e5 m3, at 0.1 m3/s 52.08 days
    both = lake(flow=Flow(inflow=np.full(12, 0.1), release=np.full(12, 9.0)), **WEDGE)
    assert residence_days(both) == pytest.approx(4.5e5 / 8640.0)
    assert residence_days(lake(flow=Flow(aerator_depth=3.0), **WEDGE)) is None
    uneven = lake(flow=Flow(inflow=np.repeat([0.0, 0.2], 6)), **WEDGE)
    assert residence_days(uneven) == pytest.approx(4.5e5 / 8640.0)


@pytest.mark.filterwarnings("error")  # nor is a division by zero told
def test_a_lake_said_to_have_no_through_flow_is_never_renewed():
    still = lake(flow=Flow(inflow=np.zeros(12)), **WEDGE)
    assert residence_days(still) == np.inf
    assert flow_doubts(still) == ()


@pytest.mark.parametrize(("days", "doubts"), [(59, 1), (60, 0), (61, 0)])
def test_exchange_within_two_months_is_a_doubt(days, doubts):
    box = {"depths": np.array([0.0, 10.0]), "areas": np.full(2, 8640.0 * days)}  # 1 m3/s
    assert len(flow_doubts(lake(flow=Flow(inflow=np.ones(12)), **box))) == doubts


def test_an_aerator_below_adds_its_doubt_to_the_others():
    unknown = lake(flow=Flow(aerator_depth=3.0, aerator_stirs="below"), **WEDGE)
    aerator, flow = flow_doubts(unknown)
    assert "aerator" in aerator and "No inflow" in flow
    fast = dataclasses.replace(unknown.flow, inflow=np.full(12, 1.0))
    assert len(flow_doubts(dataclasses.replace(unknown, flow=fast))) == 2
    above = dataclasses.replace(unknown.flow, aerator_stirs="above")
    assert len(flow_doubts(dataclasses.replace(unknown, flow=above))) == 1
    absent = dataclasses.replace(unknown.flow, aerator_depth=None)
    assert len(flow_doubts(dataclasses.replace(unknown, flow=absent))) == 1


@pytest.mark.parametrize(("entry", "outlet"), [(3, 7), (7, 3), (5, 5)])
def test_flow_crosses_only_what_lies_between_and_never_the_layers_above_the_surface(entry, outlet):
    top, amount, release = 2, 80.0, 50.0
    up, down, sink = (np.full(10, np.nan) for _ in range(3))
    route(top, entry, outlet, amount, release, up, down, sink)
    faces = np.arange(10)  # below each layer
    # by hand: 80 rises from the entry to the surface, 50 falls from there to the outlet; where
    # both cross a face, the difference does
    rises = np.where((faces >= top) & (faces < entry), 80.0, 0.0)
    falls = np.where((faces >= top) & (faces < outlet), 50.0, 0.0)
    np.testing.assert_allclose(up, np.maximum(rises - falls, 0.0))
    np.testing.assert_allclose(down, np.maximum(falls - rises, 0.0))
    out = np.zeros(10)
    out[outlet], out[top] = 50.0, 30.0
    np.testing.assert_allclose(sink, out)
