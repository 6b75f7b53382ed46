"""Catch rates from a small log: pooled, for this boat's crew and legal rods, with their doubt."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from lakekit.errors import TripsError
from lakekit.trips.blanks import loud_row, suspect_blanks
from lakekit.trips.design import (
    BLOCKS,
    CONDITIONS,
    RODS_EXPONENT,
    build_design,
    canonical_order,
    conditions,
    with_phase,
)
from lakekit.trips.join import join_water
from lakekit.trips.pooling import (
    NODES,
    draw_coefficients,
    find_mode,
    integrate,
    one_thread,
    refit,
    settle,
)
from lakekit.units import plain_word

DRAWS = 2000
MANY_ROWS = 2000  # so many tell how hard to pool, and fewer settings stand for it
NODES_OF_MANY = 8
THIN_OUTINGS = 15
ONE_ROD_MOTIONS = ("cast", "dip", "vertical")
NEEDED = ("trip", "date", "start", "hours", "lake", "tactic", "rods", "fish")


@dataclass(frozen=True)
class Rates:
    """What a log says of catch rates: draws from the posterior, and the rows behind them.

    ``status``: "ok", "empty", "no fit", "no fish", "one outing", "one tactic" or "thin";
    ``notes``: plain sentences on the whole log, worst first. Made by :func:`catch_rates`; ask it
    through ``lakekit.trips.answers``.
    """

    status: str
    notes: tuple
    rows: pd.DataFrame
    club: object
    book: dict
    phase_kind: str
    seed: int
    design: object = None
    coefficients: np.ndarray = None  # (draws, columns)
    spreads: np.ndarray = None  # (draws, blocks)
    alpha: np.ndarray = None  # (draws,)
    information: np.ndarray = None  # (rows,) what a row says of its log rate
    outing_correlation: float = 0.0
    blanks: dict = field(default_factory=dict)

    @property
    def ranked(self):
        """Whether the log gives any rate at all."""
        return self.coefficients is not None

    @property
    def usual_hours(self):
        """Hours of a usual row of the log [h]."""
        return float(np.exp(self.design.centres["hours"]))

    @property
    def rods_exponent(self):
        """Median and 80 % interval of the rods' exponent (1: twice the rods, twice the fish)."""
        return RODS_EXPONENT[0] + np.quantile(
            self.coefficients[:, self.design.fixed["rods"]], [0.5, 0.1, 0.9]
        )

    @cached_property
    def totals(self):
        """What stands behind a rate: by (lake, phase, tactic), and outings by tactic anywhere."""
        rows = self.rows.assign(information=self.information)
        here = rows.groupby(["lake", "phase", "tactic"]).agg(
            outings=("trip", "nunique"),
            hours=("hours", "sum"),
            fish=("fish", "sum"),
            information=("information", "sum"),
        )
        return here.to_dict("index"), rows.groupby("tactic")["trip"].nunique().to_dict()

    def rods_for(self, lake, tactic):
        """Rods the crew may and would put out with a tactic on a lake.

        Parameters
        ----------
        lake, tactic : str
            Keys.

        Returns
        -------
        int
            Anglers times the fewest of the boat's rods each, the lake's legal rods each, and
            what the tactic lets one angler hold (its ``rods_per_angler`` in the book, else one
            for casting, dipping and vertical jigging).
        """
        boat = self.club.boat
        each = [boat.rods_per_angler]
        if lake in self.club.lakes and self.club.lakes[lake].rules.max_rods:
            each.append(self.club.lakes[lake].rules.max_rods)
        entry = self.book.get(tactic)
        own = getattr(entry, "rods_per_angler", None)
        if own:
            each.append(own)
        elif getattr(entry, "motion", None) in ONE_ROD_MOTIONS:
            each.append(1)
        return boat.anglers * max(1, min(each))

    @property
    def day_spread(self):
        """Draws of the standard deviation of a day's log rate about the usual, (draws,)."""
        return self.spreads[:, self.design.blocks.index("day")]

    def log_rate(self, lake, phase, tactic, *, rods=None, angler=None, water=None):
        """Posterior draws of the log of fish per boat-hour, the mean over days.

        Parameters
        ----------
        lake, phase, tactic : str
        rods : float, optional
            Rods in the water; by default ``rods_for``.
        angler : str, optional
            By default the crew that fished most counts most.
        water : dict, optional
            Conditions (keys of ``CONDITIONS``, 0 to 1); by default what the log met on average.

        Returns
        -------
        ndarray, shape (draws,)
        """
        words = {"lake": lake, "phase": phase, "tactic": tactic}
        design, coefficients = self.design, self.coefficients
        total = design.level + coefficients[:, design.fixed["level"]]
        total = total + self.day_spread**2 / 2
        for index, name in enumerate(design.blocks[:-1]):
            if name == "angler":
                total = total + self._angler(index, angler)
            else:
                key = tuple(words[factor] for factor in BLOCKS[name][0])
                total = total + self._effect(index, name, key)
        rods = self.rods_for(lake, tactic) if rods is None else rods
        if not (np.isfinite(rods) and rods > 0):
            raise ValueError(f"a rate needs a number of rods above 0, not {rods!r}")
        spread = np.log(rods) - design.centres["rods"]
        total = total + spread * (RODS_EXPONENT[0] + coefficients[:, design.fixed["rods"]])
        for name, value in (water or {}).items():
            if name not in CONDITIONS:
                raise KeyError(f"no condition {name!r}: {', '.join(CONDITIONS)}")
            if name in design.fixed:
                total = total + coefficients[:, design.fixed[name]] * (value - design.centres[name])
        return total

    def day_luck(self):
        """Draws of what one day adds to the log rate beyond its mean over days, (draws,)."""
        random = np.random.default_rng([self.seed, 29])
        spread = self.day_spread
        return spread * random.standard_normal(len(spread)) - spread**2 / 2

    def _effect(self, index, name, key):
        column = self.design.columns[name].get(key)
        if column is not None:
            return self.coefficients[:, column]
        places = [
            self._place(factor, word) for factor, word in zip(BLOCKS[name][0], key, strict=True)
        ]
        random = np.random.default_rng([self.seed, 23, index, *places])
        return self.spreads[:, index] * random.standard_normal(len(self.spreads))

    def _place(self, factor, word):
        levels = self.design.levels[factor]
        if word in levels:
            return levels.index(word)
        others = {"tactic": list(self.book), "lake": list(self.club.lakes)}.get(factor, [])
        if word in others:
            return 1000 + others.index(word)
        return 2000 + sum(map(ord, str(word)))

    def _angler(self, index, angler):
        if angler is not None:
            return self._effect(index, "angler", (plain_word(angler),))
        return self._usual_angler

    @cached_property
    def _usual_angler(self):
        columns = self.design.columns["angler"]
        hours = self.rows.groupby("angler", sort=False)["hours"].sum()
        hours = hours.groupby(hours.index.map(plain_word), sort=False).sum()
        share = hours / hours.sum()
        return sum(
            share[word] * self.coefficients[:, column] for (word,), column in columns.items()
        )

    def log_rates_of_rows(self, rows, *, every=1):
        """Posterior draws of the log of expected fish of given rows, on a day unlike any logged.

        Parameters
        ----------
        rows : pandas.DataFrame
            Columns as ``read_trips`` gives them, with ``phase``.
        every : int
            Take each so many-th draw.

        Returns
        -------
        ndarray, shape (draws / every, rows)
        """
        water, luck = conditions(rows, self.club), self.day_luck()[::every]
        found = np.empty((len(self.alpha[::every]), len(rows)))
        for place, (index, row) in enumerate(rows.iterrows()):
            known = water.loc[index].dropna().to_dict()
            angler = (
                row["angler"]
                if (plain_word(row["angler"]),) in self.design.columns.get("angler", {})
                else None
            )
            found[:, place] = (
                self.log_rate(
                    row["lake"],
                    row["phase"],
                    row["tactic"],
                    rods=row["rods"],
                    angler=angler,
                    water=known,
                )[::every]
                + luck
                + np.log(row["hours"])
            )
        return found


