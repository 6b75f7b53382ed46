"""Vertical mixing: diffusion, convection and wind.

Layers are numbered downward from ``top`` to the last; volumes and areas are those of the basin at
the water level of the hour. Everything here conserves heat and tracers over unequal volumes.
"""

import numpy as np

from .compiled import compiled
from .surface import GRAVITY
from .water import THERMAL_DIFFUSIVITY, density

STABILITY_FLOOR = 7.5e-5  # 1/s2, Fang & Stefan 1996
POWER = -0.43  # of stability, Hondzo & Stefan 1993
GREATEST = STABILITY_FLOOR**POWER

# The power of a number written m 2^e, 1 <= m < 2, is that of the middle of the 256th in which m
# lies, three terms of a series from there, and that of 2^e: to 1e-11, in a third of the time.
_MIDDLES = 1.0 + (np.arange(256) + 0.5) / 256
_PER_MIDDLE, _OF_MIDDLES = 1.0 / _MIDDLES, _MIDDLES**POWER
_LOWEST, _HIGHEST = -14, 4  # e: from below the floor to more than any water has
_OF_TWOS = 2.0 ** (POWER * np.arange(_LOWEST, _HIGHEST))


@compiled
def diffusivity_scale(area):
    """What :func:`hypolimnetic_diffusivity` scales with on a lake of ``area`` [m2]."""
    return 8.17e-8 * (area * 1e-6) ** 0.56


@compiled
def power_of_stability(stability):
    """``stability ** POWER`` for a stability from the floor up, by a table."""
    if stability >= 2.0 ** (_HIGHEST - 1):
        return stability**POWER
    bits = np.float64(stability).view(np.int64)
    part = bits & 0xFFFFFFFFFFFFF
    k = part >> 44
    off = np.int64(part | 0x3FF0000000000000).view(np.float64) * _PER_MIDDLE[k] - 1.0
    series = 1.0 + off * POWER * (
        1.0 + off * (POWER - 1.0) / 2.0 * (1.0 + off * (POWER - 2.0) / 3.0)
    )
    return _OF_MIDDLES[k] * series * _OF_TWOS[(bits >> 52) - 1023 - _LOWEST]


@compiled
def hypolimnetic_diffusivity(stability, scale):
    """Vertical diffusivity below the mixed layer of a small lake.

    Parameters
    ----------
    stability : float [1/s2], squared buoyancy frequency; held above 7.5e-5
    scale : float, :func:`diffusivity_scale`, times a factor where one is fitted

    Returns
    -------
    float [m2/s]

    References
    ----------
    Hondzo & Stefan 1993, J. Hydraul. Eng. 119:1251-1273: 8.17e-4 A^0.56 (N2)^-0.43 cm2/s, A in
    km2 (0.0159 cm2/s at 1 km2 and 1e-3); floor of N2 from Fang & Stefan 1996.
    """
    if stability <= STABILITY_FLOOR:
        return scale * GREATEST
    return scale * power_of_stability(stability)


@compiled
def buoyancy_frequency_squared(upper, lower, distance):
    """Squared buoyancy frequency [1/s2] between densities [kg/m3] a ``distance`` [m] apart."""
    return GRAVITY * (lower - upper) / (1000.0 * distance)


@compiled
def diffuse(temperature, oxygen, top, volumes, conductance, source, sink, up, down, ratio):
    """One implicit step of diffusion, advection and first-order loss, both tracers at once.

    Parameters
    ----------
    temperature, oxygen : array (n,), changed in place
    top : int, first layer under water
    volumes : array (n,) [m3]
    conductance : array (n,) [m3], between layers i and i + 1: K A dt / distance
    source : array (2, n) [amount], brought into each layer in the step
    sink : array (n,) [m3], water taken out of each layer in the step
    up, down : array (n,) [m3], water moved across the face below layer i, upward and downward
    ratio : array (n,), work space

    Notes
    -----
    First-order upwind and backward Euler: unconditionally stable, creates no new extremes, and
    conserves each tracer to rounding (Thomas algorithm).
    """
    layers = temperature.size
    last = layers - 1
    link, above, through, back = 0.0, 0.0, 0.0, 0.0
    warmth, gas = 0.0, 0.0
    for i in range(top, layers):
        volume = volumes[i]
        diagonal, below = volume + sink[i], 0.0
        if i < last:
            below = conductance[i] + up[i]
            through = conductance[i] + down[i]
            diagonal += through
        diagonal += back  # what rises through the face above
        pivot = 1.0 / (diagonal - above * link)
        warmth = (temperature[i] * volume + source[0, i] + above * warmth) * pivot
        gas = (oxygen[i] * volume + source[1, i] + above * gas) * pivot
        temperature[i], oxygen[i] = warmth, gas
        link = below * pivot
        ratio[i] = link
        above, back = through, below
    for i in range(last - 1, top - 1, -1):
        warmth = temperature[i] + ratio[i] * warmth
        gas = oxygen[i] + ratio[i] * gas
        temperature[i], oxygen[i] = warmth, gas


