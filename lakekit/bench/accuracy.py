"""Accuracy of the water column on five measured waters: untuned, fitted, and followed.

Untuned: the lake file alone, each water left out of the choice of constants. Fitted: at most eight
casts of one year (or of the season before July), scored on what came from other years (or after).
Followed: a cast every four weeks, scored on later casts by days since the last one. Rivals without
physics stand beside: the mean of the casts of the same fortnight in other years, the eight casts of
the fit interpolated across the year, the last cast, and that with the fortnights' usual change.
"""

import numpy as np
import pandas as pd
import xarray as xr

from ..column import end_state, make_basin, simulate
from ..column.fit import fit_lake
from ..column.parameters import (
    default_parameters,
    draw_parameters,
)
from ..strata import season_dates, stratification
from ..weather import prepare_forcing
from . import spread
from .observed import (
    SITES,
    natural,
    observations_folder,
    with_mean_wind,
    without_radiation,
)

GRID = np.arange(0.0, 23.01, 0.25)  # m, on which casts and columns are compared
CASTS = 8
MEMBERS = 24
FORTNIGHT = 7  # days either side
UPPER = 5.0  # m
TARGETS = 6  # days at least between the casts of daily strings that are scored
# Years with eight casts or more to fit on, or the date before which a single season is fitted
SPLITS = {
    "beaverdam": (2014, 2015, 2016), "fallingcreek": "2018-07-01", "carvins": (2014, 2015),
    "crampton": (2018, 2019), "barco": (2019,),
}  # fmt: skip
KEYS = (
    "rmse_c", "surface_rmse_c", "upper_rmse_c", "bias_c", "thermocline_mae_m", "oxygen3_mae_m",
)  # fmt: skip


def on_grid(casts):
    """Casts as a Dataset on (time, depth): the 0.25 m grid, NaN outside what was read."""
    times, read, fields = [], [], {"temperature": [], "oxygen": []}
    for time, cast in casts.groupby("time"):
        times.append(time)
        seen = cast.dropna(subset=["temperature"])["depth"].to_numpy()
        near = np.abs(GRID[:, None] - seen).min(axis=1, initial=np.inf) <= 0.5 * np.diff(GRID)[0]
        read.append(near)
        for name, rows in fields.items():
            known = cast.dropna(subset=[name]).drop_duplicates("depth").sort_values("depth")
            depth = known["depth"].to_numpy()
            if depth.size < 2:
                rows.append(np.full(GRID.size, np.nan))
            else:
                rows.append(np.interp(GRID, depth, known[name], left=np.nan, right=np.nan))
    return xr.Dataset(
        {
            "water_temperature": (("time", "depth"), np.array(fields["temperature"])),
            "dissolved_oxygen": (("time", "depth"), np.array(fields["oxygen"])),
            "read": (("time", "depth"), np.array(read)),
        },
        coords={"time": pd.DatetimeIndex(times), "depth": GRID},
    )


def at_casts(run, observed):
    """A run at the hours and depths of the casts, on the grid as the casts are."""
    nearest = run[["water_temperature", "dissolved_oxygen"]].sel(
        time=observed["time"].values, method="nearest"
    )
    out = {}
    for name in ("water_temperature", "dissolved_oxygen"):
        values = nearest[name].values
        grid = np.full((*values.shape[:2], GRID.size), np.nan)
        for member, cast in np.ndindex(values.shape[:2]):
            known = np.isfinite(values[member, cast])
            depth = run["depth"].values[known]
            seen = np.interp(GRID, depth, values[member, cast][known])
            read = observed["read"].values[cast] if "read" in observed else ()
            if np.sum(read) >= 2:  # coarse strings see coarse profiles of the column too
                seen = np.interp(GRID, GRID[read], seen[read])
            grid[member, cast] = seen
        grid[:, ~np.isfinite(observed[name].values)] = np.nan
        out[name] = (("member", "time", "depth"), grid)
    return xr.Dataset(out, coords={"time": observed["time"].values, "depth": GRID})


