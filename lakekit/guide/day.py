"""The day card as data: what one side of a half sheet says for one day on one lake."""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.club import find_lake
from lakekit.column.following.follow import run_on
from lakekit.errors import ClubError
from lakekit.fronts.ahead import noon_ahead
from lakekit.fronts.water import last_reading, state_at
from lakekit.fronts.weather import get_forecast
from lakekit.guide import where
from lakekit.guide.front.states import members_of, state_part, told_state
from lakekit.guide.front.words import state_texts
from lakekit.guide.head import report_head
from lakekit.guide.lake import closed_places, closures_in, rules_rows
from lakekit.guide.month import month_page, part_tactics
from lakekit.guide.season import in_month, season_odds
from lakekit.guide.words import date_text, sentence, weather_text
from lakekit.hazards import hazards_for_forecast, hazards_for_month
from lakekit.strata.indices import run_layers
from lakekit.strata.traces import HOUR
from lakekit.trips import log_sheet
from lakekit.units import depth_text, temperature_text
from lakekit.waters.knowledge import gather
from lakekit.weather.moon import moon_times
from lakekit.weather.sun import sun_times

DAY = pd.Timedelta(days=1)
STILL = 2 * DAY  # how long the record's last water is carried on without a forecast
TRIAL = pd.Timedelta(minutes=45)  # to give each set-up before the next (common practice, no source)
THIN = "The log leans to this order but is too thin to be sure. "
ABOVE = 3.0  # m over the depth where oxygen should run short, to read it from
LOG_COLUMNS = ("start", "tactic", "hours", "rods", "fish", "catch_depth", "water_depth", "place")
LOG_ROWS = 7


def day_card(club, key, date=None, *, knowledge=None, forecast=None, now=None, progress=None):
    """The card for one day: water, start depth and ladder, two set-ups, hours, hazards.

    A day of the record is computed from its own weather, one that a forecast covers from the
    forecast; without one the two days after the record are its last water under past years'
    weather, and any other is told by the odds of its half-month. The card says which.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key or name.
    date : str, optional
        Local date, ``YYYY-MM-DD``; default: the day after the record's last.
    knowledge : lakekit.waters.knowledge.LakeKnowledge, optional
        Gathered here when not given.
    forecast : xarray.Dataset, optional
        Prepared; default: asked of the weather service for a lake with a station.
    now : Timestamp, optional
        The time it is [UTC], for the forecast.
    progress : callable, optional

    Returns
    -------
    lakekit.guide.schema.DayCard

    Raises
    ------
    LakekitError
        For a lake or date that does not exist, or weather that cannot serve.

    Examples
    --------
    >>> day_card(club, "quarry-hollow", "2026-07-04", knowledge=knowledge)["title"]
    'Saturday 4 July 2026'
    """
    say = progress or (lambda line: None)
    lake = club.lakes[find_lake(club, key)]
    knowledge = knowledge or gather(club, key, progress=say)
    zone = pd.Timedelta(hours=round(lake.longitude / 15))
    end = pd.Timestamp(knowledge.as_of) + zone
    day = (end.normalize() + DAY) if date in (None, "") else day_of(date)
    noon = day + pd.Timedelta(hours=12) - zone
    forcing, basis = _weather(knowledge, lake, noon, forecast, now)
    say(f"{lake.name}: {day:%A} {date_text(day)} {day.year}, {basis}")
    if forcing is None:
        told = _odds(club, knowledge, day, say)
    else:
        told = _computed(club, knowledge, forcing, noon, day, basis, say)
    part, rows, tactics, hazards, basis_text = told
    tactics = [card for card in tactics if card["water"] == tactics[0]["water"]]
    units = club.units
    hours = hours_rows(lake, day)
    wind_from = _wind_from(forcing, noon)
    places = where.places_data(knowledge, part, units, month=day.month, wind_from=wind_from)
    return {
        **report_head(club, knowledge, kind="day"),
        "title": f"{day:%A} {date_text(day)} {day.year}",
        "date": f"{day:%Y-%m-%d}",
        "as_of": str(np.datetime64(knowledge.as_of, "h")),
        "as_of_text": f"{date_text(knowledge.as_of)} {pd.Timestamp(knowledge.as_of).year}",
        "weather": {"text": weather_text(knowledge.forcing)},
        "basis": basis,
        "basis_text": basis_text,
        "headline": where.start_text(part.holding, units),
        "where": where.part_data(part, units),
        "curve": where.curve_data(part.holding),
        "water": rows,
        "places": closed_places(places, closures_in(lake.rules.closures, day.month)),
        "tactics": tactics,
        "fallback": fallback_text(part, tactics, lake, day, units),
        "hours": hours,
        "readings": readings_to_take(part, units),
        "hazards": hazards,
        "rules": rules_rows(lake, day.month),
        "log": log_rows(units),
    }


