"""Each row meets the state of its own lake at its own hour."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from log_helpers import make_club, make_lake

from lakekit.trips import join_water, read_trips
from lakekit.trips.join import days_since

HEADER = "date,start,hours,lake,tactic,rods,fish,catch_depth_m\n"


def read(tmp_path, *rows, club=None):
    path = tmp_path / "trips.csv"
    path.write_text(HEADER + "".join(rows), encoding="utf-8")
    return read_trips(path, club or make_club(), as_of="2026-01-01")


def layers(start, periods, freq, *, members=None):
    times = pd.date_range(start, periods=periods, freq=freq)
    hours = np.arange(periods, dtype="float64")
    if members is None:
        data, dims = hours, ("time",)
    else:
        data, dims = hours + np.arange(members)[:, None] * 100, ("member", "time")
    return xr.Dataset(
        {"thermocline_depth": (dims, data), "stratified": (dims, data * 0 + 1),
         "surface_temperature": (dims, data + 0.5)},
        coords={"time": times},
    )


def test_hour_is_found_in_each_lakes_own_time_zone(tmp_path):
    club = make_club(lakes=(make_lake("ash", "Ash"), make_lake("firth", "Firth",
                                                                time_zone="Europe/London")))
    trips = read(tmp_path, "2025-07-03,06:00,2,ash,cast,2,1,3\n",
                 "2025-07-03,06:00,2,firth,cast,2,1,3\n", club=club)
    run = layers("2025-07-03", 24, "1h")
    joined = join_water(trips, {"ash": run, "firth": run}, club)
    assert joined["thermocline_depth"].tolist() == [11.0, 5.0]  # 6:00 CDT, 6:00 BST
    assert joined["depth_from_thermocline"].tolist() == [-8.0, -2.0]
    assert joined.attrs["not_joined"] == []


@pytest.mark.parametrize(
    ("row", "hour"),
    [("2025-11-02,00:30", 5.5), ("2025-11-02,03:00", 9.0), ("2025-03-09,01:30", 7.5),
     ("2025-03-09,03:00", 8.0)],
)
def test_hours_around_both_clock_changes(tmp_path, row, hour):
    trips = read(tmp_path, f"{row},1,ash,cast,2,1,\n")
    run = layers(row.split(",")[0], 48, "30min")
    joined = join_water(trips, {"ash": run}, make_club())
    assert joined["thermocline_depth"].iloc[0] / 2 == hour


def test_daily_states_and_rows_outside_the_run(tmp_path):
    trips = read(tmp_path, "2025-07-02,06:00,2,ash,cast,2,1,\n",
                 "2025-08-20,06:00,2,ash,cast,2,1,\n", "2025-07-02,06:00,2,birch,cast,2,1,\n")
    run = layers("2025-07-01 18:00", 5, "1D")
    joined = join_water(trips, {"ash": run}, make_club())
    # 6:00 CDT = 11:00 UTC: nearer to 18:00 that day (7 h) than to the day before (17 h)
    assert joined["thermocline_depth"].iloc[0] == 1.0
    assert joined["thermocline_depth"].iloc[1:].isna().all()
    assert joined.attrs["not_joined"] == [3, 4]


def test_members_are_met_by_their_middle(tmp_path):
    trips = read(tmp_path, "2025-07-01,06:00,2,ash,cast,2,1,\n")
    joined = join_water(trips, {"ash": layers("2025-07-01", 24, "1h", members=3)}, make_club())
    assert joined["thermocline_depth"].tolist() == [111.0]


def test_phase_by_function_by_column_or_not_at_all(tmp_path):
    trips = read(tmp_path, "2025-07-01,06:00,2,ash,cast,2,1,\n",
                 "2025-04-01,06:00,2,birch,cast,2,1,\n")
    club = make_club()

    def phase(key, starts):
        return [f"{key}-{month}" for month in starts.month]

    assert join_water(trips, {}, club, phase=phase)["phase"].tolist() == ["ash-7", "birch-4"]
    assert join_water(trips, {}, club, phase="tactic")["phase"].tolist() == ["cast", "cast"]
    assert "phase" not in join_water(trips, {}, club)


def test_days_since_the_last_front(tmp_path):
    starts = pd.DatetimeIndex(["2025-07-01", "2025-07-05 12:00", "2025-12-01"])
    days = days_since(starts, ["2025-07-02", "2025-07-04"])
    assert days.tolist() == [60.0, 1.5, 60.0]
    trips = read(tmp_path, "2025-07-05,07:00,2,ash,cast,2,1,\n")
    fronts = pd.DataFrame({"end": pd.to_datetime(["2025-07-04 12:00"])})
    joined = join_water(trips, {}, make_club(), fronts_by_lake={"ash": fronts})
    assert joined["days_since_front"].tolist() == [1.0]


def test_joining_keeps_rows_their_order_and_the_log_itself(tmp_path):
    trips = read(tmp_path, "2025-07-05,07:00,2,ash,cast,2,1,\n",
                 "2025-07-04,07:00,2,birch,cast,2,1,\n")
    before = trips.copy()
    joined = join_water(trips, {"ash": layers("2025-07-05", 24, "1h")}, make_club())
    assert joined["row"].tolist() == [2, 3]
    pd.testing.assert_frame_equal(trips, before)
    assert {"findings", "excluded"} <= set(joined.attrs)
