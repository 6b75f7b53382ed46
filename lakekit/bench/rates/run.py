"""Measures catch rates: recovery of known rates, rivals, real outings, speed and memory."""

import os
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.special import logsumexp
from scipy.stats import nbinom

from lakekit.bench.rates.ranks import RANK_NAMES, rank_scores
from lakekit.bench.rates.rivals import RIVALS, Rival
from lakekit.bench.rates.worlds import (
    LAKES,
    PHASES,
    RODS,
    TACTICS,
    WORLDS,
    bench_club,
    make_world,
)
from lakekit.trips.answers import fish_chances, shortest_range
from lakekit.trips.pooling import negative_binomial_loglike
from lakekit.trips.rates import catch_rates

SIZES = (40, 120, 400)
REPEATS = {40: 200, 120: 120, 400: 60}  # logs of the assumed world, by outings
OTHER_REPEATS = 16
FOLDS = 10
EVERY = 4  # each so many-th draw scores outings
TOLD_OUTINGS = 50  # held-out outings for which a range is told
NAMES = tuple(f"tactic_{number}" for number in range(TACTICS))


def score_log(kind, outings, seed):
    """Score rates from one invented log against its truth and the rivals.

    Parameters
    ----------
    kind : str
        One of ``WORLDS``.
    outings : int
    seed : int

    Returns
    -------
    dict
        ``coverage`` of 80 % intervals over all tactics, phases and lakes; ``told`` of the ranges
        of fish told for held-out outings; ``log_score_*`` (mean log probability of held-out
        outings, nats) of the model and each rival; ``regret_*`` (share of the best tactic's rate
        lost by following the first) of each rank and rival; ``blanks_note``, ``row_note``: 1
        where the log gets the note.
    """
    world, club = make_world(kind, outings, seed), bench_club()
    rates = catch_rates(world.log, club=club, seed=seed)
    later = world.held_out
    coverage, choices = _cells(world, rates)
    mean = np.exp(rates.log_rates_of_rows(later, every=EVERY))
    told = later[:TOLD_OUTINGS]
    scores = {
        "coverage": coverage,
        "told": told_coverage(rates, told, mean[:, : len(told)]).mean(),
        "log_score_model": float(np.mean(log_scores(rates, later, mean))),
    }
    for name in RANK_NAMES:
        scores[f"regret_{name}"] = _regret(world, lambda p, k, name=name: choices[p, k][name])
    for name in RIVALS:
        rival = Rival(name, world.log)
        scores[f"log_score_{name}"] = float(np.mean(rival.log_scores(later)))
        scores[f"regret_{name}"] = _regret(
            world, lambda p, k, rival=rival: _top(rival, PHASES[p], LAKES[k])
        )
    scores["blanks_note"] = float(rates.blanks["suspected"])
    scores["row_note"] = float(any(" stands out: " in note for note in rates.notes))
    return scores


def _cells(world, rates):
    """Coverage over all cells, and each rank's first of the logged tactics in each of them."""
    draws = np.array(
        [
            [[rates.log_rate(lake, phase, name, rods=RODS) for lake in LAKES] for phase in PHASES]
            for name in NAMES
        ]
    )
    low, high = np.quantile(draws, [0.1, 0.9], axis=-1)
    held = (low <= world.log_rates) & (world.log_rates <= high)
    logged = np.array(
        [place for place, name in enumerate(NAMES) if name in rates.design.levels["tactic"]]
    )
    whole = draws[logged].mean(axis=(1, 2))
    counts = world.log.groupby("tactic")["trip"].nunique()
    outings = counts.reindex([NAMES[place] for place in logged]).to_numpy()
    choices = {
        (p, k): {
            name: [logged[int(np.argmax(score))]]
            for name, score in rank_scores(draws[logged, p, k], whole, outings).items()
        }
        for p in range(len(PHASES))
        for k in range(len(LAKES))
    }
    return held.mean(), choices


