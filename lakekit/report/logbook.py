"""What the log says of a month: totals by tactic, and how thin they are."""

from lakekit.trips import totals


def _rows(knowledge, phase):
    trips = knowledge.trips
    if trips is None or not len(trips):
        return None
    mine = trips[(trips["lake"] == knowledge.lake.key) & (trips["phase"] == phase)]
    return mine if len(mine) else None


def log_answers(knowledge, phase, month):
    """What the log says of each tactic in a phase on this lake.

    Parameters
    ----------
    knowledge : lakekit.report.knowledge.LakeKnowledge
    phase : str
        Season phase.
    month : int
        1 to 12.

    Returns
    -------
    dict or None
        Tactic key to ``{"value": None, "text": sentence}``; None without a log.
    """
    rows = _rows(knowledge, phase)
    if rows is None:
        return None
    table = totals(rows, by=("tactic",))
    return {
        row.tactic: {
            "value": None,
            "text": f"Total in this phase here: {row.fish:.0f} fish in {row.boat_hours:.0f} "
            "boat-hours; unranked.",
        }
        for row in table.itertuples()
    }


def log_text(knowledge, phase, month):
    """How much log stands behind a month, as one sentence."""
    if knowledge.trips is None:
        return "No log yet: tactics suit season and gear, unranked."
    rows = _rows(knowledge, phase)
    if rows is None:
        return "The log has no trips to this lake in this phase: tactics are unranked."
    return (
        f"The log has {rows['trip'].nunique()} outings to this lake in this phase, "
        f"{rows['hours'].sum():.0f} boat-hours."
    )
