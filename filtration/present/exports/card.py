"""A card for the wall beside the tub: one sheet, black on white."""

from math import ceil, copysign, isfinite

from filtration.answers.results import Comparison, OptionAnswer
from filtration.plan.dated import Plan
from filtration.present.exports.html import render, short
from filtration.present.words import answer as words
from filtration.present.words import exports as ways
from filtration.present.words import plan as plan_words
from filtration.present.words.in_units import display_of
from filtration.present.words.phrases import day, number, title

_UNITS_MM = {False: ("cm", 10.0), True: ("in", 25.4)}
_TALLEST_MM, _ROOM = 118.0, 1.15
_MOST_MM, _TENTHS_BELOW = 3000.0, 10.0
_LEAST_MM, _NAME_MM = 15.0, 5.0
_DATES = 7


def render_card(answer: Comparison, plan: Plan) -> str:
    """Return a wall card, as HTML whole in itself, for the option that a plan is of."""
    option = answer.option(plan.option)
    service, display = ways.service(option), display_of(answer.study)
    due, clean = option.due_flow_l_per_h, option.clean_flow_l_per_h
    ahead = [event for event in plan_words.services(plan) if event.what != "soak"][:_DATES]
    return render(
        "card.html.j2",
        {
            "study": answer.study.name,
            "option": short(title(option, answer), 90),
            "service": service,
            "bucket": ways.bucket(display),
            "due_seconds": ways.bucket_seconds(due, display) if due else "",
            "due_flow": ways.per_minute(due, display) if due else "",
            "new_seconds": ways.bucket_seconds(clean, display),
            "new_flow": ways.per_minute(clean, display),
            "by_time": option.governed_by == "time limit",
            "when": ways.calendar_words(option, _wanted_l_per_h(answer, option), display),
            "ruler": _ruler(option, us=display.us),
            "care": [short(line, 100) for line in ways.care(option)],
            "steps": ways.steps(service),
            "soak": ways.SOAK if any(event.what == "soak" for event in plan.events) else "",
            "check": ways.CHECK_FIRST,
            "sooner": ways.SOONER,
            "ahead": [(day(event.date), short(plan_words.what(event), 18)) for event in ahead],
            "cautions": words.cautions(answer.study),
            "made": day(plan.first_day),
        },
        answer.study,
    )


def _wanted_l_per_h(answer: Comparison, option: OptionAnswer) -> float | None:
    """Return the flow at which an option is due whatever the day; None where a pressure decides that."""
    needs = answer.study.needs
    if isfinite(needs.max_pressure_rise_pa):
        return None
    share = needs.share_of_clean_flow
    return answer.wanted_flow_l_per_h if share is None else share * option.clean_flow_l_per_h


def _whole(height: float) -> str:
    """Return a height as one reads it off a tape."""
    return number(height) if height < _TENTHS_BELOW else f"{height:.0f}"


def _ruler(option: OptionAnswer, *, us: bool) -> dict[str, object] | None:
    """Return a clear tube with marks; None where there are none, too near to tell apart, or higher than a ladder.

    Returns
    -------
    dict or None
        Its height above its foot, the tub's water, and how far down from its top the marks and their names stand [mm],
        the names apart enough to be read; ticks every centimetre or inch, or every fifth where they would run together,
        as how far down [mm], how long [mm], and the number; heights in words, their unit; and whether it is true size.
    """
    shown = (option.due_tube_kpa, option.clean_tube_kpa, option.bare_tube_kpa)
    unit, unit_mm = _UNITS_MM[us]
    heights = [10.0 * ways.tube_cm(kpa) / unit_mm for kpa in shown if kpa is not None]
    if len(heights) < len(shown):
        return None
    due, new, bare = heights
    most = max(due, new)
    if most * unit_mm > _MOST_MM or abs(due - new) * unit_mm < _LEAST_MM:
        return None
    top = max(ceil(50.0 / unit_mm), ceil(most * _ROOM))
    true_size = top * unit_mm <= _TALLEST_MM
    mm = unit_mm if true_size else _TALLEST_MM / top
    each = next(step for step in (1, 2, 5, 10, 50) if step * mm >= 1.2)
    named = next(step for step in (1, 5, 10, 20, 50, 100) if step % each == 0 and step * mm >= 6.0)
    apart = copysign(max(0.0, _NAME_MM - abs(due - new) * mm) / 2.0, due - new)

    def down(height: float, further_mm: float = 0.0) -> float:
        return round((top - height) * mm + further_mm, 2)

    numbered = {at: f"{at}" if at % named == 0 else "" for at in range(0, top + 1, each)}
    return {
        "height": top * mm,
        "ticks": [(down(at), 5.0 if number_ else 2.5, number_) for at, number_ in numbered.items()],
        "new": down(new),
        "due": down(due),
        "new_name": down(new, apart),
        "due_name": down(due, -apart),
        "new_height": _whole(new),
        "due_height": _whole(due),
        "bare_height": _whole(bare),
        "unit": unit,
        "true_size": true_size,
    }
