"""The bench of the filter's constants: who would choose what."""

import numpy as np
import pytest

from lakekit.bench import following
from lakekit.bench.observed import SITES


def test_each_water_is_scored_by_what_the_others_choose():
    shape = (len(following.TRIED), len(SITES), len(following.SPANS), len(following.WHATS))
    errors = np.ones(shape)
    errors[1, 0] = 0.1  # helps the first water alone
    errors[2, 1:] = 0.95  # helps every other a little
    names = list(following.TRIED)
    chosen = following.left_out(errors)
    first, *rest = SITES
    assert chosen[first] == names[2]  # not its own choice
    assert {chosen[water] for water in rest} == {names[1]}
    assert following.relative_errors(errors)[2, 1] == pytest.approx(0.95)


def test_the_table_has_a_line_for_every_assumption():
    figures = {}
    for choice in following.TRIED:
        key = f"following_{following._key(choice)}"
        figures[f"{key}_mean_relative"] = 1.0
        for water in SITES:
            figures[f"{key}_{water}_relative"] = 1.0
            for first, last in following.SPANS:
                for what in following.WHATS:
                    figures[f"{key}_{water}_{first}to{last}_{what}"] = 0.5
    for water in SITES:
        figures[f"following_left_out_{water}"] = following.SHIPPED
        figures[f"following_left_out_{water}_relative"] = 1.0
    figures["following_three_years_24_casts_s"] = 9.0
    figures["following_three_years_24_casts_cpu_s"] = 8.0
    lines = following.table(figures).splitlines()
    assert sum(line.startswith(tuple(following.TRIED)) for line in lines) == len(following.TRIED)
    assert lines[-1] == "three years with 24 casts: 9.0 s, of the processor 8.0 s"
