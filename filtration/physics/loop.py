"""Pump and pipes as one falling curve: the pressure left for the filter against flow; p points, m loops, d cases."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from filtration.base.arrays import Array, Rows
from filtration.base.defaults import model
from filtration.base.errors import NoAnswerError
from filtration.base.roots import root_between
from filtration.base.units import GRAVITY_M_S2
from filtration.physics.plumbing import Plumbing, loss_coefficient, plumbing_loss_pa, velocity_pressure_pa
from filtration.physics.pump import Curve, Pump, falling_curve, head_curve, held_exponent
from filtration.physics.water import Water

_POINTS = 801
_BEYOND = 1.5  # times the flow without any filter: there cases with wider fittings may still lie
_BY_CASE = ("step_m3_s", "per_square", "box_pa", "box_m3_s", "exponent")  # what a case has one of
_NEVER_M3_S = 1.0  # a flow at no head for pumps that are not known by their box


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loop:
    """Pressure left for the filter, of one loop or by case.

    Parameters
    ----------
    base_pa : (p, m) array
        What does not depend on the case, loop by loop, at equal steps of flow from 0: friction, lift, and the head of a
        pump known by points [Pa].
    which : (d,) array of int
        Loop of each case.
    step_m3_s : (d,) array
        Its step of flow [m3/s].
    per_square : (d,) array
        Loss of fittings over the square of flow [Pa s2/m6].
    box_pa, box_m3_s, exponent : (d,) array
        Shut-off pressure [Pa], 0 where the pump is known by points; flow at no head [m3/s]; exponent of flow [-].
    measured_m3_s : (float, float) or None
        Least and largest flow the curve was measured at; None where it is known everywhere.
    """

    base_pa: Array
    which: Rows
    step_m3_s: Array
    per_square: Array
    box_pa: Array
    box_m3_s: Array
    exponent: Array
    measured_m3_s: tuple[float, float] | None = None

    def left_pa(self, flow_m3_s: Array) -> Array:
        """Pressure left at flows (…, d) [Pa], [m3/s]; below 0 beyond the flow without any filter."""
        place = np.clip(flow_m3_s / self.step_m3_s, 0.0, len(self.base_pa) - 1.001)
        below = place.astype(np.intp)
        low = self.base_pa[below, self.which]
        left = low + (place - below) * (self.base_pa[below + 1, self.which] - low)
        left -= self.per_square * flow_m3_s * flow_m3_s
        left += self.box_pa * (1.0 - np.power(flow_m3_s / self.box_m3_s, self.exponent))
        return np.asarray(left)

    @property
    def end_m3_s(self) -> Array:
        """Largest flow looked at (d,) [m3/s]; nothing is left there."""
        return np.asarray(self.step_m3_s * (len(self.base_pa) - 1))

    @property
    def bare_m3_s(self) -> Array:
        """Flow without any filter (d,) [m3/s]."""
        return root_between(self.left_pa, np.zeros_like(self.step_m3_s), self.end_m3_s, tolerance=1e-10)

    def by_case(self, k_factor: Array, exponent_factor: Array, box_factor: Array) -> "Loop":
        """Return one loop (m = 1) with factors (d,) on its fittings, its pump's exponent and its flow at no head."""
        alone = self.of_cases(np.zeros(len(k_factor), dtype=np.intp))
        return replace(
            alone,
            per_square=alone.per_square * k_factor,
            exponent=held_exponent(alone.exponent * exponent_factor),
            box_m3_s=np.minimum(alone.box_m3_s * box_factor, alone.end_m3_s),
        )

    def of_cases(self, cases: Rows) -> "Loop":
        """Return it for some of its cases (e,)."""
        by_case: dict[str, Any] = {name: getattr(self, name)[cases] for name in ("which", *_BY_CASE)}
        return replace(self, **by_case)

    @staticmethod
    def beside(loops: Sequence["Loop"], sizes: Sequence[int]) -> "Loop":
        """Return loops side by side along their cases, so many of each."""
        base_pa = np.concatenate([loop.base_pa for loop in loops], axis=1)
        before = np.cumsum([0, *(loop.base_pa.shape[1] for loop in loops)])[:-1]
        which = np.concatenate([loop.which for loop in loops]) + np.repeat(before, sizes)
        by_case: dict[str, Any] = {name: np.concatenate([getattr(loop, name) for loop in loops]) for name in _BY_CASE}
        return replace(loops[0], base_pa=base_pa, which=which, **by_case)


