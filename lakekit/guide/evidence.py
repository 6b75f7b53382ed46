"""How good the water column has been: bench figures as they were last recorded."""

import json
from pathlib import Path

from lakekit.units import FOOT

RECORDS = Path(__file__).parent / "recorded.json"
WHAT = (
    ("rmse_c", "Temperature, whole profile", "°C"),
    ("surface_rmse_c", "Temperature at the top", "°C"),
    ("thermocline_mae_m", "Thermocline depth", "m"),
    ("oxygen3_mae_m", "Depth of 3 mg/L oxygen", "m"),
)
US = {"°C": ("°F", 1.8), "m": ("ft", 1 / FOOT)}  # of differences
PLACES = (
    ("beaverdam", "Beaverdam"),
    ("fallingcreek", "Falling Creek"),
)


def recorded(bench):
    """Figures of a bench as last recorded: (figures, date), or ({}, None) when never recorded."""
    if not RECORDS.exists():
        return {}, None
    entry = json.loads(RECORDS.read_text(encoding="utf-8")).get(bench)
    return (entry["figures"], entry["date"]) if entry else ({}, None)


def evidence_rows(units="metric"):
    """How good the water column has been on measured reservoirs, as short (label, text) rows.

    Short, because a printed row that is cut would show one reservoir and hide the other.
    """
    figures, _ = recorded("accuracy")
    rows = []
    for key, label, metric in WHAT:
        unit, scale = US[metric] if units == "us" else (metric, 1.0)
        said = []
        for place, name in PLACES:
            miss, probed, years = (
                figures.get(f"accuracy_{place}_{how}_{key}")
                for how in ("untuned", "fitted", "rival_fortnight")
            )
            if miss is None:
                continue
            beside = [
                f"{word} {scale * value:.1f} {unit}"
                for word, value in (("probed", probed), ("past years", years))
                if value is not None
            ]
            said.append(f"{name} {scale * miss:.1f} {unit} ({', '.join(beside)})")
        if said:
            rows.append([label, f"{'; '.join(said)}."])
    if rows:
        rows += [
            ["These are", "usual misses from the lake file alone; your lake is another lake."],
            ["Probed", "after the probe was lowered 8 times in a year."],
            ["Past years", "the mean of that lake's other years, which a new lake lacks."],
            ["Data", "Carey et al., Environmental Data Initiative, CC BY 4.0."],
        ]
    return rows


LEADS = ((1, 10), (11, 21), (22, 35), (36, 50), (51, 75))  # days, as the bench has them
BESIDE = (
    ("free", "weather alone"),
    ("lastcast", "the last cast"),
    ("lastchange", "the last cast and the usual change"),
    ("fortnight", "other years' fortnight"),
)


def lead_rows():
    """What a reading is worth later on, as (label, text) rows; none where never recorded."""
    figures, date = recorded("accuracy")
    rows = []
    for first, last in LEADS:
        key = f"accuracy_median_{{}}_{first}to{last}_{{}}"
        miss = figures.get(key.format("followed", "rmse_c"))
        if miss is None:
            continue
        line = figures.get(key.format("followed", "thermocline_mae_m"))
        beside = [
            f"{words} {other:.1f} °C"
            for how, words in BESIDE
            if (other := figures.get(key.format(how, "rmse_c"))) is not None
        ]
        rows.append(
            [f"{first} to {last} days after", f"{miss:.1f} °C, {line:.1f} m ({', '.join(beside)})"]
        )
    if rows:
        rows.append(["Measured", f"{date}, lakekit.bench accuracy, median of five waters."])
    return rows


MONTHS = ("may", "june", "july")  # as the bench has them


def one_reading_rows():
    """What a single reading is worth by its month, as (label, text) rows; none if not recorded."""
    figures, date = recorded("accuracy")
    rows = []
    for month in MONTHS:
        miss, line, without, line_without = (
            figures.get(f"accuracy_median_{how}_{month}_{what}")
            for how in ("one", "none")
            for what in ("rmse_c", "thermocline_mae_m")
        )
        if miss is None or without is None:
            continue
        rows.append([
            f"One cast in {month.capitalize()}",
            f"{miss:.1f} °C and {line:.1f} m over the next 75 days "
            f"(without it {without:.1f} °C and {line_without:.1f} m)",
        ])  # fmt: skip
    if rows:
        rows.append(["Measured", f"{date}, lakekit.bench accuracy, median of five waters."])
    return rows
