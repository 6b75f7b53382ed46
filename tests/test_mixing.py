"""Mixing: published diffusivities, conservation, and analytic solutions."""

import numpy as np
import pytest

from lakekit.column import mixing
from lakekit.column.water import density


def column(temperature, area=1e4, thickness=0.5):
    """A box of layers: temperature, oxygen, volumes, centres, densities."""
    temperature = np.array(temperature, float)
    n = temperature.size
    return (temperature, np.linspace(10.0, 0.0, n), np.full(n, area * thickness),
            (np.arange(n) + 0.5) * thickness, density(temperature))  # fmt: skip


def energy(volumes, centres, densities):
    """Potential energy [J] against the surface; depth counts downward."""
    return -9.80665 * np.sum(volumes * centres * densities)


@pytest.mark.parametrize(
    ("area", "stability", "expected"),
    [(1.0, 7.5e-5, 0.04852), (1.0, 1e-3, 0.01593), (5.0, 1e-3, 0.03923)],
)
def test_diffusivity_of_hondzo_and_stefan(area, stability, expected):
    # Hondzo & Stefan 1993: 8.17e-4 A^0.56 (N2)^-0.43 cm2/s
    found = mixing.hypolimnetic_diffusivity(stability, mixing.diffusivity_scale(area * 1e6))
    assert found * 1e4 == pytest.approx(expected, abs=5e-6)


def test_diffusivity_has_a_greatest_value():
    scale = mixing.diffusivity_scale(1e6)
    assert mixing.hypolimnetic_diffusivity(0.0, scale) == pytest.approx(
        mixing.hypolimnetic_diffusivity(7.5e-5 * (1 + 1e-12), scale), rel=1e-9
    )


def test_the_column_mixes_with_that_diffusivity():
    scale = mixing.diffusivity_scale(1e6)
    stability = mixing.buoyancy_frequency_squared(998.0, 998.1, 0.5)
    found = mixing.molecular_and_turbulent(998.0, 998.1, 0.5, scale)
    assert found - mixing.THERMAL_DIFFUSIVITY == pytest.approx(
        mixing.hypolimnetic_diffusivity(stability, scale), rel=1e-12
    )


def diffuse(values, volumes, conductance, *, source=None, sink=None, up=None, down=None):
    n = volumes.size
    zero = np.zeros(n)
    values = np.array(values, float)
    mixing.diffuse(
        values[0], values[1], 0, volumes, conductance,
        np.zeros_like(values) if source is None else source,
        zero if sink is None else sink, zero if up is None else up,
        zero if down is None else down, np.empty(n),
    )  # fmt: skip
    return values


def test_diffusion_conserves_over_unequal_volumes():
    random = np.random.default_rng(0)
    volumes = np.sort(random.uniform(1.0, 1e6, 30))[::-1].copy()
    volumes[-1] = 1e-3
    values = random.uniform(0.0, 30.0, (2, 30))
    before = values @ volumes
    after = diffuse(values.copy(), volumes, random.uniform(0.0, 1e5, 30)) @ volumes
    np.testing.assert_allclose(after, before, rtol=1e-12)


def test_diffusion_spreads_a_cosine_at_the_analytic_rate():
    # dT/dt = K d2T/dz2 in a closed box: the first mode decays as exp(-K (pi/H)^2 t)
    n, height, diffusivity, step = 100, 10.0, 1e-5, 600.0
    thickness = height / n
    depth = (np.arange(n) + 0.5) * thickness
    values = np.tile(10.0 + np.cos(np.pi * depth / height), (2, 1))
    conductance = np.full(n, diffusivity * step / thickness)
    for _ in range(1000):
        values = diffuse(values, np.full(n, thickness), conductance)
    expected = np.exp(-diffusivity * (np.pi / height) ** 2 * 600000.0)
    assert values[0, 0] - 10.0 == pytest.approx(
        expected * np.cos(np.pi * depth[0] / height), rel=2e-3
    )


def test_uniform_water_stays_uniform_in_a_flow():
    # in at layer 3, out at layer 7: all faces between carry the flow downward
    n = 10
    volumes = np.full(n, 100.0)
    down, sink, source = np.zeros(n), np.zeros(n), np.zeros((2, n))
    down[3:7], sink[7], source[:, 3] = 40.0, 40.0, 40.0 * 12.0
    out = diffuse(
        np.full((2, n), 12.0), volumes, np.full(n, 5.0), source=source, sink=sink, down=down
    )
    np.testing.assert_allclose(out, 12.0, rtol=1e-13)


