"""The time loop: budgets, ensembles, resuming, and profiles that cannot be."""

import numpy as np
import pytest
import xarray as xr
from column_lakes import lake, small_lake, weather

from lakekit.club import Flow, read_club
from lakekit.column import (
    columns,
    draw_parameters,
    end_state,
    make_basin,
    run_parameters,
    simulate,
)
from lakekit.column import run as run_module
from lakekit.column.light import albedo
from lakekit.column.run import HOUR, _first_state, hourly_forcing, output_slots, start_state
from lakekit.column.water import density
from lakekit.errors import WeatherError
from lakekit.progress import listening
from lakekit.weather import lake_weather, prepare_forcing
from lakekit.weather.sun import solar_elevation

LEVEL = np.array([0, 0, 0.1, 0.3, 0.6, 1.0, 1.5, 1.9, 2.1, 1.5, 0.8, 0.2])
HEAT = ("shortwave_in", "net_longwave", "latent_heat", "sensible_heat", "sediment_heat",
        "snow_heat", "flow_heat", "level_heat")  # fmt: skip
PIN = lake(depths=np.array([0.0, 8.0, 8.5, 9.0]), areas=np.array([4e5, 1e5, 20.0, 0.0]))

CASES = {
    "summer and winter": (lake(), {}),
    "ice": (lake(), {"colder": 10.0}),
    "ice and a changing level": (lake(below_full_pond=LEVEL), {"colder": 10.0}),
    "a bottom layer of a few litres": (PIN, {}),
    "a shallow lake drawn down": (small_lake(below_full_pond=LEVEL), {}),
}


@pytest.fixture(scope="module", params=CASES)
def case(request):
    water, climate = CASES[request.param]
    return water, simulate(water, weather(2 * 8760, **climate), members=2, seed=3)


def test_the_heat_budget_closes_over_a_year(case):
    _, run = case
    exchanged = sum(abs(run[name]).sum("time") for name in HEAT)
    relative = abs(run["heat_residual"].sum("time")) / exchanged
    assert float(relative.max()) < 1e-9


def test_heat_content_is_the_sum_of_its_terms(case):
    _, run = case
    stored = run["heat_content"].values
    gained = sum(run[name].values for name in HEAT)[:, 1:].sum(axis=1) * 86400.0
    # fluxes are per area of the full pond, as is the content
    np.testing.assert_allclose(stored[:, -1] - stored[:, 0], gained, rtol=1e-6, atol=50.0)


def test_no_nan_no_frost_no_heavy_water_above(case):
    water, run = case
    temperature = run["water_temperature"].values
    oxygen = run["dissolved_oxygen"].values
    under = run["depth"].values + run["surface_below_full_pond"].values[:, None] <= water.max_depth
    for values in (temperature, oxygen):
        assert np.isfinite(values[:, under]).all()
        assert np.isnan(values[:, ~under]).all()
    assert np.nanmin(temperature) >= 0.0
    assert np.nanmax(temperature) < 40.0
    assert np.nanmin(oxygen) >= 0.0
    steps = np.diff(density(temperature), axis=-1)
    assert np.nanmin(steps) > -1e-9
    for name in run.data_vars:
        if "depth" not in run[name].dims and run[name].dtype.kind == "f":
            assert np.isfinite(run[name].values).all(), name


@pytest.mark.parametrize("key", ["quarry-hollow", "teal-marsh"])
def test_the_demo_lakes_close_their_budgets(key):
    club = read_club()
    water = club.lakes[key]
    forcing = prepare_forcing(lake_weather(club, water), water).isel(time=slice(0, 3 * 8760))
    run = simulate(water, forcing, members=2, seed=0)
    for year in np.unique(run["time"].dt.year)[1:3]:
        part = run.sel(time=str(year))
        exchanged = sum(abs(part[name]).sum("time") for name in HEAT)
        assert float((abs(part["heat_residual"].sum("time")) / exchanged).max()) < 1e-9
    steps = np.diff(density(run["water_temperature"].values), axis=-1)
    assert np.nanmin(steps) > -1e-9
    assert float(run["water_temperature"].min()) >= 0.0


def test_a_row_of_an_ensemble_equals_a_single_run():
    water = lake(below_full_pond=LEVEL)
    forcing = weather(colder=8.0)
    many = simulate(water, forcing, members=5, seed=4)
    for member in (0, 3):
        alone = simulate(water, forcing, parameters=run_parameters(many).isel(member=[member]))
        for name in ("water_temperature", "dissolved_oxygen", "ice_thickness", "latent_heat"):
            np.testing.assert_allclose(
                alone[name].values[0], many[name].values[member], rtol=1e-12, atol=1e-12
            )


