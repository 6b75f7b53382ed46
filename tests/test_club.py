"""The club reader: each wrong field is named with its file, its key and the mend."""

import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from lakekit.club import (
    LINE_DENSITY,
    LURE_MATERIALS,
    check_lake,
    find_lake,
    new_club,
    read_club,
    read_lake,
)
from lakekit.constants import GRAVITY
from lakekit.depth_area import depth_area_from_depths, trapezoid_volume
from lakekit.errors import ClubError
from lakekit.fields import interpolate_months
from lakekit.guide.lake import describe_lake
from lakekit.records import DEFAULT_SECCHI, FERTILITY, SECCHI_BOUNDS
from lakekit.resources import notebooks_folder, template_folder
from lakekit.units import ACRE, FOOT, MILE

REQUIRED = {
    "name": '"Test Pond"', "latitude": "40.1", "longitude": "-89.2",
    "time_zone": '"America/Chicago"', "area": '"310 acres"', "max_depth": '"34 ft"',
}
CLUB = 'name = "Test club"\n'


def lake_text(extra="", **changes):
    """A lake file: the required keys with changes (None leaves a key out), then ``extra``."""
    keys = {**REQUIRED, **changes}
    return "".join(f"{key} = {value}\n" for key, value in keys.items() if value) + extra


def write_club(folder, lake=None, club=CLUB):
    (folder / "lakes").mkdir(parents=True, exist_ok=True)
    (folder / "club.toml").write_text(club, encoding="utf-8")
    (folder / "lakes" / "pond.toml").write_text(lake or lake_text(), encoding="utf-8")
    return folder


def lake_error(folder, text):
    """The ClubError of a lake file with that text."""
    path = write_club(folder, lake=text) / "lakes" / "pond.toml"
    with pytest.raises(ClubError) as caught:
        read_lake(path, club_folder=folder)
    return caught.value


def good_lake(folder, text):
    path = write_club(folder, lake=text) / "lakes" / "pond.toml"
    return read_lake(path, club_folder=folder)


def test_the_six_required_keys_are_enough(tmp_path):
    lake = good_lake(tmp_path, lake_text())
    assert lake.key == "pond"
    assert lake.area == pytest.approx(310 * ACRE, rel=1e-12)
    assert lake.max_depth == pytest.approx(34 * FOOT, rel=1e-12)
    assert lake.time_zone == "America/Chicago"
    assert lake.weather.station == "auto" and lake.weather.file is None
    assumed = " ".join(lake.notes)
    for key in ("elevation", "mean_depth", "longest_fetch", "secchi", "fertility", "surroundings",
                "depth table", "weather"):
        assert key in assumed


def test_si_numbers_and_texts_read_alike(tmp_path):
    text = good_lake(tmp_path / "a", lake_text('mean_depth = "4 m"\n', area='"125 ha"',
                                               max_depth='"10 m"'))
    bare = good_lake(tmp_path / "b", lake_text("mean_depth = 4\n", area="1250000",
                                               max_depth="10.0"))
    assert text.area == pytest.approx(bare.area, rel=1e-12)
    np.testing.assert_allclose(text.areas, bare.areas, rtol=1e-12)
    np.testing.assert_allclose(text.depths, bare.depths, rtol=1e-12)


@pytest.mark.parametrize("key", REQUIRED)
def test_a_missing_required_key_is_named(tmp_path, key):
    error = lake_error(tmp_path, lake_text(**{key: None}))
    assert f"{key} is missing" in error.what
    assert error.where == f"lakes/pond.toml, key {key}"
    assert key in error.mend


