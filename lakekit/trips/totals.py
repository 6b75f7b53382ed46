"""What a log shows without a model: totals, what of it may be published, where its fish sat."""

import numpy as np
import pandas as pd

from lakekit.trips.columns import PRIVATE
from lakekit.units import depth_text

LABEL = "totals of the log, not rates to expect: no interval, nothing pooled"
FEWEST_OUTINGS = 5  # with depths, below which the published pattern stands (common practice)
BORROWED = 3.0  # outings' worth that a phase borrows from all phases (common practice)
EIGHT_IN_TEN = 1.2816  # standard deviations either side that hold 80 % of a normal
REFERENCES = {
    "thermocline": "the thermocline",
    "oxygen floor": "the oxygen-poor water",
    "bottom": "the bottom",
    "surface": "the surface",
}
PUBLISHED = (
    "From published work, not this log: in a layered reservoir fish are pressed into the band "
    "just above the oxygen-poor water, deeper as the surface warms and shallower in fall."
)
PUBLISHED_SOURCES = (
    "white crappie in two Oklahoma reservoirs, Proc. Annu. Conf. SEAFWA 1974 (abstract)",
    "Douglas & Jahn 1987; Headrick & Carline 1993 for other species (from memory)",
)


def totals(trips, by=("tactic", "month")):
    """Fish and boat-hours by tactic and month, as plain totals.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``read_trips``.
    by : sequence of str
        Columns to sum by; ``month`` is the calendar month, 1-12, of ``date``.

    Returns
    -------
    pandas.DataFrame
        Columns of ``by``, then ``outings``, ``rows``, ``boat_hours``, ``rod_hours``, ``fish``;
        ``attrs["label"]`` says that these are totals.

    Examples
    --------
    >>> totals(trips, by=("tactic",)).columns.tolist()
    ['tactic', 'outings', 'rows', 'boat_hours', 'rod_hours', 'fish']
    """
    table = pd.DataFrame({name: trips[name] for name in by if name != "month"})
    if "month" in by:
        table["month"] = trips["date"].dt.month
    table = table.assign(
        trip=trips["trip"],
        boat_hours=trips["hours"],
        fish=trips["fish"],
        rod_hours=trips["hours"] * trips["rods"],
    )
    table = (
        table.groupby(list(by), sort=True)
        .agg(
            outings=("trip", "nunique"),
            rows=("trip", "size"),
            boat_hours=("boat_hours", "sum"),
            rod_hours=("rod_hours", "sum"),
            fish=("fish", "sum"),
        )
        .reset_index()
    )
    table.attrs = {"label": LABEL}
    return table


def rates_by(trips, values, *, parts=4):
    """Plain fish an hour in equal parts of a log, from the lowest value to the highest.

    Parameters
    ----------
    trips : pandas.DataFrame, n rows
        As from ``read_trips``.
    values : pandas.Series, n rows
        Such as one column of ``candidate_values``; rows without a value are left out.
    parts : int
        Fewer are made where many rows share a value.

    Returns
    -------
    pandas.DataFrame
        Indexed by the range of values: ``hours``, ``fish`` and ``fish_per_hour``; nothing pooled.
    """
    ranges = pd.qcut(values, parts, duplicates="drop")
    table = trips.groupby(ranges, observed=True)[["hours", "fish"]].sum()
    return table.assign(fish_per_hour=(table["fish"] / table["hours"]).round(2))


def effort_grid(trips):
    """Boat-hours by tactic (rows) and month (columns 1-12): where the log has gaps."""
    table = trips[["tactic", "hours"]].assign(month=trips["date"].dt.month)
    grid = table.pivot_table(index="tactic", columns="month", values="hours", aggfunc="sum")
    return grid.reindex(columns=range(1, 13)).fillna(0.0)


def publishable(trips):
    """The log without what a member has not agreed to publish.

    Parameters
    ----------
    trips : pandas.DataFrame

    Returns
    -------
    pandas.DataFrame
        Spot, angler and notes are emptied in every row whose ``share`` is not yes; outings are
        numbered, since their names may hold an angler's. ``attrs`` (file name, findings with
        their quotes) are dropped.
    """
    public = trips.copy()
    public.attrs = {}
    closed = public["share"] != "yes"
    for name in PRIVATE:
        public.loc[closed, name] = ""
    public["trip"] = [str(number) for number in pd.factorize(public["trip"])[0] + 1]
    return public


