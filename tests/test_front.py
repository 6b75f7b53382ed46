"""The front note: on the demo cut short, on broken weather, and on a measured storm."""

import json
import shutil
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from front_helpers import LAKE, ending, short_club
from guide_helpers import short_demo
from meteostat_server import WeatherServer, pull
from pypdf import PdfReader

from lakekit.bench.front import string_profiles
from lakekit.bench.observed import falling_creek
from lakekit.club import read_club
from lakekit.column.parameters import default_parameters, draw_parameters
from lakekit.errors import ClubError, WeatherError
from lakekit.fronts.causes import loss_shares, with_only
from lakekit.fronts.water import (
    next_noon,
    pick_front,
    state_at,
    told_as_of,
    water_through,
)
from lakekit.fronts.weather import contradiction, get_forecast
from lakekit.guide.front import words
from lakekit.guide.front.ahead import chance_text, days_text, trade_text, turnover_text
from lakekit.guide.front.days import day_table
from lakekit.guide.front.message import message, printed
from lakekit.guide.front.note import front_note
from lakekit.guide.front.weather import weather_rows
from lakekit.hazards import DEFER
from lakekit.pages.reports import meant, write_front
from lakekit.records import WeatherSource
from lakekit.resources import demo_folder
from lakekit.store import cache_folder
from lakekit.strata import fronts, stratification
from lakekit.strata.spread import widened
from lakekit.tactics.start import Band
from lakekit.units import depth_text
from lakekit.weather import prepare_forcing
from lakekit.weather.schema import FORCING, MEASURED, NEARBY_DAYS, pack_flags

JUNE = "2025-06-20"  # the demo's front of 25 to 27 June 2025 is the first after it


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    return short_club(tmp_path_factory)


@pytest.fixture(scope="module")
def note(known):
    club, knowledge = known
    return front_note(club, LAKE, JUNE, knowledge=knowledge)


def test_a_summer_front_has_all_its_answers(note):
    assert note["title"] == "After the front of 25–27 June 2025"
    assert note["headline"].startswith("The layers ")
    assert len(note["headline"]) <= 200
    assert [label for label, _ in note["changes"]] == [
        "When", "Start depth", "Surface", "Thermocline", "Mixed layer", "Deep water",
        "Low oxygen", "Fish band", "For fish", "Layers broke",
    ]  # fmt: skip
    assert [label for label, _ in note["ahead"]] == [
        "Warm top by day", "Thermocline, if deeper (about 75 %)", "Low oxygen again",
        "Sign that it is back",
        "Rule of thumb",
    ]  # fmt: skip
    before, after = note["before"], note["after"]
    assert after["surface"]["median"] < before["surface"]["median"] - 1.0
    assert after["depths"][0]["median"] > before["depths"][0]["median"]
    for state in (before, after):
        for entry in state["depths"]:
            if entry["median"] is not None:
                assert entry["low"] <= entry["median"] <= entry["high"]
        assert state["band"]["top_range"][0] <= state["band"]["top"]
    assert 0.0 <= note["broke_chance"] <= 1.0
    assert note["tactics"]
    assert note["plan_title"] == "The plan for tomorrow"
    tonight, tomorrow = note["days"][:2]
    assert tonight["start_depth"] < tomorrow["start_depth"] == after["band"]["start"]
    assert note["plan_text"].startswith(
        f"Start at {depth_text(tonight['start_depth'], 'us')} tonight, "
        f"{depth_text(tomorrow['start_depth'], 'us')} tomorrow; before the front it was "
    )
    assert note["hazards"][-1] == DEFER
    json.dumps(note, allow_nan=False)


def test_the_demos_last_front_breaks_the_shallow_lake_and_deepens_the_deep_one(known, tmp_path):
    """By the column's own computing: nothing of it is written in the demo."""
    club, knowledge = known
    deep = front_note(club, LAKE, knowledge=knowledge)
    folder = short_demo(tmp_path / "club", years=2, keep=("teal-marsh",))
    (folder / "trips.csv").unlink()
    shallow = front_note(read_club(folder), "teal-marsh")
    assert (shallow["verdict"], deep["verdict"]) == ("broken", "deeper")
    for note in (shallow, deep):
        assert note["title"] == "After the front of 14–16 July 2026"
        assert note["before"]["depths"][0]["median"] is not None
    surface = [note[when]["surface"]["median"] for note in (shallow, deep)
               for when in ("before", "after")]  # fmt: skip
    assert surface[1] < surface[0] - 2.0 and surface[3] < surface[2] - 2.0


