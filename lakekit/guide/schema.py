"""The shape of every report's content: what a guide, a note and a briefing hold.

Depths are metres below the surface, temperatures degC, speeds m/s, times ISO 8601 in UTC; every
``text`` is worded in the club's units. ``None`` is not known. :func:`json_schema` tells the same
to programs. A key that changes its meaning or goes raises ``SCHEMA``.
"""

from types import NoneType, UnionType
from typing import (
    Literal,
    NotRequired,
    TypedDict,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

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
    """Depths [m] of 4, 3 and 2 mg/L."""

    top: Number
    middle: Number
    bottom: Number


class Band(TypedDict):
    """The water that can hold fish."""

    top: Number
    bottom: Number
    good: bool
    text: str
    top_range: NotRequired[list[Number]]
    bottom_range: NotRequired[list[Number]]


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
    count: NotRequired[list[Number]]  # s: low, middle, high


class Tactic(TypedDict):
    """A tactic for a month or a state; ``rank`` is None where the log cannot rank it."""

    key: str
    name: str
    short: str
    rank: int | None
    value: Number
    top: Number
    bottom: Number
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
    phase: Phase
    layered: Layered
    depths: list[Depth]
    surface: SpreadText
    sun: Text
    light: Light
    oxygen_zone: OxygenZone
    band: Band
    tilt: Tilt | None
    profile: Profile
    tactics: list[Tactic]
    log_text: str
    front_text: str | None
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


class MixedLayers(TypedDict):
    """Median depth [m] of the mixed layer, computed with and without each cause."""

    with_both: Number
    without_wind: Number
    without_cooling: Number
    without_both: Number


class Causes(TypedDict):
    """Shares of a front's work, 0 to 1; ``loss`` of stability [J/m2]."""

    wind: float
    cooling: float
    loss: float
    mixed_layer: MixedLayers


class Storm(TypedDict):
    """A front: ``wind_work`` J/m2, falls in degC and hPa, rain in mm, peak wind in m/s."""

    text: str
    start: str
    end: str
    wind_work: Number
    temperature_fall: Number
    pressure_fall: Number
    rain: Number
    peak_wind: Number
    found_by: str
    causes: Causes | None


class WhatIf(TypedDict):
    """A storm that was asked for; rain in mm."""

    wind: Number
    hours: float
    air: Number
    rain: Number


class State(TypedDict):
    """The water at a time."""

    label: str
    time: str
    layered: Layered
    depths: list[Depth]
    surface: SpreadText
    oxygen_zone: OxygenZone
    band: Band
    profile: Profile


class PartRecovery(TypedDict):
    """Chances, 0 to 1, and days until a part of the layers is back."""

    before_chance: Number
    lost_chance: Number
    back_chance: Number
    days: Spread


class Recovery(TypedDict):
    """Each part of the layers on its own."""

    skin: PartRecovery
    thermocline: PartRecovery
    oxygen_floor: PartRecovery


class FrontNote(Report):
    """The note after a front; ``trade_days`` until two and three hot calm days have passed."""

    date: str
    what_if: WhatIf | None
    headline: str
    verdict: str
    storm: Storm
    before: State
    after: State
    changes: Rows
    broke_chance: Number
    ahead: Rows
    recovery: Recovery
    trade_days: list[Number]
    past_years: list[int]
    forecast_hours: int
    oxygen_text: str
    hazards: list[str]
    plan_title: str
    plan_text: str
    tactics: list[Tactic]
    weather_rows: Rows
    not_known: Rows
    message: str


_PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean", NoneType: "null"}


def json_schema(kind):
    """A content's JSON Schema (draft 2020-12), made from its type.

    Parameters
    ----------
    kind : type
        ``SeasonGuide``, ``FrontNote`` or ``Briefing``.

    Returns
    -------
    dict
    """
    parts = {}
    schema = _schema_of(kind, parts)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": kind.__name__,
        **schema,
        "$defs": dict(sorted(parts.items())),
    }


def _schema_of(kind, parts):
    if kind in _PLAIN:
        return {"type": _PLAIN[kind]}
    origin, inside = get_origin(kind), get_args(kind)
    if origin is Literal:
        return {"enum": list(inside)}
    if origin is NotRequired:
        return _schema_of(inside[0], parts)
    if origin in (Union, UnionType):
        return {"anyOf": [_schema_of(one, parts) for one in inside]}
    if origin is list:
        return {"type": "array", "items": _schema_of(inside[0], parts)}
    if origin is dict:
        return {"type": "object", "additionalProperties": _schema_of(inside[1], parts)}
    if not is_typeddict(kind):
        raise TypeError(f"no schema for {kind!r}")
    if kind.__name__ not in parts:
        parts[kind.__name__] = {}
        parts[kind.__name__].update(
            {
                "type": "object",
                "description": (kind.__doc__ or "").partition("\n")[0],
                "properties": {
                    name: _schema_of(hint, parts) for name, hint in get_type_hints(kind).items()
                },
                "required": sorted(kind.__required_keys__),
                "additionalProperties": False,
            }
        )
    return {"$ref": f"#/$defs/{kind.__name__}"}
