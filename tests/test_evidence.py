"""The recorded figures are those the code still gives, and are told whole."""

import pytest

from lakekit.bench.accuracy import score
from lakekit.bench.comparison import cast_comparison, comparison_figure, comparison_rows
from lakekit.guide.evidence import PLACES, WHAT, evidence_rows, recorded


def test_every_recorded_figure_is_told_with_its_rival_and_its_date():
    figures, date = recorded("accuracy")
    rows = dict(map(tuple, evidence_rows()))
    assert date in rows["Measured"]
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


def test_a_bench_never_recorded_has_no_figures():
    assert recorded("nothing") == ({}, None)
