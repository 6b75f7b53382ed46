"""The drawing of a weather record and its words."""

import pandas as pd

from lakekit.pages.coverage import coverage_alt, coverage_figure
from lakekit.weather.schema import FORCING, METHODS


def table():
    rows = []
    for month in pd.date_range("2024-11-01", periods=4, freq="MS"):
        for name in FORCING:
            row = dict.fromkeys(METHODS, 0.0) | {"variable": name, "month": month, "hours": 720}
            row["estimated" if name == "longwave" else "measured"] = 0.75
            row["nearby_days"] = 0.25
            rows.append(row)
    return pd.DataFrame(rows)


def test_one_strip_a_variable_and_a_year_mark():
    figure = coverage_figure(table())
    assert len(figure.axes) == len(FORCING)
    assert [label.get_text() for label in figure.axes[-1].get_xticklabels()] == ["2025"]


def test_words_say_what_the_strips_show():
    words = coverage_alt(table())
    assert "air temperature: 75% measured, 25% filled, 0% estimated" in words
    assert "sky radiation: 0% measured, 25% filled, 75% estimated" in words
