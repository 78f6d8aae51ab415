"""Names for arrays, once."""

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]
Rows = npt.NDArray[np.intp]
Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
