"""The uncertain parameters: one table, their defaults for a lake, and draws from their ranges."""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from ..errors import ProbeError
from .surface import sheltered_energy

# Wind that stirs, and sunshine, against those of an open weather record. "valley" was checked on
# three reservoirs (a station there had 0.85 of the reanalysis' summer sun), "wooded" on two lakes;
# the other rows lean on them: common practice, no source. Wind that evaporates is not sheltered.
SURROUNDINGS_SHELTER = {"open": 1.0, "mixed": 0.9, "wooded": 0.8, "valley": 0.8}
SUNSHINE = {"open": 1.0, "mixed": 0.97, "wooded": 0.9, "valley": 0.85}


@dataclass(frozen=True)
class Parameter:
    """An uncertain parameter; ``low`` to ``high`` is its central 90 % range before any reading.

    ``scale`` is "log" (a factor) or "linear"; with ``relative`` the three figures multiply the
    lake's own default.
    """

    name: str
    central: float
    low: float
    high: float
    unit: str
    scale: str
    relative: bool
    meaning: str
    source: str


TABLE = (
    Parameter(
        "wind_shelter",
        1.0,
        0.65,
        1.5,
        "1",
        "log",
        True,
        "factor on wind speed for stress and stirring, times the lake's own shelter",
        "cube root of Hondzo & Stefan 1993, and surroundings; spread from two reservoirs",
    ),
    Parameter(
        "evaporation_factor",
        1.0,
        0.6,
        1.6,
        "1",
        "log",
        False,
        "factor on wind speed for evaporation and sensible heat",
        "transfer coefficients 1.0e-3 to 1.5e-3: Guseva et al. 2023 against older work",
    ),
    Parameter(
        "light_attenuation_factor",
        1.6,
        1.1,
        2.3,
        "1",
        "log",
        False,
        "factor on 1.7 / Secchi depth",
        "Poole & Atkins 1929 (1.7), Holmes 1970 (1.44); 2.7 over Secchi on two reservoirs",
    ),
    Parameter(
        "shortwave_factor",
        1.0,
        0.9,
        1.1,
        "1",
        "log",
        True,
        "factor on shortwave radiation, times the shade of the surroundings",
        "reanalysis against a station in the same valley",
    ),
    Parameter(
        "longwave_bias",
        0.0,
        -12.0,
        12.0,
        "W m-2",
        "linear",
        False,
        "added to longwave radiation",
        "clear-sky formulas differ by 15 W/m2 at 20 degC (Brutsaert, Idso, Prata)",
    ),
    Parameter(
        "diffusivity_factor",
        0.55,
        0.2,
        1.4,
        "1",
        "log",
        False,
        "factor on the diffusivity below the mixed layer",
        "Hondzo & Stefan 1993 is 1; half of it on two reservoirs; spread common practice",
    ),
    Parameter(
        "oxygen_demand_factor",
        1.0,
        0.5,
        2.0,
        "1",
        "log",
        False,
        "factor on oxygen demand of sediment and water",
        "Mueller et al. 2012: 0.47-1.31 g/m2/d among eutrophic lakes",
    ),
    Parameter(
        "oxygen_production_factor",
        1.0,
        0.5,
        2.0,
        "1",
        "log",
        False,
        "factor on oxygen production in the light",
        "common practice, no source",
    ),
)
NAMES = tuple(row.name for row in TABLE)


def lake_defaults(lake):
    """Central value of every parameter for a lake, as a dict."""
    shelter = float(sheltered_energy(lake.area)) ** (1.0 / 3.0)
    own = {
        "wind_shelter": shelter * SURROUNDINGS_SHELTER[lake.surroundings],
        "shortwave_factor": SUNSHINE[lake.surroundings],
    }
    return {row.name: row.central * own.get(row.name, 1.0) for row in TABLE}


