"""Kinds of element: their fibres, their shape, and what a deposit does to them.

A new kind of element is a new constructor here that returns a ``Medium``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.physics.capture import CaptureCurve, nominal_curve
from filtration.physics.permeability import permeability_m2
from filtration.physics.water import Water

_MOST_CORE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Medium:
    """One element as a stack of layers with a face.

    Parameters
    ----------
    solid_fraction : float
        Share of the clean medium's volume that is fibre [-].
    fibre_diameter_m : float
        Diameter of the clean fibre [m].
    permeability_factor : float
        Permeability, clean and loaded, over that of the law [-].
    permeability_unknown : str
        Which of ``defaults.UNKNOWNS`` says how well that is known.
    layer_volume_m3 : (n,) array
        Volume of each layer, outermost first [m3].
    layer_path_per_m : (n,) array
        Resistance of each layer times its permeability [1/m].
    layer_inertia_per_m3 : (n,) array
        Inertial coefficient of each layer times the root of its permeability, over density [1/m3].
    core_inertia_per_m4 : float
        Inertial coefficient of the core over density [1/m4].
    face_m2 : float
        Area of the face [m2].
    half_gap_m : float
        Free half-gap between pleats [m]; infinite for other kinds, 0 or less where the pleats do not fit.
    onset_solid_fraction : float
        Solid fraction of the outermost layer at which all dirt stays on the face [-]; infinite where no cake forms
        before a layer is full.
    capture : CaptureCurve
        Share caught against size.
    strains : bool
        A cake strains finer dirt.
    rinseable : bool
        The element can be rinsed and used again.
    capacity_kg : float
        Stated dirt capacity [kg]; infinite where none is stated.
    deposit_density_kg_m3 : float
        Dry mass of deposit over the space it takes up [kg/m3].
    cake_resistance_m_kg : float
        Specific resistance of a cake at 10 kPa [m/kg].
    straining_kg_m2 : float
        Cake that strains, w0 in ``capture.strained`` [kg/m2].
    """

    solid_fraction: float
    fibre_diameter_m: float
    permeability_factor: float = 1.0
    permeability_unknown: str = "permeability"
    layer_volume_m3: Array
    layer_path_per_m: Array
    layer_inertia_per_m3: Array
    core_inertia_per_m4: float = 0.0
    face_m2: float
    half_gap_m: float = inf
    onset_solid_fraction: float
    capture: CaptureCurve
    strains: bool = False
    rinseable: bool = False
    capacity_kg: float = inf
    deposit_density_kg_m3: float = model("loading.deposit_density")
    cake_resistance_m_kg: float = model("loading.cake_resistance")
    straining_kg_m2: float = model("capture.straining_cake")

    @property
    def times_to_fill(self) -> float:
        """How many times the sheet of a pleated element leaves no gap between its pleats [-]."""
        sheet_m = float(self.layer_volume_m3.sum()) / self.face_m2
        return 1.0 + 2.0 * self.half_gap_m / sheet_m


def _core_inertia_per_m4() -> float:
    area = np.pi / 4.0 * model("media.core_diameter") ** 2
    return float(model("media.core_k") / (2.0 * area**2))


def onset_solid_fraction(solid_fraction: float) -> float:
    """Return the solid fraction of the outermost layer at which all dirt stays on the face [-].

    Examples
    --------
    >>> onset_solid_fraction(0.20)
    0.5
    """
    return solid_fraction + model("loading.onset_void_filled") * (1.0 - solid_fraction)


def _packed(solid_fraction: float) -> dict[str, Any]:
    return {"solid_fraction": solid_fraction, "onset_solid_fraction": onset_solid_fraction(solid_fraction)}


def _spun_fibres(rating_m: float) -> dict[str, Any]:
    """Finer rating, finer fibre; equally dense."""
    return {
        **_packed(model("media.spun_solid_fraction")),
        "fibre_diameter_m": float(model("media.spun_fibre_per_root_micron") * np.sqrt(rating_m * 1e6)),
        "capture": _fibre_capture(rating_m),
    }


def _wound_fibres(rating_m: float) -> dict[str, Any]:
    """One yarn; finer rating, wound tighter."""
    tight = (rating_m * 1e6) ** model("media.wound_solid_exponent")
    return {
        **_packed(model("media.wound_solid_fraction") * tight),
        "fibre_diameter_m": model("media.wound_fibre"),
        "permeability_unknown": "wound_permeability",
        "capture": _fibre_capture(rating_m),
    }


def sheet_fibre_m(rating_m: float) -> float:
    """Return the fibre diameter of a pleated sheet [m]: its rating, but less fine than that below 5 um.

    Notes
    -----
    Sheets of 1, 2 and 5 um lose as 1 : 0.38 : 0.125, a maker's printed figures. Held at its value at 1 um.

    Examples
    --------
    >>> [round(1e6 * sheet_fibre_m(1e-6 * rating), 2) for rating in (0.5, 1, 2, 5, 20)]
    [1.76, 1.76, 2.76, 5.0, 20.0]
    """
    fine = model("media.sheet_fine")
    finer = max(rating_m, model("media.sheet_finest")) / fine
    return rating_m if finer >= 1.0 else float(fine * finer ** model("media.sheet_fine_exponent"))


def flat_layers(*, layers: int, area_m2: float, thickness_m: float, inertia: float = 0.0) -> dict[str, Any]:
    """Return what a flat medium of equal layers says of its shape.

    Parameters
    ----------
    layers : int
        How many.
    area_m2, thickness_m : float
        Area [m2] and thickness [m].
    inertia : float, optional
        Inertial coefficient times the root of the permeability [-].

    Returns
    -------
    dict of str
        Layers and face by their names in ``Medium``.
    """
    return {
        "layer_volume_m3": np.full(layers, area_m2 * thickness_m / layers),
        "layer_path_per_m": np.full(layers, thickness_m / layers / area_m2),
        "layer_inertia_per_m3": np.full(layers, inertia * thickness_m / layers / area_m2**2),
        "face_m2": area_m2,
    }


def _fibre_capture(rating_m: float) -> CaptureCurve:
    return nominal_curve(rating_m, at_rating=model("capture.nominal_at_rating"), slope=model("capture.slope"))


def spun(*, rating_m: float, outer_radius_m: float, inner_radius_m: float, length_m: float) -> Medium:
    """Return a spun (melt-blown) depth element, passed from outside in.

    Parameters
    ----------
    rating_m : float
        Micron rating [m].
    outer_radius_m, inner_radius_m, length_m : float
        Shape of the medium [m].

    Returns
    -------
    Medium
        24 layers of equal radial thickness.

    Notes
    -----
    A thick body is graded: its rated medium is the outer 18 mm of the wall, the whole wall of a slim one; what lies
    inside neither loses nor catches anything (assumption, set on the trade's usual flows).
    """
    return Medium(**_spun_fibres(rating_m), **_wall(outer_radius_m, inner_radius_m, length_m))


def wound(*, rating_m: float, outer_radius_m: float, inner_radius_m: float, length_m: float) -> Medium:
    """Return a string-wound depth element; parameters, layers and grading as of ``spun``."""
    return Medium(**_wound_fibres(rating_m), **_wall(outer_radius_m, inner_radius_m, length_m))


def _wall(outer_radius_m: float, inner_radius_m: float, length_m: float) -> dict[str, Any]:
    inmost = max(inner_radius_m, outer_radius_m - model("media.depth_shell"))
    edges = np.linspace(outer_radius_m, inmost, int(model("media.depth_layers")) + 1)
    return {
        "layer_volume_m3": np.pi * (edges[:-1] ** 2 - edges[1:] ** 2) * length_m,
        "layer_path_per_m": np.log(edges[:-1] / edges[1:]) / (2.0 * np.pi * length_m),
        "layer_inertia_per_m3": np.zeros(len(edges) - 1),
        "core_inertia_per_m4": _core_inertia_per_m4(),
        "face_m2": 2.0 * np.pi * outer_radius_m * length_m,
    }


def pad(*, rating_m: float, area_m2: float, thickness_m: float) -> Medium:
    """Return a flat polishing pad of the same fibre as a spun element.

    Parameters
    ----------
    rating_m : float
        Micron rating [m].
    area_m2, thickness_m : float
        Area [m2] and thickness [m].

    Returns
    -------
    Medium
        24 flat layers, no core.
    """
    layers = int(model("media.depth_layers"))
    flat = flat_layers(layers=layers, area_m2=area_m2, thickness_m=thickness_m)
    return Medium(**_spun_fibres(rating_m), **flat)


def pleated(
    *, rating_m: float, area_m2: float, outer_radius_m: float, inner_radius_m: float, length_m: float
) -> Medium:
    """Return a pleated sheet around a core.

    Parameters
    ----------
    rating_m : float
        Micron rating [m].
    area_m2 : float
        Area of the sheet, unfolded [m2].
    outer_radius_m, inner_radius_m, length_m : float
        Space the pleats stand in [m].

    Returns
    -------
    Medium
        8 flat layers; a half-gap of 0 or less says that so much sheet does not fit.
    """
    thickness = model("media.sheet_thickness")
    room_m3 = np.pi * (outer_radius_m**2 - inner_radius_m**2) * length_m - area_m2 * thickness
    return Medium(
        **_packed(model("media.sheet_solid_fraction")),
        fibre_diameter_m=sheet_fibre_m(rating_m),
        **flat_layers(layers=int(model("media.sheet_layers")), area_m2=area_m2, thickness_m=thickness),
        core_inertia_per_m4=_core_inertia_per_m4(),
        half_gap_m=float(room_m3 / (2.0 * area_m2)),
        capture=_fibre_capture(rating_m),
        strains=True,
        rinseable=True,
    )


def foam_rating_m(pores_per_inch: float) -> float:
    """Return the rating that goes with a foam's pores per inch.

    Parameters
    ----------
    pores_per_inch : float
        Pores per inch.

    Returns
    -------
    float
        Rating [m]; assumption, 350 um at 20 pores per inch.

    Examples
    --------
    >>> round(1e6 * foam_rating_m(20))
    350
    """
    return model("media.foam_rating_times_ppi") / pores_per_inch


def foam(*, pores_per_inch: float, area_m2: float, thickness_m: float, rating_m: float) -> Medium:
    """Return an open foam block.

    Parameters
    ----------
    pores_per_inch : float
        Pores per inch.
    area_m2, thickness_m : float
        Area [m2] and thickness [m].
    rating_m : float
        Rating [m]; ``foam_rating_m`` where the maker gives none.

    Returns
    -------
    Medium
        24 flat layers with an inertial loss, no core.

    Notes
    -----
    Bhattacharya, Calmidi & Mahajan 2002, recalled from memory: about 1.3e-7 m2 at 20 pores per inch.
    """
    layers, inertia = int(model("media.depth_layers")), model("media.foam_inertia")
    return Medium(
        solid_fraction=model("media.foam_solid_fraction"),
        fibre_diameter_m=model("media.foam_strut_times_ppi") / pores_per_inch,
        **flat_layers(layers=layers, area_m2=area_m2, thickness_m=thickness_m, inertia=inertia),
        onset_solid_fraction=inf,
        capture=nominal_curve(
            rating_m,
            at_rating=model("capture.foam_at_rating"),
            slope=model("capture.foam_slope"),
            thickness=thickness_m / model("capture.foam_thickness"),
        ),
        rinseable=True,
    )


def clean_loss_pa(medium: Medium, flow_m3_s: float | Array, water: Water) -> Array:
    """Return what a clean element loses at a flow.

    Parameters
    ----------
    medium : Medium
        The element.
    flow_m3_s : float or (...) array
        Flow through it [m3/s].
    water : Water
        The water.

    Returns
    -------
    (...) array
        Loss [Pa].
    """
    k = medium.permeability_factor * permeability_m2(medium.solid_fraction, medium.fibre_diameter_m**2)
    flow = np.asarray(flow_m3_s)
    inertia = medium.core_inertia_per_m4 + medium.layer_inertia_per_m3.sum() / np.sqrt(k)
    linear = water.viscosity_pa_s * medium.layer_path_per_m.sum() / k
    return np.asarray(linear * flow + water.density_kg_m3 * inertia * flow**2)


def fitted_to_clean_loss(medium: Medium, points: Sequence[tuple[float, float]], water: Water) -> Medium:
    """Return the element with the permeability that a maker's clean losses imply.

    Parameters
    ----------
    medium : Medium
        The element by the law alone.
    points : sequence of (float, float)
        Flow [m3/s] and loss [Pa], each more than 0.
    water : Water
        The water the losses were measured in.

    Returns
    -------
    Medium
        The same with another ``permeability_factor``, as well known as any: least squares of the relative error. A core
        that would take more than nine tenths of a loss is taken as wider than assumed.

    Raises
    ------
    ValueError
        If the losses are a million times off what the rating says.
    """
    from scipy.optimize import brentq

    flow, measured = np.array(points).T

    def error(log_factor: float) -> float:
        factors = float(np.exp(log_factor)) * np.array([1.0, 1.01])
        trials = [replace(medium, permeability_factor=factor) for factor in factors.tolist()]
        weight, wider = (clean_loss_pa(trial, flow, water) / measured for trial in trials)
        return float(((weight - 1.0) * (wider - weight)).sum())

    core = water.density_kg_m3 * medium.core_inertia_per_m4 * flow**2
    share = float((core / measured).max())
    if share > _MOST_CORE:  # the maker's figure wins over what is assumed of the core
        medium = replace(medium, core_inertia_per_m4=medium.core_inertia_per_m4 * _MOST_CORE / share)
    widest = np.log(1e6)
    if error(-widest) * error(widest) >= 0.0:
        off = f"{measured[0]:.3g} Pa at {flow[0]:.3g} m3/s is a million times off"
        raise ValueError(f"clean_loss: {off} what the rating alone says")
    factor = float(np.exp(brentq(error, -widest, widest, xtol=1e-12)))
    return replace(medium, permeability_factor=factor, permeability_unknown="permeability")
