"""Makes the demo club's files that are numbers: weather, log, readings, cover, running, drops.

    python data/make_demo.py            everything, into data/demo
    python data/make_demo.py weather    only the weather (also: trips, probe, tables)

All of it is invented from fixed seeds; a second run writes the same bytes.
"""

import gzip
import io
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from demo_probe import invent_probe
from demo_trips import invent_trips
from demo_weather import demo_record

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

# What stands in the two lakes (invented), and where the club's coves open.
COVER = """\
lake,kind,top_ft,foot_ft,water_depth_ft,name,shore,since,shared
Quarry Hollow Reservoir,cove mouth,0,10,10,North cove,N,,yes
Quarry Hollow Reservoir,cove mouth,0,16,16,Mill cove,E,,yes
Quarry Hollow Reservoir,dock,0,7,8,ramp dock,SW,,yes
Quarry Hollow Reservoir,stumps,4,11,12,old orchard,NE,,no
Quarry Hollow Reservoir,brush,9,15,17,club pile 1,W,2023-02,yes
Quarry Hollow Reservoir,brush,14,21,23,club pile 2,S,2024-02,yes
Quarry Hollow Reservoir,point,6,26,26,quarry point,N,,no
Quarry Hollow Reservoir,drop,12,30,30,the ledge,E,,no
Quarry Hollow Reservoir,drop,24,44,44,old roadbed,SE,,no
Teal Marsh Lake,cove mouth,0,5,5,cattail cove,NE,,yes
Teal Marsh Lake,cove mouth,0,8,8,boathouse cove,S,,yes
Teal Marsh Lake,dock,0,6,7,boathouse docks,S,,yes
Teal Marsh Lake,weed edge,0,5,6,lily edge,NE,,no
Teal Marsh Lake,stumps,3,9,10,flooded fence line,W,,no
Teal Marsh Lake,brush,7,12,13,club pile,E,2024-03,yes
Teal Marsh Lake,point,2,12,12,marsh point,NW,,no
Teal Marsh Lake,drop,10,18,18,creek bend,SE,,no
"""

# Drops of the boat's jigs timed over a known bottom (invented): soft plastics on 6 lb nylon.
DROPS = """\
lure,line,depth_ft,seconds
1/8 oz jig,nylon 6 lb,8,7.5
1/8 oz jig,nylon 6 lb,12,11
1/8 oz jig,nylon 6 lb,16,15.5
1/16 oz jig,nylon 6 lb,8,11
1/16 oz jig,nylon 6 lb,12,16
1/32 oz jig,nylon 6 lb,6,11.5
"""
TABLES = {"running.csv": RUNNING, "cover.csv": COVER, "drops.csv": DROPS}


def write(name, content):
    """Write one file of the demo club, bytes or text."""
    path = DEMO / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    print(f"{path.stat().st_size / 1024:8.0f} kB  {path}")


def main(parts):
    """Make the parts asked for, all where none is named."""
    every = not parts
    weather = demo_record()
    if every or "weather" in parts:
        write(WEATHER_FILE, gzip_bytes(weather_text(weather)))
    if every or "trips" in parts:
        write("trips.csv", invent_trips(weather).to_csv(index=False, lineterminator="\n"))
    if every or "tables" in parts:
        for name, text in TABLES.items():
            write(name, text)
    if every or "probe" in parts:
        write("probe.csv", invent_probe(read_club(DEMO)).to_csv(index=False, lineterminator="\n"))


if __name__ == "__main__":
    main(sys.argv[1:])
