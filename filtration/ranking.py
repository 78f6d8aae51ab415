"""Every option on every pump: figures, reasons, order."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from math import isfinite

import numpy as np
import numpy.typing as npt

from filtration.answer import (
    Comparison,
    CostPerYear,
    EnergyPerYear,
    FlowRecord,
    LoopCurve,
    OptionAnswer,
    Remark,
    StageAnswer,
    WarmthAnswer,
)
from filtration.assembly import Entry, entry_of, first_days_in, runner_of
from filtration.capture import caught_inside, strained
from filtration.cost import DAYS_PER_YEAR, capital_recovery
from filtration.energy import (
    HOURS_PER_YEAR,
    cooling_kwh_year,
    dew_point_c,
    fill_cooling_kwh,
    hose_conductance_w_m_k,
    hose_surface_c,
    pump_heat_w,
    warming_k_day,
)
from filtration.errors import NoAnswerError
from filtration.history import left_pa
from filtration.lifetime import (
    Care,
    Rates,
    Services,
    best_most_runs,
    first_runs,
    follow,
    rates_of,
    shortest_run_days,
)
from filtration.loop import Loop
from filtration.plan import Running, Total, events_of, rinse_price, soak_price, total_of
from filtration.pump import head_curve
from filtration.run import Limit, Runner, Runs
from filtration.study import Element, Study
from filtration.tub import LITRE_M3, hours_to_clear, see_through_at_end_m, settling_classes
from filtration.water import GRAVITY_M_S2

Array = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]
L_PER_H = 3.6e6
_TRAIN_AGES = 2.0
_WARM_C = 20.0
_RECORD_DAYS, _RECORD_RUNS, _RECORD_POINTS = 60.0, 8, 16
_CURVE_POINTS = 81
_COARSE_M, _MOST_FINE_CAUGHT = 20e-6, 0.36  # J. Water Health 10(1):31: 5 um particles, ratings of 20 um and coarser


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Worked:
    """Options that flow well enough to be scheduled; r of them."""

    runner: Runner
    rows: npt.NDArray[np.intp]
    first: Runs
    services: Services
    rates: Rates


def compare(study: Study, *, draws: int = 0, progress: Progress | None = None) -> Comparison:
    """Rank every option on every pump.

    Parameters
    ----------
    study : Study
        The study.
    draws : int, optional
        Draws of what is not known exactly; only 0, the central case, for now.
    progress : callable, optional
        Called with the share done [-] and what is being done.

    Returns
    -------
    Comparison
        Options that meet the needs first, by total cost a year and name; then the rest by number of reasons and cost.

    Raises
    ------
    InputError
        If a maker's figures are impossible.
    ValueError
        If ``draws`` is not 0.
    """
    if draws != 0:
        msg = f"draws must be 0, the central case, got {draws}"
        raise ValueError(msg)
    tell = progress or (lambda _share, _what: None)
    tell(0.0, "putting options and pumps together")
    entries = [entry_of(study, option, pump) for pump in study.pumps for option in study.options]
    driven = [entry for entry in entries if entry.loop is not None]
    answers: list[OptionAnswer] = []
    warmth = worked = None
    if driven:
        tell(0.1, "loading the elements")
        runner = runner_of(study, driven)
        tell(0.5, "stringing runs together")
        worked = _work(study, driven, runner)
        tell(0.8, "adding up")
        answers = [_answer(study, entry, runner, row, worked) for row, entry in enumerate(driven)]
    answers += [_unmoved(study, entry) for entry in entries if entry.loop is None]
    answers = _ordered(_with_choice_cost(answers))
    if driven and answers[0].days_to_first_service:
        tell(0.9, "looking at warmer water")
        warmth = _warmth(study, driven, answers[0])
    tell(1.0, "done")
    uses, life = study.tub.uses_per_day, study.tub.water_life_days
    rule = study.water_rule_days
    wanted = study.needs.flow_m3_s
    return Comparison(
        study=study,
        litres_per_dip=study.tub.volume_m3 / LITRE_M3 / (uses * life) if uses > 0.0 else None,
        water_change_days=life,
        water_change_rule_days=rule if isfinite(rule) else None,
        water_changes_per_year=_changes_per_year(study),
        wanted_flow_l_per_h=wanted * L_PER_H if wanted is not None else None,
        options=tuple(answers),
        loops=_loop_curves(driven),
        warmth=warmth,
        notes=_notes(study, entries, worked, answers),
    )


def _changes_per_year(study: Study) -> float:
    return 0.0 if study.water_never_changed else DAYS_PER_YEAR / study.tub.water_life_days


def _id(study: Study, entry: Entry) -> str:
    return f"{entry.option.id}@{entry.pump.name}" if len(study.pumps) > 1 else entry.option.id


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
    )


def _work(study: Study, entries: Sequence[Entry], runner: Runner) -> _Worked | None:
    """Schedule every option whose clean filter has the flow and fits."""
    fits = np.array([not entry.faults for entry in entries])
    rows = np.flatnonzero((runner.clean.flow_m3_s > runner.clean.due_flow_m3_s) & fits)
    if not rows.size:
        return None
    care = _care(entries, runner.site.trains.present.shape[1], study)
    first = first_runs(runner, rows)
    shortest = shortest_run_days(runner, first.days)
    most = best_most_runs(runner, care, rows, shortest, _TRAIN_AGES * study.needs.discard_days)
    services = follow(runner, care, rows, most, max(study.prices.horizon_days, study.needs.discard_days))
    return _Worked(runner=runner, rows=rows, first=first, services=services, rates=rates_of(services, care, rows))


def _reasons(study: Study, entry: Entry, runner: Runner, row: int, shortest_days: float | None) -> tuple[Remark, ...]:
    """Return why an option does not meet the needs."""
    needs, clean = study.needs, runner.clean
    reasons = list(entry.faults)
    have, want = float(clean.flow_m3_s[row]) * L_PER_H, float(clean.due_flow_m3_s[row]) * L_PER_H
    if not have > want:
        per_hour = study.tub.volume_m3 / LITRE_M3
        figures = {"have": have, "want": want, "have_turnovers": have / per_hour, "want_turnovers": want / per_hour}
        reasons.append(Remark(kind="flow", figures=figures))
    seen = float(clean.after_m[row])
    if seen < needs.see_through_m:
        reasons.append(Remark(kind="clarity", figures={"have": seen, "want": needs.see_through_m}))
    stated = needs.shortest_run_days
    if stated is not None and shortest_days is not None and shortest_days < stated:
        reasons.append(Remark(kind="short run", figures={"have": shortest_days, "want": stated}))
    return tuple(reasons)


def _answer(study: Study, entry: Entry, runner: Runner, row: int, worked: _Worked | None) -> OptionAnswer:
    """Return the figures of an option whose pump drives the loop."""
    tub, clean = study.tub, runner.clean
    flow = float(clean.flow_m3_s[row])
    place = int(np.flatnonzero(worked.rows == row)[0]) if worked is not None and row in worked.rows else None
    stopped = _stopped(study, entry, runner, row)
    if worked is None or place is None:
        return stopped
    rates, first = worked.rates, worked.first
    shortest = float(rates.shortest_days[place])
    reasons = _reasons(study, entry, runner, row, shortest)
    clear = bool(runner.clarity_counts[row])
    at = np.array([row])
    due = first.when_due
    due_flow = float(runner.flow_of(worked.rows, due)[place])
    worst = float(runner.see_through_after_session_m(worked.rows, due, runner.flow_of(worked.rows, due))[place])
    limit: Limit = first.limit[place]
    count = entry.option.housings_in_parallel
    held_g = 1e3 * (due.layer_kg + due.cake_kg)[place]
    stages = tuple(_stage(worked, entry, place, stage, float(held_g[stage])) for stage in range(len(entry.option.stages)))
    heat_w = _heat_w(study, entry, 0.5 * (flow + due_flow))
    energy = EnergyPerYear(
        pumping=entry.pump.power_w * entry.pump.share_of_day * HOURS_PER_YEAR / 1e3,
        cooling=cooling_kwh_year(heat_w, study.cooling),
        water_changes=_changes_per_year(study) * _fill_kwh(study),
    )
    cost = _cost(study, entry, stages, energy)
    running = Running(
        electricity_kwh_per_year=(energy.pumping or 0.0) + (energy.cooling or 0.0),
        water_change_days=float("inf") if study.water_never_changed else tub.water_life_days,
        water_change_price=tub.volume_m3 * study.prices.water_per_m3
        + _fill_kwh(study) * study.prices.electricity_per_kwh,
    )
    events = events_of(study, entry.option, entry.pump, worked.services, place, running)
    return replace(
        stopped,
        meets_needs=not reasons,
        reasons=reasons,
        days_to_first_service=float(first.days[place]) if clear else 0.0,
        governed_by=limit if clear else "clarity",
        due_flow_l_per_h=due_flow * L_PER_H,
        due_filter_loss_kpa=1e-3 * float(left_pa(runner.site, at, np.array([due_flow]))[0]),
        deposit_when_due_g=float(held_g.sum()) * count,
        see_through_worst_m=worst,
        warming_k_per_day=warming_k_day(heat_w, tub.volume_m3, tub.water),
        services_per_year=float(rates.services_per_day[place]) * DAYS_PER_YEAR,
        shortest_run_days=shortest,
        stages=stages,
        cost_per_year=cost,
        energy_kwh_per_year=energy,
        events=events,
        horizon_total=total_of(events, study.prices),
        flow_record=_record(worked, place),
    )


def _stopped(study: Study, entry: Entry, runner: Runner, row: int) -> OptionAnswer:
    """Return the figures of an option that is due before it starts."""
    tub, clean = study.tub, runner.clean
    flow_l_per_h = float(clean.flow_m3_s[row]) * L_PER_H
    removal = clean.removal_per_day[row]
    loss_kpa = 1e-3 * float(clean.loss_pa[row])
    faults = {fault.kind for fault in entry.faults}
    return replace(
        _unmoved(study, entry),
        reasons=_reasons(study, entry, runner, row, None),
        clean_flow_l_per_h=flow_l_per_h,
        clean_turnovers_per_hour=flow_l_per_h * LITRE_M3 / tub.volume_m3,
        clean_filter_loss_kpa=loss_kpa,
        governed_by="full" if "does not fit" in faults else "flow",
        due_flow_l_per_h=flow_l_per_h,
        due_filter_loss_kpa=loss_kpa,
        see_through_clean_m=float(clean.before_m[row]),
        see_through_worst_m=float(clean.after_m[row]),
        hours_to_clear_after_session=hours_to_clear(tub, removal),
    )


def _unmoved(study: Study, entry: Entry) -> OptionAnswer:
    """Return the figures of an option whose pump moves no water."""
    option, nothing = entry.option, np.zeros_like(study.tub.session_attenuation_per_m)
    sizes = [element.rating_m for element in option.stages]
    return OptionAnswer(
        id=_id(study, entry),
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
        deposit_when_due_g=0.0,
        see_through_clean_m=float(see_through_at_end_m(study.tub, nothing, just_before=True)),
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


def _stage(worked: _Worked, entry: Entry, place: int, stage: int, deposit_g: float) -> StageAnswer:
    element, count = entry.option.stages[stage], entry.option.housings_in_parallel
    rates = worked.rates
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


def _fill_kwh(study: Study) -> float:
    return fill_cooling_kwh(study.tub.volume_m3, study.fill_temperature_c, study.tub.water, study.cooling)


def _heat_w(study: Study, entry: Entry, flow_m3_s: float) -> float:
    """Return the heat that pump and hoses bring in while the pump runs, meaned over the day [W]."""
    pump, water, plumbing = entry.pump, study.tub.water, study.plumbing
    if study.lift_test and entry.loop is not None:
        hydraulic = flow_m3_s * float(entry.loop.left_at(flow_m3_s))
    else:
        head_m = float(head_curve(pump)(np.array([flow_m3_s]))[0])
        hydraulic = flow_m3_s * water.density_kg_m3 * GRAVITY_M_S2 * head_m
    heat = pump_heat_w(pump.power_w, min(hydraulic, pump.power_w), in_water=pump.in_water)
    if plumbing is not None:
        conductance = hose_conductance_w_m_k(plumbing.bore_m, plumbing.insulation_m)
        heat += conductance * plumbing.length_outside_m * (study.air_temperature_c - water.temperature_c)
    return heat * pump.share_of_day


def _cost(study: Study, entry: Entry, stages: Sequence[StageAnswer], energy: EnergyPerYear) -> CostPerYear:
    """Return yearly amounts times prices."""
    prices, option, pump = study.prices, entry.option, entry.pump
    elements = rinsing = own_time = disposal = 0.0
    for stage, element in zip(stages, option.stages, strict=True):
        bought, rinses, soaks = stage.elements_per_year or 0.0, stage.rinses_per_year or 0.0, stage.soaks_per_year or 0.0
        elements += bought * element.price
        disposal += bought * prices.disposal_each
        rinsing += rinses * element.rinse_water_m3 * prices.water_per_m3 + soaks * element.soak_price
        minutes = rinses * element.rinse_minutes + soaks * element.soak_minutes
        own_time += minutes / 60.0 * prices.own_time_per_hour
    equipment = pump.price * capital_recovery(prices.discount_rate, pump.life_years)
    equipment += (
        option.housings * option.housing_price * capital_recovery(prices.discount_rate, option.housing_life_years)
    )
    changes = _changes_per_year(study)
    parts = CostPerYear(
        elements=elements,
        rinsing=rinsing,
        own_time=own_time,
        pumping=(energy.pumping or 0.0) * prices.electricity_per_kwh,
        cooling=(energy.cooling or 0.0) * prices.electricity_per_kwh,
        disposal=disposal,
        equipment=equipment,
        water_changes=changes * study.tub.volume_m3 * prices.water_per_m3
        + (energy.water_changes or 0.0) * prices.electricity_per_kwh,
        disinfectant=12.0 * prices.disinfectant_per_month,
    )
    return replace(parts, total=sum(getattr(parts, part.name) or 0.0 for part in fields(parts)))


def _record(worked: _Worked, place: int) -> FlowRecord:
    """Return the flow over the days of the first runs."""
    services, runner = worked.services, worked.runner
    row = worked.rows[place]
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


def _with_choice_cost(answers: Sequence[OptionAnswer]) -> list[OptionAnswer]:
    """Add up the parts of the cost that differ between options."""
    costs = [answer.cost_per_year for answer in answers if answer.cost_per_year.total is not None]
    chosen = []
    for part in fields(CostPerYear):
        values = [getattr(cost, part.name) for cost in costs]
        if part.name != "total" and values and max(values) - min(values) > 1e-9 * max(values):
            chosen.append(part.name)
    return [
        replace(answer, choice_cost_per_year=sum(getattr(answer.cost_per_year, name) for name in chosen))
        if answer.cost_per_year.total is not None
        else answer
        for answer in answers
    ]


def _ordered(answers: Sequence[OptionAnswer]) -> list[OptionAnswer]:
    """Best first."""

    def place(answer: OptionAnswer) -> tuple[int, float, str, str]:
        total = answer.cost_per_year.total
        return len(answer.reasons), total if total is not None else float("inf"), answer.name, answer.pump

    return sorted(answers, key=place)


def _warmth(study: Study, entries: Sequence[Entry], best: OptionAnswer) -> WarmthAnswer:
    """Work out the best option's first run in warmer water."""
    entry = next(entry for entry in entries if _id(study, entry) == best.id)
    now = study.tub.water.temperature_c
    return WarmthAnswer(
        temperature_c=_WARM_C,
        days_now=first_days_in(study, entry, water_c=now, growth_c=now),
        days_thinner_water=first_days_in(study, entry, water_c=_WARM_C, growth_c=now),
        days_faster_growth=first_days_in(study, entry, water_c=now, growth_c=_WARM_C),
        days_both=first_days_in(study, entry, water_c=_WARM_C, growth_c=_WARM_C),
    )


