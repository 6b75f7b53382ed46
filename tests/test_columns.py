"""The table of columns is the one source for reader, template, docs and log sheet."""

import pytest

from lakekit.trips import COLUMNS, column_help, log_sheet, template
from lakekit.trips.columns import BY_NAME, REQUIRED, header_names
from lakekit.units import UNITS


def test_required_columns_are_the_seven_that_a_rate_needs():
    assert REQUIRED == ("date", "start", "hours", "lake", "tactic", "rods", "fish")


def test_every_template_header_is_one_the_reader_knows():
    known = header_names()
    for units in ("us", "metric"):
        for column, header in zip(COLUMNS, template(units), strict=True):
            assert known[header.lower()][0] == column.name


def test_every_suffix_is_a_unit_of_its_dimension():
    for name, unit in header_names().values():
        if unit is not None:
            assert unit in UNITS[BY_NAME[name].dimension]


def test_us_and_metric_templates_differ_only_in_suffixes():
    us, metric = template("us"), template("metric")
    assert "catch_depth_ft" in us and "catch_depth_m" in metric
    assert "surface_temp_F" in us and "surface_temp_C" in metric
    assert "speed_mph" in us and "speed_ms" in metric
    assert "weight_oz" in us and "weight_g" in metric


def test_help_says_of_each_column_whether_it_is_required():
    rows = column_help("us")
    assert [header for header, need, _ in rows if need == "required"] == list(REQUIRED)
    assert all(text for _, _, text in rows)


def test_log_sheet_boxes_are_columns_of_the_log():
    sheet = log_sheet("metric", rows=8)
    known = header_names()
    headers = [box["header"] for box in sheet["boxes"]]
    assert set(REQUIRED) <= {known[header.lower()][0] for header in headers}
    assert sheet["rows"] == 8
    assert any("0 fish" in note for note in sheet["notes"])
    with pytest.raises(ValueError, match="no such log column: colour"):
        log_sheet("us", columns=["date", "colour"])