BAD_FIELDS = [
    # (changed keys, extra text, key named, part of the finding, part of the mend)
    ({"max_depth": '"34 acres"'}, "", "max_depth", "is not a unit of length", None),
    ({"area": '"310 acer"'}, "", "area", "did you mean 'acre'", None),
    ({"max_depth": '"-34 ft"'}, "", "max_depth", "negative", "zero or more"),
    ({"max_depth": '"deep"'}, "", "max_depth", "is not a length", None),
    ({"max_depth": "true"}, "", "max_depth", "is not a length", None),
    ({"max_depth": "inf"}, "", "max_depth", "finite", None),
    ({"max_depth": "3400"}, "", "max_depth", "read as metres", "34 ft"),
    ({"area": "310"}, "", "area", "a bare number is read as square metres", "310 acres"),
    ({"area": '"0.1 acres"'}, "", "area", "below 1000", "310 acres"),
    ({"latitude": "140.1"}, "", "latitude", "outside -90 to 90", "Degrees north"),
    ({"latitude": '"40 N"'}, "", "latitude", "is not a number", "latitude = 40.1"),
    ({"longitude": "-189"}, "", "longitude", "outside -180 to 180", "Americas"),
    ({"longitude": "89.2"}, "", "longitude", "hours away from the time zone",
     "longitude = -89.2"),
    ({"time_zone": '"America/Chicgo"'}, "", "time_zone", "not an IANA", "America/Chicago"),
    ({"time_zone": '"Chicago"'}, "", "time_zone", "not an IANA", "America/Chicago"),
    ({"time_zone": '"US central time"'}, "", "time_zone", "not an IANA", "US/Central"),
    ({"time_zone": '"Central"'}, "", "time_zone", "not an IANA", "America/Chicago"),
    ({"time_zone": '"CDT"'}, "", "time_zone", "not an IANA", "America/Chicago"),
    ({"name": '""'}, "", "name", "name is empty", 'name = "..."'),
    ({"name": "7"}, "", "name", "7 is not a text", 'name = "..."'),
    ({}, 'elevation = "620 F"\n', "elevation", "is not a unit of length", None),
    ({}, 'elevation = "30000 ft"\n', "elevation", "above 6000", None),
    ({}, 'mean_depth = "35 ft"\n', "mean_depth", "is more than max_depth '34 ft'",
     "volume over area"),
    ({}, 'mean_depth = "-3 ft"\n', "mean_depth", "negative", None),
    ({}, 'longest_fetch = "14 mi"\n', "longest_fetch", "longer than a lake of this area",
     "units of longest_fetch and area"),
    ({}, 'max_dept = "34 ft"\n', "max_dept", "unknown key 'max_dept'", "mean max_depth?"),
    ({}, 'sechi = "4 ft"\n', "sechi", "unknown key 'sechi'", "mean secchi?"),
    ({}, "zzz = 1\n", "zzz", "unknown key 'zzz'", "Known keys: name, latitude"),
    ({}, 'secchi = "4 acres"\n', "secchi", "is not a unit of length", None),
    ({}, 'secchi = "40 ft"\n', "secchi", "deeper than the lake", "unit"),
    ({}, 'secchi = { arp = "5 ft", jul = "3 ft" }\n', "secchi.arp", "'arp' is not a month",
     "mean apr?"),
    ({}, 'secchi = { Augst = "5 ft" }\n', "secchi.Augst", "'Augst' is not a month", "august"),
    ({}, 'secchi = { apr = "5 ft", April = "4 ft" }\n', "secchi.April", "apr is given twice",
     None),
    ({}, 'secchi = { apr = "-5 ft" }\n', "secchi.apr", "negative", None),
    ({}, "secchi = {}\n", "secchi", "months is empty", "apr"),
    ({}, 'below_full_pond = "-2 ft"\n', "below_full_pond", "negative", None),
    ({}, 'below_full_pond = "33 ft"\n', "below_full_pond", "above", "stay wet"),
    ({}, 'fertility = "eutropic"\n', "fertility", "not one of oligotrophic",
     "mean eutrophic?"),
    ({}, 'surroundings = "woods"\n', "surroundings", "not one of open", "mean wooded?"),
    ({}, "weather = 3\n", "[weather]", "not a table", "[weather] on a line"),
    ({}, '[weather]\nsation = "auto"\n', "weather.sation", "in [weather]", "mean station?"),
    ({}, "[weather]\nstation = 725320\n", "weather.station", "is not a text", "auto"),
    ({}, '[weather]\nfile = "weather/no.csv"\n', "weather.file", "does not exist", "mend its name"),
    ({}, '[weather]\nfile = "club.tml"\n', "weather.file", "does not exist", "club.toml"),
    ({}, '[weather]\nfile = "club.toml"\nstation = "auto"\n', "weather.station",
     "both file and station", "one of them"),
    ({}, '[weather.columns]\nair_temp = "T"\n', "weather.columns.air_temp",
     "unknown key 'air_temp' in [weather.columns]", "mean air_temp_c?"),
    ({}, "[weather.columns]\nair_temp_c = 3\n", "weather.columns.air_temp_c", "not a text", None),
    ({}, '[weather.units]\nwind = "mph"\n', "weather.units.wind", "unknown key", "wind_ms"),
    ({}, '[flow]\ninflw = "20 cfs"\n', "flow.inflw", "in [flow]", "mean inflow?"),
    ({}, '[flow]\ninflow = "20 ft"\n', "flow.inflow", "is not a unit of flow", None),
    ({}, '[flow]\nrelease_depth = "50 ft"\ninflow = "20 cfs"\n', "flow.release_depth", "above",
     "within the lake"),
    ({}, '[flow]\nrelease_depth = "20 ft"\n', "flow.release_depth", "without an inflow",
     "inflow ="),
    ({}, '[flow]\naerator_stirs = "below"\n', "flow.aerator_stirs", "without an aerator",
     "aerator ="),
    ({}, '[flow]\naerator = "9 ft"\naerator_stirs = "belo"\n', "flow.aerator_stirs",
     "not one of above, below", "mean below?"),
    ({}, "[rules]\nmax_rod = 2\n", "rules.max_rod", "in [rules]", "mean max_rods?"),
    ({}, "[rules]\nmax_rods = 2.5\n", "rules.max_rods", "not a whole number", "per angler"),
    ({}, "[rules]\nmax_rods = 0\n", "rules.max_rods", "outside 1 to 30", None),
    ({}, '[rules]\nchecked = "spring"\n', "rules.checked", "is not a date", "2026-02-14"),
]


@pytest.mark.parametrize(("changes", "extra", "key", "what", "mend"), BAD_FIELDS)
def test_a_wrong_field_is_named_with_its_mend(tmp_path, changes, extra, key, what, mend):
    error = lake_error(tmp_path, lake_text(extra, **changes))
    assert what in error.what
    assert error.where.startswith("lakes/pond.toml, ") and error.where.endswith(key)
    if mend:
        assert mend in error.mend


