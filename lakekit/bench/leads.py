"""What a reading is worth later on: errors by days since the last cast, beside the rivals."""

import numpy as np
import pandas as pd
import xarray as xr

from ..column import end_state, follow, run_parameters, simulate
from ..weather import prepare_forcing
from .accuracy import at_casts, fortnight_rival, on_grid
from .observed import natural

LEADS = ((1, 10), (11, 21), (22, 35), (36, 50), (51, 75))  # days since the last cast
EVERY = 27  # days at least between the casts that are followed
TARGETS = 6  # days at least between the casts of daily strings that are scored


def apart(times, days):
    """Those of sorted times that lie at least so many days after the last one kept."""
    kept = []
    for time in np.sort(np.unique(times)):
        if not kept or time - kept[-1] >= np.timedelta64(days, "D"):
            kept.append(time)
    return np.array(kept, "datetime64[ns]")


def followed(site, *, forcing=None, parameters=None, assumed=None, members=24, seed=0,
             all_members=True):  # fmt: skip
    """Predictions of later casts from each followed cast.

    Parameters
    ----------
    site : Site
    forcing : Dataset, prepared, optional
    parameters : Dataset, optional, the prior
    assumed : Following, optional
    members, seed : int
    all_members : bool, False to run the best estimate alone beyond a cast

    Returns
    -------
    list of (lead [days], cast time, target time, Dataset on member and depth)
    """
    lake = site.lake
    forcing = prepare_forcing(site.weather, lake) if forcing is None else forcing
    casts = natural(site)
    times = np.sort(casts["time"].unique()).astype("datetime64[ns]")
    chosen, targets = apart(times, EVERY), apart(times, TARGETS)
    found, state, before = [], None, forcing["time"].values[0]
    for cast in chosen:
        hour = pd.Timestamp(cast).round("h")
        part = forcing.sel(time=slice(before, hour - pd.Timedelta("1h")))
        run = follow(
            lake, part, casts[casts["time"] == cast].assign(time=hour), parameters=parameters, members=members,
            seed=seed, state=state, every=[hour], assumed=assumed,
        )  # fmt: skip
        state, before = end_state(run), np.datetime64(hour)
        days = (targets - cast) / np.timedelta64(1, "D")
        mine = targets[(days >= LEADS[0][0] - 0.5) & (days <= LEADS[-1][1] + 0.5)]
        mine = mine[~np.isin(mine, cast)]
        mine = mine[mine <= forcing["time"].values[-1]]
        if not mine.size:
            continue
        start, values = state, run_parameters(run)
        if not all_members:
            start = state.isel(member=[0])
            values = values.isel(member=[0])
        ahead = forcing.sel(time=slice(hour, pd.Timestamp(mine[-1]) + pd.Timedelta("1h")))
        later = simulate(lake, ahead, parameters=values, state=start, every=mine)
        seen = at_casts(later, on_grid(casts[casts["time"].isin(mine)]))
        for k, target in enumerate(mine):
            lead = (target - cast) / np.timedelta64(1, "D")
            found.append((lead, cast, target, seen.isel(time=k)))
    return found
