"""Light: attenuation and albedo."""

import numpy as np
import pytest

from lakekit.column.light import NEAR_INFRARED_SHARE, albedo, attenuation, direct_albedo


def test_attenuation_follows_poole_and_atkins():
    # Poole & Atkins 1929: 1.7 / Secchi; 0.85 per m at 2 m
    assert attenuation(2.0) == pytest.approx(0.85, abs=1e-12)
    assert attenuation(2.0, factor=2.0) == pytest.approx(1.7, abs=1e-12)


def test_overhead_sun_is_reflected_by_two_hundredths():
    # Fresnel at normal incidence: ((1.333 - 1) / (1.333 + 1))^2 = 0.02037
    assert direct_albedo(90.0) == pytest.approx(0.02037, abs=1e-4)


@pytest.mark.parametrize(("elevation", "share"), [(60, 0.021), (30, 0.060), (10, 0.348)])
def test_low_sun_is_reflected_more(elevation, share):
    # Fresnel's equations for n = 1.333 at zenith angles 30, 60 and 80 deg (computed apart)
    assert direct_albedo(float(elevation)) == pytest.approx(share, abs=1e-3)


def test_albedo_stays_in_bounds_day_and_night():
    elevation = np.linspace(-40.0, 90.0, 131)
    for sun in (0.0, 50.0, 900.0):
        share = albedo(elevation, np.full(elevation.size, sun))
        assert ((share >= 0.02) & (share <= 0.5)).all()


def test_overcast_light_is_reflected_alike_at_any_height():
    share = albedo(np.array([15.0, 60.0]), np.array([20.0, 60.0]))
    np.testing.assert_allclose(share, 0.06, atol=1e-12)


def test_albedo_weighs_direct_light_by_the_clearness_of_the_sky():
    # by hand at 30 degrees: 680.5 W/m2 outside; Fresnel reflects 0.060 of the direct light; of a
    # sky at clearness 0.25, 0.5 and 0.75 the shares 1, 0.6 and 0.2 are diffuse
    direct = float(direct_albedo(30.0))
    assert direct == pytest.approx(0.0598, abs=0.0005)
    low = float(direct_albedo(10.0))
    for clearness, diffuse in ((0.1, 1.0), (0.25, 1.0), (0.5, 0.6), (0.75, 0.2), (0.95, 0.2)):
        found = albedo(np.array([10.0]), np.array([clearness * 1361.0 * np.sin(np.radians(10.0))]))
        assert found[0] == pytest.approx(diffuse * 0.06 + (1 - diffuse) * low, abs=1e-6)
    assert albedo(np.array([2.0]), np.array([1000.0]))[0] == 0.5


def test_what_is_not_infrared_is_the_visible_share():
    # PAR is 0.42-0.48 of shortwave (many records, from memory)
    assert 0.42 < 1.0 - NEAR_INFRARED_SHARE < 0.48


def test_the_sun_at_and_below_the_horizon_is_held_a_tenth_of_a_degree_up():
    assert direct_albedo(-5.0) == direct_albedo(0.0) == direct_albedo(0.1)
    assert 0.9 < direct_albedo(0.5) < direct_albedo(0.1) < 1.0
    # as overhead goes, Fresnel's equations reach their limit without a jump
    assert direct_albedo(89.9) == pytest.approx(direct_albedo(90.0), rel=1e-3)


def test_no_light_is_reflected_polarised_that_way_at_brewsters_angle():
    # tan(zenith) = 1.333: the parallel part vanishes, and the other is
    # ((n^2 - 1) / (n^2 + 1))^2 = 0.07827, half of which is 0.03914
    assert direct_albedo(90.0 - np.degrees(np.arctan(1.333))) == pytest.approx(0.03914, abs=1e-5)


def test_the_clearness_under_a_setting_sun_is_against_a_fiftieth_of_the_solar_constant():
    # by hand: 1361 x 0.02 is 27.2 W/m2; a quarter of it, 6.8, is all diffuse; half of it is 0.6
    # diffuse and 0.4 direct
    quarter, half = albedo(np.array([0.05, 0.05]), np.array([6.8, 13.61]))
    assert quarter == pytest.approx(0.06)
    assert half == pytest.approx(0.6 * 0.06 + 0.4 * float(direct_albedo(0.05)), rel=1e-3)
