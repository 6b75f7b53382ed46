"""The records a club folder is read into: the club, its lakes and its boat (all SI)."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lakekit.shown import Shown

FERTILITY = ("oligotrophic", "mesotrophic", "eutrophic", "hypereutrophic")
# Secchi depth [m] where the file gives none: the geometric middle of each class of Carlson's
# (1977, Limnol. Oceanogr. 22:361-369) trophic state index, whose bounds 40, 50 and 70 are Secchi
# depths of 4, 2 and 0.5 m (class bounds from memory); the open-ended classes span one octave.
DEFAULT_SECCHI = {"oligotrophic": 5.7, "mesotrophic": 2.8, "eutrophic": 1.0,
                  "hypereutrophic": 0.35}
SECCHI_BOUNDS = (4.0, 2.0, 0.5)  # m, between the four classes


@dataclass(frozen=True)
class WeatherSource:
    """Where a lake's weather comes from: a station's id, "auto", a file, a grid, or two of them."""

    station: str | None = "auto"
    file: Path | None = None
    columns: dict = field(default_factory=dict)  # default column name -> name in the file
    units: dict = field(default_factory=dict)  # default column name -> unit in the file
    attribution: str | None = None
    licence: str | None = None
    grid: tuple = ()  # files of a grid, in name order; with a station or a file it fills holes
    cell: str = "bilinear"  # or "nearest"


@dataclass(frozen=True)
class Flow:
    """Through-flow of a reservoir: monthly means, SI."""

    inflow: np.ndarray | None = None  # (12,) m3/s
    inflow_temperature: np.ndarray | None = None  # (12,) degC, None: from the air
    release: np.ndarray | None = None  # (12,) m3/s, None: as much as flows in
    release_depth: float | None = None  # m, None: over the top
    aerator_depth: float | None = None  # m
    aerator_stirs: str = "above"  # the water above that depth, or "below" it


@dataclass(frozen=True)
class Rules:
    """A water's rules as the club last checked them; None where they are not written down."""

    max_rods: int | None = None  # per angler
    limits: str | None = None
    closures: str | None = None
    consumption_advice: str | None = None
    checked: str | None = None  # ISO date


@dataclass(frozen=True)
class Lake(Shown):
    """One lake: SI inside, 12 monthly values where a lake file may give months."""

    key: str
    name: str
    latitude: float  # degrees north
    longitude: float  # degrees east
    time_zone: str  # IANA name
    area: float  # m2 at full pond
    max_depth: float  # m at full pond
    elevation: float  # m above sea level
    mean_depth: float  # m
    longest_fetch: float  # m
    depths: np.ndarray  # (k,) m below full pond, 0 to max_depth
    areas: np.ndarray  # (k,) m2 at those depths, never widening downward
    depth_area_source: str
    secchi: np.ndarray  # (12,) m by month
    secchi_source: str  # "measured", "lake file", "default for <fertility> water"
    below_full_pond: np.ndarray  # (12,) m by month
    fertility: str  # oligotrophic | mesotrophic | eutrophic | hypereutrophic
    surroundings: str  # open | mixed | wooded | valley
    weather: WeatherSource
    axis: float | None = None  # degrees from north, 0 to 180, of its longest reach
    flow: Flow | None = None
    catchment: float | None = None  # m2 whose rain runs into the lake; None: not computed
    rules: Rules = Rules()
    notes: tuple = ()  # what the reader assumed, as sentences for the user

    def shown_rows(self):
        """Name, place, size, depth and clarity, SI."""
        clarity = f"{self.secchi.min():.1f} to {self.secchi.max():.1f} m Secchi"
        return [("Lake", f"{self.name} ({self.key})"),
                ("Place", f"{self.latitude:.3f}, {self.longitude:.3f}"),
                ("Area", f"{self.area / 1e4:.0f} ha"), ("Deepest", f"{self.max_depth:.1f} m"),
                ("Clarity", clarity), ("Fertility", self.fertility)]  # fmt: skip


@dataclass(frozen=True)
class Rod:
    name: str
    length: float  # m
    count: int = 1


@dataclass(frozen=True)
class Line:
    name: str
    diameter: float  # m
    density: float  # kg/m3
    strength: float | None = None  # N, if known


@dataclass(frozen=True)
class Lure:
    """A lure or sinker whose weight the user knows."""

    name: str
    mass: float  # kg
    kind: str  # jig | sinker | spoon | bait | lipped | float
    material: str = "lead"
    drag_area: float | None = None  # m2, None: from mass and material as a sphere
    tactics: tuple = ()
    dress: str = "plastic"  # plastic | hair | none: what a jig is dressed with


@dataclass(frozen=True)
class Boat(Shown):
    name: str
    beam: float  # m
    anglers: int
    rods_per_angler: int
    speeds: tuple  # (slowest, fastest) m/s it can hold
    rods: tuple = ()
    lines: tuple = ()
    lures: tuple = ()

    def shown_rows(self):
        """Name, beam, crew, speeds, and the names of its tackle."""
        slowest, fastest = self.speeds
        tackle = [(kind, ", ".join(item.name for item in getattr(self, kind.lower())) or "none")
                  for kind in ("Rods", "Lines", "Lures")]  # fmt: skip
        return [("Boat", self.name), ("Beam", f"{self.beam:.2f} m"),
                ("Crew", f"{self.anglers} of {self.rods_per_angler} rods each"),
                ("Holds", f"{slowest:.2f} to {fastest:.2f} m/s"), *tackle]  # fmt: skip


@dataclass(frozen=True)
class Club(Shown):
    folder: Path
    name: str
    units: str  # "us" | "metric"
    date_order: str | None  # "YMD" | "MDY" | "DMY" for the log; None: ISO dates only
    species: str  # default species
    boat: Boat
    lakes: dict  # key -> Lake, in file-name order
    log_columns: dict = field(default_factory=dict)  # default column -> name in the log file
    paper: str = "letter"  # "letter" | "a4"
    invented: bool = False  # a demonstration: every report says that its data are invented

    def shown_rows(self):
        """Name, folder, lakes, species and boat."""
        lakes = ", ".join(f"{lake.name} ({key})" for key, lake in self.lakes.items())
        return [("Club", self.name), ("Folder", self.folder), ("Lakes", lakes),
                ("Species", self.species), ("Boat", self.boat.name),
                ("Units", self.units)]  # fmt: skip


def fertility_of(secchi, *, north=True):
    """Mean Secchi depth of the four summer months [m], and the fertility that goes with it.

    Parameters
    ----------
    secchi : array (12,) [m]
    north : bool, of the equator
    """
    summer = secchi[5:9].mean() if north else secchi[[11, 0, 1, 2]].mean()
    return summer, FERTILITY[sum(summer < bound for bound in SECCHI_BOUNDS)]
