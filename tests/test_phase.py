"""Season phases on invented years whose phases are plain."""

import numpy as np
import pytest

from lakekit.tactics.book import read_species
from lakekit.tactics.phase import daily_phases, month_phase, spawn_window

FISH = read_species()["white_crappie"]
DAYS = np.arange("2024-01-01", "2026-01-01", dtype="datetime64[D]")


def surface(warmest=28.0, coldest=3.0):
    day = (DAYS - DAYS[0]).astype(float)
    return (warmest + coldest) / 2 - (warmest - coldest) / 2 * np.cos(
        2 * np.pi * (day - 20) / 365.25
    )


def phase_on(phases, date):
    return phases[np.flatnonzero(DAYS == np.datetime64(date))[0]]


def test_a_year_goes_round_in_order():
    temperature = surface()
    phases = daily_phases(DAYS, temperature, temperature > 16, FISH)
    assert phase_on(phases, "2025-01-20") == "winter"
    assert phase_on(phases, "2025-04-01") == "pre_spawn"
    assert phase_on(phases, "2025-05-01") == "spawn"
    assert phase_on(phases, "2025-06-01") == "post_spawn"
    assert phase_on(phases, "2025-07-20") == "summer"
    assert phase_on(phases, "2025-12-31") == "winter"
    order = list(dict.fromkeys(phases[366:]))
    assert order[:5] == ["winter", "pre_spawn", "spawn", "post_spawn", "summer"]
    assert order.index("turnover") < len(order)


def test_spawn_days_lie_in_the_published_range():
    temperature = surface()
    phases = daily_phases(DAYS, temperature, temperature > 16, FISH)
    inside = temperature[phases == "spawn"]
    # Siefert 1968: most spawning at 16 to 20 degC; half a degree for the smoothing.
    assert inside.min() >= 15.5
    assert inside.max() <= 20.5


def test_turnover_follows_the_last_layered_day_of_autumn():
    temperature = surface()
    layered = temperature > 18
    phases = daily_phases(DAYS, temperature, layered, FISH)
    first = DAYS[366:][phases[366:] == "turnover"][0]
    last_layered = DAYS[366:][layered[366:]][-1]
    assert abs((first - last_layered).astype(int)) <= 2


def test_a_never_layered_lake_has_no_turnover():
    phases = daily_phases(DAYS, surface(), np.zeros(DAYS.size), FISH)
    assert "turnover" not in phases
    assert "fall" in phases


def test_missing_temperature_is_refused():
    temperature = surface()
    temperature[5] = np.nan
    with pytest.raises(ValueError, match="finite"):
        daily_phases(DAYS, temperature, temperature > 16, FISH)


def test_month_is_told_by_most_of_its_days():
    assert month_phase(["spawn"] * 10 + ["post_spawn"] * 20) == (
        "post_spawn",
        ("spawn", "post_spawn"),
    )


def test_spawn_window_widens_with_the_years_spread():
    temperature = surface()[:366]
    days = DAYS[:366]
    narrow = spawn_window(days, temperature - 0.5, temperature, temperature + 0.5, FISH)
    wide = spawn_window(days, temperature - 2, temperature, temperature + 2, FISH)
    assert wide["first"] < narrow["first"] <= narrow["middle"] <= narrow["last"] < wide["last"]
    winter = spawn_window(days[:60], *(np.full(60, 4.0),) * 3, FISH)
    assert winter is None


def test_winter_ends_where_each_species_has_it():
    # 7 degC in a warming spring: winter for crappie (8 degC), not for perch (5 degC)
    temperature = surface()
    spring = (temperature > 6.5) & (temperature < 7.5) & (np.gradient(temperature) > 0)
    perch = daily_phases(DAYS, temperature, temperature > 16, read_species()["yellow_perch"])
    crappie = daily_phases(DAYS, temperature, temperature > 16, FISH)
    assert set(perch[spring]) == {"pre_spawn"}
    assert set(crappie[spring]) == {"winter"}


def test_layers_that_go_in_warm_water_make_no_turnover():
    """Kansas Dept of Wildlife & Parks 2006, 2008: fish rise as water falls into the upper 60s F.

    A murky, shallow lake is often mixed for good in August; that is still summer.
    """
    temperature = surface()
    phases = daily_phases(DAYS, temperature, temperature > 26, FISH)
    assert "turnover" not in phases
    falling = np.gradient(temperature) < 0
    assert set(phases[falling & (temperature > 21)]) <= {"summer", "post_spawn"}
    assert set(phases[falling & (temperature < 19) & (temperature > 9)]) == {"fall"}


def test_a_far_northern_lake_spawns_late_and_not_all_summer():
    """Univ. of Tennessee thesis, 1992: spawning from mid-April to early June, some 50 days."""
    temperature = surface(warmest=18.5, coldest=0.5)
    phases = daily_phases(DAYS, temperature, temperature > 15, FISH)[:366]
    warmest = int(np.argmax(temperature[:366]))
    spawning = np.flatnonzero(phases == "spawn")
    assert 0 < spawning.size <= 50 and spawning.max() <= warmest
    late = DAYS[:366] >= np.datetime64("2024-09-20")
    assert set(phases[late]) <= {"fall", "turnover", "winter"}


def test_a_lake_too_cold_to_spawn_in_has_no_spawn_and_a_fall_all_the_same():
    phases = daily_phases(DAYS, surface(warmest=14.0, coldest=0.5), np.zeros(DAYS.size), FISH)
    assert not {"spawn", "post_spawn"} & set(phases)
    assert {"winter", "pre_spawn", "fall"} <= set(phases)
