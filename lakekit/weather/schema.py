"""Weather variables: names, units, believable ranges, and how filled hours are flagged.

Every weather Dataset has one dimension, `time`: UTC without a zone, hourly, and the label is the
START of the hour. A value labelled 14:00 is the mean of 14:00-15:00 (precipitation and sunshine:
the sum), so the sun that belongs to it stands where it is at 14:30.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from lakekit.errors import WeatherError


@dataclass(frozen=True)
class Variable:
    """One weather variable of a Dataset."""

    name: str
    units: str
    standard_name: str  # CF
    long_name: str
    low: float  # below this a value is a mistake, not weather
    high: float
    cell_methods: str = "time: mean"


# Ranges: the world's records with a margin (WMO World Weather & Climate Extremes Archive, from
# memory: -89.2 to 56.7 degC, 870 to 1084 hPa at sea level, 305 mm in an hour). Air pressure
# reaches down to lakes at 4,000 m. Shortwave allows for cloud-edge focusing above 1,361 W/m2.
VARIABLES = {
    item.name: item
    for item in (
        Variable("air_temperature", "degC", "air_temperature", "air temperature", -65.0, 55.0),
        Variable("relative_humidity", "%", "relative_humidity", "relative humidity", 0.0, 105.0),
        Variable("wind_speed", "m s-1", "wind_speed", "mean wind speed", 0.0, 60.0),
        Variable(
            "wind_direction",
            "degree",
            "wind_from_direction",
            "direction the wind comes from, clockwise from north",
            0.0,
            360.0,
        ),
        Variable("air_pressure", "hPa", "air_pressure", "air pressure", 550.0, 1090.0),
        Variable("cloud_cover", "1", "cloud_area_fraction", "cloud cover", 0.0, 1.0),
        Variable(
            "sunshine_duration",
            "s",
            "duration_of_sunshine",
            "sunshine in the hour",
            0.0,
            3600.0,
            "time: sum",
        ),
        Variable(
            "shortwave",
            "W m-2",
            "surface_downwelling_shortwave_flux_in_air",
            "solar radiation on a level surface",
            -20.0,
            1500.0,
        ),
        Variable(
            "longwave",
            "W m-2",
            "surface_downwelling_longwave_flux_in_air",
            "longwave radiation from the sky",
            40.0,
            700.0,
        ),
        Variable(
            "precipitation",
            "mm",
            "lwe_thickness_of_precipitation_amount",
            "precipitation in the hour",
            0.0,
            310.0,
            "time: sum",
        ),
    )
}

# What the column is driven with, in the order of the bits of `fill_flag`.
FORCING = (
    "air_temperature",
    "relative_humidity",
    "wind_speed",
    "air_pressure",
    "cloud_cover",
    "shortwave",
    "longwave",
    "precipitation",
)

MEASURED, INTERPOLATED, NEIGHBOUR_STATION, NEARBY_DAYS, ESTIMATED, GRID, OTHER_YEAR = range(7)
METHODS = (
    "measured", "interpolated", "neighbour_station", "nearby_days", "estimated", "grid",
    "other_year",
)  # fmt: skip
# Carried where it was recorded, NaN where not: never filled, and the column runs without it.
OPTIONAL = ("wind_direction",)
BITS = 3  # per variable
TIME_ATTRS = {"standard_name": "time", "long_name": "start of the hour, UTC"}


def pack_flags(methods):
    """Pack one method per variable and hour into `fill_flag`.

    Parameters
    ----------
    methods : dict
        Forcing variable -> (n,) int array of positions in ``METHODS``.

    Returns
    -------
    (n,) int32 array
    """
    flag = 0
    for position, name in enumerate(FORCING):
        if name in methods:
            flag = flag | (np.asarray(methods[name], dtype=np.int32) << (BITS * position))
    return np.asarray(flag, dtype=np.int32)


def unpack_flag(flag, variable):
    """The method, as its place in ``METHODS``, of one variable at every hour (int array)."""
    if variable not in FORCING:
        raise WeatherError(
            f"no flag is kept for {variable!r}", mend=f"Use one of {', '.join(FORCING)}."
        )
    position = FORCING.index(variable)
    return (np.asarray(flag, dtype=np.int32) >> (BITS * position)) & (2**BITS - 1)


def flag_attrs():
    """CF attributes of the packed flag (CF-1.11, section 3.5)."""
    masks, values, meanings = [], [], []
    for position, name in enumerate(FORCING):
        for value, method in enumerate(METHODS):
            masks.append((2**BITS - 1) << (BITS * position))
            values.append(value << (BITS * position))
            meanings.append(f"{name}_{method}")
    return {
        "long_name": "how each variable of the hour was obtained",
        "standard_name": "status_flag",
        "flag_masks": np.array(masks, dtype=np.int32),
        "flag_values": np.array(values, dtype=np.int32),
        "flag_meanings": " ".join(meanings),
    }


def variable_attrs(name):
    """CF attributes of a weather variable."""
    item = VARIABLES[name]
    return {
        "standard_name": item.standard_name,
        "long_name": item.long_name,
        "units": item.units,
        "cell_methods": item.cell_methods,
    }


def make_weather(time, values, *, wind_height=10.0, pressure_level=None, origin=None, attrs=None):
    """A weather Dataset from plain arrays: what every reader returns.

    Parameters
    ----------
    time : (n,) DatetimeIndex, UTC without a zone, hourly, start of the hour
    values : dict of str -> (n,) array
        By variable of ``VARIABLES``, in its unit, NaN where missing; others are left out.
    wind_height : float [m above the ground]
    pressure_level : str, optional
        "sea_level", "station", "lake" or "not said".
    origin : dict of str -> (n,) int array, optional
        How the hours of a forcing variable were obtained; measured where not given.
    attrs : dict, optional
        Of the whole record.

    Returns
    -------
    xarray.Dataset on `time`
    """
    weather = xr.Dataset(
        {
            name: ("time", np.asarray(values[name], dtype=np.float64), variable_attrs(name))
            for name in VARIABLES
            if name in values
        },
        coords={"time": ("time", time.as_unit("ns"), TIME_ATTRS)},
        attrs=dict(attrs or {}),
    )
    if origin is not None:
        weather["origin_flag"] = (
            "time",
            pack_flags(dict.fromkeys(FORCING, np.full(time.size, MEASURED)) | origin),
            {"long_name": "hours that were not measured at the first source"},
        )
    if "wind_speed" in weather:
        weather["wind_speed"].attrs["wind_height"] = wind_height
    if "air_pressure" in weather and pressure_level:
        weather["air_pressure"].attrs["level"] = pressure_level
    return weather
