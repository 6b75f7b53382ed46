"""Weights, lines, lures and set-ups in the words of the club's units."""

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
    """The lean of a line, such as ``20° off straight down at the top, less below``."""
    lean = max(90 - degrees_above_level, 0)
    return (
        "straight down"
        if lean < 3
        else f"{5 * max(round(lean / 5), 1)}° off straight down at the top, less below"
    )


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


TANDEM_GAP = 3 * FOOT  # between two trolled jigs (common practice, no source)
CAST = (30 * FOOT, 45 * FOOT)  # m (common practice, no source)


def say_troll(setup, units):
    out = f"{length_text(setup.line_out, units)} of line out at {speed_text(setup.speed, units)}"
    depth = depth_text(setup.depth, units)
    if setup.lures_on_line > 1:
        gap = length_text(TANDEM_GAP, units)
        upper = depth_text(setup.upper_depth, units)
        return (
            f"{two_of(setup.lure, units)}, {gap} apart on {setup.line.name}, "
            f"{out}: the lower at {depth}, the upper, with the smaller bait, at {upper}."
        )
    return f"{named(setup.lure, units)} on {setup.line.name}, {out}: runs at {depth}."


def say_held(setup, units):
    lean = angle_text(setup.line_angle)
    length = depth_text(setup.line_in_water, units)
    depth = depth_text(setup.depth, units)
    goal = "" if length == depth else f" for {depth}"
    return (
        f"{named(setup.lure, units)} on {setup.line.name} at "
        f"{speed_text(setup.speed, units)}: {length} of line in the water{goal}, "
        f"the line {lean}."
    )


def say_vertical(setup, units):
    if setup.speed == 0:
        return (
            f"{named(setup.lure, units)} straight down: "
            f"{depth_text(setup.line_in_water, units)} of line in the water."
        )
    return say_held(setup, units)


def say_cast(setup, units):
    low, middle, high = setup.count
    reach = length_range_text(*CAST, units)
    if middle < 2:
        return (
            f"{named(setup.lure, units)}: cast {reach}, start back at once for "
            f"{depth_text(setup.depth, units)}."
        )
    span = "" if f"{low:.0f}" == f"{high:.0f}" else f" ({low:.0f} to {high:.0f})"
    return (
        f"{named(setup.lure, units)} on {setup.line.name}: cast {reach}, count "
        f"{middle:.0f} seconds{span} for {depth_text(setup.depth, units)}."
    )


def say_float(setup, units):
    return (
        f"{named(setup.lure, units)}: set the stop "
        f"{depth_text(setup.stop_depth, units)} above the bait."
    )


def say_dip(setup, units):
    return (
        f"{named(setup.lure, units)}: lower it straight down, to "
        f"{depth_text(setup.line_in_water, units)} below the surface."
    )


SENTENCES = {
    "troll": say_troll,
    "push": say_held,
    "drift": say_held,
    "vertical": say_vertical,
    "cast": say_cast,
    "float": say_float,
    "dip": say_dip,
}
