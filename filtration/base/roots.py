"""Roots of many functions at once."""

from collections.abc import Callable

import numpy as np

from filtration.base.arrays import Array


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
        fa, fb = (
            np.where(left, value, np.where(kept == 1, 0.5 * fa, fa)),
            np.where(left, np.where(kept == -1, 0.5 * fb, fb), value),
        )
        a, b = np.where(left, trial, a), np.where(left, b, trial)
        kept = np.where(left, -1, 1).astype(np.int8)
    return np.where(at_low, low, np.where(at_high, high, root))
