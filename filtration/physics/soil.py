"""What bathers, feet and dust bring into the water, by particle size."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model

Feet = Literal["rinsed", "indoors", "from the garden"]
Surroundings = Literal["outdoors", "indoors"]

CLASS_EDGES_M: Array = np.geomspace(0.5e-6, 2000e-6, 25)
CLASS_DIAMETERS_M: Array = np.sqrt(CLASS_EDGES_M[:-1] * CLASS_EDGES_M[1:])

_FEET = {"rinsed": "soil.feet_rinsed", "indoors": "soil.feet_indoors", "from the garden": "soil.feet_garden"}
_DUST = {"outdoors": "soil.dust_outdoors", "indoors": "soil.dust_indoors"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of dirt.

    Parameters
    ----------
    name : str
        What it is.
    amount_kg_day : float
        Dry mass brought in [kg/day].
    median_m, spread : float
        Median diameter by mass [m] and geometric standard deviation [-].
    mineral : bool
        Grit rather than organic matter.
    falls_in : bool
        It comes from the air rather than with bathers.
    """

    name: str
    amount_kg_day: float
    median_m: float
    spread: float
    mineral: bool
    falls_in: bool = False


def class_shares(median_m: float, spread: float) -> Array:
    """Return the share by mass of a lognormal dust in each size class.

    Parameters
    ----------
    median_m : float
        Median diameter by mass [m].
    spread : float
        Geometric standard deviation [-], above 1.

    Returns
    -------
    (24,) array
        Shares [-]; what lies outside the outermost edges is left out.

    Examples
    --------
    >>> round(float(class_shares(30e-6, 2.2).sum()), 4)
    1.0
    """
    from math import erf, log, sqrt

    below = [0.5 * (1.0 + erf(log(edge / median_m) / log(spread) / sqrt(2.0))) for edge in CLASS_EDGES_M]
    return np.diff(np.array(below))


def sources(
    *,
    uses_per_day: float,
    showered_share: float,
    feet: Feet,
    surroundings: Surroundings,
    open_surface_m2: float,
    uncovered_hours_per_day: float,
) -> tuple[Source, ...]:
    """Return the five sources of dirt of a tub.

    Parameters
    ----------
    uses_per_day : float
        Dips a day, all bathers together.
    showered_share : float
        Share of the dips with a shower before [-].
    feet : {"rinsed", "indoors", "from the garden"}
        What the feet walked on.
    surroundings : {"outdoors", "indoors"}
        Where the tub stands.
    open_surface_m2 : float
        Water surface under the lid [m2].
    uncovered_hours_per_day : float
        Hours a day without the lid.

    Returns
    -------
    tuple of Source
        Skin, hair, fine matter, feet and dust.

    Notes
    -----
    Assumptions throughout: good data on what bathers bring do not exist.

    Examples
    --------
    >>> tub = dict(showered_share=0.0, feet="rinsed", surroundings="indoors", open_surface_m2=0.9)
    >>> [round(1e6 * s.amount_kg_day) for s in sources(uses_per_day=1, uncovered_hours_per_day=24, **tub)]
    [60, 20, 20, 5, 4]
    """
    bathers = uses_per_day * (1.0 - model("soil.shower_takes_off") * showered_share)
    uncovered_m2 = open_surface_m2 * uncovered_hours_per_day / 24.0

    def source(name: str, key: str, amount: float, *, mineral: bool = False, falls_in: bool = False) -> Source:
        return Source(
            name=name,
            amount_kg_day=amount,
            median_m=model(f"soil.{key}_median"),
            spread=model(f"soil.{key}_spread"),
            mineral=mineral,
            falls_in=falls_in,
        )

    return (
        source("skin flakes and clumps", "skin", bathers * model("soil.skin_per_dip")),
        source("hair and lint", "hair", bathers * model("soil.hair_per_dip")),
        source("fine and oily matter", "fines", bathers * model("soil.fines_per_dip")),
        source("feet", "feet", uses_per_day * model(_FEET[feet]), mineral=True),
        source("dust fall", "dust", uncovered_m2 * model(_DUST[surroundings]), mineral=True, falls_in=True),
    )


def load_kg_day(of: tuple[Source, ...], *, mineral: bool) -> Array:
    """Return the daily load of the organic or the mineral sources by size class.

    Parameters
    ----------
    of : tuple of Source
        The sources.
    mineral : bool
        Which kind.

    Returns
    -------
    (24,) array
        Dry mass [kg/day].

    Examples
    --------
    >>> dust = Source(name="dust", amount_kg_day=1e-3, median_m=20e-6, spread=3, mineral=True)
    >>> float(load_kg_day((dust,), mineral=False).sum())
    0.0
    """
    alike = [each.amount_kg_day * class_shares(each.median_m, each.spread) for each in of if each.mineral is mineral]
    return np.asarray(sum(alike, np.zeros_like(CLASS_DIAMETERS_M)))
