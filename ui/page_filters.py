"""The filters compared, to change: what a page shows of them."""

from collections.abc import Mapping
from typing import Any

import page_state
import page_tables
import streamlit as st
from page_text import plain

from filtration.present.words import fields


def filters(tables: Mapping[str, Any]) -> None:
    """Show the filters compared."""
    rows, known = tables.get("elements", []), page_tables.SIZES
    sizes = {row["size"] for row in rows if isinstance(row, dict) and "size" in row}
    size = next(iter(sizes)) if len(sizes) == 1 else None
    index, key = known.index(size) if size in known else None, page_state.key("housing")
    how = "Length by width of the cartridges; printed on the housing or its box. Sets all of them."
    looks = {"placeholder": "several sizes", "help": how, "width": 220}
    st.markdown("**The filters you would buy**")
    st.selectbox("Housing takes", known, index, key=key, on_change=page_tables.resize, args=(key,), **looks)
    with st.expander(f"{len(rows)} filters and their prices"):
        st.caption(fields.SHELF_NOTE)
        page_tables.elements(tables)
        with st.container():
            lines = (fields.COLUMNS[column] for column in page_tables.ELEMENTS)
            st.caption("  \n".join(f"{plain(name)}: {plain(how)}" for name, how in lines))
