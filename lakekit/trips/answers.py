"""Answers from rates: a month's table, a planned outing, what to try next, in plain words."""

import numpy as np
import pandas as pd

from lakekit.trips.pooling import negative_binomial_loglike

UNRANKED = "Suits season and gear, unranked."
RELIED = 0.2  # a tactic of few outings is ranked by the rate that it beats with 4 chances in 5
TOLD = 0.8  # what a told range of fish holds
MOST_FISH = 3000
CLOSE_CALL = 0.5  # chance of being best below which the first is not called the best
FEWEST_OUTINGS = 3  # with a tactic before its middle rate ranks it and it may be called first
WORTH_A_TRIAL = 0.02  # share of the best rate that a trial must promise
FIRST_CHOICE = (
    "Which tactic is first is a fair bet and no proof: in invented logs following it loses less "
    "than following plain totals; in real surveys that has not been shown."
)
LIMITS = (
    FIRST_CHOICE,
    "An angler picks the tactic that suits the day: part of a tactic's rate is the day's.",
    "A log kept only of good days, or without its blanks, makes every rate too high.",
    "A bag limit, or leaving when it is slow, makes hours and fish depend on each other.",
    "Where a tactic was never tried in a phase, its rate there is borrowed, not known.",
    "Fish learn, years differ and lakes change: the log speaks of the years it covers.",
    "A rate says nothing about the size of the fish, nor of how much there was to enjoy.",
)


def figure(value):
    """A rate in two figures, such as 12, 1.4, 0.35 or 0.02."""
    if not np.isfinite(value):
        return "unknown"
    if value >= 9.95:
        return f"{value:.0f}"
    return f"{value:.1f}" if value >= 0.95 else f"{value:.2f}"


def rate_table(rates, lake, phase, *, tactics=None, rods=None, water=None, weigh=None):
    """What the log says of each tactic for a lake and season phase, best first.

    Tactics are ranked by ``relied``: the middle rate, but with fewer than ``FEWEST_OUTINGS``
    outings the rate beaten with 4 chances in 5, so that a few lucky hours do not outrank many
    honest ones. The rate shown is the middle one.

    Parameters
    ----------
    rates : Rates
    lake, phase : str
    tactics : sequence of str, optional
        Those this boat can run now; by default the book's, else the log's.
    rods : dict, optional
        Tactic to rods in the water; by default the crew's legal rods.
    water : dict, optional
        Conditions to answer for, as in ``Rates.log_rate``.
    weigh : callable, optional
        Tactic -> draws to add to its log rate, (draws,): what told patterns say of it.

    Returns
    -------
    pandas.DataFrame
        ``tactic``, ``rank`` (None where the log has no outing with it), ``rate`` (median fish
        per boat-hour), ``low``, ``high`` (80 % interval), ``relied``, ``rods``, ``rate_per_rod``,
        ``outings`` (of this tactic here in this phase), ``outings_with_tactic`` (anywhere),
        ``hours``, ``fish``, ``own_share`` (0 to 1: how much of the rate is these very outings'
        own word, the rest being borrowed), ``best_chance``, ``sentence``. Without a log: the
        tactics in their order, no rate, "suits season and gear, unranked".
    """
    names = list(rates.book) if tactics is None and rates.book else tactics
    if names is None:
        names = list(rates.design.levels["tactic"]) if rates.ranked else []
    names = list(names)
    if not rates.ranked:
        return _unranked(names)
    rods = {name: (rods or {}).get(name, rates.rods_for(lake, name)) for name in names}
    draws = np.array(
        [rates.log_rate(lake, phase, name, rods=rods[name], water=water) for name in names]
    ).reshape(len(names), -1)
    own_spread = draws.var(axis=1)
    if weigh is not None:
        draws = draws + np.array([weigh(name) for name in names]).reshape(len(names), -1)
    low, cautious, middle, high = (
        np.exp(np.quantile(draws, [0.1, RELIED, 0.5, 0.9], axis=1)) if names else np.empty((4, 0))
    )
    best = np.bincount(draws.argmax(axis=0), minlength=len(names)) / max(1, draws.shape[1])
    records, (behind, nothing) = [], _counted(rates, lake, phase)
    for place, name in enumerate(names):
        counted = dict(behind.get(name, nothing))
        enough = counted["outings_with_tactic"] >= FEWEST_OUTINGS
        own = min(1.0, counted.pop("information") * float(own_spread[place]))
        record = {
            "tactic": name,
            "rank": None,
            "rate": middle[place],
            "low": low[place],
            "high": high[place],
            "relied": (middle if enough else cautious)[place],
            "rods": rods[name],
            "rate_per_rod": middle[place] / rods[name],
            **counted,
            "own_share": own,
            "best_chance": best[place],
        }
        records.append(record | {"sentence": _sentence(record, rates)})
    tried = [r for r in records if r["outings_with_tactic"] > 0]
    tried.sort(key=lambda record: -record["relied"])
    if rates.status not in ("no fish", "one tactic"):
        for rank, record in enumerate(tried, 1):
            record["rank"] = rank
    untried = [r for r in records if r["outings_with_tactic"] == 0]
    table = pd.DataFrame(tried + untried, columns=_COLUMNS)
    table["rank"] = table["rank"].astype("Int64")
    return table


