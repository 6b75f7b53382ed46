"""What every guide says of how it was made, from what, and with what care it is to be used."""

METHOD = (
    "The lake is computed as a water column: heat, wind mixing, light, ice and oxygen, hour by "
    "hour, on its own depth-area curve, from the weather record named at the foot of each page.",
    "Months up to the record's end are a hindcast under their own weather. Later months are odds: "
    "the last state of the lake run forward under each past year's weather (Day 1985).",
    "The thermocline is the middle of the steepest density step across {step}, where top and "
    "bottom differ by more than {degrees}.",
    "Tactics come from a table of common practice; their order comes from the club's own log, or "
    "there is none. An angler picks the tactic that suits the day, and a log cannot undo that.",
)

SOURCES = (
    "Day 1985, J. Water Resour. Plann. Manage. 111:157-170 (from memory): past years' weather as "
    "equally likely futures.",
    "Proc. SEAFWA 1974, Arbuckle and Eufaula reservoirs: white crappie pressed towards the "
    "thermocline by oxygen-poor water.",
    "Tanaka et al. 2001, Metrologia 38:301-309: density of water.",
)

CAUTIONS = (
    "Check the official forecast and any warning before you launch, and again on the water.",
    "Local rules, closures and the skipper's judgement come before anything printed here.",
    "Leave the water at the first thunder and wait 30 minutes after the last.",
    "Depths are estimates for open water; placement to the foot is never promised.",
)


def method_of(species, units):
    """How a guide for a species was made, in the club's units."""
    step, degrees = ("3 ft", "4 °F") if units == "us" else ("1 m", "2 °C")
    enough, limit, least = species.oxygen_zone
    oxygen = (
        f"Oxygen of {least:g} to {enough:g} mg/L is shown as a zone, {limit:g} mg/L as the limit "
        f"of {species.name} ({species.oxygen_source})."
    )
    return [*(row.format(step=step, degrees=degrees) for row in METHOD), oxygen]


def sources_of(species):
    """The sources of a guide for a species, with their figures as published."""
    told = {}
    for what in ("spawn", "nest", "warm"):
        told.setdefault(getattr(species, f"{what}_source"), []).append(what)
    words = {"spawn": "spawning", "nest": "nests", "warm": "warm water"}
    return [
        *SOURCES,
        *(
            f"{species.name}, {' and '.join(words[what] for what in whats)}: {source}.".replace(
                " degC", " degrees Celsius"
            )
            for source, whats in told.items()
        ),
    ]
