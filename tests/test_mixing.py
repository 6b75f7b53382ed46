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


def test_the_table_of_powers_is_the_power_itself():
    # every power of two and its neighbours, the middle and the edges of the table's parts, and
    # water more stable than any there is
    twos = 2.0 ** np.arange(-13.0, 5.0)
    stability = np.concatenate([twos * part for part in (1.0, 1.0 + 1e-9, 1.00195, 1.3, 1.999999)])
    stability = stability[stability > mixing.STABILITY_FLOOR]
    found = [mixing.power_of_stability(s) for s in stability]
    np.testing.assert_allclose(found, stability**-0.43, rtol=2e-11)


def test_buoyancy_frequency_by_hand():
    # 9.80665 m/s2 x 0.5 kg/m3 over 1000 kg/m3 and 2 m
    found = mixing.buoyancy_frequency_squared(998.0, 998.5, 2.0)
    assert found == pytest.approx(2.4517e-3, rel=1e-4)


def test_heat_diffuses_in_still_water_at_the_molecular_rate():
    # 0.598 W/m/K (IAPWS, water at 20 degC) over 998.2 kg/m3 and 4184 J/kg/K
    found = mixing.molecular_and_turbulent(998.0, 999.0, 1.0, 0.0)
    assert found == pytest.approx(0.598 / (998.2 * 4184.0), rel=0.01)


@pytest.mark.parametrize("top", [0, 3])
def test_a_step_of_diffusion_solves_its_equations(top):
    # backward Euler with upwind flow, written as a matrix; nothing above the surface layer moves
    n, random = 9, np.random.default_rng(2)
    volumes, sink = random.uniform(50.0, 100.0, n), random.uniform(0.0, 9.0, n)
    conductance, up, down = (random.uniform(0.0, 20.0, n) for _ in range(3))
    source, before = random.uniform(-5.0, 5.0, (2, n)), random.uniform(0.0, 30.0, (2, n))
    matrix = np.diag(volumes + sink)
    for i in range(top, n - 1):  # what leaves one layer through the face between enters the other
        leaves_above, leaves_below = conductance[i] + down[i], conductance[i] + up[i]
        matrix[i, i] += leaves_above
        matrix[i + 1, i] -= leaves_above
        matrix[i + 1, i + 1] += leaves_below
        matrix[i, i + 1] -= leaves_below
    found = before.copy()
    mixing.diffuse(
        found[0], found[1], top, volumes, conductance, source, sink, up, down, np.empty(n)
    )
    for k in range(2):
        expected = np.linalg.solve(matrix[top:, top:], before[k, top:] * volumes[top:]
                                   + source[k, top:])  # fmt: skip
        np.testing.assert_allclose(found[k, top:], expected, rtol=1e-10)
    np.testing.assert_array_equal(found[:, :top], before[:, :top])


def overturned(temperature, oxygen, volumes, top):
    """The profile that neighbours mixing two by two, again and again, come to."""
    pools = [[v, v * t, v * o, 1] for v, t, o in zip(volumes, temperature, oxygen, strict=True)]
    pools = pools[top:]
    while True:
        heavy = [density(heat / volume) for volume, heat, _, _ in pools]
        over = [k for k in range(len(pools) - 1) if heavy[k] > heavy[k + 1]]
        if not over:
            break
        k = over[0]
        pools[k : k + 2] = [[a + b for a, b in zip(*pools[k : k + 2], strict=True)]]
    rows = [(heat / volume, gas / volume) for volume, heat, gas, n in pools for _ in range(n)]
    return np.array(rows).T


