"""How sure a guide is: a level, and the reasons in plain words."""

import numpy as np

MANY_YEARS = 10
SOME_READINGS = 4
FILLED_SHARE = 0.10  # of the hours of temperature or wind, past which it is said


def confidence(lake, knowledge, odds):
    """How sure a guide is.

    Parameters
    ----------
    lake : lakekit.club.Lake
    knowledge : lakekit.report.knowledge.LakeKnowledge
    odds : xarray.Dataset
        As from ``monthly_odds``.

    Returns
    -------
    dict
        ``level`` (low, fair or good) and ``reasons`` (sentences, what lowers it first).
    """
    lowers, raises = [], []
    years = int(odds["years"].max())
    if knowledge.readings >= SOME_READINGS:
        raises.append(f"Corrected with {knowledge.readings} casts of the club's own probe.")
    elif knowledge.readings:
        lowers.append(f"Only {knowledge.readings} probe casts to correct it with.")
    else:
        lowers.append("No probe readings: the lake's mixing and oxygen are defaults.")
    if years < MANY_YEARS:
        lowers.append(f"Only {years} years of weather to draw odds from.")
    else:
        raises.append(f"Odds from {years} years of weather.")
    if lake.secchi_source.startswith("default"):
        lowers.append("Clarity is a default, not a reading: take a Secchi depth.")
    if not lake.depth_area_source.startswith("depth table"):
        lowers.append("The depth table was built from area and depths, not surveyed.")
    lowers += _holes(knowledge.coverage)
    if lake.flow is None and lake.max_depth > 0 and lake.surroundings == "valley":
        lowers.append("Through-flow is not given; a valley reservoir may be flushed by its river.")
    level = (
        "good"
        if len(lowers) <= 1 and knowledge.readings >= SOME_READINGS
        else ("fair" if len(lowers) <= 3 else "low")
    )
    return {"level": level, "reasons": [*lowers, *raises]}


def _holes(coverage):
    names = {
        "air_temperature": "air temperature",
        "wind_speed": "wind",
        "shortwave": "sunshine",
        "longwave": "sky radiation",
        "cloud_cover": "cloud",
    }
    said = []
    for variable, name in names.items():
        rows = coverage[coverage["variable"] == variable]
        share = float(np.average(1 - rows["measured"], weights=rows["hours"])) if len(rows) else 0
        if share > FILLED_SHARE and variable in ("air_temperature", "wind_speed"):
            said.append(f"{round(100 * share)} % of the {name} record is filled, not measured.")
    radiation = coverage[coverage["variable"] == "shortwave"]
    if len(radiation) and float(radiation["measured"].mean()) < 0.5:
        said.append("Sunshine is estimated from cloud or temperature, not measured.")
    return said
