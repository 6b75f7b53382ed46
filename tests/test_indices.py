"""Layers: closed forms, definitions that must hold, invariance, and measured casts."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.column.water import density
from lakekit.constants import GRAVITY
from lakekit.strata import (
    measured_profiles,
    oxygen_floor_depth,
    run_layers,
    schmidt_stability,
    stratification,
    wedderburn_number,
)
from lakekit.strata.profile import scan_profiles

# Closed forms constructed for g 9.81 m/s2, 997.0 kg/m3 over 999.7 kg/m3 meeting at 4 m in 10 m
# (analytic, integrated numerically to 1e-12 by those who made them): Schmidt stability after
# Idso 1973, Wedderburn number after Thompson & Imberger 1980 (form from
# memory).
TO_PACKAGE_GRAVITY = GRAVITY / 9.81
BOX_TWO_LAYER = 317.844  # J/m2
CONE_TWO_LAYER = 57.2119  # J/m2
BOX_LINEAR = 220.725  # J/m2, 0.27 kg/m3 per m
STRESS = 1.2 * 1.3e-3 * 5.0**2  # N/m2
WEDDERBURN = 10.8665  # L 1000 m


def scan(rho, z, area, surface_area):
    """The kernel's stability terms for a density profile given as such."""
    shape = (1, len(z))
    temperature = np.linspace(20.0, 10.0, len(z)).reshape(shape)  # layered; densities are given
    return scan_profiles(
        z,
        temperature,
        rho.reshape(shape),
        area.reshape(shape),
        np.array([surface_area]),
        GRAVITY,
        1.0,
        0.8,
    )[0]


def two_layers(z, interface=4.0):
    return np.where(z < interface, 997.0, 999.7)


def profile(z, *, top=25.0, bottom=10.0, thermocline=5.0, sharpness=2.0):
    return bottom + (top - bottom) / (1.0 + np.exp(sharpness * (z - thermocline)))


def dataset(temperature, z, dims=("depth",), **more):
    return xr.Dataset({"water_temperature": (dims, temperature), **more}, coords={"depth": z})


def test_schmidt_stability_of_the_closed_forms():
    z = np.arange(0.05, 10.0, 0.1)
    box = np.full(len(z), 1e6)
    cone = 1e6 * (1.0 - z / 10.0) ** 2
    stability = scan(two_layers(z), z, box, 1e6)[8]
    assert stability == pytest.approx(BOX_TWO_LAYER * TO_PACKAGE_GRAVITY, rel=2e-6)
    # areas at the middles of 0.1 m layers: the cone's volumes are good to (dz/H)^2
    stability = scan(two_layers(z), z, cone, 1e6)[8]
    assert stability == pytest.approx(CONE_TWO_LAYER * TO_PACKAGE_GRAVITY, rel=1e-3)
    stability = scan(998.35 + 0.27 * (z - 5.0), z, box, 1e6)[8]
    assert stability == pytest.approx(BOX_LINEAR * TO_PACKAGE_GRAVITY, rel=2e-4)


def test_idso_unit():
    # 1 g-cm/cm2 of work, Idso 1973's unit (without g), is 0.980665 J/m2 by conversion
    assert 1e-3 * 1e-2 / 1e-4 * GRAVITY == pytest.approx(0.980665, rel=1e-9)


def test_wedderburn_number_of_the_closed_form():
    w = wedderburn_number(2.7, 4.0, wind_stress=STRESS, fetch=1000.0)
    assert w == pytest.approx(WEDDERBURN * TO_PACKAGE_GRAVITY, rel=1e-5)
    # by the stress, down to a breath of it
    breath = wedderburn_number(2.7, 4.0, wind_stress=STRESS / 1e4, fetch=1000.0)
    assert breath == pytest.approx(1e4 * w, rel=1e-12)
    assert wedderburn_number(2.7, 4.0, wind_stress=0.0, fetch=1000.0) == np.inf
    assert np.isnan(wedderburn_number(np.nan, 4.0, wind_stress=0.0, fetch=1000.0))


