"""Every notebook's parameters are checked one way, in one line that names them."""

import nbformat
import pytest

from lakekit.errors import NotebookError
from lakekit.notebook.asked import CHECKS, given
from lakekit.resources import notebooks_folder


def test_any_name_of_a_lake_serves_and_empty_is_the_first():
    assert given(lake="TEAL  marsh lake").lake == "teal-marsh"
    assert given(lake="teal-marsh").lake == "teal-marsh"
    assert given(lake="").lake == "quarry-hollow"
    assert given(only_lake="").only_lake is None
    assert given(lakes=[]).lakes == ["quarry-hollow", "teal-marsh"]
    assert given(lakes=["Teal Marsh Lake"]).lakes == ["teal-marsh"]


def test_what_is_empty_stands_for_what_is_decided_later():
    asked = given(start="", since="", year=0, storm={}, months=3, planned_hours=4, log=" a.csv ")
    assert (asked.start, asked.since, asked.year, asked.storm) == (None, None, None, None)
    assert (asked.months, asked.planned_hours, asked.log) == (3, 4.0, "a.csv")


@pytest.mark.parametrize(
    ("parameters", "words"),
    [
        ({"lake": "atlantis"}, r"parameter lake: the club has no lake 'atlantis'"),
        ({"lake": 3}, r"parameter lake: 3 is no text"),
        ({"lakes": "teal-marsh"}, r"parameter lakes: 'teal-marsh' is no list"),
        ({"lakes": ["atlantis"]}, r"parameter lakes: the club has no lake"),
        ({"start": "May"}, r"parameter start: 'May' is not a month.*YYYY-MM"),
        ({"month": "2026-13"}, r"parameter month: '2026-13' is not a month"),
        ({"since": "soon"}, r"parameter since: 'soon' is not a date"),
        ({"months": "12"}, r"parameter months: '12' is no whole number"),
        ({"months": 25}, r"parameter months: 25 months"),
        ({"months": True}, r"parameter months: True"),
        ({"year": "2024"}, r"parameter year: '2024' is no year"),
        ({"compared_month": 13}, r"parameter compared_month: 13 is no month"),
        ({"phase": "sumer"}, r"parameter phase: no season phase 'sumer'. Did you mean 'summer'"),
        ({"planned_hours": "4"}, r"parameter planned_hours: '4' is no number"),
        ({"planned_hours": 0}, r"parameter planned_hours: 0 is no number"),
        ({"storm": {"wind": "25", "hours": 6}}, r"parameter storm: its wind, '25', has no unit"),
        ({"storm": {"wind": 25}}, r"parameter storm: its wind, 25, has no unit"),
        ({"storm": {"gust": "25 mph"}}, r"parameter storm: a storm has no 'gust'"),
        ({"storm": "25 mph"}, r"parameter storm: '25 mph' is no storm"),
        ({"change": "clarty"}, r"parameter change: no change 'clarty'. Did you mean 'clarity'"),
    ],
)
def test_a_wrong_parameter_is_one_line_that_names_it(parameters, words):
    with pytest.raises(NotebookError, match=words) as told:
        given(**parameters)
    assert "\n" not in str(told.value)


def test_every_notebook_but_evidence_checks_what_its_parameters_cell_sets():
    for path in sorted(notebooks_folder().glob("*.ipynb")):
        book = nbformat.read(path, as_version=4)
        code = [cell for cell in book.cells if cell.cell_type == "code"]
        cell = next(c for c in code if "parameters" in c.metadata.get("tags", []))
        names = [line.split(":")[0] for line in cell.source.splitlines()]
        assert all(": " in line.split("=")[0] for line in cell.source.splitlines()), path.name
        rest = "\n".join(c.source for c in code if c is not cell)
        checked = [name for name in names if name in CHECKS]
        for name in checked:
            assert f"{name}={name}" in rest, f"{path.name}: {name}"
