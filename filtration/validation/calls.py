"""One call of the program for each figure of a published case, by the name the case has for it; SI units unless told.

Each takes a case's inputs and returns a figure or an array of them. Media and cakes have a module of their own.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from inspect import isfunction
from math import e, pi
from typing import Any

import numpy as np

from filtration.answers.drivers import total_indices
from filtration.base.arrays import Array
from filtration.base.defaults import PLACES, UNKNOWNS, model
from filtration.base.draws import factors_at
from filtration.base.places import demo_file
from filtration.physics import capture, cost, energy, optics, permeability, pump, settling, soil
from filtration.physics.plumbing import Plumbing, plumbing_loss_pa, velocity_pressure_pa
from filtration.physics.tub import hours_to_clear, removal_per_day, spa_rule_days
from filtration.physics.water import water_at
from filtration.plan.spending import spares_for
from filtration.readings.fitting import Fit, fit
from filtration.readings.reading import reading_of
from filtration.readings.record import MODEL, spread_of
from filtration.service.lives import Cheapest, rates_of
from filtration.service.visits import Visit, Visits
from filtration.study.file import load_study
from filtration.study.values import Hand
from filtration.validation import media_cases

_BORE_M = 0.019
_POINTS, _SEED = 4096, 0

_AT_EACH: Mapping[str, Callable[..., Any]] = {  # worked out for each of what a case lists
    "viscosity_upa_s": lambda celsius: 1e6 * water_at(celsius).viscosity_pa_s,
    "density": lambda celsius: water_at(celsius).density_kg_m3,
    "permeability": permeability.permeability_m2,
    "kozeny": permeability.kozeny_constant,
    "caught_of_beta": capture.efficiency_of_beta,
    "beta_of_caught": capture.beta_ratio,
    "spa_rule": spa_rule_days,
    "see_through": optics.see_through_m,
    "warming": lambda watt, litres, celsius: energy.warming_k_day(watt, 1e-3 * litres, water_at(celsius)),
    "dew_point": energy.dew_point_c,
    "hose_conductance": energy.hose_conductance_w_m_k,
    "equivalent_annual_cost": cost.equivalent_annual_cost,
    "single_worth": cost.single_present_value,
    "uniform_worth": cost.uniform_present_value,
    "recovery": cost.capital_recovery,
    "spares": spares_for,
}


# ---- hydraulics


def friction_factor(*, reynolds: list[float], relative_roughness: float) -> Array:
    """Friction factor that the loss of a straight hose without fittings implies."""
    water, length_m = water_at(4.0), 10.0
    hose = Plumbing(bore_m=_BORE_M, length_m=length_m, roughness_m=relative_roughness * _BORE_M)
    flow = np.array(reynolds) * water.viscosity_pa_s / water.density_kg_m3 * pi / 4.0 * _BORE_M
    heads = plumbing_loss_pa(flow, hose, water) / velocity_pressure_pa(flow, _BORE_M, water)
    return np.asarray(heads * _BORE_M / length_m)


# ---- the pump


def flow_at_lifts(*, shutoff: float, open_flow: float, lift: list[float]) -> Array:
    """Flow at each lift of a pump known by what it gives at none and by where it gives nothing, units as given."""
    exponent = pump.Pump(name="pump").exponent
    flow = np.linspace(0.0, open_flow, 1001)
    return np.asarray(np.interp(-np.array(lift), -pump.box_head_m(flow, shutoff, open_flow, exponent), flow))


def share_of_box_flow() -> float:
    """Share of the flow on its box that a pump gives at no lift."""
    return pump.Pump(name="pump").share_of_box_flow


# ---- bathers


def _of_a_dip(least_um: float, most_um: float) -> Array:
    """Return the organic dirt of a dip without a shower by size class, and the number of its particles [kg], [-]."""
    bather = soil.sources(
        uses_per_day=1.0, showered_share=0.0, feet="rinsed", surroundings="indoors", open_surface_m2=0.0,
        uncovered_hours_per_day=0.0,
    )  # fmt: skip
    sizes = soil.CLASS_DIAMETERS_M
    mass = np.where((sizes > 1e-6 * least_um) & (sizes < 1e-6 * most_um), soil.load_kg_day(bather, mineral=False), 0.0)
    return np.array([mass, mass / (model("soil.organic_density") * pi / 6.0 * sizes**3)])


def particles_of_a_dip(*, least_um: float, most_um: float) -> float:
    """How many particles between two sizes a bather brings."""
    return float(_of_a_dip(least_um, most_um)[1].sum())


def milligrams_of_a_dip(*, least_um: float, most_um: float) -> float:
    """Dirt between two sizes that a bather brings [mg]."""
    return float(1e6 * _of_a_dip(least_um, most_um)[0].sum())


# ---- the tub


def removed_after_turnovers(*, turnovers: list[float]) -> Array:
    """Share gone from a well-mixed tub after a day in which so many of its volumes went through a perfect filter."""
    tub = load_study(demo_file("freezer")).tub
    rates = removal_per_day(tub, np.array(turnovers) * tub.volume_m3, np.ones((len(turnovers), 24)))
    return -np.expm1(-rates[:, 0])


def turnovers_to_clear(*, turnovers_per_day: float) -> float:
    """Turnovers until nine tenths of a session's dirt is gone, by the hours the program tells."""
    tub = replace(load_study(demo_file("freezer")).tub, sessions_per_day=1.0)
    hours = hours_to_clear(tub, np.full(24, turnovers_per_day))
    return float("nan") if hours is None else hours / 24.0 * turnovers_per_day


