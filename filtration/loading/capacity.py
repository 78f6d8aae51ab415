"""What a maker's dirt capacity at a stated loss says of the deposit's density."""

from dataclasses import replace

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.draws import central_factors
from filtration.base.units import SECONDS_PER_DAY
from filtration.loading.law import FULL_GAP
from filtration.loading.stage import efficiencies, fed_per_day, resistance_of, stage_of
from filtration.physics.media import Medium
from filtration.physics.soil import class_shares
from filtration.physics.tub import Tub, life_mean_share, removal_per_day
from filtration.physics.water import Water, water_at
from filtration.study.keys import SIZES
from filtration.study.values import Dust, Element

_STEPS = 400
_FINER = 3  # coarse steps put too much on the face: each look goes twice as far as the one before found


def density_bounds_kg_m3(dust: Dust) -> tuple[float, float]:
    """Return between which densities a deposit may lie, as a deposit counts grams [kg/m3].

    Examples
    --------
    >>> density_bounds_kg_m3("test dust"), density_bounds_kg_m3("like the tub's")
    ((10.0, 265.0), (10.0, 1200.0))
    """
    grit = model("soil.mineral_counts_as") * model("soil.mineral_density")
    return model("capacity.least_density"), grit if dust == "test dust" else model("soil.organic_density")


def makers_flow_m3_s(element: Element) -> float:
    """Return the flow at which a maker is taken to have loaded an element.

    Parameters
    ----------
    element : Element
        The element.

    Returns
    -------
    float
        The largest flow of its clean loss, else what is usual for its size [m3/s]. Another shape has the flow of the
        common size nearest by diameter, then by length, in proportion to its length; a flat one that of a slim 10-inch
        one in proportion to its face (assumptions).
    """
    if element.clean_loss:
        return element.clean_loss[-1][0]
    length, outer, near = element.length_m, element.outer_radius_m, SIZES["10 x 2.5 in"]
    if length is None or outer is None:
        return near.usual_m3_s * (element.area_m2 or 0.0) / (2.0 * np.pi * near.outer_radius_m * near.length_m)
    near = min(SIZES.values(), key=lambda size: (abs(size.outer_radius_m - outer), abs(size.length_m - length)))
    return near.usual_m3_s * length / near.length_m


def caught_of_tub(medium: Medium, tub: Tub, flow_m3_s: float) -> Array:
    """Return what a clean element catches of a tub's dirt at a steady flow, by size class.

    Parameters
    ----------
    medium, tub, flow_m3_s : Medium, Tub, float
        The element, whose dirt, and the flow [m3/s].

    Returns
    -------
    (24,) array
        Catch, grit counted at a share [kg/day].
    """
    caught = _efficiency(medium)
    removed = removal_per_day(tub, flow_m3_s * SECONDS_PER_DAY, caught) * tub.water_life_days
    share = life_mean_share(removed, tub.still_water(1.0), tub.water_life_days)
    return np.asarray(tub.deposit_load_kg_day * share)


def caught_of_test_dust(medium: Medium) -> Array:
    """Return what a clean element catches of a test dust that passes it once, by size class (24,), over the dust [-].

    Notes
    -----
    Lognormal, 10 um, geometric standard deviation 3: ISO 12103-1 from memory.
    """
    shares = class_shares(model("capacity.dust_median"), model("capacity.dust_spread"))
    return np.asarray(_efficiency(medium) * shares)


def _efficiency(medium: Medium) -> Array:
    stage = stage_of(medium, central_factors(), water_at(model("capacity.temperature")), float("inf"))
    [caught] = efficiencies([stage], [np.zeros(1)])
    return caught[:, 0].astype(np.float64)


def loaded_losses_pa(medium: Medium, caught: Array, flow_m3_s: float, deposit_kg: float, water: Water) -> Array:
    """Return the losses of an element as it is loaded at a steady flow, nothing growing.

    Parameters
    ----------
    medium : Medium
        The element.
    caught : (24,) array
        What it catches by size class; only the mix counts.
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
    by_layer = fed_per_day(stage, caught[:, None].astype(np.float32))
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
    full = (cake >= FULL_GAP * stage.room_kg) | (layers >= stage.layer_full_kg * (1.0 - 1e-9)).all(axis=1)
    losses: Array = np.where(full, np.inf, loss)[:, 0]
    return losses


def deposit_at_kg(
    medium: Medium, caught: Array, flow_m3_s: float, loss_pa: float, water: Water, most_kg: float
) -> float:
    """Return the deposit at which an element so loaded reaches a loss.

    Parameters
    ----------
    medium, caught, flow_m3_s, water : Medium, (24,) array, float, Water
        As in ``loaded_losses_pa``.
    loss_pa : float
        The loss [Pa].
    most_kg : float
        The most that is looked for [kg].

    Returns
    -------
    float
        Deposit [kg]: 0 where the clean element takes that pressure already.
    """
    most = most_kg
    for _ in range(_FINER):
        losses = loaded_losses_pa(medium, caught, flow_m3_s, most, water)
        if losses[-1] <= loss_pa:
            return most
        masses = np.linspace(0.0, most, len(losses))
        over = int(np.argmax(losses > loss_pa))
        if over == 0:
            return 0.0
        most = float(masses[min(2 * over, _STEPS)])
    finite = np.isfinite(losses)
    return float(np.interp(loss_pa, losses[finite], masses[finite]))


def usable_kg(medium: Medium, tub: Tub, flow_m3_s: float, left_pa: float, water: Water) -> float:
    """Return how much of its stated capacity an element takes up of a tub's dirt before a pressure is used up.

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
    What a lower pressure leaves depends on how the element ends. A compressible cake alone loses in proportion to its
    mass and to its loss to the power 0.6, so that at one flow its mass goes with about the power 0.4 of the pressure;
    an element that ends by filling up keeps most.
    """
    caught = caught_of_tub(medium, tub, flow_m3_s)
    return deposit_at_kg(medium, caught, flow_m3_s, left_pa, water, medium.capacity_kg)


def fitted_to_capacity(
    medium: Medium, caught: Array, flow_m3_s: float, loss_pa: float, water: Water, bounds: tuple[float, float]
) -> Medium:
    """Return the element with the deposit density at which its capacity causes the stated loss.

    Parameters
    ----------
    medium : Medium
        The element with its capacity.
    caught, flow_m3_s, water : (24,) array, float, Water
        The maker's test, as in ``loaded_losses_pa``.
    loss_pa : float
        Terminal loss of that test [Pa].
    bounds : (float, float)
        Between which densities it may lie [kg/m3].

    Returns
    -------
    Medium
        The same with another density, exactly a bound where none within does it.
    """
    from scipy.optimize import brentq

    def over(log_density: float) -> float:
        trial = replace(medium, deposit_density_kg_m3=float(np.exp(log_density)))
        loss = float(loaded_losses_pa(trial, caught, flow_m3_s, medium.capacity_kg, water)[-1])
        return float(np.log(min(loss, 1e12) / loss_pa))

    low, high = np.log(bounds)
    if over(low) <= 0.0:
        density = bounds[0]
    elif over(high) >= 0.0:
        density = bounds[1]
    else:
        density = float(np.exp(brentq(over, low, high, xtol=1e-6)))
    return replace(medium, deposit_density_kg_m3=density)
