"""Where a case stands in a table along its clock: places between two points, found by halving or counting.

Shapes: d cases, e some of them, k points of a table; cases come last.
"""

from collections.abc import Callable

import numpy as np

from filtration.base.arrays import Array, Flags, Rows, Single

_COUNTED = 8192  # so many comparisons at once cost less than halving step by step

Spot = tuple[Rows, Array]  # a place in a table and the part of the way to the next, for each case
Somewhere = Spot | tuple[Rows, None]


def crossing(under: Array, beyond: Array) -> Array:
    """Return the part of the way at which a line from ``under`` to ``beyond`` crosses 0, between 0 and 1."""
    part: Array = np.minimum(np.maximum(under / np.minimum(under - beyond, -1e-300), 0.0), 1.0)
    return part


def between(column: Single, where: Somewhere) -> Array:
    """Return a column of a table at a spot, or at a place of it."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return np.asarray(low)
    value: Array = low + part * (flat.take(below + column.shape[1]) - low)
    return value


def between_powers(column: Single, where: Somewhere) -> Array:
    """Return a column that rises by powers at a spot: between the linear and the harmonic way, as good as its log."""
    below, part = where
    flat = column.ravel()
    low = flat.take(below)
    if part is None:
        return np.asarray(low)
    high = flat.take(below + column.shape[1])
    step = part * (high - low)
    value: Array = 0.5 * (low + step + low * high / (high - step))
    return value


def spot(along: Single, at: Array, cases: Rows) -> Spot:
    """Return where a rising column of a table stands at a value, its last point where the value lies beyond."""
    flat, (points, width) = along.ravel(), along.shape
    if points * at.size <= _COUNTED:
        columns = along.take(cases, axis=1).reshape(points, *[1] * (at.ndim - 1), -1)
        below = cases + width * np.minimum(np.maximum((columns < at).sum(axis=0) - 1, 0), max(points - 2, 0))
    else:
        below = last_before(lambda place: flat.take(place) < at, along.shape, cases, at)
    low, high = flat.take(below), flat.take(below + along.shape[1])
    part: Array = np.minimum(np.maximum((at - low) / np.maximum(high - low, 1e-30), 0.0), 1.0)
    return below, part


def last_before(before: Callable[[Rows], Flags], shape: tuple[int, ...], cases: Rows, like: Array) -> Rows:
    """Return the last but one at most of the places for which something still holds, by halving.

    They have the shape of ``like``. A place is where a case's point lies in a table of that shape (k, d) read row by
    row; its next point lies d later.
    """
    left, width = max(shape[0] - 1, 1), shape[1]
    place = np.broadcast_to(cases, like.shape).astype(np.intp)
    while left > 1:  # it is this place or one of so few less one that follow
        half = left // 2
        place += half * width * before(place + half * width)
        left -= half
    return place
