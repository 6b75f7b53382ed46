"""Narrow the uncertain parameters with a few probe readings, without overfitting them."""

import numpy as np
import pandas as pd

from ..weather.forcing import prepare_forcing
from .parameters import NAMES, as_dataset, from_standard, symmetric_root, to_standard
from .readings import check_readings, error_covariance, lake_readings, predictions, scored
from .run import simulate

ENSEMBLE = 48
STEPS = 4  # of assimilation, equally inflated
LONGEST_DAYS = 400  # of weather before the first reading: a whole year forgets any start
HOLD_OUT_ENSEMBLE = 24
DROPPED = 2.5  # standard scores beyond which a member is not believed
YEARLY_SHARE = 0.6  # of a parameter's prior variance that differs between years of one lake


def smooth(scores, simulated, observed, covariance, *, steps, random):
    """One step of the ensemble smoother with multiple data assimilation.

    Parameters
    ----------
    scores : array (members, p), parameters as standard scores
    simulated : array (members, n), what each member predicts for the readings
    observed : array (n,)
    covariance : array (n, n), of the readings' errors, those of the column itself included
    steps : int, how often the same readings are used; the covariance is inflated by it
    random : numpy Generator

    Returns
    -------
    array (members, p)

    References
    ----------
    Emerick & Reynolds 2013, Computers & Geosciences 55:3-15, doi:10.1016/j.cageo.2012.03.011,
    eqs. 2-4 with constant inflation (the sum of 1 / inflation is 1). With a linear model and many
    members it gives the Gaussian posterior.
    """
    members = scores.shape[0]
    inflated = steps * covariance
    spread = simulated - simulated.mean(axis=0)
    cross = (scores - scores.mean(axis=0)).T @ spread / (members - 1)
    within = spread.T @ spread / (members - 1)
    root = np.linalg.cholesky(inflated + 1e-10 * np.eye(len(observed)))
    noise = random.standard_normal((members, len(observed))) @ root.T
    noise -= noise.mean(axis=0)
    gain = np.linalg.solve(within + inflated, cross.T).T
    return scores + (observed + noise - simulated) @ gain.T


def assimilate(lake, forcing, readings, *, ensemble, seed):
    """Posterior standard scores (ensemble, p) from one set of readings."""
    random = np.random.default_rng(seed)
    scores = random.standard_normal((ensemble, len(NAMES)))
    scores -= scores.mean(axis=0)
    scores /= scores.std(axis=0)
    covariance = error_covariance(readings)
    observed = readings["value"].to_numpy()
    for _ in range(STEPS):
        simulated = _predicted(lake, forcing, scores, readings)
        scores = smooth(scores, simulated, observed, covariance, steps=STEPS, random=random)
        scores = np.clip(scores, -DROPPED, DROPPED)
    return scores


def other_years(scores, years):
    """What a fit to some years says of the lake in any other year.

    Each year has parameters of its own (its weather record, clarity and level err anew) about the
    lake's: of the prior variance a share lies between years, the rest between lakes. A fit to
    the readings of ``years`` years is a measurement of the lake's parameters with the variance of
    the fit and, over the number of years, of the years between them.

    Parameters
    ----------
    scores : array (members, p), posterior standard scores of the years with readings
    years : int

    Returns
    -------
    mean : array (p,) and covariance : array (p, p) of another year's standard scores

    Notes
    -----
    With ``Q`` the inverse of the scores' covariance and ``D = Q - 1`` what the readings added to
    a unit prior: mean ``t (a D + 1)^-1 Q z`` and covariance ``1 - t^2 D (a D + 1)^-1``, where
    ``t`` is the share between lakes, ``a = t + (1 - t) / years`` (conjugate normal model).
    """
    size = scores.shape[1]
    unit = np.eye(size)
    spread, axes = np.linalg.eigh(np.cov(scores.T))
    precision = (axes / np.clip(spread, 1e-4, 1.0)) @ axes.T
    added = precision - unit
    between = 1.0 - YEARLY_SHARE
    scale = between + YEARLY_SHARE / years
    solved = np.linalg.inv(scale * added + unit)
    mean = between * solved @ precision @ scores.mean(axis=0)
    covariance = unit - between**2 * added @ solved
    return mean, 0.5 * (covariance + covariance.T)


def _predicted(lake, part, scores, readings):
    """What members of standard scores say for the readings: array (members, n)."""
    ahead = readings["time"].min() - pd.Timestamp(part["time"].values[0])
    run = simulate(
        lake, part, parameters=as_dataset(from_standard(np.atleast_2d(scores), lake)),
        spin_up=ahead < pd.Timedelta(days=300), every=readings["time"],
    )  # fmt: skip
    return predictions(run, readings)


