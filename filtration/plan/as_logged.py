"""What the logbook says of a plan besides its services: when the water was changed, and what lies in store."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from filtration.service.events import Event, Running, water_change


def with_water(
    events: Sequence[Event], running: Running, changed_on: date, fitted_on: date, first: int, last: float
) -> list[Event]:
    """Return events with the water changed every so many days from the last change on, late ones on the first day.

    Parameters
    ----------
    events : sequence of Event
        By days since the option was new.
    running : Running
        How often the water is changed, and what that costs.
    changed_on, fitted_on : date
        When it was last changed, and when the option was new.
    first, last : int, float
        The plan's first day and its end, since the option was new [day].

    Examples
    --------
    >>> running = Running(electricity_kwh_per_year=0.0, water_change_days=10.0, water_change_price=2.0)
    >>> [event.day for event in with_water([], running, date(2026, 3, 5), date(2026, 3, 1), 8, 40.0)]
    [14, 24, 34]
    """

    def changes() -> Iterator[Event]:
        day = max(float(first), (changed_on - fitted_on).days + running.water_change_days)
        while day < last:
            yield water_change(day, running)
            day += running.water_change_days

    kept = [event for event in events if event.what != "change water"]
    return sorted([*kept, *changes()], key=lambda event: event.day)


def from_store(events: Sequence[Event], stock: Mapping[str, int], first: int) -> list[Event]:
    """Return events, in order of days, with the elements in store used from a day on before any are bought.

    Examples
    --------
    >>> buys = [Event(day=day, what="buy", item="Sheet", count=2, amount=8.0) for day in (0, 90, 180)]
    >>> [(event.day, event.count, event.amount) for event in from_store(buys, {"Sheet": 3}, 1)]
    [(0, 2, 8.0), (180, 1, 4.0)]
    """
    left, found = dict(stock), []
    for event in events:
        taken = min(left.get(event.item, 0), event.count) if event.what == "buy" and event.day >= first else 0
        if taken:
            left[event.item] -= int(taken)
            rest = event.count - taken
            event = event._replace(count=rest, amount=event.amount * rest / event.count)  # noqa: PLW2901 - the rest of it
        if event.count or not taken:
            found.append(event)
    return found
