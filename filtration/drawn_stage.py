"""A stage before many draws, its states tabulated along one clock.

With the mix of the catch frozen at mid flow every layer of a stage fills in the same proportion, so that one clock, the
days its layers have been fed, stands for all of them. Layers, cake and loss are tabulated once along that clock.
Shapes: d draws, k points of a table, n layers, c size classes; draws come last.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from filtration.capture import CaptureCurve
from filtration.defaults import model
from filtration.permeability import permeability_m2
from filtration.soil import CLASS_DIAMETERS_M

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
Draws = TypeVar("Draws")

_FILL_STEP, _CAKE_STEP, _CAKE_START_KG_M2 = 0.020, 0.30, 1.2e-3
_MOST_POINTS = 600
_WORTH_SORTING = 0.7  # share of the draws still on their way at which the others are left behind
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


def table_of(stage: Stage, duty: Duty, fed_kg_day: Array, caught_kg_day: Array) -> Table:
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

    Returns
    -------
    Table
        Days, clock, cake and loss.
    """
    size = len(caught_kg_day)
    seen = [np.ones((4, size))]
    on = np.arange(size)
    state = np.zeros((3, size))
    while on.size and len(seen) < _MOST_POINTS:
        some_stage, some_duty = taken(stage, on, size), taken(duty, on, size)
        state, alive = _stepped(some_stage, some_duty, fed_kg_day[:, on], caught_kg_day[on], state, on, seen)
        on, state = on[alive], state[:, alive]
    days, fed, cake, rest = np.array(seen[1:]).transpose(1, 0, 2).copy()
    return Table(days=days, fed=fed, cake_kg=cake, log_rest=np.log(rest), held_kg=fed_kg_day.sum(axis=0))


def cake_at_most(stage: Stage, duty: Duty, fed_kg_day: Array, longest_days: Array) -> Array:
    """Return about how much cake a first run ends with.

    Parameters
    ----------
    stage : Stage
        The stage.
    duty : Duty
        Flow and loss when due.
    fed_kg_day : (n, d) array
        Catch by layer while all goes into the layers [kg/day].
    longest_days : (d,) array
        Time limit [day].

    Returns
    -------
    (d,) array
        Cake that takes what the layers leave once dirt stays on the face, or what can be caught in time [kg].
    """
    fill = fed_kg_day / (stage.volume_m3 * stage.density_kg_m3)
    days = (stage.onset - stage.solid_fraction) / np.maximum(fill[0], 1e-30)
    solid = np.minimum(stage.solid_fraction + days * fill, _FULL).astype(np.float32)
    rest = _rest_pa(stage, solid, duty.flow_m3_s)
    pressed = np.maximum(duty.loss_pa, FLOOR_PA) ** POWER * stage.drag_per_kg * duty.flow_m3_s
    choking = np.maximum(duty.loss_pa - rest, 0.0) / pressed
    in_time = np.maximum(np.minimum(longest_days, stage.oldest_days) - days, 0.0) * fed_kg_day.sum(axis=0)
    most: Array = np.minimum(choking, in_time)
    return most


def taken(value: Draws, draws: Rows, size: int) -> Draws:
    """Return a dataclass of draws for some of them.

    Parameters
    ----------
    value : dataclass
        Arrays whose last axis is the draws, or one.
    draws : (e,) array of int
        Which draws to keep.
    size : int
        How many there are.

    Returns
    -------
    dataclass
        The same for them alone.
    """
    if len(draws) == size:
        return value
    kept = {}
    for field in fields(cast("Any", value)):
        part = getattr(value, field.name)
        wide = isinstance(part, np.ndarray) and part.shape[-1] == size
        kept[field.name] = part[..., draws] if wide else part
    return type(value)(**kept)


