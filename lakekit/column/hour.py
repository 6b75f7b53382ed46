"""What happens in one hour, step by step; the kernel calls these in turn.

``source`` (2, n) gathers heat, as degC m3, and oxygen, as g, brought into each layer in the hour;
``budget`` gathers the same in J and g; ``row`` is an hour of forcing, ``own`` the parameters.
"""

import numpy as np

from .columns import (
    AIR,
    ALBEDO,
    CLARITY,
    EVAPORATION,
    FADING,
    FLOW_GAS,
    FLOW_HEAT,
    GAS,
    GAS_IN,
    INFLOW,
    LATENT,
    LONG_NET,
    LONGWAVE,
    MADE,
    PRESSURE,
    RELEASE,
    SEDIMENT,
    SENSIBLE,
    SHELTER,
    SHORT_IN,
    SHORTWAVE,
    SKY,
    SNOW_IN,
    SNOWFALL,
    SUNSHINE,
    TAKEN,
    VAPOUR,
    WARMTH,
    WIND,
)  # fmt: skip
from .compiled import compiled
from .flow import neutral_layer, route
from .ice import (
    ICE_DENSITY,
    SNOW_DENSITY,
    WATER_CONDUCTIVITY,
    ice_balance,
    light_through,
    thickness_of,
)
from .light import NEAR_INFRARED_SHARE
from .oxygen import TEMPERATURE_BASE, demand_share, light_limitation, transfer_velocity
from .surface import EMISSIVITY, emitted_longwave, turbulent_fluxes, wind_stress
from .water import LATENT_FUSION, VOLUMETRIC_HEAT, density, oxygen_saturation

HOUR = 3600.0  # s
SLAB = (0.2, 1.5)  # m of sediment in two slabs
SEDIMENT_CONDUCTIVITY = 1.0  # W/m/K, saturated mud (0.6-1.5, common practice)
SEDIMENT_HEAT = 3.2e6  # J/m3/K
STEP = 0.25  # degC of the table of demand against temperature
# Divisions by constants, made once: they would cost a fifth of the run
WARMING = HOUR / VOLUMETRIC_HEAT  # degC m3 of an hour's W
TOUCH = 2.0 * SEDIMENT_CONDUCTIVITY / SLAB[0] * HOUR  # J/m2/K of an hour, bed to water
LINK = 2.0 * SEDIMENT_CONDUCTIVITY / (SLAB[0] + SLAB[1]) * HOUR
UPPER_WARMING = 1.0 / (SEDIMENT_HEAT * SLAB[0])
LOWER_WARMING = 1.0 / (SEDIMENT_HEAT * SLAB[1])
PER_HEAT = 1.0 / VOLUMETRIC_HEAT
PER_HOUR = 1.0 / 24.0  # of a daily rate


@compiled
def demand_table():
    """Demand relative to 20 degC, every 0.25 degC from 0 to 45 (see :func:`bed_and_demand`)."""
    table = np.empty(182)
    for k in range(182):
        table[k] = TEMPERATURE_BASE ** (STEP * k - 20.0)
    return table


@compiled
def open_surface(row, own, area, reach, temperature, oxygen, source, top, budget):
    """Open water and the air: heat, gas and stress.

    ``reach`` [m] is the depth of the surface layer.

    Returns
    -------
    entering : float [W/m2], shortwave that enters the water
    stress : float [N/m2]
    """
    gross = area * HOUR
    pressure, wind = row[PRESSURE], row[WIND] * own[EVAPORATION]
    latent, sensible = turbulent_fluxes(temperature, row[AIR], row[VAPOUR], pressure, wind)
    net_long = EMISSIVITY * (row[LONGWAVE] + own[SKY]) - emitted_longwave(temperature)
    entering = row[SHORTWAVE] * own[SUNSHINE] * (1.0 - row[ALBEDO])
    source[0, top] += (net_long - latent - sensible) * gross / VOLUMETRIC_HEAT
    budget[SHORT_IN] += entering * gross
    budget[LONG_NET] += net_long * gross
    budget[LATENT] -= latent * gross
    budget[SENSIBLE] -= sensible * gross
    # backward Euler, so that a thin layer does not overshoot saturation
    velocity = transfer_velocity(temperature, wind) / 24.0
    wanted = oxygen_saturation(max(temperature, 0.0), pressure) - max(oxygen, 0.0)
    exchanged = velocity * wanted / (1.0 + velocity / reach) * area
    source[1, top] += exchanged
    budget[GAS] += exchanged
    stress = wind_stress(row[WIND] * own[SHELTER], row[AIR], pressure)
    return entering, stress


