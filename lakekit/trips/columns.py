"""The one table of the trip log's columns: the reader, the docs, the templates and the log sheet
all take names, units, ranges and wording from here."""

from dataclasses import dataclass

# dimension -> suffix in a column's name -> unit in lakekit.units
SUFFIXES = {
    "length": {"ft": "ft", "m": "m", "in": "in", "cm": "cm"},
    "temperature": {"F": "F", "C": "C"},
    "speed": {"mph": "mph", "ms": "m/s"},
    "mass": {"oz": "oz", "g": "g", "lb": "lb", "kg": "kg"},
}

PLACES = ("open", "edge", "cover", "bank", "ice")
LIGHTS = ("dawn", "day", "dusk", "night")
YES_NO = ("yes", "no")


@dataclass(frozen=True)
class Column:
    """One column of the log.

    ``kind``: date, time, duration [h], count, number (SI of its dimension), text, choice, lake or
    tactic. ``low`` and ``high`` are the plausible range, SI, ends included; they are common
    practice, no source. ``us`` and ``metric`` are the suffixes that the templates show.
    """

    name: str
    kind: str
    text: str
    required: bool = False
    dimension: str | None = None
    us: str | None = None
    metric: str | None = None
    low: float | None = None
    high: float | None = None
    choices: tuple = ()
    boxes: int = 6  # width on the paper sheet, in characters
    private: bool = False  # left out of anything published unless the row's share says yes

    def header(self, units):
        """The column's name with the unit suffix of the club's units ("us" or "metric")."""
        suffix = self.us if units == "us" else self.metric
        return f"{self.name}_{suffix}" if suffix else self.name


COLUMNS = (
    Column("date", "date", "day of the outing, best written 2025-05-31", required=True, boxes=10),
    Column("start", "time", "local clock time at which this row's fishing began",
           required=True, boxes=5),
    Column("hours", "duration", "hours fished with this tactic, 2.5 or 2:30; a row without a "
           "fish needs them just as much", required=True, low=0.02, high=24.0, boxes=4),
    Column("lake", "lake", "the lake: its file's name or its full name", required=True, boxes=12),
    Column("tactic", "tactic", "the tactic, one a row: a new tactic is a new row",
           required=True, boxes=12),
    Column("rods", "count", "rods in the water, all anglers of the boat together",
           required=True, low=1, high=40, boxes=2),
    Column("fish", "count", "fish caught, released ones too; 0 for none",
           required=True, low=0, high=1000, boxes=3),
    Column("trip", "text", "any word that the rows of one outing share; without it, one boat's "
           "rows of one day and lake are one outing", boxes=4),
    Column("angler", "text", "who fished, or who kept this row", boxes=8, private=True),
    Column("anglers", "count", "anglers in the boat", low=1, high=12, boxes=2),
    Column("species", "text", "species; left empty it is the club's", boxes=10),
    Column("kept", "count", "fish kept, of those caught", low=0, high=1000, boxes=3),
    Column("size", "number", "length of a typical fish", dimension="length", us="in",
           metric="cm", low=0.02, high=2.0, boxes=4),
    Column("target", "text", "species fished for, where another than caught", boxes=10),
    Column("place", "choice", "open water, edge of a drop or weed bed, cover, bank or ice",
           choices=PLACES, boxes=5),
    Column("catch_depth", "number", "depth at which most fish took", dimension="length",
           us="ft", metric="m", low=0.0, high=100.0, boxes=4),
    Column("water_depth", "number", "depth of the water there", dimension="length",
           us="ft", metric="m", low=0.0, high=300.0, boxes=4),
    Column("bait_depth", "number", "depth at which the bait ran", dimension="length",
           us="ft", metric="m", low=0.0, high=100.0, boxes=4),
    Column("surface_temp", "number", "water temperature at the surface",
           dimension="temperature", us="F", metric="C", low=-0.5, high=38.0, boxes=4),
    Column("clarity", "number", "depth at which a white disc or lure goes out of sight",
           dimension="length", us="ft", metric="m", low=0.02, high=30.0, boxes=4),
    Column("line_out", "number", "line out behind the boat", dimension="length",
           us="ft", metric="m", low=0.0, high=300.0, boxes=4),
    Column("speed", "number", "boat speed over ground", dimension="speed", us="mph",
           metric="ms", low=0.0, high=4.0, boxes=4),
    Column("weight", "number", "weight of the jig or sinker", dimension="mass", us="oz",
           metric="g", low=1e-5, high=1.0, boxes=4),
    Column("light", "choice", "dawn, day, dusk or night", choices=LIGHTS, boxes=5),
    Column("ended_because", "text", "why this row ended: limit, slow, weather, time, other",
           boxes=8),
    Column("spot", "text", "where on the lake; never published unless share says yes",
           boxes=10, private=True),
    Column("notes", "text", "anything else; never published unless share says yes",
           boxes=20, private=True),
    Column("share", "choice", "yes if spot, angler and notes of this row may be published",
           choices=YES_NO, boxes=3),
)

