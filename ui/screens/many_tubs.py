"""Many tubs: one budget, one shopping list and one schedule, as files to export."""

from datetime import date
from functools import partial

import page_cache
import page_frame
import page_many
import page_readings
import page_state
import pandas as pd
import streamlit as st
from page_text import plain

from filtration import Fleet
from filtration.present import fleet_tables as words
from filtration.present.exports.fleet import ENDINGS, bytes_of_fleet


def asked() -> tuple[page_many.Files, date]:
    """Ask which tubs, and from which day to plan."""
    label = "Studies (TOML), or a table (CSV) whose rows change the tub looked at"
    looks = {"type": ["toml", "csv"], "accept_multiple_files": True, "max_upload_size": 1, "key": "many files"}
    brought = [(file.name, page_cache.text_of(file.getvalue())) for file in st.file_uploader(label, **looks)]
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        day = st.date_input("From", value=page_readings.now().date(), format="YYYY-MM-DD", width=150) or date.min
        own = st.checkbox("With the tubs that are open here", value=True)
    here = [(f"tub {place}", text) for place, text in enumerate(st.session_state.tubs, start=1)]
    return (*(here if own else ()), *brought), day


def shown(fleet: Fleet) -> None:
    """Show what the totals hold, then table by table, then the files."""
    first, *rest = words.headline(fleet)
    st.markdown(f"**{plain(first)}**")
    st.caption(plain(" ".join(rest)))
    page_frame.errors([fault for tub in fleet.failed for fault in tub.faults], 5)
    with st.container(horizontal=True, gap="small"):
        for ending in ENDINGS if fleet.covered else ():
            page_frame.download(words.FILES[ending], partial(bytes_of_fleet, fleet, ending), f"many-tubs{ending}")
    for table in words.tables(fleet):
        st.header(table.heading, anchor=False)
        if table.rows:
            columns = [" ".join(column.split()) for column in table.columns]
            page_frame.table(pd.DataFrame(table.rows, columns=columns), table.heading)
        st.markdown(page_frame.bullets(table.lines))
    if fleet.covered:
        page_frame.headed({"At a service": words.cautions(fleet)})


with page_frame.faults_told():
    files, first_day = asked()
    if files:
        shown(page_frame.telling(partial(page_many.fleet, files, page_state.text(), first_day)))
    else:
        st.info("Bring studies, or count in the tubs that are open here.")
