"""The year ahead of two tubs whose cartridges last to the day that their owners set: 40 days and 60."""

from datetime import date, timedelta

import pytest
from plans import FIRST_DAY, SPUN, sheet_tub
from scipy.stats import poisson
from studies import Given, answered

from filtration import OptionAnswer
from filtration.plan.fleet import Fleet, budget
from filtration.plan.fleet_rows import FleetRow

POWER = 0.3


def tub(name: str, days: int, **more: Given) -> Given:
    """Return a tub whose water is never changed, with spun cartridges of 6, 50 cents for the bin and 1.5 a month."""
    prices = {"disposal_each": 0.5, "disinfectant_per_month": 1.5, "electricity_per_kwh": POWER, "horizon": "1 year"}
    spun = SPUN | {"lead_time": "20 day"}
    needs = {"replace_at_least_every": f"{days} day"}
    data = sheet_tub(spun, needs=needs, tub={"water_change_every": "never"}, prices=prices)
    return data | {"name": name} | more


@pytest.fixture(scope="module")
def two() -> Fleet:
    rows = [FleetRow(where=name, tables=tub(name, days)) for name, days in (("Slow", 60), ("Fast", 40))]
    return budget(rows, draws=0, today=FIRST_DAY)


def day(number: int) -> date:
    return FIRST_DAY + timedelta(days=number)


def test_visits_are_shared(two: Fleet) -> None:
    """Every 40 days for both, as the slow one cannot wait from day 40 to 80; apart on three days more."""
    year = two.year
    assert (year.first_day, year.last_day) == (FIRST_DAY, day(364))
    assert [visit.date for visit in year.visits] == [day(number) for number in range(40, 361, 40)]
    for visit in year.visits:
        assert visit.tubs == ("Slow", "Fast")
        assert {whats for _, whats in visit.done} == {(("replace", "Spun"),)}
        assert visit.hours == 0.0
    alone = sorted({*range(40, 361, 40), *range(60, 361, 60)})
    assert list(year.alone) == [day(number) for number in alone]
    assert (year.more_services, year.more_elements) == (3, 3)
    assert year.more_money == {"EUR": 3 * 6.5}


def test_what_a_year_comes_to(two: Fleet) -> None:
    """Two first fittings and nine replacements each; twelve months of disinfectant; power month by month."""
    year, money = two.year, two.year.money(lambda line: line.kind)["EUR"]
    (bought,) = year.shopping
    watt = float(tub("", 40)["pump"]["power"].split()[0])
    kwh = 2 * 24.0 * 365.25 * watt / 1000.0
    cooling = sum(answer_of(days).energy_kwh_per_year.cooling or 0.0 for days in (60, 40))
    equipment = 2 * 35.0
    assert money["cartridges"] == 2 * 10 * 6.0
    assert money["disposal"] == 2 * 9 * 0.5
    assert money["disinfectant"] == 2 * 18.0
    assert money["equipment"] == equipment
    assert money["spares"] == 6.0 * bought.spares
    assert money["electricity"] == pytest.approx(POWER * (kwh + cooling), abs=0.02)
    assert year.total["EUR"] == pytest.approx(sum(money.values()))
    assert year.months == [f"2027-{month:02}" for month in range(3, 13)] + ["2028-01", "2028-02"]
    power = [line for line in year.lines if line.item == "electricity" and line.tub == "Slow"]
    assert [line.date.isoformat()[5:] for line in power] == [
        "03-31", "04-30", "05-31", "06-30", "07-31", "08-31", "09-30", "10-31", "11-30", "12-31", "01-31", "02-28",
    ]  # fmt: skip
    assert power[1].count / power[0].count == pytest.approx(30.0 / 31.0)
    assert set(year.hours_by_month.values()) == {0.0}
    assert year.visits_by_month["2027-04"] == (1, 2)  # days 40 = 10 April, 60 = 30 April


def answer_of(days: int) -> OptionAnswer:
    return answered(tub("Tub", days)).options[0]


def test_one_shelf_for_both(two: Fleet) -> None:
    """A third and a half of a cartridge in 20 days: as many as last in 95 of 100, fewer than on two shelves."""
    (line,) = two.year.shopping
    assert (line.element, line.currency, line.price, line.tubs) == ("Spun", "EUR", 6.0, ("Slow", "Fast"))
    assert (line.used, line.lead_time_days) == (20, 20.0)
    assert line.spares == poisson.ppf(0.95, 20.0 / 60.0 + 20.0 / 40.0)
    assert line.spares_apart == poisson.ppf(0.95, 20.0 / 60.0) + poisson.ppf(0.95, 20.0 / 40.0)
    assert (line.count, line.amount) == (20 + line.spares, 6.0 * (20 + line.spares))


def test_the_budget_of_each(two: Fleet) -> None:
    """That of its own answer; what is used up is without power and pump."""
    for found, days in zip(two.tubs, (60, 40), strict=True):
        option = answer_of(days)
        cost = option.cost_per_year
        per_year = 365.25 / days
        assert (found.option, found.currency, found.meets_needs, found.faults) == ("Spun", "EUR", True, ())
        assert found.cost.central == pytest.approx(cost.total)
        assert found.elements["Spun"].central == pytest.approx(per_year, rel=1e-6)
        assert found.consumables.central == pytest.approx(per_year * 6.5 + 18.0, rel=1e-6)
        assert found.days.central == pytest.approx(days)
        assert (found.rinses_per_year, found.hours_per_year) == (0.0, 0.0)
        assert (found.cost.range, found.days.range) == (None, None)
        assert found.chance_of_meeting_needs == option.chance
        (choice,) = found.choices
        assert (choice.name, choice.cost_per_year) == ("Spun", pytest.approx(cost.total))
        assert choice.stock[0].demand == pytest.approx(20.0 / days, rel=1e-6)
    total = two.cost["EUR"].central
    assert total == pytest.approx(sum(found.cost.central for found in two.tubs))
    assert two.elements["Spun"].central == pytest.approx(365.25 / 60 + 365.25 / 40, rel=1e-6)
    assert (two.failed, two.without_option, len(two.covered)) == ((), (), 2)


def test_one_in_use_goes_on_from_where_it_is() -> None:
    """Fitted 25 days ago: the next comes 15 days on, nothing is bought on the first day."""
    since = (FIRST_DAY - timedelta(days=25)).isoformat()
    data = tub("Fast", 40, in_use={"option": "spun", "since": since})
    year = budget([FleetRow(where="a", tables=data)], draws=0, today=FIRST_DAY).year
    assert [visit.date for visit in year.visits if ("replace", "Spun") in visit.done[0][1]] == [
        day(number) for number in range(15, 365, 40)
    ]
    first = [line for line in year.lines if line.date == FIRST_DAY and line.what == "buy"]
    assert [line.item for line in first] == []
    assert year.shopping[0].used == 9
