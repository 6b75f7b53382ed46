"""After a front: days until a warm skin, broken or deeper layers and the oxygen floor are back."""

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import stdtrit

from lakekit.strata.events import event_threshold, front_effects
from lakekit.strata.spells import hot_calm_spells

# what a front can take -> its days until back in ``front_effects``
PARTS = {
    "skin": "skin_days",
    "broken": "thermocline_days",
    "deeper": "thermocline_days",
    "oxygen_floor": "floor_days",
}
QUANTILES = (0.1, 0.5, 0.9)
FEW_TRACES = 10  # under so many, quantiles of the years seen are no range for one more
SHORTEST = 0.5  # days, the least that days are told apart by
WITHIN = (2, 3, 7, 14)  # days
# The trade's rule: two or three hot days with light wind set the layers up again after a big
# storm. Common practice, no source.
TRADE_RULE = (2, 3)  # days in a row


def recovery_odds(front, past, ahead):
    """Days from a front's end until each part of the layers is back.

    Parameters
    ----------
    front : mapping
        ``start`` and ``end`` (UTC), such as a row of ``fronts``.
    past : xarray.Dataset
        Daily layers on (member, time) from before the front to the last hour of history.
    ahead : xarray.Dataset
        Daily layers on (trace, member, time) from there on.

    Returns
    -------
    xarray.Dataset
        On ``part`` (skin, broken, deeper, oxygen_floor): ``before`` (share of members that had
        it), ``lost_chance`` (of those, the share in which the front took it: the layers were
        ``broken`` or their thermocline made ``deeper``; for the skin, in which the first noon
        after the front has none), and of the lost ones ``days`` (of :func:`days_range`;
        infinite: not within the horizon; NaN: none was lost), ``back_chance`` (within the
        horizon) and ``within_chance`` (within, in days). Attributes: ``horizon`` [days],
        ``traces``, and ``broke_chance``, ``deepened_chance`` and ``deepening`` (median) [m].

    Raises
    ------
    ValueError
        When the layers do not reach from before the front until after it.
    """
    effects = trace_effects(front, past, ahead)
    horizon = event_threshold("horizon")
    had = {
        "skin": np.isfinite(effects["skin_days"]) | np.isinf(effects["skin_days"]),
        "broken": effects["layered_before"],
        "deeper": effects["layered_before"],
        "oxygen_floor": np.isfinite(effects["floor_before"]),
    }
    lost = {
        "skin": had["skin"] & ~(effects["skin_days"] < 1.0),
        "broken": effects["broke"],
        "deeper": effects["deepened"],
        "oxygen_floor": effects["floor_lost"],
    }
    out = {name: np.full(len(PARTS), np.nan) for name in ("before", "lost_chance", "back_chance")}
    days = np.full((len(PARTS), len(QUANTILES)), np.nan)
    within = np.full((len(PARTS), len(WITHIN)), np.nan)
    for i, (part, column) in enumerate(PARTS.items()):
        mine = had[part].to_numpy(bool)
        gone = lost[part].to_numpy(bool) & mine
        out["before"][i] = mine.mean()
        out["lost_chance"][i] = gone.sum() / mine.sum() if mine.any() else np.nan
        if gone.any():
            values = effects[column].to_numpy(float)[gone]
            out["back_chance"][i] = np.isfinite(values).mean()
            traces = effects["trace"].to_numpy()[gone]
            days[i] = days_range(values, traces=len(np.unique(traces)), horizon=horizon)
            within[i] = [(values <= limit).mean() for limit in WITHIN]
    data = {name: ("part", values) for name, values in out.items()}
    data["days"] = (("part", "quantile"), days, {"units": "days"})
    data["within_chance"] = (("part", "within"), within)
    layered = effects[effects["layered_before"].astype(bool)]
    deepened = layered[layered["deepened"].astype(bool)]
    attrs = {
        "horizon": horizon,
        "traces": ahead.sizes["trace"],
        "broke_chance": float(layered["broke"].mean()) if len(layered) else np.nan,
        "deepened_chance": float(layered["deepened"].mean()) if len(layered) else np.nan,
        "deepening": float(deepened["deepening"].median()) if len(deepened) else np.nan,
    }
    coords = {"part": list(PARTS), "quantile": np.array(QUANTILES), "within": np.array(WITHIN)}
    return xr.Dataset(data, coords=coords, attrs=attrs)


