"""What media do, from a published case's inputs: permeability, clean loss, and what is caught; SI units unless told."""

from math import pi
from typing import Any

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model
from filtration.base.places import demo_file
from filtration.base.units import in_unit
from filtration.loading.assembly import entry_of, runner_of
from filtration.loading.law import trains_of
from filtration.loading.lifetime import first_runs
from filtration.physics.capture import (
    CaptureCurve,
    beta_ratio,
    caught_in_one_pass,
    caught_inside,
    efficiency_of_beta,
    strained,
)
from filtration.physics.media import Medium, clean_loss_pa, depth_cylinder
from filtration.physics.media import foam as foam_medium
from filtration.physics.permeability import kozeny_constant, permeability_m2
from filtration.physics.water import Water, water_at
from filtration.study.file import load_study
from filtration.study.keys import SIZE, Size
from filtration.study.values import Element, medium_of

_LAYERS = 24
_CRAWL_M3_S = 1e-9  # slow enough that a core and a foam's square law take nothing
_FOAM = {"area_m2": 0.02, "thickness_m": 0.05}


def flat_mat(
    *,
    solid_fraction: float,
    fibre_m: float,
    thickness_m: float,
    area_m2: float,
    cake_resistance_m_kg: float = model("loading.cake_resistance"),
) -> Medium:
    """Return a flat fibre mat of 24 layers that catches the same share of every size.

    Parameters
    ----------
    solid_fraction : float
        Share of the volume that is fibre [-].
    fibre_m, thickness_m : float
        Diameter of the fibres, thickness of the mat [m].
    area_m2 : float
        Area of the face [m2].
    cake_resistance_m_kg : float, optional
        Specific resistance of a cake on it at 10 kPa [m/kg].

    Returns
    -------
    Medium
        Without core, pleats or bypass; no cake forms before a layer is full.
    """
    return Medium(
        solid_fraction=solid_fraction,
        fibre_diameter_m=fibre_m,
        layer_volume_m3=np.full(_LAYERS, area_m2 * thickness_m / _LAYERS),
        layer_path_per_m=np.full(_LAYERS, thickness_m / _LAYERS / area_m2),
        layer_inertia_per_m3=np.zeros(_LAYERS),
        core_inertia_per_m4=0.0,
        face_m2=area_m2,
        half_gap_m=float("inf"),
        onset_solid_fraction=float("inf"),
        capture=CaptureCurve(rating_m=1e-6, at_rating=1.0, slope=0.0, bypass=0.0),
        strains=False,
        rinseable=False,
        cake_resistance_m_kg=cake_resistance_m_kg,
    )


# ---- permeability and clean loss


def mat_over_array(*, solid_fraction: list[float], drag: list[float]) -> Array:
    """Permeability of our law over that of a square array of cylinders, k/d2 = pi/(4 a F)."""
    a = np.array(solid_fraction)
    ratio: Array = permeability_m2(a, 1.0) * 4.0 * a * np.array(drag) / pi
    return ratio


def permeability(*, solid_fraction: list[float]) -> Array:
    """Permeability over fibre diameter squared."""
    return permeability_m2(np.array(solid_fraction), 1.0)


def kozeny(*, solid_fraction: list[float]) -> Array:
    """Kozeny constant."""
    return kozeny_constant(np.array(solid_fraction))


def foam_permeability(*, pores_per_inch: float) -> float:
    """Permeability that a foam's clean loss at a crawl implies."""
    medium = foam_medium(pores_per_inch=pores_per_inch, rating_m=350e-6, **_FOAM)
    water, thickness_m, area_m2 = water_at(20.0), _FOAM["thickness_m"], _FOAM["area_m2"]
    loss = float(clean_loss_pa(medium, _CRAWL_M3_S, water))
    return water.viscosity_pa_s * _CRAWL_M3_S * thickness_m / area_m2 / loss


def mat_in_air(
    *,
    solid_fraction: list[float],
    fibre_m: float,
    thickness_m: float,
    velocity_m_s: float,
    density_kg_m3: float,
    viscosity_pa_s: float,
) -> Array:
    """Clean loss of fibre mats in air."""
    air = Water(temperature_c=20.0, density_kg_m3=density_kg_m3, viscosity_pa_s=viscosity_pa_s)
    shape = {"fibre_m": fibre_m, "thickness_m": thickness_m, "area_m2": 1.0}
    return np.array([clean_loss_pa(flat_mat(solid_fraction=a, **shape), velocity_m_s, air) for a in solid_fraction])


