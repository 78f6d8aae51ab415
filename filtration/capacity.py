"""What a maker's dirt capacity at a stated loss says of the deposit's density."""

from dataclasses import replace

import numpy as np

from filtration.history import catch_of
from filtration.loading import (
    cake_drag,
    layers_resistance,
    stage_loss_pa,
    stays_on_face,
    trains_of,
)
from filtration.loop import Loop
from filtration.media import Medium
from filtration.site import site_of
from filtration.tub import Tub
from filtration.water import Water

_STEPS = 400
_LEAST_KG_M3, _MOST_KG_M3 = 1.0, 5000.0


def loaded_loss_pa(medium: Medium, tub: Tub, flow_m3_s: float, deposit_kg: float, water: Water) -> float:
    """Return the loss of an element loaded at a steady flow with the tub's dirt, nothing growing.

    Parameters
    ----------
    medium : Medium
        The element.
    tub : Tub
        Whose dirt.
    flow_m3_s : float
        Flow through the element [m3/s].
    deposit_kg : float
        Deposit [kg].
    water : Water
        The water of the test.

    Returns
    -------
    float
        Loss [Pa]; infinite where the element is full before.
    """
    trains = trains_of([((medium,), 1)])
    steady = Loop(flow_m3_s=np.array([0.0, flow_m3_s]), left_pa=np.ones(2))
    catch = catch_of(site_of(tub, trains, [steady], [1.0]), np.array([flow_m3_s]), np.zeros((1, 1)))
    if float(catch.total[0, 0]) <= 0.0:
        return 0.0
    where = catch.by_layer / catch.total[..., None]
    step = deposit_kg / _STEPS
    layers, cake = np.zeros_like(trains.volume_m3), np.zeros((1, 1))
    for _ in range(_STEPS):
        face = stays_on_face(trains, layers[..., 0] + 0.5 * step * where[..., 0])
        filled = layers + step * (1.0 - face)[..., None] * where
        refused = np.maximum(filled - trains.layer_full_kg, 0.0)
        layers, cake = filled - refused, cake + step * face + refused.sum(axis=-1)
    if (cake >= trains.cake_full_kg).any():
        return float("inf")
    resistance, inertia = layers_resistance(trains, layers)
    loss = stage_loss_pa(
        np.full((1, 1), flow_m3_s),
        water.viscosity_pa_s * resistance,
        water.density_kg_m3 * inertia,
        cake_drag(trains, np.array([0]), cake, water),
    )
    return float(loss[0, 0])


def fitted_to_capacity(medium: Medium, tub: Tub, flow_m3_s: float, loss_pa: float, water: Water) -> Medium | None:
    """Return the element with the deposit density at which its capacity causes the stated loss.

    Parameters
    ----------
    medium : Medium
        The element with its capacity.
    tub : Tub
        Whose dirt.
    flow_m3_s : float
        Flow of the maker's test [m3/s].
    loss_pa : float
        Terminal loss of that test [Pa].
    water : Water
        The water of the test.

    Returns
    -------
    Medium or None
        The same with another density; None where no density from 1 to 5000 kg/m3 fits.
    """
    from scipy.optimize import brentq

    def over(log_density: float) -> float:
        trial = replace(medium, deposit_density_kg_m3=float(np.exp(log_density)))
        loss = loaded_loss_pa(trial, tub, flow_m3_s, medium.capacity_kg, water)
        return float(np.log(min(loss, 1e12) / loss_pa))

    low, high = np.log(_LEAST_KG_M3), np.log(_MOST_KG_M3)
    if not over(low) > 0.0 > over(high):
        return None
    return replace(medium, deposit_density_kg_m3=float(np.exp(brentq(over, low, high, xtol=1e-6))))