_COLUMNS = [
    "tactic",
    "rank",
    "rate",
    "low",
    "high",
    "relied",
    "rods",
    "rate_per_rod",
    "outings",
    "outings_with_tactic",
    "hours",
    "fish",
    "own_share",
    "best_chance",
    "sentence",
]


def _unranked(names):
    table = pd.DataFrame({"tactic": names}).reindex(columns=_COLUMNS)
    table["outings"] = table["outings_with_tactic"] = 0
    table["sentence"] = UNRANKED
    table["rank"] = table["rank"].astype("Int64")
    return table


def _counted(rates, lake, phase):
    """Tactic to what stands behind it: here in this phase, and outings anywhere."""
    here, anywhere = rates.totals
    none = {"outings": 0, "hours": 0.0, "fish": 0.0, "information": 0.0}
    return {
        tactic: here.get((lake, phase, tactic), none) | {"outings_with_tactic": int(outings)}
        for tactic, outings in anywhere.items()
    }, none | {"outings_with_tactic": 0}


def _plural(number, word):
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _sentence(record, rates):
    rods = _plural(int(record["rods"]), "rod")
    span = f"{figure(record['low'])} to {figure(record['high'])}"
    if record["outings_with_tactic"] == 0:
        return (
            f"Suits season and gear, unranked: not in the log. If it is like the others, "
            f"{span} fish an hour on {rods}."
        )
    elsewhere = record["outings_with_tactic"] - record["outings"]
    if record["outings"] == 0:
        behind = f"told by {_plural(elsewhere, 'outing')} elsewhere or in other phases"
    else:
        behind = f"{_plural(record['outings'], 'outing')} with it here in this phase"
        if elsewhere > 0:
            behind += f", {elsewhere} elsewhere or in other phases; {_own(record['own_share'])}"
    text = f"{figure(record['rate'])} fish an hour on {rods} (8 in 10: {span}); {behind}."
    if record["outings"] and record["fish"] == 0 and rates.status != "no fish":
        text += f" No fish yet here in {figure(record['hours'])} hours."
    return text


def _own(share):
    """How much of a rate these very outings tell, and how much those elsewhere."""
    if share >= 0.7:
        return "told mostly by the first"
    return "told by both alike" if share >= 0.3 else "told mostly by the others"