def test_few_past_years_and_later_weather_are_said(note):
    assert note["past_years"] == [2023, 2024]
    rows = dict(map(tuple, note["weather_rows"]))
    assert "not used here" in rows["Later weather"]
    assert "none in the month before" in dict(map(tuple, note["not_known"]))["Readings"]


def test_message_is_short_and_ends_with_who_decides(note):
    assert len(note["message"]) <= 1000
    last = note["message"].splitlines()[-1]
    assert "skipper decides" in last
    assert last.endswith("Invented data.")
    assert note["headline"] in note["message"]
    wordy = note | {"hazards": [text * 5 for text in note["hazards"]], "headline": "x" * 200}
    assert len(message(wordy)) <= 1000


def test_the_printed_page_keeps_every_kind_of_answer(note):
    page = printed(note)
    assert page["hazards"] == note["hazards"]  # no caution is shortened for paper
    assert all(";" not in text for _, text in page["not_known"])
    left_out = {label for label, _ in note["changes"]} - {label for label, _ in page["changes"]}
    in_the_figure = {"Fish band", "Start depth", "Thermocline", "Low oxygen"}
    in_the_table = {"When", "Start depth", "Surface", "Mixed layer", "Thermocline", "Low oxygen"}
    assert left_out - {"Deep water"} <= in_the_figure | in_the_table
    head = note["day_table"][0]
    assert {"Start at", "On top", "Mixed to", "Thermocline", "Low oxygen"} <= {*head}
    assert {"For fish", "Layers broke"} <= {label for label, _ in page["changes"]}


def test_the_same_front_gives_the_same_note_from_what_is_kept(known, note):
    club, knowledge = known
    said = []
    again = front_note(club, LAKE, JUNE, knowledge=knowledge, progress=said.append)
    assert again == note
    assert not any("computing" in line for line in said)


def test_a_note_of_the_past_knows_nothing_of_what_came_after(known, note, tmp_path):
    """The same note from a club whose record, casts and trips end at the front, or lie after it."""
    folder = short_demo(tmp_path / "club", probe=True)
    shutil.copy(demo_folder() / "trips.csv", folder / "trips.csv")
    probe = pd.read_csv(folder / "probe.csv")
    probe[probe["date"] > "2025-01-01"].to_csv(folder / "probe.csv", index=False)  # for speed
    first = front_note(read_club(folder), LAKE, JUNE)
    for path in (folder / "weather").glob("*.csv.gz"):
        table = pd.read_csv(path)
        late = table.iloc[:, 0].astype(str) > "2025-08-15"
        wind = next(name for name in table.columns if "wind" in name.lower())
        table.loc[late, wind] = 0.3
        table[table.iloc[:, 0].astype(str) < "2025-11-01"].to_csv(path, index=False)
    probe = pd.read_csv(folder / "probe.csv")
    probe[probe["date"] < "2025-06-29"].to_csv(folder / "probe.csv", index=False)
    trips = pd.read_csv(folder / "trips.csv")
    trips[trips["date"] < "2025-06-29"].to_csv(folder / "trips.csv", index=False)
    second = front_note(read_club(folder), LAKE, JUNE)
    told = {"weather_rows", "not_known"}  # these say how much later weather there is
    assert {k: v for k, v in first.items() if k not in told} == {
        k: v for k, v in second.items() if k not in told
    }


def test_files_have_fixed_names_and_are_whole(note, tmp_path):
    paths = write_front(note, tmp_path)
    assert [path.name for path in paths] == [
        *(f"quarry-hollow-front-2025-06-28.{suffix}" for suffix in ("pdf", "html", "txt", "json")),
        "fronts.csv",
    ]
    assert json.loads(paths[3].read_text()) == json.loads(json.dumps(meant(note)))
    assert paths[2].read_text() == note["message"] + "\n"
    first = [path.read_bytes() for path in paths]
    assert [path.read_bytes() for path in write_front(note, tmp_path)] == first
    assert sorted(tmp_path.iterdir()) == sorted([tmp_path / "front.schema.json", *paths])


