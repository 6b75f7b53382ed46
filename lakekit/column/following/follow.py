"""Water that follows the readings: an ensemble run on from reading to reading, each moving it.

Member 0 is the best estimate: it carries the central parameters, believes each reading as it
stands, and takes no noise, so that a reading that agrees with it leaves it where it is. The other
members say how sure it is: they hold other parameters, which wander, and believe each reading
with an error of its own.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from ...weather.forcing import prepare_forcing
from ..basin import make_basin, monthly_to_hourly, volume_below
from ..parameters import (
    NAMES,
    as_array,
    as_dataset,
    from_standard,
    symmetric_root,
    to_standard,
)
from ..readings import lake_readings
from ..run import (
    BUDGET_NAMES,
    DRIFT_DAYS,
    HOUR,
    OXYGEN_NAMES,
    STATE,
    YEAR_HOURS,
    end_state,
    output_slots,
    simulate,
    start_state,
)
from ..water import VOLUMETRIC_HEAT
from .analysis import Following, correct, set_adrift, stray

MEMBERS = 32
LEAST_MEMBERS = 12  # whose spread can weigh a reading
LONGEST_WANDER = 30.0  # days of the parameters' wandering at once
TERMS = (*BUDGET_NAMES, *OXYGEN_NAMES, "wind_stress")  # means since the output before


@dataclass
class _Water:
    """The ensemble on its way: what the loop changes."""

    state: xr.Dataset | None
    scores: np.ndarray  # (members, p)
    runs: list  # of the stretches between readings
    told: list  # of the corrections


def follow(
    lake, weather, probe, *, parameters=None, members=MEMBERS, seed=0, every="1D", state=None,
    smoothed=False, assumed=None,
):  # fmt: skip
    """Simulate a lake's column, moved by each reading at its own hour.

    Parameters
    ----------
    lake : Lake
    weather : Dataset, hourly, raw or prepared
        Readings after its last hour are not used, nor is anything else later.
    probe : DataFrame as for ``fit_lake``; optionally with ``secchi`` [m], and ``error``: what a
        reading adds to a probe's own error (a surface temperature from a log: 1 degC)
    parameters : Dataset on ``member``, optional
        The prior, central member first: of a long fit, else the stated ranges.
    members : int
    seed : int
    every : as for ``simulate``
    state : Dataset, optional
        :func:`end_state` of a followed run of as many members that ends where this begins.
    smoothed : bool
        Later readings correct earlier days too: a hindcast, never a forecast.
    assumed : Following, optional

    Returns
    -------
    Dataset
        As from ``simulate``; besides, ``reading_heat`` and ``reading_oxygen``: what corrections
        added, among the other terms of the budgets; on ``reading`` each metre of each cast with
        what was expected there and what was left (``reading_value``, ``reading_expected``,
        ``reading_after``). A reading that contradicts the column by over four standard errors is
        left out (``reading_used``). At the hour of a reading the column is the corrected one.

    Raises
    ------
    ProbeError
        When no reading belongs to this lake and weather.

    References
    ----------
    Evensen 1994, J. Geophys. Res. 99:10143-10162, with perturbed readings (Burgers et al. 1998,
    Mon. Weather Rev. 126:1719-1724); smoothed after Evensen & van Leeuwen 2000, 128:1852-1867.
    """
    assumed = assumed or Following()
    forcing = prepare_forcing(weather, lake)
    basin = make_basin(lake)
    random = np.random.default_rng([seed, 7])
    middle, root = _prior(parameters, lake)
    scores = _scores(middle, root, members, random)
    if parameters is not None and parameters.sizes["member"] == members:
        scores = to_standard(as_array(parameters), lake)
    water = _Water(state, scores, [], [])
    start = pd.Timestamp(forcing["time"].values[0])
    unknown = 0.0
    if state is not None:
        if "score" in state:
            water.scores = state["score"].values.copy()
    elif forcing.sizes["time"] >= YEAR_HOURS - 24:
        water.state = start_state(lake, forcing, as_dataset(from_standard(water.scores, lake)))
    else:
        unknown = assumed.unknown
    readings = lake_readings(lake, probe, forcing)
    readings["hour"] = readings["time"].dt.round("h")
    readings = readings[readings["hour"] > start]
    stamps = output_slots(forcing["time"].values, every, lake.longitude)[1].to_numpy()
    before = start
    for hour, mine in [*readings.groupby("hour"), (None, None)]:
        part = forcing.sel(time=slice(before, None if hour is None else hour - HOUR))
        days = part.sizes["time"] / 24.0
        if part.sizes["time"]:
            if water.told or (state is not None and "score" in state):
                water.scores = _wander(water.scores, middle, root, days, assumed, random)
            if hour is not None:
                part = _set_out(lake, part, water, stamps, basin, assumed, random)
            _run_on(lake, part, water, stamps)
        if hour is None:
            break
        age = (hour - start) / pd.Timedelta("1D")
        fresh = unknown * np.exp(-age / assumed.forget_days) if not water.told else 0.0
        level = float(monthly_to_hourly(lake.below_full_pond, [np.datetime64(hour)])[0])
        held = _amounts(basin, level, water.state)
        strayed = stray(water.state, basin, days=days, extra=fresh, assumed=assumed, random=random)
        water.state, water.scores, told = correct(
            strayed, water.scores, mine, lake=lake, basin=basin, level=level, assumed=assumed,
            random=random, past=_recent(water.runs, hour, assumed) if smoothed else [],
        )  # fmt: skip
        _show(water.runs[-1], told["columns"])
        told["moved"] = _amounts(basin, level, water.state) - held
        water.told.append(told)
        before = hour
    return _joined(lake, basin, water, stamps, start)


def run_on(
    lake, weather, *, parameters, probe=None, state=None, every="1D", smoothed=False, spin_up=True
):
    """Follow the readings that lie within the weather, else simulate: one door for both.

    Fewer than 12 members cannot weigh a reading: more are drawn, but a state of fewer runs on.

    Parameters
    ----------
    lake : Lake
    weather : Dataset, prepared
    parameters : Dataset on ``member``
        The prior. A state that was followed brings its own members' parameters.
    probe : DataFrame or None, as for :func:`follow`
    state, every, smoothed : as for :func:`follow`
    spin_up : as for ``simulate``

    Returns
    -------
    Dataset
    """
    if state is not None and "score" in state:
        own = as_dataset(from_standard(state["score"].values, lake))
    else:
        own = parameters
    start, end = weather["time"].values[[0, -1]]
    if probe is not None and len(probe):
        times = probe["time"]
        inside = (times.dt.round("h") > start) & (times <= end + np.timedelta64(1, "h"))
        if inside.any() and (state is None or own.sizes["member"] >= LEAST_MEMBERS):
            return follow(
                lake, weather, probe[inside], parameters=parameters,
                members=max(own.sizes["member"], LEAST_MEMBERS if state is None else 1),
                state=state, every=every, smoothed=smoothed,
            )  # fmt: skip
    run = simulate(lake, weather, parameters=own, state=state, every=every, spin_up=spin_up)
    if state is not None and "score" in state:
        run["state_score"] = (("member", "score"), state["score"].values)
    return run


def _prior(parameters, lake):
    """Middle (p,) and root (p, p) of the covariance of the parameters' standard scores."""
    if parameters is None:
        return np.zeros(len(NAMES)), np.eye(len(NAMES))
    scores = to_standard(as_array(parameters), lake)
    size = scores.shape[1]
    if scores.shape[0] <= size:
        return scores[0], np.eye(size)
    return scores[0], symmetric_root(np.cov(scores[1:].T), least=0.01, most=1.0)


