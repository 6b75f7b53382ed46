"""Where a lake lies on a grid: the cells around it and their weights.

Two kinds of grid: latitude and longitude along the axes, and a projected one whose cells each
have their latitude and longitude (CF-1.11, section 5.6, wants both of every projected grid).
"""

from dataclasses import dataclass

import numpy as np

from lakekit.errors import WeatherError

EARTH_RADIUS = 6371.0  # km
METHODS = ("bilinear", "nearest")


@dataclass(frozen=True)
class Place:
    """The horizontal axes of a grid."""

    dims: tuple  # (y, x), names in the file
    latitude: np.ndarray  # (ny,) or (ny, nx) degrees north
    longitude: np.ndarray  # (nx,) or (ny, nx) degrees east, -180 to 180

    @property
    def shape(self):
        """Cells along y and x."""
        if self.latitude.ndim == 2:
            return self.latitude.shape
        return self.latitude.size, self.longitude.size

    def same_as(self, other):
        """Whether two files lie on the same cells."""
        return all(
            mine.shape == theirs.shape and np.allclose(mine, theirs, rtol=0.0, atol=1e-4)
            for mine, theirs in (
                (self.latitude, other.latitude),
                (self.longitude, other.longitude),
            )
        )


def read_place(dataset, variable, *, where):
    """The horizontal axes of a variable.

    Raises
    ------
    WeatherError
        Where no latitude and longitude are found.
    """
    array = dataset[variable]
    coordinates = {
        wanted: [
            name
            for name in dataset.variables
            if set(dataset[name].dims) <= set(array.dims)
            and dataset[name].ndim in (1, 2)
            and _is(dataset[name], name, wanted)
        ]
        for wanted in ("latitude", "longitude")
    }
    if not all(coordinates.values()):
        latitude, longitude, dims = _from_projection(dataset, array, where)
        return Place(dims, latitude, wrapped(longitude))
    latitude, longitude = (dataset[names[0]] for names in coordinates.values())
    if latitude.ndim == 2:
        dims = latitude.dims
        longitude = longitude.transpose(*dims)
    else:
        dims = (latitude.dims[0], longitude.dims[0])
    return Place(
        dims,
        latitude.values.astype(np.float64),
        wrapped(longitude.values.astype(np.float64)),
    )


def _is(variable, name, wanted):
    unit = {"latitude": "degrees_north", "longitude": "degrees_east"}[wanted]
    names = (wanted, wanted[:3], f"nav_{wanted[:3]}", f"x{wanted[:4]}", f"x{wanted[:3]}")
    said = variable.attrs.get("standard_name") == wanted or variable.attrs.get("units") == unit
    return said or name.lower() in names


def _from_projection(dataset, array, where):
    mapping = array.attrs.get("grid_mapping") or array.encoding.get("grid_mapping")
    axes = {
        axis: next(
            (
                name
                for name in array.dims
                if name in dataset.coords
                and dataset[name].attrs.get("standard_name") == f"projection_{axis}_coordinate"
            ),
            None,
        )
        for axis in ("y", "x")
    }
    if mapping not in dataset.variables or None in axes.values():
        raise WeatherError(
            "no latitude and longitude are found on its axes",
            where=where,
            mend="CF wants coordinates with units degrees_north and degrees_east.",
        )
    try:
        from pyproj import CRS, Transformer
    except ImportError:
        raise WeatherError(
            "the cells of this projected grid have no latitude and longitude of their own",
            where=where,
            mend="Download it with them, or pip install pyproj, which works them out.",
        ) from None
    projection = CRS.from_cf(dataset[mapping].attrs)
    x, y = np.meshgrid(dataset[axes["x"]].values, dataset[axes["y"]].values)
    longitude, latitude = Transformer.from_crs(
        projection, projection.geodetic_crs, always_xy=True
    ).transform(x, y)
    return latitude, longitude, (axes["y"], axes["x"])


def wrapped(longitude):
    """Longitude [degrees east] from -180 to 180."""
    return (np.asarray(longitude) + 180.0) % 360.0 - 180.0


