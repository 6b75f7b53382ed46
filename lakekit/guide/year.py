"""A lake's year in sentences: among past years, and what its drawings say."""

from calendar import month_name

import numpy as np
import pandas as pd

from lakekit.guide.log.logbook import read_log
from lakekit.guide.words import date_text, day_of_year_text
from lakekit.probe import read_probe
from lakekit.units import depth_text, temperature_text
from lakekit.waters.knowledge import lake_water, log_path
from lakekit.waters.year import (
    changed,
    changed_run,
    lake_year,
    month_layers,
    whole_run,
    year_measures,
)

# measure -> (name, what the lowest and the highest rank are called)
MEASURES = {
    "onset": ("Layers set up", "earliest", "latest"),
    "warmest": ("Warmest week at the surface", "coolest", "warmest"),
    "deepest": ("Deepest thermocline", "shallowest", "deepest"),
    "turnover": ("Turnover", "earliest", "latest"),
    "ice_days": ("Days of ice", "fewest", "most"),
}


def year_ranks(measures, year, *, units="us"):
    """One year among the others, a row a measure.

    Parameters
    ----------
    measures : pandas.DataFrame
        From ``lakekit.waters.year.year_measures``.
    year : int
    units : str

    Returns
    -------
    list of (str, str)
        The measure, and its value with the rank from the nearer end: "3rd earliest of 13 years".
    """
    rows = []
    for name, (label, low, high) in MEASURES.items():
        known = measures[name].dropna()
        if year not in known.index or known.nunique() < 2:
            rows.append((label, "not in this year, or in every year alike"))
            continue
        value, count = known[year], len(known)
        below, above = int((known < value).sum()), int((known > value).sum())
        end, rank = (low, below + 1) if below <= above else (high, above + 1)
        shared = " (shared)" if (known == value).sum() > 1 else ""
        rows.append((label, f"{_value(name, value, units)}; {_nth(rank)}{end} of {count} years"
                            f"{shared}"))  # fmt: skip
    return rows


def _value(name, value, units):
    if name in ("onset", "turnover"):
        return day_of_year_text(value)
    if name == "warmest":
        return temperature_text(value, units)
    return depth_text(value, units) if name == "deepest" else f"{value:.0f} days"


def _nth(rank):
    if rank == 1:
        return ""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th") if rank % 100 not in (11, 12, 13) \
        else "th"  # fmt: skip
    return f"{rank}{ending} "


def year_alt(year, *, units="us"):
    """What the drawing of a year says, in words."""
    warmest = np.nanmax(year["temperature"])
    middle = year["thermocline"][1]
    layers = "no thermocline"
    if np.isfinite(middle).any():
        known = np.flatnonzero(np.isfinite(middle))
        layers = (
            f"a thermocline from {_date(year, known[0])} to {_date(year, known[-1])}, most days "
            f"near {depth_text(np.nanmedian(middle), units)}"
        )
    return (
        f"{year['lake']['name']} in {year['year']}, days across and depth down: lines of equal "
        f"temperature up to {temperature_text(warmest, units)}; {layers}; fronts: "
        f"{len(year['fronts'])}, hot calm spells: {len(year['hot_calm'])}, spells of ice: "
        f"{len(year['ice'])}; {_short_of_oxygen(year)}; readings: {len(year['readings'])}, catches "
        f"at their depth: {len(year['catches'])}."
    )


def _short_of_oxygen(year):
    """On which days the lowest water has under 2 mg/L, as the drawing's crossed hatching begins."""
    known = np.isfinite(year["oxygen"])
    last = known.shape[1] - 1 - np.argmax(known[:, ::-1], axis=1)
    short = np.flatnonzero(year["oxygen"][np.arange(len(last)), last] < 2.0)
    if not len(short):
        return "oxygen at the bottom never under 2 mg/L"
    first, final = (_date(year, number) for number in short[[0, -1]])
    return f"{len(short)} days with under 2 mg/L of oxygen at the bottom, {first} to {final}"


def _date(year, number):
    return date_text(pd.Timestamp(year["year"], 1, 1) + pd.Timedelta(year["day"][number], "D"))


def month_alt(table, title, *, units="us"):
    """What the drawing of one month in all years says, in words."""
    said = [
        f"{year}: " + (f"thermocline {depth_text(row['middle'], units)}"
                       if row["layered"] > 0.5 else "not layered most days")
        for year, row in table.iterrows()
    ]  # fmt: skip
    return f"{title}, depth down. " + "; ".join(said) + "."


