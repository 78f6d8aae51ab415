"""Names for arrays, once, and a sum over them."""

from typing import TypeVar, cast

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]
Rows = npt.NDArray[np.intp]
Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Numbers = TypeVar("Numbers", Array, Single)


def column_sums(values: Numbers) -> Numbers:
    """Return the sums (..., d) over the last axis but one of (..., n, d), each column as if it stood among others.

    Numpy adds a lone column in another order than one of several, and an option would then differ in its last digit
    from itself among others.
    """
    if values.shape[-1] == 1:
        return cast("Numbers", np.repeat(values, 2, axis=-1).sum(axis=-2)[..., :1])
    return cast("Numbers", values.sum(axis=-2))
