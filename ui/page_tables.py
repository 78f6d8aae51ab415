"""A table that is changed on a page: what it started from, and its rows after what was edited there."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import pandas as pd
import streamlit as st

Row = dict[str, Any]
Change = Mapping[str, Any]

BEFORE = ".before"
"""How the keys end under which tables keep what they started from."""


def _value(value: Any) -> Any:  # noqa: ANN401 - whatever a cell holds
    """Return what a cell holds; None where it is empty."""
    if isinstance(value, str):
        return value.strip() or None
    return None if value is None or pd.isna(value) else value


def _with(row: Row, cells: Mapping[str, Any]) -> Row:
    new = row | {column: _value(cell) for column, cell in cells.items()}
    return {key: value for key, value in new.items() if value is not None}


def changed(rows: Sequence[Row], change: Change) -> list[Row]:
    """Return rows after what an editor says was edited, added and deleted; keys without a column are kept."""
    edited, gone = change.get("edited_rows", {}), set(change.get("deleted_rows", ()))
    new = [_with(row, edited.get(place, {})) for place, row in enumerate(rows) if place not in gone]
    return new + [row for cells in change.get("added_rows", ()) if (row := _with({}, cells))]


def begun(name: str, key: str, rows: Iterable[Mapping[str, Any]]) -> list[Row]:
    """Return what a table started from, as long as it has that key: what is edited is told from there."""
    if key not in st.session_state:
        st.session_state[name + BEFORE] = [dict(row) for row in rows]
    return st.session_state[name + BEFORE]


def editor(key: str, frame: pd.DataFrame, keep: Callable[[], object], **looks: Any) -> None:  # noqa: ANN401 - as Streamlit takes them
    """Show a table to change."""
    st.data_editor(frame, key=key, num_rows="dynamic", hide_index=True, width="stretch", on_change=keep, **looks)
