"""The depth to start at in water whose answer can be reasoned out, against published depths."""

import numpy as np
import pytest

from lakekit.tactics.book import DepthRule, read_species
from lakekit.tactics.start import Band, hold, working_depth

FISH = read_species()
DEPTH = np.arange(0.25, 12, 0.5)
SECCHI = 1.2
EVERY_PHASE = ("winter", "pre_spawn", "spawn", "post_spawn", "summer", "turnover", "fall")


def column(surface, deep, *, base=4.0, thick=0.6):
    return deep + (surface - deep) / (1 + np.exp((DEPTH - base - 1) / thick))


def air(floor):
    """Oxygen [mg/L] that passes 3 at the floor."""
    return 8 / (1 + np.exp((DEPTH - floor + 0.2) / 0.4))


def held(
    temperature, oxygen=None, *, phase="summer", floor=np.nan, base=4.0, layered=True, iced=False,
    species="white_crappie", bottom=12.0, secchi=SECCHI, own=None,
):  # fmt: skip
    temperature = np.full(DEPTH.size, temperature) if np.isscalar(temperature) else temperature
    return hold(
        DEPTH, temperature, np.full(DEPTH.size, 9.0) if oxygen is None else oxygen,
        species=FISH[species], phase=phase, oxygen_floor=floor, mixed_layer=base, layered=layered,
        iced=iced, attenuation=1.7 / secchi, bottom=bottom, own=own,
    )  # fmt: skip


def test_deeper_as_the_surface_warms():
    # Gebhart & Summerfelt 1974, Proc. SEAFWA 28: deeper as surface temperature rose.
    starts = [held(column(t, 12), air(7), floor=7.0).start for t in (24, 25.5, 27, 28.5, 30)]
    assert np.all(np.diff(starts) >= 0)
    assert starts[-1] > starts[0] + 1.0


def test_pressed_into_the_thermocline_and_kept_out_of_poor_water():
    # Same: by midsummer in the thermocline; no oxygen, no fish below it.
    hot = held(column(29, 14), air(6.5), floor=6.5)
    assert 3.5 < hot.start < 6.5
    assert hot.band.bottom <= 6.5


def test_nearer_the_surface_when_the_surface_cools():
    # Same: nearer the surface in autumn. Kansas Dept of Wildlife & Parks 2006, 2008: 6-20 ft.
    summer, fall = held(column(28, 14), air(8), floor=8.0), held(18.0, phase="fall", layered=False)
    assert fall.start < summer.start or fall.band.top < summer.band.top
    assert 1.8 <= fall.start <= 6.1


def test_shallower_by_a_fifth_at_night():
    # Markham, Johnson & Petering 1991: 5.4 m by day, 4.3 m by night.
    summer = held(column(27, 14), air(8), floor=8.0)
    assert summer.night / summer.start == pytest.approx(4.3 / 5.4, abs=0.01)


def test_staging_and_spawning_depths():
    # Univ. of Tennessee M.S. thesis 1992, Douglas Reservoir: ripe fish held in 1-3 m.
    assert 1.0 <= held(column(13, 8, base=2), phase="pre_spawn", base=2.0).start <= 3.0
    # Siefert 1968: nests 20-97 cm; the same thesis for black crappie: 15-60 cm, within a hand.
    assert 0.2 <= held(column(18, 9), phase="spawn").start <= 1.0
    assert 0.15 <= held(column(18, 9), phase="spawn", species="black_crappie").start <= 0.8


def test_cold_water_is_weighed_deep_and_never_deeper_than_fish_survive():
    # Garth 1951: below 7.2 degC most bluegill at the deepest trap; agency advice: no fishing for
    # release below 30 ft (9.1 m) (Minnesota DNR, quoted 23 March 2023).
    cold, mild = (held(t, phase="winter", layered=False, bottom=11.9) for t in (5.0, 7.8))
    assert cold.start > mild.start
    assert cold.start > 0.6 * 9.1
    assert cold.band.bottom <= 9.1
    assert all(rung.depth <= 9.1 for rung in cold.ladder)


def test_coldest_on_top_under_ice():
    water = np.interp(DEPTH, [0, 2, 12], [0.3, 2.5, 4.0])
    under = held(water, phase="winter", layered=False, iced=True, base=np.nan)
    assert under.band.reason == "under_ice"
    assert under.start > 4.0


def test_a_squeeze_has_no_good_band_and_sits_on_the_floor():
    # Hayward & Arnold 1996: many impoundments left fish only water of 27-32 degC.
    squeezed = held(column(31, 14), air(4.0), floor=4.0)
    assert (squeezed.band.good, squeezed.band.reason) == (False, "warm_and_squeezed")
    assert squeezed.band.bottom <= 4.0


def test_no_oxygen_at_all():
    none = held(25.0, np.zeros(DEPTH.size), floor=0.0)
    assert (none.start, none.band.top, none.ladder) == (None, None, ())


def test_bluegill_stay_shallow_while_layered():
    # Byrd 1952: most in the shallow water during layering.
    assert held(column(29, 14), air(6), floor=6.0, species="bluegill").start < 3.0
    warm = held(column(29, 14), air(6), floor=6.0)
    assert held(column(29, 14), air(6), floor=6.0, species="bluegill").start < warm.start


