"""What a front note is worth: on measured water, and against the column's own later course.

Measured: every front in Falling Creek's sensor string of July to October 2018, computed as if at
the noon after it, with parameters fitted only on casts before it; beside it "no change" (the
string's own value before the front, which no angler without a string has), and that same value
with the computed change added to it.

Self-consistency, so called: days until the thermocline is back, from the noon after each front
under other years' weather, against the same column under the weather that came; beside the
trade's rule of two or three hot calm days. It tells what not knowing the weather costs, and
nothing of whether the column is right.
"""

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from ..club import read_club
from ..column.fit import fit_lake
from ..column.parameters import default_parameters
from ..column.run import end_state, simulate
from ..fronts.water import next_noon, water_through
from ..strata import front_effects, fronts, measured_profiles, run_layers, stratification
from ..strata.recovery import TRADE_RULE, trade_rule_days
from ..strata.spread import MISSES, widened
from ..strata.traces import HOUR, forward_traces
from ..weather import lake_weather, prepare_forcing
from .observed import beaverdam, falling_creek, observations_folder

MEMBERS = 24
DEEP = (7.0, 8.0, 9.0)  # m, depths of the string averaged as deep water
DEMO_SINCE = 2021  # first year of the demo whose fronts are looked at
HORIZON = 30.0  # days
USUAL_DAYS = 14  # whose noon values give "no change" its range
RANGE = (0.1, 0.9)


def measure():
    """All figures of both tables, as one flat dict."""
    folder = observations_folder()
    figures = on_measured_water(folder)
    site = beaverdam(folder)
    forcing = prepare_forcing(site.weather, site.lake)
    figures |= self_consistency(site.lake, *lengthened(forcing), prefix="front_beaverdam")
    club = read_club()
    lake = next(iter(club.lakes.values()))
    forcing = prepare_forcing(lake_weather(club, lake), lake)
    past = {year: (forcing, None) for year in range(DEMO_SINCE, 2027)}
    return figures | self_consistency(lake, forcing, past, prefix="front_demo")


def string_profiles(folder):
    """The sensor string as profiles on (time, depth)."""
    path = folder / "falling-creek-2018" / "string_hourly.csv"
    table = pd.read_csv(path, parse_dates=["datetime_utc"]).rename(
        columns={"datetime_utc": "time", "depth_m": "depth", "temp_c": "temperature"}
    )
    return measured_profiles(table[["time", "depth", "temperature"]])


def on_measured_water(folder):
    """Skill of the note on the fronts of Falling Creek, 2018."""
    site = falling_creek(folder)
    lake, forcing = site.lake, prepare_forcing(site.weather, site.lake)
    string = string_profiles(folder)
    first, last = (pd.Timestamp(string["time"].values[i]) for i in (0, -1))
    table = fronts(forcing)
    table = table[(table["start"] > first + pd.Timedelta("1D")) & (table["end"] < last)]
    rows = []
    with tempfile.TemporaryDirectory() as states:
        for front in table.to_dict("records"):
            row = _one_front(site, lake, forcing, string, front, Path(states))
            if row is not None:
                rows.append(row)
    rows = pd.DataFrame(rows)
    figures = {
        "front_measured_fronts": len(rows),
        "front_measured_casts_least": int(rows["casts"].min()),
    }
    for name, unit in (("mixed", "m"), ("deep", "c")):
        truth, before = rows[f"{name}_after"], rows[f"{name}_before"]
        low, middle, high = (rows[f"{name}_{q}"] for q in ("low", "middle", "high"))
        added = before + rows[f"{name}_change"]
        figures |= {
            f"front_{name}_error_{unit}": _error(middle, truth),
            f"front_{name}_bias_{unit}": float((middle - truth).mean()),
            f"front_{name}_covered_pct": _covered(truth, low, high),
            f"front_{name}_no_change_error_{unit}": _error(before, truth),
            f"front_{name}_no_change_covered_pct": _covered(
                truth, rows[f"{name}_usual_low"], rows[f"{name}_usual_high"]
            ),
            f"front_{name}_change_added_error_{unit}": _error(added, truth),
            f"front_{name}_last_cast_error_{unit}": _error(rows[f"{name}_cast"], truth),
        }
        strong = rows["end"].isin(_strongest(rows)["end"])
        figures |= {
            f"front_{name}_strong_error_{unit}": _error(middle[strong], truth[strong]),
            f"front_{name}_strong_no_change_error_{unit}": _error(before[strong], truth[strong]),
            f"front_{name}_strong_change_added_error_{unit}": _error(added[strong], truth[strong]),
        }
    wet = rows["rain"] >= 25.0
    figures["front_wet_fronts"] = int(wet.sum())
    figures["front_wet_deep_bias_c"] = float(
        (rows["deep_change"] - (rows["deep_after"] - rows["deep_before"]))[wet].mean()
    )
    return figures


