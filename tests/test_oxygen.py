"""Oxygen: published coefficients, the budget, and the debt repaid at turnover."""

import numpy as np
import pytest
from column_lakes import lake, small_lake, weather

from lakekit.column import end_state, make_basin, oxygen, simulate
from lakekit.column.parameters import default_parameters
from lakekit.column.water import oxygen_saturation


@pytest.mark.parametrize(("wind", "velocity"), [(0, 2.070), (2, 2.769), (3, 3.462), (5, 5.387),
                                                (8, 9.444), (10, 12.846)])  # fmt: skip
def test_gas_velocity_of_cole_and_caraco(wind, velocity):
    # Cole & Caraco 1998: 2.07 + 0.215 U^1.7 cm/h, here in m/d
    assert oxygen.gas_velocity(float(wind)) == pytest.approx(0.24 * velocity, abs=2e-4)


@pytest.mark.parametrize(("temperature", "number"), [(0, 1800.6), (10, 930.2), (20, 530.5),
                                                     (25, 417.9), (30, 315.8)])  # fmt: skip
def test_schmidt_number_of_wanninkhof(temperature, number):
    # Wanninkhof 1992, fresh water
    assert oxygen.schmidt_number(float(temperature)) == pytest.approx(number, abs=0.06)


def test_demand_fades_without_oxygen_to_the_share_kept_as_debt():
    assert oxygen.demand_share(-5.0) == oxygen.DEBT_SHARE
    assert oxygen.demand_share(0.0) == pytest.approx(oxygen.DEBT_SHARE, rel=1e-12)
    assert oxygen.demand_share(1e6) == pytest.approx(1.0, abs=1e-5)


@pytest.fixture(scope="module")
def year():
    water = lake()
    return water, simulate(water, weather(), parameters=default_parameters(water), every="1h")


def test_the_oxygen_budget_closes(year):
    _, run = year
    names = ["oxygen_gas_exchange", "oxygen_production", "oxygen_demand"]
    exchanged = float(sum(abs(run[name]) for name in names).sum())
    assert abs(float(run["oxygen_residual"].sum())) < 1e-9 * exchanged
    total = sum(run[n] for n in (*names, "oxygen_flow", "oxygen_level")).values[0] / 24.0
    content = run["oxygen_content"].values[0]
    assert content[-1] - content[0] == pytest.approx(total[1:].sum(), rel=1e-6)


def test_the_top_stays_near_saturation_and_the_bottom_runs_out(year):
    _, run = year
    july = run.sel(time=slice("2001-07-01", "2001-08-31")).isel(member=0)
    top = july["dissolved_oxygen"].values[:, 0]
    full = oxygen_saturation(july["water_temperature"].values[:, 0], 990.0)
    assert 0.75 < np.mean(top / full) < 1.25
    assert july["dissolved_oxygen"].values[:, -4].max() < 0.5
    assert float(run["dissolved_oxygen"].min()) >= 0.0


def test_turnover_repays_the_debt():
    water = lake()
    parameters = default_parameters(water)
    state = end_state(simulate(water, weather(350 * 24), parameters=parameters))
    indebted = state.copy(deep=True)
    volumes = make_basin(water).volumes
    deep = np.arange(volumes.size) >= 12
    indebted["oxygen"].values[:, deep] = -10.0
    owed = float(np.sum((state["oxygen"].values[0] - indebted["oxygen"].values[0]) * volumes))
    after = weather(48, start=350 * 24)
    rich = simulate(water, after, parameters=parameters, state=state, every="1h")
    poor = simulate(water, after, parameters=parameters, state=indebted, every="1h")
    # mid-December water is mixed: the debt of the deep layers is taken from all of it
    fall = (rich["dissolved_oxygen"] - poor["dissolved_oxygen"]).values[0, 1]
    assert fall[0] == pytest.approx(owed / volumes.sum(), rel=0.1)
    assert np.ptp(fall) < 0.5


