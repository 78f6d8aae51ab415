"""The days of dated plans, against calendars and clocks a reader can work out by hand."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from math import exp, floor

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import FIRST_DAY, HALF, SHEET, SPUN, days_of, planned, sheet_tub
from random_studies import random_answer
from studies import Given, demo_data, study_of

from filtration import Comparison, compare, forecast
from filtration.answers.yearly import running_of
from filtration.loading.assembly import entry_of
from filtration.plan.by_calendar import central_services
from filtration.plan.dated_plan import plan
from filtration.present.words import plan as plan_words
from filtration.service.events import events_of
from filtration.service.pace import EVEN, pace_of
from filtration.service.walk import caught_share
from filtration.study.build import MONTH_DAYS, over_mean

# The calendar's pace


@pytest.mark.parametrize(("year", "days"), [(2028, 29), (2027, 28)])
def test_a_month_of_all_dips_is_the_whole_year(year: int, days: int) -> None:
    """With dips in February alone a day there is worth 365.25 / 28.25 days, leap year or not; any other day none."""
    pace = pace_of(date(year, 2, 1), over_mean((0, 1, *[0] * 10), MONTH_DAYS), ())
    one = np.array(1.0)
    assert float(pace.clock(np.array(0.0), np.array(float(days)), one)) == pytest.approx(days * 365.25 / 28.25)
    assert float(pace.clock(np.array(float(days)), np.array(300.0), one)) == pytest.approx(0.0, abs=1e-9)


def test_weekends_by_hand() -> None:
    """Twice the dips at weekends: 7/9 a weekday, 14/9 a weekend day. From a Monday, five days are 35/9, seven are 7."""
    pace = pace_of(date(2027, 3, 1), (), over_mean((1, 1, 1, 1, 1, 2, 2)))  # a Monday
    at = [float(pace.clock(np.array(0.0), np.array(days), np.array(1.0))) for days in (5.0, 6.0, 7.0)]
    assert at == pytest.approx([35 / 9, 49 / 9, 7.0])
    assert pace.busiest(2.0, 365.0) == pytest.approx(14 / 9)
    assert pace.busiest(7.0, 365.0) == pytest.approx(1.0)


def test_twenty_eight_years_have_the_mean_of_the_study() -> None:
    """The Julian cycle brings months and weekdays together again: as many dips as the study says, to the last."""
    pace = pace_of(date(2027, 3, 1), over_mean(HALF, MONTH_DAYS), over_mean((1, 2, 3, 4, 5, 6, 7)))
    whole = np.array(28 * 365.25)
    assert float(pace.clock(np.array(0.0), whole, np.array(1.0))) == pytest.approx(float(whole), abs=1e-6)


@given(
    st.lists(st.floats(0, 10), min_size=12, max_size=12).filter(any),
    st.lists(st.floats(0, 10), min_size=7, max_size=7).filter(any),
    st.floats(0, 12000),
    st.floats(0, 400),
    st.floats(0, 1),
)
def test_calendar_and_clock_undo_each_other(
    by_month: list[float], by_weekday: list[float], start: float, clock: float, share: float
) -> None:
    """So many days of the calendar after which the clock has gone on as asked, and not sooner."""
    pace = pace_of(FIRST_DAY, over_mean(by_month, MONTH_DAYS), over_mean(by_weekday))
    at, part = np.array(start), np.array(share)
    days = pace.calendar(at, np.array(clock), part)
    assert float(pace.clock(at, days, part)) == pytest.approx(clock, abs=1e-6)
    assert float(days) >= 0.0


@pytest.mark.parametrize("kept", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("swing", [0.7, 1.4])
def test_growth_goes_by_real_time(kept: float, swing: float) -> None:
    """Against a deposit stepped in time, m' = s c + g m from what was kept to as much as on the mean day's clock."""
    growth, clock, steps = 0.02, 20.0, 200_000
    full = (exp(growth * clock) - 1.0) / growth / (1.0 - kept * exp(growth * clock))  # with c = 1 and m(0) = kept full
    held, days, step = kept * full, 0.0, clock / steps
    while held < full:
        held += step * (swing + growth * (held + 0.5 * step * (swing + growth * held)))
        days += step
    share = float(caught_share(np.array(kept), np.array(growth * clock)))
    assert clock / (1.0 + share * (swing - 1.0)) == pytest.approx(days, rel=0.02)


# Days


def test_even_use_gives_the_events_of_the_comparison(freezer: Comparison) -> None:
    """Every option with a schedule: the same days, things and counts, amounts within a cent, the same totals."""
    for option in freezer.options[::3]:
        if option.cost_per_year.total is None:
            continue
        found = plan(freezer.study, option=option.id, answer=freezer, today=FIRST_DAY, draws=16)
        assert [(e.day, e.what, e.item, e.count) for e in found.events] == [
            (e.day, e.what, e.item, e.count) for e in option.events
        ]
        for ours, event in zip(found.events, option.events, strict=True):
            assert abs(ours.amount - event.amount) < 0.01
            assert ours.date == FIRST_DAY + timedelta(days=event.day)
        assert found.total.undiscounted == pytest.approx(option.horizon_total.undiscounted, abs=0.0051)
        assert found.total.discounted == pytest.approx(option.horizon_total.discounted, abs=0.0101)


@pytest.mark.parametrize("seed", [2, 3, 4, 5, 8, 12, 13, 35])
def test_the_walk_by_the_calendar_is_the_comparison_s(seed: int) -> None:
    """Followed by the calendar with even use, options are served on the very days of the comparison.

    Not so a train with a stage that is replaced near its oldest age: a plan replaces it at the age it reaches in the
    mean, and that age is not the same in each of its lives.
    """
    answer = random_answer(seed)
    for option in answer.options:
        study = answer.study
        near_age = [(stage.life_days or 0.0) >= 0.9 * study.needs.discard_days for stage in option.stages]
        if option.cost_per_year.total is None or (len(option.stages) > 1 and any(near_age)):
            continue
        entry = entry_of(study, next(o for o in study.options if o.id == option.id), study.pumps[0])
        services = central_services(study, entry, option, EVEN, study.prices.horizon_days)
        running = running_of(study, option.energy_kwh_per_year)
        assert events_of(study.prices, entry.option, entry.pump, services, running) == option.events


FOAM: Given = {
    "name": "Foam",
    "kind": "foam",
    "area": "0.01 m^2",
    "thickness": "50 mm",
    "pores_per_inch": 30,
    "soak_every_rinses": 0,
}


def clock_days(data: Given) -> list[float]:
    """Return the days of the services with even use."""
    study = study_of(data)
    (option,) = compare(study).options
    entry = entry_of(study, study.options[0], study.pumps[0])
    return central_services(study, entry, option, EVEN, 730.5).day[:, 0].tolist()


@pytest.mark.parametrize("first_day", [date(2027, 1, 1), date(2027, 6, 20), date(2028, 2, 25), date(2027, 12, 31)])
def test_the_calendar_stretches_by_hand(first_day: date) -> None:
    """Twice the dips from January to June: a day then is 730.5/546.5 of a mean one, a day from July on half that.

    Counted day by day on the calendar, the rinses of the first year fall where as much dirt has come in as with even
    use.
    """
    even = [day for day in clock_days(sheet_tub()) if day < 300.0]
    high = 365.25 * 2 / (2 * 181.25 + 184)
    expected, brought, day = [], 0.0, 0
    for due in even:
        while brought + (now := high if (first_day + timedelta(days=day)).month <= 6 else high / 2) < due:
            brought, day = brought + now, day + 1
        expected.append(floor(day + (due - brought) / now))
    found = plan(study_of(sheet_tub(tub={"uses_by_month": HALF})), today=first_day, draws=16)
    rinses = days_of(found, "rinse")
    assert rinses[: len(expected)] == expected[: len(rinses)]
    assert len(expected) >= 8
    assert found.uneven


def test_time_limits_stay_on_the_calendar() -> None:
    """Rinsed every 5 days and discarded after 90, whatever the season: no run is long enough to fill the sheet."""
    needs = {"rinse_at_least_every": "5 day", "discard_after": "90 day"}
    roomy = SHEET | {"dirt_capacity": "500 g"}
    for tub in ({}, {"uses_by_month": HALF, "uses_by_weekday": [1, 1, 1, 1, 1, 3, 3]}):
        found = planned(sheet_tub(roomy, needs=needs, tub=tub | {"uses_per_day": 1}, prices={"horizon": "1 year"}))
        assert days_of(found, "rinse") == [day for day in range(5, 366, 5) if day % 90]
        assert days_of(found, "replace") == [90, 180, 270, 360]
        assert all(event.earliest == event.date == event.latest for event in found.events)


def test_water_changes_stay_on_the_calendar() -> None:
    """Every 10 days, whatever the dips."""
    found = planned(sheet_tub(tub={"water_change_every": "10 day", "uses_by_month": HALF}))
    assert days_of(found, "change water") == list(range(10, 731, 10))


def test_a_closed_tub_wants_no_rinse() -> None:
    """With no dips from July on and no dust, nothing is due before January but by age."""
    found = plan(study_of(sheet_tub(tub={"uses_by_month": [1] * 6 + [0] * 6})), today=date(2027, 7, 1), draws=16)
    assert not [event for event in found.events if event.what == "rinse" and event.date.month >= 7]


def test_ends_of_months_and_leap_days() -> None:
    """Sixty days from the last of December end on the 29th of February in a leap year, else on the 1st of March."""
    for year, last in ((2027, date(2028, 2, 29)), (2026, date(2027, 3, 1))):
        needs = {"replace_at_least_every": "60 day"}
        found = plan(study_of(sheet_tub(SPUN, needs=needs)), today=date(year, 12, 31), draws=16)
        assert next(event.date for event in found.events if event.what == "replace") == last


def test_earliest_and_latest_hold_the_day_and_keep_to_limits(freezer: Comparison) -> None:
    """10 and 90 % enclose the central day; the discard age of a year bounds every replacement."""
    found = plan(freezer.study, answer=freezer, today=FIRST_DAY, draws=64)
    assert found.option == freezer.decision.advised
    for event in found.events:
        assert event.earliest <= event.date
        assert event.latest is None or event.date <= event.latest
    for number, event in enumerate((e for e in found.events if e.what == "replace"), start=1):
        assert event.latest is not None
        assert event.latest <= FIRST_DAY + timedelta(days=365 * number)
    rinses = [event for event in found.events if event.what == "rinse"]
    assert [event.earliest for event in rinses] == sorted(event.earliest for event in rinses)
    assert rinses[0].earliest < rinses[0].date < (rinses[0].latest or date.max)


@pytest.mark.parametrize("tub", [{}, {"uses_by_month": HALF}])
@pytest.mark.parametrize("stages", [["Sheet"], ["Foam", "Sheet"]])
def test_what_is_known_exactly_has_no_range(tub: Given, stages: list[str]) -> None:
    """With every spread 1 the draws all do the same, within what the coarser tables of the draws are off."""
    unknowns = ("load_per_dip", "uses", "dust", "deposit_density", "cake_resistance", "permeability", "capture_size")
    more = ("haze", "growth", "rinse_loss", "sum_k", "prices", "slope", "straining_cake")
    data = sheet_tub(SHEET, FOAM, tub=tub, uncertainty=dict.fromkeys((*unknowns, *more), 1.0))
    data["options"] = [{"name": "Only", "stages": stages}]
    found = planned(data)
    rinses = [event for event in found.events if event.what == "rinse"]
    assert len(rinses) > 10
    for event in rinses:
        assert event.latest is not None
        assert (event.latest - event.earliest).days <= 1 + event.day // 75


def test_the_first_days_are_the_comparison_s() -> None:
    """The same draws, all with flow and a clear view: the first service is due between the comparison's days."""
    data = demo_data("freezer")
    data["needs"] |= {"turnovers_per_hour": 1, "see_through": "0.01 m"}
    data["options"] = [option for option in data["options"] if option["name"] == "Pleated 20"]
    answer = compare(study_of(data), draws=256)
    assert answer.options[0].sureness is not None
    low, _, high = answer.options[0].sureness.ranges["days_to_first_service"]
    found = plan(answer.study, answer=answer, today=FIRST_DAY, draws=256)
    first = next(event for event in found.events if event.what == "rinse")
    assert first.latest is not None
    assert (first.earliest - FIRST_DAY).days == pytest.approx(low, abs=1.0)
    assert (first.latest - FIRST_DAY).days == pytest.approx(high, abs=1.0)


