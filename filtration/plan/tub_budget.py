"""A year of each of many tubs, worked side by side: what to take, what it takes a year, and how sure that is."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

import numpy as np

from filtration.answers.chances import FEWEST, figures_of, ranges_of
from filtration.answers.decision import CASES, SEED, Decision
from filtration.answers.draws import DrawnOption, drawn_options, kept_options
from filtration.answers.figures import Followed, follow_all, judged, unmoved
from filtration.answers.odds import most_runs_of
from filtration.answers.ranking import afford_draws, ordered
from filtration.answers.results import OptionAnswer, decided
from filtration.base.arrays import Array, totals
from filtration.base.draws import Belief, Factors, factors_at, sobol_points, weighted_tenths
from filtration.base.errors import InputError, NoAnswerError
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry, entries_of
from filtration.plan.ahead import Schedulable
from filtration.plan.fleet_rows import FleetRow
from filtration.plan.spending import Stocked, own_hours_per_year, stocked
from filtration.plan.upkeep import Upkeep, upkeep_of
from filtration.readings.foretold import Forecast
from filtration.readings.next_service import forecast, noon_of
from filtration.readings.shared_prior import pooled
from filtration.study.believed import with_belief
from filtration.study.file import study_from_dict
from filtration.study.values import Element, Study

Range = tuple[float, float, float]
_CONSUMED = ("elements", "rinsing", "disposal", "water_changes", "disinfectant")


class Ranged(NamedTuple):
    """A figure of the central case, and its range: 10, 50 and 90 %; None without draws, or where too few say it."""

    central: float
    range: Range | None = None


_NOTHING = Ranged(0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """An option that the decision calls the one to take, or as good."""

    name: str
    cost_per_year: float
    stock: tuple[Stocked, ...]

    @property
    def things(self) -> tuple[Element, ...]:
        """What it takes from the shop."""
        return tuple(each.thing for each in self.stock)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TubBudget:
    """A year of one tub: the advice, figures and ranges of ``compare``.

    Parameters
    ----------
    name, where : str
        The tub, and the file or line it comes from.
    option, pump : str or None
        What to take; None where nothing meets the needs.
    nearest, why_not : str, tuple of Remark
        Where there is nothing to take: what comes nearest, and why it does not meet the needs.
    chance_of_meeting_needs : float
        Chance that it does, of the cases that decide [-].
    currency, us : str, bool
        Of the cost; whether it is answered in US units.
    cost, consumables : Ranged
        A year; what is used up of it: elements, cleaner, water, disinfectant and disposal, without power and own time.
    days : Ranged
        To the first service [day].
    elements : mapping of str to Ranged
        Elements a year by name.
    rinses_per_year, hours_per_year : float
        Rinses of elements; own time [h].
    choices : tuple of Choice
        The one to take, then those that are as good.
    upkeep : Upkeep or None
        What is done in the year ahead.
    readings_used, readings_refused : int
        Readings that count, and that do not.
    faults : tuple of str
        Why there is no budget.
    """

    name: str
    where: str
    option: str | None = None
    pump: str | None = None
    nearest: str = ""
    why_not: tuple[Remark, ...] = ()
    chance_of_meeting_needs: float = 0.0
    currency: str = ""
    us: bool = False
    cost: Ranged = _NOTHING
    consumables: Ranged = _NOTHING
    days: Ranged = _NOTHING
    elements: Mapping[str, Ranged] = field(default_factory=dict)
    rinses_per_year: float = 0.0
    hours_per_year: float = 0.0
    choices: tuple[Choice, ...] = ()
    upkeep: Upkeep | None = None
    readings_used: int = 0
    readings_refused: int = 0
    faults: tuple[str, ...] = ()

    @property
    def meets_needs(self) -> bool:
        """Whether anything meets its needs in the central case, so that there is something to take."""
        return self.option is not None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """What some tubs are worked out with: which draws tell the ranges, from which day on, and what other tubs share."""

    rows: Sequence[FleetRow]
    draws: int
    seed: int
    first_day: date
    shared: Sequence[Mapping[str, object]] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Totals:
    """Sums over tubs, case by case, of one figure.

    Parameters
    ----------
    central : float
        In the central case.
    counted, told : (d,) array
        Of the tubs whose option meets the needs in a case: their figures in the central case, and in that one.
    """

    central: float
    counted: Array
    told: Array

    def __add__(self, other: "Totals") -> "Totals":
        """Return the sums over both."""
        return Totals(
            central=self.central + other.central,
            counted=self.counted + other.counted,
            told=self.told + other.told,
        )


Sums = dict[tuple[str, str], Totals]
"""Sums by what they are of, "cost", "consumables" or "elements", and currency or element."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """A tub whose row is right, as its readings see it, with every option on every pump."""

    row: FleetRow
    study: Study
    ahead: Forecast | None
    entries: Sequence[Entry]

    @property
    def driven(self) -> list[Entry]:
        """The options whose pump drives the loop."""
        return [entry for entry in self.entries if entry.loop is not None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Taken:
    """What to take in a tub: its answer as followed, those as good, and its chance."""

    known: _Known
    followed: Followed
    answer: OptionAnswer
    equal: Sequence[OptionAnswer]
    chance: float


def budgets_of(job: Job) -> tuple[list[TubBudget], Sums]:
    """Return a year of some tubs, worked side by side, and their sums case by case."""
    rows = [_known(row, job) for row in job.rows]
    known = [row for row in rows if isinstance(row, _Known)]
    followed = follow_all([(row.study, row.driven) for row in known])
    answers = [[judged(of) for of in each] for each in followed]
    tried = [(row.study, row.driven, [*map(most_runs_of, each)]) for row, each in zip(known, answers, strict=True)]
    cases = iter(_drawn(tried, sobol_points(CASES, SEED), needs_alone=True))
    chosen = [
        _taken(row, of, each, [next(cases) for _ in each])
        for row, of, each in zip(known, followed, answers, strict=True)
    ]
    points = sobol_points(job.draws, job.seed) if job.draws else None
    told = iter(_told([each for each in chosen if isinstance(each, _Taken)], points))
    found, sums = iter(chosen), Sums()
    budgets = []
    for row in rows:
        each = row if isinstance(row, TubBudget) else next(found)
        if isinstance(each, _Taken):
            factors = None if points is None else factors_at(points, each.known.study.spreads, each.known.study.belief)
            budget, own = _budget(each, next(told), factors, job.first_day)
            for key, figures in own.items():
                sums[key] = sums[key] + figures if key in sums else figures
            each = budget
        budgets.append(each)
    return budgets, sums


def _known(row: FleetRow, job: Job) -> _Known | TubBudget:
    """Return a tub that can be worked out, or its faults."""
    faults = row.faults
    try:
        if row.tables is not None:
            study, ahead = study_from_dict(row.tables, where=row.where), None
            afford_draws(study, job.draws)
            prior = pooled(job.shared, study.spreads) if job.shared else None
            if row.readings:
                ahead = forecast(study, row.readings, today=noon_of(job.first_day), prior=prior, seed=job.seed)
            belief: Belief | None = ahead.belief if ahead else prior
            study = study if belief is None else with_belief(study, belief)
            return _Known(row=row, study=study, ahead=ahead, entries=entries_of(study))
    except InputError as error:
        faults = error.faults
    except NoAnswerError as error:
        faults = (f"readings: {error}",)
    return _faulty(row, faults)


def _faulty(row: FleetRow, faults: Sequence[str]) -> TubBudget:
    told = tuple(fault if fault.startswith(row.where) else f"{row.where}: {fault}" for fault in faults)
    return TubBudget(name=row.where, where=row.where, faults=told)


def _taken(
    known: _Known, followed: Sequence[Followed], answers: Sequence[OptionAnswer], drawn: Sequence[DrawnOption]
) -> _Taken | TubBudget:
    """Return what to take in a tub, or why there is nothing."""
    meets = np.array([each.meets for each in drawn]).reshape(len(answers), CASES)
    chances, none_meets = meets.mean(axis=1).tolist(), float(1.0 - meets.any(axis=0).mean())
    study, of_id = known.study, {each.id: place for place, each in enumerate(answers)}
    still = [unmoved(study, entry) for entry in known.entries if entry.loop is None]
    order = ordered([*answers, *still])
    chance_of = [chances[of_id[each.id]] if each.id in of_id else 0.0 for each in order]
    decision: Decision = decided(study, order, chance_of, none_meets)
    if decision.advised is None:
        nearest = order[0]
        return TubBudget(
            name=study.name,
            where=known.row.where,
            nearest=study.names[nearest.id],
            why_not=nearest.reasons,
            currency=study.currency,
            us=study.us,
        )
    at = of_id[decision.advised]
    return _Taken(
        known=known,
        followed=followed[at],
        answer=answers[at],
        equal=[answers[of_id[each]] for each in decision.equal],
        chance=chances[at],
    )


def _drawn(
    jobs: Sequence[tuple[Study, Sequence[Entry], Sequence[Sequence[int]]]], points: Array, *, needs_alone: bool = False
) -> list[DrawnOption]:
    """Put options of several studies, each with its runs before replacing, before the same points, side by side."""
    kept = [
        option
        for study, entries, most_runs in jobs
        for option in kept_options(study, entries, most_runs, [factors_at(points, study.spreads, study.belief)])
    ]
    return drawn_options(kept, needs_alone=needs_alone)


def _told(fitted: Sequence[_Taken], points: Array | None) -> Sequence[DrawnOption | None]:
    """Return what became of each option to take before the draws that ranges come from."""
    if points is None:
        return [None] * len(fitted)
    return _drawn([(each.known.study, [each.followed.entry], [most_runs_of(each.answer)]) for each in fitted], points)


def _budget(fit: _Taken, drawn: DrawnOption | None, factors: Factors | None, first_day: date) -> tuple[TubBudget, Sums]:
    """Return a year of a tub with the option to take, and its sums; or its faults."""
    known, answer, entry = fit.known, fit.answer, fit.followed.entry
    study, cost, ahead = known.study, fit.answer.cost_per_year, fit.known.ahead
    power = (answer.energy_kwh_per_year.water_changes or 0.0) * study.prices.electricity_per_kwh
    elements = totals((each.element, each.elements_per_year or 0.0) for each in answer.stages)
    central = {
        "days": answer.days_to_first_service or 0.0,
        "cost": cost.total or 0.0,
        "consumables": sum(getattr(cost, part) or 0.0 for part in _CONSUMED) - power,
        **{f"each {name}": count for name, count in elements.items()},
    }
    draws: dict[str, Array] = {}
    if drawn is not None and factors is not None:
        all_of = figures_of(study, entry, drawn, factors)
        each_of = totals((f"each {name}", all_of[f"elements_per_year.{name}"]) for name in elements)
        used_up = np.sum([all_of[f"cost_per_year.{part}"] for part in _CONSUMED], axis=0) - power * factors.prices
        draws = {
            "days": all_of["days_to_first_service"],
            "cost": all_of["cost_per_year"],
            "consumables": used_up,
            **each_of,
        }
    ranges = ranges_of(draws, drawn.meets) if drawn is not None else {}
    figures = {name: Ranged(value, ranges.get(name)) for name, value in central.items()}
    fitted = Schedulable(study=study, entry=entry, answer=answer)
    life = fit.followed.life
    try:
        upkeep = upkeep_of(fitted, ahead, first_day, life.services if life else None)
    except InputError as error:
        return _faulty(known.row, error.faults), {}
    budget = TubBudget(
        name=study.name,
        where=known.row.where,
        option=answer.name,
        pump=answer.pump,
        chance_of_meeting_needs=fit.chance,
        currency=study.currency,
        us=study.us,
        cost=figures["cost"],
        consumables=figures["consumables"],
        days=figures["days"],
        elements={name: figures[f"each {name}"] for name in elements},
        rinses_per_year=sum(stage.rinses_per_year or 0.0 for stage in answer.stages),
        hours_per_year=own_hours_per_year(study, answer),
        choices=tuple(_choices(study, [answer, *fit.equal], upkeep)),
        upkeep=upkeep,
        readings_used=ahead.readings_used if ahead else 0,
        readings_refused=len(ahead.refused) if ahead else 0,
    )
    return budget, dict(_own_sums(budget, draws, drawn))


def _choices(study: Study, answers: Sequence[OptionAnswer], upkeep: Upkeep) -> Iterator[Choice]:
    """Yield what could be taken, with what is kept of it for a delivery."""
    for answer in answers:
        option, _ = study.on_pumps[answer.id]
        elements = {element.name: element for element in option.stages}
        yield Choice(
            name=answer.name,
            cost_per_year=answer.cost_per_year.total or 0.0,
            stock=tuple(stocked(option, answer, element, upkeep.pace_ahead) for element in elements.values()),
        )


def _own_sums(
    budget: TubBudget, draws: Mapping[str, Array], drawn: DrawnOption | None
) -> Iterator[tuple[tuple[str, str], Totals]]:
    """Yield the sums of one tub."""
    meets = np.zeros(0) if drawn is None else drawn.meets.astype(np.float64)
    keys = {"cost": ("cost", budget.currency), "consumables": ("consumables", budget.currency)}
    keys |= {f"each {name}": ("elements", name) for name in budget.elements}
    for name, key in keys.items():
        kind, of = key
        central = (budget.elements[of] if kind == "elements" else getattr(budget, kind)).central
        told = np.where(meets > 0.0, draws[name], 0.0) if draws else np.zeros(0)
        yield key, Totals(central=central, counted=central * meets, told=told)


def figure_of(sums: Totals) -> Ranged:
    """Return what some tubs come to, with its range.

    Notes
    -----
    In each case the tubs whose option meets the needs say by how much all of them lie above or below the central case;
    a case counts for as much as those tubs are of the whole. So the others neither narrow the range nor leave it, and
    of one tub it is the tub's own.
    """
    some = sums.counted > 0.0
    if not sums.counted.sum() >= FEWEST * sums.central * len(some) > 0.0:
        return Ranged(sums.central)
    weights = sums.counted[some]
    low, middle, high = weighted_tenths(sums.central * sums.told[some] / weights, weights).tolist()
    return Ranged(sums.central, (low, middle, high))
