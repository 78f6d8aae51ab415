"""Every answer as a machine-readable document: the unit stands in the key, days are ISO 8601, no number is null."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date
from math import isfinite
from typing import TYPE_CHECKING, Any

from filtration.answers.cheaper import Saving, Savings, largest_saving
from filtration.answers.results import Comparison, Odds, OptionAnswer, Sureness
from filtration.answers.size_answer import AreaSize, PumpSize
from filtration.present.words import answer as words
from filtration.present.words import savings as savings_words
from filtration.service.events import Event
from filtration.study.values import Study

if TYPE_CHECKING:
    from filtration.answers.assumptions import Assumptions
    from filtration.answers.curves import Sweep
    from filtration.plan.dated import Plan
    from filtration.plan.fleet import Fleet
    from filtration.plan.tub_budget import Ranged
    from filtration.readings.advising import Advice
    from filtration.readings.foretold import Forecast
    from filtration.validation.published import Check, Checks

FORMAT = 1
_PERCENT = ("p10", "p50", "p90")

Document = dict[str, object]


def _plain(value: object) -> object:
    """Return a value as JSON has it, with nothing in place of what it has no number for."""
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, str | int | date):
        return value.isoformat() if isinstance(value, date) else value
    if isinstance(value, Event):
        return _plain(value._asdict())
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if isinstance(value, dict | Mapping):
        return {key: _plain(each) for key, each in value.items()}
    return _plain(_by_name(value)) if hasattr(value, "__dataclass_fields__") else value


def _by_name(value: Any) -> Document:  # noqa: ANN401 - any dataclass
    return _picked(value, *(field.name for field in fields(value)))


def _document(**values: object) -> Document:
    return {"format": FORMAT, **{key: _plain(value) for key, value in values.items()}}


def _picked(value: object, *names: str) -> Document:
    return {name: getattr(value, name) for name in names}


def answer_document(comparison: Comparison) -> Document:
    """Return the answer as numbers, text, lists and dictionaries, ready for JSON."""
    study = comparison.study
    return _document(
        study=study.name,
        currency=study.currency,
        assumed=words.assumptions(study),
        **_picked(
            comparison, "litres_per_dip", "water_change_days", "water_change_rule_days", "water_changes_per_year"
        ),
        advised=comparison.decision.advised,
        cheapest=comparison.decision.cheapest,
        equal_to_advised=comparison.decision.equal,
        options=[_option(option) for option in comparison.options],
        **_odds(comparison.odds),
        warmth=comparison.warmth,
        savings=[_saving(each, study) for each in (largest_saving(comparison),) if each],
        notes=words.notes(comparison),
        cautions=words.cautions(study),
    )


def _option(option: OptionAnswer) -> Document:
    first = ("id", "name", "pump", "kind", "rating_um", "housings_in_parallel", "housings", "meets_needs")
    apart = ("reasons", "flow_record", "sureness", "us")
    return {
        **_picked(option, *first),
        "why_not": words.why_not(option),
        **{key: value for key, value in _by_name(option).items() if key not in (*first, *apart)},
        "worst_view_m": option.worst_view_m,
        **(_sure(option.sureness) if option.sureness else {}),
    }


def _sure(sure: Sureness) -> Document:
    chances = _picked(sure, "chance_of_meeting_needs", "chance_of_being_best", "cost_of_choosing_wrong_per_year")
    return chances | ({"ranges": sure.ranges, "outcomes": sure.outcomes} if sure.ranges else {})


def _odds(odds: Odds) -> Document:
    chances = (
        "chance_none_meets_needs",
        "chance_all_lack_flow",
        "chance_too_hazy",
        "chance_too_hazy_in_half_the_time",
    )
    always = _picked(odds, "draws", "seed", *chances, "worth_of_measuring_load_per_year")
    return always | ({"drivers": odds.drivers, "measure_next": odds.measure} if odds.draws else {})


def fleet_document(fleet: "Fleet") -> Document:
    """Return a budget over many tubs as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.plan.year_ahead import month_of
    from filtration.present import fleet_tables as fleet_words

    year = fleet.year
    return _document(
        **_picked(fleet, "draws", "seed"),
        tubs_covered=len(fleet.covered),
        without_option=[
            {"name": tub.name, "where": tub.where, "nearest": tub.nearest, "why": fleet_words.why_not(tub)}
            for tub in fleet.without_option
        ],
        counted_once=[{"where": where, "same_as": first} for where, first in fleet.twice],
        cost_per_year=_with_ranges(fleet.cost),
        consumables_per_year=_with_ranges(fleet.consumables),
        elements_per_year=_with_ranges(fleet.elements),
        year_ahead={
            **_picked(year, "first_day", "last_day", "total"),
            "by_kind": year.money(lambda line: line.kind),
            "by_tub": year.money(lambda line: line.tub or fleet_words.FOR_ALL),
            "by_month": year.money(lambda line: month_of(line.date)),
        },
        shopping=[{**_by_name(line), "count": line.count} for line in year.shopping],
        fewer_kinds=[fleet_words.fewer_kinds(each) for each in fleet.standards],
        visits=[
            {"date": visit.date, "tubs": visit.tubs, "what": fleet_words.tasks(visit), "hours": visit.hours}
            for visit in year.visits
        ],
        visits_if_each_alone=len(year.alone),
        visits_by_month={
            month: {"gathered": gathered, "if_each_alone": alone}
            for month, (gathered, alone) in year.visits_by_month.items()
        },
        gathering_takes={
            "services": year.more_services,
            "elements": year.more_elements,
            "amount": year.more_money,
        },
        hours_by_month=year.hours_by_month,
        tubs=[
            {
                **_picked(tub, "name", "where", "option", "pump", "meets_needs", "chance_of_meeting_needs", "currency"),
                "days_to_first_service": _with_range(tub.days) if tub.meets_needs else None,
                "elements_per_year": _with_ranges(tub.elements),
                "cost_per_year": _with_range(tub.cost) if tub.meets_needs else None,
                "consumables_per_year": _with_range(tub.consumables) if tub.meets_needs else None,
                **_picked(tub, "rinses_per_year", "hours_per_year", "readings_used", "readings_refused"),
            }
            for tub in fleet.tubs
            if not tub.faults
        ],
        failed=[_picked(tub, "where", "faults") for tub in fleet.failed],
        notes=fleet_words.notes(fleet),
    )


