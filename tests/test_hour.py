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


@pytest.mark.parametrize(
    ("temperature", "speed"),
    [(20.1, 1.0063), (4.9, 0.3864), (-0.5, 0.2838), (45.0, 4.8277), (60.0, 4.8277)],
)
def test_demand_between_the_table_and_at_its_ends(temperature, speed):
    # 1.065 to the power of the degrees from 20, of water from 0 to 45 degC
    found = bed_and_demand(np.full(N, temperature), np.full(N, 9.0))[0][1]
    full = (1.2 * (AREAS[:-1] - AREAS[1:]) + 0.3 * VOLUMES) / 24.0
    np.testing.assert_allclose(found, -speed * demand_share(9.0) * full, rtol=2e-4)


def bed_and_demand(temperature, oxygen, *, upper=12.0, lower=10.0, top=0):
    source, budget = books()
    upper, lower = np.full(N, upper), np.full(N, lower)
    hour.bed_and_demand(
        temperature, oxygen, upper, lower, AREAS, VOLUMES, (1.2, 0.3), hour.demand_table(), source,
        top, budget,
    )  # fmt: skip
    return source, budget, upper, lower


def test_the_bed_warms_by_hand():
    # 1 W/m/K over 0.1 m from water of 20 to mud of 12 degC: 80 W/m2; over 0.85 m on to mud of 10:
    # 2.353 W/m2; 3.2 MJ/m3/K in 0.2 and 1.5 m
    _, _, upper, lower = bed_and_demand(np.full(N, 20.0), np.full(N, 9.0))
    np.testing.assert_allclose(upper, 12.0 + (80.0 - 2.353) * 3600.0 / 6.4e5, rtol=1e-6)
    np.testing.assert_allclose(lower, 10.0 + 2.353 * 3600.0 / 4.8e6, rtol=1e-6)


def test_beds_above_the_water_lie_as_they_were():
    source, _, upper, lower = bed_and_demand(np.full(N, 20.0), np.full(N, 9.0), top=2)
    assert (source[:, :2] == 0.0).all() and (upper[:2] == 12.0).all() and (lower[:2] == 10.0).all()
    assert (source[:, 2:] != 0.0).all()


def test_wind_is_sheltered_where_it_stirs_and_scaled_where_it_evaporates():
    def outcome(**changes):
        source, budget = books()
        _, stress = hour.open_surface(
            weather(), own(**changes), AREA, 0.5, 18.0, 6.0, source, 0, budget
        )
        return stress, budget[columns.LATENT], budget[columns.GAS], budget[columns.LONG_NET]

    stress, latent, gas, sky = outcome()
    sheltered, dry, bright = outcome(SHELTER=0.5), outcome(EVAPORATION=1.5), outcome(SKY=10.0)
    # by hand: 1.2090 kg/m3 of dry air at 15 degC and 1000 hPa, 0.0044 U^-1.15 (Wuest & Lorke 2003)
    assert sheltered[0] == pytest.approx(1.2090 * 0.0044 * 2.0**-1.15 * 4.0, rel=1e-3)
    assert sheltered[1:] == (latent, gas, sky)
    assert dry[0] == stress
    # the air over water that evaporates half as much again is that of 6 m/s for 4
    windy = books()
    hour.open_surface(weather(WIND=6.0), own(), AREA, 0.5, 18.0, 6.0, windy[0], 0, windy[1])
    assert dry[1] == pytest.approx(windy[1][columns.LATENT])
    assert dry[2] == pytest.approx(windy[1][columns.GAS])
    assert bright[3] - sky == pytest.approx(9.7 * AREA * hour.HOUR)


def test_what_the_water_sends_up_is_its_long_wave_loss():
    # 0.97 of 320 W/m2 less Stefan's law at 18 degC, 0.97 x 5.670374e-8 x 291.15^4 = 395.22
    source, budget = books()
    hour.open_surface(weather(), own(), AREA, 0.5, 18.0, 6.0, source, 0, budget)
    lost = budget[columns.LONG_NET] / (AREA * hour.HOUR)
    assert lost == pytest.approx(0.97 * 320.0 - 395.22, abs=0.02)


def iced(temperature=1.5, volume=100.0, *, ice=0.3, snow=0.0, reach=0.5, top=0, **changes):
    source, budget = books()
    left = hour.ice_surface(
        weather(**changes), own(), AREA, reach, temperature, volume, ice, snow, source, top, budget
    )
    return *left, source, budget


