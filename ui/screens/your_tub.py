"""The tub and its gear: a few things first, the rest folded away, and the answer in a line below."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import page_cache
import page_filters
import page_frame
import page_link
import page_state
import streamlit as st
from page_fields import NAME, Form, is_missing, short
from page_keys import Field
from page_more import more
from page_text import plain

from filtration.present.words import fields, front
from filtration.study.text import text_of_tables


def starts() -> None:
    """Offer a demo, an empty tub or a file to start another from; offer this one as a file, and say what carries it."""
    with st.container(horizontal=True, gap="small", vertical_alignment="center"):
        st.markdown(f"{fields.STARTS}:", width="content")
        st.button(fields.EMPTY, on_click=page_state.add, args=(text_of_tables(page_cache.empty_tables()),))
        for name, title in page_cache.demos().items():
            st.button(title, key=f"demo-{name}", on_click=page_state.add, args=(page_cache.demo_text(name),))
        st.button("Undo", on_click=page_state.undo, disabled=not st.session_state.before)
    with st.expander("Open or save a study file"):
        label = "Study file (TOML, at most 1 MB)"
        st.file_uploader(label, type="toml", max_upload_size=1, key="file", on_change=brought)
        page_frame.errors(st.session_state.get("file faults", ()))
        with st.container(horizontal=True, gap="small", vertical_alignment="center"):
            page_frame.download(
                "Save this tub as a file", partial(str, page_state.text()), "tub.toml", "application/toml"
            )
            if len(st.session_state.tubs) > 1:
                st.button("Take this tub away", on_click=page_state.remove)
        st.caption(
            "▲ Your tubs are too long for the page's address: save them as files, or a reload loses them."
            if page_link.packed(st.session_state.tubs) is None
            else "The page's address carries your tubs: keep it as a bookmark, or send it."
        )


def brought() -> None:
    """Take in a file somebody brings, if nothing is wrong with it."""
    file = st.session_state["file"]

    def take() -> None:
        text = page_cache.text_of(page_frame.data_of(file))
        page_cache.study(text)
        page_state.add(text)

    page_frame.tried("file", take if file is not None else lambda: None)


def show_fields(tables: Mapping[str, Any]) -> tuple[Form, list[Field]]:
    """Show the few things first and the filters; return the form with those few."""
    form = Form(tables)
    groups, notes = short(tables)
    few = [field for chosen in groups.values() for field in chosen]
    form.show([NAME])
    columns = st.columns(2, gap="small")
    for place, (group, chosen) in enumerate(groups.items()):
        with columns[place % 2], st.container(border=True):
            st.markdown(f"**{fields.GROUPS[group]}**")
            form.show(chosen)
    for note in notes:
        st.caption(plain(note))
    with st.expander("How to find each of these out"):
        lines = [fields.FIELDS[field.place] for field in few]
        st.markdown("\n".join(f"- **{plain(name)}.** {plain(how)}" for name, how in lines))
    page_filters.filters(tables)
    return form, [NAME, *few]


def show_answer(text: str) -> None:
    """Show the answer in a line, and the way to it."""
    with st.container(border=True):
        comparison = page_frame.progressing(page_frame.as_seen(text))
        st.markdown(f"**{page_frame.say(front.sentence(comparison.spoken_of, comparison), comparison)}**")
        st.page_link("screens/your_filter.py", label="The map, the clear tube and the others")


starts()
text = page_state.text()
with page_frame.faults_told():
    tables = page_cache.tables(text)
faults = page_cache.faults(text)
form, first = show_fields(tables)
place = st.empty()
more(form)
rest, still = form.rest(), form.missing(first)
with place.container():
    if still:
        st.info(plain(f"{fields.MISSING}: {', '.join(still)}."))
    page_frame.errors(rest or [fault for fault in faults if is_missing(fault) and not still])
    if not faults:
        show_answer(text)
