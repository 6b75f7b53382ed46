"""Layers of a water column: thermocline, mixed layer, fall zone, stability, oxygen floor.

Definitions, the same for simulated and measured profiles:

- **Stratified**: top and bottom values differ by more than 2 degC. Colder above (under ice) is
  also flagged as ``inverse``.
- **Thermocline**: centre of the steepest density step across a 1 m window on a 0.1 m grid from
  the top to the bottom value, where stratified; where several windows in a row hold the same
  step, the middle of them. In water shallower than 1.1 m the window is the whole profile.
- **Lasting thermocline**: the same step sought below the first metre, where the water at 1 m is
  more than 2 degC warmer than the bottom: what a skin warmed that day can't make or hide. The
  Wedderburn number is of this one where there is one.
- **Mixed layer**: depth at which temperature differs by 0.8 degC from that at 1 m (0.8 degC: Kara,
  Rochford & Hurlburt 2000, J. Geophys. Res. 105:16803-16821, from memory; at 25 degC that is
  0.2 kg/m3. Their reference in the sea is 10 m, for the same reason as 1 m here: a skin warmed
  that day is not the layer), at most the thermocline; the bottom where nothing differs so.
- **Fall zone**: the water around the thermocline that cools by 1 degC or more in a metre
  (Birge 1897, as in Hutchinson 1957, A Treatise on Limnology 1; from memory), cut back at both
  ends to where it does so within a grid cell, and above to the mixed layer; NaN where the
  steepest metre falls short of that.
- **Oxygen floor**: the shallowest depth below which oxygen stays under the limit, linear between
  depths; NaN where the deepest value is at or above it.
"""

import numpy as np
import pandas as pd
import xarray as xr

from lakekit.column.water import density
from lakekit.constants import GRAVITY
from lakekit.strata import profile

MIXED_STEP = 0.8  # degC, Kara et al. 2000, from memory
FALL_ZONE_GRADIENT = 1.0  # degC/m, Birge 1897, from memory
OXYGEN_ZONE = (4.0, 3.0, 2.0)  # mg/L: enough, limit, least, where no species is named
OXYGEN_LIMIT = OXYGEN_ZONE[1]

_ATTRIBUTES = {
    "thermocline_depth": ("m", "depth of the steepest density step across 1 m"),
    "lasting_thermocline_depth": ("m", "depth of the steepest density step below the first metre"),
    "mixed_layer_depth": ("m", "depth of the mixed layer"),
    "fall_zone_top": ("m", "top of the fall zone"),
    "fall_zone_bottom": ("m", "bottom of the fall zone"),
    "schmidt_stability": ("J m-2", "Schmidt stability"),
    "wedderburn_number": ("1", "Wedderburn number"),
    "oxygen_floor_depth": ("m", "depth below which oxygen stays under the limit"),
    "surface_temperature": ("degC", "mean water temperature from 0 to 1 m"),
    "bottom_temperature": ("degC", "water temperature at the deepest reading"),
    "surface_skin": ("degC", "top water temperature less that 1 m below it"),
    "stratified": (None, "top and bottom differ by more than 2 degC"),
    "inverse": (None, "stratified with the colder water above"),
}


