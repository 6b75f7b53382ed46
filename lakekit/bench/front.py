"""What a front note is worth: on measured water, and against the column's own later course.

Measured: every front in Falling Creek's sensor string of July to October 2018, computed as if at
the noon after it, with parameters fitted only on casts before it; beside it "no change" (the
string's own value before the front, which no angler without a string has), and that same value
with the change added that is told: none for the deep water under layers. Days 1 to 3 after that
noon are computed in the weather that came, as by a forecast without error; the start depth by the
string is that of its own temperatures and the computed oxygen.

Self-consistency, so called: days until the thermocline is back, from the noon after each front
under other years' weather, against the same column under the weather that came; beside the
trade's rule of two or three hot calm days, and the half of the past years whose ten days before
that noon were most alike in air and wind. It tells what not knowing the weather costs, and nothing
of whether the column is right. "Not within 30 days", where that is said, is right where it came so.
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
from ..fronts.state import read_state
from ..fronts.water import held, next_noon, water_through
from ..strata import front_effects, fronts, measured_profiles, run_layers, stratification
from ..strata.recovery import TRADE_RULE, days_range, trade_rule_days
from ..strata.spread import MISSES, widened
from ..strata.traces import HOUR, forward_traces
from ..tactics.book import read_species
from ..weather import lake_weather, prepare_forcing
from .observed import beaverdam, falling_creek, observations_folder

MEMBERS = 24
DEEP = (7.0, 8.0, 9.0)  # m, depths of the string averaged as deep water
DEMO_SINCE = 2021  # first year of the demo whose fronts are looked at
HORIZON = 30.0  # days
USUAL_DAYS = 14  # whose noon values give "no change" its range
RANGE = (0.1, 0.9)
DAYS = (1, 2, 3)  # after the noon after the front
ALIKE = ("air_temperature", "wind_speed")  # by whose means past years are held to begin alike
ALIKE_DAYS = 10
PHASE = "summer"  # in which every front of the string is told, so that no phase moves the start


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
        for day in DAYS:
            truth = rows[f"{name}_day_{day}_truth"]
            told = rows[f"{name}_day_{day}"]
            figures |= {
                f"front_{name}_day_{day}_error_{unit}": _error(told, truth),
                f"front_{name}_day_{day}_no_change_error_{unit}": _error(before, truth),
            }
    for day in DAYS:
        truth = rows[f"start_day_{day}_truth"]
        figures |= {
            f"front_start_day_{day}_error_m": _error(rows[f"start_day_{day}"], truth),
            f"front_start_day_{day}_no_change_error_m": _error(rows["start_before"], truth),
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
    noons = [before_noon, *(noon + pd.Timedelta(days=day) for day in (0, *DAYS))]
    if any(time not in known for time in noons):
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
    return row | _days_after(lake, forcing, string, water, parameters, noon, before_noon)


def _days_after(lake, forcing, string, water, parameters, noon, before_noon):
    """Told and measured mixed layer, deep water and start depth at three noons after the noon."""
    species = read_species()["white_crappie"]
    coming = forcing.sel(time=slice(noon, noon + pd.Timedelta(days=max(DAYS)) - HOUR))
    run = simulate(lake, coming, parameters=parameters, state=water.state)
    run = run.merge(run_layers(run, lake), combine_attrs="override")
    out = {"start_before": _measured_start(string, before_noon, water.before, lake, species)}
    for day in DAYS:
        time = noon + pd.Timedelta(days=day)
        told = held(run.sel(time=time), water.deep, water.before)
        seen = string.sel(time=[time])
        state = read_state(told, lake, species, PHASE)
        out |= {
            f"mixed_day_{day}": float(told["mixed_layer_depth"].median()),
            f"mixed_day_{day}_truth": float(stratification(seen)["mixed_layer_depth"][0]),
            f"deep_day_{day}": float(np.median(_deep(told))),
            f"deep_day_{day}_truth": float(_deep(seen)[0]),
            f"start_day_{day}": state.holding.start,
            f"start_day_{day}_truth": _measured_start(string, time, told, lake, species),
        }
    return out


def _measured_start(string, time, computed, lake, species):
    """The start depth [m] by the string's temperatures, with the computed oxygen."""
    depth = computed["depth"].to_numpy()
    seen = string["water_temperature"].sel(time=time)
    known = np.isfinite(seen.to_numpy())
    values = np.interp(depth, string["depth"].to_numpy()[known], seen.to_numpy()[known])
    shape = computed["water_temperature"]
    wet = np.isfinite(shape.transpose(..., "depth").to_numpy())
    measured = shape.copy(data=np.where(wet, values, np.nan))
    names = ["dissolved_oxygen", "ice_thickness", "wind_stress", "area"]
    column = computed[names].assign(water_temperature=measured)
    return read_state(column.merge(run_layers(column, lake)), lake, species, PHASE).holding.start


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
        truth, what = _days(front, past, came)
        if truth is None or not truth > 0:
            continue
        record, chosen = years[front["start"].year]
        traces = forward_traces(
            lake, record, end_state(run), noon - HOUR, 35, parameters=parameters, years=chosen
        )
        ahead = run_layers(traces, lake)
        told = _told_days(front, past, ahead, what)
        half = _alike(record, forcing, traces["year"].to_numpy(), noon)
        alike = _told_days(front, past, ahead.isel(trace=half), what)
        two, three = trade_rule_days(front["end"], real, utc_offset=zone)
        rows.append((truth, *told, *alike, ahead.sizes["trace"], two, three, what == "broken"))
    return _consistency_figures(rows, prefix)


