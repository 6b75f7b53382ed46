"""Invented logs with known rates: the world the model assumes, and worlds that it does not."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from lakekit.club import Boat, Club, Lake, Rules, WeatherSource

TACTICS, LAKES = 10, ("north", "south")
PHASES = ("winter", "pre_spawn", "spawn", "summer", "fall")
WORLDS = (
    "assumed",
    "shared days",
    "several crews",
    "rods exponent 0.5",
    "rods exponent 1",
    "one tactic far off",
    "several rows an outing",
    "effort exponent 0.6",
    "bag limit of 10",
    "blanks left out",
    "quitting when slow",
    "tactic chosen by the day",
)
RODS = 4  # the crew's, for which rates are asked
RODS_EXPONENTS = (0.33, 0.71)  # between these, as in six public surveys
EXPONENT = 0.6
BAG = 10
DAY_SPREAD = 0.5
SHARED_DAY, OUTINGS_A_DAY = 0.35, 4
CREWS, SKILL_SPREAD = 6, 0.5
FAR_OFF = 2.0  # log units by which one tactic catches less


@dataclass(frozen=True)
class World:
    """True log rates and the log that came of them.

    ``log_rates``: (tactic, phase, lake), fish per boat-hour with ``RODS`` rods over an outing of
    ``hours``; ``log`` and ``held_out``: rows as ``read_trips`` gives them, with ``phase``.
    """

    log_rates: np.ndarray
    hours: float
    log: pd.DataFrame
    held_out: pd.DataFrame


def bench_club():
    """A club of one boat with two anglers and two lakes, without files."""
    lakes = {
        key: Lake(
            key=key,
            name=key,
            latitude=45.0,
            longitude=-90.0,
            time_zone="UTC",
            area=1e6,
            max_depth=10.0,
            elevation=200.0,
            mean_depth=4.0,
            longest_fetch=1500.0,
            depths=np.array([0.0, 10.0]),
            areas=np.array([1e6, 0.0]),
            depth_area_source="invented",
            secchi=np.full(12, 1.5),
            secchi_source="invented",
            below_full_pond=np.zeros(12),
            fertility="eutrophic",
            surroundings="mixed",
            weather=WeatherSource(),
            rules=Rules(max_rods=2),
        )
        for key in LAKES
    }
    boat = Boat(name="boat", beam=1.8, anglers=2, rods_per_angler=2, speeds=(0.2, 2.0))
    return Club(
        folder=Path("."),
        name="bench",
        units="metric",
        date_order=None,
        species="crappie",
        boat=boat,
        lakes=lakes,
    )


def make_world(kind, outings, seed, *, held_out=200):
    """One invented club and its log.

    Parameters
    ----------
    kind : str
        One of ``WORLDS``.
    outings : int
        Logged outings.
    seed : int
    held_out : int
        Further complete outings of the same club, to be predicted.

    Returns
    -------
    World
        Log-normal tactic (0.6), phase (0.4), lake (0.3) and tactic-by-phase (0.35) effects,
        negative-binomial alpha between 0.2 and 3, ten tactics used unequally, one to four rods
        with an exponent as in surveys.
    """
    random = np.random.default_rng([seed, WORLDS.index(kind), outings])
    size = (TACTICS, len(PHASES), len(LAKES))
    rates = (
        np.log(0.6)
        + random.normal(0, 0.6, (TACTICS, 1, 1))
        + random.normal(0, 0.4, (1, size[1], 1))
        + random.normal(0, 0.3, (1, 1, size[2]))
        + random.normal(0, 0.35, (TACTICS, size[1], 1))
    )
    if kind == "one tactic far off":
        rates[0] -= FAR_OFF
    exponent = random.uniform(*RODS_EXPONENTS)
    if kind.startswith("rods exponent"):
        exponent = float(kind.split()[-1])
    facts = {
        "rates": rates,
        "alpha": np.exp(random.uniform(np.log(0.2), np.log(3.0))),
        "usage": random.dirichlet(np.full(TACTICS, 1.0)),
        "taste": random.normal(0, 1, TACTICS),
        "rods": exponent,
        "skill": random.normal(0, SKILL_SPREAD, CREWS),
        "crew_usage": random.dirichlet(np.full(TACTICS, 0.7), CREWS),
    }
    table = _rows(random, kind, facts, outings)
    complete = (
        "assumed" if kind in ("bag limit of 10", "quitting when slow", "blanks left out") else kind
    )
    later = _rows(random, complete, facts, held_out)
    if kind == "blanks left out":
        table = table[(table["fish"] > 0) | (random.random(len(table)) > 0.8)]
        table = table.reset_index(drop=True)
    hours = float(np.exp(np.log(table["hours"]).mean()))
    truth = rates + exponent * np.log(RODS)
    if kind == "effort exponent 0.6":
        truth = rates + EXPONENT * np.log(RODS * hours) - np.log(hours)
    if kind == "tactic chosen by the day":
        truth = truth + DAY_SPREAD**2 / 2
    if kind == "several crews":
        truth = truth + _usual_skill(table, facts["skill"])
    return World(log_rates=truth, hours=hours, log=table, held_out=later)


def _usual_skill(table, skill):
    """Mean skill of the crews, by their hours: the club's usual crew."""
    crew = table["angler"].str.removeprefix("crew ").astype(int)
    return float(np.average(skill[crew], weights=table["hours"]))


