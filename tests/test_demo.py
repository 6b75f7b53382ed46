"""The demo club: it reads without an error, is what its README says, and is made from seeds."""

import gzip
import sys

import numpy as np
import pandas as pd
import pytest

from lakekit.club import read_club
from lakekit.column.parameters import NAMES, default_parameters
from lakekit.probe import read_probe
from lakekit.resources import demo_folder
from lakekit.strata.spells import threshold
from lakekit.tactics.book import read_book, tactic_words
from lakekit.trips.read import read_trips
from lakekit.weather.tables import read_weather

DATA = demo_folder().parent
FIRST, LAST = pd.Timestamp("2013-01-01 00:00"), pd.Timestamp("2026-07-16 23:00")
HOURS = (LAST - FIRST) // pd.Timedelta("1h") + 1
pytestmark = pytest.mark.skipif(not (DATA / "make_demo.py").is_file(),
                                reason="the demo's makers are in a checkout only")


@pytest.fixture(scope="module")
def makers():
    """The modules that make the demo's files."""
    sys.path.insert(0, str(DATA))
    try:
        import demo_probe
        import demo_trips
        import demo_weather
        import make_demo
    finally:
        sys.path.remove(str(DATA))
    return {"weather": demo_weather, "trips": demo_trips, "probe": demo_probe, "make": make_demo}


@pytest.fixture(scope="module")
def club():
    return read_club()


@pytest.fixture(scope="module")
def weather_table(club):
    return pd.read_csv(club.lakes["teal-marsh"].weather.file, parse_dates=["time"])


@pytest.fixture(scope="module")
def trips(club):
    return read_trips(club.folder / "trips.csv", club, tactics=tactic_words(read_book()),
                      as_of=LAST)


def test_the_demo_says_that_it_is_invented(club):
    assert "invented" in club.name and club.invented
    for name in ("club.toml", "README.md", *(f"lakes/{key}.toml" for key in club.lakes)):
        assert "invented" in (club.folder / name).read_text(encoding="utf-8").lower()
    for lake in club.lakes.values():
        assert "Invented" in lake.weather.attribution and lake.rules.checked == "2026-02-14"


def test_two_contrasting_lakes(club):
    shallow, deep = club.lakes["teal-marsh"], club.lakes["quarry-hollow"]
    assert list(club.lakes) == ["quarry-hollow", "teal-marsh"]
    assert 5 < shallow.max_depth < 7 and 15 < deep.max_depth < 17
    assert shallow.secchi.max() < deep.secchi.min()
    assert deep.depth_area_source.startswith("depth table")
    assert shallow.depth_area_source.startswith("built from")
    assert deep.below_full_pond.max() > 0
    for lake in (shallow, deep):
        assert 38 < lake.latitude < 41 and -95 < lake.longitude < -85
        assert not any("not given" in note for note in lake.notes)


def test_the_tackle_serves_known_tactics(club):
    book = read_book()
    used = {tactic for lure in club.boat.lures for tactic in lure.tactics}
    assert used <= set(book) and len(used) >= 10


def test_the_weather_is_long_small_and_blemished(club, weather_table):
    assert sum(path.stat().st_size for path in club.folder.rglob("*") if path.is_file()) < 5e6
    time = weather_table["time"]
    assert (time.iloc[0], time.iloc[-1]) == (FIRST, LAST)
    gaps = time.diff().dt.total_seconds().to_numpy()[1:] / 3600 - 1
    assert (gaps == np.round(gaps)).all() and 48 <= gaps.max() <= 96
    assert (gaps > 0).sum() > 200 and 0.95 < len(time) / HOURS < 0.99
    cloudless = weather_table["cloud_pct"].isna()
    assert cloudless[(time >= "2019-04-22") & (time < "2019-05-19")].all()
    assert "shortwave_wm2" not in weather_table


def test_the_weather_is_that_of_a_continental_place(weather_table):
    hourly = weather_table.set_index("time")
    air, wind = hourly["air_temp_c"], hourly["wind_ms"]
    monthly = air.groupby(air.index.month).mean()
    assert -4 < monthly[1] < 1 and 22 < monthly[7] < 26
    assert air.min() > -30 and air.max() < 40
    assert 3.0 < wind.mean() < 4.0 and 10 < wind.quantile(0.9995) < 16
    local = (hourly.index.hour - 6) % 24
    assert wind[local == 3].mean() < 0.75 * wind[local == 14].mean()
    assert 700 < hourly["precip_mm"].sum() / (HOURS / 8766) < 1100
    summer = air[(air.index.month == 7)]
    by_hour = summer.groupby((summer.index.hour - 6) % 24).mean()
    assert by_hour.idxmax() in (14, 15, 16) and 7 < by_hour.max() - by_hour.min() < 13


