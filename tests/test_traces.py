"""Past weather moved ahead: leap days, the year's end, missing years; the state is carried on."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from season_helpers import invented_years
from weather_helpers import invented_lake

from lakekit.column.parameters import draw_parameters
from lakekit.column.run import end_state, simulate
from lakekit.errors import WeatherError
from lakekit.strata import forward_traces, history_run
from lakekit.strata.traces import last_observed, prepare_parts, trace_weather, trace_years
from lakekit.weather.forcing import prepare_forcing


@pytest.fixture(scope="module")
def lake():
    return invented_lake()


@pytest.fixture(scope="module")
def forcing(lake):
    return prepare_forcing(invented_years(), lake)


def source_times(forcing, index):
    return forcing["time"].to_index()[index]


def test_each_past_year_serves_once_from_the_same_date(forcing):
    as_of = pd.Timestamp("2021-06-30T23:00")
    years = trace_years(forcing, as_of, 60)
    assert list(years) == [2018, 2019, 2020]
    for year, index in years.items():
        times = source_times(forcing, index)
        assert times[0] == pd.Timestamp(f"{year}-07-01T00:00")
        assert times[-1] == pd.Timestamp(f"{year}-08-29T23:00")
        assert len(np.unique(index)) == len(index)


def test_no_weather_after_as_of_is_used(forcing):
    as_of = pd.Timestamp("2020-03-15T06:00")
    for index in trace_years(forcing, as_of, 300).values():
        assert source_times(forcing, index).max() <= as_of


def test_windows_run_over_the_years_end(forcing):
    as_of = pd.Timestamp("2021-10-31T23:00")
    years = trace_years(forcing, as_of, 150)
    times = source_times(forcing, years[2018])
    assert times[0] == pd.Timestamp("2018-11-01T00:00")
    assert times[-1] == pd.Timestamp("2019-03-30T23:00")


def test_leap_days_keep_the_calendar(lake):
    forcing = prepare_forcing(invented_years("2019-01-01", "2024-02-01"), lake)
    as_of = pd.Timestamp("2024-01-31T23:00")
    years = trace_years(forcing, as_of, 60)  # over 29 February 2024
    ahead = pd.date_range("2024-02-01", periods=60 * 24, freq="h")
    times = source_times(forcing, years[2023])
    on_the_day = (ahead.month == 2) & (ahead.day == 29)
    assert (times[on_the_day].strftime("%m-%d") == "02-28").all()
    assert (
        times[~on_the_day].strftime("%m-%d %H") == ahead[~on_the_day].strftime("%m-%d %H")
    ).all()
    as_of = pd.Timestamp("2023-01-31T23:00")  # source 2020 has a 29 February, 2023 has none
    times = source_times(forcing, trace_years(forcing, as_of, 60)[2020])
    assert not ((times.month == 2) & (times.day == 29)).any()


def test_the_youngest_and_oldest_borrow_no_more_than_a_quarter(lake):
    forcing = prepare_forcing(invented_years("2018-01-20", "2021-09-01"), lake)
    as_of = pd.Timestamp("2021-08-31T23:00")
    years = trace_years(forcing, as_of, 400)  # runs 35 days past as_of in the youngest
    assert list(years) == [2018, 2019, 2020]
    late = source_times(forcing, years[2020])
    assert late.max() == as_of
    assert late[-1] == pd.Timestamp("2020-10-05T23:00")
    as_of = pd.Timestamp("2020-12-31T23:00")
    years = trace_years(forcing, as_of, 100)
    assert list(years) == [2018, 2019, 2020]
    assert source_times(forcing, years[2018])[0] == pd.Timestamp("2019-01-01T00:00")
    assert list(trace_years(forcing, as_of, 40)) == [2019, 2020]  # 19 of 40 days missing in 2018


def test_a_year_that_lacks_data_is_left_out(lake):
    weather = invented_years()
    hole = slice("2019-04-01", "2019-09-15")  # longer than any other year fills
    for name in weather.data_vars:
        weather[name].loc[{"time": hole}] = np.nan
    with pytest.raises(WeatherError):
        prepare_forcing(weather, lake)
    parts = prepare_parts(weather, lake)
    assert parts.sizes["time"] == weather.sizes["time"] - 24 * 168
    assert np.isfinite(parts["air_temperature"]).all()
    assert list(trace_years(parts, pd.Timestamp("2021-04-30T23:00"), 150)) == [2018, 2020]
    run = history_run(
        lake,
        parts,
        as_of=pd.Timestamp("2021-04-30T23:00"),
        since="2021-04-01",
        parameters=draw_parameters(lake, 1, 0),
    )
    assert run["time"].to_index()[0] >= pd.Timestamp("2019-09-16")
    with pytest.raises(WeatherError, match="whole weather"):
        history_run(
            lake,
            parts,
            as_of=pd.Timestamp("2019-06-30T23:00"),
            since="2019-06-01",
            parameters=draw_parameters(lake, 1, 0),
        )


def test_a_record_of_nothing_is_refused(lake):
    weather = invented_years("2018-01-01", "2018-06-01")
    weather["air_temperature"][:] = np.nan
    with pytest.raises(WeatherError):
        prepare_parts(weather, lake)
    with pytest.raises(WeatherError, match="no hour"):
        last_observed(weather)


def test_last_observed_ignores_a_tail_of_holes():
    weather = invented_years("2018-01-01", "2018-02-01")
    weather["wind_speed"][-30:] = np.nan
    assert last_observed(weather) == pd.Timestamp("2018-01-30T17:00")


def test_a_forecast_takes_the_place_of_its_hours_only(forcing):
    as_of = pd.Timestamp("2021-06-30T23:00")
    index = trace_years(forcing, as_of, 20)[2019]
    plain = trace_weather(forcing, as_of, index)
    coming = forcing.isel(time=slice(0, 72)).assign_coords(
        time=pd.date_range("2021-06-30T12:00", periods=72, freq="h", unit="ns")
    )
    spliced = trace_weather(forcing, as_of, index, forecast=coming)
    hours = 72 - 12
    np.testing.assert_array_equal(
        spliced["air_temperature"][:hours], coming["air_temperature"][12:]
    )
    xr.testing.assert_equal(
        spliced.isel(time=slice(hours, None)), plain.isel(time=slice(hours, None))
    )
    assert not np.array_equal(spliced["air_temperature"][:hours], plain["air_temperature"][:hours])


def test_a_trace_under_the_real_weather_is_the_run_itself(lake, forcing):
    """With 2020's own weather as its trace, the state carried on equals one unbroken run."""
    as_of = pd.Timestamp("2020-05-31T23:00")
    parameters = draw_parameters(lake, 2, 0)
    history = history_run(lake, forcing, as_of=as_of, since="2020-05-01", parameters=parameters)
    real = forcing.sel(time=slice("2020-06-01", "2020-07-30"))
    traces = forward_traces(
        lake,
        forcing,
        end_state(history),
        as_of,
        60,
        parameters=parameters,
        years=[2019],
        forecast=real,
    )
    whole = simulate(
        lake,
        forcing.sel(time=slice(as_of + pd.Timedelta(hours=1), "2020-07-30T23:00")),
        parameters=parameters,
        state=end_state(history),
    )
    np.testing.assert_allclose(
        traces["water_temperature"].isel(trace=0), whole["water_temperature"], rtol=0, atol=1e-9
    )


