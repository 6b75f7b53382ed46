"""Odds of whole seasons, whatever months are asked for, and ranges as wide as the column errs."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.strata.events import season_dates
from lakekit.strata.spread import (
    FOLLOWED,
    MISSES,
    OF_FLOORS,
    QUANTILES,
    profile_error,
    quantiles_of,
    standing,
    widened,
)


def season_end(first, latitude):
    """The end of the season (a year that holds one summer) of a day, local standard time."""
    month = 7 if latitude < 0.0 else 1
    year = first.year + (first.month >= month)
    return pd.Timestamp(year=year, month=month, day=1)


def season_statistics(every, begin, until):
    """Onset and turnover of a whole season, over traces and members."""
    data, attrs = {}, {}
    traces, members = every.sizes["trace"], every.sizes["member"]
    tables = [season_dates(every.isel(trace=n)).assign(trace=n) for n in range(traces)]
    table = pd.concat(tables, ignore_index=True)
    day = begin + pd.Timedelta("1D")
    own = day.year - (every.attrs.get("latitude", 0.0) < 0.0 and day.month < 7)
    for kind in ("onset", "turnover"):
        middles = table.dropna(subset=[kind]).groupby("year")[kind].median()
        inside = middles[(middles >= begin) & (middles < until)]
        season = (inside if len(inside) else middles[middles.index >= own]).index
        mine = table[table["year"] == season[0]] if len(season) else table.iloc[:0]
        dates = np.full((traces, members), np.datetime64("NaT", "ns"))
        dates[mine["trace"], mine["member"]] = mine[kind].to_numpy("datetime64[ns]")
        known = ~np.isnat(dates)
        year = pd.Timestamp(dates[known].min() if known.any() else begin).year
        elapsed = (dates - np.datetime64(f"{year}-01-01")) / np.timedelta64(1, "D")
        day = np.where(known, np.floor(elapsed) + 1.0, np.nan)
        data[f"{kind}_day"] = ("quantile", quantiles_of(day.reshape(-1)))
        data[f"{kind}_years"] = ((), int((known.mean(axis=1) > 0.5).sum()))
        attrs[f"{kind}_year"] = int(year)
    return xr.Dataset(data, coords={"quantile": np.array(QUANTILES)}, attrs=attrs)


def widen_odds(odds, lake, readings, *, fitted, firsts, as_of, depths, own_scale=1.0):
    """Widen every range by what the column itself misses, by days since the last reading.

    ``own_scale`` is what the lake's own casts say of it (``spread.own_scale``); it holds while a
    reading does.
    """
    hows = []
    for first in firsts:
        middle = first + pd.Timedelta(days=15)
        days = None
        if readings is not None:
            known = readings["time"][readings["time"] <= min(middle, as_of + pd.Timedelta("1h"))]
            days = (middle - known.max()).days if len(known) else None
        hows.append(standing(days, fitted))
    for month, how in enumerate(hows):
        own, layered_now = MISSES[how], float(odds["layered_chance"][month]) > 0.5
        season = int(not layered_now)
        profile = odds["temperature"].values[month]
        error = profile_error(profile[1], odds["depth"].values, how=how, layered=layered_now)
        scale = own.factor * (own_scale if how in FOLLOWED else 1.0)
        odds["temperature"].values[month] = widened(profile, error, low=0.0, scale=scale)
        oxygen = odds["oxygen"].values[month]
        odds["oxygen"].values[month] = widened(oxygen, own.oxygen[season], low=0.0)
        for name in ("surface_temperature", "bottom_temperature"):
            values = odds[name].values[month]
            error = own.temperature[season]
            odds[name].values[month] = widened(values, error, low=0.0, scale=scale)
        for name in depths:
            values = odds[name].values[month]
            if np.isfinite(values).all():
                error = own.floor if name in OF_FLOORS else own.line
                odds[name].values[month] = widened(values, error, low=0.0, high=lake.max_depth)
    odds["standing"] = ("month", np.array(hows))
