"""Many tubs as a page takes them: those open here, studies and tables that are brought."""

from collections.abc import Sequence
from datetime import date
from functools import partial

from page_kept import kept, progress_of_now

from filtration import Fleet, InputError, budget
from filtration.plan.fleet_rows import FleetRow, row_of, rows_of_text
from filtration.study.file import tables_of_text

MOST_TUBS = 50
"""Tubs that a page works out together: a minute or two of one core at most."""

Files = tuple[tuple[str, str], ...]
"""Names and texts: studies, or tables of tubs whose names end in .csv."""


@kept
def fleet(files: Files, template: str, first_day: date) -> Fleet:
    """Return a year of many tubs; the rows of a table change a template, the text of a study."""
    rows = rows_of(files, template)
    if len(rows) > MOST_TUBS:
        raise InputError(f"there are {len(rows)} tubs; a page works out at most {MOST_TUBS}, the command any number")
    return budget(rows, today=first_day, progress=progress_of_now())


def rows_of(files: Files, template: str) -> Sequence[FleetRow]:
    """Return the tubs of some files, in order."""
    rows: list[FleetRow] = []
    for name, text in files:
        if name.lower().endswith(".csv"):
            rows += rows_of_text(text, name, lambda _study: tables_of_text(template))
        else:
            rows.append(row_of(name, partial(tables_of_text, text, where=name), ""))
    return rows
