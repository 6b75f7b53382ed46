"""What fronts and seasons do to the layers: onset, break-up, turnover, recovery.

Layers here are warm water over cold: ``stratified`` without ``inverse``. Three things that come
back at their own pace are kept apart: a warm skin by day, the lasting thermocline, and the
oxygen floor.
"""

import numpy as np
import pandas as pd

# name -> (value, unit, meaning, source)
THRESHOLDS = {
    "shortest": (
        5,
        "days",
        "layers, or their absence, for fewer days are a blip and not counted",
        "common practice, no source",
    ),
    "deepened": (
        0.5,
        "m",
        "a thermocline or oxygen floor this much deeper has moved; nearer to "
        "its old depth it is back (two probes on one day differ by up to 1 degC and a "
        "few decimetres)",
        "common practice, no source",
    ),
    "skin": (
        0.5,
        "degC",
        "top water this much warmer at noon than 1 m below it is a warm skin",
        "common practice, no source",
    ),
    "confirmed": (
        14,
        "days",
        "a record that ends sooner after a break does not call it a turnover",
        "common practice, no source",
    ),
    "settled": (
        3,
        "days",
        "layers that stay so long after a break are back",
        "the trade's two or three hot calm days, no source",
    ),
    "horizon": (30, "days", "no recovery is looked for beyond", "common practice, no source"),
}


def event_threshold(name):
    """Value of one threshold."""
    return THRESHOLDS[name][0]


def layered(layers):
    """Whether warm water lies on cold, on the dimensions of ``layers``."""
    if "inverse" in layers:
        return layers["stratified"] & ~layers["inverse"]
    return layers["stratified"]


def without_blips(flags, shortest):
    """Close gaps, then drop runs, shorter than ``shortest`` along the last axis of a bool array.

    A gap or run that touches an end of the record is kept: its length isn't known.
    """
    out = np.array(flags, dtype=bool)
    for row in out.reshape(-1, out.shape[-1]):
        for state in (False, True):
            edges = np.flatnonzero(np.diff(row.astype(np.int8))) + 1
            starts = np.concatenate([[0], edges])
            ends = np.concatenate([edges, [len(row)]])
            for a, b in zip(starts, ends, strict=True):
                if row[a] == state and b - a < shortest and a > 0 and b < len(row):
                    row[a:b] = not state
    return out


def events(layers, *, shortest=None):
    """List when layers set up, broke, came back and turned over.

    Parameters
    ----------
    layers : xarray.Dataset
        ``stratified`` (and ``inverse``, ``thermocline_depth``, ``bottom_temperature`` where
        known) on (time,) or (member, time), daily.
    shortest : int, optional
        [days] Default: that of ``THRESHOLDS``.

    Returns
    -------
    pandas.DataFrame
        ``member``, ``time``, ``kind``, ``season`` (year in which the season began), ``days``
        (of absence before a recovery; else NaN). Kinds: ``onset`` (first of a season),
        ``break_up`` (layers gone, back later in the season), ``recovery``, ``turnover`` (last
        of a season). A season still layered, or broken within two weeks of the record's end,
        has no turnover.
    """
    time, flags, first_month = _daily(layers)
    steady = without_blips(flags, event_threshold("shortest") if shortest is None else shortest)
    season = time.year - (time.month < first_month)
    rows = []
    for member, row in enumerate(steady):
        edges = np.flatnonzero(np.diff(row.astype(np.int8))) + 1
        for year in np.unique(season):
            inside = edges[season[edges] == year]
            ups, downs = inside[row[inside]], inside[~row[inside]]
            for count, i in enumerate(ups):
                before = downs[downs < i]
                kind = "recovery" if count or len(before) else "onset"
                days = float((time[i] - time[before[-1]]).days) if len(before) else np.nan
                rows.append((member, time[i], kind, int(year), days))
            for i in downs:
                again = (ups > i).any() or len(row) - i < event_threshold("confirmed")
                kind = "break_up" if again else "turnover"
                rows.append((member, time[i], kind, int(year), np.nan))
    table = pd.DataFrame(rows, columns=["member", "time", "kind", "season", "days"])
    return table.sort_values(["member", "time"], ignore_index=True)


def season_dates(layers, *, shortest=None):
    """Dates at which each year's layers set up and turned over.

    Parameters
    ----------
    layers, shortest
        As for :func:`events`.

    Returns
    -------
    pandas.DataFrame
        ``member``, ``year``, ``onset``, ``turnover`` (NaT where the record does not show it),
        ``layered_days``, ``breaks`` (times the layers went and came back within the season).
    """
    time, flags, first_month = _daily(layers)
    season = np.asarray(time.year - (time.month < first_month))
    table = events(layers, shortest=shortest)
    found = {}
    for name, part in table.groupby(["member", "season", "kind"])["time"]:
        found[name] = part.to_list()
    rows = []
    for year in np.unique(season):
        layered_days = flags[:, season == year].sum(axis=1)
        for member, days in enumerate(layered_days):
            onsets, turnovers, breaks = (
                found.get((member, year, kind), []) for kind in ("onset", "turnover", "break_up")
            )
            rows.append(
                {
                    "member": member,
                    "year": int(year),
                    "onset": onsets[0] if onsets else pd.NaT,
                    "turnover": turnovers[-1] if turnovers else pd.NaT,
                    "layered_days": int(days),
                    "breaks": len(breaks),
                }
            )
    rows.sort(key=lambda row: (row["member"], row["year"]))
    columns = ["member", "year", "onset", "turnover", "layered_days", "breaks"]
    out = pd.DataFrame(rows, columns=columns)
    return out.astype({"onset": "datetime64[us]", "turnover": "datetime64[us]"})


