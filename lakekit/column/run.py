"""Simulate a lake: from a lake file and hourly weather to temperature and oxygen by depth."""

import os
from concurrent.futures import ThreadPoolExecutor, wait

import numpy as np
import pandas as pd
import xarray as xr

from ..errors import WeatherError
from ..progress import patience, simulated
from ..weather.forcing import prepare_forcing
from ..weather.sun import solar_elevation
from . import columns, kernel
from .basin import area_at, make_basin, monthly_to_hourly, volume_below
from .flow import hourly_flow
from .ice import SNOW_DENSITY
from .light import albedo, attenuation
from .oxygen import FERTILITY
from .parameters import as_array, as_dataset, draw_parameters
from .water import oxygen_saturation, saturation_vapour_pressure

HOUR = pd.Timedelta("1h")
YEAR_HOURS = 8760
SNOW_AIR = 0.5  # degC: colder precipitation falls as snow
STATE = ("temperature", "oxygen", "sediment", "drift", "crust", "top", "stream", "time")
DRIFT_DAYS = 60.0  # in which what readings taught of the column's own error fades e-fold
DRIFT_LEFT = float(np.exp(-1.0 / (24.0 * DRIFT_DAYS)))  # after an hour
INFLOW_OXYGEN = 0.9  # of saturation, common practice for a small stream

BUDGET_NAMES = {
    "shortwave_in": (columns.SHORT_IN, "shortwave absorbed by the lake"),
    "net_longwave": (columns.LONG_NET, "longwave from the sky less that sent up"),
    "latent_heat": (columns.LATENT, "heat gained by condensation less evaporation"),
    "sensible_heat": (columns.SENSIBLE, "sensible heat gained from the air"),
    "sediment_heat": (columns.SEDIMENT, "heat gained from the sediment"),
    "snow_heat": (columns.SNOW_IN, "latent heat of snow fallen on ice"),
    "flow_heat": (columns.FLOW_HEAT, "heat brought by inflow less that released"),
    "learned_heat": (columns.LEARNED, "heat of the drift that readings taught"),
    "level_heat": (columns.LEVEL_HEAT, "heat of the water that moved the level"),
    "heat_residual": (columns.HEAT_LEFT, "change of heat content not explained by the terms"),
}
OXYGEN_NAMES = {
    "oxygen_gas_exchange": (columns.GAS, "oxygen gained from the air"),
    "oxygen_production": (columns.MADE, "oxygen made in the light"),
    "oxygen_demand": (columns.TAKEN, "oxygen taken by water and sediment, negative"),
    "oxygen_flow": (columns.FLOW_GAS, "oxygen brought by inflow less that released"),
    "oxygen_level": (columns.LEVEL_GAS, "oxygen of the water that moved the level"),
    "oxygen_residual": (columns.OXYGEN_LEFT, "change of oxygen not explained by the terms"),
}


def hourly_forcing(lake, forcing, basin, *, stream=None):
    """The kernel's forcing: array (hours, 16) of a prepared weather Dataset and the lake's months.

    Raises
    ------
    WeatherError
        When a value is not finite: the kernel would carry it through the whole column.
    """
    times = forcing["time"].values
    air = forcing["air_temperature"].values.astype(float)
    pressure = forcing["air_pressure"].values.astype(float)
    shortwave = np.maximum(forcing["shortwave"].values.astype(float), 0.0)
    elevation = solar_elevation(times + np.timedelta64(30, "m"), lake.latitude, lake.longitude)
    level = monthly_to_hourly(lake.below_full_pond, times)
    flow = hourly_flow(
        lake.flow, times, air, stream=stream, catchment=lake.catchment,
        rain=forcing["precipitation"].values,
    )  # fmt: skip
    out = np.empty((times.size, columns.FORCING_COLUMNS))
    out[:, columns.AIR] = air
    out[:, columns.VAPOUR] = (
        saturation_vapour_pressure.py_func(air) * forcing["relative_humidity"].values / 100.0
    )
    out[:, columns.PRESSURE] = pressure
    out[:, columns.WIND] = forcing["wind_speed"].values
    out[:, columns.SHORTWAVE] = shortwave
    out[:, columns.ALBEDO] = albedo(elevation, shortwave)
    out[:, columns.LONGWAVE] = forcing["longwave"].values
    snow = np.where(air < SNOW_AIR, forcing["precipitation"].values, 0.0)
    out[:, columns.SNOWFALL] = snow / SNOW_DENSITY
    out[:, columns.CLARITY] = attenuation(monthly_to_hourly(lake.secchi, times))
    out[:, columns.LEVEL] = level
    out[:, columns.SURFACE] = area_at(basin, level)
    # layers hold at least a litre, so that their sum may exceed the curve's volume
    excess = basin.volumes.sum() - basin.table_volumes[0]
    out[:, columns.STORED] = volume_below(basin, level) + excess
    out[:, columns.INFLOW] = flow.inflow
    out[:, columns.WARMTH] = flow.inflow_temperature
    out[:, columns.GAS_IN] = INFLOW_OXYGEN * oxygen_saturation.py_func(
        np.maximum(flow.inflow_temperature, 0.0), pressure
    )
    out[:, columns.RELEASE] = flow.release
    bad = ~np.isfinite(out).all(axis=1)
    if bad.any():
        raise WeatherError(
            f"{int(bad.sum())} of {bad.size} hours are not finite after preparation",
            where=f"{lake.key}, first at {pd.Timestamp(times[bad.argmax()])}",
            mend="check the weather record and the lake file's monthly values",
        )
    rates = np.array(
        [*FERTILITY[lake.fertility], flow.release_depth, *flow.aerated, DRIFT_LEFT]
    )
    return out, rates


