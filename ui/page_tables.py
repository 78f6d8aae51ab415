"""The lists of a study that are changed as tables: filters, pumps, and the points of a lift test."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import page_state
import pandas as pd
import streamlit as st

from filtration.present.words import fields as field_words

Row = dict[str, Any]
Change = Mapping[str, Any]

KINDS = ("pleated", "depth", "foam")
SIZES = ("5 x 2.5 in", "10 x 2.5 in", "20 x 2.5 in", "10 x 4.5 in", "20 x 4.5 in")
ELEMENTS = ("name", "kind", "size", "rating", "price", "pleats", "pleat_depth", "area", "thickness", "pores_per_inch")
PUMPS = ("name", "shutoff_head", "max_flow", "power", "placed", "price")
_NUMBERS = {"price", "pleats", "pores_per_inch"}


def _value(column: str, value: object) -> Any:  # noqa: ANN401 - whatever a cell holds
    """Return a cell as a file has it; None where it is empty."""
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return None
    if isinstance(value, str):
        return value.strip() or None
    if column in _NUMBERS and isinstance(value, int | float):
        return int(value) if float(value).is_integer() else float(value)
    return value


def _with(row: Row, cells: Mapping[str, Any]) -> Row:
    new = row | {column: _value(column, cell) for column, cell in cells.items()}
    return {key: value for key, value in new.items() if value is not None}


def changed(rows: Sequence[Row], change: Change) -> list[Row]:
    """Return rows after what an editor says was edited, added and deleted; keys without a column are kept."""
    edited, gone = change.get("edited_rows", {}), set(change.get("deleted_rows", ()))
    new = [_with(row, edited.get(place, {})) for place, row in enumerate(rows) if place not in gone]
    return new + [row for cells in change.get("added_rows", ()) if (row := _with({}, cells))]


def with_elements(tables: dict[str, Any], before: Sequence[Row], change: Change) -> None:
    """Change the elements of a study, and what is compared along with them."""
    rows = changed(before, change)
    tables["elements"] = rows
    options = tables.get("options")
    if not isinstance(options, list):
        return
    edited, gone = change.get("edited_rows", {}), set(change.get("deleted_rows", ()))
    renamed = {
        row.get("name"): _value("name", edited[place]["name"])
        for place, row in enumerate(before)
        if "name" in edited.get(place, {})
    }
    kept = {row.get("name") for row in rows}
    left = []
    for option in options:
        stages = [renamed.get(stage, stage) for stage in option.get("stages", [])]
        if all(stage in kept for stage in stages):
            name = renamed.get(option.get("name"), option.get("name"))
            left.append(option | {"name": name or option.get("name"), "stages": stages})
    known = {row.get("name") for place, row in enumerate(before) if place not in gone}
    new = [name for name in (row.get("name") for row in rows) if name not in known and name not in renamed.values()]
    tables["options"] = left + [{"name": name, "stages": [name]} for name in new if name is not None]


def _frame(rows: Sequence[Row], columns: Sequence[str]) -> pd.DataFrame:
    def cells(column: str) -> Any:  # noqa: ANN401 - an array of pandas
        found = [row.get(column) for row in rows]
        if column in _NUMBERS:
            return pd.array([cell if isinstance(cell, int | float) else None for cell in found], dtype="Float64")
        return pd.array([None if cell is None else str(cell) for cell in found], dtype="string")

    return pd.DataFrame({column: cells(column) for column in columns})


def _look(column: str) -> Any:  # noqa: ANN401 - Streamlit's columns share no type
    name, how = field_words.COLUMNS[column]
    if column == "kind":
        return st.column_config.SelectboxColumn(name, help=how, options=list(KINDS), required=True)
    if column == "size":
        return st.column_config.SelectboxColumn(name, help=how, options=list(SIZES))
    if column == "placed":
        return st.column_config.SelectboxColumn(name, help=how, options=["in the water", "outside"])
    if column in _NUMBERS:
        return st.column_config.NumberColumn(name, help=how, min_value=0.0, format="%g")
    return st.column_config.TextColumn(name, help=how, required=column == "name")


def editor(
    name: str, rows: Sequence[Row], columns: Sequence[str], keep: Callable[[Sequence[Row], Change], None], alt: str
) -> None:
    """Show rows as a table to change; what it starts from stays until the fields start anew."""
    state = st.session_state
    key = f"{state.place}.{state.edition}.{name}"
    if key not in state:
        state[key + page_state.BEFORE] = [dict(row) for row in rows]
    before: list[Row] = state[key + page_state.BEFORE]

    def changed_here() -> None:
        keep(before, state[key])

    st.data_editor(
        _frame(before, columns),
        key=key,
        num_rows="dynamic",
        hide_index=True,
        width="stretch",
        column_config={column: _look(column) for column in columns},
        on_change=changed_here,
        placeholder="–",
        alt=alt,
    )


def elements(tables: Mapping[str, Any]) -> None:
    """Show the filters compared, to change."""

    def keep(before: Sequence[Row], change: Change) -> None:
        page_state.change(lambda into: with_elements(into, before, change))

    editor("elements", tables.get("elements", []), ELEMENTS, keep, "Filters compared")


def pumps(tables: Mapping[str, Any]) -> None:
    """Show the pumps compared, to change."""

    def keep(before: Sequence[Row], change: Change) -> None:
        page_state.change(lambda into: into.update(pumps=changed(before, change)))

    editor("pumps", tables.get("pumps", []), PUMPS, keep, "Pumps compared")


def second_pump() -> None:
    """Set another pump beside the present one, as a copy to change."""

    def work(into: dict[str, Any]) -> None:
        first = into.pop("pump")
        into["pumps"] = [first | {"name": first.get("name", "Pump 1")}, first | {"name": "Another pump"}]

    page_state.change(work)
    page_state.renew()


def lift_test(tables: Mapping[str, Any]) -> None:
    """Show the points of a lift test, to change."""
    measured = tables.get("measured")
    points = measured.get("lift_test", []) if isinstance(measured, Mapping) else []
    rows = [{"lift": row[0], "flow": row[1]} for row in points if isinstance(row, list) and len(row) == 2]

    def keep(before: Sequence[Row], change: Change) -> None:
        new = [[row.get("lift", ""), row.get("flow", "")] for row in changed(before, change)]
        page_state.edit("measured", "lift_test", new or None)

    editor("lift test", rows, ("lift", "flow"), keep, "Lift test: height and flow")


def resized(size: str) -> None:
    """Give every filter that comes in a housing the same size."""

    def work(into: dict[str, Any]) -> None:
        for row in into["elements"]:
            if "size" in row:
                row["size"] = size

    page_state.change(work)
    page_state.renew()
