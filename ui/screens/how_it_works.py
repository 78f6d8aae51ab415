"""How it works and how far to trust it: equations, what this tub leans on, defaults, checks, cautions."""

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_text import plain

from filtration.defaults import TABLE
from filtration.present import page_words, words


def show() -> None:
    """Show the page."""
    page_frame.opening("how_it_works")
    for name, what in page_words.WORKS:
        st.markdown(f"**{plain(name)}.** {plain(what)}")
    st.header("How far to trust it", anchor=False)
    st.markdown(plain(page_words.CHECKED))
    text = page_state.text()
    if not page_cache.faults(text):
        study = page_cache.study(text)
        with st.expander(f"What this tub leans on: {len(words.assumptions(study))} defaults"):
            st.markdown("\n".join(f"- {plain(line)}" for line in words.assumptions(study)))
        st.header("Before anyone gets in", anchor=False)
        st.markdown("\n".join(f"- {plain(line)}" for line in words.cautions(study)))
    with st.expander("Every default and constant"):
        rows = [
            {"what": row.key, "value": f"{row.value}", "unit": row.unit, "mark": row.mark, "source": row.source}
            for row in TABLE
        ]
        st.caption("P published, A assumed, D derived. (mem): recalled, not looked up.")
        st.dataframe(pd.DataFrame(rows), hide_index=True, width="stretch", alt="Every default and constant")


show()