def _loop_curves(entries: Sequence[Entry]) -> tuple[LoopCurve, ...]:
    """Return one curve a pump, that of a single housing."""
    curves: dict[str, LoopCurve] = {}
    for entry in sorted(entries, key=lambda entry: entry.option.housings_in_series):
        if entry.pump.name not in curves and entry.loop is not None:
            at = np.linspace(0.0, entry.loop.largest_flow_m3_s, _CURVE_POINTS)
            left = entry.loop.left_at(at)
            curves[entry.pump.name] = LoopCurve(
                pump=entry.pump.name,
                flow_l_per_h=tuple((L_PER_H * at).tolist()),
                left_kpa=tuple((1e-3 * left).tolist()),
            )
    return tuple(curves.values())


def _notes(
    study: Study, entries: Sequence[Entry], worked: _Worked | None, answers: Sequence[OptionAnswer]
) -> tuple[Remark, ...]:
    """Return what the reader should know beside the figures."""
    notes: dict[tuple[str, str], Remark] = {}

    def note(kind: str, **figures: float | str) -> None:
        notes.setdefault((kind, str(figures.get("element", ""))), Remark(kind=kind, figures=figures))

    for entry in entries:
        for remark in entry.notes:
            notes.setdefault((remark.kind, str(remark.figures["element"])), remark)
    tub = study.tub
    loops = [entry.loop for entry in entries if entry.loop is not None]
    if loops:
        shutoff = max(float(loop.left_pa[0]) for loop in loops)
        note("ten psi", shutoff_kpa=1e-3 * shutoff)
        _note_extrapolation(loops[0], answers, note)
    if study.lift_test and any(entry.option.housings_in_series > 1 for entry in entries) and study.plumbing is None:
        note("train on lift test")
    if answers and answers[0].clean_flow_l_per_h > 0.0:
        sinking = settling_classes(tub, answers[0].clean_flow_l_per_h / L_PER_H)
        if sinking.size:
            note("settling", above_um=1e6 * float(sinking.min()))
    if study.water_never_changed:
        note("never changed", days=tub.water_life_days)
    elif tub.water_life_days > study.water_rule_days * (1.0 + 1e-9):
        note("older than rule", days=tub.water_life_days, rule=study.water_rule_days)
    if tub.uses_per_day == 0.0:
        note("nobody bathes")
    plumbing = study.plumbing
    if plumbing is not None and plumbing.length_outside_m > 0.0:
        surface = hose_surface_c(tub.water.temperature_c, study.air_temperature_c, plumbing.insulation_m)
        dew = dew_point_c(study.air_temperature_c, study.air_humidity)
        if surface < dew:
            note("sweating", surface_c=surface, dew_c=dew)
    for element in _beyond_evidence([entry for entry in entries if entry.loop is not None], worked):
        note("cake beyond evidence", element=element)
    return tuple(notes.values())


