"""Reads a club folder: club.toml, the lakes, the boat; and makes a new one."""

import json
import os
import re
import shutil
import tempfile
from pathlib import Path

from lakekit.constants import GRAVITY
from lakekit.errors import ClubError
from lakekit.fields import Problems, Table, load_toml, nearest
from lakekit.lakefile import check_lake, read_lake
from lakekit.lakes_table import NAME, read_lakes_table
from lakekit.records import Boat, Club, Flow, Lake, Line, Lure, Rod, Rules, WeatherSource
from lakekit.resources import demo_folder, notebooks_folder, template_folder
from lakekit.units import parse_quantity, plain_word, shown

__all__ = [
    "Boat", "Club", "Flow", "Lake", "Line", "Lure", "Rod", "Rules", "WeatherSource", "check_lake",
    "new_club", "read_club", "read_lake",
]

CLUB_KEYS = ("name", "units", "paper", "species", "invented", "log", "boat", "rods", "lines",
             "lures")
LOG_KEYS = ("date_order", "columns")
BOAT_KEYS = ("name", "beam", "anglers", "rods_per_angler", "speeds")
ROD_KEYS = ("name", "length", "count")
LINE_KEYS = ("name", "diameter", "material", "density", "strength")
LURE_KEYS = ("name", "weight", "kind", "material", "drag_area", "dress", "tactics")
LURE_KINDS = ("jig", "sinker", "spoon", "bait", "lipped", "float")

# kg/m3; the same figures, with their sources, as in lakekit.tackle.materials (a test compares)
LINE_DENSITY = {"nylon": 1140.0, "fluorocarbon": 1780.0, "braid": 970.0, "polyester": 1380.0}
LURE_MATERIALS = ("lead", "tungsten", "bismuth", "copper", "nickel", "iron", "steel", "brass",
                  "tin", "zinc", "glass", "plastic", "wood", "foam", "bait")


def read_club(folder=None, *, lakes=True):
    """Read a club folder.

    Parameters
    ----------
    folder : path-like, optional
        Folder with ``club.toml`` and ``lakes/``; default the demo club.
    lakes : bool
        False where none is needed: lake files that cannot be read then leave the club without.

    Returns
    -------
    Club
        ``club.lakes[key]``: key = the lake file's stem, in file-name order.

    Raises
    ------
    ClubError
        At the first wrong field, naming file, key, what is wrong and how to mend it.

    Examples
    --------
    >>> list(read_club().lakes)
    ['quarry-hollow', 'teal-marsh']
    """
    folder = demo_folder() if folder is None else Path(folder)
    check_name(folder)
    near = next(
        (place for place in list(folder.absolute().parents)[:2] if (place / "club.toml").is_file()),
        None,
    )
    if near is not None and not (folder / "club.toml").is_file():
        raise ClubError("this is no club folder", where=str(folder), mend=f"Name {near} instead")
    if not folder.is_dir():
        raise ClubError("the club folder does not exist", where=str(folder),
                        mend=f"Make one: lakekit new {folder}")
    if not os.path.lexists(folder / "club.toml"):
        raise ClubError("the folder holds no club.toml", where=str(folder),
                        mend="Make a club folder with: lakekit new DIR")
    problems = Problems()
    table = Table(load_toml(folder / "club.toml", label="club.toml"), label="club.toml",
                  problems=problems, known=CLUB_KEYS)
    units = table.text("units", "us", choices=("us", "metric"))
    name = table.text("name", required=True)
    paper = table.text("paper", "letter" if units == "us" else "a4", choices=("letter", "a4"))
    species = table.text("species", "crappie")
    invented = table.flag("invented", False)
    log = table.table("log", LOG_KEYS)
    date_order = log.text("date_order", choices=("YMD", "MDY", "DMY"))
    columns = log.data.get("columns", {})
    if not isinstance(columns, dict) or not all(
            isinstance(value, str) for value in columns.values()):
        log.error("columns", "columns is not a table of texts",
                  'Write under [log.columns]: fish = "How many?"')
        columns = {}
    boat = _boat(table)
    problems.raise_first()
    try:
        found = _lakes(folder)
    except ClubError:
        if lakes:
            raise
        found = {}
    return Club(folder=folder, name=name, units=units, date_order=date_order, species=species,
                boat=boat, lakes=found, log_columns=dict(columns), paper=paper,
                invented=invented)


