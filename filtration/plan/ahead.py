"""What lies ahead of one option in the central case: since when it is fitted, its services, and what those cost."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from filtration.answers.figures import answer_of, follow
from filtration.answers.results import Comparison, OptionAnswer
from filtration.answers.yearly import running_of
from filtration.base.errors import InputError
from filtration.loading.assembly import Entry, entry_by_id
from filtration.physics.cost import Prices
from filtration.physics.pump import Pump
from filtration.plan.as_logged import from_store, with_water
from filtration.plan.by_calendar import central_services
from filtration.service.events import Event, Running, events_of, running_events
from filtration.service.pace import Pace
from filtration.service.visits import Past, Services
from filtration.study.values import Option, Study

if TYPE_CHECKING:
    from filtration.readings.foretold import Forecast

_LONGEST_DAYS = 18263  # in use: 50 years


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Schedulable:
    """An option that can be scheduled, with its answer as readings see it."""

    study: Study
    entry: Entry
    answer: OptionAnswer


def fit_of(study: Study, chosen: OptionAnswer, compared: Comparison) -> Schedulable | None:
    """Return an option as a study sees it, None where it cannot be scheduled."""
    entry, answer = entry_by_id(study, chosen.id), chosen
    if entry.loop is not None and study is not compared.study:
        answer = answer_of(*follow(study, [entry]))
    if answer.cost_per_year.total is None:
        return None
    return Schedulable(study=study, entry=entry, answer=answer)


def fitted_on(study: Study, entry: Entry, chosen: OptionAnswer, forecast: "Forecast | None", first_day: date) -> date:
    """Return when the elements were new: the first day, unless a forecast or the study says that they are in use."""
    if forecast is not None and (chosen.name, chosen.pump) == (forecast.option, forecast.pump):
        return min(forecast.fitted_on, first_day)
    if study.in_use is None or study.in_use.option not in (chosen.id, entry.option.id):
        return first_day
    since = date.fromisoformat(study.in_use.since)
    if not 0 <= (first_day - since).days <= _LONGEST_DAYS:
        raise InputError(f"[in_use] since: must lie in the 50 years before {first_day}, got {since}")
    return since


def past_of(fit: Schedulable, forecast: "Forecast | None", elapsed: int) -> Past | None:
    """Return what a forecast knows of the services so far and the next."""
    if forecast is None or (fit.answer.name, fit.answer.pump) != (forecast.option, forecast.pump):
        return None
    due = forecast.next_service
    early, middle, late = ((day - forecast.fitted_on).days for day in (due.p10, due.p50, due.p90))
    return Past(
        now=float(elapsed),
        number=len(forecast.services),
        services=_services_so_far(fit.entry, forecast),
        next_days=(float(early), float(middle), float(late)),
        next_what=due.what,
        left=None if forecast.rinses_left is None else round(forecast.rinses_left[1]),
    )


def _services_so_far(entry: Entry, forecast: "Forecast") -> Services:
    """Return the services that were written down, of one case."""
    days = np.array([float((each.on - forecast.fitted_on).days) for each in forecast.services])
    rinseable = np.array([element.rinseable for element in entry.option.stages])
    soaked = np.array([each.soaked for each in forecast.services], dtype=bool)
    rinsed = np.repeat(rinseable[None], len(days), axis=0)
    return Services.of_one(days, np.stack([rinsed, rinsed & soaked[:, None], np.zeros_like(rinsed)], axis=1))


def walked(fit: Schedulable, pace: Pace, elapsed: int = 0, past: Past | None = None) -> Services | None:
    """Return the services of the central case from new to the end of the horizon; None where the answer has them."""
    if pace.even and not elapsed and past is None:
        return None
    until = elapsed + fit.study.prices.horizon_days
    return central_services(fit.study, fit.entry, fit.answer, pace, until, past)


def events_ahead(fit: Schedulable, walk: Services | None, elapsed: int = 0) -> Sequence[Event]:
    """Return what is done and paid from new to the end of the horizon; meters run from the first day on."""
    if walk is None:
        return fit.answer.events
    running = running_of(fit.study, fit.answer.energy_kwh_per_year)
    return events_since(fit.study.prices, fit.entry.option, fit.entry.pump, walk, running, elapsed)


def events_since(
    prices: Prices, option: Option, pump: Pump, services: Services, running: Running, elapsed: int
) -> list[Event]:
    """Return the events of services since an option was new, so many days before today; meters run from today on.

    Parameters
    ----------
    prices : Prices
        What things cost, and the horizon from today on.
    option, pump : Option, Pump
        What is fitted.
    services : Services
        What is done to it, of one case.
    running : Running
        What runs on.
    elapsed : int
        Days since it was new.

    Returns
    -------
    list of Event
        By the day since it was new.
    """
    longer = replace(prices, horizon_days=elapsed + prices.horizon_days, disinfectant_per_month=0.0)
    no_meter = replace(running, electricity_kwh_per_year=0.0)
    events = events_of(longer, option, pump, services, no_meter)
    meters = running_events(replace(running, water_change_days=inf), prices)
    later = [event._replace(day=event.day + elapsed) for event in meters]
    return sorted([event for event in events if event.count > 0.0] + later, key=lambda event: event.day)


def as_logged(
    fit: Schedulable, events: Sequence[Event], forecast: "Forecast | None", new_on: date, elapsed: int
) -> Sequence[Event]:
    """Return events as the logbook moves them: from the last change of the water on, and what is in store first."""
    if forecast is None:
        return events
    if forecast.water_changed_on is not None and not fit.study.water_never_changed:
        running, last = running_of(fit.study, fit.answer.energy_kwh_per_year), elapsed + fit.study.prices.horizon_days
        events = with_water(events, running, forecast.water_changed_on, new_on, elapsed, last)
    return from_store(events, forecast.stock, elapsed)