def sampled_loop(
    base: Curve,
    most_m3_s: float,
    *,
    per_square: float = 0.0,
    box: tuple[float, float, float] = (0.0, _NEVER_M3_S, 1.0),
    measured: tuple[float, float] | None = None,
) -> Loop:
    """Return one loop from what does not depend on the case, sampled up to a flow, or until nothing is left.

    Parameters
    ----------
    base : callable
        Pressure [Pa] at flows (n,) [m3/s], fittings and box numbers aside.
    most_m3_s : float
        Largest flow looked at [m3/s].
    per_square : float, optional
        Loss of fittings over the square of flow [Pa s2/m6].
    box : (float, float, float), optional
        Shut-off pressure [Pa], flow at no head [m3/s] and exponent of a pump known by its box.
    measured : (float, float), optional
        Least and largest flow of a curve through points, which goes on beyond them [m3/s].

    Returns
    -------
    Loop
        m = d = 1.
    """
    pressure_pa, largest_m3_s, exponent = box
    if measured is not None:
        while float(base(np.array([most_m3_s]))[0]) > per_square * most_m3_s**2:
            most_m3_s *= 2.0
        most_m3_s *= _BEYOND
    flow = np.linspace(0.0, most_m3_s, _POINTS)
    return Loop(
        base_pa=base(flow)[:, None],
        which=np.zeros(1, dtype=np.intp),
        step_m3_s=flow[1:2],
        per_square=np.array([per_square]),
        box_pa=np.array([pressure_pa]),
        box_m3_s=np.array([largest_m3_s]),
        exponent=np.array([exponent]),
        measured_m3_s=measured,
    )


def loop_of(pump: Pump, plumbing: Plumbing, water: Water, further_housings: int = 0) -> Loop:
    """Join a pump and its plumbing.

    Parameters
    ----------
    pump, plumbing, water : Pump, Plumbing, Water
        The pump, the loop without any element, and what flows in it.
    further_housings : int, optional
        Housings in series beyond the first.

    Returns
    -------
    Loop
        One loop; m = d = 1.

    Raises
    ------
    NoAnswerError
        If the pump cannot lift the water round the loop.
    """
    weight = water.density_kg_m3 * GRAVITY_M_S2
    shutoff_m = float(head_curve(pump)(np.array([0.0]))[0])
    if shutoff_m <= plumbing.static_lift_m:
        raise NoAnswerError(
            f"pump {pump.name!r} moves no water: it lifts at most {shutoff_m:.3g} m, and the outlet is "
            f"{plumbing.static_lift_m:.3g} m above the water"
        )
    points = pump.points
    per_square = loss_coefficient(plumbing, further_housings) * float(velocity_pressure_pa(1.0, plumbing.bore_m, water))

    def base(flow: Array) -> Array:
        friction = plumbing_loss_pa(flow, plumbing, water, further_housings) - per_square * flow**2
        head = weight * falling_curve(points)(flow) if points else 0.0
        return np.asarray(head - friction - weight * plumbing.static_lift_m)

    if points:
        return sampled_loop(base, points[-1][0], per_square=per_square, measured=(points[0][0], points[-1][0]))
    on_box = float(pump.max_flow_m3_s or 0.0)
    box = (weight * float(pump.shutoff_head_m or 0.0), pump.share_of_box_flow * on_box, pump.exponent)
    return sampled_loop(base, model("pump.box_flow_most") * on_box, per_square=per_square, box=box)


def loop_of_lift_test(
    points: tuple[tuple[float, float], ...], water: Water, bore_m: float | None = None, further_housings: int = 0
) -> Loop:
    """Take the loop from flows timed at raised outlets, no element fitted.

    Parameters
    ----------
    points : tuple of (float, float)
        Lift [m] and flow [m3/s], lifts rising, flows falling.
    water : Water
        The water.
    bore_m : float or None
        Bore for the loss of further housings [m]; None leaves it out.
    further_housings : int, optional
        Housings in series beyond the one in place at the test.

    Returns
    -------
    Loop
        The lift at a flow is the head left for the filter at that flow; m = d = 1.
    """
    rising = tuple((flow, lift) for lift, flow in reversed(points))
    head, weight = falling_curve(rising), water.density_kg_m3 * GRAVITY_M_S2
    per_square = 0.0
    if bore_m:
        per_square = further_housings * model("plumbing.housing_k") * float(velocity_pressure_pa(1.0, bore_m, water))
    measured = (rising[0][0], rising[-1][0])
    return sampled_loop(lambda flow: weight * head(flow), measured[1], per_square=per_square, measured=measured)
