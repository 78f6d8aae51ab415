"""A card for the wall beside the tub: one sheet, black on white."""

from math import ceil, copysign, isfinite

from filtration.answers.results import Comparison, OptionAnswer
from filtration.plan.dated import Plan
from filtration.present.exports.html import render, short
from filtration.present.words import answer as words
from filtration.present.words import exports as ways
from filtration.present.words import plan as plan_words
from filtration.present.words.phrases import day, number, title

_MM_PER_CM = 10.0
_TALLEST_MM, _ROOM_CM = 118.0, 1.15
_MOST_CM, _TENTHS_BELOW_CM = 300.0, 10.0
_LEAST_CM, _NAME_MM = 1.5, 5.0
_DATES = 7


def render_card(answer: Comparison, plan: Plan) -> str:
    """Return a wall card, as HTML whole in itself, for the option that a plan is of."""
    option = answer.option(plan.option)
    service = ways.service(option)
    due, clean = option.due_flow_l_per_h, option.clean_flow_l_per_h
    ahead = [event for event in plan_words.services(plan) if event.what != "soak"][:_DATES]
    return render(
        "card.html.j2",
        {
            "study": answer.study.name,
            "option": short(title(option, answer), 90),
            "service": service,
            "due_seconds": ways.bucket_seconds(due) if due else "",
            "due_flow": ways.per_minute(due) if due else "",
            "new_seconds": ways.bucket_seconds(clean),
            "new_flow": ways.per_minute(clean),
            "by_time": option.governed_by == "time limit",
            "when": ways.calendar_words(option, _wanted_l_per_h(answer, option)),
            "ruler": _ruler(option),
            "care": [short(line, 100) for line in ways.care(option)],
            "steps": ways.steps(service),
            "soak": ways.SOAK if any(event.what == "soak" for event in plan.events) else "",
            "check": ways.CHECK_FIRST,
            "sooner": ways.SOONER,
            "ahead": [(day(event.date), short(plan_words.what(event), 18)) for event in ahead],
            "cautions": words.cautions(answer.study),
            "made": day(plan.first_day),
        },
    )


def _wanted_l_per_h(answer: Comparison, option: OptionAnswer) -> float | None:
    """Return the flow at which an option is due whatever the day; None where a pressure decides that."""
    needs = answer.study.needs
    if isfinite(needs.max_pressure_rise_pa):
        return None
    share = needs.share_of_clean_flow
    return answer.wanted_flow_l_per_h if share is None else share * option.clean_flow_l_per_h


def _whole(cm: float) -> str:
    """Return a height as one reads it off a tape."""
    return number(cm) if cm < _TENTHS_BELOW_CM else f"{cm:.0f}"


def _ruler(option: OptionAnswer) -> dict[str, object] | None:
    """Return a clear tube with marks; None where there are none, too near to tell apart, or higher than a ladder.

    Returns
    -------
    dict or None
        Its height above its foot, the tub's water, and how far down from its top the marks and their names stand [mm],
        the names apart enough to be read; ticks every centimetre, or every fifth where they would run together, as how
        far down [mm], how long [mm], and the number; heights in words [cm]; and whether a centimetre is one on paper.
    """
    shown = (option.due_tube_kpa, option.clean_tube_kpa, option.bare_tube_kpa)
    heights = [ways.tube_cm(kpa) for kpa in shown if kpa is not None]
    if len(heights) < len(shown):
        return None
    due, new, bare = heights
    most = max(due, new)
    if most > _MOST_CM or abs(due - new) < _LEAST_CM:
        return None
    top = max(5, ceil(most * _ROOM_CM))
    true_size = top * _MM_PER_CM <= _TALLEST_MM
    mm = _MM_PER_CM if true_size else _TALLEST_MM / top
    each = next(step for step in (1, 2, 5, 10, 50) if step * mm >= 1.2)
    named = next(step for step in (1, 5, 10, 20, 50, 100) if step % each == 0 and step * mm >= 6.0)
    apart = copysign(max(0.0, _NAME_MM - abs(due - new) * mm) / 2.0, due - new)

    def down(cm: float, further_mm: float = 0.0) -> float:
        return round((top - cm) * mm + further_mm, 2)

    numbered = {cm: f"{cm}" if cm % named == 0 else "" for cm in range(0, top + 1, each)}
    return {
        "height": top * mm,
        "ticks": [(down(cm), 5.0 if number_ else 2.5, number_) for cm, number_ in numbered.items()],
        "new": down(new),
        "due": down(due),
        "new_name": down(new, apart),
        "due_name": down(due, -apart),
        "new_cm": _whole(new),
        "due_cm": _whole(due),
        "bare_cm": _whole(bare),
        "true_size": true_size,
    }