def _with_ranges(by_name: "Mapping[str, Ranged]") -> Document:
    return {name: _with_range(figure) for name, figure in by_name.items()}


def _with_range(figure: "Ranged") -> Document:
    return {"central": figure.central} | ({"range": figure.range} if figure.range else {})


def plan_document(plan: "Plan") -> Document:
    """Return a dated plan as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.present.words import plan as plan_words

    return _document(
        study=plan.study.name,
        currency=plan.study.currency,
        **_picked(plan, "option", "name", "pump", "first_day", "last_day", "fitted_on", "draws", "seed"),
        chance_new_element_lacks_flow=plan.lacks,
        events=plan.events,
        horizon_total=plan.total,
        sums_by_month=plan.by_month,
        sums_by_year=plan.by_year,
        gap_per_year=plan.gap,
        shopping=[
            {**_by_name(line), "words": text}
            for line, text in zip(plan.shopping, plan_words.shopping(plan), strict=True)
        ],
        break_even=plan.break_even,
        break_even_words=plan_words.break_even(plan),
        notes=plan_words.notes(plan),
        cautions=plan_words.cautions(plan),
    )


def no_plan_document(study: str, why: str) -> Document:
    """Return what there is where a study, by its name, has no plan."""
    return _document(study=study, option=None, events=[], why_not=[why])


def forecast_document(forecast: "Forecast") -> Document:
    """Return a forecast as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.present.words import forecast as forecast_words

    due = forecast.next_service
    return _document(
        study=forecast.study.name,
        **_picked(forecast, "option", "pump", "fitted_on", "today", "draws", "seed"),
        next_service={
            **_picked(due, "what", *_PERCENT),
            "in_days": _by_percent(due.in_days),
            "governed_by": due.governed_by,
            "chance_due_already": due.due_already,
        },
        today_do=_today(forecast.advice),
        rinses_left=None if forecast.rinses_left is None else _by_percent(forecast.rinses_left),
        flow_today_l_per_h=_by_percent(forecast.flow_today_l_per_h),
        flow_when_due_l_per_h=forecast.wanted_l_per_h,
        chance_new_element_lacks_flow=forecast.chance_clean_lacks,
        dirt_a_day=forecast.dirt,
        fitted=forecast.fitted,
        readings_used=forecast.readings_used,
        readings_refused=_aside(forecast.refused, forecast_words.refused(forecast)),
        readings_doubted=_aside(forecast.doubted, forecast_words.doubted(forecast), "weight"),
        diagnosis=forecast_words.diagnosis(forecast),
        measure_next=forecast.measure,
        water_changed_on=forecast.water_changed_on,
        stock=dict(forecast.stock),
        notes=forecast_words.notes(forecast),
        cautions=forecast_words.cautions(forecast),
    )


