"""What a reading is worth later on: errors by days since the last cast, beside the rivals."""

import numpy as np
import pandas as pd
import xarray as xr

from ..column import end_state, follow, run_parameters, simulate
from ..strata.spread import SOON
from ..weather import prepare_forcing
from .accuracy import (
    FORTNIGHT,
    GRID,
    TARGETS,
    apart,
    at_casts,
    band_share,
    fortnight_rival,
    on_grid,
    score,
)
from .observed import natural

LEADS = ((1, 10), (11, 21), (22, 35), (36, 50), (51, 75))  # days since the last cast
EVERY = 27  # days at least between the casts that are followed
MONTHS = {5: "may", 6: "june", 7: "july"}  # of which one cast alone is weighed
AFTER_ONE = ((1, 35), (36, 75))  # days since it
BEFORE_ONE = 400  # days of weather before it: a whole year forgets any start
HOUR = np.timedelta64(1, "h")
HOWS = {
    "followed": "followed, middle of the members",
    "best": "followed, best estimate",
    "free": "free run",
    "lastcast": "last cast",
    "lastchange": "last cast and the usual change",
    "fortnight": "fortnight mean of other years",
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
            lake, part, casts[casts["time"] == cast].assign(time=hour), parameters=parameters,
            members=members, seed=seed, state=state, every=[hour], assumed=assumed,
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


def leads_table(site, forcing, *, members=24):
    """Scores by lead of a followed water and of its rivals, on the same pairs of casts.

    Returns
    -------
    dict: ``<how>_<first>to<last>`` -> scores, the share inside the 80 % band among them
    """
    found = followed(site, forcing=forcing, members=members)
    observed = on_grid(natural(site))
    targets = np.unique([target for _, _, target, _ in found])
    free = at_casts(simulate(site.lake, forcing, every=targets), observed.sel(time=targets))
    usual = fortnight_rival(observed, observed)
    usual = usual.where(_near_other_years(observed["time"].values), np.nan)
    out = {}
    for first, last in LEADS:
        mine = [row for row in found if first - 0.5 <= row[0] <= last + 0.5]
        if not mine:
            continue
        times = [target for _, _, target, _ in mine]
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
            out[f"{how}_{first}to{last}"] = score(run.isel(time=whole), true.isel(time=whole))
        how = "soon" if last <= SOON else "late"
        out[f"followed_{first}to{last}"]["band80_share"] = band_share(seen, true, how=how)
        out[f"followed_{first}to{last}"]["casts"] = len(mine)
    return out


def _near_other_years(times):
    """Which casts have one within a fortnight's half of their date in another year."""
    stamps = pd.DatetimeIndex(times)
    day, year = stamps.day_of_year.to_numpy(), stamps.year.to_numpy()
    near = (np.abs(day[:, None] - day) <= FORTNIGHT) & (year[:, None] != year)
    return xr.DataArray(near.any(axis=1), dims="time", coords={"time": times})


def _carried(observed, rows, usual):
    """The last cast as a forecast, with the usual change between the fortnights where given."""
    casts = observed.sel(time=[cast for _, cast, _, _ in rows])
    out = observed.sel(time=[target for _, _, target, _ in rows]).copy(deep=True)
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


def single_casts(site, forcing, *, members=24):
    """What one cast in May, June or July is worth: errors of later casts with it and without any.

    In each year the cast nearest the month's middle alone is followed, best estimate and members
    as ever; the run without readings is scored on the same later casts.

    Returns
    -------
    dict: ``one_<month>_<first>to<last>`` and ``none_<month>_<first>to<last>`` -> scores
    """
    casts = natural(site)
    times = pd.DatetimeIndex(np.sort(casts["time"].unique()))
    targets = apart(times.to_numpy("datetime64[ns]"), TARGETS)
    observed = on_grid(casts)
    free = at_casts(simulate(site.lake, forcing, every=targets), observed.sel(time=targets))
    out = {}
    for number, month in MONTHS.items():
        pairs = []
        for year in times.year.unique():
            mine = times[(times.year == year) & (times.month == number)]
            if mine.size:
                cast = mine[np.abs(mine.day - 15).argmin()]
                pairs += _after_one(site, forcing, casts, cast, targets, members)
        for first, last in AFTER_ONE:
            chosen = [pair for pair in pairs if first - 0.5 <= pair[0] <= last + 0.5]
            if not chosen:
                continue
            when = [target for _, target, _ in chosen]
            true = observed.sel(time=when)
            seen = xr.concat([pair[2] for pair in chosen], "time", join="override")
            middle = seen.transpose("member", "time", "depth").median("member")
            without = free.isel(member=0, drop=True).sel(time=when)
            out[f"one_{month}_{first}to{last}"] = score(middle, true)
            out[f"none_{month}_{first}to{last}"] = score(without, true)
    return out


def _after_one(site, forcing, casts, cast, targets, members):
    """Predictions of the casts after one that is followed alone: (lead, target, Dataset)."""
    days = (targets - cast.to_datetime64()) / np.timedelta64(1, "D")
    mine = targets[(days >= AFTER_ONE[0][0] - 0.5) & (days <= AFTER_ONE[-1][1] + 0.5)]
    mine = mine[mine <= forcing["time"].values[-1]]
    if not mine.size:
        return []
    part = forcing.sel(time=slice(cast - pd.Timedelta(days=BEFORE_ONE), mine[-1] + HOUR))
    hour = cast.round("h")
    run = follow(
        site.lake, part, casts[casts["time"] == cast].assign(time=hour), members=members,
        every=mine,
    )  # fmt: skip
    seen = at_casts(run, on_grid(casts[casts["time"].isin(mine)]))
    leads = (mine - cast.to_datetime64()) / np.timedelta64(1, "D")
    return [(lead, target, seen.isel(time=k)) for k, (lead, target) in
            enumerate(zip(leads, mine, strict=True))]  # fmt: skip
