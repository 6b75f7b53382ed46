"""Weather files as people have them."""

import dataclasses
import gzip

import numpy as np
import pandas as pd
import pytest
from weather_helpers import invented_lake

from lakekit.errors import WeatherError
from lakekit.weather import tables
from lakekit.weather.tables import read_weather

HEADER = "time,air_temp_c,rel_hum_pct,wind_ms\n"


def write(tmp_path, text, name="w.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def rows(count=30, start="2024-06-01 00:00", step="1h", line="{t},{i},50,2\n"):
    times = pd.date_range(start, periods=count, freq=step)
    return "".join(
        line.format(t=t.strftime("%Y-%m-%d %H:%M"), i=i % 20) for i, t in enumerate(times)
    )


def test_a_file_is_parsed_once_for_all_lakes_until_it_changes(tmp_path, monkeypatch):
    path, parsed = write(tmp_path, HEADER + rows()), []

    def count(*args, read=tables._rows):
        parsed.append(args)
        return read(*args)

    monkeypatch.setattr(tables, "_rows", count)
    first = read_weather(path, lake=invented_lake())
    first["air_temperature"].values[:] = -1.0  # whoever changes what is his changes no other's
    again = read_weather(path, lake=invented_lake())
    assert len(parsed) == 1 and again["air_temperature"].values[1] == 1.0
    read_weather(path, units={"air_temp_c": "F"})
    assert len(parsed) == 2
    write(tmp_path, HEADER + rows(start="2025-06-01 00:00"))
    assert read_weather(path)["time"].to_index()[0] == pd.Timestamp("2025-06-01")
    assert len(parsed) == 3


def test_default_columns(tmp_path):
    text = (
        "time,air_temp_c,dew_point_c,wind_ms,wind_height_m,pressure_hpa,cloud_pct,"
        "sunshine_min,shortwave_wm2,longwave_wm2,precip_mm\n"
        "2024-06-01 00:00,20,10,2,2,990,50,30,-2,330,0.4\n"
        "2024-06-01 01:00,21,,3,2,991,100,60,400,331,0\n"
    )
    weather = read_weather(write(tmp_path, text))
    assert list(weather.sizes) == ["time"]
    assert weather["time"].dtype == "datetime64[ns]"
    assert weather["wind_speed"].attrs["wind_height"] == 2.0
    assert weather["cloud_cover"].values.tolist() == [0.5, 1.0]
    assert weather["sunshine_duration"].values.tolist() == [1800.0, 3600.0]
    assert weather["shortwave"].values.tolist() == [0.0, 400.0]  # a night offset is not radiation
    # Vapour pressures at 10 and 20 degC, IAPWS-95: 12.282 and 23.393 hPa (reference table 2).
    assert weather["relative_humidity"].values[0] == pytest.approx(100 * 12.282 / 23.393, abs=0.02)
    assert np.isnan(weather["relative_humidity"].values[1])
    assert weather["air_temperature"].dtype == np.float64


@pytest.mark.parametrize("name", ["w.csv", "w.csv.gz"])
@pytest.mark.parametrize("shape", ["plain", "bom", "semicolons", "tabs", "ansi", "crlf"])
def test_shapes_of_file_give_the_same(tmp_path, name, shape):
    text = HEADER + rows(line="{t},{i}.5,50,2\n")
    expected = read_weather(write(tmp_path, text, "plain.csv"))
    text = text.replace("wind_ms", "wind_ms,température")
    if shape == "semicolons":
        text = text.replace(",", ";").replace(".5", ",5")
    if shape == "tabs":
        text = text.replace(",", "\t")
    if shape == "crlf":
        text = text.replace("\n", "\r\n")
    encoding = {"bom": "utf-8-sig", "ansi": "cp1252"}.get(shape, "utf-8")
    raw = text.encode(encoding)
    path = tmp_path / name
    path.write_bytes(gzip.compress(raw) if name.endswith("gz") else raw)
    weather = read_weather(path)
    for variable in expected:
        assert np.array_equal(weather[variable].values, expected[variable].values)


def test_columns_and_units_are_mapped(tmp_path):
    text = (
        "datetime_utc;Temp;RH;Wind;P;Rain;Sun;Cloud\n"
        "2024-06-01 00:00:00;68;0,5;36;29,92;0,1;3,6;8\n"
        "2024-06-01 01:00:00;32;0,6;72;30,00;0;0;4\n"
    )
    weather = read_weather(
        write(tmp_path, text),
        {
            "time": "datetime_utc",
            "air_temp_c": "Temp",
            "rel_hum_pct": "RH",
            "wind_ms": "Wind",
            "pressure_hpa": "P",
            "precip_mm": "Rain",
            "shortwave_wm2": "Sun",
            "cloud_pct": "Cloud",
        },
        units={
            "air_temp_c": "F",
            "rel_hum_pct": "fraction",
            "wind_ms": "km/h",
            "pressure_hpa": "inHg at sea level",
            "precip_mm": "in",
            "shortwave_wm2": "MJ/m2",
            "cloud_pct": "oktas",
        },
    )
    assert weather["air_temperature"].values == pytest.approx([20.0, 0.0], abs=1e-12)
    assert weather["relative_humidity"].values == pytest.approx([50.0, 60.0])
    assert weather["wind_speed"].values == pytest.approx([10.0, 20.0])
    # 29.92 inHg is the standard atmosphere, 1013.25 hPa, to its four digits.
    assert weather["air_pressure"].values[0] == pytest.approx(1013.25, abs=0.2)
    assert weather["air_pressure"].attrs["level"] == "sea_level"
    assert weather["precipitation"].values == pytest.approx([2.54, 0.0])
    assert weather["shortwave"].values == pytest.approx([1000.0, 0.0])
    assert weather["cloud_cover"].values.tolist() == [1.0, 0.5]


def test_unsorted_and_repeated_rows(tmp_path):
    lines = rows(6).splitlines(keepends=True)
    expected = read_weather(write(tmp_path, HEADER + "".join(lines)))
    shuffled = lines[3:] + lines[:4]
    weather = read_weather(write(tmp_path, HEADER + "".join(shuffled)))
    assert np.array_equal(weather["air_temperature"], expected["air_temperature"])
    assert "sorted" in weather.attrs["notes"]
    assert "1 repeated rows" in weather.attrs["notes"]


def test_repeated_rows_that_disagree_are_refused(tmp_path):
    path = write(tmp_path, HEADER + rows(5) + "2024-06-01 02:00,9.9,50,2\n")
    with pytest.raises(WeatherError, match=r"row 7: 2024-06-01 02:00 stands twice .*air_temp_c"):
        read_weather(path)


def test_holes_stay_holes_on_a_regular_axis(tmp_path):
    text = HEADER + rows(3) + rows(3, start="2024-06-01 06:00") + "2024-06-01 09:00,,-999,NA\n"
    weather = read_weather(write(tmp_path, text))
    assert weather.sizes["time"] == 9  # the last row holds nothing: the record ends before it
    missing = np.isnan(weather["air_temperature"].values)
    assert missing.tolist() == [False] * 3 + [True] * 3 + [False] * 3


def test_codes_for_missing_values_are_holes(tmp_path):
    text = HEADER + rows(3) + "2024-06-01 03:00,12,-999,NA\n"
    weather = read_weather(write(tmp_path, text))
    assert weather["air_temperature"].values[-1] == 12.0
    assert np.isnan(weather["relative_humidity"].values[-1])
    assert np.isnan(weather["wind_speed"].values[-1])


def test_sub_hourly_rows_are_averaged_and_rain_is_summed(tmp_path):
    times = pd.date_range("2024-06-01 00:00", periods=12 * 3, freq="5min")
    text = "time,air_temp_c,wind_ms,precip_mm\n" + "".join(
        f"{t:%Y-%m-%d %H:%M},{i % 12},{2},0.1\n" for i, t in enumerate(times)
    )
    weather = read_weather(write(tmp_path, text))
    assert weather["air_temperature"].values == pytest.approx([5.5, 5.5, 5.5])
    assert weather["precipitation"].values == pytest.approx([1.2, 1.2, 1.2])


def test_an_hour_with_few_of_its_readings_stays_open(tmp_path):
    times = pd.date_range("2024-06-01 00:00", periods=6 * 4, freq="10min").delete(range(7, 12))
    text = HEADER + "".join(f"{t:%Y-%m-%d %H:%M},10,50,2\n" for t in times)
    weather = read_weather(write(tmp_path, text))
    assert np.isnan(weather["air_temperature"].values).tolist() == [False, True, False, False]


def test_daily_rows_are_refused(tmp_path):
    with pytest.raises(WeatherError, match="24 hours apart"):
        read_weather(write(tmp_path, HEADER + rows(5, step="1D")))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "empty"),
        ("time,air_temp_c\n", "no rows"),
        ("time,air_temp_c\n2024-06-01 00:00,\n", "no value in any weather column"),
        ("date,air_temp_c\n2024-06-01 00:00,1\n", "no column `time`"),
        ("time,foo\n2024-06-01 00:00,1\n", "no weather column"),
        (
            HEADER + "2024-06-01 00:00,1,50,2\n2024-06-01 01:00,212,50,2\n",
            r"row 3 \(2024-06-01 01:00\): air_temp_c comes to 212 degC, outside -65 to 55 \(1 such",
        ),
        (HEADER + "2024-06-01 00:00,1,150,2\n", "row 2 .*rel_hum_pct comes to 150 %"),
        (HEADER + "2024-06-01 00:00,1,50,-2\n", "row 2 .*wind_ms comes to -2"),
        (HEADER + "2024-06-01 00:00,warm,50,2\n", "row 2: air_temp_c = 'warm' is not a number"),
        (HEADER + "05/02/2025 10:00,1,50,2\n", "row 2: '05/02/2025 10:00' does not say.*MDY"),
        (HEADER + rows(3) + "2024-13-01 00:00,1,50,2\n", "row 5: '2024-13-01 00:00' is not a date"),
        (HEADER + rows(2) + "2024-06-02 00:00+02:00,1,50,2\n", "differ in having an offset"),
    ],
)
def test_faults_are_named(tmp_path, text, message):
    with pytest.raises(WeatherError, match=message):
        read_weather(write(tmp_path, text))


