"""Which column of the kernel's arrays holds what."""

# Columns of the forcing
(
    AIR, VAPOUR, PRESSURE, WIND, SHORTWAVE, ALBEDO, LONGWAVE, SNOWFALL, CLARITY,
    LEVEL, SURFACE, STORED, INFLOW, WARMTH, GAS_IN, RELEASE,
) = range(16)  # fmt: skip
FORCING_COLUMNS = 16
# Columns of a member's parameters: the order of parameters.TABLE
SHELTER, EVAPORATION, FADING, SUNSHINE, SKY, DIFFUSION, DEMAND, PRODUCTION = range(8)
# Columns of the budgets, all amounts in the time between outputs
(
    SHORT_IN, LONG_NET, LATENT, SENSIBLE, SEDIMENT, SNOW_IN, FLOW_HEAT, LEARNED,
    LEVEL_HEAT, HEAT,
    HEAT_LEFT, GAS, MADE, TAKEN, FLOW_GAS, LEVEL_GAS, OXYGEN, OXYGEN_LEFT, STRESS, ICE, SNOW,
) = range(21)  # fmt: skip
BUDGET_COLUMNS = 21
