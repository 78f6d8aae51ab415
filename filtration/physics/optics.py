"""How far one sees through water with particles in it."""

import numpy as np

from filtration.base.arrays import Array
from filtration.base.defaults import model

WAVELENGTH_M = 550e-9
WATER_INDEX = 1.333


def extinction_efficiency(diameter_m: float | Array, relative_index: float) -> Array:
    """Return the extinction efficiency of transparent spheres in water.

    Parameters
    ----------
    diameter_m : float or (...) array
        Particle diameter [m].
    relative_index : float
        Refractive index over that of water [-], a little above 1.

    Returns
    -------
    (...) array
        Extinction over geometric cross-section [-], 2 for large particles.

    Notes
    -----
    Anomalous diffraction, van de Hulst 1957, for every size. A power series replaces the closed form where its terms
    would cancel.

    Examples
    --------
    >>> round(float(extinction_efficiency(1.0, 1.05)), 3)
    2.0
    """
    p = 2.0 * np.pi * np.asarray(diameter_m) * WATER_INDEX * (relative_index - 1.0) / WAVELENGTH_M
    wide = np.maximum(p, 1e-2)
    closed = 2.0 - 4.0 / wide * np.sin(wide) + 4.0 / wide**2 * (1.0 - np.cos(wide))
    return np.where(p < 1e-2, p * p / 2.0, closed)


def attenuation_per_kg_m3(diameter_m: float | Array, relative_index: float, density_kg_m3: float) -> Array:
    """Return the beam attenuation that one kilogram of particles in a cubic metre causes.

    Parameters
    ----------
    diameter_m : float or (...) array
        Particle diameter [m].
    relative_index : float
        Refractive index over that of water [-].
    density_kg_m3 : float
        Dry density of the particles [kg/m3].

    Returns
    -------
    (...) array
        Attenuation [1/m per kg/m3].

    Examples
    --------
    >>> round(float(attenuation_per_kg_m3(1e-3, 1.16, 2650.0)), 2)
    1.13
    """
    d = np.asarray(diameter_m)
    return np.asarray(1.5 * extinction_efficiency(d, relative_index) / (density_kg_m3 * d))


def see_through_m(attenuation_per_m: float | Array) -> Array:
    """Return the distance at which a black disc can just be seen, looking level under water.

    Parameters
    ----------
    attenuation_per_m : float or (...) array
        Beam attenuation [1/m], more than 0.

    Returns
    -------
    (...) array
        Distance [m].

    Notes
    -----
    Davies-Colley 1988. It says nothing about hygiene.

    Examples
    --------
    >>> round(float(see_through_m(0.06)), 6)
    80.0
    """
    return np.asarray(model("optics.black_disc") / np.asarray(attenuation_per_m))
