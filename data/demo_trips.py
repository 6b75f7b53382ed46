"""Invents a trip log with known effects of tactic and phase, and with a real log's blemishes."""

import numpy as np
import pandas as pd

SEED = 1204
OUTINGS = 178
LAST_SEED, LAST_OUTINGS = 1210, 34  # of 2026, to the day before the front
HEADER = (
    "trip", "date", "start", "hours", "lake", "tactic", "rods", "fish", "angler", "anglers",
    "species", "kept", "size_in", "target", "place", "catch_depth_ft", "catch_depth_m",
    "water_depth_ft", "bait_depth_ft", "surface_temp_F", "surface_temp_C", "clarity_ft",
    "line_out_ft", "speed_mph", "weight_oz", "light", "ended_because", "spot", "notes", "share",
)
LAKES = {"teal-marsh": "Teal Marsh Lake", "quarry-hollow": "Quarry Hollow Reservoir"}
PHASES = ("winter", "pre_spawn", "spawn", "post_spawn", "summer", "fall", "turnover")

# The truth behind the log: fish per boat-hour with the usual rods (second entry of USUAL), by
# phase; 0 where nobody tries it. Invented.
TRUE_RATES = {
    #               winter  pre   spawn post  summer fall  turnover
    "cast_jig":     (0.0,   2.2,  3.4,  2.2,  1.1,   2.0,  1.3),
    "float_rig":    (0.0,   1.8,  3.8,  1.6,  0.8,   1.2,  1.0),
    "vertical_jig": (1.4,   1.4,  0.6,  1.2,  1.9,   2.4,  1.5),
    "troll_jigs":   (0.0,   2.4,  1.2,  2.2,  2.3,   2.2,  1.5),
    "push_rods":    (0.0,   3.0,  1.6,  2.4,  3.0,   2.6,  1.6),
    "troll_lipped": (0.0,   0.6,  0.4,  1.8,  2.8,   1.4,  0.9),
    "drift":        (0.0,   1.0,  0.6,  1.4,  1.7,   1.3,  1.0),
    "dock_cast":    (0.0,   1.0,  2.4,  2.0,  1.5,   1.0,  0.7),
    "dip_pole":     (0.0,   1.6,  4.0,  1.4,  0.5,   1.1,  0.6),
    "ice_jig":      (2.2,   0.0,  0.0,  0.0,  0.0,   0.0,  0.0),
    "night_light":  (0.0,   0.0,  0.0,  1.6,  3.2,   1.2,  0.0),
}
RODS_EXPONENT = 0.6  # twice the rods, 1.5 times the fish
LAKE_EFFECT = {"teal-marsh": 1.15, "quarry-hollow": 0.9}
OUTING_SPREAD = 0.45  # standard deviation of the log of an outing's own luck
COUNT_SHAPE = 1.1  # negative-binomial size: smaller is wilder

# tactic: how often chosen where it suits, usual rods, places, speed range [mph] or None,
# weights [oz], other ways the log's keepers write it
USUAL = {
    "cast_jig": (3.0, 2, ("edge", "cover"), None, ("1/16", "1/32"), ("Casting", "cast jigs")),
    "float_rig": (2.2, 2, ("cover", "bank"), None, ("1/32",), ("slip float", "Float rig")),
    "vertical_jig": (2.0, 2, ("open", "edge"), None, ("1/8", "1/16"), ("Vertical", "jigging")),
    "troll_jigs": (1.4, 4, ("open",), (0.7, 1.3), ("1/16", "1/8"), ("long lining", "Troll")),
    "push_rods": (1.6, 4, ("open", "edge"), (0.4, 0.9), ("1/2", "1"), ("Push rods", "pushing")),
    "troll_lipped": (0.9, 4, ("open",), (1.4, 2.2), ("0.2",), ("troll lures", "Troll lipped")),
    "drift": (0.9, 3, ("open",), (0.3, 0.8), ("1/2",), ("Drifting", "drift")),
    "dock_cast": (0.8, 2, ("cover",), None, ("1/32", "1/16"), ("docks", "Dock cast")),
    "dip_pole": (1.0, 2, ("cover",), None, ("1/16",), ("Dipping", "dip pole")),
    "ice_jig": (3.0, 2, ("ice",), None, ("1/32",), ("ice", "Ice jigging")),
    "night_light": (0.7, 3, ("edge", "open"), None, ("1/8",), ("Lights", "night light")),
}
# feet of water above the fish, by lake and phase
CATCH_DEPTH = {
    "teal-marsh": (13, 7, 3, 7, 9, 9, 10),
    "quarry-hollow": (26, 12, 4, 9, 14, 16, 22),
}
ANGLERS = ("Otter", "Heron", "Coot", "Muskrat", "Kingfisher")
SPOTS = ("north riprap", "old fence line", "dam corner", "the stumps", "cattail point",
         "east cove", "creek bend", "sunken road")