def stratification(run, *, oxygen_limit=OXYGEN_LIMIT, fetch=None):
    """Find the layers in every profile of a Dataset.

    Parameters
    ----------
    run : xarray.Dataset
        ``water_temperature`` [degC] on ``depth`` and any other dimensions, such as (member,
        time, depth); NaN where there is no reading. Used where present:
        ``dissolved_oxygen`` [mg/L], ``area`` [m2] at the depths, ``wind_stress`` [N/m2], and the
        attributes ``surface_area`` [m2] and ``longest_fetch`` [m].
    oxygen_limit : float
        [mg/L]
    fetch : float, optional
        Length of the lake along the wind for the Wedderburn number [m]; default: the
        attribute, else the diameter of a circle of the surface area.

    Returns
    -------
    xarray.Dataset
        On ``run``'s dimensions but depth; NaN where undefined or an input is absent.

    Raises
    ------
    ValueError
        When temperature or depth is absent, or depth does not rise.

    Examples
    --------
    >>> stratification(run)["thermocline_depth"].attrs["units"]
    'm'
    """
    if "water_temperature" not in run or "depth" not in run["water_temperature"].dims:
        raise ValueError("stratification needs water_temperature on a depth dimension")
    depth = np.ascontiguousarray(run["depth"].to_numpy(), dtype=np.float64)
    if not np.all(np.diff(depth) > 0) or not np.all(np.isfinite(depth)):
        raise ValueError("stratification needs finite depths that rise")
    temperature = run["water_temperature"].transpose(..., "depth")
    dims, shape = temperature.dims[:-1], temperature.shape[:-1]
    t = _flat(temperature, depth)
    coords = {k: v for k, v in temperature.coords.items() if "depth" not in v.dims}

    if "area" in run:
        area = _flat(run["area"].broadcast_like(temperature).transpose(*temperature.dims), depth)
    else:
        area = np.full(t.shape, np.nan)
    surface_area = _surface_area(area, depth, run.attrs.get("surface_area"))
    table = profile.scan_profiles(
        depth, t, density(t), area, surface_area, GRAVITY, FALL_ZONE_GRADIENT, MIXED_STEP
    )
    difference = table[:, profile.DIFFERENCE]
    stratified = np.abs(difference) > profile.LAYERED_DIFFERENCE

    thermocline, seasonal = table[:, profile.THERMOCLINE], table[:, profile.LASTING]
    interface = np.where(np.isnan(seasonal), thermocline, seasonal)
    if "wind_stress" in run:
        stress = run["wind_stress"].broadcast_like(temperature.isel(depth=0, drop=True))
        stress = np.asarray(stress.transpose(*dims).to_numpy(), dtype=np.float64).reshape(-1)
    else:
        stress = np.full(len(t), np.nan)
    if fetch is None:
        fetch = run.attrs.get("longest_fetch", 2.0 * np.sqrt(surface_area / np.pi))
    values = {
        "thermocline_depth": thermocline,
        "lasting_thermocline_depth": seasonal,
        "mixed_layer_depth": table[:, profile.MIXED],
        "fall_zone_top": table[:, profile.FALL_TOP],
        "fall_zone_bottom": table[:, profile.FALL_BOTTOM],
        "schmidt_stability": table[:, profile.SCHMIDT],
        "wedderburn_number": wedderburn_number(
            table[:, profile.DENSITY_STEP], interface, wind_stress=stress, fetch=fetch
        ),
        "oxygen_floor_depth": np.full(len(t), np.nan),
        "surface_temperature": table[:, profile.SURFACE],
        "bottom_temperature": table[:, profile.BOTTOM],
        "surface_skin": table[:, profile.SKIN],
        "stratified": stratified,
        "inverse": stratified & (difference < 0),
    }
    if "dissolved_oxygen" in run:
        oxygen = run["dissolved_oxygen"].broadcast_like(temperature).transpose(*temperature.dims)
        values["oxygen_floor_depth"] = profile.scan_floor(
            depth, _flat(oxygen, depth), float(oxygen_limit)
        )
    layers = xr.Dataset(coords=coords)
    for name, flat in values.items():
        unit, long_name = _ATTRIBUTES[name]
        layers[name] = (dims, flat.reshape(shape))
        layers[name].attrs["long_name"] = long_name
        if unit:
            layers[name].attrs["units"] = unit
    layers["oxygen_floor_depth"].attrs["oxygen_limit"] = float(oxygen_limit)
    layers.attrs = {k: v for k, v in run.attrs.items() if k != "title"}
    return layers


def run_layers(run, lake, *, oxygen_zone=OXYGEN_ZONE):
    """Layers of a run, with the edges of the low-oxygen zone and whether there is ice.

    Parameters
    ----------
    run : xarray.Dataset
        From ``simulate`` or ``forward_traces``.
    lake : Lake
        For its longest fetch and its hemisphere.
    oxygen_zone : (float, float, float)
        Enough, limit and least [mg/L].

    Returns
    -------
    xarray.Dataset
        As from ``stratification``, and ``oxygen_zone_top``, ``oxygen_zone_bottom`` [m], ``ice``.
    """
    enough, limit, least = oxygen_zone
    layers = stratification(run, oxygen_limit=limit, fetch=lake.longest_fetch)
    depth, oxygen = run["depth"].to_numpy(), run["dissolved_oxygen"].transpose(..., "depth")
    for name, level in (("top", enough), ("bottom", least)):
        edge = oxygen_floor_depth(oxygen.to_numpy(), depth, limit=level)
        layers[f"oxygen_zone_{name}"] = (oxygen.dims[:-1], edge)
    layers["ice"] = run["ice_thickness"] > 0.0
    layers.attrs["latitude"] = lake.latitude
    return layers


