"""A small club without files, for the tests of the log."""

from pathlib import Path

import numpy as np

from lakekit.club import Boat, Club, Lake, Rules, WeatherSource


def make_lake(key, name, *, time_zone="America/Chicago", max_rods=3):
    return Lake(
        key=key, name=name, latitude=40.1, longitude=-89.2, time_zone=time_zone, area=1.2e6,
        max_depth=10.0, elevation=190.0, mean_depth=4.0, longest_fetch=2000.0,
        depths=np.array([0.0, 10.0]), areas=np.array([1.2e6, 0.0]),
        depth_area_source="built", secchi=np.full(12, 1.2), secchi_source="lake file",
        below_full_pond=np.zeros(12), fertility="eutrophic", surroundings="wooded",
        weather=WeatherSource(), rules=Rules(max_rods=max_rods),
    )


def make_club(*, date_order=None, units="us", log_columns=None, lakes=None):
    lakes = lakes or (make_lake("ash", "Ash Pit Pond"), make_lake("birch", "Lake Birch"))
    return Club(
        folder=Path("."), name="Test club", units=units, date_order=date_order,
        species="crappie", lakes={lake.key: lake for lake in lakes},
        log_columns=log_columns or {},
        boat=Boat(name="boat", beam=1.8, anglers=2, rods_per_angler=2, speeds=(0.2, 2.0)),
    )
