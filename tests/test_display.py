"""What notebooks show: drawings with words and a PNG, tables, links to what was written."""

import base64
import sys

import pytest
from matplotlib.figure import Figure

from lakekit.club import read_club
from lakekit.notebook import display as shown
from lakekit.shown import Report


@pytest.fixture
def displayed(monkeypatch):
    found = []
    monkeypatch.setattr("IPython.display.display", lambda data, **_: found.append(data))
    return found


def test_a_figure_is_an_image_with_its_words_and_a_png_beside_it(displayed):
    figure = Figure()
    figure.subplots().plot([1, 2])
    shown.show(figure, 'a "line"')
    data = displayed[0]
    assert data["text/plain"] == 'a "line"'
    assert 'alt="a &quot;line&quot;"' in data["text/html"]
    source = data["text/html"].split("base64,")[1].split('"')[0]
    assert base64.b64decode(source).startswith(b"<svg")
    assert base64.b64decode(data["image/png"]).startswith(b"\x89PNG")


def test_written_files_are_links_from_where_the_notebook_is(displayed, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shown.show_written([tmp_path / "reports" / "a guide.pdf"])
    assert 'href="reports/a%20guide.pdf"' in displayed[0]["text/html"]
    assert displayed[0][shown.WRITTEN]["paths"] == [str(tmp_path / "reports" / "a guide.pdf")]


def test_a_table_has_heads_for_rows_and_columns(displayed):
    shown.show_table(["line", "1 mph"], [["20 ft", "<6 ft"]])
    assert '<th scope="col">1 mph</th>' in displayed[0]["text/html"]
    assert '<th scope="row">20 ft</th><td>&lt;6 ft</td>' in displayed[0]["text/html"]
    assert displayed[0]["text/plain"] == "line | 1 mph\n20 ft | <6 ft"


def test_without_the_extra_the_first_choice_is_drawn(monkeypatch):
    monkeypatch.setitem(sys.modules, "ipywidgets", None)
    drawn = shown.explore(lambda lake, year: (lake, year), lake=["a", "b"], year=[3, 2])
    assert drawn == ("a", 3)


def test_where_a_command_runs_the_notebook_nobody_chooses(monkeypatch):
    pytest.importorskip("ipywidgets")
    monkeypatch.setenv("LAKEKIT_NOTEBOOK", "1")
    assert shown.explore(lambda lake: lake, lake=["a", "b"]) == "a"


def test_with_the_extra_each_choice_is_a_control(monkeypatch):
    widgets = pytest.importorskip("ipywidgets")
    made, drawn = [], []
    interact = widgets.interact
    monkeypatch.setattr(widgets, "interact", lambda *a, **k: made.append(interact(*a, **k)))
    shown.explore(lambda lake, year: drawn.append((lake, year)), lake=["a", "b"], year=[3, 2])
    lake, year = made[0].widget.kwargs_widgets
    assert (lake.options, year.options, drawn[-1]) == (("a", "b"), (3, 2), ("a", 3))
    lake.value = "b"
    year.value = 2
    assert drawn[-2:] == [("b", 3), ("b", 2)]


def test_big_things_show_themselves_in_a_few_rows():
    from IPython.lib.pretty import pretty

    club = read_club()
    lake = club.lakes["teal-marsh"]
    guide = Report({"title": "A guide", "months": [{"title": "May", "headline": "Layered"}]})
    boat = club.boat
    tackle = ((boat.rods[0], "Count"), (boat.lines[0], "mm"), (boat.lures[0], "Tactics"))
    words = ((club, "teal-marsh"), (lake, "174 ha"), (boat, "Lures"), (guide, "Layered"))
    for thing, word in (*words, *tackle):
        assert word in pretty(thing)
        assert len(pretty(thing)) < 600
        assert thing._repr_html_().startswith("<table>")
    assert guide == {"title": "A guide", "months": [{"title": "May", "headline": "Layered"}]}