def test_no_sentence_is_cut_in_print(note, tmp_path):
    long = [f"A caution that goes on and on, number {number}; and then some more." for number in
            range(40)]  # fmt: skip
    for told in (note, note | {"not_known": [["Thing", text] for text in long]}):
        page = PdfReader(write_front(told, tmp_path)[0]).pages
        assert len(page) == 1
        text = " ".join(page[0].extract_text().split())
        assert "…" not in text
        back = dict(map(tuple, note["ahead"]))["Low oxygen again"]
        assert back.split(";")[0] in text  # the answer outlasts what gives way


def test_a_metric_club_reads_metres_and_degrees_celsius(known, note, tmp_path):
    club, knowledge = known
    metric = front_note(replace(club, units="metric", paper="a4"), LAKE, JUNE, knowledge=knowledge)
    words_of = json.dumps([metric[k] for k in ("headline", "changes", "ahead", "plan_text")])
    assert " ft" not in words_of
    assert "F" not in dict(map(tuple, metric["changes"]))["Surface"]
    assert metric["after"]["profile"] == note["after"]["profile"]
    assert all(path.stat().st_size > 0 for path in write_front(metric, tmp_path))


def test_the_last_front_of_a_record_is_told_as_of_its_end(known):
    club, knowledge = known
    cut = ending(knowledge, "2025-06-29T23:00")
    note = front_note(club, LAKE, knowledge=cut)
    assert note["title"] == "After the front of 25–27 June 2025"
    assert note["as_of"] == "2025-06-29T23"
    assert note["after"]["label"] == "Tomorrow: Mon 30 June"
    surface = dict(map(tuple, note["changes"]))["Surface"]
    assert surface.count("→") == 2  # before, after, tomorrow


def test_a_front_still_blowing_is_told_from_the_hours_ahead(known):
    club, knowledge = known
    note = front_note(club, LAKE, knowledge=ending(knowledge, "2025-06-27T02:00"))
    assert note["after"]["label"].startswith(("Expected", "After", "Tomorrow"))
    assert note["headline"].startswith("The layers")


@pytest.mark.parametrize(
    ("since", "what"), [("tomorrow?", "is not a date"), ("2026-12-01", "no front between")]
)
def test_a_since_that_cannot_serve_is_one_message(known, since, what):
    club, knowledge = known
    with pytest.raises(ClubError, match=what):
        front_note(club, LAKE, since, knowledge=knowledge)


def test_fronts_long_past_are_told_as_of_the_noon_after():
    front = {"start": pd.Timestamp("2025-06-26"), "end": pd.Timestamp("2025-06-28T01:00")}
    assert told_as_of(front, "2025-07-02T10:00", -90.0) == pd.Timestamp("2025-07-02T10:00")
    assert told_as_of(front, "2026-03-31T23:00", -90.0) == pd.Timestamp("2025-06-28T17:00")
    assert next_noon("2025-06-28T18:00", -90.0) == pd.Timestamp("2025-06-28T18:00")


def test_pick_front_takes_the_last_or_the_first_since():
    table = pd.DataFrame(
        {"start": pd.to_datetime(["2025-06-01", "2025-06-10"]),
         "end": pd.to_datetime(["2025-06-02", "2025-06-11"]), "rain": [0.0, 3.0]}
    )  # fmt: skip
    assert pick_front(table, "2025-06-20")["rain"] == 3.0
    assert pick_front(table, "2025-06-20", since="2025-05-30")["rain"] == 0.0
    assert pick_front(table, "2025-06-20", since="2025-06-12") is None
    assert pick_front(table, "2025-06-05")["rain"] == 0.0


# the kept state


