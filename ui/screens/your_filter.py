"""The front page: the answer in a sentence, its map, two marks on a clear tube, and the few things it rests on."""

import json
from collections.abc import Mapping
from functools import partial
from itertools import chain
from typing import Any

import page_cache
import page_filters
import page_frame
import page_state
import streamlit as st
from page_fields import EIGHT, Form, short
from page_text import plain

from filtration import Comparison, OptionAnswer
from filtration.present.charts.rating_map import LOOKED_AT
from filtration.present.words import fields, front, pages


def tub_side(tables: Mapping[str, Any]) -> None:
    """Show the eight numbers and the filters, each fault below its field."""
    form = Form(tables)
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown(f"**{plain(page_state.names()[st.session_state.place])}**", width="stretch")
        st.page_link("screens/your_tub.py", label="All of it, other tubs, files", width="content")
    groups, notes = short(tables)
    fitting = [field for field in EIGHT if field in chain.from_iterable(groups.values())]
    form.show(fitting)
    for note in notes:
        st.caption(plain(note))
    with st.container(key="filters"):
        if tables.get("pumps"):
            page_filters.pumps(tables)
        page_filters.filters(tables)
    still = form.missing(fitting)
    if still:
        st.info(plain(f"{fields.MISSING}: {', '.join(still)}."))
    page_frame.errors(form.rest())


def said(comparison: Comparison, option: OptionAnswer) -> None:
    """Show the answer in a sentence, and how sure, how good and how dear it is."""
    st.title(page_frame.say(front.sentence(option, comparison), comparison), anchor=False)
    lines = (
        f"**{plain(name)}:** {page_frame.say(told, comparison)}." for name, told in front.facts(option, comparison)
    )
    st.markdown("  \n".join(lines))


def look_at(key: str) -> None:
    """Look at the option of the field that was clicked."""
    clicked = st.session_state[key]["selection"][LOOKED_AT]
    if clicked:
        st.session_state.chosen = clicked[0]["id"]


def answer_side(text: str) -> None:
    """Show the answer; where a session opens, the advice at once, and its ranges as soon as they are there."""
    opening = "answered" not in st.session_state
    comparison = page_frame.telling(partial(page_cache.advice if opening else page_cache.answer, text))
    top = st.empty()
    st.markdown(f":red[**▲ {plain(front.DANGER)}**]")
    tube, cells, flow = st.columns([0.18, 0.47, 0.35], gap="small")
    with cells:
        map_place = st.container()
        option = page_frame.choose(comparison, label_visibility="collapsed")
    with top.container():
        said(comparison, option)
    picture = partial(page_cache.looked_at, text, display=page_state.display(), at=option.id, sure=not opening)
    with tube:
        page_frame.show(picture("tube"))
    with map_place:
        show_map(picture("map"), f"map {option.id}")
    with flow:
        days = st.empty()
    with days.container():
        page_frame.show(picture("days"))
    if opening:
        found = page_cache.answer(text)
        with top.container():
            said(found, found.option(option.id))
        with days.container():
            page_frame.show(picture("days", sure=True))
    st.session_state["answered"] = True


def show_map(drawn: str, key: str) -> None:
    """Show the map, whose fields can be clicked."""
    if page_cache.is_drawn(drawn):
        how = {"on_select": partial(look_at, key), "selection_mode": LOOKED_AT, "key": key}
        st.vega_lite_chart(json.loads(drawn), width="stretch", **how)
    else:
        page_frame.show(drawn)


text = page_state.text()
with page_frame.faults_told():
    tables = page_cache.tables(text)
faults = page_cache.faults(text)
with st.container(key="front"):
    answered, tub = st.columns([0.71, 0.29], gap="medium")
    with tub:
        tub_side(tables)
        seen = text if faults else page_frame.as_seen(text)
    with answered, st.container(key="answer"):
        if faults:
            st.title(pages.PAGES[page_frame.FIRST][0], anchor=False)
            page_frame.not_yet(faults)
        else:
            answer_side(seen)
