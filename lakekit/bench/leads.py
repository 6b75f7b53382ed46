"""What a reading is worth later on: errors by days since the last cast, beside the rivals."""

import numpy as np
import pandas as pd
import xarray as xr

from ..column import draw_parameters, end_state, follow, run_parameters, simulate
from ..strata.spread import cast_misses
from ..waters.knowledge import moved_table
from ..weather import prepare_forcing
from . import spread
from .accuracy import (
    FORTNIGHT,
    GRID,
    TARGETS,
    apart,
    at_casts,
    fortnight_rival,
    on_grid,
    score,
)
from .observed import natural

LEADS = ((1, 10), (11, 21), (22, 35), (36, 50), (51, 75))  # days since the last cast
EVERY = 27  # days at least between the casts that are followed
MONTHS = {5: "may", 6: "june", 7: "july"}
BEFORE_ONE = pd.Timedelta(days=730)  # of weather before a single cast
BESIDE = "followed_beside_"
HOWS = {
    "followed": "followed, middle of the members",
    "best": "followed, best estimate",
    "free": "free run",
    "lastcast": "last cast",
    "lastchange": "last cast and the usual change",
    f"{BESIDE}lastchange": "followed, on these casts",
    "fortnight": "fortnight mean of other years",
    f"{BESIDE}fortnight": "followed, on these casts",
}


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
    list of (lead [days], cast time, target time, Dataset on member and depth, what this cast and
    those before it found amiss, as from ``strata.spread.cast_misses``)
    """
    lake = site.lake
    forcing = prepare_forcing(site.weather, lake) if forcing is None else forcing
    casts = natural(site)
    times = np.sort(casts["time"].unique()).astype("datetime64[ns]")
    chosen, targets = apart(times, EVERY), apart(times, TARGETS)
    found, tables, state, before = [], [], None, forcing["time"].values[0]
    for cast in chosen:
        hour = pd.Timestamp(cast).round("h")
        part = forcing.sel(time=slice(before, hour - pd.Timedelta("1h")))
        run = follow(
            lake, part, casts[casts["time"] == cast].assign(time=hour), parameters=parameters,
            members=members, seed=seed, state=state, every=[hour], assumed=assumed,
        )  # fmt: skip
        state, before = end_state(run), np.datetime64(hour)
        tables.append(moved_table(run))
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
            missed = cast_misses(pd.concat(tables))
            found.append((lead, cast, target, seen.isel(time=k), missed))
    return found


def leads_table(site, forcing, *, members=24):
    """Scores by lead of a followed water and of its rivals, on the same pairs of casts.

    Returns
    -------
    scores : dict, ``<how>_<first>to<last>`` -> scores
    samples : dict, ``followed_<first>to<last>`` -> as from ``bench.spread.samples``, their scale
        the number of the pair of casts
    missed : list, what casts had found amiss by then, pair by pair
    """
    found = followed(site, forcing=forcing, members=members)
    observed = on_grid(natural(site))
    targets = np.unique([row[2] for row in found])
    free = at_casts(simulate(site.lake, forcing, every=targets), observed.sel(time=targets))
    usual = fortnight_rival(observed, observed)
    usual = usual.where(_near_other_years(observed["time"].values), np.nan)
    out, samples, missed = {}, {}, [row[4] for row in found]
    for first, last in LEADS:
        at = [k for k, row in enumerate(found) if first - 0.5 <= row[0] <= last + 0.5]
        if not at:
            continue
        mine = [found[k] for k in at]
        times = [row[2] for row in mine]
        true = observed.sel(time=times)
        seen = xr.concat([row[3] for row in mine], "time", join="override")
        seen = seen.transpose("member", "time", "depth")
        rows = {
            "followed": seen.median("member"),
            "best": seen.isel(member=0, drop=True),
            "free": free.isel(member=0, drop=True).sel(time=times),
            "lastcast": _carried(observed, mine, None),
            "lastchange": _carried(observed, mine, usual),
            "fortnight": usual.sel(time=times),
        }
        for how, run in rows.items():
            whole = np.isfinite(run["water_temperature"].values).any(axis=1)
            if whole.mean() < 0.5:
                continue
            served = true.isel(time=whole)
            out[f"{how}_{first}to{last}"] = score(run.isel(time=whole), served)
            if f"{BESIDE}{how}" in HOWS:  # a rival does not serve every cast
                beside = score(rows["followed"].isel(time=whole), served)
                out[f"{BESIDE}{how}_{first}to{last}"] = beside
        samples[f"followed_{first}to{last}"] = spread.samples(seen, true, scale=at)
        out[f"followed_{first}to{last}"]["casts"] = len(mine)
    return out, samples, missed


def one_reading(site, forcing, *, members=24, seed=0):
    """Errors of the weeks after a single cast in May, June or July, beside those without it.

    Each year's cast nearest the middle of the month is the only one that the water sees; scored on
    the casts of the 75 days after it.

    Returns
    -------
    dict: ``one_<month>`` and ``none_<month>`` -> scores; months without a cast are left out
    """
    lake, casts = site.lake, natural(site)
    observed = on_grid(casts)
    times = observed["time"].values
    targets = apart(times, TARGETS)
    out = {}
    for month, name in MONTHS.items():
        pairs, true = {"one": [], "none": []}, []
        for year in np.unique(pd.DatetimeIndex(times).year):
            middle = np.datetime64(f"{year}-{month:02d}-16", "ns")
            cast = times[np.abs(times - middle).argmin()]
            days = (targets - cast) / np.timedelta64(1, "D")
            mine = targets[(days >= LEADS[0][0] - 0.5) & (days <= LEADS[-1][1] + 0.5)]
            mine = mine[mine <= forcing["time"].values[-1]]
            hour = pd.Timestamp(cast).round("h")
            part = forcing.sel(time=slice(hour - BEFORE_ONE, hour - pd.Timedelta("1h")))
            far = abs(cast - middle) > np.timedelta64(16, "D")
            if far or not mine.size or not part["time"].size:
                continue
            ahead = forcing.sel(time=slice(hour, pd.Timestamp(mine[-1]) + pd.Timedelta("1h")))
            prior = draw_parameters(lake, members, seed)
            read = casts[casts["time"] == cast].assign(time=hour)
            runs = {
                "one": follow(lake, part, read, members=members, seed=seed, every=[hour]),
                "none": simulate(lake, part, parameters=prior, every=[hour]),
            }
            wanted = observed.sel(time=mine)
            true.append(wanted)
            for how, run in runs.items():
                values = run_parameters(run) if how == "one" else prior
                later = simulate(lake, ahead, parameters=values, state=end_state(run), every=mine)
                pairs[how].append(at_casts(later, wanted).median("member"))
        for how, parts in pairs.items():
            if parts:
                out[f"{how}_{name}"] = score(xr.concat(parts, "time"), xr.concat(true, "time"))
    return out


def _near_other_years(times):
    """Which casts have one within a fortnight's half of their date in another year."""
    stamps = pd.DatetimeIndex(times)
    day, year = stamps.day_of_year.to_numpy(), stamps.year.to_numpy()
    near = (np.abs(day[:, None] - day) <= FORTNIGHT) & (year[:, None] != year)
    return xr.DataArray(near.any(axis=1), dims="time", coords={"time": times})


def _carried(observed, rows, usual):
    """The last cast as a forecast, with the usual change between the fortnights where given."""
    casts = observed.sel(time=[row[1] for row in rows])
    out = observed.sel(time=[row[2] for row in rows]).copy(deep=True)
    for name in ("water_temperature", "dissolved_oxygen"):
        for k, wanted in enumerate(out[name].values):
            line = _filled(casts[name].values[k])
            if usual is not None:
                then, now = (
                    _filled(usual[name].sel(time=time).values) for time in (rows[k][1], rows[k][2])
                )
                line = line + now - then
            out[name].values[k] = np.where(np.isfinite(wanted), line, np.nan)
    return out


def _filled(profile):
    known = np.isfinite(profile)
    return (
        np.interp(GRID, GRID[known], profile[known]) if known.any() else np.full(GRID.size, np.nan)
    )
