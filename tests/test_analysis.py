"""One correction's algebra: taper, gain, and the spread it leaves."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from column_lakes import small_lake

from lakekit.column.basin import make_basin
from lakekit.column.following.analysis import (
    OF_LIGHT,
    OF_OXYGEN,
    Following,
    _believable,
    _draws,
    _smooth,
    correct,
    gain,
    observed,
    profiles,
    reading_errors,
    relaxed,
    set_adrift,
    settle,
    stray,
    taper,
    weights,
)
from lakekit.column.parameters import NAMES, from_standard
from lakekit.column.water import density


def test_the_taper_is_that_of_gaspari_and_cohn():
    # Gaspari & Cohn 1999, eq. 4.10: 5/24 at half its support, 0 at the end
    np.testing.assert_allclose(taper([0.0, 1.0, 2.0, 5.0]), [1.0, 5.0 / 24.0, 0.0, 0.0], atol=1e-12)
    assert (np.diff(taper(np.linspace(0.0, 2.0, 50))) <= 1e-12).all()


def test_many_members_give_kalmans_gain():
    # prior N(0, 4), reading with variance 1: gain 4 / 5; a quantity that is half of it: 2 / 5
    states = np.random.default_rng(0).normal(0.0, 2.0, (40000, 1))
    within, spread = weights(states, np.eye(1), apart=np.ones((1, 1)))
    both = np.hstack([states, 0.5 * states])
    found = gain(both, spread, within, near=np.ones((2, 1)))
    assert found[0, 0] == pytest.approx(0.8, abs=0.01)
    assert found[1, 0] == pytest.approx(0.4, abs=0.01)
    assert gain(both, spread, within, near=np.zeros((2, 1))).max() == 0.0


def test_relaxing_gives_back_a_share_of_the_spread_and_keeps_the_mean():
    before = np.random.default_rng(1).normal(0.0, 2.0, (9, 3))
    after = 1.0 + 0.5 * before
    out = relaxed(before, after, 0.3)
    np.testing.assert_array_equal(out[0], after[0])
    np.testing.assert_allclose(out[1:].mean(axis=0), after[1:].mean(axis=0))
    np.testing.assert_allclose(out[1:].std(axis=0), 1.3 * after[1:].std(axis=0))


def test_what_is_top_heavy_turns_over_and_keeps_its_heat():
    temperature = np.array([[20.0, 22.0, 15.0, 16.0, 8.0]])
    oxygen = np.array([[9.0, 8.0, 6.0, 4.0, 1.0]])
    volumes, centres = np.array([5.0, 4.0, 3.0, 2.0, 1.0]), np.arange(0.5, 5.0)
    heat, gas = temperature @ volumes, oxygen @ volumes
    settle(temperature, oxygen, 0, volumes, centres)
    assert (np.diff(density(temperature[0])) >= -1e-12).all()
    np.testing.assert_allclose(temperature @ volumes, heat)
    np.testing.assert_allclose(oxygen @ volumes, gas)


def table(**columns):
    """Readings of one hour; what is not told is that of a probe's temperature."""
    size = len(columns["depth"])
    usual = {"kind": "temperature", "error": 0.0, "slope": 0.0, "value": 10.0}
    return pd.DataFrame({"depth": columns["depth"]} | {
        name: columns.get(name, [value] * size) for name, value in usual.items()
    })  # fmt: skip


def test_errors_of_a_cast_are_the_probes_own_and_its_depths_shared():
    # 0.3 degC of the probe and 0.4 of its own make 0.5; a lean of 0.15 m where it cools by 2 and
    # 4 degC a metre 0.3 and 0.6 degC, alike by exp(-2 / 8) two metres apart
    found = reading_errors(table(depth=[2.0, 4.0], error=[0.4, 0.0], slope=[2.0, 4.0]), Following())
    alike = np.exp(-0.25)
    expected = [[0.25 + 0.09, 0.18 * alike], [0.18 * alike, 0.09 + 0.36]]
    np.testing.assert_allclose(found, expected, rtol=1e-12)
    mixed = table(depth=[2.0, 2.0], kind=["temperature", "oxygen"], slope=[2.0, 2.0])
    found = reading_errors(mixed, Following())
    np.testing.assert_allclose(found, [[0.18, 0.0], [0.0, 0.36 + 0.09]], rtol=1e-12)


