"""What media and the cakes on them do, from a published case's inputs, each by the name the case has for it.

SI units unless told. A textbook's cake has one resistance, ours grows with the 0.6th power of the loss above 500 Pa. At
a constant pressure ours is given the book's resistance at that pressure. Where the pressure varies, pressures and the
water's viscosity are all taken so much smaller that the loss stays below 500 Pa: flows are the same, and the resistance
is one.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from filtration.answers.figures import first_run_of
from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.draws import central_factors
from filtration.base.places import demo_file
from filtration.base.roots import root_between
from filtration.base.units import GRAVITY_M_S2, in_unit
from filtration.loading import law, runs, table
from filtration.loading.assembly import entry_of
from filtration.loading.case import central_case, load_of
from filtration.loading.stage import Resistance, drag_of, stage_of
from filtration.physics import capture, loop, permeability
from filtration.physics.media import Medium, clean_loss_pa, foam
from filtration.physics.water import Water, water_at
from filtration.readings.fitting import fit
from filtration.study.file import load_study
from filtration.validation.specimens import flat_mat, usual_medium

_CRAWL_M3_S = 1e-9  # slow enough that a core and a foam's square law take nothing
_SCALE = 1e-5  # of pressures and viscosity, where the pressure varies
_STEPS = 200


# ---- permeability and clean loss


def mat_over_array(*, solid_fraction: list[float], drag: list[float]) -> Array:
    """Permeability of our law over that of a square array of cylinders, k/d2 = pi/(4 a F)."""
    a = np.array(solid_fraction)
    return np.asarray(permeability.permeability_m2(a, 1.0) * 4.0 * a * np.array(drag) / pi)


def foam_permeability(*, pores_per_inch: float) -> float:
    """Permeability that a foam's clean loss at a crawl implies."""
    area_m2, thickness_m, water = 0.02, 0.05, water_at(20.0)
    medium = foam(pores_per_inch=pores_per_inch, rating_m=350e-6, area_m2=area_m2, thickness_m=thickness_m)
    loss = float(clean_loss_pa(medium, _CRAWL_M3_S, water))
    return water.viscosity_pa_s * _CRAWL_M3_S * thickness_m / area_m2 / loss


def mat_in_air(
    *, solid_fraction: list[float], fibre_m: float, thickness_m: float, velocity_m_s: float, **air: float
) -> Array:
    """Clean loss of fibre mats in air of a density [kg/m3] and viscosity [Pa s]."""
    fluid = Water(temperature_c=20.0, **air)
    shape = {"fibre_m": fibre_m, "thickness_m": thickness_m, "area_m2": 1.0}
    return np.array([clean_loss_pa(flat_mat(solid_fraction=a, **shape), velocity_m_s, fluid) for a in solid_fraction])


def ten_inch_psi_per_gpm(*, rating_um: list[float]) -> Array:
    """Loss of the media of 10-inch depth elements at a crawl, core aside, in psi per US gallon a minute."""
    media = [usual_medium("spun", rating) for rating in rating_um]
    pascal = np.array([clean_loss_pa(medium, _CRAWL_M3_S, water_at(20.0)) for medium in media])
    return in_unit(pascal, "psi") / in_unit(_CRAWL_M3_S, "gpm")


# ---- capture


def caught_clean(*, kind: list[str], rating_um: list[float], diameter_um: float) -> Array:
    """Share of one size that clean elements take out in one pass."""
    curves = [usual_medium(each, rating).capture for each in kind for rating in rating_um]
    return np.array([capture.caught_in_one_pass(curve, 1e-6 * diameter_um) for curve in curves])


def caught_at_rating(*, kind: list[str], rating_um: list[float]) -> Array:
    """Share that clean elements take out in one pass at their rating."""
    return np.array([caught_clean(kind=kind, rating_um=[one], diameter_um=one) for one in rating_um]).ravel()


def _with_cake(medium: Medium, cake_kg_m2: float, diameter_um: float) -> float:
    size = np.array(1e-6 * diameter_um)
    clean = capture.caught_inside(medium.capture, size)
    inside = capture.strained(clean, cake_kg_m2, size) if medium.strains else clean
    return (1.0 - medium.capture.bypass) * float(inside)


def caught_full_of_cake(*, size: list[str], rating_um: list[float], diameter_um: float) -> Array:
    """Share of one size that pleats take out in one pass with their gap full of cake, the most there can be."""
    media = [usual_medium("pleated", rating, name) for name in size for rating in rating_um]
    full = [law.FULL_GAP * medium.half_gap_m * medium.deposit_density_kg_m3 for medium in media]
    return np.array([_with_cake(medium, cake, diameter_um) for medium, cake in zip(media, full, strict=True)])


def caught_in_demos_when_due(*, demo: list[str], least_rating_um: float, diameter_um: float) -> Array:
    """Share of one size that every coarse element of the demo tubs takes out in one pass when first due."""
    found = []
    for name in demo:
        study = load_study(demo_file(name))
        entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
        cases = [central_case(study, entry, load_of(study)) for entry in entries]
        for places, tables in runs.groups_of(cases, table.FINE):
            for place, first in zip(places, first_run_of(tables), strict=True):
                for medium, cake in zip(entries[place].media, first.cakes_kg, strict=True):
                    if 1e6 * medium.capture.rating_m >= least_rating_um * (1.0 - 1e-9):
                        found.append(_with_cake(medium, float(cake[0]) / medium.face_m2, diameter_um))
    return np.array(found)


