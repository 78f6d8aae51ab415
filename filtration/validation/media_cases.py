"""What media and the cakes on them do, from a published case's inputs, each by the name the case has for it.

SI units unless told. A textbook's cake has one resistance, ours grows with the 0.6th power of the loss above 500 Pa:
the books' cakes stand beside the medium, as a resistance that knows no pressure. They try the sums of a filter fed by
a pressure or a pump, and say nothing of our cake.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from filtration.answers.figures import first_run_of
from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.draws import central_factors
from filtration.base.places import demo_file
from filtration.base.roots import root_between
from filtration.base.units import GRAVITY_M_S2, in_unit
from filtration.loading import law, table, tabulate
from filtration.loading.assembly import entry_of
from filtration.loading.case import central_case, load_of
from filtration.loading.stage import Resistance, resistance_of, stage_of
from filtration.physics import capture, loop, permeability
from filtration.physics import media as elements
from filtration.physics.media import Medium, clean_loss_pa, foam
from filtration.physics.water import Water, water_at
from filtration.readings.fitting import fit
from filtration.study.file import load_study
from filtration.validation.specimens import flat_mat, usual_medium

_CRAWL_M3_S = 1e-9  # slow enough that a core and a foam's square law take nothing
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


def packing_of_mat(*, loss_pa: float, fibre_m: float, thickness_m: float, velocity_m_s: float, **air: float) -> float:
    """Solid fraction of a fibre mat that its clean loss in air of a density [kg/m3] and viscosity [Pa s] asks for."""
    from scipy.optimize import brentq

    fluid = Water(temperature_c=20.0, **air)
    shape = {"fibre_m": fibre_m, "thickness_m": thickness_m, "area_m2": 1.0}

    def over(solid_fraction: float) -> float:
        return float(clean_loss_pa(flat_mat(solid_fraction=solid_fraction, **shape), velocity_m_s, fluid)) - loss_pa

    return float(brentq(over, 1e-3, 0.3))


def _psi(medium: Medium, flow_gpm: Sequence[float]) -> Array:
    """Return the clean loss at 20 degC at flows in US gallons a minute [psi]."""
    flow = np.array(flow_gpm) / in_unit(1.0, "gpm")
    return np.asarray(in_unit(1.0, "psi") * clean_loss_pa(medium, flow, water_at(20.0)))


def clean_psi(*, kind: str, rating_um: list[float], flow_gpm: list[float]) -> Array:
    """Clean loss of 10-inch elements, core included, rating by rating at each flow [psi]."""
    return np.concatenate([_psi(usual_medium(kind, rating), flow_gpm) for rating in rating_um])


def long_over_short(*, kind: str, rating_um: float, flow_gpm: list[float]) -> Array:
    """Clean loss of a 20-inch element over that of a 10-inch one."""
    long, short = (_psi(usual_medium(kind, rating_um, size), flow_gpm) for size in ("20 x 2.5 in", "10 x 2.5 in"))
    return np.asarray(long / short)


def loss_over_first(*, kind: str, rating_um: list[float]) -> Array:
    """Clean loss of 10-inch elements at a crawl over that of the first."""
    crawl = [_CRAWL_M3_S * in_unit(1.0, "gpm")]
    losses = clean_psi(kind=kind, rating_um=rating_um, flow_gpm=crawl)
    return np.asarray(losses / losses[0])


def last_over_first(*, kind: str, rating_um: list[float]) -> float:
    """Clean loss of the last of some 10-inch elements at a crawl over that of the first."""
    return float(loss_over_first(kind=kind, rating_um=rating_um)[-1])


def loss_by_viscosity(*, rating_um: float, centistokes: list[float], density_kg_m3: float, psi: list[float]) -> Array:
    """Loss of a pleated sheet in oils over viscosity and flow, over the first: the flow that each pressure drives.

    The core is left aside: it belongs to a 10-inch element.
    """
    sheet = replace(usual_medium("pleated", rating_um), core_inertia_per_m4=0.0)

    def loss_over_both(viscosity_cst: float, pressure: float) -> float:
        oil = Water(
            temperature_c=20.0, density_kg_m3=density_kg_m3, viscosity_pa_s=1e-6 * viscosity_cst * density_kg_m3
        )
        pascal = pressure / in_unit(1.0, "psi")
        flow = root_between(lambda at: pascal - clean_loss_pa(sheet, at, oil), np.zeros(1), np.ones(1))
        return pressure / (viscosity_cst * float(flow[0]))

    found = np.array([loss_over_both(each, pressure) for each in centistokes for pressure in psi])
    return np.asarray(found / found[0])


def refitted_psi(
    *, rating_um: float, length_in: float, diameter_in: float, flow_gpm: list[float], psi: list[float]
) -> Array:
    """Clean losses of a long pleated element once the program has taken them for a maker's own [psi]."""
    inch = 0.0254
    shape = {"outer_radius_m": diameter_in * inch / 2.0, "inner_radius_m": diameter_in * inch / 4.0}
    medium = elements.pleated(rating_m=1e-6 * rating_um, area_m2=10.0, length_m=length_in * inch, **shape)
    points = list(zip(np.array(flow_gpm) / in_unit(1.0, "gpm"), np.array(psi) / in_unit(1.0, "psi"), strict=True))
    return _psi(elements.fitted_to_clean_loss(medium, points, water_at(20.0)), flow_gpm)


