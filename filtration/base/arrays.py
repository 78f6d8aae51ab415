"""Names for arrays, once, and a sum over them."""

from collections.abc import Hashable, Iterable
from typing import TypeVar, cast

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]
Rows = npt.NDArray[np.intp]
Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Numbers = TypeVar("Numbers", Array, Single)
Amount = TypeVar("Amount", float, Array)
Named = TypeVar("Named", bound=Hashable)


def column_sums(values: Numbers) -> Numbers:
    """Return the sums (..., d) over the last axis but one of (..., n, d), each column as if it stood among others.

    Numpy adds a lone column in another order than one of several, and an option would then differ in its last digit
    from itself among others.
    """
    if values.shape[-1] == 1:
        return cast("Numbers", np.repeat(values, 2, axis=-1).sum(axis=-2)[..., :1])
    return cast("Numbers", values.sum(axis=-2))


def totals(amounts: Iterable[tuple[Named, Amount]]) -> dict[Named, Amount]:
    """Return the sums of amounts by name, in the order in which the names first come.

    Examples
    --------
    >>> totals([("rinsing", 1.0), ("elements", 4.0), ("rinsing", 2.0)])
    {'rinsing': 3.0, 'elements': 4.0}
    """
    found: dict[Named, Amount] = {}
    for name, amount in amounts:
        found[name] = found[name] + amount if name in found else amount
    return found
