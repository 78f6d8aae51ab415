"""Pressure drop: against micron rating and dirt held, what the pump leaves for it, and the flow that is left."""

from functools import partial

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration.present.charts.pictures import a_few
from filtration.present.words import fields
from filtration.present.words import stories as page_stories


def dirt_held(text: str, at: str) -> float:
    """Ask how much dirt the cartridges hold [g]."""
    display = page_state.display()
    with page_frame.faults_told():
        most, step = page_cache.reach_of_dirt(text, at, display)
    if not most:
        return 0.0
    label, key = f"{fields.DIRT_HELD}, {display.mass}", f"dirt held.{display.mass}.{at}"
    held: float = st.slider(label, 0.0, most, 0.0, step, format="%.4g", key=key, width=600)
    return held / display.mass_of(1.0)


text, comparison = page_frame.answer()
display, option, series = page_state.display(), page_frame.choose(comparison), partial(page_cache.series_of, text)
steps = [partial(series, kind, option.id) for kind in ("dirtier", "cleaner") if option.events]
steps += [partial(series, "loading", each.id) for each in a_few(comparison)]
if option.clean_flow_l_per_h:
    steps.append(partial(page_cache.drops_of, text, option.id))
page_frame.step_by_step("following filters from new to replaced", steps)
loading = partial(page_frame.picture, text, "loading", option.id)
if option.clean_flow_l_per_h:
    held_g = dirt_held(text, option.id)
    page_frame.beside(lambda: page_frame.show(page_cache.drops_picture(text, option.id, held_g, display)), loading)
else:
    loading()
drawn = page_cache.picture(text, "life", display, option.id)
if page_cache.is_drawn(drawn):
    st.markdown(plain(page_stories.flow_story(option, series("runs", option.id), display)))
page_frame.beside(partial(page_frame.show, drawn), partial(page_frame.picture, text, "flow"))
lacking = page_cache.missing_in(text, ("flow",))
if lacking:
    st.caption(plain(f"Not in every picture, as they lack the figures: {', '.join(lacking)}."))
