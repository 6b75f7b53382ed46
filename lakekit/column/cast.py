"""A probe cast shortly before a front sets the water right from which the front is computed."""

import numpy as np
import pandas as pd

from lakekit.column.basin import make_basin, monthly_to_hourly

# Standard deviations of what fitted columns still miss on measured lakes in the weeks after a
# cast (from this project's own bench), and of a club's probe (common practice, no source).
FITTED_ERROR = {"temperature": 0.8, "oxygen": 1.2}  # degC, mg/L
DEPTH_ERROR = 0.5  # m
PROBE_ERROR = {"temperature": 0.3, "oxygen": 0.4}  # degC, mg/L
FRESH = pd.Timedelta(days=21)  # a cast tells of the water for so long (common practice, no source)
TAPER = 2.0  # m beyond the read depths over which its correction fades
FEWEST = 3  # readings


def last_cast(readings, before):
    """The last cast of at least three depths in the three weeks before a time.

    Parameters
    ----------
    readings : pandas.DataFrame or None
        One lake's rows of ``lakekit.probe.read_probe``.
    before : datetime64
        [UTC]

    Returns
    -------
    pandas.DataFrame or None
        Its rows.
    """
    if readings is None or not len(readings):
        return None
    before = pd.Timestamp(before)
    known = readings.dropna(subset=["temperature"])
    known = known[(known["time"] <= before) & (known["time"] > before - FRESH)]
    counts = known.groupby("time")["depth"].nunique()
    counts = counts[counts >= FEWEST]
    return None if counts.empty else known[known["time"] == counts.index[-1]]


def corrected(state, lake, cast):
    """Draw every member of a state toward a cast.

    Parameters
    ----------
    state : xarray.Dataset
        ``end_state`` at the hour of the cast.
    lake : Lake
    cast : pandas.DataFrame
        ``depth`` below the surface of the day [m], ``temperature`` [degC] and, where read,
        ``oxygen`` [mg/L].

    Returns
    -------
    xarray.Dataset
        The state with each member moved by the share of its misfit that is the column's own: the
        squares of the column's error, the members' spread and the probe's error weigh them.
        Beyond the read depths the correction fades within 2 m. The mud moves with its water,
        for it has been as warm or cold.
    """
    time = pd.Timestamp(state["time"].values)
    surface = float(monthly_to_hourly(lake.below_full_pond, np.array([time], "datetime64[ns]"))[0])
    depth = make_basin(lake).centres - surface
    out = state.copy()
    for name in ("temperature", "oxygen"):
        if name not in cast:
            continue
        read = cast.dropna(subset=[name]).groupby("depth")[name].mean()
        if len(read) < FEWEST:
            continue
        at, seen = read.index.to_numpy(float), read.to_numpy(float)
        values = state[name].to_numpy().copy()
        column = FITTED_ERROR[name] ** 2 + values.var(axis=0)
        away = np.maximum(np.maximum(at[0] - depth, depth - at[-1]), 0.0)
        weight = column / (column + PROBE_ERROR[name] ** 2) * np.clip(1.0 - away / TAPER, 0.0, 1.0)
        for member in range(values.shape[0]):
            here = np.interp(at, depth, values[member])
            # a debt of oxygen is water without any to the probe
            misfit = seen - (np.maximum(here, 0.0) if name == "oxygen" else here)
            values[member] += weight * np.interp(depth, at, misfit)
        if name == "temperature":
            values = np.maximum(values, 0.0)
            moved = (values - state[name].to_numpy())[:, None]
            out["sediment"] = (state["sediment"].dims, state["sediment"].to_numpy() + moved)
        out[name] = (state[name].dims, values)
    return out
