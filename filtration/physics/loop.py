"""Pump and pipes as one falling curve: the flow left for a given filter resistance."""

from dataclasses import dataclass

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.errors import NoAnswerError
from filtration.base.units import GRAVITY_M_S2
from filtration.physics.plumbing import Plumbing, plumbing_loss_pa, velocity_pressure_pa
from filtration.physics.pump import Curve, Pump, falling_curve, head_curve
from filtration.physics.water import Water

_POINTS = 2001
_GRID_POINTS, _FINER_GRIDS = 65, 8  # to the last digit of a double


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loop:
    """Pressure left for the filter against flow.

    Parameters
    ----------
    flow_m3_s : (n,) array
        Flow [m3/s], rising from 0 to the flow without any filter.
    left_pa : (n,) array
        Pressure left for the filter [Pa], strictly falling to 0.
    measured_m3_s : (float, float) or None
        Least and largest flow the curve was measured at; None where it is known everywhere.
    """

    flow_m3_s: Array
    left_pa: Array
    measured_m3_s: tuple[float, float] | None = None

    @property
    def largest_flow_m3_s(self) -> float:
        """Flow without any filter [m3/s]."""
        return float(self.flow_m3_s[-1])

    def left_at(self, flow_m3_s: float | Array) -> Array:
        """Pressure left for the filter [Pa] at a flow [m3/s]; 0 beyond the largest flow."""
        return np.asarray(np.interp(flow_m3_s, self.flow_m3_s, self.left_pa))

    def flow_at(self, loss_pa: float | Array) -> Array:
        """Flow [m3/s] at which a given pressure [Pa] is left for the filter; 0 beyond shut-off."""
        return np.asarray(np.interp(-np.asarray(loss_pa), -self.left_pa, self.flow_m3_s))

    def flow(self, resistance_pa_s_m3: float | Array, inertia_pa_s2_m6: float | Array = 0.0) -> Array:
        """Flow left for a filter that loses r Q + F Q^2.

        Parameters
        ----------
        resistance_pa_s_m3 : float or (...) array
            Viscosity times filter resistance r [Pa s/m3].
        inertia_pa_s2_m6 : float or (...) array, optional
            Inertial coefficient F [Pa s2/m6].

        Returns
        -------
        (...) array
            Flow [m3/s]; strictly falling in both.
        """
        linear, square = np.broadcast_arrays(resistance_pa_s_m3, inertia_pa_s2_m6)
        low, high = np.zeros(linear.shape), np.full(linear.shape, self.largest_flow_m3_s)
        for _ in range(60):
            middle = 0.5 * (low + high)
            more = self.left_at(middle) > (linear + square * middle) * middle
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        flow: Array = 0.5 * (low + high)
        return flow


def _largest_flow(left: Curve, guess_m3_s: float) -> float:
    """Return the flow at which nothing is left, by ever finer grids after doubling outwards."""
    low, high = 0.0, guess_m3_s
    while float(left(np.array([high]))[0]) > 0.0:
        high *= 2.0
    for _ in range(_FINER_GRIDS):
        flow = np.linspace(low, high, _GRID_POINTS)
        after = max(int(np.argmax(left(flow) <= 0.0)), 1)
        low, high = float(flow[after - 1]), float(flow[after])
    return high


def _sampled(left: Curve, guess_m3_s: float, measured: tuple[float, float] | None = None) -> Loop:
    flow = np.linspace(0.0, _largest_flow(left, guess_m3_s), _POINTS)
    pressure = left(flow)
    pressure[-1] = 0.0
    return Loop(flow_m3_s=flow, left_pa=pressure, measured_m3_s=measured)


def loop_of(pump: Pump, plumbing: Plumbing, water: Water, further_housings: int = 0) -> Loop:
    """Join a pump and its plumbing.

    Parameters
    ----------
    pump : Pump
        The pump.
    plumbing : Plumbing
        The loop without any element.
    water : Water
        The water.
    further_housings : int, optional
        Housings in series beyond the first.

    Returns
    -------
    Loop
        The pressure left for the filter against flow.

    Raises
    ------
    NoAnswerError
        If the pump cannot lift the water round the loop.
    """
    head = head_curve(pump)
    weight = water.density_kg_m3 * GRAVITY_M_S2
    shutoff_m = float(head(np.array([0.0]))[0])
    if shutoff_m <= plumbing.static_lift_m:
        msg = (
            f"pump {pump.name!r} moves no water: it lifts at most {shutoff_m:.3g} m, and the outlet is "
            f"{plumbing.static_lift_m:.3g} m above the water"
        )
        raise NoAnswerError(msg)

    def left(flow: Array) -> Array:
        rest: Array = weight * (head(flow) - plumbing.static_lift_m)
        return rest - plumbing_loss_pa(flow, plumbing, water, further_housings)

    points = pump.points
    measured = (points[0][0], points[-1][0]) if points else None
    guess = points[-1][0] if points else pump.max_flow_m3_s
    return _sampled(left, float(guess or 0.0), measured)


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
        The lift at a flow is the head left for the filter at that flow.
    """
    rising = tuple((flow, lift) for lift, flow in reversed(points))
    head = falling_curve(rising)
    weight = water.density_kg_m3 * GRAVITY_M_S2
    extra_k = further_housings * model("plumbing.housing_k") if bore_m else 0.0

    def left(flow: Array) -> Array:
        rest: Array = weight * head(flow)
        return rest - extra_k * velocity_pressure_pa(flow, bore_m, water) if bore_m else rest

    return _sampled(left, rising[-1][0], (rising[0][0], rising[-1][0]))
