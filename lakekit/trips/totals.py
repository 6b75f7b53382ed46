"""Totals of a log and what of it may be published."""

import pandas as pd

from lakekit.trips.columns import PRIVATE

LABEL = "totals of the log, not rates to expect: no interval, nothing pooled"


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
    """
    table = pd.DataFrame({name: trips[name] for name in by if name != "month"})
    if "month" in by:
        table["month"] = trips["date"].dt.month
    table = table.assign(
        trip=trips["trip"], boat_hours=trips["hours"], fish=trips["fish"],
        rod_hours=trips["hours"] * trips["rods"],
    )
    table = table.groupby(list(by), sort=True).agg(
        outings=("trip", "nunique"), rows=("trip", "size"), boat_hours=("boat_hours", "sum"),
        rod_hours=("rod_hours", "sum"), fish=("fish", "sum"),
    ).reset_index()
    table.attrs = {"label": LABEL}
    return table


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
