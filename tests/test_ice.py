"""Ice: closed forms of its growth, and its energy."""

import numpy as np
import pytest
from column_lakes import small_lake, weather

from lakekit.column import columns, hour, ice, simulate
from lakekit.column.parameters import default_parameters
from lakekit.column.water import VOLUMETRIC_HEAT


def grow(air, days, *, snow=0.0):
    """Ice [m] grown at constant air temperature under a dark, dry, windless sky in balance."""
    thickness = 0.02
    for _ in range(days * 24):
        # longwave such that a surface at the air's temperature is in radiative balance
        sky = ice.STEFAN_BOLTZMANN * (air + 273.15) ** 4
        vapour = 6.112 * np.exp(22.46 * air / (272.62 + air))
        _, conducted, *_ = ice.ice_balance(thickness, snow, air, vapour, 1000.0, 5.0, 0.0, sky)
        thickness += ice.thickness_of(conducted * 3600.0)
    return thickness


def test_growth_stays_below_stefans_bound_and_near_the_common_coefficients():
    # Stefan 1891: 3.557 cm per square root of degC day is the upper bound; CRREL's table of
    # coefficients has 2.7 for a windy lake without snow
    degree_days = 10.0 * 60.0
    coefficient = 100.0 * grow(-10.0, 60) / np.sqrt(degree_days)
    assert 2.4 < coefficient < 3.557


def test_snow_halves_the_growth():
    # the same table has 1.7-2.4 with snow, against 2.7 without
    assert grow(-10.0, 60, snow=0.08) < 0.8 * grow(-10.0, 60)


def test_thickness_of_its_latent_heat():
    assert ice.thickness_of(917.0 * 3.336e5) == pytest.approx(1.0, rel=1e-12)


def test_thick_ice_conducts_less():
    cold = [
        ice.ice_balance(h, 0.0, -15.0, 1.5, 1000.0, 3.0, 0.0, 200.0)[1] for h in (0.1, 0.3, 0.9)
    ]
    assert cold[0] > cold[1] > cold[2] > 0.0


def test_a_warm_day_melts_from_the_top():
    top, conducted, *_, surplus = ice.ice_balance(0.2, 0.0, 8.0, 9.0, 1000.0, 3.0, 150.0, 320.0)
    assert top == 0.0
    assert conducted == 0.0
    assert surplus > 100.0


def test_the_balance_closes_and_its_fluxes_are_those_of_the_top():
    air, vapour, pressure, wind, absorbed, sky = -12.0, 1.8, 990.0, 4.0, 30.0, 200.0
    top, conducted, net_long, latent, sensible, surplus = ice.ice_balance(
        0.3, 0.05, air, vapour, pressure, wind, absorbed, sky
    )
    assert top == pytest.approx(-12.06, abs=0.05)  # hardly off the air, where the tangents hold
    assert surplus == pytest.approx(0.0, abs=1e-9)
    assert absorbed + net_long - latent - sensible + conducted == pytest.approx(0.0, abs=1e-9)
    # by hand: 1.5e-3 rho U, 0.97 sigma T^4, k over 0.3 m of ice and 5 cm of snow
    transfer = 1.5e-3 * wind * 100.0 * pressure / (287.05 * (air + 273.15))
    # vapour over ice at -12.06 degC: 2.16 hPa (Murphy & Koop 2005, from memory)
    assert latent == pytest.approx(transfer * 2.83e6 * 0.622 / pressure * (2.16 - vapour), abs=0.1)
    assert sensible == pytest.approx(transfer * 1005.0 * (top - air), rel=1e-9)
    assert net_long == pytest.approx(0.97 * (sky - 5.6704e-8 * (top + 273.15) ** 4), abs=0.3)
    assert conducted == pytest.approx(-top / (0.3 / 2.24 + 0.05 / 0.25), rel=1e-9)


def test_light_under_snow_is_dim():
    clear, passed = ice.light_through(0.2, 0.0)
    white, dim = ice.light_through(0.2, 0.2)
    assert white > clear
    assert dim < 0.05 * passed


def test_ice_lets_the_visible_share_through():
    # visible light is 0.42-0.48 of shortwave (PAR, many records, from memory); by hand, 20 cm of
    # clear ice: 0.6 enters, 0.45 of it visible, exp(-1.5 x 0.2) of that left
    reflected, passed = ice.light_through(1e-9, 0.0)
    assert 0.42 < passed / (1.0 - reflected) < 0.48
    assert ice.light_through(0.2, 0.0)[1] == pytest.approx(0.6 * 0.45 * 0.7408, rel=1e-3)


