"""The time loop on a few layers and hours: its ledger, its level, and what it calls when.

Still water is water under air of its own temperature, saturated, and a sky that gives back what it
sends up: nothing crosses its surface, so that what else happens is seen alone.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from lakekit.column import columns, kernel, mixing
from lakekit.column.surface import wind_stress
from lakekit.column.water import (
    ICE_DENSITY,
    LATENT_FUSION,
    VOLUMETRIC_HEAT,
    density,
    saturation_vapour_pressure,
)

N, THICK = 5, 0.5
FACES = np.arange(N + 1) * THICK
BOX = np.full(N + 1, 200.0)  # m2
WEDGE = np.array([240.0, 200.0, 160.0, 120.0, 80.0, 40.0])
SNOW_DENSITY = 300.0
HEAT = (columns.SHORT_IN, columns.LONG_NET, columns.LATENT, columns.SENSIBLE, columns.SEDIMENT,
        columns.SNOW_IN, columns.FLOW_HEAT, columns.LEARNED, columns.LEVEL_HEAT)  # fmt: skip
GAS = (columns.GAS, columns.MADE, columns.TAKEN, columns.FLOW_GAS, columns.LEVEL_GAS)


def hours_of(count, *, over=20.0, areas=BOX, **changes):
    """Forcing rows of still water at ``over`` degC, with columns replaced (one value or each)."""
    rows = np.zeros((count, columns.FORCING_COLUMNS))
    usual = {
        "AIR": over, "VAPOUR": saturation_vapour_pressure(over), "PRESSURE": 1000.0,
        "LONGWAVE": 5.670374419e-8 * (over + 273.15) ** 4, "CLARITY": 1.0, "ALBEDO": 0.06,
    }  # fmt: skip
    for name, value in (usual | changes).items():
        rows[:, getattr(columns, name)] = value
    level = rows[:, columns.LEVEL]
    rows[:, columns.SURFACE] = np.interp(level, FACES, areas)
    rows[:, columns.STORED] = [stored(one, areas) for one in level]
    return rows


def stored(level, areas):
    """Volume [m3] below a level, the area linear between faces."""
    depth = np.unique(np.append(FACES[FACES >= level], level))
    return np.trapezoid(np.interp(depth, FACES, areas), depth)


def march(rows, temperature, *, oxygen=9.0, mud=None, drift=0.0, crust=(0.0, 0.0), top=0, own=None,
          rates=(0.0, 0.0, 0.0), release_depth=0.0, aerated=(0.0, 0.0), lasting=1.0,
          shares=(0.0, 0.0, 0.6, 0.0), areas=BOX, slots=None, targets=()):  # fmt: skip
    """One member through the hours, its bed as warm as its water: the states and outputs."""
    values = np.ones((1, 8))
    values[0, [columns.SKY, columns.DIFFUSION]] = 0.0
    for name, value in (own or {}).items():
        values[0, getattr(columns, name)] = value
    temperature = np.array(temperature, float)[None]
    layout = np.zeros((4, N + 1))
    layout[0], layout[1] = FACES, np.append(areas[:-1], 0.0)
    layout[2, :N] = 0.5 * (FACES[1:] + FACES[:-1])
    layout[3, :N] = 0.5 * THICK * (areas[1:] + areas[:-1])
    if slots is None:
        slots = np.where(np.arange(len(rows)) == len(rows) - 1, 0, -1)
    outputs, targets = int(np.max(slots)) + 1, np.array(targets, float)
    state = SimpleNamespace(
        temperature=temperature, oxygen=np.zeros((1, N)) + oxygen,
        mud=np.zeros((1, 2, N)) + (temperature if mud is None else mud),
        drift=np.zeros((1, N)) + drift, crust=np.array([crust], float), top=np.array([top]),
        warm=np.empty((1, outputs, targets.size)), gas=np.empty((1, outputs, targets.size)),
        budget=np.empty((1, outputs, columns.BUDGET_COLUMNS)), volumes=layout[3, :N],
    )  # fmt: skip
    numbers = np.array([*rates, release_depth, *aerated, lasting, *shares])
    kernel.march(
        rows, np.array(slots), values, numbers, layout, targets, state.temperature, state.oxygen,
        state.mud, state.drift, state.crust, state.top, state.warm, state.gas, state.budget,
    )  # fmt: skip
    return state


PROFILE = [20.0, 18.0, 15.0, 12.0, 10.0]


def test_nothing_happens_to_still_water_but_molecular_diffusion():
    end = march(hours_of(3), PROFILE)
    # 0.598 W/m/K: where the gradient bends by 2 degC a metre a layer changes by under 3 mK an hour
    np.testing.assert_allclose(end.temperature[0], PROFILE, atol=0.03)
    assert np.abs(end.budget[0, 0, list(HEAT)]).max() < 0.002 * 200.0 * 3 * 3600.0 * 30.0
    assert (end.temperature[0] != PROFILE).any()


CASES = {
    "a summer's day": (dict(AIR=25.0, WIND=[2.0, 5.0, 8.0, 3.0], SHORTWAVE=[0, 300, 600, 0]), {}),
    "a gale in the cold": (dict(AIR=3.0, VAPOUR=6.0, WIND=12.0, LONGWAVE=260.0), {}),
    "ice and snow": (
        dict(AIR=-12.0, VAPOUR=2.0, LONGWAVE=200.0, SHORTWAVE=100.0, SNOWFALL=[0, 0.01, 0, 0]),
        dict(temperature=[0.5, 1.5, 2.5, 3.0, 3.5], crust=(0.2, 0.05)),
    ),
    "the first ice": (
        dict(AIR=-20.0, VAPOUR=1.0, LONGWAVE=180.0, WIND=4.0),
        dict(temperature=[0.02, 0.1, 0.3, 2.0, 3.5]),
    ),
    "the last ice": (
        dict(AIR=10.0, VAPOUR=11.0, LONGWAVE=330.0, SHORTWAVE=500.0),
        dict(temperature=[1.0, 2.0, 3.0, 3.5, 3.8], crust=(0.003, 0.001)),
    ),
    "a falling level": (dict(LEVEL=[0.0, 0.1, 0.3, 0.9], WIND=3.0), {}),
    "a rising level": (dict(LEVEL=[0.9, 0.6, 0.1, 0.0], WIND=3.0), dict(top=2)),
    "ice on a moving level": (
        dict(AIR=-5.0, VAPOUR=3.0, LONGWAVE=230.0, LEVEL=[0.1, 0.3, 0.2, 0.4]),
        dict(temperature=[0.5, 1.5, 2.5, 3.0, 3.5], crust=(0.2, 0.05)),
    ),
    "a stream": (
        dict(INFLOW=0.004, RELEASE=[0.001, 0.009, 0.0, 0.004], WARMTH=13.0, GAS_IN=8.0, WIND=3.0),
        dict(release_depth=1.2),
    ),
    "a drift": (dict(WIND=2.0), dict(drift=[0.3, 0.2, 0.1, 0.1, -0.1], lasting=0.9)),
}


@pytest.mark.parametrize("case", CASES)
def test_what_the_ledger_says_is_what_the_water_gained(case):
    changes, start = CASES[case]
    rows = hours_of(4, areas=WEDGE, **changes)
    start = dict(temperature=PROFILE, crust=(0.0, 0.0), top=0) | start
    end = march(
        rows, **start, areas=WEDGE, mud=11.0, rates=(0.6, 0.1, 1.0), own={"DIFFUSION": 0.5},
        shares=kernel.MIXING, oxygen=[9.0, 8.5, 6.0, 3.0, 0.2],
    )  # fmt: skip

    def held(temperature, oxygen, crust, top, row):
        """Heat [J] and oxygen [g], the surface layer holding what the others leave."""
        volumes = end.volumes.copy()
        volumes[:top] = 0.0
        volumes[top] = row[columns.STORED] - volumes[top + 1 :].sum()
        frozen = (ICE_DENSITY * crust[0] + SNOW_DENSITY * crust[1]) * LATENT_FUSION
        heat = VOLUMETRIC_HEAT * volumes @ temperature - frozen * row[columns.SURFACE]
        return heat, volumes @ oxygen

    before = held(np.array(start["temperature"]), np.array([9.0, 8.5, 6.0, 3.0, 0.2]),
                  start["crust"], start["top"], rows[0])  # fmt: skip
    after = held(end.temperature[0], end.oxygen[0], end.crust[0], end.top[0], rows[-1])
    told = end.budget[0, 0]
    scale = np.abs(told[list(HEAT)]).sum()
    assert after[0] - before[0] == pytest.approx(told[list(HEAT)].sum(), abs=1e-8 * scale)
    assert after[1] - before[1] == pytest.approx(told[list(GAS)].sum(), abs=1e-8)
    assert told[columns.HEAT] == pytest.approx(after[0], rel=1e-9)
    assert told[columns.OXYGEN] == pytest.approx(after[1], rel=1e-9)
    assert abs(told[columns.HEAT_LEFT]) < 1e-8 * scale
    assert abs(told[columns.OXYGEN_LEFT]) < 1e-8
    assert told[[columns.ICE, columns.SNOW]] == pytest.approx(end.crust[0])
    heavy = density(end.temperature[0, end.top[0] :])
    assert (np.diff(heavy) > -1e-9).all()


def test_the_ledger_of_two_outputs_is_that_of_their_hours():
    rows = hours_of(5, WIND=[2.0, 4.0, 8.0, 6.0, 3.0], SHORTWAVE=[100.0, 200, 300, 400, 500])
    end = march(rows, PROFILE, slots=[-1, 0, -1, -1, 1])
    first, second = end.budget[0]
    assert first[columns.SHORT_IN] == pytest.approx(0.94 * 300.0 * 200.0 * 3600.0)
    assert second[columns.SHORT_IN] == pytest.approx(0.94 * 1200.0 * 200.0 * 3600.0)
    gusts = [wind_stress(wind, 20.0, 1000.0) for wind in (2.0, 4.0, 8.0, 6.0, 3.0)]
    assert first[columns.STRESS] == pytest.approx(np.mean(gusts[:2]))
    assert second[columns.STRESS] == pytest.approx(np.mean(gusts[2:]))
    change = second[columns.HEAT] - first[columns.HEAT]
    assert change == pytest.approx(second[list(HEAT)].sum(), rel=1e-9)
    assert abs(second[columns.HEAT_LEFT]) < 1.0


def test_under_ice_no_wind_stirs():
    cold = dict(over=0.5, AIR=-10.0, VAPOUR=2.0, LONGWAVE=210.0)
    profile = [0.5, 1.0, 2.0, 3.0, 3.8]
    storm = march(hours_of(2, WIND=20.0, **cold), profile, crust=(0.3, 0.0), shares=kernel.MIXING)
    assert storm.budget[0, 0, columns.STRESS] == 0.0
    np.testing.assert_allclose(storm.temperature[0, 1:], profile[1:], atol=0.02)
    open_water = march(hours_of(2, over=0.5, WIND=20.0), profile, shares=kernel.MIXING)
    assert np.ptp(open_water.temperature[0]) < 0.5


def test_the_wind_gives_its_shares_of_its_power_to_mixing():
    # by hand: stress 1.189 kg/m3 x 1.2e-3 x 64 m2/s2, its power stress^1.5 / 1000^0.5 a m2; the
    # column before it stirs is that of the same hour without shares
    rows = hours_of(1, WIND=6.0)
    profile = [20.0, 19.9, 18.0, 12.0, 10.0]
    before = march(rows, profile)
    stress = wind_stress(6.0, 20.0, 1000.0)
    power = stress**1.5 / 1000.0**0.5 * 200.0 * 3600.0
    for shear, waves, reach in ((1.25, 0.0, 0.6), (0.0, 3.5, 0.6), (0.7, 2.0, 1.1)):
        found = march(rows, profile, shares=(shear, waves, reach, 0.0))
        warm, gas = before.temperature[0].copy(), before.oxygen[0].copy()
        mixing.stir(warm, gas, 0, found.volumes, FACES[:-1] + 0.25, density(warm), shear * power,
                    waves * power, reach)  # fmt: skip
        np.testing.assert_allclose(found.temperature[0], warm, rtol=1e-12)
        assert np.abs(warm - before.temperature[0]).max() > 1e-3


def test_cooling_gives_its_share_of_what_it_sets_free_to_mixing():
    # water of 12 over 18 degC falls, and half of what that frees lifts the 10 degC below
    profile, rows = [12.0, 18.0, 10.0, 9.0, 8.0], hours_of(1, over=12.0)
    centres = FACES[:-1] + 0.25
    none, half = march(rows, profile), march(rows, profile, shares=(0.0, 0.0, 0.6, 0.5))
    freed = 9.80665 * 100.0 * centres @ (density(none.temperature[0]) - density(np.array(profile)))
    warm, gas = none.temperature[0].copy(), none.oxygen[0].copy()
    mixing.stir(warm, gas, 0, none.volumes, centres, density(warm), 0.5 * freed, 0.0, 1.0)
    assert none.temperature[0, 2] < 10.1
    lifted = half.temperature[0, 2] - none.temperature[0, 2]
    assert lifted == pytest.approx(warm[2] - none.temperature[0, 2], rel=0.02)


@pytest.mark.parametrize(("level", "top"), [(0.24, 0), (0.26, 1), (0.74, 1), (0.76, 2)])
def test_a_surface_layer_under_half_a_layer_joins_the_next(level, top):
    end = march(hours_of(2, LEVEL=[0.0, level]), PROFILE)
    assert end.top[0] == top


def test_layers_join_by_their_volumes():
    # 0.26 m down 48 m3 of 20 degC and 9 g/m3 join 100 of 10 and 7: 13.24 degC, 7.65 g/m3, and what
    # air gave
    rows = hours_of(2, LEVEL=[0.0, 0.26])
    end = march(rows, [20.0, 10.0, 9.0, 8.0, 7.0], oxygen=[9.0, 7.0, 5.0, 3.0, 1.0])
    assert end.temperature[0, 1] == pytest.approx(13.243, abs=0.1)
    gas = end.oxygen[0, 1] - end.budget[0, 0, columns.GAS] / 148.0
    assert gas == pytest.approx(7.649, abs=0.02)


@pytest.mark.parametrize(("level", "top"), [(0.26, 1), (0.24, 0), (0.0, 0)])
def test_a_surface_layer_over_one_and_a_half_is_parted(level, top):
    rows = hours_of(2, LEVEL=[0.5, level])
    end = march(rows, PROFILE, oxygen=[0.0, 7.0, 5.0, 3.0, 1.0], top=1, slots=[0, 1])
    assert end.top[0] == top
    # the water that came has the warmth and the oxygen of the surface layer, air's included
    held = 7.0 + end.budget[0, 0, columns.GAS] / 100.0
    np.testing.assert_allclose(end.temperature[0, top:2], 18.0, atol=0.1)
    assert end.oxygen[0, 1] == pytest.approx(held, abs=0.15)
    gained = 200.0 * (0.5 - level)
    told = end.budget[0, 1]
    assert told[columns.LEVEL_HEAT] == pytest.approx(VOLUMETRIC_HEAT * gained * 18.0, rel=1e-3)
    assert told[columns.LEVEL_GAS] == pytest.approx(gained * held, rel=1e-3)
    if top == 0:
        volume = 100.0 - 200.0 * level
        own = end.oxygen[0, 0] - told[columns.GAS] / volume
        assert own == pytest.approx(held, abs=0.02)


def test_a_lake_falls_to_its_last_two_layers_and_no_further():
    end = march(hours_of(3, LEVEL=[0.0, 1.2, 2.2]), PROFILE)
    assert end.top[0] == N - 2
    assert np.isfinite(end.temperature[0]).all()
    back = march(hours_of(3, LEVEL=[2.2, 1.2, 0.0]), PROFILE, top=N - 2)
    assert back.top[0] == 0


def test_a_fresh_level_is_no_gain_in_the_first_hour():
    rows = hours_of(1, LEVEL=0.2)
    end = march(rows, PROFILE)
    assert end.budget[0, 0, [columns.LEVEL_HEAT, columns.LEVEL_GAS]].tolist() == [0.0, 0.0]


def test_a_drift_is_added_an_hour_at_a_time_and_fades():
    # 0.24 degC a day is 0.01 an hour; half is left after each: 0.005 and 0.0025
    rows = hours_of(2)
    still, end = march(rows, PROFILE), march(rows, PROFILE, drift=0.24, lasting=0.5)
    np.testing.assert_allclose(end.temperature - still.temperature, 0.0075, rtol=0.02)
    np.testing.assert_allclose(end.drift, 0.24 * 0.25)
    learned = end.budget[0, 0, columns.LEARNED]
    assert learned == pytest.approx(0.0075 * 500.0 * VOLUMETRIC_HEAT)
    assert still.budget[0, 0, columns.LEARNED] == 0.0


def test_no_drift_moves_water_under_four_degrees_or_under_ice():
    profile = [0.5, 2.0, 3.5, 3.9, 4.1]
    rows = hours_of(1, over=0.5)
    moved = march(rows, profile, drift=0.24).budget[0, 0, columns.LEARNED]
    assert moved == pytest.approx(0.01 * 100.0 * VOLUMETRIC_HEAT)  # the lowest layer alone
    iced = march(rows, profile, drift=0.24, crust=(0.1, 0.0))
    assert iced.budget[0, 0, columns.LEARNED] == 0.0


def test_layers_exchange_by_their_diffusivity_and_an_aerators_between_its_depths():
    # the first hour by its own conductances: K A dt / distance over the faces between layers
    level = 0.1
    rows = hours_of(1, LEVEL=level, areas=WEDGE)
    aerated = (0.6, 1.6)  # m below the day's surface: the faces at 1.0 and 1.5 m
    for between, own in ((aerated, 0.5), ((0.0, 0.0), 0.5), ((0.0, 0.0), 2.0)):
        found = march(rows, PROFILE, own={"DIFFUSION": own}, aerated=between, areas=WEDGE)
        warm, gas = np.array(PROFILE), np.full(N, 9.0)
        centres = FACES[:-1] + 0.25
        centres[0] = 0.5 * (level + 0.5)
        volumes = found.volumes.copy()
        volumes[0] = rows[0, columns.STORED] - volumes[1:].sum()
        conductance, zero = np.zeros(N), np.zeros(N)
        scale = mixing.diffusivity_scale(WEDGE[0]) * own
        for i in range(N - 1):
            distance = centres[i + 1] - centres[i]
            speed = mixing.molecular_and_turbulent(
                density(warm[i]), density(warm[i + 1]), distance, scale
            )
            speed += 2e-3 if between[0] < FACES[i + 1] - level < between[1] else 0.0
            conductance[i] = speed * WEDGE[i + 1] * 3600.0 / distance
        mixing.diffuse(warm, gas, 0, volumes, conductance, np.zeros((2, N)), zero, zero, zero,
                       np.empty(N))  # fmt: skip
        np.testing.assert_allclose(found.temperature[0], warm, atol=1e-9)
        stirred = found.temperature[0, 1] - found.temperature[0, 3]
        assert (stirred < 3.0) == (between == aerated)


def test_the_upper_slab_of_the_bed_meets_the_water():
    # mud as warm as the water over colder mud: in the first hour nothing passes to the water, and
    # the upper slab loses 1 W/m/K x 5 degC over 0.85 m to the lower
    mud = np.stack([np.array(PROFILE), np.array(PROFILE) - 5.0])
    end = march(hours_of(1), PROFILE, mud=mud)
    assert end.budget[0, 0, columns.SEDIMENT] == 0.0
    passed = 5.0 / 0.85 * 3600.0
    np.testing.assert_allclose(end.mud[0, 0], mud[0] - passed / (3.2e6 * 0.2), rtol=1e-9)
    np.testing.assert_allclose(end.mud[0, 1], mud[1] + passed / (3.2e6 * 1.5), rtol=1e-9)


def test_inflow_finds_its_layer_in_the_first_hour():
    # 36 m3 of 12.5 degC into the layers of 20, 18, 15, 12 and 10: between 15 and 12, so to 12
    rows = hours_of(1, INFLOW=0.01, RELEASE=0.01, WARMTH=12.5, GAS_IN=0.0)
    end = march(rows, PROFILE, release_depth=1.7)  # the layer from 1.5 to 2 m
    changed = np.abs(end.temperature[0] - PROFILE) > 0.03
    assert changed.tolist() == [False, False, False, True, False]
    flow = end.budget[0, 0, columns.FLOW_HEAT]
    assert flow == pytest.approx(36.0 * (12.5 - end.temperature[0, 3]) * VOLUMETRIC_HEAT, rel=1e-6)
    gone = end.budget[0, 0, columns.FLOW_GAS]
    assert gone == pytest.approx(-36.0 * end.oxygen[0, 3], rel=1e-6)


def test_a_release_alone_is_through_flow_too():
    rows = hours_of(2, RELEASE=[0.0, 0.01])
    end = march(rows, PROFILE, release_depth=1.7)
    assert end.budget[0, 0, columns.FLOW_HEAT] != 0.0


def test_demand_and_production_scale_with_their_factors():
    rows = hours_of(1, SHORTWAVE=300.0)

    def gas(**own):
        return march(rows, PROFILE, rates=(0.6, 0.1, 1.0), own=own).budget[0, 0]

    usual, more, rich = gas(), gas(DEMAND=2.0), gas(PRODUCTION=2.0)
    assert more[columns.TAKEN] == pytest.approx(2.0 * usual[columns.TAKEN])
    assert rich[columns.MADE] == pytest.approx(2.0 * usual[columns.MADE])
    assert more[columns.MADE] == usual[columns.MADE] > 0.0 > usual[columns.TAKEN]
    # 1 g/m3/d is a 24th an hour at most
    assert usual[columns.MADE] < 500.0 / 24.0


def test_members_are_apart():
    rows = hours_of(3, WIND=5.0, SHORTWAVE=300.0, AIR=10.0)
    alone = [march(rows, profile, crust=crust) for profile, crust in
             ((PROFILE, (0.0, 0.0)), ([1.0, 2.0, 3.0, 3.5, 3.8], (0.2, 0.1)))]  # fmt: skip
    both = {name: np.concatenate([getattr(one, name) for one in alone]) for name in
            ("drift", "top")}  # fmt: skip
    temperature = np.array([PROFILE, [1.0, 2.0, 3.0, 3.5, 3.8]])
    mud, oxygen = np.repeat(temperature[:, None], 2, axis=1), np.full((2, N), 9.0)
    crust = np.array([[0.0, 0.0], [0.2, 0.1]])
    values = np.ones((2, 8))
    values[:, [columns.SKY, columns.DIFFUSION]] = 0.0
    layout = np.zeros((4, N + 1))
    layout[0], layout[1], layout[2, :N] = FACES, np.append(BOX[:-1], 0.0), FACES[:-1] + 0.25
    layout[3, :N] = 100.0
    budget = np.empty((2, 1, columns.BUDGET_COLUMNS))
    kernel.march(
        rows, np.array([-1, -1, 0]), values, np.array([0.0] * 6 + [1.0, 0.0, 0.0, 0.6, 0.0]),
        layout, np.empty(0), temperature, oxygen, mud, both["drift"], crust,
        np.zeros(2, np.int64), np.empty((2, 1, 0)), np.empty((2, 1, 0)), budget,
    )  # fmt: skip
    for m, one in enumerate(alone):
        np.testing.assert_array_equal(temperature[m], one.temperature[0])
        np.testing.assert_array_equal(crust[m], one.crust[0])
        np.testing.assert_array_equal(budget[m], one.budget[0])


def sampled(values, targets, *, warmth=None, top=0, surface=0.0):
    values = np.array(values, float)
    out = np.empty(len(targets))
    kernel.sample(values, values if warmth is None else np.array(warmth, float), top, surface,
                  THICK, FACES[:-1] + 0.25, FACES[-1], np.array(targets, float), out)  # fmt: skip
    return out


def test_a_profile_is_read_along_lines_between_the_layers_middles():
    found = sampled(PROFILE, [0.0, 0.25, 0.5, 0.75, 1.0, 2.2, 2.25, 2.5, 2.6])
    expected = [20.0, 20.0, 19.0, 18.0, 16.5, 10.2, 10.0, 10.0, np.nan]
    np.testing.assert_allclose(found, expected)


def test_depths_are_counted_from_the_days_surface():
    # the surface 0.7 m down in layer 1, whose middle is 0.85 m then; depths 0 to 1.9 m
    found = sampled(PROFILE, [0.0, 0.1, 0.35, 0.55, 1.05, 1.8, 1.9], top=1, surface=0.7)
    # 0.35 is 1.05 m: half way from 0.85 to 1.25 m
    np.testing.assert_allclose(found, [18.0, 18.0, 16.5, 15.0, 12.0, 10.0, np.nan])


def test_across_the_heaviest_water_the_nearer_layer_is_read():
    # layers of 3 and 5 degC at 0.25 and 0.75 m: no water between them is heavier than both
    warmth = [3.0, 5.0, 6.0, 7.0, 8.0]
    found = sampled(warmth, [0.3, 0.49, 0.51, 0.7, 1.0])
    np.testing.assert_allclose(found, [3.0, 3.0, 5.0, 5.0, 5.5])
    gas = sampled([10.0, 8.0, 6.0, 4.0, 2.0], [0.49, 0.51, 1.0], warmth=warmth)
    np.testing.assert_allclose(gas, [10.0, 8.0, 7.0])


def test_heat_and_oxygen_by_hand_from_the_surface_layer_down():
    values, volumes = np.array([20.0, 10.0, 5.0]), np.array([9.0, 2.0, 1.0])
    # 25 degC m3 of 4.186 MJ, less 10 cm of ice of 917 and 20 cm of snow of 300 kg/m3 on 7 m2
    heat = kernel.heat_content(values, volumes, 1, 0.1, 0.2, 7.0)
    assert heat == pytest.approx(25.0 * 4.186e6 - (91.7 + 60.0) * 333.6e3 * 7.0)
    assert kernel.oxygen_content(values, volumes, 1) == pytest.approx(25.0)


@pytest.mark.parametrize("profile", [[16.4, 14.0, 0.3, 0.4, 3.1], [16.4, 15.0, 14.0, 0.3, 0.4]])
def test_what_stirring_leaves_top_heavy_turns_over(profile):
    # warm over icy water: the layer mixed in part comes to be heavier than the icy one below it
    rows = hours_of(1, over=16.4, WIND=6.0)
    for shear in np.geomspace(1e-2, 10.0, 25):
        end = march(rows, profile, shares=(shear, 0.0, 0.6, 0.0))
        assert np.diff(density(end.temperature[0])).min() > -1e-9


def test_shares_of_energy_lie_within_what_was_measured():
    # Kato & Phillips 1969, J. Fluid Mech. 37:643-655: the layer deepens by 2.5 u*^3 over its
    # depth and buoyancy step; the potential energy that takes is half of it, 1.25 u*^3
    assert kernel.MIXING[0] == pytest.approx(2.5 / 2.0)
    # waves bring more than shear, about 100 u*^3 where they break (Craig & Banner 1994, J. Phys.
    # Oceanogr. 24:2546-2559), and fade within a metre; an eighth of what cooling frees mixes at
    # most (Imberger & Patterson 1990, from memory)
    _, waves, reach, convection = kernel.MIXING
    assert kernel.MIXING[0] < waves < 100.0
    assert 0.0 < reach < 1.0
    assert 0.0 <= convection <= 0.125
