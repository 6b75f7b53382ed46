"""Hazards: published wave relations, and cautions that never turn into a verdict."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.hazards import (
    DEFER,
    cem_waves,
    grave,
    hazards_for_forecast,
    hazards_for_month,
    spm_waves,
    wave_text,
    waves,
)
from lakekit.records import Flow, Lake, WeatherSource
from lakekit.units import FOOT

# Shore Protection Manual 1984 and Coastal Engineering Manual 2003, worked out from the relations:
# wind m/s, fetch m, depth m -> SPM deep height m, period s; SPM shallow; CEM height, period
WAVES = [
    (5, 1000, 3, 0.083, 1.076, 0.082, 1.025, 0.0745, 0.8001),
    (5, 2000, 3, 0.117, 1.356, 0.114, 1.257, 0.1053, 1.0081),
    (8, 2000, 3, 0.209, 1.644, 0.200, 1.538, 0.1753, 1.1947),
    (10, 5000, 3, 0.436, 2.445, 0.382, 2.177, 0.3551, 1.7611),
    (10, 5000, 10, 0.436, 2.445, 0.425, 2.306, 0.3551, 1.7611),
    (15, 5000, 5, 0.717, 2.887, 0.648, 2.653, 0.5639, 2.0546),
    (15, 10000, 10, 1.014, 3.638, 0.942, 3.342, 0.7975, 2.5886),
]


@pytest.fixture
def lake():
    return Lake(
        key="pond",
        name="Pond",
        latitude=40.0,
        longitude=-90.0,
        time_zone="America/Chicago",
        area=1e6,
        max_depth=10.0,
        elevation=200.0,
        mean_depth=4.0,
        longest_fetch=1800.0,
        depths=np.array([0.0, 10.0]),
        areas=np.array([1e6, 0.0]),
        depth_area_source="cone",
        secchi=np.full(12, 1.0),
        secchi_source="measured",
        below_full_pond=np.zeros(12),
        fertility="eutrophic",
        surroundings="open",
        weather=WeatherSource(),
    )


def _forecast(hours=24, start="2026-07-04T05:00", **values):
    time = pd.date_range(start, periods=hours, freq="h")
    return xr.Dataset(
        {
            name: ("time", np.broadcast_to(np.asarray(x, dtype=float), hours).copy())
            for name, x in values.items()
        },
        coords={"time": time},
    )


@pytest.mark.parametrize("row", WAVES)
def test_wave_relations(row):
    wind, fetch, depth, height, period, shallow, shallow_period, cem, cem_period = row
    assert spm_waves(wind, fetch) == pytest.approx((height, period), abs=6e-4)
    assert spm_waves(wind, fetch, depth=depth) == pytest.approx((shallow, shallow_period), abs=6e-4)
    # the sheet took g = 9.81
    assert cem_waves(wind, fetch) == pytest.approx((cem, cem_period), rel=3e-4, abs=6e-5)


def test_shore_protection_manual_example():
    # Recalled example (from memory): UA 22.4 m/s, F 24.4 km, d 10.7 m -> H 1.5 m, T 4.4 s
    wind = (22.4 / 0.71) ** (1 / 1.23)
    height, period = spm_waves(wind, 24400.0, depth=10.7)
    assert height == pytest.approx(1.5, abs=0.05) and period == pytest.approx(4.4, abs=0.05)


def test_duration_limits_the_waves():
    # time to the fetch limit, same relations: 5 m/s over 1 km in 0.517 h
    full = spm_waves(5.0, 1000.0)[0]
    assert spm_waves(5.0, 1000.0, hours=0.53)[0] == pytest.approx(full, rel=1e-12)
    assert spm_waves(5.0, 1000.0, hours=0.4)[0] < 0.9 * full


def test_full_growth_limits_the_waves():
    assert spm_waves(3.0, 1e8)[0] == pytest.approx(
        0.2433 * (0.71 * 3.0**1.23) ** 2 / 9.80665, rel=1e-9
    )
    assert cem_waves(3.0, 1e9)[0] == pytest.approx(cem_waves(3.0, 1e10)[0], rel=1e-12)


def test_scalar_equals_array():
    heights = spm_waves(np.array([5.0, 10.0]), np.array([1000.0, 5000.0]), depth=3.0)[0]
    assert heights[1] == pytest.approx(float(spm_waves(10.0, 5000.0, depth=3.0)[0]), rel=1e-14)
    assert spm_waves(0.0, 1000.0)[0] == pytest.approx(0.0, abs=1e-6)


def test_range_spans_both_variants_and_single_waves():
    sea = waves(10.0, 5000.0)
    assert (sea.low, sea.high) == pytest.approx((0.355, 0.436), abs=1e-3)
    assert sea.single == pytest.approx(1.8 * 0.436, abs=1e-2)


def test_wave_text_in_both_units(lake):
    sea = waves(8.0, lake.longest_fetch, depth=lake.mean_depth)
    text = wave_text(8.0, lake, "us")
    assert f"{sea.low / FOOT:.1f} to {sea.high / FOOT:.1f} ft" in text and "highest third" in text
    assert f"about {sea.single:.1f} m" in wave_text(8.0, lake, "metric")


@pytest.mark.parametrize("bad", [(-1.0, 1000.0), (5.0, 0.0), (np.nan, 1000.0)])
def test_bad_waves(bad):
    with pytest.raises(ValueError, match="wind speed must be 0 or more"):
        spm_waves(*bad)


def _all_sentences(lake):
    lakes = [
        lake,
        replace(
            lake,
            flow=Flow(release=np.ones(12)),
            below_full_pond=np.full(12, 0.6),
            fertility="oligotrophic",
        ),
    ]
    sentences = []
    for water in lakes:
        for month in range(1, 13):
            for celsius in (1.0, 8.0, 14.0, 20.0, 29.0):
                sentences += hazards_for_month(
                    water,
                    month,
                    surface_temperature=(celsius - 1, celsius, celsius + 1),
                    air_temperature=celsius + 6,
                    wind=9.0,
                    ice_chance=0.3 * (celsius < 5),
                    night=True,
                    units="metric" if month % 2 else "us",
                )
        for air in (-5.0, 10.0, 34.0):
            for wind in (1.0, 12.0):
                for rain in (0.0, 3.0):
                    for water_temperature in (None, 0.5, 12.0, 26.0):
                        sentences += hazards_for_forecast(
                            water,
                            _forecast(
                                air_temperature=air,
                                wind_speed=wind,
                                wind_gust=2 * wind,
                                precipitation=rain,
                                weather_code=26 if rain else 1,
                            ),
                            water_temperature=water_temperature,
                            night=True,
                        )
    return sentences


def test_never_a_green_light(lake):
    sentences = _all_sentences(lake)
    assert len(set(sentences)) > 30
    assuring = re.compile(
        r"\b(safe|safely|no danger|no risk|no hazard|no caution|fine to|"
        r"good to go|all clear|harmless|nothing to worry|calm enough|"
        r"thick enough|okay|go ahead)\b",
        re.IGNORECASE,
    )
    assert [text for text in sentences if assuring.search(text)] == []


def test_never_an_ice_thickness(lake):
    ice = [text for text in _all_sentences(lake) if "Ice possible" in text]
    assert ice
    for text in ice:
        assert "measure" in text and "rawn-down or flowing reservoirs are worse" in text
        tail = text.split("Ice possible", 1)[1]
        assert not re.search(r"\d", tail), text


def test_every_list_defers(lake):
    month = hazards_for_month(lake, 7, surface_temperature=(25, 27, 29))
    assert month[-1] == DEFER
    for word in ("official forecast", "local rules", "skipper"):
        assert word in DEFER
    assert hazards_for_forecast(lake, _forecast(wind_speed=9.0))[-1] == DEFER


def test_month_names_no_day(lake):
    text = " ".join(hazards_for_month(lake, 6, surface_temperature=(20, 22, 25)))
    assert not re.search(r"Monday|Tuesday|Wednesday|Thursday|Friday|Saturday|Sunday", text)
    with pytest.raises(ValueError, match="month"):
        hazards_for_month(lake, 13)


def test_month_with_nothing_known_still_cautions(lake):
    cautions = hazards_for_month(lake, 6)
    assert any("Lightning" in text for text in cautions) and len(cautions) >= 4


@pytest.mark.parametrize(
    ("celsius", "words"), [(5.0, "takes the breath"), (13.0, "cold shock"), (19.0, "life jacket")]
)
def test_cold_water(lake, celsius, words):
    cautions = hazards_for_month(lake, 4, surface_temperature=(celsius, celsius, celsius))
    assert any(words in text and "life jacket" in text for text in cautions)
    warm = hazards_for_month(lake, 7, surface_temperature=(26, 27, 28))
    assert not any("life jacket" in text for text in warm)


@pytest.mark.parametrize("fahrenheit", [50, 60, 70])
def test_cold_water_is_told_alike_below_a_limit_and_milder_above_it(lake, fahrenheit):
    def told(degrees):
        celsius = (degrees - 32) / 1.8
        cautions = hazards_for_month(lake, 4, surface_temperature=(celsius, 25.0, 30.0))
        return [text for text in cautions if grave(text)]

    under = told(fahrenheit - 0.5)
    assert under == told(fahrenheit - 8) and under[0].startswith(f"Water under {fahrenheit} °F")
    assert told(fahrenheit + 0.5) != under
    assert (told(fahrenheit + 0.5) == []) == (fahrenheit == 70)


@pytest.mark.parametrize(("chance", "first"), [(0.1, "Water"), (0.49, "Water"), (0.5, "Ice")])
def test_boats_are_warned_first_where_ice_is_the_rarer(lake, chance, first):
    cautions = hazards_for_month(lake, 12, surface_temperature=(1, 2, 3), ice_chance=chance)
    assert cautions[0].startswith(first)
    assert [grave(text) for text in cautions[:3]] == [True, True, False]


def test_the_highest_wave_is_told_before_the_mean_and_wind_before_any_wave(lake):
    cautions = hazards_for_month(lake, 7, surface_temperature=(26, 27, 28))
    wind = next(text for text in cautions if text.startswith("Wind"))
    words = ("stronger", "within minutes", "single", "highest third")
    assert [wind.index(word) for word in words] == sorted(map(wind.index, words))


def test_what_two_days_of_a_forecast_share_is_told_once_with_both(lake):
    told = hazards_for_forecast(lake, _forecast(48, wind_speed=1.0), water_temperature=5.0)
    cold = [text for text in told if "takes the breath" in text]
    assert len(cold) == 1
    assert cold[0].startswith("Saturday 4 July, Sunday 5 July: Water under 50 °F")


def test_half_an_inch_of_rain_in_a_day_is_told_and_a_tenth_is_not(lake):
    def muddy(inches):
        rain = _forecast(precipitation=inches * 25.4 / 24, air_temperature=20.0)
        return any("debris" in text for text in hazards_for_forecast(lake, rain))

    assert muddy(0.9) and muddy(0.5) and not muddy(0.1)


def test_month_cautions_follow_the_lake(lake):
    flowing = replace(lake, flow=Flow(release=np.ones(12)), below_full_pond=np.full(12, 1.0))
    winter = hazards_for_month(flowing, 1, surface_temperature=(0, 1, 2), ice_chance=0.5)
    assert any("this water is drawn down and this water flows" in text for text in winter)
    assert any("releases" in text for text in winter)
    assert any("Low water" in text for text in winter)
    summer = hazards_for_month(lake, 7, surface_temperature=(26, 27, 28), air_temperature=35.0)
    for words in ("Blooms", "Heat", "Docks", "Power lines", "Lightning"):
        assert any(text.startswith(words) for text in summer), words
    clear = replace(lake, fertility="oligotrophic")
    assert not any(
        "Blooms" in text for text in hazards_for_month(clear, 7, surface_temperature=(26, 27, 28))
    )
    assert any("dark" in text for text in hazards_for_month(lake, 7, night=True))


def test_nothing_about_a_day_without_a_forecast(lake):
    forecast = _forecast(24, wind_speed=10.0)  # 4 July, local midnight to midnight
    assert hazards_for_forecast(lake, forecast, days=["2026-07-05"]) == []
    holes = _forecast(24, wind_speed=np.nan, air_temperature=np.nan)
    assert hazards_for_forecast(lake, holes) == []
    two = xr.concat([forecast, _forecast(24, start="2026-07-05T05:00", wind_speed=np.nan)], "time")
    told = hazards_for_forecast(lake, two)
    assert any("4 July" in text for text in told) and not any("5 July" in text for text in told)


def test_days_are_the_lakes_own(lake):
    # 02:00 to 04:00 UTC on 5 July: the late evening of the 4th by central daylight time
    forecast = _forecast(3, start="2026-07-05T02:00", wind_speed=11.0)
    told = hazards_for_forecast(lake, forecast)
    assert told[0].startswith("Saturday 4 July (only 3 of its hours are forecast): Wind: ")


def test_forecast_cautions(lake):
    storm = " ".join(
        hazards_for_forecast(
            lake,
            _forecast(
                wind_speed=12.0,
                wind_gust=20.0,
                air_temperature=30.0,
                precipitation=2.0,
                weather_code=26.0,
            ),
            water_temperature=26.0,
        )
    )
    for words in (
        "advisories",
        "Gusts to",
        "Thunder is in the forecast",
        "floating debris",
        "releases",
        "Power lines",
    ):
        assert words in storm, words
    rain = " ".join(hazards_for_forecast(lake, _forecast(precipitation=0.5, air_temperature=20.0)))
    assert "may bring thunder" in rain and "debris" not in rain
    hot = " ".join(
        hazards_for_forecast(
            lake, _forecast(wind_speed=1.5, air_temperature=33.0), water_temperature=28.0
        )
    )
    assert "Heat" in hot and "Blooms" in hot and "raises waves" not in hot
    cold = " ".join(
        hazards_for_forecast(
            lake, _forecast(wind_speed=1.0, air_temperature=-8.0), water_temperature=0.3
        )
    )
    assert "Ice possible" in cold and "life jacket" in cold