@pytest.mark.parametrize(
    ("kind", "off", "spread", "error", "believed"),
    [
        ("temperature", 8.0, 0.0, 0.0, True),  # nearer ones always
        ("temperature", 8.1, 0.0, 0.0, False),
        ("temperature", -8.1, 0.0, 0.0, False),
        ("temperature", 9.9, 2.5, 0.0, True),  # four times hypot(2.5, 0.3) is 10.07
        ("temperature", 10.1, 2.5, 0.0, False),
        ("temperature", 10.1, 2.5, 0.4, True),  # hypot(2.5, 0.5) makes 10.2
        ("oxygen", 6.1, 0.0, 0.0, False),
        ("clarity", 1.9, 0.0, 0.0, True),
    ],
)
def test_a_reading_is_believed_up_to_four_standard_errors(kind, off, spread, error, believed):
    simulated = 10.0 + np.array([0.0, spread, -spread])[:, None]  # member 0 is the column's word
    readings = table(depth=[1.0], kind=[kind], error=[error], value=[10.0 + off])
    assert _believable(readings, simulated, Following()).tolist() == [believed]


def test_the_central_member_believes_readings_as_they_are():
    errors = np.array([[1.0, 0.8], [0.8, 1.0]])
    drawn = _draws(errors, 20001, np.random.default_rng(0))
    assert (drawn[0] == 0.0).all()
    np.testing.assert_allclose(drawn[1:].mean(axis=0), 0.0, atol=1e-12)
    np.testing.assert_allclose(np.cov(drawn[1:].T), errors, atol=0.03)


def test_what_members_say_for_a_probe():
    lake = small_lake(secchi=np.full(12, 2.0))
    depth = np.array([1.0, 2.0, 3.0, 4.0])
    warm = np.array([[20.0, 18.0, 12.0, np.nan], [22.0, 20.0, 14.0, np.nan]])
    gas = np.array([[8.0, 4.0, -2.0, np.nan], [8.0, 2.0, -6.0, np.nan]])
    scores = np.zeros((2, len(NAMES)))
    scores[1, NAMES.index("light_attenuation_factor")] = 1.0
    readings = pd.DataFrame({
        "kind": ["temperature", "oxygen", "oxygen", "oxygen", "clarity"],
        "depths": [np.array([1.5, 2.5]), np.array([2.5]), np.array([3.0]), np.array([3.0]), None],
        "value": [18.0, 3.0, 0.3, 0.4, np.log(2.0)],
    })  # fmt: skip
    found = observed(
        np.stack([warm, gas]), scores, readings, depth, lake=lake, hour="2001-06-15T12"
    )
    np.testing.assert_allclose(found[:, 0], [(19 + 15) / 2, (21 + 17) / 2])
    # 4 and -2 make 1 halfway, 2 and -6 make a debt of 2; where a probe read some, it counts
    np.testing.assert_allclose(found[:, 1], [1.0, -2.0])
    np.testing.assert_allclose(found[:, 2], [0.0, 0.0])  # to a probe that read none, none
    np.testing.assert_allclose(found[:, 3], [-2.0, -6.0])
    # light that fades faster is a shallower Secchi depth, by the spread of that parameter
    factor = from_standard(scores, lake)[:, NAMES.index("light_attenuation_factor")]
    np.testing.assert_allclose(np.exp(found[:, 4]), 2.0 * factor[0] / factor)
    assert found[0, 4] == pytest.approx(np.log(2.0)) and found[1, 4] < found[0, 4]


