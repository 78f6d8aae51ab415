"""The answer: what to take and why, how sure that is, the map of what fails, every figure."""

import page_cache
import page_frame
import page_state
import streamlit as st
from page_answer import show_notes, show_others, show_sureness, show_table, show_words
from page_frame import show as show_picture


def show() -> None:
    """Show the page."""
    page_frame.opening("which_filter")
    text, comparison = page_frame.answer()
    display = page_state.display()
    show_words(comparison)
    plot, sure = st.columns(2, gap="large")
    with plot:
        show_picture(page_cache.picture(text, "map", display))
    with sure:
        show_sureness(comparison)
    show_others(comparison)
    show_table(comparison)
    for row in (("days_cases", "cost_cases"), ("days_drivers", "cost_drivers")):
        for place, name in zip(st.columns(2, gap="large"), row, strict=True):
            with place:
                show_picture(page_cache.picture(text, name, display))
    show_notes(comparison)


show()