def test_perch_lie_deeper_than_crappie_in_hot_water():
    # Krieger et al. 1983: 21-23 degC; Bardach 1955: between about 5 and 12 m in summer.
    perch = held(column(27, 12), air(9), floor=9.0, species="yellow_perch")
    assert perch.start > held(column(27, 12), air(9), floor=9.0).start
    assert np.interp(perch.start, DEPTH, column(27, 12)) < 25


def test_murk_brings_the_start_up():
    clear, murky = (held(20.0, phase="fall", layered=False, secchi=s).start for s in (4.0, 0.4))
    assert murky < clear


def test_the_log_pulls_the_start_and_never_out_of_the_oxygen():
    water, oxygen = column(26, 12), air(6)
    plain = held(water, oxygen, floor=6.0).start
    pulled = [held(water, oxygen, floor=6.0, own=(4.8, 0.5, n)).start for n in (1, 10, 100)]
    assert np.all(np.diff([plain, *pulled]) >= 0)
    assert plain + 0.3 < pulled[2] < 4.9  # toward them, as far as the water allows
    mixed = [held(18.0, phase="fall", layered=False, own=(6.0, 0.5, n)).start for n in (1, 100)]
    assert mixed[0] < mixed[1]
    assert abs(mixed[1] - 6.0) < 0.5  # and all the way where one depth is as warm as another
    assert held(water, oxygen, floor=6.0, own=(10.0, 0.8, 60)).band.bottom <= 6.0


@pytest.mark.parametrize("species", FISH)
@pytest.mark.parametrize("phase", EVERY_PHASE)
def test_start_and_ladder_lie_within_the_band_and_apart(species, phase):
    for temperature, oxygen, floor, layered in (
        (column(27, 12), air(6), 6.0, True), (column(20, 10), None, np.nan, True),
        (6.0, None, np.nan, False), (15.0, None, np.nan, False),
        (column(31, 14), air(3), 3.0, True),
    ):  # fmt: skip
        at = held(temperature, oxygen, phase=phase, floor=floor, layered=layered, species=species)
        assert 0 < at.band.top <= at.start <= at.band.bottom <= 12.0
        assert at.band.bottom <= (12.0 if np.isnan(floor) else floor)
        depths = [at.start, *(rung.depth for rung in at.ladder)]
        assert len(at.ladder) <= 2
        assert all(at.band.top - 1e-9 <= depth <= at.band.bottom + 1e-9 for depth in depths)
        assert np.all(np.diff(np.sort(depths)) >= 0.3)
        assert at.night <= at.start


def test_working_depth_is_the_band_cut_to_reach():
    band = Band(3.0, 7.0, True, "warmest")
    assert working_depth(DepthRule("band", 1.0, 5.0), band, bottom=12.0) == (3.0, 5.0)
    assert working_depth(DepthRule("band", 8.0, 9.0), band, bottom=12.0) is None
    assert working_depth(DepthRule("cover", 0.3, 20.0), band, bottom=12.0) == (0.3, 12.0)
    assert working_depth(DepthRule("band", 1.0, 5.0), Band(None, None, False, ""), bottom=9) is None


def test_a_tactic_that_misses_the_band_by_a_foot_is_set_at_its_own_edge():
    band = Band(3.0, 7.0, True, "warmest")
    top, base = working_depth(DepthRule("band", 0.5, 2.7), band, bottom=12.0)
    assert top == base == 2.7
    assert working_depth(DepthRule("band", 0.5, 2.0), band, bottom=12.0) is None


def test_fish_rise_from_winters_depths_by_degrees_and_not_in_a_day():
    # winter ends at 8 degC and most spawn from 16 (species.toml): the ends of the passage
    winter = held(7.9, phase="winter", layered=False).start
    rising = [held(t, phase="pre_spawn", layered=False).start for t in (8.1, 10, 12, 14, 16)]
    assert np.all(np.diff(rising) <= 1e-9)
    assert abs(rising[0] - winter) < 1.0  # the day that winter ends moves nobody far
    assert 1.0 <= rising[-1] <= 3.0  # Douglas Reservoir: ripe fish held in 1-3 m


def test_the_logs_spring_depth_counts_as_far_as_fish_have_risen():
    own = (2.0, 0.3, 50)
    cold, warm = (
        [held(t, phase="pre_spawn", layered=False, own=o).start for o in (None, own)]
        for t in (8.0, 16.0)
    )
    assert cold[0] == cold[1]  # none has risen yet
    assert abs(warm[1] - 2.0) < 0.3


def test_a_depth_under_the_mixed_layer_is_not_called_its_base():
    bases = (2.0, 3.0, 3.8, 4.2)
    told = [held(column(26, 12), air(10), floor=10.0, base=base) for base in bases]
    under = [at.start > base + 0.3 for at, base in zip(told, bases, strict=True)]
    assert [at.band.reason == "under_top" for at in told] == under
    assert [at.band.reason == "mixed_base" for at in told] == [not low for low in under]
    assert len(set(under)) == 2


def test_out_of_the_light_is_said_in_lit_water_alone():
    # 1 % of light at ln(100) / (1.7 / Secchi): 0.5 m Secchi 1.4 m, 4 m Secchi 10.8 m
    murky, clear = (held(20.0, phase="fall", layered=False, secchi=s) for s in (0.5, 4.0))
    assert murky.start > 1.4 and clear.start < 10.8
    assert "deeper" not in [rung.why for rung in murky.ladder]
    assert "deeper" in [rung.why for rung in clear.ladder]