def test_a_smaller_ensemble_is_the_start_of_a_larger():
    few, many = draw_parameters(lake(), 3, 7), draw_parameters(lake(), 9, 7)
    for name in few.data_vars:
        np.testing.assert_array_equal(few[name].values, many[name].values[:3])


@pytest.mark.parametrize("hours", [9001, 12345])
def test_resuming_equals_running_through(hours):
    water = lake(below_full_pond=LEVEL)
    forcing = weather(2 * 8760, colder=8.0)
    whole = simulate(water, forcing, members=2, seed=1)
    first = simulate(water, forcing.isel(time=slice(0, hours)), members=2, seed=1)
    rest = forcing.isel(time=slice(hours, None))
    second = simulate(water, rest, parameters=run_parameters(first), state=end_state(first))
    rest = whole.sel(time=second["time"])
    for name in ("water_temperature", "dissolved_oxygen", "ice_thickness"):
        np.testing.assert_allclose(second[name].values, rest[name].values, atol=1e-4)


def test_a_state_survives_a_file(tmp_path):
    water, forcing = small_lake(), weather(2 * 8760)
    first = simulate(water, forcing.isel(time=slice(0, 10000)))
    first.to_netcdf(tmp_path / "run.nc", engine="h5netcdf")
    with xr.open_dataset(tmp_path / "run.nc", engine="h5netcdf") as stored:
        state = end_state(stored.load())
    rest = forcing.isel(time=slice(10000, None))
    np.testing.assert_array_equal(
        simulate(water, rest, state=state)["water_temperature"].values,
        simulate(water, rest, state=end_state(first))["water_temperature"].values,
    )


def test_a_first_year_run_twice_forgets_its_start():
    water, forcing = lake(), weather(2 * 8760)
    spun, at_once = (simulate(water, forcing, spin_up=s) for s in (True, False))
    assert (spun.attrs["spin_up_hours"], at_once.attrs["spin_up_hours"]) == (8760, 0)
    apart = abs(spun["water_temperature"] - at_once["water_temperature"]).values[0]
    assert apart[:30].max() > 0.5
    assert apart[365 + 90 :].max() < 0.25


def test_daily_output_is_noon_of_local_standard_time():
    run = simulate(small_lake(), weather(8760))  # 90 W: 12:00 is 18:00 UTC
    assert set(run["time"].dt.hour.values) == {18}
    hourly = simulate(small_lake(), weather(8760), every="1h")
    np.testing.assert_array_equal(
        hourly["water_temperature"].sel(time=run["time"]).values, run["water_temperature"].values
    )


def test_a_state_bears_the_time_at_which_its_hour_ends():
    # an hour of sun is felt in the state at its end: noon's, 18:00 UTC, knows of 17:00 and not
    # of the hour that begins then
    plain = weather(240)
    for label, first_hour, first_noon in (
        ("2001-01-05T17:00", "2001-01-05T18:00", "2001-01-05T18:00"),
        ("2001-01-05T18:00", "2001-01-05T19:00", "2001-01-06T18:00"),
    ):
        sunny = plain.copy(deep=True)
        sunny["shortwave"].loc[{"time": label}] += 500.0
        for every, first in (("1h", first_hour), ("1D", first_noon)):
            runs = [simulate(small_lake(), forcing, every=every) for forcing in (plain, sunny)]
            felt = (runs[0]["water_temperature"] != runs[1]["water_temperature"]).any("depth")[0]
            assert runs[0]["time"].values[felt.argmax()] == np.datetime64(first)


def test_murkier_water_is_warmer_above_and_colder_below():
    clear = simulate(lake(secchi=np.full(12, 3.0)), weather())
    murky = simulate(lake(secchi=np.full(12, 0.5)), weather())
    change = (murky["water_temperature"] - clear["water_temperature"]).sel(time="2001-07-15")
    assert change.values[0, 0, 0] > 0.0
    assert change.values[0, 0, 20] < -0.5


def test_one_storm_more_deepens_the_mixed_layer():
    calm = weather()
    windy = calm.copy(deep=True)
    storm = slice("2001-07-10", "2001-07-11")
    windy["wind_speed"].loc[{"time": storm}] = 14.0
    depth = []
    for forcing in (calm, windy):
        run = simulate(lake(), forcing).sel(time="2001-07-12")
        profile = run["water_temperature"].values[0, 0]
        depth.append(run["depth"].values[np.argmax(profile < profile[0] - 4.0)])
    assert depth[1] > depth[0] + 1.0


