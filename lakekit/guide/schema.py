"""The shape of every report's content: what a guide, a note and a briefing hold.

Depths are metres below the surface, temperatures degC, speeds m/s, times ISO 8601 in UTC; every
``text`` is worded in the club's units. ``None`` is not known. A file's numbers have five
significant digits. ``json_schema`` tells the same to programs. A key that changes its meaning or
goes raises ``SCHEMA``.
"""

from typing import Literal, NotRequired, TypedDict

SCHEMA = 1

Number = float | None
Rows = list[list[str]]  # [label, text]
Units = Literal["us", "metric"]
Paper = Literal["letter", "a4"]


class Text(TypedDict):
    """A sentence."""

    text: str


class Lake(TypedDict):
    """The lake a report is about."""

    key: str
    name: str
    place: str
    facts: Rows
    max_depth: float
    region: str | None


class Confidence(TypedDict):
    """How sure, and why."""

    level: Literal["low", "fair", "good"]
    reasons: list[str]


class Phase(TypedDict):
    """A season phase."""

    key: str
    name: str
    text: str


class Layered(TypedDict):
    """Chance of warm water over cold, 0 to 1."""

    chance: float
    text: str


class Spread(TypedDict):
    """The 10, 50 and 90 % values."""

    low: Number
    median: Number
    high: Number


class SpreadText(Spread):
    """A spread in words."""

    text: str


class Depth(SpreadText):
    """A depth of the layers."""

    key: Literal["thermocline", "mixed_layer", "oxygen_floor"]
    name: str


class Light(TypedDict):
    """Depth [m] to which light reaches."""

    dawn: Number
    midday: Number
    dusk: Number
    text: str


class OxygenZone(TypedDict):
    """Depths [m] of the oxygen that is enough, the limit and the least; ``limits`` in mg/L."""

    limits: list[float]
    top: Number
    middle: Number
    bottom: Number
    at_times: NotRequired[Number]  # the limit's depth where few days have one


class Band(TypedDict):
    """The water that can hold fish."""

    top: Number
    bottom: Number
    good: bool
    start: Number  # the depth to fish first
    text: str
    top_range: NotRequired[list[Number]]
    bottom_range: NotRequired[list[Number]]


class Rung(TypedDict):
    """A depth [m] of the ladder, and why to try it."""

    depth: float
    text: str
    why: str


class Part(TypedDict):
    """A month or one half of it: its phase, and where [m] its fish are looked for."""

    label: str
    phase: str
    phase_name: str
    ice_chance: float
    start: Number
    night: Number
    start_text: str
    ladder: list[Rung]
    top: Number
    bottom: Number
    good: bool
    text: str
    first: NotRequired[str]  # first choice, of a half


class Standing(TypedDict):
    """A place of the club's own that stands at a depth [m] to fish, ``top`` to ``foot``."""

    name: str
    kind: str
    depth: float
    top: float
    foot: float
    shore: str
    shared: bool
    text: str


class Curve(TypedDict):
    """How well each depth [m] suits the fish, 0 to 1."""

    depth: list[float]
    suits: list[float]


class Ice(TypedDict):
    """Chance of ice, 0 to 1."""

    chance: float
    text: str | None


class Tilt(TypedDict):
    """Depths [m] of the thermocline at both ends of a wind."""

    upwind: Number
    downwind: Number
    text: str


class Curves(TypedDict):
    """The 10, 50 and 90 % values by depth."""

    low: list[Number]
    median: list[Number]
    high: list[Number]


class Profile(TypedDict):
    """Temperature [degC] and oxygen [mg/L] by depth [m]."""

    depth: list[float]
    temperature: Curves
    oxygen: Curves | None
    bottom: float


class SetupFigures(TypedDict):
    """A set-up in SI figures."""

    motion: str
    possible: bool
    depth: Number
    low: Number
    high: Number
    tolerance: Number
    lures_on_line: int
    upper_depth: Number
    speed: Number
    line_out: Number
    line_in_water: Number
    line_angle: Number
    stop_depth: Number
    target: Number
    band_top: Number
    band_bottom: Number
    lure: str | None
    line: str | None
    count_low: NotRequired[Number]  # s
    count: NotRequired[Number]
    count_high: NotRequired[Number]


class Tactic(TypedDict):
    """A tactic for a month or a state; ``rank`` is None where the log cannot rank it."""

    key: str
    name: str
    short: str
    water: Literal["boat", "ice"]
    rank: int | None
    value: Number
    best_chance: Number
    outings: int
    sure: bool  # whether the log is enough to call the first the first
    top: Number
    bottom: Number
    start: Number
    depth_text: str
    place: str
    setup: str
    setup_figures: SetupFigures | None
    how: str
    log: str
    why: str
    caution: str | None


class Month(TypedDict):
    """One month of a lake."""

    month: str
    title: str
    label: str
    basis: Literal["hindcast", "odds"]
    basis_text: str
    years: int
    headline: str
    halves_text: str | None  # what sets its halves apart; before it, a front just passed
    phase: Phase
    layered: Layered
    depths: list[Depth]
    surface: SpreadText
    sun: Text
    light: Light
    oxygen_zone: OxygenZone
    band: Band
    where: Part
    halves: list[Part]
    halves_differ: bool
    curve: Curve
    bottom_text: str | None
    places: list[Standing]
    bait_text: str
    ice: Ice
    tilt: Tilt | None
    profile: Profile
    tactics: list[Tactic]
    log_text: str
    front_text: str | None
    closures: str | None
    not_known: Rows
    cautions: list[str]


class Report(TypedDict):
    """What every report holds."""

    schema: int
    kind: str
    units: Units
    paper: Paper
    club: str
    demo: bool
    lake: Lake
    species: str
    title: str
    as_of: str
    as_of_text: str
    made_with: str
    weather: Text
    method: list[str]
    sources: list[str]
    cautions: list[str]


class SeasonGuide(Report):
    """The season guide of a lake."""

    confidence: Confidence
    evidence: Rows
    dates: Rows
    months: list[Month]
    rules: Rows


class Briefing(TypedDict):
    """A club's briefing: ``month`` is None for the season edition."""

    schema: int
    kind: str
    month: str | None
    guides: list[SeasonGuide]


class LogBox(TypedDict):
    """A column of the log."""

    header: str
    label: str
    width: int
    required: bool
    choices: list[str]


class LogBoxes(TypedDict):
    """Blank rows of the trip log to fill in."""

    boxes: list[LogBox]
    rows: int
    notes: list[str]


class DayCard(Report):
    """One day on one lake; ``basis`` says whether weather reaches it."""

    date: str
    basis: Literal["hindcast", "forecast", "recent", "odds"]
    basis_text: str
    headline: str
    where: Part
    curve: Curve
    water: Rows
    places: list[Standing]
    tactics: list[Tactic]
    fallback: str
    hours: Rows
    readings: list[str]
    hazards: list[str]
    rules: Rows  # as they touch the day's month
    log: LogBoxes
