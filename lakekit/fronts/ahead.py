"""The days after a record: its last water carried on under a forecast and past years' weather."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.run import simulate
from lakekit.errors import WeatherError
from lakekit.fronts.water import (
    held,
    hourly_columns,
    is_noon,
    layers_only,
    next_noon,
    pick_front,
    told_as_of,
    water_through,
)
from lakekit.strata.indices import OXYGEN_ZONE
from lakekit.strata.recovery import recovery_odds, trade_rule_days
from lakekit.strata.spells import fronts
from lakekit.strata.traces import HOUR, trace_weather, trace_years

AHEAD = 35  # days carried on: the recovery's horizon and a few more
EVENING = 21  # local standard time
LATE = pd.Timedelta(hours=18)  # an evening further off is tomorrow's: it is night now


@dataclass(frozen=True)
class Ahead:
    """The days after history, on ``trace`` (past years) and ``member``."""

    years: tuple
    recovery: xr.Dataset  # of ``recovery_odds``
    trade_days: np.ndarray  # (traces, 2) days until two, three hot calm days have passed
    after: xr.Dataset  # column and layers at the first noon after the front, on (sample, depth)
    days: dict  # time [UTC] -> column and layers on (sample, depth): tonight, then three noons
    noons: xr.Dataset  # layers and temperature at noon, on (trace, member, time, depth)
    surface_trend: float  # degC, median change of the surface over the next 30 days
    forecast_hours: int  # hours that come from a forecast


def told_times(as_of, longitude):
    """The four times told ahead [UTC]: the first evening, 21:00 local standard time, three noons.

    Parameters
    ----------
    as_of : datetime64
        Label of the last hour of history.
    longitude : float
        [degrees east]
    """
    first = pd.Timestamp(as_of) + 2 * HOUR  # the first state that can be computed ahead
    evening = (EVENING - round(longitude / 15.0)) % 24
    night = first + pd.Timedelta(hours=(evening - first.hour) % 24)
    if night - first > LATE:
        night = first
    noon = next_noon(night, longitude)
    return [night, *(noon + pd.Timedelta(days=number) for number in range(3))]


def carry_on(lake, forcing, water, parameters, *, forecast=None, change=None, days=AHEAD):
    """Carry the lake on under a forecast, where there is one, and past years' weather.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared.
    water : Water
    parameters : xarray.Dataset
        Those of ``water``.
    forecast : xarray.Dataset, optional
        Prepared; takes the place of past weather in its hours.
    change : callable, optional
        Weather of the hours ahead -> the same with a storm in it.
    days : int
        How far ahead.

    Returns
    -------
    Ahead

    Raises
    ------
    WeatherError
        When no past year's weather can serve.
    """
    years = _past_years(lake, forcing, water.as_of, days)
    known = forcing["time"].to_index()
    since = slice(known.searchsorted(water.front["end"]), known.searchsorted(water.as_of) + 1)
    recent = forcing.isel(time=since)
    noon = next_noon(water.front["end"], lake.longitude)
    days_told = told_times(water.as_of, lake.longitude)
    layers, trade, afters, told = [], [], [], {time: [] for time in days_told}
    for index in years.values():
        weather = trace_weather(forcing, water.as_of, index, forecast=forecast)
        if change is not None:
            weather = change(weather)
        run = simulate(lake, weather, parameters=water.parameters, state=water.state, every="1h")
        stamps = run["time"].to_index()
        wanted = is_noon(stamps, lake.longitude) | np.asarray(stamps == days_told[0])
        columns = hourly_columns([run.isel(time=wanted)], lake, water.oxygen_zone)
        for time, states in told.items():
            states.append(held(columns.sel(time=time), water.deep, water.before))
        columns = columns.isel(time=is_noon(columns["time"].to_index(), lake.longitude))
        layers.append(columns[[*layers_only(columns).data_vars, "water_temperature"]])
        parts = [recent, weather] if recent.sizes["time"] else [weather]
        felt = xr.concat(parts, "time", join="exact", combine_attrs="override")
        zone = float(round(lake.longitude / 15.0))
        trade.append(trade_rule_days(water.front["end"], felt, utc_offset=zone))
        if noon in columns["time"].to_index():
            afters.append(held(columns.sel(time=noon), water.deep, water.before))
    ahead = xr.concat(layers, "trace", join="exact", combine_attrs="override")
    covered = 0
    if forecast is not None:
        hours = pd.date_range(water.as_of + HOUR, periods=24 * days, freq="h")
        covered = int(forecast["time"].to_index().isin(hours).sum())
    surface = ahead["surface_temperature"].transpose("time", ...).to_numpy()
    return Ahead(
        years=tuple(years),
        recovery=recovery_odds(water.front, water.noons, layers_only(ahead)),
        trade_days=np.array(trade),
        after=_samples(afters or [water.after]),
        days={time: _samples(states) for time, states in told.items()},
        noons=ahead,
        surface_trend=float(np.median(surface[28:].mean(axis=0) - surface[0])),
        forecast_hours=covered,
    )


def noon_ahead(
    lake, forcing, noon, parameters, *, readings=None, oxygen_zone=OXYGEN_ZONE, say=None
):
    """One noon past the record under past years' weather, as a front note written now has it.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared.
    noon : Timestamp
        [UTC], two hours or more, and less than ``AHEAD`` days, after the record's last label.
    parameters, readings, oxygen_zone, say
        As for :func:`water_through`.

    Returns
    -------
    xarray.Dataset
        The column and its layers on (sample, depth).

    Raises
    ------
    WeatherError
    """
    as_of = forcing["time"].to_index()[-1]
    front = pick_front(fronts(forcing), as_of)
    if front is None or told_as_of(front, as_of, lake.longitude) != as_of:
        front = {"start": as_of + HOUR, "end": as_of + HOUR}  # none that a note would tell of now
    water = water_through(
        lake, forcing, front, as_of, parameters, readings=readings, oxygen_zone=oxygen_zone, say=say
    )
    hours, states = int((noon - as_of) / HOUR) - 1, []
    for index in _past_years(lake, forcing, as_of, AHEAD).values():
        weather = trace_weather(forcing, as_of, index[:hours])
        run = simulate(lake, weather, parameters=water.parameters, state=water.state, every="1h")
        columns = hourly_columns([run.isel(time=[-1])], lake, oxygen_zone).isel(time=0)
        states.append(held(columns, water.deep, water.before))
    return _samples(states)


def _past_years(lake, forcing, as_of, days):
    years = trace_years(forcing, as_of, days)
    if not years:
        raise WeatherError(
            f"no past year's weather covers the {days} days after {as_of:%d %B}",
            where=lake.key,
            mend="Take a longer record.",
        )
    return years


def _samples(states):
    """States on (member, depth) of several years as one on (sample, depth)."""
    return xr.concat(
        [state.rename(member="sample") for state in states], "sample", data_vars="minimal",
        coords="minimal", compat="override", join="override", combine_attrs="override",
    )  # fmt: skip
