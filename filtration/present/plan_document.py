"""A dated plan as a machine-readable document."""

from dataclasses import asdict
from datetime import date

from filtration.plan.dated import Plan, Purchase
from filtration.present.words import plan as words

FORMAT = 1


def plan_document(plan: Plan) -> dict[str, object]:
    """Return a plan as numbers, text, lists and dictionaries.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict
        Ready for JSON: the unit stands in the key, days are ISO 8601, ``None`` where there is none.
    """
    found = plan.break_even
    return {
        "format": FORMAT,
        "study": plan.study.name,
        "currency": plan.study.currency,
        "option": plan.option,
        "name": plan.name,
        "pump": plan.pump,
        "first_day": plan.first_day.isoformat(),
        "last_day": plan.last_day.isoformat(),
        "fitted_on": plan.fitted_on.isoformat(),
        "draws": plan.draws,
        "seed": plan.seed,
        "chance_new_element_lacks_flow": plan.lacks,
        "events": [_plain(asdict(event)) for event in plan.events],
        "horizon_total": asdict(plan.total),
        "sums_by_month": plan.by_month,
        "sums_by_year": plan.by_year,
        "gap_per_year": asdict(plan.gap),
        "shopping": [{**_plain(asdict(line)), "words": text} for line, text in _lines(plan)],
        "break_even": None if found is None else asdict(found),
        "break_even_words": words.break_even(plan),
        "notes": words.notes(plan),
        "cautions": words.cautions(plan),
    }


def _lines(plan: Plan) -> list[tuple[Purchase, str]]:
    return list(zip(plan.shopping, words.shopping(plan), strict=True))


def _plain(row: dict[str, object]) -> dict[str, object]:
    """Return a row with its days as text."""
    return {key: value.isoformat() if isinstance(value, date) else value for key, value in row.items()}


def no_plan_document(study: str, why: str) -> dict[str, object]:
    """Return what there is where there is no plan.

    Parameters
    ----------
    study : str
        Name of the study.
    why : str
        Why there is none.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {"format": FORMAT, "study": study, "option": None, "events": [], "why_not": [why]}
