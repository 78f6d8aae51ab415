"""The dated plan of one option: what to do and to buy on which day, how sure each day is, and what it comes to."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from math import floor, isfinite
from typing import TYPE_CHECKING

import numpy as np

from filtration.answers.decision import DRAWS, PLAN_DRAWS
from filtration.answers.ranking import compare
from filtration.answers.results import Comparison, OptionAnswer
from filtration.base.arrays import Array
from filtration.base.draws import Factors, check_draws, factors_at, sobol_points, tenths
from filtration.base.errors import InputError, NoAnswerError
from filtration.base.remarks import Remark
from filtration.physics.cost import DAYS_PER_YEAR, capital_recovery, present_value
from filtration.plan.ahead import Schedulable, as_logged, events_ahead, fit_of, fitted_on, past_of, walked
from filtration.plan.by_calendar import drawn_services
from filtration.plan.dated import BreakEven, Gap, Plan, Planned, in_cents, summed
from filtration.plan.spending import (
    best_of_either_sort,
    break_even_day,
    is_reusable,
    rinses_until,
    shopping_list,
    spending_of,
)
from filtration.service.events import Event, Total
from filtration.service.pace import EVEN, Pace, pace_of
from filtration.service.visits import KINDS, Past
from filtration.study.believed import with_belief
from filtration.study.values import Study

if TYPE_CHECKING:
    from filtration.readings.foretold import Forecast

_FEWEST_DRAWS, _MOST_DRAWS = 16, 4096
_FIRST, _LAST = date(1900, 1, 1), date(2999, 12, 31)
_LACKS = 0.05
_TENTHS, _AROUND = (10.0, 90.0), (-4.0, -2.0, 0.0, 2.0, 4.0)  # percentiles of an end, and beside it
_GOES_WITH = {"buy": "replace", "soak": "rinse"}


def plan(
    study: Study,
    *,
    option: str | None = None,
    today: date | None = None,
    forecast: "Forecast | None" = None,
    answer: Comparison | None = None,
    draws: int = PLAN_DRAWS,
    seed: int = 0,
) -> Plan:
    """Say what to do and to buy on which day.

    Parameters
    ----------
    study : Study
        The study as its file says. Where ``[in_use]`` has the option, it goes on from the day that was fitted.
    option : str, optional
        Its id or its name; left out, what a forecast speaks of, else the best.
    today : date, optional
        The first day; left out, this machine's.
    forecast : Forecast, optional
        What the logbook says: the belief moves all dates, the next service falls where it is forecast, the water is
        changed so long after the last change, and what is in store is used first.
    answer : Comparison, optional
        The study's comparison, if there is one already; its draws do not matter.
    draws, seed : int, optional
        How many draws of what is not known exactly, a power of two, and which.

    Returns
    -------
    Plan
        Over the study's horizon.

    Raises
    ------
    InputError
        If no option has that id, the first day lies outside 1900 to 2999, the elements in use are from the future or
        older than 50 years, or ``draws`` is no power of two from 16 to 4,096.
    NoAnswerError
        If no option meets the needs and none is named, or the one named cannot work or lacks the flow even when clean.

    Notes
    -----
    Draws keep to the plan: they rinse when due and replace after as many rinses, or at the same age where that ends the
    central life. The days of a service are those on which a draw does the same to the same element for as many times; a
    soak goes with its rinse, and what is bought with its replacement.
    """
    check_draws(draws, _FEWEST_DRAWS, _MOST_DRAWS)
    first_day = today or date.today()  # noqa: DTZ011 - a day of this machine's calendar is meant
    if not _FIRST <= first_day <= _LAST:
        raise InputError(f"today: must be {_FIRST} to {_LAST}, got {first_day}")
    compared = compare(study) if answer is None else answer
    moved = study if forecast is None else with_belief(study, forecast.belief)
    chosen = _chosen(compared, option, forecast)
    fit = fit_of(moved, chosen, compared)
    if fit is None:
        raise NoAnswerError(
            f"There is nothing to plan with {chosen.name}: even clean it lacks the flow, or cannot work."
        )
    new_on = fitted_on(study, fit.entry, chosen, forecast, first_day)
    elapsed = (first_day - new_on).days
    tub, prices = moved.tub, moved.prices
    pace, ahead = (pace_of(day, tub.uses_by_month, tub.uses_by_weekday) for day in (new_on, first_day))
    factors = factors_at(sobol_points(draws, seed), moved.spreads, moved.belief)
    past = past_of(fit, forecast, elapsed)
    walk = walked(fit, pace, elapsed, past)
    whole = as_logged(fit, events_ahead(fit, walk, elapsed), forecast, new_on, elapsed)
    even = whole
    if not pace.even:
        even = events_ahead(fit, walked(fit, EVEN, elapsed, past), elapsed)
        even = as_logged(fit, even, forecast, new_on, elapsed)
    new = not elapsed and past is None
    if walk is not None:
        before = Past(now=float(elapsed), number=int((walk.day[:, 0] < elapsed).sum()))
        past = replace(past or before, services=walk)
    spans, lacks = _spans(fit, pace, factors, whole, elapsed, past)
    events = _dated(whole, spans, new_on, first_day)
    return Plan(
        study=moved,
        option=chosen.id,
        name=chosen.name,
        pump=chosen.pump,
        first_day=first_day,
        last_day=first_day + timedelta(days=floor(prices.horizon_days)),
        fitted_on=new_on,
        events=events,
        total=Total(
            undiscounted=summed(event.amount for event in events),
            discounted=present_value([(event.day, event.amount) for event in events], prices.discount_rate),
        ),
        gap=_gap(chosen, fit, events, [event for event in even if event.day >= elapsed], fresh=not elapsed),
        shopping=shopping_list(fit.entry.option, fit.answer, events, ahead),
        break_even=_break_even(moved, compared, chosen, ahead, {chosen.id: whole} if new else {}),
        uneven=not pace.even,
        lacks=lacks,
        draws=draws,
        seed=seed,
        notes=(*_notes(fit, pace, elapsed, lacks, logged=forecast is not None), *_logged(forecast)),
    )


def _chosen(compared: Comparison, option: str | None, forecast: "Forecast | None") -> OptionAnswer:
    """Return the option asked for, else what a forecast speaks of, else the best."""
    found = compared.advised
    if option is not None:
        found = compared.option(option)
    elif forecast is not None:
        found = next(each for each in compared.options if (each.name, each.pump) == (forecast.option, forecast.pump))
    if found is None:
        raise NoAnswerError("No option meets your needs. Name one to plan with it all the same.")
    return found


def _logged(forecast: "Forecast | None") -> Iterator[Remark]:
    """Yield what the logbook moves besides services."""
    if forecast is not None and forecast.water_changed_on is not None:
        yield Remark(kind="water changed", figures={"on": forecast.water_changed_on.isoformat()})
    if forecast is not None and forecast.stock:
        stock = ", ".join(f"{count} {name}" for name, count in forecast.stock.items())
        yield Remark(kind="in store", figures={"stock": stock})


def _spans(
    fit: Schedulable, pace: Pace, factors: Factors, events: Sequence[Event], elapsed: int, past: Past | None
) -> tuple[dict[tuple[int, str, str], tuple[float, float]], float]:
    """Return 10 and 90 % of the day of each service among events from new on, and the share of draws without flow."""
    names = [element.name for element in fit.entry.option.stages]
    each: dict[tuple[int, str], list[tuple[int, int]]] = {}
    for event in events:
        if event.what in ("rinse", "replace") and event.item in names:
            times = round(event.count / fit.entry.option.housings_in_parallel)
            each.setdefault((KINDS.index(event.what), event.item), []).append((event.day, times))
    needed = np.array([[sum(times for _, times in each.get((kind, name), ())) for name in names] for kind in range(3)])
    until = elapsed + 2.0 * fit.study.prices.horizon_days
    walk, cases, flows = drawn_services(
        fit.study, fit.entry, fit.answer, pace, factors, until=until, needed=needed, past=past
    )
    spans: dict[tuple[int, str, str], tuple[float, float]] = {}
    if walk is None:
        return spans, 1.0
    first = min((some[0][0] for some in each.values()), default=0)
    for (kind, name), some in each.items():
        stages = [at for at, stage in enumerate(names) if stage == name]
        last = np.cumsum([times for _, times in some])
        days = walk.days_of(kind, stages, int(last[-1]))
        low, high = _ends(days)
        if some[0][0] == first and (cases < DRAWS).any():  # the first service is that of the answer, by its cases
            low[0], _, high[0] = tenths(days[0, cases < DRAWS])
        for (day, times), end in zip(some, last, strict=True):
            spans[day, KINDS[kind], name] = float(low[end - times]), float(high[end - 1])
            if past is not None and past.next_days and day == floor(max(past.next_days[1], past.now)):
                spans[day, KINDS[kind], name] = past.next_days[0], past.next_days[2]
    return spans, float(1.0 - flows.mean())


def _ends(days: Array) -> tuple[Array, Array]:
    """Return where 10 and 90 % of the cases (m, d) lie, as the mean of five percentiles around each (m,).

    So that a gap between two groups of cases moves an end a little from seed to seed, not from one side to the other.
    """
    around = np.add.outer(np.array(_TENTHS), np.array(_AROUND))
    low, high = np.percentile(days, around, axis=-1, method="inverted_cdf").mean(axis=1).round(6)
    return low, high


def _dated(
    events: Sequence[Event], spans: Mapping[tuple[int, str, str], tuple[float, float]], fitted_on: date, first_day: date
) -> tuple[Planned, ...]:
    """Return events from new on as those of the calendar; what is bought for a service shares its days."""
    elapsed = (first_day - fitted_on).days
    ahead = [event for event in events if event.day >= elapsed]
    dated = []
    for event, amount in zip(ahead, in_cents(event.amount for event in ahead), strict=True):
        on = fitted_on + timedelta(days=event.day)
        span = spans.get((event.day, _GOES_WITH.get(event.what, event.what), event.item))
        low, high = span or (float(event.day), float(event.day))
        earliest = min(on, max(first_day, fitted_on + timedelta(days=floor(low)))) if isfinite(low) else on
        latest = max(on, fitted_on + timedelta(days=floor(high))) if isfinite(high) else None
        told = event._asdict() | {"day": event.day - elapsed, "amount": amount}
        dated.append(Planned(**told, date=on, earliest=earliest, latest=latest))
    return tuple(dated)


def _gap(
    chosen: OptionAnswer, fit: Schedulable, events: Sequence[Planned], even: Sequence[Event], *, fresh: bool
) -> Gap:
    """Return why a plan's yearly average is not the long-run rate; ``even`` are its events with uses all alike."""
    prices, option, pump = fit.study.prices, fit.entry.option, fit.entry.pump
    years, rate = prices.horizon_days / DAYS_PER_YEAR, prices.discount_rate
    total, total_even = summed(event.amount for event in events), sum(event.amount for event in even)
    long_run, seen = chosen.cost_per_year.total or 0.0, fit.answer.cost_per_year.total or 0.0
    first = sum(event.amount for event in even if event.what == "buy" and event.day == 0) / years if fresh else 0.0
    equipment = ((pump.price, pump.life_years), (option.housings * option.housing_price, option.housing_life_years))
    interest = sum(price * (1.0 / life - capital_recovery(rate, life)) for price, life in equipment)
    seasons = (total - total_even) / years
    used = total_even / years - seen - first - interest
    parts = {"long_run": long_run, "readings": seen - long_run, "first_purchases": first, "part_used": used}
    parts |= {"interest": interest, "seasons": seasons}
    cents = in_cents(parts.values())
    return Gap(**dict(zip(parts, cents, strict=True)), average=summed(cents))


