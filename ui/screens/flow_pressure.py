"""Flow and pressure: what the pump has left, what each filter takes, and for how long."""

from functools import partial

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration.present.charts.pictures import a_few
from filtration.present.words import stories as page_stories

text, comparison = page_frame.answer()
display, option, series = page_state.display(), page_frame.choose(comparison), partial(page_cache.series_of, text)
steps = [partial(series, kind, option.id) for kind in ("dirtier", "cleaner") if option.events]
steps += [partial(series, "loading", each.id) for each in a_few(comparison)]
page_frame.step_by_step("following filters from new to replaced", steps)
drawn = page_cache.picture(text, "life", display, option.id)
if page_cache.is_drawn(drawn):
    st.markdown(plain(page_stories.flow_story(option, series("runs", option.id), display)))
page_frame.show(drawn)
days, pressure, flow = (partial(page_frame.picture, text, name) for name in ("days", "pressure", "flow"))
page_frame.beside(days, partial(page_frame.picture, text, "loading", comparison.spoken_of.id))
page_frame.beside(pressure, flow)
lacking = page_cache.missing_in(text, ("pressure", "flow", "days"))
if lacking:
    st.caption(plain(f"Not in every picture, as they lack the figures: {', '.join(lacking)}."))
