"""The year ahead of one tub of many: what is wanted again and again, and what that comes to on given days."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from itertools import pairwise
from math import inf, isfinite
from typing import TYPE_CHECKING

import numpy as np

from filtration.answers.yearly import running_of
from filtration.base.arrays import Flags
from filtration.loading.case import central_case, load_of
from filtration.physics.cost import DAYS_PER_YEAR, Prices
from filtration.physics.pump import Pump
from filtration.plan.ahead import Schedulable, events_since, fitted_on, past_of, walked
from filtration.plan.as_logged import from_store
from filtration.plan.by_calendar import bathers_share
from filtration.plan.dated import in_cents
from filtration.plan.gathering import Chore, Served
from filtration.service.events import Event, Running, water_change
from filtration.service.pace import Pace, pace_of
from filtration.service.visits import KINDS, Services
from filtration.study.values import Option

if TYPE_CHECKING:
    from filtration.readings.foretold import Forecast

YEAR_DAYS = 365
"""How far ahead many tubs are planned together."""

_WALKED_YEARS = 3.0  # so that services that come early do not run out
_METERS = ("electricity", "disinfectant")

KINDS_OF_COST = (
    "cartridges", "spares", "equipment", "rinsing", "cleaner", "disposal", "water changes", "disinfectant",
    "electricity",
)  # fmt: skip
"""What a year's money goes into; rinsing and cleaner hold the own time they take, where it has a price."""

_KIND_OF = {"rinse": "rinsing", "soak": "cleaner", "replace": "disposal", "change water": "water changes"}