@pytest.mark.parametrize(
    "profile",
    [
        [20, 22, 15, 16, 8, 9],  # three pools of two
        [12, 10, 9, 8, 14, 7],  # one warm layer low down
        [5, 18, 17, 18, 16, 15],  # one cold layer at the top sinks to the bottom
        [18, 17, 8, 17, 16, 15],
        [1, 2, 3, 1, 0, 3],  # colder than 4 degC
    ],
)
@pytest.mark.parametrize("top", [0, 1])
def test_heavy_water_turns_over_as_neighbours_would(profile, top):
    temperature, oxygen, volumes, centres, densities = column(profile)
    volumes *= np.array([1.0, 0.8, 0.7, 0.5, 0.3, 0.1])
    expected = overturned(temperature, oxygen, volumes, top)
    untouched = temperature[:top].copy()
    n = temperature.size
    released = mixing.convect(temperature, oxygen, top, volumes, centres, densities,
                              np.empty(n, np.int64), np.empty(n), np.empty(n))  # fmt: skip
    np.testing.assert_allclose(temperature[top:], expected[0], rtol=1e-12)
    np.testing.assert_allclose(oxygen[top:], expected[1], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(densities[top:], density(temperature[top:]), rtol=1e-14)
    np.testing.assert_array_equal(temperature[:top], untouched)
    assert released > 0.0


def test_turning_over_frees_the_fall_of_the_centre_of_mass_by_hand():
    # 1 m of 10 degC over 1 m of 20 degC on a hectare: g A (rho(15) (0.5 + 1.5) - 0.5 rho(10) -
    # 1.5 rho(20)), less what cabbeling shrinks
    state = column([10.0, 20.0], thickness=1.0)
    expected = 9.80665 * 1e4 * (2.0 * density(15.0) - 0.5 * density(10.0) - 1.5 * density(20.0))
    assert convect(*state) == pytest.approx(expected, rel=1e-9)
    np.testing.assert_allclose(state[0], 15.0)


@pytest.mark.parametrize("top", [0, 2])
def test_what_energy_is_left_mixes_the_next_layer_in_part(top):
    # three layers from the top are taken in whole and the next by a third, by the costs by hand
    temperature, oxygen, volumes, centres, densities = column([21, 20, 19, 18, 16, 13, 9, 8])
    volumes *= np.linspace(1.0, 0.3, 8)
    end = top + 3
    before = temperature.copy(), oxygen.copy()

    def cost(k):
        """J to mix layers from the top to k - 1, already one, with layer k."""
        mixed = np.average(before[0][top:k], weights=volumes[top:k])
        whole = np.average(before[0][top : k + 1], weights=volumes[top : k + 1])
        moments = volumes * centres
        return 9.80665 * (density(mixed) * moments[top:k].sum() + density(before[0][k]) * moments[k]
                          - density(whole) * moments[top : k + 1].sum())  # fmt: skip

    energy = sum(cost(k) for k in range(top + 1, end)) + cost(end) / 3.0
    mixing.stir(temperature, oxygen, top, volumes, centres, densities, energy, 0.0, 1.0)
    for values, old in zip((temperature, oxygen), before, strict=True):
        upper = np.average(old[top:end], weights=volumes[top:end])
        whole = np.average(old[top : end + 1], weights=volumes[top : end + 1])
        np.testing.assert_allclose(values[top:end], upper + (whole - upper) / 3.0, rtol=1e-9)
        assert values[end] == pytest.approx(old[end] + (whole - old[end]) / 3.0, rel=1e-9)
        np.testing.assert_array_equal(values[end + 1 :], old[end + 1 :])
        np.testing.assert_array_equal(values[:top], old[:top])
    np.testing.assert_allclose(densities, density(temperature), rtol=1e-14)


@pytest.mark.parametrize("top", [0, 2])
def test_waves_fade_with_the_depth_of_the_face_they_reach(top):
    # layers of 0.5 m: the energy at the first face, 0.5 m below the surface, is exp(-0.5 / 0.6)
    # of the waves'; half of what mixing takes there mixes half
    temperature, oxygen, volumes, centres, densities = column([20.0, 20.0, 20.0, 15.0, 10.0])
    temperature[: top + 1] = 20.0
    temperature[top + 1 :] = np.array([15.0, 12.0, 10.0, 9.0])[: 4 - top]
    densities[:] = density(temperature)
    a, b = top, top + 1
    moments = volumes * centres
    mixed = density(0.5 * (temperature[a] + temperature[b]))
    cost = 9.80665 * (moments[a] * densities[a] + moments[b] * densities[b]
                      - mixed * (moments[a] + moments[b]))  # fmt: skip
    waves = 0.5 * cost / np.exp(-0.5 / 0.6)
    mixing.stir(temperature, oxygen, top, volumes, centres, densities, 0.0, waves, 0.6)
    assert temperature[a] - temperature[b] == pytest.approx(2.5, rel=1e-9)


def test_what_the_first_layer_took_is_missing_from_the_next():
    # waves and shear alike pay for the first face: what is left for the second is the share of
    # the energy that the first did not take, faded to 1 m
    temperature, oxygen, volumes, centres, densities = column([20.0, 18.0, 15.0])
    moments = volumes * centres
    one = density(19.0)
    first = 9.80665 * (moments[:2] @ densities[:2] - one * moments[:2].sum())
    both = density((20.0 + 18.0 + 15.0) / 3.0)
    second = 9.80665 * (one * moments[:2].sum() + moments[2] * densities[2] - both * moments.sum())
    shear, waves, reach = 0.5 * first, 4.0 * first, 0.6
    at_first = shear + waves * np.exp(-0.5 / reach)
    left = (1.0 - first / at_first) * (shear + waves * np.exp(-1.0 / reach))
    assert 0.0 < left < second  # so that the last is mixed in part
    mixing.stir(temperature, oxygen, 0, volumes, centres, densities, shear, waves, reach)
    assert temperature[2] == pytest.approx(15.0 + left / second * (53.0 / 3.0 - 15.0), rel=1e-9)


@pytest.mark.parametrize("top", [0, 2])
def test_energy_without_end_mixes_all_under_the_surface(top):
    temperature, oxygen, volumes, centres, densities = column([21, 20, 19, 18, 16, 13])
    volumes *= np.linspace(1.0, 0.3, 6)
    means = [np.average(values[top:], weights=volumes[top:]) for values in (temperature, oxygen)]
    above = temperature[:top].copy()
    mixing.stir(temperature, oxygen, top, volumes, centres, densities, 1e12, 0.0, 1.0)
    for values, mean in zip((temperature, oxygen), means, strict=True):
        np.testing.assert_allclose(values[top:], mean)
    np.testing.assert_allclose(densities, density(temperature))
    np.testing.assert_array_equal(temperature[:top], above)