def test_the_first_error_says_how_many_more(tmp_path):
    error = lake_error(tmp_path, lake_text('secchi = "x"\n', latitude="99", area='"1 acer"'))
    assert error.where.endswith("latitude")
    assert "2 more to mend (key area; key secchi)" in str(error)
    path = tmp_path / "lakes" / "pond.toml"
    findings = check_lake(path)
    assert list(findings.columns) == ["where", "severity", "finding", "mend"]
    assert (findings["severity"] == "error").sum() == 3


def test_check_lake_lists_what_was_assumed(tmp_path):
    path = write_club(tmp_path) / "lakes" / "pond.toml"
    findings = check_lake(path)
    assert set(findings["severity"]) == {"note"}
    assert tuple(findings["finding"]) == read_lake(path).notes


@pytest.mark.parametrize(("line", "what", "mend"), [
    ("max_depth = 34 ft\n", "in 'max_depth = 34 ft'", "quantity with a unit in quotes"),
    ("name = “Pond”\n", "invalid", "straight quotes"),
    ('name = "Pond\n', "not valid TOML", "key = value"),
    ('name = "Pond"\nname = "Pond"\n', "not valid TOML", "key = value"),
])
def test_a_syntax_error_names_its_line(tmp_path, line, what, mend):
    error = lake_error(tmp_path, "# a lake\n" + line)
    assert "not valid TOML" in error.what and what in error.what
    assert error.where.startswith("lakes/pond.toml, line ")
    assert int(error.where.rsplit(" ", 1)[1]) in (2, 3)
    assert mend in error.mend


def test_files_of_other_encodings(tmp_path):
    folder = write_club(tmp_path)
    path = folder / "lakes" / "pond.toml"
    path.write_bytes(b"\xef\xbb\xbf" + lake_text(name='"Étang"').encode())
    assert read_lake(path, club_folder=folder).name == "Étang"
    path.write_bytes(b"# a remark\n" + lake_text(name='"Étang"').encode("cp1252"))
    with pytest.raises(ClubError, match=r"line 2: a letter is not UTF-8 text.*encoding UTF-8"):
        read_lake(path, club_folder=folder)
    with pytest.raises(ClubError, match="there is no such file"):
        read_lake(folder / "lakes" / "none.toml", club_folder=folder)


# --- months

def test_months_between_are_filled_around_the_year(tmp_path):
    months = 'secchi = { apr = "5 ft", July = "2 ft", dec = "4 ft" }\n'
    lake = good_lake(tmp_path, lake_text(months))
    feet = lake.secchi / FOOT
    # linear between the given months; from December (4) over four steps to April (5)
    expected = [4.25, 4.5, 4.75, 5, 4, 3, 2, 2.4, 2.8, 3.2, 3.6, 4]
    np.testing.assert_allclose(feet, expected, rtol=1e-12)
    assert any("3 of 12 months" in note for note in lake.notes)


def test_one_month_serves_the_year_and_a_full_table_stays():
    one = np.full(12, np.nan)
    one[6] = 2.0
    np.testing.assert_array_equal(interpolate_months(one), np.full(12, 2.0))
    full = np.arange(12.0)
    np.testing.assert_array_equal(interpolate_months(full), full)


def test_the_same_clarity_all_year(tmp_path):
    lake = good_lake(tmp_path, lake_text('secchi = "4 ft"\n'))
    np.testing.assert_allclose(lake.secchi, 4 * FOOT, rtol=1e-12)
    assert lake.secchi_source == "lake file"
    assert not any("secchi" in note for note in lake.notes if "fertility" not in note)


# --- clarity and fertility

@pytest.mark.parametrize("fertility", FERTILITY)
def test_default_clarity_lies_within_its_class(tmp_path, fertility):
    """Carlson 1977: Secchi 4, 2 and 0.5 m bound the classes (from memory)."""
    lake = good_lake(tmp_path, lake_text(f'fertility = "{fertility}"\n'))
    assert lake.secchi[0] == DEFAULT_SECCHI[fertility]
    assert FERTILITY[sum(lake.secchi[0] < bound for bound in SECCHI_BOUNDS)] == fertility
    assert lake.secchi_source == f"default for {fertility} water"


@pytest.mark.parametrize(("secchi", "latitude", "zone", "fertility"), [
    ('{ jan = "5 m", jun = "1 m", oct = "1 m" }', "40.1", '"America/Chicago"', "eutrophic"),
    ('{ jan = "1 m", jun = "5 m", oct = "3 m" }', "-40.1", '"America/Santiago"', "eutrophic"),
    ('"3 m"', "40.1", '"America/Chicago"', "mesotrophic"),
    ('"0.3 m"', "40.1", '"America/Chicago"', "hypereutrophic"),
])
def test_fertility_follows_the_summer_clarity(tmp_path, secchi, latitude, zone, fertility):
    lake = good_lake(tmp_path, lake_text(f"secchi = {secchi}\n", latitude=latitude, time_zone=zone,
                                         longitude="-71.0"))
    assert lake.fertility == fertility


def test_default_clarity_never_exceeds_the_depth(tmp_path):
    lake = good_lake(tmp_path, lake_text('fertility = "oligotrophic"\n', max_depth='"2 m"'))
    assert lake.secchi.max() == 2.0


