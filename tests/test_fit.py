"""The fit: it recovers what made the readings, keeps to the prior, and names mistakes."""

import numpy as np
import pandas as pd
import pytest
from column_lakes import small_lake, weather

from lakekit.column import fit as fit_module
from lakekit.column import simulate
from lakekit.column.fit import fit_lake, other_years, smooth, transfer
from lakekit.column.parameters import (
    NAMES,
    as_array,
    as_dataset,
    default_parameters,
    from_standard,
    to_standard,
)
from lakekit.column.readings import error_covariance, lake_readings
from lakekit.errors import ProbeError

WATER = small_lake(secchi=np.full(12, 2.0))
FORCING = weather(2 * 8760)
TRUTH = np.zeros(len(NAMES))
TRUTH[NAMES.index("evaporation_factor")] = -1.5
TRUTH[NAMES.index("light_attenuation_factor")] = 1.5


@pytest.fixture(autouse=True)
def few_members(monkeypatch):
    """Half the ensemble, for speed; ten parameters' worth of members still."""
    monkeypatch.setattr(fit_module, "ENSEMBLE", 20)
    monkeypatch.setattr(fit_module, "HOLD_OUT_ENSEMBLE", 16)


def readings(scores, days, *, depths=None, oxygen=True):
    """Casts of a simulated lake at noon, as a probe file gives them."""
    parameters = as_dataset(from_standard(scores[None], WATER))
    run = simulate(WATER, FORCING, parameters=parameters)
    rows = []
    for day in days:
        cast = run.isel(member=0).sel(time=day, method="nearest")
        for depth in np.arange(0.5, 4.6, 0.5) if depths is None else depths:
            rows.append(
                {
                    "time": pd.Timestamp(cast["time"].values),
                    "lake": WATER.key,
                    "depth": depth,
                    "temperature": np.interp(depth, cast["depth"], cast["water_temperature"]),
                    "oxygen": np.interp(depth, cast["depth"], cast["dissolved_oxygen"])
                    if oxygen
                    else np.nan,
                }
            )
    return pd.DataFrame(rows)


DAYS = pd.date_range("2002-04-20", periods=8, freq="24D")


def test_the_smoother_finds_the_gaussian_posterior():
    # one parameter, y = 2 z + e, var(e) = 1, prior N(0, 1), y = 3: mean 6/5, variance 1/5
    random = np.random.default_rng(0)
    scores = random.standard_normal((20000, 1))
    for _ in range(4):
        scores = smooth(scores, 2.0 * scores, np.array([3.0]), np.eye(1), steps=4, random=random)
    assert scores.mean() == pytest.approx(1.2, abs=0.02)
    assert scores.var() == pytest.approx(0.2, abs=0.02)


def test_eight_casts_recover_what_made_them():
    fitted = fit_lake(WATER, FORCING, readings(TRUTH, DAYS), members=4, seed=0)
    scores = to_standard(as_array(fitted), WATER)[0]
    light, air = NAMES.index("light_attenuation_factor"), NAMES.index("evaporation_factor")
    assert scores[light] > 0.4
    assert scores[air] < -0.15
    assert fitted.attrs["error_after"] < 0.7 * fitted.attrs["error_before"]
    assert fitted.attrs["fit_casts"] == 8


def test_without_news_the_fit_stays_at_the_defaults():
    fitted = fit_lake(WATER, FORCING, readings(np.zeros(len(NAMES)), DAYS), members=3, seed=1)
    scores = to_standard(as_array(fitted), WATER)[0]
    assert np.abs(scores).max() < 0.35


def test_surface_readings_alone_count():
    few = readings(TRUTH, DAYS, depths=[0.3], oxygen=False)
    fitted = fit_lake(WATER, FORCING, few, members=2, seed=0)
    scores = to_standard(as_array(fitted), WATER)[0]
    assert scores[NAMES.index("evaporation_factor")] < -0.1
    assert fitted.attrs["error_after"] < fitted.attrs["error_before"]


def test_the_same_seed_gives_the_same_members():
    few = readings(TRUTH, DAYS[:3])
    first, second = (fit_lake(WATER, FORCING, few, members=5, seed=2) for _ in range(2))
    np.testing.assert_array_equal(as_array(first), as_array(second))
    assert first.sizes["member"] == 5


def test_more_years_of_readings_are_trusted_more():
    random = np.random.default_rng(0)
    scores = 1.0 + 0.1 * random.standard_normal((200, 3))
    one, spread_one = other_years(scores, 1)
    many, spread_many = other_years(scores, 8)
    assert (np.abs(one) < np.abs(many)).all()
    assert (np.diag(spread_one) > np.diag(spread_many)).all()
    # readings that fix the year exactly: mean is the share between lakes (0.4) of it after one
    assert one == pytest.approx(0.4, abs=0.03)


def test_no_readings_leave_the_prior():
    scores = np.random.default_rng(1).standard_normal((20000, 4))
    mean, covariance = other_years(scores, 1)
    np.testing.assert_allclose(mean, 0.0, atol=0.03)
    np.testing.assert_allclose(covariance, np.eye(4), atol=0.06)


