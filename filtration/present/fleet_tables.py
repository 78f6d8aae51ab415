"""A budget and a schedule over many tubs, in words and as tables of text."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from filtration.base.arrays import totals
from filtration.base.errors import joined
from filtration.plan.fleet import Fleet
from filtration.plan.standard import Standard
from filtration.plan.tub_budget import Ranged, TubBudget
from filtration.plan.upkeep import KINDS_OF_COST
from filtration.plan.year_ahead import VisitDay, month_of
from filtration.present.display import METRIC
from filtration.present.words.answer import reason_in_words
from filtration.present.words.in_units import US, converted
from filtration.present.words.odds import of_twenty
from filtration.present.words.phrases import at_service, capital, cents, counted, day, number, whole_days
from filtration.present.words.sentences import single

FOR_ALL = "kept for all"
"""What spares are called that no tub owns."""

FILES = single("fleet_files")
"""What a page offers to export, by the file's ending."""

_SAID = single("fleet")
CONSUMABLES = _SAID["consumables"]
"""What elements, cleaner, water, disinfectant and disposal are called together."""
_DONE = single("at_a_visit")
_NEXT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A table of text: heading, names of its columns, which of them are words, rows, and lines to say below it."""

    heading: str = ""
    columns: Sequence[str] = ()
    words: Sequence[int] = (0,)
    rows: Sequence[Sequence[str]] = ()
    lines: Sequence[str] = ()


def headline(fleet: Fleet) -> list[str]:
    """Return how many tubs there are, how many the totals hold, and which they leave out, one line each."""
    tubs, none = len(fleet.covered) + len(fleet.without_option), fleet.without_option
    lines = [f"{counted(tubs, 'tub', ',')}. The totals cover {len(fleet.covered):,} of them."]
    if not none:
        lines = [f"{counted(tubs, 'tub', ',')}, {'all' if tubs != 1 else 'and it is'} in the totals."]
    else:
        lines[0] += f" {_SAID['nothing meets'].format(count=len(none), names=joined(map(fleet.called, none)))}"
    if fleet.failed:
        lines.append(f"{counted(len(fleet.failed), 'row', ',')} with faults left out.")
    lines += [_SAID["twice"].format(row=where, first=first) for where, first in fleet.twice]
    drawn = _SAID["ranges"].format(cases=counted(fleet.draws, "case", ","))
    return [*lines, drawn if fleet.draws else _SAID["no ranges"]]


def why_not(tub: TubBudget) -> list[str]:
    """Return why what comes nearest in a tub does not meet its needs, in the units it is answered in."""
    units = US if tub.us else METRIC
    return [converted(reason_in_words(reason), units) for reason in tub.why_not]


def tasks(visit: VisitDay) -> list[str]:
    """Return what is done on a day, one line for each thing, with the tubs it is done to."""
    tubs: dict[str, list[str]] = defaultdict(list)
    for tub, done in visit.done:
        soaked = {item for what, item in done if what == "soak"}
        for what, item in done:
            if (what, item in soaked) != ("rinse", True):
                tubs[_DONE[what].format(item=item)].append(tub)
    return [
        f"{task}: {joined(tubs[task])}" for task in sorted(tubs, key=lambda task: (task == _DONE["change water"], task))
    ]


def fewer_kinds(standard: Standard) -> str:
    """Return how tubs do with fewer kinds of cartridge, what that costs and what it saves."""
    currency = standard.currency
    before, after = ([_thing(thing, kinds) for thing in kinds] for kinds in (standard.before, standard.after))
    changes = [f"{change.tub} takes {change.after} instead of {change.before}" for change in standard.changes]
    money, saved = standard.more_per_year, standard.stock_saved
    said = {
        "before": len(before),
        "after": counted(len(after), "kind"),
        "names": joined(after),
        "changes": joined(changes),
        "year": f"{cents(abs(money), currency)} a year {'more' if money >= 0.0 else 'less'}",
        "spares": f"{standard.spares_after} instead of {standard.spares_before}",
        "saved": cents(abs(saved), currency),
        "less": "less" if saved >= 0.0 else "more",
    }
    return _SAID["fewer kinds"].format(**said) + (
        _SAID["fewer spares"].format(**said) if standard.spares_before else ""
    )


def _thing(thing: object, among: Sequence[object]) -> str:
    """Return what an element is called, with its price where others bear its name."""
    name, price = getattr(thing, "name", ""), getattr(thing, "price", 0.0)
    alone = sum(getattr(each, "name", "") == name for each in among) == 1
    return name if alone else f"{name} at {price:,.2f}"


def gathering(fleet: Fleet) -> str:
    """Return on how many days somebody comes, and what gathering them takes."""
    year = fleet.year
    more = [counted(year.more_services, "service", ",")] if year.more_services else []
    more += [counted(year.more_elements, "cartridge", ",")] if year.more_elements else []
    more += [cents(amount, currency) for currency, amount in year.more_money.items() if amount]
    days = counted(len(year.visits), "day", ",")
    if len(year.visits) == len(year.alone):
        return _SAID["nothing to gather"].format(days=days)
    takes = _SAID["gathering takes"].format(more=joined(more)) if more else ""
    return _SAID["gathered"].format(days=days, alone=f"{len(year.alone):,}") + takes


def notes(fleet: Fleet) -> list[str]:
    """Return what the reader should know besides."""
    told = [_SAID["year ahead"], _SAID["gathering"]] if fleet.covered else []
    if any(each.lead_time_days is None for each in fleet.year.shopping):
        names = dict.fromkeys(each.element for each in fleet.year.shopping if each.lead_time_days is None)
        told.append(_SAID["no lead time"].format(names=joined(names)))
    refused = [fleet.called(tub) for tub in fleet.tubs if tub.readings_refused]
    return told + ([_SAID["refused"].format(names=joined(refused))] if refused else [])


def cautions(fleet: Fleet) -> list[str]:
    """Return what to mind at services."""
    return at_service({what for visit in fleet.year.visits for _, done in visit.done for what, _ in done})


def tables(fleet: Fleet, *, every: bool = False) -> list[TextTable]:
    """Return all of it, table by table, with every visit or the next few; one that has nothing to say is left out."""
    made = [_long_run(fleet), _year(fleet), _months(fleet), _shopping(fleet), _visits(fleet, every=every), _tubs(fleet)]
    made += [_without(fleet), TextTable(heading="Notes", lines=notes(fleet))]
    return [table for table in made if table.rows or table.lines]


def _ranged(fleet: Fleet, figure: Ranged, digits: int = 3) -> list[str]:
    """Return a figure, and where there are draws the ends of its range."""
    ends = [number(end, digits) for end in (figure.range[0], figure.range[2])] if figure.range else ["-", "-"]
    return [number(figure.central, digits), *(ends if fleet.draws else [])]


def _ends(fleet: Fleet) -> list[str]:
    return ["from", "to"] if fleet.draws else []


def _long_run(fleet: Fleet) -> TextTable:
    rows = [[f"all of it, {currency}", *_ranged(fleet, figure)] for currency, figure in fleet.cost.items()]
    rows += [[f"{CONSUMABLES}, {each}", *_ranged(fleet, figure)] for each, figure in fleet.consumables.items()]
    rows += [[name, *_ranged(fleet, figure)] for name, figure in fleet.elements.items()]
    return TextTable(heading="A year in the long run", columns=["what", "a year", *_ends(fleet)], rows=rows)


def _year(fleet: Fleet) -> TextTable:
    year = fleet.year
    money, several = year.money(lambda line: line.kind), len(year.total) > 1
    rows = [
        [f"{kind}, {currency}" if several else kind, f"{of[kind]:,.2f}"]
        for currency, of in money.items()
        for kind in KINDS_OF_COST
        if kind in of
    ]
    rows += [[f"in all, {currency}", f"{total:,.2f}"] for currency, total in year.total.items()]
    heading = f"A year from {year.first_day}"
    return (
        TextTable(heading=heading, columns=["what", "amount"], rows=rows, lines=[taken(fleet)]) if rows else TextTable()
    )


def taken(fleet: Fleet) -> str:
    """Return what the year ahead takes beside money: rinses, soaks, elements, hours and water."""
    counts: dict[str, float] = totals((line.kind, line.count) for line in fleet.year.lines)
    litres = 1e3 * sum(line.water_m3 for line in fleet.year.lines)
    several = [("rinsing", "rinse"), ("cleaner", "soak"), ("cartridges", "new cartridge")]
    told = [counted(round(counts[kind]), name, ",") for kind, name in several if counts.get(kind)]
    hours = f"{number(sum(fleet.year.hours_by_month.values()), 3)} hours of work"
    units = US if all(tub.us for tub in fleet.covered) else METRIC
    return converted(_SAID["takes"].format(what=joined([*told, hours, f"{number(litres, 3)} L"])), units)


def _months(fleet: Fleet) -> TextTable:
    year = fleet.year
    money, visits = year.money(lambda line: month_of(line.date)), year.visits_by_month
    columns = ["month", "days with\na visit", "if each\nalone", "hours", *money]
    rows = [
        [month, *map(str, visits[month]), f"{hours:.1f}", *(f"{of.get(month, 0.0):,.2f}" for of in money.values())]
        for month, hours in year.hours_by_month.items()
    ]
    total = [f"{sum(counts):,}" for counts in zip(*visits.values(), strict=True)]
    hours = f"{sum(year.hours_by_month.values()):.1f}"
    rows.append(["in all", *total, hours, *(f"{amount:,.2f}" for amount in year.total.values())])
    if not fleet.covered:
        return TextTable()
    return TextTable(heading="Month by month", columns=columns, rows=rows, lines=[gathering(fleet)])


def _shopping(fleet: Fleet) -> TextTable:
    rows = [
        [
            line.element,
            str(line.count),
            str(line.used),
            str(line.spares),
            f"{line.price:,.2f}",
            f"{line.amount:,.2f}",
            str(len(line.tubs)),
        ]
        for line in fleet.year.shopping
    ]
    lines = [*map(fewer_kinds, fleet.standards)]
    apart = sum(line.spares_apart - line.spares for line in fleet.year.shopping)
    if apart > 0:
        lines.append(_SAID["one shelf"].format(spares=counted(apart, "spare")))
    columns = ["cartridge", "to buy", "used in\nthe year", "spares", "each", "amount", "tubs"]
    return TextTable(heading="To buy together", columns=columns, rows=rows, lines=lines)


def _visits(fleet: Fleet, *, every: bool) -> TextTable:
    rows = [
        [
            day(visit.date),
            f"{visit.hours:.1f}",
            "; ".join(tasks(visit)),
        ]
        for visit in fleet.year.visits[: None if every else _NEXT]
    ]
    more = len(fleet.year.visits) - len(rows)
    lines = [_SAID["more visits"].format(days=counted(more, "day", ","))] if more else []
    return TextTable(
        heading="Visits" if every else "The next visits",
        columns=["day", "hours", "what"],
        words=(0, 2),
        rows=rows,
        lines=lines,
    )


def _tubs(fleet: Fleet) -> TextTable:
    ahead = fleet.year.money(lambda line: line.tub or FOR_ALL)
    rows = [
        [
            fleet.called(tub),
            tub.option or "",
            of_twenty(tub.chance_of_meeting_needs),
            whole_days(tub.days.central),
            number(tub.rinses_per_year),
            *_ranged(fleet, tub.cost),
            f"{ahead[tub.currency].get(fleet.called(tub), 0.0):,.2f}",
        ]
        for tub in fleet.covered
    ]
    columns = [
        "tub",
        "option",
        "cases\nof 20",
        "first\nservice\ndays",
        "rinses\na year",
        "a year",
        *_ends(fleet),
        "year\nahead",
    ]
    return TextTable(heading="Tub by tub", columns=columns, words=(0, 1), rows=rows)


def _without(fleet: Fleet) -> TextTable:
    lines = [
        f"{fleet.called(tub)}: {tub.nearest} comes nearest, but {joined(why_not(tub))}." for tub in fleet.without_option
    ]
    return TextTable(heading=capital(_SAID["without option"]), lines=lines)