# --- basin

@pytest.mark.parametrize("ratio", [0.2, 1 / 3, 0.46, 0.5, 0.9, 1.0])
def test_a_built_basin_has_the_mean_depth(ratio):
    """A0 (1 - z/zmax)^p integrates to A0 zmean with p = zmax/zmean - 1 (closed form)."""
    depths, areas = depth_area_from_depths(2e6, 12 * ratio, 12.0)
    assert depths[0] == 0 and depths[-1] == 12 and areas[0] == 2e6
    assert (np.diff(areas) <= 0).all()
    assert trapezoid_volume(depths, areas) == pytest.approx(2e6 * 12 * ratio, rel=1e-3)


def test_a_cone_is_a_cone():
    """A mean depth of a third of the greatest makes a cone: area falls with the square."""
    depths, areas = depth_area_from_depths(900.0, 4.0, 12.0)
    np.testing.assert_allclose(areas, 900 * (1 - depths / 12) ** 2, rtol=1e-9)


def test_a_built_basin_says_so(tmp_path):
    lake = good_lake(tmp_path, lake_text('mean_depth = "13 ft"\n'))
    assert lake.depth_area_source == "built from area, mean depth and maximum depth"
    assert any("no depth table" in note for note in lake.notes)
    assumed = good_lake(tmp_path, lake_text())
    assert "mean depth assumed" in assumed.depth_area_source
    assert assumed.mean_depth == pytest.approx(0.46 * 34 * FOOT, rel=1e-12)


def test_default_fetch_is_that_of_an_ellipse_twice_as_long_as_wide(tmp_path):
    """Area pi a b with a = 2 b: the long axis is sqrt 2 = 1.4 circle diameters (computed)."""
    lake = good_lake(tmp_path, lake_text())
    half_width = np.sqrt(lake.area / (2 * np.pi))
    assert lake.longest_fetch == pytest.approx(4 * half_width, rel=0.02)


TABLE = "depth_ft,area_acres\n0,310\n10,200\n20,100\n34,0\n"
BAD_TABLES = [
    ("depth_ft,area_acres\n0,310\n10,200\n20,220\n34,0\n", "widens downward in row 4 (1 in all)",
     "water surface"),
    ("depth_ft,area_acres\n0,310\n10,200\n20,100\n", "above the maximum depth of 10.36 m",
     "down to the bottom"),
    ("depth_m,area_acres\n0,310\n10,200\n20,100\n34,0\n", "below the maximum depth", "unit"),
    ("depth_ft,area_acres\n5,310\n10,200\n34,0\n", "not at the surface", "depth 0"),
    ("depth_ft,area_acres\n-1,310\n10,200\n34,0\n", "negative depth in row 2", "counts down"),
    ("depth_ft,area_acres\n0,310\n10,-200\n34,0\n", "negative area in row 3", None),
    ("depth_ft,area_acres\n0,310\n10,200\n10,190\n34,0\n", "depth does not increase in row 4",
     "each once"),
    ("depth_ft,area_ha\n0,310\n10,200\n34,0\n", "the lake file says", "units of both"),
    ("depth_ft,area_acres\n0,310\nten,200\n34,0\n", "'ten' in row 3 is not a number", "depth_ft"),
    ("depth_ft,area_acres\n0,310\n10,\n34,0\n", "'' in row 3 is not a number", "area_acres"),
    ("depth_ft,area_acres\n0,310\n10,nan\n34,0\n", "'nan' in row 3 is not a number", None),
    ("depth,area_acres\n0,310\n10,200\n34,0\n", "one of depth_m, depth_ft", None),
    ("depth_ft,area\n0,310\n10,200\n34,0\n", "one of area_m2, area_ha, area_acres", None),
    ("depth_ft,area_acres\n0,310\n", "fewer than two rows", "surface down"),
]


@pytest.mark.parametrize(("table", "what", "mend"), BAD_TABLES)
def test_a_wrong_depth_table_is_named_with_its_row(tmp_path, table, what, mend):
    (tmp_path / "depths.csv").write_text(table, encoding="utf-8")
    error = lake_error(tmp_path, lake_text('depth_area = "depths.csv"\n'))
    assert "depths.csv: " in error.what and what in error.what
    assert error.where == "lakes/pond.toml, key depth_area"
    if mend:
        assert mend in error.mend


def test_a_missing_depth_table_names_the_nearest_file(tmp_path):
    (tmp_path / "pond-depths.csv").write_text(TABLE, encoding="utf-8")
    error = lake_error(tmp_path, lake_text('depth_area = "pond-depth.csv"\n'))
    assert "does not exist" in error.what and "pond-depths.csv" in error.mend


@pytest.mark.parametrize("content", [
    TABLE.encode(), b"\xef\xbb\xbf" + TABLE.encode(),
    TABLE.replace(",", ";").replace("34;0", "34,0;0,0").encode(),
    TABLE.replace(",", "\t").replace("\n", "\r\n").encode(),
])
def test_depth_tables_of_every_spelling(tmp_path, content):
    (tmp_path / "depths.csv").write_bytes(content)
    lake = good_lake(tmp_path, lake_text('depth_area = "depths.csv"\n'))
    np.testing.assert_allclose(lake.depths / FOOT, [0, 10, 20, 34], rtol=1e-12)
    np.testing.assert_allclose(lake.areas / ACRE, [310, 200, 100, 0], rtol=1e-12)
    assert lake.depth_area_source == "depth table depths.csv"
    # trapezoids: 10 * 255 + 10 * 150 + 14 * 50 = 4750 acre-ft over 310 acres (computed)
    assert lake.mean_depth / FOOT == pytest.approx(4750 / 310, rel=1e-12)


