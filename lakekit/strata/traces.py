"""The months ahead: today's water carried on under the weather of each past year.

The practice is hydrology's extended streamflow prediction (Day 1985, J. Water Resour. Plann.
Manage. 111:157-170, from memory): one trace a past year, all equally likely.
"""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.following.follow import run_on
from lakekit.column.run import simulate
from lakekit.errors import WeatherError
from lakekit.progress import listening
from lakekit.weather.forcing import fill_method, prepare_forcing
from lakekit.weather.gaps import LIMITS, holes
from lakekit.weather.schema import ESTIMATED

HOUR = pd.Timedelta(hours=1)
KEPT = ("water_temperature", "dissolved_oxygen", "ice_thickness", "wind_stress")  # of each trace
BORROWED = 0.25  # most of a trace that may come from the year next to its own
JUDGED = 395  # days ahead by which a year is judged whole, whatever the window that is asked for
SHORTEST_PART = 30  # days of a record cut at its long holes that are worth keeping


def last_observed(weather):
    """Label of the last hour with both air temperature and wind (datetime64)."""
    known = np.isfinite(weather["air_temperature"].to_numpy())
    known &= np.isfinite(weather["wind_speed"].to_numpy())
    if not known.any():
        raise WeatherError("no hour has both air temperature and wind")
    return pd.Timestamp(weather["time"].to_numpy()[np.flatnonzero(known)[-1]])


def prepare_parts(weather, lake):
    """Prepare a record; one with holes too long to fill is cut at them and keeps its parts.

    Parameters
    ----------
    weather : xarray.Dataset
        Raw or prepared, hourly.
    lake : Lake

    Returns
    -------
    xarray.Dataset
        A prepared forcing; hours that could not be prepared are not in it.

    Raises
    ------
    WeatherError
        When no part of 30 days or more can be prepared.
    """
    if "fill_flag" in weather:
        return prepare_forcing(weather, lake)
    try:
        return prepare_forcing(weather, lake)
    except WeatherError as error:
        refusal = error
    missing = np.isnan(weather["air_temperature"].to_numpy())
    missing |= np.isnan(weather["wind_speed"].to_numpy())
    longest = 24 * min(LIMITS["air_temperature"].nearby, LIMITS["wind_speed"].nearby)
    start, stop, length = holes(missing)
    cut = length > longest
    begins = np.concatenate([[0], stop[cut]])
    ends = np.concatenate([start[cut], [missing.size]])
    parts = []
    for a, b in zip(begins, ends, strict=True):
        if b - a < 24 * SHORTEST_PART:
            continue
        try:
            parts.append(prepare_forcing(weather.isel(time=slice(a, b)), lake))
        except WeatherError:
            continue
    if not parts:
        raise refusal
    return xr.concat(parts, "time", combine_attrs="override", join="exact")


def history_run(lake, forcing, *, as_of, since, parameters, readings=None, every="1D"):
    """Simulate from some time before ``since`` up to and with the hour ``as_of``.

    Parameters
    ----------
    lake : Lake
    forcing : xarray.Dataset
        Prepared; where hours are missing from it, the run begins after the last of them.
    as_of : datetime64
        Label of the last hour.
    since : datetime64
        First time that will be looked at; the run begins two whole years before its own, or
        that of ``as_of``, where it can.
    parameters : xarray.Dataset
        On ``member``.
    readings : pandas.DataFrame, optional
        Of a probe; those up to ``as_of`` move the water.
    every : str
        As for ``simulate``.

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    WeatherError
        When fewer than 30 days of weather lead up to ``as_of``.
    """
    as_of = pd.Timestamp(as_of)
    begin = pd.Timestamp(year=min(pd.Timestamp(since), as_of).year - 2, month=1, day=1)
    times = forcing["time"].to_index()
    stop = int(times.searchsorted(as_of, side="right"))
    start = int(times.searchsorted(begin))
    jumps = np.flatnonzero(np.diff(times[start:stop].to_numpy()) > np.timedelta64(1, "h"))
    start += int(jumps[-1]) + 1 if jumps.size else 0
    if stop - start < 24 * SHORTEST_PART or times[stop - 1] < as_of - HOUR:
        raise WeatherError(
            f"only {max(stop - start, 0) // 24} days of whole weather lead up to {as_of:%Y-%m-%d}",
            where=lake.key,
            mend="Take a record that reaches nearer to today without a long hole.",
        )
    part = forcing.isel(time=slice(start, stop))
    return run_on(lake, part, parameters=parameters, probe=readings, every=every)