def test_faults_of_the_map_are_named(tmp_path):
    path = write(tmp_path, HEADER + rows())
    with pytest.raises(WeatherError, match=r"'airtemp_c' is not a weather column.*'air_temp_c'"):
        read_weather(path, {"airtemp_c": "x"})
    with pytest.raises(WeatherError, match=r"no column 'wind_m' .*Did you mean 'wind_ms'"):
        read_weather(path, {"wind_ms": "wind_m"})
    with pytest.raises(WeatherError, match="unit 'furlongs' is not one wind_ms can have"):
        read_weather(path, units={"wind_ms": "furlongs"})
    with pytest.raises(WeatherError, match="no such weather file"):
        read_weather(tmp_path / "absent.csv")


def test_a_truncated_gzip_is_one_error(tmp_path):
    path = tmp_path / "w.csv.gz"
    path.write_bytes(gzip.compress((HEADER + rows(500)).encode())[:300])
    with pytest.raises(WeatherError, match="cut short"):
        read_weather(path)


def test_gusts_are_not_means(tmp_path):
    text = HEADER.replace("wind_ms", "Wind Gust") + rows()
    with pytest.raises(WeatherError, match="a gust is not a mean wind"):
        read_weather(write(tmp_path, text), {"wind_ms": "Wind Gust"})


