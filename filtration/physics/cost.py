"""Money: yearly rates and present values."""

from collections.abc import Sequence
from dataclasses import dataclass

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What things cost, in the study's currency.

    Parameters
    ----------
    electricity_per_kwh, water_per_m3, own_time_per_hour : float
        Prices per kWh, cubic metre and hour.
    disposal_each : float
        To get rid of one spent element.
    disinfectant_per_month : float
        Disinfectant as stated.
    discount_rate : float
        Real rate a year [-].
    horizon_days : float
        Length of the dated plan [day].
    """

    electricity_per_kwh: float
    water_per_m3: float
    own_time_per_hour: float
    disposal_each: float
    disinfectant_per_month: float
    discount_rate: float
    horizon_days: float


def single_present_value(rate: float, years: float) -> float:
    """Return the present value of 1 paid after some years.

    Parameters
    ----------
    rate : float
        Discount rate a year [-].
    years : float
        Years from now.

    Returns
    -------
    float
        Factor [-], the SPV of ASTM E917.

    Examples
    --------
    >>> round(single_present_value(0.03, 10), 4)
    0.7441
    """
    return float((1.0 + rate) ** -years)


def uniform_present_value(rate: float, years: float) -> float:
    """Return the present value of 1 paid at the end of each year.

    Parameters
    ----------
    rate : float
        Discount rate a year [-].
    years : float
        Number of years.

    Returns
    -------
    float
        Factor [-], the UPV of ASTM E917; the number of years where the rate is 0.

    Examples
    --------
    >>> round(uniform_present_value(0.03, 10), 4)
    8.5302
    """
    if abs(rate) < 1e-9:
        return years
    return (1.0 - single_present_value(rate, years)) / rate


def capital_recovery(rate: float, years: float) -> float:
    """Return the yearly payment that repays 1 over some years.

    Parameters
    ----------
    rate : float
        Discount rate a year [-].
    years : float
        Life [year], more than 0.

    Returns
    -------
    float
        Factor [1/year], the UCR of ASTM E917.

    Examples
    --------
    >>> round(capital_recovery(0.07, 20), 5)
    0.09439
    """
    return 1.0 / uniform_present_value(rate, years)


def equivalent_annual_cost(*, first: float, yearly: float, salvage: float, rate: float, years: float) -> float:
    """Return what owning a thing costs a year.

    Parameters
    ----------
    first, yearly, salvage : float
        Price now, cost of each year, and what it fetches at the end.
    rate : float
        Discount rate a year [-].
    years : float
        Life [year].

    Returns
    -------
    float
        Cost a year.

    Examples
    --------
    >>> round(equivalent_annual_cost(first=30000, yearly=18000, salvage=7000, rate=0.12, years=4))
    26412
    """
    now = first - salvage * single_present_value(rate, years)
    return now * capital_recovery(rate, years) + yearly


def present_value(payments: Sequence[tuple[float, float]], rate: float) -> float:
    """Return the present value of dated payments.

    Parameters
    ----------
    payments : sequence of (float, float)
        Day from now [day] and amount.
    rate : float
        Discount rate a year [-].

    Returns
    -------
    float
        Their sum today.

    Examples
    --------
    >>> round(present_value([(0, 10.0), (365.25, 10.3)], 0.03), 2)
    20.0
    """
    return sum(amount * single_present_value(rate, day / DAYS_PER_YEAR) for day, amount in payments)
