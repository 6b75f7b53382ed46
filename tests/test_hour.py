"""One hour's steps, each against its own ledger and figures worked out by hand."""

import numpy as np
import pytest

from lakekit.column import columns, hour
from lakekit.column.oxygen import demand_share, light_limitation, transfer_velocity
from lakekit.column.water import (
    ICE_DENSITY,
    LATENT_FUSION,
    VOLUMETRIC_HEAT,
    density,
    oxygen_saturation,
)

AREA, N = 200.0, 6
FACES = np.linspace(0.0, 3.0, N + 1)
AREAS = np.array([200.0, 180.0, 150.0, 110.0, 60.0, 30.0, 0.0])
VOLUMES = 0.5 * 0.5 * (AREAS[1:] + AREAS[:-1])


def weather(**changes):
    row = np.zeros(columns.FORCING_COLUMNS)
    usual = {
        "AIR": 15.0, "VAPOUR": 10.0, "PRESSURE": 1000.0, "WIND": 4.0, "SHORTWAVE": 400.0,
        "ALBEDO": 0.06, "LONGWAVE": 320.0, "CLARITY": 1.0,
    }  # fmt: skip
    for name, value in (usual | changes).items():
        row[getattr(columns, name)] = value
    return row


def own(**changes):
    values = np.ones(8)
    values[columns.SKY] = 0.0
    for name, value in changes.items():
        values[getattr(columns, name)] = value
    return values


def books():
    return np.zeros((2, N)), np.zeros(columns.BUDGET_COLUMNS)


@pytest.mark.parametrize("ice", [0.0, 0.2])
def test_all_light_that_enters_is_absorbed_once(ice):
    source, budget = books()
    hour.absorb_light(
        weather(), own(FADING=1.6), 300.0, ice, 2.0, 0.0, FACES, AREAS, VOLUMES, source, 0, budget
    )
    heat = source[0] * VOLUMETRIC_HEAT / hour.HOUR
    assert heat.sum() == pytest.approx(300.0 * 200.0, rel=1e-9)
    # by hand: 55 % stays on top in open water, none under ice, the rest fades at 1.6 a metre
    # towards faces of 200 and 180 m2
    visible = 300.0 if ice else 0.45 * 300.0
    top = (300.0 - visible) * 200.0 + visible * (200.0 - 180.0 * np.exp(-0.8))
    assert heat[0] == pytest.approx(top, rel=1e-9)
    second = visible * np.exp(-0.8) * (180.0 - 150.0 * np.exp(-0.8))
    assert heat[1] == pytest.approx(second, rel=1e-9)
    # oxygen is made by the light in the middle of the layer, a 24th of the day's in the hour
    made = 2.0 * light_limitation(visible * np.exp(-0.4)) * VOLUMES[0] / 24.0
    assert source[1, 0] == pytest.approx(made, rel=1e-9)
    assert budget[columns.MADE] == pytest.approx(source[1].sum(), rel=1e-12)


def test_light_begins_at_the_days_surface():
    source, budget = books()
    hour.absorb_light(
        weather(), own(), 300.0, 0.2, 2.0, 0.2, FACES, AREAS, VOLUMES, source, 0, budget
    )
    heat = source[0] * VOLUMETRIC_HEAT / hour.HOUR
    assert heat[0] == pytest.approx(300.0 * (200.0 - 180.0 * np.exp(-0.3)), rel=1e-9)
    made = 2.0 * light_limitation(300.0 * np.exp(-0.15)) * VOLUMES[0] / 24.0
    assert source[1, 0] == pytest.approx(made, rel=1e-9)


def test_open_water_gains_what_its_budget_says():
    source, budget = books()
    entering, stress = hour.open_surface(
        weather(), own(SHELTER=0.5, SUNSHINE=0.9), AREA, 0.5, 18.0, 6.0, source, 1, budget
    )
    gross = AREA * hour.HOUR
    assert entering == pytest.approx(400.0 * 0.9 * 0.94)
    assert budget[columns.SHORT_IN] == pytest.approx(entering * gross)
    fluxes = [budget[name] for name in (columns.LONG_NET, columns.LATENT, columns.SENSIBLE)]
    assert source[0, 1] * VOLUMETRIC_HEAT == pytest.approx(sum(fluxes), rel=1e-9)
    assert fluxes[1] < 0.0  # evaporation cools
    assert fluxes[2] < 0.0  # air colder than the water
    open_stress = hour.open_surface(weather(), own(), AREA, 0.5, 18.0, 6.0, *books()[:1], 1,
                                    books()[1])[1]  # fmt: skip
    assert 0.0 < stress < 0.5 * open_stress  # near the square of half the wind
    # gas: backward Euler towards saturation, by hand
    velocity = transfer_velocity(18.0, 4.0) / 24.0
    wanted = oxygen_saturation(18.0, 1000.0) - 6.0
    exchanged = velocity * wanted / (1.0 + velocity / 0.5) * AREA
    assert budget[columns.GAS] == pytest.approx(exchanged, rel=1e-9)
    assert source[1, 1] == pytest.approx(exchanged, rel=1e-9)


def test_oxygen_over_saturation_leaves_and_none_overshoots():
    for oxygen in (14.0, 0.0, -3.0):
        source, budget = books()
        hour.open_surface(weather(WIND=20.0), own(), AREA, 0.01, 18.0, oxygen, source, 0, budget)
        after = max(oxygen, 0.0) + source[1, 0] / (AREA * 0.01)
        saturated = oxygen_saturation(18.0, 1000.0)
        assert min(max(oxygen, 0.0), saturated) < after < max(oxygen, saturated)


