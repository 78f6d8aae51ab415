"""The loss of a stage: layers, core, and a compressible cake that feels the stage's own loss."""

from functools import lru_cache

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model

CAKE_REFERENCE_PA = 1e4  # the loss at which a cake's resistance is given
POWER, FLOOR_PA = model("loading.cake_exponent"), model("loading.cake_least_pressure")
FULL, FULL_GAP = model("loading.full_solid_fraction"), model("loading.full_gap_share")
_LEAST_CAKE, _LEAST_PA = 1e-5, 1e-12  # less changes a loss by no more than that
_LOG_REST = np.linspace(-20.0, 45.0, 8193)


@lru_cache(maxsize=4)
def _log_losses(exponent: float) -> Array:
    """Return log y of y = x + y^exponent at each log x of ``_LOG_REST``, both over what the cake alone takes."""
    x, y = np.exp(_LOG_REST), 2.0 * np.exp(np.maximum(_LOG_REST, 0.0))
    for _ in range(60):
        y = y - (y - x - y**exponent) / (1.0 - exponent * y ** (exponent - 1.0))
    log_losses: Array = np.log(y)
    return log_losses


def loss_with_cake_pa(rest_pa: Array, cake: Array) -> Array:
    """Return the loss of a stage from that of its layers and core and its cake's drag.

    Parameters
    ----------
    rest_pa : (...) array
        Loss of layers and core [Pa].
    cake : (...) array
        Drag of the cake times the flow [Pa^0.4].

    Returns
    -------
    (...) array
        The root x of x = rest + cake max(x, 500 Pa)^0.6 [Pa].

    Notes
    -----
    In logarithms, over the loss of the cake alone, it is a function of one variable, tabulated once; right to about a
    millionth.
    """
    losses = _log_losses(POWER)
    scale = np.log(np.maximum(cake, _LEAST_CAKE)) / (1.0 - POWER)
    place = (np.log(np.maximum(rest_pa, _LEAST_PA)) - scale - _LOG_REST[0]) / (_LOG_REST[1] - _LOG_REST[0])
    place = np.minimum(np.maximum(place, 0.0), len(losses) - 1.001)
    below = place.astype(np.intp)
    low = losses.take(below)
    loss = np.exp(scale + low + (place - below) * (losses.take(below + 1) - low))
    under_floor = rest_pa + cake * FLOOR_PA**POWER
    whole: Array = np.where(under_floor <= FLOOR_PA, under_floor, loss)
    return whole