def log_removal(*, absolute: list[bool], rating_um: float, diameter_um: float, cake_kg_m2: float) -> Array:
    """Log removal of one size by elements without a measured beta, whatever the label says."""
    media = [usual_medium(kind, rating_um, absolute=a) for kind in ("spun", "wound", "pleated") for a in absolute]
    caught = np.array([_with_cake(medium, cake_kg_m2, diameter_um) for medium in media])
    return -np.log10(1.0 - caught)


# ---- cake


def _ours(cake_m_kg: float, loss_pa: float) -> float:
    """Return the resistance at 10 kPa of our cake that has a given one at a loss [m/kg]."""
    return cake_m_kg * float((law.CAKE_REFERENCE_PA / loss_pa) ** model("loading.cake_exponent"))


def _flow(
    pushes: loop.Loop, water: Water, area_m2: float, medium_per_m: float, cake_m_kg: float, cake_kg: Array
) -> Array:
    """Return the flow that a pressure against flow drives through a medium and each mass of cake on it [m3/s]."""
    mat = flat_mat(solid_fraction=0.1, fibre_m=1e-5, thickness_m=1e-3, area_m2=area_m2, cake_resistance_m_kg=cake_m_kg)
    stage = stage_of(mat, central_factors(), water, float("inf"))
    linear = np.full(len(cake_kg), water.viscosity_pa_s * medium_per_m / area_m2)
    filtering = Resistance(linear, np.zeros(len(cake_kg)), drag_of(stage, cake_kg))
    most = np.broadcast_to(pushes.end_m3_s, cake_kg.shape)
    return root_between(lambda flow: pushes.left_pa(flow) - filtering.loss_pa(flow), np.zeros(len(cake_kg)), most)


def _seconds(volumes_m3: Sequence[float], flow_at: Callable[[Array], Array]) -> Array:
    """Return the time to filter each volume: the integral of dV over the flow, by Simpson's rule [s]."""
    weights = np.array([1.0, *[4.0, 2.0] * (_STEPS // 2 - 1), 4.0, 1.0]) / (3.0 * _STEPS)
    shares = np.linspace(0.0, 1.0, _STEPS + 1)
    return np.array([float((weights * volume / flow_at(volume * shares)).sum()) for volume in volumes_m3])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Press:
    """A filter at a constant pressure: pressure [Pa], area [m2], solids in the water [kg/m3], its viscosity [Pa s]."""

    pressure_pa: float
    area_m2: float
    solids_kg_m3: float
    viscosity_pa_s: float


def seconds_at_pressure(*, cake_m_kg: float, medium_per_m: float, volumes_m3: list[float], **press: float) -> Array:
    """Time to filter each volume at a constant pressure."""
    by = _Press(**press)
    water = Water(temperature_c=25.0, density_kg_m3=997.0, viscosity_pa_s=by.viscosity_pa_s)
    most = 2.0 * by.pressure_pa * by.area_m2 / (by.viscosity_pa_s * medium_per_m)
    pushes = loop.sampled_loop(lambda flow: np.full(flow.shape, by.pressure_pa), most)
    cake = _ours(cake_m_kg, by.pressure_pa)
    return _seconds(volumes_m3, lambda v: _flow(pushes, water, by.area_m2, medium_per_m, cake, by.solids_kg_m3 * v))


def resistances_of_readings(*, seconds: list[float], volumes_m3: list[float], **press: float) -> Array:
    """Cake [m/kg] and medium [1/m] that times at some volumes imply: t/V on V, by our least squares."""
    by, volumes = _Press(**press), np.array(volumes_m3)
    each = np.array(seconds) / volumes
    scale = np.array([each[0], each[-1] / volumes[-1]])
    line = fit(lambda at: at[:, :1] * scale[0] + at[:, 1:] * scale[1] * volumes - each, np.ones(2), np.full(2, 1e-3))
    start, slope = line.values * scale
    cake = 2.0 * slope * by.area_m2**2 * by.pressure_pa / (by.viscosity_pa_s * by.solids_kg_m3)
    return np.array([cake, start * by.area_m2 * by.pressure_pa / by.viscosity_pa_s])


def resistances_found_again(*, cake_m_kg: float, medium_per_m: float, volumes_m3: list[float], **press: float) -> Array:
    """Cake [m/kg] and medium [1/m] that the program's own times at some volumes imply."""
    seconds = seconds_at_pressure(cake_m_kg=cake_m_kg, medium_per_m=medium_per_m, volumes_m3=volumes_m3, **press)
    return resistances_of_readings(seconds=seconds.tolist(), volumes_m3=volumes_m3, **press)


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
    box = (_SCALE * weight * shutoff_m, largest_m3_s, exponent)
    pushes = loop.sampled_loop(np.zeros_like, largest_m3_s, box=box)
    cake = _ours(cake_m_kg, model("loading.cake_least_pressure"))
    area = area_ratio * area_m2
    return float(_seconds([volume_m3], lambda v: _flow(pushes, water, area, medium_per_m, cake, v))[0])


def volume_blocked(*, k: float, flow_m3_s: float, seconds: float) -> float:
    """Volume filtered in a time at constant pressure, from the first flow and the k of dQ/dt = -k Q^3."""
    from scipy.optimize import brentq

    pressure, area, viscosity = 1e5, 1.0, 1e-3  # they cancel
    press = {"pressure_pa": pressure, "area_m2": area, "solids_kg_m3": 1.0, "viscosity_pa_s": viscosity}
    cake, medium = pressure * k / viscosity, pressure / flow_m3_s * area / viscosity

    def late(volume: float) -> float:
        taken = seconds_at_pressure(**press, cake_m_kg=cake, medium_per_m=medium, volumes_m3=[volume])
        return float(taken[0]) - seconds

    return float(brentq(late, 1e-6, flow_m3_s * seconds, xtol=1e-12))
