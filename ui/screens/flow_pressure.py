"""Flow and pressure: what the pump has left, what each filter takes, and for how long."""

from functools import partial

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration.present.charts.pictures import a_few
from filtration.present.words import stories as page_stories


def show() -> None:
    """Show the page."""
    page_frame.opening("flow_pressure")
    text, comparison = page_frame.answer()
    display = page_state.display()
    option = page_frame.choose(comparison)
    kinds = [o.id for o in a_few(comparison)]
    ways = (page_cache.dirtier, page_cache.cleaner) if option.events else ()
    steps = [partial(each, text, option.id) for each in ways]
    page_frame.step_by_step(
        "following filters from new to replaced", [*steps, *(partial(page_cache.loading, text, kind) for kind in kinds)]
    )
    drawn = page_cache.own_picture(text, "life", option.id, display)
    if drawn.startswith("{"):
        st.markdown(plain(page_stories.flow_story(option, page_cache.runs(text, option.id), display)))
    page_frame.show(drawn)
    pictures = (
        page_cache.picture(text, "days", display),
        page_cache.own_picture(text, "loading", comparison.spoken_of.id, display),
        page_cache.picture(text, "pressure", display),
        page_cache.picture(text, "flow", display),
    )
    for start in (0, 2):
        for place, each in zip(st.columns(2, gap="large"), pictures[start : start + 2], strict=True):
            with place:
                page_frame.show(each)
    lacking = page_cache.missing_in(text, ("pressure", "flow", "days"))
    if lacking:
        st.caption(plain(f"Not in every picture, as they lack the figures: {', '.join(lacking)}."))


show()
