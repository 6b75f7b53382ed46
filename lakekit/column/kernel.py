"""The time loop: every member through every hour, in one compiled function."""

import numpy as np

from .compiled import compiled
from .flow import AERATOR_DIFFUSIVITY, neutral_layer, route
from .ice import (
    ICE_DENSITY,
    SNOW_DENSITY,
    WATER_CONDUCTIVITY,
    ice_balance,
    light_through,
)
from .light import NEAR_INFRARED_SHARE
from .mixing import convect, diffuse, molecular_and_turbulent, stir
from .oxygen import (
    TEMPERATURE_BASE,
    demand_share,
    light_limitation,
    transfer_velocity,
)
from .surface import EMISSIVITY, emitted_longwave, turbulent_fluxes, wind_stress
from .water import LATENT_FUSION, VOLUMETRIC_HEAT, WATER_DENSITY, density, oxygen_saturation

HOUR = 3600.0  # s
# Shares of power (stress times friction velocity) and of the energy set free by cooling that mix
SHEAR_EFFICIENCY = 1.25  # reaches any depth (Kato & Phillips 1969, J. Fluid Mech. 37:643-655)
WAVE_EFFICIENCY = 3.5  # of breaking waves, fading within a metre (Craig & Banner 1994 find more)
WAVE_REACH = 0.6  # m, e-fold
CONVECTIVE_EFFICIENCY = 0.03
SLAB = (0.2, 1.5)  # m of sediment in two slabs
SEDIMENT_CONDUCTIVITY = 1.0  # W/m/K, saturated mud (0.6-1.5, common practice)
SEDIMENT_HEAT = 3.2e6  # J/m3/K

