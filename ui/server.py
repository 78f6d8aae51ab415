"""What is served: the pages, behind a guard that lets them load from nowhere else, and with one for what goes wrong."""

import os
from contextlib import suppress
from pathlib import Path
from threading import Thread

import pandas as pd  # noqa: F401 - whole, before two threads look for it
import streamlit as st
from starlette.middleware import Middleware
from streamlit.starlette import App

from filtration import InputError
from filtration.cli.serve import STUDY, guarded
from filtration.present.words.pages import FAULTS


def said(_fault: Exception) -> bool:
    """Say in words what to do where a page fails; the fault itself is in the log by now."""
    st.error(FAULTS["page"])
    return True


def warm() -> None:
    """Answer the tub that the first visitor will see while their browser is still on its way."""
    import page_cache

    named = os.environ.get(STUDY)
    with suppress(InputError, OSError, UnicodeDecodeError):
        text = Path(named).read_text(encoding="utf-8-sig") if named else page_cache.demo_text("freezer")
        if page_cache.faults(text):
            return
        found = page_cache.advice(text)
        for name in ("tube", "map", "days"):
            page_cache.looked_at(text, name, display=page_cache.charts.METRIC, at=found.spoken_of.id, sure=False)
        page_cache.answer(text)


script = Path(__file__).with_name("app.py")
app = App(str(script), middleware=[Middleware(guarded)], on_script_error=said)
Thread(target=warm, daemon=True).start()
