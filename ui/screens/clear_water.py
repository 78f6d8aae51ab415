"""Clear water: how far one sees over a water's life, what is caught by size, older water or finer filter."""

from collections.abc import Mapping
from functools import partial

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration import Comparison
from filtration.present.charts.pictures import a_few
from filtration.present.words import phrases, stories


def water_or_filter(comparison: Comparison, lives: Mapping[str, float]) -> None:
    """Say for how long the water of a few options may stay."""
    see_through_m = comparison.study.needs.see_through_m
    first, *lines = stories.water_or_filter(lives, see_through_m, page_state.display(), 365.0) or [""]
    st.markdown(f"**{plain(first)}**\n\n{page_frame.bullets(lines)}")
    st.markdown(plain(f"{stories.CLEAR_IS_NOT_CLEAN} {stories.public_rule(comparison.water_change_rule_days)}".strip()))


text, comparison = page_frame.answer()
option, study = page_frame.choose(comparison), comparison.study
with page_frame.faults_told():
    clearness = page_cache.series_of(text, "clearness", option.id)
st.markdown(plain(stories.clear_story(clearness, study.tub.depth_m, page_state.display())))
picture = partial(page_frame.picture, text, at=option.id)
page_frame.beside(partial(picture, "view"), partial(picture, "catch"))
shown = {phrases.title(each, comparison): partial(page_cache.water_life, text, each.id) for each in a_few(comparison)}
lives = dict(zip(shown, page_frame.step_by_step("trying older and fresher water", shown.values()), strict=True))
page_frame.beside(partial(picture, "lives"), partial(water_or_filter, comparison, lives))
