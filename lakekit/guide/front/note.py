"""The front note as data: what a front did to a lake, what comes, and what to do about it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lakekit.club import find_lake
from lakekit.column.parameters import draw_parameters
from lakekit.errors import ClubError
from lakekit.fronts.causes import front_causes, storm_causes
from lakekit.fronts.record import came_of, read_record, same_front
from lakekit.fronts.signals import boat_signs
from lakekit.fronts.state import State, read_state, spread_data, state_data
from lakekit.fronts.water import (
    carry_on,
    next_noon,
    pick_front,
    told_as_of,
    usual_wind,
    water_through,
)
from lakekit.fronts.weather import get_forecast
from lakekit.fronts.what_if import checked_storm, storm_front, what_if_storm, with_storm
from lakekit.fronts.wind import lean_of
from lakekit.guide.front import words
from lakekit.guide.front.ahead import ahead_rows
from lakekit.guide.front.days import (
    day_entries,
    day_rows,
    day_table,
    sign_data,
    sign_rows,
)
from lakekit.guide.front.message import message
from lakekit.guide.front.plan import (
    day_name,
    move_rows,
    plan_day,
    plan_text,
    start_of,
)
from lakekit.guide.front.watch import earlier_rows
from lakekit.guide.front.weather import weather_rows
from lakekit.guide.front.wind import wind_data, wind_rows
from lakekit.guide.head import report_head
from lakekit.guide.log.logbook import log_answers, own_depth
from lakekit.guide.sources import method_of
from lakekit.guide.words import NOT_KNOWN, date_text, local, span_text, weather_text
from lakekit.hazards import hazards_for_forecast, hazards_for_month, wave_text
from lakekit.shown import Report
from lakekit.strata.spells import fronts
from lakekit.strata.spread import cast_misses, own_scale, standing
from lakekit.strata.traces import HOUR, trace_years
from lakekit.tactics.advise import advise
from lakekit.tactics.book import read_book
from lakekit.waters.knowledge import gather, lake_forcing

__all__ = ["front_note", "what_if_storm"]

MEMBERS, SEED = 16, 7  # drawn where the lake has no fit
CARE_DAYS = 3  # days of a forecast whose hazards are told
FRONT_METHOD = (
    "The lake is computed from two years before to the last observed hour, one run for each set of "
    "uncertain parameters, moved by each reading of the club at its own hour. "
    "Ranges hold 8 of 10: the sets', and what such columns missed on waters left out. Days ahead "
    "are a "
    "forecast, where there is one, then past years' weather.",
    "Wind and cooling are told apart by computing the same days without each; what wind carries "
    "off as heat counts as wind's.",
)


def front_note(
    club, key, since=None, *, storm=None, knowledge=None, progress=None, now=None, forecast=None,
    reports=None,
):  # fmt: skip
    """The note after a front, or on a storm that has not come.

    Parameters
    ----------
    club : lakekit.club.Club
    key : str
        A lake's key or name.
    since : str, optional
        Local date: the first front that ends after it began is told. Default: the last front of
        the record. One that ended over 30 days before the record is told as of the noon after it.
    storm : dict, optional
        A what-if storm from :func:`what_if_storm`, or its words; laid over the weather after the
        last observed hour.
    knowledge : lakekit.waters.knowledge.LakeKnowledge, optional
        Gathered here when not given.
    progress : callable, optional
        Called with one line of text as the work goes on.
    now : Timestamp, optional
        The time it is [UTC], to tell how old the weather is; default: the clock, and for an
        invented club the end of the record.
    forecast : xarray.Dataset, optional
        Prepared; default: asked of the weather service for a lake with a station.
    reports : path, optional
        Folder of reports whose table tells what earlier notes said of the same front.

    Returns
    -------
    lakekit.guide.front.schema.FrontNote

    Raises
    ------
    LakekitError
        For a date or storm that cannot be read, no front to tell of, or weather that cannot serve.

    Examples
    --------
    >>> front_note(club, "quarry-hollow", knowledge=knowledge)["title"]
    'After the front of 14–16 July 2026'
    """
    say = progress or (lambda line: None)
    lake = club.lakes[find_lake(club, key)]
    storm = checked_storm(storm)
    first = _since(since, lake)
    forcing = knowledge.forcing if knowledge else lake_forcing(club, lake, progress=say)
    record_end = pd.Timestamp(forcing["time"].values[-1])
    if now is None and not club.invented:
        now = pd.Timestamp.now("UTC").tz_localize(None)
    if storm is not None:
        front, as_of = storm_front(storm, record_end), record_end
    else:
        usual = usual_wind(forcing, first)
        front = pick_front(fronts(forcing, typical_wind=usual), record_end, since=first)
        _refuse_none(front, since, record_end, lake)
        as_of = told_as_of(front, record_end, lake.longitude)
    if as_of < record_end:  # a note on the past knows nothing of what came after
        knowledge = gather(club, key, as_of=as_of, progress=say)
        forcing = knowledge.forcing
        front = pick_front(fronts(forcing, typical_wind=usual), as_of, since=first) or front
    knowledge = knowledge or gather(club, key, progress=say)
    no_forecast = None
    if forecast is None and as_of == record_end:
        if lake.weather.station is not None:
            say(f"{lake.name}: asking for a forecast")
        forecast, no_forecast = get_forecast(lake, now=now)
    elif as_of != record_end:
        forecast = None
    parameters = knowledge.parameters
    if parameters is None:
        parameters = draw_parameters(lake, MEMBERS, SEED)
    say(f"{lake.name}: {span_text(front, lake)}, {parameters.sizes['member']} members")
    readings = knowledge.probe
    water = water_through(
        lake, forcing, front, as_of, parameters, readings=readings,
        oxygen_zone=knowledge.species.oxygen_zone, say=say,
    )  # fmt: skip
    change = None if storm is None else (lambda weather: with_storm(weather, front, storm))
    say(f"{lake.name}: the days ahead")
    ahead = carry_on(lake, forcing, water, parameters, forecast=forecast, change=change)
    found = _causes(lake, forcing, water, ahead, water.parameters, storm, forecast)
    return _note(
        club, knowledge, water, ahead, found, storm=storm, forecast=forecast, reports=reports,
        rows=weather_rows(
            forcing, front, as_of, record_end=record_end, now=now, forecast=forecast,
            no_forecast=no_forecast,
        ),
    )  # fmt: skip


def _since(since, lake):
    if since in (None, ""):
        return None
    try:
        day = pd.Timestamp(since)
        if day.tz is not None or pd.isna(day):
            raise ValueError
        return (
            day.tz_localize(lake.time_zone, nonexistent="shift_forward", ambiguous=True)
            .tz_convert("UTC")
            .tz_localize(None)
        )
    except (ValueError, TypeError):
        raise ClubError(
            f"{since!r} is not a date", where="--since", mend="Write it as YYYY-MM-DD."
        ) from None


def _refuse_none(front, since, record_end, lake):
    if front is not None:
        return
    end = f"{date_text(record_end)} {record_end.year}"
    if since:
        raise ClubError(
            f"no front between {since} and {end}, where the weather ends",
            where=lake.name,
            mend="Give an earlier --since, or ask about a storm: --wind .. --hours ..",
        )
    raise ClubError(f"no front in the weather record up to {end}", where=lake.name)


def _how(columns, water, knowledge):
    """Which of the column's own errors a state carries: by days since the last reading."""
    days = None
    if water.cast is not None:
        days = (pd.Timestamp(columns["time"].values) - water.cast) / pd.Timedelta("1D")
    return standing(days, knowledge.parameters is not None)


