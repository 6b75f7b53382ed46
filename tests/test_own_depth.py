"""How the log's own depths reach the plan: from what fish kept to, else from the surface."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lakekit.guide.log.logbook import own_fish_depth
from lakekit.trips.totals import fish_depths

DEPTHS = np.array([2.4, 3.1, 2.8, 3.5, 2.9, 3.0])  # m, an outing each


def known(depths=DEPTHS, *, phase="summer", lake="pond", over=1.2):
    """A log whose fish kept to the bottom: ``over`` it wherever they were caught."""
    count = len(depths)
    trips = pd.DataFrame({
        "trip": [f"T{number}" for number in range(count)], "lake": lake, "phase": phase,
        "fish": 3, "catch_depth": depths, "water_depth": depths + over, "place": "",
        "thermocline_depth": np.nan, "oxygen_floor_depth": np.nan,
    })  # fmt: skip
    return SimpleNamespace(
        trips=trips, fish_depths=fish_depths(trips), lake=SimpleNamespace(key="pond"), units="us"
    )


def own(knowledge, phase="summer"):
    return own_fish_depth(knowledge, phase, thermocline=np.nan, oxygen_floor=np.nan)


def test_fish_that_kept_to_the_bottom_pull_by_their_depth_from_the_surface():
    (centre, spread, outings), text = own(known())
    assert centre == pytest.approx(DEPTHS.mean(), abs=1e-12)
    assert spread == pytest.approx(DEPTHS.std(ddof=1), abs=1e-12)
    assert outings == 6 and "bottom" in text
    assert text.endswith("here 10 ft down")  # 17.7 / 6 = 2.95 m, 9.7 ft


def test_the_nests_depth_is_not_pulled_by_what_was_caught_beside_them():
    assert own(known(phase="spawn"), "spawn") is None


def test_another_lakes_fish_tell_no_depth_here():
    assert own(known(lake="other")) is None


def test_few_outings_pull_nothing():
    assert own(known(DEPTHS[:4])) is None