def test_density_step_and_numbers_through_the_dataset():
    z = np.arange(0.25, 10.0, 0.5)
    t = np.where(z < 4.0, 24.0, 12.0)
    run = dataset(t, z, area=("depth", np.full(len(z), 785398.16)), wind_stress=((), STRESS))
    run.attrs["longest_fetch"] = 1000.0
    layers = stratification(run)
    assert float(layers.thermocline_depth) == pytest.approx(4.0, abs=0.051)
    step = density(12.0) - density(24.0)
    schmidt = GRAVITY * step * 4.0 * 6.0 / 2.0
    assert float(layers.schmidt_stability) == pytest.approx(schmidt, rel=1e-9)
    h = float(layers.thermocline_depth)
    expected = GRAVITY * step * h**2 / (STRESS * 1000.0)
    assert float(layers.wedderburn_number) == pytest.approx(expected, rel=0.03)


def test_uniform_water_has_no_stability_and_no_layers():
    z = np.arange(0.25, 8.0, 0.5)
    run = dataset(np.full(len(z), 12.0), z, area=("depth", 1e5 * (1 - z / 9)))
    layers = stratification(run)
    assert float(layers.schmidt_stability) == pytest.approx(0.0, abs=1e-9)
    assert not bool(layers.stratified)
    assert np.isnan(float(layers.thermocline_depth))
    assert float(layers.mixed_layer_depth) == z[-1]


def test_layered_only_beyond_two_degrees():
    z = np.arange(0.0, 10.01, 0.5)
    for difference, layered in [(1.999, False), (2.0, False), (2.001, True)]:
        layers = stratification(dataset(15.0 + difference * (z < 5.0), z))
        assert bool(layers.stratified) is layered
        assert bool(np.isfinite(float(layers.thermocline_depth))) is layered


@pytest.mark.parametrize("where", [2.0, 3.3, 5.05, 7.7])
@pytest.mark.parametrize("spacing", [0.1, 0.25, 0.5])
def test_thermocline_recovered_where_it_was_put(where, spacing):
    z = np.arange(0.0, 10.0 + 1e-9, spacing)
    layers = stratification(dataset(profile(z, thermocline=where, sharpness=3.0), z))
    # no nearer than half the readings' spacing and one grid cell: lines between readings
    assert float(layers.thermocline_depth) == pytest.approx(where, abs=0.5 * spacing + 0.1)


def test_a_step_thinner_than_the_window_is_centred():
    z = np.array([0.0, 3.9, 4.1, 9.0])
    layers = stratification(dataset(np.array([20.0, 20.0, 10.0, 10.0]), z))
    assert float(layers.thermocline_depth) == pytest.approx(4.0, abs=0.051)
    assert float(layers.fall_zone_top) == pytest.approx(3.9, abs=0.051)
    assert float(layers.fall_zone_bottom) == pytest.approx(4.1, abs=0.051)


def test_metalimnion_cools_a_degree_a_metre_and_mixed_layer_is_above_it():
    z = np.arange(0.0, 12.01, 0.25)
    t = np.interp(z, [0, 3, 7, 12], [25.0, 24.4, 14.4, 13.4])  # 0.2, 2.5 and 0.2 degC/m
    layers = stratification(dataset(t, z))
    # from 3.0 m on, cut back to the mixed layer
    assert float(layers.fall_zone_top) == pytest.approx(3.16, abs=1e-9)
    assert float(layers.fall_zone_bottom) == pytest.approx(7.0, abs=0.101)
    # 25.0 - 0.2 at 1 m; 0.8 degC below that lies past 3 m, where it is 24.4: 0.4 / 2.5 m on
    assert float(layers.mixed_layer_depth) == pytest.approx(3.0 + 0.4 / 2.5, abs=1e-9)
    weak = stratification(dataset(np.interp(z, [0, 12], [20.0, 14.0]), z))  # 0.5 degC/m
    assert np.isnan(float(weak.fall_zone_top))
    assert np.isfinite(float(weak.thermocline_depth))