def test_an_unfit_state_or_interval_is_refused():
    state = end_state(simulate(small_lake(), weather(1000)))
    with pytest.raises(WeatherError, match="saved state"):
        simulate(lake(), weather(100), state=state)
    with pytest.raises(WeatherError, match="not known"):
        simulate(small_lake(), weather(100), every="6h")


@pytest.mark.parametrize(
    ("longitude", "noon"),
    [(-90.0, 18), (-82.6, 18), (-82.4, 17), (0.0, 12), (150.0, 2), (-180.0, 0)],
)
def test_noon_is_that_of_the_nearest_hour_of_longitude(longitude, noon):
    # 15 degrees an hour, whatever the clocks say
    times = np.arange("2001-07-01", "2001-07-03", dtype="datetime64[h]").astype("datetime64[ns]")
    slots, stamps = output_slots(times, "1D", longitude)
    assert set(stamps.hour) == {noon} and len(stamps) == 2
    np.testing.assert_array_equal(stamps[slots[slots >= 0]], times[slots >= 0] + HOUR)


def test_given_times_go_to_the_nearest_hour_within_the_record():
    times = np.arange("2001-07-01", "2001-07-02", dtype="datetime64[h]").astype("datetime64[ns]")
    wanted = ["2001-07-01T05:20", "2001-07-01T05:40", "2001-06-30T12:00", "2001-07-05T12:00"]
    _, stamps = output_slots(times, wanted, 0.0)
    assert [f"{stamp:%d %H}" for stamp in stamps] == ["01 01", "01 05", "01 06", "02 00"]


def forced(water, **values):
    """The kernel's forcing of two July days with values put in place of the weather's."""
    part = weather(24 * 190).isel(time=slice(24 * 188, None))
    for name, value in values.items():
        part[name][:] = value
    out, rates = hourly_forcing(water, part, make_basin(water))
    return part, out, rates


def test_snow_falls_under_half_a_degree_and_lies_at_a_third_of_its_depth():
    # settled snow of 300 kg/m3: 3 mm of water are 1 cm
    for air, snow in ((0.4, 0.01), (0.5, 0.0), (5.0, 0.0)):
        _, out, _ = forced(small_lake(), air_temperature=air, precipitation=3.0)
        np.testing.assert_allclose(out[:, columns.SNOWFALL], snow)


def test_the_sun_never_shines_less_than_nothing_and_vapour_is_a_share_of_saturation():
    _, out, _ = forced(
        small_lake(), shortwave=-3.0, air_temperature=20.0, relative_humidity=50.0
    )
    assert (out[:, columns.SHORTWAVE] == 0.0).all()
    # 23.37 hPa at 20 degC (WMO tables, from memory)
    np.testing.assert_allclose(out[:, columns.VAPOUR], 0.5 * 23.38, rtol=1e-3)


def test_albedo_is_that_of_the_middle_of_the_hour():
    part, out, _ = forced(small_lake(), shortwave=300.0)
    times = part["time"].values + np.timedelta64(30, "m")
    height = solar_elevation(times, small_lake().latitude, small_lake().longitude)
    np.testing.assert_allclose(out[:, columns.ALBEDO], albedo(height, np.full(48, 300.0)))


def test_the_level_sets_the_surface_and_what_is_stored():
    # a box of 2 ha: 1 m down leaves 4 of 5 m
    box = {"depths": np.array([0.0, 5.0]), "areas": np.full(2, 2e4)}
    for down in (np.full(12, 1.0), np.where(np.arange(12) < 6, 1.0, 1.0 + 1e-9)):
        _, out, _ = forced(lake(below_full_pond=down, **box))
        np.testing.assert_allclose(out[:, columns.LEVEL], 1.0, atol=1e-8)
        np.testing.assert_allclose(out[:, columns.SURFACE], 2e4)
        np.testing.assert_allclose(out[:, columns.STORED], 8e4, rtol=1e-6)


def test_a_stream_brings_nine_tenths_of_the_oxygen_that_it_can_hold():
    flow = Flow(inflow=np.full(12, 0.3), inflow_temperature=np.full(12, 20.0), release_depth=4.0)
    _, out, rates = forced(small_lake(flow=flow), air_pressure=1013.25)
    # 9.09 mg/L at 20 degC and one atmosphere (Benson & Krause 1984, from memory)
    np.testing.assert_allclose(out[:, columns.GAS_IN], 0.9 * 9.09, rtol=2e-3)
    np.testing.assert_allclose(out[:, columns.RELEASE], 0.3)
    assert rates[3] == 4.0


