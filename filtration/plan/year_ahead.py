"""The year ahead of many tubs: who comes on which day, hours, what is bought together, and what it all comes to."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import TYPE_CHECKING

from filtration.base.arrays import totals
from filtration.plan.dated import summed
from filtration.plan.gathering import Served, days_of, each_alone, gathered
from filtration.plan.spending import Stocked, spares_of
from filtration.plan.tub_budget import TubBudget
from filtration.plan.upkeep import YEAR_DAYS, Line, Upkeep, days_of_year

if TYPE_CHECKING:
    from filtration.study.values import Element

_Kept = tuple[str, TubBudget, Upkeep]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitDay:
    """One day on which somebody comes: what is done, by tub, as (what, item); and the hours it takes."""

    date: date
    done: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    hours: float

    @property
    def tubs(self) -> tuple[str, ...]:
        """Which tubs are seen to."""
        return tuple(tub for tub, _ in self.done)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """One line of the shopping list: an element at a price, for all tubs together.

    Parameters
    ----------
    element, currency, price : str, str, float
        What to buy, and what one costs.
    tubs : tuple of str
        Which take it.
    used, spares : int
        Pieces that the year takes, the first fitting included, and those kept for the time a delivery takes.
    amount : float
        What all of them cost, in whole cents.
    lead_time_days : float or None
        As told; None where no tub says.
    spares_apart : int
        Spares that each tub would keep for itself.
    """

    element: str
    currency: str
    price: float
    tubs: tuple[str, ...]
    used: int
    spares: int
    amount: float
    lead_time_days: float | None
    spares_apart: int

    @property
    def count(self) -> int:
        """Pieces to buy in the year."""
        return self.used + self.spares


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Year:
    """The year ahead of many tubs.

    Parameters
    ----------
    first_day, last_day : date
        The year.
    lines : tuple of Line
        All that is done and paid, tub by tub, spares for all last; amounts in whole cents.
    visits : tuple of VisitDay
        In order.
    alone : tuple of date
        Days on which somebody would come if each tub kept to its own plan.
    shopping : tuple of Bought
        Elements in the order of their names.
    more_services : int
        Services more than if each tub kept to its own plan.
    more_elements : int
        Elements more.
    more_money : dict of str to float
        Money more by currency, in whole cents.
    """

    first_day: date
    last_day: date
    lines: tuple[Line, ...]
    visits: tuple[VisitDay, ...]
    alone: tuple[date, ...]
    shopping: tuple[Bought, ...]
    more_services: int
    more_elements: int
    more_money: dict[str, float]

    @property
    def months(self) -> list[str]:
        """The calendar's months it touches, as "2026-03"."""
        return list(dict.fromkeys(map(month_of, days_of_year(self.first_day))))

    @property
    def hours_by_month(self) -> dict[str, float]:
        """Own time by month [h]."""
        return dict.fromkeys(self.months, 0.0) | totals((month_of(line.date), line.hours) for line in self.lines)

    @property
    def visits_by_month(self) -> dict[str, tuple[int, int]]:
        """Days on which somebody comes by month: as gathered, and if each tub kept to its own plan."""
        days = [[month_of(visit.date) for visit in self.visits], [month_of(day) for day in self.alone]]
        return {month: (days[0].count(month), days[1].count(month)) for month in self.months}

    def money(self, key: Callable[[Line], str]) -> dict[str, dict[str, float]]:
        """Return what is paid, in whole cents, by currency and by what a key says of each line."""
        found: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
        for line in self.lines:
            found[line.currency][key(line)].append(line.amount)
        return {currency: {name: summed(amounts) for name, amounts in rows.items()} for currency, rows in found.items()}

    @property
    def total(self) -> dict[str, float]:
        """All that is paid, by currency."""
        return {currency: rows["total"] for currency, rows in self.money(lambda _line: "total").items()}


def month_of(day: date) -> str:
    """Return the month of a day, as "2026-03"."""
    return day.isoformat()[: len("2026-03")]


