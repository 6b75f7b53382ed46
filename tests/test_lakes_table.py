"""lakes.csv: a row a lake, read and checked as a lake file is."""

import numpy as np
import pytest

from lakekit.cli.main import main
from lakekit.club import read_club
from lakekit.errors import ClubError
from lakekit.lakefile import read_lake
from lakekit.lakes_table import read_lakes_table

CLUB = 'name = "A club"\n[boat]\nname = "boat"\n'
HEADER = "name,latitude,longitude,time_zone,area,max_depth"
ROW = "Mill Pond,40.1,-89.2,America/Chicago,50 acres,20 ft"


def table(folder, *rows, header=HEADER):
    (folder / "club.toml").write_text(CLUB)
    (folder / "lakes").mkdir(exist_ok=True)
    (folder / "lakes.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder / "lakes.csv"


def test_a_row_and_a_lake_file_make_the_same_lake(tmp_path):
    header = (HEADER + ",region,elevation,secchi.jul,secchi.apr,fertility,rules.max_rods,"
              "weather.station")  # fmt: skip
    table(tmp_path, ROW + ",14,620 ft,3 ft,5 ft,eutrophic,2,72001", header=header)
    path = tmp_path / "mill-pond.toml"
    path.write_text(
        'name = "Mill Pond"\nlatitude = 40.1\nlongitude = -89.2\ntime_zone = "America/Chicago"\n'
        'area = "50 acres"\nmax_depth = "20 ft"\nelevation = "620 ft"\nfertility = "eutrophic"\n'
        'region = "14"\n'
        'secchi = { jul = "3 ft", apr = "5 ft" }\n[rules]\nmax_rods = 2\n'
        '[weather]\nstation = "72001"\n'
    )
    wanted, found = read_lake(path), read_club(tmp_path).lakes["mill-pond"]
    for name, value in vars(wanted).items():
        other = getattr(found, name)
        same = np.array_equal(value, other) if isinstance(value, np.ndarray) else value == other
        assert same, name


def test_keys_numbers_and_lake_files_beside_the_table(tmp_path):
    header = "key," + HEADER
    table(tmp_path, "pond-1," + ROW, "," + ROW.replace("Mill", "Käfer Über"), header=header)
    text = 'name = "Own"\nlatitude = 40\nlongitude = -89\ntime_zone = "America/Chicago"\n'
    (tmp_path / "lakes" / "own.toml").write_text(text + 'area = "9 ha"\nmax_depth = "9 m"\n')
    assert list(read_club(tmp_path).lakes) == ["own", "pond-1", "käfer-über-pond"]


@pytest.mark.parametrize(
    ("header", "row", "message"),
    [
        (HEADER, ROW.replace("50 acres", "50 furlongs"), r"lakes.csv, row 2, key area"),
        (HEADER, ROW.replace("20 ft", ""), r"row 2, key max_depth: max_depth is missing"),
        (HEADER + ",depht", ROW + ",9", r"unknown key 'depht'"),
        (HEADER + ",secchi,secchi.jul", ROW + ",3 ft,3 ft", r"secchi has a value of its own"),
        ("key," + HEADER, "a b/c," + ROW, r"'a b/c' is no key"),
        (HEADER + ",area", ROW + ",1 ha", r"the column area stands twice"),
        (HEADER.replace("area", "size"), ROW, r"there is no column area"),
        (HEADER, ROW + ",more", r"7 cells under 6 column names"),
    ],
)
def test_what_is_wrong_is_one_line(tmp_path, header, row, message):
    table(tmp_path, row, header=header)
    with pytest.raises(ClubError, match=message) as caught:
        read_club(tmp_path)
    assert "\n" not in str(caught.value)


def test_two_rows_of_one_name(tmp_path):
    table(tmp_path, ROW, ROW)
    with pytest.raises(ClubError, match=r"Mill Pond.* is also in lakes.csv"):
        read_club(tmp_path)


def test_the_lake_command_checks_every_row(tmp_path, capsys):
    path = table(tmp_path, ROW, ROW.replace("Mill", "Other").replace("20 ft", "20 furlongs"))
    assert [(key, lake is None) for key, lake, _ in read_lakes_table(path)] == [
        ("mill-pond", False),
        ("other-pond", True),
    ]
    assert main(["lake", "--club", str(tmp_path)]) == 2
    said = capsys.readouterr()
    assert "Name: Mill Pond" in said.out
    assert "error: lakes.csv, row 3, key max_depth" in said.out
    assert "note: lakes.csv, row 2, key secchi" in said.out
