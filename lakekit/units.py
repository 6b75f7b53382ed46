"""Units at the edges: text such as "34 ft" to SI on the way in, club units on the way out.

Inside lakekit everything is SI and degrees Celsius; nothing else converts units.
"""

import re
import reprlib
import unicodedata
from difflib import get_close_matches

_SHORT = reprlib.Repr()
_SHORT.maxstring = _SHORT.maxother = 80
_SHORT.maxlong = 40
_SHORT.maxlevel, _SHORT.maxlist, _SHORT.maxdict = 3, 6, 4

FOOT = 0.3048  # m, exact (international foot, 1959)
MILE = 1609.344  # m, exact
ACRE = 4046.8564224  # m2, exact (international acre)
POUND = 0.45359237  # kg, exact
OUNCE = POUND / 16
INCH = FOOT / 12

# dimension -> unit -> (factor, offset): SI = value * factor + offset
COMPASS = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW",
    "NNW",
)  # fmt: skip

UNITS = {
    "length": {
        "m": (1.0, 0.0),
        "cm": (0.01, 0.0),
        "mm": (0.001, 0.0),
        "km": (1000.0, 0.0),
        "ft": (FOOT, 0.0),
        "in": (INCH, 0.0),
        "yd": (3 * FOOT, 0.0),
        "mi": (MILE, 0.0),
    },
    "area": {
        "m2": (1.0, 0.0),
        "ha": (1e4, 0.0),
        "km2": (1e6, 0.0),
        "acres": (ACRE, 0.0),
        "acre": (ACRE, 0.0),
        "mi2": (MILE**2, 0.0),
        "sq mi": (MILE**2, 0.0),
    },
    "temperature": {"C": (1.0, 0.0), "F": (5 / 9, -160 / 9)},
    "speed": {
        "m/s": (1.0, 0.0),
        "km/h": (1 / 3.6, 0.0),
        "mph": (MILE / 3600, 0.0),
        "kt": (1852 / 3600, 0.0),
        "ft/s": (FOOT, 0.0),
    },
    "mass": {
        "kg": (1.0, 0.0),
        "g": (0.001, 0.0),
        "oz": (OUNCE, 0.0),
        "lb": (POUND, 0.0),
    },
    "flow": {"m3/s": (1.0, 0.0), "cfs": (FOOT**3, 0.0), "L/s": (0.001, 0.0)},
}

_QUANTITY = re.compile(
    r"^\s*(\d+\s*/\s*\d+|[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?)\s*(.*?)\s*$", re.IGNORECASE
)


def shown(value):
    """A value as a message quotes it: one short line, whatever it is."""
    try:
        return _SHORT.repr(value)
    except ValueError:  # a whole number with more digits than Python writes
        return "a number of thousands of digits"


def plain_word(text):
    """A word as lakekit compares it: letters and digits only, lower case, one way of writing each.

    A text of marks alone is compared as it stands.
    """
    text = unicodedata.normalize("NFKC", str(text)).casefold()
    return re.sub(r"[\W_]+", "", text) or text.strip()


def _article(dimension):
    return f"an {dimension}" if dimension[0] in "aeiou" else f"a {dimension}"


