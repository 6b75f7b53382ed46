"""A forecast's holes stay open: nothing is told that it did not give."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from weather_helpers import invented_lake, invented_weather

from lakekit.errors import WeatherError
from lakekit.fronts.weather import get_forecast
from lakekit.guide.front.weather import weather_rows
from lakekit.hazards import hazards_for_forecast
from lakekit.records import WeatherSource
from lakekit.strata.traces import trace_weather
from lakekit.weather import prepare_forcing
from lakekit.weather.stations.forecast import fetch_forecast

NOW = pd.Timestamp("2023-06-30")
LAKE = dataclasses.replace(invented_lake(), weather=WeatherSource(station="X1"))


def served(**changes):
    """What the service sends for four days: warm and still, 3 mm/h in the first five hours."""
    hours = 96
    rain = np.full(hours, np.nan)
    rain[1:6] = 3.0  # reported after its hour
    table = {
        "temp": np.full(hours, 20.0), "rhum": np.full(hours, 70.0), "wspd": np.full(hours, 7.2),
        "prcp": rain,
    }  # fmt: skip
    for name, value in changes.items():
        table[name] = value
    time = pd.date_range(NOW, periods=hours, freq="h")
    return pd.DataFrame(table, index=time), "a service", "a licence"


def pulled(**changes):
    service = SimpleNamespace(forecast=lambda *ask: served(**changes))
    years = SimpleNamespace(now=NOW, service=service)
    return get_forecast(LAKE, fetch=lambda lake, now=None: fetch_forecast(lake, years=years))


def test_rain_that_is_not_given_is_not_told():
    forecast, why = pulled()
    assert why is None
    assert float(forecast["precipitation"].sum()) == 15.0
    told = [text for text in hazards_for_forecast(LAKE, forecast) if "ain " in text]
    # the five hours are the evening of the 29th at the lake; three days follow without a word
    assert len(told) == 1
    assert told[0].startswith("Thursday 29 June")
    ends = pd.Timestamp(NOW) - pd.Timedelta("1h")
    rows = weather_rows(
        prepare_forcing(invented_weather(), LAKE), None, ends, record_end=ends, forecast=forecast
    )
    assert "rain is not given for 91 of its 96 hours" in " ".join(text for _, text in rows)


def test_where_a_forecast_gives_no_rain_the_past_years_stands():
    forecast, _ = pulled()
    forcing = prepare_forcing(invented_weather(24 * 61), LAKE)  # to the end of June
    index = np.arange(240)
    ahead = trace_weather(forcing, NOW - pd.Timedelta("1h"), index, forecast=forecast)
    assert ahead["precipitation"].values[:5] == pytest.approx(3.0)
    assert ahead["precipitation"].values[5:] == pytest.approx(
        forcing["precipitation"].values[5:240]
    )
    assert ahead["air_temperature"].values[:96] == pytest.approx(20.0)


def test_a_forecast_ends_where_its_wind_does():
    wind = np.full(96, 36.0)
    wind[60:] = np.nan
    forecast, _ = pulled(wspd=wind)
    assert forecast.sizes["time"] == 60
    assert forecast["wind_speed"].values == pytest.approx(10.0)


def test_wind_between_two_given_hours_is_joined_and_none_at_all_is_no_forecast():
    wind = np.full(96, np.nan)
    wind[[0, 30]] = 36.0, 72.0
    forecast, _ = pulled(wspd=wind)
    assert forecast["wind_speed"].values[15] == pytest.approx(15.0)
    with pytest.raises(WeatherError, match="no temperature or wind"):
        fetch_forecast(LAKE, years=SimpleNamespace(
            now=NOW, service=SimpleNamespace(forecast=lambda *a: served(wspd=np.full(96, np.nan)))
        ))  # fmt: skip