def test_a_skin_warmed_that_day_is_not_the_mixed_layer():
    z = np.arange(0.0, 12.01, 0.25)
    t = np.interp(z, [0, 5, 6, 12], [24.0, 24.0, 12.0, 11.0])
    skin = t + 3.0 * np.clip(1.0 - z, 0.0, None)
    plain, warmed = stratification(dataset(t, z)), stratification(dataset(skin, z))
    assert float(warmed.mixed_layer_depth) == pytest.approx(float(plain.mixed_layer_depth))
    assert float(warmed.surface_skin) == pytest.approx(3.0, abs=1e-9)
    for layers in (plain, warmed):
        assert float(layers.lasting_thermocline_depth) == pytest.approx(5.5, abs=1e-9)
    mixed = stratification(dataset(20.0 + 3.0 * np.clip(1.0 - z, 0.0, None), z))
    assert bool(mixed.stratified) and float(mixed.thermocline_depth) == pytest.approx(
        0.5, abs=0.051
    )
    assert np.isnan(float(mixed.lasting_thermocline_depth))
    assert float(plain.surface_skin) == 0.0


def test_colder_water_above_is_flagged():
    z = np.arange(0.0, 6.01, 0.5)
    layers = stratification(dataset(np.interp(z, [0, 1, 6], [0.5, 3.0, 4.0]), z))
    assert bool(layers.stratified) and bool(layers.inverse)
    assert float(layers.thermocline_depth) == pytest.approx(0.5, abs=1e-9)


def test_shallow_and_poor_profiles():
    two = stratification(dataset(np.array([25.0, 20.0]), np.array([0.0, 0.8])))
    assert float(two.thermocline_depth) == pytest.approx(0.4, abs=0.051)
    for depth in (0.0, 0.5):
        one = stratification(dataset(np.array([25.0, np.nan]), np.array([depth, 0.8])))
        assert np.isnan(float(one.surface_temperature)) and np.isnan(float(one.bottom_temperature))
        assert not bool(one.stratified)
    deep_only = stratification(dataset(np.array([15.0, 10.0]), np.array([3.0, 6.0])))
    assert np.isnan(float(deep_only.surface_temperature))
    assert np.isfinite(float(deep_only.thermocline_depth))


def test_surface_is_the_mean_of_the_first_metre():
    z = np.array([0.25, 0.75, 1.25, 5.0])
    layers = stratification(dataset(np.array([20.0, 19.0, 18.0, 10.0]), z))
    # 0.25 m at 20, then 20 -> 19 over 0.5 m, then 19 -> 18.5 over 0.25 m
    expected = 0.25 * 20.0 + 0.5 * 19.5 + 0.25 * 18.75
    assert float(layers.surface_temperature) == pytest.approx(expected, rel=1e-12)
    assert float(layers.bottom_temperature) == 10.0


def test_oxygen_floor_is_linear_and_lasting():
    z = np.array([0.0, 2.0, 4.0, 6.0, 8.0])
    assert oxygen_floor_depth([9.0, 8.0, 4.0, 2.0, 0.0], z) == pytest.approx(5.0, abs=1e-12)
    assert oxygen_floor_depth([9.0, 8.0, 4.0, 2.0, 0.0], z, limit=4.0) == pytest.approx(4.0)
    assert oxygen_floor_depth([9.0, 8.0, 4.0, 2.0, 0.0], z, limit=2.0) == pytest.approx(6.0)
    # a dip under the limit with better water below it is no floor
    assert oxygen_floor_depth([9.0, 1.0, 5.0, 5.0, 1.0], z) == pytest.approx(7.0, abs=1e-12)
    assert np.isnan(oxygen_floor_depth([9.0, 1.0, 5.0, 5.0, 3.0], z))
    assert oxygen_floor_depth([1.0, 1.0, 1.0, 1.0, 1.0], z) == 0.0
    assert np.isnan(oxygen_floor_depth([np.nan] * 5, z))
    gap = oxygen_floor_depth([9.0, 8.0, np.nan, 2.0, np.nan], z)
    assert gap == pytest.approx(2.0 + 4.0 * 5.0 / 6.0, rel=1e-12)
    levels = [oxygen_floor_depth([9, 8, 4, 2, 0.0], z, limit=k) for k in (2.0, 3.0, 4.0)]
    assert levels == sorted(levels, reverse=True)


