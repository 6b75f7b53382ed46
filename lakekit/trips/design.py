"""A log as the columns of the pooled model: what is shared, what is pooled, what is adjusted."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse

from lakekit.trips.pooling import Counts
from lakekit.units import plain_word
from lakekit.weather.sun import solar_elevation

# block -> the table's columns, centre and width of its log spread's prior. Common practice, no
# source: tactics mostly differ by a factor of 1.2 to 3, a tactic's phases less, its lakes least.
BLOCKS = {
    "tactic": (("tactic",), np.log(0.50), 0.7),
    "phase": (("phase",), np.log(0.40), 0.7),
    "lake": (("lake",), np.log(0.40), 0.7),
    "tactic and phase": (("tactic", "phase"), np.log(0.28), 0.7),
    "tactic and lake": (("tactic", "lake"), np.log(0.14), 0.8),
    "phase and lake": (("phase", "lake"), np.log(0.14), 0.8),
    "angler": (("angler",), np.log(0.30), 0.7),
    "day": (("lake", "day"), np.log(0.30), 0.7),
}
LEVEL_SPREAD = 2.0  # of the overall level about the log's own raw rate
RODS_EXPONENT = (0.6, 0.3)  # centre and width: six public surveys have 0.33 to 0.71
WATER_SPREAD = 0.25  # of a condition's effect: a factor of 0.7 to 1.4 in 8 of 10
FRONT_MEMORY = 3.0  # days over which a front's effect is taken to fade
NEAR_LAYER = 1.5  # m from the thermocline that counts as near
CONDITIONS = (
    "layered",
    "fresh front",
    "near thermocline",
    "below oxygen floor",
    "low light",
    "night",
)
FACTORS = ("tactic", "phase", "lake", "angler")


@dataclass(frozen=True)
class Design:
    """The model's columns and how to find them again.

    ``levels``: factor -> its words, in an order that the words do not set. ``columns``: block ->
    {tuple of words: column}. ``fixed``: column of the level, the rods' exponent (less its prior's
    centre), each condition;
    ``centres``: what is taken off log rods, log hours and each condition.
    """

    data: Counts
    day: np.ndarray  # (n,) code of each row's day at its lake
    level: float  # log of the log's raw rate per boat-hour at the usual rods
    levels: dict
    columns: dict
    fixed: dict
    centres: dict
    blocks: tuple


def quarter(months, latitude):
    """Calendar quarters as season words, for a log that was joined to no water."""
    shifted = (np.asarray(months) + (0 if latitude >= 0 else 6)) % 12
    return np.array(["winter", "spring", "summer", "fall"])[shifted // 3]


def with_phase(trips, club):
    """The log with a phase in each row: its own where it has one, else the calendar quarter.

    Returns
    -------
    tuple of (pandas.DataFrame, str)
        The table and "season phase" or "calendar quarter".
    """
    if "phase" in trips:
        phase = trips["phase"]
        if phase.notna().all() and (phase.astype(str) != "").all():
            return trips, "season phase"
    latitude = trips["lake"].map({key: lake.latitude for key, lake in club.lakes.items()})
    months = trips["date"].dt.month
    north = quarter(months, 1.0)
    return trips.assign(
        phase=np.where(latitude.fillna(1.0) >= 0, north, quarter(months, -1.0))
    ), "calendar quarter"


def conditions(trips, club):
    """What is known of each row before its first fish: the state of the water and the light.

    Catch depths are left out on purpose: only rows with fish have them.

    Parameters
    ----------
    trips : pandas.DataFrame
        As from ``join_water``; absent columns count as unknown.
    club : lakekit.club.Club

    Returns
    -------
    pandas.DataFrame
        ``CONDITIONS`` as floats from 0 to 1, NaN where unknown.
    """

    def column(name):
        return trips[name].astype("float64") if name in trips else pd.Series(np.nan, trips.index)

    from_layer = (column("bait_depth") - column("thermocline_depth")).abs()
    below = (column("bait_depth") > column("oxygen_floor_depth")).astype(float)
    known = column("bait_depth").notna() & column("oxygen_floor_depth").notna()
    low, night = light(trips, club)
    return pd.DataFrame(
        {
            "layered": column("stratified"),
            "fresh front": np.exp(-column("days_since_front") / FRONT_MEMORY),
            "near thermocline": np.exp(-from_layer / NEAR_LAYER),
            "below oxygen floor": below.where(known),
            "low light": low,
            "night": night,
        }
    )


def light(trips, club):
    """Whether each row was fished in low light and at night: as logged, else by the sun.

    Returns
    -------
    tuple of pandas.Series
        Low light (dawn, dusk, or sun between 6 degrees below and 8 above the horizon at the
        row's middle) and night, 1 or 0; NaN where neither light nor start is logged.
    """
    word = trips["light"] if "light" in trips else pd.Series("", trips.index)
    low = word.isin(["dawn", "dusk"]).astype(float).where(word != "")
    night = (word == "night").astype(float).where(word != "")
    hour = trips["hour"] if "hour" in trips else pd.Series(np.nan, trips.index)
    for key, lake in club.lakes.items():
        rows = trips.index[(trips["lake"] == key) & (word == "") & hour.notna()]
        if not len(rows):
            continue
        middle = trips.loc[rows, "start"] + pd.to_timedelta(trips.loc[rows, "hours"] / 2, unit="h")
        middle = middle.sort_values()
        height = solar_elevation(middle.to_numpy(), lake.latitude, lake.longitude)
        low.loc[middle.index] = ((height > -6) & (height < 8)).astype(float)
        night.loc[middle.index] = (height <= -6).astype(float)
    return low, night


def _orders(table, factor):
    """The words of a factor in an order set by what was done with them, not by their spelling."""
    grouped = table.groupby(factor, sort=False).agg(
        hours=("hours", "sum"),
        fish=("fish", "sum"),
        rods=("rods", "sum"),
        first=("start", "min"),
        last=("start", "max"),
        rows=("hours", "size"),
    )
    for name in ("hours", "fish", "rods"):
        grouped[name] = grouped[name].round(9)
    grouped = grouped.sort_values(["first", "last", "rows", "hours", "fish", "rods"], kind="stable")
    return tuple(grouped.index)


def build_design(trips, club, *, weights=None):
    """The pooled model's counts and columns for a log.

    Parameters
    ----------
    trips : pandas.DataFrame
        With ``phase``; hours and rods above 0.
    club : lakekit.club.Club
    weights : ndarray, shape (n,), optional
        How much each row counts.

    Returns
    -------
    Design
    """
    table = trips.assign(angler=trips["angler"].map(plain_word))
    count = len(table)
    hours, rods = table["hours"].to_numpy(), table["rods"].to_numpy()
    fish = table["fish"].to_numpy(dtype="float64")
    centres = {"hours": np.log(hours).mean(), "rods": np.log(rods).mean()}
    columns, fixed, spread, block, parts = {}, {"level": 0}, [LEVEL_SPREAD], [-1], [np.ones(count)]
    adjust = {"rods": (np.log(rods) - centres["rods"], RODS_EXPONENT[1])}
    for name, values in conditions(table, club).items():
        if values.notna().any() and values.std(ddof=0) > 1e-9:
            centres[name] = values.mean()
            adjust[name] = ((values - centres[name]).fillna(0.0).to_numpy(), WATER_SPREAD)
    for name, (values, width) in adjust.items():
        fixed[name] = len(block)
        parts.append(values)
        block.append(-1)
        spread.append(width)
    levels = {factor: _orders(table, factor) for factor in FACTORS}
    blocks = tuple(name for name in BLOCKS if name != "angler" or len(levels["angler"]) > 1)
    day = table.groupby(["lake", table["date"].dt.normalize()], sort=False).ngroup().to_numpy()
    codes = {f: pd.Categorical(table[f], categories=levels[f]).codes.astype(int) for f in FACTORS}
    matrices = [sparse.csr_array(np.column_stack(parts))]
    for index, name in enumerate(blocks[:-1]):
        factors = BLOCKS[name][0]
        code = codes[factors[0]]
        for factor in factors[1:]:
            code = code * len(levels[factor]) + codes[factor]
        used, column = np.unique(code, return_inverse=True)
        matrices.append(
            sparse.csr_array((np.ones(count), (np.arange(count), column)), shape=(count, len(used)))
        )
        columns[name] = {
            _words(value, factors, levels): len(block) + place for place, value in enumerate(used)
        }
        block += [index] * len(used)
        spread += [1.0] * len(used)
    days = int(day.max()) + 1
    matrices.append(
        sparse.csr_array((np.ones(count), (np.arange(count), day)), shape=(count, days))
    )
    block += [len(blocks) - 1] * days
    spread += [1.0] * days
    offset = np.log(hours) + RODS_EXPONENT[0] * (np.log(rods) - centres["rods"])
    level = float(np.log((fish.sum() + 0.5) / np.exp(offset).sum()))
    data = Counts(
        counts=fish,
        offset=offset + level,
        weights=np.ones(count) if weights is None else np.asarray(weights, dtype="float64"),
        design=sparse.csr_array(sparse.hstack(matrices)),
        block=np.array(block),
        fixed_spread=np.array(spread),
        spread_prior=np.array([BLOCKS[name][1:] for name in blocks], dtype="float64"),
        single=days,
    )
    return Design(
        data=data,
        day=day,
        level=level,
        levels=levels,
        columns=columns,
        fixed=fixed,
        centres=centres,
        blocks=blocks,
    )


def _words(code, factors, levels):
    words = []
    for factor in reversed(factors):
        code, place = divmod(int(code), len(levels[factor]))
        words.append(levels[factor][place])
    return tuple(reversed(words))


def canonical_order(trips):
    """Positions that put a log in an order of its own, whatever the file's and whatever the words.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    keys = ["start", "hours", "rods", "fish"]
    keys += [name for name in ("bait_depth", "hour") if name in trips]
    table = trips[keys].reset_index(drop=True)
    for factor in FACTORS:
        words = trips[factor].reset_index(drop=True)
        rank = {word: place for place, word in enumerate(_orders(trips, factor))}
        table[f"{factor} rank"] = words.map(rank)
    return table.sort_values(list(table.columns), kind="stable").index.to_numpy()
