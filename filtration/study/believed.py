"""A study seen in the light of readings: its central case moved to what they say."""

from collections.abc import Mapping
from dataclasses import replace

from filtration.base.defaults import model
from filtration.base.draws import Belief, Factors, factors_of
from filtration.physics.media import Medium
from filtration.physics.pump import Pump, held_exponent
from filtration.study.values import Option, Study


def with_belief(study: Study, belief: Belief) -> Study:
    """Return a study whose central case is what a belief holds likeliest.

    Dirt, growth, rinses, pump and fittings move to the belief's mean; the belief itself moves the elements (``moved``)
    and the draws.
    """
    at = _at_mean(belief, study)
    times = {True: at["dust"], False: at["load_per_dip"] * at["uses"]}  # by whether it falls in
    sources = (replace(each, amount_kg_day=each.amount_kg_day * times[each.falls_in]) for each in study.tub.sources)
    plumbing = study.plumbing
    if plumbing is not None:
        plumbing = replace(plumbing, k_factor=at["sum_k"], return_factor=belief.return_factor)
    return replace(
        study,
        tub=replace(study.tub, sources=tuple(sources), growth_factor=at["growth"]),
        pumps=tuple(_moved_pump(pump, at) for pump in study.pumps),
        plumbing=plumbing,
        options=tuple(_rinsed(option, at["rinse_loss"]) for option in study.options),
        belief=belief,
    )


def _at_mean(belief: Belief, study: Study) -> dict[str, float]:
    """Return every factor at the mean of a belief."""
    factors = factors_of(belief.mean[None], study.spreads)
    return {key: float(getattr(factors, key)[0]) for key in Factors.__slots__}


def _moved_pump(pump: Pump, at: Mapping[str, float]) -> Pump:
    share = min(pump.share_of_box_flow * at["box_flow"], model("pump.box_flow_most"))
    return replace(pump, exponent=float(held_exponent(pump.exponent * at["pump_exponent"])), share_of_box_flow=share)


def _rinsed(option: Option, factor: float) -> Option:
    left = [1.0 - element.rinse_recovery for element in option.stages]
    kept = [1.0 - min(each * factor, max(each, model("service.most_left"))) for each in left]
    both = zip(option.stages, kept, strict=True)
    return replace(option, stages=tuple(replace(element, rinse_recovery=share) for element, share in both))


def moved(medium: Medium, study: Study) -> Medium:
    """Return an element as a study's belief sees it; the same where the study has none."""
    if study.belief is None:
        return medium
    at, curve = _at_mean(study.belief, study), medium.capture
    return replace(
        medium,
        permeability_factor=medium.permeability_factor * at[medium.permeability_unknown],
        deposit_density_kg_m3=medium.deposit_density_kg_m3 * at["deposit_density"],
        onset_solid_fraction=medium.onset_solid_fraction + at["onset"],
        cake_resistance_m_kg=medium.cake_resistance_m_kg * at["cake_resistance"],
        straining_kg_m2=medium.straining_kg_m2 * at["straining_cake"],
        capture=replace(curve, rating_m=curve.rating_m * at["capture_size"], slope=curve.slope * at["slope"]),
    )