def _first_state(forcing, basin, members):
    """Mixed water at the air's first fortnight, saturated with oxygen; mud as warm as the year."""
    layers = basin.layers
    water = max(float(forcing[: 14 * 24, columns.AIR].mean()), 4.0)
    gas = float(oxygen_saturation.py_func(water, forcing[0, columns.PRESSURE]))
    mud = max(float(forcing[:, columns.AIR].mean()), 4.0)
    top = int(np.searchsorted(basin.faces, forcing[0, columns.LEVEL], side="right")) - 1
    return {
        "temperature": np.full((members, layers), water),
        "oxygen": np.full((members, layers), gas),
        "sediment": np.full((members, 2, layers), 0.5 * (water + mud)),
        "drift": np.zeros((members, layers)),
        "crust": np.zeros((members, 2)),
        "top": np.full(members, min(top, layers - 2), np.int64),
    }


def _start(spun, hourly, values, rates, basin):
    """The first state, after the hours of a year that is run first to forget it (may be none)."""
    members = values.shape[0]
    arrays = _first_state(hourly, basin, members)
    if len(spun):
        nowhere = np.full(len(spun), -1, np.int64)
        nothing = (
            np.empty((members, 0, 0)),
            np.empty((members, 0, 0)),
            np.empty((members, 0, columns.BUDGET_COLUMNS)),
        )
        _march(spun, nowhere, values, rates, basin, np.empty(0), arrays, nothing)
        arrays["top"][:] = _first_state(hourly, basin, members)["top"]
    return arrays


def start_state(lake, forcing, parameters):
    """The state from which :func:`simulate` starts a prepared record of a year or more."""
    basin = make_basin(lake)
    hourly, rates = hourly_forcing(lake, forcing, basin)
    values = as_array(parameters)
    rates = np.append(rates, kernel.MIXING)
    arrays = _start(hourly[:YEAR_HOURS], hourly, values, rates, basin)
    return xr.Dataset(
        {
            "temperature": (("member", "layer"), arrays["temperature"]),
            "oxygen": (("member", "layer"), arrays["oxygen"]),
            "sediment": (("member", "slab", "layer"), arrays["sediment"]),
            "drift": (("member", "layer"), arrays["drift"]),
            "crust": (("member", "crust"), arrays["crust"]),
            "top": (("member",), arrays["top"]),
            "stream": ((), hourly[0, columns.WARMTH]),
            "time": ((), forcing["time"].values[0]),
        }
    )


def _state_arrays(state, members, layers):
    def read(name):
        values = np.array(state[name].values, float)
        if values.shape[0] == 1 and members > 1:
            values = np.repeat(values, members, axis=0)
        return np.ascontiguousarray(values)

    arrays = {name: read(name) for name in STATE[:5]}
    arrays["top"] = read("top").astype(np.int64)
    if arrays["temperature"].shape != (members, layers):
        raise WeatherError(
            f"the saved state has {arrays['temperature'].shape} members and layers, "
            f"the run {(members, layers)}",
            mend="start again from the weather's beginning",
        )
    return arrays


