"""One correction's algebra: taper, gain, and the spread it leaves."""

import numpy as np
import pandas as pd
import pytest
from column_lakes import small_lake

from lakekit.column.following.analysis import (
    Following,
    _believable,
    _draws,
    gain,
    observed,
    reading_errors,
    relaxed,
    settle,
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