def _stepped(
    stage: Stage,
    duty: Duty,
    fed_kg_day: Array,
    caught_kg_day: Array,
    state: Array,
    on: Rows,
    seen: list[Array],
) -> tuple[Array, Flags]:
    """Take steps of days, clock and cake (3, d) until many draws are done; return where they stand and who goes on."""
    growth = duty.growth_per_day
    volume_kg = stage.volume_m3 * stage.density_kg_m3
    fill = fed_kg_day / volume_kg
    fastest, outer = fill.max(axis=0), fill[0] / (stage.onset - stage.solid_fraction)
    single = fill.astype(np.float32), stage.solid_fraction.astype(np.float32)
    cake_full = np.minimum(FULL_GAP * stage.gap_m * stage.density_kg_m3 * stage.face_m2, 1e9)
    pressed = np.maximum(duty.loss_pa, FLOOR_PA) ** POWER * stage.drag_per_kg * duty.flow_m3_s
    held, start = fed_kg_day.sum(axis=0), _CAKE_START_KG_M2 * stage.face_m2
    longest = np.minimum(stage.oldest_days / 10.0, 1.0 / np.maximum(growth, 1e-9))
    most = (_FULL - stage.solid_fraction) * volume_kg
    room, grows = room_kg(stage), growth > 0.0
    per_growth, all_grow = 1.0 / np.maximum(growth, 1e-300), bool(grows.all())
    days, fed, cake = state
    while True:
        solid = np.minimum(single[1] + fed.astype(np.float32) * single[0], np.float32(_FULL))
        rest = _rest_pa(stage, solid, duty.flow_m3_s)
        on_face, full = cake, np.zeros(len(cake), dtype=bool)
        if (stage.solid_fraction + fed * fastest).max() > _FULL:
            on_face = cake + np.maximum(fed * fed_kg_day - most, 0.0).sum(axis=0)
            full = solid.min(axis=0) >= np.float32(_FULL)
        point = seen[-1].copy()
        point[:, on] = days, fed, on_face, rest
        seen.append(point)
        loss = rest + pressed * on_face / open_share(on_face, room)
        alive = (loss < duty.loss_pa) & (on_face < cake_full) & (days < stage.oldest_days) & ~full
        alive &= fed * held + cake < stage.capacity_kg
        if alive.mean() < _WORTH_SORTING or len(seen) >= _MOST_POINTS:
            return np.array((days, fed, cake)), alive
        top = _sixth(fed * outer)
        step = np.minimum(_FILL_STEP / np.maximum(fastest * ((1.0 - top) + growth * fed), 1e-30), longest)
        onto = np.maximum(top * caught_kg_day + growth * cake, 1e-30)
        step = np.where(alive, np.minimum(step, (_CAKE_STEP * cake + start) / onto), 0.0)
        middle = fed * (1.0 + 0.5 * step * growth) + (1.0 - top) * 0.5 * step
        top = _sixth(middle * outer)
        grown = np.exp(growth * step)
        gained = (grown - 1.0) * per_growth
        if not all_grow:
            gained = np.where(grows, gained, step)
        days, fed, cake = days + step, fed * grown + (1.0 - top) * gained, cake * grown + top * gained * caught_kg_day


def _sixth(filled: Array) -> Array:
    capped = np.minimum(filled, 1.0)
    square = capped * capped
    sixth: Array = square * square * square
    return sixth


def room_kg(stage: Stage, draws: Rows | slice = slice(None)) -> Array:
    """Return the cake that would fill the free half-gap between pleats.

    Parameters
    ----------
    stage : Stage
        The stage.
    draws : (e,) array of int, optional
        Which draws.

    Returns
    -------
    (e,) array
        Cake on one element [kg]; infinite where no gap limits it.
    """
    room: Array = stage.face_m2[draws] * stage.density_kg_m3[draws] * stage.gap_m[draws]
    return room


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
    return open_share(cake_kg, room_kg(stage, draws))


def open_share(cake_kg: Array, room: Array) -> Array:
    """Return the share that a cake leaves open of a gap with room for so much (...) [-], [kg]."""
    left: Array = np.maximum(1.0 - cake_kg / room, 1e-2)
    return left


def _rest_pa(stage: Stage, solid: npt.NDArray[np.float32], flow_m3_s: Array) -> Array:
    """Return the loss of layers and core (d,) for solid fractions (n, d); single precision is enough for the layers."""
    layers = cast("Array", solid)
    k = permeability_m2(layers, layers)  # times the fibre's square over the clean solid fraction
    per_layer = stage.solid_fraction / stage.fibre_squared_m2
    resistance = (stage.path_per_m.astype(np.float32) / k).sum(axis=0, dtype=np.float64) * per_layer
    inertia: Array = stage.core_per_m4
    if stage.inertia_per_m3.any():
        inertia = inertia + (stage.inertia_per_m3.astype(np.float32) / np.sqrt(k)).sum(
            axis=0, dtype=np.float64
        ) * np.sqrt(per_layer)
    loss: Array = (stage.viscosity_pa_s * resistance + stage.water_kg_m3 * inertia * flow_m3_s) * flow_m3_s
    return loss
