"""Draws of what is not known exactly: quasi-random points turned into factors."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import UNKNOWNS, Unknown
from filtration.base.errors import InputError

PERCENT = (10.0, 50.0, 90.0)
"""Percentiles of every range that is told: one in ten below, the middle, one in ten above."""

ONE_IN_TEN = 1.2815515655446004
"""Standard normal score with a tenth above it."""

TOLD_SCORES = (-ONE_IN_TEN, 0.0, ONE_IN_TEN)
"""Standard normal scores of ``PERCENT``."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factors:
    """What is not known exactly, one value a draw; (d,) each. Names are those of ``defaults.UNKNOWNS``.

    Factors on a quantity of the central case [-], but for ``onset``, which is added to the solid fraction at which all
    dirt stays on the face [-].
    """

    load_per_dip: Array
    uses: Array
    dust: Array
    deposit_density: Array
    cake_resistance: Array
    permeability: Array
    wound_permeability: Array
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
    box_flow: Array


def check_draws(draws: int, fewest: int, most: int, *, or_none: bool = False) -> None:
    """Refuse a number of draws that is no power of two from the fewest to the most; 0 is good too where none is."""
    if not (or_none and draws == 0) and (not fewest <= draws <= most or draws & (draws - 1)):
        none = "0 or " if or_none else ""
        raise InputError(f"draws: must be {none}a power of two from {fewest} to {most}, got {draws}")


def central_factors(draws: int = 1) -> Factors:
    """Return the central case as so many draws: ones, and no shift of the onset."""
    central = dict.fromkeys(Factors.__slots__, 1.0) | {"onset": 0.0}
    return Factors(**{key: np.full(draws, value) for key, value in central.items()})


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
        What lies after a tee before the housing over what ``return_line`` has for it [-].
    """

    mean: Array
    covariance: Array
    return_factor: float = 1.0

    @property
    def root(self) -> Array:
        """Symmetric root of the covariance, shape (u, u): the one that leaves each unknown closest to its own draw."""
        return symmetric_root(self.covariance)


def symmetric_root(covariance: Array) -> Array:
    """Return the symmetric matrix (u, u) whose square is a covariance, rounding below 0 left out."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def log_spread(unknown: Unknown, spreads: Mapping[str, float]) -> float:
    """Return what a score of 1 stands for, by a study's spreads: of a factor's logarithm, or itself where bounded."""
    return float(np.log(spreads.get(unknown.key, unknown.spread))) if unknown.spread else 1.0


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
        bounded = unknown.low + ndtr(column) * (unknown.high - unknown.low)
        values[unknown.key] = np.exp(log_spread(unknown, spreads) * column) if unknown.spread else bounded
    return Factors(**values)


def tenths(values: Array, axis: int = -1) -> Array:
    """Return 10, 50 and 90 % of values (..., d), each the figure of a case and none between two, shape (3, ...)."""
    return np.asarray(np.percentile(values, PERCENT, axis=axis, method="inverted_cdf"))


def weighted_tenths(values: Array, weights: Array) -> Array:
    """Return the same (3,) of values (d,) of which some count for more than others; of equal weights ``tenths``.

    Examples
    --------
    >>> weighted_tenths(np.array([5.0, 1.0, 9.0, 7.0]), np.array([1.0, 1.0, 0.0, 2.0])).tolist()
    [1.0, 5.0, 7.0]
    """
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order])
    places = np.searchsorted(below, np.array(PERCENT) / 100.0 * below[-1] - 1e-9 * below[-1])
    return np.asarray(values[order][places])


def normal_scores(points: Array) -> Array:
    """Return the standard normal scores of points of the unit cube, of the same shape; none is infinite."""
    from scipy.special import ndtri

    return np.asarray(ndtri(np.clip(points, 1e-9, 1.0 - 1e-9)))


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
    scores = normal_scores(points)
    if belief is None:
        return factors_of(scores, spreads)
    at, central = factors_of(belief.mean + scores @ belief.root, spreads), factors_of(belief.mean[None], spreads)
    ratios = {each.key: getattr(at, each.key) / getattr(central, each.key) for each in UNKNOWNS if each.spread}
    return Factors(**ratios, onset=at.onset - central.onset)


def sobol_points(draws: int, seed: int, size: int = len(UNKNOWNS)) -> Array:
    """Return scrambled Sobol points, the first kept.

    Parameters
    ----------
    draws : int
        A power of two.
    seed : int
        Of the scrambling.
    size : int, optional
        Coordinates of a point; left out, one for each of ``defaults.UNKNOWNS``.

    Returns
    -------
    (draws, size) array
        Points of the unit cube.

    Notes
    -----
    Sobol 1967, scrambled after Owen 1995, by ``scipy.stats.qmc``.
    """
    from scipy.stats import qmc

    return qmc.Sobol(size, scramble=True, rng=seed).random(draws)