def ten_inch_psi_per_gpm(*, rating_um: list[float]) -> Array:
    """Loss of the media of 10-inch depth elements at a crawl, core aside, in psi per US gallon a minute."""
    shape = {"outer_radius_m": 0.0318, "inner_radius_m": 0.0138, "length_m": 0.250}
    media = [depth_cylinder(rating_m=1e-6 * rating, **shape) for rating in rating_um]
    pascal = np.array([clean_loss_pa(medium, _CRAWL_M3_S, water_at(20.0)) for medium in media])
    return in_unit(pascal, "psi") / in_unit(_CRAWL_M3_S, "gpm")


# ---- capture


def caught_of_beta(*, beta: list[float]) -> Array:
    """Shares caught that belong to beta ratios."""
    return efficiency_of_beta(np.array(beta))


def beta_of_caught(*, caught: list[float]) -> Array:
    """Beta ratios that belong to shares caught."""
    return beta_ratio(np.array(caught))


def element_of(kind: Any, rating_um: float, size: str = "10 x 2.5 in", *, absolute: bool = False) -> Element:  # noqa: ANN401 - a literal of the study
    """Return a usual element of a kind: open foam of 20 pores per inch, or one of a usual size.

    Parameters
    ----------
    kind : {"foam", "depth", "pleated"}
        What it is.
    rating_um : float
        Micron rating [um].
    size : str, optional
        A size as a study names it; a foam has none.
    absolute : bool, optional
        What the label says of the rating.

    Returns
    -------
    Element
        The element, all else left open.
    """
    if kind == "foam":
        shape: dict[str, Any] = {**_FOAM, "pores_per_inch": 20.0}
    else:
        of = SIZE.read(size)
        if not isinstance(of, Size):
            msg = f"{size!r} is no size of an element"
            raise TypeError(msg)
        shape = {"outer_radius_m": of.outer_radius_m, "inner_radius_m": of.inner_radius_m, "length_m": of.length_m}
        if kind == "pleated":
            shape["area_m2"] = of.pleated_m2
    return Element(name="element", kind=kind, rating_m=1e-6 * rating_um, absolute=absolute, **shape)


def caught_clean(*, kind: list[str], rating_um: list[float], diameter_um: float) -> Array:
    """Share of one size that clean elements take out in one pass."""
    media = [medium_of(element_of(k, rating)) for k in kind for rating in rating_um]
    return np.array([caught_in_one_pass(medium.capture, 1e-6 * diameter_um) for medium in media])


def caught_at_rating(*, kind: list[str], rating_um: list[float]) -> Array:
    """Share that clean elements take out in one pass at their rating."""
    return np.array([caught_clean(kind=kind, rating_um=[one], diameter_um=one) for one in rating_um]).ravel()


def _with_cake(medium: Medium, cake_kg_m2: float, diameter_um: float) -> float:
    size = np.array(1e-6 * diameter_um)
    clean = caught_inside(medium.capture, size)
    inside = strained(clean, cake_kg_m2, size) if medium.strains else clean
    return (1.0 - medium.capture.bypass) * float(inside)


def caught_full_of_cake(*, size: list[str], rating_um: list[float], diameter_um: float) -> Array:
    """Share of one size that pleats take out in one pass with their gap full of cake, the most there can be."""
    media = [medium_of(element_of("pleated", rating, name)) for name in size for rating in rating_um]
    trains = trains_of([((medium,), 1) for medium in media])
    per_area = trains.cake_full_kg[:, 0] / trains.face_m2[:, 0]
    both = zip(media, per_area, strict=True)
    return np.array([_with_cake(medium, float(cake), diameter_um) for medium, cake in both])


def caught_in_demos_when_due(*, demo: list[str], least_rating_um: float, diameter_um: float) -> Array:
    """Share of one size that every coarse element of the demo tubs takes out in one pass when first due."""
    found = []
    for name in demo:
        study = load_study(demo_file(name))
        entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
        runner = runner_of(study, entries)
        rows = np.flatnonzero(runner.clean.flow_m3_s > runner.clean.due_flow_m3_s)
        due = first_runs(runner, rows).when_due
        for place, row in enumerate(rows):
            for stage, medium in enumerate(entries[row].media):
                if 1e6 * medium.capture.rating_m >= least_rating_um * (1.0 - 1e-9):
                    found.append(_with_cake(medium, float(due.cake_kg[place, stage]) / medium.face_m2, diameter_um))
    return np.array(found)


def log_removal(*, absolute: list[bool], rating_um: float, diameter_um: float, cake_kg_m2: float) -> Array:
    """Log removal of one size by elements without a measured beta, whatever the label says."""
    media = [medium_of(element_of(kind, rating_um, absolute=a)) for kind in ("depth", "pleated") for a in absolute]
    caught = np.array([_with_cake(medium, cake_kg_m2, diameter_um) for medium in media])
    return -np.log10(1.0 - caught)
