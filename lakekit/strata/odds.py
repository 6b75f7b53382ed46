"""Odds by month and day: history simulated to today, then past years' weather from there on."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.parameters import draw_parameters
from lakekit.column.run import end_state, run_parameters
from lakekit.errors import LakekitError
from lakekit.strata.events import event_threshold, front_effects, layered
from lakekit.strata.indices import OXYGEN_ZONE, run_layers
from lakekit.strata.reading_days import reading_worth
from lakekit.strata.seasons import season_end, season_statistics, widen_odds
from lakekit.strata.spells import fronts
from lakekit.strata.spread import QUANTILES, quantiles_of
from lakekit.strata.tilt import thermocline_tilt
from lakekit.strata.traces import (
    HOUR,
    JUDGED,
    forward_traces,
    history_run,
    last_observed,
    prepare_parts,
    trace_weather,
    trace_years,
)

MEMBERS = 24  # at the most; a few of them move printed ranges by metres
CONTEXT = pd.Timedelta(days=400)  # before the first month, from which its season is told
AFTER = 5  # days a front may last past the month in which it begins
DEPTHS = (
    "thermocline_depth", "lasting_thermocline_depth", "mixed_layer_depth", "fall_zone_top",
    "fall_zone_bottom", "oxygen_floor_depth", "oxygen_zone_top", "oxygen_zone_bottom",
)  # fmt: skip
OF_LAYERS = ("thermocline_depth", "fall_zone_top", "fall_zone_bottom", "wedderburn_number")
_LONG = {
    "layered_chance": "share of days, traces and members with warm water over cold",
    "layered_years": "traces with such layers on more than half of the days",
    "inverse_chance": "share of days, traces and members with colder water above",
    "ice_chance": "share of days, traces and members with ice",
    "surface_trend": "median rise of the surface temperature",
    "front_chance": "chance of a front that breaks or deepens the layers",
    "front_broke_chance": "chance of a front that breaks the layers",
    "front_count": "mean number of fronts",
    "front_deepening": "how much deeper the thermocline is after a front that deepened it",
    "recovery_days": "days from the front's end until the thermocline is back",
    "recovery_chance": "share of such fronts after which it is back within the horizon",
    "skin_days": "days from the front's end until there is a warm skin by day",
    "floor_days": "days from the front's end until a displaced oxygen floor is back",
}


def monthly_odds(
    lake, weather, start, months, *, parameters=None, as_of=None, members=MEMBERS, seed=0,
    readings=None, forecast=None, oxygen_zone=OXYGEN_ZONE, own_scale=1.0, progress=None,
):  # fmt: skip
    """Odds of a lake's layers month by month.

    Months that end by ``as_of`` are hindcast from the lake's own weather; in later ones the state
    at ``as_of`` is carried on under each past year's weather.

    Parameters
    ----------
    lake : Lake
    weather : xarray.Dataset
        Hourly, raw or prepared.
    start : str or datetime64
        Any day of the first month.
    months : int
        1 to 24.
    parameters : xarray.Dataset, optional
        On ``member``, the first central; default: drawn from the stated ranges with ``seed``.
    as_of : datetime64, optional
        Label of the last hour of history; default: the last observed.
    members : int
        How many members to use at most.
    seed : int
    readings : pandas.DataFrame, optional
        The lake's probe readings; those up to ``as_of`` move the water that is carried on.
    forecast : xarray.Dataset, optional
        Prepared; takes the place of past weather in the hours that it covers.
    own_scale : float
        As from ``strata.spread.own_scale``: how far the lake's own casts were missed, 1 as usual.
    oxygen_zone : (float, float, float)
        Enough, limit and least [mg/L] of the fish that it is told for.
    progress : callable, optional
        Called as progress(done, total) after each trace.

    Returns
    -------
    xarray.Dataset
        On ``month``, ``quantile`` (0.1, 0.5, 0.9), ``depth`` and ``day`` (from a year before
        the first month to a month after the last, where it was computed). Depths are those of the
        days on which they are defined, with the share of such days beside them as
        ``<name>_chance``; thermocline, fall zone and Wedderburn number only of days with warm
        water over cold. ``oxygen_zone_top`` and ``oxygen_zone_bottom`` are the floors at the
        oxygen that is enough and at the least. ``years`` counts traces: below ten say "3 of 4
        years". Days until something is back are of the fronts that took it away, cut at the
        attribute ``recovery_horizon_days``.
        ``onset_day`` and ``turnover_day`` are of the whole season, whatever months are asked for
        (of the first with its median in them, else of the first month's), counted from 1 January
        of the attribute ``onset_year`` or ``turnover_year`` (they may pass 365), NaN if never.

    Raises
    ------
    LakekitError
        For a window out of range, or weather that cannot serve.

    Examples
    --------
    >>> odds = monthly_odds(lake, weather, "2026-08", 1, members=4)
    >>> odds["thermocline_depth"].dims
    ('month', 'quantile')
    """
    if not 1 <= months <= 24:
        raise LakekitError(f"{months} months asked for", mend="Ask for 1 to 24.")
    forcing = prepare_parts(weather, lake)
    as_of = pd.Timestamp(last_observed(weather) if as_of is None else as_of).floor("h")
    first = pd.Timestamp(start).to_period("M").to_timestamp()
    firsts = pd.date_range(first, periods=months, freq="MS")
    zone = pd.Timedelta(hours=round(lake.longitude / 15.0))  # local standard time less UTC
    # beyond the last month, so that what its fronts took away has its time to come back
    until = firsts[-1] + pd.offsets.MonthBegin() - zone
    beyond = until + pd.Timedelta(days=event_threshold("horizon") + AFTER)
    if first - zone < forcing["time"].to_index()[0]:
        raise LakekitError(
            f"{first:%B %Y} is before the weather record",
            where=lake.key,
            mend=f"Begin in or after {forcing['time'].to_index()[0]:%B %Y}.",
        )
    fitted = parameters is not None
    if parameters is None:
        parameters = draw_parameters(lake, members, seed)
    parameters = parameters.isel(member=slice(0, members))
    history = history_run(
        lake, forcing, as_of=as_of, since=first - zone, parameters=parameters, readings=readings
    )
    parameters = run_parameters(history)
    past = run_layers(history, lake, oxygen_zone=oxygen_zone)
    if past["time"].to_index()[0] > first - zone + pd.Timedelta(days=1):
        raise LakekitError(
            f"the weather before {past['time'].to_index()[0]:%Y-%m-%d} has a hole too long to fill",
            where=lake.key,
            mend="Begin after it.",
        )
    known = forcing.sel(time=slice(None, as_of))
    storms = fronts(known)
    storms = storms[storms["start"] >= first - zone]
    last_noons = firsts + pd.offsets.MonthBegin() - pd.Timedelta(hours=12) - zone
    hindcast = np.asarray(last_noons <= as_of + HOUR)
    seen = front_effects(storms, past)
    whole_season = max(beyond, season_end(first, lake.latitude) - zone)
    days = -(-int((whole_season - (as_of + HOUR)) / HOUR) // 24)
    index = trace_years(forcing, as_of, days, judged=JUDGED) if days > 0 else {}
    if hindcast.all() and not index:
        every, water, effects, labels = _stack([past]), _stack([history]), [], []
        counts = [storms["start"]]
    else:
        traces = forward_traces(
            lake, forcing, end_state(history), as_of, days, parameters=parameters,
            forecast=forecast, progress=progress,
        )  # fmt: skip
        labels = [int(year) for year in traces["year"].values]
        ahead = run_layers(traces, lake, oxygen_zone=oxygen_zone)
        airs = [trace_weather(forcing, as_of, index[year], forecast=forecast) for year in labels]
        every, effects, counts = _followed(past, ahead, known, airs, storms)
        water = _columns(
            history.sel(time=slice(first - zone, None)),
            traces.sel(time=slice(None, until)),
        )
    asked = every.sel(time=water["time"])
    odds = _statistics(asked, water, firsts, zone, hindcast)
    odds = odds.merge(_daily_statistics(every, first, zone, as_of + HOUR))
    seen = (seen, storms["start"])
    odds = odds.merge(_front_statistics(effects, counts, seen, every, odds, zone, hindcast))
    seasons = season_statistics(every, first - zone, until)
    halves = _half_months(asked, water, firsts, zone, hindcast)
    odds = odds.merge(seasons).merge(halves, join="outer")
    odds["reading_worth"] = ("day", np.full(odds.sizes["day"], np.nan))
    if labels:
        worth = reading_worth(traces["water_temperature"].transpose("trace", "member", ...).values)
        at = odds.get_index("day").get_indexer((traces["time"].to_index() + zone).floor("D"))
        odds["reading_worth"].values[at[at >= 0]] = worth[at >= 0]
    odds["basis"] = ("month", np.where(hindcast, "hindcast", "odds"))
    odds["years"] = ("month", np.where(hindcast, 1, max(len(labels), 1)))
    widen_odds(
        odds, lake, readings, fitted=fitted, firsts=firsts, as_of=as_of, depths=DEPTHS,
        own_scale=own_scale,
    )  # fmt: skip
    odds["tilt_upwind"], odds["tilt_downwind"] = _tilt(odds, lake)
    _describe(odds)
    odds.attrs = _attributes(lake, as_of, labels, forecast) | seasons.attrs
    odds.attrs["members"] = int(parameters.sizes["member"])
    return odds


def _attributes(lake, as_of, labels, forecast):
    return {
        "title": f"Odds of the layers of {lake.name}",
        "lake": lake.key,
        "as_of": f"{as_of:%Y-%m-%dT%H:%M}",
        "trace_years": ", ".join(str(year) for year in labels),
        "recovery_horizon_days": event_threshold("horizon"),
        "forecast": "none" if forecast is None else str(forecast.attrs.get("source", "given")),
    }


def _followed(past, ahead, known, airs, storms):
    """History carried on in each trace, what its fronts did, and when they began.

    A front is told from the days before as well, and by the usual wind of all that is ``known``.
    """
    wind = float(known["wind_speed"].median())
    late = past["time"].to_index()[-1] - pd.Timedelta(days=40)
    recent = known.sel(time=slice(late, None))
    stacked, effects, counts = [], [], []
    for number, air in enumerate(airs):
        part = ahead.isel(trace=number, drop=True)
        whole = xr.concat([past, part], "time", join="exact", combine_attrs="override")
        air = xr.concat([recent, air], "time", join="exact", combine_attrs="override")
        coming = fronts(air, typical_wind=wind)
        mine = pd.concat(
            [storms[storms["start"] < late], coming[coming["start"] >= late]], ignore_index=True
        )
        effects.append(front_effects(mine, whole))
        counts.append(mine["start"])
        stacked.append(whole)
    return _stack(stacked), effects, counts


HALF_DEPTHS = (
    "thermocline_depth",
    "lasting_thermocline_depth",
    "mixed_layer_depth",
    "oxygen_floor_depth",
)


def _half_months(every, water, firsts, zone, hindcast):
    """Medians of each half of a month (1st to 15th, 16th on), on ``half``."""
    local = every["time"].to_index() + zone
    inside = np.asarray((local >= firsts[0]) & (local < firsts[-1] + pd.offsets.MonthBegin()))
    every, water, local = every.isel(time=inside), water.isel(time=inside), local[inside]
    number = 2 * ((local.year - firsts[0].year) * 12 + local.month - firsts[0].month)
    number = np.asarray(number + (local.day > 15))
    order = ("trace", "member", "time")
    warm = layered(every).transpose(*order).to_numpy()
    ice = every["ice"].transpose(*order).to_numpy()
    values = {name: every[name].transpose(*order).to_numpy() for name in HALF_DEPTHS}
    values["thermocline_depth"] = np.where(warm, values["thermocline_depth"], np.nan)
    values["surface_temperature"] = every["surface_temperature"].transpose(*order).to_numpy()
    columns = {
        name: water[name_in].transpose(*order, "depth").to_numpy()
        for name, name_in in (("temperature", "water_temperature"), ("oxygen", "dissolved_oxygen"))
    }
    halves = 2 * len(firsts)
    single = {f"half_{name}": np.full(halves, np.nan) for name in values}
    single |= {
        name: np.full(halves, np.nan)
        for name in ("half_layered_chance", "half_ice_chance", "half_oxygen_floor_depth_chance")
    }
    profiles = {f"half_{name}": np.full((halves, water.sizes["depth"]), np.nan) for name in columns}
    for half in range(halves):
        here = np.asarray(number == half)
        few = slice(0, 1) if hindcast[half // 2] else slice(None)
        if not here.any():
            continue
        for name, array in values.items():
            flat = array[few][..., here].reshape(-1)
            single[f"half_{name}"][half] = quantiles_of(flat, levels=(0.5,))[0]
        single["half_layered_chance"][half] = warm[few][..., here].mean()
        single["half_ice_chance"][half] = ice[few][..., here].mean()
        floors = values["oxygen_floor_depth"][few][..., here]
        single["half_oxygen_floor_depth_chance"][half] = np.isfinite(floors).mean()
        for name, array in columns.items():
            flat = array[few][:, :, here].reshape(-1, array.shape[-1])
            profiles[f"half_{name}"][half] = quantiles_of(flat, levels=(0.5,))[0]
    data = {name: ("half", array) for name, array in single.items()}
    data |= {name: (("half", "depth"), array) for name, array in profiles.items()}
    starts = [first + pd.Timedelta(days=14 * part + part) for first in firsts for part in (0, 1)]
    return xr.Dataset(data, coords={
        "half": pd.DatetimeIndex(starts).to_numpy(), "depth": water["depth"].to_numpy(),
    })  # fmt: skip


def _stack(parts):
    return xr.concat(parts, "trace", join="exact", combine_attrs="override")


def _columns(history, traces):
    """Temperature and oxygen of history and traces on (trace, member, time, depth)."""
    names = ["water_temperature", "dissolved_oxygen"]
    past = history[names].expand_dims(trace=traces.sizes["trace"])
    return xr.concat(
        [past, traces[names].drop_vars("year")], "time", join="exact", combine_attrs="override"
    )


def _statistics(every, water, firsts, zone, hindcast):
    months = len(firsts)
    local = every["time"].to_index() + zone
    day = local.floor("D")
    inside = np.asarray((day >= firsts[0]) & (day < firsts[-1] + pd.offsets.MonthBegin()))
    every, water = every.isel(time=inside), water.isel(time=inside)
    local, day = local[inside], day[inside]
    number = (local.year - firsts[0].year) * 12 + local.month - firsts[0].month
    warm = layered(every).transpose("trace", "member", "time").to_numpy()
    values = {
        name: every[name].transpose("trace", "member", "time").to_numpy()
        for name in (*DEPTHS, "wedderburn_number", "surface_temperature", "bottom_temperature")
    }
    for name in OF_LAYERS:
        values[name] = np.where(warm, values[name], np.nan)
    columns = {
        "temperature": water["water_temperature"].transpose(..., "time", "depth").to_numpy(),
        "oxygen": water["dissolved_oxygen"].transpose(..., "time", "depth").to_numpy(),
    }
    flags = {
        "layered_chance": warm,
        "inverse_chance": every["inverse"].transpose("trace", "member", "time").to_numpy(),
        "ice_chance": every["ice"].transpose("trace", "member", "time").to_numpy(),
    }
    single = {name: np.full(months, np.nan) for name in (*flags, "surface_trend")}
    single["layered_years"] = np.zeros(months, dtype=np.int64)
    single |= {f"{name}_chance": np.full(months, np.nan) for name in DEPTHS}
    spread = {name: np.full((months, len(QUANTILES)), np.nan) for name in values}
    depths = water.sizes["depth"]
    profiles = {name: np.full((months, len(QUANTILES), depths), np.nan) for name in columns}
    for month in range(months):
        here = np.asarray(number == month)
        if not here.any():
            continue
        few = slice(0, 1) if hindcast[month] else slice(None)  # history is the same in all traces
        for name, flag in flags.items():
            single[name][month] = flag[few][..., here].mean()
        share = warm[few][..., here].mean(axis=(1, 2))
        single["layered_years"][month] = int((share > 0.5).sum())
        for name, array in values.items():
            flat = array[few][..., here].reshape(-1)
            spread[name][month] = quantiles_of(flat)
            if f"{name}_chance" in single:
                single[f"{name}_chance"][month] = np.isfinite(flat).mean()
        single["surface_trend"][month] = _trend(values["surface_temperature"][few][..., here])
        for name, array in columns.items():
            profiles[name][month] = quantiles_of(array[few][:, :, here].reshape(-1, depths))
    data = {name: ("month", array) for name, array in single.items()}
    data |= {name: (("month", "quantile"), array) for name, array in spread.items()}
    data |= {name: (("month", "quantile", "depth"), array) for name, array in profiles.items()}
    coords = {
        "month": firsts.to_numpy(),
        "quantile": np.array(QUANTILES),
        "depth": water["depth"].to_numpy(),
    }
    return xr.Dataset(data, coords=coords)


def _daily_statistics(every, first, zone, now):
    """Surface, layering and ice by day, from a year before the first month to the end of all."""
    day = (every["time"].to_index() + zone).floor("D")
    near = np.asarray(day >= first - CONTEXT)
    every, day = every.isel(time=near), day[near]
    surface = every["surface_temperature"].transpose("trace", "member", "time").to_numpy()
    daily = quantiles_of(surface.reshape(-1, len(day)))
    past = np.asarray(every["time"].to_index() <= now)
    daily[:, past] = quantiles_of(surface[0][:, past])
    warm = layered(every).transpose("trace", "member", "time").to_numpy()
    data = {
        "surface_daily": (("day", "quantile"), daily.T),
        "layered_daily": ("day", warm.mean(axis=(0, 1))),
        "ice_daily": ("day", every["ice"].mean(("trace", "member")).to_numpy()),
    }
    return xr.Dataset(data, coords={"day": day.to_numpy(), "quantile": np.array(QUANTILES)})


def _trend(surface):
    """Median over traces and members of the slope through a month's days [degC a week]."""
    rows = surface.reshape(-1, surface.shape[-1])
    if rows.shape[1] < 3:
        return np.nan
    day = np.arange(rows.shape[1]) - (rows.shape[1] - 1) / 2.0
    slopes = (rows - rows.mean(axis=1, keepdims=True)) @ day / (day @ day)
    return 7.0 * float(np.median(slopes))


def _front_statistics(effects, counts, seen, every, odds, zone, hindcast):
    """Chances and sizes of what fronts did, by the month in which each began.

    ``effects`` and ``counts`` (starts) are lists with an entry a trace; ``seen`` is the pair of
    history alone, from which hindcast months are told.
    """
    months = odds["month"].to_index()
    members = every.sizes["member"]
    tables = [table.assign(trace=number) for number, table in enumerate(effects)]
    table = pd.concat([*tables, seen[0].assign(trace=-1)], ignore_index=True)

    def months_of(starts):
        return (pd.to_datetime(starts) + zone).dt.to_period("M").dt.to_timestamp()

    begun = months_of(table["start"])
    started, seen_started = months_of(pd.concat(counts, ignore_index=True)), months_of(seen[1])
    horizon = float(event_threshold("horizon"))
    names = ("front_deepening", "recovery_days", "skin_days", "floor_days")
    spread = {name: np.full((len(months), len(QUANTILES)), np.nan) for name in names}
    single = {
        name: np.full(len(months), np.nan)
        for name in ("front_chance", "front_broke_chance", "front_count", "recovery_chance")
    }
    for number, month in enumerate(months):
        mine = table[begun == month]
        single["front_count"][number] = (
            (seen_started == month).sum()
            if hindcast[number]
            else (started == month).sum() / every.sizes["trace"]
        )
        mine = mine[(mine["trace"] < 0) == hindcast[number]]
        pairs = members * (1 if hindcast[number] else every.sizes["trace"])
        if not float(odds["layered_chance"][number]) > 0.0:
            continue
        hit = mine[(mine["broke"] | mine["deepened"]).astype(bool)]
        single["front_chance"][number] = len(hit.groupby(["trace", "member"])) / pairs
        broken = mine[mine["broke"].astype(bool)]
        single["front_broke_chance"][number] = len(broken.groupby(["trace", "member"])) / pairs
        back = hit["thermocline_days"].to_numpy(float)
        if len(back):
            single["recovery_chance"][number] = np.isfinite(back).mean()
        deepening = hit.loc[hit["deepened"].astype(bool), "deepening"].to_numpy(float)
        spread["front_deepening"][number] = quantiles_of(deepening)
        spread["recovery_days"][number] = quantiles_of(np.minimum(back, horizon))
        skin = hit["skin_days"].to_numpy(float)
        spread["skin_days"][number] = quantiles_of(np.minimum(skin, horizon))
        lost = mine.loc[mine["floor_lost"].astype(bool), "floor_days"].to_numpy(float)
        spread["floor_days"][number] = quantiles_of(np.minimum(lost, horizon))
    data = {name: ("month", array) for name, array in single.items()}
    data |= {name: (("month", "quantile"), array) for name, array in spread.items()}
    return xr.Dataset(data, coords={"month": odds["month"], "quantile": odds["quantile"]})


def _tilt(odds, lake):
    """Lean of the median lasting thermocline on the windiest tenth of layered days."""
    upwind, downwind, _ = thermocline_tilt(
        odds["lasting_thermocline_depth"].sel(quantile=0.5).to_numpy(),
        odds["wedderburn_number"].sel(quantile=0.1).to_numpy(),
        bottom_depth=lake.max_depth,
    )
    attrs = {"units": "m", "long_name": "thermocline, windiest tenth of layered days, by the shore"}
    return ("month", upwind, attrs), ("month", downwind, attrs)


def _describe(odds):
    for name in odds.data_vars:
        if name.endswith("_depth") or name.startswith(("fall_zone", "front_deep", "oxygen_zone")):
            odds[name].attrs["units"] = "m"
        elif "temperature" in name or name == "surface_daily":
            odds[name].attrs["units"] = "degC"
        elif name.endswith("_days") or name.endswith("_day"):
            odds[name].attrs["units"] = "days" if name.endswith("_days") else "1"
        elif name == "surface_trend":
            odds[name].attrs["units"] = "degC per week"
        elif name == "oxygen":
            odds[name].attrs["units"] = "mg L-1"
        if name in _LONG:
            odds[name].attrs["long_name"] = _LONG[name]
