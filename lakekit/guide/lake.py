"""What a lake file says, in the club's units."""

from lakekit.units import UNITS, axis_text, depth_text, express


def describe_lake(lake, units):
    """A lake as the reader understood it, for the user to check.

    Parameters
    ----------
    lake : Lake
    units : str
        "us" or "metric".

    Returns
    -------
    list of (label, text)

    Examples
    --------
    >>> describe_lake(lake, club.units)[0]
    ('Name', 'Quarry Hollow Reservoir')
    """
    us = units == "us"

    def length(value):
        if us:
            return f"{express(value, 'mi', 'length'):.1f} mi"
        return f"{value / 1000:.1f} km"

    area = (f"{express(lake.area, 'acres', 'area'):,.0f} acres" if us
            else f"{express(lake.area, 'ha', 'area'):,.0f} ha")
    volume = lake.area * lake.mean_depth
    rules = lake.rules
    rows = [
        ("Name", lake.name),
        ("Place", f"{abs(lake.latitude):.3f}°{'N' if lake.latitude >= 0 else 'S'} "
         f"{abs(lake.longitude):.3f}°{'E' if lake.longitude >= 0 else 'W'}, {lake.time_zone}"),
        ("Elevation", depth_text(lake.elevation, units)),
        ("Area at full pond", area),
        ("Depth", f"at most {depth_text(lake.max_depth, units)}, on average "
         f"{depth_text(lake.mean_depth, units)}"),
        ("Depth and area", lake.depth_area_source),
        ("Volume", f"{volume / (UNITS['area']['acre'][0] * UNITS['length']['ft'][0]):,.0f} acre-ft"
         if us else f"{volume / 1e6:.2f} million m3"),
        ("Longest fetch", length(lake.longest_fetch)),
        ("Long axis", "not given" if lake.axis is None else axis_text(lake.axis)),
        ("Below full pond", _span(lake.below_full_pond, units)),
        ("Secchi depth", f"{_span(lake.secchi, units)} ({lake.secchi_source})"),
        ("Fertility", lake.fertility),
        ("Surroundings", lake.surroundings),
        ("Weather", _weather_text(lake.weather)),
        ("Through-flow", "not given" if lake.flow is None or lake.flow.inflow is None
         else f"{lake.flow.inflow.mean():.2f} m3/s on average"),
        ("Rods allowed", f"{rules.max_rods} an angler" if rules.max_rods else "not written down"),
        ("Rules checked", rules.checked or "not written down"),
    ]
    return rows


def _weather_text(source):
    first = (f"file {source.file.name}" if source.file
             else f"station {source.station}" if source.station else None)
    grid = source.grid and (f"grid {source.grid[0].name}" if len(source.grid) == 1
                            else f"grid of {len(source.grid)} files")
    if first and grid:
        return f"{first}, its holes from {grid}"
    return first or grid


def _span(values, units):
    low, high = (depth_text(value, units, digits=1 if units == "us" else 0)
                 for value in (values.min(), values.max()))
    return low if low == high else f"{low.split()[0]} to {high} by month"