def test_traces_part_from_one_state(lake, forcing):
    as_of = pd.Timestamp("2021-06-30T23:00")
    parameters = draw_parameters(lake, 2, 0)
    history = history_run(lake, forcing, as_of=as_of, since="2021-06-01", parameters=parameters)
    seen = []
    traces = forward_traces(
        lake,
        forcing,
        end_state(history),
        as_of,
        40,
        parameters=parameters,
        progress=lambda done, total: seen.append((done, total)),
    )
    assert traces["water_temperature"].dims == ("trace", "member", "time", "depth")
    assert list(traces["year"].values) == [2018, 2019, 2020]
    assert seen == [(1, 3), (2, 3), (3, 3)]
    spread = traces["water_temperature"].max("trace") - traces["water_temperature"].min("trace")
    assert float(spread.isel(time=0).max()) < float(spread.isel(time=-1).max())
    last = history["water_temperature"].isel(time=-1)
    first = traces["water_temperature"].isel(time=0)
    assert float(abs(first.isel(depth=-1) - last.isel(depth=-1)).max()) < 0.2
    alone = forward_traces(
        lake, forcing, end_state(history), as_of, 40, parameters=parameters, years=[2019]
    )
    np.testing.assert_array_equal(
        alone["water_temperature"].isel(trace=0), traces["water_temperature"].isel(trace=1)
    )
    with pytest.raises(WeatherError, match="2015"):
        forward_traces(
            lake, forcing, end_state(history), as_of, 40, parameters=parameters, years=[2015]
        )


