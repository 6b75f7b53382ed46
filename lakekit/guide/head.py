"""What every report begins and ends with: whose it is, of which lake, made how."""

import lakekit
from lakekit.guide.lake import describe_lake
from lakekit.guide.schema import SCHEMA
from lakekit.guide.sources import CAUTIONS, method_of, sources_of


def report_head(club, knowledge, *, kind):
    """The keys that every report on one lake shares.

    Parameters
    ----------
    club : lakekit.club.Club
    knowledge : lakekit.waters.knowledge.LakeKnowledge
    kind : str

    Returns
    -------
    dict
        Of the keys of ``lakekit.guide.schema.Report`` those that do not depend on its time.
    """
    return {
        "schema": SCHEMA,
        "kind": kind,
        "units": club.units,
        "paper": club.paper,
        "club": club.name,
        "demo": knowledge.invented,
        "lake": lake_facts(club, knowledge.lake),
        "species": knowledge.species.name,
        "made_with": f"lakekit {lakekit.__version__}",
        "method": method_of(knowledge.species, club.units),
        "sources": sources_of(knowledge.species),
        "cautions": list(CAUTIONS),
    }


def lake_facts(club, lake):
    """A lake's name, place and size."""
    return {
        "key": lake.key,
        "name": lake.name,
        "place": f"{abs(lake.latitude):.2f}° {'N' if lake.latitude >= 0 else 'S'}, "
        f"{abs(lake.longitude):.2f}° {'E' if lake.longitude >= 0 else 'W'}",
        "facts": [list(row) for row in describe_lake(lake, club.units)],
        "max_depth": float(lake.max_depth),
        "region": lake.region,
    }