def test_heat_from_the_water_is_conducted_over_half_a_layer():
    # by hand: 0.57 W/m/K over 0.25 m under 1 degC is 2.28 W/m2, among the 1-10 measured under
    # lake ice (from memory)
    row, own = np.zeros(columns.FORCING_COLUMNS), np.ones(8)
    row[columns.AIR], row[columns.VAPOUR], row[columns.PRESSURE] = -10.0, 2.0, 1000.0
    row[columns.LONGWAVE], own[columns.SKY] = 220.0, 0.0
    source, budget = np.zeros((2, 4)), np.zeros(columns.BUDGET_COLUMNS)
    hour.ice_surface(row, own, 100.0, 0.5, 1.0, 50.0, 0.3, 0.0, source, 1, budget)
    lost = -source[0, 1] * VOLUMETRIC_HEAT / (100.0 * 3600.0)
    assert lost == pytest.approx(2.28, abs=0.005)


def test_a_cold_winter_freezes_and_thaws_and_stays_above_freezing_below():
    run = simulate(small_lake(), weather(colder=9.0), parameters=default_parameters(small_lake()))
    thickness = run["ice_thickness"].values[0]
    assert thickness.max() > 0.15
    summer = thickness[run["time"].dt.month.isin([6, 7, 8]).values]
    assert summer.max() == 0.0
    assert float(run["water_temperature"].min()) >= 0.0
    bottom = run["water_temperature"].values[0, thickness > 0.1, -3]
    assert ((bottom > 0.0) & (bottom < 6.0)).all()


def test_thin_snow_is_patchy():
    # grey ice throws back 0.3-0.5 (common practice), settled snow 0.7; 2.5 cm covers half of it
    bare, half, full, deep = (ice.light_through(0.2, snow)[0] for snow in (0.0, 0.025, 0.05, 0.5))
    assert 0.3 <= bare <= 0.5
    assert half == pytest.approx((bare + full) / 2)
    assert full == deep == pytest.approx(0.7)


def test_light_fades_by_ice_and_snow_together():
    # per metre 1.5 in ice and 15 in snow: 10 cm of ice more take exp(-0.15), 2 cm of snow
    # exp(-0.3); compared where both throw back alike
    thin, thick, snowy = (
        ice.light_through(*layer)[1] for layer in ((0.2, 0.05), (0.3, 0.05), (0.2, 0.07))
    )
    assert thick / thin == pytest.approx(np.exp(-0.15))
    assert snowy / thin == pytest.approx(np.exp(-0.3))


def test_calm_air_over_ice_still_takes_heat_and_thin_ice_has_some_resistance():
    calm, light, windy = (
        ice.ice_balance(0.3, 0.0, -15.0, 1.5, 1000.0, wind, 0.0, 200.0)[4]
        for wind in (0.0, 0.5, 3.0)
    )
    assert calm == light != windy
    skim, thinner = (
        ice.ice_balance(h, 0.0, -15.0, 1.5, 1000.0, 3.0, 0.0, 200.0)[1] for h in (0.01, 1e-6)
    )
    assert skim == thinner > 0.0


def test_what_the_sun_leaves_at_the_top_melts_ice():
    # at 0 degC on both sides nothing is conducted: surplus is sun and sky less what is sent up
    # and evaporated; 6.11 hPa over ice at 0 degC
    top, conducted, net_long, latent, sensible, surplus = ice.ice_balance(
        0.2, 0.0, 0.0, 6.112, 1000.0, 3.0, 250.0, 300.0
    )
    assert (top, conducted, latent, sensible) == pytest.approx((0.0, 0.0, 0.0, 0.0), abs=1e-9)
    assert net_long == pytest.approx(0.97 * (300.0 - 5.670374e-8 * 273.15**4), abs=0.01)
    assert surplus == pytest.approx(250.0 + net_long)


def test_vapour_leaves_ice_colder_than_the_air_along_the_tangent():
    # Magnus over ice, 6.112 exp(22.46 T / (272.62 + T)) hPa (Sonntag 1990, from memory)
    def over_ice(t):
        return 6.112 * np.exp(22.46 * t / (272.62 + t))

    air, vapour, pressure, wind = -5.0, 2.0, 1000.0, 1.0
    top, _, _, latent, _, _ = ice.ice_balance(0.5, 0.3, air, vapour, pressure, wind, 0.0, 120.0)
    assert top < air - 5.0  # under a clear sky
    transfer = 1.5e-3 * wind * 100.0 * pressure / (287.05 * (air + 273.15))
    tangent = over_ice(air) + (top - air) * (over_ice(air + 1e-4) - over_ice(air - 1e-4)) / 2e-4
    expected = transfer * 2.83e6 * 0.622 / pressure * (tangent - vapour)
    assert latent == pytest.approx(expected, rel=1e-6)


def test_ice_colder_than_the_air_sends_up_less_along_the_tangent():
    # Stefan's law at the air's temperature and its slope there, 4 / T of it
    top, _, net_long, *_ = ice.ice_balance(0.5, 0.3, -5.0, 2.0, 1000.0, 1.0, 0.0, 120.0)
    assert top < -10.0
    at_air = 0.97 * 5.670374e-8 * 268.15**4
    sent = at_air * (1.0 + 4.0 * (top + 5.0) / 268.15)
    assert net_long == pytest.approx(0.97 * 120.0 - sent, abs=1e-3)
