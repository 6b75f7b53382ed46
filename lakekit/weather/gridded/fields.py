"""The fields of a grid file: how each is found, the units it may have, the hours it stands for.

A field is found by its CF `standard_name` first and by its name in the file otherwise; the names
are those under which open reanalyses and climate models are distributed:

- ECMWF ERA5 and ERA5-Land (Hersbach et al. 2020, doi:10.1002/qj.3803; Munoz-Sabater et al. 2021,
  doi:10.5194/essd-13-4349-2021; parameter names of the ECMWF parameter database): `t2m`, `ssrd` ...
- NASA MERRA-2 (Bosilovich et al. 2016, GMAO Office Note 9, file specification): `T2M`, `SWGDN` ...
- NOAA PSL's NetCDF of the NCEP reanalyses and NARR (Kalnay et al. 1996, Mesinger et al. 2006):
  `air`, `uwnd`, `dswrf` ...
- CMIP and CORDEX (variable table of the CORDEX archive specification): `tas`, `rsds` ...
- land-surface forcings under the ALMA convention, version 3 (Polcher et al. 2000): `Tair`, `SWdown`

All names are from memory of those documents.
"""

import re
from dataclasses import dataclass

from lakekit.constants import GRAVITY, ZERO_CELSIUS
from lakekit.errors import WeatherError

STATE, FLUX, FIXED = "state", "flux", "fixed"

_FRACTION = {"1": 1.0, "(0 - 1)": 1.0, "0-1": 1.0, "": 1.0, "%": 0.01, "percent": 0.01}
_PRESSURE = {"pa": 0.01, "hpa": 1.0, "mbar": 1.0, "millibars": 1.0, "mb": 1.0, "kpa": 10.0}
_TEMPERATURE = {name: 1.0 for name in ("k", "kelvin", "degk", "c", "degc", "degree_celsius",
                                       "degrees_celsius", "celsius")}  # fmt: skip
_WIND = {"m s-1": 1.0, "m/s": 1.0, "km h-1": 1 / 3.6, "km/h": 1 / 3.6, "knot": 0.514444,
         "kt": 0.514444}  # fmt: skip
_RADIATION = {"w m-2": 1.0, "w/m2": 1.0}
_RATE = {"kg m-2 s-1": 3600.0, "kg/m2/s": 3600.0, "mm s-1": 3600.0, "mm h-1": 1.0, "mm/h": 1.0,
         "mm hr-1": 1.0, "m s-1": 3.6e6, "mm day-1": 1 / 24, "mm/day": 1 / 24}  # fmt: skip
# Amounts over the interval of a value: the unit of the amount, to W s m-2 or mm.
_ENERGY = {"j m-2": 1.0, "j/m2": 1.0, "w s m-2": 1.0, "kj m-2": 1e3, "mj m-2": 1e6, "mj/m2": 1e6}
_WATER = {"m": 1000.0, "mm": 1.0, "kg m-2": 1.0, "kg/m2": 1.0, "cm": 10.0}


@dataclass(frozen=True)
class Field:
    """One field a grid may hold."""

    key: str
    kind: str  # a state of the moment, a flux over an interval, or fixed in time
    standard_names: tuple
    names: tuple  # lower case
    units: dict  # unit -> factor to the inner unit
    amounts: dict | None = None  # the same for amounts gathered over an interval
    column: str | None = None  # its key under [weather.columns] and [weather.units]