def convect(temperature, oxygen, volumes, centres, densities):
    n = temperature.size
    return mixing.convect(temperature, oxygen, 0, volumes, centres, densities,
                          np.empty(n, np.int64), np.empty(n), np.empty(n))  # fmt: skip


@pytest.mark.parametrize("seed", range(20))
def test_convection_leaves_no_heavy_water_above_and_keeps_heat(seed):
    random = np.random.default_rng(seed)
    temperature, oxygen, volumes, centres, _ = column(random.uniform(0.0, 12.0, 25))
    volumes *= random.uniform(0.1, 3.0, 25)
    densities = density(temperature)
    heat, gas, before = volumes @ temperature, volumes @ oxygen, energy(volumes, centres, densities)
    released = convect(temperature, oxygen, volumes, centres, densities)
    assert (np.diff(density(temperature)) >= 0.0).all()
    assert volumes @ temperature == pytest.approx(heat, rel=1e-13)
    assert volumes @ oxygen == pytest.approx(gas, rel=1e-13)
    # cabbeling aside, what is set free is the fall of the centre of mass
    assert released == pytest.approx(max(before - energy(volumes, centres, densities), 0.0),
                                     rel=1e-6, abs=1.0)  # fmt: skip


def test_stable_water_is_left_alone():
    state = column(np.linspace(25.0, 5.0, 12))
    before = state[0].copy()
    assert convect(*state) == 0.0
    np.testing.assert_array_equal(state[0], before)


def test_winter_water_colder_on_top_is_stable():
    state = column([0.5, 1.0, 2.0, 3.0, 3.9])
    before = state[0].copy()
    convect(*state)
    np.testing.assert_array_equal(state[0], before)


def test_stirring_spends_exactly_the_energy_of_a_two_layer_column():
    # a box 1 m over 1 m: g A (rho1 z1 + rho2 z2 - rho(15) (z1 + z2)), z at 0.5 and 1.5 m
    temperature, oxygen, volumes, centres, densities = column([20.0, 10.0], thickness=1.0)
    before = energy(volumes, centres, densities)
    needed = 9.80665 * 1e4 * (0.5 * density(20.0) + 1.5 * density(10.0) - 2.0 * density(15.0))
    mixing.stir(temperature, oxygen, 0, volumes, centres, densities, 0.5 * needed, 0.0, 1.0)
    assert temperature[0] - temperature[1] == pytest.approx(5.0, rel=1e-9)
    assert volumes @ temperature == pytest.approx(volumes.sum() * 15.0, rel=1e-13)
    assert energy(volumes, centres, densities) > before


def test_wind_fades_with_depth_and_convection_does_not():
    def mixed_depth(convective, wind, reach):
        state = column(np.concatenate([np.full(4, 22.0), np.linspace(21.0, 8.0, 20)]))
        mixing.stir(state[0], state[1], 0, *state[2:], convective, wind, reach)
        return int(np.sum(state[0] == state[0][0]))

    work = 3e5
    assert mixed_depth(0.0, work, 0.5) < mixed_depth(0.0, work, 50.0)
    assert mixed_depth(work, 0.0, 0.5) == mixed_depth(work, 0.0, 50.0)


def test_more_energy_mixes_no_shallower():
    depths = []
    for work in (0.0, 1e4, 1e5, 1e6, 1e7):
        state = column(np.linspace(24.0, 8.0, 24))
        mixing.stir(state[0], state[1], 0, *state[2:], work, 0.0, 1.0)
        depths.append(np.sum(np.isclose(state[0], state[0][0], rtol=0, atol=1e-12)))
        assert (np.diff(density(state[0])) >= -1e-12).all()
    assert depths == sorted(depths)
    assert depths[-1] > depths[0]


def test_waves_stir_a_drawn_down_lake_from_its_own_surface():
    profile = np.concatenate([np.full(4, 22.0), np.linspace(21.0, 8.0, 20)])
    full, low = column(profile), column(profile)
    mixing.stir(full[0], full[1], 0, *full[2:], 0.0, 3e5, 1.0)
    mixing.stir(low[0], low[1], 0, low[2], low[3] + 4.0, low[4], 0.0, 3e5, 1.0)
    assert full[0][4] > 21.0  # the waves did reach below the mixed layer
    # cabbeling is weighed by the depth under full pond, which moves the layer's edge a little
    np.testing.assert_allclose(low[0], full[0], atol=0.3)
    np.testing.assert_allclose(low[1], full[1], atol=0.3)
