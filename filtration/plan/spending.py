"""What dated events come to: spending day by day, the day from which rinsing pays, the owner's own time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filtration.answers.results import OptionAnswer
from filtration.base.arrays import Array
from filtration.service.events import Event
from filtration.study.values import Study


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


def _cents_paid(spending: Spending, days: Sequence[int]) -> Array:
    """Return what has been paid by each day, in cents."""
    return np.rint(100.0 * np.array([0.0, *spending.total])[np.searchsorted(spending.day, days, side="right")])


def best_of_either_sort(options: Sequence[OptionAnswer]) -> dict[bool, OptionAnswer]:
    """Return the first option that is rinsed and used again, and the first with a stage that is thrown away.

    Parameters
    ----------
    options : sequence of OptionAnswer
        Best first.

    Returns
    -------
    dict of bool to OptionAnswer
        By whether every stage is rinsed; a sort of which there is none is left out.
    """
    return {is_reusable(option): option for option in reversed(options)}


def is_reusable(option: OptionAnswer) -> bool:
    """Return whether every stage of an option is rinsed and used again.

    Parameters
    ----------
    option : OptionAnswer
        The option.

    Returns
    -------
    bool
        Whether it is.
    """
    return all(stage.rinses_before_replacing for stage in option.stages)


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
    minutes = 0.0
    for stage in answer.stages:
        element = study.elements[stage.element]
        minutes += (stage.rinses_per_year or 0.0) * element.rinse_minutes
        minutes += (stage.soaks_per_year or 0.0) * element.soak_minutes
    return minutes / 60.0