def test_spread_is_given_back_to_no_more_than_three_times():
    before = np.random.default_rng(1).normal(0.0, 1.0, (50, 1))
    out = relaxed(before, 0.1 * before, 0.5)  # a tenth is left: 1 + 0.5 x 3, not 1 + 0.5 x 9
    assert out[1:].std() == pytest.approx(2.5 * 0.1 * before[1:].std())
    wider = relaxed(before, 2.0 * before, 0.5)  # none was taken
    np.testing.assert_allclose(wider, 2.0 * before)
    same = relaxed(before, np.ones((50, 1)), 0.5)
    np.testing.assert_allclose(same, 1.0)


def test_the_taper_by_hand():
    # Gaspari & Cohn 1999, eq. 4.10, at a half and at one and a half half-reaches
    near = 1 - 5 / 3 / 4 + 5 / 8 / 8 + 1 / 32 - 1 / 128
    far = 4 - 7.5 + 5 / 3 * 2.25 + 5 / 8 * 3.375 - 5.0625 / 2 + 7.59375 / 12 - 2 / 4.5
    np.testing.assert_allclose(taper([0.5, 1.5, -0.5]), [near, far, near], rtol=1e-12)


LAKE = small_lake(secchi=np.full(12, 2.0))
BASIN = make_basin(LAKE)  # twenty layers of a quarter metre
MIDDLES = BASIN.centres


def ensemble(warm, gas, *, mud=None, drift=0.0, top=0):
    """A state of members of temperature and oxygen (members, layer)."""
    members = warm.shape[0]
    mud = warm if mud is None else mud
    return xr.Dataset({
        "temperature": (("member", "layer"), warm), "oxygen": (("member", "layer"), gas),
        "sediment": (("member", "slab", "layer"), np.repeat(mud[:, None], 2, axis=1)),
        "drift": (("member", "layer"), np.zeros_like(warm) + drift),
        "top": (("member",), np.full(members, top)),
    })  # fmt: skip


def read_at(depth, value, kind="temperature", **columns):
    size = len(depth)
    rows = {
        "kind": [kind] * size,
        "depth": depth,
        "value": value,
        "slope": 0.0,
        "error": 0.0,
        "row": np.arange(size) + 2,
        "depths": [np.array([z]) for z in depth],
        "time": pd.Timestamp("2001-07-01T17:50"),
        "hour": pd.Timestamp("2001-07-01T18:00"),
    }
    return pd.DataFrame(rows | columns)


STEEP = 30.0 - 4.0 * MIDDLES  # degC: too steep for what follows to overturn


def corrected(state, scores, readings, *, level=0.0, past=(), **assumed):
    return correct(
        state, scores, readings, lake=LAKE, basin=BASIN, level=level, past=list(past),
        assumed=Following(**assumed), random=np.random.default_rng(0),
    )  # fmt: skip


