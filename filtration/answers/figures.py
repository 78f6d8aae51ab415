"""The figures of one option on one pump, in the central case."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.answers.results import CostPerYear, EnergyPerYear, FlowRecord, OptionAnswer, StageAnswer
from filtration.answers.yearly import cost_of, energy_of, heat_w, running_of
from filtration.base.arrays import Array
from filtration.base.cases import side_by_side, taken
from filtration.base.defaults import model
from filtration.base.draws import central_factors
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry
from filtration.loading.case import Case, central_case, load_of
from filtration.loading.runs import Tables
from filtration.loading.stage import Resistance
from filtration.loading.table import FINE, Deposit
from filtration.loading.tabulate import clean_and_due_of, groups_of
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.physics.energy import warming_k_day
from filtration.physics.optics import see_through_m
from filtration.physics.return_line import return_of
from filtration.physics.tub import LITRE_M3, hours_to_clear, see_through_at_end_m
from filtration.service.care import care_of
from filtration.service.events import Total, events_of, total_of
from filtration.service.flow_over_runs import RunFlow, run_flows
from filtration.service.lives import Life, best_life
from filtration.study.values import Limit, Study

L_PER_H = 3.6e6
RECORD_DAYS = 60.0
_RECORD_RUNS, _RECORD_POINTS, _FEWEST_POINTS, _ALL_POINTS = 60, 16, 3, 240


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FirstRun:
    """The first run of an option of the central case, to when it is due.

    Parameters
    ----------
    days, due_m3_s : float
        Its length [day], and the flow left then [m3/s].
    flow_alone_days : float
        How long it would be but for time limits, the discard age aside [day].
    limit : Limit
        What ends it.
    when_due : tuple of Deposit
        What its stages hold then, (1,) each.
    """

    days: float
    due_m3_s: float
    flow_alone_days: float
    limit: Limit
    when_due: tuple[Deposit, ...]

    @property
    def cakes_kg(self) -> list[Array]:
        """Cake on each stage when due (1,) [kg]."""
        return [held.cake_kg for held in self.when_due]

    @property
    def held_g(self) -> list[float]:
        """Deposit of one element of each stage when due [g]."""
        return [1e3 * float(held.layer_kg[0] + held.cake_kg[0]) for held in self.when_due]


def first_run_of(tables: Tables) -> list[FirstRun]:
    """Return the first run of each case of some tables."""
    days = tables.first_days()
    held = tables.deposits(tables.new, tables.new, days, tables.all)
    limits = tables.limit(days, held)
    by_flow = [limit in ("flow", "pressure", "clarity") for limit in limits]
    flow = np.where(by_flow, tables.due_m3_s, tables.flow_m3_s(held))  # which falls steeply then
    return [
        FirstRun(
            days=float(days[at]),
            due_m3_s=float(flow[at]),
            flow_alone_days=float(days[at]),
            limit=limits[at],
            when_due=tuple(Deposit(*(part[at : at + 1] for part in each)) for each in held),
        )
        for at in range(len(days))
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """One option whose pump drives the loop, followed from new in the central case; every array has one case.

    Parameters
    ----------
    study, entry, case : Study, Entry, Case
        The study, the option on its pump, and all of it as arrays.
    clean_m3_s, wanted_m3_s : float
        Clean flow, and that wanted at least, by the owner or by the rise in pressure allowed [m3/s].
    first, life : FirstRun or None, Life or None
        Its first run and its life; None where the clean filter lacks the flow or the option cannot work.
    """

    study: Study
    entry: Entry
    case: Case
    clean_m3_s: float
    wanted_m3_s: float
    first: FirstRun | None
    life: Life | None

    @property
    def clear(self) -> bool:
        """Whether the clean filter is clear enough."""
        return self.seen_m(self.clean_m3_s, self.case.new) >= self.study.needs.see_through_m

    def seen_m(self, flow_m3_s: float, cakes: Sequence[Array], *, just_before: bool = False) -> float:
        """View at the end of the water's life, just after a session or just before one [m]."""
        return float(self.case.seen_m(np.array([flow_m3_s]), cakes, just_before=just_before)[0])

    def removal_per_day(self, flow_m3_s: float, cakes: Sequence[Array]) -> Array:
        """Rate (c,) at which each size class is taken out [1/day]."""
        return self.case.removal_per_day(np.array([flow_m3_s]), cakes)[:, 0].astype(np.float64)

    @property
    def hours_to_clear(self) -> float | None:
        """Hours after a session until the clean filter has cleared the water; None where it takes nothing out."""
        return hours_to_clear(self.study.tub, self.removal_per_day(self.clean_m3_s, self.case.new), self.case.still)


