"""A sample guide and front note as data, by code: an invented lake, and its edge cases."""

import math

import numpy as np

HOSTILE = '#let x = 1; $a$ [b] *c* _d_ <script>alert("x")</script> \\ & \x00 `e` @f {{ g }}'
RIGHT_TO_LEFT = "אגם השקט بحيرة"
EMOJI = "caught 🎣🏽 here 湖"
LONG = "A three-hundred-character note that goes on about the weather and the boat, " * 4

_NAMES = [
    ("troll_jigs", "Long-line trolling with jigs", "Long-line jigs"),
    ("vertical_jig", "Vertical jigging below the boat", "Vertical jig"),
    ("push_rods", "Long rods over the bow, weighted two-bait rigs", "Long bow rods"),
    ("troll_lipped", "Trolling lipped lures", "Lipped lures"),
    ("float_rig", "Slip float with jig or bait", "Slip float"),
    ("drift", "Drifting bait over open water", "Drift bait"),
    ("cast_jig", "Cast and retrieve a jig", "Cast a jig"),
    ("dock_cast", "Casting under docks and overhanging cover", "Under docks"),
    ("dip_pole", "Long pole dipped into shallow wood or brush", "Dip pole"),
    ("night_light", "Under lights at night", "Night lights"),
]
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
_FULL = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_PHASES = [
    "winter",
    "winter",
    "pre_spawn",
    "spawn",
    "spawn",
    "post_spawn",
    "summer",
    "summer",
    "summer",
    "fall",
    "turnover",
    "winter",
]


def _depth(metres, units):
    if metres is None:
        return "none"
    return f"{metres / 0.3048:.0f} ft" if units == "us" else f"{metres:.1f} m"


def _span(top, bottom, units):
    if units == "us":
        return f"{top / 0.3048:.0f}–{bottom / 0.3048:.0f} ft"
    return f"{top:.1f}–{bottom:.1f} m"


def _temperature(celsius, units):
    return f"{celsius * 9 / 5 + 32:.0f} °F" if units == "us" else f"{celsius:.0f} °C"