def year_of(tubs: Sequence[tuple[str, TubBudget]], first_day: date) -> Year:
    """Return the year ahead of tubs that have an option, each with what it is called."""
    kept = [(name, tub, tub.upkeep) for name, tub in tubs if tub.upkeep is not None]
    chores = [chore for _, _, upkeep in kept for chore in upkeep.chores]
    apart = list(each_alone(chores, YEAR_DAYS))
    together = min((gathered(chores, YEAR_DAYS), apart), key=lambda done: len(days_of(done)))
    year, lines = days_of_year(first_day), list(_lines(kept, together))
    (paid, replaced), (paid_apart, replaced_apart) = _sums(lines), _sums(_lines(kept, apart))
    visits: dict[int, dict[str, list[tuple[str, str]]]] = defaultdict(lambda: defaultdict(list))
    for name, upkeep, (services, *changes) in _served(kept, together):
        for served in services:
            visits[served.day][name] += upkeep.whats(served.number)
        for served in chain(*changes):
            visits[served.day][name].append(("change water", "water"))
    shopping = _shopping([(name, tub) for name, tub, _ in kept], lines)
    spares = [
        Line(
            date=first_day,
            tub=None,
            kind="spares",
            what="keep",
            item=each.element,
            count=each.spares,
            amount=summed([each.spares * each.price]),
            currency=each.currency,
        )
        for each in shopping
        if each.spares
    ]
    hours = totals((line.date, line.hours) for line in lines)
    return Year(
        first_day=first_day,
        last_day=year[-1],
        lines=(*lines, *spares),
        visits=tuple(
            VisitDay(
                date=(on := year[day]),
                done=tuple((name, tuple(whats)) for name, whats in visits[day].items()),
                hours=hours.get(on, 0.0),
            )
            for day in sorted(visits)
        ),
        alone=tuple(year[day] for day in days_of(apart)),
        shopping=shopping,
        more_services=sum(map(len, together)) - sum(map(len, apart)),
        more_elements=replaced - replaced_apart,
        more_money={currency: summed([amount, -paid_apart[currency]]) for currency, amount in paid.items()},
    )


def _served(kept: Sequence[_Kept], done: Sequence[list[Served]]) -> Iterator[tuple[str, Upkeep, list[list[Served]]]]:
    """Yield each tub with when each of its chores is done."""
    each = iter(done)
    for name, _, upkeep in kept:
        yield name, upkeep, [next(each) for _ in upkeep.chores]


def _lines(kept: Sequence[_Kept], done: Sequence[list[Served]]) -> Iterator[Line]:
    """Yield all that is done and paid, tub by tub."""
    for name, upkeep, (services, *changes) in _served(kept, done):
        yield from upkeep.lines(name, services, *changes)


def _sums(lines: Iterable[Line]) -> tuple[dict[str, float], int]:
    """Return what lines come to by currency, and the elements replaced; one line at a time."""
    paid, replaced = defaultdict[str, float](float), 0.0
    for line in lines:
        paid[line.currency] += line.amount
        replaced += line.count if line.what == "replace" else 0.0
    return paid, round(replaced)


def _shopping(kept: Sequence[tuple[str, TubBudget]], lines: Sequence[Line]) -> tuple[Bought, ...]:
    """Return what all tubs buy of each element at each price, with the spares one shelf needs for all of them."""
    takers: dict[tuple[str, Element], list[tuple[str, Stocked]]] = defaultdict(list)
    for name, tub in kept:
        for each in tub.choices[0].stock:
            takers[tub.currency, each.thing].append((name, each))
    bought: dict[tuple[str | None, str], list[Line]] = defaultdict(list)
    for line in lines:
        if line.kind == "cartridges":
            bought[line.tub, line.item].append(line)
    found = []
    for (currency, thing), some in sorted(takers.items(), key=lambda each: (each[0][1].name, each[0][1].price)):
        spares, stock = spares_of(each for _, each in some), [each for _, each in some]
        own = [line for name, _ in some for line in bought[name, thing.name]]
        leads = [lead for each in stock if (lead := each.element.lead_time_days) is not None]
        found.append(
            Bought(
                element=thing.name,
                currency=currency,
                price=thing.price,
                tubs=tuple(name for name, _ in some),
                used=round(sum(line.count for line in own)),
                spares=spares,
                amount=summed([*(line.amount for line in own), spares * thing.price]),
                lead_time_days=max(leads, default=None),
                spares_apart=sum(spares_of([each]) for each in stock),
            )
        )
    return tuple(found)