def follow(study: Study, entries: Sequence[Entry]) -> list[Followed]:
    """Follow options of one study whose pump drives the loop from new in the central case, in order."""
    return follow_all([(study, entries)])[0]


def follow_all(studies: Sequence[tuple[Study, Sequence[Entry]]]) -> list[list[Followed]]:
    """Follow options from new in the central case, those of one kind side by side.

    Parameters
    ----------
    studies : sequence of (Study, sequence of Entry)
        Studies, and options of each whose pump drives the loop.

    Returns
    -------
    list of list of Followed
        Study by study, in order.
    """
    rows = [(study, entry) for study, entries in studies for entry in entries]
    loads = [load for study, entries in studies for load in [load_of(study)] * len(entries)]
    cases = [central_case(study, entry, load) for (study, entry), load in zip(rows, loads, strict=True)]
    clean, due = clean_and_due_of(cases)
    limited = [place for place, (study, _) in enumerate(rows) if _has_time_limits(study)]
    timeless = [central_case(without_time_limits(rows[place][0]), rows[place][1], loads[place]) for place in limited]
    flows = np.concatenate([clean, clean[limited]]), np.concatenate([due, due[limited]])
    found: dict[int, tuple[FirstRun, Life]] = {}
    for places, both in groups_of([*cases, *timeless], FINE, flows):
        of, days = np.array(places), both.first_days().tolist()
        alone = {limited[place - len(rows)]: run for place, run in zip(places, days, strict=True) if place >= len(rows)}
        kept, tables = of[of < len(rows)].tolist(), both.of(np.flatnonzero(of < len(rows)))
        cares = [care_of(rows[place][0], rows[place][1].option, central_factors()) for place in kept]
        until = [max(rows[place][0].prices.horizon_days, rows[place][0].needs.discard_days) for place in kept]
        life = best_life(tables, side_by_side(cares, [1] * len(cares)), np.array(until))
        for at, (place, first) in enumerate(zip(kept, first_run_of(tables), strict=True)):
            flow_alone = alone.get(place, first.days) if first.limit == "time limit" else first.days
            found[place] = replace(first, flow_alone_days=flow_alone), taken(life, np.array([at]), len(kept))
    followed = []
    for place, ((study, entry), case) in enumerate(zip(rows, cases, strict=True)):
        run = found.get(place)
        followed.append(
            Followed(
                study=study,
                entry=entry,
                case=case,
                clean_m3_s=float(clean[place]),
                wanted_m3_s=float(due[place]),
                first=run[0] if run else None,
                life=run[1] if run else None,
            )
        )
    each = iter(followed)
    return [[next(each) for _ in entries] for _, entries in studies]


def _has_time_limits(study: Study) -> bool:
    return min(study.needs.rinse_limit_days, study.needs.replace_limit_days) < float("inf")


def without_time_limits(study: Study) -> Study:
    """Return a study whose owner sets no longest time between services."""
    never = float("inf")
    return replace(study, needs=replace(study.needs, rinse_limit_days=never, replace_limit_days=never))


def entry_id(study: Study, entry: Entry) -> str:
    """Return the identifier of an option on a pump, with the pump's name where several are compared."""
    return study.id_of(entry.option, entry.pump)


def _reasons(of: Followed, shortest_days: float | None, seen: float) -> tuple[Remark, ...]:
    """Return why an option does not meet the needs."""
    study, needs = of.study, of.study.needs
    reasons = list(of.entry.faults)
    have, want = of.clean_m3_s * L_PER_H, of.wanted_m3_s * L_PER_H
    if not have > want:
        litres = study.tub.volume_m3 / LITRE_M3
        figures = {"have": have, "want": want, "have_turnovers": have / litres, "want_turnovers": want / litres}
        reasons.append(Remark(kind="flow", figures=figures))
    if seen < needs.see_through_m:
        haze_alone = float(see_through_m(study.tub.haze_at_end_per_m))
        kind = "haze" if haze_alone < needs.see_through_m else "clarity"
        figures = {"have": seen, "want": needs.see_through_m, "haze_alone": haze_alone}
        reasons.append(Remark(kind=kind, figures=figures))
    if of.first is not None and of.first.days < model("service.least_days"):
        reasons.append(Remark(kind="spent within a day", figures={"hours": 24.0 * of.first.days}))
    stated = needs.shortest_run_days
    if stated is not None and shortest_days is not None and shortest_days < stated:
        reasons.append(Remark(kind="short run", figures={"have": shortest_days, "want": stated}))
    return tuple(reasons)


