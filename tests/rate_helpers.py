"""Small logs with known content, for the tests of rates."""

import numpy as np
import pandas as pd


def make_log(*, tactic, fish, hours=2.0, rods=2.0, lake="ash", phase="summer", trip=None,
             angler="", date="2024-06-01"):
    """A log of as many rows as ``fish``; any other argument may be one value or a list."""
    count = len(fish)
    days = pd.to_datetime(date) + pd.to_timedelta(np.arange(count), unit="D")
    table = pd.DataFrame({
        "row": np.arange(count) + 2, "date": days, "start": days + pd.Timedelta(hours=12),
        "hour": np.nan, "fish": np.asarray(fish, dtype=float), "light": "",
    })
    table["trip"] = trip if trip is not None else [f"trip {number}" for number in range(count)]
    for name, value in (("hours", hours), ("rods", rods)):
        table[name] = np.broadcast_to(np.asarray(value, dtype=float), count).copy()
    for name, value in (("tactic", tactic), ("lake", lake), ("phase", phase),
                        ("angler", angler)):
        table[name] = value
    return table


def random_log(count=120, *, seed=0, tactics=4, alpha=0.8):
    """An unremarkable log of several tactics, lakes and phases."""
    random = np.random.default_rng(seed)
    code = random.integers(0, tactics, count)
    hours, rods = random.gamma(4, 0.6, count) + 0.3, random.integers(1, 5, count).astype(float)
    mean = 0.5 * np.exp(random.normal(0, 0.5, tactics)[code]) * hours * rods
    return make_log(
        tactic=[f"t{number}" for number in code], hours=hours, rods=rods,
        fish=random.poisson(mean * random.gamma(1 / alpha, alpha, count)),
        lake=list(random.choice(["ash", "birch"], count)),
        phase=list(random.choice(["spawn", "summer", "fall"], count)),
    )
