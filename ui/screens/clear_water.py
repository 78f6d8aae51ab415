"""Clear water: how far one sees over a water's life, what is caught by size, older water or finer filter."""

from functools import partial

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration import NoAnswerError
from filtration.present.charts.pictures import a_few
from filtration.present.words import phrases
from filtration.present.words import stories as page_stories


def show() -> None:
    """Show the page."""
    page_frame.opening("clear_water")
    text, comparison = page_frame.answer()
    option, display, study = page_frame.choose(comparison), page_state.display(), comparison.study
    try:
        clearness = page_cache.clearness(text, option.id)
    except NoAnswerError as nothing:
        st.info(plain(str(nothing)))
        return
    st.markdown(plain(page_stories.clear_story(clearness, study.tub.depth_m, display)))
    left, right = st.columns(2, gap="large")
    with left:
        page_frame.show(page_cache.own_picture(text, "view", option.id, display))
    with right:
        page_frame.show(page_cache.own_picture(text, "catch", option.id, display))
    shown = a_few(comparison)
    each_life = page_frame.step_by_step(
        "trying older and fresher water", [partial(page_cache.water_life, text, each.id) for each in shown]
    )
    lives = dict(zip((phrases.title(each, comparison) for each in shown), each_life, strict=True))
    drawn = page_cache.own_picture(text, "lives", option.id, display)
    left, right = st.columns(2, gap="large")
    with left:
        page_frame.show(drawn)
    with right:
        first, *lines = page_stories.water_or_filter(lives, study.needs.see_through_m, display, 365.0) or [""]
        st.markdown(f"**{plain(first)}**\n\n" + "\n".join(f"- {plain(line)}" for line in lines))
        st.markdown(plain(page_stories.CLEAR_IS_NOT_CLEAN))


show()
