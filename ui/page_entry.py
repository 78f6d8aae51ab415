"""One reading as an owner gives it: a button where the day says it all, else a number or two; saved at once."""

from functools import partial

import page_frame
import page_readings
import page_state
import streamlit as st
from page_readings import Book, Row
from page_text import plain

from filtration import Study
from filtration.base.units import as_typed
from filtration.present.words import fields as field_words
from filtration.present.words import forecast as forecast_words
from filtration.present.words import readings as readings_words
from filtration.readings.reading import KINDS, MEASURED, WITHOUT_ELEMENT

VALUELESS = {"rinse", "soak", "water", "note"}
MOST_FAULTS = 8
_UNITS = {
    "bucket": ("L", "gal"),
    "flow": ("L/min", "gpm"),
    "column": ("cm", "in"),
    "pressure": ("kPa", "psi"),
    "see-through": ("m", "ft"),
}
_ASKED = {
    "bucket": "In the bucket",
    "flow": "Flow",
    "column": "Above the tub's water",
    "pressure": "Pressure",
    "see-through": "How far you see",
    "uses": "Dips",
    "bought": "How many",
}


def entry(study: Study, book: Book) -> None:
    """Take one reading, with its faults below; undo the last change."""
    names = {kind: readings_words.KINDS[kind][0] for kind in KINDS}
    today = page_readings.now()
    with st.container(border=True):
        with st.container(horizontal=True, gap="small"):
            day = f"{today.day} {today:%B}"
            for kind, done in (("rinse", "Rinsed"), ("soak", "Soaked"), ("water", "Water changed")):
                st.button(f"{done} today, {day}", key=f"{kind} today", on_click=_log, args=(study, kind))
            if book.place is not None:
                undo = partial(page_frame.tried, "readings", partial(page_readings.undo, study))
                st.button("Undo", on_click=undo, disabled=not book.changed)
        with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
            kind = page_frame.pick("Kind", names, index=KINDS.index("bucket"), key="reading kind", width=300)
            _ask(study, kind)
            when = {"value": None, "format": "YYYY-MM-DD", "step": 300, "key": "reading when", "width": 200}
            st.datetime_input("When, empty: now", **when)
            st.text_input("Note", key="reading note", max_chars=2000, width=180)
            st.button("Log it", on_click=_log, args=(study, kind))
        st.caption(plain(readings_words.KINDS[kind][2]))
        page_frame.errors(page_state.till_renewed().get("entry faults", []), MOST_FAULTS)
        if (refused := page_state.till_renewed().get("entry refused")) is not None:
            st.button("Keep it all the same", help=readings_words.ANYWAY, on_click=_keep, args=(study, refused))
        if st.session_state.get("readings told"):
            st.info(plain(st.session_state.pop("readings told")))


def _unit(kind: str) -> str:
    return _UNITS[kind][page_state.display().us] if kind in _UNITS else ""


def _ask(study: Study, kind: str) -> None:
    """Show the fields of a kind."""
    if kind in _ASKED:
        _, like, _ = readings_words.KINDS[kind]
        looks = {"key": "reading value", "max_chars": 80, "width": 150}
        st.text_input(field_words.with_unit(_ASKED[kind], _unit(kind)), placeholder=like.split(" ")[0], **looks)
    if kind == "bucket":
        st.text_input("Seconds", placeholder="27.4", key="reading seconds", max_chars=80, width=110)
    if kind in ("fitted", "replace", "bought"):
        options = ({"": "like with like"} if kind == "replace" else {}) | study.names
        page_frame.pick("Which", options, key="reading option", width=220)
    if kind in MEASURED:
        st.checkbox("Cartridge taken out", key="reading out", help="Unplug before you take it out.")


def _typed(kind: str) -> str:
    """Return the value of a reading as the fields say it."""
    state, unit = st.session_state, _unit(kind)
    number = str(state.get("reading value", "") or "").strip()
    option = str(state.get("reading option", "") or "")
    if kind in ("fitted", "replace", "bought"):
        return f"{number} {option}" if kind == "bought" else option
    value = as_typed(number, unit) if unit and number else number.replace(",", ".")
    if kind == "bucket":
        seconds = str(state.get("reading seconds", "") or "").strip()
        value = f"{value} in {as_typed(seconds, 's')}" if number and seconds else value
    return value + WITHOUT_ELEMENT * (kind in MEASURED and bool(state.get("reading out")))


def _log(study: Study, kind: str) -> None:
    """Save one reading, or keep its faults."""
    state, typed = st.session_state, kind == st.session_state.get("reading kind")
    when = (
        (state.get("reading when") if typed else None) or page_readings.now().replace(second=0, microsecond=0)
    ).astimezone()
    value, note = ("" if kind in VALUELESS else _typed(kind)), state.get("reading note", "")
    row = (when.isoformat(), kind, value, note if typed else "")
    reading, faults = page_readings.read(row)
    if reading is not None:
        faults = page_readings.not_taken(study, reading)
    state["readings faults"] = []
    if faults:
        page_state.till_renewed().update({"entry faults": faults, "entry refused": None if reading is None else row})
    else:
        _keep(study, row)


def _keep(study: Study, row: Row) -> None:
    """Save one reading, whatever a forecast makes of it; empty the fields but a bucket's, the same the next time."""
    state = st.session_state
    page_state.till_renewed().update({"entry faults": (), "entry refused": None})
    page_readings.add(page_readings.tub_of(study), [row])
    page_frame.tried("readings", partial(page_readings.save, study))
    reading, _ = page_readings.read(row)
    if reading is not None and not state["readings faults"]:
        state["readings told"] = f"{forecast_words.row(reading)}. {state['readings told']}"
    if row[1] == state.get("reading kind"):
        state["reading value"] = state.get("reading value", "") if row[1] == "bucket" else ""
        state["reading seconds"], state["reading note"] = "", ""
        state["reading when"], state["reading out"] = None, False
