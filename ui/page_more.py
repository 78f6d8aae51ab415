"""The rest of a tub, folded away by groups; a fold in which something was wrong stays open."""

from collections.abc import Sequence

import page_filters
import page_state
import streamlit as st
from page_fields import Form, folded, is_missing
from page_keys import Field
from page_text import plain

from filtration.present.words import fields as field_words


def more(form: Form) -> None:
    """Show every field of a tub that is not among the few, by group."""
    groups = folded(form.tables)
    for group, fields in groups.items():
        with st.expander(field_words.GROUPS[group], expanded=_stays_open(form, group, fields)):
            form.show(fields)
            if group == "pump_more":
                page_filters.pumps(form.tables)
            st.markdown("\n".join(f"- {plain(': '.join(field_words.FIELDS[field.place]))}" for field in fields))
    if form.tables.get("pumps"):
        with st.expander(field_words.GROUPS["pump_more"], expanded=True):
            page_filters.pumps(form.tables)


def _stays_open(form: Form, group: str, fields: Sequence[Field]) -> bool:
    """Return whether something in a group is wrong, or was since the fields started anew."""
    kept, key = page_state.till_renewed(), f"wrong {group}"
    wrong = (fault for field in fields for fault in form.faults_at(field.table, field.key))
    kept[key] = kept.get(key, False) or any(not is_missing(fault) for fault in wrong)
    return bool(kept[key])