def test_wind_of_several_heights_comes_to_ten_metres(tmp_path):
    text = (
        "time,air_temp_c,wind_ms,wind_height_m\n2024-06-01 00:00,10,2,2\n2024-06-01 01:00,10,2,10\n"
    )
    weather = read_weather(write(tmp_path, text))
    low, high = weather["wind_speed"].values
    # Logarithmic profile over open grass (WMO-No. 8, 5.9.3), worked by hand.
    assert low == pytest.approx(2 * np.log(10 / 0.03) / np.log(2 / 0.03), rel=1e-12)
    assert high == 2.0


# Local time


def test_local_time_is_refused_unless_said(tmp_path):
    path = write(tmp_path, HEADER.replace("time", "time_local") + rows())
    with pytest.raises(WeatherError, match="looks like local time"):
        read_weather(path, {"time": "time_local"})
    weather = read_weather(path, {"time": "time_local"}, units={"time": "America/Chicago"})
    assert weather["time"].values[0] == np.datetime64("2024-06-01T05:00")


def test_offsets_in_the_stamps_are_used(tmp_path):
    weather = read_weather(write(tmp_path, HEADER + "2024-06-01T00:00-05:00,1,50,2\n"))
    assert weather["time"].values[0] == np.datetime64("2024-06-01T05:00")