@pytest.fixture
def asked(monkeypatch):
    """The weather that a run of history would be given, in place of the run."""
    monkeypatch.setattr(
        "lakekit.strata.traces.run_on",
        lambda lake, part, *, parameters, probe, every: part["time"].to_index(),
    )

    def times(forcing, as_of, since):
        lake = invented_lake()
        return history_run(lake, forcing, as_of=as_of, since=since, parameters=None)

    return times


@pytest.mark.parametrize(
    ("as_of", "since", "begin"),
    [
        ("2021-06-30T23:00", "2021-05-01", "2019-01-01T00:00"),  # two whole years before
        ("2021-06-30T23:00", "2020-05-01", "2018-01-01T00:00"),
        ("2020-06-30T23:00", "2021-05-01", "2018-01-01T00:00"),  # months ahead: from today's
        ("2020-06-30T23:00", "2019-05-01", "2018-01-01T00:00"),  # where it can
    ],
)
def test_history_begins_two_years_before_what_is_looked_at(forcing, asked, as_of, since, begin):
    times = asked(forcing, as_of, since)
    assert times[0] == pd.Timestamp(begin) and times[-1] == pd.Timestamp(as_of)


def test_thirty_whole_days_are_enough_of_history(forcing, asked):
    whole = forcing.sel(time=slice("2021-01-01", "2021-06-30"))
    keep = np.ones(whole.sizes["time"], bool)
    keep[24 * 100] = False  # an hour is missing: the run begins after it
    holed = whole.isel(time=keep)
    after = whole["time"].to_index()[24 * 100 + 1]
    enough = after + pd.Timedelta(hours=30 * 24 - 1)
    times = asked(holed, enough, "2021-05-01")
    assert times[0] == after and len(times) == 30 * 24
    with pytest.raises(WeatherError, match="only 29 days of whole weather"):
        asked(holed, enough - pd.Timedelta(hours=1), "2021-05-01")


def test_history_must_reach_to_the_hour(forcing, asked):
    end = forcing["time"].to_index()[-1]
    assert asked(forcing, end + pd.Timedelta(hours=1), "2021-05-01")[-1] == end
    with pytest.raises(WeatherError, match="whole weather"):
        asked(forcing, end + pd.Timedelta(hours=2), "2021-05-01")


def test_parts_of_thirty_days_are_worth_keeping(lake):
    for days, kept in ((30, True), (29, False)):
        weather = invented_years("2021-01-01", "2021-08-01")
        for name in weather.data_vars:
            weather[name][24 * days : 24 * (days + 25)] = np.nan  # more than nearby days fill
        times = prepare_parts(weather, lake)["time"].to_index()
        assert (times[0] == pd.Timestamp("2021-01-01")) == kept
        assert len(times) == 24 * (212 - 25 - (0 if kept else days))


