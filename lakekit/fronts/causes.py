"""Which of wind and cooling did a front's work: the same days computed again without each."""

from itertools import product

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.run import simulate
from lakekit.fronts.what_if import with_storm
from lakekit.strata.indices import stratification
from lakekit.strata.traces import HOUR, trace_weather

TYPICAL_DAYS = 10  # before the front, whose wind by hour of the day stands for calmer air
WARM_DAYS = 3  # before the front, whose air and sky stand for no cooling
COOLING = ("air_temperature", "relative_humidity", "shortwave", "longwave")
LEAST_LOSS = 0.05  # share of the stability before; less than that is no work to share out


def with_only(forcing, front, until, *, wind, cooling):
    """The weather of a front with only those of its wind and its cooling that are asked for.

    Parameters
    ----------
    forcing : xarray.Dataset
        Prepared; it reaches back some days before the front.
    front : dict
        ``start`` and ``end`` [UTC].
    until : datetime64
        Hours up to this time are changed; for cooling they go on past the front's end, since the
        air of its rear stays.
    wind, cooling : bool
        Whether to leave each in (True) or out (False). Wind left out is at most the median of the
        same hour of the day in the ten days before; cooling left out is the mean air and sky of
        the same hour in the three days before.

    Returns
    -------
    xarray.Dataset
    """
    times = forcing["time"].to_index()
    out = forcing.copy()
    if not wind:
        here = np.asarray((times >= front["start"]) & (times < front["end"]))
        typical = _by_hour(forcing, "wind_speed", front["start"], TYPICAL_DAYS, "median")
        speed = forcing["wind_speed"].to_numpy().copy()
        speed[here] = np.minimum(speed[here], typical[times.hour[here]])
        out["wind_speed"] = ("time", speed, forcing["wind_speed"].attrs)
    if not cooling:
        here = np.asarray((times >= front["start"]) & (times < until))
        for name in COOLING:
            usual = _by_hour(forcing, name, front["start"], WARM_DAYS, "mean")
            values = forcing[name].to_numpy().copy()
            values[here] = usual[times.hour[here]]
            out[name] = ("time", values, forcing[name].attrs)
    return out


def _by_hour(forcing, name, start, days, how):
    series = forcing[name].to_series()
    before = series[(series.index < start) & (series.index >= start - pd.Timedelta(days=days))]
    hours = before.groupby(before.index.hour).agg(how)
    return hours.reindex(range(24)).interpolate(limit_direction="both").to_numpy()


def causes(lake, variants, state, parameters, *, stability_before):
    """Share out the layers' loss of stability between wind and cooling.

    Parameters
    ----------
    lake : Lake
    variants : dict
        (wind, cooling) as in :func:`with_only` -> prepared weather from the state's time to the
        time at which the front's work is judged; all four.
    state : xarray.Dataset
    parameters : xarray.Dataset
        On ``member``.
    stability_before : float
        Mean over members [J/m2].

    Returns
    -------
    dict or None
        ``wind`` and ``cooling``: each one's share of the loss, 0 to 1, averaged over the order in
        which they are taken out (Shapley 1953, from memory); ``mixed_layer``: its median depth
        [m] ``with_both``, ``without_wind``, ``without_cooling``, ``without_both``; ``loss`` [J/m2].
        None where the front took away less than a twentieth of the stability.
    """
    stability, mixed = {}, {}
    for key, weather in variants.items():
        run = simulate(lake, weather, parameters=parameters, state=state, every="1h")
        last = stratification(run.isel(time=slice(-1, None)), fetch=lake.longest_fetch)
        stability[key] = float(last["schmidt_stability"].mean())
        mixed[key] = float(last["mixed_layer_depth"].median())
    return loss_shares(stability, mixed, stability_before)


def loss_shares(stability, mixed, stability_before):
    """The shares of :func:`causes` from the stabilities of its four runs."""
    both, none = stability[True, True], stability[False, False]
    loss = none - both
    if not loss > max(LEAST_LOSS * stability_before, 0.5):
        return None
    by_wind = 0.5 * ((none - stability[True, False]) + (stability[False, True] - both))
    by_cooling = 0.5 * ((none - stability[False, True]) + (stability[True, False] - both))
    wind = float(np.clip(by_wind / loss, 0.0, 1.0))
    return {
        "wind": wind,
        "cooling": float(np.clip(by_cooling / loss, 0.0, 1.0)),
        "loss": loss,
        "mixed_layer": {
            "with_both": mixed[True, True],
            "without_wind": mixed[False, True],
            "without_cooling": mixed[True, False],
            "without_both": mixed[False, False],
        },
    }


def front_causes(lake, forcing, water, parameters):
    """:func:`causes` for a front that has come: judged at the state after it."""
    start, stop = _time(water.before), _time(water.after)
    times = forcing["time"].to_index()
    margin = pd.Timedelta(days=TYPICAL_DAYS + 1)
    near = forcing.isel(time=slice(times.searchsorted(start - margin), times.searchsorted(stop)))
    inside = slice(near["time"].to_index().searchsorted(start), None)
    variants = {
        (wind, cooling): with_only(near, water.front, stop, wind=wind, cooling=cooling).isel(
            time=inside
        )
        for wind, cooling in product((True, False), repeat=2)
    }
    before = float(water.before["schmidt_stability"].mean())
    return causes(lake, variants, water.state_before, parameters, stability_before=before)


def storm_causes(lake, forcing, water, parameters, *, index, forecast, storm, until):
    """:func:`causes` for a storm that has not come, in the weather of one past year."""
    calm = trace_weather(forcing, water.as_of, index, forecast=forecast)
    calm = calm.sel(time=slice(None, until - HOUR))
    variants = {
        (wind, cooling): with_storm(calm, water.front, storm, wind=wind, cooling=cooling)
        for wind, cooling in product((True, False), repeat=2)
    }
    before = float(water.now["schmidt_stability"].mean())
    return causes(lake, variants, water.state, parameters, stability_before=before)


def _time(state):
    return pd.Timestamp(xr.DataArray(state["time"]).values)
