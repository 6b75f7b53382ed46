"""One profile after another, compiled: steepest step, mixed layer, fall zone, stability.

Every profile is read as straight lines between its own readings; readings that are NaN are
left out, so that measured casts of any spacing and simulated layers go the same way. Compiled
functions here call only each other, so that their cache can't go stale.
"""

import math

import numpy as np

from lakekit.column.compiled import compiled

GRID = 0.1  # m, spacing of the grid on which the steepest step is sought
WINDOW = 10  # grid cells: 1 m
REFERENCE = 1.0  # m, below the skin that a day warms
LAYERED_DIFFERENCE = 2.0  # degC between top and bottom
TIE = 1e-6  # kg/m3: density steps closer than this are equally steep

# columns of the table that scan_profiles fills
THERMOCLINE, MIXED, FALL_TOP, FALL_BOTTOM, SURFACE, BOTTOM, SKIN, DIFFERENCE = range(8)
SCHMIDT, VOLUME_CENTRE, DENSITY_STEP, LASTING = 8, 9, 10, 11
COLUMNS = 12


@compiled
def _value_at(z, x, n, depth):
    """Value at one depth, linear between readings, constant beyond the ends."""
    if depth <= z[0]:
        return x[0]
    for i in range(1, n):
        if depth <= z[i]:
            return x[i - 1] + (x[i] - x[i - 1]) * (depth - z[i - 1]) / (z[i] - z[i - 1])
    return x[n - 1]


@compiled
def _mean_between(z, x, n, top, bottom):
    """Mean over a depth range of the piecewise linear profile, constant beyond the ends."""
    total = 0.0
    z0, x0 = top, _value_at(z, x, n, top)
    for i in range(n):
        if z[i] > top and z[i] < bottom:
            total += 0.5 * (x0 + x[i]) * (z[i] - z0)
            z0, x0 = z[i], x[i]
    total += 0.5 * (x0 + _value_at(z, x, n, bottom)) * (bottom - z0)
    return total / (bottom - top)


@compiled
def _on_grid(z, x, n, count, out):
    """Fill out[:count] with the profile on the 0.1 m grid that starts at its top."""
    j = 1
    for k in range(count):
        depth = z[0] + GRID * k
        while j < n - 1 and z[j] < depth:
            j += 1
        share = min(max((depth - z[j - 1]) / (z[j] - z[j - 1]), 0.0), 1.0)
        out[k] = x[j - 1] + (x[j] - x[j - 1]) * share


@compiled
def _steepest(g_r, begin, count, width):
    """First and last of the neighbouring windows with the largest density step."""
    best, first = -np.inf, begin
    for k in range(begin, count - width):
        step = g_r[k + width] - g_r[k]
        if step > best + TIE:
            best, first = step, k
    last = first
    while last + 1 < count - width and g_r[last + 1 + width] - g_r[last + 1] >= best - TIE:
        last += 1
    return first, last


@compiled
def _layers(z, t, r, n, g_t, g_r, gradient, mixed_step, row):
    """Thermocline, mixed layer and fall zone of one profile into its row."""
    crossing = z[n - 1]
    upper = max(REFERENCE, z[0])
    reference = _value_at(z, t, n, upper)
    difference = 0.0
    for i in range(n):
        if z[i] <= upper:
            continue
        change = abs(t[i] - reference)
        if change >= mixed_step:
            share = (mixed_step - difference) / (change - difference)
            crossing = upper + (z[i] - upper) * min(max(share, 0.0), 1.0)
            break
        upper, difference = z[i], change
    row[MIXED] = crossing
    if not abs(t[0] - t[n - 1]) > LAYERED_DIFFERENCE:
        return
    count = math.floor((z[n - 1] - z[0]) / GRID + 1e-6) + 1
    if count < 2:
        row[THERMOCLINE] = 0.5 * (z[0] + z[n - 1])
        return
    width = min(WINDOW, count - 1)
    _on_grid(z, t, n, count, g_t)
    _on_grid(z, r, n, count, g_r)
    first, last = _steepest(g_r, 0, count, width)
    centre = z[0] + GRID * 0.5 * (first + last + width)
    row[THERMOCLINE] = centre
    skin = max(math.ceil((REFERENCE - z[0]) / GRID - 1e-6), 0)
    if skin + width < count and g_t[skin] - t[n - 1] > LAYERED_DIFFERENCE:
        below, end = _steepest(g_r, skin, count, width)
        row[LASTING] = z[0] + GRID * 0.5 * (below + end + width)

    sign = 1.0 if t[0] > t[n - 1] else -1.0
    least = gradient * GRID * width
    middle = (first + last) // 2
    if sign * (g_t[middle] - g_t[middle + width]) >= least:
        low = middle
        while low > 0 and sign * (g_t[low - 1] - g_t[low - 1 + width]) >= least:
            low -= 1
        high = middle
        while high + 1 < count - width and sign * (g_t[high + 1] - g_t[high + 1 + width]) >= least:
            high += 1
        high += width
        while low < high - 1 and sign * (g_t[low] - g_t[low + 1]) < gradient * GRID:
            low += 1
        while high > low + 1 and sign * (g_t[high - 1] - g_t[high]) < gradient * GRID:
            high -= 1
        row[FALL_TOP] = min(max(z[0] + GRID * low, crossing), centre)
        row[FALL_BOTTOM] = max(z[0] + GRID * high, centre)
    row[MIXED] = min(crossing, centre)


