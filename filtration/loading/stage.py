"""A stage by case, what it catches and where that goes; d cases, n layers, c size classes, cases last.

A case is one set of values of what is not known exactly: the central one, or a draw.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, cast

import numpy as np

from filtration.base.arrays import Array, Numbers, Rows, Single, column_sums
from filtration.base.defaults import model
from filtration.base.draws import Factors
from filtration.loading.law import CAKE_REFERENCE_PA, FULL, POWER, loss_with_cake_pa
from filtration.physics.capture import CaptureCurve
from filtration.physics.media import Medium
from filtration.physics.permeability import permeability_m2
from filtration.physics.soil import CLASS_DIAMETERS_M
from filtration.physics.water import Water


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """One stage by case; one element. Arrays are (d,) unless said otherwise.

    Parameters
    ----------
    volume_m3, path_per_m, inertia_per_m3 : (n, d) or (n, 1) array
        Of each layer, as in ``Medium``.
    core_per_m4, solid_fraction, face_m2, capacity_kg : array
        As in ``Medium``.
    room_kg : array
        Cake that would fill the free half-gap between pleats, infinite without a limit [kg].
    bypass : array
        Share of the water that passes untreated [-].
    viscosity_pa_s, water_kg_m3 : array
        The water's viscosity [Pa s] and density [kg/m3].
    fibre_squared_m2, density_kg_m3, onset, drag_per_kg : array
        Fibre diameter squared times permeability factor [m2]; deposit density [kg/m3]; solid fraction at which all dirt
        stays on the face [-]; drag of a kilogram of cake without compression, see ``drag_of`` [Pa^0.4 s/m3/kg].
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
    capacity_kg: Array
    room_kg: Array
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
        """Whether a cake strains finer dirt in any case."""
        return bool(np.isfinite(self.straining_kg_m2).any())


def stage_of(medium: Medium, factors: Factors, water: Water, oldest_days: float) -> Stage:
    """Return an element by case.

    Parameters
    ----------
    medium : Medium
        The element.
    factors : Factors
        The cases.
    water : Water
        The water.
    oldest_days : float
        Age at which it is replaced [day].

    Returns
    -------
    Stage
        The same with everything that differs from case to case.
    """
    per_pascal = medium.cake_resistance_m_kg / CAKE_REFERENCE_PA**POWER
    ones = np.ones_like(factors.uses)
    straining = medium.straining_kg_m2 * factors.straining_cake
    density = medium.deposit_density_kg_m3 * factors.deposit_density
    easier: Array = getattr(factors, medium.permeability_unknown)
    log_past = _log_past(medium.capture, factors.capture_size, factors.slope)
    return Stage(
        volume_m3=medium.layer_volume_m3[:, None],
        path_per_m=medium.layer_path_per_m[:, None],
        inertia_per_m3=medium.layer_inertia_per_m3[:, None],
        core_per_m4=medium.core_inertia_per_m4 * ones,
        solid_fraction=medium.solid_fraction * ones,
        face_m2=medium.face_m2 * ones,
        capacity_kg=medium.capacity_kg * ones,
        room_kg=medium.face_m2 * medium.half_gap_m * density,
        bypass=medium.capture.bypass * ones,
        viscosity_pa_s=water.viscosity_pa_s * ones,
        water_kg_m3=water.density_kg_m3 * ones,
        fibre_squared_m2=medium.fibre_diameter_m**2 * medium.permeability_factor * easier,
        density_kg_m3=density,
        onset=medium.onset_solid_fraction + factors.onset,
        drag_per_kg=water.viscosity_pa_s * per_pascal * factors.cake_resistance / medium.face_m2**2,
        log_past=log_past,
        inside=-np.expm1(log_past),
        straining_kg_m2=straining if medium.strains else np.inf * ones,
        oldest_days=oldest_days * ones,
    )


def _log_past(curve: CaptureCurve, size: Array, slope: Array) -> Single:
    """Return the logarithm of the share (c, d) that gets past a clean medium, its size and slope times factors (d,)."""
    log_size = np.log(CLASS_DIAMETERS_M / curve.rating_m)[:, None] - np.log(size)
    with np.errstate(over="ignore"):  # of a curve that steep all is caught
        odds = curve.at_rating * np.exp((curve.slope * slope * log_size).astype(np.float32))
    log_past: Single = -curve.thickness * np.log1p(odds)
    return log_past


def efficiencies(stages: Sequence[Stage], cakes_kg: Sequence[Array]) -> list[Single]:
    """Return the shares (c, d) of the water that enters the first that each stage clears, with some cake on it [-]."""
    passing: Single = np.ones_like(stages[0].inside)
    shares = []
    for stage, cake in zip(stages, cakes_kg, strict=True):
        inside = -np.expm1(_log_past_with(stage, cake)) if stage.strains and cake.any() else stage.inside
        caught = (1.0 - stage.bypass).astype(np.float32) * inside * passing
        shares.append(caught)
        passing = passing - caught
    return shares