def log_rows(units):
    """Blank rows of the trip log, for what a card has room for."""
    sheet = log_sheet(units, rows=LOG_ROWS, columns=LOG_COLUMNS)
    boxes = [{**box, "choices": list(box["choices"] or ())} for box in sheet["boxes"]]
    return {**sheet, "boxes": boxes}


def day_of(text):
    """A local date from ``YYYY-MM-DD``."""
    try:
        day = pd.Timestamp(str(text))
        if pd.isna(day) or day.tz is not None or not 1900 <= day.year <= 2100:
            raise ValueError
    except (ValueError, OverflowError):
        raise ClubError(
            f"{str(text)[:40]!r} is not a date", where="--date", mend="Write it as YYYY-MM-DD."
        ) from None
    return day.normalize()


def _weather(knowledge, lake, noon, forecast, now):
    """Hourly weather through the day's noon and what it is; None where only odds can tell."""
    forcing, as_of = knowledge.forcing, pd.Timestamp(knowledge.as_of)
    if noon <= as_of + HOUR:
        return forcing, "hindcast"
    if forecast is None:
        forecast, _ = get_forecast(lake, now=now)
    if forecast is not None:
        coming = forecast.sel(time=slice(as_of + pd.Timedelta(hours=1), None))
        if coming.sizes["time"] and coming["time"].to_index()[-1] >= noon:
            joined = xr.concat([forcing, coming], "time", join="inner", combine_attrs="override")
            return joined, "forecast"
    return (forcing, "recent") if noon <= as_of + STILL else (None, "odds")


def _wind_from(forcing, noon):
    """Mean direction [degrees] from which the wind blows in the day's light; None not known."""
    if forcing is None or "wind_direction" not in forcing:
        return None
    hours = pd.Timedelta(hours=6)
    here = forcing[["wind_direction", "wind_speed"]].sel(time=slice(noon - hours, noon + hours))
    angle, speed = np.radians(here["wind_direction"].values), here["wind_speed"].values
    east, north = np.nansum(speed * np.sin(angle)), np.nansum(speed * np.cos(angle))
    if np.hypot(east, north) < 0.5 * np.nansum(speed) or not np.isfinite(angle).any():
        return None
    return float(np.degrees(np.arctan2(east, north)) % 360.0)


def _computed(club, knowledge, forcing, noon, day, basis, say):
    """The day from weather that reaches it, or nearly."""
    lake, species, units = knowledge.lake, knowledge.species, club.units
    parameters = members_of(knowledge)
    known = dict(readings=knowledge.probe, say=say)
    if basis == "recent":
        column = noon_ahead(
            lake, forcing, noon, parameters, oxygen_zone=species.oxygen_zone, **known
        )
    else:
        state = state_at(lake, forcing, parameters, noon - DAY, **known)
        times = forcing["time"].to_index()
        hours = forcing.isel(time=slice(times.searchsorted(noon - DAY), times.searchsorted(noon)))
        run = run_on(lake, hours, parameters=parameters, state=state, probe=knowledge.probe)
        column = run.merge(run_layers(run, lake, oxygen_zone=species.oxygen_zone)).isel(time=-1)
    phase = _phase_on(knowledge, day)
    cast = last_reading(knowledge.probe, min(noon, pd.Timestamp(knowledge.as_of) + HOUR))
    state = told_state(column, knowledge, phase, month=day.month, cast=cast)
    part = state_part(state, phase, f"{day:%b}")
    tactics, _ = part_tactics(
        club, knowledge, part, month=day.month, surface_temperature=float(state.surface[2])
    )
    night = any(card["key"] == "night_light" for card in tactics)
    if basis == "recent":
        hazards = hazards_for_month(
            lake, day.month, surface_temperature=state.surface, ice_chance=part.ice_chance,
            night=night, units=units,
        )  # fmt: skip
    else:
        hazards = hazards_for_forecast(
            lake, forcing.sel(time=slice(noon - DAY, noon + DAY)), days=[day], night=night,
            water_temperature=float(state.surface[1]), units=units,
        )  # fmt: skip
    text = {
        "hindcast": "Computed from the day's own weather",
        "forecast": "Computed from a forecast",
        "recent": f"No forecast: the water of {date_text(knowledge.as_of)}, carried on under past "
        "years' weather",
    }[basis]
    return part, _water_rows(state, units), tactics, hazards, text


def _water_rows(state, units):
    """The day's water in [label, text] rows, as a front note words it."""
    texts = state_texts(state, units)
    floor = state.floors["middle"][1]
    return [
        ["Surface", texts["surface"]],
        ["Thermocline", texts["thermocline"] if state.layered else "none"],
        ["Mixed", texts["mixed_layer"] if texts["mixed_layer"].startswith("mixed") else
         f"down to {texts['mixed_layer']}"],
        ["Low oxygen", texts["oxygen"] if np.isfinite(floor) else "nowhere"],
    ]  # fmt: skip