def test_a_kept_state_is_used_for_exactly_its_weather_lake_and_parameters(known, tmp_path):
    _, knowledge = known
    lake, forcing = knowledge.lake, knowledge.forcing
    parameters = default_parameters(lake)
    said = []

    def state(lake=lake, forcing=forcing, parameters=parameters, until="2025-05-01"):
        said.clear()
        return state_at(lake, forcing, parameters, until, folder=tmp_path, say=said.append)

    whole = state()
    assert said
    xr.testing.assert_identical(state(), whole)
    assert not said
    state(forcing=forcing.isel(time=slice(0, -100)))  # later hours are none of its business
    assert not said
    mended = forcing.copy(deep=True)
    mended["air_temperature"][dict(time=mended["time"].to_index().get_loc("2024-07-01 12:00"))] += 5
    warmer = state(forcing=mended)
    assert said
    assert not np.array_equal(warmer["temperature"], whole["temperature"])
    state(parameters=draw_parameters(lake, 2, 1))
    assert said
    state(lake=replace(lake, surroundings="open"))
    assert said


def test_a_note_resumes_from_no_other_water(known, tmp_path, monkeypatch):
    """A record that was behind, one mended and a whole one: each as from an empty cache."""
    club, knowledge = known
    few = replace(knowledge, parameters=draw_parameters(knowledge.lake, 2, 5))
    mended = few.forcing.copy(deep=True)
    mended["air_temperature"].loc[dict(time=slice("2025-06-05", "2025-06-23"))] -= 5.0
    records = [
        ending(few, "2025-06-28T02:00"),
        ending(replace(few, forcing=mended), "2025-06-29T23:00"),
        ending(few, "2025-06-29T23:00"),
    ]
    one_after_another = [front_note(club, LAKE, knowledge=record) for record in records]
    for number, note in enumerate(one_after_another[1:], 1):
        monkeypatch.setenv("LAKEKIT_CACHE", str(tmp_path / f"{number}"))
        said = []
        again = front_note(club, LAKE, knowledge=records[number], progress=said.append)
        assert any("computing" in line for line in said)
        assert again == note
    behind, cold, whole = one_after_another
    assert cold["before"]["surface"]["median"] < whole["before"]["surface"]["median"] - 0.5
    assert behind["as_of"] != whole["as_of"]


def test_a_damaged_state_is_computed_again(known, tmp_path):
    _, knowledge = known
    lake, forcing = knowledge.lake, knowledge.forcing
    parameters = default_parameters(lake)
    whole = state_at(lake, forcing, parameters, "2025-05-01", folder=tmp_path)
    (path,) = tmp_path.glob("*/*/*.nc")
    path.write_bytes(path.read_bytes()[:1000])
    again = state_at(lake, forcing, parameters, "2025-05-01", folder=tmp_path)
    np.testing.assert_array_equal(again["temperature"], whole["temperature"])


def test_a_record_too_short_says_so(known, tmp_path):
    _, knowledge = known
    short = knowledge.forcing.sel(time=slice("2025-05-20", None))
    with pytest.raises(WeatherError, match="days of weather lead up"):
        state_at(knowledge.lake, short, default_parameters(knowledge.lake), "2025-06-01",
                 folder=tmp_path)  # fmt: skip


def test_states_live_in_the_cache_folder(note):
    assert list((cache_folder() / "kept" / "states" / LAKE).glob("*.nc"))
    assert note["kind"] == "front"


# a probe cast before the front


# what did it


def test_shares_add_up_and_follow_the_stronger():
    stability = {(True, True): 60.0, (True, False): 70.0, (False, True): 90.0,
                 (False, False): 100.0}  # fmt: skip
    mixed = dict.fromkeys(stability, 3.0)
    found = loss_shares(stability, mixed, 100.0)
    assert found["wind"] == pytest.approx(0.75, abs=1e-12)
    assert found["cooling"] == pytest.approx(0.25, abs=1e-12)
    assert words.cause_text(found, "us", rain=0.0) == (
        "Wind did about 75 % of the work, cooling 25 %."
    )
    assert "rain's inflow is not computed" in words.cause_text(found, "us", rain=30.0)
    held = dict.fromkeys(stability, 100.0)
    assert loss_shares(held, mixed, 100.0) is None