def test_the_table_wins_over_area_and_mean_depth(tmp_path):
    (tmp_path / "depths.csv").write_text(TABLE, encoding="utf-8")
    lake = good_lake(tmp_path, lake_text('depth_area = "depths.csv"\nmean_depth = "8 ft"\n',
                                         area='"290 acres"'))
    assert lake.area / ACRE == pytest.approx(310, rel=1e-12)
    notes = " ".join(lake.notes)
    assert "+7 % of the lake file's" in notes and "the table is used" in notes


def test_flow_and_rules_are_read(tmp_path):
    lake = good_lake(tmp_path, lake_text(
        '[flow]\ninflow = { mar = "100 cfs", sep = "10 cfs" }\nrelease_depth = "20 ft"\n'
        'inflow_temperature = "50 F"\naerator = "25 ft"\naerator_stirs = "below"\n'
        '[rules]\nmax_rods = 2\nlimits = "15 a day"\nchecked = 2026-02-14\n'))
    # cubic foot per second: 0.3048^3 m3/s (exact)
    assert lake.flow.inflow[2] == pytest.approx(100 * FOOT**3, rel=1e-12)
    assert lake.flow.inflow[5] == pytest.approx(55 * FOOT**3, rel=1e-12)
    np.testing.assert_allclose(lake.flow.inflow_temperature, 10.0, rtol=1e-12)
    assert lake.flow.release is None
    assert lake.flow.release_depth == pytest.approx(20 * FOOT, rel=1e-12)
    assert lake.flow.aerator_depth == pytest.approx(25 * FOOT, rel=1e-12)
    assert lake.flow.aerator_stirs == "below"
    assert (lake.rules.max_rods, lake.rules.checked) == (2, "2026-02-14")


def test_rules_without_a_date_are_remarked(tmp_path):
    lake = good_lake(tmp_path, lake_text("[rules]\nmax_rods = 2\n"))
    assert any("when they were checked" in note for note in lake.notes)


def test_weather_columns_and_units_are_kept(tmp_path):
    write_club(tmp_path)
    (tmp_path / "mine.csv").write_text("time\n", encoding="utf-8")
    lake = good_lake(tmp_path, lake_text(
        '[weather]\nfile = "mine.csv"\nattribution = "us"\n'
        '[weather.columns]\nair_temp_c = "Temp"\n[weather.units]\nair_temp_c = "F"\n'))
    assert lake.weather.file == tmp_path / "mine.csv" and lake.weather.station is None
    assert lake.weather.columns == {"air_temp_c": "Temp"}
    assert lake.weather.units == {"air_temp_c": "F"}
    assert lake.weather.attribution == "us"


# --- club.toml

BAD_CLUBS = [
    ('units = "us"\n', "name", "name is missing", 'name = "..."'),
    (CLUB + 'units = "imperial"\n', "units", "not one of us, metric", None),
    (CLUB + 'paper = "A4"\n', "paper", "not one of letter, a4", "mean a4?"),
    (CLUB + 'invented = "yes"\n', "invented", "not true or false", "without quotes"),
    (CLUB + 'specie = "crappie"\n', "specie", "unknown key", "mean species?"),
    (CLUB + '[log]\ndate_order = "MYD"\n', "log.date_order", "not one of YMD", None),
    (CLUB + '[log]\ndateorder = "MDY"\n', "log.dateorder", "in [log]", "mean date_order?"),
    (CLUB + "[log]\ncolumns = 3\n", "log.columns", "not a table of texts", "[log.columns]"),
    (CLUB + '[boat]\nbeem = "6 ft"\n', "boat.beem", "in [boat]", "mean beam?"),
    (CLUB + '[boat]\nbeam = "60 ft"\n', "boat.beam", "above 6", "width"),
    (CLUB + "[boat]\nanglers = 0\n", "boat.anglers", "outside 1 to 12", None),
    (CLUB + '[boat]\nspeeds = "1 mph"\n', "boat.speeds", "not two speeds", "slowest first"),
    (CLUB + '[boat]\nspeeds = ["3 mph", "1 mph"]\n', "boat.speeds", "slow speed", None),
    (CLUB + '[boat]\nspeeds = ["1 ft", "3 mph"]\n', "boat.speeds", "is not a unit of speed", None),
    (CLUB + '[[rods]]\nlength = "8 ft"\n', "rods[1].name", "name is missing", None),
    (CLUB + '[[rods]]\nname = "a"\nlenght = "8 ft"\n', "rods[1].lenght", "unknown key",
     "mean length?"),
    (CLUB + '[[rods]]\nname = "a"\nlength = "80 ft"\n', "rods[1].length", "above 12", None),
    (CLUB + '[rods]\nname = "a"\n', "rods", "not a list of tables", "[[rods]]"),
    (CLUB + 2 * '[[rods]]\nname = "a"\nlength = "8 ft"\n', "rods[2].name", "listed twice", None),
    (CLUB + '[[lines]]\nname = "a"\ndiameter = "0.28 mm"\n', "lines[1].material", "neither",
     "nylon"),
    (CLUB + '[[lines]]\nname = "a"\ndiameter = "0.28"\nmaterial = "nylon"\n', "lines[1].diameter",
     "read as metres", "0.28 mm"),
    (CLUB + '[[lines]]\nname = "a"\ndiameter = "0.3 mm"\nmaterial = "nilon"\n',
     "lines[1].material", "not one of nylon", "mean nylon?"),
    (CLUB + '[[lures]]\nname = "a"\nweight = "1/16 oz"\n', "lures[1].kind", "kind is missing",
     None),
    (CLUB + '[[lures]]\nname = "a"\nweight = "1/16 ft"\nkind = "jig"\n', "lures[1].weight",
     "is not a unit of mass", None),
    (CLUB + '[[lures]]\nname = "a"\nweight = "9 kg"\nkind = "jig"\n', "lures[1].weight", "above 5",
     "1/16 oz"),
    (CLUB + '[[lures]]\nname = "a"\nweight = "1 oz"\nkind = "jigg"\n', "lures[1].kind",
     "not one of jig", "mean jig?"),
    (CLUB + '[[lures]]\nname = "a"\nweight = "1 oz"\nkind = "jig"\ntactics = [1]\n',
     "lures[1].tactics", "list of texts", None),
]