def sample_month(
    number, year=2026, *, units="us", bottom=10.4, tactics=5, oxygen=True, basis="odds"
):
    """One month of an invented lake; layered from May to September."""
    season = math.cos(2 * math.pi * (number - 7.4) / 12)
    surface = max(14.0 + 13.0 * season, 2.5)
    layered = 5 <= number <= 9
    thermocline = {5: 3.2, 6: 3.8, 7: 4.4, 8: 5.1, 9: 6.4}.get(number)
    depth = np.arange(0.25, bottom, 0.5)
    if layered:
        thermocline = min(thermocline, 0.6 * bottom)
        deep = surface - 3.0 - 9.0 * season
        temperature = deep + (surface - deep) / (1 + np.exp((depth - thermocline) / 0.75))
        low_oxygen = 8.5 / (1 + np.exp((depth - thermocline - 1.0) / 0.55))
    else:
        thermocline = None
        temperature = surface - 0.04 * depth
        low_oxygen = 9.5 - 0.1 * depth

    def where(limit):
        below = np.nonzero(low_oxygen < limit)[0]
        return float(depth[below[0]]) if len(below) else None

    zone = {"limits": [4.0, 3.0, 2.0], "top": where(4), "middle": where(3), "bottom": where(2)}
    if not oxygen:
        zone |= {"top": None, "middle": None, "bottom": None}
    if layered:
        band = {
            "top": max(thermocline - 2.0, 0.3),
            "bottom": zone["middle"] or bottom,
            "good": True,
        }
    else:
        band = {"top": 1.0, "bottom": min(bottom, 5.0), "good": number not in (12, 1)}
    band["start"] = band["top"] + 0.4 * (band["bottom"] - band["top"])
    band["text"] = f"Fish can hold at {_span(band['top'], band['bottom'], units)}."
    spread = 0.6 + 0.9 * np.exp(-(((depth - (thermocline or 2)) / 1.5) ** 2))
    cards = []
    for index in range(tactics):
        key, name, short = _NAMES[index % len(_NAMES)]
        top = band["top"] + 0.35 * (index % 4)
        low = min(top + (0.6, 1.4, 0.0, 2.0)[index % 4], bottom - 0.2)
        shore = key in ("dock_cast", "dip_pole")
        cards.append(
            {
                "key": key,
                "name": name,
                "short": short,
                "water": "ice" if key == "ice_jig" else "boat",
                "rank": index + 1 if index < 6 else None,
                "best_chance": 0.6 if index == 0 else 0.08,
                "outings": 11,
                "sure": index == 0,
                "start": None if shore else top,
                "top": None if shore else top,
                "bottom": None if shore else low,
                "depth_text": "in 2–5 ft of water" if shore else _span(top, low, units),
                "place": "open water over the old channel",
                "value": 1.4 if index < 6 else None,
                "setup_figures": None,
                "how": "Let several jigs out well behind the boat and hold one speed.",
                "setup": "1/8 oz jig, 80 ft of 6 lb line out at 0.9 mph: runs at 13 ft",
                "log": "1.4 fish per boat-hour (0.8–2.3) from 11 outings; 9 in 10 of that your own",
                "why": "Bait runs just above the low-oxygen water, where the band is narrowest.",
                "caution": "Slow down in turns: inside rods sink 3 ft." if index == 0 else None,
            }
        )
    layered_years = 14 if number in (6, 7, 8) else 10 if layered else 0
    headline = (
        f"Layered. Fish the {_span(band['top'], band['bottom'], units)} band above the low-oxygen "
        "water."
        if layered
        else "Mixed from top to bottom: depth follows cover and light, not layers."
    )
    half = bottom / 2
    whole = _part(_MONTHS[number - 1], band, number, units)
    return {
        "month": f"{year}-{number:02d}",
        "title": f"{_FULL[number - 1]} {year}",
        "label": _MONTHS[number - 1],
        "basis": basis,
        "years": 14,
        "basis_text": "Odds from 14 years of weather"
        if basis == "odds"
        else "Computed from weather that was measured",
        "headline": headline,
        "halves_text": "1–15 spawn, 2 ft at cover; 16–30 post-spawn, 8 ft."
        if number == 5
        else None,
        "phase": {
            "key": _PHASES[number - 1],
            "name": _PHASES[number - 1].replace("_", "-").capitalize(),
            "text": "Females hold off the banks; males guard nests in coves first.",
        },
        "layered": {
            "chance": layered_years / 14,
            "text": f"Layered in {layered_years} of 14 years.",
        },
        "depths": [
            {
                "key": "thermocline",
                "name": "Thermocline",
                "low": thermocline and thermocline - 0.8,
                "median": thermocline,
                "high": thermocline and thermocline + 1.1,
                "text": f"{_depth(thermocline, units)} (8 years in 10: "
                f"{_span(thermocline - 0.8, thermocline + 1.1, units)})"
                if layered
                else "none while the lake is mixed",
            },
            {
                "key": "mixed_layer",
                "name": "Mixed layer",
                "low": (layered and thermocline - 1.6) or None,
                "median": thermocline and thermocline - 1.0,
                "high": thermocline and thermocline - 0.2,
                "text": f"down to {_depth(thermocline - 1.0, units)}"
                if layered
                else f"to the bottom, {_depth(bottom, units)}",
            },
            {
                "key": "oxygen_floor",
                "name": "Low oxygen",
                "low": zone["top"],
                "median": zone["middle"],
                "high": zone["bottom"],
                "text": f"thin from {_depth(zone['top'], units)}, "
                f"gone by {_depth(zone['bottom'], units)}"
                if zone["middle"]
                else "not a limit this month",
            },
        ],
        "surface": {
            "low": surface - 1.5,
            "median": surface,
            "high": surface + 1.6,
            "text": f"{_temperature(surface, units)} ({_temperature(surface - 1.5, units)} to "
            f"{_temperature(surface + 1.6, units)})",
        },
        "sun": {"text": "Sunrise 5:42, sunset 20:14 on the 15th"},
        "light": {
            "dawn": 0.2 * half,
            "midday": 0.55 * half,
            "dusk": 0.2 * half,
            "text": f"Light reaches {_depth(0.55 * half, units)} at midday, "
            f"{_depth(0.2 * half, units)} at dawn and dusk",
        },
        "oxygen_zone": zone,
        "band": band,
        "where": whole,
        "halves": [whole, {**whole, "label": f"16–30 {_MONTHS[number - 1]}"}],
        "halves_differ": number == 5,
        "curve": {
            "depth": depth.tolist(),
            "suits": np.exp(-(((depth - band["start"]) / 2) ** 2)).tolist(),
        },
        "bottom_text": "41 acres of bottom lie within the band, 30 % of the lake.",
        "places": [],
        "bait_text": "1.5 to 2 in, two-tone in stained water (common practice)",
        "ice": {"chance": 0.0, "text": None},
        "closures": "closed from 15 March to 30 April" if number == 4 else None,
        "tilt": {
            "upwind": 2.0,
            "downwind": 5.0,
            "text": "A 15 mph day tilts it: 3 ft shallower upwind, 3 ft deeper downwind.",
        }
        if layered
        else None,
        "profile": {
            "depth": depth.tolist(),
            "temperature": {
                "low": (temperature - spread).tolist(),
                "median": temperature.tolist(),
                "high": (temperature + spread).tolist(),
            },
            "oxygen": {
                "low": (0.7 * low_oxygen).tolist(),
                "median": low_oxygen.tolist(),
                "high": (1.2 * low_oxygen).tolist(),
            }
            if oxygen
            else None,
            "bottom": bottom,
        },
        "tactics": cards,
        "log_text": "Your log has 23 outings in this month over three years; 4 without a fish.",
        "front_text": "One front in three deepens the layers by 3 ft; they are back in 4 to 9 days."
        if layered
        else None,
        "not_known": [
            ["Bait", "no sounding of shad or minnows"],
            ["Weeds", "growth and edge not modelled"],
            ["Inflow", "no gauge on the creek"],
        ],
        "cautions": [
            "Check the official forecast; wind over 15 mph makes 2 ft waves on the long reach.",
            f"In {_FULL[number - 1]} look at the ramp before you launch.",
            "Power lines: look up before a long rod goes up, at the ramp most of all.",
            "Docks: never swim near one with electricity; current in the water does not show.",
            "In the dark: show the lights the law asks for, and carry a hand lamp.",
        ],
    }


