"""How fast particles sink in still water."""

import numpy as np

from filtration.base.arrays import Array
from filtration.base.units import GRAVITY_M_S2
from filtration.physics.water import Water


def settling_velocity_m_s(diameter_m: float | Array, density_kg_m3: float, water: Water) -> Array:
    """Return the terminal velocity of a sphere by Stokes' law.

    Parameters
    ----------
    diameter_m : float or (...) array
        Particle diameter [m].
    density_kg_m3 : float
        Density of the particle as it is in the water [kg/m3].
    water : Water
        The water.

    Returns
    -------
    (...) array
        Velocity downwards [m/s].

    Notes
    -----
    Stokes 1851; valid while the particle's Reynolds number is well below 1, too fast above.

    Examples
    --------
    >>> from filtration.physics.water import water_at
    >>> round(1e6 * float(settling_velocity_m_s(10e-6, 1100.0, water_at(3.0))), 2)
    3.37
    """
    d = np.asarray(diameter_m)
    return np.asarray(GRAVITY_M_S2 * (density_kg_m3 - water.density_kg_m3) * d * d / (18.0 * water.viscosity_pa_s))
