"""One loading law for every kind of element, on many options at once.

Arrays carry leading axes of options (and, for a scan, of times), then stages in the order the water meets them, then
layers or size classes. A stage that an option does not have loses and catches nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from filtration.base.arrays import Array, Flags, Rows
from filtration.base.defaults import model
from filtration.physics.capture import CaptureCurve, caught_inside, layer_shares, strained
from filtration.physics.media import Medium
from filtration.physics.permeability import permeability_m2
from filtration.physics.soil import CLASS_DIAMETERS_M
from filtration.physics.water import Water

CAKE_REFERENCE_PA = 1e4  # the loss at which a cake's resistance is given
_NEWTON_STEPS = 2
_LEAST_CAKE, _LEAST_PA = 1e-5, 1e-12  # less changes a loss by no more than that
_LOG_REST = np.linspace(-20.0, 45.0, 8193)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trains:
    """Elements in series, side by side in equal housings; shapes name options o, stages s, layers n, classes c.

    Parameters
    ----------
    housings : (o,) array
        Equal trains in parallel [-].
    solid_fraction, density_kg_m3, onset, face_m2, half_gap_m, capacity_kg, cake_resistance_m_kg : (o, s) array
        As in ``Medium``; deposit density for ``density_kg_m3``.
    straining_kg_m2 : (o, s) array
        As in ``Medium``.
    fibre_squared_m2 : (o, s) array
        Square of the fibre diameter times the permeability factor [m2].
    core_inertia_per_m4 : (o, s) array
        Inertial coefficient of the cores over density [1/m4].
    volume_m3, path_per_m, inertia_per_m3 : (o, s, n) array
        As in ``Medium``, layer by layer; 0 where there is no layer.
    inside, layer_share : (o, s, c), (o, s, n, c) array
        Share a clean element catches of the water that passes it, and where it falls [-].
    bypass : (o, s) array
        Share of the water that passes untreated [-].
    strains, rinseable, present : (o, s) array of bool
        A cake strains finer dirt; can be rinsed; the option has this stage.
    """

    housings: Array
    solid_fraction: Array
    density_kg_m3: Array
    onset: Array
    face_m2: Array
    half_gap_m: Array
    capacity_kg: Array
    cake_resistance_m_kg: Array
    straining_kg_m2: Array
    fibre_squared_m2: Array
    core_inertia_per_m4: Array
    volume_m3: Array
    path_per_m: Array
    inertia_per_m3: Array
    inside: Array
    layer_share: Array
    bypass: Array
    strains: Flags
    rinseable: Flags
    present: Flags

    @property
    def layer_full_kg(self) -> Array:
        """Deposit at which a layer takes no more, shape (o, s, n) [kg]."""
        room = model("loading.full_solid_fraction") - self.solid_fraction
        return (room * self.density_kg_m3)[..., None] * self.volume_m3

    @property
    def cake_full_kg(self) -> Array:
        """Cake that fills the pleats, shape (o, s) [kg]; infinite where no gap limits it."""
        return model("loading.full_gap_share") * self.half_gap_m * self.density_kg_m3 * self.face_m2


_ABSENT = Medium(
    solid_fraction=0.5,
    fibre_diameter_m=1.0,
    layer_volume_m3=np.zeros(0),
    layer_path_per_m=np.zeros(0),
    layer_inertia_per_m3=np.zeros(0),
    core_inertia_per_m4=0.0,
    face_m2=1.0,
    half_gap_m=float("inf"),
    onset_solid_fraction=float("inf"),
    capture=CaptureCurve(rating_m=1.0, at_rating=0.0, slope=1.0, bypass=1.0),
    strains=False,
    rinseable=False,
)


def trains_of(options: Sequence[tuple[Sequence[Medium], int]]) -> Trains:
    """Lay the elements of several options side by side.

    Parameters
    ----------
    options : sequence of (sequence of Medium, int)
        Each option's stages and its number of housings in parallel.

    Returns
    -------
    Trains
        The same as arrays.
    """
    most = max(len(stages) for stages, _ in options)
    grid = [[*stages, *[_ABSENT] * (most - len(stages))] for stages, _ in options]
    layers = max(medium.layers for row in grid for medium in row)

    def each(value: str) -> Array:
        return np.array([[getattr(medium, value) for medium in row] for row in grid], dtype=np.float64)

    def by_layer(value: str) -> Array:
        padded = [[np.pad(getattr(m, value), (0, layers - m.layers)) for m in row] for row in grid]
        return np.array(padded, dtype=np.float64)

    def shares(medium: Medium) -> Array:
        inside = caught_inside(medium.capture, CLASS_DIAMETERS_M)
        spread = layer_shares(inside, medium.layers) if medium.layers else np.zeros((0, len(inside)))
        return np.pad(spread, ((0, layers - medium.layers), (0, 0)))

    return Trains(
        housings=np.array([housings for _, housings in options], dtype=np.float64),
        solid_fraction=each("solid_fraction"),
        density_kg_m3=each("deposit_density_kg_m3"),
        onset=each("onset_solid_fraction"),
        face_m2=each("face_m2"),
        half_gap_m=each("half_gap_m"),
        capacity_kg=each("capacity_kg"),
        cake_resistance_m_kg=each("cake_resistance_m_kg"),
        straining_kg_m2=each("straining_kg_m2"),
        fibre_squared_m2=each("fibre_diameter_m") ** 2 * each("permeability_factor"),
        core_inertia_per_m4=each("core_inertia_per_m4"),
        volume_m3=by_layer("layer_volume_m3"),
        path_per_m=by_layer("layer_path_per_m"),
        inertia_per_m3=by_layer("layer_inertia_per_m3"),
        inside=np.array([[caught_inside(m.capture, CLASS_DIAMETERS_M) for m in row] for row in grid]),
        layer_share=np.array([[shares(m) for m in row] for row in grid]),
        bypass=np.array([[m.capture.bypass for m in row] for row in grid]),
        strains=each("strains").astype(bool),
        rinseable=each("rinseable").astype(bool),
        present=np.array([[m.layers > 0 for m in row] for row in grid]),
    )


def layers_resistance(trains: Trains, layer_kg: Array) -> tuple[Array, Array]:
    """Return what the loaded layers, cores included, do to the flow.

    Parameters
    ----------
    trains : Trains
        The options.
    layer_kg : (..., o, s, n) array
        Deposit in each layer of one element [kg].

    Returns
    -------
    (..., o, s) array, (..., o, s) array
        Resistance [1/m3] and inertial coefficient over density [1/m4].

    Notes
    -----
    Fibres grow: a' = a + s/rho_d, d'^2 = d^2 a'/a, permeability by the one law.
    """
    clean = trains.solid_fraction[..., None]
    volume = np.where(trains.volume_m3 > 0.0, trains.volume_m3, 1.0)
    loaded = clean + layer_kg / (volume * trains.density_kg_m3[..., None])
    k = permeability_m2(np.minimum(loaded, 0.999), trains.fibre_squared_m2[..., None] * loaded / clean)
    resistance: Array = (trains.path_per_m / k).sum(axis=-1)
    inertia: Array = (trains.inertia_per_m3 / np.sqrt(k)).sum(axis=-1) + trains.core_inertia_per_m4
    return resistance, inertia


def stays_on_face(trains: Trains, outer_kg: Array) -> Array:
    """Return the share of a catch that stays on the face as cake.

    Parameters
    ----------
    trains : Trains
        The options.
    outer_kg : (..., o, s) array
        Deposit in the outermost layer of one element [kg].

    Returns
    -------
    (..., o, s) array
        Share [-]: the sixth power of how far the outermost layer is on its way to the onset.
    """
    volume = np.where(trains.present, trains.volume_m3[..., 0], 1.0)
    filled = outer_kg / (volume * trains.density_kg_m3 * (trains.onset - trains.solid_fraction))
    share: Array = np.minimum(1.0, filled) ** 6
    return share


def cake_drag(trains: Trains, rows: Rows, cake_kg: Array, water: Water) -> Array:
    """Return what a cake adds to the loss at 1 Pa and 1 m3/s, before the power law of its compression.

    Parameters
    ----------
    trains : Trains
        The options.
    rows : (...) array of int
        Which option each cake belongs to.
    cake_kg : (..., s) array
        Cake on one element [kg].
    water : Water
        The water.

    Returns
    -------
    (..., s) array
        Drag D, so that the cake's loss is D Q max(loss, 500 Pa)^0.6 [Pa^0.4 s/m3].
    """
    face = trains.face_m2[rows]
    per_area = cake_kg / face
    thickness = per_area / trains.density_kg_m3[rows]
    open_share = np.maximum(1.0 - thickness / trains.half_gap_m[rows], 1e-2)
    per_pascal = trains.cake_resistance_m_kg[rows] / CAKE_REFERENCE_PA ** model("loading.cake_exponent")
    drag: Array = water.viscosity_pa_s * per_pascal * per_area / (face * open_share)
    return drag


def stage_loss_pa(flow_m3_s: Array, linear: Array, square: Array, drag: Array) -> Array:
    """Return the loss of each stage at a flow through one element.

    Parameters
    ----------
    flow_m3_s : (...) array
        Flow through one element [m3/s].
    linear, square : (...) array
        Coefficients of flow [Pa s/m3] and of its square [Pa s2/m6].
    drag : (...) array
        Drag of the cake, see ``cake_drag``.

    Returns
    -------
    (...) array
        The root x of x = (linear + square Q) Q + drag Q max(x, 500 Pa)^0.6 [Pa].

    Notes
    -----
    The right-hand side is concave in x, so that Newton's method from ``near_loss_pa`` finds the one root at once.
    """
    exponent, floor = model("loading.cake_exponent"), model("loading.cake_least_pressure")
    rest = (linear + square * flow_m3_s) * flow_m3_s
    cake = drag * flow_m3_s
    under_floor = rest + cake * floor**exponent
    x = np.maximum(near_loss_pa(rest, cake), floor)
    for _ in range(_NEWTON_STEPS):
        power = cake * x**exponent
        x = np.maximum((rest + (1.0 - exponent) * power) / (1.0 - exponent * power / x), floor)
    loss: Array = np.where(under_floor <= floor, under_floor, x)
    return loss


@lru_cache(maxsize=4)
def _log_losses(exponent: float) -> Array:
    """Return log y of y = x + y^exponent at each log x of ``_LOG_REST``, both over what the cake alone takes."""
    x, y = np.exp(_LOG_REST), 2.0 * np.exp(np.maximum(_LOG_REST, 0.0))
    for _ in range(60):
        y = y - (y - x - y**exponent) / (1.0 - exponent * y ** (exponent - 1.0))
    log_losses: Array = np.log(y)
    return log_losses


def near_loss_pa(rest_pa: Array, cake: Array) -> Array:
    """Return the loss of a stage from that of its layers and core and its cake's drag, to about a millionth.

    Parameters
    ----------
    rest_pa : (...) array
        Loss of layers and core [Pa].
    cake : (...) array
        Drag of the cake times the flow [Pa^0.4].

    Returns
    -------
    (...) array
        The root x of x = rest + cake max(x, 500 Pa)^0.6 [Pa].

    Notes
    -----
    In logarithms, over the loss of the cake alone, it is a function of one variable, tabulated once.
    """
    exponent, floor = model("loading.cake_exponent"), model("loading.cake_least_pressure")
    losses = _log_losses(exponent)
    scale = np.log(np.maximum(cake, _LEAST_CAKE)) / (1.0 - exponent)
    place = (np.log(np.maximum(rest_pa, _LEAST_PA)) - scale - _LOG_REST[0]) / (_LOG_REST[1] - _LOG_REST[0])
    place = np.minimum(np.maximum(place, 0.0), len(losses) - 1.001)
    below = place.astype(np.intp)
    low = losses.take(below)
    loss = np.exp(scale + low + (place - below) * (losses.take(below + 1) - low))
    under_floor = rest_pa + cake * floor**exponent
    whole: Array = np.where(under_floor <= floor, under_floor, loss)
    return whole


def catch_shares(trains: Trains, rows: Rows, cake_kg: Array) -> tuple[Array, Array]:
    """Return what each stage takes out of the water that enters the first, by size class.

    Parameters
    ----------
    trains : Trains
        The options.
    rows : (...) array of int
        Which option each cake belongs to.
    cake_kg : (..., s) array
        Cake on one element [kg].

    Returns
    -------
    (..., s, c) array, (..., s, c) array
        Share of each class caught inside a stage (bypass not counted), and share of what enters the first stage that is
        caught in this one [-].
    """
    inside = trains.inside[rows]
    if trains.strains.any():
        per_area = np.where(trains.strains[rows], cake_kg / trains.face_m2[rows], 0.0)[..., None]
        inside = strained(inside, per_area, CLASS_DIAMETERS_M, trains.straining_kg_m2[rows][..., None])
    efficiency = (1.0 - trains.bypass[rows][..., None]) * inside
    passing = np.cumprod(1.0 - efficiency, axis=-2)
    before = np.concatenate([np.ones_like(passing[..., :1, :]), passing[..., :-1, :]], axis=-2)
    return inside, efficiency * before


def spread_over_layers(trains: Trains, inside: Array, caught: Array) -> Array:
    """Return where a catch falls, layer by layer, before the face takes its share.

    Parameters
    ----------
    trains : Trains
        The options.
    inside : (o, s, c) array
        Share of each class caught inside a stage [-].
    caught : (o, s, c) array
        Catch by class, any unit.

    Returns
    -------
    (o, s, n) array
        Catch by layer, same unit.
    """
    shares = trains.layer_share
    if trains.strains.any():
        layers = (trains.volume_m3 > 0.0).sum(axis=-1)
        shares = shares.copy()
        for count in np.unique(layers[trains.strains]):
            at = trains.strains & (layers == count)
            flat = layer_shares(inside[at].ravel(), int(count)).reshape(int(count), *inside[at].shape)
            shares[at, : int(count), :] = np.moveaxis(flat, 0, -2)
    spread: Array = np.einsum("...nc,...c->...n", shares, caught)
    return spread
