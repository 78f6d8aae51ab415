"""Visits gathered on few days: no wait is longer than a tub allows, no day more than needed, and all adds up."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations, pairwise
from math import exp, factorial, floor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from studies import Given, demo_with, short, study_of

from filtration.answers.ranking import compare
from filtration.loading.assembly import entry_by_id
from filtration.plan.by_calendar import central_services
from filtration.plan.dated_plan import plan
from filtration.plan.fleet import Fleet, budget
from filtration.plan.fleet_rows import FleetRow
from filtration.plan.gathering import Chore, days_of, each_alone, gathered
from filtration.plan.spending import Stocked
from filtration.plan.standard import _standard
from filtration.plan.tub_budget import Choice
from filtration.plan.upkeep import KINDS_OF_COST, YEAR_DAYS
from filtration.plan.year_ahead import month_of
from filtration.present.fleet_tables import fewer_kinds
from filtration.service.pace import EVEN
from filtration.service.visits import Past, Services
from filtration.study.values import Element

FIRST_DAY = date(2026, 3, 1)
FEW = ("Spun 20", "Pleated 10", "Pleated 20", "Foam then pleated 20")
NAMES = (
    "Quayside", "Boathouse", "North pier", "South pier", "Garden", "Slipway", "Lantern", "Guest", "Barrel one",
    "Barrel two", "Lighthouse", "Winter",
)  # fmt: skip


# ---- days -------------------------------------------------------------------------------------------------------


def fewest_days(waits: list[int], days: int) -> int:
    """Return the fewest days on which everything can be done, all sets of days tried."""
    for number in range(days):
        for some in combinations(range(1, days), number):
            if max(after - before for before, after in pairwise([0, *some, days])) <= min(waits):
                return number
    raise AssertionError


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(2, 9), min_size=1, max_size=4), st.integers(3, 13))
def test_no_schedule_has_fewer_days(waits: list[int], days: int) -> None:
    """Against all sets of days: everything is done on each of them, no wait is longer than the shortest allows."""
    chores = [Chore(waits_days=(float(wait),), whole=(True,)) for wait in waits]
    assert len(days_of(gathered(chores, days))) == fewest_days(waits, days)


@st.composite
def chores(draw: st.DrawFn) -> Chore:
    """Draw something that is done again and again."""
    waits = draw(st.lists(st.floats(1.0, 40.0), min_size=1, max_size=5).map(lambda each: sorted(each, reverse=True)))
    whole = [draw(st.booleans()) for _ in waits[:-1]]
    return Chore(
        waits_days=tuple(waits),
        whole=(*whole, True),
        start_day=-draw(st.floats(0.0, 0.9)) * waits[0],
        repeats=draw(st.booleans()),
    )


@settings(max_examples=40, deadline=None)
@given(st.lists(chores(), min_size=1, max_size=4))
def test_no_wait_is_longer_than_allowed(some: list[Chore]) -> None:
    """Whoever shares the days; and nothing is done sooner than the days ask for."""
    together = gathered(some, 60)
    visits = days_of(together)
    for chore, done in zip(some, together, strict=True):
        times = [chore.start_day, *(served.time for served in done)]
        for (before, after), served in zip(pairwise(times), done, strict=True):
            assert after - before <= chore.waits_days[served.number] + 1e-9
            later = [day for day in visits if day > served.day]
            if later:  # it could not have waited for the next visit
                assert floor(before + chore.waits_days[served.number]) < later[0]


def test_an_early_rinse_counts_in_part() -> None:
    """Three runs of 10 days, rinsed every 5: five rinses before the third run is over, and a new element then."""
    rinsed, daily = Chore(waits_days=(10.0, 10.0, 10.0), whole=(False, False, True), repeats=True), (5.0,)
    done, _ = gathered([rinsed, Chore(waits_days=daily, whole=(True,))], 31)
    assert [served.day for served in done] == [10, 20, 30]  # each could wait for the day it is due
    done, _ = gathered([rinsed, Chore(waits_days=(7.0,), whole=(True,))], 29)
    # on days 7, 14, 21, 28: 0.7, then 1.4 runs behind, so that the third run is under way, and its end makes all new
    assert [(served.day, served.number) for served in done] == [(7, 0), (14, 1), (21, 2), (28, 0)]


# ---- a club -----------------------------------------------------------------------------------------------------


def twelve() -> Iterator[tuple[str, Given]]:
    for place, name in enumerate(NAMES):
        data = demo_with(("freezer", "barrel", "quay")[place % 3], *FEW)
        data["elements"] = [row | {"lead_time": "10 day"} for row in data["elements"]]
        yield name, data | {"name": name, "tub": data["tub"] | {"uses_per_day": 2 + place}}


@pytest.fixture(scope="module")
def club() -> Fleet:
    rows = [FleetRow(where=f"{name}.toml", tables=data) for name, data in twelve()]
    return budget(rows, draws=16, today=FIRST_DAY)


def test_the_budget_adds_up_to_a_cent(club: Fleet) -> None:
    """Over tubs, over what it goes into, over months, and over elements bought."""
    year = club.year
    (total,) = year.total.values()
    cents = round(100.0 * total)
    assert all(line.amount == round(line.amount, 2) for line in year.lines)
    assert sum(round(100.0 * line.amount) for line in year.lines) == cents
    for key in (lambda line: str(line.tub), lambda line: line.kind, lambda line: month_of(line.date)):
        assert sum(round(100.0 * amount) for amount in year.money(key)["EUR"].values()) == cents
    kinds = year.money(lambda line: line.kind)["EUR"]
    assert set(kinds) <= set(KINDS_OF_COST)
    bought = sum(round(100.0 * line.amount) for line in year.shopping)
    assert bought == round(100.0 * (kinds["cartridges"] + kinds["spares"]))
    assert list(year.money(lambda line: month_of(line.date))["EUR"]) <= year.months
    assert len(year.months) == 12


def test_whole_elements_with_the_spares_of_one_shelf(club: Fleet) -> None:
    """What is fitted first and at each replacement, and what lasts ten days in 95 of 100 (Poisson, 1837)."""
    year, rates = club.year, {tub.name: tub.elements for tub in club.covered}
    for line in year.shopping:
        lines = [each for each in year.lines if each.item == line.element and each.tub in line.tubs]
        assert line.used == sum(each.count for each in lines if each.what == "buy")
        assert line.count == line.used + line.spares
        assert line.lead_time_days == 10.0
        assert line.amount == pytest.approx(line.count * line.price)
        mean = sum(rates[tub][line.element].central for tub in line.tubs) * 10.0 / 365.25
        lasts = [exp(-mean) * sum(mean**k / factorial(k) for k in range(kept + 1)) for kept in range(line.spares + 1)]
        if "Winter" not in line.tubs:  # whose two housings are served together
            assert [chance >= 0.95 for chance in lasts] == [False] * line.spares + [True]
    assert sum(line.spares for line in year.shopping) > 0


def test_fewer_kinds_by_hand() -> None:
    """North could take what South does for 3 a year more; a shelf of one kind holds 3 spares instead of 2 and 2.

    Half an element wanted while a delivery comes: 0, 1 or 2 in 98.6 of 100; of one wanted, up to 3 in 98.1 (Poisson).
    """
    (element,) = study_of(short()).elements.values()
    fine, coarse = replace(element, name="Fine", price=18.0), replace(element, name="Coarse", price=20.0)

    def choice(one: Element, cost: float) -> Choice:
        return Choice(name=one.name, cost_per_year=cost, stock=(Stocked(element=one, sets=1, demand=0.5),))

    found = _standard("EUR", {"North": (choice(fine, 100.0), choice(coarse, 103.0)), "South": (choice(coarse, 50.0),)})
    assert found is not None
    assert [thing.name for thing in found.before] == ["Coarse", "Fine"]
    assert [thing.name for thing in found.after] == ["Coarse"]
    (change,) = found.changes
    assert (change.tub, change.before, change.after, change.more_per_year) == ("North", "Fine", "Coarse", 3.0)
    assert (found.spares_before, found.spares_after, found.stock_saved) == (4, 3, 2 * 18.0 + 2 * 20.0 - 3 * 20.0)
    told = fewer_kinds(found)
    assert all(
        part in told for part in ("North takes Coarse instead of Fine", "EUR 3.00 a year more", "3 instead of 4")
    )
    assert _standard("EUR", {"North": (choice(fine, 100.0),), "South": (choice(coarse, 50.0),)}) is None


def test_the_schedule_holds_every_tubs_limit(club: Fleet) -> None:
    """Times between services and ages as the owner set them, and fewer days than each alone."""
    year, studies = club.year, {name: study_of(data) for name, data in twelve()}
    assert 0 < len(year.visits) < len(year.alone)
    visits = {month: sum(month_of(visit.date) == month for visit in year.visits) for month in year.months}
    assert {month: of for month, (of, _) in year.visits_by_month.items()} == visits
    for tub in club.covered:
        needs, element = studies[tub.name].needs, studies[tub.name].elements
        done = [(visit.date, whats) for visit in year.visits for name, whats in visit.done if name == tub.name]
        days = [(day - FIRST_DAY).days for day, whats in done if {what for what, _ in whats} != {"change water"}]
        changes = [(day - FIRST_DAY).days for day, whats in done if ("change water", "water") in whats]
        assert max(np.diff([0, *changes, YEAR_DAYS])) <= studies[tub.name].tub.water_life_days + 1
        if any(element[name].rinseable for name in tub.elements):
            assert max(np.diff([0, *days, YEAR_DAYS])) <= needs.rinse_limit_days + 1
        for name in tub.elements:
            new = [(day - FIRST_DAY).days for day, whats in done if ("replace", name) in whats]
            (oldest,) = needs.oldest_days([element[name].rinseable])
            assert max(np.diff([0, *new, YEAR_DAYS])) <= oldest + 1


@pytest.mark.parametrize("name", ["Boathouse", "South pier"])
def test_the_flow_lasts_to_every_visit(club: Fleet, name: str) -> None:
    """The deposit itself, walked with the schedule's services: the run after each lasts to the next visit at least."""
    data = dict(twelve())[name]
    study = study_of(data)
    advised = compare(study).advised
    assert advised is not None
    (tub,) = (tub for tub in club.covered if tub.name == name)
    assert tub.upkeep is not None
    kept = [tub for tub in club.covered if tub.upkeep]
    chores = [chore for each in kept for chore in (each.upkeep.chores if each.upkeep else ())]
    at = sum(len(each.upkeep.chores) for each in kept[: kept.index(tub)] if each.upkeep)
    served = gathered(chores, YEAR_DAYS)[at]
    times = np.array([each.time for each in served])
    assert np.diff(times).min() < np.diff(times).max()  # some do come early
    done = tub.upkeep.done[[each.number for each in served]][..., None]
    none = np.zeros((len(times), 1))
    walked = Services(
        day=times[:, None],
        length_days=np.diff(times, prepend=0.0)[:, None],
        done=done,
        counted=none == 0.0,
        cut=none > 0.0,
        used_days=none,
        extra_cake_kg=none,
        renewed=np.zeros(1, dtype=bool),
        shortest_days=np.zeros(1),
    )
    for number in range(1, len(times) - 1, 5):
        past = Past(now=float(times[number - 1]), number=number, services=walked)
        found = central_services(study, entry_by_id(study, advised.id), advised, EVEN, times[number] + 1.0, past)
        assert found.day[number, 0] >= times[number] - 0.01


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"in_use": {"option": "pleated-10", "since": "2025-12-20"}},
        {"uses_by_month": [6, 6, 6, 5, 4, 2, 1, 1, 3, 5, 6, 6]},
    ],
    ids=["new", "in use", "uneven"],
)
def test_a_tub_alone_keeps_to_its_own_plan(more: Given) -> None:
    """Nobody to share a day with: each service, purchase and amount is that of ``plan``."""
    data = demo_with("freezer", *FEW)
    data["tub"] |= {key: value for key, value in more.items() if key == "uses_by_month"}
    data |= {key: value for key, value in more.items() if key == "in_use"}
    fleet = budget([FleetRow(where="a", tables=data)], draws=0, today=FIRST_DAY)
    upkeep = fleet.tubs[0].upkeep
    assert upkeep is not None
    lines = upkeep.lines("a", *each_alone(upkeep.chores, YEAR_DAYS))
    planned = plan(study_of(data), today=FIRST_DAY, draws=16)
    last = FIRST_DAY + timedelta(days=YEAR_DAYS - 1)
    meters = ("electricity", "disinfectant")
    expected = [each for each in planned.events if each.date <= last and each.item not in meters]
    mine = [line for line in lines if line.item not in meters]
    assert sorted((line.date, line.what, line.item, line.count) for line in mine) == sorted(
        (each.date, each.what, each.item, each.count) for each in expected
    )
    assert sum(line.amount for line in mine) == pytest.approx(sum(each.amount for each in expected), abs=0.011)
    power = sum(line.count for line in lines if line.item == "electricity")
    assert power == pytest.approx(next(each.count for each in planned.events if each.item == "electricity"))
    assert len(fleet.year.alone) == len({each.date for each in expected if each.what != "buy"})
    assert len(fleet.year.visits) <= len(fleet.year.alone)