def test_fronts_bring_wind_cold_and_a_falling_glass(makers):
    """At the peak of a blow the glass is low, and the day after is colder than the day before."""
    table = makers["weather"].invent_weather("2013-01-01", "2016-12-31 23:00", outages=False)
    hourly = table.set_index("time")
    wind, day = hourly["wind_ms"], pd.Timedelta(days=1)
    peaks = hourly.index[(wind == wind.rolling(97, center=True).max()) & (wind >= 8.5)]
    change, dip = [], []
    for peak in peaks:
        before = hourly.loc[peak - day : peak, "air_temp_c"].mean()
        change.append(hourly.loc[peak + 0.5 * day : peak + 1.5 * day, "air_temp_c"].mean() - before)
        dip.append(hourly.loc[peak - day / 4 : peak + day / 4, "pressure_hpa"].mean()
                   - hourly.loc[peak - 2 * day : peak + 2 * day, "pressure_hpa"].mean())
    assert 20 < len(peaks) / 4 < 60
    assert np.median(change) < -3 and np.mean(np.array(change) < 0) > 0.8
    assert np.median(dip) < -3 and np.mean(np.array(dip) < 0) > 0.8


def test_hot_calm_spells_come_every_summer(weather_table):
    hourly = weather_table.set_index("time")
    daily = hourly[["air_temp_c", "wind_ms"]].resample("D").mean()
    summer = daily[daily.index.month.isin([6, 7, 8])]
    hot_calm = (summer["air_temp_c"] > 25) & (summer["wind_ms"] < 2.5)
    assert (hot_calm.groupby(summer.index.year).sum() >= 3).mean() > 0.8


def test_the_record_ends_on_the_evening_after_a_front_that_ended_hot_calm_days(weather_table):
    hourly = weather_table.set_index("time")[["air_temp_c", "wind_ms"]]
    daily = hourly.resample("D").mean()
    calm, blown = daily.loc["2026-07-10":"2026-07-13"], daily.loc["2026-07-15"]
    assert (calm["air_temp_c"] > 25).all() and (calm["wind_ms"] < 2).all()
    assert blown["wind_ms"] > 6 and daily["air_temp_c"].iloc[-1] < calm["air_temp_c"].min() - 5
    assert hourly["wind_ms"].iloc[-6:].mean() < threshold("strong_wind")  # over by then


def test_the_last_months_leave_the_years_before_as_they_were(makers, weather_table):
    """They come from a seed of their own, and join without a jump."""
    maker = makers["weather"]
    years = maker.invent_weather(outages=False).set_index("time")
    here = weather_table[weather_table["time"] <= maker.JOIN].set_index("time")
    same = here["air_temp_c"] == years.loc[here.index, "air_temp_c"]
    assert same.all()
    joint = weather_table.set_index("time").loc["2026-03-31 12:00":"2026-04-01 12:00"]
    assert joint["air_temp_c"].diff().abs().max() < 3
    assert joint["pressure_hpa"].diff().abs().max() < 3


def test_the_same_seed_makes_the_same_hours(makers):
    weather, make = makers["weather"], makers["make"]
    first = weather.invent_weather("2013-01-01", "2013-06-30 23:00")
    second = weather.invent_weather("2013-01-01", "2013-06-30 23:00")
    pd.testing.assert_frame_equal(first, second, check_exact=True)
    packed = make.gzip_bytes(make.weather_text(first))
    assert packed == make.gzip_bytes(make.weather_text(second))
    assert gzip.decompress(packed).decode() == make.weather_text(first)
    assert packed[4:8] == b"\0\0\0\0"  # no time of writing
    other = weather.invent_weather("2013-01-01", "2013-06-30 23:00", seed=1)
    assert len(other) != len(first) or not other["air_temp_c"].equals(first["air_temp_c"])


def test_the_log_in_the_repository_is_the_one_made(makers, club):
    log = makers["trips"].invent_trips(makers["weather"].demo_record())
    text = log.to_csv(index=False, lineterminator="\n")
    assert (club.folder / "trips.csv").read_bytes().decode() == text
    for name, made in makers["make"].TABLES.items():
        assert (club.folder / name).read_bytes().decode() == made


def test_the_weather_reads_as_hourly_data(club):
    lake = club.lakes["quarry-hollow"]
    weather = read_weather(lake.weather.file, lake=lake)
    assert weather.sizes["time"] == HOURS
    assert np.isnan(weather["air_temperature"].values).mean() < 0.05


