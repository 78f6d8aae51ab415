"""What a clear tube or a gauge on a tee before the housing shows besides the elements: all that lies after the tee."""

from dataclasses import dataclass, replace

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.units import GRAVITY_M_S2
from filtration.physics.plumbing import Plumbing, loss_coefficient, plumbing_loss_pa, velocity_pressure_pa
from filtration.physics.water import Water

_ANY_BORE_M = 0.02  # a loss that goes with the square of the flow is the same on every bore


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """The water's way from the tee back into the tub, no element fitted: housings, part of the hose, the exit.

    Parameters
    ----------
    plumbing : Plumbing
        That part of the loop alone.
    water : Water
        The water.
    further_housings : int
        Housings in series beyond the first.
    """

    plumbing: Plumbing
    water: Water
    further_housings: int = 0

    def pressure_pa(
        self, flow_m3_s: float | Array, k_factor: float | Array = 1.0, factor: float | Array = 1.0
    ) -> Array:
        """Return what a tube or gauge shows at a flow, no element fitted.

        Parameters
        ----------
        flow_m3_s : float or (...) array
            Flow [m3/s].
        k_factor : float or (...) array, optional
            On the loss of fittings [-].
        factor : float or (...) array, optional
            On the whole loss, as a reading without element says [-].

        Returns
        -------
        (...) array
            Loss, and the lift of an outlet above the water [Pa].

        Examples
        --------
        >>> straight = Plumbing(bore_m=0.019, length_m=0.0, elbows_90=0, hose_barbs=0, other_k=3.5)
        >>> back = Return(plumbing=straight, water=Water(density_kg_m3=1000.0, viscosity_pa_s=1e-3, temperature_c=20.0))
        >>> round(float(back.pressure_pa(np.pi / 4.0 * 0.019**2)), 6)  # 1 m/s: 3.5 times 500 Pa
        1750.0
        """
        flow, parts = np.asarray(flow_m3_s), self.plumbing
        fittings = loss_coefficient(parts, self.further_housings) * velocity_pressure_pa(flow, parts.bore_m, self.water)
        loss = plumbing_loss_pa(flow, parts, self.water, self.further_housings) + (k_factor - 1.0) * fittings
        lift_pa = self.water.density_kg_m3 * GRAVITY_M_S2 * parts.static_lift_m
        return np.asarray(parts.return_factor * factor * loss + lift_pa)


def return_of(plumbing: Plumbing, water: Water, housings_in_series: int) -> Return:
    """Take what lies after the tee out of a loop.

    Parameters
    ----------
    plumbing : Plumbing
        The whole loop.
    water : Water
        The water.
    housings_in_series : int
        At least one.

    Returns
    -------
    Return
        Everything of ``other_k`` but the entry, and of hose, bends and barbs a share.

    Notes
    -----
    Assumption: that share is a half. A study does not say where its pump, tee and housing stand.
    """
    share = model("plumbing.after_tee")
    bends = share * loss_coefficient(replace(plumbing, other_k=0.0, k_factor=1.0))
    fixed = max(plumbing.other_k - model("plumbing.entry_k"), 0.0)
    parts = replace(plumbing, length_m=share * plumbing.length_m, elbows_90=0, hose_barbs=0, other_k=bends + fixed)
    return Return(plumbing=parts, water=water, further_housings=housings_in_series - 1)


def return_read(pressure_pa: float, flow_m3_s: float, water: Water) -> Return:
    """Return a way back known by one reading without element alone, where a study has no plumbing.

    Parameters
    ----------
    pressure_pa : float
        What the tube or gauge showed [Pa].
    flow_m3_s : float
        Flow without element [m3/s].
    water : Water
        The water.

    Returns
    -------
    Return
        Its loss goes with the square of the flow.
    """
    k = pressure_pa / float(velocity_pressure_pa(flow_m3_s, _ANY_BORE_M, water))
    parts = Plumbing(bore_m=_ANY_BORE_M, length_m=0.0, elbows_90=0, hose_barbs=0, other_k=k)
    return Return(plumbing=parts, water=water)
