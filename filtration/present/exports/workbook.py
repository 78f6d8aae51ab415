"""The answer and its plan as an Excel workbook: real numbers, real dates, and no text that is worked out."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
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

Contents = Literal["report", "answer", "plan"]
_AS_TEXT = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
_WIDEST, _TEXT_WIDTH = 40, 110
_WHAT = {"element": "element", "equipment": "equipment", "cleaner": "cleaner, a soak", "disinfectant": "months of"}
_SCHEDULE = ("date", "earliest", "latest", "what", "item", "count", "amount")


@dataclass(frozen=True, slots=True)
class _Book:
    """A workbook under way and its looks."""

    book: xlsxwriter.Workbook
    head: Format
    day: Format
    money: Format
    text: Format


def workbook_of(answer: Comparison, plan: Plan | None, contents: Contents = "report") -> bytes:
    """Return a workbook.

    Parameters
    ----------
    answer : Comparison
        The answer.
    plan : Plan or None
        The plan, if there is one.
    contents : {"report", "answer", "plan"}, optional
        All sheets, those of the answer, or those of the plan.

    Returns
    -------
    bytes
        The file.
    """
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, _AS_TEXT) as book:
        looks = _Book(
            book=book,
            head=book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
            day=book.add_format({"num_format": "yyyy-mm-dd", "align": "left"}),
            money=book.add_format({"num_format": "#,##0.00"}),
            text=book.add_format({"text_wrap": True, "valign": "top"}),
        )
        if contents != "plan":
            _answer(looks, answer, plan)
            _table(looks, "Options", *options_rows(answer))
        if contents != "answer" and plan is not None:
            _plan(looks, plan)
        if contents != "plan":
            assumed = [(each.key, each.with_names) for each in answer.study.assumed]
            _table(looks, "Assumptions", ["assumed, as the study does not say", "value"], assumed)
    return out.getvalue()


def _answer(looks: _Book, answer: Comparison, plan: Plan | None) -> None:
    sheet = looks.book.add_worksheet("Answer")
    sheet.set_column(0, 0, _TEXT_WIDTH)
    sheet.set_column(1, 1, 16)
    _page(sheet)
    sheet.write_string(0, 0, answer.study.name, looks.head)
    row = 1
    if plan is not None:
        currency, total = answer.study.currency, plan.total
        for words_of, amount in (
            (f"{plan.name}, {plan.first_day} to {plan.last_day}: in all, {currency}", total.undiscounted),
            (f"discounted to the first day, {currency}", total.discounted),
            (f"a year on average, {currency}", plan.gap.average),
        ):
            sheet.write_string(row, 0, words_of, looks.text)
            sheet.write_number(row, 1, round(amount or 0.0, 2), looks.money)
            row += 1
    sections: list[tuple[str, Sequence[str]]] = [
        ("Answer", [words.headline(answer)]),
        ("How sure", sure_words.sureness(answer)),
        ("The others", words.others(answer)),
        ("Notes", words.notes(answer)),
        ("Before anyone gets in", words.cautions(answer.study)),
    ]
    if plan is not None:
        sections[2:2] = [("The plan", [plan_words.headline(plan), *plan_words.notes(plan)])]
    for heading, lines in sections:
        if lines:
            row += 1
            sheet.write_string(row, 0, heading, looks.head)
        for line in lines:
            row += 1
            sheet.write_string(row, 0, line, looks.text)
        row += 1


def _plan(looks: _Book, plan: Plan) -> None:
    amount = f"amount, {plan.study.currency}"
    rows = [[getattr(event, name) for name in _SCHEDULE] for event in plan.events]
    _table(looks, "Schedule", [*_SCHEDULE[:-1], amount], rows)
    months = [(date.fromisoformat(f"{month}-01"), value) for month, value in plan.by_month.items()]
    _table(looks, "Months", ["month", amount], months)
    _table(looks, "Years", ["year", amount], [(int(year), value) for year, value in plan.by_year.items()])
    kept = "amount for spares"
    columns = ["what", "item", "count", "price each", amount, "spares to keep", kept, "next needed", "order by"]
    _table(looks, "Shopping", columns, [_bought(line) for line in plan.shopping])


def _bought(line: Purchase) -> tuple[object, ...]:
    """Return what is bought in the first year and kept, as a row."""
    each = line.amount / line.count if line.count else None
    kept = (line.spares + line.swap, line.stock_amount) if line.what == "element" else (None, None)
    return _WHAT[line.what], line.item, line.count, each, line.amount, *kept, line.next_needed, line.order_by


def _table(looks: _Book, name: str, columns: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write a sheet with one table from its first cell on, and nothing else."""
    sheet = looks.book.add_worksheet(name)
    _page(sheet)
    sheet.freeze_panes(1, 0)
    for at, column in enumerate(columns):
        sheet.write_string(0, at, column, looks.head)
        widest = max((len(str(row[at])) for row in rows if isinstance(row[at], str)), default=0)
        sheet.set_column(at, at, min(max(12, widest), _TEXT_WIDTH if len(columns) == 1 else _WIDEST))
        for down, row in enumerate(rows, start=1):
            _write(looks, sheet, down, at, row[at], money=column.startswith(("amount", "price")))
    if rows:
        sheet.autofilter(0, 0, len(rows), len(columns) - 1)


def _write(looks: _Book, sheet: Worksheet, row: int, column: int, given: object, *, money: bool) -> None:
    value = plain(given)
    match value:
        case None:
            return
        case bool():
            sheet.write_boolean(row, column, value)
        case date():
            sheet.write_datetime(row, column, value, looks.day)
        case str():
            sheet.write_string(row, column, value, looks.text)
        case _:
            sheet.write_number(row, column, value, looks.money if money else None)


def _page(sheet: Worksheet) -> None:
    sheet.set_paper(9)  # A4
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
