"""The time loop: every member through every hour, in one compiled function."""

import numpy as np

from .columns import (
    BUDGET_COLUMNS,
    DEMAND,
    DIFFUSION,
    FLOW_GAS,
    FLOW_HEAT,
    GAS,
    HEAT,
    HEAT_LEFT,
    ICE,
    INFLOW,
    LEARNED,
    LEVEL,
    LEVEL_GAS,
    LEVEL_HEAT,
    OXYGEN,
    OXYGEN_LEFT,
    PRODUCTION,
    RELEASE,
    SHORT_IN,
    SNOW,
    STORED,
    STRESS,
    SURFACE,
)  # fmt: skip
from .compiled import compiled
from .flow import AERATOR_DIFFUSIVITY
from .hour import (
    HOUR,
    absorb_light,
    bed_and_demand,
    bring_inflow,
    demand_table,
    freeze,
    ice_surface,
    open_surface,
)
from .ice import ICE_DENSITY, SNOW_DENSITY
from .mixing import convect, diffuse, diffusivity_scale, molecular_and_turbulent, stir
from .water import LATENT_FUSION, VOLUMETRIC_HEAT, WATER_DENSITY, density

# Shares of the wind's power (stress times friction velocity), and of the energy that cooling sets
# free, that mix; passed with the lake's rates, so that a choice can be tried without compiling.
MIXING = (
    1.25,  # shear, reaches any depth (Kato & Phillips 1969, J. Fluid Mech. 37:643-655)
    3.5,  # breaking waves, fading within a metre (Craig & Banner 1994 find more)
    0.6,  # m, e-fold of the waves' reach
    0.03,  # convection; Imberger & Patterson 1990 use 0.125 (from memory)
)


COLDEST_DRIFT = 4.0  # degC: colder water is not drifted, so that none freezes of it


@compiled
def heat_content(temperature, volumes, top, ice, snow, area):
    """Heat [J] of the water above 0 degC, less the latent heat of its ice and snow."""
    total = 0.0
    for i in range(top, temperature.size):
        total += volumes[i] * temperature[i]
    frozen = (ICE_DENSITY * ice + SNOW_DENSITY * snow) * LATENT_FUSION * area
    return VOLUMETRIC_HEAT * total - frozen


@compiled
def oxygen_content(oxygen, volumes, top):
    """Oxygen balance of the lake [g]."""
    total = 0.0
    for i in range(top, oxygen.size):
        total += volumes[i] * oxygen[i]
    return total


@compiled
def sample(values, warmth, top, surface, thickness, centres, bottom, targets, out):
    """Values at depths below the day's surface, linear between layer centres; NaN below.

    Across the temperature of greatest density the nearer layer's value is taken: a line would
    pass through water heavier than both. ``warmth`` is the temperature of the layers.
    """
    layers = values.size
    upper = 0.5 * (surface + centres[top] + 0.5 * thickness)
    i = top
    for k in range(targets.size):
        depth = targets[k] + surface
        if depth > bottom + 1e-9:
            out[k] = np.nan
            continue
        while i < layers - 1 and centres[i + 1] < depth:
            i += 1
        here = upper if i == top else centres[i]
        if depth <= here or i == layers - 1:
            out[k] = values[i]
        elif (warmth[i] - 3.983) * (warmth[i + 1] - 3.983) < 0.0:
            out[k] = values[i] if depth - here < centres[i + 1] - depth else values[i + 1]
        else:
            out[k] = values[i] + (values[i + 1] - values[i]) * (depth - here) / (
                centres[i + 1] - here
            )