def test_the_log_is_long_and_blemished_as_real_ones(trips):
    assert trips["trip"].nunique() >= 150 and len(trips) >= 200
    assert set(trips["date"].dt.year) == {2023, 2024, 2025, 2026}
    assert trips["date"].max() < LAST.normalize()
    assert set(trips["tactic"]) >= set(read_book())
    assert 0.15 < (trips["fish"] == 0).mean() < 0.45
    reasons = " ".join(trips.attrs["excluded"]["reason"])
    for part in ("no hours", "in no hours", "the same in every cell", "no number of fish",
                 "1200 fish cannot be", "no lake 'Teel Mrsh Lake'", "hardly anything in it",
                 "in the future"):
        assert part in reasons
    assert len(trips.attrs["excluded"]) == 9
    findings = trips.attrs["findings"]
    for column in ("start", "rods", "surface_temp", "catch_depth", "kept", "tactic"):
        assert (findings.loc[findings["severity"] == "warning", "column"] == column).any()


def test_units_of_the_log_agree_across_its_columns(trips):
    """Half of one angler's rows are metric: both halves must mean the same water."""
    assert trips["catch_depth"].max() < 16 and trips["catch_depth"].notna().sum() > 60
    summer = trips[trips["date"].dt.month.isin([7, 8])]
    assert summer["surface_temp"].dropna().between(18, 33).all()


def test_the_log_carries_the_known_rates(makers, trips):
    """Over tactics and phases the log's rates follow the table they were drawn from."""
    maker = makers["trips"]
    trips = trips.assign(phase=[
        maker.season_phase(lake, date.day_of_year)
        for lake, date in zip(trips["lake"], trips["date"], strict=True)])
    known = trips[trips["tactic"].isin(maker.TRUE_RATES)]
    rods = (known["rods"] / known["tactic"].map(lambda name: maker.USUAL[name][1]))
    expected = (np.array([maker.true_rate(tactic, phase) for tactic, phase
                          in zip(known["tactic"], known["phase"], strict=True)])
                * known["hours"] * rods**maker.RODS_EXPONENT
                * known["lake"].map(maker.LAKE_EFFECT))
    assert known["fish"].sum() / expected.sum() == pytest.approx(1.0, abs=0.2)
    sums = pd.DataFrame({"tactic": known["tactic"], "fish": known["fish"], "expected": expected})
    sums = sums.groupby("tactic").sum()
    busy = sums[sums["expected"] > 40]
    assert len(busy) >= 6
    assert np.corrcoef(busy["fish"], busy["expected"])[0, 1] > 0.8


def test_probe_readings_of_both_lakes(club):
    probe = read_probe(club.folder / "probe.csv", club)
    casts = probe.groupby("lake")["time"].nunique()
    assert casts["quarry-hollow"] == 10 and casts["teal-marsh"] == 5
    last = probe.groupby("lake")["time"].max()
    assert ((LAST - last) < pd.Timedelta("7D")).all()
    assert 0.3 < probe["oxygen"].notna().mean() < 0.9
    july = probe[(probe["lake"] == "quarry-hollow") & (probe["time"].dt.month == 7)]
    assert july["temperature"].max() - july["temperature"].min() > 12


def test_the_truth_behind_the_probe_lies_off_centre(makers, club):
    for lake in club.lakes.values():
        truth = makers["probe"].true_parameters(lake)
        centre = default_parameters(lake)
        assert set(makers["probe"].TRUTH[lake.key]) == set(NAMES)
        for name in NAMES:
            assert abs(float(truth[name][0]) - float(centre[name][0])) > 0.01


def test_a_cast_is_the_column_with_noise(makers):
    """Noise of 0.15 degC and a quarter of a metre: a made cast stays near its column."""
    import xarray as xr

    depth = np.arange(0.2, 15.5, 0.4)
    column = 25 - 15 / (1 + np.exp(-(depth - 6)))
    hour = xr.Dataset({"water_temperature": ("depth", column),
                       "dissolved_oxygen": ("depth", np.clip(10 - depth, 0, None))},
                      coords={"depth": depth})
    lake = read_club().lakes["quarry-hollow"]
    rows = makers["probe"]._cast(hour, lake, "2025-07-12", "09:00", True,
                                 np.random.default_rng(3))
    read = pd.DataFrame(rows).astype({"depth_ft": float, "temperature_F": float})
    model = np.interp(read["depth_ft"] * 0.3048, depth, column)
    celsius = (read["temperature_F"] - 32) / 1.8
    assert np.sqrt(np.mean((celsius - model) ** 2)) < 1.2
    assert len(read) == 17 and (read["oxygen_mgl"].astype(float) >= 0.1).all()