BY_NAME = {column.name: column for column in COLUMNS}
REQUIRED = tuple(column.name for column in COLUMNS if column.required)
PRIVATE = tuple(column.name for column in COLUMNS if column.private)


def header_names():
    """Every header that the reader knows: each column, bare and with each unit suffix.

    Returns
    -------
    dict : lower-case header -> (column name, unit name or None)
    """
    names = {}
    for column in COLUMNS:
        names[column.name] = (column.name, None)
        for suffix, unit in SUFFIXES.get(column.dimension, {}).items():
            names[f"{column.name}_{suffix}".lower()] = (column.name, unit)
    return names


def template(units):
    """Headers of an empty log in the club's units, required columns first.

    Parameters
    ----------
    units : str
        "us" or "metric".

    Returns
    -------
    list of str
    """
    return [column.header(units) for column in COLUMNS]


def column_help(units):
    """Rows (header, required, text) for the docs and the template's comment.

    Parameters
    ----------
    units : str
        "us" or "metric".

    Returns
    -------
    list of tuple
    """
    return [
        (column.header(units), "required" if column.required else "optional", column.text)
        for column in COLUMNS
    ]


def log_sheet(units, *, rows=12, columns=None):
    """What a paper log sheet needs: a box for each column and row, and the words to print.

    The boxes come from ``COLUMNS``, so that a filled sheet can be typed in without thinking.

    Parameters
    ----------
    units : str
        "us" or "metric".
    rows : int
        Lines on the sheet, one for each tactic tried.
    columns : sequence of str, optional
        Columns to print; by default the required ones and those that the depth and water
        answers use.

    Returns
    -------
    dict
        ``boxes``: list of {"header", "label", "width" (characters), "required", "choices"};
        ``rows``: int; ``notes``: list of sentences to print under the table;
        ``tactics`` is left to the caller.
    """
    usual = (*REQUIRED, "trip", "anglers", "catch_depth", "water_depth", "place", "clarity",
             "surface_temp", "ended_because")
    chosen = usual if columns is None else columns
    unknown = [name for name in chosen if name not in BY_NAME]
    if unknown:
        raise ValueError(f"no such log column: {', '.join(unknown)}")
    boxes = []
    for column in (BY_NAME[name] for name in chosen):
        suffix = column.us if units == "us" else column.metric
        label = column.name.replace("_", " ") + (f" ({suffix})" if suffix else "")
        boxes.append({"header": column.header(units), "label": label, "width": column.boxes,
                      "required": column.required, "choices": column.choices})
    notes = [
        "One line for each tactic tried, also when it caught nothing: write 0 fish.",
        "Hours are hours with this tactic in the water; rods are all rods of the boat.",
        "Write the date as year-month-day.",
    ]
    return {"boxes": boxes, "rows": rows, "notes": notes}
