"""What dated events come to: spending day by day, the day two ways cross, a year's purchases, the owner's own time."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.answer import OptionAnswer
from filtration.cost import DAYS_PER_YEAR
from filtration.plan import Event
from filtration.study import Study


@dataclass(frozen=True, slots=True, kw_only=True)
class Spending:
    """What has been paid up to each day on which something is."""

    day: tuple[int, ...]
    total: tuple[float, ...]


def spending_of(events: Sequence[Event]) -> Spending:
    """Return what dated events have cost up to each day, not discounted.

    Parameters
    ----------
    events : sequence of Event
        In order of days.

    Returns
    -------
    Spending
        Running total.

    Examples
    --------
    >>> rinse = Event(day=3, what="rinse", item="a", count=1, amount=2.0)
    >>> spending_of([rinse, rinse]).total
    (4.0,)
    """
    days: dict[int, float] = {}
    total = 0.0
    for event in events:
        total += event.amount
        days[event.day] = total
    return Spending(day=tuple(days), total=tuple(days.values()))


def crossing_day(first: Spending, second: Spending) -> int | None:
    """Return the day from which one way has cost less than another for good.

    Parameters
    ----------
    first, second : Spending
        What is dearer to begin with, and what it is compared with.

    Returns
    -------
    int or None
        0 where the first is never dearer; None where it is still dearer at the end.

    Examples
    --------
    >>> crossing_day(Spending(day=(0,), total=(50.0,)), Spending(day=(0, 30, 60), total=(20.0, 40.0, 60.0)))
    60
    """
    days = sorted({*first.day, *second.day})

    def at(spending: Spending, day: int) -> float:
        place = int(np.searchsorted(spending.day, day, side="right")) - 1
        return spending.total[place] if place >= 0 else 0.0

    dearer = [at(first, day) > at(second, day) for day in days]
    if not any(dearer):
        return 0
    last = len(dearer) - 1 - dearer[::-1].index(True)
    return days[last + 1] if last + 1 < len(days) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """What to have bought within a year: how many, for how much, and the first day it is wanted."""

    item: str
    count: float
    amount: float
    first_day: int


def shopping_of(events: Sequence[Event]) -> tuple[Purchase, ...]:
    """Return what the first year's events ask to be bought.

    Parameters
    ----------
    events : sequence of Event
        Dated events.

    Returns
    -------
    tuple of Purchase
        By item, in the order first wanted; electricity and disinfectant, which have no parcel, are left out.
    """
    found: dict[str, Purchase] = {}
    for event in events:
        if event.what == "buy" and event.day < DAYS_PER_YEAR and event.item not in {"electricity", "disinfectant"}:
            known = found.get(event.item, Purchase(item=event.item, count=0.0, amount=0.0, first_day=event.day))
            found[event.item] = replace(known, count=known.count + event.count, amount=known.amount + event.amount)
    return tuple(found.values())


def own_hours_per_year(study: Study, answer: OptionAnswer) -> float:
    """Return the owner's time that rinses and soaks take.

    Parameters
    ----------
    study : Study
        The study.
    answer : OptionAnswer
        One of its options.

    Returns
    -------
    float
        Hours a year.
    """
    elements = {element.name: element for option in study.options for element in option.stages}
    minutes = 0.0
    for stage in answer.stages:
        element = elements[stage.element]
        minutes += (stage.rinses_per_year or 0.0) * element.rinse_minutes
        minutes += (stage.soaks_per_year or 0.0) * element.soak_minutes
    return minutes / 60.0