def cells_around(place, lake, *, method, where):
    """The cells a lake's weather comes from.

    Parameters
    ----------
    place : Place
    lake : Lake
    method : str
        "bilinear" (the four around it) or "nearest".
    where : str
        Grid, for messages.

    Returns
    -------
    cells : (k, 2) int array, places along y and x
    weights : (k,) array, adding up to 1

    Raises
    ------
    WeatherError
        Where the lake lies more than half a cell outside.
    """
    locate = _on_axes if place.latitude.ndim == 1 else _on_curves
    y, x, wraps = locate(place, lake)
    ny, nx = place.shape
    inside = -0.5 <= y <= ny - 0.5 and (wraps or -0.5 <= x <= nx - 0.5)
    if not inside:
        raise WeatherError(
            f"{lake.name} at {lake.latitude:.2f} N, {lake.longitude:.2f} E lies outside the grid, "
            f"which spans {place.latitude.min():.2f} to {place.latitude.max():.2f} N and "
            f"{place.longitude.min():.2f} to {place.longitude.max():.2f} E",
            where=where,
            mend="Download the region around the lake, or mend its latitude and longitude.",
        )
    y = min(max(y, 0.0), ny - 1.0)
    x = x % nx if wraps else min(max(x, 0.0), nx - 1.0)
    if method == "nearest":
        return np.array([[round(y), round(x) % nx]]), np.ones(1)
    low_y, low_x = min(int(y), max(ny - 2, 0)), int(x) if wraps else min(int(x), max(nx - 2, 0))
    part_y, part_x = y - low_y, x - low_x
    cells, weights = [], []
    for step_y, weight_y in ((0, 1.0 - part_y), (1, part_y)):
        for step_x, weight_x in ((0, 1.0 - part_x), (1, part_x)):
            if weight_y * weight_x > 1e-9:
                cells.append((low_y + step_y, (low_x + step_x) % nx))
                weights.append(weight_y * weight_x)
    return np.array(cells), np.array(weights) / np.sum(weights)


def _on_axes(place, lake):
    """Fractional place along latitude and longitude axes, and whether longitude goes round."""
    y = _along(place.latitude, lake.latitude)
    step = np.median(np.abs(wrapped(np.diff(place.longitude)))) if place.longitude.size > 1 else 1.0
    offset = np.cumsum(np.concatenate(([0.0], wrapped(np.diff(place.longitude)))))
    wraps = abs(abs(offset[-1]) + step - 360.0) < 0.01 * step
    target = float(wrapped(lake.longitude - place.longitude[0]))
    spans = [target, target + 360.0, target - 360.0]
    if wraps:
        offset = np.append(offset, offset[-1] + np.sign(offset[-1] or 1.0) * step)
    places = [_along(offset, value) for value in spans]
    middle = (offset.size - 1) / 2
    return y, min(places, key=lambda at: abs(at - middle)), wraps


def _along(axis, value):
    """Fractional index of a value on a monotonic axis, extrapolated past its ends."""
    if axis.size == 1:
        return float(value - axis[0])
    order = 1 if axis[-1] > axis[0] else -1
    sorted_axis = axis[::order]
    at = int(np.clip(np.searchsorted(sorted_axis, value) - 1, 0, axis.size - 2))
    index = at + (value - sorted_axis[at]) / (sorted_axis[at + 1] - sorted_axis[at])
    return float(index if order == 1 else axis.size - 1 - index)


def _on_curves(place, lake):
    """The same on curved axes: Newton's steps on the bilinear map from the nearest cell."""
    north, east = _offsets(place, lake)
    ny, nx = place.shape
    y, x = map(float, np.unravel_index(np.argmin(north**2 + east**2), (ny, nx)))
    for _ in range(20):
        i, j = int(np.clip(y, 0, ny - 2)), int(np.clip(x, 0, nx - 2))
        p, q = y - i, x - j
        value, by_y, by_x = [], [], []
        for field in (north, east):
            a, b, c, d = field[i, j], field[i, j + 1], field[i + 1, j], field[i + 1, j + 1]
            value.append((1 - p) * ((1 - q) * a + q * b) + p * ((1 - q) * c + q * d))
            by_y.append((1 - q) * (c - a) + q * (d - b))
            by_x.append((1 - p) * (b - a) + p * (d - c))
        step_y, step_x = np.linalg.solve(np.array([by_y, by_x]).T, -np.array(value))
        y, x = float(np.clip(y + step_y, -1, ny)), float(np.clip(x + step_x, -1, nx))
        if abs(step_y) + abs(step_x) < 1e-6:
            break
    return y, x, False


def _offsets(place, lake):
    """Distance of every cell north and east of the lake [km] on the plane that touches it."""
    latitude, longitude = np.radians(place.latitude), np.radians(place.longitude - lake.longitude)
    middle = np.radians(lake.latitude)
    towards = np.cos(latitude) * np.cos(longitude)
    north = np.sin(latitude) * np.cos(middle) - towards * np.sin(middle)
    up = np.sin(latitude) * np.sin(middle) + towards * np.cos(middle)
    east = np.cos(latitude) * np.sin(longitude)
    far = up <= 0.1  # beyond the horizon of the plane
    return np.where(far, 1e6, EARTH_RADIUS * north), np.where(far, 1e6, EARTH_RADIUS * east)
