"""Every printed figure that comes from draws, with one seed at the number of cases used, and how far it moves."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime

import numpy as np
from owners import START, at, owner
from studies import Given, demo_data, study_of

from filtration import Comparison, Study, compare, forecast
from filtration.answers.chances import spreads_of, verdict_of
from filtration.answers.decision import CASES, DRAWS
from filtration.answers.odds import most_runs_of
from filtration.base.draws import sobol_points
from filtration.loading.assembly import entry_by_id
from filtration.plan.dated_plan import plan
from filtration.plan.fleet import budget
from filtration.plan.fleet_rows import FleetRow
from filtration.present.words.plan import services
from filtration.readings.reading import Reading

DEMOS = ("freezer", "barrel", "quay")
FIRST_DAY = date(2027, 3, 1)
_TENTHS = ("10 %", "50 %", "90 %")
_RANGES = ("days_to_first_service", "cost_per_year", "see_through_worst_m", "clean_flow_l_per_h")
_CASE, _TENTH = 1.0 / 20.0, 0.1

Figures = dict[str, float]
Logbook = tuple[Study, Sequence[Reading], datetime]


def beyond(name: str, values: Sequence[float]) -> float:
    """Return the largest distance from the middle value over the most that stands: above 1, it is not to be printed.

    A tenth; of a chance a case of twenty; of what is told whole, as days of the calendar are, one at least.
    """
    middle = float(np.median(values))
    most = _CASE if name.startswith("chance") else _TENTH * abs(middle)
    if name.startswith(("day ", "rinses ")):
        most = max(1.0, most)
    apart = float(np.abs(np.array(values) - middle).max())
    return apart / most if apart else 0.0


def moving_of(figures_by: Callable[[int], Figures], seeds: Iterable[int]) -> list[str]:
    """Return the figures that move by more than what stands, from seed to seed."""
    found = [figures_by(seed) for seed in seeds]
    return [name for name in found[0] if beyond(name, [each[name] for each in found]) > 1.0]


def _by_tenth(name: str, values: Iterable[float]) -> Figures:
    return {f"{name}, {tenth}": value for tenth, value in zip(_TENTHS, values, strict=True)}


def figures_of(study: Study, seed: int) -> Figures:
    """Return what a comparison says, by name; ranges are those of the option that is advised."""
    answer = compare(study)
    driven = [option for option in answer.options if option.cost_per_year.total is not None]
    entries = [entry_by_id(study, option.id) for option in driven]
    spreads = spreads_of(study, entries, [most_runs_of(option) for option in driven], DRAWS, seed)
    verdict = verdict_of([spread.first(CASES) for spread in spreads], sobol_points(CASES, seed))
    taken = next(place for place, option in enumerate(driven) if option is answer.advised)
    found: Figures = {}
    for name in _RANGES:
        found |= _by_tenth(name, spreads[taken].ranges[name])
    return found | {
        "chance of meeting the needs": float(verdict.meets[taken]),
        "chance of being the cheapest": float(verdict.best[taken]),
        "chance that none meets the needs": verdict.none_meets,
        "worth of measuring the load": verdict.worth_of_load,
        "choosing wrong": verdict.wrong[taken] or 0.0,
    }


def plan_figures_of(answer: Comparison, seed: int, kept: Logbook | None = None) -> Figures:
    """Return what a plan says of each service, in days from its first; a day beyond twice the horizon is its end."""
    study, rows, now = kept or (answer.study, None, None)
    ahead = None if rows is None else forecast(study, rows, today=now, seed=seed)
    first_day = FIRST_DAY if now is None else now.date()
    found = plan(study, today=first_day, forecast=ahead, answer=answer, seed=seed)
    days: Figures = {}
    for number, event in enumerate(services(found), 1):
        latest = 2.0 * study.prices.horizon_days if event.latest is None else (event.latest - first_day).days
        days[f"day planned, service {number}"] = event.day
        days[f"day at the earliest, service {number}"] = (event.earliest - first_day).days
        days[f"day at the latest, service {number}"] = latest
    return days | {"chance that the plan lacks the flow": found.lacks}


def forecast_figures_of(kept: Logbook, seed: int) -> Figures:
    """Return what a forecast says, its days from today on."""
    study, rows, now = kept
    found = forecast(study, rows, today=now, seed=seed)
    due = found.next_service
    days = [float((day - now.date()).days) for day in (due.p10, due.p50, due.p90)]
    told = {} if found.measure is None else {"width left by the next reading": found.measure.width_share}
    return (
        _by_tenth("day of the next service", days)
        | _by_tenth("flow today", found.flow_today_l_per_h)
        | _by_tenth("rinses left", map(round, found.rinses_left or (0.0, 0.0, 0.0)))
        | {"chance that it is due": due.due_already, "chance that a new one lacks the flow": found.chance_clean_lacks}
        | told
    )


def fleet_figures_of(tubs: Sequence[Given], seed: int) -> Figures:
    """Return what a fleet comes to, and each of its tubs."""
    fleet = budget([FleetRow(where=str(place), tables=each) for place, each in enumerate(tubs)], seed=seed)
    found: Figures = {}
    told = {f"cartridges of a fleet, {name}": figure for name, figure in fleet.elements.items()}
    told |= {f"cost of a fleet, {currency}": figure for currency, figure in fleet.cost.items()}
    told |= {f"cost of a tub, {tub.name}": tub.cost for tub in fleet.tubs}
    for name, figure in told.items():
        found |= _by_tenth(name, figure.range) if figure.range else {}
    return found


def logbook_of(demo: str) -> Logbook:
    """Return a demo tub with the option to take in it for three days, of which nothing was read."""
    tables = demo_data(demo)
    advised = compare(study_of(tables)).advised
    assert advised is not None
    in_use = {"option": advised.id, "since": START.date().isoformat()}
    return study_of(tables | {"in_use": in_use}), (), at(3.0)


def owners(*seeds: int) -> Iterator[tuple[str, Logbook]]:
    """Yield simulated owners: who, and their logbook."""
    for seed in seeds:
        kept = owner(seed)
        yield f"owner {seed}, {len(kept.readings)} rows", (kept.study, kept.readings, kept.today)
