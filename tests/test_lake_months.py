"""A table of lake-months: what must hold of the plan in every half-month of very different lakes.

The demo's weather serves all: moved 6 degC colder for a northern lake, 7 degC warmer for a
southern one. Beaverdam is computed from its own measured weather.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from guide_helpers import beaverdam_club

from lakekit.club import read_club
from lakekit.column.run import simulate
from lakekit.depth_area import depth_area_from_depths
from lakekit.guide import where
from lakekit.guide.month import part_tactics
from lakekit.guide.summaries import first_choice, foot_cautions, start_words
from lakekit.hazards import hazards_for_month
from lakekit.strata import layered
from lakekit.strata.odds import run_layers
from lakekit.tactics.book import read_book, read_species
from lakekit.tactics.phase import daily_phases, month_phase
from lakekit.units import depth_text
from lakekit.waters.cover import read_cover
from lakekit.waters.knowledge import lake_forcing

DEMO = read_club()
QUARRY, MARSH = DEMO.lakes["quarry-hollow"], DEMO.lakes["teal-marsh"]
FISH = read_species()["white_crappie"]
RELEASE = FISH.release_depth
KELVIN_OF_SKY = 5.0  # W/m2 of longwave for a degree of air


def shaped(lake, *, depth, mean, secchi, **more):
    depths, areas = depth_area_from_depths(lake.area, mean, depth)
    return replace(
        lake, max_depth=depth, mean_depth=mean, depths=depths, areas=areas,
        secchi=np.full(12, secchi), below_full_pond=np.zeros(12), **more,
    )  # fmt: skip


LAKES = {
    "quarry": (DEMO, QUARRY, 0.0),
    "marsh": (DEMO, MARSH, 0.0),
    "flat and murky": (DEMO, shaped(MARSH, depth=4.5, mean=3.2, secchi=0.4), 0.0),
    "deep, clear, northern": (
        DEMO, shaped(QUARRY, depth=28.0, mean=11.0, secchi=5.0, fertility="oligotrophic"), -6.0,
    ),
    "southern": (DEMO, shaped(QUARRY, depth=11.0, mean=4.5, secchi=1.0), 7.0),
    "beaverdam": (None, None, 0.0),
}  # fmt: skip


@pytest.fixture(scope="module", params=LAKES)
def plans(request, tmp_path_factory):
    """Every half-month of a lake's last year: its water, its plan, its tactics."""
    club, lake, warmer = LAKES[request.param]
    if request.param == "beaverdam":
        observations = request.getfixturevalue("observations")
        club, lake = _beaverdam(observations, tmp_path_factory.mktemp("beaverdam"))
    forcing = lake_forcing(club, lake).isel(time=slice(-(3 * 8766), None))
    forcing = forcing.assign(
        air_temperature=forcing["air_temperature"] + warmer,
        longwave=forcing["longwave"] + KELVIN_OF_SKY * warmer,
    )
    run = simulate(lake, forcing)
    layers = run_layers(run, lake)
    keep = run["time"].to_index() >= run["time"].to_index()[0] + pd.Timedelta(days=365)
    run, layers = run.isel(member=0, time=keep), layers.isel(member=0, time=keep)
    return list(_half_months(club, lake, run, layers))


def _beaverdam(observations, folder):
    import os

    os.environ["LAKEKIT_ALLOW_OUTSIDE"] = "1"
    try:
        club = read_club(beaverdam_club(folder / "club", observations))
    finally:
        del os.environ["LAKEKIT_ALLOW_OUTSIDE"]
    return club, club.lakes["beaverdam"]


