"""What a month page takes from the lake file by itself."""

import pytest

from lakekit.guide.lake import closures_in

SPRING = "North cove closed to anchoring, 1 April to 15 May (spawning beds)"


@pytest.mark.parametrize(
    ("text", "months"),
    [
        (SPRING, {4, 5}),
        ("closed from 1 Nov to 15 Feb", {11, 12, 1, 2}),
        ("closed in March", {3}),
        ("no motors; may be closed for drawdown at any time", set(range(1, 13))),
        (None, set()),
        ("", set()),
    ],
)
def test_closures_stand_on_the_months_they_touch(text, months):
    found = {month for month in range(1, 13) if closures_in(text, month)}
    assert found == months