def catch_rates(
    trips,
    layers_by_lake=None,
    book=None,
    *,
    club,
    phase=None,
    fronts_by_lake=None,
    draws=DRAWS,
    seed=0,
):
    """Fish per boat-hour by tactic, season phase and lake, from a log as it is.

    Counts are negative binomial with log hours as the offset (an exponent left free would learn
    from limits and early departures, not from fish); the rods' exponent is estimated, shrunk
    toward one; tactics, phases, lakes, their pairs and anglers are pooled about no
    difference, each kind as much as the log says; the water at that hour enters as a few
    shrunken conditions. Rows of one outing count for less than as many outings, by as much as
    they are seen to resemble each other.

    Parameters
    ----------
    trips : pandas.DataFrame or None
        As from ``read_trips`` or ``join_water``.
    layers_by_lake : dict, optional
        Lake key to layers; joins the rows to the water unless that has been done.
    book : dict, optional
        Tactic key to tactic, in the order of unranked tactics.
    club : lakekit.club.Club
        Boat, crew and the lakes' legal rods.
    phase, fronts_by_lake : optional
        As for ``join_water``.
    draws, seed : int
        Posterior draws, the same for all answers.

    Returns
    -------
    Rates

    Examples
    --------
    >>> catch_rates(trips, club=club).ranked
    True
    """
    book = dict(book or {})
    if trips is None or len(trips) == 0:
        return Rates(
            status="empty",
            notes=_empty_notes(trips),
            rows=pd.DataFrame(),
            club=club,
            book=book,
            phase_kind="",
            seed=seed,
        )
    if layers_by_lake and "stratified" not in trips:
        trips = join_water(trips, layers_by_lake, club, phase=phase, fronts_by_lake=fronts_by_lake)
    rows, phase_kind = _usable(trips, club)
    try:
        with one_thread():
            design, top, correlation, nodes = _fit(rows, club, seed)
            coefficients, spreads, alpha = draw_coefficients(nodes, draws, seed=seed)
    except (FloatingPointError, np.linalg.LinAlgError):
        note = "No rates could be fitted to this log: look for a slip in hours, rods or fish."
        return Rates(
            status="no fit",
            notes=(note,),
            rows=rows,
            club=club,
            book=book,
            phase_kind=phase_kind,
            seed=seed,
        )
    mean = _fitted(design.data, top.mode)
    blanks = suspect_blanks(rows["fish"].to_numpy(), mean)
    loud = loud_row(rows["fish"].to_numpy(), np.exp(design.data.offset))
    status, notes = _status(rows, blanks, loud)
    if not top.settled:
        notes += ("The fit did not quite settle: take the intervals as rough.",)
    return Rates(
        status=status,
        notes=notes,
        rows=rows,
        club=club,
        book=book,
        phase_kind=phase_kind,
        seed=seed,
        design=design,
        coefficients=coefficients,
        spreads=spreads,
        alpha=alpha,
        information=_information(design, top),
        outing_correlation=correlation,
        blanks=blanks,
    )


