"""What notes said of a front and what came of it: a small table beside a club's reports."""

import io
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.errors import StoreError
from lakekit.strata.events import front_effects

FILE = "fronts.csv"
COLUMNS = (
    "lake", "front_start", "front_end", "said_as_of", "what", "said_low_days", "said_days",
    "said_high_days", "came_days", "came_as_of",
)  # fmt: skip
TIMES = ("front_start", "front_end", "said_as_of", "came_as_of")
DAYS = ("said_low_days", "said_days", "said_high_days", "came_days")
SAME = pd.Timedelta(hours=24)  # starts of one front told on two days lie no further apart


def read_record(folder):
    """The table of a folder of reports; empty where there is none.

    Returns
    -------
    pandas.DataFrame
        ``COLUMNS``: ``what`` is ``broken`` or ``deeper``; days from the front's end until back,
        infinite: not within the horizon, NaN: not known.

    Raises
    ------
    StoreError
        Where the file is not such a table.
    """
    path = None if folder is None else Path(folder) / FILE
    if path is None or not path.exists():
        return _typed(pd.DataFrame({name: [] for name in COLUMNS}))
    try:
        return _typed(pd.read_csv(path)[list(COLUMNS)])
    except (ValueError, KeyError, UnicodeDecodeError) as problem:
        raise StoreError(
            f"is no table of fronts ({str(problem).strip()[:80]})",
            where=str(path),
            mend="Delete it, or put back the copy you kept; a new one is begun.",
        ) from None


def _typed(table):
    times = {name: pd.to_datetime(table[name]) for name in TIMES}
    return table.assign(**times, **{name: table[name].astype(float) for name in DAYS})


def same_front(table, lake, start):
    """The rows of a table on one front of one lake."""
    near = (pd.to_datetime(table["front_start"]) - pd.Timestamp(start)).abs() <= SAME
    return table[(table["lake"] == lake) & near]


def came_of(front, noons, what):
    """Days until the layers were back in the weather that came.

    Parameters
    ----------
    front : mapping
        ``start`` and ``end`` [UTC].
    noons : xarray.Dataset
        Daily layers of history on (member, time).
    what : str
        ``broken`` or ``deeper``.

    Returns
    -------
    float or None
        The members' median [days] once half of those whose layers it took have them back;
        infinite where they are not back yet, None where nothing was taken.
    """
    effects = front_effects(pd.DataFrame([front]), noons)
    if effects.empty:
        return None
    gone = effects[effects["broke" if what == "broken" else "deepened"].astype(bool)]
    if gone.empty:
        return None
    return float(np.quantile(gone["thermocline_days"], 0.5, method="inverted_cdf"))


def with_note(table, *, lake, front, as_of, what, said, came):
    """The table with what a note says, and what has come by now, of its front.

    Parameters
    ----------
    table : pandas.DataFrame
    lake : str
    front : mapping
    as_of : datetime64
    what : str or None
        None: nothing was taken, and nothing is said.
    said : (3,) sequence or None
        [days]
    came : float or None
        [days]; infinite: not back yet.

    Returns
    -------
    pandas.DataFrame
        A note of the same lake and hour is said once; what came is filled into every row of it.
    """
    as_of = pd.Timestamp(as_of)
    table = table.copy()
    mine = same_front(table, lake, front["start"])
    if came is not None and np.isfinite(came):
        table.loc[mine.index, "came_days"] = came
        table.loc[mine.index, "came_as_of"] = as_of
    if what is None or said is None:
        return table
    table = table.drop(index=mine.index[mine["said_as_of"] == as_of])
    back = came is not None and np.isfinite(came)
    values = (
        lake, front["start"], front["end"], as_of, what, *said,
        came if back else np.nan, as_of if back else pd.NaT,
    )  # fmt: skip
    row = pd.DataFrame([dict(zip(COLUMNS, values, strict=True))])
    table = row if table.empty else pd.concat([table, row], ignore_index=True)
    return table.sort_values(["lake", "front_start", "said_as_of"], ignore_index=True)


def after_note(table, note):
    """The table after a front note: :func:`with_note` of what it says."""
    storm, what = note["storm"], note["took"]
    days = None if what is None else note["recovery"][what]["days"]
    said = None
    if days is not None and note["recovery"][what]["lost_chance"]:
        said = [np.inf if days[name] is None else days[name] for name in ("low", "median", "high")]
    front = {name: pd.Timestamp(storm[name]) for name in ("start", "end")}
    return with_note(
        table, lake=note["lake"]["key"], front=front, as_of=note["as_of"], what=what, said=said,
        came=note["came_days"],
    )  # fmt: skip


def record_text(table):
    """The table as CSV text."""
    out = io.StringIO()
    shown = table.copy()
    for name in TIMES:
        shown[name] = pd.to_datetime(shown[name]).dt.strftime("%Y-%m-%d %H:%M")
    for name in DAYS:
        shown[name] = shown[name].astype(float).round(1)
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue()


def hits(table):
    """How a club's own notes have done: of each front the first note, said before it was back.

    Returns
    -------
    dict
        ``fronts`` (said and come), ``within`` (came within the range said), ``error`` (mean
        [days] of the middle values that were finite; None without one), ``waiting``.
    """
    fair = table[table["came_days"].isna() | (_age(table) < table["came_days"])]
    first = fair.sort_values("said_as_of").groupby(["lake", "front_start"], as_index=False).first()
    came = first[first["came_days"].notna()]
    # half a day either way: noons are a day apart
    inside = (came["came_days"] >= came["said_low_days"] - 0.5) & (
        came["came_days"] <= came["said_high_days"] + 0.5
    )
    told = came[np.isfinite(came["said_days"])]
    error = (told["said_days"] - told["came_days"]).abs().mean()
    return {
        "fronts": len(came),
        "within": int(inside.sum()),
        "error": None if told.empty else float(error),
        "waiting": int(first["came_days"].isna().sum()),
    }


def _age(table):
    since = pd.to_datetime(table["said_as_of"]) - pd.to_datetime(table["front_end"])
    return since / pd.Timedelta(days=1)
