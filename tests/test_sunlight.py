"""The lit depth is that of the light that warms the simulated water."""

import dataclasses

import numpy as np
import pytest
from column_lakes import small_lake

from lakekit.bench.column import standard_forcing
from lakekit.column import columns, hour
from lakekit.column.basin import make_basin
from lakekit.column.parameters import default_parameters
from lakekit.column.run import hourly_forcing
from lakekit.guide.sunlight import month_light

LAKE = dataclasses.replace(small_lake(), max_depth=30.0, secchi=np.linspace(1.0, 3.0, 12))


def share_left(depth, *, parameters):
    """Share of visible light that the simulated column has left at a depth on 15 July, noon."""
    forcing = standard_forcing(24 * 200)
    rows, _ = hourly_forcing(small_lake(secchi=LAKE.secchi), forcing, make_basin(small_lake()))
    row = rows[(31 + 28 + 31 + 30 + 31 + 30 + 14) * 24 + 18].copy()
    faces = np.linspace(0.0, 20.0, 801)
    areas = np.ones(801)
    source, budget = np.zeros((2, 800)), np.zeros(columns.BUDGET_COLUMNS)
    own = np.array([parameters[name].values[0] for name in parameters.data_vars])
    hour.absorb_light(
        row, own, 1e4, 0.1, 0.0, 0.0, faces, areas, np.ones(800), source, 0, budget
    )  # under thin ice all that enters is visible
    below = faces[:-1] >= depth - 1e-9
    return source[0, below].sum() / source[0].sum()


def test_midday_light_has_fallen_to_a_hundredth_at_the_lit_depth():
    parameters = default_parameters(LAKE)
    depth = month_light(LAKE, "2025-07-01")["midday"]
    assert share_left(depth, parameters=parameters) == pytest.approx(0.01, rel=0.1)
    # by hand: ln 100 over 2.72 / Secchi, Secchi about 2.1 m in mid-July
    assert depth == pytest.approx(np.log(100.0) * 2.1 / 2.72, rel=0.03)


def test_a_fitted_attenuation_moves_the_lit_depth_with_the_water():
    parameters = default_parameters(LAKE)
    murky = parameters.assign(light_attenuation_factor=parameters["light_attenuation_factor"] * 1.5)
    depth = month_light(LAKE, "2025-07-01", parameters=murky)["midday"]
    assert depth == pytest.approx(month_light(LAKE, "2025-07-01")["midday"] / 1.5)
    assert share_left(depth, parameters=murky) == pytest.approx(0.01, rel=0.1)


def test_dawn_is_dimmer_than_noon_and_alike_at_dusk():
    light = month_light(LAKE, "2025-07-01")
    assert 0.0 < light["dawn"] < 0.8 * light["midday"]
    assert light["dusk"] == pytest.approx(light["dawn"], rel=0.1)