def _beyond_evidence(driven: Sequence[Entry], worked: _Worked | None) -> set[str]:
    """Return elements whose cake, when due, would strain more fine dirt than was ever measured."""
    elements: set[str] = set()
    if worked is None:
        return elements
    fine = np.array(5e-6)
    for place, row in enumerate(worked.rows):
        for stage, medium in enumerate(driven[row].media):
            if medium.strains and medium.capture.rating_m >= _COARSE_M:
                cake = float(worked.first.when_due.cake_kg[place, stage]) / medium.face_m2
                inside = strained(caught_inside(medium.capture, fine), cake, fine)
                if (1.0 - medium.capture.bypass) * float(inside) > _MOST_FINE_CAUGHT:
                    elements.add(driven[row].option.stages[stage].name)
    return elements


def _note_extrapolation(loop: Loop, answers: Sequence[OptionAnswer], note: Callable[..., None]) -> None:
    """Note options that run at flows nobody measured."""
    if loop.measured_m3_s is None:
        return
    low, high = (L_PER_H * flow for flow in loop.measured_m3_s)
    beyond = [
        answer.name
        for answer in answers
        if answer.due_flow_l_per_h and (answer.due_flow_l_per_h < low or answer.clean_flow_l_per_h > high)
    ]
    if beyond:
        note("beyond the points", low=low, high=high, options=", ".join(beyond))