def differences(before, after, *, units="us"):
    """What a change did to a year, in rows: midsummer's layers and the whole season.

    Parameters
    ----------
    before, after : dict
        From ``lakekit.waters.year.lake_year``, of the same year.

    Returns
    -------
    list of (str, str, str)
        What it is, before, after.
    """

    def season(year):
        layered = np.isfinite(year["thermocline"][1])
        summer = (year["day"] >= 181) & (year["day"] < 243)
        warm = _means(year, summer)
        return {
            "Layered days": f"{int(layered.sum())}",
            "Thermocline, July and August": depth_text(np.nanmedian(warm["line"]), units)
            if np.isfinite(warm["line"]).any() else "none",
            "Surface, July and August": temperature_text(warm["top"], units),
            "Bottom, July and August": temperature_text(warm["bottom"], units),
            "Water with 3 mg/L of oxygen or more, July and August": f"{100 * warm['oxygen']:.0f} % "
            "of the depth",
        }  # fmt: skip

    old, new = season(before), season(after)
    return [(name, old[name], new[name]) for name in old]


def _means(year, days):
    """Means over some days of a year: surface, bottom, thermocline and the share with oxygen."""
    warmth, oxygen = year["temperature"][days], year["oxygen"][days]
    known = np.isfinite(warmth)
    last = known.shape[1] - 1 - np.argmax(known[:, ::-1], axis=1)
    return {
        "top": float(np.nanmean(warmth[:, 0])),
        "bottom": float(np.mean(warmth[np.arange(len(last)), last])),
        "line": year["thermocline"][1][days],
        "oxygen": float((oxygen[known] >= 3.0).mean()),
    }


def club_years(club, keys, year=None, *, month=7, progress=None):
    """One year of each of a club's lakes, among its past years, with readings and catches.

    Parameters
    ----------
    club : lakekit.club.Club
    keys : sequence of str
    year : int, optional
        By default the last whole one of each record.
    month : int
        The month, 1 to 12, to show of all years.
    progress : callable, optional

    Returns
    -------
    list of dict
        ``water`` (LakeWater), ``run`` (every day by depth), ``year`` (as from ``lake_year``),
        ``ranks`` (rows), ``months`` (that month of every year) with
        ``months_title`` and ``months_bed`` (depth of the bed then) [m].
    """
    readings = read_probe(club.folder / "probe.csv", club) \
        if (club.folder / "probe.csv").exists() else None  # fmt: skip
    log = read_log(club, progress=progress) if log_path(club) else None
    trips, waters = (log.trips, log.waters) if log else (None, {})
    found = []
    for key in keys:
        water = waters.get(key) or lake_water(club, key, progress=progress)
        run = whole_run(water, progress=progress)
        drawn = lake_year(water, year, run=run, readings=readings, trips=trips, progress=progress)
        ranks = year_ranks(year_measures(water, run), drawn["year"], units=club.units)
        found.append({
            "water": water, "run": run, "year": drawn, "ranks": ranks,
            "months": month_layers(water, month),
            "months_title": f"{water.lake.name}, {month_name[month]} of every year",
            "months_bed": float(water.lake.max_depth - water.lake.below_full_pond[month - 1]),
        })  # fmt: skip
    return found


def rank_table(years):
    """Where each lake's year stands among its past ones, the lakes side by side.

    Parameters
    ----------
    years : list of dict
        From :func:`club_years`.

    Returns
    -------
    (list of str, list of list of str)
        Head, and a row a measure.
    """
    head = ["", *(f"{item['water'].lake.name}, {item['year']['year']}" for item in years)]
    columns = [[label for label, _ in years[0]["ranks"]]] if years else []
    columns += [[text for _, text in item["ranks"]] for item in years]
    return head, [list(row) for row in zip(*columns, strict=True)]


def what_if_year(club, key, change, amount, year=None, *, progress=None):
    """A lake's year as it was and with one thing changed.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
    change, amount : str
        As in ``lakekit.waters.year.CHANGES``.
    year : int, optional
    progress : callable, optional

    Returns
    -------
    dict
        ``before`` and ``after`` (as from ``lake_year``), ``said`` and ``rows``.
    """
    water = lake_water(club, key, progress=progress)
    other, said = changed(club, water, change, amount)
    before = lake_year(water, year, run=whole_run(water, progress=progress))
    if progress:
        progress(f"{water.lake.name}: {before['year']} again, {said}")
    after = lake_year(other, before["year"], run=changed_run(other, before["year"]))
    after["lake"] = after["lake"] | {"name": f"{water.lake.name}, {said}"}
    return {"before": before, "after": after, "said": said,
            "rows": differences(before, after, units=club.units)}  # fmt: skip
