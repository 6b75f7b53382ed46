"""The compiled search for layers against a slow reading of the same definitions."""

import numpy as np
import pytest

from lakekit.column.water import density
from lakekit.constants import GRAVITY
from lakekit.strata import profile as layers

GRADIENT, MIXED_STEP = 1.0, 0.8  # degC/m, degC


def scanned(z, t, *, area=None, surface_area=np.nan):
    """One profile's row of the compiled scan."""
    area = np.full(z.size, np.nan) if area is None else area
    rows = layers.scan_profiles(
        z, t[None], density(t)[None], area[None], np.array([surface_area]), GRAVITY,
        GRADIENT, MIXED_STEP,
    )  # fmt: skip
    return rows[0]


def random_profile(rng):
    """Depths, and temperatures that only fall, or under ice only rise, with depth."""
    z = np.sort(rng.uniform(0.05, rng.choice([0.9, 3.0, 12.0, 30.0]), rng.integers(2, 40)))
    z = z[np.r_[True, np.diff(z) > 0.01]]
    falls = rng.exponential(rng.choice([0.05, 0.5, 2.0]), z.size) * (rng.random(z.size) < 0.6)
    if rng.random() < 0.25:
        return z, np.minimum(0.2 + np.cumsum(falls) / 4, 3.9)
    return z, np.maximum(30.0 - np.cumsum(falls), 4.5)


def grid_of(z, values):
    count = int(np.floor((z[-1] - z[0]) / 0.1 + 1e-6)) + 1
    return z[0] + 0.1 * np.arange(count), np.interp(z[0] + 0.1 * np.arange(count), z, values)


def steepest(heavy, width, begin=0):
    """Centre [cells] of the windows with the largest step, ties as one, and where they are."""
    steps = heavy[width:] - heavy[:-width]
    steps[:begin] = -np.inf
    first = int(np.argmax(steps >= steps.max() - 1e-6))
    last = first
    while last + 1 < steps.size and steps[last + 1] >= steps.max() - 1e-6:
        last += 1
    return first, last


@pytest.mark.parametrize("seed", range(8))
def test_layers_are_those_of_a_slow_search(seed):
    rng = np.random.default_rng(seed)
    seen = np.zeros(3, int)
    for _ in range(40):
        z, t = random_profile(rng)
        if z.size < 2:
            continue
        row = scanned(z, t)
        fine = np.append(np.arange(max(1.0, z[0]), z[-1], 0.001), z[-1])
        away = np.abs(np.interp(fine, z, t) - np.interp(max(1.0, z[0]), z, t))
        crossing = fine[np.argmax(away >= 0.8)] if away.max() >= 0.8 and fine.size > 1 else z[-1]
        if abs(t[0] - t[-1]) <= 2.0:
            assert np.isnan(row[layers.THERMOCLINE]) and np.isnan(row[layers.FALL_TOP])
            assert row[layers.MIXED] == pytest.approx(crossing, abs=0.002)
            continue
        at, cool = grid_of(z, t)
        if at.size < 2:
            assert row[layers.THERMOCLINE] == pytest.approx(0.5 * (z[0] + z[-1]))
            continue
        heavy, width = grid_of(z, density(t))[1], min(10, at.size - 1)
        first, last = steepest(heavy, width)
        centre = z[0] + 0.1 * 0.5 * (first + last + width)
        assert row[layers.THERMOCLINE] == pytest.approx(centre, abs=1e-6)
        assert row[layers.MIXED] == pytest.approx(min(crossing, centre), abs=0.002)
        seen[0] += 1
        skin = int(np.argmax(at >= 1.0 - 1e-6)) if at[-1] >= 1.0 else at.size
        if skin + width < at.size and cool[skin] - t[-1] > 2.0:
            below = steepest(heavy, width, skin)
            assert row[layers.LASTING] == pytest.approx(
                z[0] + 0.1 * 0.5 * (sum(below) + width), abs=1e-6
            )
            seen[1] += 1
        else:
            assert np.isnan(row[layers.LASTING])
        # the zone: windows of 1 m that fall fast enough, those that hang together round the
        # steepest; then its ends, cell by cell
        fall = np.sign(t[0] - t[-1]) * (cool[:-width] - cool[width:])
        fast, middle = fall >= GRADIENT * 0.1 * width, (first + last) // 2
        if not fast[middle]:
            assert np.isnan(row[layers.FALL_TOP])
            continue
        slow = np.flatnonzero(~fast)
        low = max(slow[slow < middle], default=-1) + 1
        high = min(slow[slow > middle], default=fast.size) - 1 + width
        steep = np.sign(t[0] - t[-1]) * (cool[low:high] - cool[low + 1 : high + 1]) >= 0.1
        low, high = low + int(np.argmax(steep)), high - int(np.argmax(steep[::-1]))
        top = min(max(z[0] + 0.1 * low, crossing), centre)
        assert row[layers.FALL_TOP] == pytest.approx(top, abs=0.002)
        assert row[layers.FALL_BOTTOM] == pytest.approx(max(z[0] + 0.1 * high, centre), abs=1e-6)
        seen[2] += 1
    assert seen.min() > 0  # each definition was tried