def test_years_held_out_are_reported():
    days = [*DAYS[:4], *(DAYS[:4] - pd.Timedelta(days=365))]
    fitted = fit_lake(WATER, FORCING, readings(TRUTH, days), members=2, seed=0)
    assert list(fitted.attrs["held_out_years"]) == [2001, 2002]
    assert fitted.attrs["held_out_error_after"] < fitted.attrs["held_out_error_before"]
    assert fitted.attrs["fit_weight"] == 1.0


def test_errors_are_positive_and_casts_of_many_readings_count_for_few():
    table = lake_readings(WATER, readings(TRUTH, DAYS), FORCING)
    covariance = error_covariance(table)
    values = np.linalg.eigvalsh(covariance)
    assert values.min() > 0.0
    worth = np.ones(len(table)) @ np.linalg.solve(covariance, np.ones(len(table)))
    assert worth < 0.5 * np.sum(1.0 / np.diag(covariance))


def spoiled(**columns):
    return readings(np.zeros(len(NAMES)), DAYS[2:5]).assign(**columns)


def test_fahrenheit_in_a_celsius_column_is_named():
    good = spoiled()
    with pytest.raises(ProbeError, match="degrees F"):
        fit_lake(WATER, FORCING, good.assign(temperature=good["temperature"] * 1.8 + 32), seed=0)


def test_feet_in_a_metre_column_are_named():
    good = spoiled()
    with pytest.raises(ProbeError, match="feet"):
        fit_lake(WATER, FORCING, good.assign(depth=good["depth"] / 0.3048), seed=0)


def test_swapped_columns_are_named():
    good = spoiled()
    swapped = good.assign(depth=good["temperature"], temperature=good["depth"])
    with pytest.raises(ProbeError, match=r"swapped|below the bottom"):
        fit_lake(WATER, FORCING, swapped, seed=0)


def test_percent_for_milligrams_is_named():
    with pytest.raises(ProbeError, match="Percent"):
        fit_lake(WATER, FORCING, spoiled(oxygen=95.0), seed=0)


def test_readings_of_another_lake_or_another_year_are_refused():
    with pytest.raises(ProbeError, match="no reading"):
        fit_lake(WATER, FORCING, spoiled(lake="elsewhere"), seed=0)
    late = spoiled()
    with pytest.raises(ProbeError, match="no reading"):
        late["time"] = late["time"] + pd.Timedelta(days=3650)
        fit_lake(WATER, FORCING, late, seed=0)


def test_parameters_carry_to_another_lake_as_departures_from_its_own():
    other = small_lake(area=5e6, surroundings="open")
    moved = transfer(default_parameters(WATER), WATER, other)
    np.testing.assert_allclose(as_array(moved), as_array(default_parameters(other)), rtol=1e-12)


def test_the_weather_kept_for_a_fit_gives_the_casts_of_the_whole_record():
    cast = pd.DataFrame({"time": pd.to_datetime(["2002-05-20T18:00", "2002-08-20T18:00"])})
    kept = fit_module.needed_weather(FORCING, cast)
    assert kept.sizes["time"] < FORCING.sizes["time"]
    runs = [simulate(WATER, record, spin_up=False) for record in (FORCING, kept)]
    whole, part = (run["water_temperature"].sel(time=cast["time"].values) for run in runs)
    # a spring that began 40 days before would be several degC off in the deep water
    np.testing.assert_allclose(part.values, whole.values, atol=0.05)


class Quiet:
    """A generator of nothing: what is left of a step is its algebra."""

    @staticmethod
    def standard_normal(shape):
        return np.zeros(shape)


def test_a_step_of_the_smoother_by_hand_of_three_members():
    # scores -1, 0, 1 say 2, 4, 9: covariance 3.5, variance 13; one reading of 6 with variance 1.5,
    # inflated twice to 3: a gain of 3.5 / 16
    scores, simulated = np.array([[-1.0], [0.0], [1.0]]), np.array([[2.0], [4.0], [9.0]])
    found = smooth(scores, simulated, np.array([6.0]), np.array([[1.5]]), steps=2, random=Quiet)
    np.testing.assert_allclose(found, scores + 3.5 / 16.0 * (6.0 - simulated), rtol=1e-9)


@pytest.fixture
def without_running(monkeypatch):
    """A fit whose column says nothing new, and whose posterior is a half in every score."""

    def fit(before=None, after=None, casts=None, *, spread=0.1, members=400, **options):
        random = np.random.default_rng(0)
        posterior = 0.5 + spread * random.standard_normal((500, len(NAMES)))
        monkeypatch.setattr(fit_module, "assimilate", lambda *a, **k: posterior)
        monkeypatch.setattr(fit_module, "_predicted", lambda *a: a[-1]["value"].to_numpy()[None])
        table = pd.DataFrame({"year": [2001, 2002], "before": before, "after": after,
                              "casts": casts})  # fmt: skip
        monkeypatch.setattr(fit_module, "_hold_out", lambda *a, **k: table)
        rows = pd.DataFrame({"time": pd.to_datetime(["2001-06-01", "2002-06-01"]), "depth": 1.0,
                             "temperature": 20.0})  # fmt: skip
        fitted = fit_lake(WATER, FORCING, rows, members=members, **options)
        return fitted.attrs, to_standard(as_array(fitted), WATER)

    return fit