def test_hours_are_those_of_what_is_done(club: Fleet) -> None:
    """Minutes of each rinse and soak, by hand."""
    (name, data) = next(twelve())
    element = study_of(data).elements
    lines = [line for line in club.year.lines if line.tub == name]
    minutes = {"rinse": "rinse_minutes", "soak": "soak_minutes"}
    by_hand = sum(
        line.count * getattr(element[line.item], minutes[line.what]) / 60.0 for line in lines if line.what in minutes
    )
    assert sum(line.hours for line in lines) == pytest.approx(by_hand)
    everything = sum(club.year.hours_by_month.values())
    assert everything == pytest.approx(sum(line.hours for line in club.year.lines))
    assert everything == pytest.approx(sum(visit.hours for visit in club.year.visits))


def test_a_shorter_limit_is_held(club: Fleet) -> None:
    """The most demanding tub sets the pace: with a limit of five days there are as many visits as it needs alone."""
    rows = [FleetRow(where=name, tables=data) for name, data in twelve()][:3]
    tables = dict(rows[0].tables or {})
    rows[0] = replace(rows[0], tables=tables | {"needs": tables["needs"] | {"rinse_at_least_every": "5 day"}})
    year = budget(rows, draws=0, today=FIRST_DAY).year
    assert len(year.visits) == (YEAR_DAYS - 1) // 5
    assert len(year.visits) < len(year.alone)
    assert len(club.year.visits) < len(year.visits)
