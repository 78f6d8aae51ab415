"""Fewer kinds of cartridge for many tubs: what it costs and saves to take one that several call as good."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from filtration.plan.spending import Stocked, spares_of
from filtration.plan.tub_budget import Choice, TubBudget
from filtration.study.values import Element

Kind = tuple[Element, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A tub that would take another option, as good by the cases that decide: names, and what a year costs more."""

    tub: str
    before: str
    after: str
    more_per_year: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """The fewest kinds of cartridge that every tub calls the one to take, or as good.

    Parameters
    ----------
    currency : str
        Of the tubs it is for, and of its amounts.
    before, after : tuple of Element
        What to keep in stock as advised tub by tub, and with this.
    changes : tuple of Change
        Tubs that take another one than advised.
    spares_before, spares_after : int
        Spares to keep for the time a delivery takes.
    stock_saved : float
        What those cost less, once.
    """

    currency: str
    before: tuple[Element, ...]
    after: tuple[Element, ...]
    changes: tuple[Change, ...]
    spares_before: int
    spares_after: int
    stock_saved: float

    @property
    def more_per_year(self) -> float:
        """What all changes together cost more a year."""
        return sum(change.more_per_year for change in self.changes)


def standards_of(tubs: Sequence[tuple[str, TubBudget]]) -> list[Standard]:
    """Return how tubs, each with what it is called, could do with fewer kinds: for each currency where they could."""
    by_currency: dict[str, dict[str, tuple[Choice, ...]]] = defaultdict(dict)
    for name, tub in tubs:
        if tub.choices:
            by_currency[tub.currency][name] = tub.choices
    found = (_standard(currency, choices) for currency, choices in by_currency.items())
    return [each for each in found if each is not None]


def _standard(currency: str, choices: Mapping[str, tuple[Choice, ...]]) -> Standard | None:
    """Return the fewest kinds that cover all tubs, the widest taken first; None where that saves no kind."""
    advised = {name: some[0] for name, some in choices.items()}
    taken: dict[str, Choice] = {}
    while left := {name: some for name, some in choices.items() if name not in taken}:
        covers: dict[Kind, dict[str, Choice]] = defaultdict(dict)
        for name, some in left.items():
            for choice in some:
                covers[choice.things].setdefault(name, choice)
        widest: dict[str, Choice] = max(covers.values(), key=lambda each: (len(each), -_dearer(each, advised)))
        taken |= widest
    before, after = (_things(each) for each in (advised, taken))
    if len(after) >= len(before):
        return None
    stock = [[kept for choice in each.values() for kept in choice.stock] for each in (advised, taken)]
    (spares_before, cost_before), (spares_after, cost_after) = map(_shelf, stock)
    return Standard(
        currency=currency,
        before=before,
        after=after,
        changes=tuple(
            Change(
                tub=name,
                before=advised[name].name,
                after=choice.name,
                more_per_year=choice.cost_per_year - advised[name].cost_per_year,
            )
            for name, choice in sorted(taken.items())
            if choice is not advised[name]
        ),
        spares_before=spares_before,
        spares_after=spares_after,
        stock_saved=cost_before - cost_after,
    )


def _dearer(some: Mapping[str, Choice], advised: Mapping[str, Choice]) -> float:
    return sum(choice.cost_per_year - advised[name].cost_per_year for name, choice in some.items())


def _things(choices: Mapping[str, Choice]) -> tuple[Element, ...]:
    things = {thing for choice in choices.values() for thing in choice.things}
    return tuple(sorted(things, key=lambda thing: (thing.name, thing.price)))


def _shelf(stock: Sequence[Stocked]) -> tuple[int, float]:
    """Return how many spares one shelf holds for all, and what they cost."""
    kept: dict[Element, list[Stocked]] = defaultdict(list)
    for each in stock:
        kept[each.thing].append(each)
    spares = {thing: spares_of(some) for thing, some in kept.items()}
    return sum(spares.values()), sum(count * thing.price for thing, count in spares.items())