def test_leaving_out_wind_or_cooling_changes_only_that(known):
    _, knowledge = known
    forcing = knowledge.forcing.sel(time=slice("2025-06-10", "2025-06-29"))
    front = {"start": pd.Timestamp("2025-06-26"), "end": pd.Timestamp("2025-06-28")}
    until = pd.Timestamp("2025-06-28T18:00")
    calm = with_only(forcing, front, until, wind=False, cooling=True)
    inside = dict(time=slice("2025-06-26", "2025-06-27T23:00"))
    assert (calm["wind_speed"].sel(inside) <= forcing["wind_speed"].sel(inside)).all()
    assert float(calm["wind_speed"].sel(inside).mean()) < 0.8 * float(
        forcing["wind_speed"].sel(inside).mean()
    )
    xr.testing.assert_identical(calm["air_temperature"], forcing["air_temperature"])
    warm = with_only(forcing, front, until, wind=True, cooling=False)
    xr.testing.assert_identical(warm["wind_speed"], forcing["wind_speed"])
    assert float(warm["air_temperature"].sel(inside).mean()) > float(
        forcing["air_temperature"].sel(inside).mean()
    )
    same = with_only(forcing, front, until, wind=True, cooling=True)
    xr.testing.assert_identical(same, forcing)


# broken weather, each fault said


STATION = {"station": "X1", "station_name": "Airfield", "kind": "observations", "notes": ""}


def row_texts(rows):
    return " | ".join(f"{label}: {text}" for label, text in rows)


def test_weather_that_ends_three_days_ago_is_said(known):
    club, knowledge = known
    cut = ending(knowledge, "2025-06-29T23:00", attrs=STATION)
    note = front_note(club, LAKE, knowledge=cut, now="2025-07-03T00:00")
    text = row_texts(note["weather_rows"])
    assert "station Airfield fell silent: it ends 3 days ago, on 29 June 23:00 UTC" in text
    assert "fell silent" in note["message"]
    assert ["Old weather"] == [row[0] for row in note["not_known"][:1]]


def test_fresh_weather_says_nothing_of_its_age(known):
    _, knowledge = known
    forcing = knowledge.forcing.sel(time=slice(None, "2025-06-29T23:00"))
    rows = weather_rows(forcing, None, "2025-06-29T23:00", record_end="2025-06-29T23:00",
                        now="2025-06-30T03:00")  # fmt: skip
    assert "Old weather" not in row_texts(rows)


def test_a_gap_during_the_storm_is_said(known):
    _, knowledge = known
    forcing = knowledge.forcing.sel(time=slice("2025-06-01", "2025-06-29T23:00"))
    front = {"start": pd.Timestamp("2025-06-26"), "end": pd.Timestamp("2025-06-28"),
             "kind": "wind"}  # fmt: skip
    methods = {name: np.full(forcing.sizes["time"], MEASURED) for name in FORCING}
    hole = np.asarray(
        forcing["time"]
        .to_index()
        .slice_indexer("2025-06-26T03:00", "2025-06-26T11:00")
        .indices(10**6)
    )
    methods["wind_speed"][hole[0] : hole[1]] = NEARBY_DAYS
    broken = forcing.assign(fill_flag=("time", pack_flags(methods), forcing["fill_flag"].attrs))
    rows = weather_rows(broken, front, "2025-06-29T23:00", record_end="2025-06-29T23:00")
    assert "storm's weather: filled, not measured: wind in 9 of 60 hours" in row_texts(rows)


def forecast_from(knowledge, start, days=4, *, warmer=0.0):
    """Last year's weather as a prepared forecast."""
    times = pd.date_range(start, periods=24 * days, freq="h", unit="ns")
    part = knowledge.forcing.sel(time=times - pd.DateOffset(years=1))
    part = part.assign_coords(time=times)
    part["air_temperature"] = part["air_temperature"] + warmer
    return part


def test_a_forecast_that_contradicts_the_observations_is_said(known):
    _, knowledge = known
    forcing = knowledge.forcing.sel(time=slice(None, "2025-06-29T23:00"))
    seen = float(forcing["air_temperature"][-3:].mean())
    good = forecast_from(knowledge, "2025-06-30")
    start = float(good["air_temperature"][:3].mean())
    agreed = good.assign(air_temperature=good["air_temperature"] + seen - start)
    assert not [row for row in contradiction(forcing, agreed, "2025-06-29T23:00")
                if row[0] == "air_temperature"]  # fmt: skip
    wrong = good.assign(air_temperature=good["air_temperature"] + seen - start + 10.0)
    found = dict((row[0], row[1:]) for row in contradiction(forcing, wrong, "2025-06-29T23:00"))
    assert found["air_temperature"][1] - found["air_temperature"][0] == pytest.approx(10, abs=0.01)
    rows = weather_rows(forcing, None, "2025-06-29T23:00", record_end="2025-06-29T23:00",
                        forecast=wrong)  # fmt: skip
    assert "contradicts the observations: air temperature" in row_texts(rows)