def told_coverage(rates, rows, mean):
    """Whether each row's fish lie in the range of whole fish that would be told of it."""
    alpha = rates.alpha[::EVERY]
    ranges = [shortest_range(fish_chances(column, alpha)) for column in mean.T]
    return np.array(
        [low <= fish <= high for (low, high), fish in zip(ranges, rows["fish"], strict=True)]
    )


def log_scores(rates, rows, mean):
    """Log predictive probability of each row's fish under the pooled rates.

    Parameters
    ----------
    rates : Rates
    rows : pandas.DataFrame
    mean : ndarray, shape (draws / EVERY, rows)
        Fish expected.

    Returns
    -------
    ndarray, shape (rows,)
    """
    alpha = rates.alpha[::EVERY, None]
    logs = negative_binomial_loglike(rows["fish"].to_numpy(), mean, alpha)
    return logsumexp(logs, axis=0) - np.log(len(alpha))


def _top(rival, phase, lake):
    rows = pd.DataFrame({"tactic": NAMES, "phase": phase, "lake": lake})
    values = rival.rates(rows, score=False)
    return np.flatnonzero(values >= values.max() - 1e-12)


def _regret(world, choose):
    losses = []
    for p in range(len(PHASES)):
        for k in range(len(LAKES)):
            rates = np.exp(world.log_rates[:, p, k])
            losses.append(1 - rates[choose(p, k)].mean() / rates.max())
    return float(np.mean(losses))


def recovery(worlds=WORLDS, sizes=SIZES, *, repeats=None, workers=2):
    """Mean scores over many invented logs.

    Parameters
    ----------
    worlds, sizes : sequence
    repeats : int, optional
        Logs of each world and size; by default ``REPEATS`` of the assumed one.
    workers : int
        Processes.

    Returns
    -------
    pandas.DataFrame
        Indexed by world and outings: means of ``score_log``, and their standard errors as
        ``..._error``; for ``lead_*`` (the model's score less the rival's, better when above 0)
        they are paired.
    """

    def number(world, size):
        return repeats or (REPEATS[size] if world == "assumed" else OTHER_REPEATS)

    tasks = [
        (world, size, seed)
        for world in worlds
        for size in sizes
        for seed in range(number(world, size))
    ]
    if workers > 1:
        with _one_thread_each(), ProcessPoolExecutor(workers, get_context("spawn")) as pool:
            scores = list(pool.map(score_log, *zip(*tasks, strict=True), chunksize=4))
    else:
        scores = [score_log(*task) for task in tasks]
    table = pd.DataFrame(scores)
    for name in RIVALS:
        table[f"lead_log_score_{name}"] = table["log_score_model"] - table[f"log_score_{name}"]
        table[f"lead_regret_{name}"] = table[f"regret_{name}"] - table["regret_guarded"]
    for name in RANK_NAMES:
        table[f"lead_{name}_on_tactic_totals"] = (
            table["regret_raw_tactic_totals"] - table[f"regret_{name}"]
        )
    table["world"], table["outings"] = [t[0] for t in tasks], [t[1] for t in tasks]
    grouped = table.groupby(["world", "outings"], sort=False)
    return grouped.mean().join(grouped.sem().add_suffix("_error"))