@pytest.mark.parametrize(("level", "top"), [(0.0, 0), (0.5, 2)])
def test_a_temperature_moves_what_errs_with_it_by_kalmans_gain(level, top):
    # members a degree or so warmer or colder as one, their oxygen by half of it, mud by a quarter,
    # drift by a hundredth, parameters by three tenths; 2 degC more than expected are read 2 m down
    off = np.random.default_rng(3).normal(0.0, 1.0, 400)
    off[0] = 0.0
    state = ensemble(
        STEEP + off[:, None], 8.0 + 0.5 * off[:, None] + 0.0 * MIDDLES,
        mud=12.0 + 0.25 * off[:, None] + 0.0 * MIDDLES, drift=0.01 * off[:, None], top=top,
    )  # fmt: skip
    scores = 0.3 * off[:, None] + np.zeros(len(NAMES))
    expected = 30.0 - 4.0 * (2.0 + level)
    after, learned, told = corrected(state, scores, read_at([2.0], [expected + 2.0]), level=level)
    assert told["reading_expected"] == pytest.approx([expected])
    variance = off[1:].var(ddof=1)
    near = taper(np.abs(MIDDLES - level - 2.0) / 3.0)[top:]
    share = 2.0 * variance / (variance + 0.3**2)
    np.testing.assert_allclose(after["temperature"][0, top:], STEEP[top:] + share * near)
    np.testing.assert_allclose(after["oxygen"][0, top:], 8.0 + 0.5 * share * near)
    np.testing.assert_allclose(after["sediment"][0, :, top:], 12.0 + 0.25 * share * near[None]
                               + np.zeros((2, 1)))  # fmt: skip
    np.testing.assert_allclose(after["drift"][0, top:], 0.01 * share * near)
    assert told["reading_after"] == pytest.approx([expected + share], abs=0.02)
    # the column's own 2 degC stand beside the probe's error where parameters learn, and those of
    # oxygen learn nothing
    taught = 0.3 * 2.0 * variance / (variance + 0.3**2 + 2.0**2)
    np.testing.assert_allclose(learned[0], np.where(OF_OXYGEN, 0.0, taught))
    # each member believes a reading of its own, 0.3 degC off or so: of the spread sd that was
    # there 0.3 sd / sqrt(sd^2 + 0.09) is left, and three tenths of what was taken are given back
    left = 0.3 * variance**0.5 / (variance + 0.09) ** 0.5
    kept = 0.3 * variance**0.5 + 0.7 * left
    now = after["temperature"].values[1:, [top + 7, top + 8]].std(axis=0, ddof=1)
    np.testing.assert_allclose(now, kept, rtol=0.08)


def test_oxygen_moves_oxygen_and_its_own_parameters_alone():
    off = np.random.default_rng(4).normal(0.0, 1.0, 30)
    off[0] = 0.0
    state = ensemble(
        STEEP + off[:, None], 8.0 + off[:, None] + 0.0 * MIDDLES,
        mud=12.0 + off[:, None] + 0.0 * MIDDLES, drift=0.01 * off[:, None],
    )  # fmt: skip
    scores = 0.3 * off[:, None] + np.zeros(len(NAMES))
    after, learned, told = corrected(state, scores, read_at([2.0], [9.5], kind="oxygen"))
    for name in ("temperature", "sediment", "drift"):
        np.testing.assert_allclose(after[name], state[name], rtol=1e-12)
    variance = off[1:].var(ddof=1)
    near = taper(np.abs(MIDDLES - 2.0) / 3.0)
    share = 1.5 * variance / (variance + 0.6**2)
    np.testing.assert_allclose(after["oxygen"][0], 8.0 + share * near)
    taught = 0.3 * 1.5 * variance / (variance + 0.6**2 + 4.0**2)  # 4 mg/L: twice its 2 degC
    np.testing.assert_allclose(learned[0], np.where(OF_OXYGEN, taught, 0.0))
    np.testing.assert_allclose(learned[:, ~OF_OXYGEN], scores[:, ~OF_OXYGEN])
    assert told["reading_used"].all() and told["reading_kind"].tolist() == ["oxygen"]


def test_a_secchi_depth_teaches_light_alone():
    random = np.random.default_rng(5)
    state = ensemble(STEEP + random.normal(0.0, 1.0, (30, 1)), np.full((30, 20), 8.0))
    scores = random.normal(0.0, 1.0, (30, 1)) + np.zeros(len(NAMES))
    scores[0] = 0.0
    murky = read_at([0.0], [np.log(1.5)], kind="clarity")
    after, learned, _ = corrected(state, scores, murky)
    for name in ("temperature", "oxygen", "drift"):
        np.testing.assert_allclose(after[name], state[name], rtol=1e-12)
    # of the usual 2 m: log(1.5 / 2) is expected to be 0, by the spread of light among members
    factor = from_standard(scores, LAKE)[:, OF_LIGHT]
    said = np.log(factor[0] / factor[1:])
    slope = np.cov(scores[1:, OF_LIGHT], said)[0, 1] / (said.var(ddof=1) + 0.3**2)
    others = np.arange(len(NAMES)) != OF_LIGHT
    assert learned[0, OF_LIGHT] == pytest.approx(slope * np.log(1.5 / 2.0))
    assert learned[0, OF_LIGHT] > 0.0  # light fades faster
    np.testing.assert_allclose(learned[:, others], scores[:, others])


