"""The answer as one page without scripts or anything to fetch: read on a phone, printed on at most three sheets."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from markupsafe import Markup

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import InputError
from filtration.plan.dated import Plan, Planned, summed
from filtration.present.charts.pictures import chart, svg_of
from filtration.present.display import Display
from filtration.present.exports.html import drawn, fitting, render, short
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import plan as plan_words
from filtration.present.words.exports import flow_words
from filtration.present.words.in_units import display_of
from filtration.present.words.phrases import day, number, title

_WIDTH_PX, _HEIGHT_PX, _CASES_PX, _FEW = 500, 190, 250, 4
_LONG, _DENSE = 60, 0.6  # a name of so many letters leaves room for so much less text
_KINDS = (*plan_words.SERVICES, "change water", "buy")
_HEAD, _NAME = 26, 44  # letters of the head of a column, and of a name in a line
_SHEET, _LINE, _LEAST = 64, 120, 6  # lines of the schedule that fit on a sheet; letters of all columns, and of one


def render_report(answer: Comparison, plan: Plan | None, why: str = "") -> str:
    """Return a report, as HTML whole in itself: the answer, and the plan or why there is none."""
    study, option = answer.study, answer.option(plan.option) if plan else answer.advised
    room = _DENSE if max(len(each.name) for each in study.options) > _LONG else 1.0
    sure = sure_words.sureness(answer)
    return render(
        "report.html.j2",
        {
            "study": study.name,
            "currency": study.currency,
            "option": title(option, answer) if option else "",
            "headline": words.headline(answer),
            "flows": _flows(option, display_of(study)) if option else [],
            "others": fitting(words.others(answer), 560 * room),
            "deciding": fitting(words.deciding(answer), 900 * room),
            "costs": _costs(option, answer) if option else None,
            "plan": _plan(plan, room) if plan else None,
            "why": why,
            "dense": room < 1.0,
            "sure": fitting(sure, 1600 * room),
            "notes": fitting(words.asides(answer), 1500 * room),
            "cautions": words.cautions(study),
            "assumed": fitting(words.assumptions(study), 3200 * room),
            "pictures": _pictures(answer, ("days", "cost"), _HEIGHT_PX),
            "sure_pictures": _pictures(answer, ("days_cases", "cost_cases"), _CASES_PX) if sure else [],
        },
        study,
    )


def _flows(option: OptionAnswer, display: Display) -> list[tuple[str, str]]:
    flows = (("new", option.clean_flow_l_per_h), ("at rinse", option.due_flow_l_per_h))
    return [(when, flow_words(flow, display)) for when, flow in flows if flow]


def _costs(option: OptionAnswer, answer: Comparison) -> dict[str, object] | None:
    """Return what a year costs, line by line and in all; None for an option without a cost."""
    total = option.cost_per_year.total
    lines = [
        (short(what, _NAME), f"{number(amount, 4)} {unit}", f"{price:,.2f}", f"{paid:,.2f}")
        for what, amount, unit, price, paid in (words.cost_lines(option, answer) if total is not None else ())
    ]
    return {"lines": lines, "total": f"{total:,.2f}"} if lines else None


def _plan(plan: Plan, room: float) -> dict[str, object]:
    ahead = plan_words.services(plan)[:5]
    return {
        "made": day(plan.first_day),
        "headline": plan_words.headline(plan),
        "years": [(year, f"{amount:,.2f}") for year, amount in plan.by_year.items()],
        "total": f"{plan.total.undiscounted or 0.0:,.2f}",
        "discounted": f"{plan.total.discounted or 0.0:,.2f}",
        "gap": fitting(plan_words.gap(plan), 900 * room),
        "break_even": plan_words.break_even(plan),
        "shopping": fitting(plan_words.shopping(plan), 700 * room),
        "ahead": [f"{plan_words.when(event)}: {short(plan_words.what(event), _NAME)}" for event in ahead],
        "notes": fitting(plan_words.notes(plan), 900 * room),
        **_schedule(plan, _SHEET * room),
    }


def _pictures(answer: Comparison, names: Sequence[str], height_px: int) -> list[Markup]:
    """Draw some pictures; bars of the first few options alone; one that has nothing to show is left out."""
    best = [option for place, option in enumerate(answer.options) if place < _FEW or option is answer.advised]
    some = replace(answer, options=tuple(best))
    result = []
    for name in names:
        try:
            picture = chart(some if name == "cost" else answer, name, width_px=_WIDTH_PX)
        except InputError:
            continue
        picture.height = height_px
        result.append(drawn(svg_of(picture, mark=f"{name}-")))
    return result


def _schedule(plan: Plan, room: float) -> dict[str, object]:
    """Return the events as a table: the day of the month stands where its month meets what is done.

    Returns
    -------
    dict
        Heads, whole and cut to fit; months with the cells of their line, their sum and whether they fit on a sheet; how
        often each thing is done; and what it comes to.
    """
    columns: dict[tuple[str, str], list[Planned]] = defaultdict(list)
    for event in sorted(plan.events, key=lambda each: _KINDS.index(each.what)):
        columns[event.what, event.item].append(event)
    days: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for event in plan.events:
        days[event.date.isoformat()[:7], event.what, event.item].append(str(event.date.day))
    letters, months = max(_LEAST, _LINE // max(1, len(columns))), []
    for month, amount in plan.by_month.items():
        cells = [" ".join(days[month, *column]) for column in columns]
        room -= max(1, *(-(-len(cell) // letters) for cell in cells))
        months.append((f"{date.fromisoformat(f'{month}-01'):%b %Y}", cells, f"{amount:,.2f}", room >= 0))
    heads = [_head(what, item, events) for (what, item), events in columns.items()]
    return {
        "heads": [(head, short(head, _HEAD)) for head in heads],
        "months": months,
        "times": [len(events) for events in columns.values()],
        "amounts": [f"{summed(event.amount for event in events):,.2f}" for events in columns.values()],
    }


def _head(what: str, item: str, events: Sequence[Planned]) -> str:
    if what == "change water":
        return "change the water"
    if item in plan_words.METERS:
        return f"pay {item}"
    counts = {event.count for event in events}
    times = f"{counts.pop():g} x " if len(counts) == 1 and counts != {1} else ""
    return f"{what} {times}{item}"
