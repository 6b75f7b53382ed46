"""Light: how fast it fades, and how much the surface throws back."""

import numpy as np

NEAR_INFRARED_SHARE = 0.55  # of shortwave, absorbed in the top layer (visible light is 0.45)
POOLE_ATKINS = 1.7  # Poole & Atkins 1929, J. Mar. Biol. Assoc. UK 16:297-324
DIFFUSE_ALBEDO = 0.06  # of an overcast sky (common practice; Cogley 1979 gives 0.06-0.07)
REFRACTIVE_INDEX = 1.333


def attenuation(secchi, *, factor=1.0):
    """Attenuation of visible light from Secchi depth.

    Parameters
    ----------
    secchi : float or array [m], above 0
    factor : float, 1 for the published relation

    Returns
    -------
    float or array [1/m]

    References
    ----------
    Poole & Atkins 1929: 1.7 / Secchi, 0.85 per m at 2 m. Holmes 1970 has 1.44 in turbid water.
    """
    return factor * POOLE_ATKINS / np.asarray(secchi, float)


def direct_albedo(elevation):
    """Share of direct sunlight reflected by calm water: Fresnel's equations, unpolarised.

    Parameters
    ----------
    elevation : float or array [deg] of the sun above the horizon

    Returns
    -------
    float or array, 0 to 1
    """
    zenith = np.radians(90.0 - np.clip(elevation, 0.1, 90.0))
    inside = np.arcsin(np.sin(zenith) / REFRACTIVE_INDEX)
    difference, total = zenith - inside, zenith + inside
    total = np.maximum(total, 1e-6)
    senkrecht = (np.sin(difference) / np.sin(total)) ** 2
    parallel = (np.tan(difference) / np.tan(total)) ** 2
    overhead = ((REFRACTIVE_INDEX - 1) / (REFRACTIVE_INDEX + 1)) ** 2
    return np.where(zenith < 1e-3, overhead, 0.5 * (senkrecht + parallel))


def albedo(elevation, shortwave):
    """Share of shortwave reflected, direct and diffuse light weighted by how clear the sky is.

    Parameters
    ----------
    elevation : array [deg] of the sun
    shortwave : array [W/m2] on the level

    Returns
    -------
    array, 0.02 to 0.5

    Notes
    -----
    The diffuse share falls from 1 below a clearness of 0.25 to 0.2 above 0.75 (the shape of
    Erbs, Klein & Duffie 1982, Solar Energy 28:293-302, straightened; from memory).
    """
    outside = 1361.0 * np.maximum(np.sin(np.radians(elevation)), 0.02)
    clearness = np.clip(np.asarray(shortwave, float) / outside, 0.0, 1.0)
    diffuse = np.interp(clearness, [0.25, 0.75], [1.0, 0.2])
    mixed = diffuse * DIFFUSE_ALBEDO + (1.0 - diffuse) * direct_albedo(elevation)
    return np.clip(mixed, 0.02, 0.5)