FIELDS = {
    item.key: item
    for item in (
        Field("air_temperature", STATE, ("air_temperature",),
              ("t2m", "2t", "tas", "tair", "air", "tmp2m", "air_temp"), _TEMPERATURE,
              column="air_temp_c"),
        Field("dew_point", STATE, ("dew_point_temperature",),
              ("d2m", "2d", "t2mdew", "dpt2m", "dew_point"), _TEMPERATURE, column="dew_point_c"),
        Field("relative_humidity", STATE, ("relative_humidity",),
              ("hurs", "rhum", "rh2m", "r2", "rh"), {**_FRACTION, "": 0.01},
              column="rel_hum_pct"),
        Field("specific_humidity", STATE, ("specific_humidity",),
              ("huss", "qv2m", "shum", "qair", "q2", "sh2"),
              {"1": 1.0, "kg kg-1": 1.0, "kg/kg": 1.0, "kg kg^-1": 1.0, "g kg-1": 1e-3,
               "g/kg": 1e-3, "grams/kg": 1e-3}),
        Field("wind_speed", STATE, ("wind_speed",), ("sfcwind", "si10", "wspd", "ws10", "wind"),
              _WIND, column="wind_ms"),
        Field("eastward_wind", STATE, ("eastward_wind", "x_wind"),
              ("u10", "10u", "u10m", "uas", "uwnd", "wind_e", "ugrd10m"), _WIND),
        Field("northward_wind", STATE, ("northward_wind", "y_wind"),
              ("v10", "10v", "v10m", "vas", "vwnd", "wind_n", "vgrd10m"), _WIND),
        Field("air_pressure", STATE, ("surface_air_pressure",),
              ("sp", "ps", "psurf", "pres", "pressfc"), _PRESSURE, column="pressure_hpa"),
        Field("sea_level_pressure", STATE,
              ("air_pressure_at_mean_sea_level", "air_pressure_at_sea_level"),
              ("msl", "psl", "slp", "prmsl", "mslet"), _PRESSURE),
        Field("cloud_cover", STATE, ("cloud_area_fraction",), ("tcc", "clt", "cldtot", "tcdc"),
              _FRACTION, column="cloud_pct"),
        Field("shortwave", FLUX,
              ("surface_downwelling_shortwave_flux_in_air",
               "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air"),
              ("ssrd", "msdwswrf", "avg_sdswrf", "rsds", "swgdn", "dswrf", "swdown"),
              _RADIATION, _ENERGY, "shortwave_wm2"),
        Field("longwave", FLUX,
              ("surface_downwelling_longwave_flux_in_air",
               "integral_wrt_time_of_surface_downwelling_longwave_flux_in_air"),
              ("strd", "msdwlwrf", "avg_sdlwrf", "rlds", "dlwrf", "lwdown", "lwgdn"),
              _RADIATION, _ENERGY, "longwave_wm2"),
        Field("precipitation", FLUX,
              ("precipitation_flux", "precipitation_amount", "lwe_precipitation_rate",
               "lwe_thickness_of_precipitation_amount"),
              ("tp", "mtpr", "avg_tprate", "pr", "prectotcorr", "prectot", "prate", "apcp",
               "rainf", "precip"), _RATE, _WATER, "precip_mm"),
        Field("height", FIXED, ("surface_altitude", "geopotential", "surface_geopotential"),
              ("z", "orog", "phis", "hgt", "hgtsfc", "elevation", "orography"),
              {"m": 1.0, "m2 s-2": 1 / GRAVITY, "m+2 s-2": 1 / GRAVITY, "gpm": 1.0}),
        Field("land", FIXED, ("land_area_fraction", "land_binary_mask"),
              ("lsm", "sftlf", "frland", "land"), _FRACTION),
    )
}  # fmt: skip

TIME_NAMES = ("time", "valid_time")
STACKED = ("expver", "number", "realization")  # alternatives of one field, not a place in space