@lru_cache(maxsize=2)
def days_of_year(first_day: date) -> tuple[date, ...]:
    """Return the days of the year ahead, which thousands of lines share."""
    return tuple(first_day + timedelta(days=day) for day in range(YEAR_DAYS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Something to do or to pay in the year ahead.

    Parameters
    ----------
    date : date
        The day; what a meter counts is paid month by month.
    tub : str or None
        Whose it is; None for what is kept for all.
    kind : str
        What the money goes into, one of ``KINDS_OF_COST``.
    what, item : str
        As ``Planned`` has them, and "keep" for spares.
    count, amount : float
        How many, and what it costs in whole cents.
    hours, water_m3 : float
        Own time [h], and water [m3].
    currency : str
        Of the amount.
    """

    date: date
    tub: str | None
    kind: str
    what: str
    item: str
    count: float
    amount: float
    hours: float = 0.0
    water_m3: float = 0.0
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Upkeep:
    """How one tub is looked after from a first day on.

    Parameters
    ----------
    option, pump, prices, currency : Option, Pump, Prices, str
        What is fitted, and what things cost.
    volume_m3 : float
        Of the tub [m3].
    running : Running
        What runs on.
    stock : mapping of str to int
        Elements in store, which are used before any are bought.
    first_day : date
        The first day.
    elapsed : int
        Days since the elements were new.
    filter, water : Chore, Chore or None
        Services of the filter, and changes of the water.
    done : (k, 3, s) array of bool
        Whether each stage is rinsed, soaked, replaced at each service.
    pace_ahead : Pace
        The calendar from the first day on.
    """

    option: Option
    pump: Pump
    prices: Prices
    currency: str
    volume_m3: float
    running: Running
    stock: Mapping[str, int]
    first_day: date
    elapsed: int
    filter: Chore
    water: Chore | None
    done: Flags
    pace_ahead: Pace

    @property
    def chores(self) -> list[Chore]:
        """What is wanted again and again: the filter's services, then the water."""
        return [self.filter, *([] if self.water is None else [self.water])]

    def whats(self, number: int) -> list[tuple[str, str]]:
        """Return what is done at a service: to rinse, soak or replace, and which element."""
        return [
            (kind, element.name)
            for kind, stages in zip(KINDS, self.done[number], strict=True)
            for element, on in zip(self.option.stages, stages, strict=True)
            if on
        ]

    def lines(self, tub: str, services: Sequence[Served], changes: Sequence[Served] = ()) -> list[Line]:
        """Return what a year comes to, with services and changes of the water on given days, in order of days."""
        events = [event for event in self._events(services, changes) if event.day < YEAR_DAYS or event.item in _METERS]
        minutes, water = dict[tuple[str, str], float](), {("change water", "water"): self.volume_m3}
        for element in self.option.stages:
            minutes |= {("rinse", element.name): element.rinse_minutes, ("soak", element.name): element.soak_minutes}
            water["rinse", element.name] = element.rinse_water_m3
        lines, days = [], days_of_year(self.first_day)
        for event, amount in zip(events, in_cents(event.amount for event in events), strict=True):
            key = event.what, event.item
            parts = self._monthly(event, amount) if event.item in _METERS else [(event.day, event.count, amount)]
            lines += [
                Line(
                    date=days[day],
                    tub=tub,
                    kind=self._kind(event),
                    what=event.what,
                    item=event.item,
                    count=count,
                    amount=paid,
                    hours=event.count * minutes.get(key, 0.0) / 60.0,
                    water_m3=event.count * water.get(key, 0.0),
                    currency=self.currency,
                )
                for day, count, paid in parts
            ]
        return sorted(lines, key=lambda line: line.date)

    def _kind(self, event: Event) -> str:
        if event.what != "buy":
            return _KIND_OF[event.what]
        if event.item in _METERS:
            return event.item
        return "cartridges" if event.item in {element.name for element in self.option.stages} else "equipment"

    def _events(self, services: Sequence[Served], changes: Sequence[Served]) -> list[Event]:
        """Return what is done and paid from the first day on, by the day from there."""
        numbers = np.array([served.number for served in services], dtype=np.intp)
        days = np.array([self.elapsed + served.time for served in services], dtype=np.float64)
        walk = Services.of_one(days, self.done[numbers])
        year = replace(self.prices, horizon_days=DAYS_PER_YEAR)
        dry = replace(self.running, water_change_days=inf)
        events = events_since(year, self.option, self.pump, walk, dry, self.elapsed)
        events = from_store(events, self.stock, self.elapsed)
        ahead = [event._replace(day=event.day - self.elapsed) for event in events if event.day >= self.elapsed]
        ahead += [water_change(change.day, self.running) for change in changes]
        return sorted(ahead, key=lambda event: event.day)

    def _monthly(self, event: Event, amount: float) -> list[tuple[int, float, float]]:
        """Return what a meter counts in a year month by month: the last day, the count and the amount of each."""
        days = days_of_year(self.first_day)
        lasts = [day for day, (one, then) in enumerate(pairwise(days)) if one.month != then.month] + [YEAR_DAYS - 1]
        shares = [(last - before) / YEAR_DAYS for before, last in pairwise([-1, *lasts])]
        amounts = in_cents(amount * share for share in shares)
        return [(last, event.count * share, paid) for last, share, paid in zip(lasts, shares, amounts, strict=True)]


def upkeep_of(fit: Schedulable, forecast: "Forecast | None", first_day: date, life: Services | None) -> Upkeep:
    """Return how a tub is looked after.

    Parameters
    ----------
    fit : Schedulable
        The option that is fitted.
    forecast : Forecast or None
        What readings say of it.
    first_day : date
        The first day.
    life : Services or None
        Its services from new in the central case, until all is renewed.

    Returns
    -------
    Upkeep
        Services as ``plan`` has them.

    Raises
    ------
    InputError
        If the elements in use are from the future or older than 50 years.
    """
    study = fit.study
    new_on = fitted_on(study, fit.entry, fit.answer, forecast, first_day)
    elapsed = (first_day - new_on).days
    pace = pace_of(new_on, study.tub.uses_by_month, study.tub.uses_by_weekday)
    far = replace(study, prices=replace(study.prices, horizon_days=_WALKED_YEARS * DAYS_PER_YEAR))
    services = walked(replace(fit, study=far), pace, elapsed, past_of(fit, forecast, elapsed)) or life
    if services is None:
        raise ValueError(fit.answer.id)
    day, length = services.day[:, 0], services.length_days[:, 0]
    ahead = np.flatnonzero(services.counted[:, 0] & (day >= elapsed))
    starts, waits = day[ahead] - length[ahead], length[ahead]
    share, limits = 0.0, inf
    if not pace.even:
        share = float(bathers_share(central_case(study, fit.entry, load_of(study)))[0])
        waits = pace.clock(starts, waits, np.full_like(waits, share))
        limits = study.needs.between_days(any(element.rinseable for element in fit.entry.option.stages))
    done = services.done[ahead, :, :, 0]
    running = running_of(study, fit.answer.energy_kwh_per_year)
    water, changed = running.water_change_days, -(elapsed % running.water_change_days)
    if forecast is not None and forecast.water_changed_on is not None:
        changed = float((forecast.water_changed_on - first_day).days)
    return Upkeep(
        option=fit.entry.option,
        pump=fit.entry.pump,
        prices=study.prices,
        currency=study.currency,
        volume_m3=study.tub.volume_m3,
        running=running,
        stock=forecast.stock if forecast else {},
        first_day=first_day,
        elapsed=elapsed,
        filter=Chore(
            waits_days=tuple(waits.tolist()),
            whole=tuple(bool(each) for each in np.any(done[:, 1:], axis=(1, 2))),
            start_day=float(starts[0]) - elapsed,
            repeats=bool(services.renewed[0]) and ahead[0] == 0,
            pace=pace,
            since_day=float(elapsed),
            bathers_share=share,
            most_days=limits,
        ),
        water=Chore(waits_days=(water,), whole=(True,), start_day=changed) if isfinite(water) else None,
        done=done,
        pace_ahead=pace_of(first_day, study.tub.uses_by_month, study.tub.uses_by_weekday),
    )