def _scores(middle, root, members, random):
    drawn = random.standard_normal((members, middle.size))
    drawn[0] = 0.0
    if members > middle.size + 2:
        drawn[1:] -= drawn[1:].mean(axis=0)
        drawn[1:] /= drawn[1:].std(axis=0)
    return np.clip(middle + drawn @ root.T, -2.5, 2.5)


def _wander(scores, middle, root, days, assumed, random):
    """Parameters forget what readings taught, toward the prior and its spread."""
    kept = np.exp(-min(days, LONGEST_WANDER) / assumed.wander_days)
    steps = random.standard_normal(scores.shape) @ root.T
    steps[0] = 0.0
    steps[1:] -= steps[1:].mean(axis=0)
    return np.clip(middle + kept * (scores - middle) + np.sqrt(1.0 - kept**2) * steps, -2.5, 2.5)


def _recent(runs, hour, assumed):
    """Runs within the reach of a reading into the past, latest first."""
    near, oldest = [], np.datetime64(hour - pd.Timedelta(days=2.0 * assumed.lag_days))
    for run in reversed(runs):
        if run["time"].values[-1] < oldest:
            break
        near.append(run)
    return near


def _set_out(lake, part, water, stamps, basin, assumed, random):
    """Set the members adrift some weeks before a reading; those weeks' weather is left to run."""
    last = part.isel(time=slice(-int(24 * DRIFT_DAYS), None))
    early = part.isel(time=slice(None, part.sizes["time"] - last.sizes["time"]))
    if early.sizes["time"]:
        _run_on(lake, early, water, stamps)
    if water.state is not None:
        days = last.sizes["time"] / 24.0
        water.state = set_adrift(water.state, basin, days=days, assumed=assumed, random=random)
    return last


