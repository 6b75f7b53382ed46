"""What lies outside the weather record is a finding, and the rest goes on."""

from types import SimpleNamespace

import pandas as pd
import pytest
import xarray as xr
from log_helpers import make_club, make_lake

from lakekit.bench import drills
from lakekit.cli.main import main
from lakekit.errors import ProbeError, TripsError
from lakekit.guide.log.logbook import outside_findings
from lakekit.trips import read_trips
from lakekit.waters import knowledge

HEADER = "date,time,lake,depth_m,temperature_C\n"


def forcing():
    return xr.Dataset(
        {"air_temperature": ("time", [1.0] * 240)},
        coords={"time": pd.date_range("2025-06-01", periods=240, freq="h")},
    )


@pytest.fixture
def fitted(tmp_path):
    """What a probe file of that content gives the lake ash, and the lines said."""
    lake = make_lake("ash", "Ash Pit Pond")
    club = SimpleNamespace(**{**vars(make_club()), "folder": tmp_path})

    def of(text):
        (tmp_path / "probe.csv").write_text(HEADER + text)
        told = []
        return knowledge._fitted(club, lake, forcing(), told.append), told

    return of


def test_casts_outside_the_record_are_told_and_not_used(fitted):
    result, told = fitted("2024-06-02,10:00,ash,1,20\n2026-06-02,10:00,ash,1,20\n")
    assert result == (None, None)
    assert told == ["probe.csv: 2 casts of Ash Pit Pond outside its weather record "
                    "(2025-06-01 to 2025-06-10), not used, the first in row 2"]  # fmt: skip
    assert "1 cast of Ash Pit Pond outside" in fitted("2024-06-02,10:00,ash,1,20\n")[1][0]


def test_casts_that_no_such_lake_explains_are_told_and_not_used(fitted, monkeypatch):
    def far_off(*_, **__):
        raise ProbeError("3 of 3 temperatures are far off", where="ash", mend="Check them.")

    monkeypatch.setattr(knowledge, "kept", far_off)
    result, told = fitted("2025-06-02,10:00,ash,1,20\n")
    assert result == (None, None)
    assert told == ["probe.csv: ash: 3 of 3 temperatures are far off. Check them. The "
                    "readings of Ash Pit Pond are not used"]  # fmt: skip


def test_one_bad_reading_is_told_with_its_file(fitted):
    rows = "".join(f"2024-06-0{day},10:00,ash,1,20\n" for day in range(1, 5))
    _, told = fitted(rows + "2025-06-02,10:00,ash,1,999\n")
    assert told[0].startswith("probe.csv, row 6, column temperature_C: 999 under temperature_C")


def test_trips_outside_the_record_are_a_finding(tmp_path):
    path = tmp_path / "trips.csv"
    path.write_text("date,start,hours,lake,tactic,rods,fish\n" + "".join(
        f"{day},06:30,2,ash,cast,2,1\n" for day in ("2025-06-03", "2025-07-03", "2024-01-01")))
    trips = read_trips(path, make_club(), as_of="2026-01-01")
    found = outside_findings(trips, {"ash": SimpleNamespace(forcing=forcing())})
    assert found["row"].tolist() == [3]
    assert found["finding"].iloc[0].startswith("2 rows of ash, this one first, lie outside")
    assert outside_findings(trips.head(1), {"ash": SimpleNamespace(forcing=forcing())}).empty


def test_trips_outside_the_record_are_told_by_the_command(tmp_path, capsys):
    folder = drills.make_club(tmp_path / "club")
    (folder / "probe.csv").unlink()
    with open(folder / "trips.csv", "a") as log:
        log.write("2019-06-04,06:30,2.5,pond,cast_jig,2,3,long ago\n")
    assert main(["trips", "--club", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "note: row 26, date: this row of pond lies outside its weather record" in out


@pytest.mark.parametrize("name", ["trips.xls", "trips.ods"])
def test_a_lone_log_of_a_kind_that_is_not_read_is_refused(tmp_path, name):
    club = SimpleNamespace(folder=tmp_path)
    assert knowledge.log_path(club) is None
    (tmp_path / name).write_bytes(b"")
    with pytest.raises(TripsError, match=rf"{name}: .*Save it as trips.xlsx, or as trips.csv"):
        knowledge.log_path(club)
    (tmp_path / "trips.csv").write_text("")
    assert knowledge.log_path(club) == tmp_path / "trips.csv"
