"""Which filter to take: a tub, a pump, a few numbers, and the ranked answer."""

from hashlib import sha256

import page_cache
import streamlit as st
from page_answer import ink, show_notes, show_others, show_pictures, show_sureness, show_table, show_words
from page_fields import Form
from page_text import plain

from filtration import InputError

OWN = "own"


def choose() -> tuple[str, str]:
    """Return the name and the text of the study that the page starts from; stop where there is none yet."""
    demos = page_cache.demos()
    start = st.segmented_control(
        "Start from",
        [*sorted(demos, key=lambda name: name != "freezer"), OWN],
        default="freezer",
        format_func=lambda name: demos.get(name, "A file of mine"),
        required=True,
        key="start",
        bind="query-params",
    )
    if start != OWN:
        return str(start), page_cache.demo_text(str(start))
    file = st.file_uploader("Study file (TOML, at most 1 MB)", type="toml", max_upload_size=1)
    if file is not None:
        st.session_state["own text"] = page_cache.text_of(file.getvalue())
    if "own text" not in st.session_state:
        st.caption("No file yet? The command `filtration new tub.toml` writes one to fill in.")
        st.stop()
    text = st.session_state["own text"]
    page_cache.as_written(text)
    return sha256(text.encode()).hexdigest()[:8], text


def show() -> None:
    """Show the page."""
    st.title("Which filter?", anchor=False)
    st.caption("For small cold tubs: how long it lasts, how clear the water stays, what a year costs.")
    try:
        name, text = choose()
    except InputError as error:
        for fault in page_cache.told(error):
            st.error(plain(fault))
        return
    form = Form(page_cache.tables(text), name, linked=name in page_cache.demos())
    bar = st.empty()
    try:
        comparison = page_cache.answer(
            text, form.edits, lambda share, what: bar.progress(share, text=f"{share:.0%}, {what}")
        )
    except InputError as error:
        form.show(page_cache.told(error))
        return
    bar.empty()
    show_words(comparison)
    show_sureness(comparison)
    show_others(comparison)
    show_table(comparison)
    show_pictures(*page_cache.pictures(text, form.edits, ink()))
    show_notes(comparison)


show()
