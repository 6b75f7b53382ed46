"""A lake's own weather, from wherever its file says it comes."""

import pandas as pd

from lakekit.errors import WeatherError
from lakekit.weather.tables import read_weather

OLD_DAYS = 45  # a record that ended longer ago is told its age


def lake_weather(club, lake, *, start=None, end=None, now=None, progress=None):
    """Read the weather a lake file names: a station, a file of the club, a grid, or two of them.

    Parameters
    ----------
    club : Club
    lake : Lake or str
        A lake of the club, or its key.
    start, end : datetime64 or str, optional
        First and last hour [UTC] wanted; from a station the last 15 years by default.
    now : Timestamp, optional
        The time it is [UTC]; matters for a station only.
    progress : callable, optional
        Called with a sentence before each request to a station, and before a grid is read.

    Returns
    -------
    xarray.Dataset, as from ``make_weather``
        Where a grid stands beside a station or a file, it fills their holes, flagged; where no
        station can serve, the grid stands alone.

    Examples
    --------
    >>> lake_weather(club, "quarry-hollow", start="2026-05-01")["wind_speed"].attrs["units"]
    'm s-1'
    """
    if isinstance(lake, str):
        if lake not in club.lakes:
            raise WeatherError(f"no lake {lake!r}", mend=f"Lakes: {', '.join(club.lakes)}.")
        lake = club.lakes[lake]
    weather = _weather(club, lake, start, end, now, progress)
    if progress and end is None and not club.invented:
        clock = pd.Timestamp.now("UTC").tz_localize(None) if now is None else pd.Timestamp(now)
        age = record_age(weather, clock)
        if age:
            progress(f"{lake.name}: {age}")
    return weather


def _weather(club, lake, start, end, now, progress):
    source = lake.weather
    if not source.grid:
        return _measured(club, lake, start, end, now, progress)
    from lakekit.weather.gridded import fill_from_grid, grid_weather

    grid = _between(
        grid_weather(source, lake, lakes=club.lakes.values(), progress=progress), start, end
    )
    if source.file is None and source.station is None:
        return grid
    try:
        measured = _measured(club, lake, start, end, now, progress)
    except WeatherError as problem:
        if source.file is not None:
            raise
        notes = [grid.attrs["notes"], f"no station serves ({problem})"]
        return grid.assign_attrs(notes="; ".join(note for note in notes if note))
    return fill_from_grid(measured, grid, lake)


def record_age(weather, now):
    """How long ago a record ended, as a line for its user; empty where it is not long ago.

    Parameters
    ----------
    weather : Dataset with ``time``
    now : Timestamp
        UTC without a zone.
    """
    last = pd.Timestamp(weather["time"].values[-1])
    days = (now - last).days
    if days <= OLD_DAYS:
        return ""
    return (f"the weather record ended {days:,} days ago, on {last:%Y-%m-%d}: what is called now "
            "is that day")


def _measured(club, lake, start, end, now, progress):
    """From a station or a file."""
    source = lake.weather
    if source.file is None:
        from lakekit.weather.stations import fetch_weather

        return fetch_weather(lake, start, end, now=now, progress=progress)
    path = source.file if source.file.is_absolute() else club.folder / source.file
    try:
        weather = read_weather(path, source.columns, units=source.units, lake=lake)
    except WeatherError as problem:
        if (problem.where or "").startswith("["):  # a table of the lake file
            where = f"lakes/{lake.key}.toml, {problem.where}"
            raise WeatherError(problem.what, where=where, mend=problem.mend) from None
        raise
    return _between(weather, start, end)


def _between(weather, start, end):
    """A record cut to the hours wanted."""
    if start is None and end is None:
        return weather
    part = weather.sel(time=slice(start, end))
    if part.sizes["time"] == 0:
        time = weather["time"].to_index()
        raise WeatherError(
            f"no hours between {start} and {end}: it runs from {time[0]:%Y-%m-%d} to "
            f"{time[-1]:%Y-%m-%d}",
            where=str(weather.attrs.get("source", "weather")),
        )
    return part
