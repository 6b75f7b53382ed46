"""What a lake file says, in the club's units."""

import calendar
import re

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


def closures_in(text, month):
    """A lake's closures where they touch a month; those that name no month stand in all.

    Parameters
    ----------
    text : str or None
        As in the lake file, such as ``1 April to 15 May``.
    month : int
        1 to 12.

    Returns
    -------
    str or None
    """
    words = re.findall(r"\b[A-Z][a-z]{2,}\b", text or "")  # a small "may" is no month
    named = [
        number
        for word in words
        for number, name in enumerate(calendar.month_name)
        if number and name.startswith(word)
    ]
    if not named:
        return text or None
    last, at = named[-1], named[0]
    while at != month and at != last:
        at = at % 12 + 1
    return text if at == month else None


def rules_rows(lake, month=None):
    """A lake's rules as the club wrote them down, and that they are to be checked again.

    Parameters
    ----------
    lake : lakekit.club.Lake
    month : int, optional
        1 to 12: closures that do not touch it are left out.

    Returns
    -------
    list of [str, str]
    """
    rules = lake.rules
    closures = rules.closures or "not checked"
    if rules.closures and month is not None:
        closures = closure_text(closures_in(rules.closures, month))
    checked = f"checked {rules.checked}" if rules.checked else "not checked"
    return [
        ["Closures", closures],
        ["Limits", rules.limits or "not checked"],
        ["Rods", f"{rules.max_rods} for each angler" if rules.max_rods else "not checked"],
        ["Eating the catch", _eating_text(rules.consumption_advice)],
        ["These rules were", f"{checked}: ask again before you go, for they change"],
    ]


def closure_text(closures):
    """Closures beside which places are told."""
    if not closures:
        return "none that the club noted for this month"
    return f"{closures}; places that are not marked are not checked against it"


def closed_places(places, closures):
    """Places, marked where the closures name them."""
    return [
        {**place, "text": f"{place['text']}, see Closures"}
        if place["name"].casefold() in (closures or "").casefold()
        else place
        for place in places
    ]


def _eating_text(advice):
    """That none was found is no advice to eat."""
    if advice is None:
        return "not checked: ask the health agency"
    if re.match(r"(none|no|nothing)\b", advice.strip(), re.IGNORECASE):
        return "no advisory found when checked, which clears no fish: ask the health agency"
    return f"{advice}; ask the health agency for newer advice"


def _span(values, units):
    low, high = (depth_text(value, units, digits=1 if units == "us" else 0)
                 for value in (values.min(), values.max()))
    return low if low == high else f"{low.split()[0]} to {high} by month"