def test_absent_inputs_give_nan():
    z = np.arange(0.25, 10.0, 0.5)
    layers = stratification(dataset(profile(z), z))
    for name in ("schmidt_stability", "wedderburn_number", "oxygen_floor_depth"):
        assert np.isnan(float(layers[name])), name
    assert np.isfinite(float(layers.thermocline_depth))
    assert np.isnan(schmidt_stability(profile(z), z, np.full(len(z), np.nan)))


def test_refuses_depths_that_do_not_rise():
    for last in (1.0, 1.9, 2.0, np.inf):
        with pytest.raises(ValueError, match="rise"):
            stratification(dataset(np.array([20.0, 19.0, 10.0]), np.array([0.0, 2.0, last])))
    with pytest.raises(ValueError, match="water_temperature"):
        stratification(xr.Dataset({"temperature": ("depth", [1.0])}, coords={"depth": [0.0]}))


def test_one_profile_a_series_and_an_ensemble_row_agree():
    rng = np.random.default_rng(7)
    z = np.arange(0.125, 9.0, 0.25)
    t = np.sort(rng.uniform(6.0, 27.0, (3, 5, len(z))), axis=-1)[..., ::-1].copy()
    t[1, 2, 30:] = np.nan  # the level is down
    oxygen = np.sort(rng.uniform(0.0, 10.0, t.shape), axis=-1)[..., ::-1].copy()
    dims = ("member", "time", "depth")
    run = dataset(
        t,
        z,
        dims,
        dissolved_oxygen=(dims, oxygen),
        area=("depth", 4e5 * (1 - z / 10)),
        wind_stress=(dims[:2], rng.uniform(0.005, 0.1, (3, 5))),
    )
    whole = stratification(run)
    for member in range(3):
        row = stratification(run.isel(member=member))
        xr.testing.assert_identical(row, whole.isel(member=member))
        for time in range(5):
            alone = stratification(run.isel(member=member, time=time))
            xr.testing.assert_identical(alone, whole.isel(member=member, time=time))
    turned = stratification(run.transpose("depth", "time", "member"))
    xr.testing.assert_allclose(turned.transpose("member", "time"), whole, rtol=0, atol=0)


def test_readings_left_out_change_nothing_on_straight_lines():
    z = np.arange(0.0, 8.01, 0.25)
    t = np.interp(z, [0, 2, 4, 8], [24.0, 24.0, 12.0, 11.0])
    some = t.copy()
    some[[3, 10, 22]] = np.nan
    full, holes = stratification(dataset(t, z)), stratification(dataset(some, z))
    assert float(holes.thermocline_depth) == pytest.approx(float(full.thermocline_depth), abs=0.051)


def test_measured_profiles_average_repeats_and_keep_holes():
    frame = pd.DataFrame(
        {
            "time": pd.to_datetime(["2020-06-02"] * 3 + ["2020-06-01"] * 2),
            "depth": [0.0, 1.0, 1.0, 0.0, 2.0],
            "temperature": [20.0, 18.0, 19.0, 21.0, 15.0],
            "oxygen": [8.0, np.nan, 7.0, 8.5, np.nan],
        }
    )
    profiles = measured_profiles(frame)
    assert list(profiles.depth.values) == [0.0, 1.0, 2.0]
    assert profiles.time.to_index().is_monotonic_increasing
    np.testing.assert_array_equal(
        profiles.water_temperature.values, [[21.0, np.nan, 15.0], [20.0, 18.5, np.nan]]
    )
    assert profiles.dissolved_oxygen.values[1, 1] == 7.0
    units = {name: profiles[name].attrs["units"] for name in profiles}
    assert units == {"water_temperature": "degC", "dissolved_oxygen": "mg L-1"}