def _lakes(folder):
    paths = sorted((folder / "lakes").glob("*.toml"), key=lambda path: path.name.lower())
    found = [(f"lakes/{path.name}", read_lake(path, club_folder=folder)) for path in paths]
    if (folder / NAME).is_file():
        for _, lake, problems in read_lakes_table(folder / NAME):
            problems.raise_first()
            found.append((NAME, lake))
    if not found:
        raise ClubError("the club has no lakes", where=str(folder / "lakes"),
                        mend="Add a lake file such as lakes/my-lake.toml, or lakes.csv")
    lakes, names = {}, {}
    for where, lake in found:
        # a log's words are compared without marks and capitals: so must be the lakes' names
        for spelling in {plain_word(lake.name), plain_word(lake.key)}:
            if spelling in names:
                raise ClubError(
                    f"the lake {lake.name!r} is also in {names[spelling]}, "
                    "or cannot be told from it by its name",
                    where=f"{where}, key name",
                    mend="Give each lake one file and a name of its own",
                )
            names[spelling] = where
        lakes[lake.key] = lake
    return lakes


def _boat(table):
    boat = table.table("boat", BOAT_KEYS)
    beam = boat.quantity("beam", "length", 1.8, low=0.4, high=6.0,
                         hint='The width of the boat: beam = "6 ft"')
    anglers = boat.number("anglers", 2, low=1, high=12, whole=True)
    rods_per_angler = boat.number("rods_per_angler", 1, low=1, high=30, whole=True)
    speeds = _speeds(boat)
    rods = tuple(
        Rod(name=rod.text("name", required=True),
            length=rod.quantity("length", "length", low=0.3, high=12.0, required=True),
            count=rod.number("count", 1, low=1, high=50, whole=True))
        for rod in table.tables("rods", ROD_KEYS))
    lines = tuple(_line(line) for line in table.tables("lines", LINE_KEYS))
    lures = tuple(
        Lure(name=lure.text("name", required=True),
             mass=lure.quantity("weight", "mass", low=1e-5, high=5.0, required=True,
                                hint='Write the unit: weight = "1/16 oz"'),
             kind=lure.text("kind", choices=LURE_KINDS, required=True),
             material=lure.text("material", "lead", choices=LURE_MATERIALS),
             drag_area=_drag_area(lure), tactics=lure.texts("tactics"),
             dress=lure.text("dress", "plastic", choices=("plastic", "hair", "none")))
        for lure in table.tables("lures", LURE_KEYS))
    for key, entries in (("rods", rods), ("lines", lines), ("lures", lures)):
        seen = set()
        for number, entry in enumerate(entries, 1):
            if entry.name is not None and entry.name.casefold() in seen:
                table.error(f"{key}[{number}].name", f"{entry.name!r} is listed twice",
                            "Give each a name of its own")
            seen.add((entry.name or "").casefold())
    return Boat(name=boat.text("name", "the boat"), beam=beam, anglers=anglers,
                rods_per_angler=rods_per_angler, speeds=speeds, rods=rods, lines=lines,
                lures=lures)


def _speeds(boat):
    """Slowest and fastest speed the boat holds [m/s]; 0.2 to 1.5 m/s is common practice."""
    default = (0.2, 1.5)
    if "speeds" not in boat:
        return default
    raw = boat.data["speeds"]
    example = 'Write speeds = ["0.4 mph", "3 mph"], slowest first'
    if not isinstance(raw, list) or len(raw) != 2:
        boat.error("speeds", f"{shown(raw)} is not two speeds", example)
        return default
    try:
        slow, fast = (parse_quantity(value, "speed") for value in raw)
    except ValueError as error:
        boat.error("speeds", str(error))
        return default
    if not 0 <= slow < fast <= 8:
        boat.error(
            "speeds",
            f"{shown(raw)} does not run from a slow speed to a faster one up to 8 m/s",
            example,
        )
        return default
    return slow, fast


def _line(line):
    material = line.text("material", choices=tuple(LINE_DENSITY))
    density = line.number("density", low=500, high=9000, hint="In kg/m3; water is 1000")
    if density is None:
        density = LINE_DENSITY.get(material)
        if density is None and not {"material", "density"} & set(line.data):
            line.error("material", "neither material nor density is given",
                       f'Write material = one of {", ".join(LINE_DENSITY)}')
    strength = line.quantity("strength", "mass", low=0.1, high=200.0,
                             hint='The breaking load on the spool: strength = "8 lb"')
    return Line(name=line.text("name", required=True),
                diameter=line.quantity("diameter", "length", low=3e-5, high=0.003, required=True,
                                       hint='From the spool: diameter = "0.28 mm"'),
                density=density, strength=None if strength is None else strength * GRAVITY)


