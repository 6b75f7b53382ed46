"""The README keeps to what is there: its commands, columns, tables, files and pictures."""

import re
import shlex
from pathlib import Path

import pytest

from lakekit.bench import BENCHES
from lakekit.cli.main import build_parser
from lakekit.lakefile import LAKE_KEYS, WEATHER_COLUMNS
from lakekit.trips.columns import COLUMNS

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "lakekit" / "template" / "README.md",
         ROOT / "lakekit" / "template" / "weather" / "README.md"]  # fmt: skip


def commands(page):
    """Every lakekit command that a page shows, in a block or in the text, as arguments."""
    text = page.read_text(encoding="utf-8")
    shown = [line for line in text.splitlines() if line.startswith("    ")]
    shown += re.findall(r"`([^`\n]+)`", text)
    for line in shown:
        for part in re.split(r"&&|;", line):
            words = shlex.split(part.strip().replace("\\", "/"), comments=True)
            if words and re.fullmatch(r"(\.venv/(bin|Scripts)/)?lakekit", words[0]):
                yield words[1:]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_command_shown_can_be_typed(page, capsys):
    found = [arguments for arguments in commands(page) if arguments not in ([], ["--help"])]
    assert found
    for arguments in found:
        try:
            options = build_parser().parse_args(arguments)
        except SystemExit:
            pytest.fail(f"lakekit {shlex.join(arguments)}: {capsys.readouterr().err}")
        assert hasattr(options, "run"), arguments


def test_the_readme_shows_every_command():
    shown = {arguments[0] for arguments in commands(PAGES[0]) if arguments}
    assert shown >= {"new", "season", "front", "briefing", "weather", "trips", "lake", "tackle"}


def test_the_logs_columns_are_the_readers():
    rows = re.findall(r"^\| `(\w+)` \| (\w*) ?\| (.+) \|$", PAGES[0].read_text(), re.MULTILINE)
    assert rows == [
        (column.header("us"), "needed" if column.required else "", column.text)
        for column in COLUMNS
    ]


def test_the_weather_columns_are_the_readers():
    text = PAGES[3].read_text(encoding="utf-8")
    assert [name for name in WEATHER_COLUMNS if f"`{name}`" not in text] == []


def test_every_notebook_is_told():
    text = PAGES[0].read_text(encoding="utf-8")
    told = set(re.findall(r"^\| `(\w+)\.ipynb`", text, re.MULTILINE))
    assert told == {path.stem for path in (ROOT / "notebooks").glob("*.ipynb")}


def test_the_benches_are_those_there_are():
    found = re.search(r"python -m lakekit\.bench ([\w|]+)`", PAGES[0].read_text())
    assert set(found.group(1).split("|")) == set(BENCHES)


def test_pictures_and_links_are_there_and_small():
    text = PAGES[0].read_text(encoding="utf-8")
    paths = re.findall(r'src="([^"]+)"', text) + re.findall(r"\]\(([^)#]+)\)", text)
    assert paths
    for path in paths:
        assert (ROOT / path).is_file(), path
    sizes = {path.name: path.stat().st_size for path in (ROOT / "reports" / "sample").iterdir()}
    assert sum(sizes.values()) < 800_000
    assert all(size < 150_000 for name, size in sizes.items() if name.endswith(".png")), sizes
    assert text.count("<img") == text.count("alt=")


def test_lake_keys_named_in_the_readme_exist():
    text = PAGES[0].read_text(encoding="utf-8")
    own = text[text.index("**`lakes/my-lake.toml`**") : text.index("**`club.toml`**")]
    named = set(re.findall(r"^    (\w+) = ", own, re.MULTILINE))
    named |= set(re.findall(r"`(\w+)`", own)) - {"depth_ft", "area_acres"}
    assert named <= set(LAKE_KEYS)