def flow_over_slim(*, kind: str, rating_um: float, length_in: list[int]) -> Array:
    """Flow of a depth element of 4.5 in over that of one of 2.5 in at the same loss, core aside."""
    crawl = [_CRAWL_M3_S * in_unit(1.0, "gpm")]
    sizes = [[f"{length} x {across} in" for across in (2.5, 4.5)] for length in length_in]
    losses = np.array([[_psi(usual_medium(kind, rating_um, size), crawl)[0] for size in pair] for pair in sizes])
    return np.asarray(losses[:, 0] / losses[:, 1])


def sheet_g_per_m2(*, fibre_kg_m3: float) -> float:
    """Weight of a pleated sheet of fibres of a density [g/m2]."""
    medium = usual_medium("pleated", 20.0)
    return float(1e3 * fibre_kg_m3 * medium.solid_fraction * medium.layer_volume_m3.sum() / medium.face_m2)


# ---- capture


def caught_clean(*, kind: list[str], rating_um: list[float], diameter_um: float) -> Array:
    """Share of one size that clean elements take out in one pass."""
    curves = [usual_medium(each, rating).capture for each in kind for rating in rating_um]
    return np.array([capture.caught_in_one_pass(curve, 1e-6 * diameter_um) for curve in curves])


def hair_less_dust(*, rating_um: float, hair_um: float, dust_um: float) -> float:
    """Share of hair less share of fine dust that open foam takes out in one pass."""
    hair, dust = (caught_clean(kind=["foam"], rating_um=[rating_um], diameter_um=d)[0] for d in (hair_um, dust_um))
    return float(hair - dust)


def solids_caught(*, rating_um: list[float]) -> Array:
    """Share of solids much coarser than its rating that a clean wound element takes out in one pass."""
    return np.array([caught_clean(kind=["wound"], rating_um=[r], diameter_um=100.0 * r)[0] for r in rating_um])


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


def most_caught_in_demos(*, demo: list[str], least_rating_um: float, diameter_um: float) -> float:
    """Share of one size that the best of the demo tubs' coarse elements takes out in one pass when first due."""
    found = []
    for name in demo:
        study = load_study(demo_file(name))
        entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
        cases = [central_case(study, entry, load_of(study)) for entry in entries]
        for places, tables in tabulate.groups_of(cases, table.FINE):
            for place, first in zip(places, first_run_of(tables), strict=True):
                for medium, cake in zip(entries[place].media, first.cakes_kg, strict=True):
                    if 1e6 * medium.capture.rating_m >= least_rating_um * (1.0 - 1e-9):
                        found.append(_with_cake(medium, float(cake[0]) / medium.face_m2, diameter_um))
    return max(found)


def log_removal(*, absolute: list[bool], rating_um: float, diameter_um: float, cake_kg_m2: list[float]) -> Array:
    """Log removal of one size by elements without a measured beta, whatever the label says, with each cake on them."""
    media = [usual_medium(kind, rating_um, absolute=a) for kind in ("spun", "wound", "pleated") for a in absolute]
    caught = np.array([_with_cake(medium, cake, diameter_um) for medium in media for cake in cake_kg_m2])
    return -np.log10(1.0 - caught)


# ---- deposit and cake