def test_a_value_that_is_no_number_is_refused_with_its_hour():
    part = weather(48)
    part["wind_speed"][[5, 7]] = np.nan
    with pytest.raises(WeatherError, match=r"first at 2001-01-01 05:00:00: 2 of 48 hours"):
        hourly_forcing(small_lake(), part, make_basin(small_lake()))


def test_a_run_begins_as_warm_as_its_first_fortnight_and_holds_what_air_gives():
    part = weather(24 * 60)
    part["air_temperature"][:] = 10.0
    part["air_temperature"][: 24 * 14] = 16.0
    run = simulate(small_lake(), part.isel(time=slice(0, 24)), every="1h")
    assert run.attrs["spin_up_hours"] == 0
    first = simulate(small_lake(), part, every="1h", spin_up=False).isel(time=0, member=0)
    assert float(first["water_temperature"].mean()) == pytest.approx(16.0, abs=0.2)
    # 9.86 mg/L at 16 degC and 1013 hPa, less at 990 (Benson & Krause 1984, from memory)
    assert float(first["dissolved_oxygen"].mean()) == pytest.approx(9.86 * 990 / 1013, abs=0.1)


def test_every_hour_or_daily_budgets_are_means_of_the_time_between():
    part = weather(24 * 12)
    hourly = simulate(small_lake(), part, every="1h")
    daily = simulate(small_lake(), part)
    for name in ("net_longwave", "latent_heat", "oxygen_gas_exchange"):
        hours = hourly[name].sel(time=slice(daily["time"][0] + HOUR, daily["time"][1]))
        assert hours.sizes["time"] == 24
        assert float(daily[name][0, 1]) == pytest.approx(float(hours.mean()), rel=1e-9), name
    first = hourly["net_longwave"].sel(time=slice(None, daily["time"][0]))
    assert float(daily["net_longwave"][0, 0]) == pytest.approx(float(first.mean()), rel=1e-9)


def test_a_run_says_where_its_weather_came_from():
    part = weather(48).assign_attrs(source="a mast", licence="free", attribution="thanks")
    attrs = simulate(small_lake(), part).attrs
    assert (attrs["weather_source"], attrs["weather_licence"]) == ("a mast", "free")
    assert attrs["weather_attribution"] == "thanks" and attrs["output"] == "1D"
    assert attrs["surface_area"] == 2e5


def first_state(air, *, level=0.0, members=2):
    """The state that 400 days of air [degC, one a day] begin with, on layers of a quarter metre."""
    rows = np.zeros((400 * 24, columns.FORCING_COLUMNS))
    rows[:, columns.AIR], rows[:, columns.PRESSURE] = np.repeat(air, 24), 1013.25
    rows[:, columns.LEVEL] = level
    return _first_state(rows, make_basin(small_lake()), members)


def test_a_first_state_by_hand():
    # weeks of 18 and 22 degC in a year of 10.35: mud half way; 9.09 mg/L (Benson & Krause 1984)
    state = first_state(np.repeat([18.0, 22.0, 10.0], [7, 7, 386]))
    np.testing.assert_allclose(state["temperature"], np.full((2, 20), 20.0))
    np.testing.assert_allclose(state["oxygen"], 9.092, atol=1e-3)
    np.testing.assert_allclose(state["sediment"], np.full((2, 2, 20), 0.5 * (20.0 + 10.35)))
    assert not state["drift"].any() and not state["crust"].any()
    # no colder than its heaviest, water or mud
    cold = first_state(np.full(400, -10.0))
    assert (cold["temperature"] == 4.0).all() and (cold["sediment"] == 4.0).all()


@pytest.mark.parametrize(
    ("level", "top"), [(0.0, 0), (0.2, 0), (0.25, 1), (0.6, 2), (4.7, 18), (9.0, 18)]
)
def test_a_first_surface_layer_is_that_of_the_level_and_never_the_last(level, top):
    assert first_state(np.full(400, 10.0), level=level)["top"].tolist() == [top, top]


def test_a_state_of_one_member_serves_many():
    water, part = small_lake(), weather(24 * 60)
    state = end_state(simulate(water, part.isel(time=slice(0, 24 * 58))))
    rest, many = part.isel(time=slice(24 * 58, None)), draw_parameters(water, 3, 0)
    together = simulate(water, rest, parameters=many, state=state, every="1h")
    assert together.sizes["member"] == 3
    alone = simulate(water, rest, parameters=many.isel(member=[2]), state=state, every="1h")
    np.testing.assert_array_equal(
        together["water_temperature"].values[2], alone["water_temperature"].values[0]
    )
    assert float(abs(together["water_temperature"][2] - together["water_temperature"][0]).max()) > 0