def _odds(club, knowledge, day, say):
    """The day by the odds of its half-month."""
    first = day.replace(day=1)
    odds, days, _, phases = season_odds(knowledge, first, 1, progress=say)
    month, phases = odds.isel(month=0), in_month(days, first, phases)
    _, halves = where.month_parts(knowledge, month, phases)
    part = halves[day.day > 15]
    page = month_page(club, knowledge, month, phases)
    tactics, _ = part_tactics(
        club, knowledge, part, month=day.month,
        surface_temperature=float(month["surface_temperature"].values[2]),
    )  # fmt: skip
    surface = float(month["half_temperature"].isel(half=int(day.day > 15))[0])
    rows = [["Surface", f"{temperature_text(surface, club.units)}; "
             f"over the month {page['surface']['text']}"]]  # fmt: skip
    rows += [[entry["name"], entry["text"]] for entry in page["depths"]]
    hazards = hazards_for_month(
        knowledge.lake, day.month, surface_temperature=month["surface_temperature"].values,
        ice_chance=part.ice_chance, night=any(card["key"] == "night_light" for card in tactics),
        units=club.units,
    )  # fmt: skip
    text = f"No forecast reaches this day: the odds of {part.label}. {sentence(page['basis_text'])}"
    return part, rows, tactics, hazards, text.rstrip(".")


def _phase_on(knowledge, day):
    phases = knowledge.phases
    return str(phases.iloc[phases.index.get_indexer([day], method="nearest")[0]])


def hours_rows(lake, day):
    """The hours that are fished for their light, by the lake's own clock.

    Dawn and dusk, moonrise and moonset are common practice, no source.
    """
    sun = sun_times(day, lake.latitude, lake.longitude, lake.time_zone)
    moon = moon_times(day, lake.latitude, lake.longitude, lake.time_zone)

    def clock(moment):
        return "none" if moment is None else f"{moment:%H:%M}"

    return [
        ["Sun", f"up {clock(sun['sunrise'])}, down {clock(sun['sunset'])}"],
        ["Moon", f"{moon_text(moon['moonrise'], moon['moonset'])}, "
         f"{round(100 * moon['lit'])} % lit"],
        ["Best hours", "the hour around sunrise and sunset, then around moonrise and moonset "
         "(common practice)"],
    ]  # fmt: skip


def moon_text(rise, set_):
    """When the moon is up on one day, of its rise and set on that day (times, None for none)."""
    if rise is None and set_ is None:
        return "neither rises nor sets"
    if rise is None:
        return f"up since the day before, down {set_:%H:%M}"
    if set_ is None:
        return f"up {rise:%H:%M}, down after midnight"
    return f"up {rise:%H:%M}, down {set_:%H:%M}"


def fallback_text(part, tactics, lake, day, units):
    """What to try if neither set-up works, and by when."""
    if not tactics:
        return "No tactic in the book suits this water now: fish cover, or rest the lake."
    sunrise = sun_times(day, lake.latitude, lake.longitude, lake.time_zone)["sunrise"]
    by = "" if sunrise is None else f" (from sunrise: by {sunrise + 2 * TRIAL:%H:%M})"
    thin = "" if tactics[0]["sure"] or tactics[0]["rank"] is None else THIN
    text = f"{thin}Give each {TRIAL.seconds // 60} minutes at the start depth. "
    text += f"If neither has a fish{by}"
    night, day_rungs = (
        tuple(rung for rung in part.holding.ladder if (rung.why == "dusk") is dusk)
        for dusk in (True, False)
    )
    ladder = where.ladder_text(day_rungs, units).replace("then ", "", 1)
    text += f": {ladder}" if ladder else ": move to other cover at the same depth"
    rest = [card for card in tactics[2:] if (card["setup_figures"] or {}).get("possible")]
    if rest:
        text += f"; last, {rest[0]['name'].lower()} at {rest[0]['depth_text']}"
    dark = where.ladder_text(night, units).replace("then ", "", 1)
    return " ".join(sentence(told) for told in (text, dark) if told)


def readings_to_take(part, units):
    """The readings that would teach most that day."""
    step = "3 ft" if units == "us" else "1 m"
    start = part.holding.start
    said = [f"Temperature every {step} from the surface to the bottom, once"]
    floor = part.met.get("oxygen_floor_depth", np.nan)
    if np.isfinite(floor):
        top = depth_text(max(floor - ABOVE, 0.0), units)
        said.append(f"Oxygen every {step} from {top} down, where it runs low")
    elif start is not None:
        said.append(f"Oxygen at {depth_text(start, units)} and just off the bottom")
    said += ["Clarity: how deep a white disc shows", "Depth of every fish, and of the water there"]
    return said