COLD = {"AIR": -10.0, "VAPOUR": 2.0, "LONGWAVE": 220.0, "SHORTWAVE": 0.0}
WARM = {"AIR": 8.0, "VAPOUR": 9.0, "LONGWAVE": 320.0, "SHORTWAVE": 300.0}


def test_water_gives_the_ice_at_most_half_of_what_its_layer_holds():
    # 1 mm of water at 2 degC on 200 m2: half of 0.2 m3 x 4.186 MJ/m3/K x 2 K
    *_, source, _ = iced(2.0, 0.2, reach=0.001, **COLD)
    assert source[0, 0] == pytest.approx(-0.5 * 0.2 * 2.0)
    # 0.57 W/m/K over 0.25 m where the layer is thick
    *_, source, _ = iced(2.0, 100.0, **COLD)
    assert source[0, 0] * VOLUMETRIC_HEAT == pytest.approx(-0.57 * 2.0 / 0.25 * AREA * 3600.0)
    # and nothing from water at 0 degC
    *_, source, _ = iced(0.0, 100.0, **COLD)
    assert source[0, 0] == 0.0


def test_snow_melts_before_the_ice_under_it():
    # 9.17 kg of snow on a square metre take all that a mild hour has to give
    _, ice, snow, *_ = iced(0.0, snow=0.05, **WARM)
    assert snow < 0.05
    assert ice == pytest.approx(0.3, abs=1e-9)
    # where there is less, the ice melts by what is over
    _, bare, none, *_ = iced(0.0, snow=0.0, **WARM)
    _, ice, snow, *_ = iced(0.0, snow=1e-4, **WARM)
    assert snow == none == 0.0
    assert bare < ice < 0.3


def test_snow_falls_on_ice_as_its_latent_heat():
    _, _, snow, _, budget = iced(snow=0.02, SNOWFALL=0.01, **COLD)
    assert snow == pytest.approx(0.03)
    # 300 kg/m3 of 333.6 kJ/kg on 200 m2
    assert budget[columns.SNOW_IN] == pytest.approx(-0.01 * 300.0 * 333.6e3 * 200.0)


def test_cold_ice_thickens_by_what_leaves_its_top():
    # what the top loses freezes ice, less what the water gives: 0.57 x 1.5 / 0.25 = 3.42 W/m2
    _, ice, _, _, budget = iced(1.5, ice=0.3, **COLD)
    lost = -sum(budget[name] for name in (columns.LONG_NET, columns.LATENT, columns.SENSIBLE))
    grown = (lost / AREA - 3.42 * 3600.0) / (917.0 * 333.6e3)
    assert ice - 0.3 == pytest.approx(grown, rel=1e-6)
    assert grown > 0.0


def test_wind_and_sky_over_ice_have_their_factors():
    def fluxes(row, factors):
        source, budget = books()
        hour.ice_surface(row, factors, AREA, 0.5, 0.5, 100.0, 0.3, 0.0, source, 0, budget)
        return budget

    np.testing.assert_allclose(
        fluxes(weather(**COLD), own(EVAPORATION=1.5)), fluxes(weather(**COLD, WIND=6.0), own())
    )
    brighter = COLD | {"LONGWAVE": 230.0}
    np.testing.assert_allclose(
        fluxes(weather(**COLD), own(SKY=10.0)), fluxes(weather(**brighter), own())
    )


def test_sun_on_bare_ice_is_parted_by_hand():
    # 400 W/m2 on 20 cm: 0.4 thrown back, 0.6 x 0.45 exp(-0.3) passed; a tenth less of a shaded sun
    for share in (1.0, 0.9):
        source, budget = books()
        entering, *_ = hour.ice_surface(
            weather(**COLD | {"SHORTWAVE": 400.0}), own(SUNSHINE=share), AREA, 0.5, 0.0, 100.0,
            0.2, 0.0, source, 0, budget,
        )  # fmt: skip
        assert entering == pytest.approx(share * 400.0 * 0.6 * 0.45 * 0.74082, rel=1e-4)
        taken = budget[columns.SHORT_IN] / (AREA * hour.HOUR)
        assert taken == pytest.approx(share * 240.0, rel=1e-9)