REMARKS = ("", "", "", "", "wind got up", "kids along", "stained after rain", "motor trouble",
           "fish on the light side", "glass calm", "followed a shad school", "new line")


def season_phase(lake, day):
    """The phase of a day of the year, by the calendar; the deep lake turns over in October."""
    late = 5 if lake == "quarry-hollow" else 0
    steps = ((62, "winter"), (108 + late, "pre_spawn"), (143 + late, "spawn"),
             (167, "post_spawn"), (256, "summer"), (283, "fall"))
    for last, phase in steps:
        if day <= last:
            return phase
    if day <= 305:
        return "turnover" if lake == "quarry-hollow" else "fall"
    return "fall" if day <= 336 else "winter"


def true_rate(tactic, phase):
    """Fish per boat-hour with the usual rods."""
    return TRUE_RATES[tactic][PHASES.index(phase)]


def invent_trips(weather):
    """Rows of the log as text, in the order typed: three years, then the months of 2026.

    The three years carry slips at fixed places; the last months only names as people write them.

    Parameters
    ----------
    weather : pandas.DataFrame
        The invented weather; its air temperature sets the surface temperatures logged.

    Returns
    -------
    pandas.DataFrame of str, columns ``HEADER``
    """
    smooth = _water_like(weather)
    rng = np.random.default_rng(SEED)
    years = _outings("2023-01-01", "2025-12-10", OUTINGS, 1, smooth, rng)
    years = _slips(_as_people_write(years, rng))
    rng = np.random.default_rng(LAST_SEED)
    latest = _outings("2026-01-03", "2026-07-14", LAST_OUTINGS, OUTINGS + 1, smooth, rng)
    return pd.concat([years, _as_people_write(latest, rng)], ignore_index=True)


def _outings(first, last, count, number, smooth, rng):
    """Outings on days drawn by month and weekend, numbered from ``number``; one row a tactic."""
    month_weight = np.array([3, 3, 7, 12, 14, 11, 9, 8, 8, 8, 5, 2], dtype=float)
    days = pd.date_range(first, last, freq="D")
    weight = month_weight[days.month - 1] * np.where(days.day_of_week >= 5, 3.0, 1.0)
    chosen = np.sort(rng.choice(len(days), size=count, replace=False, p=weight / weight.sum()))
    rows = []
    for at in chosen:
        rows += _outing(number, days[at], smooth, rng)
        number += 1
    return pd.DataFrame(rows, columns=list(HEADER))


def _water_like(weather):
    """Surface temperature [degC] to log: the air's, forgetting in ten days, never below ice."""
    daily = weather.set_index("time")["air_temp_c"].resample("D").mean().interpolate()
    return (daily.ewm(halflife=8).mean() * 0.98 + 1.6).clip(lower=0.6)