def as_dataset(values):
    """Members of parameters as a Dataset: ``values`` array (members, len(NAMES))."""
    values = np.atleast_2d(np.asarray(values, float))
    data = {}
    for column, row in enumerate(TABLE):
        attrs = {"units": row.unit, "long_name": row.meaning, "references": row.source}
        data[row.name] = ("member", values[:, column], attrs)
    return xr.Dataset(data, coords={"member": np.arange(values.shape[0])})


def as_array(parameters):
    """The Dataset of :func:`as_dataset` back as an array (members, len(NAMES)).

    Raises
    ------
    ProbeError
        When a parameter is missing or not finite.
    """
    missing = [name for name in NAMES if name not in parameters]
    if missing:
        raise ProbeError(
            f"parameters lack {', '.join(missing)}",
            mend="make them with default_parameters, draw_parameters or fit_lake",
        )
    values = np.column_stack([np.atleast_1d(parameters[name].values) for name in NAMES])
    if not np.isfinite(values).all():
        raise ProbeError("parameters are not finite", mend="fit or draw them again")
    return np.ascontiguousarray(values, float)


def default_parameters(lake):
    """One member: the central value of every parameter for a lake.

    Examples
    --------
    >>> default_parameters(lake)["evaporation_factor"].item()
    1.0
    """
    return as_dataset([list(lake_defaults(lake).values())])


def fading_factor(lake, parameters=None):
    """Factor on 1.7 / Secchi by which light fades in the simulated water.

    Parameters
    ----------
    lake : Lake
    parameters : Dataset, optional
        The lake's own; their first member is central. Default: those of an unfitted lake.

    Returns
    -------
    float
    """
    known = default_parameters(lake) if parameters is None else parameters
    return float(known["light_attenuation_factor"].values[0])


def to_standard(values, lake):
    """Parameter values (members, p) as standard scores: 0 central, +-1.645 at the range's ends."""
    own = lake_defaults(lake)
    scores = np.empty_like(np.asarray(values, float))
    for column, row in enumerate(TABLE):
        centre, spread = _location(row, own)
        value = np.log(values[:, column]) if row.scale == "log" else values[:, column]
        scores[:, column] = (value - centre) / spread
    return scores


def from_standard(scores, lake):
    """The inverse of :func:`to_standard`."""
    own = lake_defaults(lake)
    values = np.empty_like(np.asarray(scores, float))
    for column, row in enumerate(TABLE):
        centre, spread = _location(row, own)
        value = centre + spread * scores[:, column]
        values[:, column] = np.exp(value) if row.scale == "log" else value
    return values


def _location(row, own):
    if row.scale == "log":
        return np.log(own[row.name]), np.log(row.high / row.low) / (2 * 1.645)
    return own[row.name], (row.high - row.low) / (2 * 1.645)


def draw_parameters(lake, members, seed):
    """Members drawn from the stated ranges; member 0 is central.

    Parameters
    ----------
    lake : Lake
    members : int, 1 or more
    seed : int

    Returns
    -------
    Dataset on ``member``; the first members of a larger draw equal those of a smaller one

    Examples
    --------
    >>> draw_parameters(lake, 3, seed=0)["wind_shelter"].dims
    ('member',)
    """
    random = np.random.default_rng(seed)
    scores = random.standard_normal((members, len(TABLE)))
    scores[0] = 0.0
    return as_dataset(from_standard(np.clip(scores, -2.5, 2.5), lake))


def symmetric_root(covariance, *, least=0.0, most=np.inf):
    """The symmetric square root of a covariance, its variances along its axes kept in bounds.

    The axes that a machine finds may point either way; this root is the same on all of them, so
    that a seed draws the same members everywhere.

    Parameters
    ----------
    covariance : (p, p) array
    least, most : float

    Returns
    -------
    (p, p) float64
    """
    values, axes = np.linalg.eigh(covariance)
    return (axes * np.sqrt(np.clip(values, least, most))) @ axes.T