def test_the_last_of_the_crust_leaves_its_heat_in_the_layer_below():
    _, ice, snow, source, budget = iced(0.5, ice=1e-4, snow=2e-3, top=1, **WARM)
    assert (ice, snow) == (0.0, 0.0)
    assert (source[:, [0, *range(2, N)]] == 0.0).all()
    gained = sum(budget[k] for k in (columns.SHORT_IN, columns.LONG_NET, columns.LATENT,
                                     columns.SENSIBLE))  # fmt: skip
    entering = iced(0.5, ice=1e-4, snow=2e-3, top=1, **WARM)[0]
    melted = (1e-4 * 917.0 + 2e-3 * 300.0) * 333.6e3 * AREA
    expected = gained - entering * AREA * 3600.0 - melted
    assert source[0, 1] * VOLUMETRIC_HEAT == pytest.approx(expected, rel=1e-9)


def test_light_that_is_all_but_gone_stays_where_it_is():
    # at 30 a metre 300 W/m2 fall to 9.2e-5 in the first half metre, under a hundredth
    source, budget = books()
    hour.absorb_light(
        weather(CLARITY=30.0), own(), 300.0, 0.2, 2.0, 0.0, FACES, AREAS, VOLUMES, source, 0, budget
    )
    assert (source[:, 1:] == 0.0).all()
    heat = source[0].sum() * VOLUMETRIC_HEAT / hour.HOUR
    assert heat == pytest.approx(300.0 * AREAS[0], rel=1e-12)


def test_light_enters_at_the_surface_layer_and_makes_oxygen_to_the_bottom():
    # 1.5 m drawn down to layer 2 and a quarter metre of it; clarity times the lake's own factor
    source, budget = books()
    hour.absorb_light(
        weather(CLARITY=0.5), own(FADING=2.0), 100.0, 0.2, 2.4, 1.25, FACES, AREAS, VOLUMES,
        source, 2, budget,
    )  # fmt: skip
    assert (source[:, :2] == 0.0).all()
    tops = 100.0 * np.exp(-np.array([0.0, 0.25, 0.75, 1.25]))
    middles = 100.0 * np.exp(-np.array([0.125, 0.5, 1.0, 1.5]))
    bottoms = 100.0 * np.exp(-np.array([0.25, 0.75, 1.25, 1.75]))
    heat = source[0, 2:] * VOLUMETRIC_HEAT / hour.HOUR
    np.testing.assert_allclose(heat, tops * AREAS[2:6] - bottoms * AREAS[3:], rtol=1e-9)
    # 2.4 g/m3/d is 0.1 an hour, half of it at 30 W/m2
    made = 0.1 * middles / (middles + 30.0) * VOLUMES[2:]
    np.testing.assert_allclose(source[1, 2:], made, rtol=1e-9)
    assert budget[columns.MADE] == pytest.approx(made.sum())


@pytest.mark.parametrize(("depth", "outlet"), [(0.0, 1), (0.5, 1), (0.6, 2), (1.1, 3), (99.0, 5)])
def test_a_release_is_taken_at_its_depth_below_the_days_surface(depth, outlet):
    # faces every 0.5 m, the surface 0.5 m down in layer 1
    temperature = np.linspace(20.0, 10.0, N)
    up, down, sink = (np.zeros(N) for _ in range(3))
    source, budget = books()
    hour.bring_inflow(
        weather(RELEASE=0.01), temperature, density(temperature), 0.5, FACES, depth, up, down,
        sink, source, 1, budget,
    )  # fmt: skip
    expected = np.zeros(N)
    expected[outlet] += 36.0
    expected[1] -= 36.0
    np.testing.assert_allclose(sink, expected)
    layers = np.arange(N)
    np.testing.assert_allclose(down, np.where((layers >= 1) & (layers < outlet), 36.0, 0.0))


def test_freezing_stops_below_the_first_layers_at_water_over_a_degree():
    for second, third, frozen in ((2.0, 2.0, False), (2.0, 0.9, True), (0.9, 1.1, False)):
        # the two uppermost layers never stop it; the third does once over 1 degC
        temperature = np.array([-0.4, second, third, -0.2, 3.0, -0.2])
        hour.freeze(temperature, VOLUMES, AREA, 0.0, 0)
        assert (temperature[3] == 0.0) == frozen
        assert temperature[0] == 0.0 and temperature[5] == -0.2
