"""What is served: the pages, behind a guard that lets them load from nowhere else, and with one for what goes wrong."""

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware
from streamlit.starlette import App

from filtration.cli.serve import guarded
from filtration.present.words.pages import FAULTS


def said(_fault: Exception) -> bool:
    """Say in words what to do where a page fails; the fault itself is in the log by now."""
    st.error(FAULTS["page"])
    return True


script = Path(__file__).with_name("app.py")
app = App(str(script), middleware=[Middleware(guarded)], on_script_error=said)
