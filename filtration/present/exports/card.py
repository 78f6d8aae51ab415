"""A card for the wall beside the tub: one sheet, black on white."""

from dataclasses import dataclass
from math import ceil, copysign, isfinite

from filtration.answers.results import Comparison, OptionAnswer
from filtration.plan.dated import Plan
from filtration.present.exports.html import page_of, short
from filtration.present.words import answer as words
from filtration.present.words import exports as ways
from filtration.present.words import plan as plan_words
from filtration.present.words.phrases import number, title

_MM_PER_CM = 10.0
_TALLEST_MM, _ROOM_CM = 118.0, 1.15
_MOST_CM, _TENTHS_BELOW_CM = 300.0, 10.0
_LEAST_CM, _NAME_MM = 1.5, 5.0
_DATES = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A line of the ruler: how far down it stands [mm], how long it is [mm], and its number."""

    y: float
    long: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """A clear tube with marks.

    Parameters
    ----------
    height : float
        From its foot, the tub's water, to its top [mm].
    ticks : tuple of Tick
        Every centimetre, or every fifth where they would run together.
    new, due : float
        Marks, how far down they stand [mm].
    new_name, due_name : float
        Their names, likewise, apart enough to be read.
    new_cm, due_cm, bare_cm : str
        Their heights above the tub's water, and that without element.
    true_size : bool
        A centimetre of it is one on paper.
    """

    height: float
    ticks: tuple[Tick, ...]
    new: float
    due: float
    new_name: float
    due_name: float
    new_cm: str
    due_cm: str
    bare_cm: str
    true_size: bool


def card_of(answer: Comparison, plan: Plan) -> str:
    """Return a wall card.

    Parameters
    ----------
    answer : Comparison
        The answer.
    plan : Plan
        The plan of the option that is fitted.

    Returns
    -------
    str
        HTML, whole in itself.
    """
    option = answer.option(plan.option)
    service = ways.service(option)
    due, clean = option.due_flow_l_per_h, option.clean_flow_l_per_h
    ahead = [event for event in plan.events if event.what in ("rinse", "replace")][:_DATES]
    return page_of(
        "card.html.j2",
        {
            "study": answer.study.name,
            "option": short(title(option, answer), 90),
            "service": service,
            "due_seconds": number(ways.seconds_for_bucket(due)) if due else "",
            "due_flow": f"{number(due / 60.0)} L/min" if due else "",
            "new_seconds": number(ways.seconds_for_bucket(clean)),
            "new_flow": f"{number(clean / 60.0)} L/min",
            "by_time": option.governed_by == "time limit",
            "when": ways.calendar_words(option, _wanted_l_per_h(answer, option)),
            "ruler": _ruler(option),
            "care": [short(line, 100) for line in ways.care(option)],
            "steps": ways.RINSE if service == "rinse" else ways.REPLACE,
            "soak": ways.SOAK if any(event.what == "soak" for event in plan.events) else "",
            "check": ways.CHECK_FIRST,
            "sooner": ways.SOONER,
            "ahead": [(plan_words.day(event.date), short(plan_words.what(event), 18)) for event in ahead],
            "cautions": words.cautions(answer.study),
            "made": plan_words.day(plan.first_day),
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


def _ruler(option: OptionAnswer) -> Ruler | None:
    """Return the clear tube's marks; None where there are none, too near to tell apart, or higher than a ladder."""
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
    down = copysign(max(0.0, _NAME_MM - abs(due - new) * mm) / 2.0, due - new)
    return Ruler(
        height=top * mm,
        ticks=tuple(
            Tick(y=round((top - cm) * mm, 2), long=5.0 if cm % named == 0 else 2.5, label=f"{cm}" * (cm % named == 0))
            for cm in range(0, top + 1, each)
        ),
        new=round((top - new) * mm, 2),
        due=round((top - due) * mm, 2),
        new_name=round((top - new) * mm + down, 2),
        due_name=round((top - due) * mm - down, 2),
        new_cm=_whole(new),
        due_cm=_whole(due),
        bare_cm=_whole(bare),
        true_size=true_size,
    )
