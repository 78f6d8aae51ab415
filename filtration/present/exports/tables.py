"""Options or a plan as CSV: text that no spreadsheet works out, numbers as they are."""

import csv
import io
from collections.abc import Sequence
from datetime import date
from math import isfinite
from typing import TYPE_CHECKING

from filtration.answers.results import Comparison
from filtration.base.formula_safe import hidden
from filtration.base.frames import in_us_units
from filtration.plan.dated import Plan, Planned
from filtration.study.values import Study

if TYPE_CHECKING:
    import pandas as pd

Row = Sequence[object]
Plain = str | float | bool | date | None


def options_rows(answer: Comparison) -> tuple[list[str], list[Row]]:
    """Return the options' figures: names of the columns, and a row an option, best first; None for no figure."""
    return rows_of(in_units_of(answer.study, answer.table().reset_index()))


def in_units_of(study: Study, table: "pd.DataFrame") -> "pd.DataFrame":
    """Return a table of figures in the units of a study; the names of its columns say which."""
    return in_us_units(table) if study.us else table


def plan_rows(plan: Plan) -> tuple[list[str], list[Row]]:
    """Return a plan's events: names of the columns, and a row an event."""
    return list(Planned.__slots__), [tuple(getattr(event, name) for name in Planned.__slots__) for event in plan.events]


def rows_of(table: "pd.DataFrame") -> tuple[list[str], list[Row]]:
    """Return a table of pandas as names of its columns and rows, without its index."""
    columns = [table[name].astype(object).tolist() for name in table.columns]
    return [str(name) for name in table.columns], list(zip(*columns, strict=True))


def plain(value: object) -> Plain:
    """Return a value of a table, nothing for what no table holds: a number that is not finite, a day that is none."""
    if value is None or isinstance(value, str | bool | date):
        return None if value != value else value  # noqa: PLR0124 - a day that is none
    number = float(value)  # type: ignore[arg-type]  # all that is left
    if not isfinite(number):
        return None
    return int(number) if isinstance(value, int) else number


def csv_of(columns: Sequence[str], rows: Sequence[Row]) -> bytes:
    r"""Return a table as CSV in UTF-8, with the byte order mark that spreadsheets know it by.

    Examples
    --------
    >>> csv_of(["name", "amount"], [["=1+1", -0.5], ["b", None]]).decode("utf-8-sig")
    "name,amount\r\n'=1+1,-0.5\r\nb,\r\n"
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([hidden(name) for name in columns])
    writer.writerows([_cell(plain(value)) for value in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _cell(value: Plain) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    return hidden(value) if isinstance(value, str) else repr(value)