def _chosen(random, odds):
    cumulative = np.cumsum(odds / odds.sum(axis=1, keepdims=True), axis=1)
    return (cumulative < random.random(len(odds))[:, None]).sum(axis=1)


def _rows(random, kind, facts, outings):
    per_outing = 2 if kind == "several rows an outing" else 1
    rows = outings * per_outing
    outing = np.repeat(np.arange(outings), per_outing)
    date = outing
    if kind == "shared days":
        date = np.sort(random.integers(0, max(1, outings // OUTINGS_A_DAY), outings))
    state = random.normal(0, 1, outings)[date]
    crew = random.integers(0, CREWS, outings)[outing]
    odds = np.tile(facts["usage"], (rows, 1))
    if kind == "tactic chosen by the day":
        odds = odds * np.exp(np.outer(state, facts["taste"]))
    if kind == "several crews":
        odds = facts["crew_usage"][crew]
    tactic = _chosen(random, odds)
    phase = random.integers(0, len(PHASES), outings)[date]
    lake = random.integers(0, len(LAKES), outings)[date]
    hours, rods = np.round(random.gamma(4, 0.8, rows) + 0.5, 2), random.integers(1, 5, rows)
    log_mean = facts["rates"][tactic, phase, lake]
    if kind == "effort exponent 0.6":
        log_mean = log_mean + EXPONENT * np.log(hours * rods)
    else:
        log_mean = log_mean + np.log(hours) + facts["rods"] * np.log(rods)
    if kind in ("several rows an outing", "tactic chosen by the day"):
        log_mean = log_mean + DAY_SPREAD * state
    if kind == "several rows an outing":
        log_mean = log_mean - DAY_SPREAD**2 / 2
    if kind == "shared days":
        log_mean = log_mean + SHARED_DAY * state - SHARED_DAY**2 / 2
    if kind == "several crews":
        log_mean = log_mean + facts["skill"][crew]
    alpha = facts["alpha"]
    fish = random.poisson(np.exp(log_mean) * random.gamma(1 / alpha, alpha, rows))
    if kind == "bag limit of 10":
        full = fish > BAG
        hours = np.where(full, np.maximum(hours * BAG / np.maximum(fish, 1), 0.1), hours)
        fish = np.minimum(fish, BAG)
    if kind == "quitting when slow":
        first = random.binomial(fish, 0.5)
        hours = np.where(first == 0, hours / 2, hours)
        fish = np.where(first == 0, 0, fish)
    date = pd.Timestamp("2022-01-01") + pd.to_timedelta(date, unit="D")
    return pd.DataFrame(
        {
            "row": np.arange(rows) + 2,
            "trip": [f"outing {number}" for number in outing],
            "date": date,
            "start": date + pd.Timedelta(hours=12),
            "hour": np.nan,
            "hours": hours,
            "lake": np.array(LAKES)[lake],
            "phase": np.array(PHASES)[phase],
            "tactic": [f"tactic_{number}" for number in tactic],
            "rods": rods.astype(float),
            "fish": fish.astype(float),
            "angler": [f"crew {number}" for number in crew] if kind == "several crews" else "",
            "light": "",
        }
    )


def federation_log(rows, *, tactics=60, anglers=40, days=1500, seed=1):
    """A federation's log: many tactics and anglers, several boats a day."""
    random = np.random.default_rng(seed)
    tactic = random.choice(tactics, rows, p=random.dirichlet(np.ones(tactics)))
    phase, lake = random.integers(0, len(PHASES), rows), random.integers(0, len(LAKES), rows)
    angler, day = random.integers(0, anglers, rows), np.sort(random.integers(0, days, rows))
    hours = np.round(random.gamma(4, 0.8, rows) + 0.5, 2)
    rods = random.integers(1, 5, rows).astype(float)
    log_rate = (
        random.normal(0, 0.6, tactics)[tactic]
        + random.normal(0, 0.4, 5)[phase]
        + random.normal(0, 0.3, anglers)[angler]
        + random.normal(0, 0.3, days)[day]
        + random.normal(0, 0.35, (tactics, 5))[tactic, phase]
    )
    mean = np.exp(log_rate) * 0.3 * hours * rods**EXPONENT
    date = pd.Timestamp("2010-01-01") + pd.to_timedelta(day, unit="D")
    return pd.DataFrame(
        {
            "row": np.arange(rows) + 2,
            "trip": [f"outing {number}" for number in range(rows)],
            "date": date,
            "start": date + pd.Timedelta(hours=12),
            "hour": np.nan,
            "hours": hours,
            "lake": np.array(LAKES)[lake],
            "phase": np.array(PHASES)[phase],
            "tactic": [f"tactic_{number}" for number in tactic],
            "rods": rods,
            "fish": random.poisson(mean * random.gamma(1.25, 0.8, rows)).astype(float),
            "angler": [f"angler {number}" for number in angler],
            "light": "",
        }
    )