def parse_quantity(value, dimension):
    """Read one quantity as SI.

    Parameters
    ----------
    value : str or float
        Text with a unit ("310 acres", "3/8 oz"), or a bare number taken as SI (degC, kg).
    dimension : str
        A key of ``UNITS``: length [m], area [m2], temperature [degC], speed [m/s], mass [kg],
        flow [m3/s].

    Returns
    -------
    float

    Raises
    ------
    ValueError
        When the text is no number, or its unit is not one of the dimension's.

    Examples
    --------
    >>> round(parse_quantity("9 ft", "length"), 3)
    2.743
    """
    units = UNITS[dimension]
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(
            f"{shown(value)} is not {_article(dimension)}; write a number with a unit, "
            f"such as {_example(dimension)}"
        )
    if isinstance(value, (int, float)):
        try:
            return float(value)
        except OverflowError:
            raise ValueError(f"{shown(value)} is not a finite number") from None
    match = _QUANTITY.match(value)
    if not match:
        raise ValueError(
            f"{shown(value)} is not {_article(dimension)}; write a number with a unit, "
            f"such as {_example(dimension)}"
        )
    number, unit = match.groups()
    top, _, bottom = number.partition("/")
    if bottom and float(bottom) == 0:
        raise ValueError(f"{shown(value)} divides by zero")
    amount = float(top) / float(bottom) if bottom else float(number)
    if not unit:
        return amount
    known = {name.lower(): name for name in units}
    aliases = {
        "feet": "ft",
        "foot": "ft",
        "inch": "in",
        "inches": "in",
        "metres": "m",
        "meters": "m",
        "miles": "mi",
        "mile": "mi",
        "hectares": "ha",
        "knots": "kt",
        "°c": "C",
        "°f": "F",
        "degc": "C",
        "degf": "F",
        "ounces": "oz",
        "ms": "m/s",
        "sq mi": "mi2",
        "ft3/s": "cfs",
    }
    name = known.get(unit.lower()) or aliases.get(unit.lower())
    if name not in units:
        near = get_close_matches(unit.lower(), list(known), n=1)
        hint = f"; did you mean {known[near[0]]!r}?" if near else ""
        raise ValueError(
            f"unit {shown(unit)} in {shown(value)} is not a unit of {dimension}: "
            f"use one of {', '.join(units)}{hint}"
        )
    factor, offset = units[name]
    return amount * factor + offset


def _example(dimension):
    return {
        "length": '"34 ft"',
        "area": '"310 acres"',
        "temperature": '"72 F"',
        "speed": '"1.2 mph"',
        "mass": '"1/4 oz"',
        "flow": '"20 cfs"',
    }[dimension]


def convert(value, unit, dimension):
    """Convert an array in ``unit`` to SI (any shape; NaN stays NaN)."""
    factor, offset = UNITS[dimension][unit]
    return value * factor + offset


def express(value, unit, dimension):
    """Convert SI (any shape) to ``unit``, the inverse of :func:`convert`."""
    factor, offset = UNITS[dimension][unit]
    return (value - offset) / factor


def depth_text(metres, units, *, digits=0):
    """A depth in the club's units, such as ``12 ft`` or ``3.6 m``."""
    if units == "us":
        return f"{express(metres, 'ft', 'length'):.{digits}f} ft"
    return f"{metres:.{digits + 1}f} m"


def told_depth(metres, units):
    """The depth [m] that :func:`depth_text` tells: what it prints, to the foot or 0.1 m."""
    unit = FOOT if units == "us" else 0.1
    return round(metres / unit) * unit


def depth_range_text(top, bottom, units):
    """A band of depths in the club's units, ``9–12 ft``; one depth when both round alike."""
    low, high = depth_text(top, units), depth_text(bottom, units)
    return low if low == high else f"{low.split()[0]}–{high}"


def area_text(square_metres, units):
    """An area, such as ``140 acres`` or ``5.7 ha``."""
    value, unit = square_metres / ACRE, "acres"
    if units != "us":
        value, unit = square_metres / 1e4, "ha"
    return f"{value:,.0f} {unit}" if value >= 10 else f"{value:.2g} {unit}"


def temperature_text(celsius, units, *, digits=0):
    """A temperature in the club's units, such as ``78 F`` or ``25.4 C``."""
    if units == "us":
        return f"{express(celsius, 'F', 'temperature'):.{digits}f} °F"
    return f"{celsius:.{digits}f} °C"


def speed_text(metres_per_second, units):
    """A boat speed in the club's units, such as ``1.1 mph`` or ``0.5 m/s``."""
    if units == "us":
        return f"{express(metres_per_second, 'mph', 'speed'):.1f} mph"
    return f"{metres_per_second:.2f} m/s"


def wind_text(speed, units):
    """A wind, such as ``25 mph`` or ``11 m/s``."""
    return f"{speed / (MILE / 3600):.0f} mph" if units == "us" else f"{speed:.0f} m/s"


def rain_text(millimetres, units):
    """Rain, such as ``1.2 in`` or ``30 mm``."""
    if units == "us":
        return f"{millimetres / (1000 * INCH):.1f} in"
    return f"{millimetres:.0f} mm"


def compass_text(degrees):
    """A bearing as one of the sixteen points, such as ``NNE``."""
    return COMPASS[round(float(degrees) / 22.5) % 16]


def axis_text(degrees):
    """A lake's long axis by its two ends, such as ``NE-SW``."""
    return f"{compass_text(degrees)}-{compass_text(float(degrees) + 180.0)}"