def _half_months(club, lake, run, layers):
    days = run["time"].to_index().normalize()
    surface = layers["surface_temperature"].to_numpy()
    warm_over_cold = np.asarray(layered(layers), dtype=float)
    phases = daily_phases(days, surface, warm_over_cold, FISH)
    known = SimpleNamespace(
        lake=lake, species=FISH, trips=None, parameters=None, places=(), cards={}, sinking={},
        units=club.units, rates=SimpleNamespace(ranked=False), patterns=None,
    )  # fmt: skip
    half = days.year * 24 + (days.month - 1) * 2 + (days.day > 15)
    for number in np.unique(half):
        here = np.asarray(half == number)
        if here.sum() < 10:
            continue
        floors = layers["oxygen_floor_depth"].to_numpy()[here]
        water = {
            "depth": run["depth"].to_numpy(),
            "temperature": np.median(run["water_temperature"].to_numpy()[here], axis=0),
            "oxygen": np.median(run["dissolved_oxygen"].to_numpy()[here], axis=0),
            "floor": np.nanmedian(floors) if np.isfinite(floors).mean() >= 0.5 else np.nan,
            "mixed": np.nanmedian(layers["mixed_layer_depth"].to_numpy()[here]),
            "thermocline": np.nan,
            "layered": warm_over_cold[here].mean() >= 0.5,
            "ice": float(layers["ice"].to_numpy()[here].mean()),
        }
        first = days[here][0]
        phase, _ = month_phase(phases[here])
        part = where.look_for(known, first, f"{first:%Y-%m-%d}", phase, (phase,), water)
        rows, _ = part_tactics(
            club, known, part, month=first.month, surface_temperature=float(surface[here].max())
        )
        yield SimpleNamespace(
            part=part, water=water, rows=rows, lake=lake, units=club.units, month=first.month
        )


def good(plans):
    return [plan for plan in plans if plan.part.holding.band.good]


def at(plan, what, depth):
    known = np.isfinite(plan.water[what])
    return np.interp(depth, plan.water["depth"][known], plan.water[what][known])


def test_the_start_lies_in_water_that_the_fish_can_breathe_and_bear(plans):
    assert len(good(plans)) > 0.6 * len(plans)
    for plan in plans:
        start = plan.part.holding.start
        if start is None:
            continue
        assert at(plan, "oxygen", start) >= FISH.oxygen_zone[2], plan.part.label
        if not np.isnan(plan.water["floor"]):
            assert start <= plan.water["floor"] + 1e-6
    for plan in good(plans):
        breathable = plan.water["oxygen"] >= FISH.oxygen_limit
        least = np.nanmin(plan.water["temperature"][breathable])
        warmth = at(plan, "temperature", plan.part.holding.start)
        assert warmth <= max(FISH.warm, least) + 1.0, plan.part.label


def test_nothing_lies_below_the_bottom_or_where_released_fish_die(plans):
    for plan in plans:
        holding = plan.part.holding
        if holding.start is None:
            continue
        bottom = plan.lake.max_depth - plan.lake.below_full_pond[plan.month - 1]
        depths = [holding.start, holding.band.top, holding.band.bottom]
        depths += [rung.depth for rung in holding.ladder]
        assert max(depths) <= min(bottom + 0.11, RELEASE + 1e-6), plan.part.label
        assert min(depths) > 0


def test_headline_cover_and_band_agree(plans):
    for plan in plans:
        holding, units = plan.part.holding, plan.units
        data = where.part_data(plan.part, units)
        if holding.start is None or not holding.band.good:
            assert start_words(data) == "no good band"
            assert "no good band" in data["text"].lower()
            continue
        told = depth_text(holding.start, units)
        assert data["text"].startswith(f"Start at {told}")
        assert start_words(data).startswith(told)
        assert holding.band.top <= holding.start <= holding.band.bottom
        for rung in holding.ladder:
            assert holding.band.top - 1e-6 <= rung.depth <= holding.band.bottom + 1e-6


def test_every_place_told_holds_its_depth_at_the_months_level(plans):
    cover = read_cover(DEMO.folder / "cover.csv", DEMO)
    for plan in plans:
        known = SimpleNamespace(places=cover, lake=plan.lake)
        mine = {place.name: place for place in cover if place.lake == plan.lake.key}
        below = plan.lake.below_full_pond[plan.month - 1]
        for told in where.places_data(known, plan.part, plan.units, month=plan.month):
            full = mine[told["name"]]
            assert full.top - 0.6 <= told["depth"] + below <= full.foot
            assert told["depth"] + below <= full.water_depth - 0.3 + 1e-9


def test_no_boat_on_ice_and_no_ice_tactic_without_ice(plans):
    for plan in plans:
        waters = {row["water"] for row in plan.rows}
        if plan.part.ice_chance > 0.8:
            assert waters <= {"ice"}
        if plan.part.ice_chance < 0.2:
            assert waters <= {"boat"}
        if len(waters) == 2:
            assert "on ice: " in first_choice(plan.rows)
            assert "open water: " in first_choice(plan.rows)