def test_a_debt_is_moved_by_readings_of_oxygen_alone():
    off = np.random.default_rng(6).normal(0.0, 0.4, 30)
    off[0] = 0.0
    gas = np.where(MIDDLES > 3.0, -4.0, 4.0) + off[:, None]
    state = ensemble(STEEP + off[:, None], gas)
    scores = np.zeros((30, len(NAMES)))
    warmed, *_ = corrected(state, scores, read_at([4.0], [15.0]), relax=0.0)
    assert (warmed["temperature"][0, 14:18] > STEEP[14:18]).all()
    np.testing.assert_allclose(warmed["oxygen"].values[:, 12:], gas[:, 12:])
    assert (warmed["oxygen"].values[:, :12] >= 0.0).all()
    richer, *_ = corrected(state, scores, read_at([4.0], [1.0], kind="oxygen"), relax=0.0)
    assert (richer["oxygen"].values[0, 12:] > gas[0, 12:]).all()
    assert (richer["oxygen"].values[0, :12] >= 0.0).all()


def test_a_reading_beyond_belief_moves_nothing_and_the_others_do():
    off = np.random.default_rng(7).normal(0.0, 1.0, 30)
    off[0] = 0.0
    state = ensemble(STEEP + off[:, None], np.full((30, 20), 8.0))
    scores = np.zeros((30, len(NAMES)))
    alone, _, told = corrected(state, scores, read_at([2.0], [35.0]))
    np.testing.assert_array_equal(alone["temperature"], state["temperature"])
    assert told["reading_used"].tolist() == [False]
    assert told["reading_expected"] == pytest.approx([22.0])
    both, _, told = corrected(state, scores, read_at([2.0, 2.0], [35.0, 23.0]))
    one, *_ = corrected(state, scores, read_at([2.0], [23.0]))
    assert told["reading_used"].tolist() == [False, True]
    np.testing.assert_allclose(both["temperature"][0], one["temperature"][0])


def test_readings_three_metres_apart_share_little_and_six_none():
    # two readings of one error: where they share none, each moves the water about it by itself
    random = np.random.default_rng(8)
    off = random.normal(0.0, 1.0, (30, 1))
    off[0] = 0.0
    state = ensemble(STEEP + off, np.full((30, 20), 8.0))
    scores = np.zeros((30, len(NAMES)))

    def moved(depths, **assumed):
        values = [30.0 - 4.0 * z + 1.0 for z in depths]
        after, *_ = corrected(state, scores, read_at(depths, values), **assumed)
        return after["temperature"].values[0] - STEEP

    far, near = [0.625, 4.375], [0.625, 0.875]
    apart = dict(near=1.8)  # 3.75 m are over two half-reaches
    each = moved([far[0]], **apart) + moved([far[1]], **apart)
    np.testing.assert_allclose(moved(far, **apart), each, atol=1e-9)
    assert moved(near).max() < 1.2 * moved(near[:1]).max()  # two that say one thing


def test_a_profile_is_read_from_the_days_surface():
    warm = STEEP + np.zeros((2, 1))
    gas = 10.0 - MIDDLES + np.zeros((2, 1))
    found = profiles(ensemble(warm, gas, top=2), BASIN, 0.5)
    # half a metre down: what stands at 0.125 m is the layer two further down
    np.testing.assert_allclose(found[0, :, :18], warm[:, 2:])
    np.testing.assert_allclose(found[1, :, :18], gas[:, 2:])
    assert np.isnan(found[:, :, 18:]).all()