@compiled
def convect(temperature, oxygen, top, volumes, centres, densities, first, pool, moment):
    """Mix whatever is heavier than the water below it, and give back the energy set free.

    Parameters
    ----------
    temperature, oxygen, densities : array (n,), changed in place
    top : int
    volumes : array (n,) [m3]
    centres : array (n,) [m] depth
    first, pool, moment : arrays (n,), work space: int start of each pool of layers; its volume
        [m3]; its volume times depth [m4]

    Returns
    -------
    float [J], potential energy released, 0 or above

    Notes
    -----
    Pools of adjacent layers are merged until none is heavier than the next; the result is stable
    everywhere and keeps the volume-weighted mean of each pool.
    """
    heaviest = temperature.size - 2
    while heaviest >= top and densities[heaviest] <= densities[heaviest + 1]:
        heaviest -= 1
    if heaviest < top:
        return 0.0
    layers = heaviest + 2  # all below is stable, and enters only where it is reached
    count = 0
    released = 0.0
    merged = False
    i = top
    while i < layers:
        first[count] = i
        pool[count] = volumes[i]
        moment[count] = volumes[i] * centres[i]
        count += 1
        while count > 1:
            upper, lower = first[count - 2], first[count - 1]
            if densities[upper] <= densities[lower]:
                break
            merged = True
            volume = pool[count - 2] + pool[count - 1]
            share = pool[count - 2] / volume
            mixed = share * temperature[upper] + (1.0 - share) * temperature[lower]
            oxygen[upper] = share * oxygen[upper] + (1.0 - share) * oxygen[lower]
            heavy = density(mixed)
            released += GRAVITY * (
                (heavy - densities[upper]) * moment[count - 2]
                + (heavy - densities[lower]) * moment[count - 1]
            )
            temperature[upper] = mixed
            densities[upper] = heavy
            pool[count - 2] = volume
            moment[count - 2] += moment[count - 1]
            count -= 1
        i += 1
        if i == layers and i < temperature.size and densities[first[count - 1]] > densities[i]:
            layers += 1
    if merged:
        for k in range(count):
            begin = first[k]
            end = first[k + 1] if k + 1 < count else layers
            for j in range(begin + 1, end):
                temperature[j] = temperature[begin]
                oxygen[j] = oxygen[begin]
                densities[j] = densities[begin]
    return max(released, 0.0)


@compiled
def stir(temperature, oxygen, top, volumes, centres, densities, deep, shallow, reach):
    """Deepen the mixed layer as far as the energy of the hour lifts the water below.

    Parameters
    ----------
    temperature, oxygen, densities : array (n,), changed in place; stable on entry
    top : int, not the last layer
    volumes, centres : array (n,) [m3], [m depth]
    deep, shallow : float [J] for mixing: that of cooling and shear, and that of breaking waves
    reach : float [m], depth over which the waves' share fades e-fold

    Notes
    -----
    Layers are taken in from above while the energy covers the rise of the centre of mass; the
    last is mixed in part, in proportion to the energy left, which conserves heat exactly (the
    integral energy budget of Kraus & Turner 1967, Tellus 19:98-106, in layers).
    """
    layers = temperature.size
    volume = volumes[top]
    heat = volume * temperature[top]
    gas = volume * oxygen[top]
    moment = volume * centres[top]
    mass_moment = moment * densities[top]
    bottom = top
    part = 0.0
    surface = centres[top] - 0.5 * (centres[top + 1] - centres[top])
    spent = 1.0
    while bottom < layers - 1:
        i = bottom + 1
        next_volume = volume + volumes[i]
        next_heat = heat + volumes[i] * temperature[i]
        mixed = next_heat / next_volume
        next_moment = moment + volumes[i] * centres[i]
        next_mass = mass_moment + volumes[i] * centres[i] * densities[i]
        heavy = density(mixed)
        cost = GRAVITY * (next_mass - heavy * next_moment)
        if cost > 0.0:
            depth = 0.5 * (centres[bottom] + centres[i]) - surface
            energy = spent * (deep + shallow * np.exp(-depth / reach))
            if cost > energy:
                part = energy / cost
                break
            spent *= 1.0 - cost / energy
        volume, heat, moment = next_volume, next_heat, next_moment
        mass_moment = heavy * next_moment
        gas += volumes[i] * oxygen[i]
        bottom = i
    if bottom > top:
        mixed, blend = heat / volume, gas / volume
        heavy = density(mixed)
        for j in range(top, bottom + 1):
            temperature[j] = mixed
            oxygen[j] = blend
            densities[j] = heavy
    if part > 0.0:
        i = bottom + 1
        whole = volume + volumes[i]
        mixed = (heat + volumes[i] * temperature[i]) / whole
        blend = (gas + volumes[i] * oxygen[i]) / whole
        upper = temperature[top] + part * (mixed - temperature[top])
        upper_gas = oxygen[top] + part * (blend - oxygen[top])
        heavy = density(upper)
        for j in range(top, i):
            temperature[j] = upper
            oxygen[j] = upper_gas
            densities[j] = heavy
        temperature[i] += part * (mixed - temperature[i])
        oxygen[i] += part * (blend - oxygen[i])
        densities[i] = density(temperature[i])


@compiled
def molecular_and_turbulent(upper, lower, distance, scale):
    """Diffusivity [m2/s] between densities [kg/m3] a ``distance`` [m] apart."""
    stability = buoyancy_frequency_squared(upper, lower, distance)
    return THERMAL_DIFFUSIVITY + hypolimnetic_diffusivity(stability, scale)
