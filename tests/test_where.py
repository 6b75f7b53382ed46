"""Start, ladder and halves in words: one story on cover, page and card."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from lakekit.guide import where
from lakekit.guide.summaries import start_words, without_spots
from lakekit.tactics import start
from lakekit.tactics.start import Band, Holding, Rung
from lakekit.waters.cover import Place


def holding(start=3.6, *, top=2.4, bottom=5.0, good=True, reason="mixed_base", rungs=()):
    depth = np.arange(1, 80) * 0.1
    return Holding(
        Band(top, bottom, good, reason), start, start and 0.8 * start, tuple(rungs), depth,
        np.exp(-((depth - (start or 1)) ** 2)),
    )  # fmt: skip


def part(label="Jul", phase="summer", *, ice=0.0, phases=None, **how):
    return where.Part(label, phase, phases or (phase,), ice, True, holding(**how), None)


RUNGS = (Rung(2.7, "dusk"), Rung(4.6, "cooler"))


def test_start_and_ladder_in_either_unit():
    us = where.start_text(holding(rungs=RUNGS), "us")
    assert us == (
        "Start at 12 ft, toward the base of the warm mixed layer. "
        "Then 9 ft, at dusk and by night; then 15 ft, in cooler water."
    )
    metric = where.start_text(holding(rungs=RUNGS), "metric")
    assert "3.6 m" in metric and " ft" not in metric
    assert start_words(where.part_data(part(rungs=RUNGS), "us")) == "12 ft, then 9, 15"


@pytest.mark.parametrize("reason", ["warm_and_squeezed", "no_oxygen"])
def test_no_good_band_is_said_and_nothing_else(reason):
    none = part(start=None, top=None, bottom=None, good=False, reason=reason)
    assert where.start_text(none.holding, "us").startswith("No good band")
    assert start_words(where.part_data(none, "us")) == "no good band"


def test_halves_are_told_only_where_they_differ():
    same = [part("1–15 Jul"), part("16–31 Jul", start=3.9)]
    assert where.halves_text(same, "us") is None
    turning = [
        part("1–15 May", "spawn", start=0.6, top=0.3, bottom=1.2),
        part("16–31 May", "post_spawn", start=2.4, phases=("spawn", "post_spawn")),
    ]
    assert where.halves_text(turning, "us") == (
        "1–15 May spawn, 2 ft at cover (band 1–4 ft). "
        "16–31 May spawn and post-spawn, 8 ft (band 8–16 ft)."
    )
    deeper = [part("1–15 Aug"), part("16–31 Aug", start=5.0, bottom=6.0)]
    assert where.differ(deeper)


def test_a_half_that_the_month_is_not_told_by_brings_its_own_set_up():
    halves = [part("1–15 May", "spawn", start=0.6, top=0.3, bottom=1.2), part("16–31 May")]
    rigs = [{"short": "Jig", "setup": f"Jig for {n}.", "setup_figures": {"possible": True}}
            for n in ("nests", "drops")]  # fmt: skip
    broken = {**rigs[1], "setup": "Not for this boat.", "setup_figures": {"possible": False}}
    text = where.halves_text(halves, "us", part=halves[0], cards=([rigs[0]], [broken, rigs[1]]))
    assert "drops" in text and "nests" not in text and "Not for" not in text


def test_ice_in_one_half_alone_tells_the_halves_apart():
    open_water, iced = part("1–15 Dec", "winter", reason="cold"), part("16–31 Dec", "winter",
                                                                      reason="iced")  # fmt: skip
    assert where.differ([open_water, iced]) and not where.differ([iced, iced])
    assert "under ice" in where.halves_text([open_water, iced], "us").split(". ")[1]


def test_the_spawn_says_cover_on_the_cover():
    data = where.part_data(part("1–15 May", "spawn", start=0.6, top=0.3, bottom=1.2), "us")
    assert start_words(data) == "2 ft at cover"


def test_ice_is_told_by_half_and_promises_nothing():
    halves = [part("1–15 Dec", ice=0.1), part("16–31 Dec", ice=0.7)]
    text = where.ice_text(0.4, halves)
    assert "1 day in 10 in 1–15 Dec" in text
    assert "7 days in 10" in text
    assert "no page can tell what it bears" in text
    assert where.ice_text(0.0, [part(), part()]) is None


def test_spots_stay_at_home_unless_shared():
    open_place = Place("x", "brush", 2.0, 4.5, None, "club brush", "", "", True, 2)
    own = Place("x", "brush", 2.0, 4.5, None, "my brush", "", "", False, 3)
    known = SimpleNamespace(
        places=(open_place, own), lake=SimpleNamespace(key="x", below_full_pond=np.zeros(12))
    )
    places = where.places_data(known, part(), "us", month=7)
    assert {place["name"] for place in places} == {"club brush", "my brush"}
    handed = without_spots({"months": [{"places": places}]})
    assert [place["name"] for place in handed["months"][0]["places"]] == ["club brush"]


def test_every_reason_has_its_words():
    text = Path(start.__file__).read_text(encoding="utf-8")
    for reason in where.BAND_REASONS:
        assert f'"{reason}"' in text
    for why in where.RUNG_REASONS:
        assert f'"{why}"' in text
