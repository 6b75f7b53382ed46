"""The recorded figures are those the code still gives, and are told whole."""

import pytest

from lakekit.bench import comparison
from lakekit.bench.accuracy import score
from lakekit.bench.comparison import (
    cast_comparison,
    comparison_figure,
    comparison_rows,
    correction_figure,
    correction_rows,
    corrections,
)
from lakekit.guide import evidence
from lakekit.guide.evidence import PLACES, WHAT, evidence_rows, one_reading_rows, recorded


def test_every_recorded_figure_is_told_with_its_rival():
    figures, _ = recorded("accuracy")
    rows = dict(map(tuple, evidence_rows()))
    for key, label, unit in WHAT:
        for place, name in PLACES:
            assert name in rows[label]
            assert f"{figures[f'accuracy_{place}_untuned_{key}']:.1f} {unit}" in rows[label]
            rival = figures.get(f"accuracy_{place}_rival_fortnight_{key}")
            if rival is not None:  # one season has no other years
                assert f"{rival:.1f} {unit}" in rows[label]


def test_a_us_guide_tells_misses_in_feet_and_fahrenheit():
    us, metric = (dict(map(tuple, evidence_rows(units))) for units in ("us", "metric"))
    for _, label, unit in WHAT:
        one, other = (float(rows[label].split()[1]) for rows in (us, metric))
        factor = {"°C": 1.8, "m": 1 / 0.3048}[unit]
        assert one == pytest.approx(factor * other, abs=0.06 * (1 + factor))
        assert f" {unit}" not in us[label]


def test_the_record_is_not_stale(observations):
    # Carey et al., Environmental Data Initiative 198, 200 and 1254; the shipped defaults' figures
    casts = cast_comparison(observations)
    measured = score(casts.simulated, casts.observed)
    figures, _ = recorded("accuracy")
    for key, _, _ in WHAT:
        assert measured[key] == pytest.approx(
            figures[f"accuracy_beaverdam_shipped_{key}"], abs=0.02
        )
    assert comparison_figure(casts).axes


def test_without_observations_it_says_so(tmp_path):
    assert cast_comparison(tmp_path / "nowhere") is None
    assert "not on this machine" in comparison_rows(None)[0][1]
    assert corrections(tmp_path / "nowhere") == {}
    assert "not on this machine" in correction_rows({})[0][1]
    assert not correction_figure({}).axes


def test_a_cast_leaves_its_own_water_nearer_to_it(observations, monkeypatch):
    # National Ecological Observatory Network, DP1.20264.001
    monkeypatch.setattr(comparison, "SITES", {"barco": comparison.SITES["barco"]})
    found = corrections(observations)
    (table,) = found.values()
    before, after = ((table[c] - table["value"]).abs().mean() for c in ("expected", "after"))
    assert after < 0.5 * before
    assert table["time"].nunique() >= comparison.SHOWN
    drawn = correction_figure(found).axes
    assert [len(axes.lines) for axes in drawn] == [3] * comparison.SHOWN
    assert correction_rows(found)[0][0] == "Lake Barco, 2019"


def test_one_reading_is_told_beside_none_and_months_not_recorded_are_left_out(monkeypatch):
    figures = {f"accuracy_median_{how}_{month}_{what}": value for how, month, what, value in (
        ("one", "june", "rmse_c", 0.9), ("none", "june", "rmse_c", 1.34),
        ("one", "june", "thermocline_mae_m", 0.2), ("none", "june", "thermocline_mae_m", 0.4),
    )}  # fmt: skip
    monkeypatch.setattr(evidence, "recorded", lambda bench: (figures, "2026-11-26"))
    rows = one_reading_rows()
    assert [label for label, _ in rows] == ["One cast in June", "Measured"]
    assert rows[0][1].startswith("0.9 °C and 0.2 m") and "without it 1.3 °C and 0.4 m" in rows[0][1]


def test_a_bench_never_recorded_has_no_figures():
    assert recorded("nothing") == ({}, None)
