"""What an owner takes away: answer and plan together, with what was done, and the lines of what is bought."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

import pytest
from owners import START, row, study_in_use
from plans import FIRST_DAY, SHEET, SPUN, planned, sheet_tub
from studies import Given, study_of

from filtration.plan.dated_plan import plan
from filtration.plan.outcome import Outcome, numbered, outcome_of, services_done
from filtration.readings.reading import Reading

TOLD = list[tuple[float, str]]


def taken_away(data: Given, rows: Sequence[Reading] | None = None, told: TOLD | None = None) -> Outcome:
    tell = None if told is None else partial(_noted, told)
    return outcome_of(study_of(data), option=None, today=FIRST_DAY, rows=rows, progress=tell)


def _noted(told: TOLD, share: float, what: str) -> None:
    told.append((share, what))


def rising(told: TOLD) -> None:
    """Assert that what is told goes from nothing to all of it, and never back."""
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] < 0.5 < shares[-1] == 1.0


def test_what_is_being_done_is_told() -> None:
    data, told = sheet_tub(prices={"horizon": "1 year"}), TOLD()
    found = taken_away(data, told=told)
    rising(told)
    assert list(dict.fromkeys(what for _, what in told if what != "drawing what is not known exactly")) == [
        "putting options and pumps together",
        "loading the cartridges, and stringing runs together",
        "adding up",
        "looking at warmer water",
        "done",
        "planning by the calendar",
    ]
    assert found.answer is found.compared
    assert (found.why, found.rows) == ("", ())
    assert found.planned.first_day == FIRST_DAY


def test_what_is_bought_by_hand() -> None:
    """Over a year: sheets as often as they are new, a cleaner a soak, twelve months of disinfectant, pump and housing.

    Nothing but elements is kept in store.
    """
    soaked = SHEET | {"soak_every_rinses": 1, "soak_price": 2.5, "lead_time": "9 day", "suppliers": 2}
    prices = {"horizon": "1 year", "disinfectant_per_month": 1.5, "electricity_per_kwh": 0.0}
    found = planned(sheet_tub(soaked, prices=prices, pump=study_pump(price=80)))
    soaks = sum(event.what == "soak" for event in found.events)
    sheets = [event for event in found.events if event.what == "buy" and event.item == "Sheet"]
    sheet, cleaner, pump, housing, disinfectant = found.shopping
    assert soaks > 3
    assert (sheet.item, sheet.what, sheet.count, sheet.amount) == ("Sheet", "element", len(sheets), 20.0 * len(sheets))
    assert (sheet.lead_time_days, sheet.suppliers, sheet.swap) == (9.0, 2, 1)
    assert sheet.stock_amount == 20.0 * (sheet.spares + 1)
    assert sheet.next_needed == next((event.earliest for event in sheets[1:]), None)
    assert (cleaner.item, cleaner.what, cleaner.count, cleaner.amount) == ("Sheet", "cleaner", soaks, 2.5 * soaks)
    assert (pump.what, pump.count, pump.amount) == ("equipment", 1, 80.0)
    assert (housing.item, housing.what, housing.count, housing.amount) == ("housing", "equipment", 1, 35.0)
    assert (disinfectant.item, disinfectant.what) == ("disinfectant", "disinfectant")
    assert (disinfectant.count, disinfectant.amount) == (pytest.approx(12.0), 18.0)
    for line in (cleaner, pump, housing, disinfectant):
        nothing = (line.next_needed, line.order_by, line.spares, line.swap, line.stock_amount)
        assert nothing == (None, None, 0, 0, 0.0)
        assert (line.lead_time_days, line.suppliers) == (None, None)


def study_pump(**more: object) -> Given:
    return sheet_tub()["pump"] | more


def test_what_was_done_is_what_was_written_down() -> None:
    """Since the first fitting: a soak counts as its rinse too, what was fitted was bought; the plan counts on."""
    rows = [row(12.0, "rinse"), row(24.0, "soak"), row(30.0, "replace"), row(41.0, "rinse"), row(53.0, "rinse")]
    study, today = study_in_use(), START.date() + timedelta(days=60)
    told = TOLD()
    found = outcome_of(study, option=None, today=today, rows=rows, progress=partial(_noted, told))
    rising(told)
    done = services_done(found.planned, found.compared, rows)
    name = "Pleated 20"
    assert {what: done[what, name] for what in ("rinse", "soak", "replace", "buy")} == {
        "rinse": 4, "soak": 1, "replace": 1, "buy": 2,
    }  # fmt: skip
    assert next(number for event, number in numbered(found.planned, done) if event.what == "rinse") == 5
    assert found.planned.fitted_on == date(2026, 1, 31)
    assert found.rows == rows
    assert found.answer is not found.compared


def test_what_was_not_written_down_was_done_when_due() -> None:
    """A spun element of 60 days, in use for 130: replaced twice, and bought three times with the first."""
    data = sheet_tub(SPUN, needs={"replace_at_least_every": "60 day"}, prices={"horizon": "1 year"})
    data["in_use"] = {"option": "spun", "since": (FIRST_DAY - timedelta(days=130)).isoformat()}
    found = taken_away(data)
    done = services_done(found.planned, found.compared)
    assert (done["replace", "Spun"], done["buy", "Spun"]) == (2, 3)
    third = next(event for event in found.planned.events if event.what == "replace")
    assert third.day == 50
    assert numbered(found.planned, done)[found.planned.events.index(third)] == (third, 3)
    new = taken_away(data | {"in_use": {"option": "spun", "since": FIRST_DAY.isoformat()}})
    assert not services_done(new.planned, new.compared)


def test_a_plan_of_another_day_has_the_same_days() -> None:
    """Fitted and begun a hundred days later: all of it is so much later, and costs the same."""
    later, plans = timedelta(days=100), []
    for first in (FIRST_DAY, FIRST_DAY + later):
        data = sheet_tub(prices={"horizon": "1 year"})
        data["in_use"] = {"option": "sheet", "since": (first - timedelta(days=25)).isoformat()}
        plans.append(plan(study_of(data), today=first, draws=16))
    one, other = plans
    for event, there in zip(one.events, other.events, strict=True):
        latest = None if event.latest is None else event.latest + later
        assert there == replace(event, date=event.date + later, earliest=event.earliest + later, latest=latest)
    assert (one.total, one.gap) == (other.total, other.gap)
    assert [each.kind for each in one.notes] == [each.kind for each in other.notes]
    assert other.last_day - other.first_day == one.last_day - one.first_day == timedelta(days=365)