def strayed(days, *, members=800, extra=0.0, gas=8.0, top=0, **assumed):
    state = ensemble(STEEP + np.zeros((members, 1)), np.full((members, 20), gas), top=top)
    out = stray(state, BASIN, days=days, extra=extra, assumed=Following(**assumed),
                random=np.random.default_rng(0))  # fmt: skip
    for name in ("temperature", "oxygen", "sediment"):
        np.testing.assert_array_equal(out[name][0], state[name][0])
        np.testing.assert_array_equal(out[name][..., :top], state[name][..., :top])
    return out


@pytest.mark.parametrize(
    ("days", "extra", "size"), [(30, 0.0, 1.0), (120, 0.0, 2.0), (900, 0.0, 2.0), (7.5, 0.0, 0.5)]
)
def test_members_stray_with_the_root_of_time_up_to_four_months(days, extra, size):
    # 0.15 degC in a month of the water, and 4 degC a metre over 0.3 m of its layers
    middle = strayed(days, extra=extra)["temperature"].values[1:, 9:11]
    expected = size * np.hypot(0.15, 4.0 * 0.3)
    np.testing.assert_allclose(middle.std(axis=0), expected, rtol=0.08)
    np.testing.assert_allclose(middle.mean(axis=0), STEEP[9:11], atol=0.15 * expected)


def test_an_unknown_start_strays_with_its_mud_by_its_own_size():
    out = strayed(30, extra=2.0, shift=0.0)
    warm, mud = out["temperature"].values[1:, 9], out["sediment"].values[1:, :, 9]
    assert warm.std() == pytest.approx(np.hypot(0.15, 2.0), rel=0.08)
    np.testing.assert_allclose(mud.std(axis=0), 2.0, rtol=0.08)
    assert np.corrcoef(warm, mud[:, 0])[0, 1] > 0.99
    known = strayed(30)["sediment"].values
    np.testing.assert_allclose(known, STEEP + np.zeros(known.shape))


def test_oxygen_strays_by_twice_the_milligrams_apart_from_warmth_and_a_debt_does_not():
    out = strayed(30, shift=0.0, stray=0.2)
    gas, warm = out["oxygen"].values[1:, 9], out["temperature"].values[1:, 9]
    assert gas.std() == pytest.approx(0.4, rel=0.08)
    assert abs(np.corrcoef(gas, warm)[0, 1]) < 0.15
    little = strayed(30, gas=0.1)["oxygen"].values
    assert little.min() == 0.0 and little.max() > 0.2
    np.testing.assert_array_equal(strayed(30, gas=-3.0)["oxygen"], -3.0)


def test_layers_stray_alike_over_four_metres_and_those_above_water_not_at_all():
    warm = strayed(30, shift=0.0)["temperature"].values[1:]
    alike = np.corrcoef(warm[:, 2], warm[:, 14])[0, 1]  # 3 m apart
    assert alike == pytest.approx(np.exp(-3.0 / 4.0), abs=0.08)
    assert np.ptp(strayed(30, top=3)["temperature"].values[1:, 3]) > 0.0


def test_no_water_strays_under_freezing_and_none_stays_top_heavy():
    state = ensemble(np.full((200, 20), 0.1), np.full((200, 20), 9.0))
    out = stray(state, BASIN, days=30, extra=1.0, assumed=Following(),
                random=np.random.default_rng(0))["temperature"].values  # fmt: skip
    assert out.min() == 0.0
    assert np.diff(density(out), axis=1).min() > -1e-9