def test_stability_of_a_stepped_basin_by_hand():
    # layers of 2, 2 and 2 m; 3, 2 and 1 ha: volumes 6, 4 and 2, their centre at 14/6 m
    z, area = np.array([1.0, 3.0, 5.0]), np.array([3e4, 2e4, 1e4])
    t = np.array([22.0, 20.0, 8.0])
    row = scanned(z, t, area=area, surface_area=3e4)
    rho, volume = density(t), 2 * area
    centre = np.average(z, weights=volume)
    assert row[layers.VOLUME_CENTRE] == pytest.approx(centre) == pytest.approx(14 / 6)
    work = GRAVITY / 3e4 * np.sum((z - centre) * volume * rho)
    assert row[layers.SCHMIDT] == pytest.approx(work, rel=1e-6)
    line = row[layers.LASTING]  # 3 to 5 m falls fastest; the cell of 2 to 4 m is cut there
    assert 3.0 < line < 4.0 or line == pytest.approx(4.0, abs=0.51)
    above = np.clip(line - np.array([0.0, 2.0, 4.0]), 0.0, 2.0)
    step = np.average(rho, weights=area * (2.0 - above)) - np.average(rho, weights=area * above)
    assert row[layers.DENSITY_STEP] == pytest.approx(step, rel=1e-6)


def test_two_readings_within_a_decimetre_have_their_thermocline_between():
    row = scanned(np.array([0.4, 0.46]), np.array([20.0, 15.0]))
    assert row[layers.THERMOCLINE] == pytest.approx(0.43)
    assert np.isnan(row[layers.LASTING]) and np.isnan(row[layers.FALL_TOP])


def test_without_areas_the_density_step_weighs_depths_alike():
    z, t = np.array([0.5, 1.5, 2.5, 3.5]), np.array([22.0, 22.0, 10.0, 10.0])
    row = scanned(z, t)
    assert row[layers.THERMOCLINE] == pytest.approx(2.0, abs=0.051)
    assert row[layers.DENSITY_STEP] == pytest.approx(density(10.0) - density(22.0), rel=0.03)
    box = scanned(z, t, area=np.full(4, 3e4), surface_area=3e4)
    assert row[layers.DENSITY_STEP] == pytest.approx(box[layers.DENSITY_STEP], rel=1e-12)
    assert np.isnan(row[layers.SCHMIDT]) and np.isnan(row[layers.VOLUME_CENTRE])
    # 0.4 m of each: the step lies on the edge between two readings, and is had whole
    thin = scanned(np.array([0.1, 0.3, 0.5, 0.7]), t)
    assert thin[layers.DENSITY_STEP] == pytest.approx(density(10.0) - density(22.0), rel=1e-9)


def test_a_skin_is_told_across_the_first_metre_of_readings():
    z, t = np.array([0.5, 1.0, 2.0, 6.0]), np.array([20.0, 19.0, 17.0, 16.0])
    assert scanned(z, t)[layers.SKIN] == pytest.approx(2.0)  # 18 degC at 1.5 m
    assert np.isnan(scanned(z[:2], t[:2])[layers.SKIN])  # no reading a metre below
    assert scanned(z[[0, 2]] - 0.5, t[[0, 2]])[layers.SKIN] == pytest.approx(2.0)
    deep = scanned(z + 0.6, t)
    assert np.isnan(deep[layers.SKIN]) and np.isnan(deep[layers.SURFACE])
