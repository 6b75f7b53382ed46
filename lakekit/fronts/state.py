"""One state of the water as a front note shows it: layers, oxygen, band, each with its range.

A range holds 8 of 10 values of what the uncertain parameters leave open and of what the column
itself misses; members alone would promise too much.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.column.light import attenuation
from lakekit.column.parameters import fading_factor
from lakekit.strata.events import layered
from lakekit.strata.spread import FOLLOWED, MISSES, profile_error, quantiles_of, widened
from lakekit.tactics.start import Holding, hold

LAYERED = 0.5  # share of members from which a state is told as layered


@dataclass(frozen=True)
class State:
    """A state over all its samples; every (3,) array holds the 10, 50 and 90 % values."""

    time: pd.Timestamp  # UTC
    chance: float  # share of samples with warm water over cold
    temperature: np.ndarray  # (3, depth) degC
    oxygen: np.ndarray  # (3, depth) mg/L
    depth: np.ndarray  # m
    bottom: float  # m
    surface: np.ndarray  # degC, 0-1 m
    deep: np.ndarray  # degC
    mixed_layer: np.ndarray  # m
    thermocline: np.ndarray  # m; NaN where the state is not layered
    oxygen_zone: tuple  # mg/L: enough, limit, least
    floors: dict  # top, middle, bottom of that zone -> (3,) m, NaN where most samples have none
    top_oxygen: float  # mg/L, median of the upper 2 m
    holding: Holding  # by the middle values
    band_top: np.ndarray  # m
    band_bottom: np.ndarray  # m
    ice_chance: float

    @property
    def layered(self):
        return self.chance >= LAYERED

    @property
    def band(self):
        return self.holding.band


def read_state(
    columns, lake, species, phase, *, parameters=None, how="fitted", own_scale=1.0, log_depth=None
):  # fmt: skip
    """Sum up a state.

    Parameters
    ----------
    columns : xarray.Dataset
        ``water_temperature`` and ``dissolved_oxygen`` on (sample, depth), with the layers of
        ``lakekit.strata.run_layers``; the first dimension may have any name.
    lake : Lake
    species : lakekit.tactics.book.Species
    phase : str
        The day's season phase.
    parameters : xarray.Dataset, optional
        Those of the run, the first member central.
    how : str
        Which of the column's own errors widen the ranges: a key of ``strata.spread.MISSES``.
    own_scale : float
        What the lake's own casts say of them, as from ``strata.spread.own_scale``.
    log_depth : callable, optional
        ``(*, thermocline, oxygen_floor)`` [m] -> what the log's own fish say of the depth, as
        from ``lakekit.guide.log.logbook.own_depth``.

    Returns
    -------
    State
    """
    time = pd.Timestamp(columns["time"].values)
    bottom = float(lake.max_depth - lake.below_full_pond[time.month - 1])
    depth = columns["depth"].to_numpy()
    temperature = columns["water_temperature"].transpose(..., "depth").to_numpy()
    oxygen = columns["dissolved_oxygen"].transpose(..., "depth").to_numpy()
    flags = layered(columns).to_numpy()
    chance = float(flags.mean())
    is_layered = chance >= LAYERED
    mixed = columns["mixed_layer_depth"].to_numpy()
    mixed_depth = quantiles_of(mixed)
    thermocline = np.full(3, np.nan)
    if is_layered:
        seasonal = columns["lasting_thermocline_depth"].to_numpy()
        plain = np.where(flags, columns["thermocline_depth"].to_numpy(), np.nan)
        thermocline = quantiles_of(seasonal if np.isfinite(seasonal).mean() >= LAYERED else plain)
        # samples without layers are mixed deeper than the step that the others have and is told
        mixed_depth = np.fmin(mixed_depth, thermocline)
    floors = {
        "top": _mostly(columns["oxygen_zone_top"].to_numpy()),
        "middle": _mostly(columns["oxygen_floor_depth"].to_numpy()),
        "bottom": _mostly(columns["oxygen_zone_bottom"].to_numpy()),
    }
    names = ("mixed_layer_depth", "oxygen_floor_depth")
    rows = np.column_stack([columns[name].to_numpy() for name in names])
    ice_chance = float(columns["ice"].mean())
    fading = fading_factor(lake, parameters)
    light = float(attenuation(lake.secchi[time.month - 1], factor=fading))

    mine = log_depth and log_depth(
        thermocline=thermocline[1], oxygen_floor=floors["middle"][1]
    )

    def held(profile, air, mixed_layer, floor, warm_over_cold):
        return hold(
            depth, profile, air, species=species, phase=phase, oxygen_floor=floor,
            mixed_layer=mixed_layer, layered=warm_over_cold, iced=ice_chance >= 0.5,
            attenuation=light, bottom=bottom, own=mine and mine[0],
        )  # fmt: skip

    own, season = MISSES[how], int(not is_layered)
    scale = own.factor * (own_scale if how in FOLLOWED else 1.0)

    def warmths(quantiles, error=own.temperature[season]):
        return widened(quantiles, error, low=0.0, scale=scale)

    def depths(quantiles, error=own.line):
        return widened(quantiles, error, low=0.0, high=bottom)

    middle = quantiles_of(temperature)
    each = [
        held(profile, air, *row, bool(flag)).band
        for profile, air, row, flag in zip(temperature, oxygen, rows, flags, strict=True)
    ]
    shown = held(
        middle[1], quantiles_of(oxygen)[1], mixed_depth[1], floors["middle"][1], is_layered
    )
    upper = depth <= 2.0
    return State(
        time=time,
        chance=chance,
        temperature=warmths(middle, profile_error(middle[1], depth, how=how, layered=is_layered)),
        oxygen=widened(quantiles_of(oxygen), own.oxygen[season], low=0.0),
        depth=depth,
        bottom=bottom,
        surface=warmths(quantiles_of(columns["surface_temperature"].to_numpy())),
        deep=warmths(quantiles_of(columns["bottom_temperature"].to_numpy())),
        mixed_layer=depths(np.minimum(mixed_depth, bottom)),
        thermocline=depths(thermocline),
        oxygen_zone=species.oxygen_zone,
        floors={part: depths(floor, own.floor) for part, floor in floors.items()},
        top_oxygen=float(np.median(oxygen[:, upper].mean(axis=1))),
        holding=shown,
        band_top=depths(quantiles_of([_known(one.top) for one in each])),
        band_bottom=depths(quantiles_of([_known(one.bottom) for one in each])),
        ice_chance=ice_chance,
    )


def _known(depth):
    return np.nan if depth is None else depth


def _mostly(values):
    """Quantiles of a depth that most samples have; NaN where fewer than half do."""
    if np.isfinite(values).mean() < LAYERED:
        return np.full(3, np.nan)
    return quantiles_of(values)


def state_data(state, label, texts):
    """A state as the pages read it: plain numbers, and the texts of its depths and band.

    Parameters
    ----------
    state : State
    label : str
    texts : dict
        ``layered``, ``thermocline``, ``mixed_layer``, ``oxygen``, ``surface``, ``band``.

    Returns
    -------
    dict
    """
    rows = (
        ("thermocline", "Thermocline", state.thermocline),
        ("mixed_layer", "Warm mixed layer, down to",
         state.mixed_layer if state.layered else np.full(3, np.nan)),
        ("oxygen_floor", "Oxygen", state.floors["middle"]),
    )  # fmt: skip
    words = {"oxygen_floor": "oxygen"}
    zone = {part: number(floor[1]) for part, floor in state.floors.items()}
    if zone["middle"] is None:
        zone = dict.fromkeys(zone)
    zone["limits"] = list(state.oxygen_zone)
    return {
        "label": label,
        "time": str(np.datetime64(state.time, "h")),
        "layered": {"chance": state.chance, "text": texts["layered"]},
        "depths": [
            {"key": key, "name": name, **spread_data(values), "text": texts[words.get(key, key)]}
            for key, name, values in rows
        ],
        "surface": {**spread_data(state.surface), "text": texts["surface"]},
        "oxygen_zone": zone,
        "band": {
            "top": number(state.band.top),
            "bottom": number(state.band.bottom),
            "good": bool(state.band.good),
            "start": number(state.holding.start),
            "text": texts["band"],
            "top_range": [number(value) for value in state.band_top],
            "bottom_range": [number(value) for value in state.band_bottom],
        },
        "profile": {
            "depth": state.depth.tolist(),
            "temperature": _curves(state.temperature),
            "oxygen": _curves(state.oxygen) if np.isfinite(state.oxygen).any() else None,
            "bottom": state.bottom,
        },
    }


def number(value):
    """A plain number, None where it is not known."""
    return None if value is None or not np.isfinite(value) else float(value)


def spread_data(quantiles):
    """Three quantiles as ``low``, ``median`` and ``high``."""
    return dict(zip(("low", "median", "high"), map(number, quantiles), strict=True))


def _curves(quantiles):
    return {
        name: [number(value) for value in row]
        for name, row in zip(("low", "median", "high"), quantiles, strict=True)
    }
