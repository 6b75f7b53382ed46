"""Small club folders for tests of the reports: the demo cut short, and a measured reservoir."""

import shutil
import tomllib

import numpy as np
import pandas as pd

from lakekit.resources import demo_folder

SMALL_CLUB = """
name = "A test club"
units = "us"
species = "white crappie"

[boat]
name = "boat"
beam = "5 ft"
anglers = 2
rods_per_angler = 2
speeds = ["0.2 mph", "3 mph"]

[[rods]]
name = "rod"
length = "12 ft"

[[lines]]
name = "nylon"
diameter = "0.25 mm"
material = "nylon"

[[lures]]
name = "1/16 oz jig"
weight = "1/16 oz"
kind = "jig"
"""


def short_demo(folder, *, years=3, keep=("quarry-hollow",), probe=False):
    """The demo club in a folder, with its last few years of weather and some of its lakes."""
    shutil.copytree(demo_folder(), folder, dirs_exist_ok=True)
    for path in (folder / "lakes").glob("*.toml"):
        if path.stem not in keep:
            path.unlink()
    for path in (folder / "weather").glob("*.csv.gz"):
        table = pd.read_csv(path)
        table.iloc[-int(years * 8766) :].to_csv(path, index=False)
    names = [tomllib.loads(path.read_text())["name"] for path in (folder / "lakes").glob("*.toml")]
    for name in ("probe.csv", "cover.csv"):
        rows = pd.read_csv(folder / name, dtype=str)
        rows[rows["lake"].isin([*names, *keep])].to_csv(folder / name, index=False)
    if not probe:
        (folder / "probe.csv").unlink()
    return folder


def beaverdam_club(folder, observations):
    """A club folder that reads Beaverdam's measured weather, depths and clarity in place."""
    source = (observations / "beaverdam").resolve()
    secchi = pd.read_csv(source / "secchi.csv", parse_dates=["datetime_local"])
    monthly = secchi.groupby(secchi["datetime_local"].dt.month)["secchi_m"].median()
    names = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
    clarity = ", ".join(f'{names[m - 1]} = "{v:.2f} m"' for m, v in monthly.items())
    (folder / "lakes").mkdir(parents=True)
    (folder / "club.toml").write_text(SMALL_CLUB)
    (folder / "lakes" / "beaverdam.toml").write_text(f"""
name = "Beaverdam Reservoir"
latitude = 37.313
longitude = -79.816
time_zone = "America/New_York"
area = "27.1 ha"
max_depth = "13 m"
elevation = "600 m"
depth_area = "{source / "hypsography.csv"}"
secchi = {{ {clarity} }}
below_full_pond = "1.7 m"
fertility = "eutrophic"
surroundings = "valley"

[weather]
file = "{source / "weather_hourly.csv"}"
attribution = "NLDAS-2 (NASA), with Carey et al., Environmental Data Initiative"
licence = "public domain"

[weather.columns]
time = "datetime_utc"
""")
    return folder


def numbers(guide):
    """The depths and temperatures of a guide as one array, to compare guides by."""
    rows = []
    for month in guide["months"]:
        rows += [entry[k] for entry in month["depths"] for k in ("low", "median", "high")]
        rows += [month["surface"]["median"], month["light"]["midday"], month["layered"]["chance"]]
        rows += month["profile"]["temperature"]["median"]
    return np.array([np.nan if value is None else value for value in rows], dtype=float)
