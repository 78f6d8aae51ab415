"""What published cases are tried on: a mat, a tub that nobody uses, an element of a usual size."""

import numpy as np

from filtration.base.defaults import model
from filtration.physics.capture import CaptureCurve
from filtration.physics.media import Medium
from filtration.physics.tub import Tub
from filtration.physics.water import Water
from filtration.study.build import element_of
from filtration.study.tables import ElementTable
from filtration.study.values import Element

_LAYERS = 24
FOAM = {"area": "0.02 m^2", "thickness": "50 mm", "pores_per_inch": 20}
"""Open foam, as a study has it."""


def still_tub(volume_m3: float, water: Water) -> Tub:
    """Return a tub that nobody uses and nothing falls into."""
    return Tub(
        volume_m3=volume_m3,
        depth_m=0.7,
        water=water,
        uses_per_day=0.0,
        sessions_per_day=1.0,
        water_life_days=30.0,
        sources=(),
    )


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


def usual_element(kind: str, rating_um: float, size: str = "10 x 2.5 in", *, absolute: bool = False) -> Element:
    """Return an element of a kind and rating: open foam, or of a size as a study names it; all else is left open."""
    shape = FOAM if kind == "foam" else {"size": size}
    label = {"rating": f"{rating_um:.10g} um", "rating_means": "absolute" if absolute else "nominal"}
    return element_of(ElementTable.model_validate({"name": "element", "kind": kind, **label, **shape}))
