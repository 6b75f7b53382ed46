"""Onset, break-up, recovery and turnover put into invented layers are read back."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.strata import (
    events,
    front_effects,
    measured_profiles,
    season_dates,
    stratification,
)
from lakekit.strata.events import THRESHOLDS, without_blips


def layers_of(flags, *, start="2020-01-01", **more):
    flags = np.atleast_2d(np.asarray(flags, dtype=bool))
    time = pd.date_range(f"{start}T18:00", periods=flags.shape[1], freq="D")
    dims = ("member", "time")
    data = {"stratified": (dims, flags)}
    for name, values in more.items():
        data[name] = (dims, np.broadcast_to(np.asarray(values), flags.shape).copy())
    return xr.Dataset(data, coords={"time": time})


def runs(length, *spans):
    flags = np.zeros(length, dtype=bool)
    for a, b in spans:
        flags[a:b] = True
    return flags


def test_every_threshold_says_where_it_comes_from():
    for name, (value, unit, meaning, source) in THRESHOLDS.items():
        assert value > 0 and unit and meaning, name
        assert "no source" in source, name


def test_blips_close_and_drop_but_ends_stay():
    flags = runs(60, (0, 2), (10, 12), (20, 40), (42, 50), (58, 60))
    expected = runs(60, (0, 2), (20, 50), (58, 60))
    np.testing.assert_array_equal(without_blips(flags, 5), expected)
    # what begins on the second day, or ends on the last but one, is known whole
    np.testing.assert_array_equal(without_blips(runs(60, (1, 3), (57, 59)), 5), runs(60))
    both = without_blips(np.array([flags, ~flags]), 5)
    np.testing.assert_array_equal(both[0], expected)


def test_events_of_a_season_with_one_break():
    flags = runs(366, (100, 102), (120, 200), (212, 300))
    table = events(layers_of(flags))
    day = pd.Timestamp("2020-01-01T18:00")
    assert list(table["kind"]) == ["onset", "break_up", "recovery", "turnover"]
    assert list((table["time"] - day).dt.days) == [120, 200, 212, 300]
    assert table["days"][2] == 12.0
    assert table["days"].isna().sum() == 3
    dates = season_dates(layers_of(flags))
    assert len(dates) == 1
    assert (dates["onset"][0] - day).days == 120
    assert (dates["turnover"][0] - day).days == 300
    assert dates["breaks"][0] == 1
    assert dates["layered_days"][0] == 2 + 80 + 88


def test_years_and_members_are_apart():
    first = runs(731, (120, 300), (480, 660))
    second = runs(731, (130, 310))
    dates = season_dates(layers_of(np.array([first, second])))
    assert list(dates["member"]) == [0, 0, 1, 1]
    assert list(dates["year"]) == [2020, 2021, 2020, 2021]
    assert dates["onset"].isna().tolist() == [False, False, False, True]
    row = season_dates(layers_of(second))
    assert row["onset"][0] == dates["onset"][2]


def test_southern_seasons_run_over_the_new_year():
    layers = layers_of(runs(500, (80, 300)), start="2020-07-01")
    layers.attrs["latitude"] = -36.0
    dates = season_dates(layers)
    assert list(dates["year"]) == [2020, 2021]
    assert dates["onset"][0].year == 2020
    assert dates["turnover"][0].year == 2021
    layers.attrs["latitude"] = 36.0
    assert season_dates(layers)["turnover"].isna()[0]


def test_colder_water_above_is_no_layer():
    flags = runs(366, (10, 60), (120, 300))
    layers = layers_of(flags, inverse=runs(366, (10, 60)))
    assert (season_dates(layers)["onset"][0]).month == 4


def test_a_season_cut_off_has_no_turnover():
    dates = season_dates(layers_of(runs(250, (120, 250))))
    assert dates["turnover"].isna()[0]
    dates = season_dates(layers_of(runs(250, (120, 245))))
    assert dates["turnover"].isna()[0] and dates["breaks"][0] == 1
    dates = season_dates(layers_of(runs(250, (0, 150))))
    assert dates["onset"].isna()[0]


def front(start, end):
    return pd.DataFrame({"start": [pd.Timestamp(start)], "end": [pd.Timestamp(end)]})


def test_a_front_breaks_the_layers_and_each_part_comes_back_at_its_pace():
    n = 60
    day = np.arange(n)
    gone = (day >= 21) & (day < 30)
    floor = np.where((day >= 21) & (day < 42), np.nan, 4.0)
    skin = np.where((day >= 20) & (day < 23), 0.1, 1.5)
    thermocline = np.where(gone, np.nan, 3.0)
    layers = layers_of(
        ~gone,
        thermocline_depth=thermocline,
        oxygen_floor_depth=floor,
        surface_skin=skin,
        mixed_layer_depth=np.where(gone, 8.0, 2.5),
        surface_temperature=np.where(gone, 20.0, 24.0),
    )
    effect = front_effects(front("2020-01-21T20:00", "2020-01-22T06:00"), layers).iloc[0]
    assert effect["layered_before"] and effect["broke"] and not effect["deepened"]
    assert effect["thermocline_before"] == 3.0 and np.isnan(effect["deepening"])
    assert effect["mixed_after"] - effect["mixed_before"] == 5.5
    assert effect["surface_fall"] == 4.0
    # noon states stand at 18:00 UTC, the front ended at 06:00 on day 21
    assert effect["thermocline_days"] == pytest.approx(9.5, abs=1e-9)
    assert effect["skin_days"] == pytest.approx(2.5, abs=1e-9)
    assert effect["floor_lost"] and effect["floor_days"] == pytest.approx(21.5, abs=1e-9)


def test_a_front_deepens_or_does_nothing():
    n = 60
    day = np.arange(n)
    thermocline = np.where((day > 20) & (day < 28), 4.2, 3.0)
    layers = layers_of(np.ones(n, bool), thermocline_depth=thermocline)
    effect = front_effects(front("2020-01-21T20:00", "2020-01-22T06:00"), layers).iloc[0]
    assert effect["deepened"] and not effect["broke"]
    assert effect["deepening"] == pytest.approx(1.2, abs=1e-9)
    assert effect["thermocline_days"] == pytest.approx(7.5, abs=1e-9)
    calm = front_effects(front("2020-01-11T20:00", "2020-01-12T06:00"), layers).iloc[0]
    assert not calm["deepened"] and calm["thermocline_days"] == 0.0
    assert np.isnan(calm["floor_days"]) and np.isnan(calm["skin_days"])


def test_a_lost_skin_is_no_deepening():
    n = 60
    day = np.arange(n)
    shallow = np.where((day > 20) & (day < 23), 3.0, 0.8)  # the steepest step: a skin, then none
    layers = layers_of(np.ones(n, bool), thermocline_depth=shallow, lasting_thermocline_depth=3.0)
    effect = front_effects(front("2020-01-21T20:00", "2020-01-22T06:00"), layers).iloc[0]
    assert not effect["deepened"] and effect["thermocline_days"] == 0.0


def test_no_recovery_within_the_horizon_is_infinite_and_no_layers_is_nan():
    flags = np.array([runs(80, (0, 20)), runs(80)])
    layers = layers_of(flags, thermocline_depth=np.where(flags, 3.0, np.nan))
    effects = front_effects(front("2020-01-20T20:00", "2020-01-21T06:00"), layers)
    assert effects["broke"].tolist() == [True, False]
    assert effects["thermocline_days"][0] == np.inf
    assert np.isnan(effects["thermocline_days"][1])


def test_fronts_outside_the_layers_are_left_out():
    layers = layers_of(np.ones(30, bool), thermocline_depth=3.0)
    table = pd.concat(
        [
            front("2019-12-20", "2019-12-21"),
            front("2020-01-10", "2020-01-11"),
            front("2020-01-29", "2020-02-05"),
        ],
        ignore_index=True,
    )
    assert front_effects(table, layers)["front"].unique().tolist() == [1]
    assert len(front_effects(table.iloc[:1], layers)) == 0


def test_a_member_alone_and_a_row_agree():
    rng = np.random.default_rng(3)
    flags = without_blips(rng.random((3, 200)) > 0.4, 3)
    depth = np.where(flags, rng.uniform(2.0, 5.0, flags.shape), np.nan)
    layers = layers_of(flags, thermocline_depth=depth, oxygen_floor_depth=depth + 1.0)
    table = pd.DataFrame({"start": layers.time.to_index()[10:160:15] + pd.Timedelta(hours=2)})
    table["end"] = table["start"] + pd.Timedelta(hours=14)
    whole = front_effects(table, layers)
    for member in range(3):
        alone = front_effects(table, layers.isel(member=[member])).drop(columns="member")
        mine = whole[whole["member"] == member].drop(columns="member").reset_index(drop=True)
        pd.testing.assert_frame_equal(alone, mine)


def test_named_storms_in_a_measured_string(observations):
    """What both storms of 2018 did to Falling Creek's own string, beside its keepers' account.

    They tell of a mixed layer from about 2 to 3.5 m (14-17 September) and from 1-4 m to about
    6 m (11-12 October), with 7-9 m untouched (open data, EDI 271; depths to half a metre).
    """
    folder = observations / "falling-creek-2018"
    string = pd.read_csv(folder / "string_hourly.csv", parse_dates=["datetime_utc"])
    string = string.rename(
        columns={"datetime_utc": "time", "depth_m": "depth", "temp_c": "temperature"}
    )
    noon = string[string["time"].dt.hour == 17][["time", "depth", "temperature"]]
    layers = stratification(measured_profiles(noon))
    storms = pd.DataFrame(
        {
            "start": pd.to_datetime(["2018-09-14T12:00", "2018-10-11T00:00"]),
            "end": pd.to_datetime(["2018-09-17T18:00", "2018-10-13T18:00"]),
        }
    )
    september, october = front_effects(storms, layers).itertuples()
    assert september.mixed_before == pytest.approx(2.0, abs=0.5)
    assert september.mixed_after == pytest.approx(3.5, abs=0.5)
    assert 1.0 <= october.mixed_before <= 4.0
    assert october.mixed_after == pytest.approx(6.0, abs=0.5)
    assert september.layered_before and not september.broke
    assert october.layered_before and not october.broke and october.deepened


@pytest.mark.parametrize(("length", "stays"), [(4, False), (5, True)])
def test_five_days_are_no_blip(length, stays):
    run = runs(60, (20, 20 + length))
    np.testing.assert_array_equal(without_blips(run, 5), run if stays else runs(60))
    np.testing.assert_array_equal(without_blips(~run, 5), ~run if stays else ~runs(60))


def test_gaps_close_before_runs_are_judged():
    flags = runs(60, (20, 23), (24, 27))  # three days, one without, three days: seven in all
    np.testing.assert_array_equal(without_blips(flags, 5), runs(60, (20, 27)))


@pytest.mark.parametrize(("days", "kind"), [(13, "break_up"), (14, "turnover")])
def test_two_weeks_without_layers_at_the_records_end_are_a_turnover(days, kind):
    table = events(layers_of(runs(120 + days, (50, 120))))
    assert list(table["kind"]) == ["onset", kind]


def test_two_breaks_count_as_two_and_the_ends_stay_the_seasons():
    dates = season_dates(layers_of(runs(366, (120, 150), (160, 200), (220, 300))))
    assert dates["breaks"].tolist() == [2] and dates["layered_days"].tolist() == [150]
    day = pd.Timestamp("2020-01-01T18:00")
    assert (dates["onset"][0] - day).days == 120 and (dates["turnover"][0] - day).days == 300
    table = events(layers_of(runs(366, (120, 150), (160, 200), (220, 300))))
    absent = table.loc[table["kind"] == "recovery", "days"]
    assert absent.tolist() == [10.0, 20.0]  # since the last break, not since the first


@pytest.mark.parametrize(("end", "kinds", "seasons"), [
    (60, ["onset", "turnover", "onset", "turnover"], [2019, 2019, 2020, 2020]),
    (61, ["onset", "break_up", "recovery", "turnover"], [2019, 2020, 2020, 2020]),
])  # fmt: skip
def test_the_southern_season_begins_in_july(end, kinds, seasons):
    # layers in an odd June, gone on the 30th or on 1 July, and again from October
    layers = layers_of(runs(400, (50, end), (160, 300)), start="2020-05-01")
    assert layers.time.to_index()[60].strftime("%m-%d") == "06-30"
    layers.attrs["latitude"] = -0.5
    table = events(layers)
    assert table["kind"].tolist() == kinds and table["season"].tolist() == seasons
    layers.attrs["latitude"] = 0.0  # on the equator, the year's
    assert events(layers)["season"].tolist() == [2020, 2020, 2020, 2021]


FRONT = ("2020-01-21T20:00", "2020-01-22T06:00")  # states stand at 18:00 UTC; the first is day 21


def effect_of(n=60, at=FRONT, **values):
    """What one front does to layers at 3 m that change by day as told."""
    flags = values.pop("flags", np.ones(n, bool))
    layers = layers_of(flags, **{"thermocline_depth": np.full(n, 3.0)} | values)
    table = front_effects(front(*at), layers)
    return table.iloc[0] if len(table) else None


def changed(day, value, *, usual, n=60):
    """A daily series that is ``usual`` but on the days told."""
    series = np.full(n, usual)
    series[day] = value
    return series


def test_a_break_belongs_to_a_front_for_a_day_and_a_half():
    day = np.arange(60)
    assert effect_of(flags=~((day >= 22) & (day < 30)))["broke"]  # 36 h after its end
    late = effect_of(flags=~((day >= 23) & (day < 30)))  # 60 h after
    assert not late["broke"] and late["thermocline_days"] == 0.0


@pytest.mark.parametrize(("length", "days"), [(2, 14.5), (3, 5.5)])
def test_layers_are_back_when_they_stay_three_days(length, days):
    day = np.arange(60)
    here = (day < 21) | (day >= 35) | ((day >= 26) & (day < 26 + length))
    # noon of day 26 is 5.5 days after the front's end, of day 35 14.5
    assert effect_of(flags=here)["thermocline_days"] == days


def test_half_a_metre_is_a_deeper_thermocline_and_less_is_none():
    moved = slice(21, 28)
    for depth, deepened in ((3.5, True), (3.49, False)):
        found = effect_of(thermocline_depth=changed(moved, depth, usual=3.0))
        assert bool(found["deepened"]) is deepened
        assert found["thermocline_days"] == (0.5 if deepened else 0.0)
    # 4 m for a week, then 3.5 m: back to within half a metre
    slow = changed(slice(28, None), 3.5, usual=3.0)
    slow[moved] = 4.0
    assert effect_of(thermocline_depth=slow)["thermocline_days"] == pytest.approx(7.5)
    slow[28:] = 3.51
    assert effect_of(thermocline_depth=slow)["thermocline_days"] == np.inf


@pytest.mark.parametrize(("until", "days"), [(50, 29.5), (51, np.inf)])
def test_what_comes_back_after_thirty_days_is_not_told_as_back(until, days):
    day = np.arange(60)
    assert effect_of(flags=(day < 21) | (day >= until))["thermocline_days"] == days


def test_the_floor_is_lost_when_it_falls_half_a_metre():
    for after, lost in ((4.5, False), (4.51, True), (np.nan, True)):
        found = effect_of(oxygen_floor_depth=changed(slice(21, 25), after, usual=4.0))
        assert bool(found["floor_lost"]) is lost
        assert found["floor_days"] == (4.5 if lost else 0.0)
    none = effect_of(oxygen_floor_depth=changed(20, np.nan, usual=4.0))
    assert not none["floor_lost"] and np.isnan(none["floor_days"])


def test_half_a_degree_is_a_warm_skin():
    for warm, days in ((0.5, 2.5), (0.49, 3.5)):
        skin = changed(slice(21, 23), 0.1, usual=1.0)
        skin[23] = warm
        assert effect_of(surface_skin=skin)["skin_days"] == days


def test_states_within_two_days_of_a_front_tell_of_it():
    held = layers_of(np.ones(30, bool), thermocline_depth=3.0)
    two = held.isel(time=[0, 10])  # nothing between
    first, last = two.time.to_index()
    hour = pd.Timedelta(hours=1)
    for lag, told in ((48, 1), (49, 0)):
        assert len(front_effects(front(first + lag * hour, last - hour), two)) == told
        assert len(front_effects(front(first + hour, last - lag * hour), two)) == told
    # the state of the very hour in which it begins, or ends, is one before, or after, it
    assert len(front_effects(front(first, last), held)) == 1


def test_the_first_state_after_a_front_tells_of_a_break_however_late_it_is():
    flags = np.r_[np.ones(10, bool), np.zeros(20, bool)]
    held = layers_of(flags, thermocline_depth=np.where(flags, 3.0, np.nan))
    sparse = held.isel(time=[8, 9, 12, 13, 14])  # none on days 10 and 11
    end = sparse.time.to_index()[2] - pd.Timedelta(hours=47)
    blow = front(end - pd.Timedelta(hours=10), end)
    assert front_effects(blow, sparse)["broke"].all()
    sparse["stratified"][..., 2] = True  # gone a day later: by then 71 h after it
    assert not front_effects(blow, sparse)["broke"].any()
