"""Measures patterns: what is told of logs with nothing in them, and of logs with a known cause.

The water, the weather and the sky are the demo club's, hour by hour; the outings and the fish are
invented on them. A log's days, lakes and tactics are drawn without regard to the cause.
"""

import numpy as np
import pandas as pd

from lakekit.trips.patterns import find_patterns
from lakekit.trips.patterns.candidates import candidate_values

SIZES = (60, 150, 400)
REPEATS = {"nothing": 60, "good and bad weeks": 20}
OTHER_REPEATS = 14
FIRST_SEED = 1000  # those below were looked at while the rule was made
SPAN = 3  # years that a log covers
POOL = 6000  # rows to draw logs from
TACTICS = 8
WEEK_SPREAD = 0.4
DRIFT = 20.0  # degC at which the quadratic has its top
# cause -> candidates that may fairly be told for it
CAUSES = {
    "nothing": (),
    "good and bad weeks": (),
    "doubled above the thermocline": ("bait_below_thermocline",),
    "halved for three days after a front": ("days_since_front", "front_strength"),
    "quadratic in temperature": ("surface_temperature",),
    "wind and the days since a front": ("wind_speed", "days_since_front", "front_strength"),
}


def effect(cause, values):
    """Log of what a cause does to the rate of each row; 0 where its value is not known."""
    if cause == "doubled above the thermocline":
        return np.log(2.0) * (values["bait_below_thermocline"] < 0).to_numpy(dtype=float)
    if cause == "halved for three days after a front":
        return -np.log(2.0) * (values["days_since_front"] <= 3).to_numpy(dtype=float)
    if cause == "quadratic in temperature":
        # a quarter of the best rate at 12 degC from the best temperature
        return -np.log(4.0) * ((values["surface_temperature"].to_numpy() - DRIFT) / 12) ** 2
    if cause == "wind and the days since a front":
        wind = np.clip(values["wind_speed"].to_numpy() / 6, 0, 1)
        return np.log(2.0) * wind - np.log(2.0) * (values["days_since_front"] <= 3).to_numpy(float)
    return np.zeros(len(values))


def demo_pool(*, rows=POOL, seed=0, progress=None):
    """Rows that might have been fished on the demo's lakes, and each candidate at their hours.

    Returns
    -------
    tuple of (Club, DataFrame, DataFrame)
    """
    from lakekit.club import read_club
    from lakekit.waters.knowledge import lake_water
    from lakekit.waters.logged import start_depths

    club = read_club()
    waters = {key: lake_water(club, key, progress=progress) for key in club.lakes}
    random = np.random.default_rng(seed)
    first = max(water.layers["time"].values[0] for water in waters.values())
    last = min(water.as_of for water in waters.values())
    days = pd.date_range(pd.Timestamp(first).ceil("D") + pd.Timedelta("60D"), last, freq="D")[:-1]
    clock = random.choice([6.0, 7.0, 8.0, 13.0, 16.0, 17.0, 20.0], rows)
    hours = np.round(random.gamma(4, 0.6, rows) + 0.5, 2)
    table = pd.DataFrame(
        {
            "date": random.choice(days.to_numpy(), rows),
            "hours": hours,
            "lake": random.choice(sorted(waters), rows),
        }
    ).sort_values("date", ignore_index=True)
    table["start"] = table["date"] + pd.to_timedelta(clock + 6, unit="h")
    table["phase"] = ""
    for key, water in waters.items():
        of = table.index[table["lake"] == key]
        table.loc[of, "phase"] = water.phases.reindex(
            table.loc[of, "date"], method="nearest"
        ).to_numpy()
    depths = table["lake"].map({key: water.lake.max_depth for key, water in waters.items()})
    table["bait_depth"] = np.round(random.uniform(0.5, 0.7 * np.minimum(depths, 10)), 1)
    for key, water in waters.items():
        of = table["lake"] == key
        table.loc[of, "start_depth"] = start_depths(water, table[of])
    return club, table, candidate_values(table, waters)