def front_effects(fronts, layers):
    """What each front did to the layers, and the days until each part was back.

    Parameters
    ----------
    fronts : pandas.DataFrame
        From :func:`lakekit.strata.spells.fronts`: ``start`` and ``end`` are used.
    layers : xarray.Dataset
        From ``stratification``, daily, on (time,) or (member, time). The thermocline is the
        seasonal one where it is given, so that no skin of the day is taken for it.

    Returns
    -------
    pandas.DataFrame
        One row a front and member, for fronts with a state within two days before and after:
        ``front`` (index in ``fronts``), ``member``, ``start``, ``end``, ``layered_before``,
        ``thermocline_before``, ``thermocline_after``, ``deepening`` [m], ``mixed_before``,
        ``mixed_after`` [m], ``surface_fall`` [degC], ``broke``, ``deepened``, ``floor_before``,
        ``floor_after``, ``floor_lost``, and ``skin_days``, ``thermocline_days``,
        ``floor_days``: days from the front's end until each is back; 0 where it never went, NaN
        where it was not there before, infinite where it was not back within the horizon.
    """
    time, flags, _ = _daily(layers)
    thermocline = np.where(flags, _rows(layers, "thermocline_depth", flags), np.nan)
    if "lasting_thermocline_depth" in layers:
        thermocline = _rows(layers, "lasting_thermocline_depth", flags)
        flags = np.isfinite(thermocline)
    mixed = _rows(layers, "mixed_layer_depth", flags)
    floor = _rows(layers, "oxygen_floor_depth", flags)
    skin = _rows(layers, "surface_skin", flags)
    surface = _rows(layers, "surface_temperature", flags)
    back = without_blips(flags, event_threshold("settled"))
    stamps = time.to_numpy()
    moved, horizon = event_threshold("deepened"), np.timedelta64(event_threshold("horizon"), "D")
    two_days, day_and_half = np.timedelta64(48, "h"), np.timedelta64(36, "h")
    columns = {name: [] for name in EFFECT_COLUMNS}
    starts, ends = fronts["start"].to_numpy(), fronts["end"].to_numpy()
    for number, start, end in zip(fronts.index, starts, ends, strict=True):
        before = np.searchsorted(stamps, start, side="right") - 1
        after = np.searchsorted(stamps, end, side="left")
        if before < 0 or after >= len(stamps):
            continue
        if start - stamps[before] > two_days or stamps[after] - end > two_days:
            continue
        stop = max(np.searchsorted(stamps, end + day_and_half, side="right"), after + 1)
        last = np.searchsorted(stamps, end + horizon, side="right")
        days = np.maximum((stamps[after:last] - end) / np.timedelta64(1, "D"), 0.0)
        was = flags[:, before]
        broke = was & ~flags[:, before + 1 : stop].all(axis=1)
        deepening = thermocline[:, after] - thermocline[:, before]
        deepened = was & ~broke & (deepening >= moved)
        deep = thermocline[:, before, None] + moved
        returned = back[:, after:last] & flags[:, after:last]
        shallow = thermocline[:, after:last] <= deep
        thermocline_days = _first(np.where(deepened[:, None], shallow, returned), days)
        thermocline_days[was & ~broke & ~deepened] = 0.0
        thermocline_days[~was] = np.nan

        had = np.isfinite(floor[:, before])
        low = floor[:, before, None] + moved
        lost = had & ~(floor[:, after] <= low[:, 0])
        floor_days = _first(floor[:, after:last] <= low, days)
        floor_days[had & ~lost] = 0.0
        floor_days[~had] = np.nan
        skin_days = _first(skin[:, after:last] >= event_threshold("skin"), days)
        skin_days[np.isnan(skin[:, after])] = np.nan
        here = {
            "front": np.full(len(flags), number),
            "member": np.arange(len(flags)),
            "start": np.full(len(flags), start),
            "end": np.full(len(flags), end),
            "layered_before": was,
            "thermocline_before": thermocline[:, before],
            "thermocline_after": thermocline[:, after],
            "deepening": deepening,
            "mixed_before": mixed[:, before],
            "mixed_after": mixed[:, after],
            "surface_fall": surface[:, before] - surface[:, after],
            "broke": broke,
            "deepened": deepened,
            "floor_before": floor[:, before],
            "floor_after": floor[:, after],
            "floor_lost": lost,
            "skin_days": skin_days,
            "thermocline_days": thermocline_days,
            "floor_days": floor_days,
        }
        for name, values in here.items():
            columns[name].append(values)
    if not columns["front"]:
        return pd.DataFrame(columns=EFFECT_COLUMNS)
    return pd.DataFrame({name: np.concatenate(values) for name, values in columns.items()})


EFFECT_COLUMNS = [
    "front", "member", "start", "end", "layered_before", "thermocline_before",
    "thermocline_after", "deepening", "mixed_before", "mixed_after", "surface_fall", "broke",
    "deepened", "floor_before", "floor_after", "floor_lost", "skin_days", "thermocline_days",
    "floor_days",
]  # fmt: skip


def _first(reached, days):
    """Days at the first True along the last axis; infinite where there is none."""
    return np.where(reached.any(axis=1), days[reached.argmax(axis=1)], np.inf)


def _daily(layers):
    """Times, layered flags as (member, time), and the month in which a season begins."""
    time = pd.DatetimeIndex(layers["time"].to_numpy())
    flags = layered(layers)
    flags = flags.transpose(..., "time").to_numpy().reshape(-1, len(time))
    return time, flags, 7 if layers.attrs.get("latitude", 0.0) < 0.0 else 1


def _rows(layers, name, flags):
    if name not in layers:
        return np.full(flags.shape, np.nan)
    return layers[name].transpose(..., "time").to_numpy().reshape(flags.shape)