def _run_on(lake, part, water, stamps):
    first, last = part["time"].values[0], part["time"].values[-1] + np.timedelta64(1, "h")
    inside = stamps[(stamps > first) & (stamps < last)]
    run = simulate(
        lake, part, parameters=as_dataset(from_standard(water.scores, lake)), state=water.state,
        spin_up=False, every=np.append(inside, last),
    )  # fmt: skip
    water.runs.append(run)
    water.state = end_state(run)


def _show(run, columns):
    """Put the corrected column at the end of the run that led to it."""
    for name, values in zip(("water_temperature", "dissolved_oxygen"), columns, strict=True):
        run[name].values[:, -1] = values if name == "water_temperature" else np.maximum(values, 0)


def _amounts(basin, level, state):
    """Heat [J] and oxygen [g] of the water of each member: array (2, members)."""
    top = int(state["top"].values[0])
    volumes = basin.volumes.copy()
    volumes[:top] = 0.0
    volumes[top] = float(volume_below(basin, level)) - volumes[top + 1 :].sum()
    heat = VOLUMETRIC_HEAT * state["temperature"].values @ volumes
    return np.stack([heat, state["oxygen"].values @ volumes])


def _joined(lake, basin, water, stamps, start):
    """The stretches as one run on the outputs asked for, the corrections among its terms."""
    full = basin.face_areas[0]
    each = {name for name in water.runs[0].data_vars if "time" in water.runs[0][name].dims}
    whole = xr.concat([run[list(each)] for run in water.runs], "time", combine_attrs="override")
    times = whole["time"].values
    spans = np.diff(times, prepend=np.datetime64(start)) / np.timedelta64(1, "s")
    group = np.searchsorted(stamps, times)
    kept = group < stamps.size
    at = np.searchsorted(times, stamps)
    out = whole.isel(time=at)
    length = np.bincount(group[kept], weights=spans[kept], minlength=stamps.size)
    for name in TERMS:
        values = np.zeros((whole.sizes["member"], stamps.size))
        np.add.at(values, (slice(None), group[kept]), (whole[name].values * spans)[:, kept])
        out[name] = (("member", "time"), values / length, whole[name].attrs)
    moved = np.zeros((2, whole.sizes["member"], stamps.size))
    for told in water.told:
        slot = np.searchsorted(stamps, told["time"])
        if slot < stamps.size:
            moved[:, :, slot] += told["moved"]
            if stamps[slot] == told["time"]:
                for name, extra in zip(
                    ("heat_content", "oxygen_content"), told["moved"], strict=True
                ):
                    out[name].values[:, slot] += extra / full
    attrs = {
        "units": "W m-2",
        "long_name": "heat that readings added, mean since the output before",
    }
    out["reading_heat"] = (("member", "time"), moved[0] / (full * length), attrs)
    attrs = {"units": "g m-2 d-1", "long_name": "oxygen that readings added"}
    out["reading_oxygen"] = (("member", "time"), moved[1] / (full * length) * 86400.0, attrs)
    last = water.runs[-1]
    fixed = last.drop_vars([*each, *(n for n in last if n.startswith(("state_", "parameter_")))])
    out = out.merge(fixed.drop_vars("time"), combine_attrs="override")
    for name in STATE:
        out[f"state_{name}"] = (water.state[name].dims, water.state[name].values)
    out["state_score"] = (("member", "score"), water.scores)
    for name, values in as_dataset(from_standard(water.scores, lake)).data_vars.items():
        out[f"parameter_{name}"] = ("member", values.values)
    for name in ("row", "time", "kind", "depth", "value", "expected", "after", "used"):
        parts = [told[f"reading_{name}"] for told in water.told]
        out[f"reading_{name}"] = ("reading", np.concatenate(parts) if parts else np.zeros(0))
    out.attrs = last.attrs | {"output": water.runs[0].attrs["output"]}
    return out
