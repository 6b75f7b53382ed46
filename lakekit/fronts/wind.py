"""Where a front's wind put the water: which end was piled, how far the thermocline leans."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.strata.indices import stratification
from lakekit.strata.spells import WATER_DENSITY
from lakekit.strata.spread import MISSES, quantiles_of, widened
from lakekit.strata.tilt import settling_time, thermocline_tilt

KNOWN = 0.5  # share of the blow's hours whose direction must be known (common practice, no source)
ALONG = 0.5  # cosine of 60 degrees: a wind further off the axis blew across (common practice)
SHORTEST, LONGEST = 3, 24  # hours of the blow that set the lean
ROCKS_ON = 1.0  # periods after which a lean's rocking is taken to be gone (common practice)


@dataclass(frozen=True)
class Lean:
    """A blow along a lake, and the thermocline's lean at its height; (3,) are 10, 50 and 90 %."""

    start: pd.Timestamp  # UTC
    end: pd.Timestamp
    wind_from: float  # degrees
    toward: float  # degrees, bearing of the end that the water was blown to
    along: bool  # False: it blew across the long axis, and no lean is told
    upwind: np.ndarray  # m, thermocline at the end the wind came from
    downwind: np.ndarray  # m
    upwelling_chance: float  # of deep water at the upwind end's surface
    level_after: tuple  # hours after the wind drops: (a quarter of the period, a whole one)


def lean_of(lake, forcing, stress, states):
    """How a front's wind leaned the thermocline along a lake's long axis.

    Parameters
    ----------
    lake : Lake
        With its ``axis``, else nothing is told.
    forcing : xarray.Dataset
        Hourly ``wind_direction`` [degrees] and ``wind_speed`` [m/s].
    stress : xarray.DataArray
        Wind stress on the water [N/m2] on (member, time), over the front's hours.
    states : sequence of xarray.Dataset
        Columns on (member, depth) before and after the front: the lean is told for all of them,
        since the blow itself changed one into the other.

    Returns
    -------
    Lean or None
        None where the axis or the direction of most hours is not known, or neither state has
        layers in most members.

    References
    ----------
    ``lakekit.strata.tilt``. The lean takes a quarter of the internal seiche's period to set up,
    so the mean stress of that long, at its strongest, sets it.
    """
    if lake.axis is None or "wind_direction" not in forcing:
        return None
    hours = stress["time"].to_index()
    here = forcing.sel(time=hours)
    direction = here["wind_direction"].to_numpy()
    known = np.isfinite(direction) & (here["wind_speed"].to_numpy() > 0.0)
    if hours.size == 0 or known.mean() < KNOWN:
        return None
    layers = [_interface(state, lake) for state in states]
    depth, resistance = (np.concatenate(part) for part in zip(*layers, strict=True))
    layered = np.isfinite(depth) & (resistance > 0)
    if layered.mean() < 0.5:
        return None
    depth, resistance = depth[layered], resistance[layered]
    bottom = float(lake.max_depth - lake.below_full_pond[hours[-1].month - 1])
    period = settling_time(
        lake.longest_fetch, upper_depth=depth, lower_depth=np.maximum(bottom - depth, 0.5),
        reduced_gravity=resistance / (WATER_DENSITY * depth**2),
    )  # fmt: skip
    quarter = float(np.median(period)) / 4.0 / 3600.0
    window = int(np.clip(round(quarter), SHORTEST, min(LONGEST, hours.size)))
    turn = np.radians(np.where(known, direction, 0.0))
    force = np.where(known, stress.transpose("member", "time").to_numpy(), 0.0)
    mean = force.mean(axis=0)
    east, north = (_means(-mean * part, window) for part in (np.sin(turn), np.cos(turn)))
    at = int(np.argmax(np.hypot(east, north)))
    axis = np.radians(lake.axis)
    push = east[at] * np.sin(axis) + north[at] * np.cos(axis)
    share = abs(push) / np.hypot(east[at], north[at])
    along_axis = -np.cos(turn - axis) * np.sign(push)
    blown = (force[:, at : at + window] * along_axis[at : at + window]).mean(axis=1)
    blown = np.quantile(np.maximum(blown, 0.0), (0.1, 0.5, 0.9))
    ratio = (resistance[:, None] / np.maximum(blown * lake.longest_fetch, 1e-12)).ravel()
    depths = np.repeat(depth, blown.size)
    upwind, downwind, upwelling = thermocline_tilt(
        depths, ratio, bottom_depth=bottom, leans_below=np.inf
    )
    return Lean(
        start=hours[at],
        end=hours[min(at + window, hours.size) - 1] + pd.Timedelta(hours=1),
        wind_from=float(np.degrees(np.arctan2(-east[at], -north[at])) % 360.0),
        toward=float((lake.axis + (0.0 if push > 0 else 180.0)) % 360.0),
        along=bool(share >= ALONG),
        upwind=widened(quantiles_of(upwind), MISSES["fitted"].line, low=0.0, high=bottom),
        downwind=widened(quantiles_of(downwind), MISSES["fitted"].line, low=0.0, high=bottom),
        upwelling_chance=float(np.mean(upwelling)),
        level_after=(quarter, 4.0 * ROCKS_ON * quarter),
    )


def _means(values, window):
    """Means of every whole window."""
    sums = np.cumsum(np.concatenate([[0.0], values]))
    return (sums[window:] - sums[:-window]) / window


def _interface(state, lake):
    """Depth [m] of the thermocline and g drho h2 [N/m], of every member with warm over cold."""
    names = ["water_temperature", "area"]
    column = state[names] if "area" in state else state[names[:1]]
    one = xr.ones_like(column["water_temperature"].isel(depth=0, drop=True))
    found = stratification(column.assign(wind_stress=one), fetch=1.0)
    depth = found["seasonal_thermocline_depth"].fillna(found["thermocline_depth"])
    warm = (found["stratified"] & ~found["inverse"]).to_numpy()
    resistance = found["wedderburn_number"].to_numpy()  # under a stress of 1 N/m2 over 1 m
    return np.where(warm, depth.to_numpy(), np.nan), np.where(warm, resistance, np.nan)
