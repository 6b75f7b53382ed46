"""The filter's constants tried one at a time on every open water, and how long following takes.

As in ``choices``: for each water the table shows what the mean of the other four would have
chosen, and what that costs or gains on the water itself, by days since the last cast.
"""

import time

import numpy as np
import xarray as xr

from ..column import follow
from ..column.following.analysis import Following
from ..weather import prepare_forcing
from .accuracy import on_grid, score
from .leads import followed
from .observed import SITES, beaverdam, natural, observations_folder

SHIPPED = "as shipped"
SPANS = ((1, 10), (11, 35), (36, 75))  # days since the last cast
WHATS = ("rmse_c", "thermocline_mae_m")
SEEDS = (0, 1)  # whose errors are averaged: members are drawn
TIMED_CASTS = 24
TIMED_YEARS = np.timedelta64(3 * 8766, "h")
TRIED = {
    SHIPPED: {},
    "column errs 1 degC": {"column": 1.0},
    "column errs 1.5 degC": {"column": 1.5},
    "column errs 3 degC": {"column": 3.0},
    "column errs 6 degC": {"column": 6.0},
    "memory 100 days": {"wander_days": 100.0},
    "memory 1000 days": {"wander_days": 1000.0},
    "stray 0.3 degC": {"stray": 0.3},
    "stray 0.6 degC": {"stray": 0.6},
    "no drift, as before": {"drift": 0.0, "stray": 0.3},
    "drift 0.03 degC a day": {"drift": 0.03},
    "drift 0.1 degC a day": {"drift": 0.1},
    "shift 0.15 m": {"shift": 0.15},
    "shift 0.6 m": {"shift": 0.6},
    "reach 2 m": {"near": 2.0},
    "reach 5 m": {"near": 5.0},
    "reach 8 m": {"near": 8.0},
    "lean 0": {"lean": 0.0},
    "lean 0.3 m, as before": {"lean": 0.3},
    "spread given back 0": {"relax": 0.0},
    "spread given back 0.6": {"relax": 0.6},
}


def errors_by_span(site, forcing, observed, assumed):
    """Errors (spans, whats) of the middle of the members, means over seeds."""
    errors = np.zeros((len(SPANS), len(WHATS)))
    for seed in SEEDS:
        found = followed(site, forcing=forcing, assumed=assumed, seed=seed)
        for s, (first, last) in enumerate(SPANS):
            mine = [row for row in found if first - 0.5 <= row[0] <= last + 0.5]
            seen = xr.concat([row[3] for row in mine], "time", join="override")
            middle = seen.transpose("member", "time", "depth").median("member")
            told = score(middle, observed.sel(time=[row[2] for row in mine]))
            errors[s] += [told[what] / len(SEEDS) for what in WHATS]
    return errors


def errors_of_assumptions(sites, tried=None):
    """Errors on every water: array (choices, waters, spans, whats)."""
    tried = TRIED if tried is None else tried
    errors = np.empty((len(tried), len(sites), len(SPANS), len(WHATS)))
    for w, site in enumerate(sites.values()):
        forcing, observed = prepare_forcing(site.weather, site.lake), on_grid(natural(site))
        for c, change in enumerate(tried.values()):
            errors[c, w] = errors_by_span(site, forcing, observed, Following(**change))
    return errors


def relative_errors(errors):
    """Mean over spans and both errors, 1 as shipped: array (choices, waters)."""
    return (errors / errors[:1]).mean(axis=(2, 3))


def left_out(errors):
    """For each water the assumption that the others would choose: water -> its name."""
    relative = relative_errors(errors)
    best = [int(np.delete(relative, w, axis=1).mean(axis=1).argmin()) for w in range(len(SITES))]
    return dict(zip(SITES, [list(TRIED)[c] for c in best], strict=True))


def seconds_for_three_years(folder):
    """Seconds, and seconds of the processor, to follow three years of Beaverdam with 24 casts."""
    site = beaverdam(folder)
    casts = natural(site)
    times = np.unique(casts["time"])
    last = times[-1] + np.timedelta64(1, "D")
    times = times[times > last - TIMED_YEARS]
    chosen = times[np.linspace(0, times.size - 1, TIMED_CASTS).round().astype(int)]
    forcing = prepare_forcing(site.weather, site.lake)
    part = forcing.sel(time=slice(last - TIMED_YEARS, last))
    chosen = casts[casts["time"].isin(chosen)]
    early = part.isel(time=slice(0, 24 * 40))
    warm_up = chosen[chosen["time"] == chosen["time"].iloc[0]].assign(time=early["time"].values[99])
    follow(site.lake, early, warm_up)  # compiling is not following
    began, used = time.perf_counter(), time.process_time()
    follow(site.lake, part, chosen)
    return time.perf_counter() - began, time.process_time() - used


def measure():
    """Keys ``following_<assumption>_<water>_<first>to<last>_<what>``, who would choose, seconds."""
    folder = observations_folder()
    sites = {name: read(folder) for name, read in SITES.items()}
    errors = errors_of_assumptions(sites)
    relative, names, figures = relative_errors(errors), list(TRIED), {}
    for c, choice in enumerate(names):
        for w, name in enumerate(sites):
            for s, (first, last) in enumerate(SPANS):
                for k, what in enumerate(WHATS):
                    key = f"following_{_key(choice)}_{name}_{first}to{last}_{what}"
                    figures[key] = float(errors[c, w, s, k])
            figures[f"following_{_key(choice)}_{name}_relative"] = float(relative[c, w])
        figures[f"following_{_key(choice)}_mean_relative"] = float(relative[c].mean())
    for w, (name, choice) in enumerate(left_out(errors).items()):
        figures[f"following_left_out_{name}"] = choice
        figures[f"following_left_out_{name}_relative"] = float(relative[names.index(choice), w])
    wall, used = seconds_for_three_years(folder)
    figures["following_three_years_24_casts_s"] = wall
    figures["following_three_years_24_casts_cpu_s"] = used
    return figures


def table(figures):
    """Each assumption tried: relative error by water, mean errors by days since the last cast."""
    waters = list(SITES)
    heads = "".join(f"{f'{a}-{b} days':>14}" for a, b in SPANS)
    lines = [
        "relative error (1 is as shipped), then mean RMSE degC / thermocline m over waters",
        f"{'':<24}" + "".join(f"{w:>13}" for w in waters) + f"{'mean':>8}" + heads,
    ]
    for choice in TRIED:
        key = f"following_{_key(choice)}"
        cells = "".join(f"{figures[f'{key}_{w}_relative']:13.3f}" for w in waters)
        cells += f"{figures[f'{key}_mean_relative']:8.3f}"
        for first, last in SPANS:
            means = [
                np.mean([figures[f"{key}_{w}_{first}to{last}_{what}"] for w in waters])
                for what in WHATS
            ]
            cells += f"{f'{means[0]:.2f}/{means[1]:.2f}':>14}"
        lines.append(f"{choice:<24}{cells}")
    lines.append("what the other waters would choose, and its error on the water left out:")
    for water in waters:
        relative = figures[f"following_left_out_{water}_relative"]
        lines.append(f"  {water:<14}{figures[f'following_left_out_{water}']}: {relative:.3f}")
    wall, used = (figures[f"following_three_years_24_casts{unit}"] for unit in ("_s", "_cpu_s"))
    lines.append(f"three years with 24 casts: {wall:.1f} s, of the processor {used:.1f} s")
    return "\n".join(lines)


def _key(choice):
    return "".join(c if c.isalnum() else "_" for c in choice.lower())