@pytest.mark.parametrize(
    ("after", "weight"),
    [
        (0.9, 1.0),  # better than before
        (1.0, 1.0),
        (1.1, 0.6),  # a tenth worse: two fifths of the quarter at which it is given up
        (1.25, 0.0),
        (2.0, 0.0),
    ],
)
def test_a_fit_that_fails_on_years_it_has_not_seen_gives_way(without_running, after, weight):
    attrs, scores = without_running([2.0, 2.0], [2.0 * after] * 2, [1, 1])
    assert attrs["fit_weight"] == pytest.approx(weight)
    # two years: mean t (a D + 1)^-1 Q z with t 0.4, a 0.7, Q 1 / variance of 0.01, D = Q - 1
    variance = 0.01
    added = 1.0 / variance - 1.0
    middle = 0.4 / (0.7 * added + 1.0) / variance * 0.5
    np.testing.assert_allclose(scores[0], weight * middle, rtol=0.05, atol=1e-9)
    spread = weight * (1.0 - 0.16 * added / (0.7 * added + 1.0)) + 1.0 - weight
    np.testing.assert_allclose(scores[1:].std(axis=0), spread**0.5, rtol=0.12)
    # drawn about the middle
    np.testing.assert_allclose(scores[1:].mean(axis=0), weight * middle, atol=0.2)
    assert np.abs(scores).max() <= 2.5 + 1e-9


def test_years_count_by_their_casts(without_running):
    attrs, _ = without_running([1.0, 3.0], [2.0, 2.0], [3, 1])
    assert attrs["held_out_error_before"] == pytest.approx(1.5)
    assert attrs["held_out_error_after"] == pytest.approx(2.0)
    assert attrs["fit_weight"] == 0.0
    assert attrs["held_out_years"].tolist() == [2001, 2002]
    assert (attrs["fit_casts"], attrs["fit_readings"], attrs["fit_years"]) == (2, 2, 2)


def test_without_years_held_out_a_fit_has_its_whole_weight(without_running):
    attrs, scores = without_running([1.0, 1.0], [9.0, 9.0], [1, 1], members=1, hold_out=False)
    assert attrs["fit_weight"] == 1.0 and "held_out_error_before" not in attrs
    assert scores.shape == (1, len(NAMES))
    assert (attrs["error_before"], attrs["error_after"]) == (0.0, 0.0)


def test_a_share_of_a_lakes_departures_is_carried():
    other = small_lake(area=5e6, surroundings="open")
    own = as_dataset(from_standard(np.full((2, len(NAMES)), 0.8), WATER))
    moved = to_standard(as_array(transfer(own, WATER, other, share=0.5)), other)
    np.testing.assert_allclose(moved, 0.4)


def posterior(mean, *deviations):
    """Standard scores of exactly this mean and these deviations, one a column, uncorrelated."""
    drawn = np.random.default_rng(0).standard_normal((300, len(deviations)))
    apart = np.linalg.qr(drawn - drawn.mean(axis=0))[0] * 299**0.5
    return mean + apart * deviations


def test_other_years_by_hand():
    # two years of variances 0.25 and 0.5 and mean 1: Q 4 and 2, D 3 and 1, a 0.4 + 0.6 / 2 = 0.7
    mean, covariance = other_years(posterior(1.0, 0.5, 0.5**0.5), 2)
    np.testing.assert_allclose(mean, [0.4 * 4.0 / 3.1, 0.4 * 2.0 / 1.7])
    expected = [1.0 - 0.16 * 3.0 / 3.1, 1.0 - 0.16 * 1.0 / 1.7]
    np.testing.assert_allclose(covariance, np.diag(expected), atol=1e-12)


@pytest.mark.parametrize(("deviation", "held"), [(1e-6, 0.01), (3.0, 1.0)])
def test_a_posterior_is_held_between_a_hundredth_of_the_prior_and_the_prior(deviation, held):
    for found, expected in zip(
        other_years(posterior(1.0, deviation, 0.5), 1),
        other_years(posterior(1.0, held, 0.5), 1), strict=True,
    ):  # fmt: skip
        np.testing.assert_allclose(found, expected, rtol=1e-6, atol=1e-12)


def test_a_short_record_is_kept_whole_for_a_fit():
    cast = pd.DataFrame({"time": pd.to_datetime(["2002-05-20T18:00"])})
    long = fit_module.needed_weather(FORCING, cast)["time"].values
    # a year and five weeks before, two days after
    assert long[0] == np.datetime64("2001-04-15T18:00") and long[-1] == np.datetime64(
        "2002-05-22T18:00"
    )
    late = FORCING.isel(time=slice(-47, None))
    assert fit_module.needed_weather(late, cast).sizes["time"] == 47
