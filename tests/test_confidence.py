"""How sure a guide says it is, and why."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.club import read_club
from lakekit.guide.confidence import confidence
from lakekit.records import Flow
from lakekit.weather import coverage
from lakekit.weather.schema import FORCING, flag_attrs


def known(readings):
    time = pd.date_range("2010-01-01", "2022-01-01", freq="D")
    forcing = xr.Dataset(
        {name: ("time", np.ones(time.size)) for name in FORCING}, coords={"time": time}
    )
    forcing["fill_flag"] = ("time", np.zeros(time.size, dtype=np.int32), flag_attrs())
    # twelve years of hours, told by one hour a day
    hourly = forcing.reindex(time=pd.date_range(time[0], time[-1], freq="h"), method="nearest")
    return SimpleNamespace(
        readings=readings, log_readings=0, probe=None, moved=None, units="us", as_of=time[-1],
        forcing=hourly, coverage=coverage(hourly),
    )  # fmt: skip


ODDS = xr.Dataset({"years": ("month", [12, 12])})


def test_a_still_surveyed_lake_with_readings_is_good():
    lake = replace(read_club().lakes["quarry-hollow"], flow=Flow(inflow=np.zeros(12)))
    told = confidence(lake, known(8), ODDS)
    assert told["level"] == "good"
    assert "Odds from 12 years of weather." in told["reasons"]


def test_unknown_through_flow_is_said_and_lowers_it():
    lake = read_club().lakes["teal-marsh"]
    told = confidence(lake, known(0), ODDS)
    assert told["level"] != "good"
    assert any(reason.startswith("No inflow or release is given") for reason in told["reasons"])
    assert any(reason.startswith("No probe readings") for reason in told["reasons"])


def test_a_fast_turnover_is_said_in_days():
    lake = read_club().lakes["quarry-hollow"]
    volume = np.trapezoid(lake.areas, lake.depths)
    fast = replace(lake, flow=Flow(inflow=np.full(12, volume / (20 * 86400.0))))
    told = confidence(fast, known(8), ODDS)
    assert any("in about 20 days" in reason for reason in told["reasons"])
