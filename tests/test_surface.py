"""Surface fluxes against published coefficients and closed forms."""

import numpy as np
import pytest

from lakekit.column import columns, hour, surface


@pytest.mark.parametrize(
    ("wind", "coefficient"),
    [(2.0, 1.983e-3), (3.0, 1.244e-3),  # Wuest & Lorke 2003: 0.0044 U^-1.15
     (8.0, 1.2e-3), (15.0, 1.465e-3), (20.0, 1.79e-3), (25.0, 2.115e-3)],  # Large & Pond 1981
)  # fmt: skip
def test_drag_coefficient(wind, coefficient):
    assert surface.drag_coefficient(wind) == pytest.approx(coefficient, rel=5e-4)


def test_drag_has_no_jump_where_the_laws_meet():
    wind = np.arange(2.0, 30.0, 0.01)
    drag = np.array([surface.drag_coefficient(w) for w in wind])
    assert np.abs(np.diff(drag)).max() < 2e-5


def test_neutral_air_keeps_the_neutral_coefficient():
    assert surface.stability_factor(0.0) == pytest.approx(1.0, abs=1e-12)


def test_stability_damps_and_instability_strengthens():
    richardson = np.linspace(-2.0, 1.0, 61)
    factor = np.array([surface.stability_factor(r) for r in richardson])
    assert (np.diff(factor) <= 0.0).all()
    # Louis 1979, stable branch (from memory): 1 / (1 + 4.7 Ri)^2 = 0.46277 at 0.1
    assert surface.stability_factor(0.1) == pytest.approx(0.46277, abs=1e-5)


def test_neutral_fluxes_reduce_to_the_bulk_formula():
    # air as warm as the water and nearly saturated: no buoyancy, so latent = rho L C U (qs - qa)
    latent, sensible = surface.turbulent_fluxes(20.0, 20.0, 23.0, 1013.25, 10.0)
    humid, wet = (
        0.622 * 23.0 / (1013.25 - 0.378 * 23.0),
        0.622 * 23.3828 / (1013.25 - 0.378 * 23.3828),
    )
    density = 101325.0 / (287.05 * 293.15 * (1 + 0.61 * humid))
    bulk = density * 2453780.0 * 1.3e-3 * 10.0 * (wet - humid)
    assert latent == pytest.approx(bulk, rel=0.02)
    assert sensible == pytest.approx(0.0, abs=1e-9)


def test_calm_air_still_evaporates():
    latent, sensible = surface.turbulent_fluxes(28.0, 18.0, 12.0, 1000.0, 0.0)
    assert latent > 40.0
    assert sensible > 10.0


def test_free_convection_of_a_worked_case():
    # Nu = 0.14 Ra^(1/3): 0.14 (9.80665 * 10/300 * 2.2e-5^2 / 1.5e-5)^(1/3) = 0.00307 m/s
    assert surface.free_convection_velocity(10.0, 300.0) == pytest.approx(0.00307, abs=1e-5)
    assert surface.free_convection_velocity(-1.0, 300.0) == 0.0
    # by its cube root a fifth of that at a 125th of the excess
    assert surface.free_convection_velocity(0.08, 300.0) == pytest.approx(0.000614, abs=2e-6)


def test_fluxes_turn_round_where_air_is_warmer_and_damper():
    latent, sensible = surface.turbulent_fluxes(10.0, 20.0, 20.0, 1000.0, 3.0)
    assert latent < 0.0
    assert sensible < 0.0


def test_emitted_longwave_is_stefans_law():
    # 0.97 * 5.670374e-8 * 293.15^4 = 406.2 W/m2
    assert surface.emitted_longwave(20.0) == pytest.approx(406.2, abs=0.1)


@pytest.mark.parametrize(("area", "share"), [(0.1, 0.0296), (1, 0.2592), (5, 0.7769), (10, 0.9502)])
def test_sheltering_of_small_lakes(area, share):
    # Hondzo & Stefan 1993: 1 - exp(-0.3 A)
    assert surface.sheltered_energy(area * 1e6) == pytest.approx(share, abs=5e-5)


def test_a_brighter_sky_in_the_infrared_warms_water_and_ice():
    # by hand: 10 W/m2 more from the sky, 0.97 of it kept
    row, own = np.zeros(columns.FORCING_COLUMNS), np.ones(8)
    row[columns.AIR], row[columns.VAPOUR], row[columns.PRESSURE] = -5.0, 3.0, 1000.0
    row[columns.LONGWAVE] = 230.0
    gained, left = [], []
    for bias in (0.0, 10.0):
        own[columns.SKY] = bias
        source, budget = np.zeros((2, 3)), np.zeros(columns.BUDGET_COLUMNS)
        hour.open_surface(row, own, 100.0, 0.5, 3.0, 11.0, source, 0, budget)
        gained.append(budget[columns.LONG_NET] / (100.0 * hour.HOUR))
        left.append(
            hour.ice_surface(row, own, 100.0, 0.5, 0.5, 50.0, 0.3, 0.0, source, 0, budget)[1]
        )
    assert gained[1] - gained[0] == pytest.approx(9.7, rel=1e-9)
    assert left[1] < left[0]


