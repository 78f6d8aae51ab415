"""The loss of a stage: layers, core, and a compressible cake that feels the stage's own loss."""

from functools import lru_cache

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model

CAKE_REFERENCE_PA = 1e4  # the loss at which a cake's resistance is given
POWER, FLOOR_PA = model("loading.cake_exponent"), model("loading.cake_least_pressure")
FULL, FULL_GAP = model("loading.full_solid_fraction"), model("loading.full_gap_share")
_NEWTON_STEPS = 2
_LEAST_CAKE, _LEAST_PA = 1e-5, 1e-12  # less changes a loss by no more than that
_LOG_REST = np.linspace(-20.0, 45.0, 8193)


def stage_loss_pa(flow_m3_s: Array, linear: Array, square: Array, drag: Array) -> Array:
    """Return the loss of a stage at a flow through one element.

    Parameters
    ----------
    flow_m3_s : (...) array
        Flow through one element [m3/s].
    linear, square : (...) array
        Coefficients of flow [Pa s/m3] and of its square [Pa s2/m6].
    drag : (...) array
        Drag of the cake, see ``stage.drag_of`` [Pa^0.4 s/m3].

    Returns
    -------
    (...) array
        The root x of x = (linear + square Q) Q + drag Q max(x, 500 Pa)^0.6 [Pa].

    Notes
    -----
    The right-hand side is concave in x, so that Newton's method from ``near_loss_pa`` finds the one root at once.
    """
    rest = (linear + square * flow_m3_s) * flow_m3_s
    cake = drag * flow_m3_s
    under_floor = rest + cake * FLOOR_PA**POWER
    x = np.maximum(near_loss_pa(rest, cake), FLOOR_PA)
    for _ in range(_NEWTON_STEPS):
        power = cake * x**POWER
        x = np.maximum((rest + (1.0 - POWER) * power) / (1.0 - POWER * power / x), FLOOR_PA)
    loss: Array = np.where(under_floor <= FLOOR_PA, under_floor, x)
    return loss


@lru_cache(maxsize=4)
def _log_losses(exponent: float) -> Array:
    """Return log y of y = x + y^exponent at each log x of ``_LOG_REST``, both over what the cake alone takes."""
    x, y = np.exp(_LOG_REST), 2.0 * np.exp(np.maximum(_LOG_REST, 0.0))
    for _ in range(60):
        y = y - (y - x - y**exponent) / (1.0 - exponent * y ** (exponent - 1.0))
    log_losses: Array = np.log(y)
    return log_losses


def near_loss_pa(rest_pa: Array, cake: Array) -> Array:
    """Return the loss of a stage from that of its layers and core and its cake's drag, to about a millionth.

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
    In logarithms, over the loss of the cake alone, it is a function of one variable, tabulated once.
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
