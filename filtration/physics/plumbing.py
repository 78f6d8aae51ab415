"""What hoses, bends and fittings take from the pump."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.physics.water import Water

_LOG_REYNOLDS = np.linspace(0.0, np.log(1e8), 6144)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumbing:
    """The loop from the pump through the housing and back.

    Parameters
    ----------
    bore_m : float
        Narrowest bore [m].
    length_m : float
        Length of hose [m].
    elbows_90, hose_barbs : int
        Number of fittings.
    other_k : float
        Loss coefficient of entry, exit and one housing together [-].
    roughness_m : float
        Roughness of the wall [m].
    static_lift_m : float
        Height the water is lifted for good [m].
    length_outside_m, insulation_m : float
        Length of hose in the air [m] and thickness of foam around it [m].
    k_factor : float
        Loss coefficients over those of the handbooks [-], as readings say.
    return_factor : float
        What lies after a tee before the housing over what ``tee`` has for it [-], as readings say.
    """

    bore_m: float
    length_m: float
    elbows_90: int = 0
    hose_barbs: int = 0
    other_k: float = 0.0
    roughness_m: float = 0.0
    static_lift_m: float = 0.0
    length_outside_m: float = 0.0
    insulation_m: float = 0.0
    k_factor: float = 1.0
    return_factor: float = 1.0


def loss_coefficient(plumbing: Plumbing, further_housings: int = 0) -> float:
    """Return the sum of the loop's loss coefficients on the bore's velocity.

    Parameters
    ----------
    plumbing : Plumbing
        The loop.
    further_housings : int, optional
        Housings in series beyond the first.

    Returns
    -------
    float
        Sum of K [-].

    Examples
    --------
    >>> loss_coefficient(Plumbing(bore_m=0.019, length_m=3.0, elbows_90=2, hose_barbs=2, other_k=4.0))
    8.5
    """
    return plumbing.k_factor * (
        plumbing.elbows_90 * model("plumbing.elbow_k")
        + plumbing.hose_barbs * model("plumbing.barb_k")
        + plumbing.other_k
        + further_housings * model("plumbing.housing_k")
    )


def velocity_pressure_pa(flow_m3_s: float | Array, bore_m: float, water: Water) -> Array:
    """Return the dynamic pressure of the water in a bore.

    Parameters
    ----------
    flow_m3_s : float or (...) array
        Flow [m3/s].
    bore_m : float
        Bore [m].
    water : Water
        The water.

    Returns
    -------
    (...) array
        Density times velocity squared over two [Pa].
    """
    velocity = np.asarray(flow_m3_s) / (np.pi / 4.0 * bore_m**2)
    return np.asarray(water.density_kg_m3 * velocity**2 / 2.0)


@lru_cache(maxsize=64)
def _log_friction(roughness: float) -> Array:
    """Return the logarithm of the friction factor at each of ``_LOG_REYNOLDS``."""
    from fluids.friction import Churchill_1977

    return np.log([Churchill_1977(reynolds, roughness) for reynolds in np.exp(_LOG_REYNOLDS).tolist()])


def friction_factor(reynolds: Array, roughness: float) -> Array:
    """Return the Darcy friction factor of a round pipe.

    Parameters
    ----------
    reynolds : (...) array
        Reynolds number [-], 1 to 1e8.
    roughness : float
        Roughness over bore [-].

    Returns
    -------
    (...) array
        Friction factor [-].

    Notes
    -----
    Churchill 1977, continuous through transition, from ``fluids``, which takes one number at a time: its values on a
    grid so fine that what lies between is within 5e-5.

    Examples
    --------
    >>> round(float(friction_factor(np.array(1e5), 1e-4)), 5)
    0.01846
    """
    return np.asarray(np.exp(np.interp(np.log(np.maximum(reynolds, 1.0)), _LOG_REYNOLDS, _log_friction(roughness))))


def plumbing_loss_pa(flow_m3_s: Array, plumbing: Plumbing, water: Water, further_housings: int = 0) -> Array:
    """Return what the loop without any element takes at a flow.

    Parameters
    ----------
    flow_m3_s : (...) array
        Flow [m3/s].
    plumbing : Plumbing
        The loop.
    water : Water
        The water.
    further_housings : int, optional
        Housings in series beyond the first.

    Returns
    -------
    (...) array
        Loss [Pa], static lift not counted.

    Notes
    -----
    Darcy-Weisbach with ``friction_factor``.
    """
    velocity_scale = water.density_kg_m3 * plumbing.bore_m / water.viscosity_pa_s / (np.pi / 4.0 * plumbing.bore_m**2)
    reynolds = np.asarray(flow_m3_s) * velocity_scale
    friction = np.where(reynolds > 0.0, friction_factor(reynolds, plumbing.roughness_m / plumbing.bore_m), 0.0)
    coefficient = friction * plumbing.length_m / plumbing.bore_m + loss_coefficient(plumbing, further_housings)
    return coefficient * velocity_pressure_pa(flow_m3_s, plumbing.bore_m, water)
