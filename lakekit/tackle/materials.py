"""Densities of what weights and lines are made of, each with its source."""

from difflib import get_close_matches

from lakekit.errors import TackleError

CRC = "CRC Handbook molar volume at room temperature (through the chemicals package, 1.5.2)"
MEMORY = "handbook value, from memory"

# material -> (density [kg/m3], source)
WEIGHT_MATERIALS = {
    "lead": (11300.0, CRC),
    "tungsten": (19300.0, CRC),
    "bismuth": (9790.0, CRC),
    "copper": (8960.0, CRC),
    "nickel": (8900.0, CRC),
    "iron": (7870.0, CRC),
    "steel": (7850.0, MEMORY + "; alloys span 7700 to 8100"),
    "brass": (8500.0, MEMORY + "; alloys span 8400 to 8700"),
    "tin": (7290.0, MEMORY),
    "zinc": (7140.0, MEMORY),
    "glass": (2500.0, MEMORY),
}
LINE_MATERIALS = {
    "nylon": (1140.0, MEMORY + " (nylon 6/6; nylon 6 is 1130)"),
    "fluorocarbon": (1780.0, "PVDF, resin data sheet as seen in a public table"),
    "braid": (970.0, MEMORY + " (polyethylene fibre; an air-filled braid is lighter still)"),
    "polyester": (1380.0, MEMORY),
}
BODY_MATERIALS = {
    "plastic": (950.0, "whole hollow-bodied lure, from memory: most float a little"),
    "wood": (550.0, MEMORY + "; lure timbers span 150 to 750"),
    "foam": (150.0, MEMORY + "; float foams span 30 to 250"),
    "bait": (1050.0, "small fish and worms, from memory: barely heavier than water"),
}
# Names under which anglers know the same material.
ALIASES = {
    "mono": "nylon",
    "monofilament": "nylon",
    "pvdf": "fluorocarbon",
    "fluoro": "fluorocarbon",
    "polyethylene": "braid",
    "pet": "polyester",
}


def material_density(material):
    """Density of a weight's, a line's or a lure's material.

    Parameters
    ----------
    material : str
        A key of one of the three tables, or a common name for one.

    Returns
    -------
    float
        [kg/m3]

    Raises
    ------
    TackleError
        When the material is not in the table.

    Notes
    -----
    Anglers say that monofilament floats a little. Nylon is denser than water: it is the
    surface film that holds slack line up; once wet it sinks slowly, and so it is computed.
    """
    table = {**WEIGHT_MATERIALS, **LINE_MATERIALS, **BODY_MATERIALS}
    name = material.strip().lower()
    name = ALIASES.get(name, name)
    if name not in table:
        near = get_close_matches(name, [*table, *ALIASES], n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise TackleError(
            f"no density is known for material {material!r}{hint}",
            mend=f"Use one of {', '.join(table)}, or give a density",
        )
    return table[name][0]
