"""Draws of what is not known exactly: quasi-random points turned into factors."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import UNKNOWNS, model
from filtration.base.errors import InputError

PERCENT = (10.0, 50.0, 90.0)
"""Percentiles of every range that is told: one in ten below, the middle, one in ten above."""

ONE_IN_TEN = 1.2815515655446004
"""Standard normal score with a tenth above it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factors:
    """What is not known exactly, one value a draw; (d,) each. Names are those of ``defaults.UNKNOWNS``.

    Factors on a quantity of the central case [-], but for two: ``onset`` is added to the solid fraction at which all
    dirt stays on the face [-], and ``pump_exponent`` is that of a pump known by its two box numbers [-].
    """

    load_per_dip: Array
    uses: Array
    dust: Array
    deposit_density: Array
    cake_resistance: Array
    permeability: Array
    capture_size: Array
    haze: Array
    growth: Array
    rinse_loss: Array
    sum_k: Array
    prices: Array
    slope: Array
    straining_cake: Array
    onset: Array
    pump_exponent: Array


def check_draws(draws: int, fewest: int, most: int, *, or_none: bool = False) -> None:
    """Refuse a number of draws that quasi-random points do not fill evenly, or that is out of bounds.

    Parameters
    ----------
    draws : int
        How many.
    fewest, most : int
        Bounds.
    or_none : bool, optional
        0 is good too.

    Raises
    ------
    InputError
        If ``draws`` is no power of two within the bounds.
    """
    if (or_none and draws == 0) or (fewest <= draws <= most and not draws & (draws - 1)):
        return
    raise InputError(f"draws: must be {'0 or ' if or_none else ''}a power of two from {fewest} to {most}, got {draws}")


def central_factors(draws: int = 1) -> Factors:
    """Return the central case as draws.

    Parameters
    ----------
    draws : int, optional
        How many times.

    Returns
    -------
    Factors
        Ones, no shift of the onset, and the pump exponent of the central case.
    """
    ones = np.ones(draws)
    values = {unknown.key: ones for unknown in UNKNOWNS}
    return Factors(**values | {"onset": 0.0 * ones, "pump_exponent": model("pump.exponent") * ones})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Belief:
    """What is believed of the unknowns: a normal distribution of their scores, in the order of ``defaults.UNKNOWNS``.

    A score is how many standard deviations of the default spread an unknown lies above its default; the spreads of
    ``defaults`` are the belief of mean 0 and covariance 1.

    Parameters
    ----------
    mean : (u,) array
        Mean scores [-].
    covariance : (u, u) array
        Of the scores [-].
    return_factor : float
        What lies after a tee before the housing over what ``tee`` has for it [-].
    """

    mean: Array
    covariance: Array
    return_factor: float = 1.0

    @property
    def root(self) -> Array:
        """Symmetric root of the covariance, shape (u, u): the one that leaves each unknown closest to its own draw."""
        values, vectors = np.linalg.eigh(self.covariance)
        root: Array = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
        return root


def factors_of(scores: Array, spreads: Mapping[str, float]) -> Factors:
    """Turn scores into factors.

    Parameters
    ----------
    scores : (d, u) array
        Standard normal scores, one for each of ``defaults.UNKNOWNS`` [-].
    spreads : mapping of str to float
        Geometric standard deviations over the defaults [-].

    Returns
    -------
    Factors
        One value a row.
    """
    from scipy.special import ndtr

    values = {}
    for unknown, column in zip(UNKNOWNS, scores.T, strict=True):
        if unknown.law == "uniform":
            values[unknown.key] = unknown.low + ndtr(column) * (unknown.high - unknown.low)
        else:
            values[unknown.key] = np.exp(np.log(spreads.get(unknown.key, unknown.spread)) * column)
    return Factors(**values)


def factors_at(points: Array, spreads: Mapping[str, float], belief: Belief | None = None) -> Factors:
    """Turn points of the unit cube into factors on the central case.

    Parameters
    ----------
    points : (d, u) array
        One coordinate for each of ``defaults.UNKNOWNS``, between 0 and 1.
    spreads : mapping of str to float
        Geometric standard deviations over the defaults [-].
    belief : Belief, optional
        What readings say; the central case then lies at its mean.

    Returns
    -------
    Factors
        One value a point.
    """
    from scipy.special import ndtri

    scores = ndtri(np.clip(points, 1e-9, 1.0 - 1e-9))
    if belief is None:
        return factors_of(scores, spreads)
    at, central = factors_of(belief.mean + scores @ belief.root, spreads), factors_of(belief.mean[None], spreads)
    factors = [unknown.key for unknown in UNKNOWNS if unknown.law == "lognormal"]
    ratios = {key: getattr(at, key) / getattr(central, key) for key in factors}
    return Factors(**ratios, onset=at.onset - central.onset, pump_exponent=at.pump_exponent)


def sobol_points(draws: int, seed: int) -> Array:
    """Return scrambled Sobol points, the first kept.

    Parameters
    ----------
    draws : int
        A power of two.
    seed : int
        Of the scrambling.

    Returns
    -------
    (draws, u) array
        Points of the unit cube, one coordinate for each of ``defaults.UNKNOWNS``.

    Notes
    -----
    Sobol 1967, scrambled after Owen 1995, by ``scipy.stats.qmc``.
    """
    from scipy.stats import qmc

    return qmc.Sobol(len(UNKNOWNS), scramble=True, rng=seed).random(draws)


def with_central(factors: Factors | None) -> Factors:
    """Return draws with the central case before them.

    Parameters
    ----------
    factors : Factors or None
        The draws; None for none.

    Returns
    -------
    Factors
        The central case first.
    """
    central = central_factors()
    if factors is None:
        return central
    names = [unknown.key for unknown in UNKNOWNS]
    return Factors(**{name: np.concatenate([getattr(central, name), getattr(factors, name)]) for name in names})
