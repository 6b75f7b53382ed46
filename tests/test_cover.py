"""Places of a club's lakes: read, refused in one message, and found by depth and wind."""

import pytest

from lakekit.club import read_club
from lakekit.errors import ClubError
from lakekit.units import FOOT
from lakekit.waters.cover import read_cover, side_of, standing_at

TEXT = """lake,kind,top_ft,foot_ft,water_depth_ft,name,shore,since,shared
quarry-hollow,brush,8,14,16,old tree,SW,2024,yes
quarry-hollow,dock,0,6,,long dock,N,,
teal-marsh,stumps,4,9,10,,E,,
"""


@pytest.fixture(scope="module")
def club():
    return read_club()


def read(tmp_path, club, text):
    path = tmp_path / "cover.csv"
    path.write_text(text)
    return read_cover(path, club)


def test_places_are_read_in_either_unit(tmp_path, club):
    brush, dock, stumps = read(tmp_path, club, TEXT)
    assert (brush.top, brush.foot) == (pytest.approx(8 * FOOT), pytest.approx(14 * FOOT))
    assert brush.shared and not dock.shared
    assert stumps.name == "stumps" and stumps.lake == "teal-marsh"
    metric = read(tmp_path, club, "lake;kind;top_m;foot_m\nquarry-hollow;weed edge;1,5;3\n")
    assert metric[0].top == 1.5
    assert read(tmp_path, club, "lake,kind\n") == []


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("quarry-hollow,brsh,1,2,3,,,,", "row 2: 'brsh' is no kind of place. Did you mean brush"),
        ("nowhere,brush,1,2,3,,,,", "row 2: the club has no lake 'nowhere'"),
        ("quarry-hollow,brush,9,2,12,,,,", "its foot lies above its top"),
        ("quarry-hollow,brush,1,x,3,,,,", "foot is 'x'"),
        ("quarry-hollow,brush,1,,,,,,", "neither the foot"),
        ("quarry-hollow,brush,1,2,3,,UP,,", "'UP' is no shore"),
    ],
)
def test_a_mistake_is_one_message(tmp_path, club, row, words):
    with pytest.raises(ClubError, match=words):
        read(tmp_path, club, TEXT.splitlines()[0] + "\n" + row + "\n")


def test_a_column_that_is_no_column(tmp_path, club):
    with pytest.raises(ClubError, match="Did you mean shore"):
        read(tmp_path, club, "lake,kind,top_ft,shor\n")


def test_places_at_the_start_depth_come_first(tmp_path, club):
    places = read(tmp_path, club, TEXT)
    found = standing_at(places, "quarry-hollow", [12 * FOOT, 5 * FOOT])
    assert [place.name for _, place in found] == ["old tree", "long dock"]
    assert standing_at(places, "quarry-hollow", [30 * FOOT]) == []


def test_lee_and_windward(tmp_path, club):
    brush, dock, _ = read(tmp_path, club, TEXT)
    assert side_of(brush, 225.0) == "lee"
    assert side_of(brush, 45.0) == "windward"
    assert side_of(dock, 270.0) is None
