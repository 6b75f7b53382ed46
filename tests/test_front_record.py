"""What notes said and what came: the table grows, is filled in, is scored, and refuses nonsense."""

import numpy as np
import pandas as pd
import pytest

from lakekit.errors import StoreError
from lakekit.fronts.record import FILE, hits, read_record, record_text, same_front, with_note
from lakekit.guide.front.watch import earlier_rows, hit_rows

FRONT = {"start": pd.Timestamp("2025-06-26"), "end": pd.Timestamp("2025-06-28T01:00")}


def said(table, as_of, days, came=None, what="deeper", front=FRONT):
    return with_note(table, lake="pond", front=front, as_of=as_of, what=what, said=days, came=came)


@pytest.fixture
def empty(tmp_path):
    return read_record(tmp_path)


def test_what_came_is_filled_into_what_was_said(empty):
    table = said(empty, "2025-06-28T23:00", (6.0, 9.0, 12.0))
    assert np.isnan(table["came_days"]).all()
    table = said(table, "2025-07-01T23:00", (4.0, 7.0, 9.0), came=np.inf)
    assert len(table) == 2 and np.isnan(table["came_days"]).all()
    table = said(table, "2025-07-10T23:00", (6.0, 6.0, 6.0), came=6.0)
    assert (table["came_days"] == 6.0).all()
    found = hits(table)  # of each front the first note; the last came when it was back already
    assert found == {"fronts": 1, "within": 1, "error": 3.0, "waiting": 0}
    rows = earlier_rows(same_front(table, "pond", FRONT["start"]), 6.0)
    assert rows[0] == [
        "Said 28 June", "back at its old depth in 9 days (6 to 12) from its end; it took 6 days"
    ]  # fmt: skip
    assert hit_rows(table)[0][1].startswith("1 of 1 came back within the days that were said; 3.0")


def test_a_note_made_twice_is_said_once_and_other_fronts_stand_apart(empty):
    table = said(empty, "2025-06-28T23:00", (6.0, 9.0, 12.0))
    table = said(table, "2025-06-28T23:00", (5.0, 8.0, 11.0))
    assert table["said_days"].tolist() == [8.0]
    later = {"start": pd.Timestamp("2025-07-20"), "end": pd.Timestamp("2025-07-21")}
    table = said(table, "2025-07-21T23:00", (1.0, 2.0, np.inf), front=later, what="broken")
    assert len(same_front(table, "pond", later["start"])) == 1
    assert len(same_front(table, "pond", "2025-06-26T05:00")) == 1  # found anew, it began later
    assert same_front(table, "other", FRONT["start"]).empty
    assert hits(table)["waiting"] == 2
    assert hit_rows(table) == [["Own fronts", "none told and come back yet; 2 not back yet"]]


def test_a_front_that_took_nothing_adds_nothing(empty):
    assert said(empty, "2025-06-28T23:00", None, what=None).empty


def test_the_table_survives_its_file(empty, tmp_path):
    table = said(empty, "2025-06-28T23:00", (6.0, 9.0, np.inf), came=7.5)
    (tmp_path / FILE).write_text(record_text(table))
    back = read_record(tmp_path)
    pd.testing.assert_frame_equal(back, table, check_dtype=False)
    assert record_text(back) == record_text(table)


@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", "\x00\x01"])
def test_a_file_that_is_no_such_table_is_one_message(tmp_path, text):
    (tmp_path / FILE).write_text(text)
    with pytest.raises(StoreError, match="no table of fronts") as caught:
        read_record(tmp_path)
    assert "Delete it" in str(caught.value)
