"""Onset and turnover over traces, told by hand; ranges widened by what the column misses."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.strata.seasons import season_end, season_statistics, widen_odds
from lakekit.strata.spread import MISSES, widened


@pytest.mark.parametrize(
    ("day", "latitude", "end"),
    [
        ("2021-01-01", 40.0, "2022-01-01"),
        ("2021-12-31", 40.0, "2022-01-01"),
        ("2021-06-30", -0.5, "2021-07-01"),
        ("2021-07-01", -36.0, "2022-07-01"),
        ("2021-07-01", 0.0, "2022-01-01"),
    ],
)
def test_a_season_holds_one_summer(day, latitude, end):
    assert season_end(pd.Timestamp(day), latitude) == pd.Timestamp(end)


def layered(spans, *, days=730, start="2021-01-01", latitude=40.0):
    """Layers on (trace, member, time), warm over cold within ``spans[trace][member]``."""
    time = pd.date_range(f"{start}T18:00", periods=days, freq="D")
    flags = np.zeros((len(spans), len(spans[0]), days), bool)
    for trace, members in enumerate(spans):
        for member, runs in enumerate(members):
            for first, last in runs:
                flags[trace, member, first:last] = True
    data = {"stratified": (("trace", "member", "time"), flags)}
    return xr.Dataset(data, coords={"time": time}, attrs={"latitude": latitude})


def asked(every, begin, until):
    return season_statistics(every, pd.Timestamp(begin), pd.Timestamp(until))


def test_days_of_the_year_over_traces_and_members():
    # layers from the 100th, 110th, 120th and 130th day on (1 January is the 1st), to days 280-310
    spans = [[[(99, 279)], [(109, 289)]], [[(119, 299)], [(129, 309)]]]
    found = asked(layered(spans), "2021-03-01", "2021-12-01")
    for name, days in (("onset", [100, 110, 120, 130]), ("turnover", [280, 290, 300, 310])):
        np.testing.assert_allclose(found[f"{name}_day"], np.quantile(days, (0.1, 0.5, 0.9)))
    assert found.attrs == {"onset_year": 2021, "turnover_year": 2021}
    assert int(found["onset_years"]) == int(found["turnover_years"]) == 2


def test_a_year_counts_where_most_of_its_members_saw_it():
    never = []
    spans = [[[(99, 279)]] * 3, [[(99, 279)], [(99, 279)], never], [[(99, 279)], never, never]]
    assert int(asked(layered(spans), "2021-03-01", "2021-12-01")["onset_years"]) == 2
    half = [[[(99, 279)], never]]
    assert int(asked(layered(half), "2021-03-01", "2021-12-01")["onset_years"]) == 0


def test_the_event_within_the_months_asked_for_is_told_else_the_next_seasons():
    spans = [[[(99, 279), (365 + 119, 365 + 299)]]]
    every = layered(spans)
    autumn = asked(every, "2021-09-01", "2021-12-01")  # layered as it begins
    # no onset within: that of the season in which the months begin
    assert autumn.attrs == {"onset_year": 2021, "turnover_year": 2021}
    spring = asked(every, "2022-03-01", "2022-06-01")
    assert spring.attrs == {"onset_year": 2022, "turnover_year": 2022}
    assert spring["onset_day"].values[1] == 120 and spring["turnover_day"].values[1] == 300
    # a window that begins on the very day holds it; one that ends with it does not
    onset = every["time"].values[99]
    assert asked(every, onset, "2021-06-01")["onset_day"].values[1] == 100
    both = asked(every, "2021-09-01", every["time"].values[365 + 119] + np.timedelta64(1, "h"))
    assert both.attrs["onset_year"] == 2022
    before = asked(every, "2021-09-01", every["time"].values[365 + 119])
    assert before.attrs["onset_year"] == 2021
    # of two within, the first, on the very day as well
    assert asked(every, onset, "2022-12-01").attrs["onset_year"] == 2021


def test_without_one_within_it_is_the_next_seasons_and_never_an_earlier_ones():
    late, early = layered([[[(365 + 119, 365 + 299)]]]), layered([[[(119, 299)]]])
    assert asked(late, "2021-03-01", "2021-06-01").attrs["onset_year"] == 2022
    past = asked(early, "2022-03-01", "2022-06-01")
    assert np.isnan(past["onset_day"]).all() and int(past["onset_years"]) == 0


def test_a_month_that_begins_in_the_old_year_of_utc_is_the_new_years():
    every = layered([[[(99, 279), (365 + 119, 365 + 299)]]])
    january = asked(every, "2021-12-31T14:00", "2022-01-31T14:00")  # ten hours east
    assert january.attrs["onset_year"] == 2022


def test_a_southern_summer_runs_over_the_new_year():
    every = layered([[[(100, 270)]]], start="2020-07-01", days=365, latitude=-0.5)
    found = asked(every, "2020-09-01", "2021-06-01")
    # the 101st day from 1 July is 9 October, day 283 of a leap year; 170 days later 28 March, 87
    assert found.attrs == {"onset_year": 2020, "turnover_year": 2021}
    assert found["onset_day"].values[1] == 283 and found["turnover_day"].values[1] == 87
    # in June, no event within: still the season that began the July before
    late = asked(every, "2021-06-01", "2021-07-01")
    assert late.attrs == {"onset_year": 2020, "turnover_year": 2021}


def test_layers_that_never_came_have_no_day():
    found = asked(layered([[[]], [[]]]), "2021-03-01", "2021-12-01")
    assert np.isnan(found["onset_day"]).all() and np.isnan(found["turnover_day"]).all()
    assert int(found["onset_years"]) == 0 and found.attrs["onset_year"] == 2021


DEPTH = np.arange(0.5, 8.0)
FIRSTS = pd.DatetimeIndex(["2021-06-01", "2021-07-01", "2021-10-01"])
AS_OF = pd.Timestamp("2021-06-20T12:00")


def odds():
    """Three months alike, layered in the first two; 10, 50 and 90 % of each."""
    quantiles = np.array([-1.0, 0.0, 1.0])
    middle = np.interp(DEPTH, [3, 5], [24.0, 12.0])
    profile = middle + quantiles[:, None]
    months = len(FIRSTS)
    data = {
        "layered_chance": ("month", np.array([1.0, 0.51, 0.5])),
        "temperature": (("month", "quantile", "depth"), np.tile(profile, (months, 1, 1))),
        "oxygen": (("month", "quantile", "depth"), np.tile(6 + 0 * profile, (months, 1, 1))),
    }
    for name, value in (
        ("surface_temperature", 24.0), ("bottom_temperature", 12.0), ("thermocline_depth", 4.0),
        ("oxygen_floor_depth", 5.0), ("mixed_layer_depth", np.nan),
    ):  # fmt: skip
        data[name] = (("month", "quantile"), np.tile(value + quantiles, (months, 1)))
    return xr.Dataset(data, coords={"depth": DEPTH})


def wide(readings=None, *, fitted=False, own_scale=1.0):
    found = odds()
    widen_odds(
        found, SimpleNamespace(max_depth=8.0), readings, fitted=fitted, firsts=FIRSTS,
        as_of=AS_OF, own_scale=own_scale,
        depths=("thermocline_depth", "oxygen_floor_depth", "mixed_layer_depth"),
    )  # fmt: skip
    return found


def half(found, name, month):
    low, middle, high = found[name].values[month]
    assert middle - low == pytest.approx(high - middle)
    return high - middle


@pytest.mark.parametrize("how", ["free", "fitted"])
def test_each_range_grows_by_its_own_error(how):
    found = wide(fitted=how == "fitted")
    own = MISSES[how]
    assert list(found["standing"].values) == [how] * 3
    for month, season in ((0, 0), (1, 0), (2, 1)):  # half of the days layered is not layered
        for name, error in (
            ("surface_temperature", own.temperature[season]),
            ("bottom_temperature", own.temperature[season]),
            ("thermocline_depth", own.line),
            ("oxygen_floor_depth", own.floor),
        ):
            # 10 and 90 % lie 1.2816 standard deviations from the middle of a normal distribution
            expected = np.hypot(1.0, 1.2816 * error) * own.factor
            if name.endswith("depth"):
                expected = np.hypot(1.0, 1.2816 * error)
            assert half(found, name, month) == pytest.approx(expected, rel=1e-9), name
        oxygen = found["oxygen"].values[month]
        assert np.ptp(oxygen, axis=0) == pytest.approx(2 * 1.2816 * own.oxygen[season])
    assert np.isnan(found["mixed_layer_depth"]).all()


def test_where_temperature_falls_fast_its_range_is_wider():
    found = wide()
    spread = np.ptp(found["temperature"].values[0], axis=0)
    assert spread[3] > 1.5 * spread[0]  # at 3.5 m, 6 degC a metre; at the top none
    flat = 2 * np.hypot(1.0, 1.2816 * MISSES["free"].temperature[0])
    assert spread[0] == pytest.approx(flat)


@pytest.mark.parametrize(("flat", "others"), [(0, [1, 2]), (2, [0, 1])])
def test_the_middle_profile_tells_where_temperature_falls_fast(flat, others):
    found, plain = odds(), wide()
    found["temperature"][:, flat] = found["temperature"].values[:, flat].mean()
    widen_odds(
        found, SimpleNamespace(max_depth=8.0), None, fitted=False, firsts=FIRSTS, as_of=AS_OF,
        depths=(),
    )  # fmt: skip
    np.testing.assert_allclose(found["temperature"][:, others], plain["temperature"][:, others])


def test_no_range_passes_the_bottom_the_surface_or_frost():
    found = odds()
    found["thermocline_depth"][:] = [0.1, 0.2, 7.99]
    found["surface_temperature"][:] = [0.1, 0.2, 0.3]
    found["oxygen"][:] = 0.2
    widen_odds(
        found, SimpleNamespace(max_depth=8.0), None, fitted=False, firsts=FIRSTS, as_of=AS_OF,
        depths=("thermocline_depth",),
    )  # fmt: skip
    assert found["thermocline_depth"].values[0].tolist() == [0.0, 0.2, 8.0]
    assert found["surface_temperature"].values[0, 0] == 0.0
    assert float(found["oxygen"].min()) == 0.0


@pytest.mark.parametrize(
    ("time", "standing"),
    [
        # the months' middles are 16 June, 16 July, 16 October; the last hour known ends at 13:00
        ("2021-06-11T00:00", ["soon", "soon", "free"]),  # 5, 35 and 127 days
        ("2021-06-10T00:00", ["soon", "late", "free"]),  # 36
        ("2021-05-02T00:00", ["late", "late", "free"]),  # 45 and 75
        ("2021-05-01T00:00", ["late", "free", "free"]),  # 46 and 76
        ("2021-06-20T13:00", ["free", "soon", "free"]),  # after June's middle
        ("2021-06-20T14:00", ["free", "free", "free"]),  # after all that is known
    ],
)
def test_ranges_are_those_of_the_days_since_the_last_reading(time, standing):
    readings = pd.DataFrame({"time": [pd.Timestamp("2020-06-01"), pd.Timestamp(time)]})
    assert list(wide(readings)["standing"].values) == standing
    assert list(wide(readings, fitted=True)["standing"].values) == [
        "fitted" if how == "free" else how for how in standing
    ]


def test_a_lakes_own_casts_scale_what_follows_them_and_nothing_else():
    read = pd.DataFrame({"time": pd.to_datetime(["2021-06-11T00:00"])})
    plain, own = wide(read), wide(read, own_scale=2.0)
    for name in ("surface_temperature", "bottom_temperature", "temperature"):
        usual, doubled = (np.ptp(odds[name].values, axis=1) for odds in (plain, own))
        np.testing.assert_allclose(doubled[:2], 2 * usual[:2], rtol=1e-9)
        np.testing.assert_allclose(doubled[2], usual[2], rtol=1e-12)  # no reading holds so long
    for name in ("thermocline_depth", "oxygen_floor_depth", "oxygen"):
        np.testing.assert_array_equal(own[name], plain[name])
    soon = MISSES["soon"]
    expected = widened([23.0, 24.0, 25.0], soon.temperature[0], scale=soon.factor)
    np.testing.assert_allclose(plain["surface_temperature"].values[0], expected)
