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

    def depth_rule(self, phase):
        """The depth rule that holds in a phase."""
        return self.depth_spawn if phase == "spawn" else self.depth


@dataclass(frozen=True)
class Species:
    """A fish's temperatures [degC], oxygen [mg/L] and nest depths [m], each with its source."""

    key: str
    name: str
    spawn: tuple
    spawn_mostly: tuple
    spawn_source: str
    nest_depth: tuple
    nest_source: str
    warm: float
    warm_source: str
    winter: float
    winter_source: str
    oxygen: tuple  # too little, middle, enough
    oxygen_source: str
    aliases: tuple
    band_source: str | None = None


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
    """
    tables = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    return {key: _tactic(key, table) for key, table in tables.items()}


@cache
def read_species(path=FOLDER / "species.toml"):
    """Read the species table: a dict of key to Species."""
    tables = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    return {
        key: Species(
            key=key,
            nest_depth=tuple(table.pop("nest_depth_m")),
            oxygen=tuple(table.pop("oxygen_mgl")),
            aliases=tuple(table.pop("aliases")),
            **{name: tuple(v) if isinstance(v, list) else v for name, v in table.items()},
        )
        for key, table in tables.items()
    }


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
        if wanted in (fish.key.replace("_", " "), fish.name.lower(), *fish.aliases):
            return fish
    raise ClubError(
        f"species {word!r} is not in the table",
        where="club.toml",
        mend=f"Write one of {', '.join(fish.name for fish in species.values())}.",
    )
