"""What to buy in a year, and what to keep on the shelf."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from math import ceil

from filtration.answers.results import OptionAnswer
from filtration.base.defaults import model
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.plan.dated import Planned, Purchase
from filtration.service.events import Event
from filtration.service.pace import Pace
from filtration.study.values import Element, Option


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


def bought_in_a_year(elements: Mapping[str, Element], events: Sequence[Event | Planned]) -> tuple[Purchase, ...]:
    """Return what is bought over the first year.

    Parameters
    ----------
    elements : mapping of str to Element
        The elements that may be among it, by name.
    events : sequence of Event or Planned
        Dated events.

    Returns
    -------
    tuple of Purchase
        By item, in the order first wanted; electricity is none of it.
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
    lines = [
        _kept(bought.get(element.name) or _purchase(element.name, element, ()), option, answer, element, year, pace)
        for element in elements.values()
    ]
    for element in elements.values():
        soaks = sum(event.count for event in year if (event.what, event.item) == ("soak", element.name))
        if soaks * element.soak_price > 0.0:
            lines.append(
                Purchase(item=element.name, what="cleaner", count=soaks, amount=round(soaks * element.soak_price, 2))
            )
    return (*lines, *(line for line in bought.values() if line.item not in elements))


def _kept(
    line: Purchase, option: Option, answer: OptionAnswer, element: Element, year: Sequence[Planned], pace: Pace
) -> Purchase:
    """Return an element's line with when the next is needed, and what to keep."""
    later = next(
        (event.earliest for event in year if (event.what, event.item) == ("buy", element.name) and event.day > 0), None
    )
    sets, lead = option.housings_in_parallel, element.lead_time_days
    spares = 0
    if lead is not None:
        per_year = sum(stage.elements_per_year or 0.0 for stage in answer.stages if stage.element == element.name)
        demand = per_year / sets * lead / DAYS_PER_YEAR * pace.busiest(lead, DAYS_PER_YEAR)
        spares = sets * spares_for(demand, model("stock.service_level"))
    swap = sets if any(event.what == "rinse" and event.item == element.name for event in year) else 0
    return replace(
        line,
        next_needed=later,
        order_by=later - timedelta(days=ceil(lead)) if later is not None and lead is not None else None,
        spares=spares,
        swap=swap,
        stock_amount=round((spares + swap) * element.price, 2),
    )