def trace_years(forcing, as_of, days, *, judged=None):
    """Past years whose weather can carry a trace of so many days from ``as_of``.

    Parameters
    ----------
    forcing : xarray.Dataset
        Prepared.
    as_of : datetime64
        Label of the last hour of history; no later weather is used.
    days : int
    judged : int, optional
        Days ahead of which no more than a quarter may come from a year beside; default ``days``.

    Returns
    -------
    dict
        Year in which the trace's weather begins -> index of its hours in ``forcing``, oldest
        first.
    """
    times = forcing["time"].to_index()
    as_of = pd.Timestamp(as_of)
    known = times[times <= as_of]
    judged = 24 * int(days if judged is None else judged)
    ahead = pd.date_range(as_of + HOUR, periods=max(24 * int(days), judged), freq="h")
    years = {}
    for year in range(known[0].year - 1, as_of.year + 1):
        index = _source_index(known, ahead, year - ahead[0].year)
        away = index < 0
        if away[:judged].mean() > BORROWED:
            continue
        for shift in (-1, 1, -2):  # the youngest trace's end, or the oldest's beginning
            if away.any():
                other = _source_index(known, ahead[away], year - ahead[0].year + shift)
                index[away] = other
                away = index < 0
        if not away.any():
            years[year] = index[: 24 * int(days)]
    return years


def trace_weather(forcing, as_of, index, *, forecast=None):
    """Past weather moved to the days ahead.

    Parameters
    ----------
    forcing : xarray.Dataset
        Prepared.
    as_of : datetime64
        Label of the last hour of history.
    index : (n,) int array
        From :func:`trace_years`.
    forecast : xarray.Dataset, optional
        Prepared; takes the place of past weather in the hours that it covers, but for rain that
        it does not give.

    Returns
    -------
    xarray.Dataset
        Prepared forcing for the n hours after ``as_of``.
    """
    start = pd.Timestamp(as_of) + HOUR
    ahead = pd.date_range(start, periods=len(index), freq="h", unit="ns")
    trace = forcing.isel(time=index).assign_coords(time=ahead)
    if forecast is None:
        return trace
    at = ahead.get_indexer(forecast["time"].to_index())
    inside = np.flatnonzero(at >= 0)
    given = inside[fill_method(forecast, "precipitation")[inside] != ESTIMATED]
    for name in trace.data_vars:
        values = trace[name].to_numpy().copy()
        taken = given if name == "precipitation" else inside
        values[at[taken]] = forecast[name].to_numpy()[taken] if name in forecast else np.nan
        trace[name] = ("time", values, trace[name].attrs)
    return trace


def forward_traces(
    lake, weather, state, as_of, days, *, parameters, years=None, forecast=None, every="1D",
    progress=None,
):  # fmt: skip
    """Carry a state on under the weather of each past year.

    Parameters
    ----------
    lake : Lake
    weather : xarray.Dataset
        Hourly record, raw or prepared, that reaches to ``as_of``.
    state : xarray.Dataset
        ``end_state`` of a run that ends with the hour ``as_of``.
    as_of : datetime64
        Label of the last hour of history; later weather is not used.
    days : int
        How far ahead.
    parameters : xarray.Dataset
        On ``member``, those of the state's run.
    years : sequence of int, optional
        Years in which the past weather begins; default: all whose weather is whole for the
        next 13 months, so that each window is told from the same years. Where the youngest would
        run past ``as_of``, or the oldest begins before the record, up to a quarter of those
        months comes from the year beside it, and later ones as they need. 29 February falls on
        28.
    forecast : xarray.Dataset, optional
        Prepared; spliced in from ``as_of`` on.
    every : str
        As for ``simulate``.
    progress : callable, optional
        Called as progress(done, total) after each trace.

    Returns
    -------
    xarray.Dataset
        As from ``simulate`` on (trace, member, time, depth), with ``year`` on trace.

    Raises
    ------
    WeatherError
        When no past year is whole, or one asked for is not.
    """
    forcing = prepare_parts(weather, lake)
    possible = trace_years(forcing, as_of, days, judged=JUDGED)
    chosen = list(possible) if years is None else [int(year) for year in years]
    bad = [year for year in chosen if year not in possible]
    if bad or not chosen:
        said = f"the weather of {bad}" if bad else "no past year's weather"
        raise WeatherError(
            f"{said} {'is' if bad else 'covers'} {'not whole for' if bad else 'the'} {days} days"
            f" after {pd.Timestamp(as_of):%d %B}",
            where=lake.key,
            mend="Begin earlier, ask for fewer months, or take a longer record.",
        )
    runs = []
    for count, year in enumerate(chosen):
        ahead = trace_weather(forcing, as_of, possible[year], forecast=forecast)
        with listening(None):  # told trace by trace
            run = simulate(lake, ahead, parameters=parameters, state=state, every=every)
        runs.append(run[[*KEPT, "area"]])
        if progress is not None:
            progress(count + 1, len(chosen))
    traces = xr.concat(
        runs, "trace", data_vars=list(KEPT), coords="minimal", compat="override", join="exact",
        combine_attrs="override",
    )  # fmt: skip
    return traces.assign_coords(year=("trace", np.array(chosen)))


def _source_index(known, ahead, shift):
    """Index in ``known`` of each hour ahead moved by whole years; -1 where it is not known."""
    leap = (ahead.month == 2) & (ahead.day == 29)
    year = ahead.year + shift
    day = np.where(leap, 28, ahead.day)
    parts = pd.DataFrame({"year": year, "month": ahead.month, "day": day, "hour": ahead.hour})
    return known.get_indexer(pd.DatetimeIndex(pd.to_datetime(parts)).as_unit(known.unit))
