"""The columns of a weather file: default names, what each becomes, and the units it may have."""

from dataclasses import dataclass, field
from difflib import get_close_matches

import numpy as np

from lakekit.errors import WeatherError
from lakekit.units import UNITS, convert

PRESSURE = {
    "hpa": 1.0,
    "mbar": 1.0,
    "mb": 1.0,
    "pa": 0.01,
    "kpa": 10.0,
    "inhg": 33.8639,
    "mmhg": 1.333224,
}  # NIST SP 811, appendix B.8
HOURLY_RADIATION = {"w/m2": 1.0, "mj/m2": 1e6 / 3600, "j/cm2": 1e4 / 3600, "kj/m2": 1e3 / 3600}
SHARE = {"%": 0.01, "percent": 0.01, "fraction": 1.0, "1": 1.0, "oktas": 0.125, "okta": 0.125}
PERCENT = {"%": 1.0, "percent": 1.0, "fraction": 100.0, "1": 100.0}
SUNSHINE = {"min": 60.0, "s": 1.0, "h": 3600.0, "fraction": 3600.0}
RAIN = {"mm": 1.0, "in": 25.4, "cm": 10.0}


@dataclass(frozen=True)
class Column:
    """One column a weather file may have."""

    name: str  # default name in the file
    variable: str | None  # variable of the Dataset; None: handled by the reader
    unit: str  # default unit
    factors: dict = field(default_factory=dict)  # unit -> factor; else dimension is used
    dimension: str | None = None  # a key of lakekit.units.UNITS
    total: bool = False  # summed, not averaged, over the hour


COLUMNS = {
    item.name: item
    for item in (
        Column("time", None, "UTC"),
        Column("air_temp_c", "air_temperature", "C", dimension="temperature"),
        Column("rel_hum_pct", "relative_humidity", "%", PERCENT),
        Column("dew_point_c", "dew_point", "C", dimension="temperature"),
        Column("wind_ms", "wind_speed", "m/s", dimension="speed"),
        Column(
            "wind_from_deg", "wind_direction", "deg", {"deg": 1.0, "degrees": 1.0, "rad": 57.29578}
        ),
        Column("wind_height_m", "wind_height", "m", dimension="length"),
        Column("pressure_hpa", "air_pressure", "hPa", PRESSURE),
        Column("cloud_pct", "cloud_cover", "%", SHARE),
        Column("sunshine_min", "sunshine_duration", "min", SUNSHINE, total=True),
        Column("shortwave_wm2", "shortwave", "W/m2", HOURLY_RADIATION),
        Column("longwave_wm2", "longwave", "W/m2", HOURLY_RADIATION),
        Column("precip_mm", "precipitation", "mm", RAIN, total=True),
    )
}


def check_names(names, what):
    """Raise for a key that is not a default column, naming the nearest one."""
    for name in names:
        if name not in COLUMNS:
            near = get_close_matches(name, list(COLUMNS), n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            raise WeatherError(
                f"{name!r} is not a weather column",
                where=what,
                mend=f"The columns are {', '.join(COLUMNS)}.{hint}",
            )


def pressure_level(unit):
    """Split "hPa at sea level" into its unit and the level it belongs to (None: not said)."""
    text = unit.strip()
    lowered = text.lower()
    for words, level in (
        ("at sea level", "sea_level"),
        ("at the station", "station"),
        ("at station level", "station"),
        ("at the lake", "lake"),
    ):
        if lowered.endswith(words):
            return text[: -len(words)].strip() or "hPa", level
    return text, None


def to_si(values, name, unit):
    """Convert a column to the unit its variable has inside.

    Parameters
    ----------
    values : (n,) array, NaN where missing
    name : str
        Default column name.
    unit : str or None
        Unit in the file, None for the default.

    Raises
    ------
    WeatherError
        For a unit the column cannot have.
    """
    column = COLUMNS[name]
    text = (unit or column.unit).strip()
    if name == "pressure_hpa":
        text = pressure_level(text)[0]
    key = text.lower().replace("²", "2")
    if column.dimension == "temperature":
        key = key.removeprefix("deg").removeprefix("°")
    if column.dimension == "temperature" and key == "k":
        return values - 273.15
    if column.dimension:
        known = {unit.lower(): unit for unit in UNITS[column.dimension]}
        aliases = {"kmh": "km/h", "kph": "km/h", "ms": "m/s", "knots": "kt", "kn": "kt"}
        found = known.get(key) or aliases.get(key)
        if found:
            return convert(values, found, column.dimension)
        allowed = list(known.values())
    else:
        if key in column.factors:
            return values * column.factors[key]
        allowed = list(column.factors)
    raise WeatherError(
        f"unit {text!r} is not one {name} can have",
        where="[weather.units]",
        mend=f"Use one of {', '.join(allowed)}.",
    )


# A whole column this small is in another unit: default column -> (greatest value, unit to write)
_TOO_SMALL = {
    "rel_hum_pct": (
        (1.05, "fraction"),
    ),  # humidity of 1 % has not been measured for a whole record
    "cloud_pct": ((1.0, "fraction"), (9.0, "oktas")),  # 9 oktas: sky obscured
    "sunshine_min": ((1.0, "h"),),
}
_ENOUGH = 24  # values; fewer may all be small


def check_unit(values, name, unit, *, header, where):
    """Refuse a column whose every value says that it is in another unit than the one named.

    Parameters
    ----------
    values : (n,) array as in the file, NaN where missing
    name : str
        Default column name.
    unit : str or None
        Unit in the file, None for the default.
    header, where : str
        Column and file, for the message.

    Raises
    ------
    WeatherError
        Saying which unit to write.
    """
    if name not in _TOO_SMALL or (unit or COLUMNS[name].unit).strip() != COLUMNS[name].unit:
        return
    known = values[~np.isnan(values)]
    if known.size < _ENOUGH or not (known > 0).any():
        return
    for most, meant in _TOO_SMALL[name]:
        whole = meant != "oktas" or (known == np.round(known)).all()
        if known.max() <= most and whole:
            raise WeatherError(
                f"{header} is never above {known.max():g}, so it is not in {COLUMNS[name].unit}",
                where=where,
                mend=f'Say so under [weather.units]: {name} = "{meant}".',
            )
