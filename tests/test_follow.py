"""The water that follows the readings: what it must find again, keep, count and refuse."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from column_lakes import small_lake, weather

from lakekit.column import default_parameters, end_state, make_basin, run_parameters, simulate
from lakekit.column.following import follow as follow_module
from lakekit.column.following.analysis import Following
from lakekit.column.following.follow import (
    _amounts,
    _prior,
    _recent,
    _scores,
    _wander,
    follow,
    run_on,
)
from lakekit.column.parameters import NAMES, as_dataset, draw_parameters, from_standard
from lakekit.column.water import VOLUMETRIC_HEAT, density

WATER = small_lake(secchi=np.full(12, 2.0))
FORCING = weather(8760 + 3000)
HEAT = ("shortwave_in", "net_longwave", "latent_heat", "sensible_heat", "sediment_heat",
        "snow_heat", "flow_heat", "learned_heat", "level_heat", "reading_heat")  # fmt: skip
OXYGEN = ("oxygen_gas_exchange", "oxygen_production", "oxygen_demand", "oxygen_flow",
          "oxygen_level", "reading_oxygen")  # fmt: skip
HOURS = pd.to_datetime(["2001-05-20 11:00", "2001-06-17 18:00", "2001-07-15 23:00"])
DEPTHS = np.arange(0.5, 4.6, 0.5)
FEW = 12


def run_of(scores, forcing=FORCING):
    return simulate(WATER, forcing, parameters=as_dataset(from_standard(scores[None], WATER)),
                    every="1h").isel(member=0)  # fmt: skip


def casts_of(run, hours=HOURS, *, depths=DEPTHS, warmer=0.0):
    rows = []
    for hour in hours:
        cast = run.sel(time=hour)
        for depth in depths:
            rows.append({
                "time": hour,
                "depth": depth,
                "temperature": np.interp(depth, cast["depth"], cast["water_temperature"]) + warmer,
                "oxygen": np.interp(depth, cast["depth"], cast["dissolved_oxygen"]),
            })  # fmt: skip
    return pd.DataFrame(rows)


@pytest.fixture(scope="module")
def own():
    return run_of(np.zeros(len(NAMES)))


@pytest.fixture(scope="module")
def truth():
    scores = np.zeros(len(NAMES))
    scores[NAMES.index("evaporation_factor")] = -1.5
    scores[NAMES.index("light_attenuation_factor")] = 1.5
    return run_of(scores)


@pytest.fixture(scope="module")
def moved(truth):
    return follow(WATER, FORCING, casts_of(truth), members=FEW)


def test_a_perfect_cast_at_any_hour_leaves_its_own_model_unmoved(own):
    run = follow(WATER, FORCING, casts_of(own), members=FEW, every="1h")
    apart = np.abs(run["water_temperature"][0] - own["water_temperature"])
    assert float(apart.max()) < 0.05
    apart = np.abs(run["dissolved_oxygen"][0] - own["dissolved_oxygen"])
    assert float(apart.sel(time=slice(HOURS[0], None)).max()) < 0.1


def test_casts_draw_the_water_to_the_truth_between_and_after_them(own, truth, moved):
    true = truth.sel(time=moved["time"])["water_temperature"]
    after = moved["time"] > HOURS[1]
    free = own.sel(time=moved["time"])["water_temperature"]
    error, error_free = (
        float(np.sqrt(((run - true).sel(time=after) ** 2).mean()))
        for run in (moved["water_temperature"][0], free)
    )
    assert error < 0.8 * error_free


def test_a_wrong_start_is_found_again(own):
    late = FORCING.sel(time=slice("2001-05-10", None))
    run = follow(WATER, late, casts_of(own), members=FEW, every="1h")
    alone = simulate(WATER, late, every="1h")
    day = HOURS[2] + pd.Timedelta("1D")
    true = own["water_temperature"].sel(time=day)
    miss, miss_alone = (
        float(np.abs(r["water_temperature"][0].sel(time=day) - true).mean()) for r in (run, alone)
    )
    assert miss_alone > 1.0
    assert miss < 0.5 * miss_alone


def test_the_budgets_close_with_what_readings_added(moved):
    seconds = 86400.0
    for stored, terms, unit in (
        ("heat_content", HEAT, seconds), ("oxygen_content", OXYGEN, 1.0),
    ):  # fmt: skip
        gained = sum(moved[name].values for name in terms)[:, 1:] * unit
        change = np.diff(moved[stored].values, axis=1)
        np.testing.assert_allclose(change, gained, atol=1e-6 * np.abs(moved[stored]).max().item())
    assert float(np.abs(moved["reading_heat"]).max()) > 1.0


def test_no_profile_is_heavy_above_and_no_oxygen_negative(truth):
    run = follow(WATER, FORCING, casts_of(truth), members=FEW, smoothed=True)
    assert np.nanmin(np.diff(density(run["water_temperature"].values), axis=-1)) > -1e-9
    assert np.nanmin(run["dissolved_oxygen"].values) >= 0.0
    assert np.nanmin(run["water_temperature"].values) >= 0.0
    heavy = density(run["state_temperature"].values)
    assert np.diff(heavy, axis=-1).min() > -1e-9


def test_later_readings_help_earlier_days_only_when_smoothed(truth, moved):
    early = slice("2001-05-25", "2001-06-12")
    first = follow(WATER, FORCING, casts_of(truth, HOURS[:1]), members=FEW)
    smoothed = follow(WATER, FORCING, casts_of(truth), members=FEW, smoothed=True)
    true = truth["water_temperature"].sel(time=moved["time"]).sel(time=early)

    def miss(run):
        return float(np.abs(run["water_temperature"][0].sel(time=early) - true).mean())

    assert miss(moved) == pytest.approx(miss(first), abs=0.05)
    assert miss(smoothed) < miss(moved)


def test_nothing_after_the_weather_enters(truth):
    short = FORCING.sel(time=slice(None, HOURS[1] - pd.Timedelta("2h")))
    run = follow(WATER, short, casts_of(truth), members=FEW)
    assert set(pd.DatetimeIndex(run["reading_time"].values)) == {HOURS[0]}


def test_a_followed_state_runs_on(moved):
    ahead = weather(8760 + 3720).isel(time=slice(8760 + 3000, None))
    run = simulate(WATER, ahead, parameters=run_parameters(moved), state=end_state(moved))
    gap = run["water_temperature"].isel(time=0) - moved["water_temperature"].isel(time=-1)
    assert float(np.abs(gap).max()) < 4.0
    assert run.sizes["member"] == FEW


def test_a_reading_that_contradicts_the_column_is_left_out(truth):
    casts = casts_of(truth, depths=np.arange(0.5, 4.6))
    casts.loc[2, "temperature"] = 38.0
    run = follow(WATER, FORCING, casts, members=FEW)
    bad = run["reading_used"].values == 0
    assert bad.sum() == 1
    assert run["reading_value"].values[bad][0] > 25.0


def test_a_surface_reading_from_a_log_moves_the_water_less_than_a_probe(own):
    one = casts_of(own, HOURS[:1], depths=[0.3], warmer=2.0).drop(columns="oxygen")
    at = dict(time=HOURS[0], depth=0.3, method="nearest")
    base = own["water_temperature"].sel(**at).item()
    probe, log = (
        follow(WATER, FORCING, one.assign(error=error), members=FEW, every="1h")
        ["water_temperature"][0].sel(**at).item() - base
        for error in (0.0, 1.5)
    )  # fmt: skip
    assert probe > 1.5 * log > 0.0


def test_the_same_seed_gives_the_same_water(truth, moved):
    again = follow(WATER, FORCING, casts_of(truth), members=FEW)
    np.testing.assert_array_equal(
        again["water_temperature"].values, moved["water_temperature"].values
    )


SUMMER = FORCING.sel(time=slice("2001-05-01", "2001-06-29"))
BEYOND = FORCING.sel(time=slice("2001-06-30", "2001-08-28"))


@pytest.fixture(scope="module")
def may():
    return end_state(simulate(WATER, FORCING.sel(time=slice(None, "2001-04-30"))))


def adrift(state, rate):
    """A state whose water gains ``rate`` [degC/day] that no weather explains, below 2 m."""
    drift = np.where(np.arange(state.sizes["layer"]) * 0.25 > 2.0, rate, 0.0)
    return state.assign(drift=(("member", "layer"), drift[None]))


def test_a_drift_warms_as_much_as_it_says_fades_in_sixty_days_and_enters_the_budget(may):
    still = simulate(WATER, SUMMER, state=may)
    run = simulate(WATER, SUMMER, state=adrift(may, 0.05))
    # 0.05 degC a day for 60 days, fading e-fold: 0.05 * 60 * (1 - 1 / e) = 1.9 degC, less what
    # the warmer water gave to what lies above and to its bed
    warmer = (run - still)["water_temperature"].isel(member=0, time=-1)
    assert 0.3 < float(warmer.isel(depth=-2)) < 1.9
    left, first = end_state(run)["drift"].values, adrift(may, 0.05)["drift"].values
    assert np.allclose(left, first * np.exp(-1.0), rtol=1e-6)
    assert float(run["learned_heat"].sum()) > 0.0 and not still["learned_heat"].any()
    assert float(np.abs(run["heat_residual"]).max()) < 1e-6


def test_cold_water_is_not_drifted(may):
    cold = may.assign(temperature=may["temperature"] * 0.0 + 3.0)
    first = SUMMER.isel(time=slice(0, 2))
    still, run = (simulate(WATER, first, state=s, every="1h") for s in (cold, adrift(cold, -9.0)))
    assert run["water_temperature"].equals(still["water_temperature"])


def test_casts_teach_how_the_column_errs_day_after_day(may):
    true = simulate(WATER, SUMMER, state=adrift(may, 0.08), every="1h")
    hours = pd.to_datetime(["2001-05-12 12:00", "2001-06-02 12:00", "2001-06-24 12:00"])
    casts = casts_of(true.isel(member=0), hours)
    later = simulate(WATER, BEYOND, state=end_state(true))
    errors, learned = [], []
    for assumed in (Following(), Following(drift=0.0)):
        run = follow(WATER, SUMMER, casts, state=may.isel(member=[0] * FEW), members=FEW,
                     assumed=assumed)  # fmt: skip
        learned.append(end_state(run)["drift"].values[0, 8:].mean())
        ahead = simulate(WATER, BEYOND, state=end_state(run), parameters=run_parameters(run))
        off = ahead["water_temperature"][0] - later["water_temperature"][0]
        errors.append(float(np.sqrt((off**2).mean())))
    assert 0.003 < learned[0] < 0.08 and learned[1] == 0.0
    assert errors[0] < 0.85 * errors[1]


@pytest.fixture
def strays(monkeypatch):
    """(days, extra) of each time that the members strayed."""
    seen, stray = [], follow_module.stray

    def watched(*arguments, **named):
        seen.append((named["days"], named["extra"]))
        return stray(*arguments, **named)

    monkeypatch.setattr(follow_module, "stray", watched)
    return seen


def test_a_start_not_known_is_forgotten_in_two_months_and_at_the_first_cast(own, strays):
    # by hand: 3 degC, 10 days and 11 hours after the start exp(-10.458 / 60) of it; then nothing
    follow(WATER, FORCING.sel(time=slice("2001-05-10", None)), casts_of(own), members=FEW)
    days, extra = np.transpose(strays)
    np.testing.assert_allclose(extra, [3.0 * np.exp(-251.0 / 24.0 / 60.0), 0.0, 0.0])
    np.testing.assert_allclose(days, np.array([251.0, 28 * 24 + 7, 28 * 24 + 5]) / 24.0)


def test_a_start_that_is_known_strays_no_further(own, may, strays):
    casts = casts_of(own, HOURS[:1])
    follow(WATER, SUMMER, casts, state=may.isel(member=[0] * FEW), members=FEW)
    follow(WATER, FORCING.isel(time=slice(0, 8760 - 24)), casts, members=FEW)
    assert [extra for _, extra in strays] == [0.0, 0.0]
    follow(WATER, FORCING.isel(time=slice(0, 8760 - 25)), casts, members=FEW)
    assert strays[-1][1] > 0.0


def parameters_of(scores):
    return as_dataset(from_standard(scores, WATER))


def test_a_prior_of_enough_members_has_their_spread_within_bounds():
    size = len(NAMES)
    middle, root = _prior(None, WATER)
    assert not middle.any() and (root == np.eye(size)).all()
    few = np.vstack([np.full(size, 0.5), np.zeros((size - 1, size))])
    middle, root = _prior(parameters_of(few), WATER)  # as many as parameters: too few
    np.testing.assert_allclose(middle, 0.5)
    np.testing.assert_array_equal(root, np.eye(size))
    drawn = np.random.default_rng(0).standard_normal((200, size))
    apart = np.linalg.qr(drawn - drawn.mean(axis=0))[0] * 199**0.5
    deviations = np.array([0.01, 0.2, 0.5, 0.7, 0.9, 0.99, 1.5, 3.0])
    many = np.vstack([np.full(size, 0.5), apart * deviations])
    middle, root = _prior(parameters_of(many), WATER)
    np.testing.assert_allclose(middle, 0.5)
    # variances between a hundredth and one
    expected = np.clip(deviations, 0.1, 1.0) ** 2
    np.testing.assert_allclose(root @ root.T, np.diag(expected), atol=1e-9)


def test_members_are_drawn_about_the_prior_and_the_first_is_its_middle():
    size = len(NAMES)
    root = np.diag(np.linspace(0.2, 0.6, size))
    drawn = _scores(np.full(size, 0.3), root, 40, np.random.default_rng(0))
    np.testing.assert_allclose(drawn[0], 0.3)
    np.testing.assert_allclose(drawn[1:].mean(axis=0), 0.3)
    np.testing.assert_allclose(drawn[1:].std(axis=0), np.diag(root))
    wide = _scores(np.zeros(size), 5.0 * np.eye(size), 40, np.random.default_rng(0))
    assert np.abs(wide).max() == 2.5
    few = _scores(np.full(size, 0.3), root, size + 2, np.random.default_rng(0))
    assert np.isfinite(few).all() and np.abs(few[1:].mean(axis=0) - 0.3).max() > 1e-6


@pytest.mark.parametrize(("days", "kept"), [(3.0, 0.99005), (30.0, 0.90484), (400.0, 0.90484)])
def test_parameters_forget_toward_the_prior_a_month_at_most_at_once(days, kept):
    # exp(-days / 300) of the way from the prior's middle is kept, and its spread refilled by
    # sqrt(1 - kept^2) of a half
    size, members = len(NAMES), 4001
    middle, root = np.full(size, 0.2), 0.5 * np.eye(size)
    scores = np.full((members, size), 1.2)
    out = _wander(scores, middle, root, days, Following(), np.random.default_rng(0))
    np.testing.assert_allclose(out[0], 0.2 + kept, atol=1e-5)
    np.testing.assert_allclose(out[1:].mean(axis=0), 0.2 + kept, atol=1e-5)
    np.testing.assert_allclose(out[1:].std(axis=0), 0.5 * (1.0 - kept**2) ** 0.5, rtol=0.06)


def test_runs_are_recent_for_two_lags_of_a_month():
    runs = [
        xr.Dataset(coords={"time": pd.to_datetime(times)})
        for times in (["2001-03-01", "2001-04-01"], ["2001-04-02", "2001-05-01"],
                      ["2001-05-03", "2001-06-01"], ["2001-06-02", "2001-07-01"])
    ]  # fmt: skip
    found = _recent(runs, pd.Timestamp("2001-07-01"), Following())
    assert found == [runs[3], runs[2]]  # the second ends 61 days before
    found = _recent(runs, pd.Timestamp("2001-06-30"), Following())
    assert found == [runs[3], runs[2], runs[1]]  # 60 days


def test_amounts_are_of_the_water_under_the_days_surface(may):
    basin = make_basin(WATER)
    state = may.assign(
        temperature=may["temperature"] * 0.0 + 10.0, oxygen=may["oxygen"] * 0.0 + 8.0,
        top=(("member",), [2]),
    )  # fmt: skip
    # areas 2e5 (1 - z / 5)^1.2 in steps of half a metre, trapezia under 0.6 m
    depths = np.concatenate([[0.6], np.arange(1.0, 5.01, 0.5)])
    areas = np.interp(depths, WATER.depths, WATER.areas)
    volume = np.trapezoid(areas, depths)
    heat, gas = _amounts(basin, 0.6, state)
    assert heat[0] == pytest.approx(volume * 10.0 * VOLUMETRIC_HEAT, rel=1e-9)
    assert gas[0] == pytest.approx(volume * 8.0, rel=1e-9)


WEEK = FORCING.sel(time=slice("2001-06-01", "2001-06-07"))
ONE = pd.DataFrame({"time": [pd.Timestamp("2001-06-04T12:00")], "depth": [1.0],
                    "temperature": [18.0]})  # fmt: skip


def members_of(run):
    return run.sizes["member"], "reading" in run.dims


def test_readings_are_followed_by_twelve_members_or_more_and_else_the_column_runs():
    alone = default_parameters(WATER)
    assert members_of(run_on(WATER, WEEK, parameters=alone)) == (1, False)
    assert members_of(run_on(WATER, WEEK, parameters=alone, probe=ONE.iloc[:0])) == (1, False)
    assert members_of(run_on(WATER, WEEK, parameters=alone, probe=ONE)) == (12, True)
    many = draw_parameters(WATER, 15, 0)
    assert members_of(run_on(WATER, WEEK, parameters=many, probe=ONE)) == (15, True)


@pytest.mark.parametrize(
    ("time", "followed"),
    [
        ("2001-06-01T00:20", False),  # the hour of the start itself
        ("2001-06-01T00:40", True),
        ("2001-06-08T00:00", True),  # the end of the last hour
        ("2001-06-08T00:01", False),
    ],
)
def test_readings_within_the_weather_are_followed(time, followed):
    casts = ONE.assign(time=pd.Timestamp(time))
    run = run_on(WATER, WEEK, parameters=default_parameters(WATER), probe=casts)
    assert members_of(run)[1] == followed


def test_a_followed_state_brings_its_own_parameters_and_few_members_run_on(may):
    first = run_on(WATER, WEEK, parameters=default_parameters(WATER), probe=ONE)
    ahead = FORCING.sel(time=slice("2001-06-08", "2001-06-10"))
    state, later = end_state(first), ONE.assign(time=pd.Timestamp("2001-06-09T12:00"))
    usual = default_parameters(WATER)
    quiet = run_on(WATER, ahead, parameters=usual, state=state)
    np.testing.assert_array_equal(quiet["state_score"], first["state_score"])
    np.testing.assert_allclose(quiet["parameter_evaporation_factor"],
                               first["parameter_evaporation_factor"])  # fmt: skip
    assert members_of(run_on(WATER, ahead, parameters=usual, state=state, probe=later)) == (
        12, True,
    )  # fmt: skip
    # one member's state cannot weigh a reading; twelve without scores can
    plain = may.assign_coords(time=WEEK["time"][0])
    run = run_on(WATER, WEEK, parameters=usual, state=plain, probe=ONE)
    assert members_of(run) == (1, False) and "state_score" not in run
    twelve = plain.isel(member=[0] * 12)
    many = draw_parameters(WATER, 12, 0)
    assert members_of(run_on(WATER, WEEK, parameters=many, state=twelve, probe=ONE)) == (12, True)