@pytest.mark.parametrize(("club", "key", "what", "mend"), BAD_CLUBS)
def test_a_wrong_field_of_the_club_is_named(tmp_path, club, key, what, mend):
    write_club(tmp_path, club=club)
    with pytest.raises(ClubError) as caught:
        read_club(tmp_path)
    assert caught.value.where == f"club.toml, key {key}"
    assert what in caught.value.what
    if mend:
        assert mend in caught.value.mend


def test_a_bare_club_has_defaults(tmp_path):
    club = read_club(write_club(tmp_path))
    assert (club.units, club.paper, club.date_order) == ("us", "letter", None)
    assert club.boat.anglers == 2 and club.boat.rods == ()
    assert club.invented is False
    metric = read_club(write_club(tmp_path, club=CLUB + 'units = "metric"\n'))
    assert metric.paper == "a4"


def test_boat_and_tackle_are_si(tmp_path):
    club = read_club(write_club(tmp_path, club=CLUB + (
        '[log]\ndate_order = "MDY"\n[log.columns]\nfish = "How many?"\n'
        '[boat]\nbeam = "6 ft"\nspeeds = ["0.5 mph", "3 mph"]\nanglers = 3\nrods_per_angler = 2\n'
        '[[rods]]\nname = "long"\nlength = "16 ft"\ncount = 4\n'
        '[[lines]]\nname = "six"\ndiameter = "0.23 mm"\nmaterial = "nylon"\nstrength = "6 lb"\n'
        '[[lines]]\nname = "own"\ndiameter = "0.2 mm"\ndensity = 1000\n'
        '[[lures]]\nname = "j"\nweight = "1/16 oz"\nkind = "jig"\ntactics = "cast_jig"\n')))
    assert club.date_order == "MDY" and club.log_columns == {"fish": "How many?"}
    boat = club.boat
    assert boat.beam == pytest.approx(6 * FOOT, rel=1e-12)
    assert boat.speeds == pytest.approx((0.5 * MILE / 3600, 3 * MILE / 3600), rel=1e-12)
    assert (boat.rods[0].count, boat.anglers, boat.rods_per_angler) == (4, 3, 2)
    # 6 lb hold 6 x 0.45359237 kg x 9.80665 m/s2 = 26.7 N (exact factors)
    assert boat.lines[0].strength == pytest.approx(6 * 0.45359237 * GRAVITY, rel=1e-12)
    assert boat.lines[0].density == LINE_DENSITY["nylon"] and boat.lines[1].density == 1000
    # 1/16 oz = 1.772 g (avoirdupois, exact factors)
    assert boat.lures[0].mass == pytest.approx(0.001772, rel=1e-3)
    assert boat.lures[0].material == "lead" and boat.lures[0].tactics == ("cast_jig",)


def test_line_and_lure_materials_are_those_of_the_tackle_tables():
    from lakekit.tackle.materials import WEIGHT_MATERIALS, material_density

    assert {name: material_density(name) for name in LINE_DENSITY} == LINE_DENSITY
    assert set(WEIGHT_MATERIALS) <= set(LURE_MATERIALS)


def test_folders_that_are_no_club(tmp_path):
    with pytest.raises(ClubError, match="lakekit new"):
        read_club(tmp_path / "nowhere")
    with pytest.raises(ClubError, match=r"holds no club\.toml"):
        read_club(tmp_path)
    (tmp_path / "club.toml").write_text(CLUB, encoding="utf-8")
    with pytest.raises(ClubError, match="has no lakes"):
        read_club(tmp_path)


@pytest.mark.parametrize(("file", "name"), [("second.toml", '"TEST POND"'),
                                            ("second.toml", '"Pond"')])
