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


@pytest.mark.parametrize(("deep", "told"), [(5.9, True), (6.1, False)])
def test_a_place_is_told_only_down_to_its_own_foot(tmp_path, club, deep, told):
    # the dock ends at 6 ft
    found = standing_at(read(tmp_path, club, TEXT), "quarry-hollow", [deep * FOOT])
    assert ("long dock" in [place.name for _, place in found]) is told


@pytest.mark.parametrize(("deep", "told"), [(6.9, True), (7.1, False)])
def test_no_bait_lies_in_the_mud(tmp_path, club, deep, told):
    # a cove 8 ft deep: a foot of it (0.3 m) is left to the mud
    cove = TEXT.splitlines()[0] + "\nquarry-hollow,cove mouth,0,8,8,a cove,,,\n"
    found = standing_at(read(tmp_path, club, cove), "quarry-hollow", [deep * FOOT])
    assert bool(found) is told


def test_drawn_down_water_takes_its_depth_from_every_place(tmp_path, club):
    places = read(tmp_path, club, TEXT)

    def names(deep, below):
        found = standing_at(places, "quarry-hollow", [deep * FOOT], below=below * FOOT)
        return [place.name for _, place in found]

    # with 3 ft gone, brush of 8-14 ft stands at 5-11 ft, and the dock of 6 ft ends at 3 ft
    assert names(13, 0) == ["old tree"] and names(13, 3) == []
    assert names(10.9, 3) == ["old tree"] and names(5.5, 3) == ["old tree"]
    assert "long dock" in names(2.9, 3) and "long dock" not in names(5, 3)
    assert names(1, 7) == ["old tree"]  # the dock stands dry
    [(_, brush)] = standing_at(places, "quarry-hollow", [10 * FOOT], below=3 * FOOT)
    assert (brush.top, brush.foot) == (pytest.approx(5 * FOOT), pytest.approx(11 * FOOT))


def test_lee_and_windward(tmp_path, club):
    brush, dock, _ = read(tmp_path, club, TEXT)
    assert side_of(brush, 225.0) == "lee"
    assert side_of(brush, 45.0) == "windward"
    assert side_of(dock, 270.0) is None
