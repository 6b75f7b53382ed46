"""How good the water column has been: bench figures as they were last recorded."""

import json
from pathlib import Path

RECORDS = Path(__file__).parent / "recorded.json"
WHAT = (
    ("rmse_c", "Temperature, whole profile", "°C"),
    ("surface_rmse_c", "Temperature, top metre", "°C"),
    ("thermocline_mae_m", "Thermocline depth", "m"),
    ("oxygen3_mae_m", "Depth of 3 mg/L oxygen", "m"),
)
PLACES = (
    ("beaverdam", "Beaverdam Reservoir 2013-2016"),
    ("fallingcreek", "Falling Creek Reservoir 2018"),
)


def recorded(bench):
    """Figures of a bench as last recorded: (figures, date), or ({}, None) when never recorded."""
    if not RECORDS.exists():
        return {}, None
    entry = json.loads(RECORDS.read_text(encoding="utf-8")).get(bench)
    return (entry["figures"], entry["date"]) if entry else ({}, None)


def evidence_rows():
    """How good the water column has been on measured reservoirs, as (label, sentence) rows."""
    figures, date = recorded("accuracy")
    rows = []
    for key, label, unit in WHAT:
        said = []
        for place, name in PLACES:
            found = {
                how: figures.get(f"accuracy_{place}_{how}_{key}")
                for how in ("untuned", "fitted", "rival_fortnight")
            }
            if found["untuned"] is None:
                continue
            text = f"{name}: {found['untuned']:.1f} {unit} off from the lake file alone"
            if found["fitted"] is not None:
                text += f", {found['fitted']:.1f} {unit} after eight casts"
            if found["rival_fortnight"] is not None:
                text += (
                    f"; the mean of other years' casts is {found['rival_fortnight']:.1f} {unit} off"
                )
            said.append(text)
        if said:
            rows.append([label, f"{'. '.join(said)}."])
    if rows:
        rows.append(
            ["Measured", f"{date}, python -m lakekit.bench accuracy; data: Carey et al., EDI, "
             "CC BY 4.0. Your lake is another lake."]
        )  # fmt: skip
    return rows