def test_a_lake_listed_twice_is_refused(tmp_path, file, name):
    folder = write_club(tmp_path)
    (folder / "lakes" / file).write_text(lake_text(name=name), encoding="utf-8")
    with pytest.raises(ClubError, match=r"lakes/second\.toml, key name: the lake .* is also in "
                                        r"lakes/pond\.toml"):
        read_club(folder)


def test_lakes_come_in_file_name_order_and_are_found_by_either_name(tmp_path):
    folder = write_club(tmp_path)
    (folder / "lakes" / "Alder.toml").write_text(lake_text(name='"Zeta Lake"'), encoding="utf-8")
    club = read_club(folder)
    assert list(club.lakes) == ["Alder", "pond"]
    assert find_lake(club, "zeta  lake") == "Alder" and find_lake(club, "POND") == "pond"
    with pytest.raises(ClubError, match="Did you mean Zeta Lake"):
        find_lake(club, "Zetta lake")


@pytest.mark.parametrize(("units", "area", "depth"), [("us", "310 acres", "34 ft"),
                                                      ("metric", "125 ha", "10.4 m")])
def test_a_lake_is_described_in_the_clubs_units(tmp_path, units, area, depth):
    rows = dict(describe_lake(good_lake(tmp_path, lake_text()), units))
    assert rows["Area at full pond"] == area and depth in rows["Depth"]
    assert rows["Rods allowed"] == "not written down"
    assert all(isinstance(text, str) and text for text in rows.values())


# --- a new club

@pytest.fixture
def notebooks(monkeypatch, tmp_path_factory):
    """A folder with two notebooks in place of the package's own."""
    folder = tmp_path_factory.mktemp("notebooks")
    for name in ("season.ipynb", "front.ipynb"):
        (folder / name).write_text('{"cells": []}', encoding="utf-8")
    monkeypatch.setattr("lakekit.club.notebooks_folder", lambda: folder)
    return folder


def fill_template(folder):
    """Take the remark sign off the template lake's keys, and read the club."""
    path = folder / "lakes" / "my-lake.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    keys = "name|latitude|longitude|time_zone|area|max_depth|elevation|mean_depth|longest_fetch|"
    keys += "below_full_pond|fertility|surroundings|inflow|release|release_depth|aerator|"
    keys += "aerator_stirs|max_rods|"
    keys += "limits|closures|consumption_advice|checked"
    filled = [line.removeprefix("# ") if re.match(rf"# (({keys}) = |\[(flow|rules)\])", line)
              else line for line in lines]
    filled[filled.index('# secchi = "4 ft"')] = 'secchi = "4 ft"'
    path.write_text("\n".join(filled), encoding="utf-8")
    return read_club(folder)


def test_a_new_club_reads_once_its_lake_is_filled_in(tmp_path, notebooks):
    folder = tmp_path / "deep" / "my club"
    written = new_club(folder)
    assert all(path.is_file() for path in written)
    names = {path.relative_to(folder).as_posix() for path in written}
    assert {"club.toml", "lakes/my-lake.toml", "trips.csv", "probe.csv", "running.csv",
            "README.md", "weather/README.md", "notebooks/season.ipynb",
            "notebooks/front.ipynb"} == names
    still = r"lakes/my-lake\.toml: it is still the template.*max_depth"
    with pytest.raises(ClubError, match=still):
        read_club(folder)
    club = fill_template(folder)
    lake = club.lakes["my-lake"]
    assert lake.name == "My Lake" and lake.rules.max_rods == 2
    assert lake.flow.aerator_depth == pytest.approx(25 * FOOT, rel=1e-12)
    assert not (tmp_path / "deep" / ".my club").exists()
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["my club"]


def test_the_template_lists_every_key_of_a_lake_file():
    from lakekit import lakefile

    text = (template_folder() / "lakes" / "my-lake.toml").read_text(encoding="utf-8")
    for key in (*lakefile.LAKE_KEYS, *lakefile.FLOW_KEYS, *lakefile.RULES_KEYS):
        shown = (f"{key} = ", f"[{key}]")
        if key != "inflow_temperature":
            assert any(part in text for part in shown), key


def test_the_templates_data_files_have_the_readers_columns_and_no_rows(tmp_path, notebooks):
    from lakekit.probe import read_probe
    from lakekit.trips.columns import template
    from lakekit.trips.read import read_trips

    new_club(tmp_path / "club")
    club = fill_template(tmp_path / "club")
    header = (club.folder / "trips.csv").read_text(encoding="utf-8").strip().split(",")
    assert header == template("us")
    assert len(read_probe(club.folder / "probe.csv", club)) == 0
    assert len(read_trips(club.folder / "trips.csv", club, as_of="2026-04-01")) == 0