def _strongest(rows):
    """The third of the fronts that changed the measured mixed layer most."""
    change = (rows["mixed_after"] - rows["mixed_before"]).abs()
    return rows[change >= change.quantile(2 / 3)]


def _one_front(site, lake, forcing, string, front, states):
    noon = next_noon(front["end"], lake.longitude)
    start = front["start"]
    before_noon = next_noon(start, lake.longitude)
    before_noon -= pd.Timedelta(days=0 if before_noon == start else 1)
    known = string["time"].to_index()
    if before_noon not in known or noon not in known:
        return None
    casts = site.casts[site.casts["time"] < start]
    if casts.empty:
        return None
    history = forcing.sel(time=slice(None, noon - HOUR))
    parameters = fit_lake(lake, history, casts, members=MEMBERS, seed=20, hold_out=False)
    water = water_through(
        lake, history, front, noon - HOUR, parameters, readings=casts, folder=states
    )
    usual = pd.date_range(before_noon - pd.Timedelta(days=USUAL_DAYS - 1), before_noon, freq="D")
    seen = string.sel(time=[time for time in usual if time in known])
    layers = stratification(seen)
    after = stratification(string.sel(time=[noon]))
    last = casts[casts["time"] == casts["time"].max()]
    cast = measured_profiles(last[["time", "depth", "temperature"]])
    row = {
        "start": start,
        "end": front["end"],
        "rain": front["rain"],
        "casts": casts["time"].nunique(),
        "mixed_cast": float(stratification(cast)["mixed_layer_depth"][0]),
        "deep_cast": float(_deep(cast)[0]),
    }
    named = {
        "mixed": (
            layers["mixed_layer_depth"].to_numpy(),
            float(after["mixed_layer_depth"][0]),
            water.before["mixed_layer_depth"].to_numpy(),
            water.after["mixed_layer_depth"].to_numpy(),
        ),
        "deep": (
            _deep(seen),
            float(_deep(string.sel(time=[noon]))[0]),
            _deep(water.before),
            _deep(water.after),
        ),
    }
    for name, (past, truth, was, now) in named.items():
        own = MISSES["fitted"]
        error = own.line if name == "mixed" else own.temperature[0]
        low, _, high = widened(np.quantile(now, (0.1, 0.5, 0.9)), error)
        usual_low, usual_high = np.nanquantile(past, RANGE)
        row |= {
            f"{name}_before": past[-1],
            f"{name}_after": truth,
            f"{name}_low": low,
            f"{name}_middle": np.median(now),
            f"{name}_high": high,
            f"{name}_change": np.median(now - was),
            f"{name}_usual_low": usual_low,
            f"{name}_usual_high": usual_high,
        }
    return row


