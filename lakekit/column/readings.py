"""Probe readings as the fit sees them: binned, checked, and with honest errors."""

import numpy as np
import pandas as pd

from ..errors import ProbeError

BIN = 1.0  # m of depth averaged into one reading
COLUMN_ERROR = {"temperature": 1.0, "oxygen": 1.3}  # degC, mg/L: what the column itself misses
DEPTH_ERROR = 0.5  # m, by which layers lean and casts drift
PROBE_ERROR = {"temperature": 0.3, "oxygen": 0.4}  # degC, mg/L
DEPTH_SCALE = 2.0  # m over which the column's errors are alike
TIME_SCALE = 60.0  # days
FAR_OFF = 12.0  # degC: further than any lake file explains
SURFACE_FAR_OFF = 9.0  # degC, in the uppermost 2 m


def lake_readings(lake, probe, forcing):
    """The readings of one lake within the weather, one row a cast, kind and metre of depth.

    Returns
    -------
    DataFrame: time, cast (int), kind ("temperature", "oxygen"; "clarity",
    the logarithm of a Secchi depth, where a column ``secchi`` is given), depth [m], value, slope
    (per m), row (first row of the file in it), depths (array, those averaged), error (what the
    file's reader adds to the probe's own)

    Raises
    ------
    ProbeError
        When none is left, or a depth lies below the lake's bottom.
    """
    frame = probe if "row" in probe else probe.assign(row=np.arange(len(probe)) + 2)
    frame = frame[frame["lake"] == lake.key] if "lake" in frame else frame
    times = forcing["time"].values
    inside = (frame["time"] >= times[0]) & (frame["time"] <= times[-1] + np.timedelta64(1, "h"))
    frame = frame[inside]
    if frame.empty:
        raise ProbeError(
            f"no reading of {lake.key} lies within the weather record",
            mend="check the lake's key and the dates of both files",
        )
    deep = frame["depth"] > lake.max_depth + 1.0
    if deep.any():
        feet = (frame["depth"] * 0.3048 <= lake.max_depth + 1.0).all()
        raise ProbeError(
            f"{int(deep.sum())} of {len(frame)} depths lie below the bottom "
            f"({lake.max_depth:.1f} m), first in row {int(frame.loc[deep, 'row'].iloc[0])}",
            where=lake.key,
            mend="They would fit as feet: name the column depth_ft."
            if feet
            else "Check the lake file's max_depth and the readings.",
        )
    rows = []
    for cast, (when, readings) in enumerate(frame.groupby("time")):
        for kind in ("temperature", "oxygen"):
            if kind in readings:
                rows += _binned(cast, when, kind, readings.dropna(subset=[kind]))
        seen = readings["secchi"].dropna() if "secchi" in readings else ()
        if len(seen):
            depth, row = np.zeros(1), int(readings["row"].iloc[0])
            rows.append(
                (when, cast, "clarity", 0.0, float(np.log(seen).mean()), 0.0, row, depth, 0.0)
            )
    if not rows:
        raise ProbeError("no reading holds a temperature or oxygen", where=lake.key)
    names = ["time", "cast", "kind", "depth", "value", "slope", "row", "depths", "error"]
    return pd.DataFrame(rows, columns=names)


def _binned(cast, when, kind, readings):
    readings = readings.sort_values("depth")
    depth, value = readings["depth"].to_numpy(float), readings[kind].to_numpy(float)
    if depth.size == 0:
        return []
    extra = readings["error"].to_numpy(float) if "error" in readings else np.zeros(depth.size)
    cell = np.floor(depth / BIN).astype(int)
    rows = []
    for k in np.unique(cell):
        inside = cell == k
        middle = depth[inside].mean()
        around = np.abs(depth - middle) <= 1.0
        reach = np.ptp(depth[around])
        slope = np.ptp(value[around]) / reach if reach > 0.3 else 0.0
        first = int(readings["row"].to_numpy()[inside][0])
        error = extra[inside].min()
        rows.append(
            (when, cast, kind, middle, value[inside].mean(), slope, first, depth[inside], error)
        )
    return rows