# ---- light, settling


def extinction_at_phase(*, phase: list[float], relative_index: float) -> Array:
    """Extinction efficiency of spheres by the phase shift through their middle."""
    diameter = np.array(phase) * optics.WAVELENGTH_M / (2.0 * pi * optics.WATER_INDEX * (relative_index - 1.0))
    return optics.extinction_efficiency(diameter, relative_index)


def phase_of_first_peak(*, relative_index: float) -> float:
    """Phase shift at which extinction is largest."""
    phase = np.linspace(0.1, 20.0, 20001)
    return float(phase[np.argmax(extinction_at_phase(phase=phase.tolist(), relative_index=relative_index))])


def settling_um_s(*, diameter_um: list[float], density_kg_m3: float, celsius: float) -> Array:
    """Settling velocities [um/s]."""
    return 1e6 * settling.settling_velocity_m_s(1e-6 * np.array(diameter_um), density_kg_m3, water_at(celsius))


# ---- heat


def fill_kwh(*, litres: float, fill_celsius: float, celsius: float, cop: float) -> float:
    """Electricity to cool a fill [kWh]."""
    return energy.fill_cooling_kwh(1e-3 * litres, fill_celsius, water_at(celsius), energy.Cooling(cop=cop))


# ---- cost


def life_cycle_cost(
    *,
    capital: float,
    energy: float,
    yearly: float,
    repair: float,
    repair_years: list[float],
    years: float,
    interest: float,
    inflation: float,
) -> float:
    """Life-cycle cost with prices that rise with inflation: discounted at the real rate (1 + i)/(1 + p) - 1."""
    rate = (1.0 + interest) / (1.0 + inflation) - 1.0
    dated = [(0.0, capital), *((year * cost.DAYS_PER_YEAR, repair) for year in repair_years)]
    return cost.present_value(dated, rate) + cost.uniform_present_value(rate, years) * (energy + yearly)


# ---- replacement


def _best(run_days: Array, new_cost: float, service_costs: Array) -> int:
    cheapest, one = Cheapest.of(np.array([new_cost])), np.arange(1)
    no, yes, none = np.array([False]), np.array([True]), np.zeros(1, dtype=np.int64)
    for days, service in zip(run_days[:, None], service_costs[:, None], strict=True):
        cheapest.run(one, days, no, yes)
        cheapest.serve(one, service, none)
    return int(cheapest.runs[0])


def best_runs(*, first_days: float, shrink: float, new: float, rinse: float) -> int:
    """Best number of runs where each is shorter than the one before by the same factor."""
    return _best(first_days * shrink ** -np.arange(30.0), new, np.full(30, rinse))


def best_runs_of_costs(*, new: float, yearly: list[float]) -> int:
    """Best number of equal years where upkeep grows: that of the first comes with the replacement."""
    upkeep = np.array([*yearly[1:], yearly[-1]])  # that after the last is never paid
    return _best(np.ones(len(yearly)), new + yearly[0], upkeep)


def cost_per_day_of_runs(*, first_days: float, shrink: float, new: float, rinse: float, runs: list[int]) -> Array:
    """Long-run cost a day of as many runs to an element, from a followed sequence."""
    return np.array([_cost_per_day(first_days * shrink ** -np.arange(float(n)), new, rinse) for n in runs])