def _outing(number, day, smooth, rng):
    lake = "teal-marsh" if rng.random() < 0.55 else "quarry-hollow"
    phase = season_phase(lake, day.day_of_year)
    surface = max(float(smooth.loc[day]) + rng.normal(0, 0.5), 0.3)
    if phase == "winter" and surface < 2.5:
        tactics = ["ice_jig"]
    else:
        open_water = [name for name in TRUE_RATES if name != "ice_jig" and (
            true_rate(name, phase) > 0)]
        pull = np.array([USUAL[name][0] * true_rate(name, phase) ** 0.7 for name in open_water])
        count = min(int(rng.choice([1, 2, 3], p=[0.55, 0.35, 0.10])), len(open_water))
        tactics = list(rng.choice(open_water, size=count, replace=False, p=pull / pull.sum()))
        if "night_light" in tactics:
            tactics = ["night_light"]
    anglers = int(rng.choice([1, 2, 3], p=[0.35, 0.55, 0.10]))
    angler = str(rng.choice(ANGLERS, p=[0.34, 0.26, 0.2, 0.12, 0.08]))
    luck = rng.lognormal(-(OUTING_SPREAD**2) / 2, OUTING_SPREAD)
    clock = 20.5 if tactics == ["night_light"] else float(rng.choice(
        [6.0, 6.5, 7.0, 8.0, 13.0, 16.0, 17.0], p=[0.2, 0.2, 0.15, 0.1, 0.1, 0.15, 0.1]))
    if phase == "winter":
        clock = max(clock, 9.0)
    rows = []
    for tactic in tactics:
        hours = float(rng.choice([0.5, 1, 1.5, 2, 2.5, 3, 4],
                                 p=[0.06, 0.14, 0.18, 0.26, 0.16, 0.14, 0.06]))
        rows.append(_row(number, day, clock, hours, lake, phase, tactic, anglers, angler, luck,
                         surface, rng))
        clock += hours
    return rows


def _row(number, day, clock, hours, lake, phase, tactic, anglers, angler, luck, surface, rng):
    _, usual, places, speeds, weights, _ = USUAL[tactic]
    limit = 2 if lake == "quarry-hollow" else 3
    rods = int(np.clip(round(usual * anglers / 2 + rng.choice([0, 0, 1])), 1, limit * anglers))
    mean = (true_rate(tactic, phase) * hours * (rods / usual) ** RODS_EXPONENT
            * LAKE_EFFECT[lake] * luck)
    fish = int(rng.negative_binomial(COUNT_SHAPE, COUNT_SHAPE / (COUNT_SHAPE + mean)))
    bluegill = rng.random() < 0.08 and phase != "winter"
    depth = CATCH_DEPTH[lake][PHASES.index(phase)] * rng.normal(1, 0.15)
    depth = float(np.clip(depth, 1.5, 17 if lake == "teal-marsh" else 45))
    if tactic in ("dip_pole", "dock_cast"):
        depth = min(depth, rng.uniform(2, 6))
    bottom = min(depth + rng.gamma(2.0, 3.0), 19 if lake == "teal-marsh" else 50)
    size = rng.normal(9.6 if lake == "teal-marsh" else 10.4, 1.1) - 3.0 * bluegill

    clear = 2.0 if lake == "teal-marsh" else 7.0

    def often(share, text):
        return text if rng.random() < share else ""

    light = ("night" if clock >= 20 else "dawn" if clock < 7.5 else "dusk" if clock >= 17.5
             else "day")
    return {
        "trip": often(0.85, f"T{number:03d}"), "date": f"{day:%Y-%m-%d}", "start": _clock(clock),
        "hours": f"{hours:g}", "lake": LAKES[lake], "tactic": tactic, "rods": str(rods),
        "fish": str(fish), "angler": often(0.9, angler), "anglers": often(0.8, str(anglers)),
        "species": "bluegill" if bluegill else "",
        "kept": often(0.5, str(int(rng.binomial(fish, 0.4)))) if fish else "",
        "size_in": often(0.45, f"{size:.1f}") if fish else "",
        "target": "crappie" if bluegill and rng.random() < 0.5 else "",
        "place": often(0.6, str(rng.choice(places))),
        "catch_depth_ft": often(0.55, f"{depth:.0f}") if fish else "", "catch_depth_m": "",
        "water_depth_ft": often(0.5, f"{bottom:.0f}"),
        "bait_depth_ft": often(0.3, f"{max(depth + rng.normal(0, 1.0), 1):.0f}"),
        "surface_temp_F": often(0.5, f"{surface * 1.8 + 32:.0f}"), "surface_temp_C": "",
        "clarity_ft": often(0.25, f"{max(rng.normal(clear, 0.7), 0.8):.1f}"),
        "line_out_ft": often(0.5, f"{rng.integers(6, 13) * 10}") if "troll" in tactic else "",
        "speed_mph": often(0.6, f"{rng.uniform(*speeds):.1f}") if speeds else "",
        "weight_oz": often(0.5, str(rng.choice(weights))), "light": often(0.5, light),
        "ended_because": often(0.3, str(rng.choice(["time", "slow", "weather", "limit"],
                                                   p=[0.5, 0.3, 0.14, 0.06]))),
        "spot": often(0.4, str(rng.choice(SPOTS))), "notes": str(rng.choice(REMARKS)),
        "share": often(0.1, str(rng.choice(["yes", "no"]))),
    }