def _consistency_figures(rows, prefix):
    columns = np.minimum(np.array(rows, float).T, HORIZON)  # not within it is the horizon itself
    truth, low, middle, high, *alike, count, two, three, broken = columns
    apart = {}
    for what, mine in (("broken", broken == 1.0), ("deeper", broken == 0.0)):
        apart |= {
            f"{prefix}_{what}_recoveries": int(mine.sum()),
            f"{prefix}_{what}_recovery_days_median": float(np.median(truth[mine])),
            f"{prefix}_{what}_error_days": _error(middle[mine], truth[mine]),
            f"{prefix}_{what}_covered_pct": _covered(
                truth[mine], low[mine] - 0.5, high[mine] + 0.5
            ),
        }
    rule = float(np.mean(TRADE_RULE))
    inside = (truth >= min(TRADE_RULE) - 0.5) & (truth <= max(TRADE_RULE) + 0.5)
    return apart | {
        f"{prefix}_recoveries": len(truth),
        f"{prefix}_traces_least": int(count.min()),
        f"{prefix}_recovery_days_median": float(np.median(truth)),
        f"{prefix}_not_back_in_30_days_pct": 100.0 * float((truth >= HORIZON).mean()),
        f"{prefix}_error_days": _error(middle, truth),
        f"{prefix}_bias_days": float((middle - truth).mean()),
        f"{prefix}_covered_pct": _covered(truth, low - 0.5, high + 0.5),
        f"{prefix}_alike_error_days": _error(alike[1], truth),
        f"{prefix}_alike_covered_pct": _covered(truth, alike[0] - 0.5, alike[2] + 0.5),
        f"{prefix}_rule_error_days": _error(np.full(truth.size, rule), truth),
        f"{prefix}_rule_covered_pct": 100.0 * float(inside.mean()),
        f"{prefix}_rule_in_real_weather_error_days": _error(two, truth),
        f"{prefix}_rule_in_real_weather_came_pct": 100.0 * float((three < HORIZON).mean()),
    }


def _days(front, past, ahead):
    """Days until the thermocline was back, and what it was; None where not defined."""
    whole = xr.concat([past, ahead], "time", join="exact", combine_attrs="override")
    table = front_effects(pd.DataFrame([front]), whole)
    if table.empty or not bool(table["layered_before"].iloc[0]):
        return None, None
    row = table.iloc[0]
    return float(row["thermocline_days"]), "broken" if row["broke"] else "deeper"


def _told_days(front, past, ahead, what):
    """The range that a note tells: of the years whose weather lets the front take as much."""
    days = [_days(front, past, ahead.isel(trace=i)) for i in range(ahead.sizes["trace"])]
    lost = [number for number, kind in days if kind == what] or [number for number, _ in days]
    return days_range(lost, traces=len(lost), horizon=HORIZON)


def _alike(record, forcing, years, noon):
    """Numbers of the half of the years whose days before were most like those before a noon."""
    span = pd.Timedelta(days=ALIKE_DAYS)

    def means(weather, time):
        part = weather[list(ALIKE)].sel(time=slice(time - span, time - HOUR))
        return [float(part[name].mean()) for name in ALIKE]

    past = np.array([means(record, noon - pd.DateOffset(years=noon.year - y)) for y in years])
    away = (past - means(forcing, noon)) / np.maximum(past.std(axis=0), 1e-9)
    # the oldest may begin before its record: it is no more alike than the others
    away = np.where(np.isfinite(away), away, np.inf)
    return np.sort(np.argsort((away**2).sum(axis=1), kind="stable")[: (len(years) + 1) // 2])


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
        ("measured before + told change", "change_added_error", 2),
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
    lines.append("in the weather that came, mean error (no change):")
    for day in DAYS:
        cells = [
            f"{value(f'front_{name}_day_{day}_error_{unit}')} "
            f"({value(f'front_{name}_day_{day}_no_change_error_{unit}')})"
            for name, unit in (("mixed", "m"), ("deep", "c"), ("start", "m"))
        ]
        lines.append(f"{f'  day {day}':<34}{cells[0]:>16}{cells[1]:>16}  start, m {cells[2]}")
    lines += [
        f"told less measured change of deep water in the {figures['front_wet_fronts']} fronts "
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
        ("half of the years, most alike: error", "alike_error_days", 1),
        ("  covered, %", "alike_covered_pct", 0),
        ("trade's rule, 2-3 days: error", "rule_error_days", 1),
        ("  covered (1.5 to 3.5 days), %", "rule_covered_pct", 0),
        ("  two hot calm days that came", "rule_in_real_weather_error_days", 1),
        ("broken: fronts", "broken_recoveries", 0),
        ("  median days", "broken_recovery_days_median", 1),
        ("  mean error, days", "broken_error_days", 1),
        ("  covered, %", "broken_covered_pct", 0),
        ("deeper: fronts", "deeper_recoveries", 0),
        ("  median days", "deeper_recovery_days_median", 1),
        ("  mean error, days", "deeper_error_days", 1),
        ("  covered, %", "deeper_covered_pct", 0),
    ):  # fmt: skip
        cells = [value(f"front_{place}_{key}", digits) for place in ("beaverdam", "demo")]
        lines.append(f"{label:<34}{cells[0]:>16}{cells[1]:>16}")
    return "\n".join(lines)