def _part(label, band, number, units):
    rungs = [band["top"], band["bottom"]] if number != 5 else [band["top"]]
    return {
        "label": label,
        "phase": _PHASES[number - 1],
        "phase_name": _PHASES[number - 1].replace("_", "-"),
        "ice_chance": 0.0,
        "start": band["start"],
        "night": 0.8 * band["start"],
        "start_text": _depth(band["start"], units),
        "ladder": [
            {"depth": depth, "text": _depth(depth, units), "why": "in cooler water"}
            for depth in rungs
        ],
        "top": band["top"],
        "bottom": band["bottom"],
        "good": band["good"],
        "text": f"Start at {_depth(band['start'], units)}.",
    }


def sample_guide(
    *,
    key="marl",
    name="Marl Pit Lake",
    units="us",
    paper="letter",
    start=5,
    months=12,
    tactics=5,
    oxygen=True,
    bottom=10.4,
    demo=True,
):
    """A season guide of an invented lake."""
    made = []
    for offset in range(months):
        number = (start - 1 + offset) % 12 + 1
        year = 2026 + (start - 1 + offset) // 12
        made.append(
            sample_month(
                number,
                year,
                units=units,
                bottom=bottom,
                tactics=tactics,
                oxygen=oxygen,
                basis="hindcast" if offset == 0 else "odds",
            )
        )
    return {
        "schema": 1,
        "kind": "season",
        "units": units,
        "paper": paper,
        "club": "The Slack Water Club",
        "lake": {
            "key": key,
            "name": name,
            "place": "40.10 N, 89.20 W",
            "facts": [
                ["Size", "310 acres" if units == "us" else "125 ha"],
                ["Deepest", _depth(bottom, units)],
                ["Clarity", f"Secchi {_depth(1.2, units)} in summer"],
                ["Water", "fertile, wooded shores"],
            ],
            "max_depth": bottom,
            "region": None,
        },
        "species": "white crappie",
        "title": f"Season guide {made[0]['title']} to {made[-1]['title']}"
        if made
        else "Season guide",
        "as_of": "2026-04-30T23:00:00",
        "as_of_text": "30 April 2026",
        "made_with": "lakekit 0.1.0",
        "demo": demo,
        "weather": {
            "text": "Weather: invented hourly record of the demo, 2012 to 2026, public domain"
        },
        "confidence": {
            "level": "fair",
            "reasons": [
                "14 years of weather from a station 19 mi away",
                "two probe casts, both in July",
                "clarity from one reading",
            ],
        },
        "dates": [
            ["Layers set up", "28 April to 16 May, 14 of 14 years"],
            ["Turnover", "2 to 21 October, 14 of 14 years"],
            ["Spawn window", "22 April to 30 May, coves first"],
        ],
        "months": made,
        "method": [
            "A column of water is computed hour by hour from the weather, with 24 sets of "
            "uncertain parameters.",
            "The months ahead are the spread of that column under the weather of 14 past years.",
        ],
        "evidence": [
            ["Thermocline depth", "within 1.6 ft on average over 41 casts on two measured lakes"],
            ["Water temperature", "within 2.3 °F on average"],
        ],
        "sources": [
            "Weather: invented record of the demo.",
            "Spawning temperatures: Siefert 1968, Trans. Am. Fish. Soc. 97:252-259.",
        ],
        "cautions": [
            "This is no forecast of safety. Ice, wind, lightning and cold water are the skipper's "
            "to judge."
        ],
        "rules": [
            ["Rods", "3 per angler, checked 2 March 2026"],
            ["Limit", "15 crappie a day over 9 in"],
        ],
    }