def test_under_ice_oxygen_falls():
    run = simulate(small_lake(), weather(colder=12.0), parameters=default_parameters(small_lake()))
    ice = run["ice_thickness"].values[0] > 0.05
    runs = np.flatnonzero(np.diff(ice.astype(int)) == 1)
    start = runs[-1] if len(runs) else 0
    mean = run["oxygen_content"].values[0]
    covered = np.flatnonzero(ice[start + 1 :])
    last = start + 1 + covered[min(20, covered.size - 1)]
    assert ice[start + 1 : last + 1].all()
    assert mean[last] < mean[start + 1]
    assert np.allclose(run["oxygen_gas_exchange"].values[0, start + 2 : last], 0.0)


def test_more_fertile_water_has_a_shallower_floor():
    depths = []
    for fertility in ("oligotrophic", "mesotrophic", "eutrophic", "hypereutrophic"):
        water = lake(fertility=fertility)
        run = simulate(water, weather(), parameters=default_parameters(water))
        august = run["dissolved_oxygen"].sel(time="2001-08-15").values[0, 0]
        low = np.flatnonzero(august < 3.0)
        depths.append(run["depth"].values[low[0]] if low.size else np.inf)
    assert depths == sorted(depths, reverse=True)
    assert depths[-1] < depths[0]


def test_richer_water_takes_and_makes_more_within_what_was_measured():
    rows = np.array([
        oxygen.FERTILITY[name]
        for name in ("oligotrophic", "mesotrophic", "eutrophic", "hypereutrophic")
    ])  # fmt: skip
    assert (np.diff(rows, axis=0) > 0.0).all()
    # sediment 0.2 to 1.3 g/m2/d (Mueller et al. 2012: 0.47-1.31 among eutrophic lakes); water and
    # production in g/m3/d common practice, no source
    assert (rows[:, 0] >= 0.1).all()
    assert (rows.max(axis=0) <= [1.31, 0.3, 2.5]).all()
    assert (rows[1:, 2] > 4.0 * rows[1:, 1]).all()


def test_demand_and_light_are_half_at_their_half_constants():
    debt = oxygen.demand_share(0.0)
    assert oxygen.demand_share(-5.0) == debt
    half = oxygen.demand_share(oxygen.HALF_SATURATION)
    assert half == pytest.approx(0.5 * (1.0 + debt), rel=1e-12)
    assert oxygen.demand_share(1e6) == pytest.approx(1.0, abs=1e-5)
    assert oxygen.light_limitation(oxygen.LIGHT_HALF) == pytest.approx(0.5, rel=1e-12)
    assert oxygen.light_limitation(0.0) == 0.0


def test_gas_exchange_by_hand_and_at_the_ends_of_the_table():
    # 5.387 cm/h at 5 m/s (Cole & Caraco 1998) and a Schmidt number of 530.5 at 20 degC
    expected = 0.24 * 5.387 * (600.0 / 530.5) ** 0.5
    assert oxygen.transfer_velocity(20.0, 5.0) == pytest.approx(expected, rel=1e-3)
    assert oxygen.transfer_velocity(-2.0, 5.0) == oxygen.transfer_velocity(0.0, 5.0)
    assert oxygen.transfer_velocity(40.0, 5.0) == oxygen.transfer_velocity(35.0, 5.0)
    assert oxygen.gas_velocity(-1.0) == oxygen.gas_velocity(0.0) == pytest.approx(0.4968)


def test_gas_crosses_as_published_where_its_schmidt_number_is_that_of_the_relation():
    # Cole & Caraco's velocity is that at a Schmidt number of 600; oxygen has it at 17.56 degC
    # (Wanninkhof 1992, Table A1, solved)
    assert oxygen.schmidt_number(17.55978) == pytest.approx(600.0, abs=1e-3)
    for wind in (0.0, 3.0, 12.0):
        found = oxygen.transfer_velocity(17.55978, wind)
        assert found == pytest.approx(oxygen.gas_velocity(wind), rel=1e-6)


def test_every_water_takes_and_makes_some_oxygen():
    assert min(min(row) for row in oxygen.FERTILITY.values()) > 0.0


def test_without_oxygen_a_part_of_the_demand_is_owed():
    assert 0.0 < oxygen.demand_share(-5.0) < 1.0
    # sediment demand grows by 1.04 to 1.13 a degree (Thomann & Mueller 1987, from memory)
    assert 1.04 <= oxygen.TEMPERATURE_BASE <= 1.13
