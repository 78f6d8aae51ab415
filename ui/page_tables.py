"""The tables of a page that are changed: filters, pumps, the points of a lift test, and any other rows."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, get_args

import page_state
import pandas as pd
import streamlit as st

from filtration.present.words import fields as field_words
from filtration.study.values import Kind

Row = Tables = dict[str, Any]
Change = Mapping[str, Any]

SIZES = ("5 x 2.5 in", "10 x 2.5 in", "20 x 2.5 in", "10 x 4.5 in", "20 x 4.5 in")
BEFORE = ".before"
"""How the keys end under which tables keep what they started from."""
ELEMENTS = ("name", "kind", "size", "rating", "price", "pleats", "pleat_depth", "area", "thickness", "pores_per_inch")
PUMPS = ("name", "shutoff_head", "max_flow", "power", "placed", "price")
_NUMBERS = {"price", "pleats", "pores_per_inch"}
_CHOICES = {"kind": tuple(reversed(get_args(Kind))), "size": SIZES, "placed": ("in the water", "outside")}


def _value(column: str, value: Any) -> Any:  # noqa: ANN401 - whatever a cell holds
    """Return a cell as a file has it; None where it is empty."""
    if isinstance(value, str):
        return value.strip() or None
    if value is None or pd.isna(value):
        return None
    return int(value) if column in _NUMBERS and float(value).is_integer() else value


def _with(row: Row, cells: Mapping[str, Any]) -> Row:
    new = row | {column: _value(column, cell) for column, cell in cells.items()}
    return {key: value for key, value in new.items() if value is not None}


def changed(rows: Sequence[Row], change: Change) -> list[Row]:
    """Return rows after what an editor says was edited, added and deleted; keys without a column are kept."""
    edited, gone = change.get("edited_rows", {}), set(change.get("deleted_rows", ()))
    new = [_with(row, edited.get(place, {})) for place, row in enumerate(rows) if place not in gone]
    return new + [row for cells in change.get("added_rows", ()) if (row := _with({}, cells))]


def with_elements(tables: Tables, before: Sequence[Row], change: Change) -> None:
    """Change the elements of a study, and what is compared along with them."""
    rows = tables["elements"] = changed(before, change)
    options = tables.get("options")
    if not isinstance(options, list):
        return
    edited, gone = change.get("edited_rows", {}), set(change.get("deleted_rows", ()))
    renamed = {
        row.get("name"): _value("name", edited[place]["name"])
        for place, row in enumerate(before)
        if "name" in edited.get(place, {})
    }
    names, left = [row.get("name") for row in rows], []
    for option in options:
        name, stages = option.get("name"), [renamed.get(stage, stage) for stage in option.get("stages", [])]
        if all(stage in names for stage in stages):
            left.append(option | {"name": renamed.get(name) or name, "stages": stages})
    known = {None, *renamed.values(), *(row.get("name") for place, row in enumerate(before) if place not in gone)}
    tables["options"] = left + [{"name": name, "stages": [name]} for name in names if name not in known]


def _frame(rows: Sequence[Row], columns: Sequence[str]) -> pd.DataFrame:
    def cells(column: str) -> Any:  # noqa: ANN401 - an array of pandas
        found = [row.get(column) for row in rows]
        if column in _NUMBERS:
            return pd.array([cell if isinstance(cell, int | float) else None for cell in found], dtype="Float64")
        return pd.array([None if cell is None else str(cell) for cell in found], dtype="string")

    return pd.DataFrame({column: cells(column) for column in columns})


def _look(column: str) -> Any:  # noqa: ANN401 - Streamlit's columns share no type
    name, how = field_words.COLUMNS[column]
    if column in _CHOICES:
        return st.column_config.SelectboxColumn(
            name, help=how, options=list(_CHOICES[column]), required=True if column == "kind" else None
        )
    if column in _NUMBERS:
        return st.column_config.NumberColumn(name, help=how, min_value=0.0, format="%g")
    return st.column_config.TextColumn(name, help=how, required=column == "name")


def begun(name: str, key: str, rows: Iterable[Mapping[str, Any]]) -> list[Row]:
    """Return what a table started from, as long as it has that key: what is edited is told from there."""
    if key not in st.session_state:
        st.session_state[name + BEFORE] = [dict(row) for row in rows]
    return st.session_state[name + BEFORE]


def editor(key: str, frame: pd.DataFrame, keep: Callable[[], object], **looks: Any) -> None:  # noqa: ANN401 - as Streamlit takes them
    """Show a table to change."""
    st.data_editor(frame, key=key, num_rows="dynamic", hide_index=True, width="stretch", on_change=keep, **looks)


def _list(
    name: str,
    rows: Iterable[Row],
    columns: Sequence[str],
    work: Callable[[Tables, Sequence[Row], Change], None],
    alt: str,
) -> None:
    """Show a list of the study that is looked at, to change."""
    key = page_state.key(name)
    before, looks = begun(name, key, rows), {column: _look(column) for column in columns}

    def keep() -> None:
        page_state.change(lambda tables: work(tables, before, st.session_state[key]))

    editor(key, _frame(before, columns), keep, column_config=looks, placeholder="–", alt=alt)


def elements(tables: Mapping[str, Any]) -> None:
    """Show the filters compared, to change."""
    _list("elements", tables.get("elements", []), ELEMENTS, with_elements, "Filters compared")


def pumps(tables: Mapping[str, Any]) -> None:
    """Show the pumps compared, to change."""
    rows = tables.get("pumps", [])
    _list("pumps", rows, PUMPS, lambda into, *given: into.update(pumps=changed(*given)), "Pumps compared")


def second_pump() -> None:
    """Set another pump beside the present one, as a copy to change."""

    def work(into: Tables) -> None:
        first = into.pop("pump")
        into["pumps"] = [first | {"name": first.get("name", "Pump 1")}, first | {"name": "Another pump"}]

    page_state.change(work)
    page_state.renew()


def lift_test(tables: Mapping[str, Any]) -> None:
    """Show the points of a lift test, to change."""
    measured = tables.get("measured")
    points = measured.get("lift_test", []) if isinstance(measured, Mapping) else []
    rows = [{"lift": row[0], "flow": row[1]} for row in points if isinstance(row, list) and len(row) == 2]

    def work(into: Tables, before: Sequence[Row], change: Change) -> None:
        new = [[row.get("lift", ""), row.get("flow", "")] for row in changed(before, change)]
        page_state.write(into, "measured", "lift_test", new or None)

    _list("lift test", rows, ("lift", "flow"), work, "Lift test: height and flow")


def resize(key: str) -> None:
    """Give every filter that comes in a housing the size chosen under a key, if one is."""
    size = st.session_state[key]

    def work(into: Tables) -> None:
        for row in into["elements"]:
            if "size" in row:
                row["size"] = size

    if size:
        page_state.change(work)
        page_state.renew()