def sample_note(**options):
    """A note after a front on the sample lake: layered before, mixed deeper after."""
    guide = sample_guide(months=5, **options)
    before, after = guide["months"][2], guide["months"][4]
    keys = ("layered", "depths", "oxygen_zone", "band", "profile", "surface")
    note = {
        key: guide[key]
        for key in (
            "units",
            "paper",
            "club",
            "lake",
            "species",
            "as_of",
            "as_of_text",
            "made_with",
            "demo",
            "weather",
            "sources",
            "method",
            "schema",
        )
    }
    return {
        **note,
        "kind": "front",
        "title": "After the front of 2 July",
        "headline": "The layers held, 6 ft deeper. The warm skin is back by Saturday; "
        "the thermocline in about a week.",
        "storm": {
            "text": "Front from 2 July 15:00 to 3 July 09:00: gusts to 31 mph, air down 19 °F, "
            "1.2 in of rain. Wind did most of the work, cooling the rest.",
            "start": "2026-07-02 20:00:00",
            "end": "2026-07-03 14:00:00",
            "wind_work": 310.0,
            "temperature_fall": 10.6,
            "pressure_fall": 9.0,
            "rain": 30.0,
            "peak_wind": 13.9,
            "found_by": "wind",
            "causes": {
                "wind": 0.7,
                "cooling": 0.3,
                "loss": 40.0,
                "mixed_layer": {
                    "with_both": 5.4,
                    "without_wind": 3.8,
                    "without_cooling": 4.7,
                    "without_both": 3.4,
                },
            },
        },
        "before": {
            "label": "Before: Wed 1 July",
            "time": "2026-07-01T17",
            **{key: before[key] for key in keys},
        },
        "after": {
            "label": "After: Fri 3 July",
            "time": "2026-07-03T17",
            **{key: after[key] for key in keys},
        },
        "date": "2026-07-03",
        "what_if": None,
        "verdict": "deeper",
        "broke_chance": 2 / 24,
        "recovery": {
            part: {
                "before_chance": 1.0,
                "lost_chance": 0.9,
                "back_chance": 1.0,
                "days": {"low": low, "median": median, "high": high},
            }
            for part, low, median, high in (
                ("skin", 1.0, 1.5, 2.0),
                ("broken", None, None, None),
                ("deeper", 5.0, 7.0, 11.0),
                ("oxygen_floor", None, None, None),
            )
        },
        "days": [
            {
                "key": key,
                "name": name,
                "label": f"{name}, {label}",
                "time": time,
                "basis": "past years",
                "layered": 1.0,
                "surface": {"low": 22.0, "median": 23.0, "high": 24.0},
                "mixed_layer": {"low": 4.6, "median": 5.2, "high": 5.8},
                "thermocline": {"low": 5.5, "median": 6.1, "high": 7.3},
                "oxygen_floor": {"low": 7.0, "median": 7.6, "high": 8.2},
                "deep": {"low": 11.0, "median": 12.0, "high": 13.0},
                "ashore": False,
                "start_depth": 5.8,
                "tactic": "Vertical jigging below the boat",
                "set_up": "Let it down until the line hangs straight.",
                "text": "73 °F on top; mixed to 17 ft; thermocline 20 ft; low oxygen from 25 ft "
                "down; start at 19 ft; vertical jig 17–21 ft",
            }
            for key, name, label, time in (
                ("tonight", "Tonight", "Fri 3 July 22:00", "2026-07-04T03"),
                ("tomorrow", "Tomorrow", "Sat 4 July 13:00", "2026-07-04T18"),
                ("day_after", "The day after", "Sun 5 July 13:00", "2026-07-05T18"),
                ("day_3", "Day 3", "Mon 6 July 13:00", "2026-07-06T18"),
            )
        ],
        "day_rows": [
            [
                "Tonight, Fri 3 July 22:00",
                "73 °F on top; mixed to 17 ft; thermocline 20 ft; low "
                "oxygen from 25 ft down; start at 19 ft; vertical jig 17–21 ft",
            ],
            [
                "Tomorrow, Sat 4 July 13:00",
                "74 °F on top; mixed to 17 ft; thermocline 20 ft; low "
                "oxygen from 25 ft down; start at 19 ft; vertical jig 17–21 ft",
            ],
            [
                "The day after, Sun 5 July 13:00",
                "75 °F on top; mixed to 16 ft; thermocline 19 ft; "
                "low oxygen from 25 ft down; start at 18 ft; vertical jig 16–20 ft",
            ],
            [
                "Day 3, Mon 6 July 13:00",
                "76 °F on top; mixed to 16 ft; thermocline 18 ft; low "
                "oxygen from 24 ft down; start at 17 ft; vertical jig 15–20 ft",
            ],
            ["Weather ahead", "no forecast: the middle of 14 past years"],
        ],
        "day_table": [
            ["", "On top", "Mixed to", "Thermocline", "Low oxygen", "Start at", "First set-up"],
            *[
                [day, "74 °F", "17 ft", "20 ft", "25 ft down", "19 ft", "Vertical jigging"]
                for day in (
                    "Tonight, Fri 3 July",
                    "Tomorrow, Sat 4 July",
                    "The day after, Sun 5 July",
                    "Day 3, Mon 6 July",
                )
            ],
        ],
        "signs": {"surface": {"value": 25.6, "depth": None, "right": 0.8, "seen": 0.7}},
        "wind": {
            "start": "2026-07-03 02:00:00",
            "end": "2026-07-03 05:00:00",
            "wind_from": 310.0,
            "toward": 135.0,
            "along": True,
            "upwind": {"low": 3.0, "median": 4.0, "high": 5.0},
            "downwind": {"low": 6.0, "median": 7.0, "high": 8.0},
            "upwelling_chance": 0.2,
            "level_after": [1.2, 4.8],
        },
        "wind_rows": [
            ["The blow", "NW wind at its height Thu 21:00–00:00: warm water to the SE end"],
            ["Thermocline then", "23 ft (20–26) at the SE end, 13 ft (10–16) at the NW end"],
            ["Level again", "1 to 5 hours after the wind drops; over by now"],
            ["Mud line", "look for one along the SE shore"],
        ],
        "took": "deeper",
        "came_days": None,
        "earlier": [],
        "trade_days": [3.0, 5.0],
        "past_years": list(range(2012, 2026)),
        "forecast_hours": 0,
        "oxygen_text": "oxygen reaches 6 ft deeper than before",
        "plan_title": "The plan now",
        "weather_rows": [],
        "changes": [
            ["Surface", "80 °F before, 73 °F after (71 to 75)"],
            ["Thermocline", "14 ft before, 20 ft after (18 to 24)"],
            ["Low oxygen", "from 19 ft before, from 25 ft after"],
            ["Layers broke", "in 2 of 24 members"],
        ],
        "ahead": [
            ["Warm top by day", "1 to 2 days"],
            ["Lasting thermocline", "5 to 11 days"],
            [
                "Sign that it is back",
                "surface 78 °F or more at noon two days running (8 of 10 such noons had it back)",
            ],
            ["Rule of thumb", "two or three hot calm days"],
        ],
        "hazards": [
            "Waves on the long reach 1 to 2 ft, single ones to 1.8 times that.",
            "Debris and high water after rain.",
        ],
        "plan_text": "Deeper warm water opens the 14 to 25 ft band: lipped lures move up, "
        "slip floats down.",
        "tactics": before["tactics"],
        "not_known": [["Inflow", "muddy water is likely: take a new clarity reading"]],
        "cautions": ["Check the official forecast and local rules; the skipper decides."],
        "message": "The layers held, 6 ft deeper.",
    }


def hostile_guide(**options):
    """The sample with hostile, long and foreign text wherever a user's words may stand."""
    guide = sample_guide(name=f"Lac d'Été {RIGHT_TO_LEFT} {HOSTILE}", **options)
    guide["club"] = EMOJI + " " + HOSTILE
    guide["lake"]["facts"].append(["Notes", LONG])
    guide["rules"].append(["Note", LONG])
    for month in guide["months"]:
        month["headline"] = HOSTILE + " " + LONG[:160]
        for tactic in month["tactics"]:
            tactic["name"] = "Ångström " + HOSTILE
            tactic["short"] = EMOJI
            tactic["setup"] = LONG
            tactic["why"] = LONG
            tactic["log"] = RIGHT_TO_LEFT + " " + EMOJI
            tactic["caution"] = LONG
        month["cautions"] = [LONG, HOSTILE, EMOJI]
        month["not_known"] = [[EMOJI, LONG]] * 5
        month["front_text"] = LONG
        month["log_text"] = LONG
    return guide