def missouri(observations):
    """Our layers beside the authors' for each cast, joined on reservoir and date."""
    folder = observations / "missouri-casts"
    casts = pd.read_csv(folder / "profiles.csv", dtype={"reservoir_id": str})
    theirs = pd.read_csv(folder / "thermocline_published.csv", dtype={"reservoir_id": str})
    number = casts.groupby(["reservoir_id", "date_local"], sort=True).ngroup()
    index = casts[["reservoir_id", "date_local"]].drop_duplicates()
    index = index.sort_values(["reservoir_id", "date_local"]).reset_index(drop=True)
    table = casts.assign(cast=number).pivot_table(index="cast", columns="depth_m", values="temp_c")
    run = xr.Dataset(
        {"water_temperature": (("cast", "depth"), table.to_numpy())},
        coords={"depth": table.columns.to_numpy(float)},
    )
    layers = stratification(run).to_dataframe()
    ours = index.join(layers).assign(
        cast=np.arange(len(index)),
        deepest=table.apply(lambda row: row.last_valid_index(), axis=1).to_numpy(),
        shallowest=table.apply(lambda row: row.first_valid_index(), axis=1).to_numpy(),
    )
    return ours.merge(theirs, on=["reservoir_id", "date_local"], validate="one_to_one"), run


def test_missouri_casts_beside_their_authors(observations, capsys):
    """1,200 casts (University of Missouri, EDI 1544 and 1788) beside their authors' depths.

    The authors found the thermocline in casts of a few centimetres' spacing by a method of
    their own; these are 0.25 m medians and a 1 m window. The 127 tails beyond 1 m, seen cast by
    cast: (a) 36 with the authors' depth in the first metre, a skin warmed that day, where ours is
    the broader step below it; (b) 13 with theirs in the last metre above the bed; (c) 78 with
    theirs between, most of them 1 to 2 m off within one thick metalimnion, where the steepest
    few centimetres lie elsewhere than the steepest metre, and some with two steps of like size of
    which each method took another. In 8 of all, readings are more than 0.4 m apart on average.
    """
    table, run = missouri(observations)
    assert len(table) == 1200
    layered = table[table.stratified]
    difference = layered.thermocline_depth - layered.thermocline_depth_m_authors
    tail = layered[difference.abs() > 1.0]
    theirs = tail.thermocline_depth_m_authors
    at_top = theirs < 1.0
    at_bottom = ~at_top & (tail.deepest - theirs < 1.0)
    share = {limit: float((difference.abs() <= limit).mean()) for limit in (0.5, 1.0)}
    with capsys.disabled():
        print(
            f"\nMissouri casts, thermocline ours - authors' [m]: n {len(layered)} of 1200 layered;"
            f" median {difference.median():+.2f}, 10-90 % {difference.quantile(0.1):+.2f} to"
            f" {difference.quantile(0.9):+.2f}; within 0.5 m {share[0.5]:.0%}, within 1 m"
            f" {share[1.0]:.0%}. Beyond 1 m {len(tail)}: theirs within 1 m of the top"
            f" {int(at_top.sum())}, of the bottom {int(at_bottom.sum())}, between"
            f" {int((~at_top & ~at_bottom).sum())}."
        )

    # what must hold by definition
    cast = table.cast.to_numpy()
    readings = run.water_temperature.to_numpy()
    ends = [np.array([c[np.isfinite(c)][i] for c in readings]) for i in (0, -1)]
    layered_by_hand = np.abs(ends[0] - ends[1]) > 2.0
    assert (layered_by_hand[cast] == table.stratified.to_numpy()).all()
    assert (layered.thermocline_depth.notna()).all()
    assert table.thermocline_depth[~table.stratified].isna().all()
    assert (layered.thermocline_depth >= layered.shallowest).all()
    assert (layered.thermocline_depth <= layered.deepest).all()
    deep = layered[layered.deepest - layered.shallowest >= 1.0]
    assert (deep.thermocline_depth >= deep.shallowest + 0.5 - 1e-9).all()
    assert (deep.thermocline_depth <= deep.deepest - 0.5 + 1e-9).all()
    cool = layered[layered.fall_zone_top.notna()]
    assert len(cool) > 0.9 * len(layered)
    assert (cool.mixed_layer_depth <= cool.fall_zone_top + 1e-9).all()
    assert (cool.fall_zone_top <= cool.thermocline_depth + 1e-9).all()
    assert (cool.thermocline_depth <= cool.fall_zone_bottom + 1e-9).all()
    # no window of the cast holds a larger step than the one found
    for row in layered.sample(60, random_state=1).itertuples():
        cast = run.water_temperature.isel(cast=row.cast).dropna("depth")
        if row.deepest - row.shallowest < 1.0:
            continue
        z, rho = cast.depth.to_numpy(), density(cast.to_numpy())
        grid = np.arange(z[0], z[-1] - 1.0 + 1e-9, 0.1)
        steps = np.interp(grid + 1.0, z, rho) - np.interp(grid, z, rho)
        at = row.thermocline_depth
        found = np.interp(at + 0.5, z, rho) - np.interp(at - 0.5, z, rho)
        assert found >= steps.max() - 2e-3

    # the two methods look at the same water
    assert abs(difference.median()) < 0.25
    assert share[1.0] > 0.8