def _today(advice: "Advice") -> Document:
    """Return what to do today, and what a week's waiting does."""
    ranges = {
        "flow_in_a_week_l_per_h": advice.flow_in_a_week_l_per_h,
        "flow_serviced_l_per_h": advice.flow_serviced_l_per_h,
        "flow_new_l_per_h": advice.flow_new_l_per_h,
        "see_through_now_m": advice.see_through_now_m,
        "see_through_in_a_week_m": advice.see_through_in_a_week_m,
        "see_through_serviced_m": advice.see_through_serviced_m,
        "see_through_new_m": advice.see_through_new_m,
    }
    return {
        **_picked(advice, "do", "why", "saved_by_a_week", "clear_for_days"),
        "pump_factor": None if advice.pump is None else advice.pump.factor,
        **{name: _by_percent(values) for name, values in ranges.items()},
    }


def _aside(found: Iterable[Any], told: Iterable[tuple[str, str]], *more: str) -> list[Document]:
    """Return the readings that do not count or count for little: when, what and why, and more of their figures."""
    return [
        {"when": each.reading.when, "what": what, "why": why, **_picked(each, *more)}
        for each, (what, why) in zip(found, told, strict=True)
    ]


def _by_percent(values: Iterable[float]) -> Document:
    return dict(zip(_PERCENT, values, strict=True))


