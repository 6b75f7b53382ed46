"""Findings on a log: each slip has one outcome, with the row and the mend."""

import numpy as np
import pandas as pd
import pytest
from log_helpers import make_club

from lakekit.trips import check_trips, publishable, read_trips, totals
from lakekit.trips.totals import effort_grid

HEADER = (
    "date,start,hours,lake,tactic,rods,fish,trip,angler,catch_depth_ft,surface_temp_C,share,notes\n"
)
GOOD = "2025-05-0{day},06:30,2,ash,cast_jig,4,3,,,,,,\n"


def read(tmp_path, *rows, **options):
    path = tmp_path / "trips.csv"
    path.write_text(HEADER + "".join(rows), encoding="utf-8")
    return read_trips(path, make_club(), as_of="2026-01-01", **options)


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("2025-05-03,06:30,0,ash,cast_jig,4,5,,,,,,\n", "hours", "5 fish in no hours"),
        ("2025-05-03,06:30,0,ash,cast_jig,4,0,,,,,,\n", "hours", "without effort"),
        ("2025-05-03,06:30,,ash,cast_jig,4,0,,,,,,\n", "hours", "without effort"),
        ("2025-05-03,06:30,-2,ash,cast_jig,4,0,,,,,,\n", "hours", "cannot be"),
        ("2025-05-03,06:30,48,ash,cast_jig,4,0,,,,,,\n", "hours", "cannot be"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,10000,,,,,,\n", "fish", "10000 fish cannot be"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,800,,,,,,\n", "fish", "800 fish in 2 hours on 4 rods"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,-1,,,,,,\n", "fish", "cannot be"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,,,,,,,\n", "fish", "no number of fish"),
        ("2025-05-03,06:30,2,ash,cast_jig,99,1,,,,,,\n", "rods", "cannot be"),
        ("2027-05-03,06:30,2,ash,cast_jig,4,1,,,,,,\n", "date", "in the future"),
        ("0205-05-03,06:30,2,ash,cast_jig,4,1,,,,,,\n", "date", "too long ago"),
        ("2025-05-03,06:30,2,ahs,cast_jig,4,1,,,,,,\n", "lake", "no lake 'ahs'"),
        ("2025-05-03,06:30,2,ash,,4,1,,,,,,\n", "tactic", "no tactic"),
        ("2025-05-03,06:30,,ash,,,,,,,,,\n", "", "hardly anything in it"),
    ],
)
def test_row_that_cannot_be_used_is_left_out_with_its_reason(tmp_path, row, column, words):
    trips = read(tmp_path, GOOD.format(day=1), row)
    found = check_trips(trips)
    found = found[(found["row"] == 3) & (found["severity"] == "error")]
    assert found["column"].tolist() == [column]
    assert words in found["finding"].iloc[0] and found["mend"].iloc[0]
    assert trips["row"].tolist() == [2]
    assert words in trips.attrs["excluded"]["reason"].iloc[0]


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("2025-05-03,06:30,20,ash,cast_jig,4,5,,,,,,\n", "hours", "long outing"),
        ("2025-05-03,06:30,2,ash,cast_jig,8,5,,,,,,\n", "rods", "more than 3 for each"),
        ("2025-05-03,06:30,2,ash,cast_jig,0,5,,,,,,\n", "rods", "one for each angler"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,5,,,60,,,\n", "catch_depth", "deeper than the lake"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,5,,,,78,,\n", "surface_temp", "out of any range"),
        ("2025-05-03,06:30,2,ash,cast_jig,4,5,,,,,perhaps,\n", "share", "none of yes, no"),
    ],
)
def test_doubtful_row_is_used_and_told(tmp_path, row, column, words):
    trips = read(tmp_path, GOOD.format(day=1), row)
    found = check_trips(trips)
    found = found[(found["row"] == 3) & (found["column"] == column)]
    assert found["severity"].tolist() == ["warning"]
    assert words in found["finding"].iloc[0] and found["mend"].iloc[0]
    assert trips["row"].tolist() == [2, 3]


def test_silly_readings_are_dropped_from_the_row_that_is_used(tmp_path):
    trips = read(tmp_path, "2025-05-03,06:30,2,ash,cast_jig,4,5,,,60,78,,\n")
    assert np.isnan(trips["catch_depth"].iloc[0]) and np.isnan(trips["surface_temp"].iloc[0])


@pytest.mark.parametrize("who", ["outing 7,", ",ann"])
def test_exact_repeat_of_a_named_outing_or_angler_is_left_out_and_names_its_twin(tmp_path, who):
    path = tmp_path / "trips.csv"
    row = f"2025-05-03,06:30,2,ash,cast_jig,4,0,{who}\n"
    path.write_text(
        "date,start,hours,lake,tactic,rods,fish,trip,angler\n"
        + row
        + row.replace("06:30", "09:30")
        + row
    )
    trips = read_trips(path, make_club(), as_of="2026-01-01")
    assert trips["row"].tolist() == [2, 3]
    assert trips.attrs["excluded"]["reason"].tolist() == ["the same in every cell as row 2"]


