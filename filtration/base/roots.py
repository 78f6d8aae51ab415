"""Roots of many functions at once."""

from collections.abc import Callable

import numpy as np

from filtration.base.arrays import Array

_SECTIONS = 16


def root_between(
    falling: Callable[[Array], Array],
    low: Array,
    high: Array,
    *,
    tolerance: float = 1e-8,
    steps: int = 60,
    at_ends: tuple[Array, Array] | None = None,
) -> Array:
    """Return the roots of many falling functions at once, by false position (Illinois).

    Parameters
    ----------
    falling : callable
        Functions of a (...) array: above 0 left of the root, below 0 right of it.
    low, high : (...) array
        Bounds; a bound itself is returned where there is no root between them.
    tolerance : float, optional
        Last change of a root over its size at which to stop [-].
    steps : int, optional
        Most evaluations.
    at_ends : pair of (...) arrays, optional
        The functions at the bounds, where they are known.

    Returns
    -------
    (...) array
        The roots, each the same whatever stands beside it.
    """
    a, b = np.array(low, dtype=np.float64), np.array(high, dtype=np.float64)
    fa, fb = at_ends or (falling(a), falling(b))
    at_low, at_high = fa <= 0.0, fb >= 0.0
    root, kept, done = b, np.zeros(a.shape, dtype=np.int8), at_low | at_high
    for _ in range(steps):
        span = np.where(fa == fb, 1.0, fa - fb)
        trial = np.where(fa == fb, 0.5 * (a + b), np.clip(a + fa * (b - a) / span, a, b))
        value = falling(trial)
        settled = np.abs(trial - root) <= tolerance * np.abs(trial)
        root = np.where(done, root, trial)
        done |= settled
        if done.all():
            break
        left = value > 0.0
        fa = np.where(left, value, np.where(kept == 1, 0.5 * fa, fa))
        fb = np.where(left, np.where(kept == -1, 0.5 * fb, fb), value)
        a, b = np.where(left, trial, a), np.where(left, b, trial)
        kept = np.where(left, -1, 1).astype(np.int8)
    return np.where(at_low, low, np.where(at_high, high, root))


def root_by_sections(falling: Callable[[Array], Array], low: Array, high: Array, *, rounds: int) -> Array:
    """Return the roots of some falling functions at once, cutting what holds each into sixteen, so many times.

    Few functions cost as much as a few thousand, so that this takes a fraction of the time of ``root_between`` there.

    Parameters
    ----------
    falling : callable
        Functions of a (17, ...) array: above 0 left of the root, below 0 right of it.
    low, high : (...) array
        Bounds; a bound itself is returned where there is no root between them.
    rounds : int
        The last sixteenth is taken as straight: three rounds leave about a ten-millionth of the first bounds.

    Returns
    -------
    (...) array
        The roots, each the same whatever stands beside it.
    """
    parts = np.linspace(0.0, 1.0, _SECTIONS + 1).reshape(-1, *[1] * low.ndim)
    for _ in range(rounds):
        at = low + parts * (high - low)
        value = falling(at)
        right = np.clip((value > 0.0).argmin(axis=0), 1, _SECTIONS)[None]
        right = np.where((value > 0.0).all(axis=0), _SECTIONS, right)
        low, high = (np.take_along_axis(at, right + side, axis=0)[0] for side in (-1, 0))
        left, beyond = (np.take_along_axis(value, right + side, axis=0)[0] for side in (-1, 0))
    part = np.clip(left / np.where(left > beyond, left - beyond, 1.0), 0.0, 1.0)
    return np.asarray(np.where(beyond >= 0.0, high, low + part * (high - low)))
