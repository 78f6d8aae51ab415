"""Filtration with a growing cake, from a published case's inputs, by our loop, cake and loss; SI units.

A textbook's cake has one resistance, ours grows with the 0.6th power of the loss above 500 Pa. At a constant pressure
ours is given the book's resistance at that pressure. Where the pressure varies, pressures and the water's viscosity are
all taken so much smaller that the loss stays below 500 Pa: flows are the same, and the resistance is one.
"""

from collections.abc import Callable, Sequence

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.units import GRAVITY_M_S2
from filtration.loading.law import CAKE_REFERENCE_PA, trains_of
from filtration.loading.site import State, flow_left_m3_s, site_of
from filtration.physics.loop import Loop
from filtration.physics.pump import box_head_m
from filtration.physics.tub import Tub
from filtration.physics.water import Water
from filtration.readings.fitting import fit
from filtration.validation.media_cases import flat_mat

_SCALE = 1e-5  # of pressures and viscosity, where the pressure varies
_STEPS = 200


def still_tub(volume_m3: float, water: Water) -> Tub:
    """Return a tub that nobody uses and nothing falls into.

    Parameters
    ----------
    volume_m3 : float
        Its water [m3].
    water : Water
        The water in it.

    Returns
    -------
    Tub
        The tub.
    """
    return Tub(
        volume_m3=volume_m3,
        depth_m=0.7,
        water=water,
        uses_per_day=0.0,
        sessions_per_day=1.0,
        water_life_days=30.0,
        sources=(),
    )


def _ours(cake_m_kg: float, loss_pa: float) -> float:
    """Return the resistance at 10 kPa of our cake that has a given one at a loss [m/kg]."""
    return cake_m_kg * float((CAKE_REFERENCE_PA / loss_pa) ** model("loading.cake_exponent"))


def _flow(pushes: Loop, water: Water, area_m2: float, medium_per_m: float, cake_m_kg: float, cake_kg: Array) -> Array:
    """Return the flow that a pressure against flow drives through a medium and each mass of cake on it [m3/s]."""
    mat = flat_mat(solid_fraction=0.1, fibre_m=1e-5, thickness_m=1e-3, area_m2=area_m2, cake_resistance_m_kg=cake_m_kg)
    site = site_of(still_tub(1.0, water), trains_of([((mat,), 1)]), [pushes], [1.0])
    none = np.zeros((len(cake_kg), 1))
    state = State(
        resistance_per_m3=none + medium_per_m / area_m2,
        inertia_per_m4=none,
        layer_kg=none,
        cake_kg=cake_kg[:, None],
    )
    lowest = np.zeros(len(cake_kg))
    rows = np.zeros(len(cake_kg), dtype=np.intp)
    return flow_left_m3_s(site, rows, state, lowest, lowest + pushes.flow_m3_s[-1])


