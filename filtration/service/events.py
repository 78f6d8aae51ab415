"""What happens on which day, and what it costs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor
from typing import Literal

import numpy as np

from filtration.physics.cost import DAYS_PER_YEAR, Prices, present_value
from filtration.physics.pump import Pump
from filtration.service.visits import Services
from filtration.study.values import Option, rinse_price, soak_price

What = Literal["buy", "rinse", "soak", "replace", "change water"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
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
    count: float
    amount: float


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
        key = (event.day, event.what, event.item)
        same = joined.get(key)
        joined[key] = (
            event if same is None else replace(same, count=same.count + event.count, amount=same.amount + event.amount)
        )
    return tuple(sorted(joined.values(), key=lambda event: event.day))


def _equipment(name: str, count: int, price: float, life_years: float, horizon_days: float) -> Iterator[Event]:
    if price <= 0.0:
        return
    for day in np.arange(0.0, horizon_days, life_years * DAYS_PER_YEAR):
        yield Event(day=floor(day), what="buy", item=name, count=count, amount=count * price)


def _services(option: Option, services: Services, prices: Prices) -> Iterator[Event]:
    count = option.housings_in_parallel

    def event(day: float, what: What, item: str, each: float) -> Event:
        return Event(day=floor(day), what=what, item=item, count=count, amount=count * each)

    for element in option.stages:
        yield event(0.0, "buy", element.name, element.price)
    for day, index in _service_days(services, prices.horizon_days):
        for element, (rinsed, soaked, replaced) in zip(option.stages, services.done[index, :, :, 0].T, strict=True):
            if rinsed:
                yield event(day, "rinse", element.name, rinse_price(element, prices))
            if soaked:
                yield event(day, "soak", element.name, soak_price(element, prices))
            if replaced:
                yield event(day, "replace", element.name, prices.disposal_each)
                yield event(day, "buy", element.name, element.price)


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
