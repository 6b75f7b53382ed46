"""A set-up in sentences to print."""

from lakekit.tackle import wording
from lakekit.units import FOOT

TANDEM_GAP = 3 * FOOT  # between two trolled jigs (common practice, no source)

CAST = (30 * FOOT, 45 * FOOT)  # m (common practice, no source)


def say_troll(setup, units):
    out = (
        f"{wording.length_text(setup.line_out, units)} of line out at "
        f"{wording.speed_text(setup.speed, units)}"
    )
    depth = wording.depth_text(setup.depth, units)
    if setup.lures_on_line > 1:
        gap = wording.length_text(TANDEM_GAP, units)
        upper = wording.depth_text(setup.upper_depth, units)
        return (
            f"{wording.two_of(setup.lure, units)}, {gap} apart on {setup.line.name}, "
            f"{out}: the lower at {depth}, the upper, with the smaller bait, at {upper}."
        )
    return f"{wording.named(setup.lure, units)} on {setup.line.name}, {out}: runs at {depth}."


def say_held(setup, units):
    lean = wording.angle_text(setup.line_angle)
    length = wording.depth_text(setup.line_in_water, units)
    depth = wording.depth_text(setup.depth, units)
    goal = "" if length == depth else f" for {depth}"
    return (
        f"{wording.named(setup.lure, units)} on {setup.line.name} at "
        f"{wording.speed_text(setup.speed, units)}: {length} of line in the water{goal}, "
        f"the line {lean}."
    )


def say_vertical(setup, units):
    if setup.speed == 0:
        return (
            f"{wording.named(setup.lure, units)} straight down: "
            f"{wording.depth_text(setup.line_in_water, units)} of line in the water."
        )
    return say_held(setup, units)


def say_cast(setup, units):
    low, middle, high = setup.count
    reach = wording.length_range_text(*CAST, units)
    if middle < 2:
        return (
            f"{wording.named(setup.lure, units)}: cast {reach}, start back at once for "
            f"{wording.depth_text(setup.depth, units)}."
        )
    return (
        f"{wording.named(setup.lure, units)} on {setup.line.name}: cast {reach}, count "
        f"{middle:.0f} seconds "
        f"({low:.0f} to {high:.0f}) for {wording.depth_text(setup.depth, units)}."
    )


def say_float(setup, units):
    return (
        f"{wording.named(setup.lure, units)}: set the stop "
        f"{wording.depth_text(setup.stop_depth, units)} above the bait."
    )


def say_dip(setup, units):
    return (
        f"{wording.named(setup.lure, units)}: lower it "
        f"{wording.depth_text(setup.line_in_water, units)} below the water, straight down."
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