# What is in use


def in_use(days: int) -> Given:
    since = (FIRST_DAY - timedelta(days=days)).isoformat()
    return sheet_tub(in_use={"option": "sheet", "since": since}, prices={"horizon": "1 year"})


def test_a_plan_goes_on_from_what_is_in_use() -> None:
    """Services keep to the days since the element was new; those before today, and its purchase, are left out."""
    new, later = planned(sheet_tub(prices={"horizon": "2 year"})), planned(in_use(100))
    assert later.fitted_on == FIRST_DAY - timedelta(days=100)
    assert days_of(later, "rinse") == [day - 100 for day in days_of(new, "rinse") if 100 <= day < 100 + 365.25]
    assert days_of(later, "replace") == [day - 100 for day in days_of(new, "replace") if 100 <= day < 100 + 365.25]
    assert later.gap.first_purchases == 0.0
    electricity = [event for event in later.events if event.item == "electricity"]
    assert [event.day for event in electricity] == [365]
    assert "goes on from the day the cartridge was fitted, 100 days ago" in " ".join(plan_words.notes(later))


def test_without_readings_services_so_far_were_as_planned() -> None:
    """So the next is due within a run of any draw from the last one, but not before today; the others runs apart."""
    found = planned(in_use(100))
    rinses = [event for event in found.events if event.what == "rinse"]
    assert rinses[0].latest is not None
    assert (rinses[0].latest - FIRST_DAY).days < 100
    earliest = [(event.earliest - FIRST_DAY).days for event in rinses[:6]]
    assert earliest == sorted(set(earliest))