def grams_when_full(*, kind: str, rating_um: float) -> float:
    """Test dust in a 10-inch element whose every layer is full, counted as grit is [g]."""
    stage = stage_of(usual_medium(kind, rating_um), central_factors(), water_at(20.0), float("inf"))
    return float(1e3 * stage.layer_full_kg.sum() / model("soil.mineral_counts_as"))


def cake_m_kg(*, loss_pa: float) -> float:
    """Specific resistance of our cake, from what a kilogram a square metre of it takes of a flow at a loss [m/kg]."""
    water, area_m2 = water_at(20.0), 1.0
    mat = flat_mat(solid_fraction=0.1, fibre_m=1e-3, thickness_m=1e-3, area_m2=area_m2)  # that takes next to nothing
    stage = stage_of(mat, central_factors(), water, float("inf"))
    resistance = resistance_of(stage, np.zeros((len(mat.layer_volume_m3), 1)), np.full(1, area_m2))
    most = np.full(1, 10.0)
    flow = root_between(lambda at: loss_pa - resistance.loss_pa(at), np.zeros(1), most)
    return float(loss_pa / (water.viscosity_pa_s * flow[0] / area_m2))


def _driven(pushes: loop.Loop, loss_pa: Callable[[Array], Array], points: int) -> Array:
    """Return the flow at which losses use up a pressure that falls with it [m3/s]."""
    most = np.broadcast_to(pushes.end_m3_s, (points,))
    return root_between(lambda flow: pushes.left_pa(flow) - loss_pa(flow), np.zeros(points), most)


def _seconds(pushes: loop.Loop, volumes_m3: Sequence[float], linear: Callable[[Array], Array]) -> Array:
    """Return the time to filter each volume: the integral of dV over the flow, by Simpson's rule [s].

    ``linear`` is what medium and cake take of the flow once a volume has passed [Pa s/m3].
    """
    weights = np.array([1.0, *[4.0, 2.0] * (_STEPS // 2 - 1), 4.0, 1.0]) / (3.0 * _STEPS)

    def one(volume: float) -> float:
        takes = linear(volume * np.linspace(0.0, 1.0, _STEPS + 1))
        filtering = Resistance(takes, np.zeros_like(takes), np.zeros_like(takes))
        return float((weights * volume / _driven(pushes, filtering.loss_pa, len(takes))).sum())

    return np.array([one(volume) for volume in volumes_m3])


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
    most = 2.0 * by.pressure_pa * by.area_m2 / (by.viscosity_pa_s * medium_per_m)
    pushes = loop.sampled_loop(lambda flow: np.full(flow.shape, by.pressure_pa), most)
    each = by.viscosity_pa_s / by.area_m2
    return _seconds(pushes, volumes_m3, lambda v: each * (medium_per_m + cake_m_kg * by.solids_kg_m3 * v / by.area_m2))


def resistances_of_readings(*, seconds: list[float], volumes_m3: list[float], **press: float) -> Array:
    """Cake [m/kg] and medium [1/m] that times at some volumes imply: t = a V + b V2, by our least squares."""
    by, volumes, read = _Press(**press), np.array(volumes_m3), np.array(seconds)
    scale = np.array([read[0] / volumes[0], read[-1] / volumes[-1] ** 2])
    terms = scale[:, None] * np.array([volumes, volumes**2])
    line = fit(lambda at: at @ terms - read, np.ones(2), np.full(2, 1e-3))
    start, slope = line.values * scale
    cake = 2.0 * slope * by.area_m2**2 * by.pressure_pa / (by.viscosity_pa_s * by.solids_kg_m3)
    return np.array([cake, start * by.area_m2 * by.pressure_pa / by.viscosity_pa_s])


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
    weight = 1000.0 * GRAVITY_M_S2
    rise = (test_head_m[1] - test_head_m[0]) / (test_s[1] - test_s[0])  # of head, with the flow kept constant
    start = test_head_m[0] - rise * test_s[0]
    pushes = loop.sampled_loop(np.zeros_like, largest_m3_s, box=(weight * shutoff_m, largest_m3_s, exponent))

    def linear(volume: Array) -> Array:
        return np.asarray(weight / test_m3_s / area_ratio * (start + rise * volume / test_m3_s / area_ratio))

    return float(_seconds(pushes, [volume_m3], linear)[0])