def test_cold_water_and_ice_stand_whole_under_the_page_of_every_plan(plans):
    """Limits as advice has them, 50, 60 and 70 degF; a page may leave other cautions elsewhere."""
    cold = 0
    for plan in plans:
        top = float(plan.water["temperature"][0])
        cautions = hazards_for_month(
            plan.lake, plan.month, surface_temperature=(top,) * 3, night=True,
            ice_chance=plan.part.ice_chance,
        )  # fmt: skip
        page = {"cautions": cautions}
        told = foot_cautions(page, [page, page], place="elsewhere", room=0)
        cold += top < 21.1
        assert ("life jacket" in told) == (top < 21.1), plan.part.label
        assert ("dress for the water" in told) == (top < 10.0), plan.part.label
        if plan.part.ice_chance > 0:
            assert "easured ice can still break" in told
        shown = sum(text in told for text in cautions)
        assert f"{len(cautions) - shown} more: elsewhere." in told
    assert cold >= 6


def test_no_tactic_is_deeper_than_its_reach(plans):
    book = read_book()
    for plan in plans:
        for row in plan.rows:
            rule = book[row["key"]].depth_rule(plan.part.phase)
            assert row["bottom"] <= min(rule.deepest, plan.lake.max_depth) + 1e-6
            assert row["top"] <= row["start"] <= row["bottom"]


def test_a_listed_set_up_reaches_the_start_and_each_rung(plans):
    for plan in good(plans):
        reach = [
            (row["top"], row["bottom"])
            for row in plan.rows
            if (row["setup_figures"] or {}).get("possible")
        ]
        depths = [plan.part.holding.start, *(rung.depth for rung in plan.part.holding.ladder)]
        for depth in depths:
            assert any(top - 0.6 <= depth <= base + 0.6 for top, base in reach), (
                plan.part.label, depth, reach,
            )  # fmt: skip


def test_the_season_told_is_that_of_the_water(plans):
    """Fall and turnover in cooling water (Kansas Dept of Wildlife & Parks: the upper 60s F), a
    spawn in water that is warm enough for one (Siefert 1968, 14 to 23 degC), winter in the cold.

    Half-months are told by most of their days: 3 degC either way.
    """
    for plan in plans:
        surface = float(plan.water["temperature"][np.isfinite(plan.water["temperature"])][0])
        if plan.part.phase in ("fall", "turnover"):
            assert surface < FISH.spawn_mostly[1] + 3.0, plan.part.label
        if plan.part.phase == "spawn":
            assert FISH.spawn[0] - 3.0 < surface < FISH.spawn[1] + 3.0, plan.part.label
        if plan.part.phase == "winter":
            assert surface < FISH.cold + 3.0, plan.part.label


def test_a_spawn_is_told_with_its_own_depth_and_no_lake_spawns_all_summer(plans):
    spawning = [plan for plan in plans if plan.part.phase == "spawn"]
    years = len(plans) / 24
    assert len(spawning) <= 4 * np.ceil(years)  # 50 days touch four half-months
    for plan in spawning:
        holding = plan.part.holding
        assert holding.band.reason == "spawning"
        assert holding.start <= 1.5 * FISH.holds["spawn"][1]


def test_the_reason_given_is_true_of_the_start(plans):
    for plan in plans:
        holding, water = plan.part.holding, plan.water
        if holding.start is None:
            continue
        reason, start = holding.band.reason, holding.start
        if reason == "under_ice":
            assert plan.part.ice_chance >= where.ICED
            assert at(plan, "temperature", start) >= at(plan, "temperature", 0.3)
        elif reason in ("iced", "late_ice"):
            assert plan.part.ice_chance >= where.ICED
        else:
            assert plan.part.ice_chance < where.ICED or reason in ("spawning", "no_oxygen")
        if reason == "mixed_base":
            assert start <= water["mixed"] + 0.3 + 1e-6
        if reason == "under_top":
            assert start > water["mixed"]
            assert at(plan, "temperature", start) < at(plan, "temperature", 0.3)
        if reason in ("mixed_base", "coolest", "warmest", "under_top"):
            assert plan.part.layered
        if reason in ("mixed", "fall"):
            assert not plan.part.layered
        if reason == "above_oxygen_floor":
            assert np.isfinite(water["floor"])
