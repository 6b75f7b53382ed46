"""The shape of a front note; see ``lakekit.guide.schema``."""

from typing import Literal, NotRequired, TypedDict

from lakekit.guide.schema import (
    Band,
    Depth,
    Layered,
    Number,
    OxygenZone,
    Profile,
    Report,
    Rows,
    Spread,
    SpreadText,
    Tactic,
)


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
    broken: PartRecovery
    deeper: PartRecovery
    oxygen_floor: PartRecovery


class Day(TypedDict):
    """One of the times told ahead; ``start_depth`` m, ``set_up`` of the first tactic."""

    key: Literal["tonight", "tomorrow", "day_after", "day_3"]
    name: str
    label: str
    time: str
    basis: Literal["forecast", "past years"]
    layered: float
    surface: Spread
    mixed_layer: Spread
    thermocline: Spread
    oxygen_floor: Spread
    deep: Spread
    ashore: bool  # the front is on, or hardly over
    start_depth: Number
    tactic: str | None
    set_up: str | None
    text: str


class BoatSign(TypedDict):
    """A surface temperature or a step [degC] by a depth [m]; shares, 0 to 1, of noons told."""

    value: float
    depth: Number
    right: float
    seen: float


class BoatSigns(TypedDict):
    """What would show that the layers are back."""

    surface: NotRequired[BoatSign]
    step: NotRequired[BoatSign]


class WindLean(TypedDict):
    """The thermocline's lean [m] at the height of the blow; bearings in degrees, hours."""

    start: str
    end: str
    wind_from: float
    toward: float
    along: bool
    upwind: Spread
    downwind: Spread
    upwelling_chance: float
    level_after: list[float]


class FrontNote(Report):
    """The note after a front; ``trade_days`` until two and three hot calm days have passed.

    ``took`` is what it took of the layers, ``came_days`` after how many days they were back in the
    weather that came, ``earlier`` what earlier notes said of it.
    """

    date: str
    what_if: WhatIf | None
    headline: str
    verdict: Literal["unlayered", "broken", "deeper", "untouched"]
    storm: Storm
    before: State
    after: State
    changes: Rows
    broke_chance: Number
    ahead: Rows
    recovery: Recovery
    days: list[Day]
    day_rows: Rows
    day_table: Rows
    signs: BoatSigns
    wind: WindLean | None
    wind_rows: Rows
    took: Literal["broken", "deeper"] | None
    came_days: Number
    earlier: Rows
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
