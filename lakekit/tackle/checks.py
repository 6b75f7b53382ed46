"""Input checks of the tackle models, and errors that name the nearest answer."""

import math

import numpy as np

from lakekit.errors import TackleError
from lakekit.units import FOOT, OUNCE


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


def check(value, name, *, least, most=math.inf, strict=False, mend=None):
    if not (
        isinstance(value, (int, float, np.floating, np.integer))
        and math.isfinite(value)
        and least <= value <= most
    ) or (strict and value <= least):
        bound = f"above {least:g}" if strict else f"at least {least:g}"
        limit = f" and at most {most:g}" if math.isfinite(most) else ""
        raise TackleError(f"{name} is {value!r}", mend=mend or f"It must be {bound}{limit}, in SI")
