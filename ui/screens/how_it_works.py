"""How it works and how far to trust it: equations, what this tub leans on, defaults, checks, cautions."""

import page_cache
import page_frame
import page_state
import pandas as pd
import streamlit as st
from page_text import plain

from filtration.base.defaults import TABLE
from filtration.present.words import answer as words
from filtration.present.words import pages as page_words
from filtration.present.words import verify as verify_words

_PRESSED = "published cases recomputed"
_WIDTHS = {"topic": 95, "what": 290, "unit": 70, "holds": 55, "memory": 70, "source": 420}


def _checks() -> None:
    """Show the published cases recomputed, once somebody wants them."""
    if st.button(verify_words.PRESS):
        st.session_state[_PRESSED] = True
    if not st.session_state.get(_PRESSED):
        return
    found = page_frame.telling(page_cache.checks)
    told = plain(f"{verify_words.summary(found)} {verify_words.remembered(found)}")
    (st.error if found.failed else st.success)(told)
    st.caption(plain(verify_words.ABOUT))
    table = pd.DataFrame(verify_words.rows(found))
    looks = {name: st.column_config.Column(width=width) for name, width in _WIDTHS.items()}
    page_frame.table(table, "Published cases: computed and published", "stretch", column_config=looks)


def show() -> None:
    """Show the page."""
    page_frame.opening("how_it_works")
    for name, what in page_words.WORKS.items():
        st.markdown(f"**{plain(name)}.** {plain(what)}")
    st.header("How far to trust it", anchor=False)
    st.markdown(plain(page_words.CHECKED))
    _checks()
    text = page_state.text()
    if not page_cache.faults(text):
        study = page_cache.study(text)
        assumed = words.assumptions(study)
        with st.expander(f"What this tub leans on: {len(assumed)} defaults"):
            st.markdown(page_frame.bullets(assumed))
        page_frame.headed({"Before anyone gets in": words.cautions(study)})
    with st.expander("Every default and constant"):
        rows = [
            {"what": row.key, "value": f"{row.value}", "unit": row.unit, "mark": row.mark, "source": row.source}
            for row in TABLE
        ]
        st.caption("P published, T common practice in the trade, A our assumption. (mem): recalled, not looked up.")
        page_frame.table(rows, "Every default and constant", "stretch")


show()