def score(simulated, observed):
    """Errors of profiles on (time, depth): a dict of rmse, surface, thermocline and oxygen."""
    error = simulated["water_temperature"].values - observed["water_temperature"].values
    if not np.isfinite(error).any():
        return dict.fromkeys(KEYS, np.nan)
    shallow = error[:, observed["depth"].values <= 1.0]
    upper = error[:, observed["depth"].values <= UPPER]
    deepest = np.where(np.isfinite(observed["water_temperature"].values), GRID, -1.0).max(axis=1)
    out = {
        "rmse_c": float(np.sqrt(np.nanmean(error**2))),
        "surface_rmse_c": float(np.sqrt(np.nanmean(shallow**2))),
        "upper_rmse_c": float(np.sqrt(np.nanmean(upper**2))),
        "bias_c": float(np.nanmean(error)),
    }
    found, true = stratification(simulated), stratification(observed)
    for name, key in (
        ("thermocline_depth", "thermocline_mae_m"),
        ("oxygen_floor_depth", "oxygen3_mae_m"),
    ):
        chosen = np.ones(deepest.size, bool)
        if name == "oxygen_floor_depth":
            chosen = np.isfinite(observed["dissolved_oxygen"].values).any(axis=1)
        a, b = found[name].values, true[name].values
        miss = np.where(np.isnan(a), deepest, a) - np.where(np.isnan(b), deepest, b)
        out[key] = float(np.mean(np.abs(miss[chosen]))) if chosen.any() else np.nan
    return out


def date_errors(run, observed):
    """Days by which onset and turnover miss the casts that bracket them, and onset year by year.

    A cast is layered where its top and bottom differ by more than 2 degC. Seasons whose date no
    pair of casts brackets count only when the simulated date contradicts a cast. Turnover is the
    first week without layers after August: a warm spell may lay a skin over mixed water again.
    The run is judged as deep as the nearest cast reads: a string of 3 m sees no deep layers.
    """
    layered = stratification(observed)["stratified"].values
    days = pd.DatetimeIndex(observed["time"].values)
    deepest = observed["depth"].where(np.isfinite(observed["water_temperature"])).max("depth")
    reach = deepest.sel(time=run["time"], method="nearest").drop_vars("time")
    run = run[["water_temperature", "dissolved_oxygen"]].isel(member=[0])
    layers = stratification(run.where(run["depth"] <= reach))
    dates = season_dates(layers)
    errors, out = {"onset": [], "turnover": []}, {}
    for year in sorted(set(days.year)):
        mine = dates[dates["year"] == year]
        yes, no = days[(days.year == year) & layered], days[(days.year == year) & ~layered]
        if mine.empty or not len(yes):
            continue
        before, after = no[no < yes[0]], no[no > yes[-1]]
        spans = {
            "onset": (before[-1] if len(before) else None, yes[0]),
            "turnover": (yes[-1], after[0] if len(after) else None),
        }
        for name, (first, last) in spans.items():
            date = mine["onset"].iloc[0] if name == "onset" else mixed_week(layers, year)
            if pd.isna(date):
                continue
            early = (first - date).days if first is not None else 0
            late = (date - last).days if last is not None else 0
            errors[name].append(max(early, late, 0))
            if name == "onset":
                told = {"after": first, "run": date, "by": last}
                out |= {
                    f"onset_{year}_{word}_day": float(day.day_of_year)
                    for word, day in told.items() if day is not None
                }  # fmt: skip
    misses = {f"{name}_miss_days": float(max(v)) if v else np.nan for name, v in errors.items()}
    return misses | out


def mixed_week(layers, year):
    """First day of the first seven without layers from September on; NaT where there is none."""
    autumn = layers["stratified"].isel(member=0).sel(time=slice(f"{year}-09-01", f"{year}-12-31"))
    flags = autumn.resample(time="1D").max().values.astype(bool)
    days = pd.date_range(f"{year}-09-01", periods=flags.size)
    for start in range(flags.size - 6):
        if not flags[start : start + 7].any():
            return days[start]
    return pd.NaT


def spread_casts(casts, count=CASTS):
    """Up to ``count`` casts spread evenly over those given."""
    times = np.sort(casts["time"].unique())
    if times.size > count:
        times = times[np.unique(np.linspace(0, times.size - 1, count).round().astype(int))]
    return casts[casts["time"].isin(times)]


