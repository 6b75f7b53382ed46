"""What is wrong with the weather behind a front note: age, gaps, silence, contradiction."""

import pandas as pd

from lakekit.fronts.weather import LOOK_BACK, OLD, STEPS, contradiction, gaps
from lakekit.guide.words import date_text, list_text
from lakekit.strata.traces import HOUR
from lakekit.weather import fill_method
from lakekit.weather.schema import ESTIMATED


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
        silent = int((fill_method(forecast, "precipitation") == ESTIMATED).sum())
        if silent > 1:  # the last hour's is reported after it
            rows.append(
                [
                    "Forecast",
                    f"rain is not given for {silent} of its {forecast.sizes['time']} hours",
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