def test_a_spreadsheet_drops_the_hours_leading_zero(tmp_path):
    weather = read_weather(write(tmp_path, HEADER + "2024/06/01 9:30,1,50,2\n"))
    assert weather["time"].values[0] == np.datetime64("2024-06-01T09:00")


def test_a_fixed_offset_and_labels_at_the_end(tmp_path):
    weather = read_weather(write(tmp_path, HEADER + rows()), units={"time": "UTC-6, end of hour"})
    assert weather["time"].values[0] == np.datetime64("2024-06-01T05:00")


@pytest.mark.parametrize(
    ("stamps", "order"),
    [
        (("7/31/2024 0:00", "7/31/2024 6:00", "7/31/2024 12:00"), "MDY"),
        (("07/31/2024 12:00 AM", "7/31/2024 6:00 am", "07/31/2024 12:00 PM"), "MDY"),
        (("31.07.2024 00:00:00", "31.07.2024 06:00:00", "31.07.2024 12:00:00"), "DMY"),
    ],
)
def test_the_year_last_where_the_order_is_said(tmp_path, stamps, order):
    text = HEADER + "".join(f"{stamp},1,50,2\n" for stamp in stamps)
    weather = read_weather(write(tmp_path, text), units={"time": f"UTC-6, {order}"})
    assert weather["time"].values[0] == np.datetime64("2024-07-31T06:00")
    assert weather["time"].values[-1] == np.datetime64("2024-07-31T18:00")
    other = {"MDY": "DMY", "DMY": "MDY"}[order]
    with pytest.raises(WeatherError, match=f"no date when read as {other}.*write {order}"):
        read_weather(write(tmp_path, text), units={"time": f"UTC, {other}"})


def test_both_clock_changes(tmp_path):
    """Chicago, 2024: 02:00 is skipped on 10 March, 01:00 stands twice on 3 November."""
    zone = {"time": "America/Chicago"}
    utc = pd.date_range("2024-11-03 04:00", periods=6, freq="h")
    local = utc.tz_localize("UTC").tz_convert("America/Chicago").tz_localize(None)
    text = HEADER + "".join(f"{t:%Y-%m-%d %H:%M},{i},50,2\n" for i, t in enumerate(local))
    weather = read_weather(write(tmp_path, text), units=zone)
    assert np.array_equal(weather["time"].values, utc.to_numpy())
    assert weather["air_temperature"].values.tolist() == [0, 1, 2, 3, 4, 5]

    utc = pd.date_range("2024-03-10 06:00", periods=6, freq="h")
    local = utc.tz_localize("UTC").tz_convert("America/Chicago").tz_localize(None)
    text = HEADER + "".join(f"{t:%Y-%m-%d %H:%M},{i},50,2\n" for i, t in enumerate(local))
    weather = read_weather(write(tmp_path, text), units=zone)
    assert np.array_equal(weather["time"].values, utc.to_numpy())


def test_an_hour_that_does_not_exist_or_is_alone_is_refused(tmp_path):
    zone = {"time": "America/Chicago"}
    skipped = write(tmp_path, HEADER + rows(6, start="2024-03-10 00:00"))
    with pytest.raises(WeatherError, match="row 4: 2024-03-10 02:00:00 does not exist"):
        read_weather(skipped, units=zone)
    alone = write(tmp_path, HEADER + rows(6, start="2024-11-03 00:00"))
    with pytest.raises(WeatherError, match="row 3: 2024-11-03 01:00:00 happens twice"):
        read_weather(alone, units=zone)


def test_an_unknown_zone_is_refused(tmp_path):
    with pytest.raises(WeatherError, match="time zone 'Middle/Earth' is not known"):
        read_weather(write(tmp_path, HEADER + rows()), units={"time": "Middle/Earth"})


def test_sun_at_the_wrong_hour_gives_local_time_away(tmp_path):
    lake = dataclasses.replace(invented_lake(), longitude=-90.0)
    times = pd.date_range("2024-06-01", periods=240, freq="h")

    def record(noon):
        sun = np.maximum(0, 800 * np.cos((times.hour + 0.5 - noon) * np.pi / 12))
        return "time,air_temp_c,wind_ms,shortwave_wm2\n" + "".join(
            f"{t:%Y-%m-%d %H:%M},20,2,{s:.1f}\n" for t, s in zip(times, sun, strict=True)
        )

    with pytest.raises(WeatherError, match=r"peaks 6\.0 hours before noon"):
        read_weather(write(tmp_path, record(12)), lake=lake)
    assert read_weather(write(tmp_path, record(18)), lake=lake).sizes["time"] == 240
    assert (
        read_weather(write(tmp_path, record(12)), lake=lake, units={"time": "UTC-6"}).sizes["time"]
        == 240
    )


