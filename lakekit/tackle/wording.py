"""Weights, lines and lures in the words of the club's units."""

from fractions import Fraction

from lakekit.units import FOOT, OUNCE, depth_text, speed_text


def mass_text(mass, units):
    """A weight such as ``1/8 oz`` or ``3.5 g``."""
    if units != "us":
        return f"{mass * 1000:.3g} g"
    ounces = mass / OUNCE
    for parts in (1, 2, 4, 8, 16, 32, 64):
        count = round(ounces * parts)
        if count and abs(ounces * parts / count - 1) < 0.01 and (parts < 64 or count == 1):
            whole, rest = divmod(Fraction(count, parts), 1)
            return " ".join(str(part) for part in (int(whole), rest) if part) + " oz"
    return f"{ounces:.2g} oz"


def length_text(metres, units):
    """A length of line in whole feet, or metres with a decimal under ten, such as ``60 ft``."""
    if units == "us":
        return f"{metres / FOOT:.0f} ft"
    return f"{metres:.1f} m" if metres < 9.95 else f"{metres:.0f} m"


def length_range_text(short, long, units):
    """Two lengths of line as ``30 to 45 ft``."""
    return f"{length_text(short, units).split()[0]} to {length_text(long, units)}"


def tolerance_text(metres, units):
    """A tolerance in whole feet or half metres, rounded up and never under 2 ft."""
    if units == "us":
        return f"{max(2, -int(-metres / FOOT // 1)):.0f} ft"
    return f"{max(0.5, -(-metres // 0.5) * 0.5):.1f} m"


def angle_text(degrees_above_level):
    """The lean of a line, such as ``20° off straight down``."""
    lean = max(90 - degrees_above_level, 0)
    return "straight down" if lean < 3 else f"{5 * max(round(lean / 5), 1)}° off straight down"


def named(item, units):
    """A lure's own name, with its weight where the name does not say it."""
    weight = mass_text(item.mass, units)
    said = any(unit in item.name.lower().split() for unit in ("oz", "g", "gram", "grams"))
    return item.name if said else f"{item.name} ({weight})"


def two_of(item, units):
    """Two of a lure, such as ``Two 1/8 oz jigs``."""
    name = named(item, units)
    plural = name.lower().endswith(("jig", "spoon", "sinker", "lure"))
    return f"Two {name}s" if plural else f"Two of {name}"


__all__ = [
    "angle_text",
    "depth_text",
    "length_range_text",
    "length_text",
    "mass_text",
    "named",
    "speed_text",
    "tolerance_text",
    "two_of",
]