def _deep(profiles):
    """Mean temperature at the string's deep depths, of each profile."""
    depth = profiles["depth"].to_numpy()
    values = profiles["water_temperature"].transpose(..., "depth").to_numpy()
    known = np.isfinite(values).any(axis=0)
    return np.array(
        [np.interp(DEEP, depth[known], row[known]).mean() for row in np.atleast_2d(values)]
    )


def lengthened(forcing):
    """A record of four years lengthened backward by itself, and each year's weather of the others.

    Returns
    -------
    forcing : xarray.Dataset
        The record.
    years : dict
        Year -> (record with a copy four years earlier, the other years as that copy labels them).
    """
    times = forcing["time"].to_index()
    earlier = forcing.assign_coords(time=times - pd.DateOffset(years=4))
    own = sorted({int(year) for year in times.year})[:4]
    earlier = earlier.sel(time=slice(None, times[0] - HOUR))
    both = xr.concat([earlier, forcing], "time", join="exact", combine_attrs="override")
    return forcing, {year: (both, [other - 4 for other in own if other != year]) for year in own}


def self_consistency(lake, forcing, years, *, prefix):
    """Days until the thermocline is back: forecast against the weather that came.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared: the weather that came.
    years : dict
        Year whose fronts are looked at -> (record to draw from, years to draw; None: all past).
    prefix : str
        Of the figures' names.

    Returns
    -------
    dict
    """
    parameters = default_parameters(lake)
    table = fronts(forcing)
    zone = float(round(lake.longitude / 15.0))
    state, rows, done = None, [], None
    times = forcing["time"].to_index()
    for front in table[table["start"].dt.year.isin(years)].to_dict("records"):
        begin = (front["start"] - pd.Timedelta(days=3)).floor("D")
        noon = next_noon(front["end"], lake.longitude)
        if begin <= times[0] + pd.Timedelta(days=60) or noon + pd.Timedelta(days=36) > times[-1]:
            continue
        if state is None or done < begin:
            part = forcing.isel(
                time=slice(0 if state is None else times.searchsorted(done),
                           times.searchsorted(begin))
            )  # fmt: skip
            state = end_state(simulate(lake, part, parameters=parameters, state=state))
            done = begin
        part = forcing.isel(time=slice(times.searchsorted(done), times.searchsorted(noon)))
        run = simulate(lake, part, parameters=parameters, state=state)
        past = run_layers(run, lake)
        real = forcing.isel(
            time=slice(times.searchsorted(noon), times.searchsorted(noon) + 35 * 24)
        )
        came = run_layers(simulate(lake, real, parameters=parameters, state=end_state(run)), lake)
        truth = _days(front, past, came)
        if truth is None or not truth > 0:
            continue
        record, chosen = years[front["start"].year]
        traces = forward_traces(
            lake, record, end_state(run), noon - HOUR, 35, parameters=parameters, years=chosen
        )
        ahead = run_layers(traces, lake)
        told = np.array(
            [_days(front, past, ahead.isel(trace=i)) for i in range(ahead.sizes["trace"])]
        )
        two, three = trade_rule_days(front["end"], real, utc_offset=zone)
        rows.append((truth, *np.quantile(np.minimum(told, HORIZON), (*RANGE, 0.5)),
                     len(told), two, three))  # fmt: skip
    return _consistency_figures(rows, prefix)


def _consistency_figures(rows, prefix):
    truth, low, high, middle, count, two, three = (
        np.array(x, float) for x in zip(*rows, strict=True)
    )
    truth, two = np.minimum(truth, HORIZON), np.minimum(two, HORIZON)
    rule = float(np.mean(TRADE_RULE))
    inside = (truth >= min(TRADE_RULE) - 0.5) & (truth <= max(TRADE_RULE) + 0.5)
    return {
        f"{prefix}_recoveries": len(truth),
        f"{prefix}_traces_least": int(count.min()),
        f"{prefix}_recovery_days_median": float(np.median(truth)),
        f"{prefix}_not_back_in_30_days_pct": 100.0 * float((truth >= HORIZON).mean()),
        f"{prefix}_error_days": _error(middle, truth),
        f"{prefix}_bias_days": float((middle - truth).mean()),
        f"{prefix}_covered_pct": _covered(truth, low - 0.5, high + 0.5),
        f"{prefix}_rule_error_days": _error(np.full(truth.size, rule), truth),
        f"{prefix}_rule_covered_pct": 100.0 * float(inside.mean()),
        f"{prefix}_rule_in_real_weather_error_days": _error(two, truth),
        f"{prefix}_rule_in_real_weather_came_pct": 100.0 * float((three < HORIZON).mean()),
    }