def test_a_quarter_of_a_trace_may_be_borrowed_and_no_more(forcing):
    as_of = pd.Timestamp("2020-12-31T23:00")
    # from 2 December 2020 on 30 days are known: of 40 three quarters, of 41 less
    late = pd.Timestamp("2021-12-01T23:00")
    for days, told in ((40, True), (41, False)):
        years = trace_years(forcing.sel(time=slice(None, as_of)), late, days)
        assert (2020 in years) == told and 2019 in years
    assert trace_years(forcing, late, 400, judged=40).keys() == {2018, 2019, 2020}


def test_rain_that_a_forecast_does_not_give_is_that_of_past_years(lake, forcing):
    as_of = pd.Timestamp("2021-06-30T23:00")
    index = trace_years(forcing, as_of, 10)[2019]
    plain = trace_weather(forcing, as_of, index)
    ahead = pd.date_range("2021-07-01", periods=48, freq="h", unit="ns")
    coming = forcing.isel(time=slice(5000, 5048)).assign_coords(time=ahead)
    coming["precipitation"] = coming["precipitation"] * 0.0 + 7.0
    given = trace_weather(forcing, as_of, index, forecast=coming)["precipitation"].values
    assert (given[:48] == 7.0).all()
    np.testing.assert_array_equal(given[48:], plain["precipitation"][48:])
    silent = prepare_forcing(
        invented_years("2021-07-01", "2021-08-01").drop_vars("precipitation"), lake
    )
    spliced = trace_weather(forcing, as_of, index, forecast=silent)
    np.testing.assert_array_equal(spliced["precipitation"], plain["precipitation"])
    for name in ("air_temperature", "wind_speed"):
        np.testing.assert_array_equal(spliced[name], silent[name][: len(index)])
    assert list(plain["time"].values[[0, -1]]) == list(
        pd.to_datetime(["2021-07-01T00:00", "2021-07-10T23:00"]).values
    )


def test_what_cannot_be_carried_on_is_told_with_its_day(lake, forcing):
    early = forcing.sel(time=slice(None, "2018-03-31"))
    with pytest.raises(WeatherError, match="no past year's weather covers the 60 days after 31 Ma"):
        forward_traces(lake, early, None, pd.Timestamp("2018-03-31T23:00"), 60, parameters=None)
    with pytest.raises(WeatherError, match=r"weather of \[2015\] is not whole for 40 days"):
        forward_traces(
            lake, forcing, None, pd.Timestamp("2021-06-30T23:00"), 40, parameters=None,
            years=[2015, 2019],
        )  # fmt: skip


def test_a_year_may_begin_with_the_records_first_hour(forcing):
    years = trace_years(forcing, pd.Timestamp("2020-12-31T23:00"), 60)
    assert years[2018][0] == 0 and years[2018][-1] == 60 * 24 - 1
    # an hour that a year lacks is that of the year before, be it the first of all
    lacks = forcing.isel(time=forcing["time"].to_index() != "2019-01-01T00:00")
    assert trace_years(lacks, pd.Timestamp("2020-12-31T23:00"), 60)[2019][0] == 0


def test_a_long_way_ahead_takes_the_nearest_year_before_that_is_known(forcing):
    as_of = pd.Timestamp("2021-06-30T23:00")
    times = source_times(forcing, trace_years(forcing, as_of, 790, judged=365)[2020])
    ahead = pd.date_range("2021-07-01", periods=790 * 24, freq="h")
    assert (times.strftime("%m-%d %H") == ahead.strftime("%m-%d %H")).all()
    # to June 2022 by its own year, to June 2023 by that again, beyond by the two years before
    shift = ahead.year - times.year
    assert shift[0] == 1 and shift[365 * 24] == 2 and shift[-1] == 3
    assert (np.diff(shift) >= 0).all() and times.max() <= as_of
