"""What a year of an option takes: electricity and money."""

from collections.abc import Sequence

import numpy as np

from filtration.answers.results import CostPerYear, EnergyPerYear, StageAnswer
from filtration.base.arrays import Amount, totals
from filtration.base.units import GRAVITY_M_S2
from filtration.loading.assembly import Entry, clean_flow_m3_s
from filtration.physics.cost import DAYS_PER_YEAR, Prices, capital_recovery
from filtration.physics.energy import (
    HOURS_PER_YEAR,
    cooling_kwh_year,
    fill_cooling_kwh,
    hose_conductance_w_m_k,
    pump_heat_w,
)
from filtration.physics.pump import head_curve
from filtration.service.events import Running
from filtration.study.values import Element, Study


def water_changes_per_year(study: Study) -> float:
    """Return how often the water is changed.

    Parameters
    ----------
    study : Study
        The study.

    Returns
    -------
    float
        Changes a year; 0 for never.
    """
    return 0.0 if study.water_never_changed else DAYS_PER_YEAR / study.tub.water_life_days


def _fill_kwh(study: Study) -> float:
    return fill_cooling_kwh(study.tub.volume_m3, study.fill_temperature_c, study.tub.water, study.cooling)


def heat_w(study: Study, entry: Entry, flow_m3_s: float) -> float:
    """Return the heat that pump and hoses bring into the water.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    flow_m3_s : float
        Flow while the pump runs [m3/s].

    Returns
    -------
    float
        Heat, meaned over the day [W]. Under a lift test only the head left for the filter counts as hydraulic.
    """
    pump, water, plumbing = entry.pump, study.tub.water, study.plumbing
    if study.lift_test and entry.loop is not None:
        hydraulic = flow_m3_s * float(entry.loop.left_pa(np.array([flow_m3_s]))[0])
    else:
        head_m = float(head_curve(pump)(np.array([flow_m3_s]))[0])
        hydraulic = flow_m3_s * water.density_kg_m3 * GRAVITY_M_S2 * head_m
    heat = pump_heat_w(pump.power_w, min(hydraulic, pump.power_w), in_water=pump.in_water)
    if plumbing is not None:
        conductance = hose_conductance_w_m_k(plumbing.bore_m, plumbing.insulation_m)
        heat += conductance * plumbing.length_outside_m * (study.air_temperature_c - water.temperature_c)
    return heat * pump.share_of_day


def energy_of(study: Study, entry: Entry, heat_w: float) -> EnergyPerYear:
    """Return the electricity of a year.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    heat_w : float
        Heat of pump and hoses, meaned over the day [W].

    Returns
    -------
    EnergyPerYear
        In kWh.
    """
    return EnergyPerYear(
        pumping=entry.pump.power_w * entry.pump.share_of_day * HOURS_PER_YEAR / 1e3,
        cooling=cooling_kwh_year(heat_w, study.cooling),
        water_changes=water_changes_per_year(study) * _fill_kwh(study),
    )


def priced_parts(element: Element, prices: Prices, bought: Amount, rinses: Amount, soaks: Amount) -> dict[str, Amount]:
    """Return what a year of one element costs in parts.

    Parameters
    ----------
    element : Element
        The element.
    prices : Prices
        What things cost.
    bought, rinses, soaks : float or (...) array
        How many a year, all housings together.

    Returns
    -------
    dict of str to float or (...) array
        By part.
    """
    minutes = rinses * element.rinse_minutes + soaks * element.soak_minutes
    return {
        "elements": bought * element.price,
        "rinsing": rinses * (element.rinse_water_m3 * prices.water_per_m3) + soaks * element.soak_price,
        "own_time": minutes / 60.0 * prices.own_time_per_hour,
        "disposal": bought * prices.disposal_each,
    }


def fixed_parts(study: Study, entry: Entry, energy: EnergyPerYear | None = None) -> dict[str, float]:
    """Return the parts of a year's cost that no service changes.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    energy : EnergyPerYear, optional
        Electricity; left out, that of the clean flow.

    Returns
    -------
    dict of str to float
        By part.
    """
    prices, option, pump = study.prices, entry.option, entry.pump
    if energy is None:
        energy = energy_of(study, entry, heat_w(study, entry, clean_flow_m3_s(study, entry)))
    rate = prices.discount_rate
    housing = option.housings * option.housing_price * capital_recovery(rate, option.housing_life_years)
    water = water_changes_per_year(study) * study.tub.volume_m3 * prices.water_per_m3
    return {
        "pumping": (energy.pumping or 0.0) * prices.electricity_per_kwh,
        "cooling": (energy.cooling or 0.0) * prices.electricity_per_kwh,
        "equipment": pump.price * capital_recovery(rate, pump.life_years) + housing,
        "water_changes": water + (energy.water_changes or 0.0) * prices.electricity_per_kwh,
        "disinfectant": 12.0 * prices.disinfectant_per_month,
    }


def cost_of(study: Study, entry: Entry, stages: Sequence[StageAnswer], energy: EnergyPerYear) -> CostPerYear:
    """Return the cost of a year, each part its yearly amount times its price.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.
    stages : sequence of StageAnswer
        What is bought, rinsed and soaked a year.
    energy : EnergyPerYear
        Electricity [kWh].

    Returns
    -------
    CostPerYear
        In the study's currency.
    """
    found = [*fixed_parts(study, entry, energy).items()]
    for stage, element in zip(stages, entry.option.stages, strict=True):
        amounts = stage.elements_per_year or 0.0, stage.rinses_per_year or 0.0, stage.soaks_per_year or 0.0
        found += priced_parts(element, study.prices, *amounts).items()
    parts = totals(found)
    return CostPerYear(**parts, total=sum(parts.values()))


def running_of(study: Study, energy: EnergyPerYear) -> Running:
    """Return what runs on whatever is serviced.

    Parameters
    ----------
    study : Study
        The study.
    energy : EnergyPerYear
        Electricity [kWh].

    Returns
    -------
    Running
        Electricity between water changes, and those.
    """
    prices = study.prices
    price = study.tub.volume_m3 * prices.water_per_m3 + _fill_kwh(study) * prices.electricity_per_kwh
    return Running(
        electricity_kwh_per_year=(energy.pumping or 0.0) + (energy.cooling or 0.0),
        water_change_days=float("inf") if study.water_never_changed else study.tub.water_life_days,
        water_change_price=price,
    )