@compiled
def _stability(z, r, a, surface_area, n, gravity, row):
    """Schmidt stability, depth of the volume's centre, density step over the seasonal
    thermocline, or over that of the day where there is none other."""
    volume = 0.0
    moment = 0.0
    weighted = 0.0
    above = below = above_r = below_r = 0.0
    top = 0.0
    interface = row[THERMOCLINE] if math.isnan(row[LASTING]) else row[LASTING]
    for i in range(n):
        edge = 0.5 * (z[i] + z[i + 1]) if i < n - 1 else z[i] + (z[i] - top)
        v = a[i] * (edge - top)
        middle = 0.5 * (top + edge)
        volume += v
        moment += v * middle
        weighted += v * middle * (r[i] - 1000.0)
        cut = min(max(interface, top), edge)
        above += a[i] * (cut - top)
        above_r += a[i] * (cut - top) * (r[i] - 1000.0)
        below += a[i] * (edge - cut)
        below_r += a[i] * (edge - cut) * (r[i] - 1000.0)
        top = edge
    centre = moment / volume
    mass = 0.0
    top = 0.0
    for i in range(n):
        edge = 0.5 * (z[i] + z[i + 1]) if i < n - 1 else z[i] + (z[i] - top)
        mass += a[i] * (edge - top) * (r[i] - 1000.0)
        top = edge
    row[VOLUME_CENTRE] = centre
    if not math.isnan(surface_area):
        row[SCHMIDT] = gravity / surface_area * (weighted - centre * mass)
    if not math.isnan(interface) and above > 0.0 and below > 0.0:
        row[DENSITY_STEP] = below_r / below - above_r / above


@compiled
def scan_profiles(depth, temperature, density, area, surface_area, gravity, gradient, mixed_step):
    """Find the layers of many profiles.

    Parameters
    ----------
    depth : (z,) float64
        Depth below the water surface [m], rising.
    temperature, density : (n, z) float64
        [degC], [kg/m3]; NaN where there is no reading.
    area : (n, z) float64
        Area at each depth [m2]; all NaN: Schmidt stability stays NaN, and the density step
        weighs depths alike.
    surface_area : (n,) float64
        Area at the water surface [m2].
    gravity, gradient, mixed_step : float
        [m/s2]; fall zone's least gradient [degC/m]; difference that ends the mixed
        layer [degC].

    Returns
    -------
    (n, COLUMNS) float64
        NaN where undefined.
    """
    profiles, levels = temperature.shape
    out = np.full((profiles, COLUMNS), np.nan)
    z, t, r, a = np.empty(levels), np.empty(levels), np.empty(levels), np.empty(levels)
    size = int((depth[levels - 1] - depth[0]) / GRID) + 3
    g_t, g_r = np.empty(size), np.empty(size)
    for i in range(profiles):
        n = 0
        has_area = True
        for j in range(levels):
            if not math.isnan(temperature[i, j]):
                z[n], t[n], r[n], a[n] = depth[j], temperature[i, j], density[i, j], area[i, j]
                has_area = has_area and not math.isnan(a[n])
                n += 1
        if n < 2:
            continue
        row = out[i]
        row[DIFFERENCE] = t[0] - t[n - 1]
        row[BOTTOM] = t[n - 1]
        if z[0] <= 1.0:
            row[SURFACE] = _mean_between(z, t, n, 0.0, min(1.0, z[n - 1]))
            if z[n - 1] >= z[0] + 1.0:
                row[SKIN] = t[0] - _value_at(z, t, n, z[0] + 1.0)
        _layers(z, t, r, n, g_t, g_r, gradient, mixed_step, row)
        if has_area:
            _stability(z, r, a, surface_area[i], n, gravity, row)
        else:
            for j in range(n):
                a[j] = 1.0
            _stability(z, r, a, np.nan, n, gravity, row)
            row[VOLUME_CENTRE] = np.nan
    return out


@compiled
def scan_floor(depth, oxygen, limit):
    """Shallowest depth below which oxygen stays under a limit, profile by profile.

    Parameters
    ----------
    depth : (z,) float64
        [m], rising.
    oxygen : (n, z) float64
        [mg/L]; NaN where there is no reading.
    limit : float
        [mg/L]

    Returns
    -------
    (n,) float64
        [m]; NaN where the deepest reading is at or above the limit, or nothing was read; the
        depth of the shallowest reading where all are under it.
    """
    profiles, levels = oxygen.shape
    out = np.full(profiles, np.nan)
    for i in range(profiles):
        under_depth = under = np.nan
        for j in range(levels - 1, -1, -1):
            value = oxygen[i, j]
            if math.isnan(value):
                continue
            if value >= limit:
                if not math.isnan(under):
                    share = (value - limit) / (value - under)
                    out[i] = depth[j] + share * (under_depth - depth[j])
                break
            under_depth, under = depth[j], value
            out[i] = depth[j]
    return out
