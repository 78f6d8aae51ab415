"""The answer as a machine-readable document."""

from dataclasses import asdict
from math import isfinite

from filtration.answer import Comparison, OptionAnswer
from filtration.present import words

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
    del whole["reasons"], whole["flow_record"]
    before = ("id", "name", "pump", "kind", "rating_um", "housings_in_parallel", "housings", "meets_needs")
    first = {key: whole.pop(key) for key in before}
    return {**first, "why_not": words.why_not(option), **whole}


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
        "assumed": list(study.assumed),
        "litres_per_dip": comparison.litres_per_dip,
        "water_change_days": comparison.water_change_days,
        "water_change_rule_days": comparison.water_change_rule_days,
        "water_changes_per_year": comparison.water_changes_per_year,
        "options": [_option(option) for option in comparison.options],
        "warmth": asdict(comparison.warmth) if comparison.warmth else None,
        "notes": words.notes(comparison),
        "cautions": words.cautions(study),
    }
    clean = _finite(whole)
    if not isinstance(clean, dict):
        raise TypeError
    return clean
