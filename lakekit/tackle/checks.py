"""Input checks of the tackle models, and errors that name the nearest answer."""

import math

import numpy as np

from lakekit.errors import TackleError
from lakekit.units import FOOT, MILE, OUNCE

MPH = MILE / 3600


def both(metres):
    """A length in feet and metres, for messages."""
    return f"{metres / FOOT:.1f} ft ({metres:.2f} m)"


def mass_both(mass):
    """A mass in ounces and grams, for messages."""
    return f"{mass / OUNCE:.2f} oz ({mass * 1000:.1f} g)"


def unreachable(what, *, nearest, mend):
    """A TackleError that carries the nearest possible answer as ``nearest``."""
    error = TackleError(what, mend=mend)
    error.nearest = nearest
    return error


def speed_both(speed):
    """A speed in miles an hour and metres a second, for messages."""
    return f"{speed / MPH:.1f} mph ({speed:.2f} m/s)"


SHOW = {
    "m": both,
    "m/s": speed_both,
    "kg": mass_both,
    "mm": lambda metres: f"{metres * 1000:g} mm",
    "kg/m3": lambda density: f"{density:g} kg/m3",
    "degrees": lambda angle: f"{angle:g} degrees",
    "s": lambda seconds: f"{seconds:g} s",
    "": lambda number: f"{number:g}",
}


def check(value, name, *, least, most=math.inf, strict=False, unit="", mend=None):
    """Refuse what is no number from ``least`` to ``most``, told in the angler's units."""
    number = isinstance(value, (int, float, np.floating, np.integer)) and math.isfinite(value)
    if number and least <= value <= most and not (strict and value == least):
        return
    show = SHOW[unit]
    bound = "above 0" if strict and least == 0 else f"at least {show(least)}"
    limit = f" and at most {show(most)}" if math.isfinite(most) else ""
    said = show(value) if number and abs(value) < 1e6 else repr(value)
    raise TackleError(f"{name} is {said}", mend=mend or f"It must be {bound}{limit}")