def _march(forcing, slots, values, rates, basin, targets, state, outputs):
    """March every member, in as many threads as there are processors; each member alone."""
    layers = basin.layers
    layout = np.zeros((4, layers + 1))
    layout[0], layout[1] = basin.faces, basin.face_areas
    layout[2, :layers], layout[3, :layers] = basin.centres, basin.volumes

    def one(m):
        part = slice(m, m + 1)
        kernel.march(
            forcing, slots, values[part], rates, layout, targets, state["temperature"][part],
            state["oxygen"][part], state["sediment"][part], state["drift"][part],
            state["crust"][part], state["top"][part], outputs[0][part], outputs[1][part],
            outputs[2][part],
        )  # fmt: skip

    members = values.shape[0]
    workers = min(members, os.cpu_count() or 1)
    if workers == 1 and patience() is None:
        for m in range(members):
            one(m)
        return
    # the outputs themselves tell how far each member has come
    written = outputs[2][..., columns.HEAT]
    written[:] = np.nan
    hours = np.append(0, np.flatnonzero(slots >= 0) + 1)
    threads = ThreadPoolExecutor(workers)
    try:
        runs = left = [threads.submit(one, m) for m in range(members)]
        while left:
            left = wait(left, timeout=patience()).not_done
            simulated(hours[np.isfinite(written).sum(axis=1)].mean())
        for run in runs:
            run.result()
    finally:
        threads.shutdown(cancel_futures=True)
    simulated(hours[-1], ended=True)


def output_slots(times, every, longitude):
    """Slot of each hour's end state: every hour, noon of local standard time, or hours given."""
    ends = pd.DatetimeIndex(times) + HOUR
    if not isinstance(every, str):
        own = ends.to_numpy()
        wanted = pd.DatetimeIndex(every).round("h").to_numpy().astype(own.dtype)
        chosen = np.isin(own, np.clip(wanted, own[0], own[-1]))
    elif every == "1h":
        chosen = np.ones(ends.size, bool)
    else:
        noon = (12 - round(longitude / 15.0)) % 24
        chosen = np.asarray(ends.hour == noon)
    slots = np.where(chosen, np.cumsum(chosen) - 1, -1).astype(np.int64)
    return slots, ends[chosen]


def simulate(
    lake, weather, *, parameters=None, members=1, seed=0, state=None, every="1D", spin_up=True,
    mixing=kernel.MIXING,
):  # fmt: skip
    """Compute a lake's temperature and oxygen by depth through a weather record.

    Parameters
    ----------
    lake : Lake
    weather : Dataset, hourly, raw or from ``prepare_forcing``
    parameters : Dataset on ``member``, optional
        Else ``members`` drawn from the stated ranges with ``seed``; member 0 is central.
    members : int
    seed : int
    state : Dataset, optional
        :func:`end_state` of a run that ends where this weather begins. Without one the first
        year, where there is a whole one, is run twice to forget how it started.
    every : "1D" for the state at 12:00 of local standard time, "1h" for every hour, or the times
        themselves (to the nearest hour), as the casts of a probe have them
    spin_up : bool
        False to start at once: for records that begin a year before what matters.
    mixing : the four of ``kernel.MIXING``, for a bench to try others

    Returns
    -------
    Dataset
        ``water_temperature`` [degC] and ``dissolved_oxygen`` [mg/L] on (member, time, depth
        below the day's surface); ice, stress and budgets on (member, time): means since the
        output before, in W/m2 and g/m2/d of full-pond area.

    Raises
    ------
    WeatherError
        When the record cannot be prepared, or a saved state does not fit.

    Examples
    --------
    >>> run = simulate(lake, weather.sel(time=slice("2026-05-01", "2026-05-31")), members=3)
    >>> run["water_temperature"].dims, run.sizes["member"]
    (('member', 'time', 'depth'), 3)
    """
    if isinstance(every, str) and every not in ("1D", "1h"):
        raise WeatherError(f"every={every!r} is not known", mend='use "1D" or "1h"')
    forcing = prepare_forcing(weather, lake)
    basin = make_basin(lake)
    if parameters is None:
        parameters = draw_parameters(lake, members, seed)
    values = as_array(parameters)
    members = values.shape[0]
    stream = float(state["stream"]) if state is not None else None
    hourly, rates = hourly_forcing(lake, forcing, basin, stream=stream)
    rates = np.append(rates, mixing)
    times = forcing["time"].values
    spun = 0
    if state is None:
        spun = YEAR_HOURS if spin_up and times.size >= YEAR_HOURS - 24 else 0
        arrays = _start(hourly[:spun], hourly, values, rates, basin)
    else:
        arrays = _state_arrays(state, members, basin.layers)
    slots, stamps = output_slots(times, every, lake.longitude)
    shape = (members, stamps.size, basin.layers)
    outputs = (
        np.empty(shape), np.empty(shape), np.empty((*shape[:2], columns.BUDGET_COLUMNS))
    )  # fmt: skip
    _march(hourly, slots, values, rates, basin, basin.centres, arrays, outputs)
    spans = np.diff(np.flatnonzero(slots >= 0), prepend=-1) * kernel.HOUR
    run = _as_run(lake, basin, parameters, outputs, stamps, spans, hourly, slots, arrays)
    run["state_time"] = times[-1] + np.timedelta64(1, "h")
    run.attrs["spin_up_hours"] = spun
    run.attrs["output"] = every if isinstance(every, str) else "given times"
    for name in ("source", "attribution", "licence"):
        if name in forcing.attrs:
            run.attrs[f"weather_{name}"] = str(forcing.attrs[name])
    return run


