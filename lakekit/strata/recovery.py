"""After a front: days until a warm skin, the seasonal thermocline and the oxygen floor are back."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.strata.events import event_threshold, front_effects
from lakekit.strata.spells import hot_calm_spells

PARTS = {"skin": "skin_days", "thermocline": "thermocline_days", "oxygen_floor": "floor_days"}
QUANTILES = (0.1, 0.5, 0.9)
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
        On ``part`` (skin, thermocline, oxygen_floor): ``before`` (share of members that had it),
        ``lost_chance`` (of those, the share in which the front took it; for the skin, in which
        the first noon after the front has none), and of the lost ones ``days`` (quantile;
        infinite: not within the horizon; NaN: none was lost), ``back_chance`` (within the
        horizon) and ``within_chance`` (within, in days). Attributes: ``horizon`` [days],
        ``traces``, and ``broke_chance``, ``deepened_chance`` and ``deepening`` (median) [m].

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
        parts.append(front_effects(table, whole))
    effects = pd.concat(parts, ignore_index=True)
    if effects.empty:
        raise ValueError("the layers do not reach from before the front until after it")
    had = {
        "skin": np.isfinite(effects["skin_days"]) | np.isinf(effects["skin_days"]),
        "thermocline": effects["layered_before"],
        "oxygen_floor": np.isfinite(effects["floor_before"]),
    }
    lost = {
        "skin": had["skin"] & ~(effects["skin_days"] < 1.0),
        "thermocline": effects["broke"] | effects["deepened"],
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
            days[i] = np.quantile(values, QUANTILES, method="inverted_cdf")
            within[i] = [(values <= limit).mean() for limit in WITHIN]
    data = {name: ("part", values) for name, values in out.items()}
    data["days"] = (("part", "quantile"), days, {"units": "days"})
    data["within_chance"] = (("part", "within"), within)
    layered = effects[effects["layered_before"].astype(bool)]
    deepened = layered[layered["deepened"].astype(bool)]
    attrs = {
        "horizon": event_threshold("horizon"),
        "traces": ahead.sizes["trace"],
        "broke_chance": float(layered["broke"].mean()) if len(layered) else np.nan,
        "deepened_chance": float(layered["deepened"].mean()) if len(layered) else np.nan,
        "deepening": float(deepened["deepening"].median()) if len(deepened) else np.nan,
    }
    coords = {"part": list(PARTS), "quantile": np.array(QUANTILES), "within": np.array(WITHIN)}
    return xr.Dataset(data, coords=coords, attrs=attrs)


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