def test_an_existing_folder_is_never_overwritten(tmp_path, notebooks):
    taken = tmp_path / "club"
    taken.mkdir()
    (taken / "trips.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(ClubError, match=r"not empty.*nothing was changed"):
        new_club(taken)
    assert [path.name for path in taken.iterdir()] == ["trips.csv"]
    assert (taken / "trips.csv").read_text(encoding="utf-8") == "mine"
    with pytest.raises(ClubError, match="file of that name"):
        new_club(taken / "trips.csv")
    empty = tmp_path / "empty"
    empty.mkdir()
    assert new_club(empty) and (empty / "club.toml").is_file()


def test_a_failing_copy_leaves_nothing_behind(tmp_path, notebooks, monkeypatch):
    copy, seen = shutil.copyfile, []

    def fails_late(source, target):
        seen.append(Path(target))
        if len(seen) == 4:
            raise OSError(28, "No space left on device")
        return copy(source, target)

    monkeypatch.setattr("lakekit.club.shutil.copyfile", fails_late)
    with pytest.raises(ClubError, match="No space left on device"):
        new_club(tmp_path / "club")
    assert list(tmp_path.iterdir()) == []


def test_the_packages_notebooks_go_into_a_new_club(tmp_path):
    written = {path.name for path in new_club(tmp_path / "club")}
    assert {path.name for path in notebooks_folder().glob("*.ipynb")} <= written


# What no lake or club file may do


@pytest.mark.parametrize("key", ["name", "latitude", "longitude", "time_zone", "area", "max_depth"])
@pytest.mark.parametrize("value", ["[]", "{}", "[1]", "true", "1979-05-27", '"\\u0000"'])
def test_a_value_of_a_wrong_kind_is_refused_before_anything_computes(tmp_path, key, value):
    error = lake_error(tmp_path, lake_text(**{key: value}))
    assert error.where == f"lakes/pond.toml, key {key}"


@pytest.mark.parametrize(("value", "words"), [
    ('"a\\u0000b"', "control characters"), ('"\\u001b[2J"', "control characters"),
    ('"\\u200b\\u2063"', "nothing that can be seen"), ('"' + "y" * 3000 + '"', "over 2000 letters"),
])
def test_a_name_that_cannot_be_printed_is_refused(tmp_path, value, words):
    error = lake_error(tmp_path, lake_text(name=value))
    assert words in error.what and error.what.isprintable() and len(error.what) < 200


def test_marks_that_turn_a_text_about_are_taken_out(tmp_path):
    folder = write_club(tmp_path)
    path = folder / "lakes" / "pond.toml"
    path.write_text(lake_text(name='"Tar\\u202en  Pond\\t"'), encoding="utf-8")
    assert read_lake(path).name == "Tarn Pond"


@pytest.mark.parametrize(("text", "words"), [
    ("x = " + "[" * 3000 + "]" * 3000, "too deep"),
    ("x = " + "9" * 5000, "too many digits"),
    ("latitude = 0x" + "f" * 5000, "outside -90 to 90"),
    ('area = 0x' + "f" * 500, "not a finite number"),
    ("\n".join(f"key{number} = 1" for number in range(3000)), "2,980 more unknown keys"),
    ("#" * 1_100_000, "at most 1 MB"),
])
def test_files_that_only_a_machine_writes_end_in_one_message(tmp_path, text, words):
    folder = write_club(tmp_path)
    path = folder / "lakes" / "pond.toml"
    sound = lake_text().replace("latitude = ", "# ") if text.startswith("latitude") else lake_text()
    sound = sound.replace("area = ", "# ") if text.startswith("area") else sound
    path.write_text(f"{text}\n{sound}", encoding="utf-8")
    try:
        said = " ".join(check_lake(path)["finding"])
    except ClubError as error:
        said = str(error)
    assert words in said and max(map(len, said.split("  "))) < 20_000


@pytest.mark.parametrize("line", ['depth_area = "../far.csv"', '[weather]\nfile = "../far.csv"'])
def test_a_lake_file_reads_nothing_outside_its_club(tmp_path, monkeypatch, line):
    folder = write_club(tmp_path)
    (folder.parent / "far.csv").write_text("depth_m,area_acres\n0,310\n10.36,1\n")
    path = folder / "lakes" / "pond.toml"
    path.write_text(lake_text(line), encoding="utf-8")
    with pytest.raises(ClubError, match=r"lies outside the club's folder\. .*--allow-outside"):
        read_lake(path)
    monkeypatch.setenv("LAKEKIT_ALLOW_OUTSIDE", "1")
    assert read_lake(path).key == "pond"


def test_a_river_is_not_computed_as_a_lake(tmp_path):
    error = lake_error(tmp_path, lake_text('[flow]\ninflow = "50000 cfs"\n'))
    assert "renews the lake's" in error.what and "under 24 hours it is a river" in error.what


@pytest.mark.parametrize("name", ['"Test-Pond"', '"test  pond!"', '"TEST_POND"'])
def test_names_that_a_log_cannot_tell_apart_are_refused(tmp_path, name):
    folder = write_club(tmp_path)
    (folder / "lakes" / "second.toml").write_text(lake_text(name=name), encoding="utf-8")
    with pytest.raises(ClubError, match="cannot be told from it by its name"):
        read_club(folder)


@pytest.mark.parametrize("name", ["n" * 300, "a\x00b"])
def test_names_that_no_folder_can_have(name):
    for call in (read_club, new_club):
        with pytest.raises(ClubError, match="no folder can be read under this name"):
            call(name)


def test_a_loop_of_links_is_one_message(tmp_path):
    folder = write_club(tmp_path)
    path = folder / "lakes" / "pond.toml"
    path.unlink()
    path.symlink_to(path)
    with pytest.raises(ClubError, match="leads back to itself"):
        check_lake(path)
