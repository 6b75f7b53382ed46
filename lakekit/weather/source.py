"""A lake's own weather, from wherever its file says it comes."""

from lakekit.errors import WeatherError
from lakekit.weather.tables import read_weather


def lake_weather(club, lake, *, start=None, end=None, now=None, progress=None):
    """Read the weather a lake file names: a file of the club, or a station.

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
        Called with a sentence before each request to a station.

    Returns
    -------
    xarray.Dataset, as from ``read_weather`` or ``fetch_weather``
    """
    if isinstance(lake, str):
        if lake not in club.lakes:
            raise WeatherError(f"no lake {lake!r}", mend=f"Lakes: {', '.join(club.lakes)}.")
        lake = club.lakes[lake]
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
    if start is not None or end is not None:
        weather = weather.sel(time=slice(start, end))
        if weather.sizes["time"] == 0:
            raise WeatherError(f"no hours between {start} and {end}", where=str(path.name))
    return weather
