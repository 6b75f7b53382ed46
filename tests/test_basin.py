"""The basin: volumes, areas, layers, months."""

import numpy as np
import pandas as pd
import pytest
from column_lakes import lake

from lakekit.column.basin import (
    area_at,
    layer_thickness,
    make_basin,
    monthly_to_hourly,
    volume_below,
)
from lakekit.errors import ClubError


def test_layers_fill_the_depth_area_curve_exactly():
    water = lake()
    basin = make_basin(water)
    exact = np.sum(0.5 * (water.areas[1:] + water.areas[:-1]) * np.diff(water.depths))
    assert basin.volumes.sum() == pytest.approx(exact, rel=1e-9)
    assert basin.faces[-1] == pytest.approx(water.max_depth, rel=1e-12)


def test_volume_below_a_depth_is_the_integral_of_area():
    # area linear in depth: a wedge, A0 (1 - z/H), whose volume below z is A0 (H - z)^2 / 2H
    wedge = lake(depths=np.array([0.0, 10.0]), areas=np.array([1e5, 0.0]))
    basin = make_basin(wedge)
    for depth in (0.0, 2.5, 7.77, 10.0):
        expected = 1e5 * (10.0 - depth) ** 2 / 20.0
        assert volume_below(basin, depth) == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_area_at_a_depth():
    basin = make_basin(lake(depths=np.array([0.0, 10.0]), areas=np.array([1e5, 2e4])))
    assert area_at(basin, 5.0) == pytest.approx(6e4, rel=1e-12)
    assert area_at(basin, 10.5) == 0.0


def test_a_flat_bottom_counts_as_sediment():
    basin = make_basin(lake(depths=np.array([0.0, 10.0]), areas=np.array([1e5, 1e5])))
    sediment = basin.face_areas[:-1] - basin.face_areas[1:]
    assert sediment.sum() == pytest.approx(1e5, rel=1e-12)
    assert sediment[-1] == pytest.approx(1e5, rel=1e-12)


@pytest.mark.parametrize(
    ("depth", "thickness"), [(5.0, 0.25), (12.0, 0.3), (30.0, 0.75), (80.0, 1.0)]
)
def test_about_forty_layers(depth, thickness):
    assert layer_thickness(depth) == pytest.approx(thickness, rel=1e-12)


def test_months_hold_at_mid_month_and_join_across_the_year():
    monthly = np.arange(12.0)
    times = pd.DatetimeIndex(["2015-01-16 05:00", "2015-07-16 05:00", "2015-12-31 23:00"])
    found = monthly_to_hourly(monthly, times.values)
    np.testing.assert_allclose(found[:2], [0.0, 6.0], atol=0.05)
    assert found[2] == pytest.approx(5.5, abs=0.02)  # half way from December to January


def test_no_water_is_refused():
    with pytest.raises(ClubError, match="holds no water"):
        make_basin(lake(depths=np.array([0.0]), areas=np.array([1e5])))


@pytest.mark.parametrize(
    ("depths", "areas"),
    [
        ([2.0, 2.0], [1e5, 5e4]),
        ([0.0, 5.0], [0.0, 0.0]),
        ([3.0, 1.0], [1e5, 1e4]),
        ([0.0, 5.0], [-1.0, 0.0]),
    ],
)
def test_a_curve_without_depth_or_surface_is_refused(depths, areas):
    with pytest.raises(ClubError, match="holds no water"):
        make_basin(lake(depths=np.array(depths), areas=np.array(areas), area=1e5))


def test_volumes_across_a_kink_by_hand():
    water = lake(depths=np.array([0.0, 2.0, 10.0]), areas=np.array([3e5, 1e5, 0.0]))
    basin = make_basin(water)
    found = volume_below(basin, np.array([0.0, 1.0, 2.0, 6.0, 10.0, 12.0]))
    # two trapezia of 3e5 to 1e5 over 2 m and 1e5 to 0 over 8 m
    np.testing.assert_allclose(found, [8e5, 5.5e5, 4e5, 1e5, 0.0, 0.0], rtol=1e-12, atol=1e-6)
    np.testing.assert_allclose(area_at(basin, np.array([-1.0, 1.0, 6.0])), [3e5, 2e5, 5e4])


def test_layers_are_whole_and_four_at_least():
    wedge = lake(depths=np.array([1.0, 11.0]), areas=np.array([1e5, 0.0]), max_depth=10.0)
    basin = make_basin(wedge, thickness=3.0)  # 3.3 of them would be fewer than four
    np.testing.assert_allclose(basin.faces, [0.0, 2.5, 5.0, 7.5, 10.0])
    np.testing.assert_allclose(basin.centres, [1.25, 3.75, 6.25, 8.75])
    assert basin.thickness == pytest.approx(2.5)
    assert basin.layers == 4
    # A0 (1 - z/H), so 7/16, 5/16, 3/16 and 1/16 of A0 H / 2
    np.testing.assert_allclose(basin.volumes, 5e5 * np.array([7, 5, 3, 1]) / 16.0)
    np.testing.assert_allclose(basin.face_areas, [1e5, 7.5e4, 5e4, 2.5e4, 0.0])


def test_a_ledge_at_the_surface_is_water_too():
    water = lake(depths=np.array([0.0, 0.0, 5.0]), areas=np.array([1e5, 9e4, 0.0]))
    assert make_basin(water).volumes.sum() == pytest.approx(9e4 * 5.0 / 2.0)


def test_layers_are_as_thick_as_the_deepest_water_asks():
    uneven = lake(depths=np.array([0.0, 2.0, 30.0]), areas=np.array([1e5, 5e4, 0.0]))
    assert make_basin(uneven).thickness == pytest.approx(30.0 / 40.0)


def test_a_layer_without_area_holds_a_litre():
    water = lake(depths=np.array([0.0, 5.0, 10.0]), areas=np.array([1e5, 0.0, 0.0]))
    volumes = make_basin(water, thickness=1.0).volumes
    np.testing.assert_allclose(volumes[5:], 1e-3)
    assert volumes[4] == pytest.approx(1e4)  # a wedge of 2e4 m2 and 1 m


def test_months_are_twelfths_of_the_year_leap_years_included():
    monthly = np.array([3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0, 3.0, 5.0, 8.0])
    for year, days in ((2015, 365.0), (2016, 366.0)):
        start = np.datetime64(f"{year}-01-01T00:00:00")
        middles = (np.arange(12) + 0.5) * days * 86400.0 / 12.0
        times = start + middles.astype("timedelta64[s]")
        np.testing.assert_allclose(monthly_to_hourly(monthly, times), monthly, atol=1e-6)
        # between two months half of each, December and January included
        joins = start + (np.arange(12) * days * 86400.0 / 12.0).astype("timedelta64[s]")
        expected = 0.5 * (monthly + np.roll(monthly, 1))
        np.testing.assert_allclose(monthly_to_hourly(monthly, joins), expected, atol=1e-6)