def answer_of(of: Followed) -> OptionAnswer:
    """Return the figures of an option, the part of the cost that the choice changes left open."""
    return answers_of([of])[0]


def answers_of(followed: Sequence[Followed]) -> list[OptionAnswer]:
    """Return the figures of options, in order; see ``answer_of``."""
    records = iter(_records([of.life for of in followed if of.life is not None]))
    return [_answer_of(of, next(records) if of.life is not None else FlowRecord()) for of in followed]


def _answer_of(of: Followed, record: FlowRecord) -> OptionAnswer:
    clean = _tube_kpa(of, of.case.clean, of.clean_m3_s)
    told = replace(
        judged(of),
        hours_to_clear_after_session=of.hours_to_clear,
        clean_tube_kpa=clean,
        due_tube_kpa=clean,
        bare_tube_kpa=_tube_kpa(of, (), float(of.case.loop.bare_m3_s[0])),
    )
    if of.life is None or of.first is None:
        return told
    running = running_of(of.study, told.energy_kwh_per_year)
    events = events_of(of.study.prices, of.entry.option, of.entry.pump, of.life.services, running)
    total = total_of(events, of.study.prices)
    due = _tube_kpa(of, of.life.tables.resistances(of.first.when_due), of.first.due_m3_s)
    return replace(told, due_tube_kpa=due, events=events, horizon_total=total, flow_record=record)


def judged(of: Followed) -> OptionAnswer:
    """Return what decides on an option, and what a year of it takes.

    The same as ``answer_of`` without dated events, their total, the record of the flow, the hours to clear and tubes.
    """
    stopped = _stopped(of)
    if of.life is None or of.first is None:
        return stopped
    study, entry, first, rates = of.study, of.entry, of.first, of.life.rates
    shortest, seen = float(rates.shortest_days[0]), stopped.see_through_new_m
    reasons, clear = _reasons(of, shortest, seen), seen >= study.needs.see_through_m
    stages = tuple(_stage(of.life, entry, stage, held) for stage, held in enumerate(first.held_g))
    heat = heat_w(study, entry, 0.5 * (of.clean_m3_s + first.due_m3_s))
    energy = energy_of(study, entry, heat)
    return replace(
        stopped,
        meets_needs=not reasons,
        reasons=reasons,
        days_to_first_service=first.days if clear else 0.0,
        flow_alone_days=first.flow_alone_days if clear else 0.0,
        governed_by=first.limit if clear else "clarity",
        due_flow_l_per_h=first.due_m3_s * L_PER_H,
        due_filter_loss_kpa=1e-3 * float(of.case.loop.left_pa(np.array([first.due_m3_s]))[0]),
        deposit_when_due_g=sum(first.held_g) * entry.option.housings_in_parallel,
        see_through_worst_m=of.seen_m(first.due_m3_s, first.cakes_kg),
        warming_k_per_day=warming_k_day(heat, study.tub.volume_m3, study.tub.water),
        services_per_year=float(rates.services_per_day[0]) * DAYS_PER_YEAR,
        shortest_run_days=shortest,
        stages=stages,
        cost_per_year=cost_of(study, entry, stages, energy),
        energy_kwh_per_year=energy,
    )


def _tube_kpa(of: Followed, stages: Sequence[Resistance], flow_m3_s: float) -> float | None:
    """Return what a tube before the housings shows: the losses of the stages in them, if any, and the way back."""
    study, option = of.study, of.entry.option
    if study.plumbing is None:
        return None
    losses = of.case.losses_pa(stages, np.array([flow_m3_s])) if stages else []
    housed_pa = sum(float(loss[0]) for loss, housed in zip(losses, option.housed, strict=False) if housed)
    back = return_of(study.plumbing, study.tub.water, option.housings_in_series)
    return 1e-3 * (housed_pa + float(back.pressure_pa(flow_m3_s)))


def _stopped(of: Followed) -> OptionAnswer:
    """Return the figures of an option that is due before it starts."""
    tub, none = of.study.tub, of.case.new
    flow_l_per_h = of.clean_m3_s * L_PER_H
    loss_kpa = 1e-3 * float(of.case.loop.left_pa(np.array([of.clean_m3_s]))[0])
    after = of.seen_m(of.clean_m3_s, none)
    return replace(
        unmoved(of.study, of.entry),
        reasons=_reasons(of, None, after),
        clean_flow_l_per_h=flow_l_per_h,
        clean_turnovers_per_hour=flow_l_per_h * LITRE_M3 / tub.volume_m3,
        clean_filter_loss_kpa=loss_kpa,
        governed_by="full" if "does not fit" in {fault.kind for fault in of.entry.faults} else "flow",
        due_flow_l_per_h=flow_l_per_h,
        due_filter_loss_kpa=loss_kpa,
        see_through_clean_m=of.seen_m(of.clean_m3_s, none, just_before=True),
        see_through_new_m=after,
        see_through_worst_m=after,
    )