def test_a_forecast_counts_where_it_reaches_and_its_days_have_hazards(known):
    club, knowledge = known
    cut = ending(knowledge, "2025-06-29T23:00")
    plain = front_note(club, LAKE, knowledge=cut)
    hot = forecast_from(knowledge, "2025-06-30", warmer=12.0)
    note = front_note(club, LAKE, knowledge=cut, forecast=hot)
    assert note["forecast_hours"] == 96
    assert plain["forecast_hours"] == 0
    assert any(text.startswith(("Sunday 29 June", "Monday 30 June")) for text in note["hazards"])
    assert not any("June" in text for text in plain["hazards"])
    assert note["recovery"] != plain["recovery"]


def served_forecast(hours=72):
    """A forecast as the service sends it: calm and cold, hourly from 1 December 2099."""
    series = []
    for step in range(hours):
        moment = pd.Timestamp("2099-12-01T01:00") + pd.Timedelta(hours=step)
        details = {
            "air_temperature": 12.0, "cloud_area_fraction": 80.0, "relative_humidity": 70.0,
            "wind_speed": 9.0, "air_pressure_at_sea_level": 1010.0,
        }  # fmt: skip
        data = {
            "instant": {"details": details},
            "next_1_hours": {"details": {"precipitation_amount": 0.0},
                             "summary": {"symbol_code": "cloudy"}},
        }  # fmt: skip
        series.append({"time": f"{moment:%Y-%m-%dT%H:%M:%SZ}", "data": data})
    return json.dumps({"properties": {"timeseries": series}}).encode()


def test_a_forecast_from_the_service_itself_reaches_the_note(known, tmp_path):
    """Pulled by the library from a loopback server, then moved to the end of the demo's record."""
    club, knowledge = known
    with WeatherServer({"/forecast": served_forecast()}) as server:
        answer = pull(server.port, tmp_path, now="2099-12-01T00:30", forecast=True,
                      out=str(tmp_path / "f.nc"))  # fmt: skip
    assert answer["outcome"] == "weather"
    with xr.open_dataset(tmp_path / "f.nc", engine="h5netcdf") as pulled:
        raw = pulled.load()
    start = pd.Timestamp("2025-06-30")
    raw = raw.assign_coords(time=pd.date_range(start, periods=raw.sizes["time"], freq="h"))
    station = replace(knowledge.lake, weather=WeatherSource(station="X1"))
    forecast, why = get_forecast(station, fetch=lambda lake, now=None: raw)
    assert why is None
    note = front_note(club, LAKE, knowledge=ending(knowledge, "2025-06-29T23:00"),
                      forecast=forecast)  # fmt: skip
    assert note["forecast_hours"] == raw.sizes["time"]
    assert "forecast: Meteostat" in note["weather"]["text"]
    assert "MET Norway" in note["weather"]["text"]
    assert any("Wind: 20" in text for text in note["hazards"])  # 9 m/s is 20.1 mph
    found = [text for label, text in note["weather_rows"] if label == "Forecast"]
    assert any("contradicts the observations" in text for text in found)  # summer, then 12 degC


def test_without_a_network_the_note_says_so(known):
    _, knowledge = known

    def fetch(lake, now=None):
        raise WeatherError("server out of reach")

    station = replace(knowledge.lake, weather=WeatherSource(station="X1"))
    found, why = get_forecast(station, fetch=fetch)
    assert found is None
    assert "server out of reach" in why
    assert get_forecast(knowledge.lake, fetch=fetch) == (
        None, "none with a weather file; the days ahead are past years' weather",
    )  # fmt: skip
    rows = weather_rows(
        knowledge.forcing.assign_attrs(notes="weather server out of reach: last pulled 9 days ago"),
        None, "2026-03-31T23:00", record_end="2026-03-31T23:00", no_forecast=why,
    )  # fmt: skip
    assert "last pulled 9 days ago" in row_texts(rows)
    assert "server out of reach" in row_texts(rows)