def fish_depths(trips, *, units="us"):
    """Depths of the fish relative to the water, by season phase, from rows with a catch depth.

    An outing has one vote, at the mean of its rows. A phase with few outings borrows from all
    phases: its centre is ``(n x + k m) / (n + k)`` with k = 3 outings, and its spread likewise.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``join_water``; rows without fish or catch depth say nothing here.
    units : str
        "us" or "metric", for the sentences.

    Returns
    -------
    pandas.DataFrame
        One row for each phase ("all" first) and reference: ``phase``, ``reference``
        ("thermocline": metres below it; "oxygen floor": above it; "bottom": above it;
        "surface": below it), ``outings``, ``centre``, ``low``, ``high`` [m] (80 % of further
        outings), ``cover_share`` (of outings that noted a place), ``own_share``, ``tightest``
        (the reference with the least spread in that phase), ``sentence``. With fewer than five
        outings: one row, phase "all", with the published pattern and no figures;
        ``attrs["source"]`` says which.

    References
    ----------
    Proc. Annu. Conf. Southeast. Assoc. Fish Wildl. Agencies 1974 (white crappie, two Oklahoma
    reservoirs; abstract); Douglas & Jahn 1987; Headrick & Carline 1993 (from memory).
    """
    votes = _votes(trips)
    if votes["trip"].nunique() < FEWEST_OUTINGS:
        return _published(votes["trip"].nunique())
    phases = ["all", *votes["phase"].drop_duplicates().sort_values()]
    if "phase" not in trips:
        phases = ["all"]
    records = []
    for phase in phases:
        here = votes if phase == "all" else votes[votes["phase"] == phase]
        found = [
            record
            for reference in REFERENCES
            if (record := _record(votes, here, phase, reference)) is not None
        ]
        known = [record for record in found if record["reference"] != "surface"] or found
        least = min((record["high"] - record["low"] for record in known), default=np.nan)
        for record in found:
            record["tightest"] = record in known and record["high"] - record["low"] == least
            record["sentence"] = _sentence(record, units)
        records += found
    table = pd.DataFrame(records)
    table.attrs = {"source": "this log", "references": ()}
    return table


def _votes(trips):
    nothing = pd.Series(np.nan, index=trips.index)
    depth = trips["catch_depth"]
    place = trips["place"] if "place" in trips else pd.Series("", index=trips.index)
    table = pd.DataFrame(
        {
            "trip": trips["trip"],
            "phase": trips.get("phase", "any season"),
            "thermocline": depth - trips.get("thermocline_depth", nothing),
            "oxygen floor": trips.get("oxygen_floor_depth", nothing) - depth,
            "bottom": trips.get("water_depth", nothing) - depth,
            "surface": depth,
            "cover": (place == "cover").astype(float).where(place != ""),
        }
    )
    table = table[(trips["fish"] > 0) & depth.notna()]
    return table.groupby(["trip", "phase"], as_index=False, sort=True).mean()


def _record(votes, here, phase, reference):
    everywhere, values = votes[reference].dropna(), here[reference].dropna()
    if len(everywhere) < FEWEST_OUTINGS or values.empty:
        return None
    middle, count = everywhere.mean(), len(values)
    borrowed = 0.0 if phase == "all" else BORROWED
    centre = (values.sum() + borrowed * middle) / (count + borrowed)
    squares = ((values - values.mean()) ** 2).sum() + borrowed * everywhere.var(ddof=1)
    spread = np.sqrt(squares / (count - 1 + borrowed) * (1 + 1 / (count + borrowed)))
    cover = here["cover"].dropna()
    return {
        "phase": phase,
        "reference": reference,
        "outings": count,
        "centre": float(centre),
        "low": float(centre - EIGHT_IN_TEN * spread),
        "high": float(centre + EIGHT_IN_TEN * spread),
        "cover_share": float(cover.mean()) if len(cover) else np.nan,
        "own_share": count / (count + borrowed),
    }


def _sentence(record, units):
    words = REFERENCES[record["reference"]]
    up, down = (
        ("above", "below")
        if record["reference"] in ("oxygen floor", "bottom")
        else ("below", "above")
    )

    def side(value):
        text = depth_text(abs(value), units)
        return f"{text} {up if value >= 0 else down}"

    season = (
        ""
        if record["phase"] in ("all", "any season")
        else (f"In {record['phase'].replace('_', '-')} ")
    )
    start = f"{season}fish took" if season else "Fish took"
    outings = "1 outing" if record["outings"] == 1 else f"{record['outings']} outings"
    text = (
        f"{start} about {side(record['centre'])} {words}, 8 outings in 10 from "
        f"{side(record['low'])} to {side(record['high'])} it ({outings})."
    )
    if np.isfinite(record["cover_share"]):
        text += f" {100 * record['cover_share']:.0f} % in cover, where a place is noted."
    return text


def _published(outings):
    logged = f"Only {outings} outings with a catch depth so far. " if outings else ""
    table = pd.DataFrame(
        [
            {
                "phase": "all",
                "reference": "oxygen floor",
                "outings": outings,
                "centre": np.nan,
                "low": np.nan,
                "high": np.nan,
                "cover_share": np.nan,
                "own_share": 0.0,
                "tightest": True,
                "sentence": logged + PUBLISHED,
            }
        ]
    )
    table.attrs = {"source": "published pattern", "references": PUBLISHED_SOURCES}
    return table