def _days(front, past, ahead):
    """Days until the thermocline was back in one course of the weather; None where not defined."""
    whole = xr.concat([past, ahead], "time", join="exact", combine_attrs="override")
    table = front_effects(pd.DataFrame([front]), whole)
    if table.empty or not bool(table["layered_before"].iloc[0]):
        return None
    return float(table["thermocline_days"].iloc[0])


def _error(estimate, truth):
    return float(np.mean(np.abs(np.asarray(estimate) - np.asarray(truth))))


def _covered(truth, low, high):
    return 100.0 * float(np.mean((truth >= low) & (truth <= high)))


def table(figures):
    """Both tables, for people."""

    def value(name, digits=2):
        return f"{figures[name]:.{digits}f}"

    lines = [
        f"Falling Creek 2018, {figures['front_measured_fronts']} fronts in the sensor string, "
        f"fitted on the {figures['front_measured_casts_least']} or more casts before each",
        f"{'':<34}{'mixed layer, m':>16}{'deep water, °C':>16}",
    ]
    for label, key, digits in (
        ("mean error", "error", 2), ("  bias", "bias", 2), ("  covered, %", "covered_pct", 0),
        ("no change: mean error", "no_change_error", 2),
        ("  covered by two weeks' range, %", "no_change_covered_pct", 0),
        ("measured before + computed change", "change_added_error", 2),
        ("last cast, unchanged", "last_cast_error", 2),
        ("third that changed most: error", "strong_error", 2),
        ("  no change", "strong_no_change_error", 2),
        ("  measured before + change", "strong_change_added_error", 2),
    ):  # fmt: skip
        cells = []
        for name, unit in (("mixed", "m"), ("deep", "c")):
            tail = "" if key.endswith("pct") else f"_{unit}"
            cells.append(value(f"front_{name}_{key}{tail}", digits))
        lines.append(f"{label:<34}{cells[0]:>16}{cells[1]:>16}")
    lines += [
        f"computed less measured change of deep water in the {figures['front_wet_fronts']} fronts "
        f"with 25 mm of rain or more: {value('front_wet_deep_bias_c')} °C (inflow is not computed)",
        "",
        "Self-consistency: days until the thermocline is back, forecast at the noon after from "
        "other years' weather, against the weather that came",
        f"{'':<34}{'Beaverdam':>16}{'demo (invented)':>16}",
    ]
    for label, key, digits in (
        ("fronts that took or lowered it", "recoveries", 0), ("years to draw from, least",
        "traces_least", 0), ("median days", "recovery_days_median", 1),
        ("not back in 30 days, %", "not_back_in_30_days_pct", 0), ("mean error, days",
        "error_days", 1), ("  bias, days", "bias_days", 1), ("  covered, %", "covered_pct", 0),
        ("trade's rule, 2-3 days: error", "rule_error_days", 1),
        ("  covered (1.5 to 3.5 days), %", "rule_covered_pct", 0),
        ("  two hot calm days that came", "rule_in_real_weather_error_days", 1),
    ):  # fmt: skip
        cells = [value(f"front_{place}_{key}", digits) for place in ("beaverdam", "demo")]
        lines.append(f"{label:<34}{cells[0]:>16}{cells[1]:>16}")
    return "\n".join(lines)