def test_stress_by_hand_and_in_thin_air():
    # 1.225 kg/m3 at 15 degC and 1013.25 hPa; 1.2e-3 of it times 8 m/s squared (Large & Pond 1981)
    assert surface.wind_stress(8.0, 15.0, 1013.25) == pytest.approx(1.225 * 1.2e-3 * 64.0, rel=1e-3)
    assert surface.wind_stress(8.0, 15.0, 800.0) == pytest.approx(
        surface.wind_stress(8.0, 15.0, 1000.0) * 0.8, rel=1e-9
    )
    warm = surface.wind_stress(8.0, 30.0, 1000.0)
    assert warm == pytest.approx(surface.wind_stress(8.0, 0.0, 1000.0) * 273.15 / 303.15, rel=1e-9)


def test_instability_strengthens_by_louis():
    # Louis 1979 (from memory): 1 - 9.4 Ri / (1 + c sqrt(-Ri)), where c is 5.3 x 9.4 x 1.3e-3 times
    # the root of 10 m over 0.2 mm (open sea in Davenport's classes: Wieringa 1992, J. Wind Eng.
    # Ind. Aerodyn. 41:357-368, from memory), 14.482: 1 + 9.4 / 15.482 at -1, 1 + 2.35 / 8.241 at
    # -0.25
    assert surface.stability_factor(-1.0) == pytest.approx(1.60715, abs=1e-5)
    assert surface.stability_factor(-0.25) == pytest.approx(1.28516, abs=1e-5)
    # without a jump at neutral, and 9.4 steep there
    assert surface.stability_factor(-1e-8) == pytest.approx(1.0 + 9.4e-8, abs=1e-9)


def test_the_most_stable_air_still_carries_a_twentieth():
    # 1 / (1 + 4.7 Ri)^2 is a twentieth at 0.739
    assert surface.stability_factor(0.7) > surface.stability_factor(0.75)
    assert surface.stability_factor(0.75) == surface.stability_factor(50.0) == pytest.approx(0.05)


def test_forced_and_free_exchange_join_in_quadrature_by_hand():
    # Water of 22 degC (26.439 hPa, 16.611 g/kg) under air of 17 degC, 15 hPa (9.383 g/kg) and
    # 1000 hPa: virtual 298.141 over 291.811 K, air of 1.19383 kg/m3. In 1.5 m/s Ri is -0.94545 and
    # the factor 1.58928, so 3.0991 mm/s of wind; free 2.6606 mm/s; together 4.0845 mm/s.
    latent, sensible = surface.turbulent_fluxes(22.0, 17.0, 15.0, 1000.0, 1.5)
    assert sensible == pytest.approx(1.19383 * 1005.0 * 4.0845e-3 * 5.0, rel=2e-4)
    assert latent == pytest.approx(1.19383 * 2449058.0 * 4.0845e-3 * 7.228e-3, rel=2e-4)


@pytest.mark.parametrize("wind", [0.3, 4.0, 15.0])
def test_sensible_and_latent_heat_stand_in_bowens_ratio(wind):
    # Bowen 1926, Phys. Rev. 27:779-787: 0.61 mmHg/K x (Ts - Ta) / (es - ea) at 760 mmHg, near
    # 20 degC: 0.61 hPa/hPa/K
    latent, sensible = surface.turbulent_fluxes(22.0, 12.0, 10.0, 1013.25, wind)
    bowen = 0.61 * (22.0 - 12.0) / (26.44 - 10.0)
    assert sensible / latent == pytest.approx(bowen, rel=0.1)


def test_calm_is_a_breath_of_wind():
    def fluxes(wind):
        return surface.turbulent_fluxes(15.0, 25.0, 15.0, 1000.0, wind)  # no free convection

    assert fluxes(0.0) == fluxes(0.2)
    assert abs(fluxes(0.3)[1]) > abs(fluxes(0.2)[1])


def test_drag_is_bounded_in_calm_and_in_storm():
    assert surface.drag_coefficient(0.0) == surface.drag_coefficient(0.1)
    assert surface.drag_coefficient(0.11) < surface.drag_coefficient(0.1)
    assert surface.drag_coefficient(40.0) == surface.drag_coefficient(25.0)
    assert surface.drag_coefficient(24.0) < surface.drag_coefficient(25.0)
