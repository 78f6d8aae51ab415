"""What happens on which day, and what it costs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor
from operator import itemgetter
from typing import Literal, NamedTuple

import numpy as np

from filtration.physics.cost import DAYS_PER_YEAR, Prices, present_value
from filtration.physics.pump import Pump
from filtration.service.visits import Services
from filtration.study.values import Option, rinse_price, soak_price

What = Literal["buy", "rinse", "soak", "replace", "change water"]


class Event(NamedTuple):
    """Something to do or to pay.

    Parameters
    ----------
    day : int
        Day from the start.
    what : str
        What is done.
    item : str
        What it is done to, or what is bought.
    count : float
        How many; kWh for electricity, months for disinfectant.
    amount : float
        What it costs.
    """

    day: int
    what: What
    item: str
    count: float  # type: ignore[assignment]  # which is no use of a tuple's own
    amount: float


class _Due(NamedTuple):
    """What is to be done to an item, or bought, and what that costs for one."""

    what: What
    item: str
    each: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """Sum of events as they are paid, and their value on the first day."""

    undiscounted: float | None
    discounted: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What runs on whatever is serviced.

    Parameters
    ----------
    electricity_kwh_per_year : float
        Pump, cooler between water changes [kWh/year].
    water_change_days : float
        Days between water changes; infinite for never.
    water_change_price : float
        Water and re-cooling of one change.
    """

    electricity_kwh_per_year: float
    water_change_days: float
    water_change_price: float


def _service_days(services: Services, horizon_days: float) -> Iterator[tuple[float, int]]:
    """Yield day and index of each service of the one case up to the horizon, a renewed sequence over and over."""
    lengths = services.length_days[services.counted[:, 0], 0]
    day = 0.0
    while True:
        for index, length in enumerate(lengths):
            day += float(length)
            if day >= horizon_days:
                return
            yield day, index
        if not services.renewed[0]:
            return


def _merged(events: Iterator[Event]) -> tuple[Event, ...]:
    """Join events of one day, kind and item; sort by day."""
    joined: dict[tuple[int, What, str], Event] = {}
    for event in events:
        same = joined.setdefault(event[:3], event)
        if same is not event:
            joined[event[:3]] = same._replace(count=same.count + event.count, amount=same.amount + event.amount)
    return tuple(sorted(joined.values(), key=itemgetter(0)))


def _equipment(name: str, count: int, price: float, life_years: float, horizon_days: float) -> Iterator[Event]:
    if price <= 0.0:
        return
    for day in np.arange(0.0, horizon_days, life_years * DAYS_PER_YEAR):
        yield Event(day=floor(day), what="buy", item=name, count=count, amount=count * price)


def _services(option: Option, services: Services, prices: Prices) -> Iterator[Event]:
    """Yield what is bought first, and what each service takes."""
    count = option.housings_in_parallel
    bought = [_Due("buy", element.name, element.price) for element in option.stages]
    takes = [  # of each stage: a rinse, a soak, a replacement
        (
            [_Due("rinse", element.name, rinse_price(element, prices))],
            [_Due("soak", element.name, soak_price(element, prices))],
            [_Due("replace", element.name, prices.disposal_each), new],
        )
        for element, new in zip(option.stages, bought, strict=True)
    ]

    def at_once(service: Sequence[Sequence[bool]]) -> list[_Due]:
        pairs = [pair for ways, done in zip(takes, service, strict=True) for pair in zip(ways, done, strict=True)]
        return [due for way, is_done in pairs if is_done for due in way]

    def on(day: float, some: Sequence[_Due]) -> Iterator[Event]:
        return (Event(floor(day), due.what, due.item, count, count * due.each) for due in some)

    yield from on(0.0, bought)
    at_service = [at_once(service) for service in services.done[..., 0].swapaxes(1, 2).tolist()]
    for day, index in _service_days(services, prices.horizon_days):
        yield from on(day, at_service[index])


def water_change(day: float, running: Running) -> Event:
    """Return a change of the water on a day."""
    return Event(day=floor(day), what="change water", item="water", count=1, amount=running.water_change_price)


def running_events(running: Running, prices: Prices) -> Iterator[Event]:
    """Yield water changes, and each year's electricity and disinfectant at its end, over the horizon.

    Parameters
    ----------
    running : Running
        What runs on.
    prices : Prices
        What things cost, and the horizon.

    Yields
    ------
    Event
        Water changes first.
    """
    horizon = prices.horizon_days
    change_days = running.water_change_days
    if change_days < horizon:
        for day in np.arange(1, int(np.ceil(horizon / change_days))) * change_days:
            yield water_change(day, running)
    start = 0.0
    while start < horizon:
        end = min(start + DAYS_PER_YEAR, horizon)
        years, day = (end - start) / DAYS_PER_YEAR, floor(end)
        kwh = years * running.electricity_kwh_per_year
        yield Event(day=day, what="buy", item="electricity", count=kwh, amount=kwh * prices.electricity_per_kwh)
        if prices.disinfectant_per_month > 0.0:
            months = 12.0 * years
            amount = months * prices.disinfectant_per_month
            yield Event(day=day, what="buy", item="disinfectant", count=months, amount=amount)
        start = end


def events_of(prices: Prices, option: Option, pump: Pump, services: Services, running: Running) -> tuple[Event, ...]:
    """Return the dated events of an option over the horizon.

    Parameters
    ----------
    prices : Prices
        What things cost, and the horizon.
    option, pump : Option, Pump
        What is fitted.
    services : Services
        What is done to it, of one case, up to the horizon or until the sequence repeats itself.
    running : Running
        What runs on.

    Returns
    -------
    tuple of Event
        First purchases on day 0, services, water changes, electricity and disinfectant at each year's end; in order.
    """

    def everything() -> Iterator[Event]:
        yield from _equipment(pump.name, 1, pump.price, pump.life_years, prices.horizon_days)
        housing = option.housing_price
        yield from _equipment("housing", option.housings, housing, option.housing_life_years, prices.horizon_days)
        yield from _services(option, services, prices)
        yield from running_events(running, prices)

    return _merged(everything())


def total_of(events: Sequence[Event], prices: Prices) -> Total:
    """Return what dated events come to.

    Parameters
    ----------
    events : sequence of Event
        The events.
    prices : Prices
        The discount rate.

    Returns
    -------
    Total
        Plain sum and present value.
    """
    return Total(
        undiscounted=sum(event.amount for event in events),
        discounted=present_value([(event.day, event.amount) for event in events], prices.discount_rate),
    )