def find_fields(dataset, columns, *, where):
    """Which variable of a file is which field.

    Parameters
    ----------
    dataset : xarray.Dataset, opened lazily
    columns : dict
        ``[weather.columns]``: default column -> variable of the file.
    where : str
        File, for messages.

    Returns
    -------
    dict of field key -> variable name

    Raises
    ------
    WeatherError
        Where two variables serve equally and none is named.
    """
    flat = {
        name: variable
        for name, variable in dataset.data_vars.items()
        if variable.ndim >= 2
        and sum(variable.sizes[dim] > 1 for dim in _beyond_time(dataset, variable)) <= 2
    }
    found = {}
    for field in FIELDS.values():
        named = columns.get(field.column)
        if named is not None:
            if named in flat:
                found[field.key] = named
            continue
        by_standard = [
            name
            for name, variable in flat.items()
            if variable.attrs.get("standard_name") in field.standard_names
        ]
        by_name = [name for name in flat if name.lower() in field.names]
        both = [name for name in by_standard if name in by_name]
        names = both or by_standard or by_name
        names = _nearest_the_ground(dataset, field, names)
        if len(names) > 1 and field.kind != FIXED:
            mend = (
                f"Say which under [weather.columns]: {field.column} = {names[0]!r}."
                if field.column
                else "Leave one of them out of the file."
            )
            raise WeatherError(
                f"{' and '.join(map(repr, names))} could both be {field.key.replace('_', ' ')}",
                where=where,
                mend=mend,
            )
        if names:
            found[field.key] = names[0]
    return found


def _beyond_time(dataset, variable):
    times = {dim for dim in variable.dims if dim in TIME_NAMES or _is_time(dataset, dim)}
    return [dim for dim in variable.dims if dim not in times and dim not in STACKED]


def _is_time(dataset, dim):
    return dim in dataset.coords and dataset[dim].attrs.get("standard_name") == "time"


def _nearest_the_ground(dataset, field, names):
    """Of several candidates told apart by a height coordinate, the one nearest 2 (wind: 10) m."""
    if len(names) < 2:
        return names
    wanted = 10.0 if "wind" in field.key else 2.0
    heights = {name: coordinate_height(dataset[name]) for name in names}
    if any(height is None for height in heights.values()):
        return names
    return [min(names, key=lambda name: abs(heights[name] - wanted))]


def coordinate_height(variable):
    """Height above the ground [m] that a variable's scalar coordinate gives; None: not said."""
    for name, coordinate in variable.coords.items():
        said = coordinate.attrs.get("standard_name") == "height" or name.startswith("height")
        if said and coordinate.size == 1 and coordinate.attrs.get("units", "m") == "m":
            return float(coordinate.values.reshape(-1)[0])
    return None


def unit_key(text):
    """A unit as the tables write it: "J m**-2" and "J m^-2" become "j m-2"."""
    text = re.sub(r"\*\*|\^", "", str(text).strip().lower())
    return re.sub(r"\s+", " ", text.replace("*", " ").replace("degrees c", "degc"))


def read_unit(field, unit, *, name, where):
    """Factor, offset and amount of a field's unit.

    Parameters
    ----------
    field : Field
    unit : str or None
        From the attributes, or from ``[weather.units]``.
    name : str
        The variable, for messages.
    where : str
        File, for messages.

    Returns
    -------
    factor, offset : float
        Inner value = value * factor + offset: degC, m/s, hPa, 0-1, W/m2, mm/h, m.
    amount : bool
        Whether values are gathered over an interval: then the factor gives W s m-2 or mm.

    Raises
    ------
    WeatherError
        For a unit the field cannot have, or none.
    """
    key = unit_key("" if unit is None else unit)
    if field.amounts and key in field.amounts:
        return field.amounts[key], 0.0, True
    if key in field.units and (unit is not None or key):
        kelvin = field.units is _TEMPERATURE and key in ("k", "kelvin", "degk")
        return field.units[key], -ZERO_CELSIUS if kelvin else 0.0, False
    known = ", ".join(unit for unit in {**field.units, **(field.amounts or {})} if unit)
    mend = f"It may be one of {known}."
    if field.column:
        mend += f' Say it under [weather.units]: {field.column} = "...".'
    said = "has no units" if unit is None else f"has the unit {unit!r}"
    raise WeatherError(
        f"{name} ({field.key.replace('_', ' ')}) {said}, which cannot be used",
        where=where,
        mend=mend,
    )
