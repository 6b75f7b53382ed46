"""When a reading is worth most: the day that would take most of the members' spread away."""

import numpy as np

from lakekit.strata.spread import SOON

EVERY = 3  # days between the days that are weighed


def reading_worth(temperature):
    """How much of the spread of the weeks after it a cast on each day would take away.

    A cast at every depth tells the members apart by what they say at those depths. What is known
    of a member's temperature on one day tells of the same depth later as far as the two go
    together over members: of the variance of a later day it takes the square of their correlation.

    Parameters
    ----------
    temperature : (trace, member, day, depth) array [degC]
        Noon of each day ahead, NaN below the bottom; the weather differs by trace, the lake's
        uncertain parameters and water by member.

    Returns
    -------
    (day,) float64 [degC2 days]
        Mean over traces and depths of the variance taken, summed over the five weeks after; NaN
        where those five weeks are not all known, and on days that are not weighed (two of three).
    """
    values = np.asarray(temperature, dtype=np.float64)
    known = np.isfinite(values).all(axis=(0, 1, 2))
    away = values[..., known] - values[..., known].mean(axis=1, keepdims=True)
    days = away.shape[2]
    worth = np.full(days, np.nan)
    variance = (away**2).mean(axis=1)
    for day in range(0, days - SOON, EVERY):
        later = slice(day, day + SOON + 1)
        together = (away[:, :, day : day + 1] * away[:, :, later]).mean(axis=1)
        taken = together**2 / np.maximum(variance[:, day : day + 1], 1e-12)
        worth[day] = taken.sum(axis=1).mean()
    return worth
