"""What dated plans come to: sums, spares, break-even, and every fault by its text."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from math import exp, log
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import FIRST_DAY, HALF, SHEET, SPUN, days_of, planned, sheet_tub
from random_studies import random_answer, random_study
from scipy.stats import poisson
from studies import demo_data, study_of

from filtration import Comparison, InputError, NoAnswerError, compare
from filtration.plan.dated import in_cents
from filtration.plan.dated_plan import plan
from filtration.plan.spending import own_hours_per_year, spares_for
from filtration.present.documents import plan_document
from filtration.present.words import plan as plan_words
from filtration.service.pace import pace_of
from filtration.study.build import MONTH_DAYS, over_mean
from filtration.study.values import Option

# Money


@given(st.lists(st.floats(0, 1000), max_size=60))
def test_cents_add_up(amounts: list[float]) -> None:
    """Each within a cent, and every row of them from the first sums to what it was, rounded."""
    found = in_cents(amounts)
    for number in range(len(amounts) + 1):
        assert round(100 * sum(found[:number])) == round(100 * sum(amounts[:number]))
    for cents, amount in zip(found, amounts, strict=True):
        assert abs(cents - amount) < 0.01 + 1e-9


@settings(max_examples=8)
@given(st.integers(0, 40), st.sampled_from(["even", "uneven"]))
def test_everything_adds_up(seed: int, uses: str) -> None:
    """Months, years, total, discounting and the gap, to a cent; days in order and in the horizon."""
    data, answer = random_study(seed), random_answer(seed)
    option = next((each for each in answer.options if each.cost_per_year.total is not None), None)
    if option is None:
        with pytest.raises(NoAnswerError):
            plan(answer.study, option=answer.options[0].id, answer=answer, today=FIRST_DAY, draws=16)
        return
    study = answer.study
    if uses == "uneven":
        tub = replace(study.tub, uses_by_month=over_mean(HALF, MONTH_DAYS))
        study = replace(study, tub=tub)
        answer = replace(answer, study=study)
    found = plan(study, option=option.id, answer=answer, today=FIRST_DAY, draws=16)
    cents = [round(100 * event.amount) for event in found.events]
    assert [event.amount for event in found.events] == [each / 100 for each in cents]
    assert found.total.undiscounted == sum(cents) / 100
    assert sum(round(100 * amount) for amount in found.by_month.values()) == sum(cents)
    assert sum(round(100 * amount) for amount in found.by_year.values()) == sum(cents)
    rate = data["prices"]["discount_rate"]
    now = sum(event.amount * exp(-log(1.0 + rate) * event.day / 365.25) for event in found.events)
    assert found.total.discounted == pytest.approx(now, abs=1e-6)
    gap = found.gap
    parts = (gap.long_run, gap.readings, gap.first_purchases, gap.part_used, gap.interest, gap.seasons)
    assert sum(round(100 * part) for part in parts) == round(100 * gap.average)
    years = float(data["prices"]["horizon"].split()[0])
    assert gap.average == pytest.approx(sum(cents) / 100 / years, abs=0.00501)
    assert gap.long_run == pytest.approx(option.cost_per_year.total, abs=0.00501)
    assert gap.readings == 0.0
    if uses == "even":
        assert gap.seasons == 0.0
    days = [event.day for event in found.events]
    assert days == sorted(days)
    assert days[0] >= 0
    assert days[-1] <= years * 365.25


def test_the_gap_by_hand() -> None:
    """An element of 6 replaced every 60 days, 12 times in two years after the first: 12.175 lives are worn.

    First purchases: a housing of 35 and the element, over two years; part-used: 0.175 of an element worn but not paid
    for, and eight tenths of the housing not worn yet.
    """
    needs = {"replace_at_least_every": "60 day"}
    tub = {"water_change_every": "never"}
    found = planned(sheet_tub(SPUN, needs=needs, tub=tub))
    worn = 730.5 / 60
    assert days_of(found, "replace") == list(range(60, 721, 60))
    assert found.gap.first_purchases == pytest.approx((35 + 6) / 2, abs=0.011)
    assert found.gap.part_used == pytest.approx(-((worn - 12) * 6 + 35 * 2 / 10) / 2, abs=0.011)
    assert found.gap.interest == 0.0


def test_interest_by_hand() -> None:
    """At 8 % a housing of 35 for 10 years costs 35 x 0.14903 a year (UCR of ASTM E917), without interest 3.5."""
    found = planned(sheet_tub(prices={"discount_rate": 0.08}))
    assert found.gap.interest == pytest.approx(3.5 - 35 * 0.14903, abs=0.011)


# Spares


@given(st.floats(0, 300), st.floats(0.01, 0.999))
def test_spares_against_a_library(demand: float, level: float) -> None:
    """The quantile of a Poisson distribution."""
    spares = spares_for(demand, level)
    assert poisson.cdf(spares, demand) >= level - 1e-12
    assert spares == 0 or poisson.cdf(spares - 1, demand) < level + 1e-12


def test_shopping_with_a_single_source() -> None:
    """Two side by side, replaced every 10 days: in 20 days two pairs, so keep five pairs (Poisson, mean 2, 95 %)."""
    spun = SPUN | {"lead_time": "20 day", "suppliers": 1}
    data = sheet_tub(spun, needs={"replace_at_least_every": "10 day"})
    data["options"] = [{"name": "Pair", "stages": ["Spun"], "housings_in_parallel": 2}]
    found = planned(data)
    (line, housing) = found.shopping
    assert (line.spares, line.swap, line.stock_amount) == (10, 0, 60.0)
    assert line.count == 2 * 37  # on the first day, and on days 10 to 360
    assert line.next_needed == FIRST_DAY + timedelta(days=10)
    assert line.order_by == FIRST_DAY - timedelta(days=10)
    assert (housing.item, housing.count, housing.amount) == ("housing", 2, 70.0)
    assert "One supplier, 20 days: keep 10." in plan_words.shopping(found)[0]


def test_spares_for_the_busiest_weeks() -> None:
    """All dips in half the year: twice the demand over a short lead time then."""
    by_month = over_mean([1] * 6 + [0] * 6, MONTH_DAYS)
    assert pace_of(FIRST_DAY, by_month, ()).busiest(10.0, 365.25) == pytest.approx(365.25 / 181.25)


def test_a_rinsed_element_has_a_dry_one_to_swap_in() -> None:
    """One for each housing; no lead time, so nothing is kept for it, and a note says what to tell."""
    found = planned(sheet_tub())
    assert (found.shopping[0].spares, found.shopping[0].swap) == (0, 1)
    told = " ".join([*plan_words.shopping(found), *plan_words.notes(found)])
    assert "one clean, dry spare to swap in" in told
    assert "Sheet: give its delivery time and the number of shops that have it" in told


# Break-even


def test_break_even_by_hand() -> None:
    """A sheet of 20 rinsed for nothing against elements of 6 every 60 days: 24 against 20 from the fourth, day 180."""
    found = planned(sheet_tub(SHEET, SPUN, needs={"replace_at_least_every": "60 day"}))
    assert found.break_even is not None
    assert (found.break_even.reusable, found.break_even.disposable) == ("Sheet", "Spun")
    assert found.break_even.day == 180
    rinsed = len({event.day for event in found.events if event.what == "rinse" and event.day <= 180})
    assert (found.option, found.break_even.rinses) == ("sheet", rinsed)
    told = plan_words.break_even(found)
    sheet = "Sheet (cheapest reusable) has cost less than Spun (cheapest disposable)"
    assert told.startswith(f"From day 180 on, after {rinsed} rinses, {sheet}")


@pytest.mark.parametrize(
    ("price", "day", "words"),
    [
        (5, 0, "Sheet (cheapest reusable) comes to less than Spun (cheapest disposable) from the start."),
        (200, None, "Sheet (cheapest reusable) never comes to less than Spun (cheapest disposable)."),
    ],
)
def test_break_even_at_its_ends(price: float, day: int | None, words: str) -> None:
    """A cheap sheet wins at once; one of 200, thrown away after a year, never within two."""
    found = planned(sheet_tub(SHEET | {"price": price}, SPUN, needs={"replace_at_least_every": "60 day"}))
    assert found.break_even is not None
    assert found.break_even.day == day
    assert plan_words.break_even(found).startswith(words)


def test_no_break_even_without_both_kinds() -> None:
    """Nothing to compare with."""
    found = planned(sheet_tub())
    assert found.break_even is None
    assert plan_words.break_even(found).startswith("There is nothing to compare")


@pytest.mark.parametrize(
    ("option", "day", "words"),
    [
        ("sheet-30", 300, "Sheet 30 (reusable) has cost less than Spun (cheapest disposable)"),
        ("spun-8", 120, "Sheet (cheapest reusable) has cost less than Spun 8 (disposable)"),
        ("sheet", 180, "Sheet (cheapest reusable) has cost less than Spun (cheapest disposable)"),
    ],
)
def test_break_even_is_that_of_the_option_asked_for(option: str, day: int, words: str) -> None:
    """Each against the cheapest of the other sort; elements thrown away are bought every 60 days, sheets every 700.

    30 once against 6: as much by the fifth, day 240, less from the sixth, day 300. 20 against 8: less than 24 from the
    third, day 120. 20 against 6: less than 24 from the fourth, day 180.
    """
    needs = {"replace_at_least_every": "60 day", "discard_after": "700 day"}
    elements = (SHEET, SHEET | {"name": "Sheet 30", "price": 30}, SPUN, SPUN | {"name": "Spun 8", "price": 8})
    found = planned(sheet_tub(*elements, needs=needs), option=option)
    assert found.break_even is not None
    assert found.break_even.day == day
    rinsed = found.break_even.rinses
    assert rinsed
    assert plan_words.break_even(found).startswith(f"From day {day} on, after {rinsed} rinses, {words}")
    document: Any = plan_document(found)
    assert document["break_even"]["day"] == day
    assert document["break_even_words"] == plan_words.break_even(found)


def test_an_option_that_fails_has_its_break_even() -> None:
    """A coarse sheet of 12 lacks the view; against elements of 6 it costs as much from the second, less on day 120."""
    dull = SHEET | {"name": "Dull", "price": 12, "rating": "100 um"}
    data = sheet_tub(dull, SPUN, needs={"replace_at_least_every": "60 day", "see_through": "3 m"})
    assert planned(data).break_even is None
    found = planned(data, option="dull").break_even
    assert found is not None
    assert (found.reusable, found.reusable_is_cheapest, found.disposable, found.day) == ("Dull", False, "Spun", 120)


# Faults, names and the document


def test_faults(freezer: Comparison) -> None:
    """Each by its text."""
    study = freezer.study

    def told(**how: Any) -> str:
        with pytest.raises(InputError) as caught:
            plan(how.pop("of", study), answer=freezer, today=how.pop("today", FIRST_DAY), **how)
        (fault,) = caught.value.faults
        return fault

    assert told(draws=100) == "draws: must be a power of two from 16 to 4096, got 100"
    assert told(draws=0) == "draws: must be a power of two from 16 to 4096, got 0"
    assert told(option="pleated-21") == "option: no option has the id or name 'pleated-21'; the nearest is 'pleated-20'"
    assert told(today=date(1492, 10, 12)) == "today: must be 1900-01-01 to 2999-12-31, got 1492-10-12"
    for since in ("2027-03-02", "1950-01-01"):
        later = study_of(demo_data("freezer") | {"in_use": {"option": "pleated-20", "since": since}})
        fault = told(of=later, option="pleated-20")
        assert fault == f"[in_use] since: must lie in the 50 years before 2027-03-01, got {since}"


def test_no_option_meets_the_needs() -> None:
    """That is an answer, and so is an option that has nothing to plan with."""
    data = sheet_tub(needs={"turnovers_per_hour": 90})
    with pytest.raises(NoAnswerError, match="No option meets your needs"):
        planned(data)
    with pytest.raises(NoAnswerError, match="nothing to plan with Sheet: even clean it lacks the flow"):
        planned(data, option="sheet")


def test_an_option_that_fails_can_be_planned_with() -> None:
    """Dull water is no reason not to rinse; a note says that it does not do."""
    found = planned(sheet_tub(needs={"see_through": "70 m"}), option="sheet")
    assert "Sheet does not meet your needs" in " ".join(plan_words.notes(found))


@pytest.mark.parametrize("name", ["electricity", "housing", "{0} %s <b>", "water", '"; --', "\u6ee4\u82af"])
def test_any_name_is_text(name: str) -> None:
    """Names that look like something else pass through words and document as they are."""
    found = planned(sheet_tub(SHEET | {"name": name}, tub={"uses_by_month": HALF}))
    assert any(name in line for line in plan_words.first_year(found))
    document: Any = plan_document(found)
    assert any(event["item"] == name and event["what"] == "rinse" for event in document["events"])
    assert found.total.undiscounted == sum(round(100 * event.amount) for event in found.events) / 100
    assert all(plan_words.shopping(found))


def test_the_document_carries_the_same(answer_of: Callable[[str], Comparison]) -> None:
    """Events, sums and the gap of the plan, days as ISO 8601."""
    answer = answer_of("quay")
    found = plan(answer.study, answer=answer, today=FIRST_DAY, draws=16)
    document: Any = plan_document(found)
    assert document["horizon_total"]["undiscounted"] == found.total.undiscounted
    assert sum(round(100 * e["amount"]) for e in document["events"]) == round(100 * (found.total.undiscounted or 0.0))
    assert [date.fromisoformat(e["date"]) for e in document["events"]] == [e.date for e in found.events]
    assert document["sums_by_year"] == found.by_year
    assert sum(document["gap_per_year"].values()) == pytest.approx(2 * found.gap.average)
    assert answer.advised is not None
    assert document["break_even"]["reusable"] == answer.advised.name
    assert found.table().shape == (len(found.events), 8)
    assert f"{answer.advised.name} on {answer.advised.pump}, from Mon 1 Mar 2027" in plan_words.headline(found)


def test_compare_is_unmoved_by_seasons(freezer: Comparison) -> None:
    """Months and weekdays move the plan's days alone."""
    data = demo_data("freezer")
    data["tub"] |= {"uses_by_month": HALF, "uses_by_weekday": [1, 1, 1, 1, 1, 2, 2]}
    data["options"] = data["options"][:3]
    plain = demo_data("freezer") | {"options": data["options"]}
    ours, theirs = compare(study_of(data)), compare(study_of(plain))
    assert [option.cost_per_year for option in ours.options] == [option.cost_per_year for option in theirs.options]
    assert isinstance(freezer.study.options[0], Option)


def test_the_owners_time_by_hand(freezer: Comparison) -> None:
    """Minutes of each rinse and soak, times how often a year has them."""
    data, option = demo_data("freezer"), freezer.option("pleated-10")
    (stage,) = option.stages
    next(row for row in data["elements"] if row["name"] == stage.element).update(rinse_minutes=12, soak_minutes=30)
    minutes = 12.0 * (stage.rinses_per_year or 0.0) + 30.0 * (stage.soaks_per_year or 0.0)
    assert minutes > 100.0
    assert own_hours_per_year(study_of(data), option) == pytest.approx(minutes / 60.0)
