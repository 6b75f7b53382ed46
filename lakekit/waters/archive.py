"""What a season leaves for other programs: a lake's daily layers, profiles and odds, by CF."""

import numpy as np
import pandas as pd

import lakekit
from lakekit.column.run import simulate
from lakekit.strata.spread import QUANTILES
from lakekit.waters.kept import content_key, kept

PROFILE_DAYS = 365  # the last of the record whose profiles are written
RANGE_MEMBERS = 8  # sets of uncertain parameters behind their range
FLAGS = {"stratified": "no_layers layers", "inverse": "no_inverse_layers inverse_layers"}
PROFILES = {"water_temperature": "sea_water_temperature",
            "dissolved_oxygen": "mass_concentration_of_oxygen_in_sea_water"}  # fmt: skip
ODDS = ("lasting_thermocline_depth", "mixed_layer_depth", "oxygen_floor_depth",
        "layered_chance", "inverse_chance", "ice_chance", "front_chance")  # fmt: skip


def lake_archive(water, odds):
    """A lake's layers over the record, its last year by depth, and the odds of its months.

    Parameters
    ----------
    water : lakekit.waters.knowledge.LakeWater
    odds : xarray.Dataset
        As from :func:`lakekit.strata.monthly_odds`.

    Returns
    -------
    xarray.Dataset
        Layers on time; ``water_temperature`` [degC] and ``dissolved_oxygen`` [mg/L] on
        (quantile, profile_time, depth), 10, 50 and 90 % of members at noon; ``odds_...`` on
        (quantile, month) for depths [m], on month for chances [0-1].
    """
    archive = water.layers.drop_vars("member", errors="ignore").merge(last_profiles(water))
    for name, meanings in FLAGS.items():
        archive[name] = archive[name].astype(np.int8).assign_attrs(
            flag_values=np.array([0, 1], np.int8), flag_meanings=meanings
        )  # fmt: skip
    for name in water.layers.data_vars:
        archive[name].attrs["cell_methods"] = "time: point"
    for name in ODDS:
        told = odds[name].astype(np.float32).reset_coords(drop=True).transpose(..., "month")
        archive[f"odds_{name}"] = told.assign_attrs(
            units=told.attrs.get("units", "1"),
            long_name="odds by month: " + told.attrs.get("long_name", name.replace("_", " ")),
        )
    archive["month"].attrs |= {"long_name": "first day of the month", "standard_name": "time"}
    archive["quantile"].attrs |= {"long_name": "share of outcomes below", "units": "1"}
    archive["time"].attrs["long_name"] = "noon, in UTC"
    for name in ("time", "profile_time", "month"):
        archive[name].attrs["units_metadata"] = "leap_seconds: none"
    for name, variable in archive.data_vars.items():
        if variable.attrs.get("units") == "degC":
            kind = "difference" if name == "surface_skin" else "on_scale"
            variable.attrs["units_metadata"] = f"temperature: {kind}"
    record = f"weather to {pd.Timestamp(water.as_of):%Y-%m-%d %H:%M} UTC"
    archive.attrs = dict(water.layers.attrs) | {
        "Conventions": "CF-1.11",
        "title": f"Layers, profiles and odds of {water.lake.name}",
        "source": f"lakekit {lakekit.__version__}, a one-dimensional model of a lake",
        "history": f"lakekit season, from {record}",
        "comment": "computed, not measured; ranges are those of uncertain parameters",
    }
    for name, variable in archive.variables.items():
        if name in archive.dims:
            variable.encoding = {"_FillValue": None}
        elif variable.dtype.kind == "f":
            variable.encoding = {"_FillValue": np.array(np.nan, variable.dtype), "zlib": True}
    return archive


def last_profiles(water):
    """Range over members of temperature and oxygen on the last days of a record, kept."""
    members = None
    if water.parameters is not None:
        members = water.parameters.isel(member=slice(0, RANGE_MEMBERS))
    last = pd.Timestamp(water.as_of)
    first = last - pd.Timedelta(days=PROFILE_DAYS)
    part = water.forcing.sel(time=slice(first - pd.Timedelta(days=365), last))

    def computed():
        run = simulate(water.lake, part, parameters=members, members=RANGE_MEMBERS)
        run = run[list(PROFILES)].sel(time=slice(first, None))
        profiles = run.quantile(QUANTILES, "member", keep_attrs=True, skipna=False)
        profiles = profiles.astype(np.float32).rename(time="profile_time")
        profiles = profiles.assign_coords(quantile=list(QUANTILES))
        for name, standard in PROFILES.items():
            profiles[name].attrs |= {"standard_name": standard,
                                     "cell_methods": "profile_time: point"}  # fmt: skip
        profiles["profile_time"].attrs = {"standard_name": "time", "long_name": "noon, in UTC"}
        return profiles

    return kept("profiles", water.lake, content_key(water.lake, part, members, "ranges"), computed)
