"""What would show in the boat that the layers are back, from the simulation's own traces."""

from dataclasses import dataclass

import numpy as np

from lakekit.strata.events import event_threshold, layered

UNDER_THE_SKIN = 1.0  # m: a step is taken from here down, so that no warm skin is taken for it
LEAST_RIGHT = 0.7  # share of such noons on which the layers are back; a sign less sure is not told
LEAST_SEEN = 0.3  # share of the noons with layers back that show the sign
FEWEST = 20  # noons of either kind
STEPS = np.arange(2, 19)  # of the unit that signs are told in, tried as a probe's step


@dataclass(frozen=True)
class Sign:
    """A sign that the layers are back."""

    value: float  # degC: the surface's temperature, or the step
    depth: float | None  # m by which a probe finds the step; None: the surface, two noons running
    right: float  # share of the noons that show it on which the layers are back
    seen: float  # share of the noons with the layers back that show it


def boat_signs(before, noons, *, kind, unit):
    """The surface temperature and the probe's step that best tell that the layers are back.

    Parameters
    ----------
    before : xarray.Dataset
        The state before the front, layers on ``member``.
    noons : xarray.Dataset
        Noons ahead on (trace, member, time, depth): ``water_temperature`` and layers.
    kind : str
        ``broken``: back is layered again; ``deeper``: back is the thermocline at its old depth.
    unit : float
        Signs are told in whole such steps [degC].

    Returns
    -------
    dict of str to Sign
        ``surface`` and ``step``, each where it tells well enough. The threshold is the one with
        the greatest share of noons told right in both kinds (Youden 1950, from memory).
    """
    old = before["lasting_thermocline_depth"].to_numpy()
    temperature = noons["water_temperature"].transpose("trace", "member", "time", "depth")
    thermocline = noons["lasting_thermocline_depth"].transpose("trace", "member", "time")
    thermocline = thermocline.to_numpy()
    there = layered(noons).transpose("trace", "member", "time").to_numpy()
    there = there & np.isfinite(thermocline)
    if kind == "deeper":
        there &= thermocline <= old[None, :, None] + event_threshold("deepened")
    found = {}
    if min(there[..., 1:].sum(), (~there[..., 1:]).sum()) < FEWEST:
        return found
    surface = noons["surface_temperature"].transpose("trace", "member", "time").to_numpy()
    two = np.minimum(surface[..., 1:], surface[..., :-1])
    tried = unit * np.arange(np.floor(two.min() / unit), np.ceil(two.max() / unit) + 1)
    best = _best(two, there[..., 1:], tried)
    if best is not None:
        found["surface"] = Sign(best[0], None, *best[1:])
    depth = noons["depth"].to_numpy()
    deep = float(np.nanmedian(old)) if kind == "deeper" else float(np.median(thermocline[there]))
    deep += event_threshold("deepened")
    step = _at(temperature, depth, UNDER_THE_SKIN) - _at(temperature, depth, deep)
    best = _best(step, there, unit * STEPS)
    if best is not None:
        found["step"] = Sign(best[0], deep, *best[1:])
    return found


def _at(temperature, depth, wanted):
    at = int(np.clip(np.searchsorted(depth, wanted), 1, len(depth) - 1))
    low, high = (temperature.isel(depth=i).to_numpy() for i in (at - 1, at))
    share = np.clip((wanted - depth[at - 1]) / (depth[at] - depth[at - 1]), 0.0, 1.0)
    return low + share * (high - low)


def _best(values, there, tried):
    """The threshold that tells best: (value, right, seen), or None where none tells enough."""
    known = np.isfinite(values)
    values, there = values[known], there[known]
    if not there.any() or there.all():
        return None
    gain = [(values >= x)[there].mean() - (values >= x)[~there].mean() for x in tried]
    if max(gain) < LEAST_SEEN:
        return None
    value = float(tried[int(np.argmax(gain))])
    shown = values >= value
    if not shown.any():
        return None
    right, seen = float(there[shown].mean()), float(shown[there].mean())
    return (value, right, seen) if right >= LEAST_RIGHT and seen >= LEAST_SEEN else None