@pytest.mark.parametrize("lost", ["wind_speed", "air_temperature", "most hours"])
def test_a_forecast_that_cannot_serve_is_left_out_with_its_reason(known, lost):
    _, knowledge = known
    raw = forecast_from(knowledge, "2025-06-30").drop_vars("fill_flag")
    if lost == "most hours":
        raw["wind_speed"][5:70] = np.nan
    else:
        raw = raw.drop_vars(lost)
    station = replace(knowledge.lake, weather=WeatherSource(station="X1"))
    found, why = get_forecast(station, fetch=lambda lake, now=None: raw)
    assert found is None
    assert why.startswith("none; the days ahead are past years' weather (")


def test_a_forecast_with_a_short_hole_or_without_rain_or_direction_still_serves(known):
    club, knowledge = known
    raw = forecast_from(knowledge, "2025-06-30").drop_vars(
        ["fill_flag", "precipitation", "wind_direction"]
    )
    raw["air_temperature"][10:13] = np.nan
    station = replace(knowledge.lake, weather=WeatherSource(station="X1"))
    forecast, why = get_forecast(station, fetch=lambda lake, now=None: raw)
    assert why is None and np.isfinite(forecast["air_temperature"]).all()
    note = front_note(club, LAKE, knowledge=ending(knowledge, "2025-06-29T23:00"),
                      forecast=forecast)  # fmt: skip
    assert note["forecast_hours"] == 96
    assert [day["basis"] for day in note["days"]] == ["forecast"] * 4
    assert dict(map(tuple, note["day_rows"]))["Weather ahead"] == "a forecast"


# sentences


def state(**changes):
    nan = np.full(3, np.nan)
    floors = dict.fromkeys(("top", "middle", "bottom"), nan)
    base = {"floors": floors, "top_oxygen": 8.0, "band": Band(2.0, 4.0, True, "above_oxygen_floor")}
    return SimpleNamespace(**base | changes)


def floor(depth):
    return {limit: np.full(3, depth) for limit in ("top", "middle", "bottom")}


def test_fish_may_roam_deeper_or_bad_water_came_up():
    before = state(floors=floor(4.0))
    deeper = state(floors=floor(6.0), band=Band(2.0, 6.0, True, "above_oxygen_floor"))
    assert words.oxygen_verdict(before, deeper, "us") == (
        "oxygen reaches deeper: fish may roam down to 20 ft"
    )
    same = state(floors=floor(6.0))
    assert words.oxygen_verdict(before, same, "us") == (
        "oxygen reaches deeper: but the band still ends at 13 ft"
    )
    squeezed = state(band=Band(2.0, 4.0, False, "warm_and_squeezed"))
    assert words.oxygen_verdict(before, squeezed, "us") == (
        "oxygen reaches the bottom for now: but no good band for fish; pressed at 7–13 ft"
    )
    assert words.oxygen_verdict(before, state(top_oxygen=4.0), "us") == (
        "low-oxygen water was mixed up: 8 → 4 mg/L near the surface; fish may be off the feed"
    )
    risen = words.oxygen_verdict(before, state(floors=floor(2.0)), "us")
    assert risen == "low-oxygen water came up: it begins at 7 ft now, at 13 ft before"
    assert "no depth gained" in words.oxygen_verdict(before, state(floors=floor(4.1)), "us")


def recovery(days, *, back=1.0, before=1.0, lost=1.0, broke=0.6):
    parts = ["skin", "broken", "deeper", "oxygen_floor"]
    data = {
        name: ("part", np.full(4, value))
        for name, value in (("before", before), ("lost_chance", lost), ("back_chance", back))
    }
    data["days"] = (("part", "quantile"), np.tile(np.asarray(days, float), (4, 1)))
    attrs = {"horizon": 30, "broke_chance": broke}
    return xr.Dataset(data, coords={"part": parts}, attrs=attrs)  # fmt: skip