def _cost_per_day(days: Array, new_cost: float, rinse_cost: float) -> float:
    """Return the long-run cost a day of runs of given days, a rinse between each two and a replacement at the end."""
    visits, one = Visits.none(1, 1), np.arange(1)
    for at, length in enumerate(days[:, None]):
        last = at == len(days) - 1
        visits.write(Visit(one, length, np.array([not last, False, last])[:, None, None], np.array([False])))
    rates = rates_of(visits, np.full((1, 1), len(days)))
    return float((new_cost * rates.replaced_per_day + rinse_cost * rates.rinsed_per_day).sum())


# ---- statistics


def lognormal_shares(*, classes: list[int]) -> Array:
    """Share of dirt within as many classes either side of the middle edge, four to one standard deviation."""
    edges, middle = soil.CLASS_EDGES_M, len(soil.CLASS_EDGES_M) // 2
    shares = soil.class_shares(float(edges[middle]), float(edges[middle + 4] / edges[middle]))
    return np.array([shares[middle - n : middle + n].sum() for n in classes])


def drawn_scores(*, share: list[float]) -> Array:
    """Scores of the normal distribution at which the draws of the dirt a dip brings have a share below them."""
    points = np.full((len(share), len(UNKNOWNS)), 0.5)
    points[:, PLACES["load_per_dip"]] = share
    return np.log(factors_at(points, {"load_per_dip": e}).load_per_dip)


def total_indices_of_ishigami(*, a: float, b: float) -> Array:
    """Total Sobol indices of sin x + a sin2 y + b z4 sin x, each from -pi to pi."""

    def ishigami(points: Array) -> Array:
        x, y, z = pi * (2.0 * points - 1.0)
        return np.array([np.sin(x) + a * np.sin(y) ** 2 + b * z**4 * np.sin(x)])

    return total_indices(ishigami, 3, _POINTS, _SEED).ravel()


def total_indices_of_g(*, a: list[float]) -> Array:
    """Total Sobol indices of the product of (|4 x - 2| + a)/(1 + a)."""
    each = np.array(a)[:, None]

    def g(points: Array) -> Array:
        return np.array([((np.abs(4.0 * points - 2.0) + each) / (1.0 + each)).prod(axis=0)])

    return total_indices(g, len(a), _POINTS, _SEED).ravel()


# ---- fitting


def _adsorbed(x: list[float], y: list[float], start: list[float]) -> Fit:
    """Fit y = b1 (1 - exp(-b2 x))."""
    at, read = np.array(x), np.array(y)
    step = np.array([1e-2, 1e-8])
    return fit(lambda b: b[:, :1] * -np.expm1(-b[:, 1:] * at) - read, np.array(start), step, known_errors=False)


def adsorption_values(**given: list[float]) -> Array:
    """Unknowns of y = b1 (1 - exp(-b2 x)) by least squares."""
    return _adsorbed(**given).values


def adsorption_errors(**given: list[float]) -> Array:
    """Errors of those unknowns, one standard deviation."""
    return np.asarray(np.sqrt(np.diag(_adsorbed(**given).covariance)))


def adsorption_residual(**given: list[float]) -> float:
    """Spread of what that fit leaves over, one standard deviation."""
    found = _adsorbed(**given)
    return float(np.sqrt(found.residuals @ found.residuals / (len(found.residuals) - len(found.values))))


def bucket_error(*, value: list[str], watch_s: float, scale_kg: float) -> Array:
    """Error of a timed and weighed bucket over its flow, without the model's own."""
    found = []
    for text in value:
        reading = reading_of("2026-03-03", "bucket", text, where="row")
        hand = Hand(watch_s, scale_kg / (1000.0 * (reading.bucket_m3 or 0.0)), 0.0)
        found.append(spread_of(reading, hand)[2])
    return np.sqrt(np.array(found) ** 2 - MODEL**2)


CALLS: Mapping[str, Callable[..., Any]] = {
    **{name: np.vectorize(call) for name, call in _AT_EACH.items()},
    **{
        name: call
        for home in (vars(media_cases), globals())
        for name, call in home.items()
        if isfunction(call) and call.__module__ == home["__name__"] and not name.startswith("_")
    },
}
"""Every call by its name: those above, and every public function of this module and of that of media."""