def _causes(lake, forcing, water, ahead, parameters, storm, forecast):
    before = water.now if storm is not None else water.before
    if float(np.isfinite(before["lasting_thermocline_depth"].to_numpy()).mean()) < 0.5:
        return None
    if storm is None:
        if water.after is None:
            return None
        return front_causes(lake, forcing, water, parameters)
    years = ahead.years
    index = trace_years(forcing, water.as_of, 35)[years[len(years) // 2]]
    until = next_noon(water.front["end"], lake.longitude)
    return storm_causes(
        lake, forcing, water, parameters, index=index, forecast=forecast, storm=storm, until=until
    )


def _phase(knowledge, time):
    phases = knowledge.phases
    at = phases.index.get_indexer([pd.Timestamp(time).normalize()], method="nearest")[0]
    return str(phases.iloc[at])


@dataclass(frozen=True)
class _Told:
    """The states that a note tells of, and the tactics of those that it plans for."""

    before: State
    after: State
    days: tuple  # of State: tonight, then three noons
    cards_before: list
    cards_of_days: list
    plan: State  # that the headline, the plan and the last step of every row are told from
    number: int | None  # of the plan's state among ``days``
    cards: list  # of the plan's state
    tonight: State | None  # where it is fished too: the front is over by then


def _told(club, knowledge, water, ahead):
    phase, month = _phase(knowledge, water.as_of), pd.Timestamp(water.as_of).month
    scale = own_scale(cast_misses(knowledge.moved))

    def state(columns, phase=phase):
        return read_state(
            columns, knowledge.lake, knowledge.species, phase, parameters=knowledge.parameters,
            how=_how(columns, water, knowledge), own_scale=scale,
            log_depth=own_depth(knowledge, month, phase),
        )  # fmt: skip

    phase_before = _phase(knowledge, water.before["time"].values)
    before = state(water.before, phase_before)
    after = state(ahead.after if water.after is None else water.after)
    days = tuple(state(columns) for columns in ahead.days.values())
    plan, number = plan_day(days, water.front["end"], after)
    cards = [_cards(club, knowledge, day, phase, night=at == 0) for at, day in enumerate(days)]
    return _Told(
        before, after, days, _cards(club, knowledge, before, phase_before), cards, plan, number,
        _cards(club, knowledge, plan, phase) if number is None else cards[number],
        days[0] if days[0].time >= water.front["end"] else None,
    )  # fmt: skip


def _note(club, knowledge, water, ahead, found, *, storm, forecast, rows, reports):
    lake, units, front = knowledge.lake, club.units, water.front
    told = _told(club, knowledge, water, ahead)
    states = [told.before, told.after]
    if told.plan.time > told.after.time:
        states.append(told.plan)
    recovery, years = ahead.recovery, len(ahead.years)
    word = words.verdict(told.before, told.after, recovery)
    told_before = _same_front(lake, water, word, storm, reports)
    back = told_before["came_days"] and (told_before["took"], told_before["came_days"])
    cause = words.cause_text(found, units, rain=front["rain"])
    as_of = local(water.as_of + HOUR, lake)
    labels = _labels(told, lake, storm, water)
    note = {
        **report_head(club, knowledge, kind="front"),
        "title": _title(front, lake, storm, units),
        "what_if": None if storm is None else dict(storm),
        "as_of": str(np.datetime64(water.as_of, "h")),
        "as_of_text": f"{date_text(as_of)} {as_of.year} {as_of:%H:%M}",
        "date": f"{as_of:%Y-%m-%d}",
        "weather": {"text": _weather_text(knowledge, forecast)},
        "headline": words.headline(
            word, states, recovery, years, units, what_if=storm is not None, back=back,
            tonight=told.tonight, number=told.number,
        ),
        "verdict": word,
        "storm": {
            "text": " ".join(
                filter(None, [words.front_text(front, lake, units, storm=storm), cause])
            ),
            "start": str(front["start"]),
            "end": str(front["end"]),
            **{
                name: _finite(front[name])
                for name in ("wind_work", "temperature_fall", "pressure_fall", "rain", "peak_wind")
            },
            "found_by": front["kind"],
            "causes": found,
        },
        "before": state_data(told.before, labels[0], words.state_texts(told.before, units)),
        "after": state_data(told.plan, labels[1], words.state_texts(told.plan, units)),
        "changes": words.change_rows(states, lake, recovery, units),
        **_ahead(club, knowledge, water, ahead, told, word, storm, forecast, back),
        **told_before,
        "oxygen_text": words.oxygen_verdict(told.before, told.plan, units, after=told.after),
        "hazards": _hazards(lake, told.plan, water, ahead, storm, forecast, told.cards, units),
        "plan_title": f"The plan {_plan_day(told, storm)}",
        "plan_text": plan_text(
            told.cards_before, told.cards, told.before, told.tonight, told.plan, told.number, units
        ),
        "tactics": told.cards,
        "weather_rows": rows,
        "not_known": [
            *rows,
            *words.cast_rows(water.cast, lake),
            *words.rain_rows(front, lake, units),
            *[list(row) for row in NOT_KNOWN[:1]],
        ],
        "method": [*FRONT_METHOD, *method_of(knowledge.species, units)],
    }
    note["message"] = message(note)
    return Report(note)


def _plan_day(told, storm):
    day = day_name(told.number)
    return f"if it comes, {day}" if storm is not None else f"for {day.removeprefix('on ')}"


def _ahead(club, knowledge, water, ahead, told, word, storm, forecast, back):
    """What a note tells of the days to come, and of where the wind put the water."""
    lake, units, recovery, years = knowledge.lake, club.units, ahead.recovery, len(ahead.years)
    kind = word if word in ("broken", "deeper") else None
    unit = 5 / 9 if units == "us" else 0.5
    signs = {} if kind is None else boat_signs(water.before, ahead.noons, kind=kind, unit=unit)
    end = None if forecast is None else pd.Timestamp(forecast["time"].values[-1])
    days = day_entries(told.days, told.cards_of_days, lake, units, forecast_end=end)
    moves = move_rows(told.after, told.days, lake, units)
    lean = None
    if storm is None:
        known = [state for state in (water.before, water.after) if state is not None]
        lean = lean_of(lake, knowledge.forcing, water.blow, known)
    return {
        "broke_chance": _finite(recovery.attrs["broke_chance"]),
        "ahead": ahead_rows(
            recovery,
            years,
            ahead.trade_days,
            autumn_trend=ahead.surface_trend,
            skin_before=float(water.before["surface_skin"].median()),
            signs=[] if back else sign_rows(signs, kind, units),
            back=back,
            layered=word != "unlayered",
        ),
        "recovery": _recovery_data(recovery),
        "days": days,
        "day_rows": day_rows(days, moves, years=years),
        "day_table": day_table(days, told.days, units),
        "signs": sign_data(signs),
        "wind": wind_data(lean),
        "wind_rows": wind_rows(
            lean, lake, units, dropped=water.front["end"], now=water.as_of + HOUR
        ),
        "trade_days": [_finite(value) for value in np.median(ahead.trade_days, axis=0)],
        "past_years": list(ahead.years),
        "forecast_hours": ahead.forecast_hours,
    }


def _same_front(lake, water, word, storm, reports):
    """What earlier notes said of this front, and what has come of it by now."""
    kind = word if word in ("broken", "deeper") and storm is None else None
    table = same_front(read_record(reports), lake.key, water.front["start"])
    table = table[table["said_as_of"] < water.as_of] if storm is None else table.iloc[:0]
    told = kind or (table["what"].iloc[0] if len(table) else None)
    came = None if told is None else came_of(water.front, water.noons, told)
    return {
        "took": kind,
        "came_days": came if kind and came is not None and 0.0 < came < np.inf else None,
        "earlier": earlier_rows(table, came),
    }


def _title(front, lake, storm, units):
    if storm is not None:
        return f"What if: {words.storm_short(storm, units)}"
    return f"After the front of {span_text(front, lake)}"


def _labels(told, lake, storm, water):
    def day(state):
        stamp = local(state.time, lake)
        noon = state.time == next_noon(state.time, lake.longitude)
        return f"{stamp:%a} {date_text(stamp)}{'' if noon else f' {stamp:%H:%M}'}"

    if storm is not None:
        return f"Now: {day(told.before)}", f"After it: {day(told.plan)}"
    first = f"Before: {day(told.before)}"
    if told.number == 1:
        return first, f"Tomorrow: {day(told.plan)}"
    return first, f"{'Expected' if water.after is None else 'After'}: {day(told.plan)}"


def _cards(club, knowledge, state, phase, *, night=False):
    start = start_of(state, night=night)
    met = {
        "surface_temperature": float(state.surface[1]),
        "thermocline_depth": float(state.thermocline[1]),
        "start_depth": np.nan if start is None else start,
    }
    return advise(
        read_book(),
        club,
        knowledge.lake,
        phases=(phase,),
        band=state.band,
        start=start,
        night=start_of(state, night=True),
        bottom=state.bottom,
        ice_chance=state.ice_chance,
        surface_temperature=float(state.surface[2]),
        answers=log_answers(knowledge, phase, met),
        cards=knowledge.cards,
        sinking=knowledge.sinking,
    )


def _hazards(lake, state, water, ahead, storm, forecast, cards, units):
    night = any(card["key"] == "night_light" for card in cards)
    told = []
    if storm is not None and storm["wind"] is not None:
        hours = storm["hours"]
        told.append(f"In such a storm: {wave_text(storm['wind'], lake, units, hours=hours)}.")
    if forecast is not None:
        today = local(water.as_of + HOUR, lake).normalize()
        days = [today + pd.Timedelta(days=number) for number in range(CARE_DAYS)]
        coming = forecast.sel(time=slice(water.as_of + HOUR, None))
        told += hazards_for_forecast(
            lake, coming, water_temperature=float(state.surface[1]), days=days, night=night,
            units=units,
        )  # fmt: skip
    if forecast is None or not told:
        told += hazards_for_month(
            lake, state.time.month, surface_temperature=state.surface,
            ice_chance=state.ice_chance, night=night, units=units,
        )  # fmt: skip
    if water.front["rain"] >= 25.0:
        told.insert(
            0,
            "After the rain: floating debris, high muddy water, dams that release without warning.",
        )
    return told


def _weather_text(knowledge, forecast):
    if forecast is None:
        return weather_text(knowledge.forcing)
    named = [str(forecast.attrs.get(name) or "") for name in ("attribution", "licence")]
    source = ", ".join(filter(None, named)) or "given"
    return f"{weather_text(knowledge.forcing)}; forecast: {source}"


def _recovery_data(recovery):
    return {
        str(part): {
            "before_chance": _finite(row["before"]),
            "lost_chance": _finite(row["lost_chance"]),
            "back_chance": _finite(row["back_chance"]),
            "days": spread_data(row["days"].values),
        }
        for part, row in ((part, recovery.sel(part=part)) for part in recovery["part"].values)
    }


def _finite(value):
    value = float(value)
    return value if np.isfinite(value) else None
