"""Through-flow of a reservoir, and an aerator's reach."""

from dataclasses import dataclass, replace

import numpy as np

from .basin import monthly_to_hourly
from .compiled import compiled

AERATOR_DIFFUSIVITY = 2e-3  # m2/s where an aerator stirs: mixes 5 m in a few hours
RUNOFF_SHARE = 0.3  # of the rain on a catchment
FAST_TURNOVER_DAYS = 60.0  # residence below which unknown through-flow spoils the column


@dataclass(frozen=True)
class HourlyFlow:
    """Hourly inflow and release [m3/s], inflow temperature [degC], depths [m below full pond]."""

    inflow: np.ndarray
    inflow_temperature: np.ndarray
    release: np.ndarray
    release_depth: float
    aerated: tuple  # (from, to): what an aerator stirs


def aerated_depths(flow):
    """Depths [m] from and to which an aerator stirs: a plume the water above it, else that below.

    Returns
    -------
    (float, float), equal where there is none
    """
    if flow is None or not flow.aerator_depth:
        return 0.0, 0.0
    if flow.aerator_stirs == "below":
        return flow.aerator_depth, np.inf
    return 0.0, flow.aerator_depth


def residence_days(lake):
    """Days in which the mean inflow (else the release) fills the lake; None where not given."""
    flow = lake.flow
    rate = None
    if flow is not None:
        rate = flow.inflow if flow.inflow is not None else flow.release
    if rate is None:
        return None
    if np.mean(rate) <= 0.0:
        return np.inf  # a lake said to have no through-flow
    volume = np.sum(0.5 * (lake.areas[1:] + lake.areas[:-1]) * np.diff(lake.depths))
    return float(volume / np.mean(rate) / 86400.0)


def flow_doubts(lake):
    """What through-flow leaves open, as sentences for the user; empty where it is slow.

    Falling Creek Reservoir shows the size of it: two days of rain in September 2018 warmed its
    deep water by 1.4 degC, and a wet week in May cooled its surface by 5 degC, against any weather.
    """
    doubts, days = (), residence_days(lake)
    if lake.flow is not None and lake.flow.aerator_depth and lake.flow.aerator_stirs == "below":
        doubts = (
            "What the aerator itself adds is not counted: the deep water may hold more oxygen "
            "than told. Lower an oxygen probe.",
        )
    if days is None:
        return (
            *doubts,
            "No inflow or release is given: where it is fast, and after heavy rain, layers can "
            "be far off. Lower a probe.",
        )
    if days < FAST_TURNOVER_DAYS:
        return (
            *doubts,
            f"The water is exchanged in about {days:.0f} days, so that its layers hang on inflow "
            "and release more than on weather; monthly means of them are a rough guide.",
        )
    return doubts


def inflow_temperature(air_temperature, *, start=None, days=5.0):
    """Temperature of a stream from that of the air.

    Parameters
    ----------
    air_temperature : array (t,) [degC], hourly
    start : float, optional [degC], the stream before the first hour
    days : float, memory of the stream

    Returns
    -------
    array (t,) [degC], never below 0.5

    Notes
    -----
    The air's exponentially weighted mean of the days before (common practice for small streams);
    without ``start`` it begins at the mean of the first such span.
    """
    air = np.asarray(air_temperature, float)
    weight = 1.0 / (24.0 * days)
    smooth = np.empty_like(air)
    value = air[: max(1, int(24 * days))].mean() if start is None else start
    for index, now in enumerate(air):
        value = max(value + weight * (now - value), 0.5)
        smooth[index] = value
    return smooth


def runoff(rain, air_temperature, catchment):
    """Inflow from rain on a catchment.

    Parameters
    ----------
    rain : array (t,) [mm in the hour]
    air_temperature : array (t,) [degC]; below 0.5 it snows, and nothing runs
    catchment : float [m2]

    Returns
    -------
    array (t,) [m3/s], in the hour of the rain

    Notes
    -----
    Three tenths of the rain run off (common practice: 0.1 of dry woods to 0.6 of wet fields and
    roofs): a rough estimate, for lakes whose owner asks for it.
    """
    falls = np.where(np.asarray(air_temperature) >= 0.5, rain, 0.0)
    return RUNOFF_SHARE * falls * 1e-3 * catchment / 3600.0


def hourly_flow(flow, times, air_temperature, *, stream=None, catchment=None, rain=None):
    """A lake file's monthly flow carried to hours, and the rain's runoff; zero without either.

    Parameters
    ----------
    flow : Flow or None
    times : array (t,) datetime64
    air_temperature : array (t,) [degC]
    stream : float, optional [degC], the inflow before the first hour
    catchment : float, optional [m2]
    rain : array (t,), optional [mm in the hour]

    Returns
    -------
    HourlyFlow
    """
    zero = np.zeros(len(times))
    if catchment:
        monthly = hourly_flow(flow, times, air_temperature, stream=stream)
        added = runoff(rain, air_temperature, catchment)
        warmth = monthly.inflow_temperature
        if not monthly.inflow.any():
            warmth = inflow_temperature(air_temperature, start=stream)
        return replace(
            monthly, inflow=monthly.inflow + added, release=monthly.release + added,
            inflow_temperature=warmth,
        )  # fmt: skip
    if flow is None or (flow.inflow is None and flow.release is None):
        return HourlyFlow(zero, zero, zero, 0.0, aerated_depths(flow))
    first = flow.inflow if flow.inflow is not None else flow.release
    last = flow.release if flow.release is not None else flow.inflow
    if flow.inflow_temperature is not None:
        warmth = monthly_to_hourly(flow.inflow_temperature, times)
    else:
        warmth = inflow_temperature(air_temperature, start=stream)
    return HourlyFlow(
        inflow=monthly_to_hourly(first, times),
        inflow_temperature=warmth,
        release=monthly_to_hourly(last, times),
        release_depth=flow.release_depth or 0.0,
        aerated=aerated_depths(flow),
    )


@compiled
def neutral_layer(temperature, densities, top, inflow_density):
    """Layer whose water is as heavy as the inflow: the first not lighter, else the last."""
    for i in range(top, temperature.size):
        if densities[i] >= inflow_density:
            return i
    return temperature.size - 1


@compiled
def route(top, entry, outlet, amount, release, up, down, sink):
    """Move one hour's through-flow between layers that keep their volume.

    Parameters
    ----------
    top, entry, outlet : int, the top layer and those of inflow and release
    amount, release : float [m3] in the hour
    up, down, sink : array (n,) [m3], filled: water across the face below each layer, and out

    Notes
    -----
    What is not released rises to the surface layer, and what the release lacks is drawn from it:
    the surface layer then holds the difference, which the water level takes out or makes good.
    """
    up[:] = 0.0
    down[:] = 0.0
    sink[:] = 0.0
    for i in range(top, entry):
        up[i] += amount
    for i in range(top, outlet):
        down[i] += release
    for i in range(top, max(entry, outlet)):
        shared = min(up[i], down[i])
        up[i] -= shared
        down[i] -= shared
    sink[outlet] += release
    sink[top] += amount - release