def _seconds(volumes_m3: Sequence[float], flow_at: Callable[[Array], Array]) -> Array:
    """Return the time to filter each volume: the integral of dV over the flow, by Simpson's rule [s]."""
    weights = np.array([1.0, *[4.0, 2.0] * (_STEPS // 2 - 1), 4.0, 1.0]) / (3.0 * _STEPS)
    shares = np.linspace(0.0, 1.0, _STEPS + 1)
    return np.array([float((weights * volume / flow_at(volume * shares)).sum()) for volume in volumes_m3])


def seconds_at_pressure(
    *,
    pressure_pa: float,
    area_m2: float,
    solids_kg_m3: float,
    viscosity_pa_s: float,
    cake_m_kg: float,
    medium_per_m: float,
    volumes_m3: list[float],
) -> Array:
    """Time to filter each volume at a constant pressure."""
    water = Water(temperature_c=25.0, density_kg_m3=997.0, viscosity_pa_s=viscosity_pa_s)
    most = 2.0 * pressure_pa * area_m2 / (viscosity_pa_s * medium_per_m)
    pushes = Loop(flow_m3_s=np.array([0.0, most]), left_pa=np.full(2, pressure_pa))
    cake = _ours(cake_m_kg, pressure_pa)
    return _seconds(volumes_m3, lambda v: _flow(pushes, water, area_m2, medium_per_m, cake, solids_kg_m3 * v))


def resistances_of_readings(
    *,
    seconds: list[float],
    volumes_m3: list[float],
    pressure_pa: float,
    area_m2: float,
    solids_kg_m3: float,
    viscosity_pa_s: float,
) -> Array:
    """Cake [m/kg] and medium [1/m] that times at some volumes imply: t/V on V, by our least squares."""
    volumes = np.array(volumes_m3)
    each = np.array(seconds) / volumes
    scale = np.array([each[0], each[-1] / volumes[-1]])
    line = fit(lambda at: at[:, :1] * scale[0] + at[:, 1:] * scale[1] * volumes - each, np.ones(2), np.full(2, 1e-3))
    start, slope = line.values * scale
    cake = 2.0 * slope * area_m2**2 * pressure_pa / (viscosity_pa_s * solids_kg_m3)
    return np.array([cake, start * area_m2 * pressure_pa / viscosity_pa_s])


def resistances_found_again(*, cake_m_kg: float, medium_per_m: float, volumes_m3: list[float], **book: float) -> Array:
    """Cake [m/kg] and medium [1/m] that the program's own times at some volumes imply."""
    seconds = seconds_at_pressure(cake_m_kg=cake_m_kg, medium_per_m=medium_per_m, volumes_m3=volumes_m3, **book)
    return resistances_of_readings(seconds=seconds.tolist(), volumes_m3=volumes_m3, **book)


def seconds_with_pump(
    *,
    shutoff_m: float,
    largest_m3_s: float,
    exponent: float,
    test_m3_s: float,
    test_s: list[float],
    test_head_m: list[float],
    area_ratio: float,
    volume_m3: float,
) -> float:
    """Time that a pump of two box numbers takes to filter a volume, cake and medium known from a smaller filter."""
    weight, viscosity, area_m2 = 1000.0 * GRAVITY_M_S2, 1e-3, 1.0  # the area of the small filter cancels
    rise = (test_head_m[1] - test_head_m[0]) / (test_s[1] - test_s[0])  # of head, with the flow kept constant
    start = test_head_m[0] - rise * test_s[0]
    cake_m_kg = weight * rise / test_m3_s**2 * area_m2**2 / viscosity  # one kilogram of cake a cubic metre
    medium_per_m = weight * start / test_m3_s * area_m2 / viscosity
    water = Water(temperature_c=20.0, density_kg_m3=1000.0, viscosity_pa_s=_SCALE * viscosity)
    flows = np.linspace(0.0, largest_m3_s, 2001)
    pushes = Loop(flow_m3_s=flows, left_pa=_SCALE * weight * box_head_m(flows, shutoff_m, largest_m3_s, exponent))
    cake = _ours(cake_m_kg, model("loading.cake_least_pressure"))
    area = area_ratio * area_m2
    return float(_seconds([volume_m3], lambda v: _flow(pushes, water, area, medium_per_m, cake, v))[0])


def volume_blocked(*, k: float, flow_m3_s: float, seconds: float) -> float:
    """Volume filtered in a time at constant pressure, from the first flow and the k of dQ/dt = -k Q^3."""
    from scipy.optimize import brentq

    pressure, area, viscosity = 1e5, 1.0, 1e-3  # they cancel
    book = {"pressure_pa": pressure, "area_m2": area, "solids_kg_m3": 1.0, "viscosity_pa_s": viscosity}
    cake, medium = pressure * k / viscosity, pressure / flow_m3_s * area / viscosity

    def late(volume: float) -> float:
        return float(seconds_at_pressure(**book, cake_m_kg=cake, medium_per_m=medium, volumes_m3=[volume])[0]) - seconds

    return float(brentq(late, 1e-6, flow_m3_s * seconds, xtol=1e-12))
