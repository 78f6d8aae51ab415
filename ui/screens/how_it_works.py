"""How it works and how far to trust it: equations, what this tub leans on, defaults, checks, cautions."""

import page_cache
import page_frame
import page_state
import streamlit as st
from page_text import plain

from filtration.base.defaults import TABLE
from filtration.present.words import answer, pages, verify

_PRESSED = "published cases recomputed"
_WIDTHS = {"topic": 95, "what": 290, "unit": 70, "holds": 85, "memory": 70, "source": 420}


def show_checks() -> None:
    """Show the published cases recomputed."""
    found = page_frame.telling(page_cache.checks)
    told = plain(f"{verify.summary(found)} {verify.remembered(found)}")
    (st.error if found.failed else st.success)(told)
    st.caption(plain(verify.ABOUT))
    looks = {name: st.column_config.Column(width=width) for name, width in _WIDTHS.items()}
    st.caption(plain(verify.not_held()))
    page_frame.table(verify.rows(found), "Published cases: computed and published", "stretch", column_config=looks)


for name, what in pages.WORKS.items():
    st.markdown(f"**{plain(name)}.** {plain(what)}")
st.header("How far to trust it", anchor=False)
st.markdown(plain(pages.CHECKED))
if st.button(verify.PRESS):
    st.session_state[_PRESSED] = True
if st.session_state.get(_PRESSED):  # and as long as the session lasts
    show_checks()
text = page_state.text()
if not page_cache.faults(text):
    study = page_cache.study(text)
    assumed = answer.assumptions(study)
    with st.expander(f"What this tub leans on: {len(assumed)} defaults"):
        st.markdown(page_frame.bullets(assumed))
    page_frame.headed({"Before anyone gets in": answer.cautions(study)})
with st.expander("Every default and constant"):
    rows = [
        {"what": row.key, "value": f"{row.value}", "unit": row.unit, "mark": row.mark, "source": row.source}
        for row in TABLE
    ]
    st.caption("P published, T common practice in the trade, A our assumption. (mem): recalled, not looked up.")
    page_frame.table(rows, "Every default and constant", "stretch")
