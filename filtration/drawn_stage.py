"""A stage before many draws, its states tabulated along one clock.

With the mix of the catch frozen at mid flow every layer of a stage fills in the same proportion, so that one clock, the
days its layers have been fed, stands for all of them. Layers, cake and loss are tabulated once along that clock.
Shapes: d draws, k points of a table, n layers, c size classes; draws come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from filtration.capture import CaptureCurve
from filtration.defaults import model
from filtration.permeability import permeability_m2
from filtration.soil import CLASS_DIAMETERS_M

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

_FILL_STEP, _CAKE_STEP, _CAKE_START_KG_M2 = 0.020, 0.30, 1.2e-3
_MOST_POINTS = 600
_DAYS_TOLERANCE = 2e-4
_MOST_WALKED, _STEADY = 40, 2e-3
POWER = model("loading.cake_exponent")
FLOOR_PA = model("loading.cake_least_pressure")
_FULL = model("loading.full_solid_fraction")
FULL_GAP = model("loading.full_gap_share")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """One stage by draw; one element. Arrays are (d,) unless said otherwise.

    Parameters
    ----------
    volume_m3, path_per_m, inertia_per_m3 : (n, d) or (n, 1) array
        Of each layer, as in ``Medium``.
    core_per_m4, solid_fraction, face_m2, gap_m, capacity_kg : array
        As in ``Medium``.
    bypass : array
        Share of the water that passes untreated [-].
    viscosity_pa_s, water_kg_m3 : array
        The water's viscosity [Pa s] and density [kg/m3].
    fibre_squared_m2, density_kg_m3, onset, drag_per_kg : array
        Fibre diameter squared times permeability factor [m2]; deposit density [kg/m3]; solid fraction at which all dirt
        stays on the face [-]; drag of a kilogram of cake without compression, see ``cake_drag`` [Pa^0.4 s/m3/kg].
    inside : (c, d) array
        Share the clean element catches of what passes it [-].
    straining_kg_m2 : array
        Cake that strains, w0 [kg/m2]; infinite where none does.
    oldest_days : array
        Age at which the element is replaced [day].
    """

    volume_m3: Array
    path_per_m: Array
    inertia_per_m3: Array
    core_per_m4: Array
    solid_fraction: Array
    face_m2: Array
    gap_m: Array
    capacity_kg: Array
    bypass: Array
    viscosity_pa_s: Array
    water_kg_m3: Array
    fibre_squared_m2: Array
    density_kg_m3: Array
    onset: Array
    drag_per_kg: Array
    inside: Array
    straining_kg_m2: Array
    oldest_days: Array

    @property
    def strains(self) -> bool:
        """Whether a cake strains finer dirt in any draw."""
        return bool(np.isfinite(self.straining_kg_m2).any())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """A stage's state along its clock; shape (k, d) each.

    Parameters
    ----------
    days : (k, d) array
        Time since new [day]; stands still once the stage alone chokes the option, is full or too old.
    fed : (k, d) array
        The clock: days' worth of catch in the layers, growth included [day].
    cake_kg : (k, d) array
        Cake [kg].
    log_rest : (k, d) array
        Logarithm of the loss of layers and core at the flow when due [Pa].
    held_kg : (d,) array
        Deposit in the layers for each day fed [kg/day].
    """

    days: Array
    fed: Array
    cake_kg: Array
    log_rest: Array
    held_kg: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Duty:
    """What an option has to do, by draw.

    Parameters
    ----------
    flow_m3_s : (d,) array
        Flow through one element when due [m3/s].
    loss_pa : (d,) array
        What pump and plumbing leave for the filter at that flow [Pa].
    growth_per_day : (d,) array
        Growth in the deposit [1/day].
    """

    flow_m3_s: Array
    loss_pa: Array
    growth_per_day: Array


def efficiencies(stages: Sequence[Stage], cakes_kg: Sequence[Array]) -> list[Array]:
    """Return what each stage takes out of the water that enters the first.

    Parameters
    ----------
    stages : sequence of Stage
        The stages in order.
    cakes_kg : sequence of (d,) array
        Cake on one element of each [kg].

    Returns
    -------
    list of (c, d) array
        Shares [-].
    """
    passing: Array = np.ones_like(stages[0].inside)
    shares = []
    for stage, cake in zip(stages, cakes_kg, strict=True):
        caught = (1.0 - stage.bypass) * _inside(stage, cake) * passing
        shares.append(caught)
        passing -= caught
    return shares


def _inside(stage: Stage, cake_kg: Array) -> Array:
    if not stage.strains:
        return stage.inside
    reach = np.minimum(1.0, CLASS_DIAMETERS_M / model("capture.straining_diameter"))[:, None] ** 2
    through = np.exp(-reach * (cake_kg / stage.face_m2 / stage.straining_kg_m2))
    return 1.0 - (1.0 - stage.inside) * through


def inside_of(curve: CaptureCurve, size: Array, slope: Array) -> Array:
    """Return the share a clean medium catches of what passes it.

    Parameters
    ----------
    curve : CaptureCurve
        The element's curve in the central case.
    size, slope : (d,) array
        Factors on the size it speaks of and on its slope [-].

    Returns
    -------
    (c, d) array
        Share [-].
    """
    log_size = np.log(CLASS_DIAMETERS_M / curve.rating_m)[:, None] - np.log(size)
    odds = curve.at_rating * np.exp(curve.slope * slope * log_size)
    if curve.thickness == 1.0:
        share: Array = odds / (1.0 + odds)
    else:
        share = -np.expm1(-curve.thickness * np.log1p(odds))
    return share


def fed_per_day(stage: Stage, by_class_kg_day: Array, inside: Array) -> Array:
    """Return what falls to each layer a day while all goes into the layers.

    Parameters
    ----------
    stage : Stage
        The stage.
    by_class_kg_day : (c, d) array
        Catch of one element by size class [kg/day].
    inside : (c, d) array
        Share caught of what passes it [-].

    Returns
    -------
    (n, d) array
        Catch by layer, outermost first [kg/day].
    """
    layers = len(stage.volume_m3)
    through = np.exp(np.log1p(-np.minimum(inside, 1.0 - 1e-12)) / layers)
    part = by_class_kg_day * (1.0 - through) / np.maximum(inside, 1e-300)
    fed = np.empty((layers, inside.shape[1]))
    for layer in range(layers):
        fed[layer] = part.sum(axis=0)
        part *= through
    return fed


def table_of(stage: Stage, duty: Duty, fed_kg_day: Array, caught_kg_day: Array, *, coarse: bool = False) -> Table:
    """Tabulate a stage from new until it alone would choke the option.

    Parameters
    ----------
    stage : Stage
        The stage.
    duty : Duty
        Flow and loss when due.
    fed_kg_day : (n, d) array
        Catch by layer while all goes into the layers [kg/day].
    caught_kg_day : (d,) array
        Catch of one element [kg/day].
    coarse : bool, optional
        Take steps twice as long.

    Returns
    -------
    Table
        Days, clock, cake and loss.
    """
    growth, stride = duty.growth_per_day, 2.0 if coarse else 1.0
    room = stage.volume_m3 * stage.density_kg_m3
    fill = fed_kg_day / room
    fastest, outer = fill.max(axis=0), fill[0] / (stage.onset - stage.solid_fraction)
    cake_full = np.minimum(FULL_GAP * stage.gap_m * stage.density_kg_m3 * stage.face_m2, 1e9)
    pressed = np.maximum(duty.loss_pa, FLOOR_PA) ** POWER * stage.drag_per_kg * duty.flow_m3_s
    held = fed_kg_day.sum(axis=0)
    start = _CAKE_START_KG_M2 * stage.face_m2
    longest = np.minimum(stage.oldest_days / 12.0, 0.15 / np.maximum(growth, 1e-9))
    days, fed, cake = (np.zeros_like(growth) for _ in range(3))
    alive = np.ones(growth.shape, dtype=bool)
    seen: list[tuple[Array, Array, Array, Array]] = []
    most = (_FULL - stage.solid_fraction) * room
    for _ in range(_MOST_POINTS):
        solid = np.minimum(stage.solid_fraction + fed * fill, _FULL)
        rest = _rest_pa(stage, solid, duty.flow_m3_s)
        on_face = cake
        if (stage.solid_fraction + fed * fastest).max() > _FULL:
            on_face = cake + np.maximum(fed * fed_kg_day - most, 0.0).sum(axis=0)
        seen.append((days, fed, on_face, rest))
        loss = rest + pressed * on_face / gap_left(stage, on_face)
        alive &= (loss < duty.loss_pa) & (on_face < cake_full) & (days < stage.oldest_days)
        alive &= (fed * held + cake < stage.capacity_kg) & (solid.min(axis=0) < _FULL)
        if not alive.any():
            break
        top = _sixth(fed * outer)
        step = np.minimum(stride * _FILL_STEP / np.maximum(fastest * ((1.0 - top) + growth * fed), 1e-30), longest)
        step = np.minimum(
            step, stride * (_CAKE_STEP * cake + start) / np.maximum(top * caught_kg_day + growth * cake, 1e-30)
        )
        step = np.where(alive, step, 0.0)
        half = 0.5 * step * growth
        middle = fed * (1.0 + half) + (1.0 - top) * 0.5 * step
        top = _sixth(middle * outer)
        grown = np.exp(growth * step)
        gained = np.where(growth > 0.0, (grown - 1.0) / np.maximum(growth, 1e-300), step)
        days, fed, cake = days + step, fed * grown + (1.0 - top) * gained, cake * grown + top * gained * caught_kg_day
    days, fed, cake, rest = (np.array(column) for column in zip(*seen, strict=True))
    return Table(days=days, fed=fed, cake_kg=cake, log_rest=np.log(rest), held_kg=held)


def _sixth(filled: Array) -> Array:
    capped = np.minimum(filled, 1.0)
    square = capped * capped
    sixth: Array = square * square * square
    return sixth


def gap_left(stage: Stage, cake_kg: Array, draws: Rows | slice = slice(None)) -> Array:
    """Return the share of the gap between pleats that a cake leaves open.

    Parameters
    ----------
    stage : Stage
        The stage.
    cake_kg : (...) array
        Cake on one element [kg].
    draws : (...) array of int, optional
        Which draw each belongs to.

    Returns
    -------
    (...) array
        Share [-]; 1 where no gap limits the cake.
    """
    room = stage.face_m2[draws] * stage.density_kg_m3[draws] * stage.gap_m[draws]
    left: Array = np.maximum(1.0 - cake_kg / room, 1e-2)
    return left


def _rest_pa(stage: Stage, solid: Array, flow_m3_s: Array) -> Array:
    """Return the loss of layers and core (d,) for solid fractions (n, d)."""
    k = permeability_m2(solid, stage.fibre_squared_m2 * solid / stage.solid_fraction)
    resistance = (stage.path_per_m / k).sum(axis=0)
    inertia: Array = stage.core_per_m4
    if stage.inertia_per_m3.any():
        inertia = inertia + (stage.inertia_per_m3 / np.sqrt(k)).sum(axis=0)
    loss: Array = (stage.viscosity_pa_s * resistance + stage.water_kg_m3 * inertia * flow_m3_s) * flow_m3_s
    return loss