def error_covariance(readings):
    """Covariance (n, n) of what separates a perfect set of parameters from the readings.

    The column's own errors (of value, and of depth where the profile is steep) are alike over
    2 m and 60 days; the probe's are not. Temperature and oxygen err apart.
    """
    kind = readings["kind"].to_numpy()
    depth = readings["depth"].to_numpy()
    days = (readings["time"] - readings["time"].min()) / pd.Timedelta("1D")
    days = days.to_numpy()
    own = np.array([COLUMN_ERROR[name] for name in kind])
    size = np.hypot(own, DEPTH_ERROR * readings["slope"].to_numpy())
    apart = np.abs(depth[:, None] - depth) / DEPTH_SCALE
    apart += np.abs(days[:, None] - days) / TIME_SCALE
    shared = np.exp(-apart) * (kind[:, None] == kind)
    probe = np.hypot([PROBE_ERROR[name] for name in kind], readings["error"].to_numpy(float))
    return size[:, None] * size * shared + np.diag(probe**2)


def predictions(run, readings):
    """What each member of a run says for each reading: array (members, n)."""
    times = pd.DatetimeIndex(run["time"].values)
    at = times.get_indexer(pd.DatetimeIndex(readings["time"]), method="nearest")
    depth = run["depth"].values
    fields = {
        "temperature": run["water_temperature"].values,
        "oxygen": run["dissolved_oxygen"].values,
    }
    out = np.empty((run.sizes["member"], len(readings)))
    kinds, wanted = readings["kind"].to_numpy(), readings["depths"].to_numpy()
    for m in range(out.shape[0]):
        for k, (kind, i, z) in enumerate(zip(kinds, at, wanted, strict=True)):
            profile = fields[kind][m, i]
            known = np.isfinite(profile)
            out[m, k] = np.interp(z, depth[known], profile[known]).mean()
    return out


def scored(readings, simulated):
    """Root mean square error over the temperature readings [degC], else over oxygen [mg/L]."""
    error = simulated - readings["value"].to_numpy()
    warm = (readings["kind"] == "temperature").to_numpy()
    chosen = error[warm] if warm.any() else error
    return float(np.sqrt(np.mean(chosen**2)))


def check_readings(readings, simulated, *, where):
    """Raise for readings no lake file could explain, naming the likeliest mistake.

    Raises
    ------
    ProbeError
        For temperatures in degF, swapped columns, percent for mg/L, or values far off the lake's.
    """
    warm = readings[readings["kind"] == "temperature"]
    expected = simulated[(readings["kind"] == "temperature").to_numpy()]
    if len(warm):
        value = warm["value"].to_numpy()
        off = value - expected
        limit = np.where(warm["depth"].to_numpy() <= 2.0, SURFACE_FAR_OFF, FAR_OFF)
        bad = np.abs(off) > limit
        if bad.any():
            as_celsius = (value - 32.0) / 1.8
            better = np.median(np.abs(as_celsius - expected)) < np.median(np.abs(off))
            depth = warm["depth"].to_numpy()
            swapped = np.median(np.abs(depth - expected)) < 0.5 * np.median(np.abs(off))
            if better and np.median(value) > 33.0:
                mend = "They would fit as degrees F: name the column temperature_F."
            elif swapped:
                mend = "Depth and temperature would fit if their columns were swapped."
            else:
                mend = "Check the date, the lake, the units and the probe; or leave the row out."
            first = warm[bad].iloc[0]
            raise ProbeError(
                f"{int(bad.sum())} of {len(warm)} temperatures are {limit.min():.0f} degC or more "
                f"from what this weather can make of the lake, first "
                f"{first['value']:.1f} at {first['depth']:.1f} m "
                f"(expected about {expected[bad][0]:.0f}), row {int(first['row'])}",
                where=where,
                mend=mend,
            )
    gas = readings[readings["kind"] == "oxygen"]
    high = gas["value"] > 25.0
    if high.any():
        raise ProbeError(
            f"{int(high.sum())} of {len(gas)} oxygen readings are above 25 mg/L, "
            f"first in row {int(gas.loc[high, 'row'].iloc[0])}",
            where=where,
            mend="Percent of saturation is not mg/L: give mg/L.",
        )