def check_document(found: "Assumptions") -> Document:
    """Return the assumptions of a study as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.present.words import check as check_words

    return _document(
        study=found.study.name,
        currency=found.study.currency,
        faults=[],
        option=found.option.id,
        days_to_first_service=found.days,
        cost_per_year=found.cost,
        assumptions=[
            {
                "key": each.key,
                "of": "model" if each.of_model else "study",
                "assumed": each.line,
                "influence": each.influence,
                "tried": each.tried,
                "days_to_first_service": each.days,
                "cost_per_year": each.cost,
                "find_out": check_words.hint(each.key),
            }
            for each in found.assumptions
        ],
        method=check_words.METHOD,
    )


def faults_document(faults: tuple[str, ...]) -> Document:
    """Return the faults of a study, one line each."""
    return _document(faults=faults)


def size_document(size: PumpSize | AreaSize) -> Document:
    """Return the smallest pump, or the area of an element, as numbers, text, lists and dictionaries, ready for JSON."""
    return _pump_document(size) if isinstance(size, PumpSize) else _area_document(size)


def _pump_document(size: PumpSize) -> Document:
    from filtration.present.words import size as size_words

    first = ("option", "name", "pump", "wanted_flow_l_per_h", "shortest_run_days", "known_by", "factor")
    run = ("clean_flow_l_per_h", "due_flow_l_per_h", "days_to_first_service", "governed_by")
    return _document(
        study=size.study.name,
        **_picked(size, *first),
        pump_curve={"flow_l_per_h": size.curve_l_per_h, "head_m": size.curve_m},
        **_picked(size, *run),
        present_pump_suffices=size.present_suffices,
        **_picked(size, "left_aside", "sizes"),
        notes=size_words.notes(size),
    )


def _area_document(size: AreaSize) -> Document:
    from filtration.present.words import size as size_words

    first = ("option", "name", "pump", "element", "kind", "housings_in_parallel", "wanted_days", "present_days")
    amounts = ("factor", "area_m2", "present_area_m2", "length_m", "present_length_m", "governed_by", "left_aside")
    return _document(
        study=size.study.name,
        **_picked(size, *first, *amounts),
        fits_present_size=size.fits,
        most_area_in_present_size_m2=size.most_area_m2,
        area_in_present_size_m2=size.area_in_this_size_m2,
        longest_in_present_size_days=size.longest_in_this_size_days,
        sizes=size.sizes,
        notes=size_words.notes(size),
    )


def no_size_document(study: str, option: str, why: str) -> Document:
    """Return what there is where physics gives no answer for an option, by its id, of a study, by its name."""
    return _document(study=study, option=option, factor=None, why_not=why)


def sweep_document(found: "Sweep") -> Document:
    """Return curves as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.present.words import sweep as sweep_words

    return _document(
        study=found.study.name,
        currency=found.study.currency,
        **_picked(found, "option", "name", "pump"),
        over={"key": found.over, "unit": found.unit},
        curves=found.curves,
        notes=sweep_words.notes(found),
    )


def savings_document(found: Savings) -> Document:
    """Return what would save most in a year as numbers, text, lists and dictionaries, ready for JSON."""
    study, now = found.study, found.now
    figures = ("days_to_first_service", "see_through_worst_m", "meets_needs")
    return _document(
        study=study.name,
        currency=study.currency,
        option=now and now.id,
        cost_per_year=now and now.cost_per_year.total,
        **{name: now and getattr(now, name) for name in figures},
        savings=[_saving(each, study) for each in found.changes],
        together=_saving(found.together, study) if found.together else None,
        notes=savings_words.method(found),
    )


def _saving(saving: Saving, study: Study) -> Document:
    run = ("days_to_first_service", "see_through_worst_m", "meets_needs")
    return {
        "key": saving.key,
        "from": saving.before,
        "to": saving.after,
        **_picked(saving, "kind", "settings", "saves_per_year", "cost_per_year", *run),
        "option": saving.then.id,
        "what": savings_words.what(saving, study),
        "caution": savings_words.cautions(saving, study),
    }


def verify_document(found: "Checks") -> Document:
    """Return the published checks as numbers, text, lists and dictionaries, ready for JSON."""
    from filtration.present.words import verify as verify_words

    return _document(
        checks=len(found.checks),
        main_job=len(found.main_job),
        arithmetic=len(found.arithmetic),
        sources=len(found.sources),
        from_memory=found.from_memory,
        failed=len(found.failed),
        contradicting=len(found.contradicting),
        not_held=verify_words.not_held(),
        cases=[_case(check) for check in found.checks],
    )


def _case(check: "Check") -> Document:
    return {
        **_picked(check.case, "topic", "quantity", "name", "unit"),
        "computed": check.computed,
        "published_low": check.low,
        "published_high": check.high,
        **_picked(check, "difference", "tolerance", "holds", "all_computed"),
        **_picked(check.case, "main_job", "source", "note", "memory", "contradicts"),
    }
