"""The column's constants tried one at a time on every open water, and who would choose what.

A choice is kept only when the waters that were left out say so: for each water the table shows
what the mean of the other four would have chosen, and what that costs or gains on the water itself.
"""

import numpy as np

from ..column import default_parameters, kernel, simulate
from ..strata import stratification
from ..weather import prepare_forcing
from .accuracy import at_casts, on_grid, score, weekly
from .observed import SITES, observations_folder

SHIPPED = "as shipped"
# name -> factors on parameters (an amount for the sky), or values of kernel.MIXING by index
TRIED = {
    SHIPPED: {},
    "evaporation 0.85": {"evaporation_factor": 0.85},
    "evaporation 1.1, as before": {"evaporation_factor": 1.1},
    "shelter 0.85": {"wind_shelter": 0.85},
    "shelter 1.15": {"wind_shelter": 1.15},
    "shelter 1.3": {"wind_shelter": 1.3},
    "light 1.44 / Secchi": {"light_attenuation_factor": 1.44 / 1.7 / 1.6},
    "light 2.4 / Secchi": {"light_attenuation_factor": 2.4 / 1.7 / 1.6},
    "light 3.0 / Secchi": {"light_attenuation_factor": 3.0 / 1.7 / 1.6},
    "sun 0.95": {"shortwave_factor": 0.95},
    "sun 1.05": {"shortwave_factor": 1.05},
    "sky 6 W/m2 more": {"longwave_bias": 6.0},
    "sky 6 W/m2 less": {"longwave_bias": -6.0},
    "diffusivity 0.3": {"diffusivity_factor": 0.3 / 0.55},
    "diffusivity 0.4": {"diffusivity_factor": 0.4 / 0.55},
    "diffusivity 0.8": {"diffusivity_factor": 0.8 / 0.55},
    "diffusivity 1, published": {"diffusivity_factor": 1.0 / 0.55},
    "shear 0.8": {0: 0.8},
    "shear 1.5": {0: 1.5},
    "waves 2": {1: 2.0},
    "waves 6": {1: 6.0},
    "waves reach 1 m": {2: 1.0},
    "no convective mixing": {3: 0.0},
    "convection 0.08": {3: 0.08},
    "convection 0.125, published": {3: 0.125},
}


def tried(site, forcing, observed, change):
    """Scores of one water under one choice: RMSE [degC], thermocline [m], deep bias [degC]."""
    parameters = default_parameters(site.lake)
    mixing = list(kernel.MIXING)
    for name, value in change.items():
        if isinstance(name, int):
            mixing[name] = value
        elif name == "longwave_bias":
            parameters[name] = parameters[name] + value
        else:
            parameters[name] = parameters[name] * value
    run = simulate(
        site.lake, forcing, parameters=parameters, every=observed["time"].values,
        mixing=tuple(mixing),
    )  # fmt: skip
    seen = at_casts(run, observed).isel(member=0, drop=True)
    found = score(seen, observed)
    error = (seen["water_temperature"] - observed["water_temperature"]).values
    below = np.isfinite(error) & _below_thermocline(observed)
    deep = float(error[below].mean()) if below.any() else np.nan
    return found["rmse_c"], found["thermocline_mae_m"], deep


def _below_thermocline(observed):
    """Where a cast lies 2 m or more below its own thermocline, on (time, depth)."""
    line = stratification(observed)["thermocline_depth"].values
    return observed["depth"].values[None, :] > np.where(np.isnan(line), np.inf, line + 2.0)[:, None]


def errors_of_choices(sites):
    """Errors on every water: array (choices, waters, 3) of RMSE, thermocline and deep bias."""
    errors = np.empty((len(TRIED), len(sites), 3))
    for w, site in enumerate(sites.values()):
        observed = on_grid(weekly(site))
        forcing = prepare_forcing(site.weather, site.lake)
        for c, change in enumerate(TRIED.values()):
            errors[c, w] = tried(site, forcing, observed, change)
    return errors


def relative_errors(errors):
    """Mean of temperature's and thermocline's error, 1 as shipped: array (choices, waters)."""
    return (errors[..., :2] / errors[:1, :, :2]).mean(axis=2)


def left_out(errors):
    """For each water the choice that the others would make: water -> name of the choice."""
    relative = relative_errors(errors)
    best = [int(np.delete(relative, w, axis=1).mean(axis=1).argmin()) for w in range(len(SITES))]
    return dict(zip(SITES, [list(TRIED)[c] for c in best], strict=True))


def measure():
    """Keys ``choices_<choice>_<water>_<what>``, and what the others of each water would choose."""
    folder = observations_folder()
    sites = {name: read(folder) for name, read in SITES.items()}
    errors = errors_of_choices(sites)
    figures, relative, names = {}, relative_errors(errors), list(TRIED)
    for c, choice in enumerate(names):
        for w, name in enumerate(sites):
            for k, what in enumerate(("rmse_c", "thermocline_mae_m", "deep_bias_c")):
                figures[f"choices_{_key(choice)}_{name}_{what}"] = float(errors[c, w, k])
        figures[f"choices_{_key(choice)}_mean_relative"] = float(relative[c].mean())
    for w, (name, choice) in enumerate(left_out(errors).items()):
        figures[f"choices_left_out_{name}"] = choice
        figures[f"choices_left_out_{name}_relative"] = float(relative[names.index(choice), w])
    return figures


def _key(choice):
    return "".join(c if c.isalnum() else "_" for c in choice.lower())


def table(figures):
    """The table of choices tried: RMSE degC, thermocline m, bias below it, water by water."""
    waters = list(SITES)
    lines = [
        "RMSE degC / thermocline m (bias below the thermocline, degC); relative: 1 is as shipped",
        f"{'':<30}" + "".join(f"{w:>20}" for w in waters) + "  relative",
    ]
    for choice in TRIED:
        cells = []
        for water in waters:
            found = [
                figures[f"choices_{_key(choice)}_{water}_{what}"]
                for what in ("rmse_c", "thermocline_mae_m", "deep_bias_c")
            ]
            cells.append(f"{found[0]:.2f}/{found[1]:.2f} ({found[2]:+.1f})")
        mean = figures[f"choices_{_key(choice)}_mean_relative"]
        lines.append(f"{choice:<30}" + "".join(f"{c:>20}" for c in cells) + f"{mean:10.3f}")
    lines.append("what the other waters would choose, and its error on the water left out:")
    for water in waters:
        relative = figures[f"choices_left_out_{water}_relative"]
        lines.append(f"  {water:<14}{figures[f'choices_left_out_{water}']}: {relative:.3f}")
    return "\n".join(lines)
