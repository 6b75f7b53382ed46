"""Weather variables and the packed flag."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from lakekit.errors import WeatherError
from lakekit.weather.schema import (
    BITS,
    FORCING,
    METHODS,
    VARIABLES,
    flag_attrs,
    pack_flags,
    unpack_flag,
    variable_attrs,
)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(arrays.arrays(np.int64, (len(FORCING), 7), elements=st.integers(0, len(METHODS) - 1)))
def test_flags_survive_packing(methods):
    flag = pack_flags(dict(zip(FORCING, methods, strict=True)))
    assert flag.dtype == np.int32
    for name, expected in zip(FORCING, methods, strict=True):
        assert np.array_equal(unpack_flag(flag, name), expected)


def test_flags_follow_cf():
    """CF-1.11, section 3.5: (flag & mask) == value says the meaning."""
    attrs = flag_attrs()
    meanings = attrs["flag_meanings"].split()
    assert len(meanings) == len(attrs["flag_masks"]) == len(attrs["flag_values"])
    flag = pack_flags({"shortwave": np.array([4]), "wind_speed": np.array([1])})
    set_ones = {
        meaning
        for meaning, mask, value in zip(
            meanings, attrs["flag_masks"], attrs["flag_values"], strict=True
        )
        if (flag[0] & mask) == value
    }
    assert "shortwave_estimated" in set_ones
    assert "wind_speed_interpolated" in set_ones
    assert "precipitation_measured" in set_ones
    assert len(set_ones) == len(FORCING)


def test_the_bits_fit():
    assert BITS * len(FORCING) < 32
    assert len(METHODS) <= 2**BITS


def test_an_unflagged_variable_is_named():
    with pytest.raises(WeatherError, match="no flag is kept for 'dew'"):
        unpack_flag(np.zeros(1, dtype=np.int32), "dew")


def test_attributes_carry_units_and_ranges():
    for name, item in VARIABLES.items():
        assert variable_attrs(name)["units"] == item.units
        assert item.low < item.high