@pytest.mark.parametrize(("days", "share"), [(30.0, 0.795), (60.0, 0.930), (1e4, 1.0)])
def test_drifts_are_given_as_far_as_old_ones_fade(days, share):
    # by hand: 0.06 degC a day times sqrt(1 - exp(-2 days / 60)); what stood there stays beneath
    state = ensemble(STEEP + np.zeros((2000, 1)), np.full((2000, 20), 8.0), drift=0.5)
    out = set_adrift(state, BASIN, days=days, assumed=Following(),
                     random=np.random.default_rng(0))["drift"].values  # fmt: skip
    np.testing.assert_array_equal(out[0], 0.5)
    np.testing.assert_allclose(out[1:].std(axis=0), share * 0.06, rtol=0.06)
    assert out[1:].mean() == pytest.approx(0.5, abs=0.01)
    alike = np.corrcoef(out[1:, 2], out[1:, 14])[0, 1]
    assert alike == pytest.approx(np.exp(-3.0 / 4.0), abs=0.06)


def past_run(days, *, bottom=16):
    """A run of two members on days before 1 July 18:00, without water in its lowest layers."""
    hour = np.datetime64("2001-07-01T18:00", "ns")
    times = hour - (np.array(days) * 24).astype("timedelta64[h]")
    warm = np.where(np.arange(20) < bottom, STEEP, np.nan) + np.zeros((2, len(days), 1))
    gas = np.where(np.arange(20) < bottom, 8.0, np.nan) + np.zeros((2, len(days), 1))
    dims = ("member", "time", "depth")
    return hour, xr.Dataset(
        {"water_temperature": (dims, warm), "dissolved_oxygen": (dims, gas)},
        coords={"time": times, "depth": MIDDLES},
    )  # fmt: skip


@pytest.mark.parametrize("of_gas", [False, True])
def test_a_later_reading_moves_earlier_days_the_less_the_longer_ago(of_gas):
    hour, run = past_run([80.0, 45.0, 30.0, 0.0])
    before = run.copy(deep=True)

    def moved(values, near):
        return np.array([1.0, 0.5])[:, None] * near[:, 0]  # the second member half as much

    _smooth(run, moved, hour, np.array([2.125]), np.array([True]), Following(), BASIN,
            of_gas=of_gas)  # fmt: skip
    change = (run - before).isel(depth=slice(0, 16))
    fading = taper(np.array([80.0, 45.0, 30.0, 0.0]) / 30.0)
    near = taper(np.abs(MIDDLES[:16] - 2.125) / 3.0)
    expected = np.array([1.0, 0.5])[:, None, None] * fading[:, None] * near
    np.testing.assert_allclose(change["dissolved_oxygen"], expected, atol=1e-12)
    warmed = 0.0 if of_gas else expected
    np.testing.assert_allclose(change["water_temperature"], warmed + 0.0 * expected, atol=1e-12)
    for name in ("water_temperature", "dissolved_oxygen"):
        assert np.isnan(run[name].values[..., 16:]).all()


def test_a_clarity_moves_no_earlier_day_and_two_months_are_the_reach():
    for days, water in (([5.0], False), ([61.0], True)):
        hour, run = past_run(days)
        before = run.copy(deep=True)
        _smooth(run, lambda values, near: near[:, 0] + np.zeros((2, 1)), hour, np.array([2.125]),
                np.array([water]), Following(), BASIN, of_gas=False)  # fmt: skip
        xr.testing.assert_equal(run, before)


def test_earlier_days_keep_no_negative_oxygen_and_no_heavy_water_above():
    hour, run = past_run([1.0])
    sunk = np.where(np.arange(16) < 3, -15.0, 0.0)
    _smooth(run, lambda values, near: sunk + np.zeros((2, 1)), hour, np.array([2.125]),
            np.array([True]), Following(), BASIN, of_gas=False)  # fmt: skip
    assert run["dissolved_oxygen"].values[..., :16].min() >= 0.0
    assert np.diff(density(run["water_temperature"].values[..., :16]), axis=-1).min() > -1e-9
