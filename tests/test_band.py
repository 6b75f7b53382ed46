"""The band that can hold fish, in water whose answer can be reasoned out."""

import numpy as np
import pytest

from lakekit.tactics.band import Band, fish_band, narrowed, working_depth
from lakekit.tactics.book import DepthRule

DEPTH = np.arange(0.25, 12, 0.5)


def layered(surface, deep, *, base=4.0, oxygen_floor=6.0, warm=27.0, phase="summer", foot=9.0):
    temperature = np.where(DEPTH < base, surface, deep)
    return fish_band(
        DEPTH,
        temperature,
        oxygen_floor=oxygen_floor,
        mixed_layer_depth=base,
        metalimnion_bottom=foot,
        layered=True,
        phase=phase,
        warm=warm,
        cool=16.0,
        bottom=12.0,
    )


def test_layered_band_runs_from_mixed_layer_to_oxygen_floor():
    band = layered(25.0, 14.0)
    assert band == Band(3.5, 6.0, True, "above_oxygen_floor")


def test_warm_surface_pushes_the_band_down():
    band = layered(29.0, 20.0)
    assert band.top == pytest.approx(4.25)
    assert band.good


def test_cool_water_without_oxygen_is_no_good_band():
    band = layered(29.0, 20.0, oxygen_floor=4.0)
    assert not band.good
    assert band.bottom == 4.0


def test_oxygen_to_the_bottom_leaves_the_metalimnion():
    band = layered(25.0, 14.0, oxygen_floor=np.nan)
    assert (band.bottom, band.reason) == (9.0, "around_thermocline")
    assert layered(25.0, 14.0, oxygen_floor=np.nan, foot=np.nan).bottom == 12.0


def test_water_still_warm_below_the_metalimnion_is_not_left_out():
    band = layered(25.0, 20.0, oxygen_floor=11.0)
    assert (band.bottom, band.reason) == (11.0, "above_oxygen_floor")


def test_no_oxygen_at_all():
    assert layered(25.0, 14.0, oxygen_floor=0.0).top is None


def test_a_higher_oxygen_floor_never_deepens_the_band():
    bottoms = [layered(25.0, 14.0, oxygen_floor=f).bottom for f in np.linspace(1, 11, 21)]
    assert np.all(np.diff(bottoms) >= 0)


def test_unlayered_winter_is_the_lower_half():
    band = fish_band(
        DEPTH,
        np.full(DEPTH.size, 5.0),
        oxygen_floor=np.nan,
        mixed_layer_depth=np.nan,
        metalimnion_bottom=np.nan,
        layered=False,
        phase="winter",
        warm=27.0,
        cool=16.0,
        bottom=12.0,
    )
    assert (band.top, band.bottom) == (6.0, 12.0)


def test_working_depth_is_the_band_cut_to_reach():
    band = Band(3.0, 7.0, True, "above_oxygen_floor")
    assert working_depth(DepthRule("band", 1.0, 5.0), band, bottom=12.0) == (3.0, 5.0)
    assert working_depth(DepthRule("band", 8.0, 9.0), band, bottom=12.0) is None
    assert working_depth(DepthRule("cover", 0.3, 20.0), band, bottom=12.0) == (0.3, 12.0)
    assert working_depth(DepthRule("band", 1.0, 5.0), Band(None, None, False, ""), bottom=9) is None


def test_own_depths_narrow_the_band_and_never_overrule_it():
    band = Band(3.0, 9.0, True, "above_oxygen_floor")
    assert (narrowed(band, (4.0, 6.0)).top, narrowed(band, (4.0, 6.0)).bottom) == (4.0, 6.0)
    assert narrowed(band, (0.0, 20.0)) == band
    assert narrowed(band, (8.5, 20.0)) == band
    assert narrowed(band, None) == band
