"""The head a pump gives at a flow."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import STUDY_DEFAULTS, model

Curve = Callable[[Array], Array]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A pump as its box or its owner's readings describe it.

    Parameters
    ----------
    name : str
        Its name.
    shutoff_head_m, max_flow_m3_s : float or None
        The two box numbers [m], [m3/s]; None where points are given, or a lift test replaces both.
    points : tuple of (float, float)
        Flow [m3/s] and head [m], flows rising, heads falling; empty with box numbers.
    share_of_box_flow : float
        Share of the flow on the box that it really gives at no head, where it is known by its two box numbers [-].
    power_w : float
        Electric power as printed [W].
    in_water : bool
        Submersible rather than dry.
    hours_per_day : float
        Hours a day it runs.
    price, life_years : float
        Price to buy another and years it lasts.
    exponent : float
        Of flow, where the pump is known by its two box numbers [-].
    """

    name: str
    shutoff_head_m: float | None = None
    max_flow_m3_s: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    share_of_box_flow: float = float(STUDY_DEFAULTS["pump.share_of_box_flow"])
    power_w: float = 0.0
    in_water: bool = True
    hours_per_day: float = 24.0
    price: float = 0.0
    life_years: float = inf
    exponent: float = model("pump.exponent")

    @property
    def share_of_day(self) -> float:
        """Share of the day the pump runs [-]."""
        return self.hours_per_day / 24.0


def held_exponent(exponent: float | Array) -> Array:
    """Return an exponent of flow within what pumps have: 1 to 2.7 [-]."""
    return np.clip(exponent, model("pump.exponent_least"), model("pump.exponent_most"))


def box_head_m(flow_m3_s: float | Array, shutoff_head_m: float, open_flow_m3_s: float, exponent: float) -> Array:
    """Return the head of a pump known by the two numbers on its box.

    Parameters
    ----------
    flow_m3_s : float or (...) array
        Flow [m3/s].
    shutoff_head_m : float
        Head at no flow [m].
    open_flow_m3_s : float
        Flow at no head, a share of the one on the box [m3/s].
    exponent : float
        Exponent of flow [-], 1 to 2.7.

    Returns
    -------
    (...) array
        Head [m], negative beyond the largest flow.

    Notes
    -----
    H = H0 (1 - (Q/(f Qm))^n). Curves of three simple small pumps fit n = 1.45, 1.64 and 1.75.

    Examples
    --------
    >>> float(box_head_m(0.5, 2.0, 1.0, 2.0))
    1.5
    """
    return np.asarray(shutoff_head_m * (1.0 - (np.asarray(flow_m3_s) / open_flow_m3_s) ** exponent))


def falling_curve(points: tuple[tuple[float, float], ...]) -> Curve:
    """Return a monotone curve that passes through each point.

    Parameters
    ----------
    points : tuple of (float, float)
        At least two pairs x, y: x strictly rising, y strictly falling.

    Returns
    -------
    callable
        y at x, both (...) arrays. Beyond the points it goes on straight with the slope of the outermost two, which is
        a guess: the caller says so.

    Notes
    -----
    Shape-preserving cubic, Fritsch & Carlson 1980, by scipy.

    Examples
    --------
    >>> curve = falling_curve(((0.0, 2.0), (1.0, 1.5), (2.0, 0.0)))
    >>> curve(np.array([0.0, 1.0, 2.0, 3.0])).tolist()
    [2.0, 1.5, 0.0, -1.5]
    """
    from scipy.interpolate import PchipInterpolator

    x, y = (np.array(column, dtype=np.float64) for column in zip(*points, strict=True))
    inside = PchipInterpolator(x, y, extrapolate=True)
    first, last = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])

    def curve(at: Array) -> Array:
        below, above = np.minimum(at - x[0], 0.0), np.maximum(at - x[-1], 0.0)
        return np.asarray(inside(np.clip(at, x[0], x[-1])) + first * below + last * above)

    return curve


def head_curve(pump: Pump) -> Curve:
    """Return a pump's head as a function of flow.

    Parameters
    ----------
    pump : Pump
        A pump with box numbers or points.

    Returns
    -------
    callable
        Head [m] at flow [m3/s], both (...) arrays.

    Examples
    --------
    >>> curve = head_curve(Pump(name="small", shutoff_head_m=2.0, max_flow_m3_s=1e-3))
    >>> float(curve(np.array(0.0)))
    2.0
    """
    if pump.points:
        return falling_curve(pump.points)
    shutoff, largest = pump.shutoff_head_m, pump.max_flow_m3_s
    if shutoff is None or largest is None:
        raise ValueError(f"pump {pump.name!r} has neither two box numbers nor points")
    return lambda flow: box_head_m(flow, shutoff, pump.share_of_box_flow * largest, pump.exponent)
