"""The benches: what they measure, how they fail, and how they print."""

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.bench import __main__ as command
from lakekit.bench import accuracy, column, spread
from lakekit.bench.observed import (
    beaverdam,
    falling_creek,
    natural,
    with_mean_wind,
    without_radiation,
)
from lakekit.strata.spread import Misses


def test_an_unknown_bench_is_refused():
    with pytest.raises(SystemExit):
        command.main(["nonsense"])


def test_a_bench_that_cannot_measure_says_so(monkeypatch, capsys, tmp_path):
    monkeypatch.setenv("LAKEKIT_OBSERVATIONS", str(tmp_path / "absent"))
    assert command.main(["accuracy"]) == 1
    assert "could not measure accuracy" in capsys.readouterr().err


def test_figures_are_one_flat_object(monkeypatch, capsys):
    found = {"column_ms_per_lake_year": np.float64(12.5), "column_none": float("nan")}
    monkeypatch.setattr(column, "measure", lambda: found)
    assert command.main(["column", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "column_ms_per_lake_year": 12.5,
        "column_none": None,
    }


def test_the_speed_bench_measures_and_prints(monkeypatch, capsys):
    monkeypatch.setattr(column, "REPEATS", 1)
    figures = column.measure()
    assert figures["column_ms_per_lake_year"] > 0.0
    assert figures["column_layers"] == 40
    assert figures["column_heat_residual_relative"] < 1e-9
    assert "40 layers" in column.table(figures)


def profiles(shift=0.0, colder=0.0):
    depth = accuracy.GRID
    warm = 10.0 + 16.0 / (1.0 + np.exp((depth - 4.0 - shift) / 0.4)) - colder
    gas = 8.0 / (1.0 + np.exp((depth - 5.0 - shift) / 0.3))
    times = pd.date_range("2015-07-01", periods=3, freq="7D")
    return xr.Dataset(
        {
            "water_temperature": (("time", "depth"), np.tile(warm, (3, 1))),
            "dissolved_oxygen": (("time", "depth"), np.tile(gas, (3, 1))),
        },
        coords={"time": times, "depth": depth},
    )


def test_scores_of_known_errors():
    same = accuracy.score(profiles(), profiles())
    assert same["rmse_c"] == 0.0
    assert same["thermocline_mae_m"] == 0.0
    colder = accuracy.score(profiles(colder=2.0), profiles())
    assert colder["rmse_c"] == pytest.approx(2.0, rel=1e-9)
    assert colder["bias_c"] == pytest.approx(-2.0, rel=1e-9)
    deeper = accuracy.score(profiles(shift=1.5), profiles())
    assert deeper["thermocline_mae_m"] == pytest.approx(1.5, abs=0.11)
    assert deeper["oxygen3_mae_m"] == pytest.approx(1.5, abs=0.05)


def test_a_missing_thermocline_counts_as_the_bottom():
    mixed = profiles()
    mixed["water_temperature"].values[:] = 20.0
    found = accuracy.score(mixed, profiles())
    assert found["thermocline_mae_m"] == pytest.approx(
        accuracy.GRID[-1] - 3.8, abs=0.1
    )  # steepest in density


def test_a_band_holds_what_it_should():
    random = np.random.default_rng(0)
    observed = profiles()
    members = xr.concat([observed] * 200, dim="member").copy(deep=True)
    # one error a member and cast, one of the same kind for the truth
    members["water_temperature"].values += random.normal(0, 2.0, (200, 3, 1))
    shares = []
    for _ in range(200):
        true = observed.copy(deep=True)
        true["water_temperature"].values += random.normal(0, 2.0, (3, 1))
        rows = spread.samples(members, true)["temperature"]
        shares.append(spread.share_inside(rows, Misses((0.0, 0.0), (0.0, 0.0), (0.0, 0.0), 0, 0)))
    assert np.mean(shares) == pytest.approx(0.8, abs=0.06)


def _water(random, error, casts=400):
    """Samples of one water whose members agree and whose column errs by ``error``."""
    rows = np.zeros((7, casts))
    rows[spread.TRUE] = random.normal(0.0, error, casts)
    rows[spread.LAYERED] = np.arange(casts) % 2
    rows[spread.SCALE] = 1.0
    return rows


def test_a_table_finds_the_error_it_was_given_and_leaves_room_for_one_more_water():
    random = np.random.default_rng(3)
    nothing = np.zeros((7, 0))

    def table(*errors):
        waters = [
            {"temperature": _water(random, np.hypot(e, spread.PROBE_ERROR)),
             "oxygen": nothing, "line": _water(random, e), "floor": _water(random, 2.0 * e)}
            for e in errors
        ]  # fmt: skip
        return spread.made_table(waters)

    alike = table(1.0, 1.0, 1.0, 1.0)
    # what is fitted to 800 samples a part errs by less than a tenth
    np.testing.assert_allclose(alike.temperature, 1.0, atol=0.15)
    assert alike.line == pytest.approx(1.0, abs=0.15)
    assert alike.floor == pytest.approx(2.0, abs=0.3)
    assert alike.factor <= 1.1 < table(0.3, 0.6, 1.2, 2.4).factor


def test_a_water_does_not_score_by_its_own_table():
    random = np.random.default_rng(4)
    nothing, fits = np.zeros((7, 0)), {"oxygen": np.zeros((7, 0)), "floor": np.zeros((7, 0))}
    bands = {
        name: {how: {"temperature": _water(random, error), "line": nothing, **fits}
               for how in ("untuned", "fitted", "followed_1to10", "followed_36to50")}
        for name, error in {"a": 0.5, "b": 0.5, "c": 0.5, "odd": 3.0}.items()
    }  # fmt: skip
    for water in bands.values():
        for how in ("followed_1to10", "followed_36to50"):
            water[how]["temperature"][spread.SCALE] = 0.0  # of the one pair of casts
    missed = {"a": [[0.2]], "b": [[0.3]], "c": [[0.2]], "odd": [[9.0]]}
    missed = {name: [np.array(squares[0])] for name, squares in missed.items()}
    shares = spread.left_out_shares(bands, missed)
    assert shares["accuracy_odd_untuned_band80_share"] < 0.4  # its errors were in no table
    assert shares["accuracy_a_untuned_band80_share"] > 0.8
    odd = shares["accuracy_odd_followed_1to10_band80_share"]
    assert odd > shares["accuracy_odd_untuned_band80_share"]  # its own casts have said so


def test_turnover_is_the_first_mixed_week():
    time = pd.date_range("2015-08-01", "2015-12-31")
    flags = np.ones((1, time.size), bool)
    flags[0, time >= "2015-10-10"] = False
    flags[0, (time >= "2015-10-13") & (time < "2015-10-15")] = True
    flags[0, (time >= "2015-11-05") & (time < "2015-11-12")] = True
    layers = xr.Dataset({"stratified": (("member", "time"), flags)}, coords={"time": time})
    assert accuracy.mixed_week(layers, 2015) == pd.Timestamp("2015-10-15")
    flags[:] = True
    assert pd.isna(accuracy.mixed_week(layers, 2015))


def test_the_rival_never_sees_its_own_year():
    observed = profiles()
    both = xr.concat(
        [observed, observed.assign_coords(time=observed["time"] + np.timedelta64(366, "D")) + 3.0],
        dim="time",
    )
    rival = accuracy.fortnight_rival(both, observed)
    error = rival["water_temperature"].values - observed["water_temperature"].values
    np.testing.assert_allclose(error, 3.0, atol=1e-9)


def test_eight_casts_are_carried_across_years_by_date():
    few = profiles()
    few["water_temperature"].values += np.array([0.0, 4.0, 8.0])[:, None]
    later = few.isel(time=[0, 1]).assign_coords(
        time=pd.DatetimeIndex(["2017-07-08", "2017-07-11 12:00"])
    )
    rival = accuracy.interpolated_rival(few, later)
    change = rival["water_temperature"].values - profiles()["water_temperature"].values[:1]
    np.testing.assert_allclose(change[0], 4.0, atol=1e-6)
    np.testing.assert_allclose(change[1], 4.0 + 4.0 * 3 / 7, atol=1e-6)


def test_the_reservoirs_are_read(observations):
    site = beaverdam(observations)
    assert site.casts["time"].nunique() == 58
    assert site.lake.max_depth == pytest.approx(13.0)
    splits = accuracy.year_splits(site.casts, (2014, 2015))
    for few, rest in splits:
        assert few["time"].nunique() == 8
        assert not set(few["time"].dt.year) & set(rest["time"].dt.year)


def test_forced_oxygen_and_stirred_water_are_left_out(observations):
    site = falling_creek(observations)
    running = site.casts[site.casts["time"].between("2018-05-01", "2018-07-30")]
    assert running["oxygen"].isna().all()
    assert site.casts["oxygen"].notna().any()
    kept = natural(site)
    deep = kept[(kept["depth"] > 6.0) & kept["time"].between("2018-05-01", "2018-10-01")]
    assert deep.empty
    assert len(kept) > 0.4 * len(site.casts)


def test_from_a_cast_weather_alone_carries_the_layers_for_weeks(observations):
    found = accuracy.restarted(falling_creek(observations))
    assert found["rmse_c"] < 1.3
    assert found["thermocline_mae_m"] < 0.5
    assert found["oxygen3_mae_m"] < 0.8


def test_withheld_radiation_and_mean_wind(observations):
    site = falling_creek(observations)
    estimated, steady = without_radiation(site), with_mean_wind(site)
    assert not np.allclose(estimated["shortwave"], site.weather["shortwave"], atol=1.0)
    july = steady["wind_speed"].sel(time=slice("2018-07-02", "2018-07-30"))
    assert float(july.std()) == pytest.approx(0.0, abs=1e-9)


def test_the_defaults_beat_the_rival_on_the_measured_reservoir(observations):
    """The claim of the README in one number: untuned physics against other years' casts."""
    site = beaverdam(observations)
    forcing = accuracy.prepare_forcing(site.weather, site.lake)
    observed = accuracy.on_grid(site.casts)
    run = accuracy.simulate(site.lake, forcing, parameters=accuracy.default_parameters(site.lake))
    ours = accuracy.score(accuracy.at_casts(run, observed).isel(member=0, drop=True), observed)
    rival = accuracy.score(accuracy.fortnight_rival(observed, observed), observed)
    assert ours["rmse_c"] < 1.5
    assert ours["rmse_c"] < rival["rmse_c"] - 0.4
    assert ours["thermocline_mae_m"] < rival["thermocline_mae_m"]
    assert ours["surface_rmse_c"] < rival["surface_rmse_c"]


def test_seed_and_cases_belong_to_the_drills(capsys):
    with pytest.raises(SystemExit):
        command.main(["column", "--seed", "1"])
    assert "belong to drills" in capsys.readouterr().err