def make_log(pool, values, cause, outings, seed):
    """One invented log with one cause, from rows of a pool.

    Tactics (log spread 0.6), phases (0.4), lakes (0.3) and tactics by phase (0.35) have their own
    rates; an outing has luck of its own (0.3); counts have alpha between 0.2 and 3.

    Returns
    -------
    tuple of (DataFrame, DataFrame)
        The log as ``join_water`` gives it, and its candidates' values.
    """
    random = np.random.default_rng([seed, list(CAUSES).index(cause), outings])
    begin = random.uniform(0, 1)
    span = pool["date"].iloc[-1] - pool["date"].iloc[0]
    first = pool["date"].iloc[0] + begin * (span - pd.Timedelta(f"{365 * SPAN}D"))
    inside = pool.index[
        (pool["date"] >= first) & (pool["date"] < first + pd.Timedelta(f"{365 * SPAN}D"))
    ]
    chosen = np.sort(random.choice(inside, outings, replace=False))
    log, known = pool.loc[chosen].reset_index(drop=True), values.loc[chosen].reset_index(drop=True)
    tactic = random.choice(TACTICS, outings, p=random.dirichlet(np.ones(TACTICS)))
    phase, phases = pd.factorize(log["phase"])
    lake, lakes = pd.factorize(log["lake"])
    week = pd.factorize(log["lake"] + log["date"].dt.to_period("W").astype(str))[0]
    rods = random.integers(1, 5, outings).astype(float)
    log_mean = (
        np.log(0.4)
        + random.normal(0, 0.6, TACTICS)[tactic]
        + random.normal(0, 0.4, len(phases))[phase]
        + random.normal(0, 0.3, len(lakes))[lake]
        + random.normal(0, 0.35, (TACTICS, len(phases)))[tactic, phase]
        + random.normal(0, 0.3, outings)
        + np.log(log["hours"] * rods)
    )
    if cause == "good and bad weeks":
        log_mean = log_mean + random.normal(0, WEEK_SPREAD, outings)[week]
    alpha = np.exp(random.uniform(np.log(0.2), np.log(3.0)))
    mean = np.exp(log_mean + effect(cause, known)) * random.gamma(1 / alpha, alpha, outings)
    log = log.assign(
        row=np.arange(outings) + 2,
        trip=[f"outing {n}" for n in range(outings)],
        hour=np.nan,
        tactic=[f"tactic_{n}" for n in tactic],
        rods=rods,
        fish=random.poisson(mean).astype(float),
        angler="",
        light="",
    )
    return log, known


def score(pool, values, club, cause, outings, seed):
    """What is told of one invented log.

    Returns
    -------
    dict
        ``any``: any pattern told; ``right``: told, of those that may fairly be; ``wrong``: a told
        one that may not; ``gain``: log score of left-out outings with the told patterns less
        without [nats an outing]; ``promised``: the power told for the cause's first candidate.
    """
    log, known = make_log(pool, values, cause, outings, seed)
    found = find_patterns(log, known, club=club, seed=seed)
    told = [pattern.name for pattern in found.told]
    fair = CAUSES[cause]
    first = next((p for p in found.patterns if fair and p.name == fair[0]), None)
    return {
        "any": bool(told),
        "right": any(name in fair for name in told),
        "wrong": any(name not in fair for name in told),
        "told": len(told),
        "gain": sum(pattern.gain for pattern in found.told),
        "promised": np.nan if first is None else first.power,
        "names": ",".join(told),
    }


def scores(pool, values, club, causes=CAUSES, sizes=SIZES, repeats=None):
    """Scores of many logs, one row each, with ``cause``, ``outings`` and ``seed``."""
    rows = []
    for cause in causes:
        for outings in sizes:
            for seed in range(repeats or REPEATS.get(cause, OTHER_REPEATS)):
                seed += FIRST_SEED
                rows.append(
                    {"cause": cause, "outings": outings, "seed": seed}
                    | score(pool, values, club, cause, outings, seed)
                )
    return pd.DataFrame(rows)


def measure():
    """Shares told by cause and size, as one flat table of figures."""
    club, pool, values = demo_pool()
    table = scores(pool, values, club)
    figures = {}
    for (cause, outings), group in table.groupby(["cause", "outings"], sort=False):
        name = f"patterns_{cause.replace(' ', '_')}_{outings}"
        figures[f"{name}_runs"] = len(group)
        if CAUSES[cause]:
            figures[f"{name}_found_share"] = float(group["right"].mean())
            figures[f"{name}_wrong_share"] = float(group["wrong"].mean())
            figures[f"{name}_gain_nats_an_outing"] = float(group["gain"].mean())
            figures[f"{name}_power_promised"] = float(group["promised"].mean())
        else:
            figures[f"{name}_told_share"] = float(group["any"].mean())
    return figures
