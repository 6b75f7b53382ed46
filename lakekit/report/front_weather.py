"""What is wrong with the weather behind a front note: age, gaps, silence, contradiction."""

import numpy as np
import pandas as pd

from lakekit.errors import WeatherError
from lakekit.report.wording import date_text, list_text
from lakekit.strata.traces import HOUR
from lakekit.weather import fill_method, prepare_forcing
from lakekit.weather.schema import MEASURED, NEIGHBOUR_STATION

OLD = pd.Timedelta(hours=6)  # weather that ends longer ago than this is called old
LOOK_BACK = pd.Timedelta(days=7)  # gaps are told of when they lie this near to the record's end
SEAM = 3  # hours on either side of the last observation that are compared
# Steps between observation and forecast past which one of them is wrong; common practice, no
# source.
STEPS = {
    "air_temperature": (6.0, "degC", "air temperature"),
    "wind_speed": (6.0, "m/s", "wind"),
    "air_pressure": (8.0, "hPa", "air pressure"),
}


def get_forecast(lake, *, now=None, fetch=None):
    """A prepared forecast for a lake, and why there is none.

    Parameters
    ----------
    lake : Lake
    now : Timestamp, optional
        [UTC]
    fetch : callable, optional
        ``lakekit.weather.forecast.fetch_forecast`` by default.

    Returns
    -------
    (xarray.Dataset or None, str or None)
    """
    if lake.weather.file is not None:
        return None, "none with a weather file; the days ahead are past years' weather"
    try:
        if fetch is None:
            from lakekit.weather.forecast import fetch_forecast as fetch
        return prepare_forcing(fetch(lake, now=now), lake), None
    except WeatherError as error:
        return None, f"none; the days ahead are past years' weather ({error.what})"


def contradiction(forcing, forecast, as_of):
    """Where a forecast does not join on to the last observations.

    Parameters
    ----------
    forcing, forecast : xarray.Dataset
        Prepared.
    as_of : datetime64
        Label of the last hour of history.

    Returns
    -------
    list of (str, float, float)
        Variable, mean of the last observed hours, mean of the forecast where it should be alike:
        in the same hours where both have them, else in the first hours after. Empty where they
        agree, or where the forecast begins more than six hours later.
    """
    as_of = pd.Timestamp(as_of)
    ahead = forecast["time"].to_index()
    shared = ahead[ahead <= as_of]
    if len(shared):
        begun = shared[-SEAM:]
        seen = forcing.sel(time=begun)
        said = forecast.sel(time=begun)
    elif len(ahead) and ahead[0] - as_of <= OLD:
        last = forcing["time"].to_index()
        seen = forcing.sel(time=last[last <= as_of][-SEAM:])
        said = forecast.isel(time=slice(0, SEAM))
    else:
        return []
    found = []
    for name, (step, _, _) in STEPS.items():
        ours, theirs = float(seen[name].mean()), float(said[name].mean())
        if abs(ours - theirs) > step:
            found.append((name, ours, theirs))
    return found


def gaps(forcing, start, end):
    """Hours of wind and of air temperature that were not measured between two times.

    Returns
    -------
    dict
        Variable -> (hours filled, hours from a neighbouring station, hours looked at).
    """
    times = forcing["time"].to_index()
    here = np.asarray((times >= start) & (times < end))
    out = {}
    for name in ("wind_speed", "air_temperature"):
        method = fill_method(forcing, name)[here]
        other = method == NEIGHBOUR_STATION
        out[name] = (int(((method != MEASURED) & ~other).sum()), int(other.sum()), int(here.sum()))
    return out


def weather_rows(forcing, front, as_of, *, record_end, now=None, forecast=None, no_forecast=None):
    """What must be said of the weather behind a note.

    Parameters
    ----------
    forcing : xarray.Dataset
        Prepared.
    front : dict or None
    as_of : datetime64
        Label of the last hour used as history.
    record_end : datetime64
        Label of the record's last hour.
    now : Timestamp, optional
        [UTC] None: the record is not told by the clock.
    forecast : xarray.Dataset, optional
        Prepared.
    no_forecast : str, optional
        Why there is none.

    Returns
    -------
    list of [label, text]
        What spoils the note most comes first.
    """
    rows = []
    as_of, record_end = pd.Timestamp(as_of), pd.Timestamp(record_end)
    attrs = forcing.attrs
    if now is not None and record_end == as_of:
        age = pd.Timestamp(now) - (record_end + HOUR)
        if age > OLD:
            rows.append(["Old weather", _age_text(age, record_end, attrs)])
    if front is not None and front["kind"] != "what-if":
        rows += _gap_rows(gaps(forcing, front["start"] - OLD, front["end"] + OLD), "storm's")
    seen = front is not None and front["start"] - OLD <= record_end - LOOK_BACK
    if not rows or seen:
        rows += _gap_rows(gaps(forcing, as_of - LOOK_BACK, as_of + HOUR), "last week's")
    if attrs.get("notes"):
        rows.append(["Weather service", str(attrs["notes"])])
    if forecast is not None:
        for name, ours, theirs in contradiction(forcing, forecast, as_of):
            _, unit, words = STEPS[name]
            rows.append(
                [
                    "Forecast",
                    f"it contradicts the observations: {words} {ours:.0f} {unit} observed, "
                    f"{theirs:.0f} {unit} forecast for about the same hours; trust neither blindly",
                ]
            )
        start = forecast["time"].to_index()[0]
        if start - as_of > OLD:
            rows.append(
                [
                    "Forecast",
                    f"it begins {(start - as_of) / HOUR - 1:.0f} hours after the last observation; "
                    "past years' weather stands between",
                ]
            )
    elif no_forecast:
        rows.append(["Forecast", no_forecast])
    if record_end - as_of > pd.Timedelta(days=1):
        rows.append(
            [
                "Later weather",
                f"to {date_text(record_end)} {record_end.year}, not used here; the note is as of "
                "the noon after the front",
            ]
        )
    return rows


def _age_text(age, record_end, attrs):
    days = age / pd.Timedelta(days=1)
    old = f"{days:.0f} days" if days >= 2 else f"{age / HOUR:.0f} hours"
    text = f"it ends {old} ago, on {date_text(record_end)} {record_end:%H:%M} UTC"
    if attrs.get("station"):
        text = f"station {attrs.get('station_name') or attrs['station']} fell silent: {text}"
    return f"{text}; what came since is not in this note, and past years stand in for it"


def _gap_rows(found, whose):
    words = {"wind_speed": "wind", "air_temperature": "air temperature"}
    filled, other = [], []
    for name, (count, elsewhere, hours) in found.items():
        if count:
            filled.append(f"{words[name]} in {count} of {hours} hours")
        if elsewhere:
            other.append(f"{words[name]} in {elsewhere} of {hours} hours")
    said = []
    if filled:
        said.append(f"filled, not measured: {list_text(filled)}; a storm may be told too small")
    if other:
        said.append(f"from a neighbouring station: {list_text(other)}")
    return [[f"Gap in the {whose} weather", "; ".join(said)]] if said else []
