"""Measures the reports: the main job cold and warm, and a briefing for twelve lakes."""

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from shutil import copytree

from lakekit.guide.season import season_guides
from lakekit.pages.briefing import briefing_document
from lakekit.pages.pdf import write_pdf
from lakekit.resources import demo_folder

ARMS = 5  # copies of each of the demo's two lakes beside the lakes themselves
MONTH = "2026-07"
PEAK = """
import resource, sys
from lakekit.cli.main import main
status = main(sys.argv[1:])
kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
print("peak", max(resource.getrusage(kind).ru_maxrss for kind in kinds), file=sys.stderr)
sys.exit(status)
"""


def command(arguments, *, home):
    """Run ``lakekit`` in a process of its own with this home: (seconds, megabytes or None).

    The peak is that of the largest single process; it is None where the system cannot tell.
    """
    environment = {k: v for k, v in os.environ.items() if k not in ("XDG_CACHE_HOME",)}
    environment |= {"HOME": str(home), "LAKEKIT_CACHE": str(Path(home) / "lakekit-cache")}
    code = PEAK if os.name == "posix" else "import sys, lakekit.cli.main as c; sys.exit(c.main())"
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    seconds = time.perf_counter() - began
    if done.returncode:
        raise RuntimeError(done.stderr.strip().splitlines()[-1])
    peak = re.search(r"^peak (\d+)$", done.stderr, re.MULTILINE)
    # Linux counts kilobytes, macOS bytes
    scale = 1e6 if sys.platform == "darwin" else 1024.0
    return seconds, float(peak.group(1)) / scale if peak else None


def twelve_lakes(folder):
    """The demo club with each of its lakes six times over, and without its probe casts."""
    copytree(demo_folder(), folder, dirs_exist_ok=True)
    (folder / "probe.csv").unlink()
    for path in sorted((folder / "lakes").glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        name = re.search(r'^name = "(.+)"', text, re.MULTILINE)
        for arm in range(2, ARMS + 2):
            other = text.replace(name.group(0), f'name = "{name.group(1)}, arm {arm}"')
            path.with_name(f"{path.stem}-{arm}.toml").write_text(other, encoding="utf-8")
    return folder


def measure():
    """Figures of the main job on the demo and of a briefing for twelve lakes."""
    from lakekit.club import read_club

    figures = {}
    with tempfile.TemporaryDirectory() as place:
        place = Path(place)
        season = ["season", "--club", str(demo_folder()), "--out", str(place / "out")]
        for how in ("cold", "warm"):
            seconds, peak = command(season, home=place)
            figures[f"report_season_two_lakes_{how}_s"] = seconds
            figures[f"report_season_two_lakes_{how}_peak_mb"] = peak
        front = ["front", "--club", str(demo_folder()), "--since", "2026-07-01",
                 "--out", str(place / "out")]  # fmt: skip
        command(front, home=place)
        figures["report_front_warm_s"], _ = command(front, home=place)
        folder = twelve_lakes(place / "club")
        briefing = ["briefing", "--club", str(folder), "--month", MONTH,
                    "--out", str(place / "out")]  # fmt: skip
        command(briefing, home=place)
        figures["report_briefing_twelve_lakes_warm_s"], peak = command(briefing, home=place)
        figures["report_briefing_twelve_lakes_peak_mb"] = peak
        club = read_club(folder)
        two = season_guides(club, ["quarry-hollow", "teal-marsh"], MONTH, 1)
        guides = [
            guide | {"lake": guide["lake"] | {"name": f"{guide['lake']['name']}, arm {arm}"}}
            for arm in range(1, ARMS + 2)
            for guide in two
        ]
        document = briefing_document({"guides": guides, "month": MONTH})
        write_pdf(document, place / "first.pdf")
        began = time.perf_counter()
        write_pdf(document, place / "again.pdf")
        figures["report_typesetting_twelve_lakes_s"] = time.perf_counter() - began
    return figures
