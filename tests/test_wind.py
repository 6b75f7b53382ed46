"""Where a front's wind put the water: the lean of two layers, its ends, and silence."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from column_lakes import small_lake

from lakekit.column.water import density
from lakekit.constants import GRAVITY
from lakekit.errors import ClubError
from lakekit.fronts.wind import lean_of
from lakekit.guide.front.wind import wind_rows
from lakekit.lakefile import read_lake
from lakekit.units import axis_text, compass_text

HOURS = pd.date_range("2025-07-01", periods=24, freq="h")
STEP = 4.0  # m, depth of the thermocline
STRESS = 0.05  # N/m2


def lake(**changes):
    return replace(small_lake(), axis=90.0, longest_fetch=1000.0, **changes)


def two_layers(top=25.0, bottom=12.0, members=4):
    depth = np.arange(0.25, 11.0, 0.5)
    values = np.where(depth < STEP, top, bottom)
    return xr.Dataset(
        {
            "water_temperature": (("member", "depth"), np.tile(values, (members, 1))),
            "area": ("depth", np.full(depth.size, 8e5)),
        },
        coords={"depth": depth, "time": HOURS[-1]},
    )


def blow(direction, *, stress=STRESS, members=4, speed=10.0):
    weather = xr.Dataset(
        {
            "wind_direction": ("time", np.broadcast_to(np.asarray(direction, float), 24).copy()),
            "wind_speed": ("time", np.full(24, speed)),
        },
        coords={"time": HOURS},
    )
    force = xr.DataArray(
        np.full((members, 24), stress), dims=("member", "time"), coords={"time": HOURS}
    )
    return weather, force


def test_the_lean_is_that_of_two_layers_under_a_steady_wind():
    """Rise of each end u*2 L / (2 g' h), Spigel & Imberger 1980 (from memory)."""
    lean = lean_of(lake(), *blow(270.0), [two_layers()])
    step = float(density(12.0) - density(25.0))
    rise = STRESS * 1000.0 / (2 * GRAVITY * step * STEP)
    assert lean.downwind[1] - lean.upwind[1] == pytest.approx(2 * rise, rel=0.05)
    assert (lean.downwind[1] + lean.upwind[1]) / 2 == pytest.approx(STEP, abs=0.3)
    assert lean.wind_from == pytest.approx(270.0, abs=1e-6)
    assert lean.toward == 90.0 and lean.along and lean.upwelling_chance == 0.0
    assert lean.downwind[0] < lean.downwind[1] < lean.downwind[2]
    assert 0.0 < lean.level_after[0] < lean.level_after[1]


def test_the_other_wind_piles_the_other_end_and_a_cross_wind_neither():
    assert lean_of(lake(), *blow(90.0), [two_layers()]).toward == 270.0
    assert lean_of(lake(), *blow(130.0), [two_layers()]).toward == 270.0
    across = lean_of(lake(), *blow(0.0), [two_layers()])
    assert not across.along
    assert wind_rows(across, lake(), "us", dropped=HOURS[-1], now=HOURS[-1])[0][1].endswith(
        "no lean is told"
    )


def test_a_great_wind_brings_deep_water_up():
    lean = lean_of(lake(), *blow(270.0, stress=5.0), [two_layers(top=16.0)])
    assert lean.upwelling_chance > 0.5 and lean.upwind[1] == 0.0
    said = dict(wind_rows(lean, lake(), "us", dropped=HOURS[-1], now=HOURS[-1]))
    assert "likely" in said["Upwelling, W shore"]
    assert "the surface" in said["Thermocline then"] and " 0 " not in said["Thermocline then"]
    near = wind_rows(replace(lean, upwind=lean.upwind + 0.5), lake(), "metric",
                     dropped=HOURS[-1], now=HOURS[-1])  # fmt: skip
    assert "0.5 m (" in dict(near)["Thermocline then"]
    assert said["Mud line"] == "look for one along the E shore"
    assert "warm water to the E end" in said["The blow"]


def test_the_height_of_the_blow_sets_it_not_what_came_before():
    direction = np.r_[np.full(18, 90.0), np.full(6, 270.0)]
    weather, force = blow(direction)
    force[:, :18] *= 0.2
    lean = lean_of(lake(), weather, force, [two_layers()])
    assert lean.toward == 90.0 and lean.start >= HOURS[18]


@pytest.mark.parametrize("missing", ["axis", "direction", "most", "layers", "hours"])
def test_nothing_is_said_without_axis_direction_or_layers(missing):
    weather, force = blow(270.0)
    place, state = lake(), two_layers()
    if missing == "axis":
        place = replace(place, axis=None)
    elif missing == "direction":
        weather = weather.drop_vars("wind_direction")
    elif missing == "most":
        weather["wind_direction"][:20] = np.nan
    elif missing == "layers":
        state = two_layers(top=12.5)
    else:
        force = force.isel(time=slice(0, 0))
    lean = lean_of(place, weather, force, [state])
    assert lean is None
    assert wind_rows(lean, place, "us", dropped=HOURS[-1], now=HOURS[-1]) == []


def test_when_it_is_level_again_is_told_from_now():
    lean = lean_of(lake(), *blow(270.0), [two_layers()])
    first, last = lean.level_after

    def said(hours):
        now = HOURS[-1] + pd.Timedelta(hours=hours)
        return dict(wind_rows(lean, lake(), "metric", dropped=HOURS[-1], now=now))["Level again"]

    assert said(0.0).endswith("leaning now")
    assert said((first + last) / 2).endswith("rocking now")
    assert said(last + 1).endswith("over by now")


LAKE_FILE = """name = "A"
latitude = 40.1
longitude = -89.2
time_zone = "America/Chicago"
area = "310 acres"
max_depth = "34 ft"
{axis}
"""


@pytest.mark.parametrize(
    ("axis", "bearing"),
    [('"NE-SW"', 45.0), ('"SW-NE"', 45.0), ('"n - s"', 0.0), ('"ESE–WNW"', 112.5), ("225", 45.0)],
)
def test_an_axis_is_two_points_or_a_bearing(tmp_path, axis, bearing):
    path = tmp_path / "a.toml"
    path.write_text(LAKE_FILE.format(axis=f"axis = {axis}"), encoding="utf-8")
    assert read_lake(path).axis == bearing
    assert axis_text(bearing).split("-")[0] == compass_text(bearing)


@pytest.mark.parametrize("axis", ['"NE-NW"', '"up and down"', '"NE"', "400", "true"])
def test_an_axis_that_is_none_is_one_message(tmp_path, axis):
    path = tmp_path / "a.toml"
    path.write_text(LAKE_FILE.format(axis=f"axis = {axis}"), encoding="utf-8")
    with pytest.raises(ClubError, match="axis"):
        read_lake(path)


def test_a_lake_without_an_axis_has_none(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(LAKE_FILE.format(axis=""), encoding="utf-8")
    assert read_lake(path).axis is None
