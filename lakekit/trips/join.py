"""Joins each row of the log to the state of its lake's water at that hour."""

import numpy as np
import pandas as pd

STATE = ("stratified", "thermocline_depth", "mixed_layer_depth", "oxygen_floor_depth",
         "surface_temperature")
LONGEST_MEMORY = 60.0  # days since a front beyond which it no longer matters


def join_water(trips, layers_by_lake, club, *, phase=None, fronts_by_lake=None):
    """Add the state of the water to each row.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``read_trips``; ``start`` is UTC, found in the lake's own time zone.
    layers_by_lake : dict
        Lake key to layers (xarray.Dataset on ``time``, or ``member`` and ``time``: the middle
        member's value is taken), daily or hourly. A lake may be missing.
    club : lakekit.club.Club
    phase : callable or str, optional
        Season phase of rows: a function of (lake key, DatetimeIndex of starts, UTC) to as many
        words, or the name of a column that holds it. None: no ``phase`` is set, unless the
        table has it.
    fronts_by_lake : dict, optional
        Lake key to a table with ``end`` (UTC) of each front.

    Returns
    -------
    pandas.DataFrame
        The rows in their order with ``stratified`` (1, 0, NaN), ``thermocline_depth``,
        ``mixed_layer_depth``, ``oxygen_floor_depth`` [m], ``surface_temperature`` [degC],
        ``depth_from_thermocline`` (fish below it positive) [m], ``days_since_front``, ``phase``;
        NaN where the run does not cover the row. ``attrs["not_joined"]``: rows without a state.

    Examples
    --------
    >>> rows = read_trips(club.folder / "trips.csv", club)
    >>> "depth_from_thermocline" in join_water(rows, {lake.key: knowledge.layers}, club)
    True
    """
    joined = trips.reset_index(drop=True).copy()
    attrs = dict(trips.attrs)
    joined.attrs = {}
    for name in STATE:
        joined[name] = np.nan
    joined["days_since_front"] = np.nan
    for key, index in joined.groupby("lake").groups.items():
        starts = pd.DatetimeIndex(joined.loc[index, "start"])
        layers = layers_by_lake.get(key)
        if layers is not None:
            for name, values in water_state(layers, starts).items():
                joined.loc[index, name] = values
        fronts = (fronts_by_lake or {}).get(key)
        if fronts is not None:
            days = days_since(starts, fronts["end"])
            joined.loc[index, "days_since_front"] = np.where(_within(layers, starts), days, np.nan)
        if callable(phase):
            joined.loc[index, "phase"] = np.asarray(phase(key, starts), dtype=object)
    if isinstance(phase, str):
        joined["phase"] = joined[phase]
    depth = joined["catch_depth"].fillna(joined["bait_depth"])
    joined["depth_from_thermocline"] = depth - joined["thermocline_depth"]
    missing = joined.loc[joined["surface_temperature"].isna() & joined["stratified"].isna(), "row"]
    joined.attrs = attrs | {"not_joined": missing.tolist()}
    return joined


def _within(layers, starts):
    """Whether a run covers each start; True where there is no run to ask."""
    if layers is None or not layers.sizes["time"]:
        return np.ones(len(starts), dtype=bool)
    times = pd.DatetimeIndex(layers["time"].values)
    return (starts >= times[0] - pd.Timedelta("1D")) & (starts <= times[-1] + pd.Timedelta("1D"))


def water_state(layers, starts, *, names=STATE):
    """Values of a lake's layers at given hours.

    Parameters
    ----------
    layers : xarray.Dataset
        On ``time`` (UTC, naive), perhaps with ``member``.
    starts : pandas.DatetimeIndex
        UTC, naive, shape (n,).
    names : sequence of str
        Variables wanted; those that the layers lack are left out.

    Returns
    -------
    dict of str to ndarray
        Shape (n,), from the nearest time of the run; NaN further than one step of it away.
    """
    times = pd.DatetimeIndex(layers["time"].values)
    if len(times) == 0:
        return {}
    step = (times[1:] - times[:-1]).min() if len(times) > 1 else pd.Timedelta(days=1)
    position = times.get_indexer(starts, method="nearest")
    near = np.abs(times[position] - starts) <= step
    state = {}
    for name in names:
        if name not in layers:
            continue
        values = layers[name].transpose(..., "time").to_numpy().astype("float64")
        if values.ndim > 1:
            values = values.reshape(-1, values.shape[-1])
            values = _middle(values[:, position])
        else:
            values = values[position]
        state[name] = np.where(near, values, np.nan)
    return state


def _middle(values):
    known = np.isfinite(values)
    middle = np.full(values.shape[1], np.nan)
    most = known.sum(axis=0) * 2 > values.shape[0]
    if most.any():
        middle[most] = np.nanmedian(values[:, most], axis=0)
    return middle


def days_since(starts, ends):
    """Days from the last end of a front to each start.

    Parameters
    ----------
    starts : pandas.DatetimeIndex
        Shape (n,).
    ends : sequence of datetime-like

    Returns
    -------
    ndarray
        Shape (n,) [d], at most 60; 60 where none came before.
    """
    ends = pd.DatetimeIndex(ends).sort_values()
    days = np.full(len(starts), LONGEST_MEMORY)
    position = np.searchsorted(ends.values, starts.values, side="right") - 1
    past = position >= 0
    if past.any():
        gap = starts[past] - ends[position[past]]
        days[past] = np.minimum(gap / pd.Timedelta(days=1), LONGEST_MEMORY)
    return days
