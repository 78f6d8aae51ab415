"""The front end: what it is called, and its pages."""

from pathlib import Path

import streamlit as st

st.set_page_config(page_title="Tub filtration", page_icon=str(Path(__file__).with_name("drop.svg")), layout="wide")
st.navigation([st.Page("pages/which_filter.py", title="Which filter")], position="hidden").run()
