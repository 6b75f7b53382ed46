"""How sure a guide is: a level, and the reasons in plain words."""

import pandas as pd

from lakekit.column import flow_doubts
from lakekit.guide.words import FEW_YEARS, date_text
from lakekit.strata.spread import LATE, SOON, cast_misses, own_scale
from lakekit.units import depth_text, temperature_text
from lakekit.weather import weather_doubts

WIDER = 1.2  # factor on ranges from which it is told
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
        raises.append(f"Corrected with the club's own probe, lowered {knowledge.readings} times.")
    elif knowledge.readings:
        times = "once" if knowledge.readings == 1 else f"{knowledge.readings} times"
        lowers.append(f"The probe was lowered only {times}: little to correct it with.")
    else:
        lowers.append("No probe readings: the lake's mixing and oxygen are defaults.")
    fresh, stale = _age(knowledge)
    lowers += stale
    raises += fresh + moved_sentences(knowledge)
    scale = own_scale(cast_misses(knowledge.moved))
    if scale > WIDER:
        lowers.append("The probe finds this lake further from the computed than most: wider "
                      "ranges.")  # fmt: skip
    elif scale < 1.0 / WIDER:
        raises.append("The probe finds this lake nearer to the computed than most: narrower "
                      "ranges.")  # fmt: skip
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


def _age(knowledge):
    """What the age of the last reading says: (raises, lowers), sentences."""
    if knowledge.probe is None:
        return [], []
    last = knowledge.probe["time"].max()
    days = (pd.Timestamp(knowledge.as_of) - last).days
    age = "1 day" if days == 1 else f"{days} days"
    told = f"The last reading ({date_text(last)} {last.year}) is {age} old"
    if days <= SOON:
        return [f"{told}: new enough to go by."], []
    if days <= LATE:
        return [], [f"{told}: lower the probe again."]
    return [], [f"{told}: the water now is computed from weather alone. Lower the probe again."]


def _degrees(difference, units):
    size = abs(difference)
    return f"{1.8 * size:.1f} °F" if units == "us" else f"{size:.1f} °C"


def moved_sentences(knowledge):
    """Which readings moved what, one sentence for the last day of readings and one for the log.

    Parameters
    ----------
    knowledge : lakekit.waters.knowledge.LakeKnowledge

    Returns
    -------
    list of str
    """
    if knowledge.moved is None or not len(knowledge.moved):
        return []
    table, units = knowledge.moved, knowledge.units
    said = []
    warm = table[(table["kind"] == "temperature") & table["used"].astype(bool)]
    if len(warm):
        last = warm[warm["time"] == warm["time"].max()]
        row = last.loc[(last["value"] - last["expected"]).abs().idxmax()]
        moved = row["after"] - row["expected"]
        said.append(
            f"The reading of {date_text(row['time'])} found "
            f"{temperature_text(row['value'], units, digits=1)} at "
            f"{depth_text(row['depth'], units)} "
            f"where {temperature_text(row['expected'], units, digits=1)} was computed; the water "
            f"there was {'warmed' if moved > 0.0 else 'cooled'} by {_degrees(moved, units)}."
        )
    left = table[~table["used"].astype(bool)]
    if len(left):
        rows = ", ".join(str(int(row)) for row in sorted(set(left["row"]))[:5])
        said.append(f"Left out, since they contradict the water computed: readings of row {rows}.")
    if knowledge.log_readings:
        said.append(
            f"{knowledge.log_readings} days of surface temperature or clarity in the log count "
            f"too, give or take {_degrees(1.0, units)}: where on the lake they were taken is not "
            "known."
        )
    return said
