"""The figures of one option on one pump."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.answers.results import CostPerYear, EnergyPerYear, FlowRecord, OptionAnswer, StageAnswer
from filtration.answers.yearly import cost_of, energy_of, heat_w, running_of
from filtration.base.arrays import Array, Counts, Rows
from filtration.base.defaults import model
from filtration.base.remarks import Remark
from filtration.loading.assembly import Entry
from filtration.loading.lifetime import (
    Care,
    Rates,
    Services,
    best_most_runs,
    first_runs,
    follow,
    rates_of,
    shortest_run_days,
)
from filtration.loading.run import Runner, Runs, clean_state
from filtration.loading.site import State, left_pa, losses_pa
from filtration.physics.cost import DAYS_PER_YEAR
from filtration.physics.energy import warming_k_day
from filtration.physics.optics import see_through_m
from filtration.physics.return_line import return_of
from filtration.physics.tub import LITRE_M3, hours_to_clear, see_through_at_end_m
from filtration.service.events import Total, events_of, total_of
from filtration.study.values import Element, Limit, Study, rinse_price, soak_price

L_PER_H = 3.6e6
_TRAIN_AGES = 2.0
_RECORD_DAYS, _RECORD_RUNS, _RECORD_POINTS = 60.0, 8, 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Schedule:
    """Services of the options whose clean filter has the flow and fits; r of them.

    Parameters
    ----------
    rows : (r,) array of int
        Which options of the runner.
    first : Runs
        Their first runs.
    care, most_runs : Care, (r, s) array of int
        How they are looked after, and after how many runs a stage that can be rinsed is replaced instead.
    until_days : float
        How long they are followed [day].
    services, rates : Services, Rates
        What is done to them, and its long-run averages.
    """

    runner: Runner
    rows: Rows
    first: Runs
    care: Care
    most_runs: Counts
    until_days: float
    services: Services
    rates: Rates


def entry_id(study: Study, entry: Entry) -> str:
    """Return the identifier of an option on a pump.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        Option and pump.

    Returns
    -------
    str
        The option's, with the pump's name where several are compared.
    """
    return study.id_of(entry.option, entry.pump)


def _care(entries: Sequence[Entry], stages: int, study: Study) -> Care:
    """Lay the care of several options side by side."""
    prices = study.prices

    def each(value: Callable[[Element], float]) -> Array:
        rows = [[value(element) for element in entry.option.stages] for entry in entries]
        return np.array([row + [0.0] * (stages - len(row)) for row in rows])

    housings = np.array([[float(entry.option.housings_in_parallel)] for entry in entries])
    return Care(
        rinse_recovery=each(lambda element: element.rinse_recovery),
        soak_recovery=each(lambda element: element.soak_recovery),
        soak_every=each(lambda element: element.soak_every_rinses).astype(np.int64),
        rinse_cost=housings * each(lambda element: rinse_price(element, prices)),
        soak_cost=housings * each(lambda element: soak_price(element, prices)),
        replace_cost=housings * each(lambda element: element.price + prices.disposal_each),
        replace_share=model("service.replace_share"),
    )


def schedule_of(study: Study, entries: Sequence[Entry], runner: Runner) -> Schedule | None:
    """Schedule every option whose clean filter has the flow and fits.

    Parameters
    ----------
    study : Study
        The study.
    entries : sequence of Entry
        Options whose pump drives the loop.
    runner : Runner
        The same, ready to run.

    Returns
    -------
    Schedule or None
        None where there is no such option.
    """
    fits = np.array([not entry.faults for entry in entries])
    rows = np.flatnonzero((runner.clean.flow_m3_s > runner.clean.due_flow_m3_s) & fits)
    if not rows.size:
        return None
    care = _care(entries, runner.site.trains.present.shape[1], study)
    first = first_runs(runner, rows)
    shortest = shortest_run_days(runner, first.days)
    most = best_most_runs(runner, care, rows, shortest, _TRAIN_AGES * study.needs.discard_days)
    until_days = max(study.prices.horizon_days, study.needs.discard_days)
    services = follow(runner, care, rows, most, shortest, until_days)
    return Schedule(
        runner=runner,
        rows=rows,
        first=first,
        care=care,
        most_runs=most,
        until_days=until_days,
        services=services,
        rates=rates_of(services, care, rows),
    )


def _reasons(study: Study, entry: Entry, runner: Runner, row: int, shortest_days: float | None) -> tuple[Remark, ...]:
    """Return why an option does not meet the needs."""
    needs, clean = study.needs, runner.clean
    reasons = list(entry.faults)
    have, want = float(clean.flow_m3_s[row]) * L_PER_H, float(clean.due_flow_m3_s[row]) * L_PER_H
    if not have > want:
        litres = study.tub.volume_m3 / LITRE_M3
        figures = {"have": have, "want": want, "have_turnovers": have / litres, "want_turnovers": want / litres}
        reasons.append(Remark(kind="flow", figures=figures))
    seen = float(clean.after_m[row])
    if seen < needs.see_through_m:
        haze_alone = float(see_through_m(study.tub.haze_at_end_per_m))
        kind = "haze" if haze_alone < needs.see_through_m else "clarity"
        figures = {"have": seen, "want": needs.see_through_m, "haze_alone": haze_alone}
        reasons.append(Remark(kind=kind, figures=figures))
    stated = needs.shortest_run_days
    if stated is not None and shortest_days is not None and shortest_days < stated:
        reasons.append(Remark(kind="short run", figures={"have": shortest_days, "want": stated}))
    return tuple(reasons)


def answer_of(study: Study, entry: Entry, runner: Runner, row: int, schedule: Schedule | None) -> OptionAnswer:
    """Return the figures of an option whose pump drives the loop.

    Parameters
    ----------
    study : Study
        The study.
    entry : Entry
        The option.
    runner : Runner
        It and others, ready to run.
    row : int
        Its place there.
    schedule : Schedule or None
        What became of those that can be scheduled.

    Returns
    -------
    OptionAnswer
        Its figures, the part of the cost that the choice changes left open.
    """
    tub, clean = study.tub, runner.clean
    flow = float(clean.flow_m3_s[row])
    place = int(np.flatnonzero(schedule.rows == row)[0]) if schedule is not None and row in schedule.rows else None
    stopped = _stopped(study, entry, runner, row)
    if schedule is None or place is None:
        return stopped
    rates, first = schedule.rates, schedule.first
    shortest = float(rates.shortest_days[place])
    reasons = _reasons(study, entry, runner, row, shortest)
    clear = bool(runner.clarity_counts[row])
    at = np.array([row])
    due = first.when_due
    due_flows = runner.flow_of(schedule.rows, due)
    due_flow = float(due_flows[place])
    worst = float(runner.see_through_after_session_m(schedule.rows, due, due_flows)[place])
    limit: Limit = first.limit[place].item()
    count = entry.option.housings_in_parallel
    held_g = 1e3 * (due.layer_kg + due.cake_kg)[place]
    stages = tuple(
        _stage(schedule, entry, place, stage, float(held_g[stage])) for stage in range(len(entry.option.stages))
    )
    heat = heat_w(study, entry, 0.5 * (flow + due_flow))
    energy = energy_of(study, entry, heat)
    running = running_of(study, energy)
    events = events_of(study, entry.option, entry.pump, schedule.services, place, running)
    return replace(
        stopped,
        meets_needs=not reasons,
        reasons=reasons,
        days_to_first_service=float(first.days[place]) if clear else 0.0,
        governed_by=limit if clear else "clarity",
        due_flow_l_per_h=due_flow * L_PER_H,
        due_filter_loss_kpa=1e-3 * float(left_pa(runner.site, at, np.array([due_flow]))[0]),
        due_tube_kpa=_tube_kpa(study, entry, runner, row, due.of(np.array([place])), due_flow),
        deposit_when_due_g=float(held_g.sum()) * count,
        see_through_worst_m=worst,
        warming_k_per_day=warming_k_day(heat, tub.volume_m3, tub.water),
        services_per_year=float(rates.services_per_day[place]) * DAYS_PER_YEAR,
        shortest_run_days=shortest,
        stages=stages,
        cost_per_year=cost_of(study, entry, stages, energy),
        energy_kwh_per_year=energy,
        events=events,
        horizon_total=total_of(events, study.prices),
        flow_record=_record(schedule, place),
    )


def _tube_kpa(
    study: Study, entry: Entry, runner: Runner, row: int, state: State | None, flow_m3_s: float
) -> float | None:
    """Return what a tube before the housings shows: the losses in them in a state (1, s) or empty, and the way back."""
    if study.plumbing is None:
        return None
    housed_pa = 0.0
    if state is not None:
        losses = losses_pa(runner.site, np.array([row]), state, np.array([flow_m3_s]))[0]
        stages = zip(losses, entry.option.housed, strict=False)  # an option may have fewer than there is room for
        housed_pa = sum(float(loss) for loss, housed in stages if housed)
    back = return_of(study.plumbing, study.tub.water, entry.option.housings_in_series)
    return 1e-3 * (housed_pa + float(back.pressure_pa(flow_m3_s)))


def _stopped(study: Study, entry: Entry, runner: Runner, row: int) -> OptionAnswer:
    """Return the figures of an option that is due before it starts."""
    tub, clean = study.tub, runner.clean
    flow_l_per_h = float(clean.flow_m3_s[row]) * L_PER_H
    removal = clean.removal_per_day[row]
    loss_kpa = 1e-3 * float(clean.loss_pa[row])
    tube_kpa = _tube_kpa(
        study, entry, runner, row, clean_state(runner.site).of(np.array([row])), float(clean.flow_m3_s[row])
    )
    bare_m3_s = float(runner.site.largest_flow_m3_s[row])
    faults = {fault.kind for fault in entry.faults}
    return replace(
        unmoved(study, entry),
        reasons=_reasons(study, entry, runner, row, None),
        clean_flow_l_per_h=flow_l_per_h,
        clean_turnovers_per_hour=flow_l_per_h * LITRE_M3 / tub.volume_m3,
        clean_filter_loss_kpa=loss_kpa,
        governed_by="full" if "does not fit" in faults else "flow",
        due_flow_l_per_h=flow_l_per_h,
        due_filter_loss_kpa=loss_kpa,
        clean_tube_kpa=tube_kpa,
        due_tube_kpa=tube_kpa,
        bare_tube_kpa=_tube_kpa(study, entry, runner, row, None, bare_m3_s),
        see_through_clean_m=float(clean.before_m[row]),
        see_through_new_m=float(clean.after_m[row]),
        see_through_worst_m=float(clean.after_m[row]),
        hours_to_clear_after_session=hours_to_clear(tub, removal),
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
        governed_by="flow",
        due_flow_l_per_h=0.0,
        due_filter_loss_kpa=None,
        clean_tube_kpa=None,
        due_tube_kpa=None,
        bare_tube_kpa=None,
        deposit_when_due_g=0.0,
        see_through_clean_m=float(see_through_at_end_m(study.tub, nothing, just_before=True)),
        see_through_new_m=float(see_through_at_end_m(study.tub, nothing, just_before=False)),
        see_through_worst_m=float(see_through_at_end_m(study.tub, nothing, just_before=False)),
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
    )


def _stage(schedule: Schedule, entry: Entry, place: int, stage: int, deposit_g: float) -> StageAnswer:
    element, count = entry.option.stages[stage], entry.option.housings_in_parallel
    rates = schedule.rates
    replaced, rinsed = float(rates.replaced_per_day[place, stage]), float(rates.rinsed_per_day[place, stage])
    return StageAnswer(
        element=element.name,
        service="rinse" if element.rinseable else "replace",
        rinses_before_replacing=round(rinsed / replaced) if replaced > 0.0 else None,
        life_days=1.0 / replaced if replaced > 0.0 else None,
        elements_per_year=count * replaced * DAYS_PER_YEAR,
        rinses_per_year=count * rinsed * DAYS_PER_YEAR,
        soaks_per_year=count * float(rates.soaked_per_day[place, stage]) * DAYS_PER_YEAR,
        deposit_when_due_g=deposit_g,
    )


def _record(schedule: Schedule, place: int) -> FlowRecord:
    """Return the flow over the days of the first runs."""
    services, runner = schedule.services, schedule.runner
    row = schedule.rows[place]
    days: list[float] = []
    flow: list[float | None] = []
    start = 0.0
    for index in range(min(_RECORD_RUNS, len(services.days))):
        length = float(services.days[index, place])
        if not services.counted[index, place] or start >= _RECORD_DAYS:
            break
        at = np.linspace(0.0, length, _RECORD_POINTS)
        rows = np.full(len(at), row)
        state = runner.state_after(rows, services.used_days[index, place], services.extra_cake_kg[index, place], at)
        days += [*(start + at).tolist(), start + length]
        flow += [*(L_PER_H * runner.flow_of(rows, state)).tolist(), None]
        start += length
    return FlowRecord(day=tuple(days), flow_l_per_h=tuple(flow))