def _drag_area(lure):
    return lure.number("drag_area", low=1e-7, high=0.1, hint="In m2, drag coefficient included")


def new_club(folder):
    """Make a club folder with commented templates and copies of the notebooks.

    The folder appears whole or not at all; files that exist are never overwritten.

    Parameters
    ----------
    folder : path-like
        A folder that does not exist yet, or is empty.

    Returns
    -------
    list of pathlib.Path
        What was written, in name order.

    Raises
    ------
    ClubError
        When the folder holds anything, or cannot be written.

    Examples
    --------
    >>> [path.name for path in new_club(out / "our-club")][:2]
    ['README.md', 'club.toml']
    """
    folder = Path(folder)
    check_name(folder)
    if folder.exists() and not folder.is_dir():
        raise ClubError("there is a file of that name", where=str(folder),
                        mend="Choose another name")
    if folder.is_dir() and any(folder.iterdir()):
        raise ClubError("the folder is not empty", where=str(folder),
                        mend="Choose a new name; nothing was changed")
    sources = [(path, path.relative_to(template_folder()))
               for path in sorted(template_folder().rglob("*"))
               if path.is_file() and "__pycache__" not in path.parts]
    sources += [(path, Path("notebooks") / path.name)
                for path in sorted(notebooks_folder().glob("*.ipynb"))]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise ClubError(f"the folder cannot be made ({error.strerror})", where=str(folder),
                        mend="Choose a place you may write to") from None
    try:
        for source, relative in sources:
            (draft / relative).parent.mkdir(parents=True, exist_ok=True)
            if source.suffix == ".ipynb":
                (draft / relative).write_text(_own_notebook(source), encoding="utf-8")
            else:
                shutil.copyfile(source, draft / relative)
        (draft / "weather").mkdir(exist_ok=True)
        draft.chmod(0o755)
        if folder.is_dir():
            folder.rmdir()
        draft.rename(folder)
    except OSError as error:
        raise ClubError(f"the folder cannot be written ({error.strerror})", where=str(folder),
                        mend="Choose a place you may write to") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return [folder / relative for relative in sorted(relative for _, relative in sources)]


# a club's own notebooks lie in its folder, and their reports beside them
OWN_PARAMETERS = {
    "club_folder": '".."  # this club; "": the demo', "out": '"../reports"',
    "reports": '"../reports"  # the folder of your reports',
}  # fmt: skip


def _own_notebook(path):
    """A notebook's text with its parameters naming the club folder above it, not the demo."""
    book = json.loads(path.read_text(encoding="utf-8"))
    for cell in book["cells"]:
        if "parameters" in cell["metadata"].get("tags", []):
            lines = "".join(cell["source"])
            for name, own in OWN_PARAMETERS.items():
                lines = re.sub(rf"^({name}(?:: str)?) = .*$", rf"\1 = {own}", lines, flags=re.M)
            cell["source"] = lines.splitlines(keepends=True)
    return json.dumps(book, indent=1, ensure_ascii=False) + "\n"


def check_name(folder):
    """Refuse a name that no folder can have, before it ends in an error of the system's own."""
    try:
        os.lstat(folder)
    except (OSError, ValueError) as error:
        if not isinstance(error, FileNotFoundError | NotADirectoryError):
            reason = getattr(error, "strerror", None) or "it holds a zero byte"
            raise ClubError(
                f"no folder can be read under this name ({reason})",
                where=shown(str(folder)),
                mend="Name another",
            ) from None


def find_lake(club, word):
    """Key of the lake a user means by a key or a name, whatever the capitals.

    Raises
    ------
    ClubError
        When no lake has that key or name; the nearest is named.
    """
    low = plain_word(word)
    for key, lake in club.lakes.items():
        if low in (plain_word(key), plain_word(lake.name)):
            return key
    near = nearest(str(word)[:200], [*club.lakes, *(lake.name for lake in club.lakes.values())])
    raise ClubError(
        f"the club has no lake {shown(word)}",
        where=str(club.folder),
        mend=f"Did you mean {near}?" if near else f"Its lakes: {', '.join(club.lakes)}",
    )