def _fit(rows, club, seed):
    """Design, most probable setting, likeness of an outing's rows, and settings that stand for
    the posterior; from a long log whole days, evenly spread, are enough to learn the settings."""
    design = build_design(rows, club)
    apart = -(-len(rows) // MANY_ROWS)
    chosen = design.day % apart == 0
    part = design.data.of_rows(chosen) if apart > 1 else design.data
    top = settle(part)
    correlation = _outing_correlation(rows["trip"][chosen], part, top)
    if correlation > 0:
        size = rows.groupby("trip")["hours"].transform("size").to_numpy()
        design = build_design(rows, club, weights=1 / (1 + (size - 1) * correlation))
        part = design.data.of_rows(chosen) if apart > 1 else design.data
        top = settle(part, top)
    nodes = integrate(part, top, seed=seed, nodes=NODES if apart == 1 else NODES_OF_MANY)
    if apart > 1:
        start = np.append(top.mode[: part.kept], np.zeros(design.data.single))
        mode, _, _ = find_mode(design.data, np.exp(top.theta[:-1]), np.exp(top.theta[-1]), start)
        top, nodes = replace(top, mode=mode), refit(design.data, nodes, mode)
    return design, top, correlation, nodes


def _usable(trips, club):
    missing = [name for name in NEEDED if name not in trips]
    if missing:
        raise KeyError(f"the log lacks {', '.join(missing)}: read it with read_trips")
    rows = pd.DataFrame(trips.reset_index(drop=True))
    rows.attrs = {}
    _refuse_bad(rows)
    rows, phase_kind = with_phase(rows, club)
    if "angler" not in rows:
        rows["angler"] = ""
    return rows.iloc[canonical_order(rows)].reset_index(drop=True), phase_kind


def _refuse_bad(rows):
    """Raise at the first rows whose values no rate can come of, naming each."""

    def number(name):
        return pd.to_numeric(rows[name], errors="coerce")

    bad = (
        {
            "hours": ~(np.isfinite(number("hours")) & (number("hours") > 0)),
            "rods": ~(np.isfinite(number("rods")) & (number("rods") > 0)),
            "fish": ~(
                np.isfinite(number("fish")) & (number("fish") >= 0) & (number("fish") % 1 == 0)
            ),
        }
        | {
            name: rows[name].isna() | (rows[name].astype(str).str.strip() == "")
            for name in ("tactic", "lake", "trip")
        }
        | {name: rows[name].isna() for name in ("date", "start")}
    )
    faults = [(place, name) for name, wrong in bad.items() for place in np.flatnonzero(wrong)]
    if not faults:
        return
    faults.sort(key=lambda fault: fault[0])
    word = "row" if "row" in rows else "position"
    where = rows.get("row", rows.index)
    told = [f"{word} {where[place]}: {name} is {rows[name][place]!r}" for place, name in faults[:5]]
    more = f"; {len(faults) - 5} more" if len(faults) > 5 else ""
    raise TripsError(
        "a rate needs hours and rods above 0, a whole number of fish, a tactic, a lake, an outing "
        f"and a day in each row; {'; '.join(told)}{more}",
        mend="Mend or leave out these rows; read_trips does so and lists them",
    )


def _fitted(data, mode):
    return np.exp(data.offset + data.design @ mode)


def _information(design, top):
    """What each row says of its log rate, by itself: less where its day says it too."""
    mean = _fitted(design.data, top.mode)
    own = design.data.weights * mean / (1 + np.exp(top.theta[-1]) * mean)
    day = np.exp(-2 * top.theta[-2])
    return own * day / (day + np.bincount(design.day, own)[design.day])


def _outing_correlation(trips, data, top):
    """How much the rows of one outing resemble each other beyond the model, 0 to 0.8."""
    mean, alpha = _fitted(data, top.mode), np.exp(top.theta[-1])
    residual = (data.counts - mean) / np.sqrt(mean + alpha * mean**2)
    residual = np.clip(residual, -3, 3)
    sums = (
        pd.DataFrame({"one": 1.0, "sum": residual, "square": residual**2})
        .groupby(trips.to_numpy(), sort=False)
        .sum()
    )
    pairs = (sums["one"] * (sums["one"] - 1)).sum()
    if pairs == 0:
        return 0.0
    raw = (sums["sum"] ** 2 - sums["square"]).sum() / pairs / np.mean(residual**2)
    return float(np.clip(raw * pairs / (pairs + 40), 0.0, 0.8))


def _empty_notes(trips):
    notes = ["No usable row in the log: tactics suit season and gear, unranked."]
    excluded = None if trips is None else trips.attrs.get("excluded")
    if excluded is not None and len(excluded):
        notes.append(f"{len(excluded)} rows are left out; the findings say why.")
    return tuple(notes)


def _status(rows, blanks, loud):
    outings, notes = rows["trip"].nunique(), []
    status = "ok" if outings >= THIN_OUTINGS else "thin"
    if (rows["tactic"] == rows["tactic"].iloc[0]).all():
        status = "one tactic"
        notes.append(
            f"Only one tactic is in the log ({rows['tactic'].iloc[0]}): it cannot be "
            "compared with any other."
        )
    if outings == 1:
        status = "one outing"
        notes.append("Only one outing is in the log: the rates are little more than a guess.")
    if rows["fish"].sum() == 0:
        status = "no fish"
        notes.append(
            f"No fish in {rows['hours'].sum():.0f} boat-hours: rates are below what the "
            "intervals reach, and nothing ranks the tactics."
        )
    if status == "thin":
        notes.append(f"Only {outings} outings: most of each rate is borrowed from the whole log.")
    if blanks.get("suspected"):
        notes.append(blanks["text"])
    if loud is not None:
        row = rows.iloc[loud]
        where = f"Row {row['row']}" if "row" in rows else f"The row of {row['date']:%Y-%m-%d}"
        notes.append(
            f"{where} stands out: {row['fish']:.0f} fish in {row['hours']:g} hours with "
            f"{row['tactic'].replace('_', ' ')}, {100 * row['fish'] / rows['fish'].sum():.0f} % of "
            "all fish in the log. Check it: if it is right, the rates still lean on it."
        )
    none = rows.groupby("tactic").agg(fish=("fish", "sum"), hours=("hours", "sum"))
    none = none[none["fish"] == 0]
    if rows["fish"].sum() > 0:
        notes += [
            f"No fish yet on {tactic} in {hours:.0f} boat-hours: its rate is pooled, low "
            "but not zero."
            for tactic, hours in none["hours"].items()
        ]
    return status, tuple(notes)