@contextmanager
def _one_thread_each():
    """Worker processes started inside use one thread each in linear algebra."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def read_survey(path):
    """An access survey's interviews as rows of a log: a boat's party, its method and gear.

    Parameters
    ----------
    path : pathlib.Path
        CSV with trip_id, date, month, anglers, person_hours, rod_hours, gear, vessel, method and
        caught.

    Returns
    -------
    pandas.DataFrame
        As from ``read_trips``, with the month as ``phase``; interviews without effort or count
        are left out.
    """
    table = pd.read_csv(path)
    hours = table["person_hours"] / table["anglers"]
    date = pd.to_datetime(table["date"])
    rows = pd.DataFrame(
        {
            "row": np.arange(len(table)) + 2,
            "trip": table["trip_id"].astype(str),
            "date": date,
            "start": date + pd.Timedelta(hours=18),
            "hour": np.nan,
            "hours": hours,
            "lake": LAKES[0],
            "phase": "month " + table["month"].astype(str),
            "tactic": table["method"].fillna("unknown") + ", " + table["gear"].fillna("unknown"),
            "rods": table["rod_hours"] / hours,
            "fish": table["caught"].astype(float),
            "angler": "",
            "light": "",
        }
    )
    usable = (rows["hours"] > 0) & (rows["rods"] > 0) & rows["fish"].notna()
    return rows[usable].reset_index(drop=True)


def survey_scores(rows, *, folds=FOLDS, seed=0):
    """Score the rates on outings left out of the log, a tenth at a time.

    Parameters
    ----------
    rows : pandas.DataFrame
        As from ``read_survey``.
    folds, seed : int

    Returns
    -------
    dict
        ``coverage``: share of left-out outings inside the 80 % interval of their prediction (an
        outing on a bound counts in part, as counts jump); ``told``: inside the range of whole
        fish that is told; ``log_score_*`` as in ``score_log``.
    """
    club = bench_club()
    trips = rows["trip"].unique()
    fold = np.random.default_rng(seed).permutation(len(trips)) % folds
    fold = rows["trip"].map(dict(zip(trips, fold, strict=True))).to_numpy()
    names = ["model", *RIVALS]
    scores, inside, told = {name: [] for name in names}, [], []
    for number in range(folds):
        log, later = (
            rows[fold != number].reset_index(drop=True),
            rows[fold == number].reset_index(drop=True),
        )
        rates = catch_rates(log, club=club, seed=seed)
        mean = np.exp(rates.log_rates_of_rows(later, every=EVERY))
        scores["model"] += list(log_scores(rates, later, mean))
        inside += list(predictive_coverage(rates, later, mean))
        told += list(told_coverage(rates, later, mean))
        for name in RIVALS:
            scores[name] += list(Rival(name, log).log_scores(later))
    return {
        "outings": len(trips),
        "coverage": float(np.mean(inside)),
        "told": float(np.mean(told)),
    } | {f"log_score_{name}": float(np.mean(values)) for name, values in scores.items()}


def predictive_coverage(rates, rows, mean):
    """How much of each row's count lies between the 10 % and 90 % points of its prediction."""
    size = 1 / rates.alpha[::EVERY, None]
    chance = size / (size + mean)
    fish = rows["fish"].to_numpy()
    upper = nbinom.cdf(fish, size, chance).mean(axis=0)
    lower = nbinom.cdf(fish - 1, size, chance).mean(axis=0)
    width = np.maximum(upper - lower, 1e-12)
    return np.clip((np.minimum(upper, 0.9) - np.maximum(lower, 0.1)) / width, 0.0, 1.0)


def timings():
    """Seconds of CPU and memory of rates, each log in a process of its own: 300 rows of one
    club, and 20,000 rows of a federation with 60 tactics and 40 anglers."""
    code = (
        "import resource, sys, time\n"
        "from lakekit.bench.rates.worlds import bench_club, make_world, federation_log\n"
        "from lakekit.trips.answers import rate_table\n"
        "from lakekit.trips.rates import catch_rates\n"
        "rows = int(sys.argv[1])\n"
        "log = (federation_log(rows) if rows > 1000 else\n"
        "       make_world('several rows an outing', rows // 2, 1, held_out=2).log)\n"
        "start = time.process_time()\n"
        "rates = catch_rates(log, club=bench_club())\n"
        "rate_table(rates, 'north', 'summer', tactics=sorted(log['tactic'].unique()))\n"
        "print(time.process_time() - start,"
        " resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
    )
    figures = {}
    for rows in (300, 20000):
        done = subprocess.run(
            [sys.executable, "-c", code, str(rows)], check=True, text=True, capture_output=True
        )
        seconds, megabytes = map(float, done.stdout.split())
        figures[f"rates_{rows}_rows_cpu_seconds"] = seconds
        figures[f"rates_{rows}_rows_megabytes"] = megabytes
    return figures