def test_equal_rows_that_may_be_two_boats_are_kept_and_asked_about(tmp_path):
    trips = read(tmp_path, GOOD.format(day=1), GOOD.format(day=2), GOOD.format(day=1))
    assert trips["row"].tolist() == [2, 3, 4] and trips["trip"].nunique() == 3
    found = check_trips(trips)
    found = found[found["row"] == 4].iloc[0]
    assert found["severity"] == "warning" and "two boats?" in found["mend"]
    assert found["finding"] == "the same in every cell as row 2: kept, as a second boat's"


def test_same_hours_of_two_anglers_are_no_repeat(tmp_path):
    trips = read(
        tmp_path,
        "2025-05-03,06:30,2,ash,cast_jig,4,5,,ann,,,,\n",
        "2025-05-03,06:30,2,ash,cast_jig,4,5,,bo,,,,\n",
    )
    assert len(trips) == 2 and trips["trip"].nunique() == 2


def test_unknown_tactic_names_the_nearest_and_still_counts(tmp_path):
    trips = read(
        tmp_path,
        "2025-05-03,06:30,2,ash,cast jigg,4,5,,,,,,\n",
        tactics={"casting": "cast_jig", "slip bobber": "float_rig"},
    )
    found = check_trips(trips)
    found = found[found["column"] == "tactic"].iloc[0]
    assert found["severity"] == "warning" and "did you mean 'cast_jig'" in found["mend"]
    assert trips["tactic"].tolist() == ["cast_jigg"]


def test_a_catch_far_beyond_the_rest_is_a_warning(tmp_path):
    rows = [GOOD.format(day=day) for day in range(1, 10)]
    rows += [
        "2025-05-11,06:30,2,ash,cast_jig,4,4,,,,,,\n",
        "2025-05-12,06:30,2,ash,cast_jig,4,200,,,,,,\n",
    ]
    found = check_trips(read(tmp_path, *rows))
    assert found[found["column"] == "fish"]["row"].tolist() == [12]


def test_log_without_a_blank_gets_the_reminder(tmp_path):
    rows = [GOOD.format(day=day) for day in range(1, 7)]
    found = check_trips(read(tmp_path, *rows))
    last = found[found["row"].isna()].iloc[-1]
    assert last["severity"] == "warning" and "none of 6 rows is without a fish" in last["finding"]
    assert "belong in the log" in last["mend"]
    rows.append("2025-05-09,06:30,2,ash,cast_jig,4,0,,,,,,\n")
    found = check_trips(read(tmp_path, *rows))
    last = found[found["row"].isna()].iloc[-1]
    assert last["severity"] == "note" and "1 of 7" in last["finding"]


def test_outings_share_a_trip_word_or_a_day(tmp_path):
    trips = read(
        tmp_path,
        "2025-05-03,06:30,2,ash,cast_jig,4,5,,,,,,\n",
        "2025-05-03,09:30,1,ash,float_rig,4,0,,,,,,\n",
        "2025-05-03,12:30,1,birch,float_rig,4,0,,,,,,\n",
        "2025-05-04,06:30,2,ash,cast_jig,4,5,A7,,,,,\n",
        "2025-05-05,01:00,2,ash,cast_jig,4,5,A7,,,,,\n",
    )
    assert pd.factorize(trips["trip"])[0].tolist() == [0, 0, 1, 2, 2]


def test_totals_are_plain_sums_and_labelled(tmp_path):
    trips = read(
        tmp_path,
        "2025-05-03,06:30,2,ash,cast_jig,4,5,,,,,,\n",
        "2025-05-03,09:30,1,ash,cast_jig,2,0,,,,,,\n",
        "2025-06-04,06:30,3,ash,float_rig,1,2,,,,,,\n",
    )
    table = totals(trips)
    assert "not rates to expect" in table.attrs["label"]
    first = table.iloc[0]
    assert (first["tactic"], first["month"], first["outings"], first["rows"]) == (
        "cast_jig",
        5,
        1,
        2,
    )
    assert (first["boat_hours"], first["rod_hours"], first["fish"]) == (3.0, 10.0, 5.0)
    assert table["fish"].sum() == trips["fish"].sum()
    grid = effort_grid(trips)
    assert grid.shape == (2, 12) and grid.to_numpy().sum() == pytest.approx(6.0)
    assert grid.loc["float_rig", 6] == 3.0


def test_publishable_keeps_private_words_only_of_rows_that_share(tmp_path):
    trips = read(
        tmp_path,
        "2025-05-03,06:30,2,ash,cast_jig,4,5,,Ann,,,,by the dam\n",
        "2025-05-04,06:30,2,ash,cast_jig,4,5,,Bo,,,yes,by the mill\n",
    )
    public = publishable(trips)
    assert public["notes"].tolist() == ["", "by the mill"]
    assert public["angler"].tolist() == ["", "Bo"]
    assert public.attrs == {}
    everything = public.to_csv() + str(public.attrs)
    assert "Ann" not in everything and "ann" not in everything and "dam" not in everything
    assert trips["notes"].iloc[0] == "by the dam"