def test_a_measured_record_is_read(observations):
    weather = read_weather(
        observations / "falling-creek-2018" / "weather_hourly_station.csv",
        {"time": "datetime_utc"},
        lake=invented_lake(longitude=-79.8),
    )
    assert weather["wind_speed"].attrs["wind_height"] == 3.0
    assert np.isnan(weather["air_temperature"].values).sum() > 17 * 24
    assert weather["time"].values[0] == np.datetime64("2018-01-01T05:00")


# What would be read without a word, and wrongly


@pytest.mark.parametrize(
    ("header", "line", "message"),
    [
        ("rel_hum_pct", "{t},20,0.{i:02d}\n", r"rel_hum_pct is never above .*rel_hum_pct = \"frac"),
        ("cloud_pct", "{t},20,0.{i:02d}\n", r"cloud_pct = \"fraction\""),
        ("cloud_pct", "{t},20,{i}\n", r"cloud_pct = \"oktas\""),
        ("sunshine_min", "{t},20,0.{i:02d}\n", r"sunshine_min = \"h\""),
    ],
)
def test_shares_for_percent_are_refused_with_the_unit_to_write(tmp_path, header, line, message):
    times = pd.date_range("2024-06-01", periods=48, freq="h")
    text = f"time,air_temp_c,{header}\n" + "".join(
        line.format(t=f"{t:%Y-%m-%d %H:%M}", i=i % 9) for i, t in enumerate(times)
    )
    path = write(tmp_path, text)
    with pytest.raises(WeatherError, match=message):
        read_weather(path)
    unit = {"{i}": "oktas"}.get(line.split(",")[-1].strip(), "fraction")
    if header != "sunshine_min":
        assert read_weather(path, units={header: unit}).sizes["time"] == 48


def test_a_clear_or_a_short_record_is_not_taken_for_shares(tmp_path):
    clear = "time,air_temp_c,cloud_pct\n" + rows(line="{t},{i},0\n")
    assert (read_weather(write(tmp_path, clear))["cloud_cover"] == 0).all()


@pytest.mark.parametrize("year", ["1823", "2223", "0024"])
def test_years_that_cannot_be_meant_are_refused(tmp_path, year):
    with pytest.raises(WeatherError, match=r"row 2: the year of .* is outside 1900 to 2100"):
        read_weather(write(tmp_path, HEADER + rows(3).replace("2024", year)))


@pytest.mark.parametrize("zone", ["UTC+99", "UTC-15", "UTC+5:75"])
def test_clocks_that_run_nowhere_are_refused(tmp_path, zone):
    with pytest.raises(WeatherError, match="no clock runs at"):
        read_weather(write(tmp_path, HEADER + rows(3)), units={"time": zone})


def test_capitals_of_a_header_do_not_matter_and_its_near_spelling_is_named(tmp_path):
    text = (HEADER + rows()).replace("time,air_temp_c", "Time,Air_Temp_C")
    assert read_weather(write(tmp_path, text))["air_temperature"].size == 30
    with pytest.raises(WeatherError, match=r"no column `time`.*Did you mean 'timee'"):
        read_weather(write(tmp_path, text.replace("Time,", "timee,")))


def test_an_open_quote_in_a_weather_file_names_its_line(tmp_path):
    text = "time,air_temp_c,remark\n" + rows(30, line="{t},{i},ok\n")
    text = text.replace("2024-06-01 10:00,10,ok", '2024-06-01 10:00,10,"ok')
    with pytest.raises(WeatherError, match=r"line 12: a quote opens and is not closed"):
        read_weather(write(tmp_path, text))


def test_a_decimal_comma_between_commas_loses_no_figure(tmp_path):
    with pytest.raises(WeatherError, match=r"row 2: 5 cells under 4 column names.*semicolons"):
        read_weather(write(tmp_path, HEADER + rows(3, line="{t},{i},5,50,2\n")))
