"""What pump and plumbing leave for the filter before many draws; p points of flow, m loops, d draws."""

from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array, Rows
from filtration.base.defaults import model
from filtration.base.units import GRAVITY_M_S2
from filtration.loading.assembly import Entry
from filtration.physics.plumbing import loss_coefficient, plumbing_loss_pa, velocity_pressure_pa
from filtration.physics.pump import falling_curve
from filtration.study.values import Study

_POINTS = 401
_NEVER_M3_S = 1.0  # a largest flow for pumps that are not known by their box


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnLoop:
    """Pressure that pump and plumbing leave for the filter, by draw.

    Parameters
    ----------
    base_pa : (p, m) array
        What does not depend on the draw, loop by loop, at equal steps of flow: friction, lift, and the head of a pump
        known by points [Pa].
    which : (d,) array of int
        Loop of each draw.
    step_m3_s : (d,) array
        Its step of flow [m3/s].
    per_square : (d,) array
        Loss of fittings over the square of flow [Pa s2/m6].
    box_pa, box_m3_s, exponent : (d,) array
        Shut-off pressure [Pa], 0 where the pump is known by points; largest flow [m3/s]; exponent of flow [-].
    """

    base_pa: Array
    which: Rows
    step_m3_s: Array
    per_square: Array
    box_pa: Array
    box_m3_s: Array
    exponent: Array

    @property
    def largest_m3_s(self) -> Array:
        """Largest flow looked at (d,) [m3/s]."""
        return np.asarray(self.step_m3_s * (len(self.base_pa) - 1))

    def left_pa(self, flow_m3_s: Array) -> Array:
        """Pressure left at a flow, both (d,) [Pa], [m3/s]."""
        place = np.clip(flow_m3_s / self.step_m3_s, 0.0, len(self.base_pa) - 1.001)
        below = place.astype(np.intp)
        low = self.base_pa[below, self.which]
        left = low + (place - below) * (self.base_pa[below + 1, self.which] - low)
        left -= self.per_square * flow_m3_s * flow_m3_s
        left += self.box_pa * (1.0 - np.power(flow_m3_s / self.box_m3_s, self.exponent))
        return np.asarray(left)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoopBase:
    """What a loop leaves, the draws aside: see ``DrawnLoop``; ``k_pa_s2_m6`` is that of its fittings."""

    base_pa: Array
    step_m3_s: float
    k_pa_s2_m6: float
    box_pa: float
    box_m3_s: float


def loop_base(study: Study, entry: Entry) -> LoopBase:
    """Return the part of an entry's loop that the draws do not change.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.

    Returns
    -------
    LoopBase
        The same for all options with this pump and so many housings in series.
    """
    pump, plumbing, water = entry.pump, study.plumbing, study.tub.water
    weight, further = water.density_kg_m3 * GRAVITY_M_S2, entry.option.housings_in_series - 1
    per_k = float(velocity_pressure_pa(1.0, plumbing.bore_m, water)) if plumbing is not None else 0.0
    points = tuple((flow, lift) for lift, flow in reversed(study.lift_test)) or pump.points
    most = 1.5 * points[-1][0] if points else float(pump.max_flow_m3_s or 0.0)
    flow = np.linspace(0.0, most, _POINTS)
    base = weight * falling_curve(points)(flow) if points else np.zeros(_POINTS)
    if study.lift_test:
        k = further * model("plumbing.housing_k")
    elif plumbing is not None:
        k = loss_coefficient(plumbing, further)
        friction = plumbing_loss_pa(flow, plumbing, water, further) - k * per_k * flow**2
        base = base - friction - weight * plumbing.static_lift_m
    else:
        msg = "a study without a lift test has its plumbing"
        raise ValueError(msg)
    return LoopBase(
        base_pa=base,
        step_m3_s=float(flow[1]),
        k_pa_s2_m6=k * per_k,
        box_pa=0.0 if points else weight * float(pump.shutoff_head_m or 0.0),
        box_m3_s=_NEVER_M3_S if points else most,
    )
