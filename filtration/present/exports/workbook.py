"""The answer and its plan as an Excel workbook: real numbers, real dates, and no text that is worked out."""

import io
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Literal

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from filtration.answers.results import Comparison
from filtration.plan.dated import Plan, Purchase
from filtration.present.exports.tables import options_rows, plain
from filtration.present.words import answer as words
from filtration.present.words import odds as sure_words
from filtration.present.words import plan as plan_words
from filtration.present.words.in_units import as_written
from filtration.present.words.phrases import day

Contents = Literal["report", "answer", "plan"]
AS_TEXT = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
"""How a workbook takes what is written: text stays text."""
_LOOKS = {
    "head": {"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"},
    "day": {"num_format": "yyyy-mm-dd", "align": "left"},
    "money": {"num_format": "#,##0.00"},
    "text": {"text_wrap": True, "valign": "top"},
}
_LOOK_OF = {date: "day", str: "text", bool: "", type(None): ""}  # of all but numbers
_A4 = 9  # as Excel counts papers
_NARROWEST, _WIDEST, _TEXT_WIDTH, _SUM_WIDTH = 12, 40, 110, 16
_WHAT = {"element": "cartridge", "equipment": "equipment", "cleaner": "cleaner, a soak", "disinfectant": "months of"}
_SCHEDULE = ("date", "earliest", "latest", "what", "item", "count", "amount")

Looks = Mapping[str, Format]


def build_workbook(answer: Comparison, plan: Plan | None, contents: Contents = "report") -> bytes:
    """Return a workbook with all sheets, those of the answer, or those of the plan."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, AS_TEXT) as book:
        looks = looks_of(book)

        if contents != "plan":
            _answer(_sheet(book, "Answer"), looks, answer, plan)
            add_table(book, "Options", looks, *options_rows(answer))
        if contents != "answer" and plan is not None:
            for name, columns, rows in _plan(plan):
                add_table(book, name, looks, columns, rows)
        if contents != "plan":
            assumed = [(each.key, as_written(each.with_names, answer.study)) for each in answer.study.assumed]
            add_table(book, "Assumptions", looks, ["assumed, as the study does not give it", "value"], assumed)
    return out.getvalue()


def _answer(sheet: Worksheet, looks: Looks, answer: Comparison, plan: Plan | None) -> None:
    rows: list[tuple[str, str, float | None]] = [(answer.study.name, "head", None)]
    sections = [
        ("Answer", [words.headline(answer)]),
        ("How sure", sure_words.sureness(answer)),
        ("The others", words.others(answer)),
        ("Notes", words.notes(answer)),
        ("Before anyone gets in", words.cautions(answer.study)),
    ]
    if plan is not None:
        currency, total, span = (
            answer.study.currency,
            plan.total,
            f"{day(plan.first_day)} to {day(plan.last_day)}",
        )
        rows += [
            (f"{plan.name}, {span}: in all, {currency}", "text", total.undiscounted or 0.0),
            (f"discounted to the first day, {currency}", "text", total.discounted or 0.0),
            (f"a year on average, {currency}", "text", plan.gap.average),
        ]
        sections.insert(2, ("The plan", [plan_words.headline(plan), *plan_words.notes(plan)]))
    for heading, lines in sections:
        told = [(heading, "head", None), *((line, "text", None) for line in lines)]
        rows += [("", "text", None), *(told if lines else [])]
    sheet.set_column(0, 0, _TEXT_WIDTH)
    sheet.set_column(1, 1, _SUM_WIDTH)
    for row, (text, look, amount) in enumerate(rows):
        if text:
            sheet.write(row, 0, as_written(text, answer.study), looks[look])
        if amount is not None:
            sheet.write(row, 1, round(amount, 2), looks["money"])


def _plan(plan: Plan) -> Iterator[tuple[str, Sequence[str], Sequence[Sequence[object]]]]:
    """Yield the plan's sheets: name, columns and rows."""
    amount, kept = f"amount, {plan.study.currency}", "amount for spares"
    schedule = [[getattr(event, name) for name in _SCHEDULE] for event in plan.events]
    yield "Schedule", [*_SCHEDULE[:-1], amount], schedule
    months = [(date.fromisoformat(f"{month}-01"), value) for month, value in plan.by_month.items()]
    yield "Months", ["month", amount], months
    yield "Years", ["year", amount], [(int(year), value) for year, value in plan.by_year.items()]
    columns = ["what", "item", "count", "price each", amount, "spares to keep", kept, "next needed", "order by"]
    yield "Shopping", columns, [_bought(line) for line in plan.shopping]


def _bought(line: Purchase) -> tuple[object, ...]:
    """Return what is bought in the first year and kept, as a row."""
    each = line.amount / line.count if line.count else None
    kept = (line.spares + line.swap, line.stock_amount) if line.what == "element" else (None, None)
    return _WHAT[line.what], line.item, line.count, each, line.amount, *kept, line.next_needed, line.order_by


def _sheet(book: xlsxwriter.Workbook, name: str) -> Worksheet:
    sheet = book.add_worksheet(name)
    sheet.set_paper(_A4)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    return sheet


def looks_of(book: xlsxwriter.Workbook) -> Looks:
    """Return how cells of a workbook look, by what they hold."""
    return {name: book.add_format(look) for name, look in _LOOKS.items()}


def add_table(
    book: xlsxwriter.Workbook, name: str, looks: Looks, columns: Sequence[str], rows: Sequence[Sequence[object]]
) -> None:
    """Add a sheet with one table from its first cell on, and nothing else."""
    sheet = _sheet(book, name)
    sheet.freeze_panes(1, 0)
    for at, column in enumerate(columns):
        sheet.write(0, at, column, looks["head"])
        widest = max((len(cell) for row in rows if isinstance(cell := row[at], str)), default=0)
        sheet.set_column(at, at, min(max(_NARROWEST, widest), _TEXT_WIDTH if len(columns) == 1 else _WIDEST))
        number = "money" if column.startswith(("amount", "price")) else ""
        for down, row in enumerate(rows, start=1):
            value = plain(row[at])
            look = _LOOK_OF.get(type(value), number)
            sheet.write(down, at, value, looks.get(look))
    if rows:
        sheet.autofilter(0, 0, len(rows), len(columns) - 1)