def _break_even(
    study: Study, compared: Comparison, chosen: OptionAnswer, pace: Pace, known: Mapping[str, Sequence[Event]]
) -> BreakEven | None:
    """Compare an option with the cheapest of the other sort, rinsed or thrown away, both new on the first day."""
    cheapest = best_of_either_sort([option for option in compared.options if option.meets_needs])
    pair = cheapest | {is_reusable(chosen): chosen}
    if len(pair) == 1:
        return None
    done: dict[bool, Sequence[Event]] = {}
    for sort, option in pair.items():
        events = known.get(option.id)
        if events is None:
            fit = fit_of(study, option, compared)
            if fit is None:
                return None
            events = events_ahead(fit, walked(fit, pace))
        done[sort] = events
    spent = {sort: spending_of(events) for sort, events in done.items()}
    day = break_even_day(spent[True], spent[False])
    return BreakEven(
        reusable=pair[True].name,
        disposable=pair[False].name,
        reusable_is_cheapest=pair[True] is cheapest.get(True),
        disposable_is_cheapest=pair[False] is cheapest.get(False),
        day=day,
        rinses=None if day is None else rinses_until(done[True], day),
        horizon_days=floor(study.prices.horizon_days),
        reusable_total=round(spent[True].total[-1], 2),
        disposable_total=round(spent[False].total[-1], 2),
    )


def _notes(fit: Schedulable, pace: Pace, elapsed: int, lacks: float, *, logged: bool) -> Iterator[Remark]:
    """Yield what the reader should know besides."""
    if fit.study.tub.uses_per_day > 0.0:
        yield Remark(kind="even" if pace.even else "uneven", figures={"growth": fit.study.tub.growth_per_day})
    if elapsed:
        yield Remark(kind="in use as logged" if logged else "in use", figures={"days": elapsed})
    if lacks > _LACKS:
        yield Remark(kind="lacks", figures={"chance": lacks})
    if not fit.answer.meets_needs:
        yield Remark(kind="fails", figures={"option": fit.answer.name})
    for element in fit.entry.option.stages:
        if element.lead_time_days is None:
            yield Remark(kind="no lead time", figures={"element": element.name})