@compiled
def march(
    forcing, slots, parameters, rates, layout, targets, temperatures, balances, sediments,
    drifts, crusts, tops, out_temperature, out_oxygen, out_budget,
):  # fmt: skip
    """Run members through the hours.

    Parameters
    ----------
    forcing : array (hours, 16): air [degC], vapour pressure [hPa], pressure [hPa], wind [m/s],
        shortwave [W/m2], albedo, longwave [W/m2], snowfall [m of snow in the hour], attenuation
        [1/m], level [m below full pond], surface area [m2], volume [m3] at that level, inflow
        [m3/s], its temperature [degC] and oxygen [g/m3], release [m3/s]
    slots : int array (hours,), where to write the state after the hour, -1 for nowhere
    parameters : array (members, 8)
    rates : array (11,): sediment demand [g/m2/d], water demand and production [g/m3/d] at
        20 degC, release depth [m], depths from and to which an aerator stirs [m], the share
        of a drift left after an hour, and the four of ``MIXING``
    layout : array (4, n + 1): faces [m], face areas [m2], centres [m], volumes [m3] (last unused)
    targets : array (d,) [m] output depths below the day's surface
    temperatures, balances : array (members, n), state, changed in place
    sediments : array (members, 2, n) [degC], state
    drifts : array (members, n) [degC/day], state: what readings taught of the column's own error
    crusts : array (members, 2) ice and snow [m], state
    tops : int array (members,), state: index of the surface layer
    out_temperature, out_oxygen : array (members, outputs, d)
    out_budget : array (members, outputs, 21): sums in J and g, mean stress [N/m2], ice and snow
    """
    hours = forcing.shape[0]
    layers = temperatures.shape[1]
    members = temperatures.shape[0]
    faces, face_areas = layout[0], layout[1]
    centres_full, volumes_full = layout[2], layout[3]
    thickness = faces[1]
    bottom = faces[layers]
    table = demand_table()
    volumes = np.empty(layers)
    centres = np.empty(layers)
    areas = np.empty(layers + 1)
    conductance = np.zeros(layers)
    ratio = np.empty(layers)
    up, down, sink = np.zeros(layers), np.zeros(layers), np.zeros(layers)
    source = np.zeros((2, layers))
    temperature, oxygen = np.empty(layers), np.empty(layers)
    densities = np.empty(layers)
    first = np.empty(layers, np.int64)
    pool, moment = np.empty(layers), np.empty(layers)
    budget = np.zeros(BUDGET_COLUMNS)
    sod, bod, production, release_depth, stirred_from, stirred_to, lasting = rates[:7]
    shear, waves, wave_reach, convection = rates[7:]
    flowing = False
    for t in range(hours):
        if forcing[t, INFLOW] > 0.0 or forcing[t, RELEASE] > 0.0:
            flowing = True
            break

    for m in range(members):
        for i in range(layers):
            temperature[i] = temperatures[m, i]
            oxygen[i] = balances[m, i]
            volumes[i] = volumes_full[i]
            centres[i] = centres_full[i]
            areas[i] = face_areas[i]
            densities[i] = density(temperature[i])
        areas[layers] = 0.0
        upper_slab, lower_slab = sediments[m, 0], sediments[m, 1]
        ice, snow = crusts[m, 0], crusts[m, 1]
        top = tops[m]
        own = parameters[m]
        drift = drifts[m]
        drifting, fading = drift.any(), 1.0
        diffusion = diffusivity_scale(face_areas[0]) * own[DIFFUSION]
        demands = (sod * own[DEMAND], bod * own[DEMAND])
        making = production * own[PRODUCTION]
        budget[:] = 0.0
        level = np.nan
        span = 0
        heat_before = 0.0
        gas_before = 0.0
        for t in range(hours):
            row = forcing[t]
            # water level: the surface layer gains or loses water of its own temperature
            if row[LEVEL] != level:
                level = row[LEVEL]
                stored = row[STORED] - _below(top, volumes_full)
                if t > 0:
                    gained = stored - volumes[top]
                    frozen = (ICE_DENSITY * ice + SNOW_DENSITY * snow) * LATENT_FUSION
                    budget[LEVEL_HEAT] += VOLUMETRIC_HEAT * gained * temperature[top] - frozen * (
                        row[SURFACE] - areas[top]
                    )
                    budget[LEVEL_GAS] += gained * oxygen[top]
                volumes[top] = stored
                top = _move_top(top, level, faces, thickness, temperature, oxygen, volumes)
                for i in range(top + 1, min(top + 3, layers)):
                    volumes[i] = volumes_full[i]
                    areas[i] = face_areas[i]
                    centres[i] = centres_full[i]
                volumes[top] = row[STORED] - _below(top, volumes_full)
                for i in range(top, min(top + 2, layers)):
                    densities[i] = density(temperature[i])
                areas[top] = row[SURFACE]
                centres[top] = 0.5 * (level + faces[top + 1])
                if t == 0:
                    heat_before = heat_content(temperature, volumes, top, ice, snow, areas[top])
                    gas_before = oxygen_content(oxygen, volumes, top)
            area = areas[top]
            gross = area * HOUR
            reach = faces[top + 1] - level
            for i in range(top, layers):
                source[0, i] = 0.0
                source[1, i] = 0.0
            stress = 0.0
            if ice > 0.0:
                entering, ice, snow = ice_surface(
                    row, own, area, reach, temperature[top], volumes[top], ice, snow, source, top,
                    budget,
                )  # fmt: skip
            else:
                entering, stress = open_surface(
                    row, own, area, reach, temperature[top], oxygen[top], source, top, budget
                )
            if entering > 0.0:
                absorb_light(
                    row, own, entering, ice, making, level, faces, areas, volumes, source, top,
                    budget,
                )  # fmt: skip
            bed_and_demand(
                temperature, oxygen, upper_slab, lower_slab, areas, volumes, demands, table, source,
                top, budget,
            )  # fmt: skip
            if flowing:
                bring_inflow(
                    row, temperature, densities, level, faces, release_depth, up, down, sink,
                    source, top, budget,
                )  # fmt: skip

            if drifting:
                fading *= lasting
                if ice == 0.0:
                    for i in range(top, layers):
                        if temperature[i] > COLDEST_DRIFT:
                            added = drift[i] * fading * volumes[i] / 24.0
                            source[0, i] += added
                            budget[LEARNED] += added * VOLUMETRIC_HEAT

            # diffusion; densities are those the hour before left
            for i in range(top, layers - 1):
                distance = centres[i + 1] - centres[i]
                mixing = molecular_and_turbulent(
                    densities[i], densities[i + 1], distance, diffusion
                )
                if stirred_from < faces[i + 1] - level < stirred_to:
                    mixing += AERATOR_DIFFUSIVITY
                conductance[i] = mixing * areas[i + 1] * HOUR / distance
            diffuse(
                temperature, oxygen, top, volumes, conductance, source, sink, up, down, ratio
            )
            if flowing:
                for i in range(top, layers):
                    if sink[i] != 0.0:
                        budget[FLOW_HEAT] -= sink[i] * temperature[i] * VOLUMETRIC_HEAT
                        budget[FLOW_GAS] -= sink[i] * oxygen[i]

            ice = freeze(temperature, volumes, area, ice, top)

            # convection and wind
            for i in range(top, layers):
                densities[i] = density(temperature[i])
            energy = convection * convect(
                temperature, oxygen, top, volumes, centres, densities, first, pool, moment
            )
            work = 0.0
            if ice == 0.0:
                friction = (stress / WATER_DENSITY) ** 0.5
                power = stress * friction * gross
                energy += shear * power
                work = waves * power
            if energy + work > 0.0:
                stir(
                    temperature, oxygen, top, volumes, centres, densities, energy, work, wave_reach
                )
                for i in range(top, layers - 1):
                    if densities[i] > densities[i + 1]:
                        convect(
                            temperature, oxygen, top, volumes, centres, densities, first, pool,
                            moment,
                        )  # fmt: skip
                        break

            budget[STRESS] += stress
            span += 1
            slot = slots[t]
            if slot >= 0:
                heat = heat_content(temperature, volumes, top, ice, snow, area)
                gas = oxygen_content(oxygen, volumes, top)
                budget[HEAT], budget[OXYGEN] = heat, gas
                change = heat - heat_before
                for k in range(SHORT_IN, LEVEL_HEAT + 1):
                    change -= budget[k]
                budget[HEAT_LEFT] = change
                change = gas - gas_before
                for k in range(GAS, LEVEL_GAS + 1):
                    change -= budget[k]
                budget[OXYGEN_LEFT] = change
                budget[STRESS] /= span
                budget[ICE], budget[SNOW] = ice, snow
                out_budget[m, slot] = budget
                sample(
                    temperature,
                    temperature,
                    top,
                    level,
                    thickness,
                    centres_full,
                    bottom,
                    targets,
                    out_temperature[m, slot],
                )
                sample(
                    oxygen,
                    temperature,
                    top,
                    level,
                    thickness,
                    centres_full,
                    bottom,
                    targets,
                    out_oxygen[m, slot],
                )
                heat_before, gas_before = heat, gas
                budget[:] = 0.0
                span = 0
        for i in range(layers):
            temperatures[m, i] = temperature[i]
            balances[m, i] = oxygen[i]
            drifts[m, i] *= fading
        crusts[m, 0], crusts[m, 1] = ice, snow
        tops[m] = top


@compiled
def _below(top, volumes):
    total = 0.0
    for i in range(top + 1, volumes.size):
        total += volumes[i]
    return total


@compiled
def _move_top(top, level, faces, thickness, temperature, oxygen, volumes):
    """Merge a surface layer grown too thin with the next, or split one grown too thick."""
    while faces[top + 1] - level < 0.5 * thickness and top < volumes.size - 2:
        below = top + 1
        whole = volumes[top] + volumes[below]
        share = volumes[top] / whole
        temperature[below] += share * (temperature[top] - temperature[below])
        oxygen[below] += share * (oxygen[top] - oxygen[below])
        volumes[below] = whole
        top = below
    while faces[top + 1] - level > 1.5 * thickness and top > 0:
        top -= 1
        temperature[top] = temperature[top + 1]
        oxygen[top] = oxygen[top + 1]
    return top