def test_the_state_a_year_starts_from_is_that_of_its_own_run():
    water, forcing = small_lake(below_full_pond=LEVEL), weather(8760)
    parameters = draw_parameters(water, 2, 0)
    begun = start_state(water, prepare_forcing(forcing, water), parameters)
    whole = simulate(water, forcing, parameters=parameters)
    again = simulate(water, forcing, parameters=parameters, state=begun)
    for name in ("water_temperature", "dissolved_oxygen", "heat_content"):
        np.testing.assert_allclose(again[name].values, whole[name].values, rtol=1e-9)
    assert begun["time"].values == forcing["time"].values[0]


@pytest.mark.parametrize(("hours", "spun"), [(8760 - 24, 8760), (8760 - 25, 0)])
def test_a_year_but_a_day_is_run_twice(hours, spun):
    assert simulate(small_lake(), weather(hours)).attrs["spin_up_hours"] == spun


def test_the_kernels_rates_and_clarity_are_the_lakes():
    flow = Flow(aerator_depth=3.0, aerator_stirs="below")
    poor, rich = (
        forced(small_lake(flow=flow, fertility=name, secchi=np.full(12, 2.0)))[1:]
        for name in ("oligotrophic", "hypereutrophic")
    )
    assert (rich[1][:3] > poor[1][:3]).all()
    np.testing.assert_allclose(poor[0][:, columns.CLARITY], 1.7 / 2.0)  # Poole & Atkins 1929
    # no release: its depth is 0; the aerator's reach; what is left of a drift after 60 days is 1/e
    assert poor[1][3:6].tolist() == [0.0, 3.0, np.inf]
    assert poor[1][6] ** (24 * 60) == pytest.approx(np.exp(-1.0))


def test_layers_of_a_litre_are_counted_in_what_is_stored():
    box = {"depths": np.array([0.0, 5.0, 10.0]), "areas": np.array([1e-3, 0.0, 0.0])}
    water = lake(**box)
    _, out, _ = forced(water)
    np.testing.assert_allclose(out[:, columns.STORED], make_basin(water).volumes.sum())


def test_the_weather_goes_where_the_kernel_reads_it():
    part, out, _ = forced(small_lake(), wind_speed=4.0, longwave=300.0, air_pressure=990.0)
    assert (out[:, [columns.WIND, columns.LONGWAVE, columns.PRESSURE]] == [4.0, 300.0, 990.0]).all()
    np.testing.assert_array_equal(out[:, columns.AIR], part["air_temperature"])
    assert (out[:, [columns.INFLOW, columns.RELEASE]] == 0.0).all()


def test_fluxes_are_of_the_full_pond_and_areas_of_the_days_level():
    # half a metre down: what a run tells at a depth is half a metre further down the table
    water = small_lake(below_full_pond=np.full(12, 0.5))
    run = simulate(water, weather(72), every="1h")
    expected = np.interp(run["depth"] + 0.5, water.depths, water.areas, right=0.0)
    np.testing.assert_allclose(run["area"], expected)
    np.testing.assert_allclose(run["surface_below_full_pond"], 0.5)
    # an hour's evaporation by the heat balance: content changes by the sum of terms, W/m2 of full
    stored = np.diff(run["heat_content"].values[0])
    terms = sum(run[name].values[0, 1:] for name in HEAT)
    np.testing.assert_allclose(stored, terms * 3600.0, rtol=1e-6, atol=1.0)
    gas = np.diff(run["oxygen_content"].values[0])
    names = ("oxygen_gas_exchange", "oxygen_production", "oxygen_demand", "oxygen_flow",
             "oxygen_level")  # fmt: skip
    np.testing.assert_allclose(gas, sum(run[n].values[0, 1:] for n in names) / 24.0, atol=1e-9)
    assert run["state_time"].values == run["time"].values[-1]
    assert float(run.attrs["longest_fetch"]) == water.longest_fetch


def test_a_run_tells_the_hours_up_to_its_last_output(monkeypatch):
    told = []
    monkeypatch.setattr(run_module, "simulated", lambda hours, **how: told.append((hours, how)))
    noon = small_lake(longitude=-90.0)  # 18:00 UTC: of three days from midnight the 66th hour
    with listening(lambda text: None):
        for every, hours in (("1h", 72), ("1D", 66)):
            simulate(noon, weather(72), members=2, every=every)
            assert told[-1] == (hours, {"ended": True})
