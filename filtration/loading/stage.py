"""A stage before many draws, what it catches and where that goes; d draws, n layers, c size classes, draws last."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar, cast

import numpy as np

from filtration.base.arrays import Array, Rows, Single
from filtration.base.defaults import model
from filtration.physics.capture import CaptureCurve
from filtration.physics.soil import CLASS_DIAMETERS_M

Draws = TypeVar("Draws")
Numbers = TypeVar("Numbers", Array, Single)

POWER = model("loading.cake_exponent")
FLOOR_PA = model("loading.cake_least_pressure")
FULL, FULL_GAP = model("loading.full_solid_fraction"), model("loading.full_gap_share")


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
    log_past, inside : (c, d) array
        Logarithm of the share that gets past the clean element, and the share it catches, in single precision [-].
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
    log_past: Single
    inside: Single
    straining_kg_m2: Array
    oldest_days: Array

    @property
    def layer_full_kg(self) -> Array:
        """Deposit at which a layer takes no more, shape (n, d) [kg]."""
        return (FULL - self.solid_fraction) * self.volume_m3 * self.density_kg_m3

    @property
    def strains(self) -> bool:
        """Whether a cake strains finer dirt in any draw."""
        return bool(np.isfinite(self.straining_kg_m2).any())


def efficiencies(stages: Sequence[Stage], cakes_kg: Sequence[Array]) -> list[Single]:
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
    passing: Single = np.ones_like(stages[0].inside)
    shares = []
    for stage, cake in zip(stages, cakes_kg, strict=True):
        caught = (1.0 - stage.bypass).astype(np.float32) * _inside(stage, cake) * passing
        shares.append(caught)
        passing = passing - caught
    return shares


def _inside(stage: Stage, cake_kg: Array) -> Single:
    if not stage.strains or not cake_kg.any():
        return stage.inside
    reach = np.minimum(1.0, CLASS_DIAMETERS_M / model("capture.straining_diameter")).astype(np.float32)[:, None] ** 2
    through = np.exp(-reach * (cake_kg / stage.face_m2 / stage.straining_kg_m2).astype(np.float32))
    inside: Single = 1.0 - (1.0 - stage.inside) * through
    return inside


def log_past_of(curve: CaptureCurve, size: Array, slope: Array) -> Single:
    """Return the logarithm of the share that gets past a clean medium.

    Parameters
    ----------
    curve : CaptureCurve
        The element's curve in the central case.
    size, slope : (d,) array
        Factors on the size it speaks of and on its slope [-].

    Returns
    -------
    (c, d) array
        Logarithm of the share [-], in single precision.
    """
    log_size = np.log(CLASS_DIAMETERS_M / curve.rating_m)[:, None] - np.log(size)
    odds = curve.at_rating * np.exp((curve.slope * slope * log_size).astype(np.float32))
    log_past: Single = -curve.thickness * np.log1p(odds)
    return log_past


def fed_per_day(stage: Stage, by_class_kg_day: Single) -> Array:
    """Return what falls to each layer a day while all goes into the layers.

    Parameters
    ----------
    stage : Stage
        The stage.
    by_class_kg_day : (c, d) array
        Catch of one element by size class [kg/day].

    Returns
    -------
    (n, d) array
        Catch by layer, outermost first [kg/day].
    """
    layers = len(stage.volume_m3)
    through = np.exp(stage.log_past / np.float32(layers))
    part = by_class_kg_day * (1.0 - through) / np.maximum(stage.inside, np.float32(1e-30))
    fed = np.empty((layers, part.shape[1]))
    for layer in range(layers):
        fed[layer] = part.sum(axis=0)
        part *= through
    return fed


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
        kept[field.name] = part.take(draws, axis=-1) if wide else part
    return type(value)(**kept)


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


def drag_of(stage: Stage, cake_kg: Array, draws: Rows | slice = slice(None)) -> Array:
    """Return the drag of a cake, see ``Stage.drag_per_kg``, between whose pleats it leaves less and less room.

    Parameters
    ----------
    stage : Stage
        The stage.
    cake_kg : (e,) array
        Cake on one element [kg].
    draws : (e,) array of int, optional
        Which draws.

    Returns
    -------
    (e,) array
        Drag [Pa^0.4 s/m3].
    """
    drag: Array = stage.drag_per_kg[draws] * cake_kg / open_share(cake_kg, room_kg(stage, draws))
    return drag


def open_share(cake_kg: Numbers, room: Numbers) -> Numbers:
    """Return the share that a cake leaves open of a gap with room for so much (...) [-], [kg]."""
    return cast("Numbers", np.maximum(1.0 - cake_kg / room, 1e-2))
