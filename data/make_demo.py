"""Makes the demo club's files that are numbers: weather, trips, probe readings, running depths.

    python data/make_demo.py            everything, into data/demo
    python data/make_demo.py weather    only the weather (also: trips, probe, running)

All of it is invented from fixed seeds; a second run writes the same bytes.
"""

import gzip
import io
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from demo_probe import invent_probe
from demo_trips import invent_trips
from demo_weather import invent_weather

from lakekit.club import read_club

DEMO = Path(__file__).resolve().parent / "demo"
WEATHER_FILE = "weather/prairie-airfield.csv.gz"


def gzip_bytes(text):
    """Text as gzip, the same bytes every time (no name, no time of writing)."""
    buffer = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", fileobj=buffer, compresslevel=9, mtime=0) as file:
        file.write(text.encode())
    return buffer.getvalue()


def weather_text(table):
    """An hourly weather table as CSV text in the default columns."""
    out = table.copy()
    out["time"] = out["time"].dt.strftime("%Y-%m-%d %H:%M")
    out["rel_hum_pct"] = out["rel_hum_pct"].astype("Int64")
    return out.to_csv(index=False, lineterminator="\n")


# Depths at which the boat's lipped lure was found to run (invented, measured over a known flat).
RUNNING = """\
lure,line_out_ft,speed_mph,depth_ft
2 in lipped lure,40,1.8,6.5
2 in lipped lure,60,1.8,8.5
2 in lipped lure,80,1.6,10
2 in lipped lure,80,2.0,10.5
2 in lipped lure,110,1.8,12
"""


def write(name, content):
    """Write one file of the demo club, bytes or text."""
    path = DEMO / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    print(f"{path.stat().st_size / 1024:8.0f} kB  {path}")


def main(parts):
    """Make the parts asked for, all where none is named."""
    every = not parts
    weather = invent_weather()
    if every or "weather" in parts:
        write(WEATHER_FILE, gzip_bytes(weather_text(weather)))
    if every or "trips" in parts:
        write("trips.csv", invent_trips(weather).to_csv(index=False, lineterminator="\n"))
    if every or "running" in parts:
        write("running.csv", RUNNING)
    if every or "probe" in parts:
        write("probe.csv", invent_probe(read_club(DEMO)).to_csv(index=False, lineterminator="\n"))


if __name__ == "__main__":
    main(sys.argv[1:])