def observed_surveys():
    """Survey files among the open observations; none where they are absent."""
    default = Path(__file__).resolve().parents[3] / "shared" / "observations"
    folder = Path(os.environ.get("LAKEKIT_OBSERVATIONS", default)) / "angling"
    return sorted(folder.glob("*.csv"))


def _key(world, outings):
    return f"rates_{world.replace(' ', '_').replace('.', '')}_{outings}"


def measure():
    """Measure everything: a few minutes on two cores.

    Returns
    -------
    dict
        Flat figures. ``rates_<world>_<outings>_coverage_percent`` (of 80 % intervals) and
        ``..._told_percent`` (of ranges of whole fish); ``..._log_score_<who>_nats`` (mean,
        held-out outings); ``..._regret_<who>_percent`` of each rank and rival, and
        ``..._lead_<rank>_on_tactic_totals_percent``; ``..._blanks_note_percent`` and
        ``..._row_note_percent`` (how often a log gets the note: the note's size, or where blanks
        are left out its power); each with its standard error as ``..._error_...``.
        ``rates_survey_<file>_*`` for real outings; seconds of CPU and megabytes.
    """
    start, figures = time.perf_counter(), timings()
    for (world, outings), row in recovery().iterrows():
        for name, value in row.items():
            if name.endswith("_error"):
                continue
            nats = "log_score" in name
            unit, scale = ("nats", 1) if nats else ("percent", 100)
            figures[f"{_key(world, outings)}_{name}_{unit}"] = scale * value
            figures[f"{_key(world, outings)}_{name}_error_{unit}"] = scale * row[f"{name}_error"]
    for path in observed_surveys():
        for name, value in survey_scores(read_survey(path)).items():
            unit = {
                "coverage": ("_percent", 100),
                "told": ("_percent", 100),
                "outings": ("_count", 1),
            }.get(name, ("_nats", 1))
            figures[f"rates_survey_{path.stem}_{name}{unit[0]}"] = value * unit[1]
    figures["rates_bench_seconds"] = time.perf_counter() - start
    return {name: float(value) for name, value in figures.items()}


def table(figures):
    """The figures of ``measure`` as text: three tables of a line for each world and size."""

    def lines(title, names, cell):
        yield f"{title:34s}" + " ".join(f"{name[:16]:>16s}" for name in names)
        for world in WORLDS:
            for outings in SIZES:
                key = _key(world, outings)
                yield f"{world:26s} {outings:6d} " + " ".join(
                    f"{cell(key, name):>16s}" for name in names
                )
        yield ""

    def percent(key, name):
        return (
            f"{figures[f'{key}_{name}_percent']:.1f} ({figures[f'{key}_{name}_error_percent']:.1f})"
        )

    def nats(key, name):
        return f"{figures[f'{key}_log_score_{name}_nats']:.3f}"

    shown = ["coverage", "told", "blanks_note", "row_note"]
    text = [
        "In brackets: standard errors.",
        *lines("% that 80 % hold; % with notes", shown, percent),
        *lines("log score of outings, nats", ("model", *RIVALS), nats),
        *lines(
            "% of the best rate lost",
            [f"regret_{name}" for name in (*RANK_NAMES, *RIVALS)],
            percent,
        ),
        *lines(
            "% gained on tactic totals",
            [f"lead_{name}_on_tactic_totals" for name in RANK_NAMES],
            percent,
        ),
    ]
    keys = tuple(_key(world, outings) + "_" for world in WORLDS for outings in SIZES)
    text += [
        f"{name:60s} {value:10.3f}" for name, value in figures.items() if not name.startswith(keys)
    ]
    return "\n".join(text)