def test_days_until_it_is_back():
    assert days_text(recovery([2.2, 5.4, 9.9]), "broken", 13) == "in 5 days (2 to 10)"
    assert days_text(recovery([2.2, 5.4, np.inf], back=0.8), "broken", 13) == (
        "in 5 days (2 to 30+)"
    )
    late = recovery([20.0, np.inf, np.inf], back=0.4)
    assert days_text(late, "broken", 13) == "within 30 days with a chance of only 40 %"
    assert days_text(late, "broken", 5) == "within 30 days in only 2 of 5 years"
    assert days_text(recovery([np.nan] * 3), "broken", 13) is None
    assert chance_text(0.01) == "hardly any chance"
    assert chance_text(0.12) == "about 10 %"


def test_autumn_is_turnover_only_when_the_surface_falls():
    gone = recovery([np.inf] * 3, back=0.1)
    assert turnover_text(gone, 0.5) is None
    assert turnover_text(gone, -6.0) == "about 90 % that the layers are gone until spring"
    assert turnover_text(recovery([3, 4, 5], lost=0.0), -6.0) == "still to come"


def test_the_trades_rule_stands_beside():
    two = np.array([[2.0, 9.0], [4.0, 9.0], [6.0, np.inf]])
    assert trade_text(two, 3).endswith("two had come by day 4")
    assert "no source" in trade_text(two, 3)
    assert "no past year" in trade_text(np.full((3, 2), np.inf), 3)


def test_heavy_rain_asks_for_a_clarity_reading(known):
    _, knowledge = known
    rows = dict(map(tuple, words.rain_rows({"rain": 40.0}, knowledge.lake, "metric")))
    assert "clarity reading" in rows["Muddy inflow"]
    assert "1.4 °C" in rows["Inflow"]
    assert words.rain_rows({"rain": 10.0}, knowledge.lake, "us") == []


def test_ranges_are_widened_by_the_columns_own_error():
    low, middle, high = widened([2.0, 3.0, 3.0], 0.5, low=0.0, high=3.5)
    assert middle == 3.0
    assert low == pytest.approx(3.0 - np.hypot(1.0, 0.6408), abs=1e-9)
    assert high == 3.5


# measured water


def test_the_september_storm_of_2018_on_measured_water(observations, tmp_path):
    """Mixed layer after the storm of 13-17 September 2018 against the sensor string (EDI 271)."""
    site = falling_creek(observations)
    forcing = prepare_forcing(site.weather, site.lake)
    table = fronts(forcing)
    front = pick_front(table[table["start"] > "2018-09-13"], "2018-12-31", since="2018-09-13")
    assert front["rain"] > 50.0
    noon = next_noon(front["end"], site.lake.longitude)
    water = water_through(
        site.lake, forcing, front, noon - pd.Timedelta(hours=1),
        draw_parameters(site.lake, 8, 0), readings=site.casts, folder=tmp_path,
    )  # fmt: skip
    assert water.cast == site.casts[site.casts["time"] <= noon]["time"].max()
    seen = stratification(string_profiles(observations).sel(time=[noon]))
    computed = float(water.after["mixed_layer_depth"].median())
    assert computed == pytest.approx(float(seen["mixed_layer_depth"][0]), abs=1.0)
    was = float(water.before["mixed_layer_depth"].median())
    assert computed > was + 0.5
    rows = words.rain_rows(front, site.lake, "metric")
    assert any("deep water" in text for _, text in rows)


@pytest.mark.parametrize(
    ("chance", "layered", "told"),
    [(1.0, True, "7 ft"), (0.86, True, "7 ft"), (0.6, True, "7 ft, 6 in 10"),
     (0.41, False, "none, 6 in 10"), (0.1, False, "none")],
)  # fmt: skip
def test_a_day_whose_layers_are_a_toss_says_in_how_many_runs(chance, layered, told):
    state = SimpleNamespace(
        chance=chance, layered=layered, thermocline=[1.9, 7 * 0.3048, 2.4],
        mixed_layer=[1.5, 2.1, 2.2], surface=[25.0, 26.0, 27.0],
        floors=dict.fromkeys(("top", "middle", "bottom"), [np.nan] * 3),
    )  # fmt: skip
    entry = {"label": "Day 3, Sun 19 July 13:00", "start_depth": 2.7, "tactic": "Float",
             "ashore": False}  # fmt: skip
    head, row = day_table([entry], [state], "us")
    assert row[head.index("Thermocline")] == told
