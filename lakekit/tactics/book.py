"""Reads the tables of tactics and species: what a tactic needs, when and at what depth."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lakekit.errors import ClubError
from lakekit.units import parse_quantity

PHASES = ("winter", "pre_spawn", "spawn", "post_spawn", "summer", "turnover", "fall")
MOTIONS = ("cast", "troll", "push", "drift", "vertical", "float", "dip")
PLACES = ("open", "edge", "cover", "bank", "ice")
LURES = ("jig", "sinker", "lipped", "bait", "float", "spoon")
FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class DepthRule:
    """Which water a tactic works: the band cut to its reach [m], or the cover's own depth."""

    within: str  # "band" | "cover"
    shallowest: float
    deepest: float


@dataclass(frozen=True)
class Tactic:
    """One presentation, as the book describes it; speeds in m/s."""

    key: str
    name: str
    short: str
    motion: str
    phases: tuple
    places: tuple
    depth: DepthRule
    depth_spawn: DepthRule
    speed: tuple | None
    gear: tuple
    aliases: tuple
    how: str
    rods_per_angler: int | None = None  # what one angler can tend; None: the boat's own number
    needs_ice: bool = False
    by_night: bool = False

    def depth_rule(self, phase):
        """The depth rule that holds in a phase."""
        return self.depth_spawn if phase == "spawn" else self.depth


@dataclass(frozen=True)
class Species:
    """A fish, as ``species.toml`` tells it: degC, mg/L and m, each with its source beside it."""

    key: str
    name: str  # one
    plural: str  # many
    aliases: tuple
    spawn: tuple
    spawn_mostly: tuple
    spawn_source: str
    nest_depth: tuple  # empty: builds no nest
    nest_source: str
    warm: float
    warm_source: str
    cold: float
    cold_source: str
    warmest_below: float
    coolest_above: float
    cool: float
    temperature_source: str
    oxygen_zone: tuple  # enough, limit, least
    oxygen_suits: tuple  # of (mg/L, 0 to 1)
    oxygen_source: str
    deep_below: float
    deep_source: str
    release_depth: float
    release_source: str
    night: float
    night_source: str
    holds: dict  # phase -> (top, bottom), empty where the water alone tells
    holds_source: str

    @property
    def oxygen_limit(self):
        """Oxygen [mg/L] under which the water is told as poor: the middle of the zone."""
        return self.oxygen_zone[1]


def _depth_rule(table):
    return DepthRule(
        within=table["within"],
        shallowest=parse_quantity(table["shallowest"], "length"),
        deepest=parse_quantity(table["deepest"], "length"),
    )


def _tactic(key, table):
    depth = _depth_rule(table["depth"])
    speed = table.get("speed")
    return Tactic(
        key=key,
        name=table["name"],
        short=table["short"],
        motion=table["motion"],
        phases=tuple(table["phases"]),
        places=tuple(table["places"]),
        depth=depth,
        depth_spawn=_depth_rule(table["depth_spawn"]) if "depth_spawn" in table else depth,
        speed=tuple(parse_quantity(text, "speed") for text in speed) if speed else None,
        gear=tuple(table["gear"]),
        aliases=tuple(table.get("aliases", ())),
        how=table["how"],
        rods_per_angler=table.get("rods_per_angler"),
        needs_ice=table.get("needs_ice", False),
        by_night=table.get("by_night", False),
    )


@cache
def read_book(path=FOLDER / "book.toml"):
    """Read the tactics.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file of tactics; by default lakekit's own book.

    Returns
    -------
    dict of str to Tactic
        In the book's order, which is also the order of unranked tactics.

    Examples
    --------
    >>> read_book()["vertical_jig"].name
    'Vertical jigging below the boat'
    """
    tables = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    return {key: _tactic(key, table) for key, table in tables.items()}


@cache
def read_species(path=FOLDER / "species.toml"):
    """Read the species table: a dict of key to Species.

    Examples
    --------
    >>> read_species()["white_crappie"].oxygen_limit
    3.0
    """
    tables = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    return {key: _species(key, table) for key, table in tables.items()}


def _species(key, table):
    holds = dict(table.pop("holds"))
    source = holds.pop("source")
    fields = {name: _frozen(value) for name, value in table.items()}
    return Species(key=key, holds=_frozen(holds), holds_source=source, **fields)


def _frozen(value):
    if isinstance(value, dict):
        return {key: _frozen(item) for key, item in value.items()}
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value


@dataclass(frozen=True)
class Bait:
    """What size and shade of bait suit a clarity of water."""

    water: str
    clearest: float  # Secchi depth [m] up to which it holds
    size: tuple  # m
    shade: str


@cache
def read_baits(path=FOLDER / "baits.toml"):
    """Read bait size and shade by clarity, murkiest first."""
    return tuple(
        Bait(
            row["water"],
            row.get("secchi_m", float("inf")),
            tuple(parse_quantity(text, "length") for text in row["size"]),
            row["shade"],
        )
        for row in tomllib.loads(Path(path).read_text(encoding="utf-8"))["bait"]
    )


def bait_for(baits, secchi):
    """The bait for a Secchi depth [m]."""
    return next(bait for bait in baits if secchi <= bait.clearest)


def bait_text(bait, units):
    """A bait in words, said to be common practice."""
    unit, one = ("in", 0.0254) if units == "us" else ("cm", 0.01)
    short, long = (f"{metres / one:.2g}" for metres in bait.size)
    return f"{short} to {long} {unit}, {bait.shade} in {bait.water} water (common practice)"


def tactic_words(book):
    """Every word a log may use for a tactic: lower-case word to key."""
    words = {}
    for key, tactic in book.items():
        for word in (key, tactic.name, *tactic.aliases):
            words[word.lower().replace("_", " ")] = key
    return words


def find_species(word, species):
    """The species a club names, by key, name or alias.

    Raises
    ------
    ClubError
        When the table has none such, with those it has.
    """
    wanted = str(word).strip().lower().replace("_", " ")
    for fish in species.values():
        names = (fish.key.replace("_", " "), fish.name.lower(), fish.plural.lower(), *fish.aliases)
        if wanted in names:
            return fish
    raise ClubError(
        f"species {word!r} is not in the table",
        where="club.toml",
        mend=f"Write one of {', '.join(fish.name for fish in species.values())}.",
    )