@pytest.mark.parametrize(
    "changes",
    [
        {"AIR": -12.0, "VAPOUR": 1.5, "LONGWAVE": 200.0, "SHORTWAVE": 50.0},
        {"AIR": -12.0, "VAPOUR": 1.5, "LONGWAVE": 200.0, "SHORTWAVE": 0.0, "SNOWFALL": 0.01},
        {"AIR": 8.0, "VAPOUR": 9.0, "LONGWAVE": 320.0, "SHORTWAVE": 300.0},
        {"AIR": 15.0, "VAPOUR": 16.0, "LONGWAVE": 380.0, "SHORTWAVE": 900.0},
    ],
)
@pytest.mark.parametrize(("ice", "snow"), [(0.3, 0.0), (0.2, 0.1), (0.001, 0.0)])
def test_ice_keeps_its_ledger(changes, ice, snow):
    source, budget = books()
    entering, left, white = hour.ice_surface(
        weather(**changes), own(), AREA, 0.5, 1.5, 100.0, ice, snow, source, 0, budget
    )
    frozen = ICE_DENSITY * (left - ice) + hour.SNOW_DENSITY * (white - snow)
    stored = source[0, 0] * VOLUMETRIC_HEAT - frozen * LATENT_FUSION * AREA
    names = (columns.SHORT_IN, columns.LONG_NET, columns.LATENT, columns.SENSIBLE, columns.SNOW_IN)
    gained = sum(budget[name] for name in names) - entering * AREA * hour.HOUR
    assert stored == pytest.approx(gained, rel=1e-9, abs=1e-3)
    assert left >= 0.0
    if changes["AIR"] < 0.0:
        assert left > 0.5 * ice
    if changes["AIR"] > 10.0 and ice < 0.01:
        assert (left, white) == (0.0, 0.0)


def test_bed_and_water_share_heat_and_take_oxygen_by_hand():
    temperature, oxygen = np.full(N, 20.0), np.full(N, 9.0)
    oxygen[-1] = 0.2
    upper, lower = np.full(N, 12.0), np.full(N, 10.0)
    source, budget = books()
    hour.bed_and_demand(
        temperature, oxygen, upper, lower, AREAS, VOLUMES, (1.2, 0.3), hour.demand_table(), source,
        0, budget,
    )  # fmt: skip
    bed = AREAS[:-1] - AREAS[1:]
    gained = source[0] * VOLUMETRIC_HEAT
    slabs = hour.SEDIMENT_HEAT * (hour.SLAB[0] * (upper - 12.0) + hour.SLAB[1] * (lower - 10.0))
    np.testing.assert_allclose(gained, -slabs * bed, rtol=1e-9)
    # 1 W/m/K over 10 cm and 8 degC, for an hour
    np.testing.assert_allclose(gained, -80.0 * 3600.0 * bed, rtol=1e-9)
    assert budget[columns.SEDIMENT] == pytest.approx(gained.sum())
    assert (lower > 10.0).all()
    full = (1.2 * bed + 0.3 * VOLUMES) / 24.0
    np.testing.assert_allclose(source[1, :-1], -full[:-1] * demand_share(9.0), rtol=1e-6)
    assert source[1, -1] == pytest.approx(-full[-1] * demand_share(0.2), rel=1e-6)
    assert budget[columns.TAKEN] == pytest.approx(source[1].sum())


def test_demand_rises_by_the_published_base():
    # theta 1.065 a degree (Thomann & Mueller 1987, from memory), 1 at 20 degC
    table = hour.demand_table()
    assert table[80] == pytest.approx(1.0)
    assert table[84] / table[80] == pytest.approx(hour.TEMPERATURE_BASE)
    assert hour.TEMPERATURE_BASE == pytest.approx(1.065, abs=0.02)


def test_inflow_and_release_are_booked_where_they_go():
    temperature = np.array([20.0, 20.0, 15.0, 10.0, 8.0, 8.0])
    densities = np.array([density(t) for t in temperature])
    up, down, sink = (np.zeros(N) for _ in range(3))
    source, budget = books()
    row = weather(INFLOW=0.01, WARMTH=12.0, GAS_IN=9.0, RELEASE=0.02)
    hour.bring_inflow(
        row, temperature, densities, 0.0, FACES, 2.2, up, down, sink, source, 0, budget
    )
    assert source[0].tolist() == pytest.approx([0, 0, 0, 36.0 * 12.0, 0, 0])  # into 10 degC water
    assert source[1, 3] == pytest.approx(36.0 * 9.0)
    assert sink[4] == pytest.approx(72.0)  # the layer that holds 2.2 m
    assert sink[0] == pytest.approx(36.0 - 72.0)  # made good by the surface
    assert budget[columns.FLOW_HEAT] == pytest.approx(36.0 * 12.0 * VOLUMETRIC_HEAT)
    assert budget[columns.FLOW_GAS] == pytest.approx(36.0 * 9.0)


def test_frozen_water_keeps_its_heat():
    temperature = np.array([-0.4, -0.1, 0.5, 2.0, -0.2, 3.0])
    before = (VOLUMES * temperature).sum() * VOLUMETRIC_HEAT
    ice = hour.freeze(temperature, VOLUMES, AREA, 0.05, 0)
    after = (VOLUMES * temperature).sum() * VOLUMETRIC_HEAT
    frozen = (ice - 0.05) * ICE_DENSITY * LATENT_FUSION * AREA
    assert after - frozen == pytest.approx(before, rel=1e-9)
    assert temperature[:2].tolist() == [0.0, 0.0]
    assert temperature[4] == -0.2  # below warm water nothing freezes
