"""The answer as a machine-readable document."""

from dataclasses import asdict
from math import isfinite

from filtration.answers.results import Comparison, Odds, OptionAnswer, Sureness
from filtration.base.arrays import Array
from filtration.plan.fleet import Fleet, figures
from filtration.present.words import answer as words

FORMAT = 1


def _finite(value: object) -> object:
    """Return the same with nothing in place of what JSON has no number for."""
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(each) for each in value]
    return value


def _option(option: OptionAnswer) -> dict[str, object]:
    whole = asdict(option)
    del whole["reasons"], whole["flow_record"], whole["sureness"]
    before = ("id", "name", "pump", "kind", "rating_um", "housings_in_parallel", "housings", "meets_needs")
    first = {key: whole.pop(key) for key in before}
    whole["worst_view_m"] = option.worst_view_m
    sure = option.sureness
    if sure is not None:
        whole["ranges"] = {key: list(values) if values else None for key, values in _ranges(sure).items()}
        whole["outcomes"] = {key: list(values) for key, values in sure.outcomes.items()}
        whole["chance_of_meeting_needs"] = sure.chance_of_meeting_needs
        whole["chance_of_being_best"] = sure.chance_of_being_best
        whole["cost_of_choosing_wrong_per_year"] = sure.cost_of_choosing_wrong_per_year
    return {**first, "why_not": words.why_not(option), **whole}


def _ranges(sure: Sureness) -> dict[str, tuple[float, float, float] | None]:
    """Return the ranges, with nothing for those of the contract that do not exist."""
    always = dict.fromkeys(("days_to_first_service", "cost_per_year", "see_through_worst_m"))
    return {**always, **sure.ranges}


def _odds(odds: Odds) -> dict[str, object]:
    return {
        "draws": odds.draws,
        "seed": odds.seed,
        "chance_none_meets_needs": odds.chance_none_meets_needs,
        "worth_of_measuring_load_per_year": odds.worth_of_measuring_load_per_year,
        "drivers": [asdict(driver) for driver in odds.drivers],
        "measure_next": asdict(odds.measure) if odds.measure else None,
    }


def document(comparison: Comparison) -> dict[str, object]:
    """Return the answer as numbers, text, lists and dictionaries.

    Parameters
    ----------
    comparison : Comparison
        The answer.

    Returns
    -------
    dict
        Ready for JSON: the unit stands in the key, ``None`` where there is no number.
    """
    study = comparison.study
    whole = {
        "format": FORMAT,
        "study": study.name,
        "currency": study.currency,
        "assumed": words.assumptions(study),
        "litres_per_dip": comparison.litres_per_dip,
        "water_change_days": comparison.water_change_days,
        "water_change_rule_days": comparison.water_change_rule_days,
        "water_changes_per_year": comparison.water_changes_per_year,
        "advised": comparison.advised.id if comparison.advised else None,
        "options": [_option(option) for option in comparison.options],
        **(_odds(comparison.odds) if comparison.odds else {}),
        "warmth": asdict(comparison.warmth) if comparison.warmth else None,
        "notes": words.notes(comparison),
        "cautions": words.cautions(study),
    }
    clean = _finite(whole)
    if not isinstance(clean, dict):
        raise TypeError
    return clean


def _with_range(values: Array) -> dict[str, object]:
    central, (low, middle, high) = figures(values)
    return {"central": central, "range": [low, middle, high]}


def fleet_document(fleet: Fleet) -> dict[str, object]:
    """Return a budget over many tubs as numbers, text, lists and dictionaries.

    Parameters
    ----------
    fleet : Fleet
        The budget.

    Returns
    -------
    dict
        Ready for JSON.
    """
    whole = {
        "format": FORMAT,
        "draws": fleet.draws,
        "seed": fleet.seed,
        "elements_per_year": {name: _with_range(values) for name, values in fleet.elements().items()},
        "cost_per_year": {currency: _with_range(values) for currency, values in fleet.cost().items()},
        "tubs": [
            {
                "name": tub.name,
                "where": tub.where,
                "option": tub.option,
                "pump": tub.pump,
                "meets_needs": tub.meets_needs,
                "chance_of_meeting_needs": tub.chance_of_meeting_needs,
                "currency": tub.currency,
                "elements_per_year": {name: _with_range(values) for name, values in tub.elements.items()},
                "cost_per_year": _with_range(tub.cost) if tub.option is not None else None,
            }
            for tub in fleet.tubs
            if not tub.faults
        ],
        "failed": [{"where": tub.where, "faults": list(tub.faults)} for tub in fleet.failed],
    }
    clean = _finite(whole)
    if not isinstance(clean, dict):
        raise TypeError
    return clean
