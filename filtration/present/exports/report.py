"""The answer as one page without scripts or anything to fetch: read on a phone, printed on at most three sheets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from markupsafe import Markup

from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.errors import InputError
from filtration.plan.dated import Plan, Planned, summed
from filtration.present.charts.pictures import chart, svg_of
from filtration.present.exports.html import drawn, fitting, page_of, short
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import plan as plan_words
from filtration.present.words.exports import flow_words
from filtration.present.words.phrases import number, title

_WIDTH_PX, _HEIGHT_PX, _CASES_PX, _FEW = 500, 190, 250, 4
_LONG, _DENSE = 60, 0.6  # a name of so many letters leaves room for so much less text
_KINDS = ("rinse", "soak", "replace", "change water", "buy")
_METERS = ("electricity", "disinfectant")
_HEAD, _NAME = 26, 44  # letters of the head of a column, and of a name in a line
_SHEET = 64  # lines of the schedule that fit on a sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """One line of the schedule: days by column, and what they come to."""

    name: str
    days: tuple[str, ...]
    amount: str
    fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """All events of a plan, a line a month and a column for each thing to do.

    Parameters
    ----------
    heads : tuple of (str, str)
        What is done and to what, and the same cut to fit.
    months : tuple of Month
        Lines.
    times : tuple of str
        How often in all, by column.
    amounts : tuple of str
        What each column comes to.
    total : str
        What all of it comes to.
    """

    heads: tuple[tuple[str, str], ...]
    months: tuple[Month, ...]
    times: tuple[str, ...]
    amounts: tuple[str, ...]
    total: str

    @property
    def cut(self) -> list[str]:
        """Names that had to be cut, whole."""
        return [whole for whole, head in self.heads if whole != head]


def report_of(answer: Comparison, plan: Plan | None, why: str = "") -> str:
    """Return a report.

    Parameters
    ----------
    answer : Comparison
        The answer.
    plan : Plan or None
        The plan, if there is one.
    why : str, optional
        Why there is none.

    Returns
    -------
    str
        HTML, whole in itself.
    """
    study, option = answer.study, _spoken_of(answer, plan)
    room = _DENSE if max(len(each.name) for each in study.options) > _LONG else 1.0
    sure = sure_words.sureness(answer)
    cost = option is not None and option.cost_per_year.total is not None
    return page_of(
        "report.html.j2",
        {
            "study": study.name,
            "currency": study.currency,
            "option": title(option, answer) if option else "",
            "made": plan_words.day(plan.first_day) if plan else "",
            "headline": words.headline(answer),
            "plan_headline": plan_words.headline(plan) if plan else why,
            "flows": _flows(option) if option else [],
            "others": fitting(words.others(answer), int(560 * room)),
            "deciding": fitting(words.deciding(answer), int(900 * room)),
            "costs": _costs(option, answer) if option and cost else [],
            "cost_total": f"{option.cost_per_year.total:,.2f}" if option and cost else "",
            "years": [(year, f"{amount:,.2f}") for year, amount in plan.by_year.items()] if plan else [],
            "total": f"{plan.total.undiscounted or 0.0:,.2f}" if plan else "",
            "discounted": f"{plan.total.discounted or 0.0:,.2f}" if plan else "",
            "gap": fitting(plan_words.gap(plan), int(900 * room)) if plan else [],
            "break_even": plan_words.break_even(plan) if plan else "",
            "shopping": fitting(plan_words.shopping(plan), int(700 * room)) if plan else [],
            "ahead": _ahead(plan) if plan else [],
            "dense": room < 1.0,
            "schedule": _schedule(plan, int(_SHEET * room)) if plan else None,
            "plan_notes": fitting(plan_words.notes(plan), int(900 * room)) if plan else [],
            "sure": fitting(sure, int(1600 * room)),
            "notes": fitting(words.notes(answer)[len(words.deciding(answer)) :], int(1500 * room)),
            "cautions": words.cautions(study),
            "assumed": fitting(words.assumptions(study), int(3200 * room)),
            "pictures": _pictures(answer, ("days", "cost"), _HEIGHT_PX),
            "sure_pictures": _pictures(answer, ("days_cases", "cost_cases"), _CASES_PX) if sure else [],
        },
    )


def _spoken_of(answer: Comparison, plan: Plan | None) -> OptionAnswer | None:
    if plan is None:
        return answer.advised
    return answer.option(plan.option)


def _flows(option: OptionAnswer) -> list[tuple[str, str]]:
    flows = (("new", option.clean_flow_l_per_h), ("when due", option.due_flow_l_per_h))
    return [(when, flow_words(flow)) for when, flow in flows if flow]


def _costs(option: OptionAnswer, answer: Comparison) -> list[tuple[str, str, str, str]]:
    return [
        (short(what, _NAME), f"{number(amount, 4)} {unit}", f"{price:,.2f}", f"{amount * price:,.2f}")
        for what, amount, unit, price in words.cost_lines(option, answer)
    ]


def _ahead(plan: Plan) -> list[str]:
    services = [event for event in plan.events if event.what in ("rinse", "soak", "replace")]
    return [f"{plan_words.when(event)}: {short(plan_words.what(event), _NAME)}" for event in services[:5]]


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


def _head(what: str, item: str, events: Sequence[Planned]) -> str:
    if what == "change water":
        return "change the water"
    counts = {event.count for event in events}
    times = f"{counts.pop():g} x " if len(counts) == 1 and item not in _METERS and counts != {1} else ""
    return f"{'pay' if item in _METERS else what} {times}{item}"


def _schedule(plan: Plan, room: int) -> Schedule:
    """Return the events as a table: the day of the month stands where its month meets what is done."""
    columns: dict[tuple[str, str], list[Planned]] = {}
    for event in sorted(plan.events, key=lambda each: _KINDS.index(each.what)):
        columns.setdefault((event.what, event.item), []).append(event)
    days: dict[str, dict[tuple[str, str], list[int]]] = {}
    for event in plan.events:
        on = days.setdefault(event.date.isoformat()[:7], {})
        on.setdefault((event.what, event.item), []).append(event.date.day)
    months = []
    for month, found in days.items():
        cells = tuple(" ".join(map(str, found.get(column, ()))) for column in columns)
        room -= max(1, *(-(-len(cell) // _letters(len(columns))) for cell in cells))
        name = f"{date.fromisoformat(f'{month}-01'):%b %Y}"
        months.append(Month(name=name, days=cells, amount=f"{plan.by_month[month]:,.2f}", fits=room >= 0))
    heads = [_head(what, item, events) for (what, item), events in columns.items()]
    return Schedule(
        heads=tuple((head, short(head, _HEAD)) for head in heads),
        months=tuple(months),
        times=tuple(str(len(events)) for events in columns.values()),
        amounts=tuple(f"{summed(event.amount for event in events):,.2f}" for events in columns.values()),
        total=f"{plan.total.undiscounted or 0.0:,.2f}",
    )


def _letters(columns: int) -> int:
    """Return how many letters of days a column has room for."""
    return max(6, 120 // max(1, columns))