@pytest.mark.parametrize(("fall", "is_zone"), [(1.1, True), (0.95, False)])
def test_a_fall_zone_cools_a_degree_a_metre(fall, is_zone):
    # Birge 1897, from memory: 1 degC a metre
    z = np.arange(0.0, 12.01, 0.5)
    layers = stratification(dataset(np.interp(z, [4, 8], [20.0, 20.0 - 4 * fall]), z))
    assert bool(layers.stratified)
    assert bool(np.isfinite(float(layers.fall_zone_top))) is is_zone


def test_without_a_fetch_the_wind_blows_across_a_round_lake():
    z = np.arange(0.25, 10.0, 0.5)
    area = np.pi * 250.0**2  # 500 m across
    run = dataset(profile(z), z, area=("depth", np.full(len(z), area)), wind_stress=((), STRESS))
    round_lake = float(stratification(run).wedderburn_number)
    assert round_lake == pytest.approx(float(stratification(run, fetch=500.0).wedderburn_number))
    long_lake = float(stratification(run, fetch=1000.0).wedderburn_number)  # W goes by 1 / L
    assert long_lake == pytest.approx(round_lake / 2)


def test_the_wedderburn_number_is_of_the_lasting_thermocline():
    z = np.arange(0.0, 12.01, 0.25)
    t = np.interp(z, [0, 5, 6, 12], [24.0, 24.0, 12.0, 11.0])
    skin = t + 12.0 * np.clip(1.0 - 2 * z, 0.0, None)  # at noon the steepest step of all
    area = ("depth", np.full(len(z), 2e5))
    plain, warmed = (
        stratification(dataset(values, z, area=area, wind_stress=((), STRESS)))
        for values in (t, skin)
    )
    assert float(warmed.thermocline_depth) < 1.0
    assert float(warmed.wedderburn_number) == pytest.approx(float(plain.wedderburn_number), rel=0.1)


