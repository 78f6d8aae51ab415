"""From pandas: elements, readings and tubs as the rows of a table."""

import csv
import io
from collections.abc import Mapping
from datetime import date, datetime, time
from functools import partial
from typing import Any

from filtration.base.formula_safe import hidden
from filtration.base.frames import Frame
from filtration.plan.fleet_rows import FleetRow, row_of, without_id
from filtration.readings.csv_file import readings_from_csv
from filtration.readings.reading import Reading
from filtration.study.overrides import filled


def rows_of_table(table: Frame) -> list[dict[str, Any]]:
    """Return the rows of a table as a study's dictionaries hold them.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns named as keys of a study file; its index is left out.

    Returns
    -------
    list of dict
        A row each, without the cells that hold nothing.

    Examples
    --------
    >>> import pandas as pd
    >>> rows_of_table(pd.DataFrame({"name": ["Spun 5", "Pad"], "size": ["10 x 2.5 in", None], "price": [6, 4]}))
    [{'name': 'Spun 5', 'size': '10 x 2.5 in', 'price': 6}, {'name': 'Pad', 'price': 4}]
    """
    return [
        {str(key): _plain(value) for key, value in row.items() if not _nothing(value)}
        for row in table.astype(object).to_dict("records")
    ]


def _nothing(value: Any) -> bool:  # noqa: ANN401 - whatever stands in a cell
    """Return whether a cell holds nothing: None, NaN, NaT and pandas' NA."""
    import pandas as pd

    return pd.api.types.is_scalar(value) and bool(pd.isna(value))


def _plain(value: Any) -> Any:  # noqa: ANN401 - whatever stands in a cell
    """Return a number of numpy as one of Python; a whole one without its point."""
    value = value.item() if hasattr(value, "item") else value
    return int(value) if isinstance(value, float) and value.is_integer() else value


def readings_from_table(table: Frame) -> tuple[Reading, ...]:
    """Return the readings in a table.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns when, kind, and value and note if wanted, as in a CSV file of readings. A day, or a midnight without an
        offset, means its noon.

    Returns
    -------
    tuple of Reading
        Rows in order.

    Raises
    ------
    InputError
        With every fault found, one line each; line 2 is the first row.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"when": pd.to_datetime(["2026-03-03"]), "kind": "flow", "value": "22 L/min"})
    >>> readings_from_table(table)[0].when.hour
    12
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(map(str, table.columns))
    for row in table.astype(object).itertuples(index=False, name=None):
        writer.writerow(["" if _nothing(value) else _text(_plain(value)) for value in row])
    return readings_from_csv(out.getvalue(), where="table")


def _text(value: object) -> str:
    if isinstance(value, datetime):
        day_alone = value.tzinfo is None and value.time() == time()
        return value.date().isoformat() if day_alone else value.isoformat()
    return value.isoformat() if isinstance(value, date) else hidden(str(value))


def tubs_from_table(table: Frame, template: Mapping[str, Any]) -> list[FleetRow]:
    """Return the tubs in a table, for ``budget``.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns named as keys of a study with their tables before them: ``name``, ``tub.volume``,
        ``elements.Pleated 20.price``. A row is a tub; a cell that holds nothing leaves the template's value.
    template : mapping
        The tables and keys of the study that rows override, as ``load_tables`` reads them.

    Returns
    -------
    list of FleetRow
        Rows in order; a wrong one carries its faults.

    Examples
    --------
    >>> import pandas as pd
    >>> (tub,) = tubs_from_table(pd.DataFrame({"name": ["East"], "tub.volume": ["400 L"]}), {"tub": {"depth": "1 m"}})
    >>> tub.tables
    {'tub': {'depth': '1 m', 'volume': '400 L'}, 'name': 'East'}
    """
    rows = enumerate(rows_of_table(table), start=1)
    return [
        row_of(f"row {number}", partial(filled, without_id(template), row), f"row {number}: ") for number, row in rows
    ]
