"""A storm that has not come: what the angler asks for, laid over the weather ahead."""

import numpy as np
import pandas as pd

from lakekit.errors import ClubError
from lakekit.strata.spells import wind_work
from lakekit.strata.traces import HOUR
from lakekit.units import parse_quantity

# option -> (dimension, SI range, the range in words, example)
OPTIONS = {
    "wind": ("speed", (0.5, 45.0), "1.1 to 100 mph (0.5 to 45 m/s), an hour's mean", '"25 mph"'),
    "air": ("temperature", (-35.0, 45.0), "-31 to 113 F (-35 to 45 C)", '"55 F"'),
    "rain": ("length", (0.0, 0.6), "0 to 23 in (0 to 600 mm)", '"2 in"'),
}
LONGEST = 96.0  # hours: a gale of more than four days is no front (common practice, no source)
BACK = 24  # hours until the air is what it would have been (common practice, no source)


def what_if_storm(*, wind=None, hours=None, air=None, rain=None):
    """Read a what-if storm from an angler's words.

    Parameters
    ----------
    wind : str or float, optional
        Hourly mean at 10 m over open land, such as "25 mph" [m/s]; 0.5 to 45 m/s.
    hours : str or float, optional
        How long it lasts; 1 to 96.
    air : str or float, optional
        Air temperature while it lasts, such as "55 F" [degC].
    rain : str or float, optional
        Such as "2 in" [m], over the whole storm.

    Returns
    -------
    dict or None
        ``wind`` [m/s], ``hours``, ``air`` [degC], ``rain`` [mm]; what was not given is None. None
        when nothing was given.

    Raises
    ------
    ClubError
        For a value that cannot be read, or a storm without its hours or without anything in it.
    """
    given = {"wind": wind, "air": air, "rain": rain}
    given = {name: None if value in (None, "") else value for name, value in given.items()}
    hours = None if hours in (None, "") else hours
    if hours is None and all(value is None for value in given.values()):
        return None
    storm = {name: _read(name, value) for name, value in given.items()}
    if hours is None:
        named = next(name for name, value in given.items() if value is not None)
        raise ClubError(
            f"a storm needs its hours beside its {named}",
            where="--hours",
            mend="Say how long it lasts: --hours 12.",
        )
    if all(value is None for value in storm.values()):
        raise ClubError(
            "a storm of so many hours needs wind, air or rain",
            where="--hours",
            mend='Give at least one: --wind "25 mph".',
        )
    try:
        length = float(hours)
    except (TypeError, ValueError):
        length = np.nan
    if isinstance(hours, bool) or not 1.0 <= length <= LONGEST:
        raise ClubError(
            f"{hours!r} is not a number of hours from 1 to {LONGEST:.0f}",
            where="--hours",
            mend="Write --hours 12.",
        )
    if storm["rain"] is not None:
        storm["rain"] *= 1000.0
    return {**storm, "hours": float(round(length))}


def _read(name, value):
    if value is None:
        return None
    dimension, (low, high), bounds, example = OPTIONS[name]
    try:
        number = parse_quantity(value, dimension)
    except ValueError as error:
        raise ClubError(str(error), where=f"--{name}", mend=f"Write --{name} {example}.") from None
    if not low <= number <= high:
        raise ClubError(
            f"{value!r} is out of range: a storm's {name} may be {bounds}",
            where=f"--{name}",
            mend=f"Write --{name} {example}.",
        )
    return number


def checked_storm(storm):
    """A storm as a notebook's parameters cell may give it: words, numbers, or none.

    Raises
    ------
    ClubError
        As :func:`what_if_storm`, or for a name that no storm has.
    """
    if not storm:
        return None
    unknown = set(storm) - {"wind", "hours", "air", "rain"}
    if unknown:
        raise ClubError(
            f"a storm has no {sorted(unknown)[0]!r}",
            where="storm",
            mend="It has wind, hours, air and rain.",
        )
    words = dict(storm)
    rain = words.get("rain")
    if isinstance(rain, (int, float)) and not isinstance(rain, bool):
        words["rain"] = rain / 1000.0  # numbers are those that what_if_storm gives back
    return what_if_storm(**words)


def storm_front(storm, as_of):
    """The storm as a front that begins with the hour after ``as_of``."""
    start = pd.Timestamp(as_of) + HOUR
    wind = storm["wind"]
    work = 0.0 if wind is None else storm["hours"] * float(wind_work(wind, 15.0, 1000.0))
    return {
        "start": start,
        "end": start + pd.Timedelta(hours=storm["hours"]),
        "wind_work": work,
        "temperature_fall": np.nan,
        "pressure_fall": np.nan,
        "rain": storm["rain"] or 0.0,
        "peak_wind": np.nan if wind is None else wind,
        "kind": "what-if",
    }


def with_storm(weather, front, storm, *, wind=True, cooling=True):
    """Weather with the storm laid over it.

    Wind and air temperature take the storm's values in its hours; after it the air goes back
    within a day. The sky stays as it was.

    Parameters
    ----------
    weather : xarray.Dataset
        Prepared.
    front : dict
        ``start`` and ``end`` [UTC].
    storm : dict
        From :func:`what_if_storm`.
    wind, cooling : bool
        Leave one out to see what the other did.

    Returns
    -------
    xarray.Dataset
    """
    times = weather["time"].to_index()
    here = np.asarray((times >= front["start"]) & (times < front["end"]))
    out = weather.copy()

    def put(name, values):
        out[name] = ("time", values, weather[name].attrs)

    if wind and storm["wind"] is not None:
        put("wind_speed", np.where(here, storm["wind"], weather["wind_speed"].to_numpy()))
    if cooling and storm["air"] is not None:
        after = np.asarray((times - front["end"]) / HOUR, dtype=float)
        share = np.where(here, 1.0, np.where(after >= 0, np.clip(1.0 - after / BACK, 0.0, 1.0), 0))
        air = weather["air_temperature"].to_numpy()
        put("air_temperature", air + share * (storm["air"] - air))
    if storm["rain"] is not None:
        rain = weather["precipitation"].to_numpy()
        put("precipitation", np.where(here, storm["rain"] / storm["hours"], rain))
    return out