@compiled
def ice_surface(row, own, area, reach, temperature, volume, ice, snow, source, top, budget):
    """Ice and the air above, the water below: growth, melt, and light that passes.

    ``volume`` [m3] and ``temperature`` [degC] are those of the surface layer.

    Returns
    -------
    entering : float [W/m2], shortwave that enters the water
    ice, snow : float [m]; both 0 once the last has melted
    """
    gross = area * HOUR
    snow += row[SNOWFALL]
    budget[SNOW_IN] -= SNOW_DENSITY * LATENT_FUSION * row[SNOWFALL] * area
    sun = row[SHORTWAVE] * own[SUNSHINE]
    reflected, passed = light_through(ice, snow)
    entering = sun * passed
    absorbed = sun * (1.0 - reflected) - entering
    _, _, net_long, latent, sensible, surplus = ice_balance(
        ice, snow, row[AIR], row[VAPOUR], row[PRESSURE], row[WIND] * own[EVAPORATION], absorbed,
        row[LONGWAVE] + own[SKY],
    )  # fmt: skip
    # heat conducted from the layer's middle melts from below, at most half of what the layer holds
    melt = WATER_CONDUCTIVITY * max(temperature, 0.0) / (0.5 * reach)
    melt = min(melt, 0.5 * volume * VOLUMETRIC_HEAT * temperature / gross)
    source[0, top] -= melt * gross / VOLUMETRIC_HEAT
    budget[SHORT_IN] += (absorbed + entering) * gross
    budget[LONG_NET] += net_long * gross
    budget[LATENT] -= latent * gross
    budget[SENSIBLE] -= sensible * gross
    # J/m2 that melt the crust, or where negative freeze more to it; snow goes first
    warmth = (melt + absorbed + net_long - latent - sensible) * HOUR
    if surplus > 0.0 and snow > 0.0:
        melted = min(snow, surplus * HOUR / (SNOW_DENSITY * LATENT_FUSION))
        snow -= melted
        warmth -= melted * SNOW_DENSITY * LATENT_FUSION
    ice -= thickness_of(warmth)
    if ice <= 0.0:
        # the last of the crust has gone: what is over warms the water, snow left cools it
        over = -(ice * ICE_DENSITY + snow * SNOW_DENSITY) * LATENT_FUSION
        ice, snow = 0.0, 0.0
        source[0, top] += over * area / VOLUMETRIC_HEAT
    return entering, ice, snow


@compiled
def absorb_light(
    row, own, entering, ice, making, level, faces, areas, volumes, source, top, budget
):  # fmt: skip
    """Shortwave through the layers: heat where it fades, oxygen made where it shines.

    Light that meets the bed warms the water of that layer. ``making`` [g/m3/d] is the greatest
    production.
    """
    visible = entering
    if ice == 0.0:
        visible = entering * (1.0 - NEAR_INFRARED_SHARE)
    source[0, top] += (entering - visible) * areas[top] * HOUR / VOLUMETRIC_HEAT
    fading = row[CLARITY] * own[FADING]
    through = np.exp(-fading * (faces[1] - faces[0]))
    middle = through**0.5
    light = visible
    for i in range(top, volumes.size):
        passed, half = through, middle
        if i == top:
            passed = np.exp(-fading * (faces[i + 1] - level))
            half = passed**0.5
        below = light * passed
        source[0, i] += (light * areas[i] - below * areas[i + 1]) * WARMING
        made = making * light_limitation(light * half) * volumes[i] * PER_HOUR
        source[1, i] += made
        budget[MADE] += made
        light = below
        if light < 0.01:
            source[0, i] += light * areas[i + 1] * WARMING
            break


@compiled
def bed_and_demand(
    temperature, oxygen, upper, lower, areas, volumes, demands, table, source, top, budget
):  # fmt: skip
    """Heat to and from the bed, and the oxygen that bed and water take.

    ``upper`` and ``lower`` (n,) [degC] are two slabs of sediment under each layer, insulated
    below (as Fang & Stefan 1996 found the annual cycle to reach a metre or two); ``demands`` is
    the demand of the bed [g/m2/d] and of the water [g/m3/d] at 20 degC.
    """
    of_bed, of_water = demands
    for i in range(top, volumes.size):
        bed = areas[i] - areas[i + 1]
        given = TOUCH * (upper[i] - temperature[i])
        passed = LINK * (lower[i] - upper[i])
        upper[i] += (passed - given) * UPPER_WARMING
        lower[i] -= passed * LOWER_WARMING
        source[0, i] += given * bed * PER_HEAT
        budget[SEDIMENT] += given * bed
        at = min(max(temperature[i], 0.0) * (1.0 / STEP), 180.0)
        k = int(at)
        speed = table[k] + (at - k) * (table[k + 1] - table[k])
        full = (of_bed * bed + of_water * volumes[i]) * PER_HOUR
        taken = speed * demand_share(oxygen[i]) * full
        source[1, i] -= taken
        budget[TAKEN] -= taken


@compiled
def bring_inflow(
    row, temperature, densities, level, faces, release_depth, up, down, sink, source, top, budget
):  # fmt: skip
    """Inflow into the layer of its own weight, release from its depth, and the water between."""
    layers = temperature.size
    amount, release = row[INFLOW] * HOUR, row[RELEASE] * HOUR
    entry = neutral_layer(temperature, densities, top, density(row[WARMTH]))
    outlet = top
    while outlet < layers - 1 and faces[outlet + 1] - level < release_depth:
        outlet += 1
    route(top, entry, outlet, amount, release, up, down, sink)
    source[0, entry] += amount * row[WARMTH]
    source[1, entry] += amount * row[GAS_IN]
    budget[FLOW_HEAT] += amount * row[WARMTH] * VOLUMETRIC_HEAT
    budget[FLOW_GAS] += amount * row[GAS_IN]


@compiled
def freeze(temperature, volumes, area, ice, top):
    """Turn what fell below 0 degC into ice: returns its thickness [m]; no heat is lost."""
    for i in range(top, temperature.size):
        if temperature[i] < 0.0:
            lacking = -temperature[i] * volumes[i] * VOLUMETRIC_HEAT
            ice += lacking / (ICE_DENSITY * LATENT_FUSION * area)
            temperature[i] = 0.0
        if i > top + 1 and temperature[i] > 1.0:
            break
    return ice
