"""The table of uncertain parameters."""

import numpy as np
import pytest
from column_lakes import lake

from lakekit.column import default_parameters, draw_parameters
from lakekit.column.parameters import (
    NAMES,
    SUNSHINE,
    SURROUNDINGS_SHELTER,
    TABLE,
    as_array,
    as_dataset,
    fading_factor,
    from_standard,
    lake_defaults,
    symmetric_root,
    to_standard,
)
from lakekit.errors import ProbeError


def test_every_parameter_has_a_range_around_its_centre_and_a_source():
    for row in TABLE:
        assert row.low < row.central < row.high
        assert row.source
        assert row.meaning
        assert row.scale in ("log", "linear")


def test_shelter_of_a_lake_is_the_published_energy_share():
    # Hondzo & Stefan 1993: 0.2592 of the energy at 1 km2, so its cube root of the speed
    open_lake = lake(area=1e6, surroundings="open")
    assert lake_defaults(open_lake)["wind_shelter"] ** 3 == pytest.approx(0.2592, abs=5e-5)


def test_woods_shelter_more_than_open_land():
    found = [
        lake_defaults(lake(surroundings=s))["wind_shelter"] for s in ("open", "mixed", "wooded")
    ]
    assert found == sorted(found, reverse=True)


def test_standard_scores_there_and_back():
    scores = np.random.default_rng(0).standard_normal((6, len(NAMES)))
    np.testing.assert_allclose(
        to_standard(from_standard(scores, lake()), lake()), scores, atol=1e-9
    )


def test_ninety_percent_of_draws_lie_in_the_stated_range():
    water = lake()
    drawn = draw_parameters(water, 4000, seed=0)
    own = lake_defaults(water)
    for row in TABLE:
        scale = own[row.name] / row.central if row.relative else 1.0
        values = drawn[row.name].values
        inside = np.mean((values > row.low * scale) & (values < row.high * scale))
        if np.isclose(row.low * row.high, row.central**2, rtol=0.15) or row.scale == "linear":
            assert inside == pytest.approx(0.9, abs=0.03), row.name


def test_member_zero_is_central():
    drawn, central = draw_parameters(lake(), 5, seed=9), default_parameters(lake())
    for name in NAMES:
        assert drawn[name].values[0] == pytest.approx(central[name].values[0], rel=1e-12)


def test_missing_or_unfinite_parameters_are_refused():
    whole = default_parameters(lake())
    with pytest.raises(ProbeError, match="lack wind_shelter"):
        as_array(whole.drop_vars("wind_shelter"))
    broken = as_array(whole)
    broken[0, 1] = np.nan
    with pytest.raises(ProbeError, match="not finite"):
        as_array(as_dataset(broken))


def test_surroundings_shelter_in_order_and_within_reason():
    for table in (SURROUNDINGS_SHELTER, SUNSHINE):
        values = [table[name] for name in ("open", "mixed", "wooded", "valley")]
        assert values == sorted(values, reverse=True)
        assert 0.7 <= values[-1] < values[0] <= 1.25


def test_a_standard_score_of_1_645_is_an_end_of_the_range():
    # 5 and 95 % of a normal distribution lie 1.645 standard deviations from its middle
    water = lake(surroundings="open", area=1e9)  # where no default is sheltered
    ends = from_standard(np.array([[-1.645], [1.645]]) * np.ones(len(NAMES)), water)
    for column, row in enumerate(TABLE):
        low, high = ends[:, column]
        if row.scale == "log":
            assert high / low == pytest.approx(row.high / row.low), row.name
            assert np.sqrt(low * high) == pytest.approx(row.central), row.name
        else:
            assert (low, high) == pytest.approx((row.low, row.high)), row.name


def test_a_lakes_own_defaults_are_those_of_its_size_and_surroundings():
    # Hondzo & Stefan 1993: 0.2592 of the energy at 1 km2
    own = lake_defaults(lake(area=1e6, surroundings="valley"))
    assert own["wind_shelter"] == pytest.approx(0.2592 ** (1 / 3) * 0.8, rel=1e-4)
    assert own["shortwave_factor"] == 0.85  # as a station in such a valley measured
    for row in TABLE:
        if not row.relative:
            assert own[row.name] == row.central


def test_draws_keep_within_two_and_a_half_spreads_and_differ_by_seed():
    water = lake()
    scores = to_standard(as_array(draw_parameters(water, 2000, seed=1)), water)
    assert np.abs(scores).max() == pytest.approx(2.5)
    assert np.abs(np.corrcoef(scores.T) - np.eye(len(NAMES))).max() < 0.1  # each by itself
    other = to_standard(as_array(draw_parameters(water, 3, seed=2)), water)
    assert not np.allclose(other[1:], scores[1:3])


def test_light_fades_by_the_first_members_factor():
    assert fading_factor(lake()) == 1.6  # 2.7 over Secchi on two reservoirs, 1.7 x 1.6
    own = draw_parameters(lake(), 3, seed=1)
    own["light_attenuation_factor"][:] = [1.2, 1.9, 2.0]
    assert fading_factor(lake(), own) == 1.2


def test_one_members_values_are_a_row_and_bear_units():
    one = as_dataset(np.arange(float(len(NAMES))))
    assert one.sizes["member"] == 1 and list(as_array(one)[0]) == list(range(len(NAMES)))
    assert one["longwave_bias"].attrs["units"] == "W m-2"
    assert one["longwave_bias"].attrs["references"] and one["longwave_bias"].attrs["long_name"]


def test_a_root_of_a_covariance_is_its_own_whichever_way_its_axes_point(monkeypatch):
    # by hand: axes at 45 degrees, variances 1 and 9; the root has 1 and 3 along them
    covariance = np.array([[5.0, 4.0], [4.0, 5.0]])
    root = symmetric_root(covariance)
    np.testing.assert_allclose(root, [[2.0, 1.0], [1.0, 2.0]], atol=1e-12)
    values, axes = np.linalg.eigh(covariance)
    monkeypatch.setattr(np.linalg, "eigh", lambda matrix: (values, -axes))
    np.testing.assert_array_equal(symmetric_root(covariance), root)
    bounded = symmetric_root(covariance, least=4.0, most=4.0)
    np.testing.assert_allclose(bounded, 2.0 * np.eye(2), atol=1e-12)