def needed_weather(forcing, readings):
    """The weather that the readings need: a year and a winter before the first, to the last."""
    first = readings["time"].min() - pd.Timedelta(days=LONGEST_DAYS)
    last = readings["time"].max() + pd.Timedelta(days=2)
    part = forcing.sel(time=slice(first, last))
    return part if part.sizes["time"] >= 48 else forcing


def _hold_out(lake, forcing, readings, *, seed):
    """Errors on each year from a fit to the other years, beside those before any fit."""
    years = readings["time"].dt.year
    rows = []
    for year in sorted(years.unique()):
        kept, out = readings[years != year], readings[years == year]
        scores = assimilate(
            lake, needed_weather(forcing, kept), kept, ensemble=HOLD_OUT_ENSEMBLE, seed=seed
        )
        middle, _ = other_years(scores, kept["time"].dt.year.nunique())
        both = np.vstack([np.zeros(len(NAMES)), middle])
        simulated = _predicted(lake, needed_weather(forcing, out), both, out)
        before, after = (scored(out, simulated[m]) for m in (0, 1))
        rows.append(
            {"year": int(year), "before": before, "after": after, "casts": out.cast.nunique()}
        )
    return pd.DataFrame(rows)


def fit_lake(lake, weather, probe, *, members=20, seed=0, hold_out=True):
    """Fit a lake's uncertain parameters to probe readings.

    Parameters
    ----------
    lake : Lake
    weather : Dataset, hourly, raw or prepared, that covers the readings
    probe : DataFrame with ``time`` (UTC), ``depth`` [m], ``temperature`` [degC] and optionally
        ``lake``, ``oxygen`` [mg/L], ``row``; readings of the surface alone count too
    members : int, how many to return; member 0 is the middle of the posterior
    seed : int
    hold_out : bool
        Test the fit on each whole year from the others, where there are two or more, and shrink
        it toward the defaults where it does worse than they do.

    Returns
    -------
    Dataset as from ``draw_parameters``; its attributes say what the fit was worth

    Raises
    ------
    ProbeError
        When no reading belongs to this lake and weather, or readings cannot be right.

    References
    ----------
    Emerick & Reynolds 2013 (:func:`smooth`), with errors correlated in depth and time, so that a
    cast of forty readings counts for the two or three pieces of news that it is.

    Examples
    --------
    >>> fitted = fit_lake(lake, weather.sel(time=slice("2026-03-01", None)), probe, members=4,
    ...                   hold_out=False)
    >>> run = simulate(lake, weather, parameters=fitted, members=4)
    """
    forcing = prepare_forcing(weather, lake)
    readings = lake_readings(lake, probe, forcing)
    part = needed_weather(forcing, readings)
    before = _predicted(lake, part, np.zeros(len(NAMES)), readings)[0]
    check_readings(readings, before, where=lake.key)
    scores = assimilate(lake, part, readings, ensemble=max(ENSEMBLE, members), seed=seed)
    years = readings["time"].dt.year.nunique()
    share = 1.0
    attrs = {
        "fitted": lake.key,
        "fit_casts": int(readings["cast"].nunique()),
        "fit_readings": len(readings),
        "fit_years": int(years),
    }
    if hold_out and years > 1:
        tested = _hold_out(lake, forcing, readings, seed=seed)
        weights = tested["casts"] / tested["casts"].sum()
        old = float((tested["before"] * weights).sum())
        new = float((tested["after"] * weights).sum())
        share = 1.0 if new <= old else float(np.clip(1.0 - (new - old) / (0.25 * old), 0.0, 1.0))
        attrs |= {
            "held_out_error_before": old,
            "held_out_error_after": new,
            "held_out_years": tested["year"].to_numpy(),
        }
    else:
        attrs["held_out_note"] = "one year of readings: nothing could be held out"
    middle, covariance = other_years(scores, years)
    # a fit that fails on years it has not seen gives way to the prior, spread and all
    middle = share * middle
    covariance = share * covariance + (1.0 - share) * np.eye(len(NAMES))
    random = np.random.default_rng([seed, 1])
    out = np.empty((members, len(NAMES)))
    out[0] = middle
    if members > 1:
        drawn = random.standard_normal((members - 1, len(NAMES)))
        out[1:] = middle + drawn @ symmetric_root(covariance)
    parameters = as_dataset(from_standard(np.clip(out, -DROPPED, DROPPED), lake))
    attrs["fit_weight"] = share
    attrs["error_before"] = scored(readings, before)
    attrs["error_after"] = scored(readings, _predicted(lake, part, out[0], readings)[0])
    attrs["error_unit"] = "root mean square over temperature readings, degC"
    parameters.attrs = attrs
    return parameters


def transfer(parameters, source, target, *, share=1.0):
    """Parameters of one lake carried to another: a share of its departures from its defaults."""
    values = np.column_stack([parameters[name].values for name in NAMES])
    return as_dataset(from_standard(share * to_standard(values, source), target))
