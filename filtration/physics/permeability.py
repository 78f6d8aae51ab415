"""How easily water passes a mat of fibres: one law for every kind of element, clean and loaded."""

import numpy as np

from filtration.base.arrays import Array

_HELD_ABOVE = 0.30


def kozeny_constant(solid_fraction: float | Array) -> Array:
    """Return the Kozeny constant that makes the permeability law agree with Davies.

    Parameters
    ----------
    solid_fraction : float or (...) array
        Share of the volume that is solid [-], between 0 and 1.

    Returns
    -------
    (...) array
        Kozeny constant [-].

    Notes
    -----
    Davies 1952 is fitted to mats of solid fraction up to 0.3; above, the constant is held at its value there (6.292).

    Examples
    --------
    >>> round(float(kozeny_constant(0.5)), 3)
    6.292
    """
    a = np.minimum(solid_fraction, _HELD_ABOVE)
    return np.asarray(4.0 * (1.0 - a) ** 3 * (1.0 + 56.0 * a**3) / np.sqrt(a))


_HELD = float(kozeny_constant(_HELD_ABOVE))


def permeability_m2(solid_fraction: float | Array, fibre_diameter_squared_m2: float | Array) -> Array:
    """Return the permeability of a mat of fibres.

    Parameters
    ----------
    solid_fraction : float or (...) array
        Share of the volume that is solid [-], between 0 and 1.
    fibre_diameter_squared_m2 : float or (...) array
        Square of the fibre diameter [m2]; a loaded fibre's square grows in proportion to the solid fraction.

    Returns
    -------
    (...) array
        Permeability [m2], in the precision that comes.

    Notes
    -----
    Kozeny-Carman by specific surface: k = e^3 d^2 / (16 k_K a^2), a the solid fraction, e = 1 - a; up to 0.3 it is
    Davies' own law.

    Examples
    --------
    >>> round(float(permeability_m2(0.10, 1.0)), 3)
    0.468
    """
    a = np.asarray(solid_fraction)
    root = a * np.sqrt(a)
    k: Array = fibre_diameter_squared_m2 / (64.0 * root * (1.0 + 56.0 * root * root))  # Davies
    dense = a > _HELD_ABOVE
    if dense.any():
        void = 1.0 - a
        held = void * void * void * fibre_diameter_squared_m2 / (16.0 * _HELD * a * a)
        k = np.where(dense, held, k)
    return k
