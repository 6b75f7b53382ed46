"""Physical constants shared by the package, each with its source."""

GRAVITY = 9.80665  # m/s2, standard acceleration (CGPM 1901, exact)
ZERO_CELSIUS = 273.15  # K, exact
STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4 (CODATA 2018)
DRY_AIR_GAS = 287.05  # J/kg/K, dry air (WMO-No. 8 uses 287.05)
STANDARD_PRESSURE = 1013.25  # hPa, exact
LAPSE_RATE = 0.0065  # K/m, standard atmosphere (ISO 2533:1975)
