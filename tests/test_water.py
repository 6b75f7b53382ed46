"""Water properties against published tables."""

import numpy as np
import pytest

from lakekit.column import water

# Tanaka et al. 2001 as recomputed; IAPWS-95 run with the iapws library, kg/m3
DENSITY = {0: (999.8428, 999.8431), 4: (999.9749, 999.9749), 10: (999.7027, 999.7025),
           15: (999.1026, 999.1026), 20: (998.2067, 998.2072), 25: (997.0470, 997.0476),
           30: (995.6488, 995.6495), 35: (994.0326, 994.0333)}  # fmt: skip
# FAO-56 (Allen et al. 1998), eq. 11, hPa
VAPOUR = {0: 6.1080, 10: 12.2796, 15: 17.0535, 20: 23.3828, 25: 31.6778, 30: 42.4307}
# Benson & Krause 1984 in APHA form, one atmosphere, mg/L
OXYGEN = {0: 14.621, 5: 12.771, 10: 11.288, 15: 10.084, 20: 9.092, 25: 8.263, 30: 7.559,
          35: 6.949}  # fmt: skip
# The same at lower pressure, 20 degC: mmHg -> mg/L (pressure term from memory)
OXYGEN_BY_PRESSURE = {740: 8.848, 700: 8.358, 650: 7.746, 600: 7.134}


@pytest.mark.parametrize("temperature", DENSITY)
def test_density_matches_tanaka_and_the_steam_formulation(temperature):
    tanaka, steam = DENSITY[temperature]
    assert water.density(float(temperature)) == pytest.approx(tanaka, abs=1e-4)
    assert water.density(float(temperature)) == pytest.approx(steam, abs=1e-3)


def test_water_is_heaviest_near_four_degrees():
    temperature = np.arange(0.0, 10.0, 0.001)
    heaviest = temperature[np.argmax(water.density(temperature))]
    assert heaviest == pytest.approx(3.983, abs=0.001)  # Tanaka et al. 2001: 3.983035


@pytest.mark.parametrize("temperature", VAPOUR)
def test_vapour_pressure_matches_fao56(temperature):
    found = water.saturation_vapour_pressure(float(temperature))
    assert found == pytest.approx(VAPOUR[temperature], abs=1e-4)


@pytest.mark.parametrize(("temperature", "joules"), [(0.01, 2500915), (10, 2477187), (20, 2453519),
                                                     (30, 2429811)])  # fmt: skip
def test_latent_heat_matches_the_steam_formulation(temperature, joules):
    # IAPWS-95 run with CoolProp; FAO-56 eq. 3-1 is within 0.015 % of it
    assert water.latent_heat(float(temperature)) == pytest.approx(joules, rel=1.5e-4)


@pytest.mark.parametrize("temperature", OXYGEN)
def test_oxygen_saturation_matches_benson_and_krause(temperature):
    found = water.oxygen_saturation(float(temperature), 1013.25)
    assert found == pytest.approx(OXYGEN[temperature], abs=6e-4)


@pytest.mark.parametrize("pressure", OXYGEN_BY_PRESSURE)
def test_oxygen_saturation_falls_with_pressure(pressure):
    found = water.oxygen_saturation(20.0, pressure * 1013.25 / 760.0)
    assert found == pytest.approx(OXYGEN_BY_PRESSURE[pressure], abs=6e-4)


def test_scalar_and_array_agree():
    temperature = np.linspace(0.0, 35.0, 11)
    for function in (water.density, water.saturation_vapour_pressure, water.latent_heat):
        one_by_one = [function(t) for t in temperature]
        np.testing.assert_allclose(function(temperature), one_by_one, rtol=1e-15)


def test_specific_humidity_of_a_worked_example():
    # constructed bulk example: 14.030 hPa at 1013.25 hPa -> 0.008658 kg/kg
    assert water.specific_humidity(14.030, 1013.25) == pytest.approx(0.008658, abs=1e-6)


@pytest.mark.parametrize("pressure", [600.0, 800.0, 1100.0])
def test_oxygen_saturation_goes_with_the_pressure_of_dry_air(pressure):
    # Henry's law: as the pressure less that of water vapour; the second virial coefficient adds
    # up to 0.04 % (Benson & Krause 1984, from memory)
    for temperature in (0.1, 1.0, 10.0, 20.0, 30.0, 40.0):
        vapour = water.saturation_vapour_pressure(temperature)
        dry = (pressure - vapour) / (1013.25 - vapour)
        found = water.oxygen_saturation(temperature, pressure)
        usual = water.oxygen_saturation(temperature, 1013.25)
        assert found / usual == pytest.approx(dry, rel=5e-4)
        assert (found / usual - dry) * (1013.25 - pressure) > 0.0


def test_what_a_cubic_metre_holds():
    # 999.1 kg/m3 and 4188 J/kg/K at 15 degC (IAPWS, from memory); ice at 0 degC 916.7 kg/m3 and
    # 333.6 kJ/kg (Feistel & Wagner 2006, from memory); water conducts 0.598 W/m/K at 20 degC
    assert pytest.approx(999.1 * 4188.0, rel=1e-3) == water.VOLUMETRIC_HEAT
    assert pytest.approx(916.7, rel=1e-3) == water.ICE_DENSITY
    assert pytest.approx(333.6e3, rel=1e-3) == water.LATENT_FUSION
    assert pytest.approx(999.97, rel=1e-3) == water.WATER_DENSITY
    assert pytest.approx(0.598 / (998.2 * 4184.0), rel=1e-2) == water.THERMAL_DIFFUSIVITY


def test_specific_humidity_is_the_share_of_vapour_by_mass():
    # of vapour alone all is vapour: 0.622 e / (e - 0.378 e) is 1
    assert water.specific_humidity(10.0, 10.0) == pytest.approx(1.0)
    assert water.specific_humidity(0.0, 10.0) == 0.0