def headline(rates, table, *, names=None):
    """What a table comes to, as one or two sentences.

    Parameters
    ----------
    rates : Rates
    table : pandas.DataFrame
        As from ``rate_table``.
    names : dict, optional
        Tactic key to the name to print.

    Returns
    -------
    str
    """

    def name(key):
        return (names or {}).get(key, key.replace("_", " "))

    if not rates.ranked:
        return rates.notes[0]
    first = table[table["rank"] == 1]
    if first.empty:
        return rates.notes[0] if rates.notes else UNRANKED
    top = first.iloc[0]
    tenths = round(10 * float(top["best_chance"]))
    chance = "over 9 in 10" if tenths == 10 else f"{tenths} in 10"
    if top["outings_with_tactic"] < FEWEST_OUTINGS:
        return (
            f"{name(top['tactic'])} did best so far, on "
            f"{_plural(int(top['outings_with_tactic']), 'outing')}: too few to call it first."
        )
    if top["best_chance"] >= CLOSE_CALL:
        return (
            f"{name(top['tactic'])} is first, {figure(top['rate'])} fish an hour; "
            f"the chance that it is the best is {chance}."
        )
    rivals = table[
        (table["tactic"] != top["tactic"])
        & (table["best_chance"] >= 0.1)
        & (table["outings_with_tactic"] > 0)
    ]
    others = " or ".join(name(key) for key in rivals["tactic"][:2])
    beside = f", perhaps {others}" if others else ""
    sure = "under 1 in 10" if top["best_chance"] < 0.05 else chance
    return (
        f"The log leans to {name(top['tactic'])}{beside}, but is too thin to say: "
        f"the chance that it is the best is {sure}."
    )


def predict_outing(rates, lake, phase, tactic, hours, *, rods=None, water=None):
    """Fish to expect of one planned outing, day-to-day luck included.

    Parameters
    ----------
    rates : Rates
    lake, phase, tactic : str
    hours : float
        Hours with this tactic [h], above 0; there is no default hour.
    rods : float, optional
    water : dict, optional

    Returns
    -------
    dict
        ``usual`` (fish at the middle rate), ``low``, ``high`` (the shortest range of whole
        fish that 8 such outings in 10 stay within), ``blank_chance``, ``rods``, ``sentence``;
        the figures are None without a log. The mean is not given: while the log is thin a few
        huge rates that it cannot rule out make it several times the catch.
    """
    if not (np.isfinite(hours) and hours > 0):
        raise ValueError("a planned outing needs hours above 0")
    if not rates.ranked:
        return {
            "usual": None,
            "low": None,
            "high": None,
            "blank_chance": None,
            "rods": rods,
            "sentence": UNRANKED,
        }
    rods = rates.rods_for(lake, tactic) if rods is None else rods
    log_rate = rates.log_rate(lake, phase, tactic, rods=rods, water=water)
    chances = fish_chances(hours * np.exp(log_rate + rates.day_luck()), rates.alpha)
    low, high = shortest_range(chances)
    usual, blank = float(hours * np.exp(np.median(log_rate))), float(chances[0])
    return {
        "usual": usual,
        "low": low,
        "high": high,
        "blank_chance": blank,
        "rods": rods,
        "sentence": f"About {figure(usual)} fish in {hours:g} hours on "
        f"{_plural(int(rods), 'rod')}; 8 outings in 10 bring {_bring(low, high)}, "
        f"{100 * blank:.0f} % bring none.",
    }


