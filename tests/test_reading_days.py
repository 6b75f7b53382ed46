"""The day on which a reading is worth most."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.guide.season import best_reading_day
from lakekit.strata.reading_days import EVERY, reading_worth
from lakekit.strata.spread import LATE, SOON

DAYS = 120


def columns(spread, *, traces=3, members=12, depths=4, seed=0):
    """Members that lie a fixed way off, by as much as ``spread`` (day,) says, at every depth."""
    random = np.random.default_rng(seed)
    off = random.standard_normal((1, members, 1, 1))
    weather = 3.0 * random.standard_normal((traces, 1, DAYS, 1))
    off = (off - off.mean()) / off.std()
    return 15.0 + weather + off * np.asarray(spread)[:, None] * np.ones(depths)


def test_what_members_keep_to_is_taken_whole_and_the_weather_not_at_all():
    worth = reading_worth(columns(np.full(DAYS, 2.0)))
    weighed = np.isfinite(worth)
    # 36 days of a variance of 4
    np.testing.assert_allclose(worth[weighed], 4.0 * (SOON + 1), rtol=1e-9)
    assert weighed.nonzero()[0].tolist() == list(range(0, DAYS - SOON, EVERY))
    alike = reading_worth(columns(np.zeros(DAYS)))
    np.testing.assert_allclose(alike[weighed], 0.0, atol=1e-9)


def test_a_reading_is_worth_most_as_the_spread_begins():
    spread = np.zeros(DAYS)
    # before, the members agree: a cast then cannot tell them apart
    spread[60:] = np.linspace(1.0, 0.5, DAYS - 60)
    worth = reading_worth(columns(spread))
    assert 60 <= np.nanargmax(worth) < 60 + EVERY
    assert worth[30] == pytest.approx(0.0, abs=1e-9)


def test_what_later_days_have_not_in_common_is_not_taken():
    random = np.random.default_rng(1)
    noise = random.standard_normal((3, 40, DAYS, 4))
    # of a variance of 1 a day: its own day whole, of later ones a fortieth by chance
    assert np.nanmax(reading_worth(noise)) < 1.0 + 3.0 * SOON / 40


def test_water_below_the_bottom_is_left_out():
    whole = columns(np.full(DAYS, 1.0))
    cut = whole.copy()
    cut[..., 3] = np.nan
    np.testing.assert_allclose(reading_worth(cut), reading_worth(whole[..., :3]), equal_nan=True)


def told(worth, *, readings=3, ice=0.0):
    day = pd.date_range("2026-05-01", periods=DAYS)
    odds = xr.Dataset(
        {"reading_worth": ("day", worth), "ice_daily": ("day", np.full(DAYS, ice))},
        coords={"day": day},
    )
    known = SimpleNamespace(readings=readings, as_of=np.datetime64("2026-05-03T23:00"))
    return best_reading_day(odds, known)


def test_the_guide_names_the_day_to_a_club_with_a_probe_alone():
    worth = np.full(DAYS, np.nan)
    worth[0], worth[30], worth[LATE + 30] = 9.0, 5.0, 9.0  # past, ahead, too far ahead
    ((label, text),) = told(worth)
    assert "probe reading" in label and text.startswith("about 31 May")
    assert told(worth, readings=0) == []
    assert told(worth, ice=1.0) == []
    assert told(np.full(DAYS, np.nan)) == []
