"""Timed drops: read back, weighed against what is worked out, and refused when they cannot be."""

import pytest

from lakekit.errors import TackleError
from lakekit.records import Line, Lure
from lakekit.tackle.drops import Drop, read_drops, sinking
from lakekit.tackle.sink import seconds_to_depth
from lakekit.units import FOOT, OUNCE

JIG = Lure("1/8 oz jig", OUNCE / 8, "jig")
LINE = Line("nylon 6 lb", 0.23e-3, 1140.0)


def worked(feet):
    return seconds_to_depth(JIG.mass, 11300.0, depth=feet * FOOT, shape="jig", line=LINE)


def told(ratio, count):
    drops = [Drop("nylon 6 lb", 10 * FOOT, ratio * worked(10))] * count
    return sinking(drops, JIG, shape="jig", lines=(LINE,))


def test_reads_feet_or_metres(tmp_path):
    path = tmp_path / "drops.csv"
    path.write_text("lure,line,depth_ft,seconds\n1/8 oz jig,nylon 6 lb,10,9.5\n\nother,,4,3\n")
    drops = read_drops(path)
    assert drops["1/8 oz jig"] == [Drop("nylon 6 lb", pytest.approx(10 * FOOT), 9.5, 2)]
    assert drops["other"][0].line == ""
    path.write_text("lure,depth_m,seconds\na,3,9\n")
    assert read_drops(path)["a"][0].depth == 3.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lure,seconds\na,3\n", "They should be lure, line, depth_ft"),
        ("lure,depth_ft,seconds\na,,3\n", "row 2: depth_ft is empty"),
        ("lure,depth_ft,seconds\na,x,3\n", "row 2: depth_ft is 'x'"),
        ("lure,depth_ft,seconds\na,3,0\n", "row 2: seconds is '0'"),
        ("lure,depth_ft,seconds\n,3,2\n", "no lure is named"),
        ("", "its columns are none"),
    ],
)
def test_bad_files(tmp_path, text, words):
    path = tmp_path / "drops.csv"
    path.write_text(text)
    with pytest.raises(TackleError, match=words):
        read_drops(path)


def test_many_drops_settle_it_and_none_leave_it():
    assert told(1.4, 20).factor == pytest.approx(1.4, rel=0.02)
    assert told(1.4, 1).factor < told(1.4, 3).factor < 1.4
    assert told(1.4, 3).spread < told(1.4, 1).spread
    none = sinking([], JIG, shape="jig", lines=(LINE,))
    assert (none.factor, none.drops) == (1.0, 0)


def test_a_drop_that_cannot_be_is_refused():
    with pytest.raises(TackleError, match="Check the depth's unit"):
        told(8.0, 1)