def fish_chances(mean, alpha):
    """Chances of 0, 1, 2, ... fish over all draws, up to where next to nothing is left.

    Parameters
    ----------
    mean, alpha : ndarray, shape (draws,)
        Fish expected, and the dispersion of luck.

    Returns
    -------
    ndarray
        They add to one; fish beyond ``MOST_FISH`` stand with it.
    """
    mean = np.minimum(mean, MOST_FISH)
    last = int(min(MOST_FISH, np.quantile(mean * (1 + 4 * np.sqrt(alpha + 1 / mean)), 0.98) + 10))
    fish = np.arange(last + 1.0)[:, None]
    thin = max(1, len(mean) * (last + 1) // 1_000_000)
    chances = np.exp(negative_binomial_loglike(fish, mean[::thin], alpha[::thin])).mean(axis=1)
    chances[-1] += max(0.0, 1 - chances.sum())
    return chances


def shortest_range(chances, *, holds=TOLD):
    """The shortest run of counts that holds a share of the chances; of equals the likeliest.

    Returns
    -------
    tuple of int
        First and last count.
    """
    below = np.concatenate([[0.0], np.cumsum(chances)])
    last = np.searchsorted(below, below[:-1] + holds - 1e-12)
    first = np.flatnonzero(last < len(below))
    last = last[first]
    held = below[last] - below[first]
    best = np.lexsort((-held, last - first))[0]
    return int(first[best]), int(last[best]) - 1


def _bring(low, high):
    if low == high:
        return "none" if high == 0 else f"{high}"
    return f"{low} to {high}"


def try_next(rates, lake, phase, *, tactics=None, names=None, weigh=None):
    """Which tactic's trial would teach most: the value of one usual outing with it.

    A trial is worth what it would add, on average, to the catch of afterwards following the log:
    how much the expected best rate rises when that tactic's rate is better known by one outing.

    Parameters
    ----------
    rates : Rates
    lake, phase : str
    tactics : sequence of str, optional
        As in ``rate_table``.
    names : dict, optional
        Tactic key to the name to print.
    weigh : callable, optional
        As in ``rate_table``.

    Returns
    -------
    pandas.DataFrame
        ``tactic``, ``gain`` (fish per boat-hour), ``sentence``; largest gain first. Empty
        without a log.

    References
    ----------
    Raiffa & Schlaifer 1961, Applied Statistical Decision Theory (expected value of sample
    information); normal on the log scale. From memory.
    """
    table = rate_table(rates, lake, phase, tactics=tactics, weigh=weigh)
    if not rates.ranked or len(table) < 2:
        return pd.DataFrame({"tactic": [], "gain": [], "sentence": []})
    draws = np.array([rates.log_rate(lake, phase, name) for name in table["tactic"]])
    if weigh is not None:
        draws = draws + np.array([weigh(name) for name in table["tactic"]])
    means = np.exp(draws).mean(axis=1)
    alpha = float(np.median(rates.alpha))
    gains = []
    for place, log_rate in enumerate(draws):
        fish = rates.usual_hours * np.exp(np.median(log_rate))
        own = fish / (1 + alpha * fish)
        variance = log_rate.var()
        learned = variance / (variance + 1 / own)
        after = (
            log_rate.mean()
            + np.sqrt(learned) * (log_rate - log_rate.mean())
            + (1 - learned) * variance / 2
        )
        others = np.delete(means, place).max()
        now = max(np.exp(after).mean(), others)
        gains.append(np.maximum(np.exp(after), others).mean() - now)
    table = table.assign(gain=np.maximum(gains, 0.0)).sort_values(
        "gain", ascending=False, kind="stable", ignore_index=True
    )
    best = means.max()
    sentences = [
        _trial_sentence((names or {}).get(key, key.replace("_", " ")), gain, rates, best, place)
        for place, (key, gain) in enumerate(zip(table["tactic"], table["gain"], strict=True))
    ]
    return pd.DataFrame({"tactic": table["tactic"], "gain": table["gain"], "sentence": sentences})


def _trial_sentence(name, gain, rates, best, place):
    if gain < WORTH_A_TRIAL * best:
        return f"Another outing with {name} would hardly change the order."
    much = "most" if place == 0 else "something"
    return (
        f"An outing of {rates.usual_hours:.1f} hours with {name} would teach the log {much}."
    )


def guide_answers(rates, lake, phase, *, tactics=None, weigh=None):
    """The table as a guide's tactic rows take it.

    Parameters
    ----------
    rates : Rates
    lake, phase : str
    tactics : sequence of str, optional
    weigh : callable, optional
        As for ``rate_table``.

    Returns
    -------
    dict
        Tactic to ``{"value": fish per boat-hour to rank by (``relied``), None where unranked,
        "text": sentence, "best_chance": 0 to 1, "outings": with it anywhere}``.
    """
    table = rate_table(rates, lake, phase, tactics=tactics, weigh=weigh)
    return {
        row.tactic: {
            "value": None if pd.isna(row.rank) else float(row.relied),
            "text": row.sentence,
            "best_chance": float(row.best_chance),
            "outings": int(row.outings_with_tactic),
        }
        for row in table.itertuples()
    }