def _as_run(lake, basin, parameters, outputs, stamps, spans, hourly, slots, arrays):
    temperature, balance, budget = outputs
    full = basin.face_areas[0]
    level = hourly[slots >= 0, columns.LEVEL]
    data = {
        "water_temperature": (
            ("member", "time", "depth"), temperature,
            {"units": "degC", "standard_name": "sea_water_temperature",
             "long_name": "water temperature"},
        ),
        "dissolved_oxygen": (
            ("member", "time", "depth"), np.maximum(balance, 0.0),
            {"units": "mg L-1", "long_name": "dissolved oxygen"},
        ),
        "ice_thickness": (
            ("member", "time"), budget[..., columns.ICE],
            {"units": "m", "standard_name": "sea_ice_thickness", "long_name": "ice thickness"},
        ),
        "wind_stress": (
            ("member", "time"), budget[..., columns.STRESS],
            {"units": "N m-2", "long_name": "mean wind stress on the water"},
        ),
        "heat_content": (
            ("member", "time"), budget[..., columns.HEAT] / full,
            {"units": "J m-2", "long_name": "heat above 0 degC, ice counted as its latent heat"},
        ),
        "oxygen_content": (
            ("member", "time"), budget[..., columns.OXYGEN] / full,
            {"units": "g m-2", "long_name": "oxygen less the debt of reduced substances"},
        ),
        "surface_below_full_pond": (
            ("time",), level, {"units": "m", "long_name": "water surface below full pond"},
        ),
        "area": (
            ("depth",), area_at(basin, basin.centres + float(np.median(level))),
            {"units": "m2", "long_name": "area of the lake at depth"},
        ),
    }  # fmt: skip
    for name, (column, meaning) in BUDGET_NAMES.items():
        attrs = {"units": "W m-2", "long_name": f"{meaning}, mean since the output before"}
        data[name] = (("member", "time"), budget[..., column] / (full * spans), attrs)
    for name, (column, meaning) in OXYGEN_NAMES.items():
        attrs = {"units": "g m-2 d-1", "long_name": f"{meaning}, mean since the output before"}
        data[name] = (("member", "time"), budget[..., column] / (full * spans) * 86400.0, attrs)
    data["state_temperature"] = (("member", "layer"), arrays["temperature"])
    data["state_oxygen"] = (("member", "layer"), arrays["oxygen"])
    data["state_sediment"] = (("member", "slab", "layer"), arrays["sediment"])
    data["state_drift"] = (("member", "layer"), arrays["drift"])
    data["state_crust"] = (("member", "crust"), arrays["crust"])
    data["state_stream"] = ((), hourly[-1, columns.WARMTH])
    data["state_top"] = (("member",), arrays["top"])
    for name in parameters.data_vars:
        data[f"parameter_{name}"] = ("member", np.atleast_1d(parameters[name].values))
    coords = {
        "member": np.arange(temperature.shape[0]),
        "time": ("time", stamps, {"standard_name": "time"}),
        "depth": (
            "depth", basin.centres,
            {"units": "m", "positive": "down", "standard_name": "depth",
             "long_name": "depth below the water surface of the day"},
        ),
    }  # fmt: skip
    attrs = {
        "Conventions": "CF-1.11",
        "title": f"Water column of {lake.name}",
        "lake": lake.key,
        "surface_area": float(full),
        "longest_fetch": float(lake.longest_fetch),
    }
    return xr.Dataset(data, coords=coords, attrs=attrs)


def end_state(run):
    """The state at the end of a run, to pass as ``state`` with the weather that follows.

    Examples
    --------
    >>> state = end_state(run)
    >>> later = simulate(lake, weather.sel(time=slice("2026-06-01", None)), state=state)
    """
    names = [*STATE, *(["score"] if "state_score" in run else [])]
    return xr.Dataset({name: run[f"state_{name}"] for name in names}).drop_vars(
        ["depth"], errors="ignore"
    )


def run_parameters(run):
    """The parameters a run was made with, as :func:`simulate` takes them."""
    names = [name for name in run.data_vars if name.startswith("parameter_")]
    stacked = np.column_stack([run[name].values for name in names])
    return as_dataset(stacked)
