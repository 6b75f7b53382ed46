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
    from_standard,
    lake_defaults,
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