def _clock(hours):
    hours = min(hours, 23.5)
    return f"{int(hours):02d}:{round(hours % 1 * 60):02d}"


def _as_people_write(log, rng):
    """Names in many spellings, cells left empty, one angler's metres."""
    log = log.copy()
    for at in range(len(log)):  # names as people write them
        tactic = log.loc[at, "tactic"]
        chance = rng.random()
        if chance < 0.22:
            log.loc[at, "tactic"] = str(rng.choice(USUAL[tactic][5]))
        elif chance < 0.3:
            log.loc[at, "tactic"] = tactic.replace("_", " ").title()
        chance = rng.random()
        if chance < 0.06:
            log.loc[at, "lake"] = log.loc[at, "lake"].upper()
        elif chance < 0.12:
            log.loc[at, "lake"] = log.loc[at, "lake"].lower()
        elif chance < 0.18:
            log.loc[at, "lake"] = next(k for k, v in LAKES.items() if v == log.loc[at, "lake"])
    for at in rng.choice(len(log), 9, replace=False):
        log.loc[at, "start"] = ""
    for at in rng.choice(len(log), 5, replace=False):
        log.loc[at, "rods"] = ""
    metric = (log["angler"] == "Kingfisher") & (log.index % 2 == 0)  # one of them thinks metric
    for old, new, change in (("catch_depth_ft", "catch_depth_m", lambda v: v * 0.3048),
                             ("surface_temp_F", "surface_temp_C", lambda v: (v - 32) / 1.8)):
        some = metric & (log[old] != "")
        log.loc[some, new] = [f"{change(float(value)):.1f}" for value in log.loc[some, old]]
        log.loc[some, old] = ""
    return log


def _slips(log):
    """The slips of real logs, each at fixed places so that a reader's findings can be counted."""
    log.loc[11, "date"] = log.loc[11, "date"].replace("-", "/")
    log.loc[23, "start"] = "6.30 pm"
    log.loc[37, "hours"] = "1:30"
    log.loc[48, "hours"], log.loc[48, "fish"] = "0", "0"  # no effort
    log.loc[61, "hours"], log.loc[61, "fish"] = "", "4"
    log.loc[74, "fish"] = ""
    log.loc[87, "surface_temp_F"] = "212"
    log.loc[99, "hours"] = "150 min"
    log.loc[112, "fish"] = "1200"  # impossible
    log.loc[126, "lake"] = "Teel Mrsh Lake"
    log.loc[139, "date"] = log.loc[139, "date"].replace("202", "205", 1)  # in the future
    log.loc[151, "catch_depth_ft"] = "240"
    log.loc[164, "kept"], log.loc[164, "fish"] = "5", "3"
    log.loc[177, "tactic"] = "vertcal jig"
    twin = log.iloc[[69]]
    half = pd.DataFrame([dict.fromkeys(HEADER, "") for _ in range(3)])
    half.loc[0, "date"], half.loc[0, "lake"] = log.loc[131, "date"], log.loc[131, "lake"]
    half.loc[1, "notes"] = "lost the green jig box, ask at the ramp"
    return pd.concat([log.iloc[:70], twin, log.iloc[70:132], half, log.iloc[132:]],
                     ignore_index=True)
