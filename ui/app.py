"""The front end: what it is called, and its pages."""

from pathlib import Path

import page_file
import page_frame
import page_kept
import page_memory
import page_readings
import page_state
import streamlit as st

from filtration.base.waiting import waited_for
from filtration.present.words.pages import TITLE

st.set_page_config(page_title=TITLE, page_icon=str(Path(__file__).with_name("drop.svg")), layout="wide")
pages = page_frame.every_page()
page = st.navigation(list(pages.values()), position="hidden")
page_state.start()
page_readings.start()
page_frame.header(pages)
page_file.tell()
page_memory.remember()
page_frame.opening(next(name for name, each in pages.items() if each is page))


def look() -> None:
    """End the page where nobody waits for it; let others come first where it takes long."""
    page_state.still_asked()
    page_kept.pause()


with page_kept.one_turn(), waited_for(look):
    page.run()
