"""How sure a guide is: a level, and the reasons in plain words."""

from lakekit.column import flow_doubts
from lakekit.guide.words import FEW_YEARS
from lakekit.weather import weather_doubts

SOME_READINGS = 4  # probe casts from which the water counts as corrected


def confidence(lake, knowledge, odds):
    """How sure a guide is.

    Parameters
    ----------
    lake : lakekit.club.Lake
    knowledge : lakekit.waters.knowledge.LakeKnowledge
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
    if years >= FEW_YEARS:
        raises.append(f"Odds from {years} years of weather.")
    if lake.secchi_source.startswith("default"):
        lowers.append("Clarity is a default, not a reading: take a Secchi depth.")
    if not lake.depth_area_source.startswith("depth table"):
        lowers.append("The depth table was built from area and depths, not surveyed.")
    lowers += weather_doubts(knowledge.forcing, knowledge.coverage)
    lowers += flow_doubts(lake)
    level = (
        "good"
        if len(lowers) <= 1 and knowledge.readings >= SOME_READINGS
        else ("fair" if len(lowers) <= 3 else "low")
    )
    return {"level": level, "reasons": [*lowers, *raises]}
