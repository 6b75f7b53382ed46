"""Finished front notes contradict neither themselves nor their lake, in any of their forms.

Sixty fronts are drawn by a seed, forty of the demo and twenty of a measured water; the suite reads
the first few of each, ``LAKEKIT_FRONTS=60`` all of them.
"""

import os
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from contradictions import contradictions, read_note
from front_helpers import short_club

from lakekit.bench.observed import beaverdam
from lakekit.column.parameters import draw_parameters
from lakekit.column.run import simulate
from lakekit.guide.front.note import front_note
from lakekit.pages.reports import write_front
from lakekit.strata import fronts, stratification
from lakekit.strata.events import layered
from lakekit.tactics.phase import daily_phases
from lakekit.weather import prepare_forcing

ALL = {"demo": 40, "measured": 20}
READ = {"demo": 3, "measured": 2}
if os.environ.get("LAKEKIT_FRONTS") == "60":
    READ = ALL
MEMBERS = 3  # a note's words are the same for few members as for many


def drawn(knowledge, number, seed):
    """Fronts with a year of weather before them, in random order, and hours after each."""
    table = fronts(knowledge.forcing)
    times = knowledge.forcing["time"].to_index()
    table = table[table["start"] > times[0] + pd.Timedelta(days=400)]
    table = table[table["start"].dt.month.between(4, 11)]
    table = table[table["end"] < times[-1] - pd.Timedelta(days=5)]
    random = np.random.default_rng(seed)
    order = random.permutation(len(table))[:number]
    hours = random.integers(0, 96, size=number)
    return [
        (table.iloc[at]["end"] + pd.Timedelta(hours=int(more)))
        for at, more in zip(order, hours, strict=False)
    ]


def check(club, knowledge, folder, as_of, *, units):
    club = replace(club, units=units)
    forcing = knowledge.forcing.sel(time=slice(None, as_of))
    cut = replace(
        knowledge, forcing=forcing, as_of=as_of.to_datetime64(), units=units,
        parameters=draw_parameters(knowledge.lake, MEMBERS, 5),
    )  # fmt: skip
    note = front_note(club, knowledge.lake.key, knowledge=cut)
    paths = write_front(note, folder)
    read = read_note(paths[0].read_bytes(), paths[1].read_text(), paths[2].read_text().strip())
    found = contradictions(read, deepest=knowledge.lake.max_depth)
    assert found == [], f"{knowledge.lake.key}, {as_of}, {units}: {found}"


@pytest.mark.parametrize("number", range(READ["demo"]))
def test_notes_of_the_demo_do_not_contradict_themselves(tmp_path_factory, tmp_path, number):
    club, knowledge = short_club(tmp_path_factory)
    as_of = drawn(knowledge, ALL["demo"], 11)[number]
    check(club, knowledge, tmp_path, as_of, units=("us", "metric")[number % 2])


@pytest.fixture(scope="module")
def measured(observations, tmp_path_factory):
    club, knowledge = short_club(tmp_path_factory)
    site = beaverdam(observations)
    lake = replace(site.lake, weather=knowledge.lake.weather)
    forcing = prepare_forcing(site.weather, lake)
    layers = stratification(simulate(lake, forcing)).isel(member=0)
    surface = layers["surface_temperature"].to_series()
    days = surface.index.normalize()
    flags = layered(layers).to_series().astype(float)
    phases = daily_phases(days, surface.to_numpy(), flags.to_numpy(), knowledge.species)
    return replace(club, lakes={lake.key: lake}), replace(
        knowledge, lake=lake, forcing=forcing, layers=layers, phases=pd.Series(phases, days)
    )


@pytest.mark.parametrize("number", range(READ["measured"]))
def test_notes_of_a_measured_water_do_not_contradict_themselves(measured, tmp_path, number):
    club, knowledge = measured
    as_of = drawn(knowledge, ALL["measured"], 12)[number]
    check(club, knowledge, tmp_path, as_of, units=("metric", "us")[number % 2])


def sound():
    """A small note without contradiction, as ``read_note`` gives it."""
    rows = [
        ("When", "Wed 1 Jul → Fri 3 Jul"),
        ("Start depth", "11 ft → 12 ft"),
        ("Thermocline", "9 ft (6–13) → 13 ft (10–16)"),
        ("Mixed layer", "6 ft (3–8) → 9 ft (6–12)"),
        ("Low oxygen", "from 33–35 ft down → from 36–38 ft down"),
        ("Fish band", "9–12 ft (at most 7–16) → 10–15 ft (at most 5–16)"),
        ("For fish", "oxygen reaches deeper: fish may roam down to 15 ft"),
        ("Layers broke", "hardly any chance"),
        ("Thermocline then", "13 ft (9–17) at the SE end, 10 ft (6–15) at the NW end"),
        ("The blow", "W wind at its height Thu 18:00–21:00: warm water to the SE end"),
        ("Tonight, Sat", "start at 10 ft; jigs 10 ft (8–14); 79 °F on top; thermocline 13 ft"),
        ("Tomorrow, Sun", "start at 12 ft; jigs 12 ft (10–15); 79 °F on top; no layers"),
        ("The day after, Mon", "no good band for fish; 79 °F on top; no layers"),
        ("Day 3, Tue", "79 °F on top; mixed to 4 ft; low oxygen from 36–38 ft down"),
    ]
    starts = "Start at 10 ft tonight, 12 ft tomorrow"
    headline = f"The layers are deeper: thermocline from 9 ft to 13 ft. {starts}, deep."
    page = f"{headline} {starts}; it was 11 ft. " + " ".join(f"{a} {b}" for a, b in rows)
    message = f"{headline}\nPlan for tomorrow: Jigs 12 ft (10–15)"
    return {"headline": headline, "rows": rows, "page": page, "pdf": page, "message": message}


