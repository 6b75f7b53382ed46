"""Signs in the boat that the layers are back: a known rule read back, none where there is none."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from lakekit.fronts.signals import boat_signs

DEPTH = np.arange(0.25, 10.0, 0.5)


def ahead(*, noise=0.0, traces=4, days=30):
    """Lakes that warm by 0.5 degC a day, layered at 4 m from 24 degC at the surface on."""
    random = np.random.default_rng(2)
    day = np.arange(days)
    start = np.linspace(17.0, 21.0, traces)[:, None, None]
    surface = start + 0.5 * day + noise * random.standard_normal((traces, 2, days))
    there = surface + noise * random.standard_normal(surface.shape) >= 24.0
    dims = ("trace", "member", "time")
    deep = np.where(there, 15.0, surface - 0.5)
    column = np.where(DEPTH < 4.0, surface[..., None], deep[..., None])
    return xr.Dataset(
        {
            "surface_temperature": (dims, surface),
            "stratified": (dims, there),
            "lasting_thermocline_depth": (dims, np.where(there, 4.0, np.nan)),
            "water_temperature": ((*dims, "depth"), column),
        },
        coords={"time": pd.date_range("2025-07-01T18:00", periods=days), "depth": DEPTH},
    )


def before(depth=4.0):
    return xr.Dataset({"lasting_thermocline_depth": ("member", np.full(2, depth))})


def test_a_known_surface_and_step_are_read_back():
    signs = boat_signs(before(), ahead(), kind="broken", unit=0.5)
    # two noons running: the day before was half a degree cooler
    assert signs["surface"].value == pytest.approx(23.5, abs=0.5)
    assert signs["surface"].right > 0.9 and signs["surface"].seen > 0.9
    assert signs["step"].depth == pytest.approx(4.5, abs=1e-9)
    assert signs["step"].value <= 9.0 and signs["step"].right == 1.0


def test_deeper_is_back_when_the_step_stands_at_its_old_depth():
    noons = ahead()
    assert "step" in boat_signs(before(4.0), noons, kind="deeper", unit=0.5)
    assert boat_signs(before(2.0), noons, kind="deeper", unit=0.5) == {}  # never back at 2 m


def test_no_sign_where_the_surface_tells_nothing():
    noons = ahead()
    random = np.random.default_rng(4)
    shuffled = noons["surface_temperature"].copy(
        data=random.permutation(noons["surface_temperature"].to_numpy().ravel()).reshape(4, 2, 30)
    )
    signs = boat_signs(
        before(), noons.assign(surface_temperature=shuffled), kind="broken", unit=0.5
    )
    assert "surface" not in signs


def test_nothing_to_wait_for_has_no_sign():
    noons = ahead()
    always = noons.assign(
        stratified=xr.ones_like(noons["stratified"]),
        lasting_thermocline_depth=noons["lasting_thermocline_depth"].fillna(4.0),
    )
    assert boat_signs(before(), always, kind="broken", unit=0.5) == {}
