"""What a maker's dirt capacity at a stated loss says of the deposit's density."""

from dataclasses import replace

import numpy as np

from filtration.base.arrays import Array
from filtration.base.draws import central_factors
from filtration.base.units import SECONDS_PER_DAY
from filtration.loading.law import FULL_GAP
from filtration.loading.stage import efficiencies, fed_per_day, resistance_of, stage_of
from filtration.physics.media import Medium
from filtration.physics.tub import Tub, life_mean_share, removal_per_day
from filtration.physics.water import Water

_STEPS = 400
_FINER = 3  # coarse steps put too much on the face: each look goes twice as far as the one before found
_LEAST_KG_M3, _MOST_KG_M3 = 1.0, 5000.0


def loaded_losses_pa(medium: Medium, tub: Tub, flow_m3_s: float, deposit_kg: float, water: Water) -> Array:
    """Return the losses of an element as it is loaded at a steady flow with the tub's dirt, nothing growing.

    Parameters
    ----------
    medium : Medium
        The element.
    tub : Tub
        Whose dirt.
    flow_m3_s : float
        Flow through the element [m3/s].
    deposit_kg : float
        Deposit at the end [kg].
    water : Water
        The water of the test.

    Returns
    -------
    (401,) array
        Loss at equal steps of the deposit from none to the end [Pa]; infinite from where the element is full.
    """
    stage = stage_of(medium, central_factors(), water, float("inf"))
    none = np.zeros(1)
    [caught] = efficiencies([stage], [none])
    removed = removal_per_day(tub, flow_m3_s * SECONDS_PER_DAY, caught[:, 0].astype(np.float64)) * tub.water_life_days
    share = life_mean_share(removed, tub.still_water(1.0), tub.water_life_days)
    by_layer = fed_per_day(stage, (tub.deposit_load_kg_day * share)[:, None].astype(np.float32))
    if float(by_layer.sum()) <= 0.0:
        return np.zeros(_STEPS + 1)
    where, step = by_layer / by_layer.sum(), deposit_kg / _STEPS
    onset_kg = (stage.onset - stage.solid_fraction) * stage.volume_m3[0] * stage.density_kg_m3
    layers, cake = np.zeros((_STEPS + 1, *where.shape)), np.zeros((_STEPS + 1, 1))
    for at in range(_STEPS):
        face = np.minimum(1.0, (layers[at, 0] + 0.5 * step * where[0]) / onset_kg) ** 6
        filled = layers[at] + step * (1.0 - face) * where
        refused = np.maximum(filled - stage.layer_full_kg, 0.0)
        layers[at + 1], cake[at + 1] = filled - refused, cake[at] + step * face + refused.sum(axis=0)
    loss = resistance_of(stage, layers, cake).loss_pa(np.full(cake.shape, flow_m3_s))
    losses: Array = np.where(cake >= FULL_GAP * stage.room_kg, np.inf, loss)[:, 0]
    return losses


def loaded_loss_pa(medium: Medium, tub: Tub, flow_m3_s: float, deposit_kg: float, water: Water) -> float:
    """Return the last of ``loaded_losses_pa``.

    Parameters
    ----------
    medium, tub, flow_m3_s, deposit_kg, water : Medium, Tub, float, float, Water
        As there.

    Returns
    -------
    float
        Loss [Pa]; infinite where the element is full before.
    """
    return float(loaded_losses_pa(medium, tub, flow_m3_s, deposit_kg, water)[-1])


def usable_kg(medium: Medium, tub: Tub, flow_m3_s: float, left_pa: float, water: Water) -> float:
    """Return how much of its stated capacity an element takes up before a pressure is used up.

    Parameters
    ----------
    medium : Medium
        The element with its capacity.
    tub : Tub
        Whose dirt.
    flow_m3_s : float
        Flow through the element [m3/s].
    left_pa : float
        Pressure that pump and pipes leave for it at that flow [Pa].
    water : Water
        The tub's water.

    Returns
    -------
    float
        Deposit [kg]: 0 where the clean element takes that pressure already, at most the capacity.

    Notes
    -----
    A cake alone loses in proportion to its mass and to its loss to the power 0.6, so that at one flow its mass goes
    with the pressure to the power 0.4: of 60 g at 1.7 bar, 19 g are left at 0.1 bar.
    """
    most = medium.capacity_kg
    for _ in range(_FINER):
        losses = loaded_losses_pa(medium, tub, flow_m3_s, most, water)
        if losses[-1] <= left_pa:
            return most
        masses = np.linspace(0.0, most, len(losses))
        over = int(np.argmax(losses > left_pa))
        if over == 0:
            return 0.0
        most = float(masses[min(2 * over, _STEPS)])
    finite = np.isfinite(losses)
    return float(np.interp(left_pa, losses[finite], masses[finite]))


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