def fortnight_rival(observed, scored):
    """The mean of the casts within a week of the same date in other years, for each cast."""
    out = scored.copy(deep=True)
    times, mine = pd.DatetimeIndex(observed["time"].values), pd.DatetimeIndex(scored["time"].values)
    for name in ("water_temperature", "dissolved_oxygen"):
        values = observed[name].values
        for k, time in enumerate(mine):
            apart = np.abs(times.day_of_year - time.day_of_year)
            other = np.asarray(times.year != time.year)
            if not other.any():
                out[name].values[k] = np.nan
                continue
            near = other & np.asarray(apart <= FORTNIGHT)
            if not near.any():
                near = other & np.asarray(apart == apart[other].min())
            out[name].values[k] = _mean_profile(values[near], scored[name].values[k])
    return out


def _mean_profile(profiles, wanted):
    known = np.isfinite(profiles)
    count = known.sum(axis=0)
    mean = np.where(
        count > 0, np.where(known, profiles, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan
    )
    good = np.isfinite(mean)
    if not good.any():
        return np.full(wanted.size, np.nan)
    return np.where(np.isfinite(wanted), np.interp(GRID, GRID[good], mean[good]), np.nan)


def interpolated_rival(few, scored):
    """The few casts of the fit carried to other years by interpolating in the day of the year."""
    out = scored.copy(deep=True)
    days = pd.DatetimeIndex(few["time"].values).day_of_year.to_numpy(float)
    order = np.argsort(days)
    wanted = pd.DatetimeIndex(scored["time"].values).day_of_year.to_numpy(float)
    for name in ("water_temperature", "dissolved_oxygen"):
        filled = np.array([_mean_profile(p[None], np.zeros(GRID.size)) for p in few[name].values])
        usable = [k for k in order if np.isfinite(filled[k]).all()]
        if not usable:
            out[name].values[:] = np.nan
            continue
        for z in range(GRID.size):
            line = np.interp(wanted, days[usable], filled[usable][:, z])
            out[name].values[:, z] = np.where(np.isfinite(scored[name].values[:, z]), line, np.nan)
    return out


def _judge(site, forcing, parameters, observed):
    """Scores of the central member, and what the ranges of all are made from."""
    times = observed["time"].values
    run = simulate(site.lake, forcing, parameters=parameters, every=times)
    seen = at_casts(run, observed)
    out = score(seen.isel(member=0, drop=True), observed)
    daily = simulate(site.lake, forcing, parameters=parameters.isel(member=[0]))
    return out | date_errors(daily, observed), spread.samples(seen, observed)


def untuned(site, forcing, *, change):
    """Scores with the constants that the other waters would choose, and with those shipped.

    Returns
    -------
    (dict of scores by how, dict of samples by how)
    """
    observed = on_grid(weekly(site))
    prior = draw_parameters(site.lake, MEMBERS, seed=1)
    moved = prior.copy()
    for name, value in change.items():
        if name in prior:
            own = prior[name]
            moved[name] = own + value if name == "longwave_bias" else own * value
    rows, samples = {}, {}
    rows["shipped"], _ = _judge(site, forcing, prior, observed)
    rows["untuned"], samples["untuned"] = _judge(site, forcing, moved, observed)
    rows["rival_fortnight"] = score(fortnight_rival(observed, observed), observed)
    return rows, samples


def fitted(site, forcing, *, splits):
    """Mean scores over splits of (casts to fit on, casts to score on), and the rivals'."""
    rows, everything, samples = (
        {"fitted": [], "rival_interpolated": [], "rival_fortnight": []},
        on_grid(site.casts),
        [],
    )
    for few, rest in splits:
        parameters = fit_lake(site.lake, forcing, few, members=MEMBERS, seed=1)
        observed = on_grid(rest)
        found, sample = _judge(site, forcing, parameters, observed)
        rows["fitted"].append({key: found[key] for key in found if not key.endswith("_day")})
        samples.append(sample)
        rows["rival_interpolated"].append(
            score(interpolated_rival(on_grid(few), observed), observed)
        )
        rows["rival_fortnight"].append(score(fortnight_rival(everything, observed), observed))
    return rows, {"fitted": spread.joined(samples)}


def restarted(site, *, first="2018-08-02", last="2018-09-12"):
    """Scores of a run that starts from a cast, shipped defaults: what the past of the water spoils.

    Falling Creek's deep water is stirred by its oxygenation until the end of July, which no lake
    file says; from the cast of the day after, and until a flood, weather alone rules.
    """
    first, last = pd.Timestamp(first), pd.Timestamp(last)
    forcing = prepare_forcing(site.weather, site.lake)
    parameters = default_parameters(site.lake)
    day = site.casts["time"].between(first, first + pd.Timedelta("1D"))
    cast = site.casts[day].sort_values("depth")
    start = cast["time"].iloc[0].floor("1h")
    before = forcing.sel(time=slice(None, start - pd.Timedelta("1h")))
    state = end_state(simulate(site.lake, before, parameters=parameters))
    depth = make_basin(site.lake).centres - float(site.lake.below_full_pond[first.month - 1])
    state["temperature"].values[0] = np.interp(depth, cast["depth"], cast["temperature"])
    after = forcing.sel(time=slice(start, last))
    run = simulate(site.lake, after, parameters=parameters, state=state, every="1h")
    observed = on_grid(site.casts).sel(time=slice(start + pd.Timedelta("1D"), last))
    return score(at_casts(run, observed).isel(member=0, drop=True), observed)


def year_splits(casts, years):
    """For each year: eight of its casts to fit on, all casts of the other years to score on."""
    year = casts["time"].dt.year
    return [(spread_casts(casts[year == y]), casts[year != y]) for y in years]


def season_split(casts, date):
    """Eight casts before a date to fit on, those after it to score on."""
    early = casts["time"] < pd.Timestamp(date)
    return [(spread_casts(casts[early]), casts[~early])]


def weekly(site):
    """The site's natural casts; of strings with one a day, one in six days."""
    casts = natural(site)
    return casts[casts["time"].isin(apart(casts["time"].unique(), TARGETS))]


def apart(times, days):
    """Those of sorted times that lie at least so many days after the last one kept."""
    kept = []
    for time in np.sort(np.unique(times)):
        if not kept or time - kept[-1] >= np.timedelta64(days, "D"):
            kept.append(time)
    return np.array(kept, "datetime64[ns]")


def _flat(figures, prefix, rows):
    for label, found in rows.items():
        many = found if isinstance(found, list) else [found]
        for key in many[0]:
            values = np.array([row[key] for row in many], float)
            if np.isfinite(values).any():
                figures[f"accuracy_{prefix}_{label}_{key}"] = float(np.nanmean(values))
        if len(many) > 1:
            figures[f"accuracy_{prefix}_{label}_worst_rmse_c"] = max(r["rmse_c"] for r in many)


def measure(progress=None):
    """Every figure of the tables, keys ``accuracy_<water>[_<forcing>]_<how>_<what>_<unit>``."""
    from .choices import TRIED, errors_of_choices, left_out  # they need this module
    from .leads import leads_table, one_reading

    say = progress or (lambda line: None)
    folder = observations_folder()
    sites = {name: read(folder) for name, read in SITES.items()}
    say("choices of constants on every water")
    chosen = left_out(errors_of_choices(sites))
    figures, bands, missed = {}, {}, {}
    for name, site in sites.items():
        say(name)
        forcing = prepare_forcing(site.weather, site.lake)
        rows, bands[name] = untuned(site, forcing, change=TRIED[chosen[name]])
        _flat(figures, name, rows)
        splits = SPLITS[name]
        casts = weekly(site)
        splits = season_split(casts, splits) if isinstance(splits, str) else [
            split for split in year_splits(casts, splits) if len(split[1])
        ]  # fmt: skip
        rows, samples = fitted(site, forcing, splits=splits)
        bands[name] |= samples
        _flat(figures, name, {(k if k == "fitted" else k + "_heldout"): v for k, v in rows.items()})
        if site.stirred is not None:
            _flat(figures, name, {"restarted": restarted(site)})
        rows, samples, missed[name] = leads_table(site, forcing)
        bands[name] |= samples
        _flat(figures, name, rows | one_reading(site, forcing))
    figures |= spread.left_out_shares(bands, missed)
    kinds = {"nosky": without_radiation, "meanwind": with_mean_wind}
    for kind, changed in kinds.items():
        site = sites["beaverdam"]
        rows, _ = untuned(site, changed(site), change={})
        _flat(figures, f"beaverdam_{kind}", {"shipped": rows["shipped"]})
    hows = {key.split("_", 2)[2] for key in figures if key.split("_", 2)[1] in sites}
    for how in sorted(how for how in hows if not how.endswith("_day")):
        values = [figures.get(f"accuracy_{name}_{how}", np.nan) for name in sites]
        if np.isfinite(values).sum() >= 3:
            figures[f"accuracy_median_{how}"] = float(np.nanmedian(values))
    return figures


ASKED = (
    ("rmse_c", "whole profile, RMSE degC", 1.8, 1.3),
    ("surface_rmse_c", "surface 0-1 m, RMSE degC", 1.3, 1.0),
    ("upper_rmse_c", "upper 5 m, RMSE degC", None, None),
    ("thermocline_mae_m", "thermocline, mean abs. error m", 0.8, 0.5),
    ("oxygen3_mae_m", "depth of 3 mg/L, mean abs. error m", 1.2, 0.8),
    ("onset_miss_days", "onset, days outside the casts", 10, 7),
    ("turnover_miss_days", "turnover, days outside the casts", 10, 7),
    ("band80_share", "temperatures inside the 80 % band", None, None),
    ("line80_share", "thermoclines inside theirs", None, None),
)


def table(figures):
    """Water by water: untuned, fitted and their rivals, then followed by days since a cast."""
    from .leads import HOWS, LEADS

    labels = {
        "untuned": "untuned", "shipped": "shipped", "rival_fortnight": "fortnight",
        "fitted": "fitted", "rival_interpolated_heldout": "8 casts",
        "rival_fortnight_heldout": "fortnight",
    }  # fmt: skip
    lines = ["all casts: untuned, shipped, rival; held-out casts: fitted, two rivals"]
    for water in (*SITES, "median"):
        prefix = f"accuracy_{water}"
        lines += ["", water, " " * 36 + "".join(f"{h:>11}" for h in labels.values())]
        for key, title, *_ in ASKED:
            cells = [figures.get(f"{prefix}_{label}_{key}", np.nan) for label in labels]
            text = "".join(f"{c:11.2f}" if np.isfinite(c) else f"{'-':>11}" for c in cells)
            lines.append(f"{title:<36}{text}")
        heads = "".join(f"{f'{a}-{b} days':>17}" for a, b in LEADS)
        lines.append(f"{'since the last cast: degC/m':<36}{heads}")
        for how, title in HOWS.items():
            cells = []
            for first, last in LEADS:
                found = [
                    figures.get(f"{prefix}_{how}_{first}to{last}_{what}", np.nan)
                    for what in ("rmse_c", "thermocline_mae_m", "band80_share")
                ]
                text = f"{found[0]:.2f}/{found[1]:.2f}" if np.isfinite(found[0]) else "-"
                cells.append(text + (f" {found[2]:.0%}" if np.isfinite(found[2]) else ""))
            lines.append(f"{title:<36}" + "".join(f"{c:>17}" for c in cells))
        lines += _single_lines(figures, prefix) + _onset_lines(figures, prefix)
    return "\n".join(lines)


def _single_lines(figures, prefix):
    """What one cast is worth in the 75 days after it, month by month."""
    cells = []
    for month in ("may", "june", "july"):
        found = [
            figures.get(f"{prefix}_{how}_{month}_{what}", np.nan)
            for how in ("one", "none") for what in ("rmse_c", "thermocline_mae_m")
        ]  # fmt: skip
        if np.isfinite(found[0]):
            cells.append(f"{month} {found[0]:.2f}/{found[1]:.2f} for {found[2]:.2f}/{found[3]:.2f}")
    return [f"{'one cast alone, for none: degC/m':<36}{'; '.join(cells)}"] if cells else []


def _onset_lines(figures, prefix):
    """Onset year by year: the last mixed cast, the run, the first layered cast."""
    lines = []
    for key, day in figures.items():
        if key.startswith(f"{prefix}_untuned_onset_") and key.endswith("_run_day"):
            year = int(key.split("_")[-3])
            after, by = (figures.get(key.replace("_run_", f"_{w}_")) for w in ("after", "by"))
            first = pd.Timestamp(year=year, month=1, day=1) - pd.Timedelta("1D")
            told = [
                "no cast" if one is None else f"{first + pd.Timedelta(one, 'D'):%d %b}"
                for one in (after, day, by)
            ]
            missed = max((after or day) - day, day - by, 0)
            lines.append(
                f"onset {year}: mixed {told[0]}, run {told[1]}, layered {told[2]}; "
                f"{missed:.0f} days outside"
            )
    return lines
