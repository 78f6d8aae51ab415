"""Electricity, and the heat the loop brings into cold water."""

from dataclasses import dataclass
from math import log, pi

from filtration.base.defaults import model
from filtration.base.units import SECONDS_PER_DAY
from filtration.physics.water import HEAT_CAPACITY_J_KG_K, Water

HOURS_PER_YEAR = 24.0 * 365.25
JOULE_PER_KWH = 3.6e6
_REFERENCE_BORE_M, _REFERENCE_OUTER_M, _REFERENCE_FOAM_M = 0.025, 0.031, 0.010
_AIR_FILM_W_M2_K = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """The cooler.

    Parameters
    ----------
    cop : float
        Heat taken out over electricity used [-].
    share_of_year : float
        Share of the year it runs [-].
    """

    cop: float
    share_of_year: float = 1.0


def pump_heat_w(power_w: float, hydraulic_w: float, *, in_water: bool) -> float:
    """Return the heat a running pump brings into the water.

    Parameters
    ----------
    power_w : float
        Electric power [W].
    hydraulic_w : float
        Flow times pressure of the pump [W].
    in_water : bool
        A submersible gives all its watts; a dry pump its hydraulic power and a share of the rest.

    Returns
    -------
    float
        Heat [W].

    Examples
    --------
    >>> pump_heat_w(40.0, 10.0, in_water=False)
    19.0
    """
    if in_water:
        return power_w
    return hydraulic_w + model("energy.motor_heat_share") * (power_w - hydraulic_w)


def hose_conductance_w_m_k(bore_m: float, insulation_m: float) -> float:
    """Return the heat a metre of hose in the air takes up for each kelvin.

    Parameters
    ----------
    bore_m : float
        Bore [m].
    insulation_m : float
        Thickness of foam around the hose [m].

    Returns
    -------
    float
        Conductance [W/m/K].

    Notes
    -----
    Derived for a 25 mm bore, bare and in 10 mm of foam, in proportion to the bore's perimeter; other thicknesses by the
    resistance of a round layer.

    Examples
    --------
    >>> [round(hose_conductance_w_m_k(0.025, insulation_m), 9) for insulation_m in (0.0, 0.010)]
    [0.73, 0.35]
    """
    bare, covered = model("energy.hose_bare"), model("energy.hose_10mm")
    layer = log(1.0 + 2.0 * insulation_m / _REFERENCE_OUTER_M) / log(1.0 + 2.0 * _REFERENCE_FOAM_M / _REFERENCE_OUTER_M)
    resistance = 1.0 / bare + (1.0 / covered - 1.0 / bare) * layer
    return bore_m / _REFERENCE_BORE_M / resistance


def dew_point_c(air_c: float, humidity: float) -> float:
    """Return the dew point of air.

    Parameters
    ----------
    air_c : float
        Air temperature [degC], -40 to 50.
    humidity : float
        Relative humidity [-], more than 0.

    Returns
    -------
    float
        Dew point [degC].

    Notes
    -----
    Magnus form, Alduchov & Eskridge 1996: 17.625 and 243.04 degC.

    Examples
    --------
    >>> round(dew_point_c(20.0, 0.6), 1)
    12.0
    """
    a, b = 17.625, 243.04
    g = log(humidity) + a * air_c / (b + air_c)
    return b * g / (a - g)


def hose_surface_c(water_c: float, air_c: float, insulation_m: float) -> float:
    """Return the temperature of a hose's surface.

    Parameters
    ----------
    water_c, air_c : float
        Temperatures of water and air [degC].
    insulation_m : float
        Thickness of foam around the hose [m].

    Returns
    -------
    float
        Surface temperature [degC].

    Notes
    -----
    Assumption: a still-air film of 8 W/m2/K around a hose of 31 mm.

    Examples
    --------
    >>> [round(hose_surface_c(4.0, 20.0, insulation_m)) for insulation_m in (0.0, 0.010)]
    [5, 16]
    """
    film = _AIR_FILM_W_M2_K * pi * (_REFERENCE_OUTER_M + 2.0 * insulation_m)
    return air_c - hose_conductance_w_m_k(_REFERENCE_BORE_M, insulation_m) * (air_c - water_c) / film


def warming_k_day(heat_w: float, volume_m3: float, water: Water) -> float:
    """Return how fast an uncooled tub without losses warms up.

    Parameters
    ----------
    heat_w : float
        Heat brought in, mean over the day [W].
    volume_m3 : float
        Volume [m3].
    water : Water
        The water.

    Returns
    -------
    float
        Warming [K/day].

    Examples
    --------
    >>> from filtration.physics.water import water_at
    >>> round(warming_k_day(20.0, 0.400, water_at(4.0)), 2)
    1.03
    """
    return heat_w * SECONDS_PER_DAY / (volume_m3 * water.density_kg_m3 * HEAT_CAPACITY_J_KG_K)


def cooling_kwh_year(heat_w: float, cooling: Cooling) -> float:
    """Return the electricity the cooler needs a year for a steady heat.

    Parameters
    ----------
    heat_w : float
        Heat brought in, mean over the day [W]; nothing is saved where it is negative.
    cooling : Cooling
        The cooler.

    Returns
    -------
    float
        Electricity [kWh/year].

    Examples
    --------
    >>> round(cooling_kwh_year(20.0, Cooling(cop=2.0)), 2)
    87.66
    """
    return max(heat_w, 0.0) * HOURS_PER_YEAR / 1000.0 / cooling.cop * cooling.share_of_year


def fill_cooling_kwh(volume_m3: float, fill_c: float, water: Water, cooling: Cooling) -> float:
    """Return the electricity to cool one fresh fill.

    Parameters
    ----------
    volume_m3 : float
        Volume [m3].
    fill_c : float
        Temperature of the fresh water [degC].
    water : Water
        The water at the tub's temperature.
    cooling : Cooling
        The cooler.

    Returns
    -------
    float
        Electricity [kWh], 0 where the fresh water is colder.

    Examples
    --------
    >>> from filtration.physics.water import water_at
    >>> coolers = [Cooling(cop=2.0, share_of_year=share) for share in (1.0, 0.5)]
    >>> [round(fill_cooling_kwh(1.0, 14.0, water_at(4.0), cooler), 1) for cooler in coolers]
    [5.8, 2.9]
    """
    heat = volume_m3 * water.density_kg_m3 * HEAT_CAPACITY_J_KG_K * max(fill_c - water.temperature_c, 0.0)
    return heat / JOULE_PER_KWH / cooling.cop * cooling.share_of_year