def test_the_surface_area_is_where_the_two_topmost_areas_point():
    # 3 ha at 1 m and 2 ha at 3 m: 3.5 ha at the surface
    z, area, t = np.array([1.0, 3.0, 5.0]), np.array([3e4, 2e4, 1e4]), np.array([22.0, 20.0, 8.0])
    given = schmidt_stability(t, z, area, surface_area=3.5e4)
    assert schmidt_stability(t, z, area) == pytest.approx(given, rel=1e-12)
    two = schmidt_stability(t[::2], z[:2], area[:2])
    assert two == pytest.approx(schmidt_stability(t[::2], z[:2], area[:2], surface_area=3.5e4))
    assert schmidt_stability(t, z, area, surface_area=7e4) == pytest.approx(given / 2, rel=1e-12)


def test_calm_water_of_one_density_has_no_wedderburn_number():
    known = {"wind_stress": 0.0, "fetch": 1000.0}
    assert np.isnan(wedderburn_number(0.0, 4.0, **known))
    assert wedderburn_number(1e-6, 4.0, **known) == np.inf
    assert np.isnan(wedderburn_number(-1e-6, 4.0, **known))  # nor has water about to turn over
    assert wedderburn_number(0.0, 4.0, wind_stress=STRESS, fetch=1000.0) == 0.0


def test_layers_of_a_run_bear_the_edges_of_low_oxygen_and_ice():
    lake = SimpleNamespace(longest_fetch=700.0, latitude=41.5)
    z = np.array([0.0, 2.0, 4.0, 6.0, 8.0])
    dims = ("member", "time", "depth")
    run = dataset(
        np.tile([24.0, 23.0, 15.0, 11.0, 10.0], (2, 3, 1)), z, dims,
        dissolved_oxygen=(dims, np.tile([9.0, 8.0, 6.0, 2.0, 1.0], (2, 3, 1))),
        ice_thickness=(dims[:2], np.array([[0.0, 0.01, 0.0]] * 2)),
        wind_stress=(dims[:2], np.full((2, 3), STRESS)),
        area=("depth", np.full(5, 1e5)),
    )  # fmt: skip
    layers = run_layers(run, lake, oxygen_zone=(5.0, 3.0, 1.5))
    # 6 to 2 mg/L from 4 to 6 m, then to 1 mg/L at 8 m
    for name, depth in (
        ("oxygen_zone_top", 4.5), ("oxygen_floor_depth", 5.5), ("oxygen_zone_bottom", 7.0),
    ):  # fmt: skip
        assert layers[name].dims == dims[:2]
        np.testing.assert_allclose(layers[name], depth, rtol=1e-12, err_msg=name)
    assert layers["ice"].values.tolist() == [[False, True, False]] * 2
    # where no fish is named, 2 to 4 mg/L with 3 as its middle
    usual = run_layers(run, lake)
    for name, depth in (
        ("oxygen_zone_top", 5.0), ("oxygen_floor_depth", 5.5), ("oxygen_zone_bottom", 6.0),
    ):  # fmt: skip
        np.testing.assert_allclose(usual[name], depth, rtol=1e-12, err_msg=name)
    assert layers.attrs["latitude"] == 41.5
    across = stratification(run, fetch=700.0).wedderburn_number
    np.testing.assert_array_equal(layers.wedderburn_number, across)
    assert layers.oxygen_floor_depth.attrs["oxygen_limit"] == 3.0


def test_layers_bear_their_units_and_what_was_said_of_the_run():
    z = np.arange(0.25, 10.0, 0.5)
    run = dataset(profile(z), z).assign_attrs(title="A run", lake="ash", zone="UTC-6")
    layers = stratification(run)
    assert layers.attrs == {"lake": "ash", "zone": "UTC-6"}  # these are no run
    for name, values in layers.items():
        expected = (
            {"units": "m"} if name.endswith(("_depth", "_top", "_bottom")) else
            {"units": "degC"} if name.endswith(("_temperature", "_skin")) else
            {} if values.dtype == bool else None
        )  # fmt: skip
        told = {k: v for k, v in values.attrs.items() if k == "units"}
        assert values.attrs["long_name"] and (expected is None or told == expected), name
    assert layers["schmidt_stability"].attrs["units"] == "J m-2"
    assert layers["wedderburn_number"].attrs["units"] == "1"
