"""Makes reports/sample/ from the demo: a briefing's PDF, and pictures of pages for the README.

Needs pdftoppm (poppler) and a headless Chromium on the path; lakekit itself needs neither.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "reports" / "sample"
PHONE = 360  # CSS px


def main():
    """Run the four commands in a temporary folder and keep what the README shows."""
    SAMPLE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        lakekit("front", "teal-marsh", out=out)  # the record's last front broke its layers
        lakekit("season", "quarry-hollow", out=out)
        lakekit("day", "teal-marsh", out=out)
        lakekit("briefing", "--month", "2026-07", out=out)
        picture(next(out.glob("*-front-*.pdf")), 1, SAMPLE / "front-note.png")
        season = out / "quarry-hollow-season-2026-07.pdf"
        picture(season, 1, SAMPLE / "season-cover.png")
        picture(season, 2, SAMPLE / "season-month.png")
        picture(next(out.glob("*-day-*.pdf")), 1, SAMPLE / "day-card.png")
        phone(out / "club-briefing-2026-07.html", SAMPLE / "briefing-phone.png")
        shutil.copyfile(out / "club-briefing-2026-07.pdf", SAMPLE / "club-briefing-2026-07.pdf")
    for path in sorted(SAMPLE.iterdir()):
        print(f"{path.stat().st_size / 1000:6.0f} kB  {path.relative_to(ROOT)}")


def lakekit(*arguments, out):
    """Run lakekit on the demo, whatever the present folder."""
    line = "import sys; from lakekit.cli.main import main; sys.exit(main(sys.argv[1:]))"
    subprocess.run([sys.executable, "-c", line, *arguments, "--out", str(out)], check=True, cwd=out)


def picture(pdf, page, path):
    """One page of a PDF as a PNG of few colours."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            ["pdftoppm", "-r", "88", "-png", "-f", str(page), "-l", str(page), "-singlefile",
             str(pdf), f"{folder}/page"],
            check=True,
        )  # fmt: skip
        few_colours(Image.open(f"{folder}/page.png"), path)


def phone(page, path, *, height=1500):
    """The top of an HTML page as a phone shows it.

    A headless window is never narrower than 500 px, so the page is framed at 360.
    """
    with tempfile.TemporaryDirectory() as folder:
        frame = Path(folder) / "frame.html"
        frame.write_text(
            f'<body style="margin:0"><iframe src="{page.as_uri()}" scrolling="no" '
            f'style="border:0;width:{PHONE}px;height:{height}px"></iframe>'
        )
        subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
             f"--window-size=600,{height}", f"--screenshot={folder}/phone.png", frame.as_uri()],
            check=True, capture_output=True,
        )  # fmt: skip
        few_colours(Image.open(f"{folder}/phone.png").crop((0, 0, PHONE, height)), path)


def few_colours(image, path):
    """Save with 96 colours: print on white needs no more."""
    image.convert("RGB").quantize(96, method=Image.Quantize.MEDIANCUT).save(path, optimize=True)


if __name__ == "__main__":
    main()