def test_another_option_than_the_one_in_use_starts_new() -> None:
    """It is bought on the first day."""
    data = sheet_tub(SHEET, SPUN, in_use={"option": "spun", "since": "2027-01-01"})
    found = planned(data, option="sheet")
    assert found.fitted_on == FIRST_DAY
    assert [event.item for event in found.events if event.day == 0] == ["housing", "Sheet"]


def test_a_forecast_moves_the_next_service() -> None:
    """The next service falls where it is forecast, between the days forecast; the one after a run later."""
    study = study_of(in_use(3))
    noon = datetime.combine(FIRST_DAY, datetime.min.time()).astimezone().replace(hour=12)
    ahead = forecast(study, (), today=noon, draws=64)
    moved = replace(
        ahead,
        next_service=replace(
            ahead.next_service, p10=date(2027, 3, 5), p50=date(2027, 3, 8), p90=date(2027, 3, 20), what="rinse"
        ),
    )
    found = plan(study, today=FIRST_DAY, forecast=moved, draws=64)
    first, second, *_ = (event for event in found.events if event.what == "rinse")
    assert (first.date, first.earliest, first.latest) == (date(2027, 3, 8), date(2027, 3, 5), date(2027, 3, 20))
    usual = [event for event in planned(sheet_tub()).events if event.what == "rinse"]
    assert abs((second.date - first.date).days - (usual[1].day - usual[0].day)) <= 1
    assert found.gap.readings == pytest.approx(0.0, abs=1.0)


def test_an_overdue_service_is_for_today() -> None:
    """A replacement forecast for last week is done on the first day, and the element is new from then on."""
    study = study_of(in_use(50))
    noon = datetime.combine(FIRST_DAY, datetime.min.time()).astimezone().replace(hour=12)
    ahead = forecast(study, (), today=noon, draws=64)
    past = date(2027, 2, 20)
    due = replace(ahead.next_service, p10=past, p50=past, p90=past, what="replace")
    found = plan(
        study, today=FIRST_DAY, forecast=replace(ahead, next_service=due, rinses_left=(0.0, 0.0, 0.0)), draws=16
    )
    assert [(event.day, event.what) for event in found.events[:2]] == [(0, "replace"), (0, "buy")]
    usual = days_of(planned(sheet_tub()), "rinse")
    assert days_of(found, "rinse")[:3] == usual[:3]


def test_numbers_next_to_nothing_are_ratios_too() -> None:
    """The mean of seven numbers of which one is the smallest there is: a seventh of that is no number any more."""
    assert over_mean((0.0,) * 6 + (5e-324,)) == (0.0,) * 6 + (7.0,)
