"""What dated events come to: spending day by day, from when rinsing pays, own time, what to buy and what to keep."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import accumulate
from math import ceil

import numpy as np

from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Array, totals
from filtration.base.defaults import model
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated import Planned, Purchase
from filtration.service.events import Event
from filtration.service.pace import Pace
from filtration.study.values import Element, Option, Study


@dataclass(frozen=True, slots=True, kw_only=True)
class Spending:
    """What has been paid up to each day on which something is."""

    day: tuple[int, ...]
    total: tuple[float, ...]


def spending_of(events: Sequence[Event]) -> Spending:
    """Return what dated events, in order of days, have cost up to each day, not discounted.

    Examples
    --------
    >>> rinse = Event(day=3, what="rinse", item="a", count=1, amount=2.0)
    >>> spending_of([rinse, rinse]).total
    (4.0,)
    """
    days = dict(zip((event.day for event in events), accumulate(event.amount for event in events), strict=True))
    return Spending(day=tuple(days), total=tuple(days.values()))


def break_even_day(reusable: Spending, disposable: Spending) -> int | None:
    """Return the day from which one way has cost less than another for good, to the cent.

    Parameters
    ----------
    reusable, disposable : Spending
        What should come to less, and what it is compared with.

    Returns
    -------
    int or None
        0 where it was less from the first payment on; None where it is not less in the end.

    Examples
    --------
    >>> thrown_away = Spending(day=(0, 60, 120, 180), total=(6.0, 12.0, 18.0, 24.0))
    >>> break_even_day(Spending(day=(0,), total=(20.0,)), thrown_away)
    180
    """
    days = sorted({*reusable.day, *disposable.day})
    less = _cents_paid(reusable, days) < _cents_paid(disposable, days)
    if not less[-1:].any():
        return None
    not_yet = np.flatnonzero(~less)
    return days[not_yet[-1] + 1] if not_yet.size else 0


def rinses_until(events: Sequence[Event], day: int) -> int:
    """Return on how many days something is rinsed, up to a day and on it.

    Examples
    --------
    >>> rinse = {"what": "rinse", "item": "a", "count": 1, "amount": 0.0}
    >>> rinses_until([Event(day=day, **rinse) for day in (3, 3, 9)], 5)
    1
    """
    return len({event.day for event in events if event.what == "rinse" and event.day <= day})


def _cents_paid(spending: Spending, days: Sequence[int]) -> Array:
    """Return what has been paid by each day, in cents."""
    return np.rint(100.0 * np.array([0.0, *spending.total])[np.searchsorted(spending.day, days, side="right")])


def best_of_either_sort(options: Sequence[OptionAnswer]) -> dict[bool, OptionAnswer]:
    """Return of options, best first, the first whose every stage is rinsed, and the first other one, by that."""
    return {is_reusable(option): option for option in reversed(options)}


def is_reusable(option: OptionAnswer) -> bool:
    """Return whether every stage of an option is rinsed and used again."""
    return all(stage.rinses_before_replacing for stage in option.stages)


def own_hours_per_year(study: Study, answer: OptionAnswer) -> float:
    """Return the owner's time that rinses and soaks take [hours a year]."""
    stages = [(stage, study.elements[stage.element]) for stage in answer.stages]
    rinsing = sum((stage.rinses_per_year or 0.0) * element.rinse_minutes for stage, element in stages)
    soaking = sum((stage.soaks_per_year or 0.0) * element.soak_minutes for stage, element in stages)
    return (rinsing + soaking) / 60.0


def spares_for(demand: float, service_level: float) -> int:
    """Return how many spares last until the next delivery.

    Parameters
    ----------
    demand : float
        Mean number needed over the lead time [-].
    service_level : float
        Chance that they last [-], below 1.

    Returns
    -------
    int
        Fewest that do, the number needed being Poisson distributed.

    Examples
    --------
    >>> spares_for(2.0, 0.95)
    5
    """
    from scipy.special import pdtr

    spares = 0
    while pdtr(spares, demand) < service_level:
        spares += 1
    return spares


@dataclass(frozen=True, slots=True, kw_only=True)
class Stocked:
    """An element of an option that spares may be kept of.

    Parameters
    ----------
    element : Element
        The element.
    sets : int
        How many are replaced together.
    demand : float
        Sets needed from order to delivery, in the stretch of the year with most dips; 0 where that is not told [-].
    """

    element: Element
    sets: int
    demand: float

    @property
    def thing(self) -> Element:
        """What a shop sells: the same for all tubs, however each looks after it or gets it."""
        return replace(
            self.element,
            rinse_minutes=0.0,
            rinse_water_m3=0.0,
            rinse_recovery=0.0,
            soak_every_rinses=0,
            soak_recovery=0.0,
            soak_price=0.0,
            soak_minutes=0.0,
            lead_time_days=None,
            suppliers=None,
        )