def oxygen_floor_depth(oxygen, depth, *, limit=OXYGEN_LIMIT):
    """Find the shallowest depth below which oxygen stays under a limit.

    Parameters
    ----------
    oxygen : (..., z) array_like
        [mg/L]; NaN where there is no reading.
    depth : (z,) array_like
        [m], rising.
    limit : float
        [mg/L]; 2 and 4 are the edges of the zone shown to anglers, 3 its middle.

    Returns
    -------
    (...) float64
        [m]; NaN where the deepest reading is at or above the limit.
    """
    oxygen = np.asarray(oxygen, dtype=np.float64)
    depth = np.ascontiguousarray(depth, dtype=np.float64)
    flat = np.ascontiguousarray(oxygen.reshape(-1, oxygen.shape[-1]))
    floor = profile.scan_floor(depth, flat, float(limit)).reshape(oxygen.shape[:-1])
    return floor[()]


def schmidt_stability(temperature, depth, area, *, surface_area=None):
    """Work per area that would mix a lake to one density without heat.

    Parameters
    ----------
    temperature : (..., z) array_like
        [degC]
    depth : (z,) array_like
        Middles of the layers [m], rising.
    area : (z,) array_like
        Area at those depths [m2].
    surface_area : float, optional
        [m2]; default: the line through the two topmost areas, at the surface.

    Returns
    -------
    (...) float64
        [J/m2], layers taken as uniform.

    References
    ----------
    Idso 1973, Limnol. Oceanogr. 18:681-683, without the factor g (from memory):
    S = (g / A0) Int (z - z_v) rho A dz, z_v the depth of the volume's centre.
    """
    run = xr.Dataset(
        {"water_temperature": (_names(temperature), temperature), "area": ("depth", area)},
        coords={"depth": np.asarray(depth, dtype=np.float64)},
    )
    if surface_area is not None:
        run.attrs["surface_area"] = surface_area
    return stratification(run)["schmidt_stability"].to_numpy()[()]


def wedderburn_number(density_step, layer_depth, *, wind_stress, fetch):
    """Compare the layers' resistance with the wind's push on the upper layer.

    Parameters
    ----------
    density_step : array_like
        Mean density below the thermocline less that above it [kg/m3].
    layer_depth : array_like
        Depth of the upper layer [m].
    wind_stress : array_like
        [N/m2]; zero gives infinity.
    fetch : array_like
        Length of the lake along the wind [m].

    Returns
    -------
    float64
        [1]; 1 or less: deep water can reach the surface upwind.

    References
    ----------
    Thompson & Imberger 1980: W = g' h^2 / (u*^2 L); the reference density cancels:
    W = g drho h^2 / (tau L).
    """
    density_step, layer_depth, wind_stress, fetch = np.broadcast_arrays(
        *(np.asarray(v, np.float64) for v in (density_step, layer_depth, wind_stress, fetch))
    )
    resistance = GRAVITY * density_step * layer_depth**2
    return _ratio(resistance, wind_stress * fetch)


def measured_profiles(frame):
    """Turn a long table of readings into profiles.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns ``time``, ``depth`` [m], ``temperature`` [degC] and, where read, ``oxygen``
        [mg/L]. Readings at the same time and depth are averaged.

    Returns
    -------
    xarray.Dataset
        ``water_temperature`` and, where there is a column, ``dissolved_oxygen`` on (time,
        depth); NaN where not read.
    """
    names = {"temperature": "water_temperature", "oxygen": "dissolved_oxygen"}
    columns = [name for name in names if name in frame]
    table = frame.groupby(["time", "depth"], sort=True)[columns].mean()
    profiles = xr.Dataset.from_dataframe(table).rename({c: names[c] for c in columns})
    units = {"water_temperature": "degC", "dissolved_oxygen": "mg L-1"}
    for name in profiles.data_vars:
        profiles[name].attrs["units"] = units[name]
        profiles[name] = profiles[name].astype(np.float64)
    return profiles.assign_coords(time=pd.DatetimeIndex(profiles["time"].to_numpy()))


def _flat(array, depth):
    return np.ascontiguousarray(array.to_numpy(), dtype=np.float64).reshape(-1, len(depth))


def _names(array):
    return [f"axis_{i}" for i in range(np.ndim(array) - 1)] + ["depth"]


def _surface_area(area, depth, given):
    if given is not None:
        return np.full(len(area), float(given))
    if len(depth) < 2:
        return area[:, 0]
    slope = (area[:, 0] - area[:, 1]) / (depth[1] - depth[0])
    return area[:, 0] + slope * depth[0]


def _ratio(resistance, push):
    ratio = np.full(resistance.shape, np.nan)
    known = np.isfinite(resistance) & np.isfinite(push)
    np.divide(resistance, push, out=ratio, where=known & (push > 0))
    ratio[known & (push <= 0) & (resistance > 0)] = np.inf
    return ratio[()]