def trace_effects(front, past, ahead):
    """What a front did in each course of the days ahead, as ``front_effects`` tells it.

    Parameters
    ----------
    front, past, ahead
        As for :func:`recovery_odds`.

    Returns
    -------
    pandas.DataFrame
        With ``trace`` (a number) beside ``member``.

    Raises
    ------
    ValueError
        When the layers do not reach from before the front until after it.
    """
    table = pd.DataFrame({"start": [front["start"]], "end": [front["end"]]})
    parts = []
    for trace in range(ahead.sizes["trace"]):
        coming = ahead.isel(trace=trace, drop=True)
        whole = xr.concat(
            [past, coming], "time", join="exact", combine_attrs="override", data_vars="all"
        )
        parts.append(front_effects(table, whole).assign(trace=trace))
    effects = pd.concat(parts, ignore_index=True)
    if effects.empty:
        raise ValueError("the layers do not reach from before the front until after it")
    return effects


def days_range(days, *, traces, horizon):
    """The 10, 50 and 90 % of days until something is back in a year that was not seen.

    Parameters
    ----------
    days : (n,) array_like
        In the traces, over all members; infinite where not within the horizon.
    traces : int
        How many years they come from: members of one year know the same weather.
    horizon : float
        [days]

    Returns
    -------
    (3,) float64
        [days]; infinite: not within the horizon. From ten traces on, quantiles of the days; with
        fewer, whose extremes leave out 2 of n + 1 further years, at least the range in which a
        further year falls 8 times of 10 when days are lognormal: mean of the logarithms -+
        t(n - 1) s (1 + 1/n)^0.5 (normal theory, from memory).
    """
    days = np.asarray(days, dtype=np.float64)
    low, middle, high = np.quantile(days, QUANTILES, method="inverted_cdf")
    if 1 < traces < FEW_TRACES:
        logs = np.log(np.clip(days, SHORTEST, horizon))
        half = stdtrit(traces - 1, QUANTILES[2]) * np.sqrt(1.0 + 1.0 / traces)
        half *= logs.std() * np.sqrt(traces / (traces - 1.0))
        low = min(low, float(np.exp(logs.mean() - half)))
        high = max(high, float(np.exp(logs.mean() + half)))
    found = np.array([low, middle, high])
    return np.where(found < horizon - 1e-9, found, np.inf)


def trade_rule_days(end, weather, *, utc_offset, rule=TRADE_RULE, thresholds=None):
    """Days from a front's end until hot calm days in a row have passed, by the trade's rule.

    Parameters
    ----------
    end : datetime64
        The front's end (UTC).
    weather : xarray.Dataset
        Hourly, from the front's end on; more before it does no harm.
    utc_offset : float
        Local standard time less UTC [h].
    rule : sequence of int
        Hot calm days in a row.
    thresholds : dict, optional
        As for ``hot_calm_spells``.

    Returns
    -------
    (rule,) float64
        [days]; infinite where the weather holds no such spell.
    """
    end = pd.Timestamp(end)
    after = weather.sel(time=slice(end, None))
    out = np.full(len(rule), np.inf)
    if after.sizes["time"] < 24:
        return out
    spells = hot_calm_spells(
        after, thresholds={"spell": min(rule), **(thresholds or {})}, utc_offset=utc_offset
    )
    for i, days in enumerate(rule):
        long = spells[spells["days"] >= days]
        if len(long):
            done = long["start"].iloc[0] + pd.Timedelta(days=days)
            out[i] = (done - end) / pd.Timedelta(days=1)
    return out