def stocked(option: Option, answer: OptionAnswer, element: Element, pace: Pace) -> Stocked:
    """Return what spares of an element of an option are kept for, by its answer and the calendar."""
    sets, lead = option.housings_in_parallel, element.lead_time_days
    per_year = sum(stage.elements_per_year or 0.0 for stage in answer.stages if stage.element == element.name)
    return Stocked(
        element=element,
        sets=sets,
        demand=per_year / sets * lead / DAYS_PER_YEAR * pace.busiest(lead, DAYS_PER_YEAR) if lead else 0.0,
    )


def spares_of(stock: Iterable[Stocked]) -> int:
    """Return how many spares of one element to keep for all that take it from one shelf, in whole sets.

    Examples
    --------
    >>> one = Stocked(element=None, sets=1, demand=0.5)
    >>> spares_of([one]), spares_of([one, one, one])
    (2, 4)
    """
    demands, level = totals((each.sets, each.demand) for each in stock), model("stock.service_level")
    return sum(sets * spares_for(demand, level) for sets, demand in demands.items())


def bought_in_a_year(elements: Mapping[str, Element], events: Sequence[Event | Planned]) -> tuple[Purchase, ...]:
    """Return what is bought over the first year, by item in the order first wanted; electricity is none of it.

    ``elements`` are those that may be among it, by name.
    """
    found: dict[str, list[Event | Planned]] = {}
    for event in events:
        if event.what == "buy" and event.day < DAYS_PER_YEAR and event.item != "electricity":
            found.setdefault(event.item, []).append(event)
    return tuple(_purchase(item, elements.get(item), bought) for item, bought in found.items())


def _purchase(item: str, element: Element | None, bought: Sequence[Event | Planned]) -> Purchase:
    return Purchase(
        item=item,
        what="element" if element else "disinfectant" if item == "disinfectant" else "equipment",
        count=sum(event.count for event in bought),
        amount=round(sum(event.amount for event in bought), 2),
        lead_time_days=element.lead_time_days if element else None,
        suppliers=element.suppliers if element else None,
    )


def shopping_list(option: Option, answer: OptionAnswer, events: Sequence[Planned], pace: Pace) -> tuple[Purchase, ...]:
    """Return what to buy over the first year, and what to keep.

    Parameters
    ----------
    option : Option
        What is fitted.
    answer : OptionAnswer
        How often its elements are replaced.
    events : sequence of Planned
        The plan.
    pace : Pace
        The calendar from the plan's first day on.

    Returns
    -------
    tuple of Purchase
        Elements in the order the water meets them, then what goes with them, then the rest; electricity is none of it.

    Notes
    -----
    Spares last over the stretch of the year with most dips that is as long as the lead time. Elements side by side are
    replaced together, so that whole sets are kept.
    """
    year = [event for event in events if event.day < DAYS_PER_YEAR]
    elements = {element.name: element for element in option.stages}
    bought = {line.item: line for line in bought_in_a_year(elements, events)}
    kept, cleaners = [], []
    for name, element in elements.items():
        done = [event for event in year if event.item == name]
        line = bought.pop(name, None) or _purchase(name, element, ())
        kept.append(_kept(line, option, answer, element, done, pace))
        soaks = sum(event.count for event in done if event.what == "soak")
        amount = round(soaks * element.soak_price, 2)
        if soaks * element.soak_price > 0.0:
            cleaners.append(Purchase(item=name, what="cleaner", count=soaks, amount=amount))
    return (*kept, *cleaners, *bought.values())


def _kept(
    line: Purchase, option: Option, answer: OptionAnswer, element: Element, done: Sequence[Planned], pace: Pace
) -> Purchase:
    """Return an element's line with when the next is needed, and what to keep, by what is done to it in the year."""
    later = next((event.earliest for event in done if event.what == "buy" and event.day > 0), None)
    sets, lead = option.housings_in_parallel, element.lead_time_days
    spares = spares_of([stocked(option, answer, element, pace)])
    swap = sets if any(event.what == "rinse" for event in done) else 0
    order_by = later - timedelta(days=ceil(lead)) if later is not None and lead is not None else None
    amount = round((spares + swap) * element.price, 2)
    return replace(line, next_needed=later, order_by=order_by, spares=spares, swap=swap, stock_amount=amount)