def _log_past_with(stage: Stage, cake_kg: Array) -> Single:
    """Return the logarithm of the share (c, d) that gets past a medium with some cake (d,) that strains."""
    reach = np.minimum(1.0, CLASS_DIAMETERS_M / model("capture.straining_diameter")).astype(np.float32)[:, None] ** 2
    log_past: Single = stage.log_past - reach * (cake_kg / stage.face_m2 / stage.straining_kg_m2).astype(np.float32)
    return log_past


def fed_per_day(stage: Stage, by_class_kg_day: Single, cake_kg: Array | None = None) -> Array:
    """Return what falls to each layer a day while all goes into the layers.

    Parameters
    ----------
    stage : Stage
        The stage.
    by_class_kg_day : (c, d) array
        Catch of one element by size class [kg/day].
    cake_kg : (d,) array, optional
        Cake that strains meanwhile [kg]; what it strains falls like all the rest of its class.

    Returns
    -------
    (n, d) array
        Catch by layer, outermost first [kg/day].
    """
    layers = len(stage.volume_m3)
    log_past = stage.log_past if cake_kg is None or not stage.strains else _log_past_with(stage, cake_kg)
    through = np.exp(log_past / np.float32(layers))
    first_layer = np.expm1(log_past / np.float32(layers)) / np.minimum(np.expm1(log_past), np.float32(-1e-30))
    part = by_class_kg_day * first_layer
    fed = np.empty((layers, part.shape[1]))
    for layer in range(layers):
        fed[layer] = column_sums(part)
        part *= through
    return fed


def drag_of(stage: Stage, cake_kg: Array, cases: Rows | slice = slice(None)) -> Array:
    """Return the drag of a cake (…, e), between whose pleats it leaves less and less room, of some cases.

    Its loss is the drag times Q max(loss, 500 Pa)^0.6 [Pa^0.4 s/m3].
    """
    drag: Array = stage.drag_per_kg[cases] * cake_kg / open_share(cake_kg, stage.room_kg[cases])
    return drag


def open_share(cake_kg: Numbers, room: Numbers) -> Numbers:
    """Return the share that a cake leaves open of a gap with room for so much (…) [-], [kg]."""
    return cast("Numbers", np.maximum(1.0 - cake_kg / room, 1e-2))


class Resistance(NamedTuple):
    """What a stage takes of flow [Pa s/m3], of its square [Pa s2/m6], and by its cake, see ``drag_of``; (…, d) each."""

    linear: Array
    square: Array
    drag: Array

    def loss_pa(self, flow_m3_s: Array) -> Array:
        """Loss (…, d) at a flow through one element [Pa], [m3/s]."""
        rest = (self.linear + self.square * flow_m3_s) * flow_m3_s
        return loss_with_cake_pa(rest, self.drag * flow_m3_s) if self.drag.any() else rest


def clean_resistance_of(stage: Stage) -> Resistance:
    """Return what a new stage does to the flow, one element."""
    k = permeability_m2(stage.solid_fraction, stage.fibre_squared_m2)
    inertia = stage.core_per_m4 + column_sums(stage.inertia_per_m3) / np.sqrt(k)
    linear = stage.viscosity_pa_s * column_sums(stage.path_per_m) / k
    return Resistance(linear, stage.water_kg_m3 * inertia, np.zeros_like(k))


def resistance_of(stage: Stage, layers_kg: Array, cake_kg: Array) -> Resistance:
    """Return what a loaded stage does to the flow.

    Parameters
    ----------
    stage : Stage
        The stage.
    layers_kg : (..., n, d) array
        Deposit that falls to each layer of one element; what is more than a layer takes goes on the face [kg].
    cake_kg : (..., d) array
        What else is on the face [kg].

    Returns
    -------
    Resistance
        Of one element.

    Notes
    -----
    Fibres grow: a' = a + s/rho_d, d'^2 = d^2 a'/a, permeability by the one law.
    """
    over = np.maximum(layers_kg - stage.layer_full_kg, 0.0)
    solid = stage.solid_fraction + (layers_kg - over) / (stage.volume_m3 * stage.density_kg_m3)
    k = permeability_m2(solid, stage.fibre_squared_m2 * solid / stage.solid_fraction)
    inertia = stage.core_per_m4 + column_sums(stage.inertia_per_m3 / np.sqrt(k))
    linear = stage.viscosity_pa_s * column_sums(stage.path_per_m / k)
    return Resistance(linear, stage.water_kg_m3 * inertia, drag_of(stage, cake_kg + column_sums(over)))
