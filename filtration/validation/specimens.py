"""What published cases are tried on: a mat, and a medium of a usual kind and size."""

from math import inf

from filtration.base.defaults import model
from filtration.physics.capture import CaptureCurve
from filtration.physics.media import Medium, flat_layers
from filtration.study.build import element_of
from filtration.study.tables import ElementTable
from filtration.study.values import medium_of

_LAYERS, _CAKE = 24, model("loading.cake_resistance")


def flat_mat(
    *, solid_fraction: float, fibre_m: float, thickness_m: float, area_m2: float, cake_resistance_m_kg: float = _CAKE
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
        **flat_layers(layers=_LAYERS, area_m2=area_m2, thickness_m=thickness_m),
        onset_solid_fraction=inf,
        capture=CaptureCurve(rating_m=1e-6, at_rating=1.0, slope=0.0, bypass=0.0),
        cake_resistance_m_kg=cake_resistance_m_kg,
    )


def usual_medium(kind: str, rating_um: float, size: str = "10 x 2.5 in", *, absolute: bool = False) -> Medium:
    """Return a medium of a kind and rating: open foam, or of a size as a study names it; all else is left open."""
    shape = {"area": "0.02 m^2", "thickness": "50 mm", "pores_per_inch": 20} if kind == "foam" else {"size": size}
    label = {"rating": f"{rating_um:.10g} um", "rating_means": "absolute" if absolute else "nominal"}
    return medium_of(element_of(ElementTable.model_validate({"name": "element", "kind": kind, **label, **shape})))