def changed(note, label, text):
    rows = [(name, text if name == label else said) for name, said in note["rows"]]
    return {**note, "rows": rows}


def test_a_sound_note_passes():
    assert contradictions(sound(), deepest=15.8) == []


@pytest.mark.parametrize(
    ("label", "text", "what"),
    [
        ("Thermocline", "13 ft (10–16) → 9 ft (6–13)", "headline's thermocline"),
        ("Thermocline", "13 ft (10–16) → 9 ft (6–13)", "nothing says why"),
        ("Thermocline", "9 ft (6–13) → 83 ft (10–16)", "under the lake's bottom"),
        ("Mixed layer", "6 ft (3–8) → 19 ft (6–22)", "under a thermocline"),
        ("Low oxygen", "from 36–38 ft down → from 33–35 ft down", "oxygen reaches deeper, from"),
        ("Fish band", "9–12 ft (at most 7–16) → 4–8 ft (at most 3–9)", "start at 12"),
        ("Fish band", "4–15 ft (at most 3–16) → 3–13 ft (at most 3–14)", "may roam"),
        ("Fish band", "9–12 ft (at most 7–16) → no good band; pressed at 3–10 ft", "headline"),
        ("For fish", "no depth gained: oxygen still runs short from 33 ft down", "short from 33"),
        ("Layers broke", "about 80 %", "but the layers broke"),
        ("Thermocline then", "9 ft (9–17) at the SE end, 10 ft (6–15) at the NW end", "piled end"),
        ("Thermocline then", "13 ft (9–17) at the SE end, 10 ft (6–15) at the E end", "opposite"),
        # as it was: the start of noon over other starts for tonight and tomorrow
        ("Tonight, Sat", "start at 4 ft; 79 °F on top", "start for Tonight is 10.0, the row's 4.0"),
        ("Tomorrow, Sun", "start at 6 ft; 79 °F on top", "start for Tomorrow is 12.0"),
        ("Tomorrow, Sun", "79 °F on top; no layers", "start for Tomorrow is 12.0"),
        ("Tomorrow, Sun", "start at 12 ft; jigs 9 ft (8–10); 79 °F on top", "message plans 12"),
        ("Day 3, Tue", "start at 9 ft; 79 °F on top", "nothing says why"),
        ("Start depth", "11 ft → 10 ft", "start depth row ends at 10"),
        ("When", "Wed 1 Jul → Fri 3 Jul → Sat 4 Jul", "other steps"),
        ("Tonight, Sat", "79 °F on top; mixed to 24 ft; thermocline 13 ft", "mixed under"),
        ("Tomorrow, Sun", "79 °F on top; no layers; thermocline 13 ft", "no layers, and"),
        ("Day 3, Tue", "12 °F on top; low oxygen from 9 ft down; start at 20 ft", "without oxygen"),
    ],
)  # fmt: skip
def test_the_checker_finds_each_contradiction(label, text, what):
    found = " | ".join(contradictions(changed(sound(), label, text), deepest=15.8))
    assert what in found


def test_the_checker_finds_what_rows_alone_do_not_show():
    note = sound()
    assert any("°C" in text for text in contradictions(
        {**note, "page": note["page"] + " 24 °C"}, deepest=15.8))  # fmt: skip
    assert any("headline is another" in text for text in contradictions(
        {**note, "message": "The layers held."}, deepest=15.8))  # fmt: skip
    shallow = changed(note, "Tomorrow, Sun", "start at 12 ft; 79 °F on top; mixed to 4 ft")
    base = note["headline"].replace("deep.", "toward the base of the warm mixed layer.")
    assert any("at the foot of a top" in text for text in contradictions(
        {**shallow, "headline": base}, deepest=15.8))  # fmt: skip
    back = {**note, "rows": [*note["rows"], ("Low oxygen again", "comes up in 8 days")]}
    assert any("none before" in text for text in contradictions(
        changed(back, "Low oxygen", "none"), deepest=15.8))  # fmt: skip
    assert any("is cut" in text for text in contradictions(
        {**note, "pdf": note["pdf"] + " warm water to…"}, deepest=15.8))  # fmt: skip
    assert any("so many years" in text for text in contradictions(
        {**note, "page": note["page"] + " in 0 of 3 years"}, deepest=15.8))  # fmt: skip
    other = note["page"].replace("tonight, 12 ft tomorrow; it", "tonight, 9 ft tomorrow; it")
    assert any("the plan does not say" in text for text in contradictions(
        {**note, "page": other}, deepest=15.8))  # fmt: skip
    assert any("is not within" in text for text in contradictions(
        {**note, "page": note["page"] + " 9 ft (10–12)"}, deepest=15.8))  # fmt: skip
