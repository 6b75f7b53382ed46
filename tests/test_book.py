"""The tables of tactics and species are whole and mean what the code reads."""

import pytest

from lakekit.errors import ClubError
from lakekit.tactics.book import (
    LURES,
    MOTIONS,
    PHASES,
    PLACES,
    find_species,
    read_book,
    read_species,
    tactic_words,
)


def test_book_has_eight_to_twelve_tactics():
    assert 8 <= len(read_book()) <= 12


@pytest.mark.parametrize("tactic", read_book().values(), ids=lambda tactic: tactic.key)
def test_every_tactic_uses_known_words(tactic):
    assert tactic.motion in MOTIONS
    assert tactic.phases
    assert set(tactic.phases) <= set(PHASES)
    assert set(tactic.places) <= set(PLACES)
    assert set(tactic.gear) <= set(LURES)
    for rule in (tactic.depth, tactic.depth_spawn):
        assert rule.within in ("band", "cover")
        assert 0 <= rule.shallowest < rule.deepest
    if tactic.speed:
        assert 0 <= tactic.speed[0] < tactic.speed[1]


def test_every_phase_has_a_tactic():
    for phase in PHASES:
        assert any(phase in tactic.phases for tactic in read_book().values())


def test_words_lead_to_one_tactic_each():
    book = read_book()
    words = [
        word
        for tactic in book.values()
        for word in {w.lower() for w in (tactic.name, *tactic.aliases)}
    ]
    assert len(words) == len(set(words))
    assert tactic_words(book)["long line"] == "troll_jigs"


def test_species_spawn_ranges():
    # Siefert 1968, Trans. Am. Fish. Soc. 97:252-259, abstract: 14-23 degC, most at 16-20 degC;
    # nests 20 to 97 cm deep.
    fish = read_species()["white_crappie"]
    assert fish.spawn == (14.0, 23.0)
    assert fish.spawn_mostly == (16.0, 20.0)
    assert fish.nest_depth == (0.20, 0.97)


@pytest.mark.parametrize("fish", read_species().values(), ids=lambda fish: fish.key)
def test_every_species_is_whole_and_in_order(fish):
    assert fish.spawn[0] <= fish.spawn_mostly[0] < fish.spawn_mostly[1] <= fish.spawn[1]
    assert fish.cold < fish.spawn_mostly[0] or fish.key == "yellow_perch"
    assert fish.cool < fish.warmest_below < fish.coolest_above
    assert fish.warmest_below <= fish.warm
    assert list(fish.oxygen_zone) == sorted(fish.oxygen_zone, reverse=True)
    oxygen, share = zip(*fish.oxygen_suits, strict=True)
    assert list(oxygen) == sorted(oxygen)
    assert list(share) == sorted(share)
    assert (share[0], share[-1]) == (0.0, 1.0)
    assert set(fish.holds) == set(PHASES)
    for held in fish.holds.values():
        assert not held or 0 < held[0] < held[1]
    assert 0 < fish.night <= 1
    sources = [value for name, value in vars(fish).items() if name.endswith("_source")]
    assert len(sources) == 10
    assert all(sources)


def test_winter_ends_before_a_fish_spawns():
    for fish in read_species().values():
        assert 0.0 < fish.cold < fish.spawn_mostly[0]


def test_a_species_is_found_by_its_names():
    species = read_species()
    assert find_species("Crappie", species).key == "white_crappie"
    assert find_species("yellow_perch", species).key == "yellow_perch"


def test_an_unknown_species_is_refused_with_the_list():
    with pytest.raises(ClubError, match=r"'tench' is not in the table.*white crappie.*perch"):
        find_species("tench", read_species())
