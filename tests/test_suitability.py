"""Suitability by depth against what is published of where these fish hold."""

import numpy as np
import pytest

from lakekit.tactics.book import read_species
from lakekit.tactics.suitability import (
    depth_grid,
    light_factor,
    own_factor,
    oxygen_factor,
    season_factor,
    suitability,
    wanted_temperature,
)

FISH = read_species()
CRAPPIE = FISH["white_crappie"]
DEPTH = depth_grid(12.0)


def wanted(upper, *, warmest=None, coolest=12.0, fish=CRAPPIE):
    return wanted_temperature(
        upper, warmest=upper if warmest is None else warmest, coolest=coolest, species=fish
    )


@pytest.mark.parametrize("upper", [12.0, 18.0, 23.9])
def test_takes_the_warmest_water_until_24_degrees(upper):
    # Little Dixie Lake, Missouri: warmest water until it reached 75 F (23.9 degC) (university
    # study relayed by a state outdoor magazine).
    assert wanted(upper) == pytest.approx(upper, abs=1e-9)


def test_takes_the_coolest_water_past_28_degrees_but_none_cooler_than_23():
    # Same study: coolest available past 82 F (27.8 degC). Edwards et al. 1982, FWS/OBS-82/10.7:
    # index 1.0 at 23-27 degC, so cooler water than 23 is not sought.
    assert wanted(28.0, coolest=25.0) == 25.0
    assert wanted(30.0, coolest=6.0) == 23.0


def test_slides_between_the_two():
    temperatures = [wanted(upper, warmest=27.0) for upper in np.linspace(24, 28, 9)]
    assert np.all(np.diff(temperatures) < 0)


def test_bluegill_take_warm_water_where_crappie_do_not():
    # Spotila et al. 1979, Environ. Biol. Fishes 4:281-307: bluegill prefer 31.1 degC.
    assert wanted(30.0, fish=FISH["bluegill"]) == 30.0
    # Krieger et al. 1983, FWS/OBS-82/10.55: perch 1.0 at 21-23 degC.
    assert 20.0 <= wanted(27.0, fish=FISH["yellow_perch"]) <= 23.0


def test_oxygen_that_suits_by_species():
    # Edwards et al. 1982, FWS/OBS-82/10.6: black crappie index 1.0 at 5.0 mg/L, 0 at 1.5.
    assert oxygen_factor(np.array([1.5, 5.0]), FISH["black_crappie"]).tolist() == [0.0, 1.0]
    # Byrd 1950: depths under 0.4 mg/L rarely used by bluegill.
    assert oxygen_factor(np.array([0.4]), FISH["bluegill"])[0] == 0.0
    # Krieger et al. 1983: perch 1.0 at 5; Suthers & Gee 1986: left at 1.5.
    assert oxygen_factor(np.array([1.5, 5.0]), FISH["yellow_perch"]).tolist() == [0.0, 1.0]
    assert oxygen_factor(np.array([np.nan]), CRAPPIE)[0] == 1.0


def test_murky_water_moves_the_lit_depths_up():
    murky, clear = (DEPTH[np.argmax(light_factor(DEPTH, 1.7 / secchi))] for secchi in (0.5, 3.0))
    assert murky < 1.0 < clear
    assert np.all((light_factor(DEPTH, 1.0) > 0) & (light_factor(DEPTH, 1.0) <= 1))


def test_held_depths_shrink_in_shallow_water_only():
    deep, shallow = (season_factor(DEPTH, (1.8, 6.1), floor) for floor in (12.0, 4.0))
    assert DEPTH[deep == 1.0].max() == pytest.approx(6.1, abs=0.11)
    assert DEPTH[shallow == 1.0].max() < 3.0
    assert deep.min() > 0  # the rest counts less, not nothing


def test_the_log_pulls_by_how_many_outings_there_are():
    few, many = (own_factor(DEPTH, (3.0, 0.8, n)) for n in (1, 30))
    assert many[50] < few[50] < 1
    assert own_factor(DEPTH, None).tolist() == [1.0] * DEPTH.size


def test_nothing_suits_below_the_oxygen_floor():
    suits = suitability(
        DEPTH, np.full(DEPTH.size, 20.0), np.full(DEPTH.size, 8.0), species=CRAPPIE,
        phase="summer", oxygen_floor=5.0, upper=20.0, layered=True, attenuation=1.4,
    )  # fmt: skip
    assert suits.max() == 1.0
    assert np.all(suits[DEPTH > 5.05] == 0)
