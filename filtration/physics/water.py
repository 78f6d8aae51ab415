"""Water at the tub's temperature."""

from dataclasses import dataclass

STANDARD_PRESSURE_PA = 1.0e5
HEAT_CAPACITY_J_KG_K = 4200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Properties of water at one temperature."""

    temperature_c: float
    density_kg_m3: float
    viscosity_pa_s: float


def water_at(temperature_c: float) -> Water:
    """Return density and viscosity of water at 0.1 MPa.

    Parameters
    ----------
    temperature_c : float
        Temperature [degC], above freezing and below boiling.

    Returns
    -------
    Water
        Density [kg/m3] and dynamic viscosity [Pa s].

    Notes
    -----
    IAPWS-95 for density, IAPWS 2008 for viscosity, as the library ``chemicals`` carries them.

    Examples
    --------
    >>> round(water_at(20.0).density_kg_m3, 2)
    998.21
    """
    from chemicals.iapws import iapws95_rho
    from chemicals.viscosity import mu_IAPWS

    kelvin = temperature_c + 273.15
    density = float(iapws95_rho(kelvin, STANDARD_PRESSURE_PA))
    return Water(temperature_c=temperature_c, density_kg_m3=density, viscosity_pa_s=float(mu_IAPWS(kelvin, density)))