# Columns of the forcing
(
    AIR, VAPOUR, PRESSURE, WIND, SHORTWAVE, ALBEDO, LONGWAVE, SNOWFALL, CLARITY,
    LEVEL, SURFACE, STORED, INFLOW, WARMTH, GAS_IN, RELEASE, BARE,
) = range(17)  # fmt: skip
FORCING_COLUMNS = 17
# Columns of a member's parameters: the order of parameters.TABLE
SHELTER, EVAPORATION, FADING, SUNSHINE, SKY, DIFFUSION, DEMAND, PRODUCTION = range(8)
# Columns of the budgets, all amounts in the time between outputs
(
    SHORT_IN, LONG_NET, LATENT, SENSIBLE, SEDIMENT, SNOW_IN, FLOW_HEAT, LEVEL_HEAT, HEAT,
    HEAT_LEFT, GAS, MADE, TAKEN, FLOW_GAS, LEVEL_GAS, OXYGEN, OXYGEN_LEFT, STRESS, ICE, SNOW,
) = range(20)  # fmt: skip
BUDGET_COLUMNS = 20


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
    crusts, tops, out_temperature, out_oxygen, out_budget,
):  # fmt: skip
    """Run members through the hours.

    Parameters
    ----------
    forcing : array (hours, 17): air [degC], vapour pressure [hPa], pressure [hPa], wind [m/s],
        shortwave [W/m2], albedo, longwave [W/m2], snowfall [m of snow in the hour], attenuation
        [1/m], level [m below full pond], surface area [m2], volume [m3] at that level, inflow
        [m3/s], its temperature [degC] and oxygen [g/m3], release [m3/s], wind of bare trees
    slots : int array (hours,), where to write the state after the hour, -1 for nowhere
    parameters : array (members, 8)
    rates : array (5,): sediment demand [g/m2/d], water demand and production [g/m3/d] at
        20 degC, release depth [m], aerator depth [m]
    layout : array (4, n + 1): faces [m], face areas [m2], centres [m], volumes [m3] (last unused)
    targets : array (d,) [m] output depths below the day's surface
    temperatures, balances : array (members, n), state, changed in place
    sediments : array (members, 2, n) [degC], state
    crusts : array (members, 2) ice and snow [m], state
    tops : int array (members,), state: index of the surface layer
    out_temperature, out_oxygen : array (members, outputs, d)
    out_budget : array (members, outputs, 20): sums in J and g, mean stress [N/m2], ice and snow
    """
    hours = forcing.shape[0]
    layers = temperatures.shape[1]
    members = temperatures.shape[0]
    faces, face_areas = layout[0], layout[1]
    centres_full, volumes_full = layout[2], layout[3]
    thickness = faces[1]
    bottom = faces[layers]
    factor_table = np.empty(182)
    for k in range(182):
        factor_table[k] = TEMPERATURE_BASE ** (0.25 * k - 20.0)

    volumes = np.empty(layers)
    centres = np.empty(layers)
    areas = np.empty(layers + 1)
    conductance = np.zeros(layers)
    ratio = np.empty(layers)
    up, down, sink = np.zeros(layers), np.zeros(layers), np.zeros(layers)
    source = np.zeros((2, layers))
    values = np.empty((2, layers))
    densities = np.empty(layers)
    first = np.empty(layers, np.int64)
    pool, moment = np.empty(layers), np.empty(layers)
    budget = np.zeros(BUDGET_COLUMNS)
    sod, bod, production, release_depth, aerator_depth = rates
    flowing = False
    for t in range(hours):
        if forcing[t, INFLOW] > 0.0 or forcing[t, RELEASE] > 0.0:
            flowing = True
            break

    for m in range(members):
        temperature, oxygen = values[0], values[1]
        for i in range(layers):
            temperature[i] = temperatures[m, i]
            oxygen[i] = balances[m, i]
            volumes[i] = volumes_full[i]
            centres[i] = centres_full[i]
            areas[i] = face_areas[i]
        areas[layers] = 0.0
        upper_slab, lower_slab = sediments[m, 0], sediments[m, 1]
        ice, snow = crusts[m, 0], crusts[m, 1]
        top = tops[m]
        shelter, evaporation = parameters[m, SHELTER], parameters[m, EVAPORATION]
        diffusion = 8.17e-8 * (face_areas[0] * 1e-6) ** 0.56 * parameters[m, DIFFUSION]
        demand_factor = parameters[m, DEMAND]
        making = production * parameters[m, PRODUCTION]
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
                areas[top] = row[SURFACE]
                centres[top] = 0.5 * (level + faces[top + 1])
                if t == 0:
                    heat_before = heat_content(temperature, volumes, top, ice, snow, areas[top])
                    gas_before = oxygen_content(oxygen, volumes, top)
            area = areas[top]
            air, vapour, pressure = row[AIR], row[VAPOUR], row[PRESSURE]
            wind = row[WIND]
            sun = row[SHORTWAVE] * parameters[m, SUNSHINE]
            sky = row[LONGWAVE] + parameters[m, SKY]
            for i in range(top, layers):
                source[0, i] = 0.0
                source[1, i] = 0.0
            gross = area * HOUR

            # surface
            stress = 0.0
            if ice > 0.0:
                snow += row[SNOWFALL]
                budget[SNOW_IN] -= SNOW_DENSITY * LATENT_FUSION * row[SNOWFALL] * area
                reflected, passed = light_through(ice, snow)
                entering = sun * passed
                absorbed = sun * (1.0 - reflected) - entering
                _, _, net_long, latent, sensible, surplus = ice_balance(
                    ice, snow, air, vapour, pressure, wind * evaporation, absorbed, sky
                )
                half = 0.5 * (faces[top + 1] - level)
                melt_below = WATER_CONDUCTIVITY * 2.0 * max(temperature[top], 0.0) / half
                melt_below = min(
                    melt_below, 0.5 * volumes[top] * VOLUMETRIC_HEAT * temperature[top] / gross
                )
                source[0, top] -= melt_below * area * HOUR / VOLUMETRIC_HEAT
                budget[SHORT_IN] += (absorbed + entering) * gross
                budget[LONG_NET] += net_long * gross
                budget[LATENT] -= latent * gross
                budget[SENSIBLE] -= sensible * gross
                net = absorbed + net_long - latent - sensible
                # latent heat lost or gained by the crust, ice and snow, in J/m2
                crust = (melt_below + net) * HOUR
                if surplus > 0.0 and snow > 0.0:
                    melted = min(snow, surplus * HOUR / (SNOW_DENSITY * LATENT_FUSION))
                    snow -= melted
                    crust -= melted * SNOW_DENSITY * LATENT_FUSION
                ice -= crust / (ICE_DENSITY * LATENT_FUSION)
                if ice <= 0.0:
                    # the last of the crust has gone: what is over warms or cools the water
                    debt = -ice * ICE_DENSITY * LATENT_FUSION - snow * SNOW_DENSITY * LATENT_FUSION
                    ice, snow = 0.0, 0.0
                    source[0, top] += debt * area / VOLUMETRIC_HEAT
            else:
                latent, sensible = turbulent_fluxes(
                    temperature[top], air, vapour, pressure, wind * evaporation
                )
                net_long = EMISSIVITY * sky - emitted_longwave(temperature[top])
                entering = sun * (1.0 - row[ALBEDO])
                stress = wind_stress(wind * shelter * row[BARE], air, pressure)
                source[0, top] += (net_long - latent - sensible) * gross / VOLUMETRIC_HEAT
                budget[SHORT_IN] += entering * gross
                budget[LONG_NET] += net_long * gross
                budget[LATENT] -= latent * gross
                budget[SENSIBLE] -= sensible * gross
                velocity = transfer_velocity(temperature[top], wind * evaporation) / 24.0
                deep = faces[top + 1] - level
                wanted = oxygen_saturation(max(temperature[top], 0.0), pressure) - max(
                    oxygen[top], 0.0
                )
                exchanged = velocity * wanted / (1.0 + velocity / deep) * area
                source[1, top] += exchanged
                budget[GAS] += exchanged

            # light
            visible = entering
            if entering > 0.0:
                if ice == 0.0:
                    visible = entering * (1.0 - NEAR_INFRARED_SHARE)
                fading = row[CLARITY] * parameters[m, FADING]
                source[0, top] += (entering - visible) * gross / VOLUMETRIC_HEAT
                through = np.exp(-fading * thickness)
                middle = through**0.5
                light = visible
                for i in range(top, layers):
                    passed = through
                    centre_light = light * middle
                    if i == top:
                        passed = np.exp(-fading * (faces[i + 1] - level))
                        centre_light = light * passed**0.5
                    below_light = light * passed
                    source[0, i] += (
                        (light * areas[i] - below_light * areas[i + 1]) * HOUR / VOLUMETRIC_HEAT
                    )
                    made = making * light_limitation(centre_light) * volumes[i] / 24.0
                    source[1, i] += made
                    budget[MADE] += made
                    light = below_light
                    if light < 0.01:
                        source[0, i] += light * areas[i + 1] * HOUR / VOLUMETRIC_HEAT
                        break

            # sediment: heat to and fro, oxygen demand; demand of the water itself
            touch = 2.0 * SEDIMENT_CONDUCTIVITY / SLAB[0]
            link = 2.0 * SEDIMENT_CONDUCTIVITY / (SLAB[0] + SLAB[1])
            for i in range(top, layers):
                bed = areas[i] - areas[i + 1]
                given = touch * (upper_slab[i] - temperature[i]) * HOUR
                passed = link * (lower_slab[i] - upper_slab[i]) * HOUR
                upper_slab[i] += (passed - given) / (SEDIMENT_HEAT * SLAB[0])
                lower_slab[i] -= passed / (SEDIMENT_HEAT * SLAB[1])
                source[0, i] += given * bed / VOLUMETRIC_HEAT
                budget[SEDIMENT] += given * bed
                at = min(max(temperature[i], 0.0) * 4.0, 180.0)
                k = int(at)
                speed = factor_table[k] + (at - k) * (factor_table[k + 1] - factor_table[k])
                taken = (
                    demand_factor
                    * speed
                    * demand_share(oxygen[i])
                    * (sod * bed + bod * volumes[i])
                    / 24.0
                )
                source[1, i] -= taken
                budget[TAKEN] -= taken

            # through-flow
            if flowing:
                amount, release = row[INFLOW] * HOUR, row[RELEASE] * HOUR
                for i in range(top, layers):
                    densities[i] = density(temperature[i])
                entry = neutral_layer(temperature, densities, top, density(row[WARMTH]))
                outlet = top
                while outlet < layers - 1 and faces[outlet + 1] - level < release_depth:
                    outlet += 1
                route(top, entry, outlet, amount, release, up, down, sink)
                source[0, entry] += amount * row[WARMTH]
                source[1, entry] += amount * row[GAS_IN]
                budget[FLOW_HEAT] += amount * row[WARMTH] * VOLUMETRIC_HEAT
                budget[FLOW_GAS] += amount * row[GAS_IN]

            # diffusion
            for i in range(top, layers):
                densities[i] = density(temperature[i])
            for i in range(top, layers - 1):
                distance = centres[i + 1] - centres[i]
                mixing = molecular_and_turbulent(
                    densities[i], densities[i + 1], distance, diffusion
                )
                if aerator_depth > 0.0 and faces[i + 1] - level < aerator_depth:
                    mixing += AERATOR_DIFFUSIVITY
                conductance[i] = mixing * areas[i + 1] * HOUR / distance
            diffuse(values, top, volumes, conductance, source, sink, up, down, ratio)
            if flowing:
                for i in range(top, layers):
                    if sink[i] != 0.0:
                        budget[FLOW_HEAT] -= sink[i] * temperature[i] * VOLUMETRIC_HEAT
                        budget[FLOW_GAS] -= sink[i] * oxygen[i]

            # ice where water would fall below freezing
            for i in range(top, layers):
                if temperature[i] < 0.0:
                    lacking = -temperature[i] * volumes[i] * VOLUMETRIC_HEAT
                    ice += lacking / (ICE_DENSITY * LATENT_FUSION * area)
                    temperature[i] = 0.0
                if i > top + 1 and temperature[i] > 1.0:
                    break

            # convection and wind
            for i in range(top, layers):
                densities[i] = density(temperature[i])
            energy = CONVECTIVE_EFFICIENCY * convect(
                temperature, oxygen, top, volumes, centres, densities, first, pool, moment
            )
            work = 0.0
            if ice == 0.0:
                friction = (stress / WATER_DENSITY) ** 0.5
                power = stress * friction * gross
                energy += SHEAR_EFFICIENCY * power
                work = WAVE_EFFICIENCY * power
            if energy + work > 0.0:
                stir(
                    temperature, oxygen, top, volumes, centres, densities, energy, work, WAVE_REACH
                )
                for i in range(top, layers - 1):
                    if densities[i] > densities[i + 1]:
                        convect(
                            temperature,
                            oxygen,
                            top,
                            volumes,
                            centres,
                            densities,
                            first,
                            pool,
                            moment,
                        )
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