def unmoved(study: Study, entry: Entry) -> OptionAnswer:
    """Return the figures of an option whose pump moves no water.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        The option.

    Returns
    -------
    OptionAnswer
        Its figures, most of them none.
    """
    option, nothing = entry.option, np.zeros_like(study.tub.session_attenuation_per_m)
    sizes = [element.rating_m for element in option.stages]
    after = float(see_through_at_end_m(study.tub, nothing, just_before=False))
    return OptionAnswer(
        id=entry_id(study, entry),
        name=option.name,
        pump=entry.pump.name,
        kind=option.stages[-1].kind if len(option.stages) == 1 else "train",
        rating_um=round(1e6 * min(sizes), 6),
        housings_in_parallel=option.housings_in_parallel,
        housings=option.housings,
        meets_needs=False,
        reasons=entry.faults,
        clean_flow_l_per_h=0.0,
        clean_turnovers_per_hour=0.0,
        clean_filter_loss_kpa=None,
        days_to_first_service=0.0,
        flow_alone_days=0.0,
        governed_by="flow",
        due_flow_l_per_h=0.0,
        due_filter_loss_kpa=None,
        clean_tube_kpa=None,
        due_tube_kpa=None,
        bare_tube_kpa=None,
        deposit_when_due_g=0.0,
        see_through_clean_m=float(see_through_at_end_m(study.tub, nothing, just_before=True)),
        see_through_new_m=after,
        see_through_worst_m=after,
        hours_to_clear_after_session=None,
        warming_k_per_day=None,
        services_per_year=None,
        shortest_run_days=None,
        stages=tuple(
            StageAnswer(
                element=element.name,
                service="rinse" if element.rinseable else "replace",
                rinses_before_replacing=None,
                life_days=None,
                elements_per_year=None,
                rinses_per_year=None,
                soaks_per_year=None,
                deposit_when_due_g=0.0,
            )
            for element in option.stages
        ),
        cost_per_year=CostPerYear(),
        choice_cost_per_year=None,
        energy_kwh_per_year=EnergyPerYear(),
        events=(),
        horizon_total=Total(undiscounted=None, discounted=None),
        flow_record=FlowRecord(),
        us=study.us,
    )


def _stage(life: Life, entry: Entry, stage: int, deposit_g: float) -> StageAnswer:
    element, count, rates = entry.option.stages[stage], entry.option.housings_in_parallel, life.rates
    replaced, rinsed, soaked = (
        float(rate[stage, 0]) for rate in (rates.replaced_per_day, rates.rinsed_per_day, rates.soaked_per_day)
    )
    return StageAnswer(
        element=element.name,
        service="rinse" if element.rinseable else "replace",
        rinses_before_replacing=round(rinsed / replaced) if replaced > 0.0 else None,
        life_days=1.0 / replaced if replaced > 0.0 else None,
        elements_per_year=count * replaced * DAYS_PER_YEAR,
        rinses_per_year=count * rinsed * DAYS_PER_YEAR,
        soaks_per_year=count * soaked * DAYS_PER_YEAR,
        deposit_when_due_g=deposit_g,
    )


def _records(lives: Sequence[Life]) -> list[FlowRecord]:
    """Return the flow over the first days, run by run; a life that ends sooner begins again."""
    ends = [life.services.day[life.services.counted[:, 0], 0] for life in lives]
    numbers = [int(np.searchsorted(each, RECORD_DAYS)) + 1 for each in ends]
    points = [max(_FEWEST_POINTS, min(_RECORD_POINTS, _ALL_POINTS // number)) for number in numbers]
    return [_record(runs) for runs in run_flows(lives, [min(each, _RECORD_RUNS) for each in numbers], points)]


def _record(runs: Sequence[RunFlow]) -> FlowRecord:
    days: list[float] = []
    flow: list[float | None] = []
    for life_before, run in ((whole * float(runs[-1].day[-1]), run) for whole in range(_RECORD_RUNS) for run in runs):
        if life_before + run.day[0] >= RECORD_DAYS or flow.count(None) == _RECORD_RUNS:
            break
        days += (life_before + run.day[[*range(len(run.day)), -1]]).tolist()
        flow += [*(L_PER_H * run.flow_m3_s).tolist(), None]
    return FlowRecord(day=tuple(days), flow_l_per_h=tuple(flow))
