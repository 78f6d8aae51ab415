"""Many tubs as a workbook, a calendar of visits, a table, or a page: the same numbers in each."""

import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime

import xlsxwriter

from filtration.plan.fleet import Fleet
from filtration.plan.tub_budget import Ranged
from filtration.plan.upkeep import KINDS_OF_COST, Line
from filtration.plan.year_ahead import month_of
from filtration.present import fleet_tables as words
from filtration.present.exports.calendar import CalendarDay, written_calendar
from filtration.present.exports.html import render
from filtration.present.exports.tables import Row, csv_of
from filtration.present.exports.workbook import AS_TEXT, add_table, looks_of
from filtration.present.words.phrases import counted

ENDINGS = (".xlsx", ".ics", ".csv", ".html")
"""Endings of the files that many tubs can be written to."""

Sheet = tuple[str, Sequence[str], Sequence[Row]]
_LINE = ("date", "tub", "kind", "what", "item", "count", "hours", "water_m3", "currency", "amount")


def bytes_of_fleet(fleet: Fleet, ending: str, before: bytes = b"") -> bytes:
    """Return what a file holds.

    Parameters
    ----------
    fleet : Fleet
        The tubs.
    ending : str
        The file's ending, one of ``ENDINGS``.
    before : bytes, optional
        The file that this one replaces, for a calendar.

    Returns
    -------
    bytes
        The whole file.
    """
    return _MADE[ending](fleet, before)


def _workbook(fleet: Fleet, _before: bytes) -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, AS_TEXT) as book:
        looks = looks_of(book)
        for name, columns, rows in _sheets(fleet):
            add_table(book, name, looks, columns, rows)
    return out.getvalue()


def _sheets(fleet: Fleet) -> Iterator[Sheet]:
    """Yield the sheets: name, columns and rows."""
    year = fleet.year
    yield (
        "Summary",
        ["many tubs"],
        [[line] for line in [*words.headline(fleet), words.taken(fleet), words.gathering(fleet), *words.notes(fleet)]],
    )
    ends = ["10 %", "50 %", "90 %"] if fleet.draws else []
    figures: list[Row] = [["all of it", of, *_row(fleet, figure)] for of, figure in fleet.cost.items()]
    figures += [[words.CONSUMABLES, of, *_row(fleet, figure)] for of, figure in fleet.consumables.items()]
    figures += [[name, "pieces", *_row(fleet, figure)] for name, figure in fleet.elements.items()]
    yield "Long run", ["a year of", "in", "central", *ends], figures
    yield "Tubs", *_tubs(fleet, ends)
    yield "Year by tub", *_money(fleet, "tub", lambda line: line.tub or words.FOR_ALL)
    yield "Year by month", *_money(fleet, "month", lambda line: month_of(line.date))
    visits = [(date.fromisoformat(f"{month}-01"), *days) for month, days in year.visits_by_month.items()]
    hours = year.hours_by_month.values()
    yield (
        "Visits by month",
        ["month", "days with a visit", "if each tub kept to its own plan", "hours"],
        [(*row, each) for row, each in zip(visits, hours, strict=True)],
    )
    columns = ["cartridge", "currency", "to buy", "used in the year", "spares", "price each", "amount", "tubs"]
    bought = [
        (each.element, each.currency, each.count, each.used, each.spares, each.price, each.amount, ", ".join(each.tubs))
        for each in year.shopping
    ]
    yield "Shopping", columns, bought
    schedule = [
        (visit.date, tub, what, item) for visit in year.visits for tub, done in visit.done for what, item in done
    ]
    yield "Schedule", ["date", "tub", "what", "item"], schedule
    yield "All lines", *_lines(fleet)


def _row(fleet: Fleet, figure: Ranged) -> Row:
    return [figure.central, *((figure.range or (None,) * 3) if fleet.draws else ())]


def _tubs(fleet: Fleet, ends: Sequence[str]) -> tuple[Sequence[str], Sequence[Row]]:
    """Return the tubs with their advice and figures, those without an option with why."""
    ahead = fleet.year.money(lambda line: line.tub or words.FOR_ALL)
    columns = ["tub", "from", "option", "pump", "chance of meeting its needs", "currency", "amount a year"]
    columns += [f"amount a year, {end}" for end in ends] + ["amount in the year ahead", "days to the first service"]
    columns += ["rinses a year", "hours a year", "why not"]
    rows: list[Row] = []
    for tub in fleet.tubs:
        name, why = fleet.called(tub), "; ".join(tub.faults or words.why_not(tub))
        told: Row = [None] * (len(columns) - 4)
        if tub.meets_needs:
            of_year = ahead[tub.currency].get(name, 0.0)
            told = [tub.pump, tub.chance_of_meeting_needs, tub.currency, *_row(fleet, tub.cost), of_year]
            told = [*told, tub.days.central, tub.rinses_per_year, tub.hours_per_year]
        rows.append([name, tub.where, tub.option, *told, why])
    return columns, rows


def _money(fleet: Fleet, what: str, key: Callable[[Line], str]) -> tuple[Sequence[str], Sequence[Row]]:
    """Return what the year ahead comes to, by a key and by what it goes into, with sums."""
    rows: list[Row] = []
    for currency, total in fleet.year.total.items():
        cells = fleet.year.money(lambda line: f"{key(line)}\0{line.kind}")[currency]
        sums, kinds = (fleet.year.money(each)[currency] for each in (key, lambda line: line.kind))
        for name, amount in sums.items():
            rows.append([name, currency, *(cells.get(f"{name}\0{kind}", 0.0) for kind in KINDS_OF_COST), amount])
        rows.append(["in all", currency, *(kinds.get(kind, 0.0) for kind in KINDS_OF_COST), total])
    return [what, "currency", *(f"amount, {kind}" for kind in KINDS_OF_COST), "amount"], rows


def _lines(fleet: Fleet) -> tuple[Sequence[str], Sequence[Row]]:
    """Return all that is done and paid in the year ahead."""
    return _LINE, [[getattr(line, name) for name in _LINE] for line in fleet.year.lines]


def _calendar(fleet: Fleet, before: bytes) -> bytes:
    entries = [
        CalendarDay(
            identity=("many tubs", visit.date.isoformat()),
            day=visit.date,
            title=f"{counted(len(visit.done), 'tub')}: {', '.join(visit.tubs)}",
            about="\n".join([*words.tasks(visit), f"About {visit.hours:.1f} h.", *words.cautions(fleet)]),
        )
        for visit in fleet.year.visits
    ]
    return written_calendar("Visits to the tubs", entries, fleet.first_day, datetime.now(UTC), before)


def _page(fleet: Fleet, _before: bytes) -> bytes:
    shown = {"study": "Many tubs", "headline": words.headline(fleet), "tables": words.tables(fleet, every=True)}
    return render("fleet.html.j2", shown | {"cautions": words.cautions(fleet)}).encode()


_MADE: Mapping[str, Callable[[Fleet, bytes], bytes]] = {
    ".xlsx": _workbook,
    ".ics": _calendar,
    ".csv": lambda fleet, _: csv_of(*_lines(fleet)),
    ".html": _page,
}
