"""The basin: depth-area curve, layers and water level."""

from dataclasses import dataclass

import numpy as np

from ..errors import ClubError

TARGET_LAYERS = 40
THINNEST, THICKEST = 0.25, 1.0  # m


@dataclass(frozen=True)
class Basin:
    """Layers of equal thickness below full pond; index 0 is the top.

    Attributes
    ----------
    thickness : float [m]
    faces : array (n + 1,) [m] below full pond
    centres : array (n,) [m] below full pond
    face_areas : array (n + 1,) [m2]; the last is 0, so that a flat bottom counts as sediment
    volumes : array (n,) [m3]
    table_depths, table_areas : arrays (k,), the depth-area curve
    table_volumes : array (k,) [m3] below each depth of the table
    """

    thickness: float
    faces: np.ndarray
    centres: np.ndarray
    face_areas: np.ndarray
    volumes: np.ndarray
    table_depths: np.ndarray
    table_areas: np.ndarray
    table_volumes: np.ndarray

    @property
    def layers(self):
        return self.centres.size


def layer_thickness(max_depth):
    """Thickness that gives about 40 layers, held between 0.25 and 1 m."""
    return float(np.clip(max_depth / TARGET_LAYERS, THINNEST, THICKEST))


def make_basin(lake, *, thickness=None):
    """Cut a lake into layers.

    Parameters
    ----------
    lake : Lake, with ``depths`` [m] and ``areas`` [m2] from full pond down
    thickness : float, optional [m]; adjusted so that whole layers reach the bottom

    Returns
    -------
    Basin

    Raises
    ------
    ClubError
        When the depth-area curve has no water below its surface.
    """
    depths, areas = np.asarray(lake.depths, float), np.asarray(lake.areas, float)
    if depths.size < 2 or depths[-1] <= depths[0] or areas[0] <= 0:
        raise ClubError(
            "the depth-area curve holds no water",
            where=lake.key,
            mend="give areas at two depths or more, the first at the surface",
        )
    depths = depths - depths[0]
    wanted = thickness or layer_thickness(depths[-1])
    count = max(4, round(depths[-1] / wanted))
    faces = np.linspace(0.0, depths[-1], count + 1)
    steps = 0.5 * (areas[1:] + areas[:-1]) * np.diff(depths)
    below = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
    face_areas = np.interp(faces, depths, areas)
    face_areas[-1] = 0.0
    volumes = -np.diff(_volume_below(faces, depths, areas, below))
    return Basin(
        thickness=float(faces[1]),
        faces=faces,
        centres=0.5 * (faces[1:] + faces[:-1]),
        face_areas=face_areas,
        volumes=np.maximum(volumes, 1e-3),
        table_depths=depths,
        table_areas=areas,
        table_volumes=below,
    )


def _volume_below(depth, depths, areas, below):
    depth = np.clip(depth, depths[0], depths[-1])
    cell = np.clip(np.searchsorted(depths, depth, side="right") - 1, 0, depths.size - 2)
    area = np.interp(depth, depths, areas)
    return below[cell + 1] + 0.5 * (area + areas[cell + 1]) * (depths[cell + 1] - depth)


def volume_below(basin, depth):
    """Volume [m3] below ``depth`` [m under full pond], the area linear between table depths."""
    return _volume_below(
        np.asarray(depth, float), basin.table_depths, basin.table_areas, basin.table_volumes
    )


def area_at(basin, depth):
    """Area [m2] at ``depth`` [m under full pond]; 0 below the bottom."""
    return np.interp(
        depth, basin.table_depths, basin.table_areas, left=basin.table_areas[0], right=0.0
    )


def monthly_to_hourly(monthly, times):
    """Carry twelve monthly values to ``times``: each holds at mid-month, linear between.

    Parameters
    ----------
    monthly : array (12,)
    times : array (t,) datetime64

    Returns
    -------
    array (t,)
    """
    times = np.asarray(times, "datetime64[s]")
    monthly = np.asarray(monthly, float)
    year = times.astype("datetime64[Y]")
    length = ((year + 1).astype("datetime64[s]") - year.astype("datetime64[s]")).astype(float)
    position = (times - year.astype("datetime64[s]")).astype(float) / length * 12.0 - 0.5
    return np.interp(position % 12.0, np.arange(-1, 14), np.resize(np.roll(monthly, 1), 15))
